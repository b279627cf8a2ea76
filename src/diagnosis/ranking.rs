//! The order of the causes, from what is usually behind each finding.
//!
//! The library says of each finding X in what share of the students who show it a good teacher ends
//! up working on C. Those shares make a two-layer network: an origin for every fault and cause ("C
//! is a place to work on in this student"), and under it every finding, itself included. With `b_X`
//! for how common X is and `o_C` for the prior of the origin,
//!
//! ```text
//! strength(C -> X) = share(C behind X) * b_X / o_C        own share of X: the rest of its row
//! ```
//!
//! so that for one finding alone the network gives the shares back (of its own share, a part; see
//! [`OWN_LATE`]), and for several together it weighs how well each origin explains all of them. The prior is the same for every origin: how
//! often C is the place to work on is in the shares already, and a prior of its own would count it
//! twice, against common causes. It decides only how strongly findings that share a cause pull
//! together. Where a row asks for more of C than that, `o_C` is raised to what the row needs.

use super::observation::{Observation, State};
use crate::inference::{Evidence, Node, Origin, Origins, OriginsError, Report};
use crate::knowledge::words::DEFAULT_SHARE;
use crate::knowledge::{ConditionKey, ConditionKind, KnowledgeBase, Shot, Stage};
use std::collections::BTreeMap;

/// No strength in the two layers passes this, so that no observation is ever impossible.
const STRONGEST: f64 = 0.97;

/// How much of its own share counts for something seen from the top of the swing on, when it comes
/// to naming the place to work on. Who reports an early rise knows of it already and asks what is
/// behind it; a grip or a stance that was seen is simply put right. What is left over stays with "it
/// started by itself". A judgement; docs/knowledge.md has what it rests on.
const OWN_LATE: f64 = 0.5;

/// The prior of an origin. Anything from 0.15 to 0.5 orders the library's own cases about equally
/// well; lower priors let two findings with one cause in common pull harder.
const PRIOR: f64 = 0.3;

/// The least that is left for "something that the library does not know", as a share of a finding.
const LEAST_UNKNOWN: f64 = 0.02;

/// How much of a share counts when the cause is filed under other shots than the lesson's: the
/// filing is a habit of the trade and not a law, so it is a third and not nothing.
const OTHER_SHOT: f64 = 1.0 / 3.0;

/// The two-layer network for one set of observations.
pub(super) struct Ranking {
    model: Origins,
    evidence: Evidence,
    /// Origin by condition key; `None` for outcomes and for what was looked for and not seen.
    origin: Vec<Option<Origin>>,
    /// Node of each observed condition.
    findings: BTreeMap<ConditionKey, Node>,
    weights: Vec<(Node, f64)>,
}

/// Whether the library says what is behind at least one of the findings.
pub(super) fn knows_what_is_behind(base: &KnowledgeBase, observations: &[Observation]) -> bool {
    observations
        .iter()
        .any(|o| o.state.is_finding() && !base.condition(o.condition).behind.is_empty())
}

impl Ranking {
    /// Builds the network for these observations. `weight` is what a finding counts for.
    pub(super) fn new(
        base: &KnowledgeBase,
        observations: &[Observation],
        shot: Option<Shot>,
        weight: &dyn Fn(ConditionKey) -> f64,
    ) -> Result<Self, OriginsError> {
        let common = |key: ConditionKey| {
            base.condition(key)
                .how_common
                .map_or(DEFAULT_SHARE, |share| share.get())
                .clamp(0.005, 0.9)
        };
        let rows: Vec<Vec<(ConditionKey, f64)>> = base
            .condition_keys()
            .map(|key| row(base, key, shot))
            .collect();
        let mut needed = vec![PRIOR; rows.len()];
        for key in base.condition_keys() {
            for (cause, share) in &rows[key.0] {
                needed[cause.0] = needed[cause.0].max(share * common(key) / STRONGEST);
            }
        }
        let ruled_out = |key: ConditionKey| {
            observations
                .iter()
                .any(|o| o.condition == key && o.state == State::NotSeen)
        };
        let mut priors = Vec::new();
        let mut origin = Vec::with_capacity(base.conditions.len());
        for key in base.condition_keys() {
            let open = base.condition(key).kind != ConditionKind::Outcome && !ruled_out(key);
            origin.push(open.then_some(Origin(priors.len())));
            if open {
                priors.push(needed[key.0].min(STRONGEST));
            }
        }
        let mut model = Origins::new(priors)?;
        let mut evidence = Evidence::new();
        let mut findings = BTreeMap::new();
        let mut weights = Vec::new();
        for observation in observations {
            let key = observation.condition;
            // Words that may mean several things stand below everything that is behind any of them.
            let mut leak = 0.0;
            let mut strengths: BTreeMap<ConditionKey, f64> = BTreeMap::new();
            for (meant, chance) in observation.meanings() {
                let known: f64 = rows[meant.0].iter().map(|(_, share)| share).sum();
                leak += chance * common(meant) * (1.0 - known).max(LEAST_UNKNOWN);
                for (cause, share) in &rows[meant.0] {
                    *strengths.entry(*cause).or_default() +=
                        chance * share * common(meant) / needed[cause.0].min(STRONGEST);
                }
            }
            let sources: Vec<(Origin, f64)> = strengths
                .into_iter()
                .filter_map(|(cause, strength)| {
                    Some((origin[cause.0]?, strength.clamp(1e-9, STRONGEST)))
                })
                .collect();
            let node = model.add(leak, &sources)?;
            let report = match observation.state {
                State::Seen => Report::Present,
                State::NotSeen => Report::Absent,
                State::Slight => Report::Likelihood(State::SLIGHT_RATIO),
                State::Measured { ratio, .. } | State::Likelihood(ratio) => {
                    Report::Likelihood(ratio)
                }
            };
            // One condition is reported once; that was settled before.
            let _ = evidence.add(node, report);
            findings.insert(key, node);
            if observation.state.is_finding() {
                weights.push((node, weight(key)));
            }
        }
        Ok(Self {
            model,
            evidence,
            origin,
            findings,
            weights,
        })
    }
}

