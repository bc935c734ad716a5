//! Whatever is in a file, it is read or refused, and what is read is answered: no panic, no answer that its own JSON does
//! not hold.
//!
//! Files are those of the repository, altered at random: byte by byte for each reader, and value by value for the whole
//! path, so that much of it is still an installation. `--seed` makes the same ones again. A file at fault is left in the
//! folder that is named.
//!
//! Design not taken: a fuzzer that follows coverage. It takes another toolchain than the one that builds the package.

mod alter;
mod targets;

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant};

use alter::Dice;
use targets::{Case, TARGETS};

/// As many of each target are run where neither a number nor a time is given, with the other tests.
const FEW: u64 = 60;

/// The files that cases are made of.
pub struct Corpus {
    /// Installations, right ones and wrong ones.
    pub installations: Vec<Vec<u8>>,
    /// Test sets.
    pub test_sets: Vec<Vec<u8>>,
    /// Rulesets.
    pub rulesets: Vec<Vec<u8>>,
    /// Installations, each with a test set that is meant for it.
    pub pairs: Vec<[serde_json::Value; 2]>,
}

impl Corpus {
    fn read() -> Corpus {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let mut corpus =
            Corpus { installations: Vec::new(), test_sets: Vec::new(), rulesets: Vec::new(), pairs: Vec::new() };
        let folders = [
            "fixtures/small",
            "fixtures/plan",
            "fixtures/judge",
            "fixtures/locate",
            "fixtures/prepare",
            "fixtures/invalid",
            "fixtures/runs",
        ];
        let folders = folders.iter().map(|folder| root.join("tests").join(folder));
        for folder in folders.chain([root.join("examples"), root.join("tests/fixtures/rules")]) {
            let mut paths: Vec<PathBuf> = fs::read_dir(&folder)
                .expect("it is there")
                .map(|entry| entry.expect("it can be read").path())
                .collect();
            paths.sort();
            for path in paths.iter().filter(|path| path.extension().is_some_and(|ending| ending == "toml")) {
                let bytes = fs::read(path).expect("it can be read");
                let name = path.file_name().and_then(|name| name.to_str()).expect("it is text").to_owned();
                let text = String::from_utf8_lossy(&bytes);
                match text.contains("[[board]]") {
                    true => {
                        let stem = name.trim_end_matches(".toml");
                        let of_it = |other: &&PathBuf| {
                            let other = other.file_name().and_then(|name| name.to_str()).unwrap_or_default();
                            other != name && other.starts_with(stem)
                        };
                        for tests in paths.iter().filter(of_it) {
                            let tests = fs::read_to_string(tests).expect("it can be read");
                            let values = [text.as_ref(), tests.as_str()]
                                .map(|text| toml::from_str::<serde_json::Value>(text).ok());
                            if let [Some(file), Some(tests)] = values {
                                corpus.pairs.push([file, tests]);
                            }
                        }
                        corpus.installations.push(bytes);
                    }
                    false if text.contains("[[row]]") => corpus.rulesets.push(bytes),
                    false => corpus.test_sets.push(bytes),
                }
            }
        }
        assert!(corpus.installations.len() > 20 && corpus.pairs.len() > 20 && !corpus.rulesets.is_empty());
        corpus
    }
}

/// The number behind a name among the arguments.
fn asked_for(name: &str) -> Option<u64> {
    let mut arguments = std::env::args().skip_while(|argument| argument != name);
    arguments.next()?;
    Some(arguments.next().and_then(|number| number.parse().ok()).unwrap_or_else(|| panic!("{name} takes a number")))
}

fn main() -> ExitCode {
    let corpus = Corpus::read();
    let seed = asked_for("--seed").unwrap_or(0);
    let cases = asked_for("--cases").unwrap_or(FEW);
    let seconds = asked_for("--seconds").map(Duration::from_secs);
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("fuzz");
    fs::create_dir_all(&folder).expect("a folder can be made");
    let begun = Instant::now();
    let mut faults = 0;
    for (number, (name, make, run)) in (1u32..).zip(TARGETS) {
        let until = seconds.map(|seconds| seconds * number / TARGETS.len() as u32);
        let (mut count, mut taken) = (0u64, 0u64);
        while until.map_or(count < cases, |until| begun.elapsed() < until) {
            let case: Case = make(&corpus, &mut Dice::new(seed, number, count));
            count += 1;
            // Kept before it is run: what ends the process leaves it.
            let last = folder.join(format!("{name}.last"));
            fs::write(&last, case.shown()).expect("a file can be written");
            match catch_unwind(AssertUnwindSafe(|| run(&case))) {
                Ok(is_taken) => taken += u64::from(is_taken),
                Err(_) => {
                    faults += 1;
                    let kept = folder.join(format!("{name}-{seed}-{count}"));
                    fs::rename(&last, &kept).expect("a file can be renamed");
                    eprintln!("FAULT of {name}: {}", kept.display());
                }
            }
        }
        println!("fuzz {name}: {count} executions, {taken} of them read");
        // Where all are refused nothing behind the readers is tried.
        assert!(taken * 50 >= count, "{name}: hardly any file is read");
    }
    ExitCode::from(u8::from(faults > 0))
}
