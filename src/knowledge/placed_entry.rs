//! An entry with the place of each of its words.

use super::base::Provenance;
use super::layer::{self, LayerText};
use super::node::{Content, PathStep, TextPlace, YamlNode};
use super::problems::Spot;

/// An entry with the place of each of its words.
#[derive(Clone, Debug)]
pub(super) struct PlacedEntry<T> {
    pub(super) text: T,
    pub(super) written: EntrySource,
    pub(super) at: TextPlace,
    pub(super) layer: usize,
    pub(super) file: usize,
    /// Whether nothing had to be taken out of it to read it.
    pub(super) whole: bool,
    /// Whether it stands in a file that ships, unchanged: what can be said of such a file by itself
    /// was said by the tests before it shipped.
    pub(super) as_shipped: bool,
}

/// An entry as it was written, which tells where each of its words stands.
#[derive(Clone, Debug)]
pub(super) enum EntrySource {
    Parsed(YamlNode),
    /// In a file that ships, by its place among them; with the places of its `caused_by`.
    Shipped(usize, Box<[TextPlace]>),
}

/// What stands for an entry that cannot be found where it was when the program was built.
static NOWHERE: YamlNode = YamlNode {
    at: TextPlace { line: 0, column: 0 },
    content: Content::List(Vec::new()),
};

impl<T> PlacedEntry<T> {
    /// The entry as it was written.
    pub(super) fn node(&self) -> &YamlNode {
        match &self.written {
            EntrySource::Parsed(node) => node,
            EntrySource::Shipped(place, _) => layer::tree(*place)
                .and_then(|root| root.item_at(self.at))
                .unwrap_or(&NOWHERE),
        }
    }

    /// Where the entry starts.
    pub(super) fn start(&self) -> Spot {
        self.here(self.at)
    }

    /// Where its id is written, which is where a reader looks for it.
    pub(super) fn head(&self) -> Spot {
        self.spot(&["id".into()])
    }

    /// Where the value at the end of a path starts.
    pub(super) fn spot(&self, path: &[PathStep<'_>]) -> Spot {
        self.here(self.node().find(path))
    }

    /// Where an item of its `caused_by` starts.
    pub(super) fn cause_start(&self, item: usize) -> Spot {
        match &self.written {
            EntrySource::Parsed(_) => self.spot(&["caused_by".into(), item.into()]),
            EntrySource::Shipped(_, places) => {
                self.here(places.get(item).copied().unwrap_or(self.at))
            }
        }
    }

    /// Where a key of the entry is written, or the entry if it is not.
    pub(super) fn key(&self, key: &str) -> Spot {
        let at = self.node().entry(key).map(|(own, _)| own.at);
        self.here(at.unwrap_or(self.at))
    }

    fn here(&self, at: TextPlace) -> Spot {
        Spot {
            layer: self.layer,
            file: self.file,
            at,
        }
    }
}

/// A place as the rest of the program knows it.
pub(super) fn origin(spot: Spot, layers: &[LayerText]) -> Provenance {
    Provenance {
        layer: spot.layer,
        file: layers[spot.layer].files[spot.file].path.clone(),
        line: spot.at.line,
    }
}
