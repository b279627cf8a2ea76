//! From what a coach types to an entry of the library.

use super::exact::{Saying, Sayings};
use super::flight::{self, Flights};
use super::kernel::{Kernel, joined};
use super::lexicon::{Growing, Keys, Lexicon, Meaning, WordKey};
use super::tables::Tables;
use super::term::{Cutter, FastMap, Term, TextId};
use super::trade::Trade;
use crate::knowledge::{Condition, ConditionKey, KnowledgeBase, Shot, Stage, Way, WordUse};
use crate::lesson::{Handed, Lesson};
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
/// What is left of a score that rests on one word of several, where all ways of saying the entry together
/// give fewer votes than this.
const BY_ONE_WORD: f64 = 0.7;
const FEW_FOR_ONE_WORD: f64 = 0.5;
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
const UNNEGATED: f64 = 0.88;
/// What is left when an entry, or a way of saying it, is of the short game and the phrase names no
/// shot: coaches name the shot when it is not a full one.
pub(super) const UNSAID_SHOT: f64 = 0.9;
/// How far coverage of the phrase outweighs coverage of the name or alias.
pub(super) const PHRASE_SHARE: f64 = 0.65;
/// What two words count that the library writes as one.
const JOINED: f64 = 0.9;
/// A phrase must say at least this much; fillers alone do not.
const LEAST_SAID: f64 = 0.12;
/// Fillers weigh less than this.
pub(super) const FILLERS_BELOW: f64 = 0.1;
/// And half fillers less than this.
pub(super) const HALF_FILLERS_BELOW: f64 = 0.2;
/// What is left of a score when one word matched and another is known to nobody.
const ONE_WORD_OF_STRANGERS: f64 = 0.75;
/// With nothing else within `FAR_BEHIND` of the best, less of a score will do.
pub(super) const TAKEN_ALONE: f64 = 0.55;
pub(super) const FAR_BEHIND: f64 = 0.85;
/// A report has fewer words than this; the rest is not read.
const MOST_TERMS: usize = 64;

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
const CALLED_BY_ALIAS: f64 = 0.76;
/// What is left of that for each other telling word that the entry does not answer.
const BESIDE_THE_POINT: f64 = 0.965;
/// An alias of one word calls the entry only when the word says this much: `up` and `short` do not.
const CALLING: f64 = 0.5;
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
    hinted: Vec<Shot>,
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
    flights: Flights,
    pub(super) tables: Tables,
    pub(super) ids: FastMap<String, ConditionKey>,
    pub(super) sayings: Sayings,
    pub(super) shots: Vec<Vec<Shot>>,
    pub(super) spoken: Vec<Spoken>,
    pub(super) lexicon: Lexicon,
    /// For each stem the entries that have it in a name, an alias or the look, in order.
    said_by: Vec<Vec<ConditionKey>>,
    pub(super) negations: Vec<WordKey>,
    /// Made when free words are first read.
    kernel: OnceLock<Kernel>,
}

/// A phrase, ready to be compared.
pub(super) struct Phrase {
    pub(super) terms: Vec<Term>,
    pub(super) meanings: Vec<Meaning>,
    /// For each stem the typed words that can stand for it, and how much each counts.
    pub(super) hits: FastMap<WordKey, Vec<(usize, f64)>>,
    pub(super) weight: f64,
    pub(super) hinted: Vec<Shot>,
    pub(super) shot: Option<Shot>,
    pub(super) side: Option<Way>,
    /// Whether it speaks of an idea.
    pub(super) thought: bool,
    /// Stages of the motion that it names.
    pub(super) stages: Vec<Stage>,
    /// Typed words that say `not`.
    pub(super) negations: Vec<usize>,
}

impl Phrase {
    /// Whether the stem itself was typed, not just something that means the same.
    fn says(&self, stem: WordKey) -> bool {
        self.hits
            .get(&stem)
            .is_some_and(|hits| hits.iter().any(|(_, counts)| *counts >= 1.0))
    }

    /// Whether at most one word that the library knows has matched, beside words that it does not
    /// know: a report that merely shares a word with the entry.
    fn mostly_strange(&self, matched: &[usize]) -> bool {
        let known = matched
            .iter()
            .filter(|typed| {
                self.meanings[**typed].known && self.meanings[**typed].weight > HALF_FILLERS_BELOW
            })
            .count();
        let strange = (0..self.terms.len())
            .filter(|typed| {
                let meaning = &self.meanings[*typed];
                !meaning.known && meaning.weight > FILLERS_BELOW && !matched.contains(typed)
            })
            .count();
        let telling = (0..self.terms.len())
            .filter(|typed| self.meanings[*typed].weight > HALF_FILLERS_BELOW)
            .count();
        (strange > 0 && known < 2) || (known == 0 && telling > 1)
    }

