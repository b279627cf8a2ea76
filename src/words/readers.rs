//! The readers of one library, each made when something first needs it.
//!
//! To read free words every way of saying every entry is cut and compared; what is asked by an entry's id
//! needs none of that. An id is the entry and says nothing else: no hand, no fact, and nothing of the body
//! unless the entry is of the body.

use super::body::{BodyReader, Complaint, Complaints};
use super::note::{Note, Override};
use super::reader::Reader;
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::{Handed, Lesson};
use std::cell::OnceCell;
use std::ops::Range;

/// What notes about one library are read with.
pub struct Readers<'b> {
    base: &'b KnowledgeBase,
    given: Option<&'b Reader>,
    free: OnceCell<Reader>,
    body: OnceCell<BodyReader<'b>>,
}

impl<'b> Readers<'b> {
    /// The readers of a library, none of them made yet.
    #[must_use]
    pub fn new(base: &'b KnowledgeBase) -> Self {
        Self {
            base,
            given: None,
            free: OnceCell::new(),
            body: OnceCell::new(),
        }
    }

    /// The same where a reader of free words is there already; it must be of the same library.
    #[must_use]
    pub fn with(base: &'b KnowledgeBase, reader: &'b Reader) -> Self {
        Self {
            given: Some(reader),
            ..Self::new(base)
        }
    }

    /// The library.
    #[must_use]
    pub fn base(&self) -> &'b KnowledgeBase {
        self.base
    }

    /// The reader of free words.
    #[must_use]
    pub fn free(&self) -> &Reader {
        self.given
            .unwrap_or_else(|| self.free.get_or_init(|| Reader::new(self.base)))
    }

    /// What a note says.
    #[must_use]
    pub fn note(&self, text: &str, lesson: &Lesson, overrides: &[Override]) -> Note {
        match self.named(text) {
            Some(key) => Note::of_id(text, self.base.heir(key)),
            None => self.free().note(text, lesson, overrides),
        }
    }

    /// The hand that a note tells.
    #[must_use]
    pub fn hand_in(&self, text: &str) -> Option<Handed> {
        match self.named(text) {
            Some(_) => None,
            None => self.free().hand_in(text),
        }
    }

    /// What a note says of the body.
    #[must_use]
    pub fn complaints(&self, text: &str) -> Complaints {
        let of_body = |key| {
            let condition = self.base.condition(key);
            condition.pain || condition.refer.is_some()
        };
        if self.named(text).is_some_and(|key| !of_body(key)) {
            return Complaints::default();
        }
        let body = self.body.get_or_init(|| BodyReader::new(self.base));
        body.read(text)
    }

    /// What a part of a note says of the body by its likeness to what people say; see
    /// [`BodyReader::likened`]. An id says nothing else.
    #[must_use]
    pub fn likened(&self, text: &str, part: Range<usize>, sure: f64) -> Option<Complaint> {
        if self.named(text).is_some() {
            return None;
        }
        let body = self.body.get_or_init(|| BodyReader::new(self.base));
        body.likened(text, part, sure)
    }

    /// The entry whose id the text is.
    fn named(&self, text: &str) -> Option<ConditionKey> {
        self.base.find(&text.trim().to_lowercase())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{Strictness, load, shipped};

    #[test]
    fn an_id_is_read_without_a_reader_and_as_one_would_read_it() {
        let base = load(&[shipped()], Strictness::ErrorsOnly)
            .expect("it ships")
            .base;
        let reader = Reader::new(&base);
        let readers = Readers::new(&base);
        let lesson = Lesson::default();
        for condition in &base.conditions {
            let typed = format!(" {} ", condition.id.to_uppercase());
            let note = reader.note(&typed, &lesson, &[]);
            assert_eq!(readers.note(&typed, &lesson, &[]), note, "{typed}");
            assert_eq!(readers.hand_in(&typed), None, "{typed}");
            let of_body = condition.pain || condition.refer.is_some();
            assert!(
                of_body || readers.complaints(&typed) == Complaints::default(),
                "{typed}"
            );
        }
        assert!(readers.free.get().is_none());
        assert!(!readers.complaints("low back hurts").there.is_empty());
    }
}
