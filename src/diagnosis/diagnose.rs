//! The diagnosis itself.

use super::answer::{
    AccountsFor, Behind, Chain, Diagnosis, NextLook, RankedCause, Standing, WouldChange,
};
use super::asked::{Asked, Effort};
use super::body::{hold_back, with_observed};
use super::looks::next_looks;
use super::model::Model;
use super::observation::{Heard, Observation, State, distinct};
use super::starts::{Figures, Starts};
use super::student::Student;
use crate::inference::OriginsError;
use crate::knowledge::words::DEFAULT_EFFECT;
use crate::knowledge::{ConditionKey, ConditionKind, DrillKey, KnowledgeBase};
use crate::lesson::Lesson;
use crate::words::ReadBy;
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;
use std::collections::{BTreeMap, BTreeSet};

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DiagnosisError {
    /// The two-layer network could not be answered.
    #[error("{0}; report fewer findings at a time")]
    Starts(#[from] OriginsError),
}

/// Redraws behind a firmness figure: the standard error of a share of 0.8 is 6 points, enough to tell
/// settled from level.
const REDRAWS: u32 = 40;

/// Spread of the shaken log-odds. Pradhan M., Henrion M., Provan G., del Favero B. and Huang K.
/// (1996), The sensitivity of belief networks to imprecise probabilities, Artificial Intelligence
/// 85:363-397 (from memory), shook with spreads of 1, 2 and 3 on log-odds to base 10 as an upper
/// bound and found answers stable at 1; half of that in natural log-odds moves 0.25 to between 0.17
/// and 0.35 two times in three, which is how far two coaches differ on such a number.
const SHAKE: f64 = 0.5;

/// The seed of every redraw: the same input gives the same bytes.
const SEED: u64 = 0x5eed_fa1e;

/// Settled: the first stays first in this share of the redraws, and is worth this many times the second.
const SETTLED: (f64, f64) = (0.8, 1.5);

/// Settled: more likely than not that it starts there. An order can be firm among starts none of which is
/// likely, and a coach who hears "settled" stops looking.
const MORE_LIKELY_THAN_NOT: f64 = 0.5;

/// Level: the second is worth this share of the first, or the first stays first in less than half.
const LEVEL: f64 = 0.9;

/// How many of the leading causes contend for the first place, in redraws and in what would change it.
const CONTENDERS: usize = 5;

/// How many causes get chains.
const EXPLAINED: usize = 15;

/// What would change the order is worked out for this many looks.
const ASKED: usize = 2;

/// Up to so many findings the rows are taken whole for it. Every finding doubles the tables, and the seven
/// answers to two looks at fifteen findings took three times as long as everything else together.
const ASKED_IN_FULL: usize = 10;

/// Ranks the root causes of what was reported.
///
/// The same question to the same library gives the same answer, to the last bit.
///
/// # Errors
///
/// When the findings hang together so densely that the tables pass their limit; the error says so.
pub fn diagnose(base: &KnowledgeBase, asked: &Asked) -> Result<Diagnosis, DiagnosisError> {
    let model = Model::asked(base, asked);
    let mut complaints = asked.complaints.clone();
    with_observed(base, &asked.observations, &mut complaints);
    let found = to_explain(base, asked);
    let student = Student::new(base, asked, &found);
    let starts = model.starts(asked, &found);
    let layers = starts.network()?;
    let answer = layers.answer()?;
    let figures = layers.figures(&answer);
    let mut causes = causes(&model, asked, &starts, &figures);
    let whole = asked.effort != Effort::Order;
    let redrawn = whole
        .then(|| redrawn(&model, asked, &starts, &causes))
        .transpose()?;
    let redrawn = redrawn.flatten();
    let mut looks = Vec::new();
    let mut would_change_first = Vec::new();
    if whole {
        explain(&model, &student, &found, &starts, &mut causes);
        looks = next_looks(&model, &student, &starts, &found, &causes);
        would_change_first = would_change(&model, asked, &found, &causes, &looks)?;
    }
    let standing = redrawn
        .as_ref()
        .and_then(|redrawn| standing(base, &causes, redrawn, &found, &asked.heard));
    let rival = redrawn
        .as_ref()
        .filter(|_| standing == Some(Standing::Level) && !asked.heard.wants_hand())
        .and_then(|redrawn| rival(&causes, redrawn, &found));
    let mut diagnosis = Diagnosis {
        observations: asked.observations.clone(),
        said_twice: said_twice(&asked.observations),
        heard: asked.heard.clone(),
        lesson: asked.lesson.clone(),
        complaints,
        next_looks: looks,
        standing,
        rival,
        would_change: would_change_first,
        causes,
        unexplained: layers.unexplained(&answer),
        at_odds: at_odds(base, &found),
        firmness: redrawn.map(|redrawn| redrawn.firmness),
    };
    hold_back(base, &mut diagnosis);
    Ok(diagnosis)
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
    let model = Model::asked(base, asked);
    let layers = model.starts(asked, &to_explain(base, asked)).network()?;
    layers.clears_together(&[])?;
    Ok(Box::new(move |set| {
        layers.clears_together(set).unwrap_or(0.0)
    }))
}

/// What is to be explained: a pain is referred, and no chain says what in the swing did it.
fn to_explain(base: &KnowledgeBase, asked: &Asked) -> Vec<Observation> {
    let mut found = distinct(&asked.observations);
    found.retain(|o| !base.condition(o.condition).pain);
    found
}

/// The best remedy that the library has for a condition in this lesson, and what it does. Where none
/// can be done here today, the best that fits shot and student; a body that none is made to fit gets
/// none. What has no remedy does one half.
#[must_use]
pub fn best_remedy(
    base: &KnowledgeBase,
    lesson: &Lesson,
    key: ConditionKey,
) -> (Option<DrillKey>, f64) {
    let remedies = base.remedies(key);
    let first_in = |lesson: &Lesson| {
        let mut fit = remedies.iter();
        fit.find(|(drill, _)| lesson.refuses(base.drill(*drill)).is_none())
    };
    let best = first_in(lesson)
        .or_else(|| first_in(&lesson.anywhere()))
        .or_else(|| remedies.first().filter(|_| lesson.suits.is_empty()));
    best.map_or((None, DEFAULT_EFFECT), |(drill, effect)| {
        (Some(*drill), *effect)
    })
}

/// What working on a start is worth: the share of what was seen that it clears, by what its best remedy
/// can do. The one measure by which everything is ordered.
fn worth(base: &KnowledgeBase, lesson: &Lesson, key: ConditionKey, clears: f64) -> f64 {
    if clears > 0.0 {
        clears * best_remedy(base, lesson, key).1
    } else {
        0.0
    }
}

/// Whether a condition can be named as a start.
fn is_candidate(base: &KnowledgeBase, key: ConditionKey) -> bool {
    let condition = base.condition(key);
    condition.kind != ConditionKind::Outcome && condition.retired_for.is_none()
}

/// The candidates with their worth, best first, ties by key.
fn order(
    base: &KnowledgeBase,
    lesson: &Lesson,
    clears: &[(ConditionKey, f64)],
) -> Vec<(ConditionKey, f64)> {
    let mut order: Vec<(ConditionKey, f64)> = clears
        .iter()
        .filter(|(key, clears)| is_candidate(base, *key) && *clears > 0.0)
        .map(|(key, clears)| (*key, worth(base, lesson, *key, *clears)))
        .collect();
    order.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    order
}

fn causes(
    model: &Model<'_>,
    asked: &Asked,
    starts: &Starts<'_>,
    figures: &[(ConditionKey, Figures)],
) -> Vec<RankedCause> {
    let base = model.base;
    let clears: Vec<(ConditionKey, f64)> =
        figures.iter().map(|(key, of)| (*key, of.clears)).collect();
    let ranked = order(base, &asked.lesson, &clears);
    let mut causes: Vec<RankedCause> = ranked
        .into_iter()
        .map(|(key, worth)| {
            let at = figures.binary_search_by_key(&key, |figure| figure.0);
            let figures = figures[at.expect("what is ranked has figures")].1;
            cause(base, &asked.lesson, key, figures, worth)
        })
        .collect();
    if asked.effort == Effort::All {
        let rest = base.condition_keys().filter(|key| is_candidate(base, *key));
        for key in rest {
            if causes.iter().any(|cause| cause.condition == key) {
                continue;
            }
            let at = figures.binary_search_by_key(&key, |figure| figure.0);
            let figures = at.map_or(
                Figures {
                    starts_here: starts.prior_unless_ruled_out(key),
                    clears: 0.0,
                },
                |at| figures[at].1,
            );
            causes.push(cause(base, &asked.lesson, key, figures, 0.0));
        }
    }
    causes
}

fn cause(
    base: &KnowledgeBase,
    lesson: &Lesson,
    key: ConditionKey,
    figures: Figures,
    worth: f64,
) -> RankedCause {
    let (best_remedy, effect) = best_remedy(base, lesson, key);
    RankedCause {
        condition: key,
        starts_here: figures.starts_here,
        clears: figures.clears,
        effect,
        best_remedy,
        worth,
        accounts_for: Vec::new(),
        on_the_way: 0.0,
        chains: Vec::new(),
    }
}

/// What each cause accounts for, what passes it, and the chains of the leading ones.
fn explain(
    model: &Model<'_>,
    student: &Student<'_>,
    found: &[Observation],
    starts: &Starts<'_>,
    causes: &mut [RankedCause],
) {
    let findings: Vec<ConditionKey> = found
        .iter()
        .filter(|o| o.state.is_finding())
        .map(|o| o.condition)
        .collect();
    let not_seen = |key: ConditionKey| {
        found
            .iter()
            .any(|o| o.condition == key && o.state == State::NotSeen)
    };
    let passes: Vec<Vec<f64>> = findings.iter().map(|key| model.rows.passes(*key)).collect();
    let ways: Vec<_> = findings
        .iter()
        // What belongs to another shot is on no way of this one.
        .map(|key| {
            let open = |way| !not_seen(way) && student.admits(way);
            model.rows.ways(*key, open)
        })
        .collect();
    #[allow(clippy::cast_precision_loss, reason = "a hundred findings at most")]
    let count = findings.len().max(1) as f64;
    for (index, cause) in causes.iter_mut().enumerate() {
        let key = cause.condition;
        cause.on_the_way = passes.iter().map(|met| met[key.0]).sum::<f64>() / count;
        let shares = starts.shares(key);
        cause.accounts_for = shares
            .iter()
            .filter(|(finding, _)| *finding != key)
            .map(|&(finding, share)| AccountsFor { finding, share })
            .collect();
        if index >= EXPLAINED {
            continue;
        }
        let mut behind: Vec<(ConditionKey, f64)> = shares
            .into_iter()
            .filter(|(finding, share)| *finding != key && Behind::of(*share) != Behind::Not)
            .collect();
        behind.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let mut paths: Vec<Vec<ConditionKey>> = Vec::new();
        for (finding, _) in behind {
            let at = findings.iter().position(|other| *other == finding);
            let chain = at.and_then(|at| ways[at].chain(key));
            paths.push(chain.unwrap_or_else(|| vec![key, finding]));
        }
        if paths.is_empty() && findings.contains(&key) {
            paths.push(vec![key]);
        }
        cause.chains = merged(model.base, paths);
    }
}

/// Chains without those that are a part of another.
fn merged(base: &KnowledgeBase, paths: Vec<Vec<ConditionKey>>) -> Vec<Chain> {
    let part_of = |short: &[ConditionKey], long: &[ConditionKey]| {
        long.len() > short.len() && long.windows(short.len()).any(|window| window == short)
    };
    let kept = paths
        .iter()
        .filter(|path| !paths.iter().any(|other| part_of(path, other)));
    kept.map(|path| Chain {
        because: path
            .windows(2)
            .map(|pair| {
                let links = &base.condition(pair[1]).causes;
                let link = links.iter().find(|link| link.cause == pair[0])?;
                link.because.clone()
            })
            .collect(),
        conditions: path.clone(),
    })
    .collect()
}

/// The first by worth of a few starts, ties by key; `None` when none of them clears anything.
fn first_of(
    model: &Model<'_>,
    asked: &Asked,
    starts: &Starts<'_>,
    of: &[ConditionKey],
) -> Result<Option<ConditionKey>, DiagnosisError> {
    let clears = starts.network()?.clears_of(of)?;
    let figures: Vec<(ConditionKey, f64)> = of.iter().copied().zip(clears).collect();
    Ok(order(model.base, &asked.lesson, &figures)
        .first()
        .map(|first| first.0))
}

/// The leading causes.
fn contenders(causes: &[RankedCause]) -> Vec<ConditionKey> {
    let leading = causes.iter().filter(|cause| cause.worth > 0.0);
    leading
        .take(CONTENDERS)
        .map(|cause| cause.condition)
        .collect()
}

/// What became of the first place when the rows were redrawn.
struct Redrawn {
    /// The share of redraws in which the first cause stays first.
    firmness: f64,
    /// Which other came first, and how often.
    instead: BTreeMap<ConditionKey, u32>,
}

fn redrawn(
    model: &Model<'_>,
    asked: &Asked,
    starts: &Starts<'_>,
    causes: &[RankedCause],
) -> Result<Option<Redrawn>, DiagnosisError> {
    let contenders = contenders(causes);
    let Some(now) = contenders.first().copied() else {
        return Ok(None);
    };
    let mut rng = Pcg64Mcg::seed_from_u64(SEED);
    let mut held = 0;
    let mut instead: BTreeMap<ConditionKey, u32> = BTreeMap::new();
    let lean = starts.lean(&contenders);
    for _ in 0..REDRAWS {
        let shaken = lean.shaken(SHAKE, &mut rng);
        match first_of(model, asked, &shaken, &contenders)? {
            Some(first) if first == now => held += 1,
            Some(first) => *instead.entry(first).or_default() += 1,
            None => {}
        }
    }
    Ok(Some(Redrawn {
        firmness: f64::from(held) / f64::from(REDRAWS),
        instead,
    }))
}

/// The findings that a start stands behind, itself included, in the order reported.
fn reaches<'f>(cause: &'f RankedCause, found: &'f [Observation]) -> Vec<&'f Observation> {
    let behind = |key: ConditionKey| {
        let mut of = cause.accounts_for.iter();
        of.any(|of| of.finding == key && of.how() != Behind::Not)
    };
    let findings = found.iter().filter(|o| o.state.is_finding());
    findings
        .filter(|o| o.condition == cause.condition || behind(o.condition))
        .collect()
}

/// Whether something else that was seen comes from it; so it is where there is nothing else.
fn reaches_beyond_itself(cause: &RankedCause, found: &[Observation]) -> bool {
    let beyond = |o: &Observation| o.condition != cause.condition;
    let mut others = found.iter().filter(|o| o.state.is_finding());
    !others.any(beyond) || reaches(cause, found).into_iter().any(beyond)
}

fn standing(
    base: &KnowledgeBase,
    causes: &[RankedCause],
    redrawn: &Redrawn,
    found: &[Observation],
    heard: &Heard,
) -> Option<Standing> {
    let first = causes.first().filter(|cause| cause.worth > 0.0)?;
    let second = causes.get(1).map_or(0.0, |cause| cause.worth);
    if heard.wants_hand()
        || second >= LEVEL * first.worth
        || redrawn.firmness < 0.5
        || !reaches_beyond_itself(first, found)
    {
        return Some(Standing::Level);
    }
    let findings = || found.iter().filter(|o| o.state.is_finding());
    let reached = reaches(first, found);
    let of_the_ball = |o: &&Observation| base.condition(o.condition).kind == ConditionKind::Outcome;
    let read_one_way = heard.open.is_empty() && findings().all(|o| o.perhaps.is_empty());
    let explains = 2 * reached.len() >= findings().count()
        && (!findings().any(|o| of_the_ball(&o)) || reached.iter().any(of_the_ball));
    let (share, times) = SETTLED;
    let settled = redrawn.firmness >= share
        && first.worth >= times * second
        && first.starts_here >= MORE_LIKELY_THAN_NOT
        && read_one_way
        && explains
        && at_odds(base, found).is_empty();
    Some(if settled {
        Standing::Settled
    } else {
        Standing::Leading
    })
}

/// What the first is level with: where the first stands alone, the next that stands behind something else
/// that was seen; else the likeliest of those that are worth about as much; else what most often came first
/// instead.
fn rival(causes: &[RankedCause], redrawn: &Redrawn, found: &[Observation]) -> Option<ConditionKey> {
    let (first, others) = causes.split_first()?;
    if !reaches_beyond_itself(first, found) {
        let mut others = others.iter().filter(|cause| cause.worth > 0.0);
        let next = others.find(|cause| {
            let mut reached = reaches(cause, found).into_iter();
            reached.any(|o| o.condition != first.condition)
        });
        return next.map(|cause| cause.condition);
    }
    let near = others.iter().filter(|o| o.worth >= LEVEL * first.worth);
    let likeliest = near.max_by(|a, b| {
        a.clears
            .total_cmp(&b.clears)
            .then(b.condition.cmp(&a.condition))
    });
    likeliest.map(|cause| cause.condition).or_else(|| {
        let most = redrawn.instead.iter().max_by_key(|(_, times)| **times);
        most.map(|(key, _)| *key)
    })
}

/// What answers to the first looks would put another start first: each answer by itself, then both
/// together where neither does so alone.
fn would_change(
    model: &Model<'_>,
    asked: &Asked,
    found: &[Observation],
    causes: &[RankedCause],
    looks: &[NextLook],
) -> Result<Vec<WouldChange>, DiagnosisError> {
    let Some(now) = causes.first().map(|cause| cause.condition) else {
        return Ok(Vec::new());
    };
    let first_with = |answers: &[(ConditionKey, bool)]| {
        let mut all = found.to_vec();
        all.extend(answers.iter().map(|&(condition, seen)| Observation {
            given: model.base.condition(condition).id.clone(),
            condition,
            state: if seen { State::Found } else { State::NotSeen },
            read_by: ReadBy::Id,
            perhaps: Vec::new(),
        }));
        let mut of = contenders(causes);
        of.extend(answers.iter().map(|answer| answer.0));
        of.sort_unstable();
        of.dedup();
        let starts = model.starts(asked, &all);
        if starts.findings() > ASKED_IN_FULL {
            return first_of(model, asked, &starts.lean(&of), &of);
        }
        first_of(model, asked, &starts, &of)
    };
    let looks: Vec<ConditionKey> = looks
        .iter()
        .take(ASKED)
        .map(|look| look.condition)
        .collect();
    let mut sets: Vec<Vec<(ConditionKey, bool)>> = looks
        .iter()
        .flat_map(|look| [vec![(*look, false)], vec![(*look, true)]])
        .collect();
    if let [one, two] = looks[..] {
        for (a, b) in [(false, true), (true, false), (false, false)] {
            sets.push(vec![(one, a), (two, b)]);
        }
    }
    let mut changes: Vec<WouldChange> = Vec::new();
    for answers in sets {
        let known = changes
            .iter()
            .any(|change| change.answers.iter().all(|answer| answers.contains(answer)));
        if known {
            continue;
        }
        if let Some(first) = first_with(&answers)?.filter(|first| *first != now) {
            changes.push(WouldChange { answers, first });
        }
    }
    Ok(changes)
}

/// Pairs that the library calls opposites, both among what was found.
fn at_odds(base: &KnowledgeBase, found: &[Observation]) -> Vec<(ConditionKey, ConditionKey)> {
    let there: BTreeSet<ConditionKey> = found
        .iter()
        .filter(|o| o.state.is_finding())
        .map(|o| o.condition)
        .collect();
    let pairs = there.iter().flat_map(|one| {
        let others = base.condition(*one).opposites.iter();
        others.map(move |other| (*one, *other))
    });
    pairs
        .filter(|(one, other)| one < other && there.contains(other))
        .collect()
}

/// Conditions reported more than once in different words, in the order reported.
fn said_twice(observations: &[Observation]) -> Vec<ConditionKey> {
    let mut found = Vec::new();
    for (index, later) in observations.iter().enumerate() {
        let again = observations[..index]
            .iter()
            .any(|o| o.condition == later.condition && o.given != later.given);
        if again && !found.contains(&later.condition) {
            found.push(later.condition);
        }
    }
    found
}
