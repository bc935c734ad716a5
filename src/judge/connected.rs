//! Readings after equipment was connected, judged by what the ruleset asks of such. They test no pair and are in no
//! figure: part of what they show may be the equipment.

use serde::{Deserialize, Serialize};

use super::demand::{Asked, Demand};
use super::verdict::{Assessment, ReadingReason, ReadingVerdict};
use crate::model::{ConnectedReading, Volts};
use crate::network::Network;

/// One reading after equipment was connected, judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct JudgedConnected {
    /// The circuit that it is put down under.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circuit: Option<String>,
    /// The board that it is put down under.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub board: Option<String>,
    /// The test voltage, as recorded.
    pub volts: Option<Volts>,
    /// The value to the letter, as recorded.
    pub megohms: Option<String>,
    /// What is asked at the voltage that it was taken at; none where that voltage won't do.
    pub asked: Option<Asked>,
    /// How it stands to that; never to investigate, for nobody knows what healthy equipment shows.
    pub verdict: ReadingVerdict,
    /// Why it can't be judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<ReadingReason>,
}

impl JudgedConnected {
    /// Judges a reading, of which `own` is what is asked before equipment is connected.
    pub(super) fn of(network: &Network, reading: &ConnectedReading, own: &Demand<'_>) -> JudgedConnected {
        let demand = Demand::with_equipment(network, own);
        let Assessment { verdict, why } = demand.judge_connected(reading);
        let [circuit, board] = reading.at().names(network.installation());
        JudgedConnected {
            circuit,
            board,
            volts: reading.volts(),
            megohms: reading.written().map(|written| written.into_owned()),
            asked: demand.asked_at(reading.volts()).ok(),
            verdict,
            why,
        }
    }
}
