//! How an installation is wired: what makes each load work, what is under each terminal, and what looks wrong.

mod circuits;
mod decided;
mod service;
mod terminations;
mod warnings;
mod works;

pub use decided::{Decided, DeviceAt};
pub use terminations::{BoxTerminations, CoreUnder, TerminalCores, Terminations, UnknownBox};
pub use warnings::{Warning, warnings};
pub use works::{LoadWorks, Working, Works};