    /// What a `not` at this place denies: the next word that says something.
    fn denied_by(&self, negation: usize) -> Option<usize> {
        (negation + 1..self.terms.len())
            .find(|typed| self.meanings[*typed].weight > HALF_FILLERS_BELOW)
    }
}

/// How a phrase compares with one entry.
struct Likeness {
    score: f64,
    form: usize,
    matched: Vec<usize>,
    /// The share of the phrase that the entry answers, by what the words say.
    answered: f64,
    /// Whether a `not` in the phrase has no counterpart in the entry.
    contradicted: bool,
    /// Whether the phrase says the entry's name itself, as one telling word.
    named: bool,
}

impl Reader {
    /// A reader of the conditions of a library. A retired one is read by id and name alone, and as
    /// its successor where it has one.
    #[must_use]
    pub fn new(base: &KnowledgeBase) -> Self {
        let mut cutter = Cutter::new(&Arc::new(Trade::new(&base.spoken)));
        let cut = CutCondition::all(&mut cutter, base);
        Self::with(&mut cutter, base, cut)
    }

    /// The same of conditions that are cut already.
    pub(crate) fn with(cutter: &mut Cutter, base: &KnowledgeBase, cut: Vec<CutCondition>) -> Self {
        let mut growing = Growing::new();
        for condition in &cut {
            let forms = condition.read().iter().flat_map(|(words, _)| words);
            growing.document(cutter, forms.copied());
        }
        for condition in &cut {
            growing.more(cutter, condition.look.iter().copied());
        }
        let (mut lexicon, keys) = growing.finish(cutter);
        let names: Vec<Vec<WordKey>> = cut
            .iter()
            .map(|condition| keys_of(cutter, &keys, &condition.forms[0].0))
            .collect();
        lexicon.stress(names.iter().map(Vec::as_slice));
        let trade = Arc::clone(cutter.trade());
        let negations: Vec<WordKey> = trade
            .list(WordUse::Negation)
            .filter_map(|word| lexicon.key(&cutter.stem(word)))
            .collect();
        let tables = Tables::new(cutter, &trade, base);
        let mut reader = Self {
            trade,
            flights: Flights::new(base),
            tables,
            ids: FastMap::default(),
            sayings: Sayings::default(),
            shots: base.conditions.iter().map(|c| c.shots.clone()).collect(),
            spoken: Vec::with_capacity(cut.len()),
            said_by: vec![Vec::new(); lexicon.len()],
            lexicon,
            negations,
            kernel: OnceLock::new(),
        };
        for (key, parts) in base.condition_keys().zip(cut) {
            let means = base.heir(key);
            reader.ids.insert(base.condition(key).id.clone(), means);
            for (form, (words, _)) in parts.read().iter().enumerate() {
                let saying = Saying {
                    of: key,
                    form,
                    means,
                };
                reader.sayings.add(cutter, words, saying);
            }
            let spoken = reader.spoken_of(cutter, &keys, parts, base.condition(key));
            // Free words are for what is alive; the successor has words of its own.
            let alive = base.condition(key).retired_for.is_none();
            let said = spoken.named.iter().chain(&spoken.look);
            for stem in said.filter(|_| alive) {
                let entries = &mut reader.said_by[*stem as usize];
                if entries.last() != Some(&key) {
                    entries.push(key);
                }
            }
            reader.spoken.push(spoken);
        }
        reader
    }

    fn spoken_of(
        &self,
        cutter: &mut Cutter,
        keys: &Keys,
        mut parts: CutCondition,
        condition: &Condition,
    ) -> Spoken {
        parts.forms.truncate(parts.read);
        let forms: Vec<Form> = parts
            .forms
            .into_iter()
            .map(|(words, text)| {
                let stems = keys_of(cutter, keys, &words);
                Form {
                    text,
                    hinted: distinct(words.iter().flat_map(|word| cutter.hints(*word))),
                    negated: stems.iter().any(|stem| self.negations.contains(stem)),
                    stems,
                }
            })
            .collect();
        let called = self.called(&forms);
        let mut named: Vec<WordKey> = forms.iter().flat_map(|f| f.stems.iter().copied()).collect();
        named.sort_unstable();
        named.dedup();
        let mut look = keys_of(cutter, keys, &parts.look);
        look.sort_unstable();
        Spoken {
            forms,
            called,
            named,
            look,
            side: flight::side_of(&condition.look_for),
            thought: condition.stage == Stage::Concept,
            stage: condition.stage,
        }
    }

