//! Words of a query that ask for a place, a student or nothing at hand, and queries of nothing else.

use super::drill_index::DrillIndex;
use super::filter::{Counts, Sieve};
use super::meant::works_on;
use super::query::{DrillQuery, Found, Guess, Hit};
use crate::causal::commonness;
use crate::knowledge::{
    ConditionKey, DrillKey, FactKey, KnowledgeBase, Level, Place, RemedyKind, Status, Suits,
    WordUse,
};
use crate::lesson::AtHand;
use crate::words::term::{Cutter, FastMap, Term};
use crate::words::trade::Trade;
use crate::words::{Complaints, ReadBy, Reading};
use std::collections::HashMap;
use std::ops::Range;

impl DrillIndex {
    /// The drills for somebody who asks for `something at home` and no more: what passes the filters,
    /// first what does most for what is most common.
    pub(super) fn whatever_fits(&self, base: &KnowledgeBase, query: &DrillQuery) -> Found {
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
            fit: total,
            without_filters,
            facets: counts.facets(&self.facts),
            guesses: Vec::new(),
            complaints: Complaints::default(),
            filters: Vec::new(),
            by_filters_alone: true,
        }
    }

    /// The query with words such as `at home` or `seven-year-old` as filters, and what they ask for; no
    /// words where there are no others. Words that a filter was given for already stay as they are. A word
    /// that nothing knows and that is a slip away from a filter, such as `hom`, asks for it, and is a guess.
    pub(super) fn with_filters_said(
        &self,
        base: &KnowledgeBase,
        query: &DrillQuery,
    ) -> (DrillQuery, Vec<String>, Vec<Guess>) {
        let (narrowed, said) = self.filters_as_written(base, query);
        let slips = self.slips(&query.words);
        let mut mended = query.clone();
        for (meant, bytes) in slips.iter().rev() {
            mended.words.replace_range(bytes.clone(), meant);
        }
        let (mended, meant) = self.filters_as_written(base, &mended);
        if meant.len() <= said.len() {
            return (narrowed, said, Vec::new());
        }
        let guess = |(meant, bytes): (String, Range<usize>)| Guess {
            typed: query.words[bytes].to_owned(),
            nearest: vec![meant],
            taken: true,
        };
        (mended, meant, slips.into_iter().map(guess).collect())
    }

    /// Words that nothing in the library says and that are one slip away from a word of a filter, which
    /// comes first; in the order of the query.
    fn slips(&self, words: &str) -> Vec<(String, Range<usize>)> {
        let mut known: Vec<&str> = Place::ALL.iter().map(|place| place.as_str()).collect();
        known.extend(Suits::ALL.iter().map(|suits| suits.as_str()));
        known.extend(Level::ALL.iter().map(|level| level.as_str()));
        known.push("equipment");
        known.extend(self.facts.things());
        let terms = Cutter::new(self.reader.trade()).cut(words);
        let slips = terms.into_iter().filter_map(|term| {
            let letters = term.word.chars().count();
            let at_least = letters >= SHORTEST_SLIP && term.word.chars().all(char::is_alphabetic);
            if !at_least || self.texts.lexicon.meaning(&term).known {
                return None;
            }
            let near = |known: &&&str| strsim::osa_distance(known, &term.word) == 1;
            let mut near: Vec<&str> = known.iter().filter(near).copied().collect();
            near.dedup();
            let [meant] = near[..] else { return None };
            Some((meant.to_owned(), term.from..term.to))
        });
        slips.collect()
    }

    /// The place that the last word of a query names, where the rest says the same without it: of
    /// `slice home` and `slice at the range` the place, of `never comes home` none. `On the course` may be
    /// where it was seen.
    fn place_at_the_end(&self, query: &DrillQuery) -> Option<(Place, Range<usize>)> {
        let words = query.words.trim_end();
        let (rest, last) = words.rsplit_once([' ', ','])?;
        let place = Place::parse(&last.to_lowercase())?;
        let trade = self.reader.trade();
        let terms = Cutter::new(trade).cut(rest);
        let end = terms
            .iter()
            .rposition(|term| !trade.is_filler(&term.word))?;
        if place == Place::Course && end + 1 < terms.len() {
            return None;
        }
        let rest = &rest[..terms[end].to];
        // The rest has to be a way of saying it as it stands.
        let said = self.reader.read(rest, &query.lesson);
        let with_it = self.reader.read(words, &query.lesson);
        let same = match (&said, &with_it) {
            (
                Reading::Clear { condition, by, .. },
                Reading::Clear {
                    condition: other, ..
                },
            ) => condition == other || matches!(by, ReadBy::Id | ReadBy::Name | ReadBy::Alias),
            _ => false,
        };
        let bytes = words.len() - last.len()..words.len();
        (same && said.says_most_of(rest)).then_some((place, bytes))
    }

    fn filters_as_written(
        &self,
        base: &KnowledgeBase,
        query: &DrillQuery,
    ) -> (DrillQuery, Vec<String>) {
        let given = &query.lesson;
        let told = self.reader.facts_told(&query.words).into_iter();
        // Somebody who types `home` and nothing else means the place, which in a note it need not.
        let alone: Vec<(FactKey, Range<usize>)> = clauses(&query.words)
            .filter_map(|bytes| Some((base.find_fact(&query.words[bytes.clone()])?, bytes)))
            .collect();
        let last = self.place_at_the_end(query);
        let last = last.map(|(place, bytes)| (place.as_str(), bytes));
        let told: Vec<(&str, Range<usize>)> = told
            .map(|(told, bytes)| (told.fact, bytes))
            .chain(alone)
            .map(|(fact, bytes)| (base.fact(fact).id.as_str(), bytes))
            .chain(last)
            .filter(|(id, _)| {
                (Place::parse(id).is_some() && given.place.is_none())
                    || (Suits::parse(id).is_some() && given.suits.is_empty())
                    || (Level::parse(id).is_some() && given.level.is_none())
                    || (*id == NOTHING_AT_HAND && given.at_hand.is_none())
                    || id.starts_with("handed-")
            })
            .collect();
        // Of several places the one that stands by itself or was said last counts; what else named one
        // stays a word of the query.
        let place = told.iter().rev().find(|(id, _)| Place::parse(id).is_some());
        let place = place.map(|(id, _)| *id);
        let told: Vec<(&str, Range<usize>)> = told
            .into_iter()
            .filter(|(id, _)| Place::parse(id).is_none() || Some(*id) == place)
            .collect();
        let ids: Vec<&str> = told.iter().map(|(id, _)| *id).collect();
        let mut narrowed = query.clone();
        narrowed.lesson = given.clone().told(&ids);
        narrowed.lesson.place = given.place.or_else(|| place.and_then(Place::parse));
        if ids.contains(&NOTHING_AT_HAND) {
            narrowed.lesson.at_hand = given.at_hand.clone().or(Some(AtHand::default()));
        }
        let mut said: Vec<String> = Vec::new();
        let mut out: Vec<Range<usize>> = Vec::new();
        for (id, bytes) in told {
            out.push(bytes);
            if !said.iter().any(|known| known == id) {
                said.push(id.to_owned());
            }
        }
        if let Some((minutes, bytes)) = minutes_in(&query.words)
            && query.filters.minutes.is_none()
        {
            narrowed.filters.minutes = Some(minutes);
            said.push(format!("{minutes} minutes"));
            out.push(bytes);
        }
        for (thing, bytes) in self.not_at_hand(&query.words) {
            said.push(format!("no {thing}"));
            narrowed.filters.without.push(thing);
            out.push(bytes);
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
}

impl DrillIndex {
    /// Things that drills need and that a query says are not there, such as `no mirror or sticks`: each by
    /// the word that names it, with where it is said.
    fn not_at_hand(&self, words: &str) -> Vec<(String, Range<usize>)> {
        let trade = self.reader.trade();
        let terms = Cutter::new(trade).cut(words);
        let mut found = Vec::new();
        let mut denied_from = None;
        for term in &terms {
            if trade.is(WordUse::Negation, &term.word) {
                denied_from = Some(term.from);
            } else if let Some(from) = denied_from
                && self.facts.things().any(|thing| thing == term.stem)
            {
                found.push((term.stem.clone(), from..term.to));
                denied_from = Some(term.to);
            } else if !trade.is(WordUse::ReachesOn, &term.word)
                && !trade.is(WordUse::Article, &term.word)
            {
                denied_from = None;
            }
        }
        found
    }
}

/// Shorter words are a slip away from too many others.
const SHORTEST_SLIP: usize = 3;

/// The clauses of a query, each without blanks at its ends.
fn clauses(words: &str) -> impl Iterator<Item = Range<usize>> + '_ {
    let parts = words.split([',', ';', '.']);
    parts.map(|part| {
        let from = part.as_ptr() as usize - words.as_ptr() as usize;
        let begin = from + (part.len() - part.trim_start().len());
        begin..begin + part.trim().len()
    })
}

