//! What to do about each error of an installation or a test set.

use super::error::{ModelFault, NotOperable, Quantity};
use super::names::{Named, either, list};
use crate::model::installation::built_in_names;

impl ModelFault {
    /// What to do next.
    pub fn mend(&self) -> String {
        match self {
            ModelFault::BadName { what, .. } => {
                if matches!(what, Named::Terminal | Named::Core | Named::Position) {
                    "write 1 to 32 letters, digits and `_`".to_owned()
                } else {
                    "write 1 to 64 letters, digits, `_` and `-`".to_owned()
                }
            }
            ModelFault::ReservedName { what, reserved, .. } => {
                format!("give the {what} another name than {}", either(reserved))
            }
            ModelFault::DuplicateId { what, .. } => format!("give one of the two {what}s another id"),
            ModelFault::SharedId { .. } => {
                "give one of them another id: boards, points and declared kinds share none".to_owned()
            }
            ModelFault::BuiltInKind { .. } => "give the declared kind an id of its own".to_owned(),
            ModelFault::Unknown { what, name, nearest } => match (nearest, what) {
                (Some(nearest), _) => format!("write `{nearest}` if that is meant, or add the {what} `{name}`"),
                (None, Named::Device) => {
                    "name a device as `BOARD.main`, `BOARD.GROUP`, `BOARD/WAY` or by its point's id".to_owned()
                }
                (None, Named::Kind) => {
                    let kinds: Vec<&str> = built_in_names().filter(|name| !name.starts_with("selector-")).collect();
                    format!(
                        "write a built-in kind ({}, selector-3 to selector-12), or declare this one with `[[kind]]`",
                        kinds.join(", ")
                    )
                }
                (None, _) => format!("add the {what}, or name one that is there"),
            },
            ModelFault::NotAWay { .. } => "write the board's id, `/` and the way's id, as in `DB1/3`".to_owned(),
            ModelFault::NotAnEnd { name, is_board: true } => {
                format!("write `{name}.in` for its incoming side, or `{name}/WAY` for one of its ways")
            }
            ModelFault::NotAnEnd { .. } => {
                "name a way as `BOARD/WAY`, a board's incoming side as `BOARD.in`, or a point by its id; \
                 the terminals stand in `cores`"
                    .to_owned()
            }
            ModelFault::MissingWay { .. } => {
                "add `way = \"BOARD/WAY\"`; only a selv, pelv or felv circuit may have a source of its own".to_owned()
            }
            ModelFault::WayFeedsTwo { second, .. } => {
                format!("give circuit `{second}` a way of its own, or make the two one circuit")
            }
            ModelFault::NoCircuit { .. } => {
                "write its `circuit`, or join it to a length that leads to the way of one".to_owned()
            }
            ModelFault::CircuitsMeet { at, at_id, .. } => {
                format!(
                    "write `circuit` on the points and lengths between them; if the circuits should not meet at {at} `{at_id}` \
                     (a borrowed neutral), the wiring itself is at fault"
                )
            }
            ModelFault::NoOrigin { board_count: 0 } => "add the board at the supply, with `origin = true`".to_owned(),
            ModelFault::NoOrigin { .. } => "write `origin = true` on the board at the supply".to_owned(),
            ModelFault::SecondOrigin { second, .. } => {
                format!(
                    "leave `origin = true` on the board at the supply alone; feed `{second}` by a length to its incoming side if it is a sub-board"
                )
            }
            ModelFault::NotPositive { quantity, .. } => match quantity {
                Quantity::CableSize => "give what a core measures in mm², above 0, or leave `mm2` out".to_owned(),
                Quantity::Metres => "give the distance in metres, above 0".to_owned(),
                Quantity::NominalVoltage => "give the nominal voltage in volts, above 0".to_owned(),
                Quantity::Rating => "give the rated current in ampere, above 0, or leave `rating` out".to_owned(),
                Quantity::TestVoltage => "give the test voltage in V d.c. that it was read at, above 0".to_owned(),
            },
            // An instrument shows no resistance below the least that it can tell from nothing.
            ModelFault::BadResistance { value: 0.0 } => {
                "write `<` and the lowest figure that the instrument can show, as in `\"<0.01\"`; where it read over its \
                 range, `>` and the top of that, as in `\">999\"`"
                    .to_owned()
            }
            ModelFault::BadResistance { value: 1e6.. } => {
                "write it in MΩ, not in ohms: 2.5 for 2,500,000 Ω; where the instrument read over its range, `>` and the \
                 top of that, as in `\">999\"`"
                    .to_owned()
            }
            ModelFault::BadResistance { .. } => {
                "give what the instrument showed in MΩ, above 0, or leave `megohms` out".to_owned()
            }
            ModelFault::PassageToItself { .. } => "name two locations".to_owned(),
            ModelFault::UnknownPole { lines, .. } => format!("write {}", either(lines)),
            ModelFault::EmptyList { key } => match *key {
                "poles" => "name at least one line conductor, or leave `poles` out".to_owned(),
                "system" => "name at least one of `lv`, `selv`, `pelv` and `felv`".to_owned(),
                "cores" => "name the cores of the cable, each with its two terminals".to_owned(),
                key => format!("name at least one in `{key}`, or leave the key out"),
            },
            ModelFault::EmptyText { key: "relief" } => {
                "say what can't be disconnected and why, or leave `relief` out".to_owned()
            }
            ModelFault::EmptyText { key: "because" } => "say in words why it is right so".to_owned(),
            ModelFault::EmptyText { key: "plate" } => "write a name, or leave `plate` out".to_owned(),
            ModelFault::EmptyText { key } => format!("say in words what `{key}` is"),
            ModelFault::Repeated { what, .. } => format!("leave one of them out, or name another {what}"),
            ModelFault::OwnTerminal { terminal, .. } => {
                format!("leave `{terminal}` out of `terminals`, or call the further connector something else")
            }
            ModelFault::TooMany { what: Named::Core, most, .. } => {
                format!("write a `[[length]]` for each cable that runs there, of {most} cores at most")
            }
            ModelFault::TooMany { what, .. } => format!("share the {what}s out among several"),
            ModelFault::AndMore { .. } => "mend those that are listed, then look again".to_owned(),
            ModelFault::OnlyRcbo { key, .. } => format!("leave `{key}` out, or write `device = \"rcbo\"`"),
            ModelFault::NotForKind { key, kinds, .. } => {
                format!("leave `{key}` out; only {} has it", either(kinds))
            }
            ModelFault::NothingToOperate { .. } => {
                "leave `operable` out, or name the kind of switch that it is".to_owned()
            }
            ModelFault::NothingToRemove { .. } => {
                "leave `removable` out, or name a kind that holds a lamp, a load, a coil or electronics".to_owned()
            }
            ModelFault::NothingToJoin { key, .. } => {
                format!("name two or more terminals in each entry of `{key}`, or leave the entry out")
            }
            ModelFault::UnknownTerminal { of, nearest, known, .. } => {
                let known = list(known);
                match (nearest, of) {
                    (Some(nearest), _) => format!("write `{nearest}` if that is meant; there are {known}"),
                    (None, Named::Point) => format!("there are {known}; further connectors go into its `terminals`"),
                    (None, Named::Way) => format!("there are {known}, by the way's `poles` and `neutral`"),
                    (None, _) => format!("there are {known}"),
                }
            }
            ModelFault::BridgeToItself { .. } => "name two terminals".to_owned(),
            ModelFault::LoadThatPasses => "leave out `load` or `passes`: it is the one or the other".to_owned(),
            ModelFault::ContactorNotManual { .. } => {
                "write `manual = true` if it has a lever for the hand, or leave `operable` out".to_owned()
            }
            ModelFault::UnknownPosition { known, .. } => {
                if known.is_empty() {
                    "leave it out: only a switch has positions".to_owned()
                } else {
                    format!("write {}", either(known))
                }
            }
            ModelFault::CoreToItself { .. } => {
                "name another terminal at one end, or write `-` for an end that is connected to nothing".to_owned()
            }
            ModelFault::NoPositions { .. } => {
                "leave it out: only a switch or a board's device has positions".to_owned()
            }
            ModelFault::NoMainSwitch { board } => {
                format!("leave it out, or write `main_switch = true` on board `{board}`")
            }
            ModelFault::CannotOperate { why, .. } => match why {
                NotOperable::Held => "leave it out, or leave `operable = false` out of the point".to_owned(),
                NotOperable::ContactorNotManual => {
                    "leave it out, or write `manual = true` on the contactor if it has a lever for the hand".to_owned()
                }
            },
            ModelFault::NoBridge { .. } => {
                "leave it out: only a lamp, a load, a coil or electronics can be fitted or removed".to_owned()
            }
            ModelFault::NothingToLink { .. } => {
                "leave it out, or write `passes = true` on the bridge if what it joins is one conductor in service".to_owned()
            }
            ModelFault::CannotRemove { of: Named::Group, .. } => {
                "leave it out; write `electronic = false` on the group if its device holds no electronics".to_owned()
            }
            ModelFault::CannotRemove { .. } => {
                "leave it out, or change `removable` in the installation if it can be taken out".to_owned()
            }
            ModelFault::CannotStart { why: NotOperable::ContactorNotManual, .. } => {
                "leave it out, or write `manual = true` on the contactor if it has a lever for the hand".to_owned()
            }
            ModelFault::CannotStart { stands, .. } => {
                format!("leave it out, or change `stands` in the installation if it is not found at `{stands}`")
            }
            ModelFault::StartTwice { .. } => {
                "keep one position at most, and one of `fitted` and `removed` at most".to_owned()
            }
            ModelFault::EmptyStart { .. } => "write a position, `fitted` or `removed`, or leave it out".to_owned(),
            ModelFault::ReadingNowhere { both: true } => "leave one of `circuit` and `board` out".to_owned(),
            ModelFault::ReadingNowhere { both: false } => {
                "add `circuit = \"…\"` for a reading at a way, or `board = \"…\"` for one at a busbar".to_owned()
            }
            ModelFault::EmptyLead { .. } => "name what the lead touches, joined by `+`, as in `L+N`".to_owned(),
            ModelFault::UnknownLead { known, .. } => {
                format!("write {}, or a terminal's full name as in `POINT.TERMINAL`", either(known))
            }
            ModelFault::NoNeutral { .. } => {
                "leave `N` out, or write `neutral = true` on the way if a neutral is wired from it".to_owned()
            }
            ModelFault::CircuitWithoutWay { .. } | ModelFault::SeveralSources { .. } => {
                "write the full name of a terminal, as in `POINT.TERMINAL`".to_owned()
            }
            ModelFault::Run(fault) => fault.mend(),
        }
    }
}
