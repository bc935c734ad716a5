//! What bears on a reading and is explained, not corrected for.

/// Why readings are judged as they were written: temperature and length.
///
/// Sources: common practice for the temperature; R = (ρ / 2πl) ln(D/d), a textbook formula for a single-core cable, for
/// the length.
pub const NOT_CORRECTED: &[&str] = &[
    "Temperature: insulation reads lower when it is warm or damp. A value is not changed to what it would be at another \
     temperature; note the temperature beside it (common practice).",
    "Length: leakage adds up along a cable, so twice the length has half the resistance (R = (ρ/2πl) ln(D/d), a textbook \
     formula for a single-core cable). A value is not changed to what it would be for another length; the least value \
     is asked of the circuit, however long it is.",
];
