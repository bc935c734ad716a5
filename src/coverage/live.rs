//! Coverage that follows a person's entries.

use std::fmt;
use std::sync::Arc;

use super::answer::{Coverage, CoverageSummary, PositionCoverage, RequiredPairs};
use super::change::{ChangedPair, CoverageChange, Edit, EditError};
use super::difference::Difference;
use super::outcome::ReadingOutcome;
use super::tally::Tally;
use super::tested::Tested;
use crate::model::{OtherInstallation, Pass, PassDraft, Reading, ReadingDraft, TestSet, TestSetDraft};
use crate::network::{Body, Need, Network, PairId};
use crate::observer::{Observer, Stage, Unwatched, Watch};
use crate::reading::{Configuration, LeadBodies, Probe};

/// Coverage that follows a person's entries: after each [`Edit`] it says what that changed, and at any time
/// [`LiveCoverage::coverage`] is what [`Coverage::of`] says of the same test set.
///
/// It owns its network and its test set, and can go to another thread.
///
/// ```
/// use lengthwise::coverage::{Edit, LiveCoverage};
/// use lengthwise::model::{PassDraft, ReadingDraft, TestSet};
/// use lengthwise::{Coverage, Input, Need, Network, read_installation};
///
/// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
/// let mut live = LiveCoverage::of(Network::of(installation), TestSet::default(), Need::Standard)?;
///
/// let to_earth = ReadingDraft {
///     circuit: Some("C1".to_owned()),
///     between: ["L+N".to_owned(), "E".to_owned()],
///     ..ReadingDraft::default()
/// };
/// live.edit(Edit::AddPass { pass: 1, draft: PassDraft::default() })?;
/// let change = live.edit(Edit::AddReading { place: [1, 1], draft: to_earth.clone() })?;
/// assert_eq!(change.readings[0].void, None);
/// assert!(!change.tested.is_empty() && change.lost.is_empty());
///
/// // The same once more, with a switch operated before: now the other strapper is tested too.
/// let mut pass = PassDraft { operate: vec!["S1".to_owned()], readings: vec![to_earth], ..PassDraft::default() };
/// let change = live.edit(Edit::AddPass { pass: 2, draft: pass.clone() })?;
/// assert!(change.tested.iter().all(|pair| pair.cores.contains(&"black".to_owned())));
///
/// // That was another switch. What follows is looked at again where that bears on it.
/// pass.operate = vec!["S2".to_owned()];
/// let change = live.edit(Edit::ChangePass { pass: 2, draft: pass })?;
/// assert_eq!(change.readings.len(), 1);
///
/// assert_eq!(live.coverage(), Coverage::of(live.network(), live.test_set(), Need::Standard)?);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone)]
pub struct LiveCoverage {
    network: Arc<Network>,
    need: Need,
    test_set: TestSet,
    /// The readings of each pass.
    passes: Vec<Vec<LiveReading>>,
    /// For each key, the pass and the place in it of its reading, from 0; [`GONE`] where it was removed.
    places: Vec<[usize; 2]>,
    /// The keys of readings that are still to be looked at.
    waiting: Vec<u32>,
    probe: Probe,
    /// How many passes were carried out, and how everything stands after them.
    standing: (usize, Configuration),
    groups: Tally,
    positions: Tally,
    lengths: Vec<RequiredPairs>,
}

impl fmt::Debug for LiveCoverage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("LiveCoverage").field("test_set", &self.test_set).finish_non_exhaustive()
    }
}

const GONE: [usize; 2] = [usize::MAX; 2];

/// One reading.
#[derive(Clone)]
struct LiveReading {
    /// Its number in [`LiveCoverage::places`], which it keeps.
    key: u32,
    seen: Option<Seen>,
}

/// What a reading does as things stand, and what that depends on.
#[derive(Clone)]
struct Seen {
    outcome: ReadingOutcome,
    /// The bodies that it comes to, ascending.
    touched: Vec<Body>,
}

impl LiveCoverage {
    /// Begins with a test set, which may be empty. Time and space as [`Coverage::of`].
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation.
    pub fn of(
        network: impl Into<Arc<Network>>,
        test_set: TestSet,
        need: Need,
    ) -> Result<LiveCoverage, OtherInstallation> {
        LiveCoverage::watched(network, test_set, need, &mut Unwatched)
    }

