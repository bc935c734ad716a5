//! Why walks and operations are no fewer: bounds, and certificates as data.

pub(in crate::plan) mod certificate;
pub(in crate::plan) mod claims;
pub(in crate::plan) mod cluster_proof;
pub(in crate::plan) mod exclusion;
pub(in crate::plan) mod proving;
