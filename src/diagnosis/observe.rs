//! From what was typed to what is reported: words read, numbers weighed, contradictions refused.

use super::impact;
use super::observation::{Observation, State};
use super::settle::{Phrase, settle};
use crate::inference::{Measurement, Side as MeasuredSide, likelihood_ratio};
use crate::knowledge::words::DEFAULT_SHARE;
use crate::knowledge::{ConditionKey, KnowledgeBase, Measure, Side, nearest};
use crate::search::MOST_QUERY_WORDS;
use crate::words::{Candidate, Circumstances, ReadBy, Reader, Reading};
use std::fmt::Write as _;

/// What a coach typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reported {
    /// Seen.
    pub seen: Vec<String>,
    /// Looked for on the tool's advice, and there.
    pub found: Vec<String>,
    /// Looked for and not seen.
    pub not_seen: Vec<String>,
    /// Seen slightly, or in an unsure look.
    pub slight: Vec<String>,
    /// `quantity=value`, with or without the unit.
    pub measured: Vec<String>,
    /// `id=ratio`.
    pub likelihood: Vec<String>,
}

impl Reported {
    /// Whether nothing was typed at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        [
            &self.seen,
            &self.found,
            &self.not_seen,
            &self.slight,
            &self.measured,
            &self.likelihood,
        ]
        .iter()
        .all(|list| list.is_empty())
    }
}

/// More findings than this are not one student.
pub const MOST_REPORTED: usize = 100;
/// More words than this are not one finding.
pub const MOST_WORDS: usize = MOST_QUERY_WORDS;

/// Why something typed could not be taken.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// There is no word in it.
    NoWords {
        /// What was typed.
        words: String,
    },
    /// There are more than [`MOST_WORDS`] words in it.
    TooLong {
        /// The words.
        words: String,
    },
    /// More than [`MOST_REPORTED`] findings were reported.
    TooMany {
        /// How many.
        reported: usize,
    },
    /// No entry is meant, as far as the library knows.
    Unknown {
        /// The words.
        words: String,
        /// Entries that come nearest, best first; a guess.
        nearest: Vec<ConditionKey>,
    },
    /// Several entries may be meant, or one that not all of the words speak for.
    Several {
        /// The words.
        words: String,
        /// The entries, best first; at least one.
        candidates: Vec<ConditionKey>,
    },
    /// One condition is reported in two ways that cannot both be.
    Contradiction {
        /// The condition.
        condition: ConditionKey,
        /// The words that say one thing, and those that say the other.
        given: [String; 2],
    },
    /// A measurement or a ratio is not written as it must be.
    Malformed {
        /// The words.
        words: String,
        /// What is wrong and what to write instead.
        help: String,
    },
}

