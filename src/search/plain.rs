//! Plain BM25: stems, one field, no synonyms, no slips, no meaning. What the joined ranking is
//! measured against.

use super::index::{Alternatives, IndexError, StemIndex};
use super::texts::plain_texts;
use crate::knowledge::KnowledgeBase;
use crate::words::term::{Cutter, TextId};
use std::sync::Arc;

/// A plain ranking of texts.
pub struct PlainIndex {
    index: StemIndex,
}

impl PlainIndex {
    /// An index over texts, numbered in the order given.
    ///
    /// # Errors
    ///
    /// When there is no memory for it.
    pub fn new<'a>(texts: impl IntoIterator<Item = &'a str>) -> Result<Self, IndexError> {
        let mut cutter = Cutter::new(&Arc::default());
        let stems = texts.into_iter().map(|text| {
            let words = cutter.words_as_written(text);
            [cutter.joined_stems(words, None)]
        });
        Ok(Self {
            index: StemIndex::new([1.0], stems)?,
        })
    }

    /// An index over everything that [`super::DrillIndex`] reads of a drill, numbered by key.
    ///
    /// # Errors
    ///
    /// When there is no memory for it.
    pub fn of_drills(base: &KnowledgeBase) -> Result<Self, IndexError> {
        let texts = plain_texts(base);
        Self::new(texts.iter().map(String::as_str))
    }

    /// The texts that [`Self::of_drills`] is made of, for another engine to be asked the same.
    #[must_use]
    pub fn texts_of_drills(base: &KnowledgeBase) -> Vec<String> {
        plain_texts(base)
    }

    /// The best `limit` texts with their BM25 scores (k1 1.2, b 0.75), ties in the order given;
    /// a word typed twice is asked once.
    ///
    /// # Errors
    ///
    /// When the index cannot be asked.
    pub fn search(&self, words: &str, limit: usize) -> Result<Vec<(usize, f64)>, IndexError> {
        let mut cutter = Cutter::new(&Arc::default());
        let words = cutter.words_as_written(words);
        let stems = words.into_iter().map(|word| cutter.stem_id(word));
        let mut stems: Vec<TextId> = stems.collect();
        stems.sort_unstable_by(|a, b| cutter.text(*a).cmp(cutter.text(*b)));
        stems.dedup();
        let words: Vec<Alternatives> = stems
            .into_iter()
            .map(|stem| vec![(cutter.text(stem).to_string(), 1.0)])
            .collect();
        self.index.search(&words, limit)
    }
}
