//! Drills by symptom: what the text says joined with what the words mean.

use super::excerpt::{Excerpt, excerpt};
use super::filter::{Counts, DrillFilters, Facets, Facts, Sieve};
use super::index::{Alternatives, IndexError, StemIndex};
use super::kept::{self, Kept, Part};
use crate::causal::commonness;
use crate::knowledge::{
    ConditionKey, Drill, DrillKey, KnowledgeBase, Level, Place, Refer, RemedyKind, SHIPPED_LAYER,
    Status, Suits, WordUse,
};
use crate::lesson::{AtHand, Lesson, LessonTrouble};
use crate::words::lexicon::{Growing, Lexicon, Meaning, WordKey};
use crate::words::reader::CutCondition;
use crate::words::term::{Cutter, FastMap, FastSet, Term, TextId};
use crate::words::trade::Trade;
use crate::words::{BodyReader, Complaint, Complaints, ReadAs, Reader, any_pain};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};
use std::path::Path;
use std::sync::Arc;

/// What somebody looks for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DrillQuery {
    /// What was seen, or words of the drill itself.
    pub words: String,
    /// The lesson that it is for: it settles words that mean different things, and a drill has to fit
    /// its shot, place, student and what is at hand.
    pub lesson: Lesson,
    /// What else the drill must be.
    pub filters: DrillFilters,
    /// At most this many drills are listed.
    pub limit: usize,
}

/// Why a query could not be answered.
#[derive(Debug)]
pub enum DrillQueryError {
    /// There is no word in it.
    NoWords(String),
    /// There are more words in it than a symptom has.
    TooManyWords {
        /// How many there are.
        words: usize,
        /// How many are read.
        most: usize,
    },
    /// It is written in letters that the library does not use.
    OtherScript(String),
    /// The lesson makes no sense.
    Lesson(LessonTrouble),
    /// Minutes that are no time.
    NoTime(f64),
    /// The index failed.
    Index(IndexError),
}

impl From<IndexError> for DrillQueryError {
    fn from(error: IndexError) -> Self {
        Self::Index(error)
    }
}

/// What weighted readings make likely: conditions with a number from 0 to 1.
pub type MakesLikely<'a> = dyn Fn(&[(ConditionKey, f64)]) -> Vec<(ConditionKey, f64)> + 'a;

/// A drill that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Hit {
    /// The drill.
    pub drill: DrillKey,
    /// From 0 to 1.
    pub score: f64,
    /// The share of the score that the meaning gave.
    pub by_meaning: f64,
    /// The share of the score that the text gave.
    pub by_text: f64,
    /// What it was lowered by because the drill can make worse what was typed; 1 for not at all.
    pub held_down: f64,
    /// What it works on that the words mean or make likely, most telling first.
    pub works_on: Vec<WorksOn>,
    /// Where the typed words stand in the drill, the most telling place; `None` when none
    /// does, and from the 51st drill on.
    pub excerpt: Option<Excerpt>,
    /// Typed conditions that the drill can make worse.
    pub aggravates: Vec<ConditionKey>,
    /// Whether the drill is still being tried out.
    pub trial: bool,
}

/// A condition that a drill works on, and why it counts here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WorksOn {
    /// The condition.
    pub condition: ConditionKey,
    /// Whether the words were read as this condition, rather than making it likely.
    pub as_typed: bool,
    /// How likely the words make it, from 0 to 1.
    pub likely: f64,
    /// How well the drill works on it, from 0 to 1.
    pub effect: f64,
}

/// A typed word that nothing in the library says, and what it was taken for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Guess {
    /// The word as typed.
    pub typed: String,
    /// Words that the library knows, nearest first; perhaps none.
    pub nearest: Vec<String>,
    /// Whether they were searched for in its place.
    pub taken: bool,
}

/// The answer to a query.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// What the words were read as, weightiest first.
    pub read_as: Vec<ReadAs>,
    /// The drills, best first, ties by id.
    pub drills: Vec<Hit>,
    /// How many fit, listed or not: all that say the only word, or whose score is at least about a
    /// seventh of the best; of a library of thousands, among the best 2,000, or among the
    /// best 10,000 when there are filters.
    pub total: usize,
    /// How many would fit without the filters.
    pub without_filters: usize,
    /// How the drills that fit fall under each filter.
    pub facets: Facets,
    /// Words that nothing in the library says.
    pub guesses: Vec<Guess>,
    /// What the words say of the body: then there is no drill against it, only a referral, or only
    /// what is gentle.
    pub complaints: Complaints,
    /// Words of the query that were taken as filters, by what they ask for: `home`, `junior`.
    pub filters: Vec<String>,
    /// Whether there were no other words: then a drill's score is how common what it treats is, times
    /// its effect on it.
    pub by_filters_alone: bool,
}

