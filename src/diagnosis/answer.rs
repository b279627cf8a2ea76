//! What a diagnosis says: one type, which every room that shows it reads.

use super::observation::Observation;
use crate::knowledge::{ConditionKey, DrillKey, Shot};

/// Which knowledge the order of the causes comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RankedBy {
    /// What good teachers end up working on when they see the findings (`behind` in the library),
    /// as a two-layer network of origins and findings.
    Shares,
    /// The web of links alone; used when nothing that was seen says what is behind it.
    Web,
}

impl RankedBy {
    /// The word for it in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            RankedBy::Shares => "shares",
            RankedBy::Web => "web",
        }
    }
}

/// How a chain of links explains one finding.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// What was seen.
    pub finding: ConditionKey,
    /// Every condition from the cause to the finding, both included. Two when the library knows
    /// that one is behind the other but has no chain between them.
    pub conditions: Vec<ConditionKey>,
    /// The sentence of each link, in order, where the library has one.
    pub because: Vec<Option<String>>,
    /// P(this finding would not be there had the cause not started | everything reported).
    pub clears: f64,
}

/// A candidate root cause.
#[derive(Clone, Debug, PartialEq)]
pub struct RankedCause {
    /// The condition.
    pub condition: ConditionKey,
    /// P(present | everything reported).
    pub probability: f64,
    /// P(it is an origin, not handed down from upstream | everything reported).
    pub starts_here: f64,
    /// Share of what was seen that would not be there had it not started; from 0 to 1.
    pub clears: f64,
    /// Share of what was seen that would not be there while it is held absent; from 0 to 1.
    pub clears_while_held: f64,
    /// How well the best remedy in the library works on it; one half when there is none.
    pub effect: f64,
    /// The best remedy.
    pub best_remedy: Option<DrillKey>,
    /// `clears * effect`; what the list is ordered by.
    pub worth: f64,
    /// How it explains each finding it bears on, the one it does most for first.
    pub explanations: Vec<Explanation>,
    /// Whether the next in the list is too close behind to call.
    pub too_close_to_next: bool,
    /// Whether a remedy for it treats a link in the middle rather than the start: it buys a lot for
    /// as long as it is held, and little of it lasts.
    pub treats_a_link: bool,
}

/// Something worth looking at next.
#[derive(Clone, Debug, PartialEq)]
pub struct NextLook {
    /// The condition to look for.
    pub condition: ConditionKey,
    /// Expected drop in uncertainty about the leading causes, in bits.
    pub bits: f64,
    /// The leading causes that seeing it would speak for: those that it is, or that lead to it.
    pub raises: Vec<ConditionKey>,
}

/// Whether the observations go together.
#[derive(Clone, Debug, PartialEq)]
pub struct AtOdds {
    /// log [ product of P(e_i) / P(E) ]; above 0 they do not go together.
    pub score: f64,
    /// The observation whose reversal would help most, when the score is above 0.
    pub suspect: Option<ConditionKey>,
}

/// The whole answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnosis {
    /// What was reported, in the order given.
    pub observations: Vec<Observation>,
    /// The shot the lesson is about.
    pub shot: Option<Shot>,
    /// Pains among what was reported; they come before everything else.
    pub pains: Vec<ConditionKey>,
    /// Candidate root causes, largest worth first, ties by id.
    pub causes: Vec<RankedCause>,
    /// What to look at next, cheapest look first among those that tell about as much.
    pub next_looks: Vec<NextLook>,
    /// Findings that most likely started by themselves, as far as the library knows.
    pub unexplained: Vec<ConditionKey>,
    /// Whether the observations go together.
    pub at_odds: AtOdds,
    /// Share of redraws of the library's strengths in which the first cause stays first.
    pub firmness: Option<f64>,
    /// Which knowledge the order comes from.
    pub ranked_by: RankedBy,
    /// Whether the web's figures were computed exactly.
    pub exact: bool,
    /// Largest standard error among the figures shown; 0 when exact.
    pub standard_error: f64,
    /// Draws made by the sampling engine; 0 when exact.
    pub draws: usize,
    /// Effective share of those draws; 1 when exact.
    pub effective_share: f64,
}
