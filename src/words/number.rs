//! Numbers in a clause: a quantity that the library measures with its value, and balls out of so many.
//!
//! A number belongs to the quantity named before it (`path 5 left`), or else to the one behind it
//! (`110 in the trail elbow`), with nothing but words of side, units and small words in between. Words of
//! side stand anywhere beside it and give the sign. A side of left or right without the hand leaves the
//! sign open.

use super::clause::Clause;
use super::flight;
use super::phrases::{Found, Phrases, number_of};
use super::reader::Reader;
use super::term::{Cutter, Term};
use crate::knowledge::{FactKey, KnowledgeBase, NumberText, Way, WordUse};
use crate::lesson::Handed;
use std::collections::BTreeMap;
use std::ops::Range;

/// How many terms away from its quantity a number may stand.
const REACH: usize = 7;

/// A number that a note gives.
#[derive(Clone, Debug, PartialEq)]
pub struct NumberSaid {
    /// The clause that gives it, in bytes of the note.
    pub at: Range<usize>,
    /// The library's quantity.
    pub quantity: String,
    /// The value, in the quantity's unit.
    pub value: f64,
    /// Whether the side is open: it may be minus the value as well.
    pub either: bool,
}

/// Balls that showed something, out of so many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Count {
    /// How many showed it.
    pub shown: u32,
    /// Out of how many.
    pub of: u32,
}

/// What a number turned out to be.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Numeric {
    Quantity {
        number: NumberSaid,
        /// The terms that say it.
        terms: Range<usize>,
    },
    /// A value that cannot be, with the reason.
    Refused { terms: Range<usize>, why: String },
}

/// One quantity and how it is spoken of.
struct Quantity {
    text: NumberText,
    /// Words of side: plus or minus.
    sides: Phrases<f64>,
    with: Phrases<()>,
    when: Vec<FactKey>,
}

/// The quantities of a library, by what they are called.
pub(super) struct Numbers {
    quantities: Vec<Quantity>,
    /// What a quantity is called; each with those that go by it.
    called: Phrases<usize>,
    lists: Vec<Vec<usize>>,
    units: Phrases<()>,
    counts: Phrases<()>,
}

impl Numbers {
    pub(super) fn new(cutter: &mut Cutter, base: &KnowledgeBase) -> Self {
        let measured = |text: &&NumberText| {
            let mut conditions = base.conditions.iter();
            conditions.any(|c| {
                c.measure
                    .as_ref()
                    .is_some_and(|m| m.quantity == text.quantity)
            })
        };
        let texts: Vec<&NumberText> = base.spoken.numbers.iter().filter(measured).collect();
        let mut by_words: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (number, text) in texts.iter().enumerate() {
            for say in &text.say {
                by_words.entry(say).or_default().push(number);
            }
        }
        let words = by_words.keys().enumerate().map(|(at, say)| (*say, at));
        let called = Phrases::new(cutter, true, words);
        let units = texts.iter().flat_map(|text| &text.unit);
        let units = Phrases::new(cutter, false, units.map(|unit| (unit.as_str(), ())));
        let of = base.spoken.word_lists.iter();
        let of = of.filter(|list| list.used_as == WordUse::Count);
        let counts = of.flat_map(|list| list.say.iter().map(|say| (say.as_str(), ())));
        let counts = Phrases::new(cutter, false, counts.collect::<Vec<_>>());
        let quantities = texts.into_iter().map(|text| {
            let plus = text.plus.iter().map(|say| (say.as_str(), 1.0));
            let minus = text.minus.iter().map(|say| (say.as_str(), -1.0));
            let with = text.with.iter().map(|say| (say.as_str(), ()));
            Quantity {
                sides: Phrases::new(cutter, false, plus.chain(minus).collect::<Vec<_>>()),
                with: Phrases::new(cutter, true, with.collect::<Vec<_>>()),
                when: text
                    .when
                    .iter()
                    .filter_map(|id| base.find_fact(id))
                    .collect(),
                text: text.clone(),
            }
        });
        Self {
            quantities: quantities.collect(),
            called,
            lists: by_words.into_values().collect(),
            units,
            counts,
        }
    }
}

/// A number read off terms: its value, whether a sign was written, and where it ends.
#[derive(Clone, Copy)]
struct Digits {
    value: f64,
    signed: bool,
    to: usize,
}

/// What stands beside a quantity.
#[derive(Default)]
struct Beside {
    digits: Option<Digits>,
    sign: Option<f64>,
    open: bool,
    terms: Option<Range<usize>>,
}

