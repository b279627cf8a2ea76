//! From what was typed to what is reported: words read, numbers weighed, contradictions refused.

use super::asked::Asked;
use super::body::complaints;
use super::hearing::{Hearing, settle_contradictions, unknown};
use super::impact;
use super::observation::{Heard, Observation, Open, State};
use super::pairs::{likelihood, measured, overriding, told_fact};
use super::refused::{MOST_REPORTED, Trouble};
use super::reported::Reported;
use super::settle::{Phrase, settle};
use crate::inference::ratio_of_count;
use crate::knowledge::words::DEFAULT_SHARE;
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::Lesson;
use crate::words::{Candidate, Readers};

/// Reads everything typed, in the order seen, found, not seen, slight, measured, likelihood. What is typed is
/// a note: it may hold several findings, denials, facts, and clauses that mean nothing known.
///
/// `choose` is asked when words may mean several entries; `None` leaves them open, and they are weighed
/// in every way that they may be meant.
///
/// # Errors
///
/// Every trouble at once, so that a coach mends the line once. Words that mean nothing are no trouble
/// as long as something else was understood.
pub fn observe(
    readers: &Readers<'_>,
    lesson: &Lesson,
    reported: &Reported,
    choose: &mut dyn FnMut(&str, &[Candidate]) -> Option<ConditionKey>,
) -> Result<Asked, Vec<Trouble>> {
    let base = readers.base();
    let count = reported.count();
    if count > MOST_REPORTED {
        return Err(vec![Trouble::TooMany { reported: count }]);
    }
    let mut troubles = Vec::new();
    let mut heard = Heard::default();
    let facts = reported.facts.iter().map(|id| told_fact(base, id));
    heard.told.extend(taken(facts, &mut troubles));
    let overrides = reported.read.iter().map(|words| overriding(base, words));
    let overrides = taken(overrides, &mut troubles);
    let mut hearing = Hearing::new(readers, lesson, reported, overrides, heard);
    for (list, state) in reported.notes() {
        let each = list.iter().map(|words| hearing.hear(words, state, choose));
        taken(each, &mut troubles);
    }
    let numbers = !(reported.measured.is_empty() && reported.likelihood.is_empty());
    if !hearing.understood() && !numbers && troubles.is_empty() {
        let typed = reported.every_note();
        troubles.extend(typed.map(|words| unknown(readers, words, &hearing.lesson)));
    }
    let Hearing {
        lesson,
        mut heard,
        mut phrases,
        said_of_body,
        ..
    } = hearing;
    if phrases.len() > MOST_REPORTED {
        return Err(vec![Trouble::TooMany {
            reported: phrases.len(),
        }]);
    }
    settle_contradictions(&mut phrases, &mut heard);
    let lesson = with_what_was_told(base, lesson, &heard);
    settle(base, &lesson, &mut phrases);
    let mut found = observations(base, &phrases, &mut heard);
    found.append(&mut by_pairs(base, &lesson, reported, &mut troubles));
    troubles.extend(contradictions(&found));
    if troubles.is_empty() {
        return Ok(Asked {
            complaints: complaints(base, said_of_body, &found),
            observations: found,
            heard,
            lesson,
            ..Asked::default()
        });
    }
    // A line that has to be mended is mended once.
    let typed = reported.every_note();
    let strange = typed.filter(|words| heard.not_understood.contains(words));
    let mut all: Vec<Trouble> = strange
        .map(|words| unknown(readers, words, &lesson))
        .filter(|trouble| !troubles.contains(trouble))
        .collect();
    all.append(&mut troubles);
    Err(all)
}

/// Those that could be taken; the trouble with the others is added to `troubles`.
fn taken<T>(each: impl Iterator<Item = Result<T, Trouble>>, troubles: &mut Vec<Trouble>) -> Vec<T> {
    each.filter_map(|one| one.map_err(|trouble| troubles.push(trouble)).ok())
        .collect()
}