impl Trouble {
    /// What is wrong and what to write instead, as an error of two or three lines.
    #[must_use]
    pub fn describe(&self, base: &KnowledgeBase) -> String {
        let list = |keys: &[ConditionKey]| {
            keys.iter()
                .map(|key| {
                    let condition = base.condition(*key);
                    format!("{} ({})", condition.id, condition.name)
                })
                .collect::<Vec<_>>()
                .join(", ")
        };
        let mut text = String::new();
        let _ = match self {
            Trouble::NoWords { words } => write!(
                text,
                "error: there is no word in \"{}\"\n  help: say what ball, club or body did, such as \"slice\" or \"sways off the ball\"",
                clipped(words)
            ),
            Trouble::TooLong { words } => write!(
                text,
                "error: \"{}\" has {} words, and a finding at most {MOST_WORDS}\n  help: report each finding by itself, such as: \"weak slice\" \"divots point in\"",
                clipped(words),
                words.split_whitespace().count()
            ),
            Trouble::TooMany { reported } => write!(
                text,
                "error: {reported} findings are too many for one student; at most {MOST_REPORTED} are read\n  help: report what matters most, a finding of several words in quotes"
            ),
            Trouble::Unknown { words, nearest } if nearest.is_empty() && other_script(words) => {
                write!(
                    text,
                    "error: \"{}\" means nothing that the library knows; nothing in it is written in this script\n  help: write it in the language of the library, or add it there as an alias",
                    clipped(words)
                )
            }
            Trouble::Unknown { words, nearest } if nearest.is_empty() => write!(
                text,
                "error: \"{}\" means nothing that the library knows\n  help: say what ball, club or body did, such as \"slice\" or \"sways off the ball\"",
                clipped(words)
            ),
            Trouble::Unknown { words, nearest } => write!(
                text,
                "error: \"{}\" means nothing that the library knows\n  help: did you mean one of these? {}",
                clipped(words),
                list(nearest)
            ),
            Trouble::Several { words, candidates } if candidates.len() == 1 => write!(
                text,
                "error: \"{}\" may mean {}, but that is not certain\n  help: if that is what you saw, write its name; if not, say it in other words",
                clipped(words),
                list(candidates)
            ),
            Trouble::Several { words, candidates } => write!(
                text,
                "error: \"{}\" can mean several things\n  help: write the one you mean: {}\n        or say which shot it is about with --shot, or which hand with --handed",
                clipped(words),
                list(candidates)
            ),
            Trouble::Contradiction { condition, given } => write!(
                text,
                "error: \"{}\" and \"{}\" both speak of {}, and cannot both be true\n  help: keep the one you saw",
                clipped(&given[0]),
                clipped(&given[1]),
                base.condition(*condition).id
            ),
            Trouble::Malformed { words, help } => {
                write!(
                    text,
                    "error: \"{}\" was not understood\n  help: {help}",
                    clipped(words)
                )
            }
        };
        text
    }
}

/// What was typed, shortened to what is read at a glance.
fn clipped(text: &str) -> String {
    let mut short: String = text.chars().take(80).collect();
    if short.len() < text.len() {
        short.push('\u{2026}');
    }
    short
}

/// Whether no letter or digit of it is one of those that ids are made of.
fn other_script(words: &str) -> bool {
    !words.chars().any(|c| c.is_ascii_alphanumeric())
}

/// Reads everything typed, in the order seen, found, not seen, slight, measured, likelihood.
///
/// `choose` is asked when words may mean several entries; `None` leaves them unsettled.
///
/// # Errors
///
/// Every trouble at once, so that a coach mends the line once.
pub fn observe(
    base: &KnowledgeBase,
    reader: &Reader,
    circumstances: &Circumstances,
    reported: &Reported,
    choose: &mut dyn FnMut(&str, &[Candidate]) -> Option<ConditionKey>,
) -> Result<Vec<Observation>, Vec<Trouble>> {
    let mut found = Vec::new();
    let mut troubles = Vec::new();
    let lists = [
        (&reported.seen, State::Seen),
        (&reported.found, State::Found),
        (&reported.not_seen, State::NotSeen),
        (&reported.slight, State::Slight),
    ];
    let counts = lists.iter().map(|(list, _)| list.len());
    let count = counts.sum::<usize>() + reported.measured.len() + reported.likelihood.len();
    if count > MOST_REPORTED {
        return Err(vec![Trouble::TooMany { reported: count }]);
    }
    let mut phrases = Vec::new();
    for (list, state) in lists {
        for words in list {
            if let Some(trouble) = unreadable(words) {
                troubles.push(trouble);
                continue;
            }
            match read(base, reader, circumstances, words, state, choose) {
                Ok(mut read) => phrases.append(&mut read),
                Err(trouble) => troubles.push(trouble),
            }
        }
    }
    settle(base, circumstances.shot, &mut phrases);
    for phrase in phrases {
        if phrase.open.is_empty() {
            found.extend(phrase.observation());
        } else {
            troubles.push(Trouble::Several {
                words: phrase.words,
                candidates: phrase.open,
            });
        }
    }
    let mut strike = Vec::new();
    for words in &reported.measured {
        if let Some((number, value)) = impact::number_typed(base, words) {
            strike.push((number, value, words.clone()));
            continue;
        }
        match measured(base, words) {
            Ok(mut observations) => found.append(&mut observations),
            Err(trouble) => troubles.push(trouble),
        }
    }
    if !strike.is_empty() {
        match impact::numbers(base, circumstances.shot, &strike) {
            Ok(mut observations) => found.append(&mut observations),
            Err(trouble) => troubles.push(trouble),
        }
    }
    for words in &reported.likelihood {
        match likelihood(base, words) {
            Ok(observation) => found.push(observation),
            Err(trouble) => troubles.push(trouble),
        }
    }
    troubles.extend(contradictions(&found));
    if troubles.is_empty() {
        Ok(found)
    } else {
        Err(troubles)
    }
}

