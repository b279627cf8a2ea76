//! What a coach's own records say of the library's rows and effects: counts added to what the library
//! states, which counts as so many students of its own. Opted into, and never written into a library.
//!
//! A row is the mean of a Dirichlet distribution: with shares `p` that weigh as much as `w` students and
//! counts `n` that add up to `N`, the posterior mean is `(w p + n) / (w + N)`. For one student the same
//! step is taken once more, from what all the others say and with the weight of a few lessons, so that a
//! student of few lessons is held near the rest (Gelman A. et al., Bayesian Data Analysis, 3rd edition,
//! sections 3.4 and 5, from memory). The effect of a drill is a Beta in the same way.

use crate::causal::{CausalGraph, Row, Rows};
use crate::knowledge::{ConditionKey, DrillKey, KnowledgeBase, Probability};
use statrs::distribution::{Beta, ContinuousCDF};
use std::collections::BTreeMap;

/// A row of the library counts as much as so many students. A judgement: two seasons of a coach who
/// sees a fault once a month come to as much as the library.
pub const ROW_WEIGHT: f64 = 20.0;

/// What all students say counts, for one student, as much as so many lessons. A judgement.
pub const OWN_WEIGHT: f64 = 4.0;

/// The library's effect of a drill counts as much as so many tries. A judgement.
pub const EFFECT_WEIGHT: f64 = 8.0;

/// How often a call is right before anything came of it. A judgement, below what one coach agrees with
/// himself to.
const CALL_RIGHT: f64 = 0.8;

/// How often a finding changes once its start is treated, and how often it does anyway. Judgements.
const CHANGES: [f64; 2] = [0.8, 0.1];

/// One call: whose, the start, and whether the finding changed once it was treated.
#[derive(Clone, Debug, PartialEq)]
pub struct CallFor {
    /// The student.
    pub handle: String,
    /// The id of the start.
    pub start: String,
    /// From 0 for as before to 1 for gone; none when that is not known.
    pub changed: Option<f64>,
}

/// A row, with what moved it.
#[derive(Clone, Debug, PartialEq)]
pub struct LearnedRow {
    /// What the library says.
    pub prior: Row,
    /// Each start with its count over all students; every student counts once.
    pub data: BTreeMap<ConditionKey, f64>,
    /// How many students that is.
    pub students: usize,
    /// How many of them ended at each start, plainly counted by their last call.
    pub ended_at: BTreeMap<ConditionKey, usize>,
    /// How many lessons of this student are among it.
    pub own_lessons: usize,
    /// What comes of both.
    pub posterior: Row,
}

/// The chance that the start called is the right one, given what came of treating it: Bayes' rule on
/// `CALL_RIGHT`. Nothing changed speaks against it, gone speaks for it.
#[must_use]
pub fn call_holds(changed: Option<f64>) -> f64 {
    let Some(changed) = changed else {
        return CALL_RIGHT;
    };
    let likely = |changes: f64| changed * changes + (1.0 - changed) * (1.0 - changes);
    let right = CALL_RIGHT * likely(CHANGES[0]);
    right / (right + (1.0 - CALL_RIGHT) * likely(CHANGES[1]))
}

/// The posterior mean of a Dirichlet: shares that weigh so much, and counts. What the shares leave of 1 is
/// kept in proportion.
#[must_use]
pub fn dirichlet_mean(
    prior: &BTreeMap<ConditionKey, f64>,
    weight: f64,
    counts: &BTreeMap<ConditionKey, f64>,
) -> BTreeMap<ConditionKey, f64> {
    let total = weight + counts.values().sum::<f64>();
    let mut posterior: BTreeMap<ConditionKey, f64> = prior
        .iter()
        .map(|(key, share)| (*key, weight * share / total))
        .collect();
    for (key, count) in counts {
        *posterior.entry(*key).or_default() += count / total;
    }
    posterior
}

/// A start as a coach called it, and whether it changed when it was treated.
type Call = (ConditionKey, Option<f64>);
type Counts = BTreeMap<ConditionKey, f64>;

/// What calls count for in a row, each so much.
fn counted(shares: &Counts, calls: &[Call], each: f64) -> Counts {
    let mut counts = Counts::new();
    for (start, changed) in calls {
        let holds = call_holds(*changed);
        *counts.entry(*start).or_default() += each * holds;
        // The rest goes where the row has it.
        let others: f64 = shares.iter().filter(|s| s.0 != start).map(|s| s.1).sum();
        for (other, share) in shares.iter().filter(|s| s.0 != start) {
            *counts.entry(*other).or_default() += each * (1.0 - holds) * share / others;
        }
    }
    counts
}

