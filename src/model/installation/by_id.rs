//! The things of an installation by their ids.

use crate::model::{
    BoardId, CircuitId, Conductor, GroupId, Installation, KindId, LengthId, LocationId, PlateId, PointId, TerminalRef,
    WayId,
};

/// Everything that has an id, each list in the order of ids.
#[derive(Clone, Debug)]
pub(crate) struct ById {
    locations: Vec<LocationId>,
    plates: Vec<PlateId>,
    boards: Vec<BoardId>,
    /// By board, then by id.
    ways: Vec<WayId>,
    circuits: Vec<CircuitId>,
    points: Vec<PointId>,
    lengths: Vec<LengthId>,
    /// By kind, then by name.
    kind_terminals: Vec<(KindId, u16)>,
    /// Further terminals of points, by point, then by name.
    extra_terminals: Vec<(PointId, u16)>,
}

impl ById {
    fn of(installation: &Installation) -> ById {
        let mut by_id = ById {
            locations: installation.locations().map(|(id, _)| id).collect(),
            plates: (0..installation.plates.len() as u32).map(PlateId).collect(),
            boards: installation.boards().map(|(id, _)| id).collect(),
            ways: installation
                .boards()
                .flat_map(|(board, row)| (0..row.ways().len() as u32).map(move |way| WayId { board, way }))
                .collect(),
            circuits: installation.circuits().map(|(id, _)| id).collect(),
            points: installation.points().map(|(id, _)| id).collect(),
            lengths: installation.lengths().map(|(id, _)| id).collect(),
            kind_terminals: (0u32..)
                .map(KindId)
                .zip(&installation.kinds)
                .flat_map(|(id, kind)| (0..kind.terminals.len() as u16).map(move |number| (id, number)))
                .collect(),
            extra_terminals: installation
                .points()
                .flat_map(|(id, point)| (0..point.extra_terminals.len() as u16).map(move |number| (id, number)))
                .collect(),
        };
        by_id.locations.sort_unstable_by_key(|&id| installation.location(id).id());
        by_id.plates.sort_unstable_by_key(|&id| installation.plate(id));
        by_id.boards.sort_unstable_by_key(|&id| installation.board(id).id());
        by_id.ways.sort_unstable_by_key(|&id| (id.board, installation.way(id).id()));
        by_id.circuits.sort_unstable_by_key(|&id| installation.circuit(id).id());
        by_id.points.sort_unstable_by_key(|&id| installation.point(id).id());
        by_id.lengths.sort_unstable_by_key(|&id| installation.length(id).id());
        by_id.kind_terminals.sort_unstable_by_key(|&place| (place.0, kind_terminal(installation, place)));
        by_id.extra_terminals.sort_unstable_by_key(|&place| (place.0, extra_terminal(installation, place)));
        by_id
    }
}

fn kind_terminal(installation: &Installation, (kind, number): (KindId, u16)) -> &str {
    &installation.kind(kind).terminals[usize::from(number)]
}

fn extra_terminal(installation: &Installation, (point, number): (PointId, u16)) -> &str {
    &installation.point(point).extra_terminals[usize::from(number)]
}

/// The one of a sorted list that has this key.
fn find<I: Copy, K: Ord>(sorted: &[I], wanted: K, key: impl FnMut(&I) -> K) -> Option<I> {
    sorted.binary_search_by_key(&wanted, key).ok().map(|place| sorted[place])
}

/// Look-ups by what files call things. Each takes time logarithmic in the number of such things; the first also sorts
/// all of the installation's ids.
///
/// # Examples
///
/// ```
/// use lengthwise::{Input, read_installation};
///
/// let landing = read_installation(Input::toml(&std::fs::read("examples/landing.toml")?))?;
/// let point = landing.point_by_id("S1").expect("it is in the file");
/// assert_eq!(landing.point(point).id(), "S1");
/// let device = landing.device_by_name("DB1/1").expect("it is in the file");
/// assert_eq!(device.positions(&landing), ["off", "on"]);
/// let terminal = landing.terminal_by_name("S1.COM").expect("it is in the file");
/// assert_eq!(landing.terminal_name(terminal), "S1.COM");
/// assert_eq!(landing.length_by_id("W9"), None);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
impl Installation {
    fn by_id(&self) -> &ById {
        self.by_id.get_or_init(|| ById::of(self))
    }

