//! What is under each terminal, box by box.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::model::{BoardId, End, Installation, Nearest, PointId, TerminalRef, WayId, cut};

/// A core under a terminal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct CoreUnder {
    /// Its length.
    pub length: String,
    /// Its name.
    pub core: String,
    /// What the length runs to from here.
    pub runs_to: String,
    /// The terminal at its other end; none where that is connected to nothing.
    pub to: Option<String>,
}

/// A terminal and the cores under it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct TerminalCores {
    /// Its name in the box.
    pub terminal: String,
    /// The cores.
    pub cores: Vec<CoreUnder>,
    /// The other terminals of the box that a link joins it to.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub linked_to: Vec<String>,
}

/// One box: a point, or a board.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct BoxTerminations {
    /// The point or the board.
    #[serde(rename = "box")]
    pub id: String,
    /// The kind of point; `board` for a board.
    pub kind: String,
    /// Where it is: the id of a location.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub location: Option<String>,
    /// The plate that it is on.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub plate: Option<String>,
    /// The terminals of a point; of a board those with a core under them.
    pub terminals: Vec<TerminalCores>,
    /// Cores that end here under no terminal.
    pub loose: Vec<CoreUnder>,
}

/// What is under each terminal, box by box: what one holds beside the open box.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
#[must_use]
pub struct Terminations {
    /// The format of this data; 1.
    pub format: u32,
    /// The boards, then the points, in the order of the file.
    pub boxes: Vec<BoxTerminations>,
}

/// No point or board has this id.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("there is no point or board `{name}`")]
#[non_exhaustive]
pub struct UnknownBox {
    /// The name given, cut short where it is long.
    pub name: String,
    /// The nearest known name.
    pub nearest: Option<String>,
}

impl UnknownBox {
    /// What to do about it.
    pub fn mend(&self) -> String {
        match &self.nearest {
            Some(nearest) => format!("write `{nearest}`, if that is meant"),
            None => "write the id of a point or of a board".to_owned(),
        }
    }
}

/// A box, as an end of lengths.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
enum BoxId {
    Board(BoardId),
    Point(PointId),
}

impl BoxId {
    fn at(end: End) -> BoxId {
        match end {
            End::Way(way) => BoxId::Board(way.board),
            End::Incoming(board) => BoxId::Board(board),
            End::Point(point) => BoxId::Point(point),
        }
    }
}

impl Terminations {
    /// Of the whole installation. Time and space linear in it.
    ///
    /// ```
    /// use lengthwise::wiring::Terminations;
    /// use lengthwise::{Input, read_installation};
    ///
    /// let installation = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
    /// let switch = &Terminations::of(&installation).boxes[1];
    /// let under: Vec<&str> = switch.terminals[0].cores.iter().map(|core| core.core.as_str()).collect();
    /// assert_eq!((switch.id.as_str(), switch.terminals[0].terminal.as_str(), under), ("S1", "COM", vec!["brown"]));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(installation: &Installation) -> Terminations {
        let boards = installation.boards().map(|(board, _)| BoxId::Board(board));
        let points = installation.points().map(|(point, _)| BoxId::Point(point));
        Terminations::of_boxes(installation, boards.chain(points).collect())
    }

    /// Of the points and boards with these ids, in the order given. Time and space linear in the installation.
    ///
    /// # Errors
    ///
    /// Every id that is neither a point's nor a board's.
    pub fn at(installation: &Installation, ids: &[impl AsRef<str>]) -> Result<Terminations, Vec<UnknownBox>> {
        let mut boxes = Vec::new();
        let mut unknown = Vec::new();
        for id in ids.iter().map(AsRef::as_ref) {
            let point = installation.point_by_id(id).map(BoxId::Point);
            match point.or_else(|| installation.board_by_id(id).map(BoxId::Board)) {
                Some(found) => boxes.push(found),
                None => {
                    let points = installation.points().map(|(_, row)| row.id());
                    let known = points.chain(installation.boards().map(|(_, row)| row.id()));
                    let nearest = Nearest::default().among(id, known).map(str::to_owned);
                    unknown.push(UnknownBox { name: cut(id), nearest });
                }
            }
        }
        if unknown.is_empty() { Ok(Terminations::of_boxes(installation, boxes)) } else { Err(unknown) }
    }

    fn of_boxes(installation: &Installation, boxes: Vec<BoxId>) -> Terminations {
        let mut under: FxHashMap<TerminalRef, Vec<CoreUnder>> = FxHashMap::default();
        let mut loose: FxHashMap<BoxId, Vec<CoreUnder>> = FxHashMap::default();
        for (_, length) in installation.lengths() {
            for core in length.cores() {
                for (here, there) in [(0, 1), (1, 0)] {
                    let row = CoreUnder {
                        length: length.id().to_owned(),
                        core: core.name().to_owned(),
                        runs_to: installation.end_name(length.ends()[there]),
                        to: core.ends()[there].map(|terminal| installation.terminal_name(terminal)),
                    };
                    match core.ends()[here] {
                        Some(terminal) => under.entry(terminal).or_default().push(row),
                        None => loose.entry(BoxId::at(length.ends()[here])).or_default().push(row),
                    }
                }
            }
        }
        let row = |id: BoxId| BoxTerminations {
            loose: loose.get(&id).cloned().unwrap_or_default(),
            ..match id {
                BoxId::Board(board) => of_board(installation, board, &under),
                BoxId::Point(point) => of_point(installation, point, &under),
            }
        };
        Terminations { format: 1, boxes: boxes.into_iter().map(row).collect() }
    }
}

