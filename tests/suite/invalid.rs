//! Files that are wrong: every error is found, with its place and what mends it, in bounded time, and nothing panics.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use lengthwise::input::{InputErrors, InputFault, read_installation, read_record, read_ruleset, read_test_set};
use lengthwise::model::{Installation, ModelFault, TestSet};
use lengthwise::plan::{PlanStart, Request};
use lengthwise::{Assumptions, Coverage, Findings, Input, InputLimits, Judgement, Need, Network, Plan};
use proptest::prelude::*;

const WORKSHOP: &str = include_str!("../fixtures/small/workshop.toml");
const WORKSHOP_TESTS: &str = include_str!("../fixtures/small/workshop-tests.toml");

fn workshop() -> Installation {
    read_installation(Input::file("workshop.toml", WORKSHOP)).unwrap_or_else(|errors| panic!("{errors}"))
}

/// The files of one of the directories of invalid files, in the order of their names.
fn files(directory: &str) -> Vec<PathBuf> {
    let directory = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/invalid").join(directory);
    let mut files: Vec<PathBuf> = std::fs::read_dir(&directory)
        .unwrap_or_else(|error| panic!("{}: {error}", directory.display()))
        .map(|entry| entry.expect("the directory can be read").path())
        .collect();
    files.sort();
    files
}

fn file_name(path: &Path) -> &str {
    path.file_name().and_then(|name| name.to_str()).expect("the files have plain names")
}

/// What is wrong with every invalid file, by directory and name.
fn all_errors() -> Vec<(&'static str, String, InputErrors)> {
    let installation = workshop();
    let mut all = Vec::new();
    for directory in ["installation", "test-set", "record", "ruleset"] {
        for path in files(directory) {
            let name = file_name(&path).to_owned();
            let bytes = std::fs::read(&path).expect("the file can be read");
            let errors = match directory {
                "installation" => read_installation(Input::file(&name, &bytes)).err(),
                "ruleset" => read_ruleset(Input::file(&name, &bytes)).err(),
                "record" => {
                    read_test_set(Input::file(&name, &bytes), &installation)
                        .unwrap_or_else(|errors| panic!("{errors}"));
                    read_record(Input::file(&name, &bytes), &installation).err()
                }
                _ => read_test_set(Input::file(&name, &bytes), &installation).err(),
            };
            all.push((directory, name.clone(), errors.unwrap_or_else(|| panic!("{directory}/{name} is accepted"))));
        }
    }
    all
}

#[test]
fn the_files_that_the_others_get_wrong_are_right() {
    let installation = workshop();
    let test_set =
        read_test_set(Input::toml(WORKSHOP_TESTS), &installation).unwrap_or_else(|errors| panic!("{errors}"));
    assert_eq!(installation.points().len(), 10);
    assert_eq!(test_set.passes().len(), 2);
}

#[test]
fn an_installation_written_down_again_is_the_same_one() {
    let draft = workshop().to_draft();
    let json = serde_json::to_string(&draft).expect("a draft can be written");
    let again = read_installation(Input::json(&json)).unwrap_or_else(|errors| panic!("{errors}"));
    assert_eq!(again.to_draft(), draft);
    let built = draft.build().expect("the draft of an installation is right");
    assert_eq!(built.to_draft(), draft);
}

#[test]
fn every_invalid_file_is_refused_at_places_that_are_in_it() {
    let all = all_errors();
    assert!(all.len() >= 50, "{} files", all.len());
    for (directory, name, errors) in all {
        assert!(!errors.errors().is_empty(), "{directory}/{name}");
        let places: Vec<_> = errors.errors().iter().filter_map(|error| error.place).collect();
        assert!(places.is_sorted(), "{directory}/{name}");
        for (place, error) in places.iter().zip(errors.errors()) {
            let line = errors.text().split('\n').nth(place.line - 1).expect("the line is there");
            assert!(place.column <= line.chars().count() + 1, "{directory}/{name}: {error}");
            assert!(place.start <= place.end && place.end <= errors.text().len(), "{directory}/{name}: {error}");
            assert!(errors.text()[..place.start].ends_with(&line.chars().take(place.column - 1).collect::<String>()));
        }
        for error in errors.errors() {
            let message = error.to_string();
            assert!(!message.ends_with('.') && !error.mend().ends_with('.'), "{directory}/{name}: {message}");
            assert!(!message.starts_with(char::is_uppercase), "{directory}/{name}: {message}");
            assert!(!error.mend().is_empty(), "{directory}/{name}: {message}");
        }
    }
}

