//! Names and aliases word for word.

use super::term::{Cutter, TextId};
use crate::knowledge::ConditionKey;
use foldhash::fast::RandomState;
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

/// Sayings by the hash of their words. A library has thousands and a phrase asks for a handful, so they
/// are kept without their words, which are compared when two hashes are the same.
#[derive(Default)]
pub(crate) struct Sayings {
    hasher: RandomState,
    as_written: Vec<(u64, Saying)>,
    bare: Vec<(u64, Saying)>,
}

impl Sayings {
    /// Adds a saying with its words; [`Self::sort`] comes after the last.
    pub(crate) fn add(&mut self, cutter: &mut Cutter, words: &[TextId], saying: Saying) {
        let hash = self.hash(cutter, words);
        self.as_written.push((hash, saying));
        let bare = bare(cutter, words);
        let hash = self.hash(cutter, &bare);
        self.bare.push((hash, saying));
    }

    /// Makes what was added ready to be found.
    pub(crate) fn sort(&mut self) {
        self.as_written.sort_unstable();
        self.bare.sort_unstable();
    }

    /// The sayings that have these very words, shorthand written out, in the order of their entries.
    pub(crate) fn as_written<'r>(
        &self,
        cutter: &mut Cutter,
        words: &[TextId],
        text: impl Fn(Saying) -> &'r str,
    ) -> Vec<Saying> {
        let hash = self.hash(cutter, words);
        let mut found = under(&self.as_written, hash);
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
        let hash = self.hash(cutter, &stems);
        let mut found = under(&self.bare, hash);
        found.retain(|saying| {
            let words = cutter.words(text(*saying));
            bare(cutter, &words) == stems
        });
        found
    }

    fn hash(&self, cutter: &Cutter, words: &[TextId]) -> u64 {
        let mut hasher = self.hasher.build_hasher();
        for word in words {
            cutter.text(*word).hash(&mut hasher);
        }
        hasher.finish()
    }
}

fn under(sayings: &[(u64, Saying)], hash: u64) -> Vec<Saying> {
    let from = sayings.partition_point(|(other, _)| *other < hash);
    let found = sayings[from..]
        .iter()
        .take_while(|(other, _)| *other == hash);
    found.map(|(_, saying)| *saying).collect()
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

    /// The names of as many entries, not sorted yet.
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
        let mut sayings = learned(&mut Cutter::new(&Default::default()), &texts);
        sayings.sort();
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
        let mut sayings = learned(&mut cutter, &texts);
        let same = sayings.as_written[1].0;
        sayings.as_written[0].0 = same;
        sayings.sort();
        let words = cutter.words("fat");
        let found = sayings.as_written(&mut cutter, &words, |saying| texts[saying.of.0]);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].of, ConditionKey(1));
    }
}
