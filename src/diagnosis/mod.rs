//! From observations to ranked root causes, with reasons, next looks and doubts.
//!
//! Two kinds of knowledge meet here. What is usually **behind** each finding orders the causes
//! ([`RankedBy::Shares`]); the **web** of links says how it comes about, what holding a link right
//! would buy, and what to look at next. A library without `behind` is ranked by its web alone.

mod agreement;
mod answer;
mod cases;
mod diagnose;
mod impact;
mod makes_likely;
mod observation;
mod observe;
mod ranking;
mod settle;
mod web;

pub use crate::words::ReadBy;
pub use agreement::{Agreement, agreement};
pub use answer::{AtOdds, Diagnosis, Explanation, NextLook, RankedBy, RankedCause};
pub use cases::{CaseVerdict, run_cases};
pub use diagnose::{Asked, ClearsTogether, DiagnosisError, Effort, clears_together, diagnose};
pub use impact::{
    ImpactFinding, ImpactFindings, impact_findings, impact_observations, quantities, shown_by,
};
pub use makes_likely::makes_likely;
pub use observation::{Observation, State};
pub use observe::{MOST_REPORTED, MOST_WORDS, Reported, Trouble, observe};
