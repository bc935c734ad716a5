//! What is fuzzed: each reader, and the whole path from files to answers.

use std::fmt::Debug;
use std::ops::ControlFlow;

use lengthwise::input::{Language, Purpose, append_passes, expand_runs, look_over_test_set};
use lengthwise::model::PassDraft;
use lengthwise::plan::Request;
use lengthwise::{
    Assumptions, Coverage, Findings, Input, Judgement, Limits, Need, Network, NetworkReport, Plan, Preparation,
    Progress, Terminations, Works, read_installation, read_record, read_ruleset, read_test_set,
};
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::Corpus;
use crate::alter::{self, Dice};

/// Files to be read, and how.
pub struct Case {
    files: Vec<Vec<u8>>,
    language: Language,
    choice: usize,
}

impl Case {
    /// All of it as it is kept.
    pub fn shown(&self) -> Vec<u8> {
        self.files.join(&b"\n---\n"[..])
    }

    fn input(&self, number: usize) -> Input<'_> {
        match self.language {
            Language::Json => Input::json(&self.files[number]),
            _ => Input::toml(&self.files[number]),
        }
    }
}

type Make = fn(&Corpus, &mut Dice) -> Case;
type Run = fn(&Case) -> bool;

/// Each target: its name, how a case is made, and what is done with it, which tells whether it was read.
pub const TARGETS: [(&str, Make, Run); 6] = [
    ("read-toml", |corpus, dice| bytes(&corpus.installations, dice), installation),
    ("read-json", json, installation),
    ("read-test-set", |corpus, dice| bytes(&corpus.test_sets, dice), test_set),
    ("read-ruleset", |corpus, dice| bytes(&corpus.rulesets, dice), ruleset),
    ("append", |corpus, dice| bytes(&corpus.test_sets, dice), append),
    ("whole", pair, whole),
];

fn bytes(files: &[Vec<u8>], dice: &mut Dice) -> Case {
    Case { files: vec![alter::bytes(files, dice)], language: Language::Toml, choice: dice.below(1000) }
}

fn json(corpus: &Corpus, dice: &mut Dice) -> Case {
    let files: Vec<Vec<u8>> = corpus.pairs.iter().map(|[file, _]| file.to_string().into_bytes()).collect();
    Case { files: vec![alter::bytes(&files, dice)], language: Language::Json, choice: 0 }
}

fn pair(corpus: &Corpus, dice: &mut Dice) -> Case {
    let [mut file, mut tests] = dice.one_of(&corpus.pairs).clone();
    if dice.below(4) > 0 {
        alter::value(&mut file, dice);
    }
    if dice.below(4) > 0 {
        alter::value(&mut tests, dice);
    }
    let files = [file, tests].map(|value| value.to_string().into_bytes());
    Case { files: files.into(), language: Language::Json, choice: dice.below(1000) }
}

/// Whether a file is read; where it is not, its errors have places and words.
fn told<T, E: std::fmt::Display>(read: Result<T, E>) -> bool {
    match read {
        Ok(_) => true,
        Err(errors) => {
            assert!(!errors.to_string().is_empty());
            false
        }
    }
}

fn installation(case: &Case) -> bool {
    // What is read comes back from what it is written as.
    let read = read_installation(case.input(0));
    if let Ok(installation) = &read {
        let draft = installation.to_draft();
        assert_eq!(draft.build().expect("what was read can be built again").to_draft(), draft);
        // With its runs expanded it is the same, and stays so.
        let explicit = expand_runs(case.input(0)).expect("what was read can be expanded");
        let again = Case { files: vec![explicit.clone().into_bytes()], language: case.language, choice: 0 };
        assert_eq!(read_installation(again.input(0)).expect("it is right").to_draft(), draft);
        assert_eq!(expand_runs(again.input(0)).as_deref(), Ok(explicit.as_str()));
    }
    told(read)
}

fn test_set(case: &Case) -> bool {
    let purpose = if case.choice.is_multiple_of(2) { Purpose::Coverage } else { Purpose::Record };
    told(look_over_test_set(case.input(0), purpose))
}

fn ruleset(case: &Case) -> bool {
    told(read_ruleset(case.input(0)))
}

fn append(case: &Case) -> bool {
    let passes = [PassDraft::default(), PassDraft::default()];
    let read = append_passes(case.input(0), &passes);
    if let Ok(text) = &read
        && look_over_test_set(case.input(0), Purpose::Coverage).is_ok()
    {
        look_over_test_set(Input::toml(text), Purpose::Coverage).expect("what was added can be read");
    }
    told(read)
}

/// An answer's JSON holds all of it.
fn same<T: Serialize + DeserializeOwned + PartialEq + Debug>(answer: &T) {
    let json = serde_json::to_string(answer).expect("an answer is JSON");
    assert_eq!(&serde_json::from_str::<T>(&json).expect("it is read again"), answer);
}

fn whole(case: &Case) -> bool {
    let Ok(installation) = read_installation(case.input(0)) else { return false };
    let need = [Need::Earth, Need::Standard, Need::EveryPair][case.choice % 3];
    let network = Network::of(installation.clone()).with_limits(Limits::default().with_effort(0.02));
    // A plan may take longer than all the rest: after so many reports it has to come to its end.
    let mut left = 3000;
    let mut watch = |_: Progress| {
        left -= 1;
        if left > 0 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    };
    same::<NetworkReport>(&network.report());
    same(&Preparation::of(&network));
    same(&Works::of(&network));
    same(&Terminations::of(&installation));
    let tests = read_test_set(case.input(1), &installation).ok();
    let mut request = Request::from(need);
    if !case.choice.is_multiple_of(5) {
        request.extras.clear();
    }
    same(&Plan::with(&network, tests.as_ref(), &request, &mut watch).expect("it is for this installation"));
    let Some(tests) = tests else { return true };
    same(&Coverage::of(&network, &tests, need).expect("it is for this installation"));
    tests.to_draft(&installation).expect("it is for this installation");
    if let Ok(record) = read_record(case.input(1), &installation) {
        same(&Judgement::of(&network, &record, need).expect("it is for this installation"));
        let assumed = Assumptions::default();
        let findings = Findings::watched(&network, &record, assumed, &mut watch).expect("it is for this installation");
        same(&findings);
    }
    true
}
