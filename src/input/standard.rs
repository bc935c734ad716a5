//! The rulesets in the package.

use std::sync::OnceLock;

use serde::Deserialize;

use super::{Input, read_ruleset};
use crate::rules::Ruleset;

/// A standard whose ruleset is in the package, as a data file that the reader of people's own files reads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
#[non_exhaustive]
pub enum Standard {
    /// BS 7671:2018, Table 64.
    #[default]
    #[serde(rename = "bs-7671")]
    Bs7671,
    /// IEC 60364-6:2016.
    #[serde(rename = "iec-60364-6")]
    Iec603646,
    /// AS/NZS 3000.
    #[serde(rename = "as-nzs-3000")]
    AsNzs3000,
}

impl Standard {
    /// All of them; the default one first.
    pub const ALL: [Standard; 3] = [Standard::Bs7671, Standard::Iec603646, Standard::AsNzs3000];

    /// The id of its ruleset: `bs-7671`, `iec-60364-6` or `as-nzs-3000`.
    pub fn id(self) -> &'static str {
        match self {
            Standard::Bs7671 => "bs-7671",
            Standard::Iec603646 => "iec-60364-6",
            Standard::AsNzs3000 => "as-nzs-3000",
        }
    }

    /// The one with this id.
    pub fn by_id(id: &str) -> Option<Standard> {
        Standard::ALL.into_iter().find(|standard| standard.id() == id)
    }

    fn text(self) -> &'static str {
        match self {
            Standard::Bs7671 => include_str!("rulesets/bs-7671.toml"),
            Standard::Iec603646 => include_str!("rulesets/iec-60364-6.toml"),
            Standard::AsNzs3000 => include_str!("rulesets/as-nzs-3000.toml"),
        }
    }

    /// Its ruleset, read when it is first asked for.
    ///
    /// ```
    /// use lengthwise::Standard;
    ///
    /// for standard in Standard::ALL {
    ///     assert_eq!(standard.ruleset().id(), standard.id());
    /// }
    /// ```
    pub fn ruleset(self) -> &'static Ruleset {
        static READ: [OnceLock<Ruleset>; 3] = [const { OnceLock::new() }; 3];
        READ[self as usize].get_or_init(|| {
            let name = format!("{}.toml", self.id());
            read_ruleset(Input::toml(self.text()).named(&name))
                .unwrap_or_else(|errors| panic!("a ruleset in the package is wrong: {errors}"))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::Standard;

    #[test]
    fn every_ruleset_in_the_package_reads_and_has_its_own_id() {
        for standard in Standard::ALL {
            assert_eq!(standard.ruleset().id(), standard.id());
        }
    }
}