/// More words than this are not a symptom.
pub const MOST_QUERY_WORDS: usize = 100;
/// How much the meaning counts beside the text, when the words could be read. Judged with the rest
/// on `tests/search/queries.yaml`.
const MEANING: f64 = 0.7;
/// Of a large library only the best are looked at one by one, filtered and counted.
const LOOKED_AT: usize = 2_000;
const LOOKED_AT_FILTERED: usize = 10_000;
/// How much the names, what it is for and what it treats, and the rest count.
const BOOSTS: [f32; 3] = [3.0, 1.6, 1.0];
/// At most this many words are asked in the place of one: the rest adds time, not drills.
const IN_ITS_PLACE: usize = 8;
/// A reading that weighs this much is acted on.
const SURE: f64 = 0.5;
/// What is left of the score of a drill that can make worse what was typed.
const HELD_DOWN: f64 = 0.25;
/// What a second and a third thing that a drill works on add to the first.
const ALSO: f64 = 0.6;
/// No more lines are looked for in the drills found: nobody reads further.
const EXCERPTS: usize = 50;
/// What is left of the meaning when the words name something that drills need.
const RECALLED: f64 = 0.5;
/// A name that the words come nearer to than this was meant.
const NAMED: f64 = 0.72;
/// And one as near as this was typed.
const EXACTLY: f64 = 0.8;
/// A drill fits when its score is at least this share of the best; of what shares no more than a word
/// with the query, most stays below.
const FITS: f64 = 0.15;

/// From this many drills on an index is worth keeping between two commands; below it, building one
/// costs less than reading it would save.
pub const LARGE_LIBRARY: usize = 3_000;

/// An index over the drills of one library. Build it once.
pub struct DrillIndex {
    reader: Reader,
    texts: Texts,
    /// For each condition the drills that treat it, and how well.
    treating: Vec<Vec<(DrillKey, f64)>>,
    /// For each condition the drills that must not be done with it, and those that can make it worse.
    barred: Vec<Vec<DrillKey>>,
    aggravating: Vec<Vec<DrillKey>>,
    facts: Facts,
    /// Everything that some drill needs, by stem, but for what is always at hand.
    things: FastSet<String>,
    /// For each stem the names that have it, by their place.
    in_names: FastMap<WordKey, Vec<u32>>,
    /// For each name how much all its words say.
    whole_names: Vec<f64>,
}

/// What is read out of the drills' texts; what can be kept.
struct Texts {
    lexicon: Lexicon,
    index: StemIndex,
    /// Every name and other name of a drill, as known stems.
    names: Vec<(DrillKey, Vec<WordKey>)>,
}

/// [`Texts`] but for the index, as they are kept.
#[derive(Serialize, Deserialize)]
struct Tables {
    words: Vec<String>,
    documents: Vec<u32>,
    names: Vec<(usize, Vec<WordKey>)>,
}

/// The part of a kept index that is [`Tables`]; the others are the engine's files.
const TABLES: &str = "tables";

impl DrillIndex {
    /// An index over the drills that are not retired, in memory.
    ///
    /// # Errors
    ///
    /// When there is no memory for it.
    pub fn new(base: &KnowledgeBase) -> Result<Self, IndexError> {
        let mut cutter = Cutter::new(&Arc::new(Trade::new(&base.spoken)));
        let cut = CutCondition::all(&mut cutter, base);
        let texts = Texts::read(&mut cutter, base, &cut, None)?;
        Ok(Self::of(&mut cutter, base, cut, texts))
    }

    /// The same, kept in a folder between two commands. The folder may be missing, read-only or full:
    /// then the index is built in memory all the same. `base` must have its own content hash.
    ///
    /// # Errors
    ///
    /// When there is no memory for it.
    pub fn kept_in(folder: &Path, base: &KnowledgeBase) -> Result<(Self, Kept), IndexError> {
        let mut cutter = Cutter::new(&Arc::new(Trade::new(&base.spoken)));
        let cut = CutCondition::all(&mut cutter, base);
        let name = kept::name_of(base);
        let found = kept::read(folder, &name);
        if let Some(texts) = found.and_then(|parts| Texts::of_parts(&mut cutter, base, parts)) {
            return Ok((Self::of(&mut cutter, base, cut, texts), Kept::Found));
        }
        let texts = Texts::read(&mut cutter, base, &cut, None)?;
        let written = texts
            .parts()
            .is_some_and(|parts| kept::write(folder, &name, &parts).is_ok());
        let kept = if written { Kept::Written } else { Kept::Not };
        Ok((Self::of(&mut cutter, base, cut, texts), kept))
    }

