//! The fewest switch operations still needed.

mod readings;

pub(crate) use readings::planned_readings;