fn of_board(
    installation: &Installation,
    board: BoardId,
    under: &FxHashMap<TerminalRef, Vec<CoreUnder>>,
) -> BoxTerminations {
    let row = installation.board(board);
    let conductors = installation.phases().conductors(true);
    let incoming = conductors.into_iter().map(|conductor| TerminalRef::Incoming { board, conductor });
    let ways = (0u32..).zip(row.ways()).flat_map(|(way, row)| {
        row.conductors().map(move |conductor| TerminalRef::Way { way: WayId { board, way }, conductor })
    });
    let terminals = incoming.chain(ways).filter_map(|terminal| {
        let cores = under.get(&terminal)?.clone();
        Some(TerminalCores { terminal: installation.terminal_name(terminal), cores, linked_to: Vec::new() })
    });
    BoxTerminations {
        id: row.id().to_owned(),
        kind: "board".to_owned(),
        location: row.location().map(|location| installation.location(location).id().to_owned()),
        plate: None,
        terminals: terminals.collect(),
        loose: Vec::new(),
    }
}

fn of_point(
    installation: &Installation,
    point: PointId,
    under: &FxHashMap<TerminalRef, Vec<CoreUnder>>,
) -> BoxTerminations {
    let row = installation.point(point);
    let kind = installation.kind(row.kind());
    let count = (kind.terminals.len() + row.extra_terminals.len()) as u16;
    let name = |terminal: u16| installation.point_terminal_name(point, terminal).to_owned();
    let terminals = (0..count).map(|terminal| TerminalCores {
        terminal: name(terminal),
        cores: under.get(&TerminalRef::Point { point, terminal }).cloned().unwrap_or_default(),
        linked_to: row
            .links
            .iter()
            .filter(|link| link.contains(&terminal))
            .flat_map(|link| link.iter().filter(|&&other| other != terminal).map(|&other| name(other)))
            .collect(),
    });
    // Every point has an earth terminal here, whether or not there is one on the wall.
    let is_there = |row: &TerminalCores| row.terminal != "E" || !row.cores.is_empty() || !row.linked_to.is_empty();
    BoxTerminations {
        id: row.id().to_owned(),
        kind: kind.name().to_owned(),
        location: row.location().map(|location| installation.location(location).id().to_owned()),
        plate: row.plate().map(|plate| installation.plate(plate).to_owned()),
        terminals: terminals.filter(is_there).collect(),
        loose: Vec::new(),
    }
}