    /// The same, watched. Who stops it leaves readings that are still to be looked at; see [`LiveCoverage::go_on`].
    ///
    /// # Errors
    ///
    /// As [`LiveCoverage::of`].
    pub fn watched(
        network: impl Into<Arc<Network>>,
        test_set: TestSet,
        need: Need,
        observer: &mut dyn Observer,
    ) -> Result<LiveCoverage, OtherInstallation> {
        let network = network.into();
        test_set.check_for(network.installation())?;
        let mut live = LiveCoverage {
            need,
            passes: vec![Vec::new(); test_set.passes().len()],
            places: Vec::new(),
            waiting: Vec::new(),
            probe: Probe::new(&network),
            standing: (0, Configuration::before(&network, &test_set)),
            groups: Tally::default(),
            positions: Tally::default(),
            lengths: RequiredPairs::by_length(&network, need, |_| true),
            test_set,
            network,
        };
        for pass in 0..live.passes.len() {
            live.put_in([pass, 0], live.test_set.passes[pass].readings.len());
        }
        live.go_on(observer);
        Ok(live)
    }

    /// The network of the installation.
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// The test set as it is now.
    pub fn test_set(&self) -> &TestSet {
        &self.test_set
    }

    /// What all of it covers: equal to [`Coverage::of`]. Where readings are still to be looked at, it says `stopped`,
    /// and claims what the others test.
    ///
    /// Time and space as [`Coverage::of`], but for the readings, which are not looked at again.
    pub fn coverage(&self) -> Coverage {
        let (done, mut after) = (self.standing.0, self.standing.1.clone());
        self.test_set.passes[done..].iter().for_each(|pass| after.carry_out(&self.network, pass));
        let rows = self.passes.iter().flatten();
        let outcomes = rows.filter_map(|row| Some((self.name(row.key), &row.seen.as_ref()?.outcome)));
        let tested = Tested::by_outcomes(&self.network, self.need, outcomes, after);
        if self.is_stopped() {
            let mut at_once = |_| std::ops::ControlFlow::Break(());
            return Coverage { stopped: true, ..Coverage::told(tested, &mut Watch::new(&mut at_once)) };
        }
        Coverage::told(tested, &mut Watch::new(&mut Unwatched))
    }

    /// The totals of [`LiveCoverage::coverage`]. Time linear in the lengths.
    pub fn summary(&self) -> CoverageSummary {
        CoverageSummary::of(&self.network, &self.lengths)
    }

    /// Whether readings are still to be looked at, since an observer stopped that.
    pub fn is_stopped(&self) -> bool {
        !self.waiting.is_empty()
    }

    /// Changes the test set, and says what that changed.
    ///
    /// What is added at the end is looked at as things stand. A change in the middle carries out the operations again,
    /// and looks again at those readings after it that come to copper on which something now stands otherwise.
    ///
    /// Time O(d + what the readings reach that are looked at), for an edit at the end of d entries. In the middle, one
    /// more for each device and operation and, for each reading after it, the logarithm of what that reaches.
    ///
    /// # Errors
    ///
    /// Where the draft does not fit the installation, with all its errors; their paths are those of a test set of this
    /// entry alone. Where there is no such pass or reading. Nothing is changed then.
    pub fn edit(&mut self, edit: Edit) -> Result<CoverageChange, EditError> {
        self.edit_watched(edit, &mut Unwatched)
    }

    /// The same, watched. Who stops it leaves readings that are still to be looked at: what they tested is lost until
    /// then. The next edit or [`LiveCoverage::go_on`] looks at them.
    ///
    /// # Errors
    ///
    /// As [`LiveCoverage::edit`].
    pub fn edit_watched(&mut self, edit: Edit, observer: &mut dyn Observer) -> Result<CoverageChange, EditError> {
        match edit {
            Edit::ChangeStart { start } => {
                let draft = TestSetDraft { start, ..TestSetDraft::default() };
                let built = draft.build(self.network.installation())?;
                self.change_start(built);
            }
            Edit::AddPass { pass, draft } => {
                let pass = place(pass, self.passes.len() + 1).ok_or_else(|| self.no_such(pass, None))?;
                let new = self.pass(draft)?;
                self.add_pass(pass, new);
            }
            Edit::ChangePass { pass, draft } => {
                let pass = place(pass, self.passes.len()).ok_or_else(|| self.no_such(pass, None))?;
                let new = self.pass(draft)?;
                self.change_pass(pass, new);
            }
            Edit::RemovePass { pass } => {
                let pass = place(pass, self.passes.len()).ok_or_else(|| self.no_such(pass, None))?;
                self.remove_pass(pass);
            }
            Edit::AddReading { place: [pass, reading], draft } => {
                let at = self.place_of(pass, reading, 1)?;
                let new = self.reading(draft)?;
                self.test_set.passes[at[0]].readings.insert(at[1], new);
                self.put_in(at, 1);
            }
            Edit::ChangeReading { place: [pass, reading], draft } => {
                let at = self.place_of(pass, reading, 0)?;
                self.test_set.passes[at[0]].readings[at[1]] = self.reading(draft)?;
                self.take_out(at, 1);
                self.put_in(at, 1);
            }
            Edit::RemoveReading { place: [pass, reading] } => {
                let at = self.place_of(pass, reading, 0)?;
                self.test_set.passes[at[0]].readings.remove(at[1]);
                self.take_out(at, 1);
            }
        }
        Ok(self.go_on(observer))
    }