    fn of(cutter: &mut Cutter, base: &KnowledgeBase, cut: Vec<CutCondition>, texts: Texts) -> Self {
        let mut in_names: FastMap<WordKey, Vec<u32>> = FastMap::default();
        for (place, (_, stems)) in (0..).zip(&texts.names) {
            for stem in stems {
                in_names.entry(*stem).or_default().push(place);
            }
        }
        let whole = |(_, stems): &(DrillKey, Vec<WordKey>)| -> f64 {
            stems.iter().map(|key| texts.lexicon.weight(*key)).sum()
        };
        let whole_names = texts.names.iter().map(whole).collect();
        let conditions = base.conditions.len();
        let mut treating = vec![Vec::new(); conditions];
        let (mut barred, mut aggravating) =
            (vec![Vec::new(); conditions], vec![Vec::new(); conditions]);
        for key in base.drill_keys() {
            let drill = base.drill(key);
            if drill.retired_for.is_none() {
                for treats in &drill.treats {
                    treating[treats.condition.0].push((key, treats.effect.get()));
                }
                for condition in &drill.not_with {
                    barred[condition.0].push(key);
                }
                for condition in &drill.aggravates {
                    aggravating[condition.0].push(key);
                }
            }
        }
        // `wedge` says which shot it is about more often than what is needed.
        let trade = Arc::clone(cutter.trade());
        let clubs = trade.clubs.iter().chain(&trade.places);
        let clubs: FastSet<String> = clubs.map(|word| cutter.stem(word)).collect();
        let facts = Facts::new(cutter, base);
        let things = facts.things().filter(|thing| !clubs.contains(*thing));
        let things = things.map(str::to_owned).collect();
        Self {
            reader: Reader::with(cutter, base, cut),
            texts,
            treating,
            barred,
            aggravating,
            facts,
            things,
            in_names,
            whole_names,
        }
    }

    /// The reader of the same library.
    #[must_use]
    pub fn reader(&self) -> &Reader {
        &self.reader
    }

    /// Finds drills. `likely` says what the readings make likely, each condition with a number from 0
    /// to 1, the readings themselves included; [`behind_shares`] is the plain way, a diagnosis the
    /// better one.
    ///
    /// # Errors
    ///
    /// When there is no word in the query, when there are more than [`MOST_QUERY_WORDS`], or when a
    /// filter names something unknown.
    pub fn search(
        &self,
        base: &KnowledgeBase,
        query: &DrillQuery,
        likely: &MakesLikely<'_>,
    ) -> Result<Found, DrillQueryError> {
        query.lesson.check(base).map_err(DrillQueryError::Lesson)?;
        if let Some(minutes) = query.filters.minutes
            && !(minutes > 0.0 && minutes.is_finite())
        {
            return Err(DrillQueryError::NoTime(minutes));
        }
        let (mut narrowed, filters) = self.with_filters_said(base, query);
        if filters.is_empty() {
            return self.search_as_is(base, query, likely);
        }
        let nothing_else = narrowed.words.trim().is_empty();
        let body = BodyReader::new(base);
        let hurts = body.read(&query.words).refer().is_some()
            || query
                .filters
                .limits
                .iter()
                .any(|limits| body.read(limits).refer().is_some());
        let mut found = if nothing_else && !hurts {
            self.whatever_fits(base, &narrowed)
        } else {
            if nothing_else {
                narrowed.words.clone_from(&query.words);
            }
            self.search_as_is(base, &narrowed, likely)?
        };
        found.filters = filters;
        Ok(found)
    }

