//! The sums of some readings sorted into blocks: what bears on one another.

use std::collections::BTreeMap;

use petgraph::unionfind::UnionFind;
use rustc_hash::FxHashMap;

use super::program::{Block, Sum};
use super::sums::Measured;

/// What a gap leaks where so many faults explain the readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Leakage {
    pub(super) gap: u32,
    pub(super) microsiemens: f64,
    pub(super) is_faulty: bool,
}

/// A block, and what its columns and readings are.
pub(super) struct GapBlock {
    pub(super) block: Block,
    /// The gaps of each column: those that the same sums hold.
    pub(super) columns: Vec<Vec<u32>>,
    /// Ascending.
    pub(super) readings: Vec<u32>,
}

impl GapBlock {
    /// The place of a reading in the list.
    pub(super) fn place_of(&self, reading: u32) -> u32 {
        place(&self.readings, &reading)
    }

    /// What each gap leaks where the columns leak so much: each what it may, as healthy cable of its allowance, and the
    /// first of a column the rest.
    pub(super) fn share_out(&self, leakages: &[f64], faulty: &[u32], allowances: &[f64]) -> Vec<Leakage> {
        let mut shared = Vec::new();
        for ((column, gaps), &leakage) in (0u32..).zip(&self.columns).zip(leakages) {
            let mut left = leakage;
            let first = shared.len();
            for &gap in gaps {
                let own = allowances[gap as usize].min(left);
                left -= own;
                shared.push(Leakage { gap, microsiemens: own, is_faulty: false });
            }
            shared[first].microsiemens += left;
            shared[first].is_faulty = faulty.contains(&column);
        }
        shared
    }
}

fn place<T: Ord>(sorted: &[T], one: &T) -> u32 {
    sorted.binary_search(one).expect("it is listed") as u32
}

struct SumRow<'m> {
    gaps: &'m [u32],
    bound: f64,
    reading: u32,
    is_up: bool,
}

/// The blocks of these readings, with those sums "at least" only that are `wanted`. Readings that contradict one
/// another come into one block.
pub(super) fn blocks(
    measured: &[Measured],
    contradicting: &[[u32; 2]],
    wanted: impl Fn(&[u32], f64) -> bool,
) -> Vec<GapBlock> {
    let rows = rows(measured, wanted);
    let mut rows_of: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for (number, row) in (0u32..).zip(&rows) {
        row.gaps.iter().for_each(|&gap| rows_of.entry(gap).or_default().push(number));
    }
    // Gaps that the same sums hold are one column.
    let mut column_of: FxHashMap<Vec<u32>, usize> = FxHashMap::default();
    let mut columns: Vec<(Vec<u32>, Vec<u32>)> = Vec::new();
    for (gap, rows) in rows_of {
        let column = *column_of.entry(rows.clone()).or_insert(columns.len());
        if column == columns.len() {
            columns.push((rows, Vec::new()));
        }
        columns[column].1.push(gap);
    }
    let mut joined = UnionFind::<u32>::new(rows.len());
    for (rows, _) in &columns {
        for pair in rows.windows(2) {
            joined.union(pair[0], pair[1]);
        }
    }
    let row_of: FxHashMap<u32, u32> = (0u32..).zip(&rows).map(|(number, row)| (row.reading, number)).collect();
    for pair in contradicting {
        if let [Some(&one), Some(&other)] = pair.map(|reading| row_of.get(&reading)) {
            joined.union(one, other);
        }
    }
    let mut number_of: FxHashMap<u32, usize> = FxHashMap::default();
    let mut rows_in: Vec<Vec<u32>> = Vec::new();
    let mut columns_in: Vec<Vec<usize>> = Vec::new();
    for row in 0..rows.len() as u32 {
        let number = *number_of.entry(joined.find(row)).or_insert(rows_in.len());
        if number == rows_in.len() {
            rows_in.push(Vec::new());
            columns_in.push(Vec::new());
        }
        rows_in[number].push(row);
    }
    for (column, (rows, _)) in columns.iter().enumerate() {
        columns_in[number_of[&joined.find(rows[0])]].push(column);
    }
    let blocks = rows_in.into_iter().zip(columns_in);
    blocks.map(|(own, of_block)| block(&rows, &own, of_block.into_iter().map(|column| &columns[column]))).collect()
}

fn rows<'m>(measured: &'m [Measured], wanted: impl Fn(&[u32], f64) -> bool) -> Vec<SumRow<'m>> {
    let mut rows: Vec<SumRow<'m>> = Vec::new();
    for one in measured {
        let [least, greatest] = one.conductance;
        // A sum of nothing at most something says nothing; at least something, it is a contradiction of its own.
        if let (Some(gaps), true) = (one.bounded.as_ref().filter(|gaps| !gaps.is_empty()), greatest.is_finite()) {
            rows.push(SumRow { gaps, bound: greatest, reading: one.reading, is_up: true });
        }
        if least > 0.0 {
            let downs = one.sums.cuts.iter().filter(|cut| wanted(cut, least));
            rows.extend(downs.map(|gaps| SumRow { gaps, bound: least, reading: one.reading, is_up: false }));
        }
    }
    rows
}

/// The block of these rows, with each of its columns' rows and gaps.
fn block<'c>(rows: &[SumRow<'_>], own: &[u32], columns: impl Iterator<Item = &'c (Vec<u32>, Vec<u32>)>) -> GapBlock {
    let mut readings: Vec<u32> = own.iter().map(|&row| rows[row as usize].reading).collect();
    readings.sort_unstable();
    readings.dedup();
    let mut columns_of: Vec<Vec<u32>> = vec![Vec::new(); own.len()];
    let mut gaps: Vec<Vec<u32>> = Vec::new();
    for (number, (rows, of_column)) in (0u32..).zip(columns) {
        rows.iter().for_each(|row| columns_of[place(own, row) as usize].push(number));
        gaps.push(of_column.clone());
    }
    let (mut ups, mut downs) = (Vec::new(), Vec::new());
    for (&row, columns) in own.iter().zip(columns_of) {
        let SumRow { bound, reading, is_up, .. } = rows[row as usize];
        let sums = if is_up { &mut ups } else { &mut downs };
        sums.push(Sum { columns, bound, reading: place(&readings, &reading) });
    }
    GapBlock { block: Block::new(gaps.len(), ups, downs), columns: gaps, readings }
}