    /// The words that are a whole name or alias, fillers aside.
    fn called(&self, forms: &[Form]) -> Vec<(WordKey, f64)> {
        let mut called: Vec<(WordKey, f64)> = Vec::new();
        for (number, form) in forms.iter().enumerate() {
            let mut telling = form
                .stems
                .iter()
                .filter(|stem| self.lexicon.weight(**stem) > HALF_FILLERS_BELOW);
            let least = if number == 0 { 0.0 } else { CALLING };
            // `delayed hit` is not called by `delayed`: an alias has to be the word and nothing else.
            let diluted = number > 0
                && form
                    .stems
                    .iter()
                    .filter(|stem| self.lexicon.weight(**stem) > FILLERS_BELOW)
                    .count()
                    > 1;
            let (Some(stem), None) = (telling.next(), telling.next()) else {
                continue;
            };
            if form.negated
                || diluted
                || self.lexicon.weight(*stem) < least
                || called.iter().any(|(known, _)| known == stem)
            {
                continue;
            }
            let worth = if number == 0 {
                CALLED_BY_NAME
            } else {
                CALLED_BY_ALIAS
            };
            called.push((*stem, worth));
        }
        called
    }

    /// What the phrase scores for saying the one word by which the entry goes; 0 when it does not.
    fn called_score(&self, phrase: &Phrase, spoken: &Spoken, best: &Likeness) -> f64 {
        // Beside words that nobody knows, only the name itself is enough: `the phone battery died` is
        // not about a putt that dies.
        let strange = (0..phrase.terms.len()).any(|typed| {
            !phrase.meanings[typed].known && phrase.meanings[typed].weight > FILLERS_BELOW
        });
        let worth = spoken
            .called
            .iter()
            .filter(|(stem, worth)| phrase.says(*stem) && (!strange || *worth >= CALLED_BY_NAME))
            .map(|(_, worth)| *worth)
            .fold(0.0, f64::max);
        if worth == 0.0 {
            return 0.0;
        }
        let beside = (0..phrase.terms.len())
            .filter(|typed| {
                phrase.meanings[*typed].known
                    && phrase.meanings[*typed].weight > HALF_FILLERS_BELOW
                    && !best.matched.contains(typed)
            })
            .count();
        worth * BESIDE_THE_POINT.powi(i32::try_from(beside).unwrap_or(i32::MAX))
    }

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

    fn read_freely(
        &self,
        cutter: &mut Cutter,
        terms: Vec<Term>,
        circumstances: &Lesson,
    ) -> (Reading, f64) {
        let ranked = self.rank(cutter, terms, circumstances);
        let Some((best, likeness)) = ranked.first() else {
            return (Reading::Unknown(Vec::new()), 0.0);
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
            return (Reading::Unknown(offered(best.score * BESIDE)), best.score);
        }
        // `weak slice` has a slice in it by its name, and no weak grip.
        let named = |likeness: &Likeness| likeness.named;
        let by_name = named(likeness);
        let offered = |least: f64| -> Vec<Candidate> {
            let near = ranked.iter().filter(|(_, other)| !by_name || named(other));
            let near = near.map(|(candidate, _)| candidate);
            let near = near.filter(|candidate| candidate.score >= least);
            near.take(OFFERED).cloned().collect()
        };
        let alone = ranked
            .get(1)
            .is_none_or(|(second, _)| second.score < best.score * CLEARLY_BEHIND);
        let far = ranked
            .get(1)
            .is_none_or(|(second, _)| second.score < best.score * FAR_BEHIND);
        let enough = if far { TAKEN_ALONE } else { TAKEN };
        if best.score >= enough && alone && likeness.answered >= ANSWERED && !likeness.contradicted
        {
            let clear = Reading::Clear {
                condition: best.condition,
                by: ReadBy::Words,
                matched: best.nearest.clone(),
                near: offered(best.score * NEAR),
            };
            return (clear, best.score);
        }
        (Reading::Several(offered(best.score * BESIDE)), best.score)
    }

