//! One clause of a note, with the fixed phrases in it.

use super::flight;
use super::note::Finding;
use super::number::{Count, Numeric};
use super::phrases::{Found, number_of};
use super::pieces::{Mark, Piece, pieces};
use super::reader::Reader;
use super::tables::Effect;
use super::term::{Cutter, Term, TextId};
use crate::knowledge::{Denies, FactKey, WordUse};
use crate::lesson::Handed;
use std::ops::Range;

/// A clause has no more terms than this; what is longer is cut.
const LONGEST_CLAUSE: usize = 48;

/// One clause while it is read.
pub(super) struct Clause {
    /// Where it stands in the note, in bytes.
    pub(super) at: Range<usize>,
    pub(super) terms: Vec<Term>,
    pub(super) mark: Mark,
    /// Whether it tells an occasion: `when he goes after it`.
    pub(super) occasion: bool,
    pub(super) effects: Vec<Found<Effect>>,
    pub(super) facts: Vec<Found<FactKey>>,
    pub(super) topics: Vec<Found<usize>>,
    pub(super) findings: Vec<Finding>,
    /// What somebody only believes, as it is when the coach then says that it is not so.
    pub(super) believed: Vec<Finding>,
    /// Numbers that are of quantities, and balls out of so many.
    pub(super) numbers: Vec<Numeric>,
    pub(super) count: Option<(Count, Range<usize>)>,
    pub(super) part: Part,
    /// What of it was not understood, in bytes of the note.
    pub(super) residue: Option<Range<usize>>,
}

/// What a clause is to those beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    /// It says what it says.
    Own,
    /// It consists of denial, doubt or praise alone.
    Bare(Effect),
    /// It says how many balls did so, and nothing else.
    BareCount(Count),
    /// It said so of the clause before, and is one with it.
    OfTheLast,
    /// It says what the next one is about: `chips:`.
    Heading,
}

impl Clause {
    /// Whether the clause is called sound, or a part of it.
    pub(super) fn praises(&self) -> bool {
        let sound = Effect::Denies(Denies::Sound);
        self.effects.iter().any(|effect| effect.what == sound)
    }
}

impl Reader {
    /// The clauses of a note, with the fixed phrases in each. Every word of the note stands in one.
    pub(super) fn clauses(&self, cutter: &mut Cutter, text: &str) -> Vec<Clause> {
        let mut clauses = Vec::new();
        for piece in pieces(text) {
            let mut terms = cutter.cut(&text[piece.from..piece.to]);
            for term in &mut terms {
                term.from += piece.from;
                term.to += piece.from;
            }
            let terms = joined_numbers(split_numbers(terms, cutter));
            let terms = self.split_unknown(terms, cutter);
            self.cut_piece(cutter, piece, &terms, &mut clauses);
        }
        clauses
    }

    /// Cuts a piece at the words that part.
    fn cut_piece(
        &self,
        cutter: &mut Cutter,
        piece: Piece,
        terms: &[Term],
        clauses: &mut Vec<Clause>,
    ) {
        let cuts = if self.is_one_saying(cutter, terms) {
            vec![(0, false)]
        } else {
            self.cuts(terms)
        };
        let mut whole: Vec<(Range<usize>, bool)> = Vec::new();
        for (number, (from, occasion)) in cuts.iter().enumerate() {
            let end = cuts.get(number + 1).map_or(terms.len(), |next| next.0);
            let mut at = *from;
            // What has no term at all, such as one endless word, is a clause too.
            while at < end || whole.is_empty() {
                let to = end.min(at + LONGEST_CLAUSE);
                whole.push((at..to, *occasion));
                at = to.max(at + 1);
            }
        }
        let last = whole.len() - 1;
        for (number, (range, occasion)) in whole.iter().enumerate() {
            let own = terms[range.clone()].to_vec();
            let start = if number == 0 { piece.from } else { own[0].from };
            let end = match whole.get(number + 1) {
                Some((next, _)) => terms[next.start].from,
                None => piece.to,
            };
            let mark = if number == last {
                piece.mark
            } else {
                Mark::Comma
            };
            clauses.push(self.clause_of(start..end.max(start), own, mark, *occasion));
        }
    }

    /// Where a piece is cut, and whether what begins there is an occasion.
    fn cuts(&self, terms: &[Term]) -> Vec<(usize, bool)> {
        let mut cuts: Vec<(usize, bool)> = vec![(0, false)];
        for found in self.tables.parts.all(&self.trade, terms) {
            match cuts.last_mut() {
                Some(last) if last.0 == found.from => last.1 = found.what,
                _ => cuts.push((found.from, found.what)),
            }
        }
        self.cut_behind_praise(terms, &mut cuts);
        self.join_empty(terms, &mut cuts);
        cuts
    }

