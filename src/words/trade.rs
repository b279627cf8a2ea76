//! The words of a library made ready for reading: shorthand, slang, opposites, words that say nothing,
//! clubs that give away the shot. All of them stand in YAML (`knowledge/words/`); here they are only
//! put where they are found quickly.

use super::term::{FastMap, FastSet};
use crate::knowledge::{LibraryWords, Shot, Stage, WordUse};

/// The words of a shorthand, and what it stands for.
pub(crate) type Shorthand = (Vec<String>, String);

/// A library's words by what they do.
#[derive(Default)]
pub(crate) struct Trade {
    lists: FastMap<WordUse, FastSet<String>>,
    /// Phrases of shorthand by their first word, longest first.
    shorthand: FastMap<String, Vec<Shorthand>>,
    hints: FastMap<String, Vec<Shot>>,
    stages: FastMap<String, Vec<Stage>>,
    /// Words that mean the same, group by group.
    pub(crate) same: Vec<Vec<String>>,
    /// Words that shut each other out, side by side.
    pub(crate) opposites: Vec<(Vec<String>, Vec<String>)>,
    /// Clubs; and places and kinds of shot, which say more.
    pub(crate) clubs: Vec<String>,
    pub(crate) places: Vec<String>,
}

impl Trade {
    pub(crate) fn new(spoken: &LibraryWords) -> Self {
        let mut trade = Self::default();
        for list in &spoken.word_lists {
            if list.used_as == WordUse::Stage {
                for word in &list.say {
                    let stages = trade.stages.entry(word.clone()).or_default();
                    stages.extend(&list.stages);
                }
            }
            let words = trade.lists.entry(list.used_as).or_default();
            words.extend(list.say.iter().cloned());
        }
        if let Some(half) = trade.lists.get(&WordUse::HalfFiller).cloned()
            && let Some(fillers) = trade.lists.get_mut(&WordUse::Filler)
        {
            fillers.retain(|word| !half.contains(word));
        }
        for text in &spoken.shorthand {
            for phrase in &text.say {
                let phrase: Vec<String> = phrase.split(' ').map(str::to_owned).collect();
                let under = trade.shorthand.entry(phrase[0].clone()).or_default();
                // What a later layer says of the same words takes the place of what was said before.
                under.retain(|(known, _)| *known != phrase);
                under.push((phrase, text.means.clone()));
            }
        }
        for phrases in trade.shorthand.values_mut() {
            phrases.sort_by_key(|(phrase, _)| std::cmp::Reverse(phrase.len()));
        }
        for club in &spoken.clubs {
            for word in &club.say {
                let shots = trade.hints.entry(word.clone()).or_default();
                shots.extend(
                    club.shots
                        .iter()
                        .filter(|shot| !shots.contains(shot))
                        .copied()
                        .collect::<Vec<_>>(),
                );
                let list = if club.place {
                    &mut trade.places
                } else {
                    &mut trade.clubs
                };
                list.push(word.clone());
            }
        }
        trade.same = spoken
            .synonyms
            .iter()
            .map(|text| text.say.clone())
            .collect();
        trade.opposites = spoken
            .opposites
            .iter()
            .map(|text| (text.say.clone(), text.against.clone()))
            .collect();
        trade
    }

    /// Whether a word stands in a list.
    pub(crate) fn is(&self, used_as: WordUse, word: &str) -> bool {
        self.lists
            .get(&used_as)
            .is_some_and(|words| words.contains(word))
    }

    /// The words of a list, in no order.
    pub(crate) fn list(&self, used_as: WordUse) -> impl Iterator<Item = &str> {
        let words = self.lists.get(&used_as).into_iter().flatten();
        words.map(String::as_str)
    }

    /// Whether a word carries nothing, or next to nothing.
    pub(crate) fn is_filler(&self, word: &str) -> bool {
        self.is(WordUse::Filler, word)
    }

    /// The shots that a word gives away; none for most words.
    pub(crate) fn hints(&self, word: &str) -> &[Shot] {
        self.hints.get(word).map_or(&[], Vec::as_slice)
    }

    /// Phrases of shorthand that start with a word, longest first.
    pub(crate) fn shorthand(&self, first: &str) -> &[Shorthand] {
        self.shorthand.get(first).map_or(&[], Vec::as_slice)
    }

    /// Everything that shorthand is written out as.
    pub(crate) fn written_out(&self) -> impl Iterator<Item = &str> {
        let phrases = self.shorthand.values().flatten();
        phrases.flat_map(|(_, means)| means.split(' '))
    }

    /// The stages that a word names.
    pub(crate) fn stages(&self, word: &str) -> &[Stage] {
        self.stages.get(word).map_or(&[], Vec::as_slice)
    }
}