/// How minutes are written behind a number.
const MINUTES: &[&str] = &["min", "mins", "minute", "minutes"];

/// A number of minutes that a query allows, such as `5 minutes`, with where it is said.
fn minutes_in(words: &str) -> Option<(f64, Range<usize>)> {
    let mut from = 0;
    while let Some(digit) = words[from..].find(|c: char| c.is_ascii_digit()) {
        let begin = from + digit;
        let digits = words[begin..].find(|c: char| !c.is_ascii_digit());
        let end = begin + digits.unwrap_or(words.len() - begin);
        let rest = words[end..].trim_start_matches([' ', '-']);
        let word = rest
            .split(|c: char| !c.is_alphabetic())
            .next()
            .unwrap_or_default();
        if MINUTES.contains(&word.to_lowercase().as_str()) {
            let minutes: f64 = words[begin..end].parse().ok()?;
            let to = words.len() - rest.len() + word.len();
            return (minutes > 0.0).then_some((minutes, begin..to));
        }
        from = end;
    }
    None
}

/// The fact that no equipment is at hand.
const NOTHING_AT_HAND: &str = "no-equipment";

/// Whether a word says nothing of what is looked for.
fn cutter_fills(trade: &Trade, term: &Term) -> bool {
    trade.is_filler(&term.word) || trade.is(WordUse::Asking, &term.word)
}