impl Reader {
    /// The numbers of a clause; `told` are the facts of the note.
    pub(super) fn numbers_in(
        &self,
        text: &str,
        clause: &Clause,
        told: &[FactKey],
        handed: Option<Handed>,
    ) -> Vec<Numeric> {
        let numbers = &self.tables.numbers;
        let mut found = Vec::new();
        if !clause.terms.iter().any(|term| number_of(term).is_some()) {
            return found;
        }
        let called = numbers.called.all(&self.trade, &clause.terms);
        let mut taken: Vec<Range<usize>> = Vec::new();
        for (place, name) in called.iter().enumerate() {
            let list = &numbers.lists[name.what];
            let Some(quantity) = self.meant(clause, list, told) else {
                continue;
            };
            let next = called
                .get(place + 1)
                .map_or(clause.terms.len(), |next| next.from);
            let before = if place == 0 { 0 } else { called[place - 1].to };
            let around = before..next;
            let beside = self.beside(text, clause, quantity, name, &around, handed, &taken);
            let (Some(digits), Some(terms)) = (beside.digits, beside.terms.clone()) else {
                continue;
            };
            taken.push(terms.clone());
            found.push(numeric(quantity, digits, &beside, terms, clause));
        }
        found
    }

    /// Which of the quantities that go by the same words: the one whose other words stand in the clause,
    /// the one for the club that was told, or else the one that asks for nothing.
    fn meant(&self, clause: &Clause, list: &[usize], told: &[FactKey]) -> Option<&Quantity> {
        let here: Vec<FactKey> = clause.facts.iter().map(|fact| fact.what).collect();
        let score = |quantity: &Quantity| {
            let with = quantity.with.all(&self.trade, &clause.terms);
            let fits = |facts: &[FactKey]| quantity.when.iter().any(|fact| facts.contains(fact));
            let with = match (quantity.text.with.is_empty(), with.is_empty()) {
                (true, _) => Some(0),
                (false, true) => None,
                (false, false) => Some(4),
            }?;
            match (quantity.when.is_empty(), fits(&here), fits(told)) {
                (true, ..) => Some(with),
                (_, true, _) => Some(with + 2),
                (_, _, true) => Some(with + 1),
                _ => None,
            }
        };
        let all = list
            .iter()
            .map(|number| &self.tables.numbers.quantities[*number]);
        let scored = all.filter_map(|quantity| Some((score(quantity)?, quantity)));
        scored
            .fold(None, |best: Option<(i32, &Quantity)>, one| match best {
                Some(best) if best.0 >= one.0 => Some(best),
                _ => Some(one),
            })
            .map(|(_, quantity)| quantity)
    }

    /// The number and the side that stand beside a quantity, behind it first.
    #[allow(clippy::too_many_arguments, reason = "one caller; where to look")]
    fn beside(
        &self,
        text: &str,
        clause: &Clause,
        quantity: &Quantity,
        name: &Found<usize>,
        around: &Range<usize>,
        handed: Option<Handed>,
        taken: &[Range<usize>],
    ) -> Beside {
        let mut beside = Beside::default();
        let reach = around.end.min(name.to + REACH);
        let to = self.walk(text, clause, quantity, name.to..reach, handed, &mut beside);
        let free = |at: usize| !taken.iter().any(|range| range.contains(&at));
        let mut from = name.from;
        // What stands before it: the side, and the number where none stands behind.
        let least = around.start.max(name.from.saturating_sub(REACH));
        for start in (least..name.from).filter(|start| free(*start)) {
            let mut ahead = Beside::default();
            let end = self.walk(text, clause, quantity, start..name.from, handed, &mut ahead);
            let useful = ahead.sign.is_some() || ahead.open || ahead.digits.is_some();
            if end == name.from && useful && (beside.digits.is_none() || ahead.digits.is_none()) {
                beside.digits = beside.digits.or(ahead.digits);
                beside.sign = beside.sign.or(ahead.sign);
                beside.open |= ahead.open && beside.sign.is_none();
                from = start;
                break;
            }
        }
        beside.terms = Some(from..to.max(name.to));
        beside
    }

    /// Walks over numbers, units, words of side and small words, and takes in what they say; gives where
    /// something else stands.
    fn walk(
        &self,
        text: &str,
        clause: &Clause,
        quantity: &Quantity,
        range: Range<usize>,
        handed: Option<Handed>,
        beside: &mut Beside,
    ) -> usize {
        let terms = &clause.terms[..range.end];
        let numbers = &self.tables.numbers;
        let mut at = range.start;
        let mut useful = at;
        while at < range.end {
            let word = &terms[at].word;
            if let Some(digits) = self.digits(text, terms, at) {
                if beside.digits.is_some() {
                    break;
                }
                // A number in another unit is another quantity.
                let unit = terms
                    .get(digits.to)
                    .and_then(|_| numbers.units.at(&self.trade, terms, digits.to));
                let own = |unit: &Found<()>| {
                    let said = terms[unit.from..unit.to]
                        .iter()
                        .map(|term| term.word.as_str());
                    let said = said.collect::<Vec<_>>().join(" ");
                    quantity.text.unit.contains(&said)
                };
                if unit.as_ref().is_some_and(|unit| !own(unit)) {
                    break;
                }
                beside.digits = Some(digits);
                at = unit.map_or(digits.to, |unit| unit.to);
                useful = at;
            } else if let Some(side) = quantity.sides.at(&self.trade, terms, at) {
                beside.sign = Some(side.what);
                at = side.to;
                useful = at;
            } else if quantity.text.sided && flight::side(word, Handed::Right).is_some() {
                match handed.and_then(|handed| flight::side(word, handed)) {
                    Some(Way::Out) => beside.sign = Some(1.0),
                    Some(Way::In) => beside.sign = Some(-1.0),
                    None => beside.open = true,
                }
                at += 1;
                useful = at;
            } else if self.trade.is_filler(word) || self.trade.is(WordUse::NumberBeside, word) {
                at += 1;
            } else {
                break;
            }
        }
        if range.end == at { at } else { useful }
    }

