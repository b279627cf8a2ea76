//! The web of links as a causal network: chances, held forms and next looks.

use super::answer::{AtOdds, NextLook};
use super::diagnose::Effort;
use super::observation::{Observation, State};
use crate::inference::{
    Answer, Base, Budget, Draws, Evidence, Leading, Method, Network, NetworkBuilder, Node, Query,
    QueryError, Report, Shakes, answer, firmness,
};
use crate::knowledge::words::DEFAULT_SHARE;
use crate::knowledge::{ConditionKey, KnowledgeBase};
use std::collections::BTreeSet;

/// The least leak of a condition that is given by how common it is: however much its links explain,
/// one student in two hundred has it for a reason that no library knows.
const LEAST_LEAK: f64 = 0.005;

/// The web with what was reported. Node `i` is the condition with key `i`.
pub(super) struct Web {
    network: Network,
    query: Query,
}

/// The web's figures for one condition.
#[derive(Clone, Copy, Debug)]
pub(super) struct Figures {
    pub posterior: f64,
    pub starts_here: f64,
    pub clears: f64,
    pub held: f64,
}

/// What the web says.
pub(super) struct WebAnswer {
    figures: Vec<Figures>,
    pub next_looks: Vec<NextLook>,
    pub unexplained: Vec<ConditionKey>,
    pub at_odds: AtOdds,
    pub exact: bool,
    pub standard_error: f64,
    pub draws: usize,
    pub effective_share: f64,
}

impl WebAnswer {
    /// The figures of one condition.
    pub(super) fn figures(&self, key: ConditionKey) -> Figures {
        self.figures[key.0]
    }
}

impl Web {
    /// The network of a checked library, with these observations.
    pub(super) fn new(
        base: &KnowledgeBase,
        observations: &[Observation],
        weight: &dyn Fn(ConditionKey) -> f64,
    ) -> Self {
        let mut evidence = Evidence::new();
        let mut observed = Vec::new();
        let mut told = BTreeSet::new();
        for observation in observations {
            let node = Node(observation.condition.0);
            let report = match observation.state {
                State::Seen => Report::Present,
                State::NotSeen => Report::Absent,
                State::Slight => Report::Likelihood(State::SLIGHT_RATIO),
                State::Measured { ratio, .. } | State::Likelihood(ratio) => {
                    Report::Likelihood(ratio)
                }
            };
            for (meant, chance) in observation.meanings() {
                let reported = observations
                    .iter()
                    .any(|o| o.condition == meant && !std::ptr::eq(o, observation));
                if reported || !told.insert(meant) {
                    continue;
                }
                let report = if chance >= SURE {
                    report
                } else {
                    Report::Likelihood(unsure(base, observation.state, meant, chance))
                };
                evidence
                    .add(Node(meant.0), report)
                    .expect("each condition is reported once, with a ratio above 0");
            }
            if observation.state.is_finding() {
                observed.push((node, weight(observation.condition)));
            }
        }
        let mut query = Query::new(evidence);
        query.observed = observed;
        Self {
            network: network(base),
            query,
        }
    }

    /// Everything the web says; `leading` are the causes that next looks should tell apart, or the
    /// five that clear most.
    pub(super) fn answer(
        &self,
        effort: Effort,
        leading: Option<&[ConditionKey]>,
    ) -> Result<WebAnswer, QueryError> {
        let mut query = self.query.clone();
        if let Some(leading) = leading {
            query.leading = Leading::These(leading.iter().map(|key| Node(key.0)).collect());
        }
        let answer = answer(&self.network, query)?;
        let figures: Vec<Figures> = answer
            .nodes
            .iter()
            .map(|node| Figures {
                posterior: node.posterior.value,
                starts_here: node.starts_here.value,
                clears: node.clears.value,
                held: node.clears_while_held.value,
            })
            .collect();
        let next_looks = if effort == Effort::Order {
            Vec::new()
        } else {
            looks(&answer)
        };
        let at_odds = answer.at_odds();
        let sampled = answer.worlds();
        Ok(WebAnswer {
            next_looks,
            unexplained: answer
                .unexplained
                .iter()
                .map(|(node, _)| ConditionKey(node.0))
                .collect(),
            at_odds: AtOdds {
                score: at_odds.score.value,
                suspect: at_odds.suspect.map(|node| ConditionKey(node.0)),
            },
            exact: answer.method() == Method::Exact,
            standard_error: answer.standard_error(),
            draws: sampled.map_or(0, |worlds| worlds.drawn()),
            effective_share: sampled.map_or(1.0, |worlds| worlds.effective_share()),
            figures,
        })
    }

