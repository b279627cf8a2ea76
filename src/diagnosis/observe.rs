//! From what was typed to what is reported: words read, numbers weighed, contradictions refused.

use super::body::complaints;
use super::diagnose::Asked;
use super::impact;
use super::observation::{Heard, Observation, Open, State};
use super::settle::{Phrase, settle};
use crate::inference::{Measurement, Side as MeasuredSide, likelihood_ratio, ratio_of_count};
use crate::knowledge::words::DEFAULT_SHARE;
use crate::knowledge::{
    ConditionKey, KnowledgeBase, Measure, Place, Refer, SHIPPED_LAYER, Side, nearest,
};
use crate::lesson::{Handed, Lesson};
use crate::words::{
    Candidate, Complaint, Complaints, Count, Note, NumberSaid, Override, ReadBy, Readers, Reading,
    Said, ToldFact, alike, any_pain,
};
use std::collections::BTreeSet;
use std::ops::Range;

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
    /// Ids of facts about the student.
    pub facts: Vec<String>,
    /// `words=id`: what words mean, when they were misread.
    pub read: Vec<String>,
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
/// More words than this are not one note.
pub const MOST_NOTE_WORDS: usize = 400;
/// No likelihood ratio is more than this, or less than one over it: nobody is surer of a look.
pub const MOST_TYPED_RATIO: f64 = 1e6;

/// A number within the sound range rules a condition out below this likelihood ratio: it is half as
/// likely with it as without. Our choice.
const CLEARLY_NOT: f64 = 0.5;

/// Why something typed could not be taken.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// There is no word in it.
    NoWords {
        /// What was typed.
        words: String,
    },
    /// There are more than [`MOST_NOTE_WORDS`] words in it.
    TooLong {
        /// The words.
        words: String,
        /// How many.
        count: usize,
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
    /// A name, a sign and a value, or a fact, not written as it must be.
    Malformed {
        /// The words.
        words: String,
        /// What is wrong.
        why: Malformed,
    },
}

/// What may be typed as a name, a sign and a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pair {
    /// [`Reported::measured`].
    Measured,
    /// [`Reported::likelihood`].
    Likelihood,
    /// [`Reported::read`].
    Read,
}

