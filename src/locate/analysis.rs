//! From what readings measured to what each gap can leak, and the fewest faults that explain it all.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

use super::gap::Gaps;
use super::program::{Block, Healthy, NotSolved, Sum};
use super::sums::Sums;
use crate::model::Volts;

/// In blocks larger than this (columns times sums) only those sums "at least" are kept that health does not explain.
/// Current that floating copper passes on ties all readings at a board together; without the sums that tell of no fault,
/// such a block falls apart into small ones. Bounds may then be weaker, and readings that contradict one another without
/// telling of a fault are not noticed.
const LARGEST_SOLVED_WHOLE: usize = 1 << 13;

/// Blocks larger than this, also without those sums, are solved only for columns that a single sum does not clear. The
/// others keep the weaker bound of a single sum.
const LARGEST_SOLVED_FOR_ALL: usize = 1 << 14;

/// Blocks larger than this are not solved at all: single sums bound every column.
const LARGEST_SOLVED: usize = 1 << 18;

/// The most programs that are solved to find the fewest faults of one block.
pub(super) const MOST_SOLVED: usize = 600;

/// The same where it is only asked what a reading would mean: that is asked often, and "at least" will do.
pub(super) const MOST_SOLVED_IF_READ: usize = 48;

/// What the readings say of a gap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// No leakage that fits the readings is a fault.
    Cleared,
    /// Some leakages that fit the readings are a fault, some are none.
    Suspect,
    /// Every leakage that fits the readings is a fault.
    Certain,
    /// No reading bounds its leakage.
    NotRead,
    /// The readings that it is in contradict one another: nothing is said of it.
    Contradicted,
}

/// How many faults it takes to explain the readings of one block.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Explanation {
    /// No fewer faults explain the readings.
    pub at_least: usize,
    /// As many faults do explain them.
    pub is_exact: bool,
}

/// A reading as sums of gaps and what it measured.
#[derive(Clone, Debug)]
pub(super) struct Measured {
    /// By its number among all readings.
    pub(super) reading: u32,
    /// All gaps directly across the leads.
    pub(super) direct: Option<Vec<u32>>,
    /// Those of them that ask for no more than the voltage that it was taken at: their sum is at most the greatest.
    pub(super) bounded: Option<Vec<u32>>,
    pub(super) cuts: Vec<Vec<u32>>,
    /// Least and greatest conductance, in µS; the greatest may be infinite.
    pub(super) conductance: [f64; 2],
}

impl Measured {
    /// Without a voltage a reading is taken to be at the right one.
    pub(super) fn of(
        reading: u32,
        Sums { direct, cuts, may_be_joined: _ }: Sums,
        conductance: [f64; 2],
        volts: Option<Volts>,
        gaps: &Gaps,
    ) -> Measured {
        let mut bounded = direct.clone();
        if let (Some(bounded), Some(taken)) = (&mut bounded, volts) {
            bounded.retain(|&gap| gaps.volts[gap as usize][1] <= taken);
        }
        Measured { reading, direct, bounded, cuts, conductance }
    }

    /// Whether it bounded all gaps directly across its leads, as far as its voltage goes.
    pub(super) fn is_at_full_voltage(&self) -> bool {
        self.direct == self.bounded
    }

    /// Whether a reading with these sums says what this one did.
    pub(super) fn is_again(&self, sums: &Sums) -> bool {
        self.is_at_full_voltage() && self.direct == sums.direct && self.cuts == sums.cuts
    }
}

/// What is said of one gap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct GapFinding {
    pub(super) least: f64,
    pub(super) greatest: f64,
    /// Whether both bounds are the best that the inequalities allow.
    pub(super) tight: bool,
    pub(super) state: State,
    /// Whether nothing shows that a fault here and nowhere else does not explain all readings of its block.
    pub(super) explains_alone: bool,
    /// Whether it has part in a contradiction to health: one of such gaps must be faulty.
    pub(super) implicated: bool,
    pub(super) block: u32,
}

/// One block's own.
#[derive(Clone, Debug, Default)]
pub(super) struct BlockFinding {
    pub(super) explanation: Explanation,
    /// Readings that contradict one another, where any do: without any one of them the others do not.
    pub(super) conflict: Vec<u32>,
    pub(super) readings: Vec<u32>,
    pub(super) gaps: Vec<u32>,
}

/// What some readings say.
#[derive(Clone, Debug, Default)]
pub(super) struct Analysis {
    pub(super) gaps: FxHashMap<u32, GapFinding>,
    pub(super) blocks: Vec<BlockFinding>,
}

