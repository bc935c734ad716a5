//! Files that are wrong: every error is found, with its place and what mends it, and nothing panics.

use lengthwise::input::{read_installation, read_test_set};

const WORKSHOP: &[u8] = include_bytes!("../fixtures/small/workshop.toml");
const WORKSHOP_TESTS: &[u8] = include_bytes!("../fixtures/small/workshop-tests.toml");

#[test]
fn the_files_that_the_others_get_wrong_are_right() {
    let installation = read_installation("workshop.toml", WORKSHOP).unwrap_or_else(|errors| panic!("{errors}"));
    let test_set =
        read_test_set("tests.toml", WORKSHOP_TESTS, &installation).unwrap_or_else(|errors| panic!("{errors}"));
    assert_eq!(installation.points().len(), 7);
    assert_eq!(test_set.passes().len(), 2);
}

#[test]
fn an_installation_written_down_again_is_the_same_one() {
    let installation = read_installation("workshop.toml", WORKSHOP).unwrap_or_else(|errors| panic!("{errors}"));
    let draft = installation.to_draft();
    let json = serde_json::to_string(&draft).expect("a draft can be written");
    let again = read_installation("workshop.json", json.as_bytes()).unwrap_or_else(|errors| panic!("{errors}"));
    assert_eq!(again.to_draft(), draft);
    let built = draft.build().expect("the draft of an installation is right");
    assert_eq!(built.to_draft(), draft);
}
