//! Reading an installation of 50,000 lengths, against parsing its text with the bare `toml` crate and with `serde_json`.
//! More is too large for TOML; `command` reads 200,000 as JSON.

mod generate;
mod measure;
mod toml_text;

use generate::{Generated, Size};
use measure::{Effort, by_turns, ratio, say};
use toml_text::{installation_text, test_set_text};

fn main() {
    let effort = Effort::asked_for();
    let generated = Generated::of(Size::of(effort.of(2_500, 50)));
    let text = installation_text(&generated.draft);
    let tests_text = test_set_text(&generated.test_draft);
    let json = serde_json::to_string(&generated.draft).expect("a draft is data");
    println!(
        "read: {} lengths, {} circuits; TOML of {:.1} MiB",
        generated.draft.lengths.len(),
        generated.draft.circuits.len(),
        text.len() as f64 / f64::from(1 << 20)
    );

    let installation = lengthwise::input::read_installation(lengthwise::Input::toml(&text)).expect("it is valid");
    assert!(installation.to_draft() == generated.installation.to_draft(), "what is read is what was written");
    let tests = lengthwise::input::read_test_set(lengthwise::Input::toml(&tests_text), &installation);
    assert!(tests.expect("it is valid") == generated.tests(&generated.test_draft), "and so are the tests");

    let [read, bare, from_json, bare_json] = by_turns(
        effort.of(3, 1),
        [
            &mut || drop(lengthwise::input::read_installation(lengthwise::Input::toml(&text))),
            &mut || drop(text.parse::<toml::Table>().expect("it is TOML")),
            &mut || drop(lengthwise::input::read_installation(lengthwise::Input::json(&json))),
            &mut || drop(serde_json::from_str::<serde_json::Value>(&json).expect("it is JSON")),
        ],
    );
    say("reading and checking, against parsing alone by the bare `toml` crate", ratio(read, bare));
    say("the same as JSON, against parsing alone by serde_json", ratio(from_json, bare_json));
}
