//! Sizes, in CSS pixels, and how wide a text is taken to be.

/// Which way a drawing runs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Orientation {
    /// From the left outwards: for a desk, and for paper.
    #[default]
    Across,
    /// From the top downwards: for a phone.
    Down,
}

/// Sizes of a drawing. Along is in the direction of strips, across at right angles to that.
#[derive(Clone, Copy, Debug)]
pub(super) struct Metrics {
    /// Between two lanes.
    pub(super) lane: f64,
    /// Between two cores of a riser.
    pub(super) riser_core: f64,
    /// Between two risers.
    pub(super) riser_gap: f64,
    /// The least length of a core between two columns, along.
    pub(super) gap: f64,
    /// The length of a core from a riser to a box, along.
    pub(super) lead: f64,
    /// From the edge of a box to its first lane, across.
    pub(super) box_pad: f64,
    /// Before the boxes of a row, across, for what is written there.
    pub(super) head: f64,
    /// For the name of a location: across where a drawing runs across, else along.
    pub(super) room: f64,
    /// A contact, along.
    pub(super) contact: f64,
    /// A lamp, a coil or another such thing, along.
    pub(super) bridge: f64,
    /// From a box's edge to its contacts, along.
    pub(super) edge: f64,
    pub(super) margin: f64,
}

impl Metrics {
    pub(super) fn of(orientation: Orientation) -> Metrics {
        let across = Metrics {
            lane: 22.0,
            riser_core: 10.0,
            riser_gap: 10.0,
            gap: 44.0,
            lead: 46.0,
            box_pad: 15.0,
            head: 22.0,
            room: 24.0,
            contact: 44.0,
            bridge: 30.0,
            edge: 38.0,
            margin: 12.0,
        };
        match orientation {
            Orientation::Across => across,
            Orientation::Down => Metrics {
                lane: 20.0,
                riser_core: 8.0,
                riser_gap: 8.0,
                gap: 44.0,
                lead: 38.0,
                room: 30.0,
                box_pad: 12.0,
                head: 4.0,
                contact: 34.0,
                edge: 12.0,
                margin: 8.0,
                ..across
            },
        }
    }
}

/// A size of text, in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TextSize {
    /// Ids of boxes.
    Large,
    /// Lengths and locations.
    Middle,
    /// Cores.
    Small,
    /// Terminals.
    Least,
}

impl TextSize {
    pub(super) fn pixels(self) -> f64 {
        match self {
            TextSize::Large => 16.0,
            TextSize::Middle => 13.0,
            TextSize::Small => 11.0,
            TextSize::Least => 10.0,
        }
    }

    /// How wide a text is taken to be: 0.62 of its size a character, and 0.72 where it is bold, as ids are; as much as
    /// its size where that is no letter of an alphabet. No font is read.
    pub(super) fn width(self, text: &str) -> f64 {
        let letter = if self == TextSize::Large { 0.72 } else { 0.62 };
        let width: f64 = text.chars().map(|c| if (c as u32) < 0x2000 { letter } else { 1.0 }).sum();
        width * self.pixels()
    }
}
