//! From what a coach types to an entry of the library.

use super::flight::{self, Handed, Way};
use super::index::{Alternatives, StemIndex};
use super::lexicon::{Lexicon, Meaning, WordKey};
use super::term::{Cutter, Term};
use super::trade;
use crate::knowledge::{ConditionKey, KnowledgeBase, Shot};
use serde::Serialize;
use std::collections::HashMap;

/// How a coach's words were turned into an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ReadBy {
    /// The words are the entry's id.
    Id,
    /// The words are the entry's name.
    Name,
    /// The words are one of the entry's aliases.
    Alias,
    /// Free words that come clearly nearer to this entry than to any other.
    Words,
    /// The coach was asked, and chose.
    Choice,
    /// A measured quantity that belongs to the entry.
    Measure,
}

/// What settles words that mean different things.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Circumstances {
    /// The shot the lesson is about.
    pub shot: Option<Shot>,
    /// Which way the student plays.
    pub handed: Option<Handed>,
}

/// An entry that the words may mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// The entry.
    pub condition: ConditionKey,
    /// How near the words come to it, from 0 to 1.
    pub score: f64,
    /// The name or alias that the words come nearest to.
    pub nearest: String,
    /// The typed words that matched, in the order typed.
    pub words: Vec<String>,
}

/// What the words were read as.
#[derive(Clone, Debug, PartialEq)]
pub enum Reading {
    /// One entry is meant.
    Clear {
        /// The entry.
        condition: ConditionKey,
        /// How it was found.
        by: ReadBy,
        /// The id, name or alias that matched, or came nearest.
        matched: String,
    },
    /// Several entries may be meant; best first.
    Several(Vec<Candidate>),
    /// Nothing comes near enough; the nearest there are, best first, perhaps none.
    Unknown(Vec<Candidate>),
}

/// Free words are taken from this score on, when nothing else comes near it. This and the other
/// bounds were judged on `tests/search/readings.yaml`.
const TAKEN: f64 = 0.60;
/// Free words are shown as possible from this score on.
const POSSIBLE: f64 = 0.47;
/// The second best must stay below this share of the best for the best to be taken.
const CLEARLY_BEHIND: f64 = 0.93;
/// What comes within this share of the best is offered beside it.
const BESIDE: f64 = 0.80;
/// No more than this many candidates are offered.
const OFFERED: usize = 6;
/// How many entries are compared closely.
const SHORTLIST: usize = 80;
/// What a typed word counts that is found in another alias of the entry, and in its look.
const ELSEWHERE: f64 = 0.75;
const IN_LOOK: f64 = 0.6;
/// What is left of a score when the phrase says the opposite of the entry, is about another shot, or
/// says `not` where the entry does not.
const CONTRARY: f64 = 0.72;
const OTHER_SHOT: f64 = 0.70;
const UNNEGATED: f64 = 0.88;
/// How far coverage of the phrase outweighs coverage of the name or alias.
const PHRASE_SHARE: f64 = 0.6;
/// What two words count that the library writes as one.
const JOINED: f64 = 0.9;
/// A phrase must say at least this much; fillers alone do not.
const LEAST_SAID: f64 = 0.12;
/// Fillers weigh less than this.
const FILLERS_BELOW: f64 = 0.1;
/// A report has fewer words than this; the rest is not read.
const MOST_TERMS: usize = 64;

/// One way of saying an entry.
struct Form {
    text: String,
    stems: Vec<WordKey>,
    negated: bool,
}

/// What is known of one condition.
struct Spoken {
    forms: Vec<Form>,
    /// Stems of all names and aliases, sorted.
    named: Vec<WordKey>,
    /// Stems of the look, sorted.
    look: Vec<WordKey>,
    side: Option<Way>,
}

/// A name or an alias as a key, and the entries that have it.
type Exact = HashMap<String, Vec<(ConditionKey, String)>>;

/// Reads words as entries of one library. Build it once; reading takes well under a millisecond.
pub struct Reader {
    ids: HashMap<String, ConditionKey>,
    names: Exact,
    aliases: Exact,
    /// By stems without fillers.
    bare: Exact,
    shots: Vec<Vec<Shot>>,
    spoken: Vec<Spoken>,
    lexicon: Lexicon,
    /// `None` only when there was no memory for it; every entry is then compared closely.
    index: Option<StemIndex>,
    negations: Vec<WordKey>,
}

