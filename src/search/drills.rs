//! Drills by symptom: what the text says joined with what the words mean.

use super::drill_index::DrillIndex;
use super::excerpt::excerpt;
use super::filter::{Counts, Sieve};
use super::index::IndexError;
use super::meant::{Meant, works_on};
use super::query::{DrillQuery, DrillQueryError, Found, Hit, MakesLikely};
use super::ranking::{self, RankedDrill};
use super::texts::{Texts, words_of};
use crate::knowledge::{ConditionKey, KnowledgeBase, Status};
use crate::words::lexicon::Meaning;
use crate::words::ready::CutCondition;
use crate::words::term::{Cutter, Term};
use crate::words::trade::Trade;
use crate::words::{BodyReader, Reader, on_record};
use std::collections::HashMap;
use std::sync::Arc;

/// Of a large library only the best are looked at one by one, filtered and counted.
const LOOKED_AT: usize = 2_000;
const LOOKED_AT_FILTERED: usize = 10_000;
/// No more lines are looked for in the drills found: nobody reads further.
const EXCERPTS: usize = 50;

impl DrillIndex {
    /// Finds drills. `likely` says what the readings make likely, each condition with a number from 0
    /// to 1, the readings themselves included; [`behind_shares`](super::behind_shares) is the plain way, a diagnosis the
    /// better one.
    ///
    /// # Errors
    ///
    /// When there is no word in the query, when there are more than [`MOST_QUERY_WORDS`](super::MOST_QUERY_WORDS), or when a
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

    /// What every word of the query finds; none of them is a filter.
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
        let meant = self.meant(base, body, query, likely);
        let sieve = Sieve::new(&query.lesson, &query.filters, &self.facts);
        let mut ranked = self.ranked(base, &words, &meant, looked_at(query, &sieve))?;
        let only_word = query.words.split_whitespace().nth(1).is_none();
        let best = ranking::best_passing(&ranked, &sieve, &mut Counts::new(&self.facts));
        ranked.retain(|one| one.fits(best, meant.sure(), only_word));
        let without_filters = ranked.len();
        let mut counts = Counts::new(&self.facts);
        ranked.retain(|one| sieve.pass(one.drill, &mut counts));
        let total = ranked.len();
        let fits = |one: &&RankedDrill| one.fits(best, meant.sure(), false);
        let fit = ranked.iter().filter(fits).count();
        ranked.sort_by(RankedDrill::before);
        ranked.truncate(query.limit);
        Ok(Found {
            guesses: self.guesses(&words),
            drills: self.hits(base, &ranked, &meant, &words, &mut cutter),
            read_as: meant.read_as,
            total,
            fit,
            without_filters,
            facets: counts.facets(&self.facts),
            complaints: meant.complaints,
            filters: Vec::new(),
            by_filters_alone: false,
        })
    }

    /// The drills with what they work on and where they say what was typed.
    fn hits(
        &self,
        base: &KnowledgeBase,
        ranked: &[RankedDrill],
        meant: &Meant,
        words: &[(Term, Meaning)],
        cutter: &mut Cutter,
    ) -> Vec<Hit> {
        let likely: HashMap<ConditionKey, f64> = meant.likely.iter().copied().collect();
        let mut telling = self.telling(words);
        let hit = |(place, one): (usize, &RankedDrill)| {
            let drill = base.drill(one.drill);
            let typed = meant.typed.iter().map(|(condition, _)| *condition);
            Hit {
                drill: one.drill,
                score: one.score(),
                by_meaning: one.by_meaning,
                by_text: one.by_text,
                held_down: one.held_down,
                works_on: works_on(drill, &likely, &meant.typed),
                excerpt: (place < EXCERPTS)
                    .then(|| excerpt(drill, cutter, &mut telling))
                    .flatten(),
                aggravates: typed.filter(|c| drill.aggravates.contains(c)).collect(),
                trial: drill.status == Status::Trial,
            }
        };
        ranked.iter().enumerate().map(hit).collect()
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

/// How many drills are looked at one by one.
fn looked_at(query: &DrillQuery, sieve: &Sieve<'_>) -> usize {
    query.limit.max(if sieve.asks() {
        LOOKED_AT_FILTERED
    } else {
        LOOKED_AT
    })
}
