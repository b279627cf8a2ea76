//! From what a coach types to an entry of the library.

use super::exact::{Saying, Sayings};
use super::flight::Flights;
use super::kernel::Kernel;
use super::lexicon::{Lexicon, WordKey};
use super::tables::Tables;
use super::term::{Cutter, FastMap, Term, TextId};
use super::trade::Trade;
use crate::knowledge::{ConditionKey, Shot, Stage, Way, WordUse};
use crate::lesson::Lesson;
use serde::Serialize;
use std::sync::{Arc, OnceLock};

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
    /// Free words that may mean several entries, settled by what else was reported.
    Company,
    /// The coach was asked, and chose.
    Choice,
    /// A measured quantity that belongs to the entry.
    Measure,
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
        /// What free words come near to as well, best first; the first is the entry itself. Empty
        /// when the words are the entry's own.
        near: Vec<Candidate>,
    },
    /// Several entries may be meant, or one that not all of the words speak for; best first.
    Several(Vec<Candidate>),
    /// Nothing comes near enough; the nearest there are, best first, perhaps none.
    Unknown(Vec<Candidate>),
}

impl Reading {
    /// Whether words are mostly an entry's own: its id, its name, or a way of saying it that is written
    /// down.
    #[must_use]
    pub fn says_most_of(&self, words: &str) -> bool {
        let Self::Clear { by, matched, .. } = self else {
            return false;
        };
        matches!(by, ReadBy::Id | ReadBy::Name | ReadBy::Alias)
            && 2 * matched.chars().count() >= words.trim().chars().count()
    }
}

/// Free words are taken from this score on, when nothing else comes near it. This and the other
/// bounds were judged on `tests/search/readings.yaml`.
pub(super) const TAKEN: f64 = 0.62;
/// Free words are shown as possible from this score on.
pub(super) const POSSIBLE: f64 = 0.50;
/// The second best must stay below this share of the best for the best to be taken.
pub(super) const CLEARLY_BEHIND: f64 = 0.97;
/// Of what a phrase says, the entry must answer this much to be taken.
pub(super) const ANSWERED: f64 = 0.5;
/// What is left of the score of an idea when the phrase speaks of none: coaches mostly report what
/// they see.
pub(super) const UNTHOUGHT: f64 = 0.93;
/// What comes within this share of the best is offered beside it.
pub(super) const BESIDE: f64 = 0.80;
/// What comes within this share of a clear reading may have been meant all the same.
pub(super) const NEAR: f64 = 0.85;
/// No more than this many candidates are offered.
pub(super) const OFFERED: usize = 6;
/// What a typed word counts that is found in another alias of the entry, and in its look.
pub(super) const ELSEWHERE: f64 = 0.8;
pub(super) const IN_LOOK: f64 = 0.6;
/// What is left of a score when the phrase says the opposite of the entry, is about another shot, or
/// says `not` where the entry does not.
pub(super) const CONTRARY: f64 = 0.72;
pub(super) const OTHER_SHOT: f64 = 0.70;
/// What is left when an entry, or a way of saying it, is of the short game and the phrase names no
/// shot: coaches name the shot when it is not a full one.
pub(super) const UNSAID_SHOT: f64 = 0.9;
/// How far coverage of the phrase outweighs coverage of the name or alias.
pub(super) const PHRASE_SHARE: f64 = 0.65;
/// Fillers weigh less than this.
pub(super) const FILLERS_BELOW: f64 = 0.1;
/// And half fillers less than this.
pub(super) const HALF_FILLERS_BELOW: f64 = 0.2;
/// With nothing else within `FAR_BEHIND` of the best, less of a score will do.
pub(super) const TAKEN_ALONE: f64 = 0.55;
pub(super) const FAR_BEHIND: f64 = 0.85;

/// One of the things that a query was read as.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadAs {
    /// The entry.
    pub condition: ConditionKey,
    /// How sure the reading is, from 0 to 1; several readings of one phrase share what it has.
    pub weight: f64,
    /// The name or alias that the words come nearest to.
    pub nearest: String,
}

/// What one finding out of several in a query weighs, beside the query as a whole.
const ONE_OF_SEVERAL: f64 = 0.8;
/// A reading that is less than this is not a reading.
const LEAST_READING: f64 = 0.15;
/// More findings than this are not told apart.
const MOST_READINGS: usize = 6;

