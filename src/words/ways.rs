//! Ways of saying things of the body, made ready to be met in a note: sequences of words and of other
//! ways of saying, tried at each token, so that the time is linear in the note.

use super::term::{FastMap, FastSet};
use super::tokens::{Cut, Stretch, Token, WordId, WordList};
use crate::knowledge::{BodyRole, BodyWords};
use std::ops::Range;

/// This many filler words may stand between two words of a way of saying.
const MOST_FILLERS: usize = 4;
/// A `...` stands for up to this many words.
const GAP: usize = 3;
/// At most this many ends are kept of what starts at one place.
const MOST_ENDS: usize = 4;

/// One of the alternatives at a place in a way of saying.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Atom {
    Word(WordId),
    /// Any way of saying other body words.
    Group(usize),
    /// A number.
    Number,
    /// A number of four digits, as of a year.
    Year,
}

/// A place in a way of saying.
#[derive(Clone, Copy, Debug)]
enum Piece {
    /// One of these, from here to there among all atoms.
    One(usize, usize),
    Gap,
}

/// One way of saying the words of a group.
#[derive(Debug)]
struct Sequence {
    group: usize,
    /// Among all pieces.
    pieces: Range<usize>,
}

/// All ways of saying, over groups: the body words by their places, then what each of them is not said
/// by.
pub(super) struct Ways {
    pub(super) words: WordList,
    atoms: Vec<Atom>,
    pieces: Vec<Piece>,
    sequences: Vec<Sequence>,
    /// Ways by what they start with.
    starts: FastMap<Atom, Vec<usize>>,
    /// Words that may stand between any two.
    fillers: FastSet<WordId>,
    /// Groups in an order in which each comes after those it is made of.
    order: Vec<usize>,
    /// How many groups there are.
    groups: usize,
    /// For each entry the group of its `unless`, if it has any.
    pub(super) unless: Vec<Option<usize>>,
}

/// For each group and each start the ends of what was met.
pub(super) struct Met {
    /// By group, then by start.
    ends: Vec<FastMap<usize, Vec<usize>>>,
}

impl Met {
    /// Whether anything of a group was met.
    pub(super) fn any(&self, group: usize) -> bool {
        !self.ends[group].is_empty()
    }

    fn ends(&self, group: usize, start: usize) -> &[usize] {
        self.ends[group].get(&start).map_or(&[], Vec::as_slice)
    }

    /// Everything of a group that was met, in no order.
    pub(super) fn all(&self, group: usize) -> impl Iterator<Item = Stretch> {
        let of = |(start, ends): (&usize, &Vec<usize>)| {
            let start = *start;
            ends.clone()
                .into_iter()
                .map(move |end| Stretch { start, end })
        };
        self.ends[group].iter().flat_map(of)
    }
}

/// What a way of saying is taken in for.
struct Taking<'b> {
    groups: FastMap<&'b str, usize>,
    /// For each group those that it is made of.
    made_of: Vec<Vec<usize>>,
    group: usize,
    /// Whether slips of the finger are read as its words.
    slips: bool,
    filler: bool,
}

