//! Test voltages where no ruleset is named.

use crate::model::{Circuit, Installation, System, Volts};

/// The d.c. test voltage for a circuit, by its system and nominal voltage, where no ruleset is named.
///
/// SELV and PELV 250 V; up to and including 500 V, FELV included, 500 V; above 500 V, 1000 V; where the circuit's
/// `relief` says that something can't be disconnected, 250 V, which does it no harm. Source: BS 7671:2018 Table 64 and
/// reg. 643.3.3; IEC 60364-6:2016 Table 6.1 has the same values (that table's number from memory). The nominal voltage
/// is compared as the file gives it, line to neutral. Local codes come first. The default ruleset,
/// [`Standard::default`](crate::Standard), gives the same.
///
/// # Examples
///
/// ```
/// use lengthwise::model::Volts;
/// use lengthwise::{Input, read_installation, rules};
///
/// let landing = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
/// let circuit = landing.circuit(landing.circuit_by_id("C1").expect("it is in the file"));
/// assert_eq!(rules::test_voltage(circuit), Volts(500.0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn test_voltage(circuit: &Circuit) -> Volts {
    match circuit.relief() {
        Some(_) => LOWER,
        None => of(circuit.system(), circuit.nominal_voltage()),
    }
}

/// The d.c. test voltage for a board: that of low voltage at the installation's nominal voltage.
pub(crate) fn board_test_voltage(installation: &Installation) -> Volts {
    of(System::Lv, installation.nominal_voltage())
}

/// The lowest test voltage.
const LOWER: Volts = Volts(250.0);

fn of(system: System, nominal: Volts) -> Volts {
    match system {
        System::Selv | System::Pelv => LOWER,
        System::Lv | System::Felv if nominal <= Volts(500.0) => Volts(500.0),
        System::Lv | System::Felv => Volts(1000.0),
    }
}