    /// Puts another test set in the place of this one, and says what that changed: a file that was read again, say.
    ///
    /// Passes that are the same stay, at the beginning and at the end, and in those between the readings that are the
    /// same; these are looked at again only where other operations bear on them. Who stops it leaves readings that are
    /// still to be looked at, as in [`LiveCoverage::edit_watched`].
    ///
    /// Time as that of the edits that lead from one to the other, and O(n) in the entries of both.
    ///
    /// # Errors
    ///
    /// Where the test set was checked against another installation. Nothing is changed then.
    pub fn replace(
        &mut self,
        test_set: TestSet,
        observer: &mut dyn Observer,
    ) -> Result<CoverageChange, OtherInstallation> {
        test_set.check_for(self.network.installation())?;
        let start = |tests: &TestSet| (tests.start_positions.clone(), tests.start_bridges.clone());
        if start(&self.test_set) != start(&test_set) {
            self.change_start(TestSet { passes: Vec::new(), connected: Vec::new(), ..test_set.clone() });
        }
        let [had, has] = [&self.test_set.passes, &test_set.passes];
        let [first, last] = same_at_ends(had, has);
        let (had, has) = (had.len() - last, has.len() - last);
        for pass in first..had.min(has) {
            if self.test_set.passes[pass] != test_set.passes[pass] {
                self.change_pass(pass, test_set.passes[pass].clone());
            }
        }
        (has..had).rev().for_each(|pass| self.remove_pass(pass));
        (had..has).for_each(|pass| self.add_pass(pass, test_set.passes[pass].clone()));
        self.test_set = test_set;
        Ok(self.go_on(observer))
    }

    /// Looks at the readings that are still to be looked at since an observer stopped that; who stops it now leaves the
    /// rest. Says what that changed.
    pub fn go_on(&mut self, observer: &mut dyn Observer) -> CoverageChange {
        let watch = &mut Watch::new(observer);
        let network = Arc::clone(&self.network);
        let mut waiting = std::mem::take(&mut self.waiting);
        waiting.retain(|&key| self.places[key as usize] != GONE);
        waiting.sort_unstable_by_key(|&key| self.places[key as usize]);
        let mut readings = Vec::new();
        for (done, &key) in waiting.iter().enumerate() {
            watch.at(Stage::TestSet, done, waiting.len());
            if watch.is_stopped() {
                self.waiting = waiting[done..].to_vec();
                break;
            }
            let [pass, reading] = self.places[key as usize];
            self.stand_in(pass);
            let leads = LeadBodies::of(&network, &self.test_set.passes[pass].readings[reading]);
            let probed = self.probe.read_for_starts(&network, &self.standing.1, &leads);
            let mut outcome = ReadingOutcome::default();
            outcome.look_whether_void(&network, &self.standing.1, &leads, &probed);
            outcome.look_at_rest(&network, &probed, |_| true);
            let mut touched: Vec<Body> = probed.touched().collect();
            outcome.look_at_copper(&network, &self.standing.1, &leads, &mut self.probe, |body| touched.push(body));
            touched.sort_unstable();
            touched.dedup();
            readings.push(outcome.row(self.name(key)));
            if outcome.void.is_none() {
                self.groups.enter(key, &outcome.opposite);
                self.positions.enter(key, &outcome.under_test);
            }
            self.passes[pass][reading].seen = Some(Seen { outcome, touched });
        }
        let tables = &network.limits().tables;
        let place = |key: u32| self.places[key as usize];
        let [tested, lost] = self.groups.settle(place, tables);
        let [under_test, no_more] = self.positions.settle(place, tables);
        let [tested, lost] = [(tested, false), (lost, true)].map(|(groups, are_lost)| {
            let mut pairs: Vec<PairId> = groups.into_iter().flat_map(|group| network.group_pairs(group)).collect();
            pairs.sort_unstable();
            let told = pairs.into_iter().map(|pair| {
                let changed = ChangedPair::of(&network, self.need, pair);
                if changed.required {
                    let missed = &mut self.lengths[network.pair_length(pair).index()].missed;
                    *missed = if are_lost { *missed + 1 } else { *missed - 1 };
                }
                changed
            });
            told.collect()
        });
        let mut positions: Vec<(u32, bool)> = under_test.into_iter().map(|number| (number, true)).collect();
        positions.extend(no_more.into_iter().map(|number| (number, false)));
        positions.sort_unstable();
        let told = positions.into_iter().map(|(number, tested)| PositionCoverage::of(&network, number, tested));
        CoverageChange { readings, tested, lost, positions: told.collect(), stopped: self.is_stopped() }
    }