#[cfg(feature = "cli")]
#[test]
fn what_is_said_of_every_invalid_file() {
    use lengthwise::cli::diagnostics::{Options, render};

    for (directory, name, errors) in all_errors() {
        let rendered = render(&errors, Options::default());
        assert!(rendered.lines().all(|line| line.chars().count() <= 80), "{directory}/{name}:\n{rendered}");
        let name = format!("{directory}-{}", name.replace('.', "-"));
        insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
            insta::assert_snapshot!(name, rendered);
        });
    }
}

/// The names of an enum's variants, taken from its source so that none is forgotten.
fn variants<'s>(source: &'s str, name: &str) -> BTreeSet<&'s str> {
    let start = source.find(&format!("pub enum {name} {{")).expect("the enum is in its source");
    let end = start + source[start..].find("\n}").expect("the enum ends");
    source[start..end]
        .lines()
        .filter_map(|line| line.strip_prefix("    "))
        .filter(|line| line.starts_with(|c: char| c.is_ascii_uppercase()))
        .map(|line| line.split(|c: char| !c.is_alphanumeric()).next().unwrap_or_default())
        .collect()
}

fn variant(debug: &str) -> String {
    debug.split(|c: char| !c.is_alphanumeric()).next().unwrap_or_default().to_owned()
}