    /// The drills for somebody who asks for `something at home` and no more: what passes the filters,
    /// first what does most for what is most common.
    fn whatever_fits(&self, base: &KnowledgeBase, query: &DrillQuery) -> Found {
        let common: HashMap<ConditionKey, f64> = base
            .condition_keys()
            .map(|key| (key, commonness(base, key)))
            .collect();
        let sieve = Sieve::new(&query.lesson, &query.filters, &self.facts);
        let mut counts = Counts::new(&self.facts);
        let mut hits: Vec<Hit> = Vec::new();
        let mut without_filters = 0;
        for (place, drill) in base.drills.iter().enumerate() {
            let key = DrillKey(place);
            if self.facts.is_retired(key) || self.facts.kind(key) == RemedyKind::Referral {
                continue;
            }
            without_filters += 1;
            if !sieve.pass(key, &mut counts) {
                continue;
            }
            let on = works_on(drill, &common, &[]);
            let score = on.first().map_or(0.0, |on| on.likely * on.effect);
            hits.push(Hit {
                drill: key,
                score,
                by_meaning: score,
                by_text: 0.0,
                held_down: 1.0,
                works_on: on,
                excerpt: None,
                aggravates: Vec::new(),
                trial: drill.status == Status::Trial,
            });
        }
        hits.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.drill.cmp(&b.drill)));
        // One for each thing it works on, then the second of each: a list to choose from.
        let mut for_this: FastMap<Option<ConditionKey>, usize> = FastMap::default();
        hits.sort_by_cached_key(|hit| {
            let on = hit.works_on.first().map(|on| on.condition);
            let before = for_this.entry(on).or_default();
            *before += 1;
            *before
        });
        let total = hits.len();
        hits.truncate(query.limit);
        Found {
            read_as: Vec::new(),
            drills: hits,
            total,
            without_filters,
            facets: counts.facets(&self.facts),
            guesses: Vec::new(),
            complaints: Complaints::default(),
            filters: Vec::new(),
            by_filters_alone: true,
        }
    }

    /// The query with words such as `at home` or `seven-year-old` as filters, and what they ask for; no
    /// words where there are no others. Words that a filter was given for already stay as they are.
    fn with_filters_said(
        &self,
        base: &KnowledgeBase,
        query: &DrillQuery,
    ) -> (DrillQuery, Vec<String>) {
        let given = &query.lesson;
        let told = self.reader.facts_told(&query.words).into_iter();
        // Somebody who types `home` and nothing else means the place, which in a note it need not.
        let alone = base.find_fact(query.words.trim());
        let alone = alone.map(|fact| (fact, 0..query.words.len()));
        let told: Vec<(&str, std::ops::Range<usize>)> = told
            .map(|(told, bytes)| (told.fact, bytes))
            .chain(alone)
            .map(|(fact, bytes)| (base.fact(fact).id.as_str(), bytes))
            .filter(|(id, _)| {
                (Place::parse(id).is_some() && given.place.is_none())
                    || (Suits::parse(id).is_some() && given.suits.is_empty())
                    || (Level::parse(id).is_some() && given.level.is_none())
                    || (*id == NOTHING_AT_HAND && given.at_hand.is_none())
                    || id.starts_with("handed-")
            })
            .collect();
        let ids: Vec<&str> = told.iter().map(|(id, _)| *id).collect();
        let mut narrowed = query.clone();
        narrowed.lesson = given.clone().told(&ids);
        let mut places = ids.iter().filter_map(|id| Place::parse(id));
        narrowed.lesson.place = given.place.or_else(|| places.next_back());
        if ids.contains(&NOTHING_AT_HAND) {
            narrowed.lesson.at_hand = given.at_hand.clone().or(Some(AtHand::default()));
        }
        let mut said: Vec<String> = Vec::new();
        let mut out: Vec<std::ops::Range<usize>> = Vec::new();
        for (id, bytes) in told {
            out.push(bytes);
            if !said.iter().any(|known| known == id) {
                said.push(id.to_owned());
            }
        }
        let mut words = query.words.clone();
        for bytes in &out {
            words.replace_range(bytes.clone(), &" ".repeat(bytes.len()));
        }
        let mut cutter = Cutter::new(self.reader.trade());
        let asks = |term: &Term| !cutter_fills(self.reader.trade(), term);
        if said.is_empty() {
            return (query.clone(), said);
        }
        narrowed.words = if cutter.cut(&words).iter().any(asks) {
            words
        } else {
            String::new()
        };
        (narrowed, said)
    }

    fn search_as_is(
        &self,
        base: &KnowledgeBase,
        query: &DrillQuery,
        likely: &MakesLikely<'_>,
    ) -> Result<Found, DrillQueryError> {
        let mut cutter = Cutter::new(self.reader.trade());
        let terms = self.terms(query, &mut cutter)?;
        let words = words_of(cutter.trade(), &self.texts.lexicon, terms);
        let mut read_as = self.reader.readings(&query.words, &query.lesson);
        let mut complaints = BodyReader::new(base).read(&query.words);
        let said_of_body = !(complaints.there.is_empty() && complaints.denied.is_empty());
        // What hurts and what does not is read by the words for it alone. A library may know a pain by
        // words of its own.
        read_as.retain(|read| {
            let condition = base.condition(read.condition);
            let of_body = condition.pain || condition.refer.is_some();
            let own = base.layer_name(&condition.origin) != SHIPPED_LAYER;
            let by_itself = query.words.trim() == condition.id
                || query.words.trim().eq_ignore_ascii_case(&condition.name);
            !of_body || (!said_of_body && (own || by_itself))
        });
        if let Some(limits) = &query.filters.limits {
            complaints.extend(BodyReader::new(base).read(limits));
        }
        for read in &read_as {
            let condition = base.condition(read.condition);
            if read.weight >= SURE && (condition.pain || condition.refer.is_some()) {
                complaints.there.push(Complaint {
                    words: read.nearest.clone(),
                    span: 0..query.words.len(),
                    refer: condition.refer.unwrap_or(Refer::Professional),
                    said: condition.id.clone(),
                    pain: Some(read.condition),
                    caution: None,
                });
            }
        }
        let refer = complaints.refer();
        let stops = refer.is_some_and(|refer| refer != Refer::Ask);
        if refer.is_some() {
            let mut pains = complaints.pains();
            if pains.is_empty() {
                pains.extend(any_pain(base));
            }
            if stops {
                read_as.clear();
            }
            for pain in pains {
                if read_as.iter().all(|read| read.condition != pain) {
                    read_as.push(ReadAs {
                        condition: pain,
                        weight: 1.0,
                        nearest: base.condition(pain).name.clone(),
                    });
                }
            }
        }
        // What is said not to be there needs no drill.
        let denied = self.reader.denied(&query.words, &query.lesson);
        read_as.retain(|read| !denied.contains(&read.condition));
        let typed: Vec<(ConditionKey, f64)> = read_as
            .iter()
            .map(|read| (read.condition, read.weight))
            .collect();
        let likely = if typed.is_empty() {
            Vec::new()
        } else {
            likely(&typed)
        };
        let sieve = Sieve::new(&query.lesson, &query.filters, &self.facts);
        let most = query.limit.max(if sieve.asks() {
            LOOKED_AT_FILTERED
        } else {
            LOOKED_AT
        });
        let text = self.by_text(&words, most.min(base.drills.len().max(1)))?;

        let named = self.by_name(&words);
        let mut scored = self.by_meaning(&likely);
        for (drill, score) in text {
            scored.at(drill).1 = score;
        }
        for (drill, near) in &named {
            let text = &mut scored.at(*drill).1;
            *text = text.max(*near);
        }
        let sure = typed.iter().map(|(_, weight)| *weight).fold(0.0, f64::max);
        // A towel or a stick in the query recalls a drill rather than a fault.
        let recalled = sure < 1.0
            && words
                .iter()
                .any(|(term, _)| self.things.contains(&term.stem));
        let share = MEANING * sure * if recalled { RECALLED } else { 1.0 };
        // What the words may mean is enough to keep a drill back.
        let kept_back = |drills: &[Vec<DrillKey>]| -> FastSet<DrillKey> {
            let back = typed.iter().flat_map(|(condition, _)| &drills[condition.0]);
            back.copied().collect()
        };
        let (barred, aggravating) = (kept_back(&self.barred), kept_back(&self.aggravating));
        let mut found = Found {
            guesses: self.guesses(&words),
            read_as,
            drills: Vec::new(),
            total: 0,
            without_filters: 0,
            facets: Facets::default(),
            complaints,
            filters: Vec::new(),
            by_filters_alone: false,
        };
        let may_be = |key: &DrillKey| {
            !self.facts.is_retired(*key)
                && (refer.is_none()
                    || self.facts.kind(*key) == RemedyKind::Referral
                    || (!stops && base.drill(*key).is_gentle()))
                && !barred.contains(key)
        };
        let of = |(key, (meaning, text)): (DrillKey, (f64, f64))| {
            let exactly = named.get(&key).is_some_and(|near| *near >= EXACTLY);
            let held = if exactly || !aggravating.contains(&key) {
                1.0
            } else {
                HELD_DOWN
            };
            let by_meaning = share * meaning * held;
            let by_text = if exactly {
                // Whoever knows a drill by its name wants that one.
                1.0 - by_meaning
            } else {
                (1.0 - share) * text * held
            };
            (key, by_meaning, by_text, held)
        };
        let scored = scored.best(most, share).into_iter();
        let mut hits: Vec<(DrillKey, f64, f64, f64)> =
            scored.filter(|(key, _)| may_be(key)).map(of).collect();
        // One word of several in common is no reason to offer a drill; the only one is.
        let best_of = |hits: &[(DrillKey, f64, f64, f64)], counts: &mut Counts| {
            let passing = hits.iter().filter(|(key, ..)| sieve.pass(*key, counts));
            let scores = passing.map(|(_, meaning, text, _)| meaning + text);
            scores.fold(0.0, f64::max)
        };
        let floor = FITS * best_of(&hits, &mut Counts::new(&self.facts));
        let only_word = words.len() == 1;
        hits.retain(|(_, meaning, text, _)| meaning + text >= floor || (only_word && *text > 0.0));
        found.without_filters = hits.len();
        let mut counts = Counts::new(&self.facts);
        hits.retain(|(key, ..)| sieve.pass(*key, &mut counts));
        found.total = hits.len();
        found.facets = counts.facets(&self.facts);
        let near = |key: &DrillKey| named.get(key).copied().filter(|near| *near >= EXACTLY);
        let near = |key: &DrillKey| near(key).unwrap_or_default();
        hits.sort_by(|a, b| {
            let by_name = near(&b.0).total_cmp(&near(&a.0));
            let by_score = (b.1 + b.2).total_cmp(&(a.1 + a.2));
            by_name.then(by_score).then(a.0.cmp(&b.0))
        });
        hits.truncate(query.limit);
        let likely: HashMap<ConditionKey, f64> = likely.into_iter().collect();
        let mut telling = self.telling(&words);
        found.drills = hits
            .into_iter()
            .enumerate()
            .map(|(place, (key, by_meaning, by_text, held_down))| {
                let drill = base.drill(key);
                Hit {
                    drill: key,
                    score: by_meaning + by_text,
                    by_meaning,
                    by_text,
                    held_down,
                    works_on: works_on(drill, &likely, &typed),
                    excerpt: (place < EXCERPTS)
                        .then(|| excerpt(drill, &mut cutter, &mut telling))
                        .flatten(),
                    aggravates: typed
                        .iter()
                        .map(|(c, _)| *c)
                        .filter(|c| drill.aggravates.contains(c))
                        .collect(),
                    trial: drill.status == Status::Trial,
                }
            })
            .collect();
        Ok(found)
    }

    fn terms(&self, query: &DrillQuery, cutter: &mut Cutter) -> Result<Vec<Term>, DrillQueryError> {
        let terms = cutter.cut(&query.words);
        if terms.is_empty() {
            return Err(DrillQueryError::NoWords(clipped(&query.words)));
        }
        // As typed: shorthand written out is not the coach's doing.
        let typed = cutter.words_as_written(&query.words).len();
        if typed > MOST_QUERY_WORDS {
            return Err(DrillQueryError::TooManyWords {
                words: typed,
                most: MOST_QUERY_WORDS,
            });
        }
        if terms
            .iter()
            .all(|t| !t.word.is_ascii() && self.texts.lexicon.key(&t.stem).is_none())
        {
            return Err(DrillQueryError::OtherScript(clipped(&query.words)));
        }
        Ok(terms)
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

    /// How much a word in a drill's text answers the typed words, with the key of its stem; `None` for
    /// not at all. Every word is looked up once.
    fn telling(
        &self,
        words: &[(Term, Meaning)],
    ) -> impl FnMut(&Cutter, TextId) -> Option<(WordKey, f64)> {
        let mut worth: FastMap<WordKey, f64> = FastMap::default();
        for (_, meaning) in words {
            for (key, counts) in &meaning.stems {
                let best = worth.entry(*key).or_default();
                *best = best.max(counts * meaning.weight);
            }
        }
        let mut known: Vec<Option<Option<(WordKey, f64)>>> = Vec::new();
        move |cutter, word| {
            if known.len() < cutter.len() {
                known.resize(cutter.len(), None);
            }
            *known[word as usize].get_or_insert_with(|| {
                // Every word of every drill is in the lexicon.
                let key = self.texts.lexicon.key_as_written(cutter.text(word))?;
                let worth = *worth.get(&key)?;
                (worth > 0.0).then_some((key, worth))
            })
        }
    }

    fn guesses(&self, words: &[(Term, Meaning)]) -> Vec<Guess> {
        words
            .iter()
            .filter(|(term, meaning)| {
                !meaning.known && !term.word.bytes().all(|b| b.is_ascii_digit())
            })
            .map(|(term, meaning)| {
                let taken = !meaning.stems.is_empty();
                let nearest = if taken {
                    let keys: Vec<WordKey> =
                        meaning.stems.iter().map(|(key, _)| *key).take(3).collect();
                    self.texts.lexicon.written(&keys)
                } else {
                    self.texts.lexicon.nearest(&term.word, 3)
                };
                Guess {
                    typed: term.word.clone(),
                    nearest,
                    taken,
                }
            })
            .collect()
    }
}

