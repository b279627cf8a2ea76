//! The diagnosis itself.

use super::answer::{AtOdds, Diagnosis, Explanation, NextLook, RankedBy, RankedCause};
use super::observation::{Observation, State};
use super::observe::distinct;
use super::ranking::{Ranked, Ranking, knows_what_is_behind};
use super::web::{Web, WebAnswer};
use crate::causal::CausalGraph;
use crate::inference::{OriginsError, QueryError};
use crate::knowledge::words::DEFAULT_EFFECT;
use crate::knowledge::{ConditionKey, ConditionKind, DrillKey, KnowledgeBase, Shot};
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;
use std::collections::{BTreeMap, BTreeSet};

/// How much of the answer is wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Effort {
    /// The order of the causes and nothing else.
    Order,
    /// Everything a coach reads.
    #[default]
    Lesson,
    /// The same, with every condition of the library among the causes.
    All,
}

/// What is asked.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    /// What was reported.
    pub observations: Vec<Observation>,
    /// The shot the lesson is about.
    pub shot: Option<Shot>,
    /// What a finding counts for, where it is not 1; above 0.
    pub weights: BTreeMap<ConditionKey, f64>,
    /// How much of the answer is wanted.
    pub effort: Effort,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DiagnosisError {
    /// The two-layer network could not be answered.
    #[error("{0}; report fewer findings at a time")]
    Ranking(#[from] OriginsError),
    /// The web could not be answered.
    #[error("{0}; report fewer findings at a time")]
    Web(#[from] QueryError),
}

/// Redraws behind a firmness figure: the standard error of a share of 0.8 is 4 points.
const REDRAWS: usize = 100;

/// Spread of the shaken log-odds. Pradhan M., Henrion M., Provan G., del Favero B. and Huang K.
/// (1996), The sensitivity of belief networks to imprecise probabilities, Artificial Intelligence
/// 85:363-397 (from memory), shook with spreads of 1, 2 and 3 on log-odds to base 10 as an upper
/// bound and found answers stable at 1; half of that in natural log-odds moves 0.25 to between 0.17
/// and 0.35 two times in three, which is how far two coaches differ on such a number.
const SHAKE: f64 = 0.5;

/// The seed of every redraw: the same input gives the same bytes.
const SEED: u64 = 0x5eed_fa1e;

/// Two causes closer than this in worth are too close to call: half a point, the precision that is
/// asked of every figure.
const HAIR: f64 = 0.005;

/// How many causes lead: next looks are chosen to tell these apart.
const LEADING: usize = 5;

/// A look that tells less than this is not worth a coach's minute; a fair coin tells 1 bit.
const LEAST_BITS: f64 = 0.002;

/// How many next looks are shown.
const LOOKS: usize = 4;

/// Ranks the root causes of what was reported.
///
/// The same question to the same library gives the same answer, to the last bit.
///
/// # Errors
///
/// When the findings hang together so densely that no method fits its budget; the error names what
/// is too large.
pub fn diagnose(base: &KnowledgeBase, asked: &Asked) -> Result<Diagnosis, DiagnosisError> {
    let observations = distinct(&asked.observations);
    let weight = |key: ConditionKey| asked.weights.get(&key).copied().unwrap_or(1.0);
    let by_shares = knows_what_is_behind(base, &observations);
    let ranking = by_shares
        .then(|| Ranking::new(base, &observations, asked.shot, &weight))
        .transpose()?;
    let ranked = ranking.as_ref().map(Ranking::answer).transpose()?;
    let web = (asked.effort != Effort::Order || ranked.is_none())
        .then(|| Web::new(base, &observations, &weight));
    let leading = ranked.as_ref().map(|ranked| leading(base, ranked));
    let web_answer = web
        .as_ref()
        .map(|web| web.answer(asked.effort, leading.as_deref()))
        .transpose()?;

    let causes = causes(
        base,
        asked,
        &observations,
        ranked.as_ref(),
        web_answer.as_ref(),
    );
    let firmness = firmness(base, asked, &causes, ranking.as_ref(), web.as_ref())?;
    let observed: BTreeSet<ConditionKey> = observations.iter().map(|o| o.condition).collect();
    let (unexplained, at_odds) = match (&ranked, &web_answer) {
        (Some(ranked), _) => (
            ranked.unexplained.clone(),
            AtOdds {
                score: ranked.at_odds,
                suspect: ranked.suspect,
            },
        ),
        (None, Some(web)) => (web.unexplained.clone(), web.at_odds.clone()),
        (None, None) => (
            Vec::new(),
            AtOdds {
                score: 0.0,
                suspect: None,
            },
        ),
    };
    Ok(Diagnosis {
        observations: asked.observations.clone(),
        shot: asked.shot,
        pains: pains(base, &observations),
        next_looks: web_answer.as_ref().map_or_else(Vec::new, |web| {
            next_looks(base, asked.shot, web, &causes, &observed)
        }),
        causes,
        unexplained,
        at_odds,
        firmness,
        ranked_by: if by_shares {
            RankedBy::Shares
        } else {
            RankedBy::Web
        },
        exact: web_answer.as_ref().is_none_or(|web| web.exact),
        standard_error: web_answer.as_ref().map_or(0.0, |web| web.standard_error),
        draws: web_answer.as_ref().map_or(0, |web| web.draws),
        effective_share: web_answer.as_ref().map_or(1.0, |web| web.effective_share),
    })
}

/// The share of what was seen that a set of starts clears together; see [`clears_together`].
pub type ClearsTogether<'a> = Box<dyn Fn(&[ConditionKey]) -> f64 + 'a>;

/// Share of what was seen that would be gone had none of these started, by the same network that
/// orders the causes; monotone in the set. The answer is a function, since a plan asks many times.
///
/// # Errors
///
/// As [`diagnose`].
pub fn clears_together<'a>(
    base: &'a KnowledgeBase,
    asked: &Asked,
) -> Result<ClearsTogether<'a>, DiagnosisError> {
    let observations = distinct(&asked.observations);
    let weight = |key: ConditionKey| asked.weights.get(&key).copied().unwrap_or(1.0);
    if knows_what_is_behind(base, &observations) {
        let ranking = Ranking::new(base, &observations, asked.shot, &weight)?;
        ranking.clears_together(&[])?;
        Ok(Box::new(move |set| {
            ranking.clears_together(set).unwrap_or(0.0)
        }))
    } else {
        let web = Web::new(base, &observations, &weight);
        web.clears_together(&[])?;
        Ok(Box::new(move |set| web.clears_together(set).unwrap_or(0.0)))
    }
}

