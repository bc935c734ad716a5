//! All tests of the public API, in one binary.

mod invalid;
