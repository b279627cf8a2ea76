//! Drills by symptom: what the text says joined with what the words mean.

use super::excerpt::excerpt;
use super::filter::{Counts, Facets, Facts, Sieve};
use super::index::{Alternatives, IndexError};
use super::kept::{self, Kept};
use super::query::{
    DrillQuery, DrillQueryError, Found, Guess, Hit, MOST_QUERY_WORDS, MakesLikely, WorksOn,
};
use super::scored::Scored;
use super::texts::{Texts, in_its_place, words_of};
use crate::knowledge::{
    ConditionKey, Drill, DrillKey, KnowledgeBase, Refer, RemedyKind, SHIPPED_LAYER, Status,
};
use crate::words::lexicon::{Meaning, WordKey};
use crate::words::reader::CutCondition;
use crate::words::term::{Cutter, FastMap, FastSet, Term, TextId};
use crate::words::trade::Trade;
use crate::words::{BodyReader, Complaint, Complaints, ReadAs, Reader, alike, any_pain, on_record};
use std::collections::{BTreeMap, HashMap};
use std::path::Path;
use std::sync::Arc;

/// How much the meaning counts beside the text, when the words could be read. Judged with the rest
/// on `tests/search/queries.yaml`.
const MEANING: f64 = 0.7;
/// Of a large library only the best are looked at one by one, filtered and counted.
const LOOKED_AT: usize = 2_000;
const LOOKED_AT_FILTERED: usize = 10_000;
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
/// A drill fits when its score is at least this share of the best; and where nothing but its text or an unsure
/// reading speaks for it, at least this: one word of several in common is no reason to offer a drill.
const FITS: f64 = 0.25;
const FITS_BY_TEXT: f64 = 0.5;

/// From this many drills on an index is worth keeping between two commands; below it, building one
/// costs less than reading it would save.
pub const LARGE_LIBRARY: usize = 3_000;

