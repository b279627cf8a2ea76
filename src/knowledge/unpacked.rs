//! A file that ships, as its lists are taken out of what was packed when the program was built.

use super::base::ConditionKind;
use super::document::ConditionText;
use super::node::TextPlace;
use super::placed_entry::{EntrySource, PlacedEntry};
use super::problems::Spot;

/// A file that ships, as its lists are taken out of it.
pub(super) struct Unpacked {
    /// What is left of the places, in the order of the lists.
    pub(super) places: std::vec::IntoIter<(usize, usize)>,
    pub(super) spot: Spot,
    /// Its place among those that ship.
    pub(super) file: usize,
}

impl Unpacked {
    /// The entries of a list.
    pub(super) fn entries<T>(
        &mut self,
        texts: Vec<T>,
    ) -> impl Iterator<Item = Box<PlacedEntry<T>>> {
        self.entries_caused(texts, |_| 0)
    }

    /// The entries of a list whose entries have causes.
    pub(super) fn entries_caused<T>(
        &mut self,
        texts: Vec<T>,
        causes: impl Fn(&T) -> usize,
    ) -> impl Iterator<Item = Box<PlacedEntry<T>>> {
        texts.into_iter().map(move |text| {
            let at = self.place();
            let links = (0..causes(&text)).map(|_| self.place()).collect();
            Box::new(PlacedEntry {
                text,
                at,
                written: EntrySource::Shipped(self.file, links),
                layer: self.spot.layer,
                file: self.spot.file,
                whole: true,
                as_shipped: true,
            })
        })
    }

    pub(super) fn conditions(
        &mut self,
        kind: ConditionKind,
        texts: Vec<ConditionText>,
    ) -> impl Iterator<Item = (ConditionKind, Box<PlacedEntry<ConditionText>>)> {
        let entries = self.entries_caused(texts, |text| text.caused_by.len());
        entries.map(move |entry| (kind, entry))
    }

    pub(super) fn place(&mut self) -> TextPlace {
        let (line, column) = self.places.next().unwrap_or_default();
        TextPlace { line, column }
    }
}
