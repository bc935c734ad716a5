//! Where columns, risers and rows are.

use super::layout::Layout;
use super::metrics::TextSize;
use super::place::Direction;
use super::scene::ScenePoint;

/// Where a column is, along.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct ColumnAlong {
    /// Where what belongs to it begins: the name of a location, risers.
    pub(super) begin: f64,
    pub(super) boxes: [f64; 2],
    pub(super) end: f64,
}

/// Places along and across, of columns, risers and rows.
pub(super) struct Grid {
    pub(super) columns: Vec<ColumnAlong>,
    /// Before and behind each column, what is kept free at least for what is written there.
    pub(super) gaps: Vec<[f64; 2]>,
    /// Before and behind the boxes of each column, what is kept free for cores that come from a riser beside it.
    pub(super) leads: Vec<[f64; 2]>,
    /// For each strip: where its riser's cores begin, along.
    pub(super) riser_at: Vec<f64>,
    /// For each row, across: where its boxes begin.
    pub(super) rows: Vec<f64>,
    pub(super) size: ScenePoint,
}

impl Layout<'_> {
    pub(super) fn grid(&self) -> Grid {
        let metrics = &self.metrics;
        let placing = &self.placing;
        let column_count = placing.columns.len();
        let risers = placing.risers(&self.boxes);
        let mut gaps = vec![[metrics.gap; 2]; column_count];
        let mut leads = vec![[0.0f64; 2]; column_count];
        let mut widths = vec![0.0f64; column_count];
        for number in 0..self.boxes.len() {
            let (column, strip) = placing.spots[number];
            let strip = &placing.strips[strip];
            widths[column] = widths[column].max(self.box_length(number));
            let Some((length, _)) = self.boxes[number].length else { continue };
            let side = usize::from(strip.direction == Direction::Back);
            let [name, cores] = match self.is_across() {
                true => [TextSize::Middle.width(&self.length_name(length)), self.core_names_width(length)],
                false => [0.0; 2],
            };
            if self.hangs(number) {
                leads[column][side] = leads[column][side].max(metrics.lead).max(cores + 8.0);
                widths[column] = widths[column].max(name);
            } else {
                gaps[column][side] = gaps[column][side].max(name.max(cores) + 12.0);
            }
        }
        let begins_band = |column: usize| column == 0 || placing.columns[column] != placing.columns[column - 1];
        // A location is no narrower than its name.
        if self.is_across() {
            for (band, location) in placing.bands.iter().enumerate() {
                let mut columns = (0..column_count).filter(|&column| placing.columns[column] == band);
                let Some(first) = columns.next() else { continue };
                let name = TextSize::Middle.width(&self.room_name(*location)) + 12.0;
                widths[first] = widths[first].max(name);
            }
        }
        let mut riser_at = vec![0.0; placing.strips.len()];
        let mut columns: Vec<ColumnAlong> = Vec::with_capacity(column_count);
        let mut next_riser = risers.iter().peekable();
        // Across, what no order holds back moves towards the supply. Downwards, names stand beside the strips, and each
        // column has its own part of the drawing.
        let mut behind: Vec<Vec<(usize, f64)>> = vec![Vec::new(); column_count];
        if self.is_across() {
            for ([before, column], is_written) in placing.orders(&self.boxes) {
                let gap = if is_written { gaps[before][1].max(gaps[column][0]) } else { 20.0 };
                behind[column].push((before, gap));
            }
        } else {
            for column in 1..column_count {
                behind[column].push((column - 1, gaps[column - 1][1].max(gaps[column][0])));
            }
        }
        for column in 0..column_count {
            let least = behind[column].iter().map(|&(before, gap)| columns[before].end + gap);
            let mut at = least.fold(metrics.margin, f64::max);
            let begin = at;
            if begins_band(column) {
                at += if self.is_across() { 8.0 } else { metrics.room };
            }
            let width_of = |strip: usize| {
                let (length, _) = self.boxes[placing.strips[strip].boxes[0]].length.expect("a riser is a length");
                let cores = self.network.installation().length(length).cores().len();
                (cores as f64 - 1.0) * metrics.riser_core + metrics.riser_gap
            };
            while let Some(riser) =
                next_riser.next_if(|riser| riser.column == column && riser.direction == Direction::Outward)
            {
                riser_at[riser.strip] = at + metrics.riser_gap / 2.0;
                at += width_of(riser.strip);
            }
            at += leads[column][0];
            let boxes = [at, at + widths[column]];
            at = boxes[1] + leads[column][1];
            let mut outermost_first = Vec::new();
            while let Some(riser) = next_riser.next_if(|riser| riser.column == column) {
                outermost_first.push(riser.strip);
            }
            for &strip in outermost_first.iter().rev() {
                riser_at[strip] = at + metrics.riser_gap / 2.0;
                at += width_of(strip);
            }
            if column + 1 == column_count || begins_band(column + 1) {
                at += 8.0;
            }
            columns.push(ColumnAlong { begin, boxes, end: at });
        }
        let along = columns.iter().map(|column| column.end).fold(0.0, f64::max) + metrics.margin;

        let mut heads = vec![metrics.head; placing.row_count];
        let mut heights = vec![0.0f64; placing.row_count];
        let mut tails = vec![8.0f64; placing.row_count];
        let mut first_row = vec![usize::MAX; placing.bands.len()];
        for number in 0..self.boxes.len() {
            let (column, strip) = placing.spots[number];
            let row = placing.strips[strip].row;
            let first = &mut first_row[placing.columns[column]];
            *first = (*first).min(row);
            heights[row] = heights[row].max(self.lanes_height(strip));
            if self.is_across() {
                if self.hangs(number) {
                    heads[row] = heads[row].max(metrics.head + 15.0);
                }
            } else {
                let name = TextSize::Large.width(&self.box_name(number));
                let length = self.boxes[number].length.map_or(0.0, |(length, _)| self.length_text_width(length));
                tails[row] = tails[row].max(name.max(length) + 16.0);
            }
        }
        if self.is_across() {
            for (row, head) in heads.iter_mut().enumerate() {
                if first_row.contains(&row) {
                    *head += metrics.room;
                }
            }
        }
        let mut rows = Vec::with_capacity(placing.row_count);
        let mut at = metrics.margin;
        for row in 0..placing.row_count {
            at += heads[row];
            rows.push(at);
            at += heights[row] + tails[row];
        }
        Grid { columns, gaps, leads, riser_at, rows, size: [along, at + metrics.margin] }
    }
}