/// The causes that lead by the shares, for the web to tell apart.
fn leading(base: &KnowledgeBase, ranked: &Ranked) -> Vec<ConditionKey> {
    let mut order: Vec<(ConditionKey, f64)> = base
        .condition_keys()
        .map(|key| (key, ranked.standings[key.0].clears * effect(base, key).1))
        .filter(|(_, worth)| *worth > 0.0)
        .collect();
    order.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    order
        .into_iter()
        .take(LEADING)
        .map(|(key, _)| key)
        .collect()
}

/// The best remedy the library has for a condition, and what it does.
fn effect(base: &KnowledgeBase, key: ConditionKey) -> (Option<DrillKey>, f64) {
    base.remedies(key)
        .first()
        .map_or((None, DEFAULT_EFFECT), |(drill, effect)| {
            (Some(*drill), *effect)
        })
}

fn causes(
    base: &KnowledgeBase,
    asked: &Asked,
    observations: &[Observation],
    ranked: Option<&Ranked>,
    web: Option<&WebAnswer>,
) -> Vec<RankedCause> {
    let all = asked.effort == Effort::All;
    let graph = CausalGraph::new(base);
    let mut causes: Vec<RankedCause> = base
        .condition_keys()
        .filter_map(|key| {
            let ruled_out = observations
                .iter()
                .any(|o| o.condition == key && o.state == State::NotSeen);
            let (best_remedy, effect) = effect(base, key);
            let standing = ranked.map(|ranked| ranked.standings[key.0]);
            let from_web = web.map(|web| web.figures(key));
            let clears = standing.map_or_else(
                || from_web.map_or(0.0, |figures| figures.clears),
                |standing| standing.clears,
            );
            let starts_here = standing.map_or_else(
                || from_web.map_or(0.0, |figures| figures.starts_here),
                |standing| standing.starts_here,
            );
            let probability = match (standing, from_web) {
                (_, Some(figures)) if standing.is_none() => figures.posterior,
                _ if ruled_out => 0.0,
                (_, Some(figures)) => {
                    // It is there because it starts here, or because it is handed down.
                    let handed_down = (figures.posterior - figures.starts_here).max(0.0);
                    1.0 - (1.0 - starts_here) * (1.0 - handed_down)
                }
                (_, None) => starts_here,
            };
            let seen = observations
                .iter()
                .any(|o| o.condition == key && o.state == State::Seen);
            let held = from_web.map_or(0.0, |figures| figures.held);
            let condition = base.condition(key);
            let candidate = condition.kind != ConditionKind::Outcome
                && condition.retired_for.is_none()
                && clears > 0.0;
            (all || candidate).then(|| RankedCause {
                condition: key,
                probability: if seen { 1.0 } else { probability },
                starts_here,
                clears,
                clears_while_held: held.max(clears),
                effect,
                best_remedy,
                worth: clears * effect,
                explanations: Vec::new(),
                too_close_to_next: false,
                treats_a_link: false,
            })
        })
        .collect();
    causes.sort_by(|a, b| {
        b.worth
            .total_cmp(&a.worth)
            .then(a.condition.cmp(&b.condition))
    });
    let precision = web
        .filter(|_| ranked.is_none())
        .map_or(0.0, |web| 2.0 * web.standard_error);
    for index in 0..causes.len().saturating_sub(1) {
        let gap = causes[index].worth - causes[index + 1].worth;
        causes[index].too_close_to_next =
            causes[index + 1].worth > 0.0 && gap < precision.max(HAIR);
    }
    if asked.effort != Effort::Order {
        let shown = causes.len().min(15);
        for cause in &mut causes[..shown] {
            explain(base, &graph, observations, ranked, web, cause);
        }
    }
    causes
}