    // What is entered.

    fn pass(&mut self, draft: PassDraft) -> Result<Pass, EditError> {
        let draft = TestSetDraft { passes: vec![draft], ..TestSetDraft::default() };
        let built = draft.build(self.network.installation())?;
        self.test_set.stamp = built.stamp;
        Ok(built.passes.into_iter().next().expect("the pass of the draft"))
    }

    fn reading(&mut self, draft: ReadingDraft) -> Result<Reading, EditError> {
        let pass = self.pass(PassDraft { readings: vec![draft], ..PassDraft::default() })?;
        Ok(pass.readings.into_iter().next().expect("the reading of the draft"))
    }

    /// The place of a reading, from 0; of one that is added there may be so many `more`.
    fn place_of(&self, pass: usize, reading: usize, more: usize) -> Result<[usize; 2], EditError> {
        let row = place(pass, self.passes.len()).ok_or_else(|| self.no_such(pass, None))?;
        let at = place(reading, self.passes[row].len() + more);
        Ok([row, at.ok_or_else(|| self.no_such(pass, Some((reading, self.passes[row].len()))))?])
    }

    fn no_such(&self, pass: usize, reading: Option<(usize, usize)>) -> EditError {
        match reading {
            None => EditError::NoSuchPass { pass, passes: self.passes.len() },
            Some((reading, readings)) => EditError::NoSuchReading { pass, reading, readings },
        }
    }

    /// A reading's pass and number in it, from 1.
    fn name(&self, key: u32) -> [usize; 2] {
        self.places[key as usize].map(|place| place + 1)
    }

    fn change_start(&mut self, built: TestSet) {
        let network = &*Arc::clone(&self.network);
        let old = Configuration::before(network, &self.test_set);
        self.test_set.start_positions = built.start_positions;
        self.test_set.start_bridges = built.start_bridges;
        self.test_set.stamp = built.stamp;
        self.standing = (0, Configuration::before(network, &self.test_set));
        self.forget_after(Difference::of(network, old, self.standing.1.clone()), 0);
    }

    fn add_pass(&mut self, pass: usize, new: Pass) {
        let network = &*Arc::clone(&self.network);
        if pass < self.passes.len() {
            let [old, mut after] = self.before(pass);
            after.carry_out(network, &new);
            self.forget_after(Difference::of(network, old, after), pass);
        }
        self.passes.insert(pass, Vec::new());
        let count = new.readings.len();
        self.test_set.passes.insert(pass, new);
        self.number_from(pass + 1);
        self.put_in([pass, 0], count);
    }

    fn change_pass(&mut self, pass: usize, new: Pass) {
        let network = &*Arc::clone(&self.network);
        let [mut before, mut after] = self.before(pass);
        let old = std::mem::replace(&mut self.test_set.passes[pass], new);
        before.carry_out(network, &old);
        let new = &self.test_set.passes[pass];
        after.carry_out(network, new);
        // Readings that are the same stay.
        let [had, has] = [&old.readings, &new.readings];
        let [first, last] = same_at_ends(had, has);
        let (taken, put) = (had.len() - first - last, has.len() - first - last);
        let difference = Difference::of(network, before, after);
        self.take_out([pass, first], taken);
        self.put_in([pass, first], put);
        self.forget(&difference, pass);
        self.forget_after(difference, pass + 1);
    }

