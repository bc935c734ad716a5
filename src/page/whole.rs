//! The page put together.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde::Serialize;
use sha2::{Digest, Sha256};

use crate::draw::Drawing;
use crate::input::Standard;
use crate::session::SourceText;
use crate::visible::visible;

/// The library as a module for browsers, compressed: `.ci/engine.py` builds it.
const ENGINE: &[u8] = include_bytes!("lengthwise.wasm.gz");

/// The scripts in order, each after those that it imports.
const SCRIPTS: [&str; 6] = [
    include_str!("texts.js"),
    include_str!("dom.js"),
    include_str!("record.js"),
    include_str!("store.js"),
    include_str!("lengthwise.js"),
    include_str!("app.js"),
];
const STYLE: &str = include_str!("page.css");
const FRAME: &str = include_str!("page.html");

/// What a page holds.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct PageFiles {
    /// The installation.
    pub installation: SourceText,
    /// What was done before.
    pub test_set: Option<SourceText>,
    /// The id of the ruleset that judges.
    pub rules: &'static str,
}

impl PageFiles {
    /// Of these texts, which are taken to be right.
    pub fn of(installation: SourceText, test_set: Option<SourceText>, rules: Standard) -> PageFiles {
        PageFiles { installation, test_set, rules: rules.id() }
    }
}

/// One file of HTML that does the job in a browser, without a network: these files, and the engine.
///
/// Nothing in it is loaded from elsewhere; a policy of its own lets only its own script and style run (Content Security
/// Policy level 3, by SHA-256). The same files give the same bytes. Time and space linear in the files.
///
/// ```
/// use lengthwise::Standard;
/// use lengthwise::page::{PageFiles, page_of};
/// use lengthwise::session::SourceText;
///
/// let landing = std::fs::read_to_string("examples/landing.toml")?;
/// let page = page_of(&PageFiles::of(SourceText::Toml(landing), None, Standard::default()), "Landing");
/// assert!(page.starts_with("<!doctype html>") && page.contains("<title>Landing</title>"));
/// # Ok::<(), std::io::Error>(())
/// ```
#[must_use]
pub fn page_of(files: &PageFiles, title: &str) -> String {
    let script = script();
    let json = serde_json::to_string(files).expect("texts are JSON");
    let key = hex(&Sha256::digest(&json));
    // In a file of HTML a script ends at the first `</script`, and `<!--` changes how it is read.
    let files = format!("{{\"key\":\"{key}\",\"files\":{json}}}").replace('<', "\\u003c");
    let source = |text: &str| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text)));
    let policy = format!(
        "default-src 'none'; script-src {} 'wasm-unsafe-eval'; worker-src blob:; style-src {} {}; base-uri 'none'; form-action 'none'",
        source(&script),
        source(STYLE),
        source(Drawing::STYLE),
    );
    let title = visible(title).replace('&', "&amp;").replace('<', "&lt;");
    let engine = STANDARD.encode(ENGINE);
    let mut page = String::with_capacity(engine.len() + files.len() + script.len() + STYLE.len() + FRAME.len());
    let mut rest = FRAME;
    for (mark, text) in [
        ("{policy}", policy.as_str()),
        ("{title}", &title),
        ("{style}", STYLE),
        ("{files}", &files),
        ("{engine}", &engine),
        ("{script}", &script),
    ] {
        let (before, behind) = rest.split_once(mark).expect("the frame has all marks in order");
        page.push_str(before);
        page.push_str(text);
        rest = behind;
    }
    page + rest
}

/// All scripts as one module.
fn script() -> String {
    let mut script = String::new();
    for line in SCRIPTS.iter().flat_map(|part| part.lines()) {
        if !line.starts_with("import {") {
            script.push_str(line.strip_prefix("export ").unwrap_or(line));
            script.push('\n');
        }
    }
    script + "startPage();\n"
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
