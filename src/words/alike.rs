//! What a clause says of the body by its likeness to what people say.
//!
//! Ways of saying (`body.rs`) are exact and end where their author's ear ended: of phrases that others
//! wrote without sight of them, they met about three in five. A clause in which none is met is compared as
//! a whole with phrases of each sort, with talk of golf that holds the same words, and with the names of
//! the library: each votes by its likeness (`kernel.rs`), and what gets more than its share of the votes is
//! heard. Over three sets of hard phrases, each read by the two others, three in five became 83 of 100,
//! with 4 in 100 of the talk of golf in those sets heard wrongly.

use super::kernel::Kernel;
use crate::knowledge::{BodyRole, BodyWords, KnowledgeBase, Refer};

/// The share of its likeness with which a clause is heard as one about the body: more of it where the
/// clause was read as something else by free words, and in a long note, where a pain is mostly named
/// and many a clause (`fair play to her`) speaks of nothing. Of fresh notes without a pain 2 in 60 and
/// of fresh reports of the body 7 in 135 were then heard wrongly.
#[must_use]
pub fn sure(short_note: bool, read: bool) -> f64 {
    match (short_note, read) {
        (true, false) => 0.45,
        (true, true) | (false, false) => 0.55,
        (false, true) => 0.7,
    }
}

/// Votes of the library's names count so much: there are many of them, and each is short.
const A_NAME: f64 = 0.2;
/// So many of an entry's aliases are compared; the first ones are the plainest.
const ALIASES: usize = 6;
/// With fewer votes for the body than this nothing is near: half a phrase said alike gives an eighth.
const LEAST: f64 = 0.05;

/// Phrases of each sort, ready to vote.
pub(super) struct Alike {
    kernel: Kernel,
    /// For each meaning but the last two the body words that say it.
    entries: Vec<usize>,
}

impl Alike {
    pub(super) fn new(base: &KnowledgeBase, words: &[BodyWords]) -> Self {
        let entries: Vec<usize> = (0..words.len())
            .filter(|entry| !words[*entry].alike.is_empty())
            .collect();
        let name = entries.len();
        let said = entries.iter().enumerate().flat_map(|(meaning, entry)| {
            let phrases = words[*entry].alike.iter();
            phrases.map(move |phrase| (phrase.as_str(), meaning))
        });
        let golf = base.conditions.iter().filter(|c| !c.is_pain());
        let names = golf.flat_map(|condition| {
            let aliases = condition.aliases.iter().take(ALIASES);
            [&condition.name].into_iter().chain(aliases)
        });
        let names = names.map(|text| (text.as_str(), name));
        Self {
            kernel: Kernel::new(said.chain(names), name + 1),
            entries,
        }
    }

    /// The place of the body words that a clause is most like, if more than the share `sure` of its likeness
    /// is to reports of the body, and less to what is said of somebody well again.
    pub(super) fn of(&self, clause: &str, sure: f64, words: &[BodyWords]) -> Option<usize> {
        let votes = self.kernel.votes(clause);
        let of = |wanted: &dyn Fn(&BodyWords) -> bool| -> f64 {
            let entries = self.entries.iter().zip(&votes);
            let wanted = entries.filter(|(entry, _)| wanted(&words[**entry]));
            wanted.map(|(_, votes)| votes).sum()
        };
        let reports = of(&|words| words.refer.is_some());
        let well = of(&|words| words.role == Some(BodyRole::Over));
        let golf = of(&|words| words.role == Some(BodyRole::Trade));
        let names = A_NAME * votes[self.entries.len()];
        if reports < LEAST || reports <= sure * (reports + golf + names) || well > reports {
            return None;
        }
        // Too urgent costs a telephone call, too little more than that: what needs help at once is said
        // with as much as a quarter of the votes.
        let urgent = of(&|words| words.refer == Some(Refer::Emergency));
        let urgent = urgent * 4.0 > reports;
        self.most(&votes, words, |words| {
            words
                .refer
                .is_some_and(|refer| !urgent || refer == Refer::Emergency)
        })
    }

    fn most(
        &self,
        votes: &[f64],
        words: &[BodyWords],
        wanted: impl Fn(&BodyWords) -> bool,
    ) -> Option<usize> {
        let entries = self.entries.iter().zip(votes);
        let wanted = entries.filter(|(entry, _)| wanted(&words[**entry]));
        wanted
            .max_by(|a, b| a.1.total_cmp(b.1))
            .map(|(entry, _)| *entry)
    }
}
