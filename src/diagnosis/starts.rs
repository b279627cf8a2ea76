//! The starts, from the rows of what was reported: two layers, answered exactly.
//!
//! Under an origin for every fault and cause ("C is a place to work on in this student") stands every
//! finding, itself included. With `b_X` for how common X is and `o_C` for the prior of the origin,
//!
//! ```text
//! o_C             = max(0.1, max over what was found of row_X(C) b_X / 0.97)     at most 0.97
//! strength(C -> X) = row_X(C) * b_X / o_C                                        at most 0.97
//! leak of X        = b_X * max(1 - SUM row_X, 0.02)
//! ```
//!
//! so that for one finding alone the network gives its row back, and for several together it weighs how
//! well each origin explains all of them. The prior is the same for every origin: how often C is the
//! place to work on is in the rows already, and a prior of its own would count it twice, against common
//! causes. It decides only how strongly findings that share a cause pull together. Where a row asks for
//! more of C than that, `o_C` is raised to what the row needs.

use super::observation::{Observation, State};
use super::student::Student;
use crate::causal::{Rows, commonness};
use crate::inference::{
    Evidence, Node, Origin, Origins, OriginsAnswer, OriginsError, Report, shake,
};
use crate::knowledge::{ConditionKey, ConditionKind, KnowledgeBase};
use std::collections::BTreeMap;

/// No strength in the two layers passes this, so that no observation is ever impossible.
const STRONGEST: f64 = 0.97;

/// The prior of an origin. Priors from 0.1 to 0.5 order the library's own cases about equally well; a
/// lower one lets two findings with one cause in common pull harder.
pub(super) const PRIOR: f64 = 0.1;

/// The least that is left for "something that the library does not know", as a share of a finding.
const LEAST_UNKNOWN: f64 = 0.02;

/// Entries of a row below this, one's own share aside, are left to what is not known: they move nothing
/// that anybody sees, and with them fifteen findings would take a second.
const LEAST_ENTRY: f64 = 0.004;

/// The same for all but the few starts that contend, where rows are shaken and where many findings are asked
/// about once more: what moves such an entry by half is less than the shaking of theirs, and with it forty
/// redraws of fifteen findings would take a quarter of a second.
const LEAST_SHAKEN: f64 = 0.02;

/// A row as it is for this student.
pub(super) type StudentRow = Vec<(ConditionKey, f64)>;

/// One thing reported, with everything that the words may mean.
#[derive(Clone, Debug)]
struct Reported {
    key: ConditionKey,
    report: Report,
    finding: bool,
    /// Each meaning with its chance, how common it is and what stands behind it.
    meanings: Vec<(f64, f64, StudentRow)>,
}

/// What was reported, with the rows that it brings in.
#[derive(Clone, Debug)]
pub(super) struct Starts<'a> {
    base: &'a KnowledgeBase,
    reported: Vec<Reported>,
    ruled_out: Vec<ConditionKey>,
    weights: Vec<f64>,
}

impl<'a> Starts<'a> {
    /// `weight` is what a finding counts for.
    pub(super) fn new(
        base: &'a KnowledgeBase,
        rows: &Rows,
        student: &Student<'_>,
        observations: &[Observation],
        weight: &dyn Fn(ConditionKey) -> f64,
    ) -> Self {
        let reported = observations
            .iter()
            .map(|observation| {
                let meanings = observation
                    .meanings()
                    .map(|(meant, chance)| {
                        let mut row = student.row(rows, meant, Some(observation.state));
                        row.retain(|entry| entry.0 == meant || entry.1 >= LEAST_ENTRY);
                        (chance, commonness(base, meant), row)
                    })
                    .collect();
                Reported {
                    key: observation.condition,
                    report: report(observation.state),
                    finding: observation.state.is_finding(),
                    meanings,
                }
            })
            .collect();
        let ruled_out = observations
            .iter()
            .filter(|o| o.state == State::NotSeen)
            .map(|o| o.condition)
            .collect();
        Self {
            base,
            reported,
            ruled_out,
            weights: observations.iter().map(|o| weight(o.condition)).collect(),
        }
    }