/// What a phrase scores at least that says the one word by which an entry goes, such as `slice`: when
/// the word is the whole of its name, and when it is the whole of an alias.
pub(super) const CALLED_BY_NAME: f64 = 0.84;
/// A name outdoes an alias of somebody else's by this much when both are said alike.
pub(super) const BY_NAME: f64 = 1.04;
/// Entries of other shots are left out unless they come nearer than the shot's own by this much.
pub(super) const OTHER_SHOT_ALL_THE_SAME: f64 = 1.25;

/// What a score gains when the phrase names the entry's stage, and what is left when it names
/// another.
pub(super) const ITS_STAGE: f64 = 1.06;
pub(super) const OTHER_STAGE: f64 = 0.92;
/// A free reading among the shot's own entries is taken from this score on before a name or an alias
/// of another shot's entry.
const OWN_SHOT: f64 = 0.72;

/// One way of saying an entry.
pub(super) struct Form {
    pub(super) text: String,
    pub(super) stems: Vec<WordKey>,
    pub(super) negated: bool,
    /// Shots that it names: `leaks putts` is about putts.
    pub(super) hinted: Vec<Shot>,
}

/// What is known of one condition.
pub(super) struct Spoken {
    pub(super) forms: Vec<Form>,
    /// Words that are a whole name or alias of it, fillers aside, with what saying one is worth.
    pub(super) called: Vec<(WordKey, f64)>,
    /// Stems of all names and aliases, sorted.
    pub(super) named: Vec<WordKey>,
    /// Stems of the look, sorted.
    pub(super) look: Vec<WordKey>,
    pub(super) side: Option<Way>,
    /// Whether it is something that the student thinks, not something seen.
    pub(super) thought: bool,
    /// Where in the motion, or where else, it is met.
    pub(super) stage: Stage,
}

/// Reads words as entries of one library. Build it once; reading takes well under a millisecond.
pub struct Reader {
    pub(crate) trade: Arc<Trade>,
    pub(super) flights: Flights,
    pub(super) tables: Tables,
    pub(super) ids: FastMap<String, ConditionKey>,
    pub(super) sayings: Sayings,
    pub(super) shots: Vec<Vec<Shot>>,
    pub(super) spoken: Vec<Spoken>,
    pub(super) lexicon: Lexicon,
    /// For each stem the entries that have it in a name, an alias or the look, in order.
    pub(super) said_by: Vec<Vec<ConditionKey>>,
    pub(super) negations: Vec<WordKey>,
    /// Made when free words are first read.
    pub(super) kernel: OnceLock<Kernel>,
}

impl Reader {
    /// What every way of saying an entry makes of a phrase, by key.
    pub(super) fn votes(&self, phrase: &str) -> Vec<f64> {
        self.kernel().votes(phrase)
    }

    /// The same, weighed by all that the ways of saying an entry have in common: for a clause as a whole.
    pub(super) fn weighed(&self, phrase: &str) -> Vec<f64> {
        self.kernel().weighed(phrase)
    }

    fn kernel(&self) -> &Kernel {
        self.kernel.get_or_init(|| {
            let alive = self.spoken.iter().enumerate();
            let sayings = alive.flat_map(|(key, spoken)| {
                let forms = spoken.forms.iter();
                forms.map(move |form| (form.text.as_str(), key))
            });
            Kernel::new(sayings, self.spoken.len())
        })
    }

    /// The words that it reads by.
    pub(crate) fn trade(&self) -> &Arc<Trade> {
        &self.trade
    }

    /// Reads a coach's words.
    ///
    /// In order: an id, a name, an alias, each as written; words of left and right about the ball;
    /// a name or an alias but for fillers and endings; then free words. At each step only entries
    /// that apply to the shot count, as long as there is one.
    #[must_use]
    pub fn read(&self, words: &str, circumstances: &Lesson) -> Reading {
        self.read_with_score(words, circumstances).0
    }

