//! Fixed phrases found in a row of terms: denials, hedges, facts, topics.

use super::term::{Cutter, FastMap, Term};
use super::trade::Trade;
use crate::knowledge::WordUse;
use std::sync::Arc;

/// One word of a phrase.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Part {
    Stem(Arc<str>),
    /// The word itself, and its stem.
    Word(Arc<str>, Arc<str>),
    /// `#`: any number.
    Number,
}

/// Phrases by their first stem, each with what it stands for.
pub(crate) struct Phrases<T> {
    by_first: FastMap<Arc<str>, Vec<(Vec<Part>, T)>>,
    numbered: Vec<(Vec<Part>, T)>,
}

/// What says nothing in most phrases.
const PLAIN: [&str; 8] = ["a", "an", "the", "is", "are", "was", "were", "be"];

/// Where a phrase was found.
#[derive(Clone, Debug)]
pub(crate) struct Found<T> {
    /// The first term.
    pub(crate) from: usize,
    /// One past the last term.
    pub(crate) to: usize,
    /// The number that stood for `#`.
    pub(crate) number: Option<f64>,
    pub(crate) what: T,
}

impl<T: Clone> Phrases<T> {
    /// With `loose`, articles in the phrases say nothing either.
    pub(crate) fn new<'a>(
        cutter: &mut Cutter,
        loose: bool,
        phrases: impl IntoIterator<Item = (&'a str, T)>,
    ) -> Self {
        let mut table = Self {
            by_first: FastMap::default(),
            numbered: Vec::new(),
        };
        for (text, what) in phrases {
            let mut parts = parts_of(cutter, text);
            let plain = |part: &Part| matches!(part, Part::Stem(stem) if PLAIN.contains(&&**stem));
            if loose && !parts.iter().all(plain) {
                parts.retain(|part| !plain(part));
            }
            // `lately` alone is not `late`.
            if let [Part::Stem(stem)] = parts.as_slice()
                && !text.contains(' ')
                && let [word] = cutter.words(text)[..]
            {
                parts = vec![Part::Word(Arc::clone(cutter.text(word)), Arc::clone(stem))];
            }
            match parts.first() {
                Some(Part::Stem(stem) | Part::Word(_, stem)) => {
                    let under = table.by_first.entry(Arc::clone(stem)).or_default();
                    under.push((parts, what));
                }
                Some(Part::Number) => table.numbered.push((parts, what)),
                None => {}
            }
        }
        let lists = table.by_first.values_mut();
        for list in lists.chain(std::iter::once(&mut table.numbered)) {
            list.sort_by_key(|(parts, _)| std::cmp::Reverse(parts.len()));
        }
        table
    }

    /// The longest phrase that starts at a term, and where it ends.
    pub(crate) fn at(&self, trade: &Trade, terms: &[Term], from: usize) -> Option<Found<T>> {
        let numbered = number_of(&terms[from]).is_some();
        let lists = [
            self.by_first.get(terms[from].stem.as_str()),
            numbered.then_some(&self.numbered),
        ];
        let all = lists.into_iter().flatten().flatten();
        let mut best: Option<Found<T>> = None;
        for (parts, what) in all {
            if let Some((to, number)) = fits(trade, parts, terms, from)
                && best.as_ref().is_none_or(|best| to > best.to)
            {
                best = Some(Found {
                    from,
                    to,
                    number,
                    what: what.clone(),
                });
            }
        }
        best
    }

    /// Every phrase in a row of terms, the longest at each place, none inside another.
    pub(crate) fn all(&self, trade: &Trade, terms: &[Term]) -> Vec<Found<T>> {
        let mut found = Vec::new();
        let mut at = 0;
        while at < terms.len() {
            if let Some(one) = self.at(trade, terms, at) {
                at = one.to;
                found.push(one);
            } else {
                at += 1;
            }
        }
        found
    }

    /// Every phrase at every place, even inside another.
    pub(crate) fn everywhere(&self, trade: &Trade, terms: &[Term]) -> Vec<Found<T>> {
        (0..terms.len())
            .filter_map(|at| self.at(trade, terms, at))
            .collect()
    }
}

/// The parts of a phrase as the library writes it.
fn parts_of(cutter: &mut Cutter, text: &str) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut add = |text: &str, itself: bool, parts: &mut Vec<Part>| {
        for word in cutter.words(text) {
            let stem = cutter.stem_id(word);
            let stem = Arc::clone(cutter.text(stem));
            parts.push(if itself {
                Part::Word(Arc::clone(cutter.text(word)), stem)
            } else {
                Part::Stem(stem)
            });
        }
    };
    for (number, piece) in text.split('#').enumerate() {
        if number > 0 {
            parts.push(Part::Number);
        }
        if piece.contains('=') {
            // `left =handed` is not `left hand`: the word itself.
            for word in piece.split_whitespace() {
                add(word, word.starts_with('='), &mut parts);
            }
        } else {
            add(piece, false, &mut parts);
        }
    }
    parts
}

/// Where a phrase that starts at a term ends, and its number.
fn fits(
    trade: &Trade,
    parts: &[Part],
    terms: &[Term],
    from: usize,
) -> Option<(usize, Option<f64>)> {
    let mut at = from;
    let mut number = None;
    for (place, part) in parts.iter().enumerate() {
        loop {
            let term = terms.get(at)?;
            let here = match part {
                Part::Stem(stem) => term.stem == **stem,
                Part::Word(word, _) => term.word == **word,
                Part::Number => {
                    let said = number_of(term);
                    number = said.or(number);
                    said.is_some()
                }
            };
            at += 1;
            if here {
                break;
            }
            if place == 0 || !trade.is(WordUse::Article, &term.word) {
                return None;
            }
        }
    }
    Some((at, number))
}

const UNITS: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: [&str; 8] = [
    "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
];

/// The number that a word is, in digits or written out.
pub(crate) fn number_of(term: &Term) -> Option<f64> {
    let word = term.word.as_str();
    if word.starts_with(|c: char| c.is_ascii_digit()) {
        return word.parse().ok();
    }
    if let Some(unit) = (0_u8..).zip(UNITS).find(|(_, unit)| *unit == word) {
        return Some(f64::from(unit.0));
    }
    let ten = (2_u8..).zip(TENS).find(|(_, ten)| *ten == word)?;
    Some(f64::from(ten.0) * 10.0)
}