/// A phrase, ready to be compared.
struct Phrase {
    terms: Vec<Term>,
    meanings: Vec<Meaning>,
    /// For each stem the typed words that can stand for it, and how much each counts.
    hits: HashMap<WordKey, Vec<(usize, f64)>>,
    weight: f64,
    hinted: Vec<Shot>,
    side: Option<Way>,
    /// Typed words that say `not`.
    negations: Vec<usize>,
}

/// How a phrase compares with one entry.
struct Likeness {
    score: f64,
    form: usize,
    matched: Vec<usize>,
    /// Whether a `not` in the phrase has no counterpart in the entry.
    contradicted: bool,
}

impl Reader {
    /// A reader of the conditions of a library; retired ones are read by id and name alone.
    #[must_use]
    pub fn new(base: &KnowledgeBase) -> Self {
        let mut cutter = Cutter::new();
        let cut: Vec<CutCondition> = base
            .conditions
            .iter()
            .map(|condition| {
                let alive = condition.retired_for.is_none();
                let mut texts = vec![condition.name.clone()];
                if alive {
                    texts.extend(condition.aliases.iter().cloned());
                    texts.push(condition.id.replace('-', " "));
                }
                CutCondition {
                    forms: texts
                        .into_iter()
                        .map(|text| (cutter.cut(&text), text))
                        .collect(),
                    look: if alive {
                        cutter.cut(&condition.look_for)
                    } else {
                        Vec::new()
                    },
                }
            })
            .collect();
        let lexicon = Lexicon::new(
            &mut cutter,
            cut.iter().map(|condition| {
                condition
                    .forms
                    .iter()
                    .map(|(terms, _)| terms.as_slice())
                    .collect()
            }),
            cut.iter().map(|condition| condition.look.as_slice()),
        );
        let negations: Vec<WordKey> = trade::NEGATIONS
            .iter()
            .filter_map(|word| lexicon.key(&cutter.stem(word)))
            .collect();
        let mut reader = Self {
            ids: HashMap::new(),
            names: HashMap::new(),
            aliases: HashMap::new(),
            bare: HashMap::new(),
            shots: base.conditions.iter().map(|c| c.shots.clone()).collect(),
            spoken: Vec::with_capacity(cut.len()),
            index: None,
            lexicon,
            negations,
        };
        for (key, parts) in base.condition_keys().zip(&cut) {
            reader.learn(key, &base.condition(key).id, parts);
            reader
                .spoken
                .push(reader.spoken_of(parts, &base.condition(key).look_for));
        }
        reader.index = StemIndex::new(
            [3.0, 1.0],
            cut.iter().map(|condition| {
                let named: Vec<&Term> = condition
                    .forms
                    .iter()
                    .flat_map(|(terms, _)| terms)
                    .collect();
                [stems_of(named.into_iter()), stems_of(condition.look.iter())]
            }),
        )
        .ok();
        reader
    }

    fn learn(&mut self, key: ConditionKey, id: &str, parts: &CutCondition) {
        self.ids.insert(id.to_owned(), key);
        for (number, (terms, text)) in parts.forms.iter().enumerate() {
            let exact = if number == 0 {
                &mut self.names
            } else {
                &mut self.aliases
            };
            for (map, way) in [(exact, written(terms)), (&mut self.bare, bare(terms))] {
                let entries = map.entry(way).or_default();
                if !entries.iter().any(|(known, _)| *known == key) {
                    entries.push((key, text.clone()));
                }
            }
        }
    }

    fn spoken_of(&self, parts: &CutCondition, look_for: &str) -> Spoken {
        let keys = |terms: &[Term]| -> Vec<WordKey> {
            let mut keys: Vec<WordKey> = Vec::with_capacity(terms.len());
            for key in terms.iter().filter_map(|term| self.lexicon.key(&term.stem)) {
                if !keys.contains(&key) {
                    keys.push(key);
                }
            }
            keys
        };
        let forms: Vec<Form> = parts
            .forms
            .iter()
            .map(|(terms, text)| {
                let stems = keys(terms);
                Form {
                    text: text.clone(),
                    negated: stems.iter().any(|stem| self.negations.contains(stem)),
                    stems,
                }
            })
            .collect();
        let mut named: Vec<WordKey> = forms.iter().flat_map(|f| f.stems.iter().copied()).collect();
        named.sort_unstable();
        named.dedup();
        let mut look = keys(&parts.look);
        look.sort_unstable();
        Spoken {
            forms,
            named,
            look,
            side: flight::side_of(look_for),
        }
    }

