//! Ids of the things of an installation, issued only by the builder.

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        ///
        /// Issued only by the builder; its order is the order of the file.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub(crate) u32);

        impl $name {
            pub(crate) fn index(self) -> usize {
                self.0 as usize
            }
        }
    )*};
}

ids! {
    /// A location of an [`Installation`](crate::model::Installation).
    LocationId;
    /// A plate: switches on one plate are one stop on a walk.
    PlateId;
    /// A board of an [`Installation`](crate::model::Installation).
    BoardId;
    /// A circuit of an [`Installation`](crate::model::Installation).
    CircuitId;
    /// A kind of point: built in, or declared by the installation.
    KindId;
    /// A point (an accessory, a load or a junction) of an [`Installation`](crate::model::Installation).
    PointId;
    /// A length of cable of an [`Installation`](crate::model::Installation).
    LengthId;
}

/// One way of one board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WayId {
    pub(crate) board: BoardId,
    pub(crate) way: u32,
}

/// One group of ways behind one residual-current device, with a neutral bar of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct GroupId {
    pub(crate) board: BoardId,
    pub(crate) group: u32,
}

impl WayId {
    /// The board that the way belongs to.
    pub fn board(self) -> BoardId {
        self.board
    }
}

impl GroupId {
    /// The board that the group belongs to.
    pub fn board(self) -> BoardId {
        self.board
    }
}