    /// The same without entries too small to matter, those of the starts in `of` aside; they are left to what
    /// is not known.
    pub(super) fn lean(&self, of: &[ConditionKey]) -> Self {
        let mut lean = self.clone();
        for (.., row) in lean.reported.iter_mut().flat_map(|r| &mut r.meanings) {
            row.retain(|entry| entry.1 >= LEAST_SHAKEN || of.contains(&entry.0));
        }
        lean
    }

    /// How many findings there are.
    pub(super) fn findings(&self) -> usize {
        self.reported
            .iter()
            .filter(|reported| reported.finding)
            .count()
    }

    /// The lean ones with every entry moved by normal noise of standard deviation `sd` on its log-odds, each
    /// row brought back to its sum.
    pub(super) fn shaken<R: rand::Rng>(&self, sd: f64, rng: &mut R) -> Self {
        let mut shaken = self.clone();
        for (.., row) in shaken.reported.iter_mut().flat_map(|r| &mut r.meanings) {
            let before: f64 = row.iter().map(|entry| entry.1).sum();
            for entry in row.iter_mut().filter(|entry| entry.1 < 1.0) {
                entry.1 = shake(entry.1, sd, rng);
            }
            let after: f64 = row.iter().map(|entry| entry.1).sum();
            row.iter_mut().for_each(|entry| entry.1 *= before / after);
        }
        shaken
    }

    /// The two layers for what was reported.
    pub(super) fn network(&self) -> Result<Layers, OriginsError> {
        let mut priors: BTreeMap<ConditionKey, f64> = BTreeMap::new();
        for reported in &self.reported {
            for (chance, common, row) in &reported.meanings {
                for (cause, share) in row {
                    let open = self.base.condition(*cause).kind != ConditionKind::Outcome
                        && !self.ruled_out.contains(cause);
                    if !open {
                        continue;
                    }
                    let prior = priors.entry(*cause).or_insert(PRIOR);
                    if reported.finding {
                        *prior = prior
                            .max(chance * share * common / STRONGEST)
                            .min(STRONGEST);
                    }
                }
            }
        }
        let origins: Vec<ConditionKey> = priors.keys().copied().collect();
        let mut model = Origins::new(priors.values().copied().collect())?;
        let mut evidence = Evidence::new();
        let mut findings = Vec::new();
        let mut weights = Vec::new();
        for (reported, weight) in self.reported.iter().zip(&self.weights) {
            // Words that may mean several things stand below everything that is behind any of them.
            let mut leak = 0.0;
            let mut strengths: BTreeMap<ConditionKey, f64> = BTreeMap::new();
            for (chance, common, row) in &reported.meanings {
                let known: f64 = row.iter().map(|(_, share)| share).sum();
                leak += chance * common * (1.0 - known).max(LEAST_UNKNOWN);
                for (cause, share) in row {
                    if let Some(prior) = priors.get(cause) {
                        *strengths.entry(*cause).or_default() += chance * share * common / prior;
                    }
                }
            }
            let sources: Vec<(Origin, f64)> = strengths
                .into_iter()
                .filter(|(_, strength)| *strength > 0.0)
                .filter_map(|(cause, strength)| {
                    let origin = origins.binary_search(&cause).ok()?;
                    Some((Origin(origin), strength.min(STRONGEST)))
                })
                .collect();
            let node = model.add(leak, &sources)?;
            // One condition is reported once; that was settled before.
            let _ = evidence.add(node, reported.report);
            findings.push(reported.key);
            if reported.finding {
                weights.push((node, *weight));
            }
        }
        Ok(Layers {
            model,
            evidence,
            origins,
            findings,
            weights,
        })
    }

    /// The conditioned share of a start behind each finding, in the order reported; what words may mean
    /// is weighed by its chance.
    pub(super) fn shares(&self, start: ConditionKey) -> Vec<(ConditionKey, f64)> {
        let of = |reported: &Reported| {
            let each = reported.meanings.iter().map(|(chance, _, row)| {
                let entry = row.iter().find(|entry| entry.0 == start);
                entry.map_or(0.0, |entry| chance * entry.1)
            });
            (reported.key, each.sum())
        };
        self.reported.iter().filter(|r| r.finding).map(of).collect()
    }

