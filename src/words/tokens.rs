//! A note cut into tokens, each with the words of the body lists that it may be.

use super::term::{FastMap, FastSet};
use crate::knowledge::KnowledgeBase;
use std::borrow::Cow;
use std::cell::OnceCell;
use std::collections::BTreeSet;
use std::ops::Range;

/// Words of at least this many letters are read in spite of a slip of the finger.
const LEAST_SLIP: usize = 5;
/// From this many letters on two slips are read.
const TWO_SLIPS: usize = 9;
/// More different words than this are not looked at for slips: such a note is no report.
const MOST_SLIPS: usize = 2_000;

/// A word of the lists, or the beginning of one.
pub(super) type WordId = u32;

/// How a token is parted from the one before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Cut {
    None,
    Comma,
    Stop,
}

#[derive(Clone, Debug)]
pub(super) struct Token {
    pub(super) span: Range<usize>,
    pub(super) ids: Vec<WordId>,
    pub(super) digits: usize,
    pub(super) cut: Cut,
}

/// A stretch of tokens.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Stretch {
    pub(super) start: usize,
    pub(super) end: usize,
}

impl Stretch {
    pub(super) fn overlaps(self, other: Self) -> bool {
        self.start < other.end && other.start < self.end
    }

    pub(super) fn holds(self, other: Self) -> bool {
        self.start <= other.start && other.end <= self.end
    }
}

/// A word of the lists.
struct Known {
    id: WordId,
    /// Whether a slip may have been meant for it.
    slips: bool,
}

/// The words of the lists by their letters.
#[derive(Default)]
pub(super) struct WordList {
    words: FastMap<String, Known>,
    /// `sprain*` under its letters.
    prefixes: FastMap<String, WordId>,
    prefix_lengths: BTreeSet<usize>,
    /// Words that a slip may have been meant for, by first letter.
    slips: FastMap<char, Vec<(String, WordId)>>,
    vocabulary: OnceCell<FastSet<String>>,
}

impl WordList {
    fn next(&self) -> WordId {
        WordId::try_from(self.words.len() + self.prefixes.len()).unwrap_or(WordId::MAX)
    }

    /// The number of a word of the lists; with `slips` it may be meant by words that are nearly it.
    pub(super) fn word(&mut self, text: &str, slips: bool) -> WordId {
        let text = plain(text);
        let slips = slips && text.chars().count() >= LEAST_SLIP;
        let id = match self.words.get_mut(&*text) {
            Some(known) if known.slips || !slips => return known.id,
            Some(known) => {
                known.slips = true;
                known.id
            }
            None => {
                let id = self.next();
                let known = Known { id, slips };
                self.words.insert(text.clone().into_owned(), known);
                id
            }
        };
        if slips {
            let first = text.chars().next().unwrap_or_default();
            let under = self.slips.entry(first).or_default();
            under.push((text.into_owned(), id));
        }
        id
    }

    /// The number of every word that starts so.
    pub(super) fn prefix(&mut self, start: &str) -> WordId {
        let start = plain(start);
        if let Some(id) = self.prefixes.get(&*start) {
            return *id;
        }
        let id = self.next();
        self.prefix_lengths.insert(start.len());
        self.prefixes.insert(start.into_owned(), id);
        id
    }

    /// Cuts a note into tokens. Words of the library are no slips for others.
    pub(super) fn tokens(&self, base: &KnowledgeBase, note: &str) -> Vec<Token> {
        let mut tokens: Vec<Token> = Vec::new();
        let mut cut = Cut::Stop;
        let mut start = None;
        let mut slipped: FastMap<String, Vec<WordId>> = FastMap::default();
        let mut push = |range: Range<usize>, cut: Cut, tokens: &mut Vec<Token>| {
            let text = plain(&note[range.clone()]);
            if text.is_empty() {
                return;
            }
            let ids = self.ids(base, &text, &mut slipped);
            let digits = text.bytes().take_while(u8::is_ascii_digit).count();
            let ordinal = matches!(&text[digits..], "" | "st" | "nd" | "rd" | "th");
            tokens.push(Token {
                span: range,
                ids,
                digits: if ordinal { digits } else { 0 },
                cut,
            });
        };
        for (at, letter) in note.char_indices() {
            let inside = letter.is_alphanumeric()
                || (is_apostrophe(letter)
                    && start.is_some()
                    && !is_possessive(&note[at + letter.len_utf8()..]));
            if inside {
                start.get_or_insert(at);
                continue;
            }
            if let Some(from) = start.take() {
                push(from..at, cut, &mut tokens);
                cut = Cut::None;
            }
            let here = match letter {
                '.' | ';' | '!' | '?' | '\n' => Cut::Stop,
                ',' | ':' | '(' | ')' | '\u{2013}' | '\u{2014}' => Cut::Comma,
                '-' if note[..at].ends_with(' ') => Cut::Comma,
                _ => Cut::None,
            };
            cut = cut.max(here);
        }
        if let Some(from) = start {
            push(from..note.len(), cut, &mut tokens);
        }
        tokens
    }