/// The fact that no equipment is at hand.
const NOTHING_AT_HAND: &str = "no-equipment";

/// Whether a word says nothing of what is looked for.
fn cutter_fills(trade: &Trade, term: &Term) -> bool {
    trade.is_filler(&term.word) || trade.is(WordUse::Asking, &term.word)
}

/// Each typed word once, with what it can stand for; fillers only when there is nothing else.
fn words_of(trade: &Trade, lexicon: &Lexicon, terms: Vec<Term>) -> Vec<(Term, Meaning)> {
    let mut words: Vec<(Term, Meaning)> = Vec::new();
    for term in terms {
        if words.iter().all(|(known, _)| known.stem != term.stem) {
            let meaning = lexicon.meaning(&term);
            words.push((term, meaning));
        }
    }
    let asks = |term: &Term| !trade.is_filler(&term.word) && !trade.is(WordUse::Asking, &term.word);
    if words.iter().any(|(term, _)| asks(term)) {
        words.retain(|(term, _)| asks(term));
    }
    words
}

/// The stems that are looked for in the place of a typed word, with how much each counts.
fn in_its_place(meaning: &Meaning) -> impl Iterator<Item = &(WordKey, f64)> {
    meaning.stems.iter().take(IN_ITS_PLACE)
}

/// A query with an index that holds what it asks for and no more: for a program that asks once, and
/// would wait longer for a whole index than for its answer.
pub struct Question {
    index: DrillIndex,
    query: DrillQuery,
}