/// The figures that the analysis goes by, in µS.
pub(super) struct Limits<'a> {
    /// What each gap may leak as healthy cable.
    pub(super) allowance: &'a dyn Fn(u32) -> f64,
    pub(super) threshold: f64,
    /// The most programs that are solved to find the fewest faults of one block.
    pub(super) most_solved: usize,
}

impl Analysis {
    /// What these readings say of the gaps that they are about.
    ///
    /// Time: linear in the sums, plus two linear programs for each column (gaps that the same sums hold are one), and for
    /// each block of what bears on one another, up to a fixed number of programs for the fewest faults.
    pub(super) fn of(measured: &[Measured], contradicting: &[[u32; 2]], limits: &Limits<'_>) -> Analysis {
        let mut analysis = Analysis::default();
        for part in Layout::of(measured, contradicting, |_, _| true).blocks {
            if part.0.size() <= LARGEST_SOLVED_WHOLE {
                analysis.add(part, contradicting, limits, Kept::All);
                continue;
            }
            let own: Vec<Measured> =
                measured.iter().filter(|one| part.2.binary_search(&one.reading).is_ok()).cloned().collect();
            let tells = |cut: &[u32], least: f64| {
                let healthy: f64 = cut.iter().map(|&gap| (limits.allowance)(gap)).sum();
                least > healthy + limits.threshold
            };
            for part in Layout::of(&own, contradicting, tells).blocks {
                analysis.add(part, contradicting, limits, Kept::ThoseThatTell);
            }
        }
        analysis
    }

    fn add(
        &mut self,
        (block, columns, readings): BlockLayout,
        contradicting: &[[u32; 2]],
        limits: &Limits<'_>,
        kept: Kept,
    ) {
        let number = self.blocks.len() as u32;
        let mut allowance = vec![0.0; block.column_count];
        for (column, gaps) in columns.iter().enumerate() {
            allowance[column] = gaps.iter().map(|&gap| (limits.allowance)(gap)).sum();
        }
        let is_here = |set: &&[u32; 2]| set.iter().all(|reading| readings.binary_search(reading).is_ok());
        let solved = match contradicting.iter().find(is_here) {
            Some(set) => {
                Solved::contradicted(&block, set.iter().map(|&reading| place_of(&readings, reading)).collect())
            }
            None => Solved::of(&block, &allowance, limits),
        };
        for (column, gaps) in columns.iter().enumerate() {
            for &gap in gaps {
                let mut finding = solved.gap(&block, column, gaps.len(), (limits.allowance)(gap), limits.threshold);
                finding.tight &= kept == Kept::All;
                self.gaps.insert(gap, GapFinding { block: number, ..finding });
            }
        }
        let mut gaps: Vec<u32> = columns.into_iter().flatten().collect();
        gaps.sort_unstable();
        let conflict = solved.conflict.iter().map(|&place| readings[place as usize]).collect();
        self.blocks.push(BlockFinding { explanation: solved.explanation, conflict, readings, gaps });
    }
}

/// Which sums of a block were kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kept {
    All,
    ThoseThatTell,
}

/// The place of a reading in a block's list.
fn place_of(readings: &[u32], reading: u32) -> u32 {
    readings.binary_search(&reading).expect("its reading is listed") as u32
}

/// A block, the gaps of each of its columns, and its readings.
type BlockLayout = (Block, Vec<Vec<u32>>, Vec<u32>);

/// The inequalities sorted into blocks.
struct Layout {
    blocks: Vec<BlockLayout>,
}

impl Layout {
    /// Those sums "at least" only that are `wanted`. Readings that contradict one another come into one block.
    fn of(measured: &[Measured], contradicting: &[[u32; 2]], wanted: impl Fn(&[u32], f64) -> bool) -> Layout {
        struct Row<'m> {
            gaps: &'m [u32],
            bound: f64,
            reading: u32,
            is_up: bool,
        }
        let mut rows: Vec<Row<'_>> = Vec::new();
        for one in measured {
            let [least, greatest] = one.conductance;
            if let (Some(bounded), true) = (&one.bounded, greatest.is_finite()) {
                rows.push(Row { gaps: bounded, bound: greatest, reading: one.reading, is_up: true });
            }
            if least > 0.0 {
                let downs = one.cuts.iter().filter(|cut| wanted(cut, least));
                rows.extend(downs.map(|cut| Row { gaps: cut, bound: least, reading: one.reading, is_up: false }));
            }
        }
        // A sum of nothing at most something says nothing; at least something, it is a contradiction of its own.
        rows.retain(|row| !(row.is_up && row.gaps.is_empty()));