    /// A number in digits or in words, that is no club, no count and no order.
    fn digits(&self, text: &str, terms: &[Term], at: usize) -> Option<Digits> {
        let plain = number_of(&terms[at])?;
        let (from, mut end) = (terms[at].from, terms[at].to);
        let written = terms[at].word.bytes().all(|b| b.is_ascii_digit());
        let mut value = plain;
        if written {
            let rest = &text[end..];
            let decimals = rest.strip_prefix('.').map_or(0, |rest| {
                rest.bytes().take_while(u8::is_ascii_digit).count()
            });
            if decimals > 0 {
                end += 1 + decimals;
                value = text[from..end].parse().ok()?;
            }
        }
        let to = (at..terms.len())
            .find(|next| terms[*next].from >= end)
            .unwrap_or(terms.len());
        let next = terms.get(to);
        let club = next
            .is_some_and(|next| !self.trade.hints(&next.word).is_empty() && next.from <= end + 1);
        if club || self.count_at(text, terms, at).is_some() {
            return None;
        }
        let before = text[..from].chars().next_back();
        let sign = match before {
            Some('-' | '\u{2212}') if written && stands_free(text, from) => -1.0,
            Some('+') => 1.0,
            _ => {
                let word = at.checked_sub(1).map(|at| terms[at].word.as_str());
                let minus = word.is_some_and(|word| self.trade.is(WordUse::Minus, word));
                let plus = word.is_some_and(|word| self.trade.is(WordUse::Plus, word));
                return Some(Digits {
                    value: if minus { -value } else { value },
                    signed: minus || plus,
                    to,
                });
            }
        };
        Some(Digits {
            value: sign * value,
            signed: true,
            to,
        })
    }

    /// `8 of 10`, `12/20`, `one in three` at a term, and where it ends.
    pub(super) fn count_at(&self, text: &str, terms: &[Term], at: usize) -> Option<(Count, usize)> {
        let number = |at: usize| {
            let number = number_of(terms.get(at)?)?;
            let whole = (0.0..=1000.0).contains(&number) && number.fract() == 0.0;
            #[allow(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "small and whole"
            )]
            whole.then_some(number as u32)
        };
        let shown = number(at)?;
        let slash = terms
            .get(at + 1)
            .is_some_and(|next| text.get(terms[at].to..next.from) == Some("/"));
        let words = terms.get(at + 1).and_then(|_| {
            // `nine times out of ten`.
            (at + 1..=(at + 2).min(terms.len() - 1))
                .find_map(|from| self.tables.numbers.counts.at(&self.trade, terms, from))
        });
        let next = match (slash, words) {
            (true, _) => at + 1,
            (false, Some(words)) => words.to,
            (false, None) => return None,
        };
        let of = number(next)?;
        (of >= 2).then_some((Count { shown, of }, next + 1))
    }

    /// The one count of a clause, with the terms that give it.
    pub(super) fn count_in(&self, text: &str, terms: &[Term]) -> Option<(Count, Range<usize>)> {
        (0..terms.len()).find_map(|at| {
            let (count, to) = self.count_at(text, terms, at)?;
            Some((count, at..to))
        })
    }
}

/// Whether a mark before a number stands by itself, as a minus and not as a dash in `7-8`.
fn stands_free(text: &str, from: usize) -> bool {
    let mut before = text[..from].chars().rev().skip(1);
    before.next().is_none_or(|c| !c.is_alphanumeric())
}

fn numeric(
    quantity: &Quantity,
    digits: Digits,
    beside: &Beside,
    terms: Range<usize>,
    clause: &Clause,
) -> Numeric {
    let text = &quantity.text;
    let [low, high] = text.possible;
    let value = beside
        .sign
        .map_or(digits.value, |sign| sign * digits.value.abs());
    let unsigned = !digits.signed && beside.sign.is_none();
    let either = unsigned && (beside.open || text.sided) && value != 0.0;
    let can_be = |value: f64| (low..=high).contains(&value);
    if !(can_be(value) || either && can_be(-value)) {
        let unit = text.unit.first().map_or("", String::as_str);
        let why = format!("{} lies between {low} and {high} {unit}", text.quantity);
        return Numeric::Refused {
            terms,
            why: why.trim_end().to_owned(),
        };
    }
    let number = NumberSaid {
        at: clause.at.clone(),
        quantity: text.quantity.clone(),
        value,
        either,
    };
    Numeric::Quantity { number, terms }
}
