//! What many pairs have in common: told once, and referred to.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

/// What the pairs of an answer refer to by numbers that are counted from 0, so that an answer grows with what is asked,
/// not with its square.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct SharedReasons {
    /// Lists of readings, as [pass, reading]; no two are the same.
    pub reading_lists: Vec<Vec<[usize; 2]>>,
    /// The contacts that cut missed cores off, each with the [next one](OpenContact::then).
    pub open_contacts: Vec<OpenContact>,
}

impl SharedReasons {
    /// The readings of a list; none where no list is named.
    pub fn readings(&self, list: Option<usize>) -> &[[usize; 2]] {
        list.and_then(|number| self.reading_lists.get(number)).map_or(&[], Vec::as_slice)
    }

    /// The contacts from one on outwards, each [then](OpenContact::then) the next.
    pub(super) fn contacts_from(&self, first: Option<usize>) -> impl Iterator<Item = &OpenContact> {
        // Each names one that was found before it: a file that says otherwise ends the list.
        let next = |(number, contact): &(usize, &OpenContact)| {
            let then = contact.then.filter(|then| then < number)?;
            Some((then, &self.open_contacts[then]))
        };
        let first = first.and_then(|number| Some((number, self.open_contacts.get(number)?)));
        std::iter::successors(first, next).map(|(_, contact)| contact)
    }
}

/// A contact that stands open between a core and the nearest lead.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct OpenContact {
    /// The device.
    pub device: String,
    /// Its terminals, from the core outwards.
    pub between: [String; 2],
    /// Where it stands after the last pass; `unknown` where nobody knows.
    pub stands: String,
    /// The positions that close this contact.
    pub closed_in: Vec<String>,
    /// The contact that cuts the core off behind this one, as a number of [`SharedReasons::open_contacts`]; it comes before
    /// this one there.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub then: Option<usize>,
}

/// Numbers lists of readings, the same list by the same number.
#[derive(Default)]
pub(crate) struct ReadingLists {
    lists: Vec<Vec<[usize; 2]>>,
    numbers: FxHashMap<Vec<[usize; 2]>, usize>,
    /// By pair group, for pairs of one group have one list.
    of_group: FxHashMap<u32, usize>,
}

impl ReadingLists {
    /// The number of the list of a pair group.
    pub(crate) fn number(&mut self, group: u32, list: impl FnOnce() -> Vec<[usize; 2]>) -> usize {
        *self.of_group.entry(group).or_insert_with(|| {
            *self.numbers.entry(list()).or_insert_with_key(|list| {
                self.lists.push(list.clone());
                self.lists.len() - 1
            })
        })
    }

    pub(crate) fn into_lists(self) -> Vec<Vec<[usize; 2]>> {
        self.lists
    }
}
