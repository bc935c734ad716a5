//! Which installation is which.

use std::fmt;
use std::sync::atomic::{AtomicU64, Ordering};

/// Tells one built installation from any other of the same process, for ids mean nothing in another one.
///
/// It depends on what was built before and so is no part of anything that is compared or written, not even for
/// debugging.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) struct Stamp(u64);

impl Stamp {
    /// A stamp like no other.
    pub(crate) fn new() -> Stamp {
        static NEXT: AtomicU64 = AtomicU64::new(0);
        Stamp(NEXT.fetch_add(1, Ordering::Relaxed))
    }
}

impl fmt::Debug for Stamp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Stamp")
    }
}