    /// The reading, and how near the words come to the best entry, from 0 to 1.
    pub(super) fn read_with_score(&self, words: &str, circumstances: &Lesson) -> (Reading, f64) {
        let mut cutter = Cutter::new(&self.trade);
        let terms = cutter.cut(words);
        if terms.is_empty() {
            return (Reading::Unknown(Vec::new()), 0.0);
        }
        let id = words.trim().to_lowercase();
        if let Some(condition) = self.ids.get(&id) {
            let reading = Reading::Clear {
                condition: *condition,
                by: ReadBy::Id,
                matched: id,
                near: Vec::new(),
            };
            return (reading, 1.0);
        }
        if let Some(reading) =
            self.read_exactly(&mut cutter, &terms, circumstances, circumstances.shot)
        {
            return (reading, 1.0);
        }
        let free = self.read_freely(&mut cutter, terms.clone(), circumstances);
        if circumstances.shot.is_none()
            || (matches!(free.0, Reading::Clear { .. }) && free.1 >= OWN_SHOT)
        {
            return free;
        }
        // Nothing of the shot's own comes near: `also slices` in a lesson about chips is a slice.
        // Nor does it take away from `pulls bunker shots` that a pull is filed under full shots.
        let unplaced: Vec<Term> = terms
            .iter()
            .filter(|term| self.trade.hints(&term.word).is_empty())
            .cloned()
            .collect();
        [terms, unplaced]
            .iter()
            .find_map(|terms| self.read_exactly(&mut cutter, terms, circumstances, None))
            .map_or(free, |reading| (reading, 1.0))
    }

    /// Everything that a query may speak of: the whole of it, and each part between `then`, `and`,
    /// commas and the like. Weightiest first, ties by key.
    ///
    /// Where [`Self::read`] would ask, each possible reading gets its share; that is for searching,
    /// where a wrong reading costs a line in a list, and not for a diagnosis.
    #[must_use]
    pub fn readings(&self, words: &str, circumstances: &Lesson) -> Vec<ReadAs> {
        let mut cutter = Cutter::new(&self.trade);
        let asked = without_asking(&mut cutter, words);
        let mut found: Vec<ReadAs> = Vec::new();
        let (whole, score) = self.read_with_score(&asked, circumstances);
        let sure = matches!(&whole, Reading::Clear { by, .. } if *by != ReadBy::Words);
        add_readings(&mut found, whole, sureness(score));
        if !sure {
            let parts = parts_of(&mut cutter, &asked);
            if parts.len() > 1 {
                for part in parts {
                    let (reading, score) = self.read_with_score(&part, circumstances);
                    add_readings(&mut found, reading, ONE_OF_SEVERAL * sureness(score));
                }
            }
        }
        found.retain(|read| read.weight >= LEAST_READING);
        found.sort_by(|a, b| {
            b.weight
                .total_cmp(&a.weight)
                .then(a.condition.cmp(&b.condition))
        });
        found.truncate(MOST_READINGS);
        found
    }

    /// What a phrase that names several findings names, such as `thin and topped`: each part between
    /// `and`, commas and the like, when there are at least two, at least one clearly means one entry
    /// and none is unknown.
    #[must_use]
    pub fn read_parts(&self, words: &str, circumstances: &Lesson) -> Option<Vec<Reading>> {
        let parts = parts_of(&mut Cutter::new(&self.trade), words);
        if parts.len() < 2 {
            return None;
        }
        let readings: Vec<Reading> = parts
            .iter()
            .map(|part| self.read(part, circumstances))
            .collect();
        let clear = |reading: &Reading| matches!(reading, Reading::Clear { .. });
        let unknown = |reading: &Reading| matches!(reading, Reading::Unknown(_));
        (readings.iter().any(clear) && !readings.iter().any(unknown)).then_some(readings)
    }

    /// Whether the words name a stage of the motion, and it is the entry's.
    fn stage_agrees(&self, terms: &[Term], key: ConditionKey) -> bool {
        stages_said(&self.trade, terms).contains(&self.spoken[key.0].stage)
    }

    /// Names and aliases that a row of words is, but for fillers and endings.
    pub(super) fn read_sayings(
        &self,
        cutter: &mut Cutter,
        words: &[TextId],
        terms: &[Term],
        stages: &[Stage],
        shot: Option<Shot>,
    ) -> Option<Reading> {
        let all = self
            .sayings
            .bare(cutter, words, |saying| self.text_of(saying));
        let mut fitting: Vec<Saying> = Vec::new();
        // A name before an alias of something else.
        for named in [true, false] {
            for saying in &all {
                if (saying.form == 0) == named
                    && self.applies(saying.means, shot)
                    && fitting.iter().all(|other| other.means != saying.means)
                {
                    fitting.push(*saying);
                }
            }
            if !fitting.is_empty() {
                break;
            }
        }
        let agrees = |saying: &Saying| stages.contains(&self.spoken[saying.means.0].stage);
        if fitting.iter().any(agrees) {
            fitting.retain(agrees);
        }
        // Coaches name the shot when it is not a full one.
        let long = |saying: &Saying| !self.shots[saying.means.0].iter().all(|s| is_short(*s));
        if shot.is_none() && hinted_shots(&self.trade, terms).is_empty() && fitting.iter().any(long)
        {
            fitting.retain(long);
        }
        match fitting.as_slice() {
            [] => None,
            [saying] => Some(Reading::Clear {
                condition: saying.means,
                by: if saying.form == 0 {
                    ReadBy::Name
                } else {
                    ReadBy::Alias
                },
                matched: self.text_of(*saying).to_owned(),
                near: Vec::new(),
            }),
            several => {
                let typed: Vec<String> = terms.iter().map(|t| t.word.clone()).collect();
                let each = several.iter().map(|saying| Candidate {
                    condition: saying.means,
                    score: 1.0,
                    nearest: self.text_of(*saying).to_owned(),
                    words: typed.clone(),
                });
                Some(Reading::Several(each.collect()))
            }
        }
    }

