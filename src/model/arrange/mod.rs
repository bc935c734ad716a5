//! Arrangements: the run of a circuit becomes points and lengths, which are then built as any others.
//!
//! `form` says which keys of a step go together and which wiring that is; `boxes` has what a feed goes through, as a
//! table, and `lighting` the wirings of lights and switches, core by core; `supply` says what feeds the first step,
//! `passages` how far it is to another location;
//! `expansion` goes through the runs, names what they make, and finds the step again that an error in it comes from.

mod boxes;
mod expansion;
mod feed;
mod form;
mod lighting;
mod passages;
mod supply;

pub(super) use expansion::Expansion;
