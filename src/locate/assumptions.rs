//! What is assumed beside the readings: the instrument, healthy cable, and when a leakage is a fault.

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::model::{Indication, Megohms};

/// The insulation resistance of a kilometre of cable, in MΩ·km: twice the length has half the resistance.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MegohmKilometres(pub f64);

/// What is assumed beside the readings.
///
/// The defaults, each with its source:
///
/// | what | default | source |
/// |---|---|---|
/// | accuracy | 30 % of the value | the operating uncertainty that IEC 61557-2 allows an instrument (from memory) |
/// | resolution | 0.01 MΩ | the last digit of the lowest range; common practice |
/// | healthy cable | 10 MΩ·km | common practice, from memory: the least that sound cable has between two cores; the maker of the cable knows better |
/// | investigate below | 2 MΩ | common practice: a reading of an existing installation below it is looked into |
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "GivenFigures")]
pub struct Assumptions {
    accuracy_percent: f64,
    #[serde(rename = "resolution_megohms")]
    resolution: Megohms,
    #[serde(rename = "healthy_megohm_kilometres")]
    healthy: MegohmKilometres,
    #[serde(rename = "investigate_below_megohms")]
    investigate_below: Megohms,
}

/// Figures that were read from somewhere: not checked yet.
#[derive(Deserialize)]
struct GivenFigures {
    accuracy_percent: f64,
    resolution_megohms: Megohms,
    healthy_megohm_kilometres: MegohmKilometres,
    investigate_below_megohms: Megohms,
}

impl TryFrom<GivenFigures> for Assumptions {
    type Error = AssumptionError;

    fn try_from(given: GivenFigures) -> Result<Assumptions, AssumptionError> {
        Assumptions::default()
            .with_instrument(given.accuracy_percent, given.resolution_megohms)?
            .with_healthy(given.healthy_megohm_kilometres)?
            .with_investigate_below(given.investigate_below_megohms)
    }
}

impl Default for Assumptions {
    fn default() -> Assumptions {
        Assumptions {
            accuracy_percent: 30.0,
            resolution: Megohms(0.01),
            healthy: MegohmKilometres(10.0),
            investigate_below: Megohms(2.0),
        }
    }
}

/// A figure that can't be assumed.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum AssumptionError {
    /// The accuracy is not from 0 up to, not including, 100 percent.
    #[error("an accuracy of {percent} percent is not from 0 to below 100")]
    Accuracy {
        /// What was given.
        percent: f64,
    },
    /// The resolution is negative or not a number.
    #[error("a resolution of {megohms} MΩ is below nought or no number")]
    Resolution {
        /// What was given.
        megohms: f64,
    },
    /// The figure for healthy cable is not above nought.
    #[error("a figure of {megohm_kilometres} MΩ·km for healthy cable is not above nought")]
    Healthy {
        /// What was given.
        megohm_kilometres: f64,
    },
    /// The limit is not above nought.
    #[error("a limit of {megohms} MΩ below which to investigate is not above nought")]
    InvestigateBelow {
        /// What was given.
        megohms: f64,
    },
}

impl AssumptionError {
    /// What to do about it.
    pub fn mend(&self) -> &'static str {
        match self {
            AssumptionError::Accuracy { .. } => "give the instrument's accuracy in percent of the value, such as 30",
            AssumptionError::Resolution { .. } => "give the last digit of the lowest range in MΩ, such as 0.01",
            AssumptionError::Healthy { .. } => "give the least figure of the cable's maker in MΩ·km, such as 10",
            AssumptionError::InvestigateBelow { .. } => "give the reading in MΩ below which to look further, such as 2",
        }
    }
}

impl Assumptions {
    /// The instrument is right to within so many percent of the value, and one resolution.
    ///
    /// # Errors
    ///
    /// [`AssumptionError::Accuracy`] and [`AssumptionError::Resolution`].
    pub fn with_instrument(mut self, percent: f64, resolution: Megohms) -> Result<Assumptions, AssumptionError> {
        if !(0.0..100.0).contains(&percent) {
            return Err(AssumptionError::Accuracy { percent });
        }
        if !(resolution.0 >= 0.0 && resolution.0.is_finite()) {
            return Err(AssumptionError::Resolution { megohms: resolution.0 });
        }
        (self.accuracy_percent, self.resolution) = (percent, resolution);
        Ok(self)
    }

    /// A kilometre of healthy cable has at least this insulation resistance between two bodies of copper.
    ///
    /// # Errors
    ///
    /// [`AssumptionError::Healthy`].
    pub fn with_healthy(mut self, healthy: MegohmKilometres) -> Result<Assumptions, AssumptionError> {
        if !(healthy.0 > 0.0 && healthy.0.is_finite()) {
            return Err(AssumptionError::Healthy { megohm_kilometres: healthy.0 });
        }
        self.healthy = healthy;
        Ok(self)
    }

