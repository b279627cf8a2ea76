//! What the coach reports, once it is known which entry each word means.

use crate::knowledge::{ConditionKey, Shot};
use crate::words::{ReadBy, ToldFact};
use std::collections::BTreeSet;

/// What is reported of a condition.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum State {
    /// It is there.
    Seen,
    /// It was looked for on the tool's advice, and is there.
    Found,
    /// It was looked for and is not there.
    NotSeen,
    /// It may be there: the look was unsure or the thing slight.
    Slight,
    /// A number, and what it says: the likelihood ratio against the condition's prior.
    Measured {
        /// The value, in the unit of the condition's measure.
        value: f64,
        /// Standard deviation of its error: as stated, else the measure's.
        error_sd: f64,
        /// P(value | present) / P(value | absent).
        ratio: f64,
        /// Whether the value itself lies outside the sound range on the condition's side.
        outside: bool,
    },
    /// So many balls that showed it, out of so many that were hit.
    Counted {
        /// How many showed it.
        shown: u32,
        /// Out of how many.
        of: u32,
        /// P(count | it is there) / P(count | it is not).
        ratio: f64,
    },
    /// A bare likelihood ratio, P(report | present) / P(report | absent).
    Likelihood(f64),
}

impl State {
    /// How much more often a slight or unsure look is reported of a condition that is there than of
    /// one that is not. Common practice in eliciting soft evidence; no source. It stands well below
    /// what live and video ratings by one trained observer agree to (intraclass correlation about
    /// 0.8 in Barnett et al. 2015, J Sports Sci Med 14:147-154, abstract read), because the coach
    /// has said that this look was worse than usual.
    pub const SLIGHT_RATIO: f64 = 3.0;

    /// What shows on more than this share of the balls is a pattern, and on fewer a ball now and then.
    /// Common practice; no source.
    pub const PATTERN_FROM: f64 = 0.25;

    /// Whether the condition counts among what was seen and has to be explained.
    #[must_use]
    pub fn is_finding(self) -> bool {
        if let State::Counted { shown, of, .. } = self {
            return f64::from(shown) > Self::PATTERN_FROM * f64::from(of);
        }
        matches!(
            self,
            State::Seen | State::Found | State::Slight | State::Measured { outside: true, .. }
        )
    }

    /// Whether it was said in words, and no number was given.
    #[must_use]
    pub fn is_said(self) -> bool {
        matches!(
            self,
            State::Seen | State::Found | State::Slight | State::NotSeen
        )
    }

    /// The word for it in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            State::Seen | State::Found => "seen",
            State::NotSeen => "not-seen",
            State::Slight => "slight",
            State::Measured { .. } | State::Counted { .. } => "measured",
            State::Likelihood(_) => "likelihood",
        }
    }
}

/// One thing reported.
#[derive(Clone, Debug, PartialEq)]
pub struct Observation {
    /// The words, or the measurement, as given.
    pub given: String,
    /// The entry they mean.
    pub condition: ConditionKey,
    /// What is reported of it.
    pub state: State,
    /// How the words were read.
    pub read_by: ReadBy,
    /// What else the words may mean, each with its chance; the rest of 1 is the condition's own.
    /// Empty when the words are clear.
    pub perhaps: Vec<(ConditionKey, f64)>,
}

impl Observation {
    /// The chance that the words mean the condition, from 0 to 1.
    #[must_use]
    pub fn surety(&self) -> f64 {
        1.0 - self.perhaps.iter().map(|(_, chance)| chance).sum::<f64>()
    }

    /// Everything the words may mean, each with its chance; the condition itself comes first.
    pub fn meanings(&self) -> impl Iterator<Item = (ConditionKey, f64)> + '_ {
        std::iter::once((self.condition, self.surety())).chain(self.perhaps.iter().copied())
    }
}

/// What was said beside the findings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heard {
    /// Facts told in passing, in the order told.
    pub told: Vec<ToldFact>,
    /// Clauses that mean nothing known, in the coach's own words.
    pub not_understood: Vec<String>,
    /// Findings that are weighed in more than one way until somebody says which.
    pub open: Vec<Open>,
    /// Numbers that were read from words, each quantity with its value, whatever they say.
    pub numbers: Vec<(String, f64)>,
    /// The shots that the clubs named may play, those of all notes; empty where no club was named.
    pub shots: BTreeSet<Shot>,
    /// How many notes were read.
    pub notes: usize,
}

impl Heard {
    /// Whether it depends on the hand that the student plays with what was seen.
    #[must_use]
    pub fn wants_hand(&self) -> bool {
        self.open.iter().any(|open| open.wants_hand)
    }
}

/// Words that are left open, and what would settle them.
#[derive(Clone, Debug, PartialEq)]
pub struct Open {
    /// The words.
    pub given: String,
    /// What they may mean, best first; at least two.
    pub candidates: Vec<ConditionKey>,
    /// Whether knowing the hand would settle it.
    pub wants_hand: bool,
}

/// One observation a condition: the first of those that say the same, seen before slight.
pub(super) fn distinct(observations: &[Observation]) -> Vec<Observation> {
    let mut kept: Vec<Observation> = Vec::new();
    for observation in observations {
        match kept
            .iter_mut()
            .find(|k| k.condition == observation.condition)
        {
            // Found counts for more than seen, and seen for more than slight.
            Some(earlier) if observation.state == State::Found => earlier.state = State::Found,
            Some(earlier) if observation.state == State::Seen && earlier.state == State::Slight => {
                earlier.state = State::Seen;
            }
            Some(_) => {}
            None => kept.push(observation.clone()),
        }
    }
    kept
}
