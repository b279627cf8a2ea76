//! What to look at next: where the start may be, and what tells the starts apart.

use super::answer::{Behind, NextLook, RankedCause};
use super::model::Model;
use super::observation::Observation;
use super::starts::Starts;
use super::student::Student;
use crate::causal::commonness;
use crate::knowledge::ConditionKey;

/// How many looks an answer holds.
const LOOKS: usize = 5;

/// How many leading causes a look is said to speak for.
const LEADING: usize = 5;

/// How likely a start is seen when it is looked for and is the start.
const SEEN_WHEN_THERE: f64 = 0.97;

/// What the bits that a look is expected to bring count for beside the chance that it is the start. A
/// look that finds the start ends the search; one that only tells others apart leaves the finding for
/// later. On 85 lessons of teachers, after two looks, the teacher's start led in 58 % with none of the
/// bits, 60 % with a quarter, 56 % with half or all; after six in 72, 73 and 72 %.
const BITS_COUNT: f64 = 0.25;

/// The best looks, best first. With every start in proportion to its worth, a look at L scores the chance
/// that L is the start, plus a quarter of the expected drop in bits, where
///
/// ```text
/// P(L seen | start C) = 1 - (1 - b_L) (1 - row_L(C) b_L / o_C)        0.97 for L = C
/// ```
pub(super) fn next_looks(
    model: &Model<'_>,
    student: &Student<'_>,
    starts: &Starts<'_>,
    found: &[Observation],
    causes: &[RankedCause],
) -> Vec<NextLook> {
    let base = model.base;
    let sum: f64 = causes.iter().map(|cause| cause.worth).sum();
    let likely: Vec<Likely> = causes
        .iter()
        .filter(|cause| cause.worth > 0.0)
        .map(|cause| Likely {
            start: cause.condition,
            share: cause.worth / sum,
            prior: starts.prior(cause.condition),
        })
        .collect();
    if likely.is_empty() {
        return Vec::new();
    }
    let now = likely.iter().map(|one| entropy(one.share)).sum::<f64>();
    let mut looks: Vec<(f64, NextLook)> = Vec::new();
    for key in base.condition_keys() {
        let condition = base.condition(key);
        let open = !condition.seen_from.is_empty()
            && !condition.is_pain()
            && condition.retired_for.is_none()
            && student.may_be_looked_for(key)
            && !found.iter().any(|o| o.condition == key);
        if !open {
            continue;
        }
        let row = student.row(&model.rows, key, None);
        let behind = |start: ConditionKey| {
            let at = row.binary_search_by_key(&start, |entry| entry.0);
            at.map_or(0.0, |at| row[at].1)
        };
        let after = bits_left(&likely, key, commonness(base, key), behind);
        let bits = (now - after[0] - after[1]).max(0.0);
        let chance = likely.iter().find(|one| one.start == key);
        let chance = chance.map_or(0.0, |one| one.share);
        let raises = causes
            .iter()
            .take(LEADING)
            .map(|cause| cause.condition)
            .filter(|start| *start == key || Behind::of(behind(*start)) == Behind::Often)
            .collect();
        let look = NextLook {
            condition: key,
            chance,
            bits,
            raises,
        };
        looks.push((chance + BITS_COUNT * bits, look));
    }
    let cost = |look: &NextLook| {
        base.condition(look.condition)
            .seen_from
            .iter()
            .min()
            .copied()
    };
    looks.sort_by(|(a, one), (b, two)| {
        b.total_cmp(a)
            .then(cost(one).cmp(&cost(two)))
            .then(one.condition.cmp(&two.condition))
    });
    let looks = looks.into_iter().filter(|(score, _)| *score > 0.0);
    looks.take(LOOKS).map(|(_, look)| look).collect()
}

/// A start that may be it.
struct Likely {
    start: ConditionKey,
    /// Its share of the worth of all.
    share: f64,
    /// How common it is without anything seen.
    prior: f64,
}

/// The bits that are left when the look at `key` shows it, and when it does not, each times its chance.
/// `common` is how common what is looked for is, `behind` what each start has of its row.
fn bits_left(
    likely: &[Likely],
    key: ConditionKey,
    common: f64,
    behind: impl Fn(ConditionKey) -> f64,
) -> [f64; 2] {
    let mut seen = 0.0;
    let mut joint = Vec::with_capacity(likely.len());
    for one in likely {
        let there = if one.start == key {
            SEEN_WHEN_THERE
        } else {
            let brought = (behind(one.start) * common / one.prior).min(SEEN_WHEN_THERE);
            1.0 - (1.0 - common) * (1.0 - brought)
        };
        seen += one.share * there;
        joint.push([one.share * there, one.share * (1.0 - there)]);
    }
    let mut after = [0.0; 2];
    for (answer, total) in [seen, 1.0 - seen].into_iter().enumerate() {
        if total > 0.0 {
            let left = joint.iter().map(|both| entropy(both[answer] / total));
            after[answer] = total * left.sum::<f64>();
        }
    }
    after
}

fn entropy(p: f64) -> f64 {
    if p > 0.0 { -p * libm::log2(p) } else { 0.0 }
}