    /// Entries by likeness with the phrase, best first.
    fn rank(
        &self,
        cutter: &mut Cutter,
        terms: Vec<Term>,
        circumstances: &Lesson,
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
        let best_of = |applies: bool| {
            ranked
                .iter()
                .filter(|(c, _)| self.applies(c.condition, circumstances.shot) == applies)
                .map(|(c, _)| c.score)
                .fold(0.0, f64::max)
        };
        let (own, other) = (best_of(true), best_of(false));
        if own >= POSSIBLE && other < own * OTHER_SHOT_ALL_THE_SAME {
            ranked.retain(|(c, _)| self.applies(c.condition, circumstances.shot));
        }
        let words: Vec<&str> = phrase.terms.iter().map(|term| term.word.as_str()).collect();
        let scored = ranked.iter_mut().map(|(c, _)| (c.condition, &mut c.score));
        let votes = self.votes(&words.join(" "));
        joined(&votes, scored.collect());
        for (candidate, likeness) in &mut ranked {
            if votes[candidate.condition.0] < FEW_FOR_ONE_WORD
                && self.by_one_word(&phrase, likeness, candidate.condition)
            {
                candidate.score *= BY_ONE_WORD;
            }
        }
        ranked.sort_by(|(a, _), (b, _)| {
            b.score
                .total_cmp(&a.score)
                .then(a.condition.cmp(&b.condition))
        });
        ranked
    }

    /// Whether of several telling words one is met, in a way of saying that has others: a committee that
    /// meets in May is not the committee in somebody's head.
    fn by_one_word(&self, phrase: &Phrase, likeness: &Likeness, key: ConditionKey) -> bool {
        let telling = |at: &usize| phrase.meanings[*at].weight > HALF_FILLERS_BELOW;
        let form = &self.spoken[key.0].forms[likeness.form];
        let heavy = |stem: &&WordKey| self.lexicon.weight(**stem) > HALF_FILLERS_BELOW;
        likeness.matched.iter().filter(|at| telling(at)).count() <= 1
            && (0..phrase.terms.len()).filter(|at| telling(at)).count() > 1
            && form.stems.iter().filter(heavy).count() > 1
    }

    fn phrase(
        &self,
        cutter: &mut Cutter,
        terms: Vec<Term>,
        circumstances: &Lesson,
    ) -> Option<Phrase> {
        let mut terms = of_today(&self.trade, terms);
        terms.truncate(MOST_TERMS);
        let hinted = hinted_shots(&self.trade, &terms);
        let stages = stages_said(&self.trade, &terms);
        let terms = without_occasion(&self.trade, terms);
        let terms = self.split_unknown(terms, cutter);
        let phrase = self.clause(cutter, terms, circumstances)?;
        Some(Phrase {
            hinted,
            stages,
            ..phrase
        })
    }