#[test]
fn every_error_that_there_is_has_a_file_that_makes_it() {
    let mut seen = BTreeSet::new();
    for (_, _, errors) in all_errors() {
        for error in errors.errors() {
            seen.insert(match &error.fault {
                InputFault::Model(ModelFault::Run(fault)) => variant(&format!("{fault:?}")),
                InputFault::Model(fault) => variant(&format!("{fault:?}")),
                InputFault::Syntax { slip: Some(slip), .. } => format!("{slip:?}"),
                fault => variant(&format!("{fault:?}")),
            });
        }
    }
    let mut known = variants(include_str!("../../src/input/error.rs"), "InputFault");
    known.extend(variants(include_str!("../../src/model/fault/error.rs"), "ModelFault"));
    known.extend(variants(include_str!("../../src/model/fault/run.rs"), "RunFault"));
    known.extend(variants(include_str!("../../src/input/toml/slip.rs"), "Slip"));
    // These take files that are too large to be kept, and have tests of their own below.
    for large in ["TooLarge", "TooManyValues", "AndMore", "Model", "Run"] {
        assert!(known.remove(large), "{large}");
    }
    assert!(known.len() > 50, "{known:?}");
    let missing: Vec<&str> = known.into_iter().filter(|&name| !seen.contains(name)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}

/// The one fault that a file is refused for.
fn only_fault(name: &str, bytes: &[u8]) -> InputFault {
    let errors = read_installation(Input::file(name, bytes)).expect_err("the file is wrong");
    assert_eq!(errors.errors().len(), 1, "{:?}", errors.errors().first());
    errors.errors()[0].fault.clone()
}

#[test]
fn a_file_of_100_megabytes_is_refused_unread() {
    let bytes = vec![b'#'; 100_000_000];
    assert!(matches!(only_fault("a.toml", &bytes), InputFault::TooLarge { bytes: 100_000_000, .. }));
    assert!(matches!(only_fault("a.json", &bytes), InputFault::TooLarge { .. }));
}

#[test]
fn nesting_without_end_is_refused_and_overflows_no_stack() {
    for (name, head) in [("a.toml", "x = "), ("a.json", "")] {
        for open in ["[", "{a=", "{\"a\":"] {
            let text = format!("{head}{}", open.repeat(1_000_000));
            let errors = read_installation(Input::file(name, &text)).expect_err("the file is wrong");
            let is_too_deep = |fault: &InputFault| matches!(fault, InputFault::TooDeep { .. });
            // `{a=` is no JSON and `{"a":` no TOML: they are refused for that, or for their depth.
            let mixed = (name == "a.json") == (open == "{a=");
            assert!(mixed || errors.errors().iter().any(|error| is_too_deep(&error.fault)), "{name} {open}: {errors}");
        }
    }
    let dotted = format!("{} = 1", vec!["a"; 100_000].join("."));
    assert!(read_installation(Input::toml(&dotted)).is_err());
    let header = format!("[{}]", vec!["a"; 100_000].join("."));
    assert!(read_installation(Input::toml(&header)).is_err());
}

#[test]
fn more_values_than_any_installation_has_are_refused() {
    let values = format!("[{}1]", "1,".repeat(12_000_000));
    let is_too_many = |fault: &InputFault| matches!(fault, InputFault::TooManyValues { .. });
    assert!(is_too_many(&only_fault("a.json", values.as_bytes())));
    let values = format!("format = [{}1]", "1,".repeat(100));
    let mut limits = InputLimits::default();
    limits.values = 203;
    let read =
        |limits: &InputLimits| read_installation(Input::toml(&values).within(limits.clone())).expect_err("it is wrong");
    assert!(read(&limits).errors().iter().any(|error| is_too_many(&error.fault)));
    limits.values = 204;
    assert!(!read(&limits).errors().iter().any(|error| is_too_many(&error.fault)));
}

#[test]
fn a_junction_with_more_terminals_than_can_be_numbered_is_refused() {
    use lengthwise::model::PointDraft;

    let mut draft = workshop().to_draft();
    draft.points.push(PointDraft {
        id: "J9".to_owned(),
        kind: "junction".to_owned(),
        circuit: Some("C1".to_owned()),
        terminals: (0..70_000).map(|number| format!("t{number}")).collect(),
        ..PointDraft::default()
    });
    let errors = draft.build().expect_err("the draft is wrong");
    assert!(matches!(errors.errors(), [error] if matches!(error.fault, ModelFault::TooMany { .. })), "{errors:?}");
}

#[test]
fn as_many_cores_as_a_length_may_have_are_taken() {
    use lengthwise::model::Named;

    let mut draft = workshop().to_draft();
    let core = |number: usize| (format!("c{number}"), ["-".to_owned(), "-".to_owned()]);
    draft.lengths[0].cores = (0..256).map(core).collect();
    assert!(draft.build().is_ok());
    draft.lengths[0].cores = (0..70_000).map(core).collect();
    let errors = draft.build().expect_err("the draft is wrong");
    let [error] = errors.errors() else { panic!("{errors:?}") };
    assert!(matches!(error.fault, ModelFault::TooMany { what: Named::Core, most: 256, .. }), "{error}");
    assert_eq!(error.path.to_string(), "length[0].cores.c256");
}

/// An rcbo's electronics lie between a pole and a neutral or a functional earth; without either there are none.
#[test]
fn nothing_can_be_fitted_in_an_rcbo_without_neutral_and_functional_earth() {
    use lengthwise::model::{DeviceDraft, WayDraft};

    let text = "format = 1\nstart = { 'DB1/9' = 'fitted' }\n[[pass]]\nremove = ['DB1/9']\nrefit = ['DB1/9']\n";
    for (neutral, functional_earth) in [(false, false), (false, true), (true, false), (true, true)] {
        let mut draft = workshop().to_draft();
        draft.boards[0].ways.push(WayDraft {
            neutral: Some(neutral),
            functional_earth: Some(functional_earth),
            ..WayDraft::new("9", DeviceDraft::Rcbo)
        });
        let installation = draft.build().expect("the draft is right");
        let read = read_test_set(Input::toml(&text), &installation);
        if neutral || functional_earth {
            assert!(read.is_ok(), "{neutral} {functional_earth}");
            continue;
        }
        let errors = read.expect_err("nothing is in it");
        let is_no_bridge = |fault: &InputFault| matches!(fault, InputFault::Model(ModelFault::NoBridge { .. }));
        assert!(errors.errors().iter().all(|error| is_no_bridge(&error.fault)), "{errors}");
        let lines: Vec<_> = errors.errors().iter().filter_map(|error| error.place).map(|place| place.line).collect();
        assert_eq!(lines, [2, 4, 5]);
    }
}

#[test]
fn a_test_set_is_for_the_installation_that_it_was_checked_against() {
    let installation = workshop();
    let read = |installation: &Installation| {
        read_test_set(Input::toml(WORKSHOP_TESTS), installation).unwrap_or_else(|errors| panic!("{errors}"))
    };
    let test_set = read(&installation);
    assert_eq!(test_set.check_for(&installation), Ok(()));
    assert_eq!(test_set.clone().check_for(&installation.clone()), Ok(()));
    let other = workshop();
    let refused = test_set.check_for(&other).expect_err("it was read a second time");
    assert_eq!(refused.installation, other.name());
    assert_eq!([&installation, &other].map(|any| TestSet::default().check_for(any)), [Ok(()), Ok(())]);
    // Every question refuses it.
    let network = &Network::of(other.clone());
    let need = Need::Standard;
    let request = &Request::from(need);
    let refusals = [
        Coverage::of(network, &test_set, need).err(),
        Judgement::of(network, &test_set, need).err(),
        Findings::of(network, &test_set, Assumptions::default()).err(),
        Plan::of(network, Some(&test_set), need).err(),
        PlanStart::of(network, Some(&test_set), request).err(),
    ];
    assert!(refusals.iter().all(|refusal| refusal.as_ref() == Some(&refused)), "{refusals:?}");
    // Which one it was checked against is not seen in what it says.
    assert_eq!(test_set, read(&other));
    assert_eq!(format!("{installation:?}"), format!("{other:?}"));
}

#[test]
fn errors_beyond_count_are_counted() {
    let text = format!("format = 1\n{}", "= 1\n".repeat(300_000));
    let errors = read_installation(Input::toml(&text)).expect_err("the file is wrong");
    assert_eq!(errors.errors().len(), 1_001);
    let last = errors.errors().last().map(|error| &error.fault);
    assert!(matches!(last, Some(InputFault::Model(ModelFault::AndMore { count })) if *count >= 100_000), "{last:?}");
}

/// Files at the edge of small limits are read, and refused beyond.
#[test]
fn limits_are_kept_to_the_last_byte_level_value_and_error() {
    let read = |name: &str, text: &str, limits: &InputLimits| {
        read_installation(Input::file(name, &text).within(limits.clone())).err().map(|errors| errors.errors().to_vec())
    };
    let json = serde_json::to_string(&workshop().to_draft()).expect("a draft can be written");
    for (name, text) in [("a.toml", WORKSHOP), ("a.json", json.as_str())] {
        let mut limits = InputLimits::default();
        (limits.toml_bytes, limits.json_bytes) = (text.len() as u64, text.len() as u64);
        assert_eq!(read(name, text, &limits), None);
        (limits.toml_bytes, limits.json_bytes) = (text.len() as u64 - 1, text.len() as u64 - 1);
        let errors = read(name, text, &limits).expect("it is too large");
        assert!(matches!(errors[0].fault, InputFault::TooLarge { .. }));
        let is_refused = |set: &dyn Fn(&mut InputLimits, usize), most: usize, fault: fn(&InputFault) -> bool| {
            let mut limits = InputLimits::default();
            let least = (1..=most).find(|&value| {
                set(&mut limits, value);
                let errors = read(name, text, &limits);
                assert!(errors.iter().flatten().all(|error| fault(&error.fault)), "{errors:?}");
                errors.is_none()
            });
            least.unwrap_or_else(|| panic!("{name} is never read"))
        };
        // In JSON: the outermost table, `kind`, its entry, `positions`, a position, `joins`, and an entry of that.
        let least = if name == "a.toml" { 6 } else { 7 };
        assert_eq!(
            is_refused(&|limits, depth| limits.depth = depth, 9, |f| matches!(f, InputFault::TooDeep { .. })),
            least
        );
        let set = |limits: &mut InputLimits, values| limits.values = values * 100;
        let values = is_refused(&set, 100, |fault| matches!(fault, InputFault::TooManyValues { .. }));
        assert!(values > 2, "{values}");
    }
    let wrong = WORKSHOP.replace("circuit = \"C1\"", "circuit = \"C9\"");
    let mut limits = InputLimits::default();
    let all = read("a.toml", &wrong, &limits).expect("it is wrong");
    assert!(all.len() > 3 && all.iter().all(|error| error.mend().starts_with("write `C")), "{all:?}");
    limits.errors = 2;
    let few = read("a.toml", &wrong, &limits).expect("it is wrong");
    assert_eq!(few[..2], all[..2]);
    assert!(
        matches!(few[2..], [ref last] if last.to_string() == format!("{} more errors are not listed", all.len() - 2))
    );
    (limits.errors, limits.nearest_name) = (100, 1);
    let without = read("a.toml", &wrong, &limits).expect("it is wrong");
    assert!(without.iter().all(|error| error.mend() == "add the circuit, or name one that is there"), "{without:?}");
}

/// Limits within which so many errors are listed that each must cost little.
fn many_errors() -> InputLimits {
    let mut limits = InputLimits::default();
    limits.errors = 200_000;
    limits
}

/// The parser would take a thousand bytes for each of these dots, and a walk along the line for each of these errors.
#[test]
fn dots_without_end_are_refused_in_time_and_space_in_proportion() {
    let deep: String =
        (0..50_000).map(|number| format!("k{number}.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a=1\n")).collect();
    assert!(matches!(only_fault("a.toml", deep.as_bytes()), InputFault::TooManyValues { .. }));
    let line = format!("{}=1\n", ".".repeat(1_000_000));
    assert!(matches!(only_fault("a.toml", line.as_bytes()), InputFault::Syntax { .. }));
    let commas = format!("x = [{}]\n", ",".repeat(100_000));
    let errors = read_installation(Input::toml(&commas).within(many_errors())).expect_err("it is wrong");
    assert!(errors.errors().len() >= 100_000);
}

/// What is in the way of reading on is reported where it is, and all else is read.
#[test]
fn what_is_behind_broken_statements_is_read() {
    for (broken, at) in [
        ("metres 3", (2, 8)),
        ("= 3", (2, 1)),
        ("a. = 3", (2, 4)),
        ("x = [1, [2]", (2, 5)),
        ("x = { a = [1, 2 }", (2, 11)),
        ("x = [{ a = 1 ]", (2, 6)),
        ("x = [1 }]", (2, 8)),
        ("}", (2, 1)),
        ("x = [[[[[[[[1]]]]]]]]", (2, 10)),
        ("a.b.c.d.e.f.g = 1", (2, 1)),
        ("[a.b.c.d.e.f]\nx = { = ]", (2, 1)),
    ] {
        let text = format!("format = 1\n{broken}\n[bord]\n[installation]\nname = 3\n");
        let mut limits = InputLimits::default();
        limits.depth = 6;
        let errors = read_installation(Input::toml(&text).within(limits.clone())).expect_err("it is wrong");
        let places: Vec<_> = errors.errors().iter().filter_map(|error| error.place).collect();
        let first = places.first().map(|place| (place.line, place.column));
        assert_eq!(first, Some(at), "{broken}: {errors}");
        assert_eq!(errors.errors().len(), 3, "{broken}: {errors}");
        let lines = text.lines().count();
        assert_eq!([places[1].line, places[2].line], [lines - 2, lines], "{broken}: {errors}");
    }
}

/// Time that grows with the square of the size would take hours here.
#[test]
fn a_hundred_thousand_errors_take_time_in_proportion() {
    let mut json = String::from(
        r#"{"format":1,"installation":{"name":"x","nominal_voltage":230,"earthing":"TT"},"board":[{"id":"DB1","origin":true}],"point":["#,
    );
    for number in 0..50_000 {
        let comma = if number == 0 { "" } else { "," };
        json += &format!(r#"{comma}{{"id":"S{number}","kind":"one-wey{number}","circuit":"C{number}"}}"#);
    }
    json += "]}";
    let errors = read_installation(Input::json(&json).within(many_errors())).expect_err("the file is wrong");
    assert_eq!(errors.errors().len(), 100_000);
}

/// A file of one line is what programs write; an error in it shows the places about it, not the line.
#[cfg(feature = "cli")]
#[test]
fn errors_in_a_line_without_end_are_told_as_briefly_as_in_short_lines() {
    use lengthwise::cli::diagnostics::{Options, render};

    let told = |padding: &str, end: &str| {
        let errors: String = (0..2000).map(|number| format!(r#""a{number}":1,{end}"#)).collect();
        let json = format!(r#"{{"format":1,{padding}{errors}{end}{padding}"installation":{{}}}}"#);
        let input = Input::json(&json).named("a.json").within(many_errors());
        let errors = read_installation(input).expect_err("the file is wrong");
        assert!(errors.errors().len() > 2000);
        let rendered = render(&errors, Options { most: usize::MAX, ..Options::default() });
        assert!(rendered.ends_with(" errors in a.json\n"));
        let few = render(&errors, Options::default());
        assert!(few.ends_with(" errors in a.json; the first 30 are shown\n") && few.matches("help:").count() == 30);
        rendered.len()
    };
    let [short, long] = [told("", "\n"), told(&" ".repeat(30_000_000), "")];
    assert!(long < short * 4, "{long} and {short} bytes");
}

#[test]
fn a_byte_order_mark_and_windows_line_ends_are_no_errors() {
    let text = format!("\u{feff}{}", WORKSHOP.replace('\n', "\r\n"));
    assert!(read_installation(Input::file("WORKSHOP.TOML", &text)).is_ok());
    let json = serde_json::to_string(&workshop().to_draft()).expect("a draft can be written");
    assert!(read_installation(Input::json(&format!("\u{feff}{json}"))).is_ok());
}

#[test]
fn columns_count_characters() {
    let errors = read_installation(Input::toml("format = 1\n\"äöü\" = 1\nü = 1\n\"ä\" = nonsense\n"));
    let errors = errors.expect_err("the file is wrong");
    let at = |line: usize| errors.errors().iter().filter_map(|error| error.place).find(|place| place.line == line);
    assert_eq!(at(2).map(|place| place.column), Some(1), "{errors}");
    assert_eq!(at(4).map(|place| place.column), Some(7), "{errors}");
}

/// One change of a file's bytes.
fn mutate(bytes: &mut Vec<u8>, (at, how, byte): (usize, u8, u8)) {
    let at = at % bytes.len().max(1);
    match how % 5 {
        0 if !bytes.is_empty() => bytes[at] = byte,
        1 => bytes.insert(at, byte),
        2 if !bytes.is_empty() => {
            bytes.remove(at);
        }
        // A piece of the file again elsewhere.
        3 => {
            let end = (at + usize::from(byte)).min(bytes.len());
            let piece = bytes[at..end].to_vec();
            let to = (at * 7 + 13) % (bytes.len() + 1);
            bytes.splice(to..to, piece);
        }
        _ => bytes.truncate(bytes.len() - usize::from(byte).min(bytes.len())),
    }
}

fn mutations() -> impl Strategy<Value = Vec<(usize, u8, u8)>> {
    let byte = prop_oneof![any::<u8>(), prop::sample::select(b"[]{}=.,\"'\\\n #0a-_".to_vec())];
    prop::collection::vec((any::<usize>(), any::<u8>(), byte), 1..8)
}

/// Reads whatever it is, and renders what is wrong with it.
fn read_all(bytes: &[u8], installation: &Installation) -> [bool; 4] {
    let results = [
        read_installation(Input::toml(bytes)).err(),
        read_installation(Input::json(bytes)).err(),
        read_test_set(Input::toml(bytes), installation).err(),
        read_test_set(Input::json(bytes), installation).err(),
    ];
    results.map(|errors| {
        if let Some(errors) = &errors {
            assert!(!errors.errors().is_empty());
            #[cfg(feature = "cli")]
            lengthwise::cli::diagnostics::render(errors, lengthwise::cli::diagnostics::Options::default());
        }
        errors.is_none()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_change_of_a_file_makes_a_panic(changes in mutations(), which in 0..4_u8) {
        let installation = workshop();
        let mut bytes = match which {
            0 => WORKSHOP.as_bytes().to_vec(),
            1 => serde_json::to_string_pretty(&installation.to_draft()).expect("a draft can be written").into_bytes(),
            2 => WORKSHOP_TESTS.as_bytes().to_vec(),
            _ => br#"{"format":1,"start":{"S1":"L1"},"pass":[{"operate":["S1"],"reading":[{"circuit":"C1","between":["L+N","E"],"megohms":">999"}]}]}"#.to_vec(),
        };
        for change in changes {
            mutate(&mut bytes, change);
        }
        read_all(&bytes, &installation);
    }
}
