//! All tests of the public API, in one binary: fixtures, laws, and an oracle that shares no code with the library.

mod agreement;
mod answers;
mod asked;
mod boards;
#[cfg(feature = "cli")]
mod command;
mod connected;
mod drafts;
#[cfg(feature = "draw")]
mod draw;
mod engine;
mod estimate;
mod extras;
#[cfg(feature = "cli")]
mod growth;
#[cfg(feature = "cli")]
mod hostile;
mod house;
mod invalid;
mod judge;
mod large;
mod laws;
mod limits;
mod live;
mod locate;
mod oracle;
mod prepare;
mod prepare_isolation;
mod proofs;
mod readings;
mod readme;
mod reasons;
mod relief;
mod rules;
mod runs;
#[cfg(feature = "cli")]
mod session;
mod small;
mod source;
mod strategy;
mod tables;
mod two_people;
mod untestable;
mod volts;
mod watched;
mod wiring;
