//! From observations to ranked root causes, with reasons, next looks and doubts.
//!
//! One model: the **row** of each finding says what usually stands behind it ([`crate::causal::Rows`]),
//! changed by what is known of this student; two layers over the rows order the starts; the walk up the
//! links gives the chains and what lies on the way. docs/model.md has the mathematics.

mod answer;
mod asked;
mod body;
mod cases;
mod checkup;
mod diagnose;
mod hearing;
mod impact;
mod looks;
mod makes_likely;
mod model;
mod observation;
mod observe;
mod pairs;
mod refused;
mod reported;
mod rows_check;
mod settle;
mod starts;
mod student;

pub use crate::words::ReadBy;
pub use answer::{
    AccountsFor, Behind, Chain, Diagnosis, NextLook, RankedCause, Standing, WouldChange,
};
pub use asked::{Asked, Effort};
pub use body::complaints;
pub use cases::{CaseVerdict, run_cases};
pub use checkup::{Answer, CheckUp};
pub use diagnose::{ClearsTogether, DiagnosisError, best_remedy, clears_together, diagnose};
pub use impact::{
    ImpactFinding, ImpactFindings, impact_findings, impact_observations, quantities, shown_by,
};
pub use makes_likely::makes_likely;
pub use observation::{Heard, Observation, Open, State};
pub use observe::observe;
pub use pairs::told_fact;
pub use refused::{MOST_NOTE_WORDS, MOST_REPORTED, MOST_TYPED_RATIO, Malformed, Pair, Trouble};
pub use reported::Reported;
pub use rows_check::{Apart, RowNotes, row_notes};
