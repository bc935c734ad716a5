//! What is known of a resistance: a value, or bounds of it.

use std::cmp::Ordering;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::model::{Indication, Megohms};

/// A resistance that lies somewhere between two bounds, in MΩ. A value is one whose bounds are both that value.
///
/// An instrument that shows `>999` gives a lower bound and no upper one; `<0.01` an upper bound only. Bounds stay
/// bounds through [`least`](Resistance::least) and [`parallel`](Resistance::parallel), so nothing is claimed that was
/// not read.
///
/// As data it has `at_least` or `more_than`, and `at_most` or `less_than`; a bound that there is not is left out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "ResistanceBounds", into = "ResistanceBounds")]
pub struct Resistance {
    lower: f64,
    upper: f64,
    /// Whether it is more than `lower`, and not just as much.
    is_above_lower: bool,
    /// Whether it is less than `upper`, and not just as much.
    is_below_upper: bool,
}

/// A resistance as data.
#[derive(Serialize, Deserialize)]
struct ResistanceBounds {
    #[serde(skip_serializing_if = "Option::is_none")]
    at_least: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    more_than: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    at_most: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    less_than: Option<f64>,
}

impl From<Resistance> for ResistanceBounds {
    fn from(row: Resistance) -> ResistanceBounds {
        let lower = Some(row.lower).filter(|&lower| lower > 0.0 || row.is_above_lower);
        let upper = Some(row.upper).filter(|upper| upper.is_finite());
        ResistanceBounds {
            at_least: lower.filter(|_| !row.is_above_lower),
            more_than: lower.filter(|_| row.is_above_lower),
            at_most: upper.filter(|_| !row.is_below_upper),
            less_than: upper.filter(|_| row.is_below_upper),
        }
    }
}

impl From<ResistanceBounds> for Resistance {
    fn from(bounds: ResistanceBounds) -> Resistance {
        Resistance {
            lower: bounds.more_than.or(bounds.at_least).unwrap_or(0.0),
            upper: bounds.less_than.or(bounds.at_most).unwrap_or(f64::INFINITY),
            is_above_lower: bounds.more_than.is_some(),
            is_below_upper: bounds.at_most.is_none() || bounds.less_than.is_some(),
        }
    }
}

/// How a resistance compares with a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Against {
    /// It is at least the limit.
    AtLeast,
    /// It is below the limit.
    Below,
    /// Its bounds leave it open.
    NotDecided,
}

impl Resistance {
    /// Any resistance at all.
    pub const NOT_KNOWN: Resistance =
        Resistance { lower: 0.0, upper: f64::INFINITY, is_above_lower: false, is_below_upper: true };

    /// What an instrument's indication says.
    pub fn of(indication: Indication) -> Resistance {
        match indication {
            Indication::Value(Megohms(value)) => {
                Resistance { lower: value, upper: value, is_above_lower: false, is_below_upper: false }
            }
            Indication::MoreThan(Megohms(value)) => {
                Resistance { lower: value, is_above_lower: true, ..Resistance::NOT_KNOWN }
            }
            Indication::LessThan(Megohms(value)) => Resistance { upper: value, ..Resistance::NOT_KNOWN },
        }
    }

    /// The bound below: it is at least this, or [more](Resistance::is_above_lower). Zero where nothing is known.
    pub fn lower(self) -> Megohms {
        Megohms(self.lower)
    }

    /// The bound above: it is at most this, or [less](Resistance::is_below_upper). Infinite where nothing is known.
    pub fn upper(self) -> Megohms {
        Megohms(self.upper)
    }

    /// Whether it is more than its lower bound, and not just as much.
    pub fn is_above_lower(self) -> bool {
        self.is_above_lower
    }

    /// Whether it is less than its upper bound, and not just as much.
    pub fn is_below_upper(self) -> bool {
        self.is_below_upper
    }

    /// The value, where it is known.
    pub fn value(self) -> Option<Megohms> {
        (self.lower == self.upper).then_some(Megohms(self.lower))
    }

    /// How it compares with a limit; exactly the limit is at least the limit.
    pub fn against(self, limit: Megohms) -> Against {
        if self.lower >= limit.0 {
            Against::AtLeast
        } else if self.upper < limit.0 || (self.upper == limit.0 && self.is_below_upper) {
            Against::Below
        } else {
            Against::NotDecided
        }
    }

    /// Whether it is more than a value, for sure.
    pub fn is_more_than(self, value: Megohms) -> bool {
        self.lower > value.0 || (self.lower == value.0 && self.is_above_lower)
    }