        let mut rows_of: FxHashMap<u32, Vec<u32>> = FxHashMap::default();
        for (number, row) in rows.iter().enumerate() {
            for &gap in row.gaps {
                rows_of.entry(gap).or_default().push(number as u32);
            }
        }
        let mut gaps: Vec<u32> = rows_of.keys().copied().collect();
        gaps.sort_unstable();
        let mut column_of: FxHashMap<&[u32], u32> = FxHashMap::default();
        let mut columns: Vec<Vec<u32>> = Vec::new();
        let mut column_of_gap: FxHashMap<u32, u32> = FxHashMap::default();
        for &gap in &gaps {
            let next = columns.len() as u32;
            let column = *column_of.entry(&rows_of[&gap]).or_insert(next);
            if column == next {
                columns.push(Vec::new());
            }
            columns[column as usize].push(gap);
            column_of_gap.insert(gap, column);
        }
        let row_columns: Vec<Vec<u32>> = rows
            .iter()
            .map(|row| {
                let mut own: Vec<u32> = row.gaps.iter().map(|gap| column_of_gap[gap]).collect();
                own.sort_unstable();
                own.dedup();
                own
            })
            .collect();

        // Rows and columns that hang together: rows first, then columns.
        let mut joined = petgraph::unionfind::UnionFind::<u32>::new(rows.len() + columns.len());
        for (number, own) in row_columns.iter().enumerate() {
            for &column in own {
                joined.union(number as u32, rows.len() as u32 + column);
            }
        }
        let row_of: FxHashMap<u32, u32> = if contradicting.is_empty() {
            FxHashMap::default()
        } else {
            (0u32..).zip(&rows).map(|(number, row)| (row.reading, number)).collect()
        };
        for set in contradicting {
            let rows: Vec<u32> = set.iter().filter_map(|reading| row_of.get(reading).copied()).collect();
            for pair in rows.windows(2) {
                joined.union(pair[0], pair[1]);
            }
        }
        let labels = joined.into_labeling();
        let mut block_of: FxHashMap<u32, usize> = FxHashMap::default();
        let mut members: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
        for (number, label) in labels.iter().enumerate() {
            let next = members.len();
            let block = *block_of.entry(*label).or_insert(next);
            if block == next {
                members.push((Vec::new(), Vec::new()));
            }
            if number < rows.len() { members[block].0.push(number) } else { members[block].1.push(number - rows.len()) }
        }
        let blocks = members
            .into_iter()
            .map(|(own_rows, own_columns)| {
                let mut readings: Vec<u32> = own_rows.iter().map(|&row| rows[row].reading).collect();
                readings.sort_unstable();
                readings.dedup();
                let local: FxHashMap<u32, u32> =
                    own_columns.iter().enumerate().map(|(place, &column)| (column as u32, place as u32)).collect();
                let (mut ups, mut downs) = (Vec::new(), Vec::new());
                for &row in &own_rows {
                    let mut own: Vec<u32> = row_columns[row].iter().map(|column| local[column]).collect();
                    own.sort_unstable();
                    let place = place_of(&readings, rows[row].reading);
                    let sum = Sum { columns: own, bound: rows[row].bound, reading: place };
                    if rows[row].is_up { ups.push(sum) } else { downs.push(sum) }
                }
                let gaps = own_columns.iter().map(|&column| columns[column].clone()).collect();
                (Block::new(own_columns.len(), ups, downs), gaps, readings)
            })
            .collect();
        Layout { blocks }
    }
}

/// What was worked out of one block.
struct Solved {
    least: Vec<f64>,
    greatest: Vec<f64>,
    tight: Vec<bool>,
    explanation: Explanation,
    /// The columns of which nothing shows that they do not explain all alone: no column that does is left out.
    alone: Vec<u32>,
    implicated: Vec<u32>,
    /// Places in the block's list of readings.
    conflict: Vec<u32>,
}

impl Solved {
    fn nothing(block: &Block) -> Solved {
        let count = block.column_count;
        Solved {
            least: vec![0.0; count],
            greatest: (0..count as u32).map(|column| block.greatest_by_one_sum(column)).collect(),
            tight: vec![false; count],
            explanation: Explanation::default(),
            alone: Vec::new(),
            implicated: Vec::new(),
            conflict: Vec::new(),
        }
    }

