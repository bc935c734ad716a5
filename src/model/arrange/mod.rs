//! Arrangements: the run of a circuit becomes points and lengths, which are then built as any others.
//!
//! `form` says which keys of a step go together and which wiring that is; `boxes` has what a feed goes through, as a
//! table, and `lighting` the wirings of lights and switches, core by core;
//! `expansion` goes through the runs, names what they make, and finds the step again that an error in it comes from.

mod boxes;
mod expansion;
mod form;
mod lighting;
mod passages;

pub(super) use expansion::Expansion;
