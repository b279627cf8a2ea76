//! From causes to a lesson: choose, order, dose; and the practice until the next lesson.
//!
//! [`make_plan`] takes a diagnosis and what the day allows, and gives back one [`Plan`]. It picks at
//! most two priorities (one change; a set-up change may ride along) and the drills that together are
//! expected to clear most of what was seen, weighed exactly:
//!
//! ```text
//! e_P      = 1 - (1 - m_1) * PRODUCT over further rungs r of (1 - m_r / 2)
//! expected = e_A (1 - e_B) clears(A) + (1 - e_A) e_B clears(B) + e_A e_B clears(A, B)
//! ```
//!
//! where `m_r` is the largest effect that a chosen drill on rung `r` has on priority P, `m_1` the
//! largest of these, and `clears` the share of what was seen that would be gone with a set of starts
//! removed. Ties go to the plan that takes less time, then to fewer drills, then to smaller ids.
//! Nothing here computes a chance of its own: `clears` comes from the diagnosis.
//!
//! What is never in a plan: a drill that makes worse what is likely there, one that must not be done
//! with a pain or limit that was reported, one whose forerunner is not there, anything with a ball
//! while something hurts. The [`rules`] say what the order, the doses and the practice rest on.

mod answer;
mod choose;
mod fit;
mod frame;
mod lay_out;
mod left_out;
mod make;
mod options;
#[cfg(test)]
mod oracle;
mod order;
mod practice;
pub mod rules;
mod value;

pub use crate::measure::wilson;
pub use answer::{
    Block, LeftOut, MoreTime, NotBefore, Nothing, OutOfReach, Plan, Practice, Priority, Referral,
    Session, Step,
};
pub use fit::Unfit;
pub use frame::Frame;
pub use make::{FIELD, SECOND_ADDS, make_plan};
pub use options::{LONGEST_LESSON, PlanError, PlanOptions, SHORTEST_LESSON, Sessions};
pub use order::lesson_order;
pub use rules::{Criterion, PracticeOrder, RULES, Rule};
pub use value::FURTHER_RUNG;
