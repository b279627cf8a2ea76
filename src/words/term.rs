//! Text cut into terms: lower case, no accents, shorthand written out, endings taken off.
//!
//! What the library says and what a coach types go through the same steps, so that they meet.

use super::trade::Trade;
use crate::knowledge::Shot;
use foldhash::fast::RandomState;
use std::collections::{HashMap, HashSet};
use std::ops::Range;
use std::sync::Arc;
use tantivy::tokenizer::{
    AsciiFoldingFilter, Language, LowerCaser, SimpleTokenizer, Stemmer, TextAnalyzer, TokenStream,
};

/// Longer than any word of the trade; what is longer is not text but an accident.
const LONGEST_WORD: usize = 40;
/// Room for a stem and a blank; most need less.
const USUAL_LENGTH: usize = 6;
/// More words than anybody reports at once; the rest is not looked at.
pub(crate) const MOST_WORDS: usize = 10_000;

/// A map by words. The hash is quick and still seeded: libraries come from strangers too.
pub(crate) type FastMap<K, V> = HashMap<K, V, RandomState>;
/// A set of words, in the same way.
pub(crate) type FastSet<K> = HashSet<K, RandomState>;

/// The number of a text, word or stem, in the [`Cutter`] that cut it.
pub(crate) type TextId = u32;

/// One word of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Term {
    /// As written, in lower case and without accents.
    pub(crate) word: String,
    /// Without its ending: `chunked` and `chunks` are both `chunk`.
    pub(crate) stem: String,
    /// Where it starts in the text, in bytes.
    pub(crate) from: usize,
    /// Where it ends, in bytes.
    pub(crate) to: usize,
}

/// A term whose word is known by its number.
#[derive(Clone, Copy)]
struct Cut {
    word: TextId,
    from: usize,
    to: usize,
}

/// A word or a stem that was met.
struct Known {
    text: Arc<str>,
    /// The number of its stem; [`NOT_STEMMED`] until somebody asks.
    stem: TextId,
    /// Whether shorthand starts with it.
    shorthand: bool,
    /// Whether it carries nothing.
    filler: bool,
    /// Whether it gives away shots.
    hints: bool,
}

const NOT_STEMMED: TextId = TextId::MAX;

/// Cuts texts into terms. Every different word is kept once, with its stem, so that a library of
/// hundreds of thousands of words costs only its few thousand different ones. Cheap to make; one
/// each thread, because a stemmer keeps a buffer.
pub(crate) struct Cutter {
    trade: Arc<Trade>,
    folder: TextAnalyzer,
    stemmer: TextAnalyzer,
    known: Vec<Known>,
    ids: FastMap<Arc<str>, TextId>,
    /// Words as they stand in texts, accents, capitals and all.
    as_written: FastMap<Box<str>, TextId>,
    plain: Vec<Cut>,
    cut: Vec<Cut>,
}

impl Cutter {
    pub(crate) fn new(trade: &Arc<Trade>) -> Self {
        Self {
            trade: Arc::clone(trade),
            folder: TextAnalyzer::builder(SimpleTokenizer::default())
                .filter(LowerCaser)
                .filter(AsciiFoldingFilter)
                .build(),
            stemmer: TextAnalyzer::builder(SimpleTokenizer::default())
                .filter(Stemmer::new(Language::English))
                .build(),
            known: Vec::new(),
            ids: FastMap::default(),
            as_written: FastMap::default(),
            plain: Vec::new(),
            cut: Vec::new(),
        }
    }

    /// The number of a word in lower case, or of any other text that stands for one.
    pub(crate) fn id(&mut self, text: &str) -> TextId {
        if let Some(id) = self.ids.get(text) {
            return *id;
        }
        let id = TextId::try_from(self.known.len()).expect("fewer words than four milliards");
        let kept: Arc<str> = Arc::from(text);
        self.ids.insert(Arc::clone(&kept), id);
        self.known.push(Known {
            shorthand: !self.trade.shorthand(text).is_empty(),
            filler: self.trade.is_filler(text),
            hints: !self.trade.hints(text).is_empty(),
            text: kept,
            stem: NOT_STEMMED,
        });
        id
    }

    /// How many different texts were met; every number is below it.
    pub(crate) fn len(&self) -> usize {
        self.known.len()
    }

    /// The text behind a number.
    pub(crate) fn text(&self, id: TextId) -> &Arc<str> {
        &self.known[id as usize].text
    }

    /// Whether a word carries nothing.
    pub(crate) fn is_filler(&self, word: TextId) -> bool {
        self.known[word as usize].filler
    }