    fn remove_pass(&mut self, pass: usize) {
        let network = &*Arc::clone(&self.network);
        let [mut before, after] = self.before(pass);
        self.take_out([pass, 0], self.passes[pass].len());
        self.passes.remove(pass);
        let old = self.test_set.passes.remove(pass);
        self.number_from(pass);
        before.carry_out(network, &old);
        self.forget_after(Difference::of(network, before, after), pass);
    }

    // How things stand.

    /// Carries out the passes up to this one.
    fn stand_in(&mut self, pass: usize) {
        self.stand_before(pass + 1);
    }

    /// Carries out so many passes.
    fn stand_before(&mut self, pass: usize) {
        if self.standing.0 > pass {
            self.standing = (0, Configuration::before(&self.network, &self.test_set));
        }
        for done in &self.test_set.passes[self.standing.0..pass] {
            self.standing.1.carry_out(&self.network, done);
        }
        self.standing.0 = pass;
    }

    /// How everything stands before a pass, twice: to carry out what was done, and what is done now.
    fn before(&mut self, pass: usize) -> [Configuration; 2] {
        self.stand_before(pass);
        [self.standing.1.clone(), self.standing.1.clone()]
    }

    // Which readings are still to be looked at.

    /// Numbers the readings of the passes from this one on.
    fn number_from(&mut self, pass: usize) {
        for pass in pass..self.passes.len() {
            self.number_in([pass, 0]);
        }
    }

    fn number_in(&mut self, [pass, reading]: [usize; 2]) {
        for (place, row) in self.passes[pass].iter().enumerate().skip(reading) {
            self.places[row.key as usize] = [pass, place];
        }
    }

    /// Puts in new readings, which are to be looked at.
    fn put_in(&mut self, [pass, reading]: [usize; 2], count: usize) {
        let first = self.places.len() as u32;
        let keys = first..first + count as u32;
        self.places.resize(self.places.len() + count, GONE);
        self.waiting.extend(keys.clone());
        self.passes[pass].splice(reading..reading, keys.map(|key| LiveReading { key, seen: None }));
        self.number_in([pass, reading]);
    }

    /// Takes out readings with what they tested.
    fn take_out(&mut self, [pass, reading]: [usize; 2], count: usize) {
        let rows: Vec<LiveReading> = self.passes[pass].drain(reading..reading + count).collect();
        for row in rows {
            self.places[row.key as usize] = GONE;
            self.withdraw(row.key, row.seen);
        }
        self.number_in([pass, reading]);
    }

    fn withdraw(&mut self, key: u32, seen: Option<Seen>) {
        let Some(Seen { outcome, .. }) = seen else { return };
        if outcome.void.is_none() {
            self.groups.withdraw(key, &outcome.opposite);
            self.positions.withdraw(key, &outcome.under_test);
        }
    }

    /// Forgets what the readings of a pass do that come to where something stands otherwise: they are to be looked at
    /// again.
    fn forget(&mut self, difference: &Difference<'_>, pass: usize) {
        for place in 0..self.passes[pass].len() {
            let row = &mut self.passes[pass][place];
            if row.seen.as_ref().is_some_and(|seen| difference.is_at(&seen.touched)) {
                let (key, seen) = (row.key, row.seen.take());
                self.waiting.push(key);
                self.withdraw(key, seen);
            }
        }
    }

    /// The same for this pass and all after it, each carried out, while anything stands otherwise.
    fn forget_after(&mut self, mut difference: Difference<'_>, pass: usize) {
        for pass in pass..self.passes.len() {
            difference.carry_out(&self.test_set.passes[pass]);
            if difference.is_none() {
                break;
            }
            self.forget(&difference, pass);
        }
    }
}

/// A number counted from 1, of so many, counted from 0.
fn place(number: usize, count: usize) -> Option<usize> {
    number.checked_sub(1).filter(|&place| place < count)
}

/// How many entries of two lists are the same at the beginning, and how many of the others at the end.
fn same_at_ends<T: PartialEq>(had: &[T], has: &[T]) -> [usize; 2] {
    let same = |(one, other): &(&T, &T)| one == other;
    let first = had.iter().zip(has).take_while(same).count();
    let rest = had[first..].iter().rev().zip(has[first..].iter().rev());
    [first, rest.take_while(same).count()]
}
