//! Many short lists in two long ones.

/// For each number up to a count, a list of numbers. A list of its own for each would take as long to put away as to fill.
pub(in crate::plan) struct Lists {
    /// Where each list ends; it begins where the one before ends.
    ends: Vec<u32>,
    items: Vec<u32>,
}

impl Lists {
    /// From the lists' numbers, each with an item; the items of one list stay in order. Time and space linear.
    pub(in crate::plan) fn of(entries: &[(u32, u32)], list_count: usize) -> Lists {
        let mut ends = vec![0u32; list_count];
        for &(list, _) in entries {
            ends[list as usize] += 1;
        }
        let mut end = 0;
        for count in &mut ends {
            // Where the list begins, for now; it moves to the end as the items are put in.
            end += std::mem::replace(count, end);
        }
        let mut items = vec![0; entries.len()];
        for &(list, item) in entries {
            let place = &mut ends[list as usize];
            items[*place as usize] = item;
            *place += 1;
        }
        Lists { ends, items }
    }

    /// One list.
    pub(in crate::plan) fn get(&self, list: u32) -> &[u32] {
        let list = list as usize;
        let begin = if list == 0 { 0 } else { self.ends[list - 1] };
        &self.items[begin as usize..self.ends[list] as usize]
    }

    /// All lists, in order.
    pub(in crate::plan) fn iter(&self) -> impl Iterator<Item = &[u32]> {
        (0..self.ends.len() as u32).map(|list| self.get(list))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_item_is_in_its_list_in_order() {
        let lists = Lists::of(&[(2, 7), (0, 1), (2, 3), (0, 9), (2, 7)], 4);
        assert_eq!(lists.iter().collect::<Vec<_>>(), [&[1, 9][..], &[], &[7, 3, 7], &[]]);
        assert_eq!(lists.get(2), [7, 3, 7]);
    }
}