    /// The shots that a word gives away.
    pub(crate) fn hints(&self, word: TextId) -> &[Shot] {
        let known = &self.known[word as usize];
        if known.hints {
            self.trade.hints(&known.text)
        } else {
            &[]
        }
    }

    /// The words of the library that it cuts by.
    pub(crate) fn trade(&self) -> &Arc<Trade> {
        &self.trade
    }

    /// The number of a word's stem.
    pub(crate) fn stem_id(&mut self, word: TextId) -> TextId {
        let known = &self.known[word as usize];
        if known.stem != NOT_STEMMED {
            return known.stem;
        }
        let text = Arc::clone(&known.text);
        let mut stream = self.stemmer.token_stream(&text);
        let stem = if stream.advance() {
            std::mem::take(&mut stream.token_mut().text)
        } else {
            text.to_string()
        };
        drop(stream);
        let stem = self.id(&stem);
        self.known[word as usize].stem = stem;
        stem
    }

    /// The stem of a word in lower case.
    pub(crate) fn stem(&mut self, word: &str) -> String {
        let word = self.id(word);
        let stem = self.stem_id(word);
        self.text(stem).to_string()
    }

    /// The number of a word as it stands in a text.
    fn written_id(&mut self, word: &str) -> TextId {
        if let Some(id) = self.as_written.get(word) {
            return *id;
        }
        let id = if word.is_ascii() {
            // What folding would make of it, without the way there.
            self.id(&word.to_ascii_lowercase())
        } else {
            let mut stream = self.folder.token_stream(word);
            let folded = if stream.advance() {
                std::mem::take(&mut stream.token_mut().text)
            } else {
                word.to_owned()
            };
            drop(stream);
            self.id(&folded)
        };
        self.as_written.insert(word.into(), id);
        id
    }

    /// The words as written, in order, before shorthand is written out, into `self.plain`.
    fn split(&mut self, text: &str) {
        let mut words = std::mem::take(&mut self.plain);
        words.clear();
        let mut at = 0;
        while words.len() < MOST_WORDS {
            let from = run(text, at, false);
            if from == text.len() {
                break;
            }
            let to = run(text, from, true);
            at = to;
            let word = self.written_id(&text[from..to]);
            // `can't` is one word and `w/` is `with`; an apostrophe must not cut.
            if let Some(last) = words.last_mut()
                && last.to < from
                && text.as_bytes()[last.to] != b' '
                && text[last.to..from]
                    .chars()
                    .all(|c| APOSTROPHES.contains(&c))
            {
                match &**self.text(word) {
                    // What the apostrophe left of `is`, `would`, `will`, `have`, `are`, `am`.
                    "s" | "d" | "ll" | "ve" | "re" | "m" => {
                        last.to = to;
                        continue;
                    }
                    "t" | "n" => {
                        let whole = format!("{}{}", self.text(last.word), self.text(word));
                        last.word = self.id(&whole);
                        last.to = to;
                        continue;
                    }
                    _ => {}
                }
            }
            words.push(Cut { word, from, to });
        }
        words.retain(|cut| self.text(cut.word).len() <= LONGEST_WORD);
        self.plain = words;
    }

    /// The terms of a text into `self.cut`, shorthand written out; with `both_ways` followed by the
    /// words that it took the place of.
    fn write_out(&mut self, text: &str, both_ways: bool) {
        self.split(text);
        let plain = std::mem::take(&mut self.plain);
        let mut terms = std::mem::take(&mut self.cut);
        terms.clear();
        let mut at = 0;
        while at < plain.len() {
            let first = &self.known[plain[at].word as usize];
            if !first.shorthand {
                terms.push(plain[at]);
                at += 1;
                continue;
            }
            let trade = Arc::clone(&self.trade);
            let phrases = trade.shorthand(&first.text);
            let longest = phrases.iter().find(|(phrase, _)| {
                plain[at..]
                    .iter()
                    .map(|cut| &**self.text(cut.word))
                    .take(phrase.len())
                    .eq(phrase.iter().map(String::as_str))
            });
            let Some((phrase, replacement)) = longest else {
                terms.push(plain[at]);
                at += 1;
                continue;
            };
            let n = phrase.len();
            let (from, to) = (plain[at].from, plain[at + n - 1].to);
            for word in replacement.split(' ') {
                let word = self.id(word);
                terms.push(Cut { word, from, to });
            }
            if both_ways {
                terms.extend_from_slice(&plain[at..at + n]);
            }
            at += n;
        }
        self.plain = plain;
        self.cut = terms;
    }

    /// The words of a text as written, shorthand and all, by their numbers.
    pub(crate) fn words_as_written(&mut self, text: &str) -> Vec<TextId> {
        self.split(text);
        self.plain.iter().map(|cut| cut.word).collect()
    }

