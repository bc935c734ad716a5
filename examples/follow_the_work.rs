//! A phone in a stairwell: each entry, as it is made, is told what it added. What did a mistake change, and is the record
//! the file that the command reads?

use std::error::Error;

use lengthwise::coverage::{CoverageChange, Edit, LiveCoverage};
use lengthwise::model::{Indication, Megohms, PassDraft, ReadingDraft, TestSet};
use lengthwise::{Coverage, Input, Need, Network, read_installation, read_test_set};

fn reading(between: [&str; 2], megohms: Indication) -> ReadingDraft {
    ReadingDraft {
        circuit: Some("C1".to_owned()),
        between: between.map(str::to_owned),
        megohms: Some(megohms),
        ..ReadingDraft::default()
    }
}

fn say(what: &str, change: &CoverageChange, live: &LiveCoverage) {
    println!("{what}");
    for reading in &change.readings {
        if let Some(void) = &reading.void {
            println!("  reading {} of pass {} tests nothing: {void:?}", reading.reading, reading.pass);
        }
    }
    for (verb, pairs) in [("tested", &change.tested), ("no longer tested", &change.lost)] {
        let pairs: Vec<String> = pairs
            .iter()
            .filter(|pair| pair.required)
            .map(|pair| format!("{} {}", pair.length, pair.cores.join("-")))
            .collect();
        if !pairs.is_empty() {
            println!("  {verb}: {}", pairs.join(", "));
        }
    }
    let summary = live.summary();
    println!("  {} of {} needed pairs are tested", summary.tested, summary.required);
}

fn main() -> Result<(), Box<dyn Error>> {
    let over = Indication::MoreThan(Megohms(999.0));
    let installation = read_installation(Input::toml(include_bytes!("landing.toml")))?;
    let mut live = LiveCoverage::of(Network::of(installation.clone()), TestSet::default(), Need::Standard)?;

    live.edit(Edit::AddPass { pass: 1, draft: PassDraft::default() })?;
    let change = live.edit(Edit::AddReading { place: [1, 1], draft: reading(["L+N", "E"], over) })?;
    say("Line and neutral to earth:", &change, &live);
    let change = live.edit(Edit::AddReading { place: [1, 2], draft: reading(["L", "N"], over) })?;
    say("Line to neutral:", &change, &live);

    let mut second = PassDraft {
        operate: vec!["S1".to_owned(), "S2".to_owned()],
        readings: vec![reading(["L+N", "E"], Indication::Value(Megohms(540.0))), reading(["L", "N"], over)],
        ..PassDraft::default()
    };
    let change = live.edit(Edit::AddPass { pass: 2, draft: second.clone() })?;
    say("Both switches operated, and read again:", &change, &live);
    second.operate.clear();
    let change = live.edit(Edit::ChangePass { pass: 2, draft: second })?;
    say("No, they had been left as they were:", &change, &live);

    // What was followed is what the whole record covers, and the record is a file like any other.
    let record = serde_json::to_string_pretty(&live.test_set().to_draft(&installation)?)?;
    let read_back = read_test_set(Input::json(&record), &installation)?;
    assert_eq!(live.coverage(), Coverage::of(live.network(), &read_back, Need::Standard)?);
    println!("The record has {} lines of JSON.", record.lines().count());
    Ok(())
}
