//! Many short lists in two long ones.

/// For each number up to a count, a list of numbers. A list of its own for each would take as long to put away as to
/// fill.
#[derive(Clone, Debug, Default)]
pub(crate) struct Lists {
    /// Where each list begins, and where the last one ends.
    first: Vec<u32>,
    items: Vec<u32>,
}

impl Lists {
    /// Sorts `(list, item)` entries into lists; the order within a list is the order given. Time and space linear.
    pub(crate) fn new(count: usize, entries: impl Iterator<Item = (u32, u32)> + Clone) -> Lists {
        let mut first = vec![0u32; count + 1];
        for (list, _) in entries.clone() {
            first[list as usize + 1] += 1;
        }
        for i in 0..count {
            first[i + 1] += first[i];
        }
        let mut next = first.clone();
        let mut items = vec![0u32; first[count] as usize];
        for (list, item) in entries {
            items[next[list as usize] as usize] = item;
            next[list as usize] += 1;
        }
        Lists { first, items }
    }

    /// One list.
    pub(crate) fn at(&self, list: u32) -> &[u32] {
        &self.items[self.first[list as usize] as usize..self.first[list as usize + 1] as usize]
    }

    /// All lists, in order.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &[u32]> {
        (0..self.first.len() as u32 - 1).map(|list| self.at(list))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_item_is_in_its_list_in_order() {
        let lists = Lists::new(4, [(2, 7), (0, 1), (2, 3), (0, 9), (2, 7)].into_iter());
        assert_eq!(lists.iter().collect::<Vec<_>>(), [&[1, 9][..], &[], &[7, 3, 7], &[]]);
        assert_eq!(lists.at(2), [7, 3, 7]);
    }
}
