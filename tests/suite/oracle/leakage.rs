//! What readings come to with leakage planted: Kirchhoff's and Ohm's laws, solved by Gaussian elimination.

use serde_json::Value;

use super::conduct::{Joined, Taken};
use super::cover::{Course, course, readings, starts};
use super::wiring::{Node, Wiring};

/// Leakage between two things, each `LENGTH CORE` or the full name of a terminal; in µS.
pub type Leak = (String, String, f64);

/// An installation in which leakage can be planted.
pub struct Leaking {
    wiring: Wiring,
    copper: Joined,
}

impl Leaking {
    pub fn of(installation: &Value) -> Leaking {
        let wiring = Wiring::of(installation);
        let copper = Joined::copper(&wiring);
        Leaking { wiring, copper }
    }

    fn node(&self, name: &str) -> Node {
        match name.split_once(' ') {
            Some((length, core)) => {
                let length = self.wiring.lengths.iter().find(|row| row.id == length).expect("a length of this name");
                length.cores.iter().find(|row| row.name == core).expect("a core of this name").node
            }
            None => self.wiring.terminal(name),
        }
    }

    pub fn is_same_copper(&self, one: &str, other: &str) -> bool {
        self.copper.for_sure(self.node(one), self.node(other))
    }

    /// All that leaks between the copper of two things, in µS.
    pub fn between(&self, leaks: &[Leak], one: &str, other: &str) -> f64 {
        let on = |leak: &str, side: &str| self.is_same_copper(leak, side);
        let here = |leak: &&Leak| on(&leak.0, one) && on(&leak.1, other) || on(&leak.0, other) && on(&leak.1, one);
        leaks.iter().filter(here).map(|leak| leak.2).sum()
    }

    /// What each reading of each pass measures, in µS; none where its leads are joined. Unknown positions started in the
    /// combination of this number, counted round and round; what may conduct does, or does not.
    pub fn measure(&self, tests: &Value, leaks: &[Leak], start: usize, maybe: bool) -> Vec<Vec<Option<f64>>> {
        let wiring = &self.wiring;
        let mut starts = starts(wiring, tests);
        let start = starts.swap_remove(start % starts.len());
        let Course { settings, .. } = course(wiring, tests, start);
        let passes = readings(wiring, tests);
        let leaks: Vec<(Node, Node, f64)> =
            leaks.iter().map(|(one, other, leak)| (self.node(one), self.node(other), *leak)).collect();
        passes
            .iter()
            .zip(&settings)
            .map(|(readings, setting)| {
                let joined = Joined::of(wiring, setting);
                let taken =
                    |reading: &super::cover::Reading| conductance(&Taken::with(&joined, &reading.leads), &leaks, maybe);
                readings.iter().map(taken).collect()
            })
            .collect()
    }
}

/// The conductance between the leads.
fn conductance(taken: &Taken, leaks: &[(Node, Node, f64)], maybe: bool) -> Option<f64> {
    let [a, b] = taken.leads().map(|lead| taken.piece(lead, maybe));
    if a == b {
        return None;
    }
    let edges: Vec<(Node, Node, f64)> = leaks
        .iter()
        .map(|&(one, other, leak)| (taken.piece(one, maybe), taken.piece(other, maybe), leak))
        .filter(|&(one, other, leak)| one != other && leak > 0.0)
        .collect();
    // Copper that leakage joins to a lead; the rest has no voltage to solve for.
    let mut reached = vec![a, b];
    let mut next = 0;
    while next < reached.len() {
        for &(one, other, _) in &edges {
            for (near, far) in [(one, other), (other, one)] {
                if near == reached[next] && !reached.contains(&far) {
                    reached.push(far);
                }
            }
        }
        next += 1;
    }
    // Lead A at one volt, lead B at nought: for each other piece, the currents into it come to nought.
    let floating = &reached[2..];
    let count = floating.len();
    let place = |node: Node| floating.iter().position(|&other| other == node);
    let mut rows = vec![vec![0.0; count + 1]; count];
    for &(one, other, leak) in &edges {
        for (near, far) in [(one, other), (other, one)] {
            let Some(row) = place(near) else { continue };
            rows[row][row] += leak;
            if far == a {
                rows[row][count] += leak;
            } else if let Some(column) = place(far) {
                rows[row][column] -= leak;
            }
        }
    }
    let volts = eliminate(rows);
    let volt = |node: Node| if node == a { 1.0 } else { place(node).map_or(0.0, |place| volts[place]) };
    let from_a = edges.iter().filter(|edge| edge.0 == a || edge.1 == a);
    Some(from_a.map(|&(one, other, leak)| leak * (1.0 - volt(if one == a { other } else { one }))).sum())
}

/// Solves a system with its right side in the last column, by the largest pivot.
fn eliminate(mut rows: Vec<Vec<f64>>) -> Vec<f64> {
    let count = rows.len();
    for column in 0..count {
        let pivot = (column..count).max_by(|&x, &y| rows[x][column].abs().total_cmp(&rows[y][column].abs())).unwrap();
        rows.swap(column, pivot);
        let (above, below) = rows.split_at_mut(column + 1);
        let pivot = &above[column];
        for row in below {
            let factor = row[column] / pivot[column];
            for (value, subtracted) in row.iter_mut().zip(pivot).skip(column) {
                *value -= factor * subtracted;
            }
        }
    }
    let mut solution = vec![0.0; count];
    for row in (0..count).rev() {
        let rest: f64 = (row + 1..count).map(|column| rows[row][column] * solution[column]).sum();
        solution[row] = (rows[row][count] - rest) / rows[row][row];
    }
    solution
}
