//! Drills that say the same in nearly the same words.
//!
//! The measure is the Sorensen-Dice coefficient of the sets of three-word runs ("shingles") in
//! purpose, set-up and steps: twice the number of runs in both, divided by the number in each added
//! up; 0 is nothing in common, 1 the same words in the same order. Dice L.R. (1945), Measures of the
//! amount of ecologic association between species, Ecology 26:297-302; cited from memory.

use super::base::{Drill, DrillKey, KnowledgeBase};
use super::drill_text::DrillText;
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};

/// From here on two drills are reported as near copies: half of what they say is the same.
pub const NEAR_COPY: f64 = 0.5;

/// Words in a run.
const RUN: usize = 3;

/// Drills with fewer runs are too short to compare: any two of a dozen words look alike.
const FEWEST_RUNS: usize = 8;

/// A run that stands in more drills than this says nothing about copying, and is passed over, so
/// that a hundred thousand drills with one phrase in common do not take an hour.
const MOST_SHARED: usize = 50;

/// The runs of words in a drill, as sorted hashes.
fn runs<'t>(texts: impl Iterator<Item = &'t str>) -> Vec<u64> {
    let words: Vec<String> = texts
        .flat_map(|text| {
            let lower = text.to_lowercase();
            let words = lower.split(|c: char| !c.is_alphanumeric());
            words
                .filter(|word| !word.is_empty())
                .map(str::to_owned)
                .collect::<Vec<_>>()
        })
        .collect();
    let mut runs: Vec<u64> = words
        .windows(RUN)
        .map(|run| {
            // With its fixed keys: the same drill has the same runs in every process.
            let mut hasher = DefaultHasher::new();
            run.hash(&mut hasher);
            hasher.finish()
        })
        .collect();
    runs.sort_unstable();
    runs.dedup();
    runs
}

fn runs_of(drill: &Drill) -> Vec<u64> {
    let lead = [drill.purpose.as_str(), drill.setup.as_str()];
    runs(
        lead.into_iter()
            .chain(drill.steps.iter().map(String::as_str)),
    )
}

/// From 0 to 1; see the module's first lines.
#[allow(clippy::cast_precision_loss, reason = "counts of words in one drill")]
fn dice(shared: usize, left: usize, right: usize) -> f64 {
    if left + right == 0 {
        return 0.0;
    }
    2.0 * shared as f64 / (left + right) as f64
}

/// Drills of the library that `drill` is a near copy of, most alike first, with their likeness
/// (at least [`NEAR_COPY`], at most 1). The drill of the same id, and retired ones, are left out.
#[must_use]
pub fn near_copies(drill: &DrillText, base: &KnowledgeBase) -> Vec<(DrillKey, f64)> {
    let lead = drill.purpose.iter().chain(&drill.setup);
    let own = runs(lead.chain(&drill.steps).map(String::as_str));
    if own.len() < FEWEST_RUNS {
        return Vec::new();
    }
    let mut found: Vec<(DrillKey, f64)> = base
        .drill_keys()
        .filter(|key| base.drill(*key).id != drill.id && base.drill(*key).retired_for.is_none())
        .filter_map(|key| {
            let other = runs_of(base.drill(key));
            let shared = other.iter().filter(|run| own.binary_search(run).is_ok());
            let likeness = dice(shared.count(), own.len(), other.len());
            (likeness >= NEAR_COPY && other.len() >= FEWEST_RUNS).then_some((key, likeness))
        })
        .collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    found
}

/// Every drill that is a near copy of an earlier one, with the one it is most like.
pub(super) fn pairs(base: &KnowledgeBase) -> Vec<(DrillKey, DrillKey, f64)> {
    let mut found = Vec::new();
    let mut stands_in: HashMap<u64, Vec<usize>> = HashMap::new();
    let mut lengths: Vec<usize> = Vec::with_capacity(base.drills.len());
    for (later, drill) in base.drills.iter().enumerate() {
        let own = runs_of(drill);
        lengths.push(own.len());
        if own.len() < FEWEST_RUNS || drill.retired_for.is_some() {
            continue;
        }
        let mut shared: HashMap<usize, usize> = HashMap::new();
        for run in &own {
            let drills = stands_in.entry(*run).or_default();
            for earlier in drills.iter() {
                *shared.entry(*earlier).or_insert(0) += 1;
            }
            if drills.len() < MOST_SHARED {
                drills.push(later);
            }
        }
        let likest = shared
            .into_iter()
            .map(|(earlier, count)| (dice(count, own.len(), lengths[earlier]), earlier))
            .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        if let Some((likeness, earlier)) = likest
            && likeness >= NEAR_COPY
        {
            found.push((DrillKey(later), DrillKey(earlier), likeness));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: seven words make five runs each; the first three are shared.
    #[test]
    fn the_measure_agrees_with_a_hand_worked_value() {
        let left = runs(["one two three four five six seven"].into_iter());
        let right = runs(["One, two three: four five nine ten"].into_iter());
        let shared = right.iter().filter(|run| left.binary_search(run).is_ok());
        let likeness = dice(shared.count(), left.len(), right.len());
        assert!((likeness - 0.6).abs() < 1e-12, "{likeness}");
    }
}
