//! Whether something is still as it was.

use std::sync::atomic::{AtomicU64, Ordering};

/// Stands for how something is: given anew with each change and never twice, so that what has the same version is the
/// same. A copy keeps it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Version(u64);

impl Version {
    pub(crate) fn new() -> Version {
        static NEXT: AtomicU64 = AtomicU64::new(0);
        Version(NEXT.fetch_add(1, Ordering::Relaxed))
    }
}
