//! What was typed, before anything of it is read.

use super::observation::State;

/// What a coach typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reported {
    /// Seen.
    pub seen: Vec<String>,
    /// Looked for on the tool's advice, and there.
    pub found: Vec<String>,
    /// Looked for and not seen.
    pub not_seen: Vec<String>,
    /// Seen slightly, or in an unsure look.
    pub slight: Vec<String>,
    /// `quantity=value`, with or without the unit.
    pub measured: Vec<String>,
    /// `id=ratio`.
    pub likelihood: Vec<String>,
    /// Ids of facts about the student.
    pub facts: Vec<String>,
    /// `words=id`: what words mean, when they were misread.
    pub read: Vec<String>,
}

impl Reported {
    /// The notes, each list with the state that it stands for, in the order in which they are read.
    pub(super) fn notes(&self) -> [(&Vec<String>, State); 4] {
        [
            (&self.seen, State::Seen),
            (&self.found, State::Found),
            (&self.not_seen, State::NotSeen),
            (&self.slight, State::Slight),
        ]
    }

    /// Every note, in that order.
    pub(super) fn every_note(&self) -> impl Iterator<Item = &String> {
        self.notes().into_iter().flat_map(|(list, _)| list)
    }

    /// How many findings it reports.
    pub(super) fn count(&self) -> usize {
        self.every_note().count() + self.measured.len() + self.likelihood.len()
    }

    /// Whether nothing was typed at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        [
            &self.seen,
            &self.found,
            &self.not_seen,
            &self.slight,
            &self.measured,
            &self.likelihood,
        ]
        .iter()
        .all(|list| list.is_empty())
    }
}
