//! The colours of cores, by their names.

/// How a core is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct CoreColour {
    pub(super) colour: &'static str,
    /// The second colour of a two-coloured core.
    pub(super) second: Option<&'static str>,
    /// The letter code of IEC 60757.
    pub(super) code: &'static str,
}

/// The colours that IEC 60445 knows, with their codes after IEC 60757 (both from memory). Their lightness goes up in
/// steps, black, brown, blue, grey, so that they are told apart without colour too.
const COLOURS: &[(&[&str], CoreColour)] = &[
    (&["black", "bk"], plain("#141414", "BK")),
    (&["brown", "bn"], plain("#6e3d14", "BN")),
    (&["red", "rd"], plain("#c22a1f", "RD")),
    (&["orange", "og"], plain("#ea7a1a", "OG")),
    (&["yellow", "ye"], plain("#f5d328", "YE")),
    (&["green", "gn"], plain("#2e9a3a", "GN")),
    (&["blue", "bu"], plain("#3388dd", "BU")),
    (&["violet", "purple", "vt"], plain("#7c3f9e", "VT")),
    (&["grey", "gray", "gy"], plain("#b8b8b8", "GY")),
    (&["white", "wh"], plain("#ffffff", "WH")),
    (&["pink", "pk"], plain("#f0a0b4", "PK")),
    (&["turquoise", "tq"], plain("#35b8b0", "TQ")),
    (
        &["cpc", "earth", "green-yellow", "green/yellow", "gnye", "pe"],
        CoreColour { colour: "#2e9a3a", second: Some("#f5d328"), code: "GNYE" },
    ),
];

const fn plain(colour: &'static str, code: &'static str) -> CoreColour {
    CoreColour { colour, second: None, code }
}

/// How a core of this name is drawn; none where the name is no colour.
pub(super) fn colour_of(name: &str) -> Option<CoreColour> {
    let name = name.to_lowercase();
    let name = name.trim_end_matches(|c: char| c.is_ascii_digit() || c == '-');
    COLOURS.iter().find(|(names, _)| names.contains(&name)).map(|&(_, colour)| colour)
}

/// What stands for a core where there is little room: its letter code, or its name.
pub(super) fn code_of(name: &str) -> &str {
    colour_of(name).map_or(name, |colour| colour.code)
}
