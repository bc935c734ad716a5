//! Test voltages.

use super::{RowValue, Standard};
use crate::model::{Circuit, Installation, Volts};

/// The d.c. test voltage for a circuit, by its system and nominal voltage, in the default ruleset.
///
/// SELV and PELV 250 V; up to and including 500 V, FELV included, 500 V; above 500 V, 1000 V; where the circuit's `relief`
/// says that something can't be disconnected, 250 V, which does it no harm. Source: BS 7671:2018 Table 64 and reg. 643.3.3;
/// IEC 60364-6:2016 Table 6.1 has the same values (that table's number from memory). The nominal voltage is compared as the
/// file gives it, line to neutral. Local codes come first.
pub fn test_voltage(circuit: &Circuit) -> Volts {
    Standard::default().ruleset().test_voltage(circuit).expect("the default ruleset gives a value for every circuit")
}

/// The d.c. test voltage for a board, in the default ruleset: that of low voltage at the installation's nominal voltage.
pub(crate) fn board_test_voltage(installation: &Installation) -> Volts {
    match Standard::default().ruleset().row_of_boards(installation).value {
        RowValue::Given { volts, .. } => volts,
        RowValue::NotGiven { .. } => unreachable!("the default ruleset gives a value for every voltage"),
    }
}