/// What keeps words from being read at all.
fn unreadable(words: &str) -> Option<Trouble> {
    let words = words.to_owned();
    if !words.chars().any(char::is_alphanumeric) {
        Some(Trouble::NoWords { words })
    } else if words.split_whitespace().nth(MOST_WORDS).is_some() {
        Some(Trouble::TooLong { words })
    } else {
        None
    }
}

/// What words may mean: one phrase, or several when they name several findings, such as `fat and
/// thin`.
///
/// A pain is never weighed against something else that the words may mean, nor lost among it: where
/// they speak of one and nothing in them is read as one, the word itself is read.
fn read(
    base: &KnowledgeBase,
    reader: &Reader,
    circumstances: &Circumstances,
    words: &str,
    state: State,
    choose: &mut dyn FnMut(&str, &[Candidate]) -> Option<ConditionKey>,
) -> Result<Vec<Phrase>, Trouble> {
    let reading = reader.read(words, circumstances);
    let is_pain = |key: ConditionKey| base.condition(key).is_pain();
    let free = |reading: &Reading| match reading {
        Reading::Clear { by, .. } => *by == ReadBy::Words,
        Reading::Several(_) | Reading::Unknown(_) => true,
    };
    let pain = if free(&reading) {
        reader.pain_said(words)
    } else {
        None
    };
    // `no pain` is said of something looked for and not found.
    let state = match state {
        State::Seen if reader.pain_denied(words) && speaks_of_pain(&reading, &is_pain) => {
            State::NotSeen
        }
        state => state,
    };
    let mut readings = match reader.read_parts(words, circumstances) {
        Some(parts)
            if free(&reading)
                && (pain.is_some()
                    || !matches!(reading, Reading::Clear { .. })
                    || parts
                        .iter()
                        .all(|part| matches!(part, Reading::Clear { .. }) && !free(part))) =>
        {
            parts
        }
        _ => vec![reading],
    };
    if let Some(pain) = pain {
        for reading in &mut readings {
            keep_pains(reading, &is_pain);
        }
        if !readings
            .iter()
            .any(|reading| speaks_of_pain(reading, &is_pain))
        {
            // What is left without the word is kept when it clearly says the same by itself.
            let rest = reader.read(&words.replacen(&pain, " ", 1), circumstances);
            let same = |reading: &Reading| match (reading, &rest) {
                (
                    Reading::Clear { condition, .. },
                    Reading::Clear {
                        condition: other, ..
                    },
                ) => condition == other,
                _ => false,
            };
            if readings.len() == 1 {
                readings.retain(same);
            }
            readings.push(some_pain(base, reader, &pain, circumstances));
        }
    }
    readings
        .into_iter()
        .map(|part| phrase(words, state, part, choose))
        .collect()
}

/// What a word of pain means by itself; any pain, when the library knows it by no name.
fn some_pain(
    base: &KnowledgeBase,
    reader: &Reader,
    word: &str,
    circumstances: &Circumstances,
) -> Reading {
    let is_pain = |key: ConditionKey| base.condition(key).is_pain();
    let mut reading = reader.read(word, circumstances);
    keep_pains(&mut reading, &is_pain);
    if !speaks_of_pain(&reading, &is_pain) {
        reading = reader.read("pain", circumstances);
        keep_pains(&mut reading, &is_pain);
    }
    reading
}

/// Of several things that words may mean, when one of them is a pain, the pains.
fn keep_pains(reading: &mut Reading, is_pain: &impl Fn(ConditionKey) -> bool) {
    if let Reading::Several(candidates) = reading
        && candidates.iter().any(|c| is_pain(c.condition))
    {
        candidates.retain(|c| is_pain(c.condition));
    }
    if let Reading::Clear {
        condition, near, ..
    } = reading
        && is_pain(*condition)
    {
        near.retain(|c| is_pain(c.condition));
    }
}