    fn contradicted(block: &Block, conflict: Vec<u32>) -> Solved {
        Solved { greatest: vec![f64::INFINITY; block.column_count], conflict, ..Solved::nothing(block) }
    }

    fn of(block: &Block, allowance: &[f64], &Limits { threshold, most_solved, .. }: &Limits<'_>) -> Solved {
        let count = block.column_count;
        let mut solved = Solved::nothing(block);
        if block.downs.is_empty() {
            // With sums "at most" alone the best bound of a column is that of its least sum.
            solved.tight = vec![true; count];
            solved.explanation.is_exact = true;
            return solved;
        }
        if block.size() > LARGEST_SOLVED {
            for column in 0..count as u32 {
                solved.least[column as usize] = block.least_by_one_sum(column);
            }
            solved.faults_by_single_sums(block, allowance, threshold);
            return solved;
        }
        if let Ok(Some(certificate)) = block.contradiction(None) {
            return Solved::contradicted(block, irreducible(block, certificate.readings));
        }
        for column in 0..count as u32 {
            let at = column as usize;
            let cleared = solved.greatest[at] <= allowance[at] + threshold;
            if block.size() > LARGEST_SOLVED_FOR_ALL && cleared {
                solved.least[at] = block.least_by_one_sum(column);
                continue;
            }
            let (greatest, least) = (block.greatest(column), block.least(column));
            (solved.greatest[at], solved.least[at]) = (greatest.value, least.value);
            solved.tight[at] = greatest.is_best && least.is_best;
        }
        Search { block, allowance, threshold, left: most_solved }.run(&mut solved);
        solved
    }

    /// What each sum at least tells of faults by itself: one of its columns must be faulty where healthy ones don't come to
    /// it. Whatever explains all alone is in each such sum.
    fn faults_by_single_sums(&mut self, block: &Block, allowance: &[f64], threshold: f64) {
        let mut telling: Vec<&Sum> = block.downs.iter().filter(|sum| is_telling(sum, allowance, threshold)).collect();
        telling.sort_by_key(|sum| sum.columns.len());
        let Some(least) = telling.first() else { return };
        self.implicated.clone_from(&least.columns);
        let is_in_each = |column: &u32| telling.iter().all(|sum| sum.columns.binary_search(column).is_ok());
        self.alone = least.columns.iter().copied().filter(is_in_each).collect();
        self.explanation.at_least = if self.alone.is_empty() { 2 } else { 1 };
    }

    fn gap(&self, block: &Block, column: usize, together: usize, allowance: f64, threshold: f64) -> GapFinding {
        // Of gaps that no sum tells apart, each may have all of it and none need have any.
        let least = if together == 1 { self.least[column] } else { 0.0 };
        let greatest = self.greatest[column];
        let state = if !self.conflict.is_empty() {
            State::Contradicted
        } else if block.greatest_by_one_sum(column as u32).is_infinite() && least <= allowance + threshold {
            State::NotRead
        } else if greatest <= allowance + threshold {
            State::Cleared
        } else if least > allowance + threshold {
            State::Certain
        } else {
            State::Suspect
        };
        GapFinding {
            least,
            greatest,
            tight: self.tight[column],
            state,
            explains_alone: self.alone.contains(&(column as u32)),
            implicated: self.implicated.contains(&(column as u32)),
            block: 0,
        }
    }
}

/// Whether healthy columns, and what all together may leak beyond, don't come to a sum at least.
fn is_telling(sum: &Sum, allowance: &[f64], threshold: f64) -> bool {
    let healthy: f64 = sum.columns.iter().map(|&column| allowance[column as usize]).sum();
    // Rounded to the side of no fault.
    sum.bound > (healthy + threshold) * (1.0 + 1e-9)
}

/// Takes readings away from a contradiction as long as one is left; what remains needs every one of them.
fn irreducible(block: &Block, readings: Vec<u32>) -> Vec<u32> {
    let mut kept = readings.clone();
    for reading in readings {
        if kept.len() == 1 {
            break;
        }
        let without: Vec<u32> = kept.iter().copied().filter(|&other| other != reading).collect();
        let part = |sums: &[Sum]| sums.iter().filter(|sum| without.contains(&sum.reading)).cloned().collect();
        if Block::new(block.column_count, part(&block.ups), part(&block.downs))
            .contradiction(None)
            .is_ok_and(|shown| shown.is_some())
        {
            kept = without;
        }
    }
    kept
}