    /// Reads a coach's words.
    ///
    /// In order: an id, a name, an alias, each as written; words of left and right about the ball;
    /// a name or an alias but for fillers and endings; then free words. At each step only entries
    /// that apply to the shot count, as long as there is one.
    #[must_use]
    pub fn read(&self, words: &str, circumstances: &Circumstances) -> Reading {
        let mut cutter = Cutter::new();
        let terms = cutter.cut(words);
        if terms.is_empty() {
            return Reading::Unknown(Vec::new());
        }
        self.read_exactly(words, &terms, circumstances)
            .unwrap_or_else(|| self.read_freely(&mut cutter, terms, circumstances))
    }

    fn read_exactly(
        &self,
        words: &str,
        terms: &[Term],
        circumstances: &Circumstances,
    ) -> Option<Reading> {
        let id = words.trim().to_lowercase();
        let by_id: Vec<(ConditionKey, String)> = self
            .ids
            .get(&id)
            .map(|key| vec![(*key, id.clone())])
            .unwrap_or_default();
        let (written, bare) = (written(terms), bare(terms));
        let none = Vec::new();
        let steps = [
            (ReadBy::Id, &by_id),
            (ReadBy::Name, self.names.get(&written).unwrap_or(&none)),
            (ReadBy::Alias, self.aliases.get(&written).unwrap_or(&none)),
            (ReadBy::Alias, self.bare.get(&bare).unwrap_or(&none)),
        ];
        for shot in [circumstances.shot, None] {
            let fits = |key: ConditionKey| self.applies(key, shot);
            for (number, (by, found)) in steps.iter().enumerate() {
                if number == 2
                    && let Some(reading) = self.read_flight(terms, circumstances)
                {
                    return Some(reading);
                }
                let fitting: Vec<&(ConditionKey, String)> =
                    found.iter().filter(|(key, _)| fits(*key)).collect();
                match fitting.as_slice() {
                    [] => {}
                    [(condition, matched)] => {
                        return Some(Reading::Clear {
                            condition: *condition,
                            by: *by,
                            matched: matched.clone(),
                        });
                    }
                    several => {
                        let typed: Vec<String> = terms.iter().map(|t| t.word.clone()).collect();
                        return Some(Reading::Several(
                            several
                                .iter()
                                .map(|(condition, matched)| Candidate {
                                    condition: *condition,
                                    score: 1.0,
                                    nearest: matched.clone(),
                                    words: typed.clone(),
                                })
                                .collect(),
                        ));
                    }
                }
            }
            if circumstances.shot.is_none() {
                break;
            }
        }
        None
    }

    fn read_flight(&self, terms: &[Term], circumstances: &Circumstances) -> Option<Reading> {
        let putt = circumstances.shot == Some(Shot::Putt) || hinted_shots(terms) == [Shot::Putt];
        let find = |id: &str| self.ids.get(id).copied();
        let mut found = flight::read(find, terms, circumstances.handed, putt)?;
        if found
            .iter()
            .any(|key| self.applies(*key, circumstances.shot))
        {
            found.retain(|key| self.applies(*key, circumstances.shot));
        }
        if let [condition] = found.as_slice() {
            return Some(Reading::Clear {
                condition: *condition,
                by: ReadBy::Words,
                matched: self.spoken[condition.0].forms[0].text.clone(),
            });
        }
        let words: Vec<String> = terms.iter().map(|term| term.word.clone()).collect();
        Some(Reading::Several(
            found
                .into_iter()
                .map(|condition| Candidate {
                    condition,
                    score: 1.0,
                    nearest: self.spoken[condition.0].forms[0].text.clone(),
                    words: words.clone(),
                })
                .collect(),
        ))
    }

    fn applies(&self, key: ConditionKey, shot: Option<Shot>) -> bool {
        shot.is_none_or(|shot| self.shots[key.0].iter().any(|own| own.applies_to(shot)))
    }

