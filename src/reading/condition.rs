//! Truth tables over the positions of a few devices.

use super::limits::TableLimits;
use crate::network::DeviceIndex;

/// A device and how many positions it has.
pub(crate) type Digit = (DeviceIndex, u16);

/// For each combination of positions of some devices, yes or no; 64 combinations a word.
///
/// A combination's number has the first device as its lowest digit.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Condition {
    /// In ascending order of devices.
    pub(crate) digits: Vec<Digit>,
    /// Bits beyond the last combination are zero.
    pub(crate) bits: Vec<u64>,
}

/// What is kept of a table where a device is left out of it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Projection {
    /// The answer for its first position.
    First,
    /// Yes where it is for some position.
    Some,
}

/// How many combinations some devices have; none where they are too many for a table.
pub(crate) fn combinations(digits: &[Digit], limits: &TableLimits) -> Option<usize> {
    digits.iter().try_fold(1usize, |count, &(_, positions)| {
        count.checked_mul(usize::from(positions)).filter(|&count| count <= limits.combinations)
    })
}

/// How many combinations some devices have, of which there is a table.
pub(super) fn count(digits: &[Digit]) -> usize {
    digits.iter().map(|digit| usize::from(digit.1)).product()
}

/// The union of two ascending lists.
pub(crate) fn merge(a: &[Digit], b: &[Digit]) -> Vec<Digit> {
    let mut all = [a, b].concat();
    all.sort_unstable();
    all.dedup();
    all
}

/// Ones for the combinations that there are in a word.
fn tail_mask(count: usize, word: usize) -> u64 {
    let rest = count - word * 64;
    if rest >= 64 { !0 } else { (1 << rest) - 1 }
}

/// Ones in every other run of so many lanes, the first among them; a power of two below 64.
fn every_other(run: usize) -> u64 {
    !0 / ((1 << run) + 1)
}

/// So many bits from a place on, at most 64.
fn bits_from(words: &[u64], at: usize, count: usize) -> u64 {
    let (word, shift) = (at / 64, at % 64);
    let low = words[word] >> shift;
    let high = if shift + count > 64 { words[word + 1] << (64 - shift) } else { 0 };
    (low | high) & if count == 64 { !0 } else { (1 << count) - 1 }
}

/// Sets bits from a place on, at most 64, where none are set yet.
fn set_from(words: &mut [u64], at: usize, count: usize, bits: u64) {
    let (word, shift) = (at / 64, at % 64);
    words[word] |= bits << shift;
    if shift + count > 64 {
        words[word + 1] |= bits >> (64 - shift);
    }
}

/// A run of lanes, at most 64 at once: where each part begins, and how long it is.
fn parts(run: usize) -> impl Iterator<Item = (usize, usize)> + Clone {
    (0..run).step_by(64).map(move |at| (at, (run - at).min(64)))
}

impl Condition {
    pub(crate) fn always() -> Condition {
        Condition { digits: Vec::new(), bits: vec![1] }
    }

    /// The table over `digits` that is yes nowhere.
    pub(crate) fn never(digits: Vec<Digit>) -> Condition {
        let count = count(&digits);
        Condition { digits, bits: vec![0; count.div_ceil(64)] }
    }

    /// Yes for one position of one device.
    pub(crate) fn at(digit: Digit, position: u16) -> Condition {
        let mut at = Condition::never(vec![digit]);
        at.set(usize::from(position));
        at
    }

    pub(crate) fn count(&self) -> usize {
        count(&self.digits)
    }

    pub(crate) fn is_always(&self) -> bool {
        let count = self.count();
        self.bits.iter().enumerate().all(|(word, &bits)| bits == tail_mask(count, word))
    }

    pub(crate) fn is_never(&self) -> bool {
        self.bits.iter().all(|&bits| bits == 0)
    }

    pub(crate) fn get(&self, combination: usize) -> bool {
        self.bits[combination / 64] >> (combination % 64) & 1 == 1
    }