    /// The location with this id.
    pub fn location_by_id(&self, id: &str) -> Option<LocationId> {
        find(&self.by_id().locations, id, |&location| self.location(location).id())
    }

    /// The plate with this name.
    pub fn plate_by_name(&self, name: &str) -> Option<PlateId> {
        find(&self.by_id().plates, name, |&plate| self.plate(plate))
    }

    /// The board with this id.
    pub fn board_by_id(&self, id: &str) -> Option<BoardId> {
        find(&self.by_id().boards, id, |&board| self.board(board).id())
    }

    /// The way with this full name, `BOARD/WAY`.
    pub fn way_by_name(&self, name: &str) -> Option<WayId> {
        let (board, way) = name.split_once('/')?;
        find(&self.by_id().ways, (self.board_by_id(board)?, way), |&id| (id.board, self.way(id).id()))
    }

    /// The circuit with this id.
    pub fn circuit_by_id(&self, id: &str) -> Option<CircuitId> {
        find(&self.by_id().circuits, id, |&circuit| self.circuit(circuit).id())
    }

    /// The point with this id.
    pub fn point_by_id(&self, id: &str) -> Option<PointId> {
        find(&self.by_id().points, id, |&point| self.point(point).id())
    }

    /// The length with this id.
    pub fn length_by_id(&self, id: &str) -> Option<LengthId> {
        find(&self.by_id().lengths, id, |&length| self.length(length).id())
    }

    /// The group with this full name, `BOARD.GROUP`.
    pub fn group_by_name(&self, name: &str) -> Option<GroupId> {
        let (board, group) = name.split_once('.')?;
        self.group_of(self.board_by_id(board)?, group)
    }

    /// A group of a board. Time linear in the board's groups.
    pub(crate) fn group_of(&self, board: BoardId, id: &str) -> Option<GroupId> {
        let group = self.board(board).groups.iter().position(|group| group.id == id)?;
        Some(GroupId { board, group: group as u32 })
    }

    /// The terminal with this full name, as [`terminal_name`](Installation::terminal_name) writes it: `POINT.TERMINAL`,
    /// `BOARD/WAY.X`, `BOARD.in.X`, `BOARD.bus.X`, `BOARD.GROUP.X`, `BOARD.E` or `MET`.
    pub fn terminal_by_name(&self, name: &str) -> Option<TerminalRef> {
        if name == "MET" {
            return Some(TerminalRef::MainEarth);
        }
        let (owner, terminal) = name.rsplit_once('.')?;
        if owner.contains('/') {
            let way = self.way_by_name(owner)?;
            return Some(TerminalRef::Way { way, conductor: Conductor::named(terminal, self.way(way).conductors())? });
        }
        if let Some((board, part)) = owner.split_once('.') {
            let board = self.board_by_id(board)?;
            let conductor = Conductor::named(terminal, self.phases.conductors(part == "in"))?;
            return match part {
                "in" => Some(TerminalRef::Incoming { board, conductor }),
                "bus" => Some(TerminalRef::Bus { board, conductor }),
                _ => self.group_of(board, part).map(|group| TerminalRef::Group { group, conductor }),
            };
        }
        match self.point_by_id(owner) {
            Some(point) => self.point_terminal(point, terminal),
            None => {
                let board = self.board_by_id(owner)?;
                (terminal == "E").then_some(TerminalRef::EarthBar { board })
            }
        }
    }

    /// A terminal of a point: one of its kind's, or a further one of its own.
    pub(super) fn point_terminal(&self, point: PointId, name: &str) -> Option<TerminalRef> {
        let kind = self.point(point).kind;
        let of_kind = find(&self.by_id().kind_terminals, (kind, name), |&place| (place.0, kind_terminal(self, place)));
        let number = of_kind.map(|(_, number)| number).or_else(|| {
            let extra = &self.by_id().extra_terminals;
            let (_, number) = find(extra, (point, name), |&place| (place.0, extra_terminal(self, place)))?;
            Some(self.kind(kind).terminals.len() as u16 + number)
        });
        Some(TerminalRef::Point { point, terminal: number? })
    }
}
