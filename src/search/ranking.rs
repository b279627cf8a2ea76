//! How drills are scored: by their text, by their name and by what they do for what is meant.

use super::drill_index::DrillIndex;
use super::filter::{Counts, Sieve};
use super::index::{Alternatives, IndexError};
use super::meant::{Meant, SURE};
use super::scored::Scored;
use super::texts::in_its_place;
use crate::knowledge::{ConditionKey, DrillKey, KnowledgeBase, RemedyKind};
use crate::words::lexicon::{Meaning, WordKey};
use crate::words::term::{FastMap, FastSet, Term};
use std::cmp::Ordering;

/// How much the meaning counts beside the text, when the words could be read. Judged with the rest
/// on `tests/search/queries.yaml`.
const MEANING: f64 = 0.7;
/// What is left of the score of a drill that can make worse what was typed.
const HELD_DOWN: f64 = 0.25;
/// What a second and a third thing that a drill works on add to the first.
const ALSO: f64 = 0.6;
/// What is left of the meaning when the words name something that drills need.
const RECALLED: f64 = 0.5;
/// A name that the words come nearer to than this was meant.
const NAMED: f64 = 0.72;
/// And one as near as this was typed.
const EXACTLY: f64 = 0.8;
/// A drill fits when its score is at least this share of the best; and where nothing but its text or an unsure
/// reading speaks for it, at least this: one word of several in common is no reason to offer a drill.
const FITS: f64 = 0.25;
const FITS_BY_TEXT: f64 = 0.5;
/// What a synonym counts in the text.
const SAME_COUNTS: f64 = 0.6;

/// A drill with the parts of its score.
pub(super) struct RankedDrill {
    pub(super) drill: DrillKey,
    pub(super) by_meaning: f64,
    pub(super) by_text: f64,
    pub(super) held_down: f64,
    /// How near the words come to its name, where they name it; else 0.
    named: f64,
}

impl RankedDrill {
    pub(super) fn score(&self) -> f64 {
        self.by_meaning + self.by_text
    }

    /// Whether it does enough beside the best to be offered.
    pub(super) fn fits(&self, best: f64, sure: f64, only_word: bool) -> bool {
        let share = if self.by_meaning > 0.0 && sure >= SURE {
            FITS
        } else {
            FITS_BY_TEXT
        };
        self.score() >= share * best || (only_word && self.by_text > 0.0)
    }

    /// The order of the answer: what was named, then by score, ties by key.
    pub(super) fn before(&self, other: &Self) -> Ordering {
        let by_name = other.named.total_cmp(&self.named);
        let by_score = other.score().total_cmp(&self.score());
        by_name.then(by_score).then(self.drill.cmp(&other.drill))
    }
}

/// The best score among those that pass the filters.
pub(super) fn best_passing(ranked: &[RankedDrill], sieve: &Sieve<'_>, counts: &mut Counts) -> f64 {
    let passing = ranked.iter().filter(|one| sieve.pass(one.drill, counts));
    passing.map(RankedDrill::score).fold(0.0, f64::max)
}

impl DrillIndex {
    /// The drills that may be done and that anything speaks for, in no order; of a large library the best
    /// `most`.
    pub(super) fn ranked(
        &self,
        base: &KnowledgeBase,
        words: &[(Term, Meaning)],
        meant: &Meant,
        most: usize,
    ) -> Result<Vec<RankedDrill>, IndexError> {
        let text = self.by_text(words, most.min(base.drills.len().max(1)))?;
        let named = self.by_name(words);
        let mut scored = self.by_meaning(&meant.likely);
        for (drill, score) in text {
            scored.at(drill).1 = score;
        }
        for (drill, near) in &named {
            let text = &mut scored.at(*drill).1;
            *text = text.max(*near);
        }
        let share = self.share_of_meaning(words, meant.sure());
        // What the words may mean is enough to keep a drill back.
        let limits = meant.complaints.closed_to();
        let kept_back = |drills: &[Vec<DrillKey>]| -> FastSet<DrillKey> {
            let typed = meant.typed.iter().map(|(condition, _)| condition);
            let back = typed.chain(&limits).flat_map(|key| &drills[key.0]);
            back.copied().collect()
        };
        let (barred, aggravating) = (kept_back(&self.barred), kept_back(&self.aggravating));
        let may_be = |key: DrillKey| !barred.contains(&key) && self.may_be(base, key, meant);
        let of = |(drill, (meaning, text)): (DrillKey, (f64, f64))| {
            let near = named.get(&drill).copied();
            let named = near.filter(|near| *near >= EXACTLY);
            let held_down = if named.is_some() || !aggravating.contains(&drill) {
                1.0
            } else {
                HELD_DOWN
            };
            let by_meaning = share * meaning * held_down;
            let by_text = if named.is_some() {
                // Whoever knows a drill by its name wants that one.
                1.0 - by_meaning
            } else {
                (1.0 - share) * text * held_down
            };
            RankedDrill {
                drill,
                by_meaning,
                by_text,
                held_down,
                named: named.unwrap_or_default(),
            }
        };
        let scored = scored.best(most, share).into_iter();
        Ok(scored.filter(|(key, _)| may_be(*key)).map(of).collect())
    }

