//! Names and aliases word for word.

use super::term::{Cutter, FastMap, TextId};
use crate::knowledge::ConditionKey;
use foldhash::fast::RandomState;
use std::collections::hash_map::Entry;
use std::hash::{BuildHasher, Hash, Hasher};

/// A name or an alias of an entry, or its id.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Saying {
    /// The entry whose name or alias it is.
    pub(crate) of: ConditionKey,
    /// Which of its forms; 0 is the name.
    pub(crate) form: usize,
    /// The entry that is meant: the same, or its successor.
    pub(crate) means: ConditionKey,
}

/// Sayings by the hash of the words that they carry. A library has thousands and a phrase asks for a
/// handful, so they are kept without their words, which are compared when two hashes are the same.
#[derive(Default)]
pub(crate) struct Sayings {
    hasher: RandomState,
    /// All of them in the order added, each with the next of its hash.
    all: Vec<(Saying, Option<u32>)>,
    /// The first and the last saying of each hash.
    ends: FastMap<u64, (u32, u32)>,
}

impl Sayings {
    /// Adds a saying with its words, in the order of their entries.
    pub(crate) fn add(&mut self, cutter: &mut Cutter, words: &[TextId], saying: Saying) {
        let bare = bare(cutter, words);
        self.add_under(self.hash(cutter, &bare), saying);
    }

    fn add_under(&mut self, hash: u64, saying: Saying) {
        let place = u32::try_from(self.all.len()).expect("fewer sayings than four milliards");
        self.all.push((saying, None));
        match self.ends.entry(hash) {
            Entry::Vacant(slot) => {
                slot.insert((place, place));
            }
            Entry::Occupied(mut slot) => {
                let (_, last) = slot.get_mut();
                self.all[*last as usize].1 = Some(place);
                *last = place;
            }
        }
    }

    /// The sayings that have these very words, shorthand written out, in the order of their entries.
    pub(crate) fn as_written<'r>(
        &self,
        cutter: &mut Cutter,
        words: &[TextId],
        text: impl Fn(Saying) -> &'r str,
    ) -> Vec<Saying> {
        let stems = bare(cutter, words);
        let mut found = self.under(self.hash(cutter, &stems));
        found.retain(|saying| cutter.words(text(*saying)) == words);
        found
    }

    /// The sayings that have these words but for fillers and endings, in the order of their entries.
    pub(crate) fn bare<'r>(
        &self,
        cutter: &mut Cutter,
        words: &[TextId],
        text: impl Fn(Saying) -> &'r str,
    ) -> Vec<Saying> {
        let stems = bare(cutter, words);
        let mut found = self.under(self.hash(cutter, &stems));
        let typed: Vec<TextId> = words.iter().map(|word| cutter.stem_id(*word)).collect();
        found.retain(|saying| {
            let words = cutter.words(text(*saying));
            // All but one word of `lean on it` is small, and makes it what it is: `leaning back` is not that.
            let whole = |cutter: &mut Cutter| {
                let stems = words.iter().map(|word| cutter.stem_id(*word));
                stems.eq(typed.iter().copied())
            };
            bare(cutter, &words) == stems
                && (stems.len() > 1 || words.len() < 3 || saying.form == 0 || whole(cutter))
        });
        found
    }

    fn under(&self, hash: u64) -> Vec<Saying> {
        let first = self.ends.get(&hash).map(|(first, _)| *first);
        let places = std::iter::successors(first, |place| self.all[*place as usize].1);
        places.map(|place| self.all[place as usize].0).collect()
    }

    fn hash(&self, cutter: &Cutter, words: &[TextId]) -> u64 {
        let mut hasher = self.hasher.build_hasher();
        for word in words {
            cutter.text(*word).hash(&mut hasher);
        }
        hasher.finish()
    }
}

/// The stems without what carries nothing; all of them when nothing else is left.
fn bare(cutter: &mut Cutter, words: &[TextId]) -> Vec<TextId> {
    let mut stems = Vec::with_capacity(words.len());
    for word in words {
        if !cutter.is_filler(*word) {
            stems.push(cutter.stem_id(*word));
        }
    }
    if stems.is_empty() {
        stems.extend(words.iter().map(|word| cutter.stem_id(*word)));
    }
    stems
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The names of as many entries.
    fn learned(cutter: &mut Cutter, texts: &[&str]) -> Sayings {
        let mut sayings = Sayings::default();
        for (number, text) in texts.iter().enumerate() {
            let of = ConditionKey(number);
            let words = cutter.words(text);
            let saying = Saying {
                of,
                form: 0,
                means: of,
            };
            sayings.add(cutter, &words, saying);
        }
        sayings
    }

    #[test]
    fn a_way_is_found_by_its_words_and_by_what_they_carry() {
        let texts = ["Over the top", "chunked wedges", "the"];
        let sayings = learned(&mut Cutter::new(&Default::default()), &texts);
        let mut other = Cutter::new(&Default::default());
        let mut found = |typed: &str| {
            let words = other.words(typed);
            let text = |saying: Saying| texts[saying.of.0];
            let numbers = |sayings: Vec<Saying>| -> Vec<usize> {
                sayings.into_iter().map(|saying| saying.of.0).collect()
            };
            (
                numbers(sayings.as_written(&mut other, &words, text)),
                numbers(sayings.bare(&mut other, &words, text)),
            )
        };
        assert_eq!(found("over THE top"), (vec![0], vec![0]));
        assert_eq!(found("chunks wedge"), (vec![], vec![1]));
        assert_eq!(found("the"), (vec![2], vec![2]));
        assert_eq!(found("wedges chunked"), (vec![], vec![]));
    }

    #[test]
    fn words_with_the_same_hash_are_told_apart() {
        let mut cutter = Cutter::new(&Default::default());
        let texts = ["thin", "fat"];
        let words = cutter.words("fat");
        let mut sayings = Sayings::default();
        let same = sayings.hash(&cutter, &words);
        for (number, _) in texts.iter().enumerate() {
            let of = ConditionKey(number);
            let saying = Saying {
                of,
                form: 0,
                means: of,
            };
            sayings.add_under(same, saying);
        }
        let found = sayings.as_written(&mut cutter, &words, |saying| texts[saying.of.0]);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].of, ConditionKey(1));
    }
}