    /// Whether terms are an alias as it is written. Where a whole piece is, no word in it parts, as in
    /// `straight but short`.
    pub(super) fn is_one_saying(&self, cutter: &mut Cutter, terms: &[Term]) -> bool {
        let words: Vec<TextId> = terms.iter().map(|term| cutter.id(&term.word)).collect();
        let sayings = self
            .sayings
            .as_written(cutter, &words, |saying| self.text_of(saying));
        !sayings.is_empty()
    }

    /// `hips turn plenty though`: a word that parts, with nothing behind it, parts nothing.
    fn join_empty(&self, terms: &[Term], cuts: &mut Vec<(usize, bool)>) {
        let parts = self.tables.parts.all(&self.trade, terms);
        let parting = |at: usize| parts.iter().any(|part| (part.from..part.to).contains(&at));
        let empty = |at: usize| parting(at) || self.trade.is_filler(&terms[at].word);
        let mut end = terms.len();
        for number in (1..cuts.len()).rev() {
            let from = cuts[number].0;
            if (from..end).all(empty) {
                cuts.remove(number);
            } else {
                end = from;
            }
        }
    }

    /// `grip fine stance fine ball back`: a topic with praise behind it is a clause, whatever follows.
    fn cut_behind_praise(&self, terms: &[Term], cuts: &mut Vec<(usize, bool)>) {
        let trade = &self.trade;
        let effects = self.tables.effects.all(trade, terms);
        let topics = self.tables.topics.all(trade, terms);
        let filler = |term: &Term| trade.is_filler(&term.word);
        let sound = Effect::Denies(Denies::Sound);
        for praise in effects.iter().filter(|effect| effect.what == sound) {
            let behind_topic = topics.iter().any(|topic| {
                topic.to <= praise.from && terms[topic.to..praise.from].iter().all(filler)
            });
            let goes_on = terms.get(praise.to).is_some_and(|next| {
                !filler(next)
                    && trade.hints(&next.word).is_empty()
                    && trade.stages(&next.word).is_empty()
            });
            let more = terms.len() > praise.to + 1;
            if behind_topic && goes_on && more && cuts.iter().all(|(at, _)| *at != praise.to) {
                cuts.push((praise.to, false));
            }
        }
        cuts.sort_unstable_by_key(|(at, _)| *at);
    }

    /// What fixed phrases do in a clause. `is his right shoulder` says which, and praises nothing.
    fn effects(&self, terms: &[Term]) -> Vec<Found<Effect>> {
        let mut effects = self.tables.effects.all(&self.trade, terms);
        let part = |at: usize| {
            let next = terms.get(at).map(|term| term.word.as_str());
            next.is_some_and(|word| self.trade.is(WordUse::SidedPart, word))
        };
        effects.retain(|effect| {
            let praise = effect.what == Effect::Denies(Denies::Sound);
            let side = flight::side(&terms[effect.to - 1].word, Handed::Right).is_some();
            !(praise && side && part(effect.to))
        });
        effects
    }

    fn clause_of(&self, at: Range<usize>, terms: Vec<Term>, mark: Mark, occasion: bool) -> Clause {
        let trade = &self.trade;
        Clause {
            at,
            mark,
            occasion,
            effects: self.effects(&terms),
            facts: self.tables.facts.everywhere(trade, &terms),
            topics: self.tables.topics.all(trade, &terms),
            terms,
            findings: Vec::new(),
            believed: Vec::new(),
            numbers: Vec::new(),
            count: None,
            part: Part::Own,
            residue: None,
        }
    }
}

/// `sixty five` is one number.
fn joined_numbers(terms: Vec<Term>) -> Vec<Term> {
    let mut joined: Vec<Term> = Vec::with_capacity(terms.len());
    for term in terms {
        let written = |term: &Term| {
            let digits = term.word.starts_with(|c: char| c.is_ascii_digit());
            number_of(term).filter(|_| !digits)
        };
        if let Some(last) = joined.last_mut()
            && let (Some(tens), Some(unit)) = (written(last), written(&term))
            && tens >= 20.0
            && (1.0..10.0).contains(&unit)
        {
            last.word = format!("{}", tens + unit);
            last.stem.clone_from(&last.word);
            last.to = term.to;
        } else {
            joined.push(term);
        }
    }
    joined
}

/// `62yo` is a number and a word; `7i` is a club and `2nd` an order.
fn split_numbers(terms: Vec<Term>, cutter: &mut Cutter) -> Vec<Term> {
    let mut split = Vec::with_capacity(terms.len());
    for term in terms {
        let digits = term.word.bytes().take_while(u8::is_ascii_digit).count();
        let rest = &term.word[digits..];
        if digits == 0
            || rest.len() < 2
            || !rest.bytes().all(|b| b.is_ascii_alphabetic())
            || matches!(rest, "st" | "nd" | "rd" | "th")
        {
            split.push(term);
            continue;
        }
        for part in [&term.word[..digits], rest] {
            split.push(Term {
                word: part.to_owned(),
                stem: cutter.stem(part),
                ..term
            });
        }
    }
    split
}