    /// The terms of a text, shorthand written out.
    pub(crate) fn cut(&mut self, text: &str) -> Vec<Term> {
        self.write_out(text, false);
        let cut = std::mem::take(&mut self.cut);
        let mut terms = Vec::with_capacity(cut.len());
        for Cut { word, from, to } in &cut {
            let stem = self.stem_id(*word);
            terms.push(Term {
                word: self.text(*word).to_string(),
                stem: self.text(stem).to_string(),
                from: *from,
                to: *to,
            });
        }
        self.cut = cut;
        terms
    }

    /// The words of a text by their numbers, shorthand written out, each with the bytes where it
    /// stands.
    pub(crate) fn places(&mut self, text: &str) -> Vec<(TextId, Range<usize>)> {
        self.write_out(text, false);
        let cut = self.cut.iter();
        cut.map(|cut| (cut.word, cut.from..cut.to)).collect()
    }

    /// The words of a text by their numbers, shorthand written out.
    pub(crate) fn words(&mut self, text: &str) -> Vec<TextId> {
        self.write_out(text, false);
        self.cut.iter().map(|cut| cut.word).collect()
    }

    /// The words of a text by their numbers, each shorthand written out and followed by the words
    /// that it took the place of.
    pub(crate) fn words_both_ways(&mut self, text: &str) -> Vec<TextId> {
        self.write_out(text, true);
        self.cut.iter().map(|cut| cut.word).collect()
    }

    /// The stems of words, each with a blank behind it, as an index takes them; of those that are not
    /// `asked` for only the blank, so that a text stays as long as it is.
    pub(crate) fn joined_stems(
        &mut self,
        words: impl IntoIterator<Item = TextId>,
        asked: Option<&FastSet<TextId>>,
    ) -> String {
        let words = words.into_iter();
        let mut text = String::with_capacity(words.size_hint().0 * USUAL_LENGTH);
        for word in words {
            let stem = self.stem_id(word);
            if asked.is_none_or(|asked| asked.contains(&stem)) {
                text.push_str(self.text(stem));
            }
            text.push(' ');
        }
        text
    }
}

/// Which plain bytes are letters and digits.
const ALPHANUMERIC: [bool; 128] = {
    let mut table = [false; 128];
    let mut byte = 0;
    while byte < 128 {
        table[byte] = (byte as u8).is_ascii_alphanumeric();
        byte += 1;
    }
    table
};

/// Where what starts at a byte of a text and is all letters and digits, or has none, ends.
fn run(text: &str, from: usize, alphanumeric: bool) -> usize {
    let bytes = text.as_bytes();
    let mut at = from;
    while let Some(byte) = bytes.get(at) {
        // Nearly all text is plain.
        let (is, length) = match ALPHANUMERIC.get(usize::from(*byte)) {
            Some(is) => (*is, 1),
            None => {
                let letter = text[at..].chars().next().unwrap_or_default();
                (letter.is_alphanumeric(), letter.len_utf8())
            }
        };
        if is != alphanumeric {
            break;
        }
        at += length;
    }
    at
}

/// Marks that hold a word together.
const APOSTROPHES: [char; 4] = ['\'', '`', '\u{2019}', '\u{2018}'];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{Strictness, load, shipped};

    fn cutter() -> Cutter {
        let base = load(&[shipped()], Strictness::ErrorsOnly)
            .expect("it ships")
            .base;
        Cutter::new(&Arc::new(Trade::new(&base.spoken)))
    }

    fn stems(text: &str) -> String {
        cutter()
            .cut(text)
            .into_iter()
            .map(|term| term.stem)
            .collect::<Vec<_>>()
            .join(" ")
    }

    #[test]
    fn shorthand_is_written_out() {
        assert_eq!(stems("OTT w/ 7i"), "overthetop with 7i");
        assert_eq!(stems("hits the big ball first"), "hit the ground first");
        assert_eq!(stems("can\u{2019}t"), "cannot");
        assert_eq!(stems("can't"), "cannot");
    }

    #[test]
    fn endings_come_off() {
        assert_eq!(stems("chunked chunks chunking"), "chunk chunk chunk");
        assert_eq!(stems("Caf\u{e9}"), "cafe");
    }

    #[test]
    fn odd_text_does_no_harm() {
        for text in [
            "",
            "!!!",
            "'''",
            "\u{1F3CC}",
            "\u{43F}\u{443}\u{448}",
            "a'",
            "'t",
            "w/",
        ] {
            let _ = stems(text);
        }
        assert!(cutter().cut(&"slice ".repeat(20_000)).len() <= MOST_WORDS);
    }
}