impl Question {
    /// The question, ready to be answered.
    ///
    /// # Errors
    ///
    /// When there is no memory for it.
    pub fn new(base: &KnowledgeBase, query: DrillQuery) -> Result<Self, IndexError> {
        let mut cutter = Cutter::new(&Arc::new(Trade::new(&base.spoken)));
        let cut = CutCondition::all(&mut cutter, base);
        let texts = Texts::read(&mut cutter, base, &cut, Some(&query.words))?;
        let index = DrillIndex::of(&mut cutter, base, cut, texts);
        Ok(Self { index, query })
    }

    /// What [`DrillIndex::search`] gives for the query over the same library.
    ///
    /// # Errors
    ///
    /// As there.
    pub fn answer(
        &self,
        base: &KnowledgeBase,
        likely: &MakesLikely<'_>,
    ) -> Result<Found, DrillQueryError> {
        self.index.search(base, &self.query, likely)
    }
}

impl Texts {
    /// Reads every drill; with a `question`, the index answers its words and no others.
    fn read(
        cutter: &mut Cutter,
        base: &KnowledgeBase,
        conditions: &[CutCondition],
        question: Option<&str>,
    ) -> Result<Self, IndexError> {
        // Each stem once: how often golfers have a word for a thing says nothing about a drill.
        let mut last_seen: Vec<usize> = Vec::new();
        let spoken: Vec<Vec<TextId>> = conditions
            .iter()
            .enumerate()
            .map(|(number, condition)| {
                let mut distinct = Vec::new();
                for word in condition.said() {
                    let stem = cutter.stem_id(word) as usize;
                    if last_seen.len() <= stem {
                        last_seen.resize(cutter.len(), usize::MAX);
                    }
                    if last_seen[stem] != number {
                        last_seen[stem] = number;
                        distinct.push(word);
                    }
                }
                distinct
            })
            .collect();
        let mut growing = Growing::new();
        let cut: Vec<[Vec<TextId>; 4]> = base
            .drills
            .iter()
            .map(|drill| {
                // With shorthand written out and as it stands, so that every word finds its entry.
                let fields = own_fields(drill).map(|text| cutter.words_both_ways(&text));
                growing.document(cutter, fields.iter().flatten().copied());
                fields
            })
            .collect();
        for words in &spoken {
            growing.more(cutter, words.iter().copied());
        }
        let (lexicon, keys) = growing.finish(cutter);
        let asked = question.map(|words| {
            let mut terms = cutter.cut(words);
            terms.truncate(MOST_QUERY_WORDS);
            let words = words_of(cutter.trade(), &lexicon, terms);
            let stems = words.iter().flat_map(|(_, meaning)| in_its_place(meaning));
            stems
                .map(|(key, _)| cutter.id(lexicon.stem(*key)))
                .collect()
        });
        let asked = asked.as_ref();
        let said: Vec<String> = spoken
            .into_iter()
            .map(|words| cutter.joined_stems(words, asked))
            .collect();
        let index = StemIndex::new(
            BOOSTS,
            base.drills.iter().zip(cut).map(|(drill, fields)| {
                if drill.retired_for.is_some() {
                    return Default::default();
                }
                let [name, aliases, purpose, rest] = fields;
                let mut purpose = cutter.joined_stems(purpose, asked);
                for treats in &drill.treats {
                    purpose.push_str(&said[treats.condition.0]);
                }
                [
                    cutter.joined_stems(name.into_iter().chain(aliases), asked),
                    purpose,
                    cutter.joined_stems(rest, asked),
                ]
            }),
        )?;
        let mut names: Vec<(DrillKey, Vec<WordKey>)> = Vec::new();
        for key in base.drill_keys() {
            let drill = base.drill(key);
            if drill.retired_for.is_some() {
                continue;
            }
            for name in std::iter::once(&drill.name).chain(&drill.aliases) {
                let words = cutter.words(name);
                let stems = words.iter().filter_map(|word| keys.get(cutter, *word));
                let mut stems: Vec<WordKey> = stems.collect();
                stems.sort_unstable();
                stems.dedup();
                names.push((key, stems));
            }
        }
        Ok(Self {
            lexicon,
            index,
            names,
        })
    }

