//! Words that may mean several things, weighed by what else was reported.
//!
//! A phrase is first read by itself; what it may mean gets a chance by how near the words come to
//! each entry. Then the other phrases speak: with `m` for a meaning and `E` for all else that was
//! reported,
//!
//! ```text
//! chance(m)  is proportional to  nearness(m) * P(E and m) / ( P(E) * P(m) )
//! ```
//!
//! by the two-layer network that orders the causes, where an unsettled phrase stands below
//! everything that is behind any of its meanings. So nothing that the words may mean is lost before
//! the causes are weighed, and nothing is guessed in silence: an observation says what else it may
//! be.

use super::asked::Asked;
use super::model::Model;
use super::observation::{Observation, State};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::Lesson;
use crate::words::{Candidate, ReadBy};

/// How fast the chance of a meaning falls with the score of its reading. The likelihood of
/// `tests/search/readings.yaml` is highest between 20 and 24, on phrases written by those who wrote
/// the library; a stranger's words are less sure.
const STEEPNESS: i32 = 16;

/// A meaning with less of a chance than this is dropped.
const LEAST_CHANCE: f64 = 0.12;

/// No phrase keeps more meanings than this.
const MOST_MEANINGS: usize = 4;

/// From this chance on a phrase is taken to mean one thing and nothing else.
const SETTLED: f64 = 0.97;

/// One phrase as it reads by itself.
#[derive(Clone, Debug)]
pub(super) struct Phrase {
    /// The words as typed.
    pub words: String,
    /// What is said of it.
    pub state: State,
    /// How they were read.
    pub read_by: ReadBy,
    /// What a question would offer, best first, while nothing settles what the words mean; else empty.
    pub open: Vec<ConditionKey>,
    /// Whether only the hand of the student is missing to tell.
    pub wants_hand: bool,
    /// Whether it follows from something being called sound.
    pub implied: bool,
    /// Which of the notes it stands in.
    pub note: usize,
    /// What they may mean, with the chance of each; best first, adding up to 1.
    pub meanings: Vec<(ConditionKey, f64)>,
}

impl Phrase {
    /// A phrase that means one thing.
    pub(super) fn clear(
        words: &str,
        state: State,
        read_by: ReadBy,
        condition: ConditionKey,
    ) -> Self {
        Self {
            words: words.to_owned(),
            state,
            read_by,
            open: Vec::new(),
            wants_hand: false,
            implied: false,
            note: 0,
            meanings: vec![(condition, 1.0)],
        }
    }

    /// A phrase that may mean any of these, best first; `open` when the words alone do not settle it.
    pub(super) fn unsettled(
        words: &str,
        state: State,
        candidates: &[Candidate],
        open: bool,
    ) -> Self {
        let best = candidates.first().map_or(1.0, |candidate| candidate.score);
        let meanings = candidates
            .iter()
            .map(|c| (c.condition, (c.score / best).powi(STEEPNESS)))
            .collect();
        Self {
            words: words.to_owned(),
            state,
            read_by: ReadBy::Words,
            open: if open {
                candidates.iter().map(|c| c.condition).collect()
            } else {
                Vec::new()
            },
            wants_hand: false,
            implied: false,
            note: 0,
            meanings: shared(meanings),
        }
    }

    /// What is reported.
    pub(super) fn observation(&self) -> Option<Observation> {
        let (condition, _) = *self.meanings.first()?;
        Some(Observation {
            given: self.words.clone(),
            condition,
            state: self.state,
            read_by: self.read_by,
            perhaps: self.meanings[1..].to_vec(),
        })
    }
}