/// Chains from a cause to the findings it bears on, and whether it is more link than start.
fn explain(
    base: &KnowledgeBase,
    graph: &CausalGraph,
    observations: &[Observation],
    ranked: Option<&Ranked>,
    web: Option<&WebAnswer>,
    cause: &mut RankedCause,
) {
    let presence = |key: ConditionKey| {
        let seen = observations.iter().find(|o| o.condition == key);
        match (seen.map(|o| o.state), web) {
            (Some(State::Seen), _) => 1.0,
            (Some(State::NotSeen), _) => 1e-6,
            (_, Some(web)) => web.figures(key).posterior.max(1e-6),
            (_, None) => 1.0,
        }
    };
    for finding in observations.iter().filter(|o| o.state.is_finding()) {
        let clears = match (ranked, web) {
            (Some(ranked), _) => ranked
                .of_finding
                .get(&finding.condition)
                .and_then(|row| row.iter().find(|(key, _)| *key == cause.condition))
                .map_or(0.0, |(_, clears)| *clears),
            (None, Some(_)) if presence(cause.condition) > 0.0 => graph
                .chains(cause.condition, finding.condition, 1, presence)
                .first()
                .map_or(0.0, |chain| chain.weight),
            _ => 0.0,
        };
        if clears <= 0.0 {
            continue;
        }
        let chain = graph
            .chains(cause.condition, finding.condition, 1, presence)
            .into_iter()
            .next();
        let conditions = match chain {
            Some(chain) => chain.conditions(),
            None if cause.condition == finding.condition => vec![cause.condition],
            None => vec![cause.condition, finding.condition],
        };
        let because = conditions
            .windows(2)
            .map(|pair| {
                base.condition(pair[1])
                    .causes
                    .iter()
                    .find(|link| link.cause == pair[0])
                    .and_then(|link| link.because.clone())
            })
            .collect();
        cause.explanations.push(Explanation {
            finding: finding.condition,
            conditions,
            because,
            clears,
        });
    }
    cause.explanations.sort_by(|a, b| {
        b.clears
            .total_cmp(&a.clears)
            .then(a.finding.cmp(&b.finding))
    });
    cause.treats_a_link =
        cause.clears_while_held > 0.15 && cause.clears < 0.35 * cause.clears_while_held;
}