    /// The same of all terms as they stand.
    pub(super) fn clause(
        &self,
        cutter: &mut Cutter,
        mut terms: Vec<Term>,
        circumstances: &Lesson,
    ) -> Option<Phrase> {
        let hinted = hinted_shots(&self.trade, &terms);
        let stages = stages_said(&self.trade, &terms);
        let side = sided(&mut terms, circumstances.handed, cutter);
        let mut meanings: Vec<Meaning> = terms
            .iter()
            .map(|term| self.lexicon.meaning(term))
            .collect();
        for at in 1..terms.len() {
            // `sweet spot` for `sweetspot`: two words that the library writes as one.
            let fillers = terms[at - 1..=at]
                .iter()
                .any(|term| self.trade.is_filler(&term.word));
            if fillers || terms[at - 1..=at].iter().all(|term| term.word.len() < 2) {
                continue;
            }
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
        let mut hits: FastMap<WordKey, Vec<(usize, f64)>> = FastMap::default();
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
        let thought = terms
            .iter()
            .any(|term| self.trade.is(WordUse::Thought, &term.word));
        Some(Phrase {
            thought,
            stages,
            terms,
            meanings,
            hits,
            weight,
            hinted,
            shot: circumstances.shot,
            side,
            negations,
        })
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

    /// The entries worth comparing closely, in order: those that have a telling word of the phrase,
    /// or something that it can stand for.
    pub(super) fn shortlist(&self, phrase: &Phrase) -> Vec<ConditionKey> {
        let mut found: Vec<ConditionKey> = phrase
            .meanings
            .iter()
            .filter(|meaning| meaning.weight > FILLERS_BELOW)
            .flat_map(|meaning| &meaning.stems)
            .flat_map(|(stem, _)| &self.said_by[*stem as usize])
            .copied()
            .collect();
        found.sort_unstable();
        found.dedup();
        found
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
            let contradicted = phrase.negations.iter().any(|typed| {
                here[*typed] == 0.0
                    && phrase
                        .denied_by(*typed)
                        .is_some_and(|denied| here[denied] > 0.0)
            });
            if unanswered || (form.negated && phrase.negations.is_empty()) {
                score *= UNNEGATED;
            }
            if phrase.hinted.is_empty() && form.hinted.iter().any(|shot| is_short(*shot)) {
                score *= UNSAID_SHOT;
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
                    answered: of_phrase,
                    contradicted,
                    named: false,
                });
            }
        }
        let mut best = best?;
        if best.form == 0 {
            best.score *= BY_NAME;
        }
        best.named = spoken.called.iter().any(|(stem, worth)| {
            let hits = phrase.hits.get(stem).into_iter().flatten();
            *worth >= CALLED_BY_NAME && hits.into_iter().any(|(_, counts)| *counts >= 1.0)
        });
        let called = self.called_score(phrase, spoken, &best);
        if called > best.score {
            best.score = called;
            best.answered = best.answered.max(ANSWERED);
        }
        if phrase.stages.contains(&spoken.stage) {
            best.score *= ITS_STAGE;
        } else if !phrase.stages.is_empty() && is_of_the_motion(spoken.stage) {
            best.score *= OTHER_STAGE;
        }
        if !phrase.hinted.is_empty()
            && !phrase
                .hinted
                .iter()
                .any(|shot| self.applies(key, Some(*shot)))
        {
            best.score *= OTHER_SHOT;
        }
        if phrase.hinted.is_empty()
            && phrase.shot.is_none()
            && self.shots[key.0].iter().all(|shot| is_short(*shot))
        {
            best.score *= UNSAID_SHOT;
        }
        if phrase.mostly_strange(&best.matched) {
            best.score *= ONE_WORD_OF_STRANGERS;
        }
        if spoken.thought && !phrase.thought {
            best.score *= UNTHOUGHT;
        }
        if self.name_shut_out(phrase, spoken, best.form) {
            best.score *= CONTRARY;
        }
        if let (Some(typed), Some(own)) = (phrase.side, spoken.side)
            && typed != own
        {
            best.score *= CONTRARY;
        }
        Some(best)
    }

    /// Whether the phrase says the opposite of the entry's name, and the form that it comes nearest to
    /// does not say that too.
    fn name_shut_out(&self, phrase: &Phrase, spoken: &Spoken, nearest: usize) -> bool {
        spoken.forms[0].stems.iter().any(|stem| {
            !phrase.says(*stem)
                && self.lexicon.opposites(*stem).iter().any(|opposite| {
                    !spoken.forms[0].stems.contains(opposite)
                        && !spoken.forms[nearest].stems.contains(opposite)
                        && phrase.says(*opposite)
                })
        })
    }

    /// Whether the phrase says the opposite of a stem of the form, and the form does not say that
    /// opposite too.
    fn shut_out(&self, phrase: &Phrase, form: &Form, stem: WordKey) -> bool {
        self.lexicon
            .opposites(stem)
            .iter()
            .any(|opposite| !form.stems.contains(opposite) && phrase.says(*opposite))
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

/// One condition cut into words.
pub(crate) struct CutCondition {
    /// The name, the aliases, the id; each with its text.
    forms: Vec<(Vec<TextId>, String)>,
    /// How many of them are read: of a retired one the name alone.
    read: usize,
    look: Vec<TextId>,
}

impl CutCondition {
    /// Every condition of a library, by key.
    pub(crate) fn all(cutter: &mut Cutter, base: &KnowledgeBase) -> Vec<Self> {
        let mut said: FastMap<&str, Vec<&String>> = FastMap::default();
        for saying in &base.spoken.sayings {
            said.entry(&saying.id).or_default().extend(&saying.say);
        }
        base.conditions
            .iter()
            .map(|condition| {
                let said = said
                    .get(condition.id.as_str())
                    .map_or(&[][..], Vec::as_slice);
                Self::new(cutter, condition, said)
            })
            .collect()
    }

    fn new(cutter: &mut Cutter, condition: &Condition, said: &[&String]) -> Self {
        let alive = condition.retired_for.is_none();
        let mut forms = Vec::with_capacity(condition.aliases.len() + 2);
        for text in std::iter::once(&condition.name)
            .chain(&condition.aliases)
            .chain(said.iter().copied())
        {
            forms.push((cutter.words(text), text.clone()));
        }
        let id = condition.id.replace('-', " ");
        forms.push((cutter.words(&id), id));
        Self {
            read: if alive { forms.len() } else { 1 },
            forms,
            look: if alive {
                cutter.words(&condition.look_for)
            } else {
                Vec::new()
            },
        }
    }

    /// What is read as this condition.
    fn read(&self) -> &[(Vec<TextId>, String)] {
        &self.forms[..self.read]
    }

    /// The words of its name and its aliases, in order.
    pub(crate) fn said(&self) -> impl Iterator<Item = TextId> {
        let (_, said) = self.forms.split_last().expect("a name and an id at least");
        said.iter().flat_map(|(words, _)| words).copied()
    }
}

/// The keys of words, each once, in the order in which they are met.
fn keys_of(cutter: &mut Cutter, keys: &Keys, words: &[TextId]) -> Vec<WordKey> {
    let mut found: Vec<WordKey> = Vec::with_capacity(words.len());
    for word in words {
        if let Some(key) = keys.get(cutter, *word)
            && !found.contains(&key)
        {
            found.push(key);
        }
    }
    found
}

/// The shots that the clubs and places in the phrase give away.
pub(crate) fn hinted_shots(trade: &Trade, terms: &[Term]) -> Vec<Shot> {
    distinct(terms.iter().flat_map(|term| trade.hints(&term.word)))
}

fn distinct<'a>(all: impl Iterator<Item = &'a Shot>) -> Vec<Shot> {
    let mut shots = Vec::new();
    for shot in all {
        if !shots.contains(shot) {
            shots.push(*shot);
        }
    }
    shots
}

