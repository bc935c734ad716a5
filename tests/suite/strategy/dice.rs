//! Choices that proptest can shrink.

/// A row of dice, thrown one after another.
#[derive(Clone, Debug)]
pub struct Dice {
    rolls: std::vec::IntoIter<u16>,
}

impl Dice {
    pub fn new(rolls: Vec<u16>) -> Dice {
        Dice { rolls: rolls.into_iter() }
    }

    fn roll(&mut self) -> usize {
        usize::from(self.rolls.next().unwrap_or(0))
    }

    /// A number below `count`; the smaller the plainer.
    pub fn below(&mut self, count: usize) -> usize {
        self.roll() % count
    }

    /// True in so many cases out of a hundred; false with dice that have run out.
    pub fn chance(&mut self, percent: usize) -> bool {
        self.roll() % 100 >= 100 - percent
    }

    /// One of these; the first is the plainest.
    pub fn one<'a, T: ?Sized>(&mut self, of: &[&'a T]) -> &'a T {
        of[self.below(of.len())]
    }
}