/// Weighs what each unsettled phrase may mean by all the others. Phrases that stand alone stay as
/// they read.
pub(super) fn settle(base: &KnowledgeBase, lesson: &Lesson, phrases: &mut [Phrase]) {
    if phrases.iter().all(|phrase| phrase.meanings.len() < 2) {
        return;
    }
    let model = Model::new(base);
    let alone: Vec<Phrase> = phrases.to_vec();
    for (index, phrase) in phrases.iter_mut().enumerate() {
        if phrase.meanings.len() < 2 {
            continue;
        }
        let others = || {
            alone
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != index)
                .map(|(_, other)| other)
        };
        // Of words that leave it open what they mean, nobody says one thing twice; words that are clear
        // enough keep what they mean, and what is said twice is merged or refused later.
        let said = |key: ConditionKey| {
            others().any(|other| other.meanings.len() == 1 && other.meanings[0].0 == key)
        };
        if !phrase.open.is_empty() && phrase.meanings.iter().any(|(key, _)| !said(*key)) {
            phrase.meanings.retain(|(key, _)| !said(*key));
        }
        // Nor does anybody mean what the same note says the contrary of.
        let denied = phrase.state == State::NotSeen;
        let contrary = |key: ConditionKey| {
            others().any(|other| {
                matches!(other.meanings[..], [(said, _)] if said == key)
                    && (other.state == State::NotSeen) != denied
            })
        };
        if phrase.meanings.iter().any(|(key, _)| !contrary(*key)) {
            phrase.meanings.retain(|(key, _)| !contrary(*key));
        }
        let company: Vec<Observation> = others().filter_map(Phrase::observation).collect();
        if company.is_empty() {
            continue;
        }
        let lifts = lifts(&model, lesson, &company, phrase);
        let weighed = phrase
            .meanings
            .iter()
            .zip(lifts)
            .map(|((key, chance), lift)| (*key, chance * lift))
            .collect();
        phrase.meanings = shared(weighed);
        if !phrase.open.is_empty() {
            phrase.open.clear();
            phrase.read_by = ReadBy::Company;
        }
    }
}

/// How many times as often each meaning of a phrase is reported together with the others as it would
/// be if they had nothing to do with each other.
fn lifts(model: &Model<'_>, lesson: &Lesson, company: &[Observation], phrase: &Phrase) -> Vec<f64> {
    let chance = |observations: &[Observation]| -> Option<f64> {
        let asked = Asked {
            lesson: lesson.clone(),
            ..Asked::default()
        };
        let found = super::observation::distinct(observations);
        let layers = model.starts(&asked, &found).network();
        layers.and_then(|layers| layers.ln_evidence()).ok()
    };
    let of_company = chance(company);
    phrase
        .meanings
        .iter()
        .map(|(key, _)| {
            let meant = Observation {
                given: phrase.words.clone(),
                condition: *key,
                state: phrase.state,
                read_by: phrase.read_by,
                perhaps: Vec::new(),
            };
            let alone = chance(std::slice::from_ref(&meant));
            let mut all = company.to_vec();
            all.push(meant);
            match (chance(&all), of_company, alone) {
                (Some(all), Some(company), Some(alone)) => libm::exp(all - company - alone),
                _ => 1.0,
            }
        })
        .collect()
}

