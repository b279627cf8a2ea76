//! Text cut into terms: lower case, no accents, shorthand written out, endings taken off.
//!
//! What the library says and what a coach types go through the same steps, so that they meet.

use super::trade;
use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::OnceLock;
use tantivy::tokenizer::{
    AsciiFoldingFilter, Language, LowerCaser, SimpleTokenizer, Stemmer, TextAnalyzer, TokenStream,
};

/// Longer than any word of the trade; what is longer is not text but an accident.
const LONGEST_WORD: usize = 40;
/// More words than anybody reports at once; the rest is not looked at.
pub(super) const MOST_WORDS: usize = 10_000;

/// One word of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Term {
    /// As written, in lower case and without accents.
    pub(super) word: String,
    /// Without its ending: `chunked` and `chunks` are both `chunk`.
    pub(super) stem: String,
    /// Where it starts in the text, in bytes; `usize::MAX` for a word that was put in for another.
    pub(super) from: usize,
    /// Where it ends, in bytes.
    pub(super) to: usize,
}

/// Cuts texts into terms. Cheap to make; one each thread, because a stemmer keeps a buffer.
pub(super) struct Cutter {
    words: TextAnalyzer,
    stemmer: TextAnalyzer,
    stems: HashMap<String, String>,
}

impl Cutter {
    pub(super) fn new() -> Self {
        Self {
            words: TextAnalyzer::builder(SimpleTokenizer::default())
                .filter(LowerCaser)
                .filter(AsciiFoldingFilter)
                .build(),
            stemmer: TextAnalyzer::builder(SimpleTokenizer::default())
                .filter(Stemmer::new(Language::English))
                .build(),
            stems: HashMap::new(),
        }
    }

    /// The stem of a word in lower case.
    pub(super) fn stem(&mut self, word: &str) -> String {
        if let Some(stem) = self.stems.get(word) {
            return stem.clone();
        }
        let mut stream = self.stemmer.token_stream(word);
        let stem = if stream.advance() {
            stream.token().text.clone()
        } else {
            word.to_owned()
        };
        drop(stream);
        self.stems.insert(word.to_owned(), stem.clone());
        stem
    }

    /// The words as written, in order, before shorthand is written out.
    fn plain(&mut self, text: &str) -> Vec<(String, usize, usize)> {
        // `can't` is one word and `w/` is `with`; an apostrophe must not cut. Both marks become
        // something of the same length in bytes, so that offsets stay true.
        let joined = if text.contains(APOSTROPHES) {
            let straight = text.replace(['\'', '`'], "\u{1}");
            Cow::Owned(straight.replace(['\u{2019}', '\u{2018}'], "\u{1}\u{1}\u{1}"))
        } else {
            Cow::Borrowed(text)
        };
        let mut words: Vec<(String, usize, usize)> = Vec::new();
        let mut stream = self.words.token_stream(&joined);
        while let Some(token) = stream.next() {
            if words.len() >= MOST_WORDS {
                break;
            }
            let glued = words.last().is_some_and(|last| {
                last.2 < token.offset_from
                    && joined.as_bytes()[last.2..token.offset_from]
                        .iter()
                        .all(|b| *b == 1)
            });
            match (glued, token.text.as_str()) {
                // What the apostrophe left of `is`, `would`, `will`, `have`, `are`, `am`.
                (true, "s" | "d" | "ll" | "ve" | "re" | "m") => {
                    words.last_mut().expect("glued to one").2 = token.offset_to;
                }
                (true, "t" | "n") => {
                    let last = words.last_mut().expect("glued to one");
                    last.0.push_str(&token.text);
                    last.2 = token.offset_to;
                }
                _ => words.push((token.text.clone(), token.offset_from, token.offset_to)),
            }
        }
        drop(stream);
        words.retain(|(word, _, _)| word.len() <= LONGEST_WORD);
        words
    }

    /// The stems of a text as written, shorthand and all.
    pub(super) fn stems(&mut self, text: &str) -> Vec<String> {
        let plain = self.plain(text);
        plain.iter().map(|(word, _, _)| self.stem(word)).collect()
    }

    /// The terms of a text, shorthand written out.
    pub(super) fn cut(&mut self, text: &str) -> Vec<Term> {
        self.written_out(text, false)
    }

    /// The terms of a text, each shorthand followed by the words that it took the place of.
    pub(super) fn cut_both_ways(&mut self, text: &str) -> Vec<Term> {
        self.written_out(text, true)
    }

    fn written_out(&mut self, text: &str, both_ways: bool) -> Vec<Term> {
        let mut plain = self.plain(text);
        let table = stands_for();
        let mut terms = Vec::with_capacity(plain.len());
        let mut at = 0;
        while at < plain.len() {
            let longest = table.get(plain[at].0.as_str()).and_then(|phrases| {
                phrases.iter().find_map(|(phrase, words)| {
                    let follows = plain[at..]
                        .iter()
                        .map(|(word, _, _)| word.as_str())
                        .take(phrase.len())
                        .eq(phrase.iter().copied());
                    follows.then_some((phrase.len(), *words))
                })
            });
            if let Some((n, replacement)) = longest {
                let (from, to) = (plain[at].1, plain[at + n - 1].2);
                for word in replacement.split(' ') {
                    terms.push(self.term(word.to_owned(), from, to));
                }
                if both_ways {
                    for (word, from, to) in &plain[at..at + n] {
                        terms.push(self.term(word.clone(), *from, *to));
                    }
                }
                at += n;
            } else {
                let (word, from, to) = std::mem::take(&mut plain[at]);
                terms.push(self.term(word, from, to));
                at += 1;
            }
        }
        terms
    }

    fn term(&mut self, word: String, from: usize, to: usize) -> Term {
        let stem = self.stem(&word);
        Term {
            word,
            stem,
            from,
            to,
        }
    }
}

/// Marks that hold a word together.
const APOSTROPHES: [char; 4] = ['\'', '`', '\u{2019}', '\u{2018}'];

/// Phrases by their first word, longest first, each with what it stands for.
type Shorthand = HashMap<&'static str, Vec<(Vec<&'static str>, &'static str)>>;

fn stands_for() -> &'static Shorthand {
    static TABLE: OnceLock<Shorthand> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut table = Shorthand::new();
        for (phrase, words) in trade::STANDS_FOR {
            let phrase: Vec<&str> = phrase.split(' ').collect();
            table.entry(phrase[0]).or_default().push((phrase, *words));
        }
        for phrases in table.values_mut() {
            phrases.sort_by_key(|(phrase, _)| std::cmp::Reverse(phrase.len()));
        }
        table
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stems(text: &str) -> String {
        Cutter::new()
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
        assert!(Cutter::new().cut(&"slice ".repeat(20_000)).len() <= MOST_WORDS);
    }
}