    /// What each condition clears, to about two points: enough to hold it against an opinion.
    pub(super) fn clears_roughly(&self) -> Result<Vec<f64>, QueryError> {
        let mut query = self.query.clone();
        query.budget = Budget {
            cells: 0.0,
            draws: Draws {
                most: 4_000,
                target: 0.01,
                ..Draws::default()
            },
        };
        let answer = answer(&self.network, query)?;
        Ok(answer.nodes.iter().map(|node| node.clears.value).collect())
    }

    /// Share of what was seen that would be gone had none of `set` started.
    pub(super) fn clears_together(&self, set: &[ConditionKey]) -> Result<f64, QueryError> {
        let set: Vec<Node> = set.iter().map(|key| Node(key.0)).collect();
        Ok(answer(&self.network, self.query.clone())?
            .clears_together(&set)
            .value)
    }

    /// The share of redraws of the strengths in which `first` stays first.
    pub(super) fn firmness(&self, effects: &[f64], first: ConditionKey) -> Option<f64> {
        firmness(
            &self.network,
            &self.query.evidence,
            &self.query.observed,
            effects,
            Node(first.0),
            Shakes::default(),
        )
    }
}

/// From this chance on the words are taken to mean the condition and nothing else.
const SURE: f64 = 0.97;

/// What words say of a condition that they mean with this chance: the likelihood ratio that moves it
/// from how common it is to that chance, or the other way round where it was looked for and not
/// seen. Words never speak against what they may mean.
fn unsure(base: &KnowledgeBase, state: State, meant: ConditionKey, chance: f64) -> f64 {
    let odds = |p: f64| p / (1.0 - p);
    let common = base
        .condition(meant)
        .how_common
        .map_or(DEFAULT_SHARE, |share| share.get())
        .clamp(0.005, 0.9);
    let ratio = (odds(chance.clamp(0.005, 0.97)) / odds(common)).max(1.0);
    match state {
        State::NotSeen => 1.0 - chance.clamp(0.0, 0.97),
        State::Slight => ratio.min(State::SLIGHT_RATIO),
        _ => ratio,
    }
}

/// How many of the most informative looks are worth the trouble of asking what they speak for.
const ASKED: usize = 24;

/// The most informative looks.
fn looks(answer: &Answer<'_>) -> Vec<NextLook> {
    answer
        .looks
        .iter()
        .take(ASKED)
        .map(|look| NextLook {
            condition: ConditionKey(look.node.0),
            bits: look.bits.value,
            raises: Vec::new(),
        })
        .collect()
}

fn network(base: &KnowledgeBase) -> Network {
    let mut builder = NetworkBuilder::new();
    for condition in &base.conditions {
        let inside = |p: f64| p.clamp(1e-6, 0.999);
        let rate = match (condition.leak, condition.how_common) {
            (Some(leak), _) => Base::Leak(inside(leak.get())),
            (None, Some(share)) => Base::Share(inside(share.get())),
            (None, None) => Base::Share(DEFAULT_SHARE),
        };
        builder.add(rate).expect("a rate strictly between 0 and 1");
    }
    for effect in base.condition_keys() {
        for cause in &base.condition(effect).causes {
            builder
                .link(Node(cause.cause.0), Node(effect.0), cause.strength.get())
                .expect("the library's links were checked");
        }
    }
    builder
        .build(LEAST_LEAK)
        .expect("the library has no circle of causes")
}