/// Chances that add up to 1, best first, without the least of them.
fn shared(mut meanings: Vec<(ConditionKey, f64)>) -> Vec<(ConditionKey, f64)> {
    let normal = |meanings: &mut Vec<(ConditionKey, f64)>| {
        let sum: f64 = meanings.iter().map(|(_, chance)| chance).sum();
        if sum > 0.0 {
            meanings.iter_mut().for_each(|(_, chance)| *chance /= sum);
        }
    };
    meanings.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    meanings.truncate(MOST_MEANINGS);
    normal(&mut meanings);
    let best = meanings.first().map_or(0.0, |(_, chance)| *chance);
    let least = if best >= SETTLED {
        1.0 - SETTLED
    } else {
        LEAST_CHANCE
    };
    meanings.retain(|(_, chance)| *chance >= least.min(best));
    if best >= SETTLED {
        meanings.truncate(1);
    }
    normal(&mut meanings);
    meanings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{LayerText, Strictness, load};

    /// A high finish and a low finish both go by `odd`; only the low one has a grip behind it, as the
    /// hook does.
    fn base() -> KnowledgeBase {
        let text = "
outcomes:
  - {id: hook, name: Hook, stage: ball-flight, how_common: 0.1, caused_by: [{id: grip, strength: 0.5, because: It turns over}], behind: [{id: grip, share: 0.8}]}
faults:
  - {id: low, name: Low, stage: setup, how_common: 0.1, caused_by: [{id: grip, strength: 0.5, because: It pulls down}], behind: [{id: grip, share: 0.7}]}
  - {id: high, name: High, stage: setup, how_common: 0.1, caused_by: [{id: mind, strength: 0.5, because: It is meant}], behind: [{id: mind, share: 0.7}]}
  - {id: grip, name: Grip, stage: grip, how_common: 0.1}
causes:
  - {id: mind, name: Mind, stage: concept, how_common: 0.1}
";
        let layer = LayerText::new("test", [("a.yaml", text)]);
        load(&[layer], Strictness::ErrorsOnly)
            .expect("a sound library")
            .base
    }

    fn candidates(base: &KnowledgeBase, scores: &[(&str, f64)]) -> Vec<Candidate> {
        scores
            .iter()
            .map(|(id, score)| Candidate {
                condition: base.find(id).expect("known"),
                score: *score,
                nearest: (*id).to_owned(),
                words: Vec::new(),
            })
            .collect()
    }

    #[test]
    fn what_else_was_reported_weighs_what_words_may_mean() {
        let base = base();
        let key = |id: &str| base.find(id).expect("known");
        let both = candidates(&base, &[("high", 1.0), ("low", 1.0)]);
        let mut phrases = vec![
            Phrase::unsettled("odd", State::Seen, &both, true),
            Phrase::clear("hook", State::Seen, ReadBy::Id, key("hook")),
        ];
        settle(&base, &Lesson::default(), &mut phrases);
        let odd = phrases[0].observation().expect("a reading");
        assert_eq!(odd.condition, key("low"), "{odd:?}");
        assert_eq!(odd.read_by, ReadBy::Company);
        assert!(phrases[0].open.is_empty());
        let sum: f64 = odd.meanings().map(|(_, chance)| chance).sum();
        assert!((sum - 1.0).abs() < 1e-12, "{odd:?}");
        assert!(odd.surety() > 0.5, "{odd:?}");
        // P(both) / P(low) P(hook) by hand. All are as common as each other, so that a link of 0.5 hands
        // on half: row_low has the grip at 0.85 * 0.7 + 0.15 * 0.5 and the rest as its own, row_hook the
        // grip at 0.85 * 0.8 + 0.15 * 0.5. The grip starts with 0.1, so that strengths are shares.
        let (s_low, s_hook) = (0.67, 0.755);
        let chance = |own: f64, s: f64| 1.0 - (1.0 - own) * (1.0 - s);
        // `low` is its own origin as well: prior 0.1, strength 0.33.
        let own_low = chance(0.1 * LEAST_LEFT, 0.1 * 0.33);
        let own_hook = 0.1 * (1.0 - s_hook);
        let with = 0.1 * chance(own_low, s_low) * chance(own_hook, s_hook);
        let without = 0.9 * own_low * own_hook;
        let p_low = 0.1 * chance(own_low, s_low) + 0.9 * own_low;
        let p_hook = 0.1 * chance(own_hook, s_hook) + 0.9 * own_hook;
        let lift = (with + without) / (p_low * p_hook);
        assert!(
            (odd.surety() - lift / (1.0 + lift)).abs() < 1e-9,
            "{odd:?} {lift}"
        );
    }

    /// What a row that explains everything leaves to the unknown.
    const LEAST_LEFT: f64 = 0.02;

    #[test]
    fn words_alone_stay_open_and_a_thing_is_not_said_twice() {
        let base = base();
        let key = |id: &str| base.find(id).expect("known");
        let both = candidates(&base, &[("high", 1.0), ("low", 1.0)]);
        let mut phrases = vec![Phrase::unsettled("odd", State::Seen, &both, true)];
        settle(&base, &Lesson::default(), &mut phrases);
        assert_eq!(phrases[0].open, [key("high"), key("low")]);
        assert_eq!(phrases[0].meanings.len(), 2);
        phrases.push(Phrase::clear("low", State::Seen, ReadBy::Id, key("low")));
        settle(&base, &Lesson::default(), &mut phrases);
        let odd = phrases[0].observation().expect("a reading");
        assert_eq!((odd.condition, odd.perhaps.len()), (key("high"), 0));
    }

    #[test]
    fn a_meaning_far_behind_is_dropped_and_one_close_by_is_kept() {
        let base = base();
        let far = candidates(&base, &[("high", 0.9), ("low", 0.7)]);
        assert_eq!(
            Phrase::unsettled("x", State::Seen, &far, false)
                .meanings
                .len(),
            1
        );
        let close = candidates(&base, &[("high", 0.9), ("low", 0.88)]);
        let phrase = Phrase::unsettled("x", State::Seen, &close, false);
        let ratio = (0.88_f64 / 0.9).powi(STEEPNESS);
        assert!((phrase.meanings[1].1 - ratio / (1.0 + ratio)).abs() < 1e-12);
    }
}