impl Ways {
    /// The ways of saying of these body words.
    pub(super) fn new(entries: &[BodyWords]) -> Self {
        let mut ways = Self {
            words: WordList::default(),
            atoms: Vec::new(),
            pieces: Vec::new(),
            sequences: Vec::new(),
            starts: FastMap::default(),
            fillers: FastSet::default(),
            order: Vec::new(),
            groups: 0,
            unless: Vec::new(),
        };
        let ids = entries.iter().enumerate();
        let mut taking = Taking {
            groups: ids
                .map(|(index, words)| (words.id.as_str(), index))
                .collect(),
            made_of: vec![Vec::new(); entries.len()],
            group: 0,
            slips: false,
            filler: false,
        };
        for (group, words) in entries.iter().enumerate() {
            taking.group = group;
            taking.slips = !matches!(
                words.role,
                Some(
                    BodyRole::Filler
                        | BodyRole::Known
                        | BodyRole::Trade
                        | BodyRole::Carries
                        | BodyRole::Limit
                )
            );
            taking.filler = words.role == Some(BodyRole::Filler);
            for says in &words.say {
                ways.take(says, Vec::new(), &mut taking);
            }
            let unless = (!words.unless.is_empty()).then_some(taking.made_of.len());
            if let Some(group) = unless {
                taking.made_of.push(Vec::new());
                taking.group = group;
                (taking.slips, taking.filler) = (false, false);
                for says in &words.unless {
                    ways.take(says, Vec::new(), &mut taking);
                }
            }
            ways.unless.push(unless);
        }
        ways.put_in_order(&taking.made_of);
        for (index, way) in ways.sequences.iter().enumerate() {
            if let Piece::One(from, to) = ways.pieces[way.pieces.start] {
                for atom in &ways.atoms[from..to] {
                    ways.starts.entry(*atom).or_default().push(index);
                }
            }
        }
        ways
    }

    /// A group comes after all that it is made of.
    fn put_in_order(&mut self, made_of: &[Vec<usize>]) {
        self.groups = made_of.len();
        let mut done = vec![false; made_of.len()];
        while self.order.len() < made_of.len() {
            let before = self.order.len();
            for (group, parts) in made_of.iter().enumerate() {
                if !done[group] && parts.iter().all(|part| done[*part]) {
                    done[group] = true;
                    self.order.push(group);
                }
            }
            if self.order.len() == before {
                // The checker refuses circles; what is in one is never met.
                break;
            }
        }
    }

    /// Takes in one way of saying behind pieces of it that were read already; one for each choice of
    /// `(a|b c)`.
    fn take(&mut self, says: &str, mut so_far: Vec<Piece>, taking: &mut Taking<'_>) {
        let choices = says.split_once('(').and_then(|(before, rest)| {
            let (choices, after) = rest.split_once(')')?;
            Some((before, choices, after))
        });
        if let Some((before, choices, after)) = choices {
            self.read(before, &mut so_far, taking);
            for choice in choices.split('|') {
                let mut chosen = so_far.clone();
                self.read(choice, &mut chosen, taking);
                self.take(after, chosen, taking);
            }
            return;
        }
        self.read(says, &mut so_far, taking);
        if so_far.is_empty() {
            return;
        }
        if let [Piece::One(from, to)] = so_far.as_slice()
            && taking.filler
        {
            let words = self.atoms[*from..*to].iter().filter_map(|atom| match atom {
                Atom::Word(id) => Some(*id),
                _ => None,
            });
            self.fillers.extend(words);
        }
        let start = self.pieces.len();
        self.pieces.append(&mut so_far);
        self.sequences.push(Sequence {
            group: taking.group,
            pieces: start..self.pieces.len(),
        });
    }

    /// Reads what has no choices in brackets.
    fn read(&mut self, says: &str, pieces: &mut Vec<Piece>, taking: &mut Taking<'_>) {
        for part in says.split_whitespace() {
            if part == "..." {
                pieces.push(Piece::Gap);
                continue;
            }
            let from = self.atoms.len();
            for choice in part.split('/') {
                let named = choice.strip_prefix('<').and_then(|c| c.strip_suffix('>'));
                let atom = if let Some(id) = named {
                    let Some(index) = taking.groups.get(id) else {
                        continue;
                    };
                    taking.made_of[taking.group].push(*index);
                    Atom::Group(*index)
                } else if choice == "####" {
                    Atom::Year
                } else if choice == "#" {
                    Atom::Number
                } else if let Some(start) = choice.strip_suffix('*') {
                    Atom::Word(self.words.prefix(start))
                } else {
                    Atom::Word(self.words.word(choice, taking.slips))
                };
                self.atoms.push(atom);
            }
            pieces.push(Piece::One(from, self.atoms.len()));
        }
    }