/// An index over the drills of one library. Build it once.
pub struct DrillIndex {
    pub(super) reader: Arc<Reader>,
    pub(super) texts: Texts,
    /// For each condition the drills that treat it, and how well.
    treating: Vec<Vec<(DrillKey, f64)>>,
    /// For each condition the drills that must not be done with it, and those that can make it worse.
    barred: Vec<Vec<DrillKey>>,
    aggravating: Vec<Vec<DrillKey>>,
    pub(super) facts: Facts,
    /// Everything that some drill needs, by stem, but for what is always at hand.
    things: FastSet<String>,
    /// For each stem the names that have it, by their place.
    in_names: FastMap<WordKey, Vec<u32>>,
    /// For each name how much all its words say.
    whole_names: Vec<f64>,
}

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
        let reader = Arc::new(Reader::with(&mut cutter, base, cut));
        Ok(Self::of(&mut cutter, base, reader, texts))
    }

    /// The same beside what reads words in that library already, which is then not held twice.
    ///
    /// # Errors
    ///
    /// As [`Self::new`].
    pub fn beside(base: &KnowledgeBase, reader: Arc<Reader>) -> Result<Self, IndexError> {
        let mut cutter = Cutter::new(&Arc::new(Trade::new(&base.spoken)));
        let cut = CutCondition::all(&mut cutter, base);
        let texts = Texts::read(&mut cutter, base, &cut, None)?;
        Ok(Self::of(&mut cutter, base, reader, texts))
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
            let reader = Arc::new(Reader::with(&mut cutter, base, cut));
            return Ok((Self::of(&mut cutter, base, reader, texts), Kept::Found));
        }
        let texts = Texts::read(&mut cutter, base, &cut, None)?;
        let written = texts
            .parts()
            .is_some_and(|parts| kept::write(folder, &name, &parts).is_ok());
        let kept = if written { Kept::Written } else { Kept::Not };
        let reader = Arc::new(Reader::with(&mut cutter, base, cut));
        Ok((Self::of(&mut cutter, base, reader, texts), kept))
    }

    fn of(cutter: &mut Cutter, base: &KnowledgeBase, reader: Arc<Reader>, texts: Texts) -> Self {
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
            reader,
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
        let body = BodyReader::new(base);
        let (mut narrowed, filters, guesses) = self.with_filters_said(base, query);
        if filters.is_empty() {
            return self.search_as_is(base, &body, query, likely);
        }
        let nothing_else = narrowed.words.trim().is_empty();
        let hurts = body.read(&query.words).refer().is_some()
            || query
                .filters
                .limits
                .iter()
                .any(|limits| !on_record(base, &self.reader, limits).is_empty());
        let mut found = if nothing_else && !hurts {
            self.whatever_fits(base, &narrowed)
        } else {
            if nothing_else {
                narrowed.words.clone_from(&query.words);
            }
            self.search_as_is(base, &body, &narrowed, likely)?
        };
        found.filters = filters;
        found.guesses.splice(0..0, guesses);
        Ok(found)
    }

    /// What the words say of the body; where none of the words for it is met, by what they are like, if
    /// they are no way of saying that the library knows.
    fn heard_of_body(
        &self,
        body: &BodyReader<'_>,
        query: &DrillQuery,
        read_as: &[ReadAs],
    ) -> Complaints {
        let mut heard = body.read(&query.words);
        if !heard.there.is_empty() || !heard.denied.is_empty() {
            return heard;
        }
        let read = read_as.iter().any(|read| read.weight >= SURE);
        let sure = alike::sure(true, read);
        let likened = body.likened(&query.words, 0..query.words.len(), sure);
        if likened.is_some() {
            let reading = self.reader.read(&query.words, &query.lesson);
            let known = reading.says_most_of(&query.words);
            heard.there.extend(likened.filter(|_| !known));
        }
        heard
    }

    fn search_as_is(
        &self,
        base: &KnowledgeBase,
        body: &BodyReader<'_>,
        query: &DrillQuery,
        likely: &MakesLikely<'_>,
    ) -> Result<Found, DrillQueryError> {
        let mut cutter = Cutter::new(self.reader.trade());
        let terms = self.terms(query, &mut cutter)?;
        let words = words_of(cutter.trade(), &self.texts.lexicon, terms);
        let mut read_as = self.reader.readings(&query.words, &query.lesson);
        let mut complaints = self.heard_of_body(body, query, &read_as);
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
            complaints.extend(on_record(base, &self.reader, limits));
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
        let limits = complaints.closed_to();
        let kept_back = |drills: &[Vec<DrillKey>]| -> FastSet<DrillKey> {
            let there = typed.iter().map(|(condition, _)| condition).chain(&limits);
            let back = there.flat_map(|condition| &drills[condition.0]);
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
        let best_of = |hits: &[(DrillKey, f64, f64, f64)], counts: &mut Counts| {
            let passing = hits.iter().filter(|(key, ..)| sieve.pass(*key, counts));
            let scores = passing.map(|(_, meaning, text, _)| meaning + text);
            scores.fold(0.0, f64::max)
        };
        let best = best_of(&hits, &mut Counts::new(&self.facts));
        let only_word = query.words.split_whitespace().nth(1).is_none();
        hits.retain(|(_, meaning, text, _)| {
            let share = if *meaning > 0.0 && sure >= SURE {
                FITS
            } else {
                FITS_BY_TEXT
            };
            meaning + text >= share * best || (only_word && *text > 0.0)
        });
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
        let reader = Arc::new(Reader::with(&mut cutter, base, cut));
        let index = DrillIndex::of(&mut cutter, base, reader, texts);
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

pub(super) fn works_on(
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

fn clipped(text: &str) -> String {
    let mut short: String = text.chars().filter(|c| !c.is_control()).take(40).collect();
    if short.len() < text.len() {
        short.push('\u{2026}');
    }
    short
}