    /// A reading below this is looked into.
    ///
    /// # Errors
    ///
    /// [`AssumptionError::InvestigateBelow`].
    pub fn with_investigate_below(mut self, limit: Megohms) -> Result<Assumptions, AssumptionError> {
        if !(limit.0 > 0.0 && limit.0.is_finite()) {
            return Err(AssumptionError::InvestigateBelow { megohms: limit.0 });
        }
        self.investigate_below = limit;
        Ok(self)
    }

    /// The instrument's accuracy, in percent of the value.
    pub fn accuracy_percent(&self) -> f64 {
        self.accuracy_percent
    }

    /// The instrument's resolution.
    pub fn resolution(&self) -> Megohms {
        self.resolution
    }

    /// The least insulation resistance of healthy cable.
    pub fn healthy(&self) -> MegohmKilometres {
        self.healthy
    }

    /// The reading below which to look further.
    pub fn investigate_below(&self) -> Megohms {
        self.investigate_below
    }

    /// What healthy cable of this length may leak, in µS.
    pub(super) fn allowance(&self, metres: f64) -> f64 {
        metres / 1000.0 / self.healthy.0
    }

    /// The leakage beyond the healthy that makes a fault, in µS.
    pub(super) fn threshold(&self) -> f64 {
        1.0 / self.investigate_below.0
    }

    /// The resistances that an instrument that shows this may have had before it: least and greatest, in MΩ.
    fn resistances(&self, megohms: f64) -> [f64; 2] {
        let part = self.accuracy_percent / 100.0;
        [megohms * (1.0 - part) - self.resolution.0, megohms * (1.0 + part) + self.resolution.0]
    }

    /// The conductances, in µS, that an instrument that shows this may have had before it; rounded outwards. The
    /// greatest may be infinite, which says nothing.
    pub(super) fn conductances(&self, indication: Indication) -> [f64; 2] {
        const OUTWARDS: f64 = 1e-12;
        let at_least = |megohms: f64| if megohms > 0.0 { (1.0 - OUTWARDS) / megohms } else { 0.0 };
        let at_most = |megohms: f64| if megohms > 0.0 { (1.0 + OUTWARDS) / megohms } else { f64::INFINITY };
        let [least, greatest] = match indication {
            // Nought is no insulation resistance that could be told from a short.
            Indication::Value(Megohms(value)) if value > 0.0 => {
                let [least, greatest] = self.resistances(value);
                [at_least(greatest), at_most(least)]
            }
            Indication::MoreThan(Megohms(value)) => [0.0, at_most(self.resistances(value)[0])],
            Indication::LessThan(Megohms(value)) => [at_least(self.resistances(value)[1]), f64::INFINITY],
            Indication::Value(_) => [0.0, f64::INFINITY],
        };
        [if least.is_finite() { least } else { 0.0 }, greatest]
    }

    /// The reading, in MΩ, from which on what is directly across the leads is no fault whatever the instrument's error.
    pub(super) fn sound_from(&self) -> f64 {
        (self.investigate_below.0 + self.resolution.0) / (1.0 - self.accuracy_percent / 100.0)
    }

    /// The reading, in MΩ, below which something is faulty of what may leak so much (in µS) while healthy, whatever the
    /// instrument's error.
    pub(super) fn faulty_below(&self, allowance: f64) -> f64 {
        let part = self.accuracy_percent / 100.0;
        (1.0 / (allowance + self.threshold()) - self.resolution.0) / (1.0 + part)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_instrument_s_error_widens_to_both_sides() {
        let exact = Assumptions::default().with_instrument(0.0, Megohms(0.0)).unwrap();
        let [least, greatest] = exact.conductances(Indication::Value(Megohms(4.0)));
        assert!(least < 0.25 && 0.25 < greatest && greatest - least < 1e-11);
        let wide = Assumptions::default().with_instrument(20.0, Megohms(0.1)).unwrap();
        let [least, greatest] = wide.conductances(Indication::Value(Megohms(1.0)));
        assert!((least - 1.0 / 1.3).abs() < 1e-9 && (greatest - 1.0 / 0.7).abs() < 1e-9);
        assert_eq!(wide.conductances(Indication::Value(Megohms(0.1)))[1], f64::INFINITY, "0.08 less 0.1 may be nought");
        assert_eq!(wide.conductances(Indication::MoreThan(Megohms(999.0)))[0], 0.0);
        assert_eq!(wide.conductances(Indication::LessThan(Megohms(0.01)))[1], f64::INFINITY);
        assert_eq!(wide.conductances(Indication::Value(Megohms(0.0))), [0.0, f64::INFINITY]);
        assert!(1.0 / (wide.sound_from() * 0.8 - 0.1) <= wide.threshold() * (1.0 + 1e-12));
    }

    #[test]
    fn figures_that_make_no_sense_are_refused() {
        let assumed = Assumptions::default();
        for percent in [-1.0, 100.0, f64::NAN] {
            assert!(assumed.with_instrument(percent, Megohms(0.0)).is_err());
        }
        for figure in [0.0, -1.0, f64::INFINITY, f64::NAN] {
            assert!(assumed.with_healthy(MegohmKilometres(figure)).is_err());
            assert!(assumed.with_investigate_below(Megohms(figure)).is_err());
        }
    }
}