/// Whether a reading, after [`keep_pains`], is of pain and nothing else.
fn speaks_of_pain(reading: &Reading, is_pain: &impl Fn(ConditionKey) -> bool) -> bool {
    match reading {
        Reading::Clear { condition, .. } => is_pain(*condition),
        Reading::Several(candidates) => candidates.iter().all(|c| is_pain(c.condition)),
        Reading::Unknown(_) => false,
    }
}

fn phrase(
    words: &str,
    state: State,
    reading: Reading,
    choose: &mut dyn FnMut(&str, &[Candidate]) -> Option<ConditionKey>,
) -> Result<Phrase, Trouble> {
    match reading {
        Reading::Clear { near, .. } if near.len() > 1 => {
            Ok(Phrase::unsettled(words, state, &near, false))
        }
        Reading::Clear { condition, by, .. } => Ok(Phrase::clear(words, state, by, condition)),
        Reading::Several(candidates) => Ok(match choose(words, &candidates) {
            Some(chosen) => Phrase::clear(words, state, ReadBy::Choice, chosen),
            None => Phrase::unsettled(words, state, &candidates, true),
        }),
        Reading::Unknown(candidates) => Err(Trouble::Unknown {
            words: words.to_owned(),
            nearest: candidates.iter().map(|c| c.condition).collect(),
        }),
    }
}

/// A number for every condition that its quantity measures.
pub(super) fn measured(base: &KnowledgeBase, words: &str) -> Result<Vec<Observation>, Trouble> {
    let malformed = |help: String| Trouble::Malformed {
        words: words.to_owned(),
        help,
    };
    let known = || {
        let mut known: Vec<&Measure> = base
            .conditions
            .iter()
            .filter_map(|c| c.measure.as_ref())
            .collect();
        known.sort_by(|a, b| a.quantity.cmp(&b.quantity));
        known.dedup_by(|a, b| a.quantity == b.quantity);
        known
    };
    let Some((quantity, rest)) = words.split_once('=') else {
        return Err(malformed(
            "write quantity=value, such as trail-elbow-bend-at-top=112".into(),
        ));
    };
    let (quantity, rest) = (quantity.trim(), rest.trim());
    let of: Vec<(ConditionKey, &Measure)> = base
        .condition_keys()
        .filter_map(|key| Some((key, base.condition(key).measure.as_ref()?)))
        .filter(|(_, measure)| measure.quantity == quantity)
        .collect();
    let Some((_, first)) = of.first() else {
        let known = known();
        let names: Vec<&str> = known.iter().map(|m| m.quantity.as_str()).collect();
        let close = nearest(quantity, names.iter().copied(), 3);
        return Err(malformed(if names.is_empty() {
            "the library measures nothing".into()
        } else if close.is_empty() {
            format!("no quantity of that name; known ones: {}", names.join(", "))
        } else {
            format!(
                "no quantity of that name; the nearest: {}",
                close.join(", ")
            )
        }));
    };
    let (rest, error) = match rest.split_once("+-").or_else(|| rest.split_once('\u{b1}')) {
        Some((rest, error)) => (rest.trim(), Some(error.trim())),
        None => (rest, None),
    };
    let error = error
        .map(|error| match crate::measure::read_number(error) {
            Ok(error) if error > 0.0 => Ok(error),
            _ => Err(malformed(format!(
                "write how far the number may be off after +-, above 0, such as {quantity}={rest}+-5"
            ))),
        })
        .transpose()?;
    let end = rest
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+')))
        .unwrap_or(rest.len());
    if rest[end..].starts_with(',')
        && let Err(help) = crate::measure::read_number(rest)
    {
        return Err(malformed(help));
    }
    let (number, unit) = rest.split_at(end);
    let unit = unit.trim();
    if number.is_empty() {
        return Err(malformed(format!(
            "write a number after the =, in {}",
            first.unit
        )));
    }
    if !(unit.is_empty() || unit.eq_ignore_ascii_case(&first.unit)) {
        return Err(malformed(format!(
            "{quantity} is measured in {}; write {quantity}={number} and leave the unit out, or write {}",
            first.unit, first.unit
        )));
    }
    let value = match number.parse::<f64>() {
        Ok(value) if value.is_finite() => value,
        _ => {
            return Err(malformed(format!(
                "write a number after the =, in {}",
                first.unit
            )));
        }
    };
    of.into_iter()
        .map(|(condition, measure)| {
            let prior = base
                .condition(condition)
                .how_common
                .map_or(DEFAULT_SHARE, |share| share.get());
            let [low, high] = measure.sound;
            let (side, outside) = match measure.side {
                Side::Below => (MeasuredSide::Below, value < low),
                Side::Above => (MeasuredSide::Above, value > high),
                Side::Outside => (MeasuredSide::Either, value < low || value > high),
            };
            let measurement = Measurement {
                value,
                error: error.unwrap_or(measure.error_sd),
                low,
                high,
                side,
            };
            let ratio = likelihood_ratio(&measurement, prior)
                .map_err(|error| malformed(format!("{error}")))?;
            Ok(Observation {
                given: words.to_owned(),
                condition,
                state: State::Measured {
                    value,
                    ratio,
                    outside,
                },
                read_by: ReadBy::Measure,
                perhaps: Vec::new(),
            })
        })
        .collect()
}

