//! What low readings implicate, and the next reading to take.
//!
//! # The model
//!
//! A **gap** is the insulation between two bodies of copper (see [`crate::network`]) that lie side by side somewhere:
//! two cores of one length (or a core and the main earthing terminal, where a length has no protective core), or two
//! terminals of one accessory: a point, a way or the bars of a board. An open contact is such an accessory too. Every
//! gap has an unknown leakage, a conductance of zero or more, that is the same in every reading. Leads read alike all
//! that lies between the same two bodies, so all of it is one gap.
//!
//! What leaks between copper that does not lie side by side in the file (two cables crushed together, say) is outside
//! the model. So is a fault that comes and goes, and anything wrong in the file.
//!
//! # What one reading says
//!
//! Let G be what a sound reading measured, as a conductance between its leads A and B. Copper joined to neither lead
//! floats, and current can pass from A over leaking insulation into floating copper and on to B. So G is no plain sum
//! of leakages. Two bounds hold always:
//!
//! - G is **at least** the sum of the gaps with one body on each lead. Taking away all other leakage can only lower the
//!   effective conductance (Rayleigh's monotonicity law).
//! - G is **at most** the sum of the gaps that cross a cut: any set of bodies that holds all on A, nothing on B, and
//!   whole pieces of whatever conducts or may conduct. Joining each side of the cut into one body can only raise the
//!   effective conductance, and then it is just that sum (the same law).
//!
//! Source: Doyle and Snell, *Random Walks and Electric Networks* (1984), chapter on Rayleigh's monotonicity law
//! (from memory). Where nothing floats the two sums are one, and both bounds together are the plain equation. Two cuts
//! are used for each reading: around A, and around B; of the gaps across each those only that current could take.
//!
//! "On a lead" is what conducts for sure in every position that unknown devices may have; a cut is closed under all
//! that may conduct in any. So both bounds hold whichever it was. A gap that is on the leads for some starts in one
//! reading and for the others in another is bounded by the two together, start by start.
//!
//! # From readings to findings
//!
//! With the instrument's accuracy each reading gives inequalities over the leakages of its gaps. Linear programming
//! then tells the least and the greatest leakage that each gap can have, the fewest gaps that must be faulty for the
//! readings to be as they are, and which readings contradict one another. No answer rests on the solver being right: it
//! proposes multipliers of the inequalities, and what they prove is added up here with outward rounding (weak duality).
//!
//! Two readings also contradict one another where all that conducts in the one is joined in the other, and that one
//! shows less leakage for sure (the monotonicity law once more, without any sum).
//!
//! Design not taken: joining floating copper into the equations as unknown voltages. That is exact, but no longer
//! linear, and bounds that are sure would need a global search.

mod analysis;
mod assumptions;
mod blocks;
mod contradiction;
mod each_start;
mod evidence;
mod explained;
mod faults;
mod findings;
mod gaps;
mod limits;
mod next;
mod program;
mod sums;

pub use analysis::State;
pub use assumptions::{AssumptionError, Assumptions, MegohmKilometres};
pub use evidence::LeftOut;
pub use findings::{Conflict, FaultCount, Findings, Gap, GapCounts, Member, UsedReading};
pub use gaps::GapId;
pub use limits::LocateLimits;
pub use next::{Next, NextReading, Outcome, Parting, SetTo, WhyNothing};
