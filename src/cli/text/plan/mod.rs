//! A plan as the text that is carried through the building.

mod before;
mod extras;
mod page;
mod proof;
mod rounds;
mod sheet;
mod summary;
mod untestable;

pub(in crate::cli) use page::render;
