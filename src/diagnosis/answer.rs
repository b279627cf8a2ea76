//! What a diagnosis says: one type, which every room that shows it reads.

use super::observation::{Heard, Observation};
use super::student::Shots;
use crate::knowledge::{ConditionKey, DrillKey, KnowledgeBase, Shot};
use crate::lesson::Lesson;
use crate::words::Complaints;

/// How often a start stands behind a finding, by its row for this student.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Behind {
    /// In fewer than one of twenty-five who show it.
    Not,
    /// In one of twenty-five or more.
    AtTimes,
    /// In one of eight or more.
    Often,
}

impl Behind {
    /// What a share comes to.
    #[must_use]
    pub fn of(share: f64) -> Self {
        if share >= 0.12 {
            Behind::Often
        } else if share >= 0.04 {
            Behind::AtTimes
        } else {
            Behind::Not
        }
    }

    /// The words for it, also in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Behind::Often => "often",
            Behind::AtTimes => "at times",
            Behind::Not => "not",
        }
    }
}

/// What a start has to do with one finding.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AccountsFor {
    /// What was seen.
    pub finding: ConditionKey,
    /// Of the students like this one who show it, the share in whom one works on the start.
    pub share: f64,
}

impl AccountsFor {
    /// The share in words.
    #[must_use]
    pub fn how(&self) -> Behind {
        Behind::of(self.share)
    }
}

/// A chain of links from a start to a finding: the heaviest way of the walk.
#[derive(Clone, Debug, PartialEq)]
pub struct Chain {
    /// Every condition from the start to the finding, both included. Two when the library knows that
    /// one is behind the other but has no links between them; one for a habit of its own.
    pub conditions: Vec<ConditionKey>,
    /// The sentence of each link, in order, where the library has one.
    pub because: Vec<Option<String>>,
}

/// A candidate root cause.
#[derive(Clone, Debug, PartialEq)]
pub struct RankedCause {
    /// The condition.
    pub condition: ConditionKey,
    /// P(it is an origin | everything reported); never below the prior by much, so read it beside the
    /// others.
    pub starts_here: f64,
    /// Share of what was seen that would not be there had it not started; from 0 to 1.
    pub clears: f64,
    /// How well the best remedy in the library works on it; one half when there is none.
    pub effect: f64,
    /// The best remedy.
    pub best_remedy: Option<DrillKey>,
    /// `clears * effect`; what the list is ordered by.
    pub worth: f64,
    /// What it has to do with each finding but itself, in the order reported.
    pub accounts_for: Vec<AccountsFor>,
    /// The chance that the walk up the links from what was seen passes or stops at it, the mean over
    /// what was seen; from 0 to 1.
    pub on_the_way: f64,
    /// Chains to what it accounts for, the finding it does most for first; one that is a part of another
    /// is left out.
    pub chains: Vec<Chain>,
}

impl RankedCause {
    /// Whether it is a link on the way more than a start: many chains pass it and few begin there.
    /// Holding it right helps for as long as it is held.
    #[must_use]
    pub fn is_link(&self) -> bool {
        self.on_the_way > 0.15 && self.clears < 0.35 * self.on_the_way
    }

    /// How likely it is there at all: because it starts here, or because what was seen leads through
    /// it; the larger of the two.
    #[must_use]
    pub fn likely_there(&self) -> f64 {
        self.starts_here.max(self.on_the_way)
    }

    /// The sentences of all chains, each once, in order.
    #[must_use]
    pub fn sentences(&self) -> Vec<&str> {
        let mut said: Vec<&str> = Vec::new();
        for because in self
            .chains
            .iter()
            .flat_map(|chain| &chain.because)
            .flatten()
        {
            if !said.contains(&because.as_str()) {
                said.push(because);
            }
        }
        said
    }
}

/// Something worth looking at next.
#[derive(Clone, Debug, PartialEq)]
pub struct NextLook {
    /// The condition to look for.
    pub condition: ConditionKey,
    /// The chance that it is the start, by the worth of the starts.
    pub chance: f64,
    /// Expected drop in uncertainty about the start, in bits.
    pub bits: f64,
    /// The leading causes that seeing it would speak for: itself, or those that often stand behind it.
    pub raises: Vec<ConditionKey>,
}

/// How far the order is settled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// The first stays first, is worth half as much again as the second, is more likely than not where
    /// it starts, and stands behind half of what was seen or more, all of it read in one way.
    Settled,
    /// The first leads.
    Leading,
    /// The first and its rival are about level, or nothing else that was seen comes from the first, or it
    /// depends on the hand what was seen.
    Level,
}

impl Standing {
    /// The word for it in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Standing::Settled => "settled",
            Standing::Leading => "leading",
            Standing::Level => "level",
        }
    }
}

/// What answers to the next looks would put another start first.
#[derive(Clone, Debug, PartialEq)]
pub struct WouldChange {
    /// Each look with whether it is there.
    pub answers: Vec<(ConditionKey, bool)>,
    /// What would then be first.
    pub first: ConditionKey,
}

/// The whole answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnosis {
    /// What was reported, in the order given.
    pub observations: Vec<Observation>,
    /// Conditions that were reported more than once, in different words; each counts once.
    pub said_twice: Vec<ConditionKey>,
    /// What was said beside the findings.
    pub heard: Heard,
    /// The lesson that was asked in, with what was told of the student.
    pub lesson: Lesson,
    /// What was said of the body; it comes before everything else.
    pub complaints: Complaints,
    /// Candidate root causes, largest worth first, ties by id.
    pub causes: Vec<RankedCause>,
    /// What to look at next, best first; at most five.
    pub next_looks: Vec<NextLook>,
    /// How far the order is settled; `None` when there is no order.
    pub standing: Option<Standing>,
    /// What the first is level with, where it is.
    pub rival: Option<ConditionKey>,
    /// What would change the first place.
    pub would_change: Vec<WouldChange>,
    /// Findings that most likely nothing in the library explains.
    pub unexplained: Vec<ConditionKey>,
    /// Pairs seen that cannot both be there, as the library has it.
    pub at_odds: Vec<(ConditionKey, ConditionKey)>,
    /// Share of redraws of the rows in which the first cause stays first.
    pub firmness: Option<f64>,
}

impl Diagnosis {
    /// The starts whose story is told: the first, and where it is level, its rival; none while it depends
    /// on the hand what was seen.
    pub fn told(&self) -> impl Iterator<Item = &RankedCause> {
        let rival = self.rival.iter();
        let rival = rival.filter_map(|key| self.causes.iter().find(|c| c.condition == *key));
        let first = self.causes.first().into_iter();
        first.chain(rival).filter(|_| !self.heard.wants_hand())
    }

    /// The shot that it is about: given, or what all that was seen belongs to.
    #[must_use]
    pub fn shot(&self, base: &KnowledgeBase) -> Option<Shot> {
        let clubs = &self.heard.shots;
        Shots::played(base, self.lesson.shot, clubs, &self.observations)
    }

    /// What was seen and has to be explained, in the order reported: the columns of the grid.
    pub fn findings(&self) -> impl Iterator<Item = ConditionKey> + '_ {
        let findings = self.observations.iter();
        findings
            .filter(|seen| seen.state.is_finding())
            .map(|seen| seen.condition)
    }
}