/// Whether a stage comes late enough in the full swing that what is seen there mostly follows from
/// something before it. Grip, set-up and the way back are places to start at; so are the small
/// strokes, of which set-up and stroke are filed together.
fn is_late(stage: Stage) -> bool {
    matches!(
        stage,
        Stage::Top
            | Stage::Transition
            | Stage::Downswing
            | Stage::Impact
            | Stage::FollowThrough
            | Stage::Finish
    )
}

/// What is behind a condition, with what is its own doing under its own key; shares sum to at most 1.
fn row(base: &KnowledgeBase, key: ConditionKey, shot: Option<Shot>) -> Vec<(ConditionKey, f64)> {
    let condition = base.condition(key);
    let mut row: Vec<(ConditionKey, f64)> = condition
        .behind
        .iter()
        .map(|b| (b.cause, b.share.get()))
        .collect();
    let known: f64 = row.iter().map(|(_, share)| share).sum();
    if condition.kind != ConditionKind::Outcome && known < 1.0 {
        let own = if is_late(condition.stage) {
            OWN_LATE
        } else {
            1.0
        };
        row.push((key, (1.0 - known) * own));
    }
    for (cause, share) in &mut row {
        if !base.condition(*cause).applies_to(shot) {
            *share *= OTHER_SHOT;
        }
    }
    row
}

/// What the two layers say of one condition.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Standing {
    /// P(it is where it starts | everything reported).
    pub starts_here: f64,
    /// Share of what was seen that would not be there had it not started.
    pub clears: f64,
}

/// What the two layers say of everything.
pub(super) struct Ranked {
    /// One entry per condition.
    pub standings: Vec<Standing>,
    /// For each finding, by key: what each condition clears of it alone, where it clears anything.
    pub of_finding: BTreeMap<ConditionKey, Vec<(ConditionKey, f64)>>,
    /// Findings whose own unknown reason is most likely the only one.
    pub unexplained: Vec<ConditionKey>,
    /// log [ PROD P(e_i) / P(E) ].
    pub at_odds: f64,
    /// The observation whose reversal brings that down most, when it is above 0.
    pub suspect: Option<ConditionKey>,
}

impl Ranking {
    /// All figures.
    pub(super) fn answer(&self) -> Result<Ranked, OriginsError> {
        let given = self.model.given(&self.evidence, &self.weights)?;
        let answer = given.answer()?;
        let standings = self
            .origin
            .iter()
            .map(|origin| {
                origin.map_or_else(Standing::default, |origin| Standing {
                    starts_here: answer.origins[origin.0].posterior,
                    clears: answer.origins[origin.0].clears,
                })
            })
            .collect();
        let mut of_finding = BTreeMap::new();
        for (key, node) in &self.findings {
            if !self.weights.iter().any(|(weighed, _)| weighed == node) {
                continue;
            }
            let alone = self.model.answer(&self.evidence, &[(*node, 1.0)])?;
            let cleared = self
                .origin
                .iter()
                .enumerate()
                .filter_map(|(index, origin)| {
                    let clears = alone.origins[(*origin)?.0].clears;
                    (clears > 0.0).then_some((ConditionKey(index), clears))
                })
                .collect();
            of_finding.insert(*key, cleared);
        }
        let key_of: BTreeMap<Node, ConditionKey> = self
            .findings
            .iter()
            .map(|(key, node)| (*node, *key))
            .collect();
        let unexplained = answer
            .findings
            .iter()
            .filter(|f| f.alone > 0.5)
            .map(|f| key_of[&f.finding])
            .collect();
        let sum: f64 = answer.findings.iter().map(|f| f.ln_alone).sum();
        let at_odds = sum - answer.ln_evidence;
        let suspect = (at_odds > 0.0 && answer.findings.len() > 1)
            .then(|| {
                answer
                    .findings
                    .iter()
                    .map(|f| {
                        // What the score would be without this report: the others' own chances
                        // over their joint chance. The report whose absence lowers it most.
                        (f, sum - f.ln_alone - f.ln_without)
                    })
                    .min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.finding.cmp(&b.0.finding)))
                    .map(|(f, _)| key_of[&f.finding])
            })
            .flatten();
        Ok(Ranked {
            standings,
            of_finding,
            unexplained,
            at_odds,
            suspect,
        })
    }

    /// What each condition clears in a model whose every chance is shaken by `sd` in log-odds.
    pub(super) fn shaken_clears<R: rand::Rng>(
        &self,
        sd: f64,
        rng: &mut R,
    ) -> Result<Vec<f64>, OriginsError> {
        let shaken = self.model.shaken(sd, rng);
        let answer = shaken.answer(&self.evidence, &self.weights)?;
        Ok(self
            .origin
            .iter()
            .map(|origin| origin.map_or(0.0, |origin| answer.origins[origin.0].clears))
            .collect())
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
        let set: Vec<Origin> = set.iter().filter_map(|key| self.origin[key.0]).collect();
        given.clears_together(&answer, &set)
    }
}
