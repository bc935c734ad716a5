//! A page that does the whole job in a browser, in one file.
//!
//! It asks the engine, which is the library as a module for browsers, the questions of [`crate::session`], and works out
//! nothing by itself. What is entered is kept in the browser.

mod whole;

pub use whole::{PageFiles, page_of};