    /// Everything that the ways of saying meet in the note.
    pub(super) fn meet(&self, tokens: &[Token], filler: &[bool]) -> Met {
        let mut met = Met {
            ends: vec![FastMap::default(); self.groups],
        };
        // What may start somewhere is found by the words that stand there; what starts with other body
        // words, once these have been met.
        let mut by_group: Vec<Vec<(usize, usize)>> = vec![Vec::new(); self.groups];
        for (start, token) in tokens.iter().enumerate() {
            let words = token.ids.iter().map(|id| Atom::Word(*id));
            let number = (token.digits > 0).then_some(Atom::Number);
            let year = (token.digits == 4).then_some(Atom::Year);
            for atom in words.chain(number).chain(year) {
                for way in self.starts.get(&atom).into_iter().flatten() {
                    by_group[self.sequences[*way].group].push((start, *way));
                }
            }
        }
        let mut ends = Vec::new();
        for group in &self.order {
            let mut tries = std::mem::take(&mut by_group[*group]);
            tries.sort_unstable();
            tries.dedup();
            for (start, way) in tries {
                ends.clear();
                let tried = Tried {
                    tokens,
                    filler,
                    met: &met,
                };
                let pieces = &self.pieces[self.sequences[way].pieces.clone()];
                self.go_on(pieces, start, start, tried, &mut ends);
                if ends.is_empty() {
                    continue;
                }
                let known = met.ends[*group].entry(start).or_default();
                for end in &ends {
                    if known.len() < MOST_ENDS && !known.contains(end) {
                        known.push(*end);
                    }
                }
            }
            for way in self.starts.get(&Atom::Group(*group)).into_iter().flatten() {
                let target = self.sequences[*way].group;
                by_group[target].extend(met.ends[*group].keys().map(|start| (*start, *way)));
            }
        }
        met
    }

    /// Which tokens may stand between two words of a way of saying.
    pub(super) fn fillers(&self, tokens: &[Token]) -> Vec<bool> {
        let is = |token: &Token| token.ids.iter().any(|id| self.fillers.contains(id));
        tokens.iter().map(is).collect()
    }

    /// Tries what is left of a way of saying from a token on.
    fn go_on(
        &self,
        pieces: &[Piece],
        start: usize,
        at: usize,
        tried: Tried<'_>,
        ends: &mut Vec<usize>,
    ) {
        let Tried {
            tokens,
            filler,
            met,
        } = tried;
        let Some((piece, rest)) = pieces.split_first() else {
            if !ends.contains(&at) {
                ends.push(at);
            }
            return;
        };
        if ends.len() >= MOST_ENDS {
            return;
        }
        let within = |at: usize| at < tokens.len() && (at == start || tokens[at].cut == Cut::None);
        let Piece::One(from, to) = *piece else {
            for skipped in 0..=GAP {
                if skipped > 0 && !within(at + skipped - 1) {
                    break;
                }
                self.go_on(rest, start, at + skipped, tried, ends);
            }
            return;
        };
        for skipped in 0..=MOST_FILLERS {
            let here = at + skipped;
            if !within(here) || (skipped > 0 && (at == start || !filler[here - 1])) {
                break;
            }
            let token = &tokens[here];
            for atom in &self.atoms[from..to] {
                let fits = match atom {
                    Atom::Word(id) => token.ids.contains(id),
                    Atom::Number => token.digits > 0,
                    Atom::Year => token.digits == 4,
                    Atom::Group(group) => {
                        for end in met.ends(*group, here) {
                            self.go_on(rest, start, *end, tried, ends);
                        }
                        false
                    }
                };
                if fits {
                    self.go_on(rest, start, here + 1, tried, ends);
                }
            }
        }
    }
}

/// What a way of saying is tried in.
#[derive(Clone, Copy)]
struct Tried<'t> {
    tokens: &'t [Token],
    filler: &'t [bool],
    met: &'t Met,
}