    /// The prior of a start that was not ruled out; else 0.
    pub(super) fn prior_unless_ruled_out(&self, start: ConditionKey) -> f64 {
        if self.ruled_out.contains(&start) {
            0.0
        } else {
            self.prior(start)
        }
    }

    /// The prior of a start, given what was found.
    pub(super) fn prior(&self, start: ConditionKey) -> f64 {
        self.reported
            .iter()
            .filter(|reported| reported.finding)
            .flat_map(|reported| &reported.meanings)
            .flat_map(|(chance, common, row)| {
                let entries = row.iter().filter(|entry| entry.0 == start);
                entries.map(move |entry| chance * entry.1 * common / STRONGEST)
            })
            .fold(PRIOR, f64::max)
            .min(STRONGEST)
    }
}

/// What a state says to the two layers.
fn report(state: State) -> Report {
    match state {
        State::Seen | State::Found => Report::Present,
        State::NotSeen => Report::Absent,
        State::Slight => Report::Likelihood(State::SLIGHT_RATIO),
        State::Measured { ratio, .. } | State::Counted { ratio, .. } | State::Likelihood(ratio) => {
            Report::Likelihood(ratio)
        }
    }
}

/// Two layers with what was reported.
#[derive(Clone, Debug)]
pub(super) struct Layers {
    model: Origins,
    evidence: Evidence,
    /// The condition of each origin, sorted.
    origins: Vec<ConditionKey>,
    /// The condition of each node.
    findings: Vec<ConditionKey>,
    weights: Vec<(Node, f64)>,
}

/// What the two layers say of one start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Figures {
    /// P(it is where it starts | everything reported).
    pub starts_here: f64,
    /// Share of what was seen that would not be there had it not started.
    pub clears: f64,
}

impl Layers {
    /// Everything the two layers say.
    pub(super) fn answer(&self) -> Result<OriginsAnswer, OriginsError> {
        self.model.answer(&self.evidence, &self.weights)
    }

    /// What each of these clears; 0 for what stands behind nothing reported.
    pub(super) fn clears_of(&self, starts: &[ConditionKey]) -> Result<Vec<f64>, OriginsError> {
        let at = |key: &ConditionKey| self.origins.binary_search(key).ok().map(Origin);
        let known: Vec<Origin> = starts.iter().filter_map(at).collect();
        let given = self.model.given(&self.evidence, &self.weights)?;
        let mut clears = given.clears_of(&known)?.into_iter();
        Ok(starts
            .iter()
            .map(|key| at(key).and_then(|_| clears.next()).unwrap_or(0.0))
            .collect())
    }

    /// The figures of every start that stands behind something reported, by key.
    pub(super) fn figures(&self, answer: &OriginsAnswer) -> Vec<(ConditionKey, Figures)> {
        let figures = answer.origins.iter().map(|origin| Figures {
            starts_here: origin.posterior,
            clears: origin.clears,
        });
        self.origins.iter().copied().zip(figures).collect()
    }

    /// Findings that most likely nothing in the library explains.
    pub(super) fn unexplained(&self, answer: &OriginsAnswer) -> Vec<ConditionKey> {
        answer
            .findings
            .iter()
            .filter(|finding| finding.alone > 0.5)
            .map(|finding| self.findings[finding.finding.0])
            .collect()
    }

    /// Natural logarithm of the chance of everything reported.
    pub(super) fn ln_evidence(&self) -> Result<f64, OriginsError> {
        self.model
            .given(&self.evidence, &self.weights)?
            .ln_evidence()
    }

    /// Share of what was seen that would not be there had none of these started.
    pub(super) fn clears_together(&self, set: &[ConditionKey]) -> Result<f64, OriginsError> {
        let given = self.model.given(&self.evidence, &self.weights)?;
        let answer = given.answer()?;
        let set: Vec<Origin> = set
            .iter()
            .filter_map(|key| self.origins.binary_search(key).ok().map(Origin))
            .collect();
        given.clears_together(&answer, &set)
    }
}