/// What is wrong with a name, a sign and a value, or with a fact.
#[derive(Clone, Debug, PartialEq)]
pub enum Malformed {
    /// There is no sign between name and value.
    NotAPair(Pair),
    /// No fact of that name.
    Fact {
        /// The nearest there are; perhaps none.
        nearest: Vec<String>,
        /// All there are.
        known: Vec<String>,
    },
    /// No quantity of that name.
    Quantity {
        /// The nearest there are; perhaps none.
        nearest: Vec<String>,
        /// All there are; perhaps none.
        known: Vec<String>,
    },
    /// How far the number may be off is no number above 0.
    Spread {
        /// The quantity.
        quantity: String,
        /// The number.
        number: String,
    },
    /// There is no number, or none that is one.
    NoNumber {
        /// What the quantity is measured in.
        unit: String,
    },
    /// The quantity is measured in something else.
    Unit {
        /// The quantity.
        quantity: String,
        /// The number.
        number: String,
        /// What it is measured in.
        unit: String,
    },
    /// A ratio is no number from one over [`MOST_TYPED_RATIO`] to that.
    Ratio,
    /// What [`crate::measure`] says of the number.
    Number(String),
}

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
    let mut heard = Heard::default();
    for id in &reported.facts {
        match told_fact(base, id) {
            Ok(told) => heard.told.push(told),
            Err(trouble) => troubles.push(trouble),
        }
    }
    let mut overrides = Vec::new();
    for words in &reported.read {
        match overriding(base, words) {
            Ok(one) => overrides.push(one),
            Err(trouble) => troubles.push(trouble),
        }
    }
    let mut lesson = lesson.clone();
    lesson.handed = lesson
        .handed
        .or_else(|| hand_in(readers, &lists, base, &heard));
    let mut said_of_body = Complaints::default();
    let mut of_body = false;
    let mut phrases = Vec::new();
    for (list, state) in lists {
        for words in list {
            if let Some(trouble) = unreadable(words) {
                troubles.push(trouble);
                continue;
            }
            let note = readers.note(words, &lesson, &overrides);
            let mut body = readers.complaints(words);
            listen_closer(readers, words, &note, &mut body);
            of_body |= !(body.there.is_empty() && body.denied.is_empty());
            take(
                base,
                words,
                state,
                note,
                &body,
                &mut heard,
                &mut phrases,
                choose,
            );
            if matches!(state, State::Seen | State::Slight) {
                said_of_body.extend(body);
            }
        }
    }
    let understood = of_body
        || !phrases.is_empty()
        || !heard.told.is_empty()
        || !reported.measured.is_empty()
        || !reported.likelihood.is_empty();
    if !understood && troubles.is_empty() {
        let typed = lists.iter().flat_map(|(list, _)| *list);
        troubles.extend(typed.map(|words| unknown(readers, words, &lesson)));
    }
    if phrases.len() > MOST_REPORTED {
        return Err(vec![Trouble::TooMany {
            reported: phrases.len(),
        }]);
    }
    settle_contradictions(&mut phrases, &mut heard);
    lesson = with_what_was_told(base, lesson, &heard);
    settle(base, &lesson, &mut phrases);
    let mut found: Vec<Observation> = Vec::new();
    for phrase in &phrases {
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
        match impact::numbers(base, lesson.shot, &strike) {
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
        return Ok(Asked {
            complaints: complaints(base, said_of_body, &found),
            observations: found,
            heard,
            lesson,
            ..Asked::default()
        });
    }
    // A line that has to be mended is mended once.
    let typed = lists.iter().flat_map(|(list, _)| *list);
    let strange = typed.filter(|words| heard.not_understood.contains(words));
    let mut all: Vec<Trouble> = strange
        .map(|words| unknown(readers, words, &lesson))
        .filter(|trouble| !troubles.contains(trouble))
        .collect();
    all.append(&mut troubles);
    Err(all)
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

/// The hand that any of the notes tells: what is said in one holds for all.
fn hand_in(
    readers: &Readers<'_>,
    lists: &[(&Vec<String>, State)],
    base: &KnowledgeBase,
    heard: &Heard,
) -> Option<Handed> {
    let told = |hand: Handed| {
        let fact = base.find_fact(&format!("handed-{}", hand.as_str()));
        fact.is_some_and(|fact| heard.told.iter().any(|told| told.fact == fact))
    };
    let given = Handed::ALL.iter().copied().find(|hand| told(*hand));
    given.or_else(|| {
        let notes = lists.iter().flat_map(|(list, _)| *list);
        notes
            .filter(|words| unreadable(words).is_none())
            .find_map(|words| readers.hand_in(words))
    })
}

/// A note of at most so many words is listened to as a whole too: a clause of it may be half of what it
/// says.
const SHORT_NOTE: usize = 16;

/// Adds what a note says of the body without any of the words for it, clause by clause. What is said of
/// golf by a name, or in a way that the library knows, is that.
fn listen_closer(readers: &Readers<'_>, words: &str, note: &Note, body: &mut Complaints) {
    let short = words.split_whitespace().nth(SHORT_NOTE).is_none();
    let whole = (short && note.clauses.len() > 1).then_some(0..words.len());
    for part in note.clauses.iter().cloned().chain(whole) {
        let within = |at: &Range<usize>| at.start < part.end && part.start < at.end;
        if body.there.iter().any(|complaint| within(&complaint.span)) {
            continue;
        }
        // `gone all yellow` is nothing that is gone.
        let denied = body.denied.iter().any(|complaint| within(&complaint.span));
        let findings = note.findings.iter().filter(|finding| within(&finding.at));
        if findings
            .clone()
            .any(|finding| finding.reading.says_most_of(&words[finding.at.clone()]))
        {
            continue;
        }
        let told = note.telling.iter().any(within) || note.numbers.iter().any(|n| within(&n.at));
        let sure = alike::sure(short, denied || told || findings.count() > 0);
        body.there
            .extend(readers.likened(words, part.clone(), sure));
    }
}

/// Takes in what one note says.
#[allow(
    clippy::too_many_arguments,
    reason = "one caller; what a note is read with"
)]
fn take(
    base: &KnowledgeBase,
    words: &str,
    state: State,
    note: Note,
    body: &Complaints,
    heard: &mut Heard,
    phrases: &mut Vec<Phrase>,
    choose: &mut dyn FnMut(&str, &[Candidate]) -> Option<ConditionKey>,
) {
    heard.notes += 1;
    let of_body = |reading: &Reading| match reading {
        Reading::Clear { condition, .. } => is_of_body(base, *condition),
        Reading::Several(candidates) => candidates.iter().any(|c| is_of_body(base, c.condition)),
        Reading::Unknown(_) => false,
    };
    // What is said of the body is read by the words for it alone, and nothing else is made of them.
    let over = |complaints: &[Complaint], here: &Range<usize>, hurts: bool| {
        complaints.iter().any(|c| {
            c.span.start < here.end && here.start < c.span.end && (!hurts || c.refer != Refer::Ask)
        })
    };
    let lost = note.lost(|here| over(&body.there, here, false) || over(&body.denied, here, false));
    let lost = lost.into_iter().map(|here| words[here].trim().to_owned());
    heard.not_understood.extend(lost);
    let numbers = note.numbers.clone();
    let refused = note.refused.iter();
    let refused = refused.map(|(at, why)| format!("{} ({why})", words[at.clone()].trim()));
    heard.not_understood.extend(refused);
    // Where a drill is wanted is for a search of drills; it says nothing of the swing.
    let place = |told: &ToldFact| Place::parse(&base.fact(told.fact).id).is_some();
    for told in note.facts.into_iter().filter(|told| !place(told)) {
        if heard.told.iter().all(|known| known.fact != told.fact) {
            heard.told.push(told);
        }
    }
    for finding in note.findings {
        if over(&body.there, &finding.at, true) {
            continue;
        }
        let denied = over(&body.denied, &finding.at, false);
        let of_body = of_body(&finding.reading);
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
        let mut phrase = match reading {
            Reading::Clear { near, .. } if near.len() > 1 => {
                Phrase::unsettled(&finding.given, said, &near, false)
            }
            Reading::Clear { condition, by, .. } => {
                Phrase::clear(&finding.given, said, by, condition)
            }
            Reading::Several(candidates) => match choose(&finding.given, &candidates) {
                Some(chosen) => Phrase::clear(&finding.given, said, ReadBy::Choice, chosen),
                None => Phrase::unsettled(&finding.given, said, &candidates, true),
            },
            Reading::Unknown(_) => {
                if !heard.not_understood.contains(&finding.given) {
                    heard.not_understood.push(finding.given);
                }
                continue;
            }
        };
        if let (Some(Count { shown, of }), State::Seen | State::Found) =
            (finding.count, phrase.state)
        {
            let ratio = 1.0;
            phrase.state = State::Counted { shown, of, ratio };
        }
        phrase.wants_hand = finding.wants_hand && !phrase.open.is_empty();
        phrase.implied = finding.implied;
        phrase.note = heard.notes;
        phrases.push(phrase);
    }
    if state != State::NotSeen {
        for number in &numbers {
            let given = words[number.at.clone()].trim();
            if !numbered(base, given, number, heard.notes, phrases) {
                heard.not_understood.push(given.to_owned());
            } else if !number.either {
                heard.numbers.push((number.quantity.clone(), number.value));
            }
        }
    }
    if state == State::NotSeen {
        return;
    }
    for complaint in &body.there {
        let pain = complaint.pain.or_else(|| {
            (complaint.refer != Refer::Ask)
                .then(|| any_pain(base))
                .flatten()
        });
        let Some(pain) = pain else { continue };
        let known = |phrase: &Phrase| phrase.meanings.iter().any(|(key, _)| *key == pain);
        if !phrases.iter().any(known) {
            let mut phrase = Phrase::clear(&complaint.words, state, ReadBy::Words, pain);
            phrase.note = heard.notes;
            phrases.push(phrase);
        }
    }
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

/// What a coach said of a student by the id of a fact, with its number where there is one: `tall`,
/// `age=68`.
///
/// # Errors
///
/// When there is no such fact.
pub fn told_fact(base: &KnowledgeBase, id: &str) -> Result<ToldFact, Trouble> {
    let id = id.trim();
    let (name, number) = match id.split_once(['=', ' ']) {
        Some((name, number)) => (name.trim(), number.trim().parse::<f64>().ok()),
        None => (id, None),
    };
    base.find_fact(name).map_or_else(
        || {
            let known = base.facts.iter().map(|fact| fact.id.as_str());
            let close = nearest(name, known.clone(), 3);
            Err(Trouble::Malformed {
                words: id.to_owned(),
                why: Malformed::Fact {
                    nearest: close.into_iter().map(str::to_owned).collect(),
                    known: known.map(str::to_owned).collect(),
                },
            })
        },
        |fact| {
            Ok(ToldFact {
                given: id.to_owned(),
                fact,
                number,
            })
        },
    )
}

/// `words=id`.
fn overriding(base: &KnowledgeBase, words: &str) -> Result<Override, Trouble> {
    let malformed = |why: Malformed| Trouble::Malformed {
        words: words.to_owned(),
        why,
    };
    let Some((said, id)) = words.rsplit_once('=') else {
        return Err(malformed(Malformed::NotAPair(Pair::Read)));
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
    Ok(Override {
        words: said.trim().to_owned(),
        condition,
    })
}

/// The trouble with words that mean nothing known.
fn unknown(readers: &Readers<'_>, words: &str, lesson: &Lesson) -> Trouble {
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
fn settle_contradictions(phrases: &mut Vec<Phrase>, heard: &mut Heard) {
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

/// A number for every condition that its quantity measures.
pub(super) fn measured(base: &KnowledgeBase, words: &str) -> Result<Vec<Observation>, Trouble> {
    let malformed = |why: Malformed| Trouble::Malformed {
        words: words.to_owned(),
        why,
    };
    let Some((quantity, rest)) = words.split_once('=') else {
        return Err(malformed(Malformed::NotAPair(Pair::Measured)));
    };
    let (quantity, rest) = (quantity.trim(), rest.trim());
    let of: Vec<(ConditionKey, &Measure)> = base
        .condition_keys()
        .filter_map(|key| Some((key, base.condition(key).measure.as_ref()?)))
        .filter(|(_, measure)| measure.quantity == quantity)
        .collect();
    let Some((_, first)) = of.first() else {
        let measures = base.conditions.iter().filter_map(|c| c.measure.as_ref());
        let known: BTreeSet<String> = measures.map(|m| m.quantity.clone()).collect();
        let close = nearest(quantity, known.iter().map(String::as_str), 3);
        return Err(malformed(Malformed::Quantity {
            nearest: close.into_iter().map(str::to_owned).collect(),
            known: known.iter().cloned().collect(),
        }));
    };
    let (rest, error) = match rest.split_once("+-").or_else(|| rest.split_once('\u{b1}')) {
        Some((rest, error)) => (rest.trim(), Some(error.trim())),
        None => (rest, None),
    };
    let error = error
        .map(|error| match crate::measure::read_number(error) {
            Ok(error) if error > 0.0 => Ok(error),
            _ => Err(malformed(Malformed::Spread {
                quantity: quantity.to_owned(),
                number: rest.to_owned(),
            })),
        })
        .transpose()?;
    let end = rest
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+')))
        .unwrap_or(rest.len());
    if rest[end..].starts_with(',')
        && let Err(help) = crate::measure::read_number(rest)
    {
        return Err(malformed(Malformed::Number(help)));
    }
    let (number, unit) = rest.split_at(end);
    let unit = unit.trim();
    let no_number = || {
        malformed(Malformed::NoNumber {
            unit: first.unit.clone(),
        })
    };
    if number.is_empty() {
        return Err(no_number());
    }
    if !(unit.is_empty() || unit.eq_ignore_ascii_case(&first.unit)) {
        return Err(malformed(Malformed::Unit {
            quantity: quantity.to_owned(),
            number: number.to_owned(),
            unit: first.unit.clone(),
        }));
    }
    let value = match number.parse::<f64>() {
        Ok(value) if value.is_finite() => value,
        _ => return Err(no_number()),
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
            let error_sd = error.unwrap_or(measure.error_sd);
            let measurement = Measurement {
                value,
                error: error_sd,
                low,
                high,
                side,
            };
            let ratio = likelihood_ratio(&measurement, prior)
                .map_err(|error| malformed(Malformed::Number(error.to_string())))?;
            Ok(Observation {
                given: words.to_owned(),
                condition,
                state: State::Measured {
                    value,
                    error_sd,
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
    let malformed = |why: Malformed| Trouble::Malformed {
        words: words.to_owned(),
        why,
    };
    let Some((id, number)) = words.split_once('=') else {
        return Err(malformed(Malformed::NotAPair(Pair::Likelihood)));
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
        Ok(ratio) if (1.0 / MOST_TYPED_RATIO..=MOST_TYPED_RATIO).contains(&ratio) => {
            Ok(Observation {
                given: words.to_owned(),
                condition,
                state: State::Likelihood(ratio),
                read_by: ReadBy::Id,
                perhaps: Vec::new(),
            })
        }
        _ => Err(malformed(Malformed::Ratio)),
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