    /// The words of the lists that a token may be.
    fn ids(
        &self,
        base: &KnowledgeBase,
        text: &str,
        slipped: &mut FastMap<String, Vec<WordId>>,
    ) -> Vec<WordId> {
        let known = self.words.get(text).map(|known| known.id);
        let mut ids: Vec<WordId> = known.into_iter().collect();
        for length in &self.prefix_lengths {
            let start = text.get(..*length);
            ids.extend(start.and_then(|start| self.prefixes.get(start)));
        }
        let letters = text.chars().count();
        if !ids.is_empty() || letters < LEAST_SLIP || !text.chars().all(char::is_alphabetic) {
            return ids;
        }
        if let Some(known) = slipped.get(text) {
            return known.clone();
        }
        if slipped.len() >= MOST_SLIPS {
            return ids;
        }
        let allowed = if letters >= TWO_SLIPS { 2 } else { 1 };
        let mut firsts: Vec<char> = text.chars().take(2).collect();
        firsts.dedup();
        let mut nearest = allowed + 1;
        for (known, id) in firsts.iter().filter_map(|c| self.slips.get(c)).flatten() {
            if known.len().abs_diff(text.len()) > allowed {
                continue;
            }
            let apart = strsim::osa_distance(text, known);
            if apart <= allowed && apart <= nearest {
                if apart < nearest {
                    ids.clear();
                }
                nearest = apart;
                ids.push(*id);
            }
        }
        if !ids.is_empty() && self.vocabulary(base).contains(text) {
            ids.clear();
        }
        slipped.insert(text.to_owned(), ids.clone());
        ids
    }

    /// The words that the library uses, which are no slips for others.
    fn vocabulary(&self, base: &KnowledgeBase) -> &FastSet<String> {
        self.vocabulary.get_or_init(|| {
            let conditions = base.conditions.iter().flat_map(|c| {
                c.aliases
                    .iter()
                    .map(String::as_str)
                    .chain([c.name.as_str(), c.look_for.as_str()])
            });
            let drills = base.drills.iter().map(|d| d.name.as_str());
            let mut words = FastSet::default();
            for text in conditions.chain(drills) {
                for word in text.split(|c: char| !c.is_alphanumeric()).map(plain) {
                    if !words.contains(&*word) {
                        words.insert(word.into_owned());
                    }
                }
            }
            words
        })
    }
}

fn is_apostrophe(letter: char) -> bool {
    matches!(letter, '\'' | '\u{2019}' | '\u{2018}' | '`')
}

/// Whether what follows an apostrophe is an `s` by itself: `his back's sore` has a back.
fn is_possessive(rest: &str) -> bool {
    let mut letters = rest.chars();
    matches!(letters.next(), Some('s' | 'S')) && !letters.next().is_some_and(char::is_alphanumeric)
}

/// One spelling: small letters, no apostrophes.
fn plain(text: &str) -> Cow<'_, str> {
    let is_plain =
        |byte: u8| byte.is_ascii() && !byte.is_ascii_uppercase() && !b"'`".contains(&byte);
    if text.bytes().all(is_plain) {
        return Cow::Borrowed(text);
    }
    text.chars()
        .filter(|letter| !is_apostrophe(*letter))
        .flat_map(char::to_lowercase)
        .collect()
}