    /// The least of some resistances; none of none.
    pub fn least(all: impl IntoIterator<Item = Resistance>) -> Option<Resistance> {
        all.into_iter().reduce(|one, other| {
            let lower = one.lower.min(other.lower);
            let upper = one.upper.min(other.upper);
            // It can be just the lower bound if any of them can, and is below the upper one if any of them is.
            let at_lower = |row: Resistance| row.lower == lower && !row.is_above_lower;
            let below_upper = |row: Resistance| row.upper == upper && row.is_below_upper;
            Resistance {
                lower,
                upper,
                is_above_lower: !(at_lower(one) || at_lower(other)),
                is_below_upper: below_upper(one) || below_upper(other),
            }
        })
    }

    /// Resistances read together, in parallel: 1/R = 1/R1 + 1/R2 + … (Ohm's law); none of none.
    ///
    /// Bounds are given to twelve significant digits, so that what the arithmetic of a computer leaves behind decides
    /// nothing at a limit.
    pub fn parallel(all: impl IntoIterator<Item = Resistance>) -> Option<Resistance> {
        let (mut most, mut least) = (Vec::new(), Vec::new());
        let (mut is_above_lower, mut is_below_upper, mut can_be_nothing) = (false, false, false);
        for row in all {
            // No lower bound is a conductance without end.
            most.push(1.0 / row.lower);
            least.push(1.0 / row.upper);
            can_be_nothing |= row.lower == 0.0 && !row.is_above_lower;
            is_above_lower |= row.is_above_lower;
            // A resistance without an upper bound still leads something.
            is_below_upper |= row.is_below_upper;
        }
        (!most.is_empty()).then(|| Resistance {
            lower: rounded(1.0 / sum(most)),
            upper: rounded(1.0 / sum(least)),
            is_above_lower: is_above_lower && !can_be_nothing,
            is_below_upper,
        })
    }

    /// Which of two says less of what it is at least.
    pub(super) fn by_lower(self, other: Resistance) -> Ordering {
        self.lower.total_cmp(&other.lower).then(self.is_above_lower.cmp(&other.is_above_lower))
    }

    /// The better of what two say that it is at least.
    pub(super) fn or_at_least(self, other: Resistance) -> Resistance {
        if self.by_lower(other).is_lt() { other } else { self }
    }

    /// Whether something can be at least this, and at most what another one is. A `>999` and a 999 beside it can: what
    /// an instrument shows is exact to its last digit only.
    fn fits_under(self, above: Resistance) -> bool {
        self.lower < above.upper || (self.lower == above.upper && !above.is_below_upper)
    }

    /// The same, but at least no more than another one is at most; none where it is higher by more than an error.
    pub(super) fn no_higher_than(self, above: Resistance, error: f64) -> Option<Resistance> {
        let capped = Resistance { lower: self.lower.min(above.upper), ..self };
        (self.lower <= above.upper * (1.0 + error) && capped.fits_under(above)).then_some(capped)
    }

    /// What is known where one says what it is at least, and another what it is at most. Where these contradict one
    /// another, nothing is claimed from below.
    pub(super) fn between(below: Resistance, above: Resistance) -> Resistance {
        let known = if below.fits_under(above) { below } else { Resistance::NOT_KNOWN };
        Resistance { lower: known.lower, is_above_lower: known.is_above_lower && known.lower < above.upper, ..above }
    }
}

/// The same for the same numbers in any order.
fn sum(mut numbers: Vec<f64>) -> f64 {
    numbers.sort_unstable_by(f64::total_cmp);
    numbers.into_iter().sum()
}

/// A number to twelve significant digits.
fn rounded(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    format!("{value:.11e}").parse().expect("a number that was written reads")
}

/// Which way a bound is rounded for people, so that no more is claimed than there is.
#[derive(Clone, Copy)]
enum Rounded {
    Down,
    Up,
}

/// A value to four significant digits.
fn shown(value: f64, way: Rounded) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let places = (3 - value.abs().log10().floor() as i32).max(0);
    // What is a number of four digits already is that number, whatever a product of it with a power of ten is.
    let nearest = format!("{value:.*}", places as usize).parse::<f64>().expect("a number that was written reads");
    let power = 10f64.powi(places);
    match way {
        Rounded::Down if nearest > value => (value * power).floor() / power,
        Rounded::Up if nearest < value => (value * power).ceil() / power,
        _ => nearest,
    }
}