    pub(crate) fn set(&mut self, combination: usize) {
        self.bits[combination / 64] |= 1 << (combination % 64);
    }

    /// The same table over more devices.
    pub(crate) fn over(&self, digits: &[Digit]) -> Condition {
        let mut lifted = self.clone();
        let mut stride = 1;
        for (place, &digit) in digits.iter().enumerate() {
            if lifted.digits.get(place) != Some(&digit) {
                lifted = lifted.with(place, digit, stride);
            }
            stride *= usize::from(digit.1);
        }
        lifted
    }

    /// The same table with one device more, whose digit comes at this place and has this stride.
    fn with(&self, place: usize, digit: Digit, stride: usize) -> Condition {
        let mut digits = self.digits.clone();
        digits.insert(place, digit);
        let mut table = Condition::never(digits);
        if digit.1 == 2 && stride.is_power_of_two() && stride < 64 {
            // Half a word becomes a whole one, each run of lanes twice.
            for (half, bits) in table.bits.iter_mut().enumerate() {
                let mut spread = self.bits[half / 2] >> (half % 2 * 32) & 0xFFFF_FFFF;
                let mut run = 32;
                while run > stride {
                    run /= 2;
                    spread = (spread | spread << run) & every_other(run);
                }
                *bits = spread | spread << stride;
            }
            return table;
        }
        let positions = usize::from(digit.1);
        for block in 0..self.count() / stride {
            for (at, count) in parts(stride) {
                let bits = bits_from(&self.bits, block * stride + at, count);
                for position in 0..positions {
                    set_from(&mut table.bits, (block * positions + position) * stride + at, count, bits);
                }
            }
        }
        table
    }

    fn combine(&self, other: &Condition, limits: &TableLimits, with: impl Fn(u64, u64) -> u64) -> Option<Condition> {
        if self.digits == other.digits {
            let bits = self.bits.iter().zip(&other.bits).map(|(&a, &b)| with(a, b)).collect();
            return Some(Condition { digits: self.digits.clone(), bits });
        }
        let digits = merge(&self.digits, &other.digits);
        combinations(&digits, limits)?;
        self.over(&digits).combine(&other.over(&digits), limits, with)
    }

    /// Yes where both are; none where the devices of both are too many for a table.
    pub(crate) fn and(&self, other: &Condition, limits: &TableLimits) -> Option<Condition> {
        self.combine(other, limits, |a, b| a & b)
    }

    /// Yes where either is; none where the devices of both are too many for a table.
    pub(crate) fn or(&self, other: &Condition, limits: &TableLimits) -> Option<Condition> {
        self.combine(other, limits, |a, b| a | b)
    }

    /// Yes where this is and the other is not; none where the devices of both are too many for a table.
    pub(crate) fn and_not(&self, other: &Condition, limits: &TableLimits) -> Option<Condition> {
        self.combine(other, limits, |a, b| a & !b)
    }

    /// The same table without the devices on which the answer does not depend.
    pub(crate) fn essential(&self) -> Condition {
        let mut table = self.clone();
        let mut place = 0;
        let mut stride = 1;
        while place < table.digits.len() {
            let positions = usize::from(table.digits[place].1);
            if table.depends_on(stride, positions) {
                place += 1;
                stride *= positions;
            } else {
                table = table.without(place, stride, Projection::First);
            }
        }
        table
    }

    /// Whether the answer depends on the device whose digit has this stride.
    fn depends_on(&self, stride: usize, positions: usize) -> bool {
        if positions == 2 && stride.is_power_of_two() && stride < 64 {
            let first = every_other(stride);
            return self.bits.iter().any(|&bits| (bits ^ bits >> stride) & first != 0);
        }
        let block = stride * positions;
        (0..self.count()).step_by(block).any(|base| {
            parts(stride).any(|(at, count)| {
                let of = |position: usize| bits_from(&self.bits, base + position * stride + at, count);
                (1..positions).any(|position| of(position) != of(0))
            })
        })
    }

