//! Notes heard one after the other: findings, numbers, facts, and what is said of the body.

use super::observation::{Heard, Observation, State};
use super::pairs::measured;
use super::refused::{MOST_NOTE_WORDS, Trouble};
use super::reported::Reported;
use super::settle::Phrase;
use crate::knowledge::{ConditionKey, KnowledgeBase, Place, Refer, SHIPPED_LAYER};
use crate::lesson::{Handed, Lesson};
use crate::words::{
    Candidate, Complaint, Complaints, Count, Finding, Note, NumberSaid, Override, ReadBy, Readers,
    Reading, Said, ToldFact, any_pain, listen_closer,
};
use std::ops::Range;

/// A number within the sound range rules a condition out below this likelihood ratio: it is half as
/// likely with it as without. Our choice.
const CLEARLY_NOT: f64 = 0.5;

/// Asked which of several entries words mean; `None` leaves them open.
pub(super) type Choose<'a> = dyn FnMut(&str, &[Candidate]) -> Option<ConditionKey> + 'a;

/// What was heard so far.
pub(super) struct Hearing<'a, 'b> {
    readers: &'a Readers<'b>,
    pub(super) lesson: Lesson,
    overrides: Vec<Override>,
    pub(super) heard: Heard,
    pub(super) phrases: Vec<Phrase>,
    /// What hurts, as the notes of what was seen say.
    pub(super) said_of_body: Complaints,
    /// Whether any note said something of the body, be it that nothing hurts.
    of_body: bool,
}

impl<'a, 'b> Hearing<'a, 'b> {
    /// Before the first note: `heard` holds the facts told by their ids.
    pub(super) fn new(
        readers: &'a Readers<'b>,
        lesson: &Lesson,
        reported: &Reported,
        overrides: Vec<Override>,
        heard: Heard,
    ) -> Self {
        let mut lesson = lesson.clone();
        lesson.handed = lesson.handed.or_else(|| hand_in(readers, reported, &heard));
        Self {
            readers,
            lesson,
            overrides,
            heard,
            phrases: Vec::new(),
            said_of_body: Complaints::default(),
            of_body: false,
        }
    }

    /// Whether anything at all was understood.
    pub(super) fn understood(&self) -> bool {
        self.of_body || !self.phrases.is_empty() || !self.heard.told.is_empty()
    }

    /// Takes in what one note says.
    pub(super) fn hear(
        &mut self,
        words: &str,
        state: State,
        choose: &mut Choose<'_>,
    ) -> Result<(), Trouble> {
        if let Some(trouble) = unreadable(words) {
            return Err(trouble);
        }
        let note = self.readers.note(words, &self.lesson, &self.overrides);
        let mut body = self.readers.complaints(words);
        listen_closer(words, &note, &mut body, |part, sure| {
            self.readers.likened(words, part, sure)
        });
        self.of_body |= !(body.there.is_empty() && body.denied.is_empty());
        self.heard.notes += 1;
        self.not_understood(words, &note, &body);
        self.facts(note.facts);
        if state != State::NotSeen {
            self.heard.shots.extend(note.shots);
        }
        for finding in note.findings {
            self.finding(finding, state, &body, choose);
        }
        if state != State::NotSeen {
            self.numbers(words, &note.numbers);
            self.pains(&body, state);
        }
        if matches!(state, State::Seen | State::Slight) {
            self.said_of_body.extend(body);
        }
        Ok(())
    }

    /// Hands back the parts of a note that mean nothing known.
    fn not_understood(&mut self, words: &str, note: &Note, body: &Complaints) {
        let lost =
            note.lost(|here| over(&body.there, here, false) || over(&body.denied, here, false));
        let lost = lost.into_iter().map(|here| words[here].trim().to_owned());
        self.heard.not_understood.extend(lost);
        let refused = note.refused.iter();
        let refused = refused.map(|(at, why)| format!("{} ({why})", words[at.clone()].trim()));
        self.heard.not_understood.extend(refused);
    }