    fn read_freely(
        &self,
        cutter: &mut Cutter,
        terms: Vec<Term>,
        circumstances: &Circumstances,
    ) -> Reading {
        let ranked = self.rank(cutter, terms, circumstances);
        let Some((best, likeness)) = ranked.first() else {
            return Reading::Unknown(Vec::new());
        };
        let offered = |least: f64| -> Vec<Candidate> {
            ranked
                .iter()
                .map(|(candidate, _)| candidate)
                .filter(|candidate| candidate.score >= least)
                .take(OFFERED)
                .cloned()
                .collect()
        };
        if best.score < POSSIBLE {
            return Reading::Unknown(offered(best.score * BESIDE));
        }
        let alone = ranked
            .get(1)
            .is_none_or(|(second, _)| second.score < best.score * CLEARLY_BEHIND);
        if best.score >= TAKEN && alone && !likeness.contradicted {
            return Reading::Clear {
                condition: best.condition,
                by: ReadBy::Words,
                matched: best.nearest.clone(),
            };
        }
        Reading::Several(offered(best.score * BESIDE))
    }

    /// Entries by likeness with the phrase, best first.
    fn rank(
        &self,
        cutter: &mut Cutter,
        terms: Vec<Term>,
        circumstances: &Circumstances,
    ) -> Vec<(Candidate, Likeness)> {
        let Some(phrase) = self.phrase(cutter, terms, circumstances) else {
            return Vec::new();
        };
        let mut ranked: Vec<(Candidate, Likeness)> = self
            .shortlist(&phrase)
            .into_iter()
            .filter_map(|key| {
                let likeness = self.likeness(&phrase, key)?;
                let candidate = Candidate {
                    condition: key,
                    score: likeness.score,
                    nearest: self.spoken[key.0].forms[likeness.form].text.clone(),
                    words: likeness
                        .matched
                        .iter()
                        .map(|typed| phrase.terms[*typed].word.clone())
                        .collect(),
                };
                Some((candidate, likeness))
            })
            .collect();
        if ranked
            .iter()
            .any(|(c, _)| c.score >= POSSIBLE && self.applies(c.condition, circumstances.shot))
        {
            ranked.retain(|(c, _)| self.applies(c.condition, circumstances.shot));
        }
        ranked.sort_by(|(a, _), (b, _)| {
            b.score
                .total_cmp(&a.score)
                .then(a.condition.cmp(&b.condition))
        });
        ranked
    }

    fn phrase(
        &self,
        cutter: &mut Cutter,
        terms: Vec<Term>,
        circumstances: &Circumstances,
    ) -> Option<Phrase> {
        let mut terms = of_today(terms);
        terms.truncate(MOST_TERMS);
        let hinted = hinted_shots(&terms);
        let side = sided(&mut terms, circumstances.handed, cutter);
        let terms = self.split_unknown(terms, cutter);
        let mut meanings: Vec<Meaning> = terms
            .iter()
            .map(|term| self.lexicon.meaning(term))
            .collect();
        for at in 1..terms.len() {
            // `sweet spot` for `sweetspot`: two words that the library writes as one.
            let joined = format!("{}{}", terms[at - 1].word, terms[at].word);
            if let Some(key) = self.lexicon.key(&cutter.stem(&joined)) {
                for meaning in &mut meanings[at - 1..=at] {
                    meaning.stems.push((key, JOINED));
                }
            }
        }
        let weight: f64 = meanings.iter().map(|meaning| meaning.weight).sum();
        if weight < LEAST_SAID {
            return None;
        }
        let mut hits: HashMap<WordKey, Vec<(usize, f64)>> = HashMap::new();
        for (typed, meaning) in meanings.iter().enumerate() {
            for (stem, counts) in &meaning.stems {
                hits.entry(*stem).or_default().push((typed, *counts));
            }
        }
        let negations = meanings
            .iter()
            .enumerate()
            .filter(|(_, meaning)| {
                meaning.known
                    && meaning
                        .stems
                        .first()
                        .is_some_and(|(key, _)| self.negations.contains(key))
            })
            .map(|(typed, _)| typed)
            .collect();
        Some(Phrase {
            terms,
            meanings,
            hits,
            weight,
            hinted,
            side,
            negations,
        })
    }

    /// `backfoot` for `back foot`: a word nobody knows that is two known words.
    fn split_unknown(&self, terms: Vec<Term>, cutter: &mut Cutter) -> Vec<Term> {
        let mut split = Vec::with_capacity(terms.len());
        for term in terms {
            if self.lexicon.key(&term.stem).is_none()
                && let Some(at) = (3..term.word.len().saturating_sub(2)).find(|at| {
                    term.word.is_char_boundary(*at)
                        && [&term.word[..*at], &term.word[*at..]]
                            .iter()
                            .all(|part| self.lexicon.is_written(part))
                })
            {
                for part in [&term.word[..at], &term.word[at..]] {
                    split.push(Term {
                        word: part.to_owned(),
                        stem: cutter.stem(part),
                        ..term
                    });
                }
            } else {
                split.push(term);
            }
        }
        split
    }

