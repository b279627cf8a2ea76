//! The words of a query as they were typed: what can be looked for, what was guessed, and what of them a
//! drill says.

use super::drill_index::DrillIndex;
use super::query::{DrillQuery, DrillQueryError, Guess, MOST_QUERY_WORDS};
use crate::words::lexicon::{Meaning, WordKey};
use crate::words::term::{Cutter, FastMap, Term, TextId};

impl DrillIndex {
    /// The words that can be looked for; at least one.
    pub(super) fn terms(
        &self,
        query: &DrillQuery,
        cutter: &mut Cutter,
    ) -> Result<Vec<Term>, DrillQueryError> {
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

    /// How much a word in a drill's text answers the typed words, with the key of its stem; `None` for
    /// not at all. Every word is looked up once.
    pub(super) fn telling(
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

    /// The words that nothing in the library says, and what each was taken for.
    pub(super) fn guesses(&self, words: &[(Term, Meaning)]) -> Vec<Guess> {
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

fn clipped(text: &str) -> String {
    let mut short: String = text.chars().filter(|c| !c.is_control()).take(40).collect();
    if short.len() < text.len() {
        short.push('\u{2026}');
    }
    short
}