    fn facts(&mut self, facts: Vec<ToldFact>) {
        let base = self.readers.base();
        // Where a drill is wanted is for a search of drills; it says nothing of the swing.
        let place = |told: &ToldFact| Place::parse(&base.fact(told.fact).id).is_some();
        for told in facts.into_iter().filter(|told| !place(told)) {
            if self.heard.told.iter().all(|known| known.fact != told.fact) {
                self.heard.told.push(told);
            }
        }
    }

    fn finding(
        &mut self,
        finding: Finding,
        state: State,
        body: &Complaints,
        choose: &mut Choose<'_>,
    ) {
        let base = self.readers.base();
        if over(&body.there, &finding.at, true) {
            return;
        }
        let denied = over(&body.denied, &finding.at, false);
        let of_body = may_be_of_body(base, &finding.reading);
        let said = match (state, finding.said) {
            _ if denied && of_body => State::NotSeen,
            // `--not "grip is fine"` says the same as `"grip is fine"`.
            (_, Said::NotSeen) | (State::NotSeen, _) => State::NotSeen,
            (_, Said::Slight) | (State::Slight, _) => State::Slight,
            (state, Said::Seen) => state,
        };
        let told = denied || over(&body.there, &finding.at, false);
        let reading = if of_body && !told {
            without_pains(base, finding.reading)
        } else {
            finding.reading
        };
        let Some(mut phrase) = phrase_of(&finding.given, said, reading, choose) else {
            if !self.heard.not_understood.contains(&finding.given) {
                self.heard.not_understood.push(finding.given);
            }
            return;
        };
        if let (Some(Count { shown, of }), State::Seen | State::Found) =
            (finding.count, phrase.state)
        {
            let ratio = 1.0;
            phrase.state = State::Counted { shown, of, ratio };
        }
        phrase.wants_hand = finding.wants_hand && !phrase.open.is_empty();
        phrase.implied = finding.implied;
        phrase.note = self.heard.notes;
        self.phrases.push(phrase);
    }

    fn numbers(&mut self, words: &str, numbers: &[NumberSaid]) {
        let (base, heard) = (self.readers.base(), &mut self.heard);
        for number in numbers {
            let given = words[number.at.clone()].trim();
            if !numbered(base, given, number, heard.notes, &mut self.phrases) {
                heard.not_understood.push(given.to_owned());
            } else if !number.either {
                heard.numbers.push((number.quantity.clone(), number.value));
            }
        }
    }

    /// Takes in what hurts, where no finding of the note says it already.
    fn pains(&mut self, body: &Complaints, state: State) {
        let base = self.readers.base();
        for complaint in &body.there {
            let pain = complaint.pain.or_else(|| {
                (complaint.refer != Refer::Ask)
                    .then(|| any_pain(base))
                    .flatten()
            });
            let Some(pain) = pain else { continue };
            let known = |phrase: &Phrase| phrase.meanings.iter().any(|(key, _)| *key == pain);
            if !self.phrases.iter().any(known) {
                let mut phrase = Phrase::clear(&complaint.words, state, ReadBy::Words, pain);
                phrase.note = self.heard.notes;
                self.phrases.push(phrase);
            }
        }
    }
}

/// Whether a complaint stands over a place; with `hurts` only one that sends the student to somebody. What
/// is said of the body is read by the words for it alone, and nothing else is made of them.
fn over(complaints: &[Complaint], here: &Range<usize>, hurts: bool) -> bool {
    complaints.iter().any(|c| {
        c.span.start < here.end && here.start < c.span.end && (!hurts || c.refer != Refer::Ask)
    })
}

fn may_be_of_body(base: &KnowledgeBase, reading: &Reading) -> bool {
    match reading {
        Reading::Clear { condition, .. } => is_of_body(base, *condition),
        Reading::Several(candidates) => candidates.iter().any(|c| is_of_body(base, c.condition)),
        Reading::Unknown(_) => false,
    }
}