    /// Everything as bytes.
    fn parts(&self) -> Option<Vec<Part>> {
        let tables = Tables {
            words: self.lexicon.words().map(str::to_owned).collect(),
            documents: self.lexicon.documents().to_vec(),
            names: self
                .names
                .iter()
                .map(|(drill, stems)| (drill.0, stems.clone()))
                .collect(),
        };
        let mut parts = vec![(TABLES.to_owned(), serde_json::to_vec(&tables).ok()?)];
        parts.extend(self.index.files().ok()?);
        Some(parts)
    }

    /// What [`Self::parts`] gave for the same drills.
    fn of_parts(cutter: &mut Cutter, base: &KnowledgeBase, parts: Vec<Part>) -> Option<Self> {
        let drills = base.drills.len();
        let (mut tables, files): (Vec<Part>, Vec<Part>) =
            parts.into_iter().partition(|(name, _)| name == TABLES);
        let tables: Tables = serde_json::from_slice(&tables.pop()?.1).ok()?;
        let count = u32::try_from(drills).ok()?;
        let lexicon = Growing::again(cutter, &tables.words, tables.documents, count)?;
        let fits = |(drill, stems): &(usize, Vec<WordKey>)| {
            *drill < drills && stems.iter().all(|key| (*key as usize) < lexicon.len())
        };
        if !tables.names.iter().all(fits) {
            return None;
        }
        Some(Self {
            index: StemIndex::of_files(&BOOSTS, drills, files)?,
            lexicon,
            names: tables
                .names
                .into_iter()
                .map(|(drill, stems)| (DrillKey(drill), stems))
                .collect(),
        })
    }
}

/// Two numbers for each drill that has any, over an array of all: a query touches many drills of a
/// large library, and nothing is as fast as a place in an array.
struct Scored {
    numbers: Vec<(f64, f64)>,
    touched: Vec<DrillKey>,
    seen: Vec<bool>,
}