    pub(super) fn read_exactly(
        &self,
        cutter: &mut Cutter,
        terms: &[Term],
        circumstances: &Lesson,
        shot: Option<Shot>,
    ) -> Option<Reading> {
        let words: Vec<TextId> = terms.iter().map(|term| cutter.id(&term.word)).collect();
        let written = self
            .sayings
            .as_written(cutter, &words, |saying| self.text_of(saying));
        let bare = self
            .sayings
            .bare(cutter, &words, |saying| self.text_of(saying));
        let steps = [
            (ReadBy::Name, &written),
            (ReadBy::Alias, &written),
            (ReadBy::Name, &bare),
            (ReadBy::Alias, &bare),
        ];
        for (number, (by, found)) in steps.into_iter().enumerate() {
            if number == 1
                && let Some(reading) = self.read_flight(terms, circumstances)
            {
                return Some(reading);
            }
            let mut fitting: Vec<Saying> = Vec::new();
            for saying in found {
                if (saying.form == 0) == (by == ReadBy::Name)
                    && self.applies(saying.means, shot)
                    && fitting.iter().all(|other| other.means != saying.means)
                {
                    fitting.push(*saying);
                }
            }
            let agrees = |saying: &Saying| self.stage_agrees(terms, saying.means);
            if fitting.iter().any(agrees) {
                fitting.retain(agrees);
            }
            match fitting.as_slice() {
                [] => {}
                [saying] => {
                    return Some(Reading::Clear {
                        condition: saying.means,
                        by,
                        matched: self.text_of(*saying).to_owned(),
                        near: Vec::new(),
                    });
                }
                several => {
                    let typed: Vec<String> = terms.iter().map(|t| t.word.clone()).collect();
                    return Some(Reading::Several(
                        several
                            .iter()
                            .map(|saying| Candidate {
                                condition: saying.means,
                                score: 1.0,
                                nearest: self.text_of(*saying).to_owned(),
                                words: typed.clone(),
                            })
                            .collect(),
                    ));
                }
            }
        }
        None
    }