    /// The entries worth comparing closely, found in the index.
    fn shortlist(&self, phrase: &Phrase) -> Vec<ConditionKey> {
        let words: Vec<Alternatives> = phrase
            .meanings
            .iter()
            .filter(|meaning| meaning.weight > FILLERS_BELOW)
            .map(|meaning| {
                meaning
                    .stems
                    .iter()
                    .map(|(key, counts)| {
                        (self.lexicon.stem(*key).to_owned(), *counts * meaning.weight)
                    })
                    .collect()
            })
            .collect();
        let found = self
            .index
            .as_ref()
            .and_then(|index| index.search(&words, SHORTLIST).ok());
        match found {
            Some(found) => found.into_iter().map(|(n, _)| ConditionKey(n)).collect(),
            None => (0..self.spoken.len()).map(ConditionKey).collect(),
        }
    }

    /// Coverage both ways between the phrase and the entry's names and aliases, each word by what it
    /// says; the best of them counts.
    fn likeness(&self, phrase: &Phrase, key: ConditionKey) -> Option<Likeness> {
        let spoken = &self.spoken[key.0];
        let mut elsewhere = vec![0.0_f64; phrase.terms.len()];
        for (typed, meaning) in phrase.meanings.iter().enumerate() {
            for (stem, counts) in &meaning.stems {
                let share = if spoken.named.binary_search(stem).is_ok() {
                    ELSEWHERE
                } else if spoken.look.binary_search(stem).is_ok() {
                    IN_LOOK
                } else {
                    continue;
                };
                elsewhere[typed] = elsewhere[typed].max(share * counts);
            }
        }
        let mut best: Option<Likeness> = None;
        let mut here = vec![0.0_f64; phrase.terms.len()];
        for (number, form) in spoken.forms.iter().enumerate() {
            here.fill(0.0);
            let (mut covered, mut whole) = (0.0, 0.0);
            let mut contrary = false;
            for stem in &form.stems {
                let weight = self.lexicon.weight(*stem);
                whole += weight;
                let mut best_hit = 0.0_f64;
                for (typed, counts) in phrase.hits.get(stem).into_iter().flatten() {
                    here[*typed] = here[*typed].max(*counts);
                    best_hit = best_hit.max(*counts);
                }
                covered += weight * best_hit;
                contrary |= best_hit < 1.0 && self.shut_out(phrase, form, *stem);
            }
            if covered <= 0.0 || whole <= 0.0 {
                continue;
            }
            let mut said = 0.0;
            for (typed, meaning) in phrase.meanings.iter().enumerate() {
                said += meaning.weight * here[typed].max(elsewhere[typed]);
            }
            let of_phrase = said / phrase.weight;
            let of_form = covered / whole;
            let mut score = of_phrase.powf(PHRASE_SHARE) * of_form.powf(1.0 - PHRASE_SHARE);
            if contrary {
                score *= CONTRARY;
            }
            let unanswered = phrase.negations.iter().any(|typed| here[*typed] == 0.0);
            if unanswered || (form.negated && phrase.negations.is_empty()) {
                score *= UNNEGATED;
            }
            if best.as_ref().is_none_or(|before| score > before.score) {
                let matched = (0..phrase.terms.len())
                    .filter(|typed| {
                        here[*typed].max(elsewhere[*typed]) > 0.0
                            && phrase.meanings[*typed].weight > FILLERS_BELOW
                    })
                    .collect();
                best = Some(Likeness {
                    score,
                    form: number,
                    matched,
                    contradicted: unanswered,
                });
            }
        }
        let mut best = best?;
        if !phrase.hinted.is_empty()
            && !phrase
                .hinted
                .iter()
                .any(|shot| self.applies(key, Some(*shot)))
        {
            best.score *= OTHER_SHOT;
        }
        if let (Some(typed), Some(own)) = (phrase.side, spoken.side)
            && typed != own
        {
            best.score *= CONTRARY;
        }
        Some(best)
    }