/// What is so now: of `used to slice, now hooks everything` the hook.
fn of_today(trade: &Trade, terms: Vec<Term>) -> Vec<Term> {
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
        Some(at) if past && terms[at + 1..].iter().any(|term| tells(trade, term)) => {
            terms.into_iter().skip(at + 1).collect()
        }
        _ => terms,
    }
}

/// What was seen, without the occasion: of `blocks it when he tries to hit hard` the block.
fn without_occasion(trade: &Trade, mut terms: Vec<Term>) -> Vec<Term> {
    let occasion = (0..terms.len()).find(|at| {
        let next = terms.get(at + 1).map_or("", |term| term.word.as_str());
        matches!(
            (terms[*at].word.as_str(), next),
            ("when" | "whenever" | "if" | "because" | "unless", _) | ("under", "pressure")
        )
    });
    if let Some(at) = occasion
        && terms[..at].iter().any(|term| tells(trade, term))
    {
        terms.truncate(at);
    }
    terms
}

/// Whether a word could be what a report is about.
fn tells(trade: &Trade, term: &Term) -> bool {
    !trade.is_filler(&term.word)
        && !matches!(
            term.word.as_str(),
            "barely" | "only" | "hardly" | "not" | "cannot"
        )
        && term.word.bytes().any(|b| !b.is_ascii_digit())
}

/// Turns left and right into lead and trail beside a part of the body, and into out and in where they
/// are about the ball; gives that side. Without the hand they say nothing.
fn sided(terms: &mut [Term], handed: Option<Handed>, cutter: &mut Cutter) -> Option<Way> {
    let trade = Arc::clone(cutter.trade());
    let mut side = None;
    // Hands on a grip are turned towards a side of the body, not of the target line.
    let held = terms
        .iter()
        .any(|term| matches!(term.stem.as_str(), "grip" | "knuckl" | "thumb"));
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
        let part = trade.is(WordUse::SidedPart, &next)
            || next
                .strip_suffix('s')
                .is_some_and(|one| trade.is(WordUse::SidedPart, one));
        let said = match handed {
            None => "the",
            Some(handed) if part || held => match flight::side(&word, handed) {
                // The trail side is the right for a right-handed golfer, and so is the out side.
                Some(Way::Out) => "trail",
                Some(Way::In) | None => "lead",
            },
            Some(handed) => match flight::side(&word, handed) {
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