/// A row moved by calls; none where there are none for it. `own` is the student that it is for.
#[must_use]
pub fn learned_row(
    base: &KnowledgeBase,
    prior: &Row,
    calls: &[CallFor],
    own: Option<&str>,
) -> Option<LearnedRow> {
    let shares: Counts = prior.entries().iter().copied().collect();
    let mut by_student: BTreeMap<&str, Vec<Call>> = BTreeMap::new();
    for call in calls {
        if let Some(start) = base.find(&call.start) {
            let of = by_student.entry(&call.handle).or_default();
            of.push((start, call.changed));
        }
    }
    if by_student.is_empty() {
        return None;
    }
    let counts = |calls: &[Call], each: f64| counted(&shares, calls, each);
    let mut data = Counts::new();
    let mut others = Counts::new();
    for (handle, calls) in &by_student {
        for (key, count) in counts(calls, 1.0 / calls.len() as f64) {
            *data.entry(key).or_default() += count;
            if Some(*handle) != own {
                *others.entry(key).or_default() += count;
            }
        }
    }
    let mine = own.and_then(|own| by_student.get(own));
    let posterior = match mine {
        None => dirichlet_mean(&shares, ROW_WEIGHT, &data),
        Some(mine) => {
            let rest = dirichlet_mean(&shares, ROW_WEIGHT, &others);
            dirichlet_mean(&rest, OWN_WEIGHT, &counts(mine, 1.0))
        }
    };
    let mut ended_at: BTreeMap<ConditionKey, usize> = BTreeMap::new();
    for (start, _) in by_student.values().filter_map(|calls| calls.last()) {
        *ended_at.entry(*start).or_default() += 1;
    }
    Some(LearnedRow {
        prior: prior.clone(),
        data,
        students: by_student.len(),
        ended_at,
        own_lessons: mine.map_or(0, Vec::len),
        posterior: Row::of(posterior),
    })
}

/// The rows of these findings as the calls move them.
#[must_use]
pub fn learned_rows(
    base: &KnowledgeBase,
    calls: &BTreeMap<ConditionKey, Vec<CallFor>>,
    own: Option<&str>,
) -> BTreeMap<ConditionKey, LearnedRow> {
    if calls.values().all(Vec::is_empty) {
        return BTreeMap::new();
    }
    let rows = Rows::new(base, &CausalGraph::new(base));
    calls
        .iter()
        .filter_map(|(key, calls)| Some((*key, learned_row(base, rows.row(*key), calls, own)?)))
        .collect()
}

/// An effect, with what moved it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LearnedEffect {
    /// What the library says, from 0 to 1.
    pub prior: f64,
    /// How many tries were told.
    pub told: usize,
    /// How many of them worked, a partly for a half.
    pub worked: f64,
    /// What comes of both.
    pub posterior: f64,
    /// 95 % interval of it.
    pub low: f64,
    /// See `low`.
    pub high: f64,
}

/// An effect moved by tries.
#[must_use]
pub fn learned_effect(prior: f64, told: usize, worked: f64) -> LearnedEffect {
    let (a, b) = (
        EFFECT_WEIGHT * prior + worked,
        EFFECT_WEIGHT * (1.0 - prior) + (told as f64 - worked),
    );
    let at = |share: f64| Beta::new(a, b).map_or(a / (a + b), |beta| beta.inverse_cdf(share));
    LearnedEffect {
        prior,
        told,
        worked,
        posterior: a / (a + b),
        low: at(0.025),
        high: at(0.975),
    }
}

/// Puts effects as tries move them into a library that is asked now, and is kept nowhere.
pub fn move_effects(base: &mut KnowledgeBase, tries: &BTreeMap<DrillKey, (usize, f64)>) {
    for (drill, (told, worked)) in tries {
        for treats in &mut base.drills[drill.0].treats {
            let moved = learned_effect(treats.effect.get(), *told, *worked).posterior;
            if let Ok(moved) = Probability::new(moved) {
                treats.effect = moved;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Nothing changed is evidence against a start, gone is evidence for it.
    #[test]
    fn treating_without_a_change_speaks_against_the_start() {
        let (unknown, as_before, gone) = (
            call_holds(None),
            call_holds(Some(0.0)),
            call_holds(Some(1.0)),
        );
        assert!(as_before < 0.5 && 0.5 < unknown && unknown < gone);
        assert!((as_before - 0.16 / 0.34).abs() < 1e-12);
        assert!((gone - 0.64 / 0.66).abs() < 1e-12);
    }

    #[test]
    fn an_effect_moves_by_as_much_as_it_was_tried() {
        let none = learned_effect(0.7, 0, 0.0);
        assert!((none.posterior - 0.7).abs() < 1e-12);
        let failed = learned_effect(0.7, 8, 0.0);
        assert!((failed.posterior - 0.35).abs() < 1e-12);
        assert!(failed.low < failed.posterior && failed.posterior < failed.high);
    }
}