impl Scored {
    fn new(drills: usize) -> Self {
        Self {
            numbers: vec![(0.0, 0.0); drills],
            touched: Vec::new(),
            seen: vec![false; drills],
        }
    }

    fn at(&mut self, drill: DrillKey) -> &mut (f64, f64) {
        if !self.seen[drill.0] {
            self.seen[drill.0] = true;
            self.touched.push(drill);
        }
        &mut self.numbers[drill.0]
    }

    /// Those with any, the best `most` of them by their weighted sum when there are more.
    fn best(self, most: usize, share: f64) -> Vec<(DrillKey, (f64, f64))> {
        let mut all: Vec<(DrillKey, (f64, f64))> = self.each().collect();
        if all.len() > most {
            let worth = |(meaning, text): (f64, f64)| share * meaning + (1.0 - share) * text;
            all.select_nth_unstable_by(most, |a, b| {
                worth(b.1).total_cmp(&worth(a.1)).then(a.0.cmp(&b.0))
            });
            all.truncate(most);
        }
        all
    }

    fn each_mut(&mut self, mut change: impl FnMut(&mut (f64, f64))) {
        for drill in &self.touched {
            change(&mut self.numbers[drill.0]);
        }
    }

    fn each(self) -> impl Iterator<Item = (DrillKey, (f64, f64))> {
        let Self {
            numbers, touched, ..
        } = self;
        touched
            .into_iter()
            .map(move |drill| (drill, numbers[drill.0]))
    }
}

/// What a synonym counts in the text.
const SAME_COUNTS: f64 = 0.6;

/// However much is behind a finding, it counts this much itself: somebody who types it expects drills
/// that say so.
const LEAST_ITSELF: f64 = 0.15;

/// What was typed, and the shares of what teachers end up working on behind it: a plain stand-in for
/// a diagnosis. What is behind a finding counts by its share and the finding itself by what is left,
/// but never little; added up over everything typed and cut off at 1.
#[must_use]
pub fn behind_shares(
    base: &KnowledgeBase,
    typed: &[(ConditionKey, f64)],
) -> Vec<(ConditionKey, f64)> {
    let mut likely: BTreeMap<ConditionKey, f64> = BTreeMap::new();
    for (condition, weight) in typed {
        let behind: f64 = base
            .condition(*condition)
            .behind
            .iter()
            .map(|b| b.share.get())
            .sum();
        *likely.entry(*condition).or_default() += weight * (1.0 - behind).max(LEAST_ITSELF);
        for behind in &base.condition(*condition).behind {
            *likely.entry(behind.cause).or_default() += weight * behind.share.get();
        }
    }
    likely
        .into_iter()
        .map(|(key, share)| (key, share.min(1.0)))
        .collect()
}

fn works_on(
    drill: &Drill,
    likely: &HashMap<ConditionKey, f64>,
    typed: &[(ConditionKey, f64)],
) -> Vec<WorksOn> {
    let mut on: Vec<WorksOn> = drill
        .treats
        .iter()
        .filter_map(|treats| {
            let likely = *likely.get(&treats.condition)?;
            Some(WorksOn {
                condition: treats.condition,
                as_typed: typed
                    .iter()
                    .any(|(condition, _)| *condition == treats.condition),
                likely,
                effect: treats.effect.get(),
            })
        })
        .collect();
    on.sort_by(|a, b| {
        (b.likely * b.effect)
            .total_cmp(&(a.likely * a.effect))
            .then(a.condition.cmp(&b.condition))
    });
    on
}

/// Name; other names and id; purpose; all the rest a coach may remember it by.
fn own_fields(drill: &Drill) -> [String; 4] {
    let mut rest: Vec<&str> = vec![&drill.setup, &drill.check];
    rest.extend(drill.steps.iter().map(String::as_str));
    rest.extend(drill.feel.iter().map(String::as_str));
    rest.extend(drill.goes_wrong.iter().map(String::as_str));
    rest.extend(drill.equipment.iter().map(String::as_str));
    rest.extend(
        [&drill.easier, &drill.harder, &drill.caution]
            .into_iter()
            .flatten()
            .map(String::as_str),
    );
    [
        drill.name.clone(),
        format!(
            "{}\n{}",
            drill.aliases.join("\n"),
            drill.id.replace('-', " ")
        ),
        drill.purpose.clone(),
        rest.join("\n"),
    ]
}

/// For each drill everything that the index reads of it, as one text.
pub(super) fn plain_texts(base: &KnowledgeBase) -> Vec<String> {
    base.drills
        .iter()
        .map(|drill| {
            let mut text = own_fields(drill).join("\n");
            for condition in drill.treats.iter().map(|t| base.condition(t.condition)) {
                text.push('\n');
                text.push_str(&condition.name);
                text.push('\n');
                text.push_str(&condition.aliases.join("\n"));
            }
            text
        })
        .collect()
}

fn clipped(text: &str) -> String {
    let mut short: String = text.chars().filter(|c| !c.is_control()).take(40).collect();
    if short.len() < text.len() {
        short.push('\u{2026}');
    }
    short
}