    /// How much the meaning counts beside the text.
    fn share_of_meaning(&self, words: &[(Term, Meaning)], sure: f64) -> f64 {
        // A towel or a stick in the query recalls a drill rather than a fault.
        let thing = |(term, _): &(Term, Meaning)| self.things.contains(&term.stem);
        let recalled = sure < 1.0 && words.iter().any(thing);
        MEANING * sure * if recalled { RECALLED } else { 1.0 }
    }

    /// Whether the drill is current, and what the body allows.
    fn may_be(&self, base: &KnowledgeBase, key: DrillKey, meant: &Meant) -> bool {
        !self.facts.is_retired(key)
            && (meant.complaints.refer().is_none()
                || self.facts.kind(key) == RemedyKind::Referral
                || (!meant.stops() && base.drill(key).is_gentle()))
    }

    /// Drills by BM25, from 0 to 1: 1 for the best of them when everything typed is known.
    fn by_text(
        &self,
        words: &[(Term, Meaning)],
        limit: usize,
    ) -> Result<Vec<(DrillKey, f64)>, IndexError> {
        let alternatives: Vec<Alternatives> = words
            .iter()
            .map(|(_, meaning)| {
                in_its_place(meaning)
                    .enumerate()
                    .map(|(place, (key, counts))| {
                        // What merely means the same finds the drill, and ranks it below one that
                        // says the very word.
                        let counts = if place == 0 {
                            *counts
                        } else {
                            counts * counts * SAME_COUNTS
                        };
                        (self.texts.lexicon.stem(*key).to_owned(), counts)
                    })
                    .collect()
            })
            .collect();
        let found = self.texts.index.search(&alternatives, limit)?;
        let best = found
            .first()
            .map_or(1.0, |(_, score)| *score)
            .max(f64::MIN_POSITIVE);
        let (mut known, mut all) = (0.0, 0.0);
        for (_, meaning) in words {
            all += meaning.weight;
            known += meaning.weight * meaning.stems.first().map_or(0.0, |(_, counts)| *counts);
        }
        let share = if all > 0.0 { known / all } else { 0.0 };
        Ok(found
            .into_iter()
            .map(|(number, score)| (DrillKey(number), share * score / best))
            .collect())
    }

    /// Drills by what they do for what is likely, as the first of two numbers, from 0 to 1: 1 for the
    /// best.
    fn by_meaning(&self, likely: &[(ConditionKey, f64)]) -> Scored {
        let mut scored = Scored::new(self.facts.len());
        for (condition, chance) in likely {
            for (drill, effect) in &self.treating[condition.0] {
                let gain = chance * effect;
                let (best, rest) = scored.at(*drill);
                if gain > *best {
                    *rest += *best;
                    *best = gain;
                } else {
                    *rest += gain;
                }
            }
        }
        let mut most = f64::MIN_POSITIVE;
        scored.each_mut(|(score, rest)| {
            *score += ALSO * *rest;
            *rest = 0.0;
            most = most.max(*score);
        });
        scored.each_mut(|(score, _)| *score /= most);
        scored
    }

    /// Drills whose name, or another name, the words come near to, and how near: from [`NAMED`] to 1.
    fn by_name(&self, words: &[(Term, Meaning)]) -> FastMap<DrillKey, f64> {
        let mut weights: Vec<f64> = Vec::with_capacity(words.len());
        let mut hits: FastMap<WordKey, Vec<(usize, f64)>> = FastMap::default();
        for (typed, (_, meaning)) in words.iter().enumerate() {
            weights.push(meaning.weight);
            for (key, counts) in &meaning.stems {
                hits.entry(*key).or_default().push((typed, *counts));
            }
        }
        let all: f64 = weights.iter().sum();
        // Most names share a word with a query and are not meant; those are told by one sum each.
        let least = NAMED * NAMED - 1e-9;
        let mut covered = vec![0.0_f64; self.whole_names.len()];
        let mut names: Vec<u32> = Vec::new();
        for (key, hits) in &hits {
            let best = hits.iter().map(|(_, counts)| *counts).fold(0.0, f64::max);
            let share = best * self.texts.lexicon.weight(*key);
            for name in self.in_names.get(key).into_iter().flatten() {
                let covered = &mut covered[*name as usize];
                *covered += share;
                if *covered >= least * self.whole_names[*name as usize] {
                    names.push(*name);
                }
            }
        }
        names.sort_unstable();
        names.dedup();
        let mut named: FastMap<DrillKey, f64> = FastMap::default();
        for name in names {
            let (drill, stems) = &self.texts.names[name as usize];
            let mut here = vec![0.0_f64; words.len()];
            let (mut covered, mut whole) = (0.0, 0.0);
            for stem in stems {
                let weight = self.texts.lexicon.weight(*stem);
                whole += weight;
                let mut best = 0.0_f64;
                for (typed, counts) in hits.get(stem).into_iter().flatten() {
                    here[*typed] = here[*typed].max(*counts);
                    best = best.max(*counts);
                }
                covered += weight * best;
            }
            let said: f64 = here
                .iter()
                .zip(&weights)
                .map(|(hit, weight)| hit * weight)
                .sum();
            let near = (said / all.max(f64::MIN_POSITIVE)).sqrt()
                * (covered / whole.max(f64::MIN_POSITIVE)).sqrt();
            if near >= NAMED {
                let best = named.entry(*drill).or_default();
                *best = best.max(near.min(1.0));
            }
        }
        named
    }
}