    pub(super) fn read_flight(&self, terms: &[Term], circumstances: &Lesson) -> Option<Reading> {
        let putt = circumstances.shot == Some(Shot::Putt)
            || hinted_shots(&self.trade, terms) == [Shot::Putt];
        let mut found = self
            .flights
            .read(&self.trade, terms, circumstances.handed, putt)?;
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
                near: Vec::new(),
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

    pub(super) fn text_of(&self, saying: Saying) -> &str {
        &self.spoken[saying.of.0].forms[saying.form].text
    }

    pub(super) fn applies(&self, key: ConditionKey, shot: Option<Shot>) -> bool {
        shot.is_none_or(|shot| self.shots[key.0].iter().any(|own| own.applies_to(shot)))
    }

    /// `backfoot` for `back foot`: a word nobody knows that is a known word and a thing of the swing.
    pub(super) fn split_unknown(&self, terms: Vec<Term>, cutter: &mut Cutter) -> Vec<Term> {
        let mut split = Vec::with_capacity(terms.len());
        for term in terms {
            if self.lexicon.key(&term.stem).is_none()
                && let Some(at) = (3..term.word.len().saturating_sub(2)).find(|at| {
                    term.word.is_char_boundary(*at)
                        && self.trade.is(WordUse::SecondHalf, &term.word[*at..])
                        && self.lexicon.is_written(&term.word[..*at])
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
}

/// The stages of the motion that words name, such as `at the top`.
pub(super) fn stages_said(trade: &Trade, terms: &[Term]) -> Vec<Stage> {
    let stages = terms.iter().flat_map(|term| trade.stages(&term.word));
    stages.copied().collect()
}

/// Whether a stage is a part of the full motion, set-up included.
pub(super) fn is_of_the_motion(stage: Stage) -> bool {
    matches!(
        stage,
        Stage::Grip
            | Stage::Setup
            | Stage::Takeaway
            | Stage::Backswing
            | Stage::Top
            | Stage::Transition
            | Stage::Downswing
            | Stage::Impact
            | Stage::FollowThrough
            | Stage::Finish
    )
}

/// Whether a shot is one of the short game.
pub(super) fn is_short(shot: Shot) -> bool {
    matches!(shot, Shot::Pitch | Shot::Chip | Shot::Bunker | Shot::Putt)
}

/// The shots that the clubs and places in the phrase give away.
pub(crate) fn hinted_shots(trade: &Trade, terms: &[Term]) -> Vec<Shot> {
    distinct(terms.iter().flat_map(|term| trade.hints(&term.word)))
}

pub(super) fn distinct<'a>(all: impl Iterator<Item = &'a Shot>) -> Vec<Shot> {
    let mut shots = Vec::new();
    for shot in all {
        if !shots.contains(shot) {
            shots.push(*shot);
        }
    }
    shots
}

/// A query without the words that ask for a drill: of `drills to fix a slice` the slice. What is left
/// of nothing but such words is the query itself.
fn without_asking(cutter: &mut Cutter, words: &str) -> String {
    let trade = Arc::clone(cutter.trade());
    let terms = cutter.cut(words);
    let asks = |term: &Term| trade.is(WordUse::Asking, &term.word);
    let lead = terms
        .iter()
        .take_while(|term| {
            asks(term)
                || matches!(
                    term.word.as_str(),
                    "to" | "for" | "a" | "how" | "stop" | "stopping" | "the" | "my"
                )
        })
        .count();
    let rest: Vec<&Term> = terms[lead..].iter().filter(|term| !asks(term)).collect();
    if rest.is_empty() || rest.len() == terms.len() {
        return words.to_owned();
    }
    let mut text = String::new();
    let mut at = usize::MAX;
    for term in rest {
        // Terms that came of one shorthand share their place in the text.
        if term.from != at {
            if !text.is_empty() {
                text.push(' ');
            }
            text.push_str(&words[term.from..term.to]);
            at = term.from;
        }
    }
    text
}

/// The parts of a query between marks and words that part.
fn parts_of(cutter: &mut Cutter, words: &str) -> Vec<String> {
    let trade = Arc::clone(cutter.trade());
    let mut parts: Vec<String> = Vec::new();
    for piece in words.split([',', ';', '/', '+', '&', '\n', '.', '(', ')']) {
        let mut from = 0;
        for term in cutter.cut(piece) {
            if trade.is(WordUse::Joins, &term.word) && term.from >= from {
                parts.push(piece[from..term.from].trim().to_owned());
                from = term.to;
            }
        }
        parts.push(piece[from..].trim().to_owned());
    }
    parts.retain(|part| !part.is_empty());
    parts
}

/// How much a reading weighs by how near the words come to it: in full when they are the entry's own,
/// and falling off twice as fast as the nearness below.
fn sureness(score: f64) -> f64 {
    (2.0 * score.min(1.0) - 1.0)
        .max(0.0)
        .max(score.min(1.0).powi(3))
}

fn add_readings(found: &mut Vec<ReadAs>, reading: Reading, weight: f64) {
    let candidates: Vec<ReadAs> = match reading {
        Reading::Clear {
            condition, matched, ..
        } => vec![ReadAs {
            condition,
            weight,
            nearest: matched,
        }],
        Reading::Several(list) => {
            // The share falls off steeply with the score: what is a little nearer is meant far
            // more often.
            let worth = |candidate: &Candidate| candidate.score.powi(6);
            let sum: f64 = list.iter().map(worth).sum();
            list.iter()
                .map(|candidate| ReadAs {
                    condition: candidate.condition,
                    weight: weight * (worth(candidate) / sum).sqrt(),
                    nearest: candidate.nearest.clone(),
                })
                .collect()
        }
        Reading::Unknown(_) => Vec::new(),
    };
    for read in candidates {
        match found
            .iter_mut()
            .find(|known| known.condition == read.condition)
        {
            Some(known) if known.weight < read.weight => *known = read,
            Some(_) => {}
            None => found.push(read),
        }
    }
}