    /// The table without a device.
    fn without(&self, place: usize, stride: usize, projection: Projection) -> Condition {
        let mut rest = self.digits.clone();
        let positions = usize::from(rest.remove(place).1);
        let mut table = Condition::never(rest);
        if positions == 2 && stride.is_power_of_two() && stride < 64 {
            // A word becomes half a one, every other run of lanes.
            for (half, &bits) in self.bits.iter().enumerate() {
                let both = if projection == Projection::Some { bits | bits >> stride } else { bits };
                let mut packed = both & every_other(stride);
                let mut run = stride;
                while run < 32 {
                    packed = (packed | packed >> run) & every_other(run * 2);
                    run *= 2;
                }
                table.bits[half / 2] |= packed << (half % 2 * 32);
            }
            return table;
        }
        let last = if projection == Projection::Some { positions } else { 1 };
        for block in 0..table.count() / stride {
            for (at, count) in parts(stride) {
                let of = |position| bits_from(&self.bits, (block * positions + position) * stride + at, count);
                let bits = (0..last).map(of).fold(0, |all, bits| all | bits);
                set_from(&mut table.bits, block * stride + at, count, bits);
            }
        }
        table
    }

    /// For each combination of the devices that are not `quantified`: yes where it is for some position of those.
    pub(crate) fn for_some(&self, quantified: impl Fn(DeviceIndex) -> bool) -> Condition {
        let mut some = self.clone();
        // From the last, whose runs are longest.
        for place in (0..self.digits.len()).rev().filter(|&place| quantified(self.digits[place].0)) {
            some = some.without(place, count(&self.digits[..place]), Projection::Some);
        }
        some
    }

    /// The table in which a device of two positions counts as being in the other one.
    pub(crate) fn turned(&self, device: DeviceIndex) -> Condition {
        let Some(place) = self.digits.iter().position(|digit| digit.0 == device) else { return self.clone() };
        debug_assert_eq!(self.digits[place].1, 2, "only a device of two positions has another one");
        let stride: usize = self.digits[..place].iter().map(|digit| usize::from(digit.1)).product();
        let mut turned = Condition { digits: self.digits.clone(), bits: vec![0; self.bits.len()] };
        if stride.is_multiple_of(64) {
            let words = stride / 64;
            for (number, block) in self.bits.chunks(words).enumerate() {
                let other = number ^ 1;
                turned.bits[other * words..other * words + block.len()].copy_from_slice(block);
            }
        } else if stride.is_power_of_two() && stride < 64 {
            // Lanes whose digit is nought: runs of `stride` ones, every other run.
            let low = every_other(stride);
            for (to, &from) in turned.bits.iter_mut().zip(&self.bits) {
                *to = (from & low) << stride | (from >> stride) & low;
            }
        } else {
            for combination in (0..self.count()).filter(|&combination| self.get(combination)) {
                let up = (combination / stride).is_multiple_of(2);
                turned.set(if up { combination + stride } else { combination - stride });
            }
        }
        turned
    }

    /// The number of the combination in which each device stands so; [`Condition::positions`] the other way round.
    pub(crate) fn number(&self, position: impl Fn(DeviceIndex) -> u16) -> usize {
        let mut number = 0;
        let mut stride = 1;
        for &(device, positions) in &self.digits {
            number += usize::from(position(device)) * stride;
            stride *= usize::from(positions);
        }
        number
    }

