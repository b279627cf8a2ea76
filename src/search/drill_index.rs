//! An index over the drills of one library: their texts, their names, and what each works on.

use super::filter::Facts;
use super::index::IndexError;
use super::kept::{self, Kept};
use super::texts::Texts;
use crate::knowledge::{DrillKey, KnowledgeBase};
use crate::words::Reader;
use crate::words::lexicon::WordKey;
use crate::words::ready::CutCondition;
use crate::words::term::{Cutter, FastMap, FastSet};
use crate::words::trade::Trade;
use std::path::Path;
use std::sync::Arc;

/// From this many drills on an index is worth keeping between two commands; below it, building one
/// costs less than reading it would save.
pub const LARGE_LIBRARY: usize = 3_000;

/// An index over the drills of one library. Build it once.
pub struct DrillIndex {
    pub(super) reader: Arc<Reader>,
    pub(super) texts: Texts,
    /// For each condition the drills that treat it, and how well.
    pub(super) treating: Vec<Vec<(DrillKey, f64)>>,
    /// For each condition the drills that must not be done with it, and those that can make it worse.
    pub(super) barred: Vec<Vec<DrillKey>>,
    pub(super) aggravating: Vec<Vec<DrillKey>>,
    pub(super) facts: Facts,
    /// Everything that some drill needs, by stem, but for what is always at hand.
    pub(super) things: FastSet<String>,
    /// For each stem the names that have it, by their place.
    pub(super) in_names: FastMap<WordKey, Vec<u32>>,
    /// For each name how much all its words say.
    pub(super) whole_names: Vec<f64>,
}

impl DrillIndex {
    /// An index over the drills that are not retired, in memory.
    ///
    /// # Errors
    ///
    /// When there is no memory for it.
    pub fn new(base: &KnowledgeBase) -> Result<Self, IndexError> {
        let mut cutter = Cutter::new(&Arc::new(Trade::new(&base.spoken)));
        let cut = CutCondition::all(&mut cutter, base);
        let texts = Texts::read(&mut cutter, base, &cut, None)?;
        let reader = Arc::new(Reader::with(&mut cutter, base, cut));
        Ok(Self::of(&mut cutter, base, reader, texts))
    }

    /// The same beside what reads words in that library already, which is then not held twice.
    ///
    /// # Errors
    ///
    /// As [`Self::new`].
    pub fn beside(base: &KnowledgeBase, reader: Arc<Reader>) -> Result<Self, IndexError> {
        let mut cutter = Cutter::new(&Arc::new(Trade::new(&base.spoken)));
        let cut = CutCondition::all(&mut cutter, base);
        let texts = Texts::read(&mut cutter, base, &cut, None)?;
        Ok(Self::of(&mut cutter, base, reader, texts))
    }

    /// The same, kept in a folder between two commands. The folder may be missing, read-only or full:
    /// then the index is built in memory all the same. `base` must have its own content hash.
    ///
    /// # Errors
    ///
    /// When there is no memory for it.
    pub fn kept_in(folder: &Path, base: &KnowledgeBase) -> Result<(Self, Kept), IndexError> {
        let mut cutter = Cutter::new(&Arc::new(Trade::new(&base.spoken)));
        let cut = CutCondition::all(&mut cutter, base);
        let name = kept::name_of(base);
        let found = kept::read(folder, &name);
        if let Some(texts) = found.and_then(|parts| Texts::of_parts(&mut cutter, base, parts)) {
            let reader = Arc::new(Reader::with(&mut cutter, base, cut));
            return Ok((Self::of(&mut cutter, base, reader, texts), Kept::Found));
        }
        let texts = Texts::read(&mut cutter, base, &cut, None)?;
        let written = texts
            .parts()
            .is_some_and(|parts| kept::write(folder, &name, &parts).is_ok());
        let kept = if written { Kept::Written } else { Kept::Not };
        let reader = Arc::new(Reader::with(&mut cutter, base, cut));
        Ok((Self::of(&mut cutter, base, reader, texts), kept))
    }

    pub(super) fn of(
        cutter: &mut Cutter,
        base: &KnowledgeBase,
        reader: Arc<Reader>,
        texts: Texts,
    ) -> Self {
        let mut in_names: FastMap<WordKey, Vec<u32>> = FastMap::default();
        for (place, (_, stems)) in (0..).zip(&texts.names) {
            for stem in stems {
                in_names.entry(*stem).or_default().push(place);
            }
        }
        let whole = |(_, stems): &(DrillKey, Vec<WordKey>)| -> f64 {
            stems.iter().map(|key| texts.lexicon.weight(*key)).sum()
        };
        let whole_names = texts.names.iter().map(whole).collect();
        let conditions = base.conditions.len();
        let mut treating = vec![Vec::new(); conditions];
        let (mut barred, mut aggravating) =
            (vec![Vec::new(); conditions], vec![Vec::new(); conditions]);
        for key in base.drill_keys() {
            let drill = base.drill(key);
            if drill.retired_for.is_none() {
                for treats in &drill.treats {
                    treating[treats.condition.0].push((key, treats.effect.get()));
                }
                for condition in &drill.not_with {
                    barred[condition.0].push(key);
                }
                for condition in &drill.aggravates {
                    aggravating[condition.0].push(key);
                }
            }
        }
        // `wedge` says which shot it is about more often than what is needed.
        let trade = Arc::clone(cutter.trade());
        let clubs = trade.clubs.iter().chain(&trade.places);
        let clubs: FastSet<String> = clubs.map(|word| cutter.stem(word)).collect();
        let facts = Facts::new(cutter, base);
        let things = facts.things().filter(|thing| !clubs.contains(*thing));
        let things = things.map(str::to_owned).collect();
        Self {
            reader,
            texts,
            treating,
            barred,
            aggravating,
            facts,
            things,
            in_names,
            whole_names,
        }
    }

    /// The reader of the same library.
    #[must_use]
    pub fn reader(&self) -> &Reader {
        &self.reader
    }
}
