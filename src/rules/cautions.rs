//! The cautions shown at the head of everything that people carry.

/// What can hurt someone, in the usual words of the trade (common practice).
pub const CAUTIONS: &[&str] = &[
    "Test voltages of 250 to 1000 V d.c. are dangerous.",
    "Test only on a circuit proved dead and locked off.",
    "Nobody touches conductors or accessories while a test is on; tell everyone in the building.",
    "Long or large cables stay charged: release the button and let the instrument discharge them before a lead is moved.",
    "Equipment that the test may damage is disconnected first, by its maker's instructions.",
    "This plans and records; a competent person decides. Local codes and licensed practice come first.",
];