/// The search for the fewest columns that must be faulty.
///
/// Each contradiction to health names columns one of which must be faulty; taking each in turn, and of those that are
/// left again, is a search for a least hitting set, deepened one fault at a time.
struct Search<'b> {
    block: &'b Block,
    allowance: &'b [f64],
    threshold: f64,
    left: usize,
}

impl Search<'_> {
    /// The columns one of which must be faulty beside these; none where these explain all. Errs when the budget is spent.
    fn needed(&mut self, faulty: &[u32]) -> Result<Option<Vec<u32>>, Spent> {
        self.left = self.left.checked_sub(1).ok_or(Spent)?;
        let healthy = Healthy { allowance: self.allowance, threshold: self.threshold, faulty };
        // What the solver leaves open is said of nothing, as where the budget is spent.
        let shown = self.block.contradiction(Some(&healthy)).map_err(|NotSolved| Spent)?;
        Ok(shown.map(|certificate| certificate.columns))
    }

    fn run(&mut self, solved: &mut Solved) {
        let first = match self.needed(&[]) {
            Ok(Some(first)) => first,
            Ok(None) => {
                solved.explanation.is_exact = true;
                return;
            }
            Err(Spent) => return solved.faults_by_single_sums(self.block, self.allowance, self.threshold),
        };
        solved.explanation.at_least = 1;
        solved.implicated.clone_from(&first);
        for &column in &first {
            match self.needed(&[column]) {
                Ok(Some(_)) => {}
                Ok(None) => {
                    solved.alone.push(column);
                    solved.explanation.is_exact = true;
                }
                // What is left open stays on the list, or the fault could be in what the list leaves out.
                Err(Spent) => solved.alone.push(column),
            }
        }
        if !solved.alone.is_empty() {
            return;
        }
        let mut faults = 2;
        loop {
            solved.explanation.at_least = faults;
            // Where all were faulty nothing could be shown: so this is reached only by a solver that errs.
            if faults > self.block.column_count {
                return;
            }
            match self.explains(&mut Vec::new(), &first, faults, &[]) {
                Ok(true) => {
                    solved.explanation.is_exact = true;
                    return;
                }
                Ok(false) => faults += 1,
                Err(Spent) => return,
            }
        }
    }

    fn explains(&mut self, faulty: &mut Vec<u32>, among: &[u32], faults: usize, not: &[u32]) -> Result<bool, Spent> {
        let mut excluded = not.to_vec();
        for &column in among {
            if excluded.contains(&column) {
                continue;
            }
            faulty.push(column);
            let found = match self.needed(faulty)? {
                None => true,
                Some(_) if faults == 1 => false,
                Some(next) => self.explains(faulty, &next, faults - 1, &excluded)?,
            };
            faulty.pop();
            if found {
                return Ok(true);
            }
            excluded.push(column);
        }
        Ok(false)
    }
}

/// The budget of the search is spent, or the solver left something open.
struct Spent;

#[cfg(test)]
mod tests {
    use super::*;

    /// Three columns that one sum at least holds, of which the last can't have it all.
    fn three() -> Block {
        let up = |columns: Vec<u32>, bound: f64| Sum { columns, bound, reading: 0 };
        let ups = vec![up(vec![0], 5.0), up(vec![1], 5.0), up(vec![2], 1.0)];
        Block::new(3, ups, vec![Sum { columns: vec![0, 1, 2], bound: 4.0, reading: 1 }])
    }

    fn searched(left: usize) -> ([usize; 2], bool, Vec<u32>) {
        let block = three();
        let allowance = [0.0; 3];
        let mut solved = Solved::nothing(&block);
        Search { block: &block, allowance: &allowance, threshold: 0.5, left }.run(&mut solved);
        let Explanation { at_least, is_exact } = solved.explanation;
        ([at_least, solved.implicated.len()], is_exact, solved.alone)
    }

    #[test]
    fn what_the_search_leaves_open_stays_on_the_list() {
        assert_eq!(searched(MOST_SOLVED), ([1, 3], true, vec![0, 1]));
        assert_eq!(searched(2), ([1, 3], true, vec![0, 1, 2]));
        assert_eq!(searched(1), ([1, 3], false, vec![0, 1, 2]));
        assert_eq!(searched(0), ([1, 3], false, vec![0, 1, 2]));
    }
}