    /// Whether the phrase says the opposite of a stem of the form, and the form does not say that
    /// opposite too.
    fn shut_out(&self, phrase: &Phrase, form: &Form, stem: WordKey) -> bool {
        self.lexicon.opposites(stem).iter().any(|opposite| {
            !form.stems.contains(opposite)
                && phrase
                    .hits
                    .get(opposite)
                    .is_some_and(|hits| hits.iter().any(|(_, counts)| *counts >= 1.0))
        })
    }
}

/// One condition cut into terms.
struct CutCondition {
    /// The name, the aliases, the id; each with its text.
    forms: Vec<(Vec<Term>, String)>,
    look: Vec<Term>,
}

fn stems_of<'a>(terms: impl Iterator<Item = &'a Term>) -> String {
    let mut text = String::new();
    for term in terms {
        if !text.is_empty() {
            text.push(' ');
        }
        text.push_str(&term.stem);
    }
    text
}

/// The words as written but for case, punctuation and shorthand.
fn written(terms: &[Term]) -> String {
    let words: Vec<&str> = terms.iter().map(|term| term.word.as_str()).collect();
    words.join(" ")
}

/// The stems without what carries nothing; all of them when nothing else is left.
fn bare(terms: &[Term]) -> String {
    let telling: Vec<&str> = terms
        .iter()
        .filter(|term| !trade::is_filler(&term.word))
        .map(|term| term.stem.as_str())
        .collect();
    if telling.is_empty() {
        let stems: Vec<&str> = terms.iter().map(|term| term.stem.as_str()).collect();
        stems.join(" ")
    } else {
        telling.join(" ")
    }
}

/// The shots that the clubs and places in the phrase give away.
fn hinted_shots(terms: &[Term]) -> Vec<Shot> {
    let mut shots = Vec::new();
    for term in terms {
        for (words, hinted) in trade::HINTS {
            if words.contains(&term.word.as_str()) {
                for shot in *hinted {
                    if !shots.contains(shot) {
                        shots.push(*shot);
                    }
                }
            }
        }
    }
    shots
}

/// What is so now: of `used to slice, now hooks everything` the hook.
fn of_today(terms: Vec<Term>) -> Vec<Term> {
    let past = terms.windows(2).any(|pair| {
        matches!(
            (pair[0].word.as_str(), pair[1].word.as_str()),
            ("used", "to")
        )
    }) || terms
        .iter()
        .any(|term| matches!(term.word.as_str(), "was" | "previously"));
    let now = terms
        .iter()
        .position(|term| matches!(term.word.as_str(), "now" | "nowadays"));
    match now {
        Some(at) if past && at + 1 < terms.len() => terms.into_iter().skip(at + 1).collect(),
        _ => terms,
    }
}

/// Turns left and right into lead and trail beside a part of the body, and into out and in where they
/// are about the ball; gives that side. Without the hand they say nothing.
fn sided(terms: &mut [Term], handed: Option<Handed>, cutter: &mut Cutter) -> Option<Way> {
    let mut side = None;
    for at in 0..terms.len() {
        let word = terms[at].word.clone();
        if !matches!(word.as_str(), "left" | "right" | "lefts" | "rights") {
            continue;
        }
        let next = terms
            .get(at + 1)
            .map(|term| term.word.clone())
            .unwrap_or_default();
        if word == "left" && matches!(next.as_str(), "it" | "in" | "short" | "on" | "them")
            || word == "right"
                && matches!(
                    next.as_str(),
                    "angle"
                        | "angles"
                        | "after"
                        | "at"
                        | "before"
                        | "out"
                        | "on"
                        | "under"
                        | "up"
                        | "over"
                )
        {
            continue;
        }
        let part = trade::SIDED_PARTS.contains(&next.as_str())
            || next
                .strip_suffix('s')
                .is_some_and(|one| trade::SIDED_PARTS.contains(&one));
        let said = match handed {
            None => "the",
            Some(handed) if part => match Way::of(&word, handed) {
                // The trail side is the right for a right-handed golfer, and so is the out side.
                Some(Way::Out) => "trail",
                Some(Way::In) | None => "lead",
            },
            Some(handed) => match Way::of(&word, handed) {
                Some(Way::Out) => {
                    side = Some(Way::Out);
                    "out"
                }
                Some(Way::In) | None => {
                    side = Some(Way::In);
                    "in"
                }
            },
        };
        said.clone_into(&mut terms[at].word);
        terms[at].stem = cutter.stem(said);
    }
    side
}