fn likelihood(base: &KnowledgeBase, words: &str) -> Result<Observation, Trouble> {
    let malformed = |help: String| Trouble::Malformed {
        words: words.to_owned(),
        help,
    };
    let Some((id, number)) = words.split_once('=') else {
        return Err(malformed("write id=ratio, such as grip-too-weak=3".into()));
    };
    let id = id.trim();
    let Some(condition) = base.find(id) else {
        let ids = base.conditions.iter().map(|c| c.id.as_str());
        return Err(Trouble::Unknown {
            words: id.to_owned(),
            nearest: nearest(id, ids, 3)
                .into_iter()
                .filter_map(|id| base.find(id))
                .collect(),
        });
    };
    match number.trim().parse::<f64>() {
        Ok(ratio) if ratio.is_finite() && ratio > 0.0 => Ok(Observation {
            given: words.to_owned(),
            condition,
            state: State::Likelihood(ratio),
            read_by: ReadBy::Id,
            perhaps: Vec::new(),
        }),
        _ => Err(malformed(
            "the ratio is a number above 0: how many times as often this is reported of a student who has it as of one who has not".into(),
        )),
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
            // Two numbers for one thing, or words and a number: which counts would be a guess.
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

/// One observation a condition: the first of those that say the same, seen before slight.
pub(super) fn distinct(observations: &[Observation]) -> Vec<Observation> {
    let mut kept: Vec<Observation> = Vec::new();
    for observation in observations {
        match kept
            .iter_mut()
            .find(|k| k.condition == observation.condition)
        {
            // Found counts for more than seen, and seen for more than slight.
            Some(earlier) if observation.state == State::Found => earlier.state = State::Found,
            Some(earlier) if observation.state == State::Seen && earlier.state == State::Slight => {
                earlier.state = State::Seen;
            }
            Some(_) => {}
            None => kept.push(observation.clone()),
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{LayerText, Strictness, load};

    /// Found by fuzzing: one entry that comes near is not several things.
    #[test]
    fn one_that_comes_near_is_not_called_several() {
        let text = "faults: [{id: sways, name: Sways, stage: top}]\n";
        let layer = LayerText::new("small", [("a.yaml", text)]);
        let base = load(&[layer], Strictness::ErrorsOnly).expect("loads").base;
        let trouble = Trouble::Several {
            words: "sways like a poplar".to_owned(),
            candidates: vec![ConditionKey(0)],
        };
        let said = trouble.describe(&base);
        assert!(
            said.contains("may mean sways (Sways), but that is not certain"),
            "{said}"
        );
        assert!(!said.contains("several"), "{said}");
    }
}
