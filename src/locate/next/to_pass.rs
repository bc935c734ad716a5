//! The next reading as a pass of a test set, so that its value can be written down.

use super::weighing::NextReading;
use crate::model::{BridgeState, OtherInstallation, PassDraft, ReadingDraft, TestSet};
use crate::network::{BridgeIndex, DeviceIndex, Network};
use crate::reading::{DeviceState, Replay};

impl NextReading {
    /// The reading, without a value, as a pass behind those of the test set that it was found for: first what it is
    /// taken from, then what is operated for it. Time and space as following the test set.
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation: its ids mean nothing in this one.
    ///
    /// # Examples
    ///
    /// ```
    /// use lengthwise::locate::{Assumptions, Findings, Next};
    /// use lengthwise::{Input, Network, read_installation, read_test_set};
    ///
    /// let landing = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let low = "format = 1\n[[pass]]\nreading = [{ circuit = \"C1\", between = [\"L+N\", \"E\"], megohms = 0.4 }]\n";
    /// let tests = read_test_set(Input::toml(low.as_bytes()), &landing)?;
    /// let network = Network::of(landing.clone());
    /// let Next::Read(next) = Findings::of(&network, &tests, Assumptions::default())?.next else { panic!("a low value") };
    ///
    /// let mut draft = tests.to_draft(&landing)?;
    /// draft.passes.push(next.to_pass(&network, &tests)?);
    /// assert_eq!(draft.build(&landing)?.reading_count(), 2);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn to_pass(&self, network: &Network, tests: &TestSet) -> Result<PassDraft, OtherInstallation> {
        let installation = network.installation();
        tests.check_for(installation)?;
        let mut replay = Replay::of(network, tests);
        while replay.next_pass().is_some() {}
        let after = replay.into_configuration();
        let taken_from = after.for_planning(network);
        let mut pass = PassDraft::default();
        for (number, device) in (0 as DeviceIndex..).zip(network.devices()) {
            if let DeviceState::At(position) = taken_from.device(number)
                && after.device(number) != taken_from.device(number)
            {
                let name = network.position_name(number, position).to_owned();
                pass.set.insert(device.reference.name(installation), name);
            }
        }
        for (number, bridge) in (0 as BridgeIndex..).zip(network.bridges()) {
            if taken_from.bridge(number) == BridgeState::Removed && after.bridge(number) != BridgeState::Removed {
                pass.remove.push(bridge.reference.name(installation));
            }
        }
        pass.set.extend(self.set.iter().map(|row| (row.device.clone(), row.to.clone())));
        pass.readings.push(ReadingDraft {
            circuit: self.circuit.clone(),
            board: self.board.clone(),
            between: self.between.clone(),
            volts: self.volts,
            ..ReadingDraft::default()
        });
        Ok(pass)
    }
}