/// What was said as one phrase; none when the words mean nothing known.
fn phrase_of(
    given: &str,
    said: State,
    reading: Reading,
    choose: &mut Choose<'_>,
) -> Option<Phrase> {
    match reading {
        Reading::Clear { near, .. } if near.len() > 1 => {
            Some(Phrase::unsettled(given, said, &near, false))
        }
        Reading::Clear { condition, by, .. } => Some(Phrase::clear(given, said, by, condition)),
        Reading::Several(candidates) => Some(match choose(given, &candidates) {
            Some(chosen) => Phrase::clear(given, said, ReadBy::Choice, chosen),
            None => Phrase::unsettled(given, said, &candidates, true),
        }),
        Reading::Unknown(_) => None,
    }
}

/// The hand that any of the notes tells: what is said in one holds for all.
fn hand_in(readers: &Readers<'_>, reported: &Reported, heard: &Heard) -> Option<Handed> {
    let base = readers.base();
    let told = |hand: Handed| {
        let fact = base.find_fact(&format!("handed-{}", hand.as_str()));
        fact.is_some_and(|fact| heard.told.iter().any(|told| told.fact == fact))
    };
    let given = Handed::ALL.iter().copied().find(|hand| told(*hand));
    given.or_else(|| {
        reported
            .every_note()
            .filter(|words| unreadable(words).is_none())
            .find_map(|words| readers.hand_in(words))
    })
}

/// Takes in a quantity with its number: what it shows in the state `measured`, and what it clearly does
/// not show as not there. With the side open it is whatever either side would show. `false` when the
/// number says nothing.
fn numbered(
    base: &KnowledgeBase,
    given: &str,
    number: &NumberSaid,
    note: usize,
    phrases: &mut Vec<Phrase>,
) -> bool {
    let weighed =
        |value: f64| measured(base, &format!("{}={value}", number.quantity)).unwrap_or_default();
    let outside = |seen: &Observation| seen.state.is_finding();
    let mut all = weighed(number.value);
    if number.either {
        let mirrored = weighed(-number.value);
        if all.iter().chain(&mirrored).any(outside) {
            all.extend(mirrored);
            all.retain(outside);
            let open: Vec<Candidate> = all
                .iter()
                .map(|seen| Candidate {
                    condition: seen.condition,
                    score: 1.0,
                    nearest: number.quantity.clone(),
                    words: vec![given.to_owned()],
                })
                .collect();
            let mut phrase = Phrase::unsettled(given, all[0].state, &open, true);
            phrase.wants_hand = true;
            phrase.note = note;
            phrases.push(phrase);
            return true;
        }
    }
    if all.iter().any(outside) {
        all.retain(outside);
    }
    for seen in &all {
        let state = match seen.state {
            State::Measured {
                ratio,
                outside: false,
                ..
            } if ratio < CLEARLY_NOT => State::NotSeen,
            state => state,
        };
        // The number says more than the words beside it.
        phrases.retain(|phrase| {
            phrase.note != note
                || phrase.meanings.len() > 1
                || phrase.meanings[0].0 != seen.condition
                || (phrase.state == State::NotSeen) != (state == State::NotSeen)
        });
        let mut phrase = Phrase::clear(given, state, ReadBy::Measure, seen.condition);
        phrase.note = note;
        phrases.push(phrase);
    }
    !all.is_empty()
}

/// Whether an entry is a pain, or something with which the student is sent to somebody.
fn is_of_body(base: &KnowledgeBase, key: ConditionKey) -> bool {
    let condition = base.condition(key);
    condition.pain || condition.refer.is_some()
}

/// What free words mean that say nothing of the body: no pain that ships, however near they come to
/// one by their letters. A coach's own pain may go by words that nobody else has.
fn without_pains(base: &KnowledgeBase, reading: Reading) -> Reading {
    let stays = |candidate: &Candidate| {
        let condition = base.condition(candidate.condition);
        !is_of_body(base, candidate.condition)
            || base.layer_name(&condition.origin) != SHIPPED_LAYER
    };
    let several = |mut candidates: Vec<Candidate>| {
        candidates.retain(stays);
        if candidates.is_empty() {
            Reading::Unknown(Vec::new())
        } else {
            Reading::Several(candidates)
        }
    };
    match reading {
        Reading::Clear { by, .. } if by != ReadBy::Words => reading,
        Reading::Clear {
            condition,
            ref near,
            ..
        } if near.is_empty() => {
            if is_of_body(base, condition) {
                Reading::Unknown(Vec::new())
            } else {
                reading
            }
        }
        Reading::Clear { ref near, .. } if near.iter().all(stays) => reading,
        Reading::Clear { near, .. } => several(near),
        Reading::Several(candidates) => several(candidates),
        Reading::Unknown(candidates) => Reading::Unknown(candidates),
    }
}