/// What the settled phrases report, each once; what stays open is asked.
fn observations(base: &KnowledgeBase, phrases: &[Phrase], heard: &mut Heard) -> Vec<Observation> {
    let mut found: Vec<Observation> = Vec::new();
    for phrase in phrases {
        if !phrase.open.is_empty() && phrase.meanings.len() > 1 {
            heard.open.push(Open {
                given: phrase.words.clone(),
                candidates: phrase.meanings.iter().map(|(key, _)| *key).collect(),
                wants_hand: phrase.wants_hand,
            });
        }
        let seen = phrase.observation().map(|seen| counted(base, seen));
        // A clause of which two parts say the same is one thing seen.
        let again = |seen: &Observation| {
            let same = |known: &Observation| {
                (&known.given, known.condition) == (&seen.given, seen.condition)
                    && known.state == seen.state
            };
            found.iter().any(same)
        };
        if let Some(seen) = seen.filter(|seen| !again(seen)) {
            found.push(seen);
        }
    }
    found
}

/// What the numbers and the ratios report; numbers of one strike are weighed together.
fn by_pairs(
    base: &KnowledgeBase,
    lesson: &Lesson,
    reported: &Reported,
    troubles: &mut Vec<Trouble>,
) -> Vec<Observation> {
    let mut strike = Vec::new();
    let mut alone = Vec::new();
    for words in &reported.measured {
        match impact::number_typed(base, words) {
            Some((number, value)) => strike.push((number, value, words.clone())),
            None => alone.push(measured(base, words)),
        }
    }
    if !strike.is_empty() {
        alone.push(impact::numbers(base, lesson.shot, &strike));
    }
    let mut found = taken(alone.into_iter(), troubles).concat();
    let ratios = reported.likelihood.iter();
    let ratios = ratios.map(|words| likelihood(base, words));
    found.append(&mut taken(ratios, troubles));
    found
}

/// The lesson with the facts told in passing, and what they ask of a drill.
fn with_what_was_told(base: &KnowledgeBase, lesson: Lesson, heard: &Heard) -> Lesson {
    let told = heard.told.iter().map(|told| told.fact);
    let ids: Vec<&str> = told
        .clone()
        .map(|fact| base.fact(fact).id.as_str())
        .collect();
    let mut lesson = lesson.told(&ids);
    lesson.facts.extend(told);
    lesson
}

/// A count weighed by how common the condition is that it was of.
fn counted(base: &KnowledgeBase, seen: Observation) -> Observation {
    let State::Counted { shown, of, .. } = seen.state else {
        return seen;
    };
    let prior = base.condition(seen.condition).how_common;
    let prior = prior.map_or(DEFAULT_SHARE, |share| share.get());
    let ratio = ratio_of_count(shown, of, State::PATTERN_FROM, prior).unwrap_or(1.0);
    Observation {
        state: State::Counted { shown, of, ratio },
        ..seen
    }
}

/// Pairs that cannot both be: one condition reported in two ways that differ.
fn contradictions(found: &[Observation]) -> Vec<Trouble> {
    let mut troubles = Vec::new();
    for (index, later) in found.iter().enumerate() {
        let Some(earlier) = found[..index]
            .iter()
            .find(|earlier| earlier.condition == later.condition)
        else {
            continue;
        };
        let agree = match (earlier.state, later.state) {
            (State::NotSeen, State::NotSeen) => true,
            (State::NotSeen, _) | (_, State::NotSeen) => false,
            (
                State::Seen | State::Found | State::Slight,
                State::Seen | State::Found | State::Slight,
            ) => true,
            // A number that shows it says so too.
            (a, b) if a.is_finding() && b.is_finding() && a.is_said() != b.is_said() => true,
            // Two numbers for one thing, or words and a number within the range: which counts would be a
            // guess.
            (a, b) => a == b,
        };
        if !agree {
            troubles.push(Trouble::Contradiction {
                condition: later.condition,
                given: [earlier.given.clone(), later.given.clone()],
            });
        }
    }
    troubles
}