    /// The positions of each device in a combination, in the order of `digits`.
    pub(crate) fn positions(&self, combination: usize) -> Vec<(DeviceIndex, u16)> {
        let mut rest = combination;
        self.digits
            .iter()
            .map(|&(device, positions)| {
                let position = rest % usize::from(positions);
                rest /= usize::from(positions);
                (device, position as u16)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_combine_over_the_union_of_their_devices() {
        let limits = TableLimits::default();
        let mut a = Condition::never(vec![(1, 2)]);
        a.set(1);
        let mut b = Condition::never(vec![(0, 3)]);
        b.set(2);
        let both = a.and(&b, &limits).unwrap();
        assert_eq!(both.digits, vec![(0, 3), (1, 2)]);
        let yes: Vec<usize> = (0..6).filter(|&i| both.get(i)).collect();
        assert_eq!(yes, vec![2 + 3], "device 0 in position 2, device 1 in position 1");
        let either = a.or(&b, &limits).unwrap();
        assert_eq!((0..6).filter(|&i| either.get(i)).count(), 4);
        assert_eq!(a.over(&both.digits).essential(), a);
        assert_eq!(a.over(&[(0, 3), (1, 2), (2, 5)]).essential(), a);
        assert_eq!(both.over(&[(0, 3), (1, 2), (2, 64)]).essential(), both);
        assert_eq!(both.essential(), both);
        assert_eq!(Condition::never(vec![(0, 2), (1, 2)]).essential(), Condition::never(Vec::new()));
        assert!(a.or(&Condition::always(), &limits).unwrap().is_always());
        assert_eq!(both.for_some(|device| device == 0), a);
        assert_eq!(both.positions(5), vec![(0, 2), (1, 1)]);
        assert_eq!(both.number(|device| if device == 0 { 2 } else { 1 }), 5);
    }

    /// Tables over devices of two positions are made word by word, others run by run: each combination by itself is the
    /// reference. Strides below, at and above a word's width, and such as are no power of two.
    #[test]
    fn devices_come_into_tables_and_leave_them() {
        for digits in
            [(0..9).map(|device| (device, 2)).collect::<Vec<_>>(), vec![(0, 3), (1, 2), (2, 5), (3, 2), (4, 4)]]
        {
            let mut table = Condition::never(digits.clone());
            for combination in (0..table.count()).filter(|combination| combination % 7 == 3 || combination % 11 == 5) {
                table.set(combination);
            }
            assert_eq!(table.essential(), table);
            for place in 0..digits.len() {
                let device = digits[place].0;
                let some = table.for_some(|other| other == device);
                assert_eq!(some.digits, [&digits[..place], &digits[place + 1..]].concat());
                let lifted = some.over(&digits);
                assert_eq!(lifted.digits, digits);
                for combination in 0..table.count() {
                    let stands = table.positions(combination);
                    let is_some = (0..digits[place].1).any(|position| {
                        let position_of = |other| if other == device { position } else { stands[other as usize].1 };
                        table.get(table.number(position_of))
                    });
                    let rest = some.number(|other| stands[other as usize].1);
                    assert_eq!((some.get(rest), lifted.get(combination)), (is_some, is_some), "{device} {combination}");
                }
                assert_eq!(lifted.essential(), some.essential());
            }
        }
    }

    #[test]
    fn a_turned_table_answers_for_the_other_position() {
        // Strides below, at and above a word's width, and one that is no power of two.
        for digits in [(0..9).map(|device| (device, 2)).collect::<Vec<_>>(), vec![(0, 3), (1, 2), (2, 5), (3, 2)]] {
            let mut table = Condition::never(digits.clone());
            for combination in (0..table.count()).filter(|combination| combination % 7 == 3 || combination % 11 == 5) {
                table.set(combination);
            }
            for &(device, _) in digits.iter().filter(|digit| digit.1 == 2) {
                let turned = table.turned(device);
                for combination in 0..table.count() {
                    let place = digits.iter().position(|digit| digit.0 == device).unwrap();
                    let stride: usize = digits[..place].iter().map(|digit| usize::from(digit.1)).product();
                    let other = if (combination / stride).is_multiple_of(2) {
                        combination + stride
                    } else {
                        combination - stride
                    };
                    assert_eq!(turned.get(other), table.get(combination), "{device} {combination}");
                }
            }
        }
    }
}