/// The trouble with words that mean nothing known.
pub(super) fn unknown(readers: &Readers<'_>, words: &str, lesson: &Lesson) -> Trouble {
    let base = readers.base();
    let words = words.to_owned();
    // Nobody is asked whether it was a pain who said nothing of the body.
    match without_pains(base, readers.free().read(&words, lesson)) {
        Reading::Several(candidates) => Trouble::Several {
            candidates: candidates.iter().map(|c| c.condition).collect(),
            words,
        },
        Reading::Unknown(candidates) => Trouble::Unknown {
            nearest: candidates
                .iter()
                .map(|c| c.condition)
                .filter(|key| !is_of_body(base, *key))
                .collect(),
            words,
        },
        Reading::Clear { condition, .. } => Trouble::Unknown {
            nearest: vec![condition],
            words,
        },
    }
}

/// What was called sound as a whole gives way to what was named in particular. Of two clauses that say
/// opposite things of one finding, the one in the library's own words counts; when both or neither are,
/// neither does, and both are handed back.
pub(super) fn settle_contradictions(phrases: &mut Vec<Phrase>, heard: &mut Heard) {
    let named: Vec<(ConditionKey, bool)> = phrases
        .iter()
        .filter(|phrase| !phrase.implied)
        .flat_map(|phrase| {
            let seen = phrase.state != State::NotSeen;
            phrase.meanings.iter().map(move |(key, _)| (*key, seen))
        })
        .collect();
    let (kept, gone): (Vec<Phrase>, Vec<Phrase>) = std::mem::take(phrases)
        .into_iter()
        .partition(|phrase| !phrase.implied || !named.contains(&(phrase.meanings[0].0, true)));
    *phrases = kept;
    for phrase in gone {
        let said = |other: &Phrase| other.note == phrase.note && other.words == phrase.words;
        if !phrases.iter().any(said) && !heard.not_understood.contains(&phrase.words) {
            heard.not_understood.push(phrase.words);
        }
    }
    let mut out: Vec<usize> = Vec::new();
    for later in 0..phrases.len() {
        for earlier in 0..later {
            let (a, b) = (&phrases[earlier], &phrases[later]);
            // Two arguments that say opposite things are the coach's to mend.
            if a.note != b.note
                || a.meanings[0].0 != b.meanings[0].0
                || (a.state == State::NotSeen) == (b.state == State::NotSeen)
            {
                continue;
            }
            let own = |phrase: &Phrase| !matches!(phrase.read_by, ReadBy::Words | ReadBy::Company);
            match (own(a), own(b)) {
                (true, false) => out.push(later),
                (false, true) => out.push(earlier),
                _ => out.extend([earlier, later]),
            }
        }
    }
    out.sort_unstable();
    out.dedup();
    for at in out.into_iter().rev() {
        let phrase = phrases.remove(at);
        heard.not_understood.push(phrase.words);
    }
}

/// What keeps words from being read at all.
fn unreadable(words: &str) -> Option<Trouble> {
    let words = words.to_owned();
    if !words.chars().any(char::is_alphanumeric) {
        Some(Trouble::NoWords { words })
    } else {
        let count = count_words(&words);
        (count > MOST_NOTE_WORDS).then_some(Trouble::TooLong { words, count })
    }
}

/// How many words the reader will find, whatever stands between them: `slice,hook` has two.
fn count_words(text: &str) -> usize {
    let parts = |c: char| !(c.is_alphanumeric() || matches!(c, '\'' | '\u{2019}'));
    text.split(parts).filter(|word| !word.is_empty()).count()
}