impl fmt::Display for Resistance {
    /// `250`, `>999`, `<0.01`, or in words; to four significant digits, rounded down, but a bound above rounded up.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (lower, upper) = (shown(self.lower, Rounded::Down), shown(self.upper, Rounded::Up));
        if self.lower == self.upper {
            return write!(f, "{lower}");
        }
        let from_below = if self.is_above_lower { ">" } else { "at least " };
        match (self.lower > 0.0 || self.is_above_lower, self.upper.is_finite(), self.is_below_upper) {
            (false, false, _) => f.write_str("not known"),
            (true, false, _) => write!(f, "{from_below}{lower}"),
            (false, true, true) => write!(f, "<{upper}"),
            (false, true, false) => write!(f, "at most {upper}"),
            (true, true, true) => write!(f, "{from_below}{lower}, less than {upper}"),
            (true, true, false) => write!(f, "{from_below}{lower}, at most {upper}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Resistance {
        let number = |text: &str| Megohms(text.parse().expect("a number"));
        Resistance::of(match text.split_at(1) {
            (">", rest) => Indication::MoreThan(number(rest)),
            ("<", rest) => Indication::LessThan(number(rest)),
            _ => Indication::Value(number(text)),
        })
    }

    fn least(texts: &[&str]) -> String {
        Resistance::least(texts.iter().map(|text| read(text))).expect("there are some").to_string()
    }

    fn parallel(texts: &[&str]) -> String {
        Resistance::parallel(texts.iter().map(|text| read(text))).expect("there are some").to_string()
    }

    #[test]
    fn a_bound_stays_a_bound_in_the_least() {
        assert_eq!(least(&["250", ">999"]), "250");
        assert_eq!(least(&[">999", ">200"]), ">200");
        assert_eq!(least(&[">200", "250"]), ">200, at most 250");
        assert_eq!(least(&[">200", "200"]), "200");
        assert_eq!(least(&["<0.01", "250"]), "<0.01");
        assert_eq!(least(&["<0.01", "0.005"]), "at most 0.005");
        assert_eq!(Resistance::least([]), None);
    }

    #[test]
    fn a_bound_stays_a_bound_in_parallel() {
        assert_eq!(parallel(&[">100", ">100"]), ">50");
        assert_eq!(parallel(&[">100", "100"]), ">50, less than 100");
        assert_eq!(parallel(&["<0.01", "100"]), "<0.01");
        assert_eq!(Resistance::parallel([Resistance::NOT_KNOWN, read("2")]).expect("two").to_string(), "<2");
        assert_eq!(Resistance::parallel([]), None);
    }

    #[test]
    fn beside_what_nothing_is_known_of_nothing_is_known_from_below() {
        assert_eq!(Resistance::parallel([Resistance::NOT_KNOWN, read(">100")]), Some(Resistance::NOT_KNOWN));
        assert_eq!(parallel(&["<0.01", ">100"]), "<0.01");
        assert_eq!(least(&["<0.01", ">100"]), "<0.01");
    }

    #[test]
    fn a_bound_and_the_same_value_beside_it_agree() {
        let between = |below: &str, above: &str| Resistance::between(read(below), read(above)).to_string();
        assert_eq!(between(">998", "999"), ">998, at most 999");
        assert_eq!(between(">999", "999"), "999");
        assert_eq!(between("999", "999"), "999");
        assert_eq!(between("999.1", "999"), "at most 999");
        assert_eq!(between("999", "<999"), "<999");
        let no_higher = |one: &str, above: &str| read(one).no_higher_than(read(above), 0.3).map(|row| row.to_string());
        assert_eq!(no_higher("8.1", "8"), Some("at least 8, at most 8.1".to_owned()));
        assert_eq!(no_higher("10.5", "8"), None);
        assert_eq!(no_higher("8", "<8"), None);
    }

    #[test]
    fn just_the_limit_is_enough() {
        let limit = Megohms(1.0);
        assert_eq!(read("1").against(limit), Against::AtLeast);
        assert_eq!(read("0.99").against(limit), Against::Below);
        assert_eq!(read(">1").against(limit), Against::AtLeast);
        assert_eq!(read(">0.99").against(limit), Against::NotDecided);
        assert_eq!(read("<1").against(limit), Against::Below);
        assert_eq!(read("<1.01").against(limit), Against::NotDecided);
        for count in 1..200 {
            let each = read(&count.to_string());
            let all = Resistance::parallel(std::iter::repeat_n(each, count)).expect("there are some");
            assert_eq!(all.against(limit), Against::AtLeast, "{count} of {count} MΩ");
        }
    }

    #[test]
    fn what_is_shown_is_never_more_than_there_is() {
        for (value, down, up) in [
            (11.7647, 11.76, 11.77),
            (0.99999, 0.9999, 1.0),
            (1.0, 1.0, 1.0),
            (123456.7, 123456.0, 123457.0),
            (0.29, 0.29, 0.29),
            (250.0, 250.0, 250.0),
        ] {
            assert_eq!((shown(value, Rounded::Down), shown(value, Rounded::Up)), (down, up));
        }
    }
}