/// Looks that would tell the leading causes apart, most bits first; among looks within a tenth of
/// the best the cheaper comes first, so that what is free to check comes before a change of camera
/// or a screen.
fn next_looks(
    base: &KnowledgeBase,
    shot: Option<Shot>,
    web: &WebAnswer,
    causes: &[RankedCause],
    observed: &BTreeSet<ConditionKey>,
) -> Vec<NextLook> {
    let mut looks: Vec<&NextLook> = web
        .next_looks
        .iter()
        .filter(|look| !observed.contains(&look.condition))
        .filter(|look| base.condition(look.condition).applies_to(shot))
        .filter(|look| !base.condition(look.condition).seen_from.is_empty())
        .filter(|look| !base.condition(look.condition).is_pain())
        .collect();
    let best = looks.iter().map(|look| look.bits).fold(0.0, f64::max);
    let step = best / 10.0;
    let cost = |key: ConditionKey| base.condition(key).seen_from.iter().min().copied();
    looks.sort_by(|a, b| {
        let rung = |look: &NextLook| {
            if step > 0.0 {
                (look.bits / step).floor()
            } else {
                0.0
            }
        };
        rung(b)
            .total_cmp(&rung(a))
            .then(cost(a.condition).cmp(&cost(b.condition)))
            .then(b.bits.total_cmp(&a.bits))
            .then(a.condition.cmp(&b.condition))
    });
    let leads: Vec<(ConditionKey, BTreeSet<ConditionKey>)> = {
        let graph = CausalGraph::new(base);
        causes
            .iter()
            .take(LEADING)
            .map(|cause| (cause.condition, graph.downstream(cause.condition)))
            .collect()
    };
    looks
        .into_iter()
        .filter(|look| look.bits > LEAST_BITS)
        .filter(|look| base.condition(look.condition).retired_for.is_none())
        .take(LOOKS)
        .map(|look| NextLook {
            raises: leads
                .iter()
                .filter(|(cause, reach)| {
                    *cause == look.condition || reach.contains(&look.condition)
                })
                .map(|(cause, _)| *cause)
                .collect(),
            ..look.clone()
        })
        .collect()
}

/// Every pain that a finding may be, when it is rather a pain than anything else: `hurts` may be any
/// of several.
fn pains(base: &KnowledgeBase, observations: &[Observation]) -> Vec<ConditionKey> {
    let mut found: Vec<ConditionKey> = Vec::new();
    for observation in observations.iter().filter(|o| o.state.is_finding()) {
        let of_pain = |key: ConditionKey| base.condition(key).is_pain();
        let pains = observation.meanings().filter(|(key, _)| of_pain(*key));
        let (pains, chances): (Vec<ConditionKey>, Vec<f64>) = pains.unzip();
        if chances.iter().sum::<f64>() >= 0.5 {
            found.extend(pains);
        }
    }
    let mut distinct = Vec::new();
    for pain in found {
        if !distinct.contains(&pain) {
            distinct.push(pain);
        }
    }
    distinct
}

/// The share of redraws in which the first cause stays first.
fn firmness(
    base: &KnowledgeBase,
    asked: &Asked,
    causes: &[RankedCause],
    ranking: Option<&Ranking>,
    web: Option<&Web>,
) -> Result<Option<f64>, DiagnosisError> {
    let Some(first) = causes.first().filter(|cause| cause.worth > 0.0) else {
        return Ok(None);
    };
    if asked.effort == Effort::Order {
        return Ok(None);
    }
    let effects: Vec<f64> = base
        .condition_keys()
        .map(|key| effect(base, key).1)
        .collect();
    if let Some(ranking) = ranking {
        let mut rng = Pcg64Mcg::seed_from_u64(SEED);
        let mut held = 0;
        for _ in 0..REDRAWS {
            let clears = ranking.shaken_clears(SHAKE, &mut rng)?;
            let best = (0..clears.len())
                .max_by(|a, b| {
                    (clears[*a] * effects[*a])
                        .total_cmp(&(clears[*b] * effects[*b]))
                        .then(b.cmp(a))
                })
                .map(ConditionKey);
            held += usize::from(best == Some(first.condition));
        }
        #[allow(clippy::cast_precision_loss)]
        return Ok(Some(held as f64 / REDRAWS as f64));
    }
    Ok(web.and_then(|web| web.firmness(&effects, first.condition)))
}
