//! What the documents show is real: their files read, and their output is the program's own.

use std::fs;
use std::path::PathBuf;

use lengthwise::{Input, read_installation, read_ruleset, read_test_set};

fn document(path: &str) -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path);
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// One fenced block: what it is marked as, and its lines.
#[derive(Debug)]
struct Block {
    mark: String,
    text: String,
}

fn blocks(document: &str) -> Vec<Block> {
    let mut blocks = Vec::new();
    let mut open: Option<Block> = None;
    for line in document.lines() {
        match (line.strip_prefix("```"), &mut open) {
            (Some(mark), None) => open = Some(Block { mark: mark.to_owned(), text: String::new() }),
            (Some(_), Some(_)) => blocks.extend(open.take()),
            (None, Some(block)) => {
                block.text.push_str(line);
                block.text.push('\n');
            }
            (None, None) => {}
        }
    }
    assert!(open.is_none(), "a block is never closed: {open:?}");
    blocks
}

fn marked(blocks: &[Block], mark: &str) -> Vec<String> {
    blocks.iter().filter(|block| block.mark == mark).map(|block| block.text.clone()).collect()
}

#[test]
fn the_files_in_the_readme_are_those_of_the_examples_and_read() {
    let files = marked(&blocks(&document("README.md")), "toml");
    let examples = ["examples/landing.toml", "examples/landing-as-usual.toml", "examples/stair.toml"];
    assert_eq!(files, examples.map(document));
    read_installation(Input::file("stair.toml", &files[2])).unwrap_or_else(|errors| panic!("{errors}"));
    let installation =
        read_installation(Input::file("landing.toml", &files[0])).unwrap_or_else(|errors| panic!("{errors}"));
    read_test_set(Input::file("landing-as-usual.toml", &files[1]), &installation)
        .unwrap_or_else(|errors| panic!("{errors}"));
}

#[test]
fn the_program_in_the_readme_is_in_the_crate_documentation() {
    let programs = marked(&blocks(&document("README.md")), "rust");
    assert_eq!(programs.len(), 1);
    let documented: String =
        programs[0].lines().map(|line| format!("//! {line}").trim_end().to_owned() + "\n").collect();
    let library = document("src/lib.rs");
    assert!(library.contains(&documented), "src/lib.rs lacks:\n{documented}");
}

#[test]
fn the_files_in_the_format_read() {
    let files = marked(&blocks(&document("FORMAT.md")), "toml");
    let [installation, one_line, run, kind, allow, test_set, ruleset] = files.as_slice() else {
        panic!("{} files", files.len())
    };
    let one_line = read_installation(Input::toml(one_line)).unwrap_or_else(|errors| panic!("{errors}"));
    assert!(one_line.lengths().all(|(_, length)| one_line.circuit(length.circuit()).id() == "C1"));
    let run = read_installation(Input::toml(run)).unwrap_or_else(|errors| panic!("{errors}"));
    assert!(run.points().count() > run.circuits().len());
    // The test set names points that the sample of an installation has no room for.
    let mut whole = format!("{installation}\n{kind}\n{allow}");
    for (id, kind) in
        [("S2", "\"two-way\""), ("K1", "\"contactor\"\nmanual = true"), ("E4", "\"luminaire\""), ("D1", "\"dimmer\"")]
    {
        whole.push_str(&format!("\n[[point]]\nid = \"{id}\"\ncircuit = \"C1\"\nkind = {kind}\n"));
    }
    let read = read_installation(Input::toml(&whole)).unwrap_or_else(|errors| panic!("{errors}"));
    read_test_set(Input::toml(&test_set), &read).unwrap_or_else(|errors| panic!("{errors}"));
    read_ruleset(Input::toml(&ruleset)).unwrap_or_else(|errors| panic!("{errors}"));
}

/// The program itself is there only with the feature.
#[cfg(feature = "cli")]
mod output {
    use std::process::Command;

    use serde_json::Value;

    use super::{Block, blocks, document};

    /// The arguments of the program in a command, however it is called.
    fn arguments(command: &str) -> Option<Vec<&str>> {
        let ways = ["cargo run --release --quiet -- ", "cargo run --release -- ", "target/release/lengthwise "];
        Some(ways.iter().find_map(|way| command.strip_prefix(way))?.split_whitespace().collect())
    }

    fn printed(arguments: &[&str]) -> String {
        let output = Command::new(env!("CARGO_BIN_EXE_lengthwise"))
            .args(arguments)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .expect("the program runs");
        // Wrong input is told on standard error.
        let text = if output.stdout.is_empty() { output.stderr } else { output.stdout };
        String::from_utf8(text).expect("the program prints UTF-8")
    }

    /// Whether the lines of `shown` are those of `whole`, where a line of `...` stands for any lines, or none.
    fn is_excerpt(shown: &str, whole: &str) -> bool {
        let whole: Vec<&str> = whole.lines().collect();
        let shown: Vec<&str> = shown.lines().collect();
        let parts: Vec<&[&str]> = shown.split(|&line| line == "...").collect();
        let [first, between @ .., last] = parts.as_slice() else { return shown == whole };
        let Some(mut rest) = whole.strip_prefix(*first) else { return false };
        for part in between.iter().filter(|part| !part.is_empty()) {
            let Some(at) = rest.windows(part.len()).position(|lines| lines == *part) else { return false };
            rest = &rest[at + part.len()..];
        }
        rest.ends_with(last)
    }

    #[test]
    fn excerpts_are_told_from_other_text() {
        let whole = "a\nb\nc\nd\n";
        for shown in [whole, "a\n...\n", "...\nd\n", "a\n...\nc\n...\n", "...\nb\n...\nd\n"] {
            assert!(is_excerpt(shown, whole), "{shown}");
        }
        for shown in ["a\n", "a\n...\nb\n", "b\n...\n", "a\n...\nd\n...\nb\n...\n", "a\nb\nd\n"] {
            assert!(!is_excerpt(shown, whole), "{shown}");
        }
    }

    /// Checks every output in a document that follows a command; tells how many there are.
    fn check(path: &str) -> usize {
        let blocks = blocks(&document(path));
        let mut checked = 0;
        for pair in blocks.windows(2) {
            let [Block { mark, text: command }, shown] = pair else { unreachable!() };
            let (true, Some(arguments)) = (mark == "sh", arguments(command.trim())) else { continue };
            let whole = printed(&arguments);
            match shown.mark.as_str() {
                "text" => {
                    assert!(is_excerpt(&shown.text, &whole), "{path}: `{}` prints:\n{whole}", command.trim());
                    checked += 1;
                }
                // Some keys of what is printed, each with its whole value.
                "json" => {
                    let whole: Value = serde_json::from_str(&whole).expect("the program prints JSON");
                    let keys: Value = serde_json::from_str(&shown.text).expect("the document shows JSON");
                    for (key, value) in keys.as_object().expect("the document shows an object") {
                        assert_eq!(Some(value), whole.get(key), "{path}: `{}`: {key}", command.trim());
                    }
                    checked += 1;
                }
                _ => {}
            }
        }
        checked
    }

    #[test]
    fn the_output_in_the_readme_is_what_the_program_prints() {
        assert_eq!(check("README.md"), 10, "an output is not under the command that prints it");
    }

    #[test]
    fn the_output_in_the_sessions_of_the_demo_is_what_the_program_prints() {
        assert_eq!(check("demo/FAULTS.md"), 6, "an output is not under the command that prints it");
    }

    #[test]
    fn the_output_in_the_demo_is_what_the_program_prints() {
        assert_eq!(check("demo/README.md"), 7, "an output is not under the command that prints it");
    }
}
