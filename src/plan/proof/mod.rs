//! Why walks and operations are no fewer: certificates as data.

pub(in crate::plan) mod certificate;
pub(in crate::plan) mod cluster_proof;
pub(in crate::plan) mod exclusion;
pub(in crate::plan) mod naming;
pub(in crate::plan) mod proving;
pub(in crate::plan) mod report;
