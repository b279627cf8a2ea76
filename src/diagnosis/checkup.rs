//! A check-up as a dialogue: what was read first, then looks answered one by one, the order moving after
//! each. Every door that asks a coach to look goes through it; it knows no terminal and no page.

use super::answer::{Diagnosis, NextLook};
use super::asked::Asked;
use super::diagnose::{DiagnosisError, diagnose};
use super::observation::{Observation, State};
use crate::causal::Row;
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::words::ReadBy;
use std::collections::BTreeMap;

/// What a coach answers to a look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// It is there.
    Yes,
    /// It was looked for, and is not there.
    No,
    /// It is there slightly, or the look was unsure.
    Slight,
    /// Not looked for now; it is not put again.
    Later,
}

impl Answer {
    /// Every answer, in the order in which they are offered.
    pub const ALL: [Answer; 4] = [Answer::Yes, Answer::No, Answer::Slight, Answer::Later];

    /// The word for it, in a file and in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Answer::Yes => "yes",
            Answer::No => "no",
            Answer::Slight => "slight",
            Answer::Later => "later",
        }
    }

    /// The answer with this word, if there is one.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|answer| answer.as_str() == word)
    }

    fn state(self) -> Option<State> {
        match self {
            Answer::Yes => Some(State::Found),
            Answer::No => Some(State::NotSeen),
            Answer::Slight => Some(State::Slight),
            Answer::Later => None,
        }
    }
}

/// A lesson in the making.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckUp {
    read: Asked,
    answers: Vec<(ConditionKey, Answer)>,
    /// Rows that the records moved, whether or not their finding stands.
    learned: BTreeMap<ConditionKey, Row>,
}

impl CheckUp {
    /// Begins with what was read.
    #[must_use]
    pub fn new(mut read: Asked) -> Self {
        Self {
            learned: std::mem::take(&mut read.learned),
            read,
            answers: Vec::new(),
        }
    }

    /// Takes in rows that a coach's records moved; each counts for as long as its finding stands.
    pub fn learn(&mut self, rows: impl IntoIterator<Item = (ConditionKey, Row)>) {
        self.learned.extend(rows);
    }

    /// What was read, with every answer so far: the question that the order answers.
    #[must_use]
    pub fn asked(&self, base: &KnowledgeBase) -> Asked {
        let mut asked = self.read.clone();
        for (condition, answer) in &self.answers {
            let Some(state) = answer.state() else {
                continue;
            };
            asked.observations.push(Observation {
                given: base.condition(*condition).name.clone(),
                condition: *condition,
                state,
                read_by: ReadBy::Choice,
                perhaps: Vec::new(),
            });
        }
        let stands = |key: &ConditionKey| {
            let mut all = asked.observations.iter();
            all.any(|seen| seen.condition == *key && seen.state.is_finding())
        };
        asked.learned = self
            .learned
            .iter()
            .filter(|(key, _)| stands(key))
            .map(|(key, row)| (*key, row.clone()))
            .collect();
        asked
    }

    /// The order as it stands.
    ///
    /// # Errors
    ///
    /// As [`diagnose`].
    pub fn diagnosis(&self, base: &KnowledgeBase) -> Result<Diagnosis, DiagnosisError> {
        diagnose(base, &self.asked(base))
    }

    /// The look to put next: the best that was not put off.
    #[must_use]
    pub fn next_look<'d>(&self, diagnosis: &'d Diagnosis) -> Option<&'d NextLook> {
        self.next_looks(diagnosis).next()
    }

    /// Every look that was not put yet, best first.
    pub fn next_looks<'d>(
        &self,
        diagnosis: &'d Diagnosis,
    ) -> impl Iterator<Item = &'d NextLook> + use<'_, 'd> {
        let put = |key: ConditionKey| self.answers.iter().any(|(asked, _)| *asked == key);
        let looks = diagnosis.next_looks.iter();
        looks.filter(move |look| !put(look.condition))
    }

    /// Takes an answer in; a second answer to the same look takes the place of the first.
    pub fn answer(&mut self, condition: ConditionKey, answer: Answer) {
        self.answers.retain(|(asked, _)| *asked != condition);
        self.answers.push((condition, answer));
    }

    /// Takes the last answer back, and says which it was.
    pub fn take_back(&mut self) -> Option<(ConditionKey, Answer)> {
        self.answers.pop()
    }

    /// Every answer so far, first given first.
    #[must_use]
    pub fn answers(&self) -> &[(ConditionKey, Answer)] {
        &self.answers
    }

    /// What was read first, before any answer.
    #[must_use]
    pub fn read(&self) -> &Asked {
        &self.read
    }

    /// Puts another state in the place of what was read as `number`, counted as for [`Self::reread`].
    ///
    /// Returns whether there is such a reading.
    pub fn restate(&mut self, number: usize, state: State) -> bool {
        let place = number.checked_sub(1);
        let reading = place.and_then(|place| self.read.observations.get_mut(place));
        reading.is_some_and(|reading| {
            reading.state = state;
            true
        })
    }

    /// Puts another meaning in the place of what was read as `number`, counted from 1 over all that was
    /// read; `None` drops it. What else the words may have meant is settled by that.
    ///
    /// Returns whether there is such a reading.
    pub fn reread(&mut self, number: usize, meant: Option<ConditionKey>) -> bool {
        let Some(place) = number.checked_sub(1) else {
            return false;
        };
        let readings = &mut self.read.observations;
        let Some(reading) = readings.get_mut(place) else {
            return false;
        };
        match meant {
            Some(condition) => {
                reading.condition = condition;
                reading.read_by = ReadBy::Choice;
                reading.perhaps.clear();
            }
            None => {
                readings.remove(place);
            }
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{LayerText, Strictness, load};

    const HOLD: &str = "
outcomes:
  - {id: bends-away, name: Ball bends away, stage: ball-flight, caused_by: [{id: face-open, strength: 0.7}], behind: [{id: weak-hold, share: 0.4}, {id: face-open, share: 0.2}, {id: aimed-in, share: 0.2}]}
faults:
  - {id: weak-hold, name: Weak hold, stage: grip, look: {from: [face-on], for: Count the knuckles}, how_common: 0.3}
  - {id: aimed-in, name: Aimed in, stage: setup, look: {from: [down-the-line], for: Lay a stick down}, caused_by: [{id: weak-hold, strength: 0.1}]}
  - {id: face-open, name: Face open, stage: impact, look: {from: [face-on], for: See where it points}, caused_by: [{id: weak-hold, strength: 0.5}, {id: aimed-in, strength: 0.1}]}
";

    fn begun() -> (KnowledgeBase, CheckUp) {
        let layer = LayerText::new("test", [("a.yaml", HOLD)]);
        let base = load(&[layer], Strictness::ErrorsOnly).expect("sound").base;
        let seen = Observation {
            given: "bends away".to_owned(),
            condition: base.find("bends-away").expect("there"),
            state: State::Seen,
            read_by: ReadBy::Alias,
            perhaps: Vec::new(),
        };
        let checkup = CheckUp::new(Asked {
            observations: vec![seen],
            ..Asked::default()
        });
        (base, checkup)
    }

    /// A no moves the order, taking it back restores it to the last bit, and a look that was answered or
    /// put off is not put again.
    #[test]
    fn answers_move_the_order_and_can_be_taken_back() {
        let (base, mut checkup) = begun();
        let before = checkup.diagnosis(&base).expect("answers");
        let first = before.causes[0].condition;
        checkup.answer(first, Answer::No);
        let after = checkup.diagnosis(&base).expect("answers");
        assert_ne!(after.causes[0].condition, first);
        assert_ne!(
            checkup.next_look(&after).map(|look| look.condition),
            Some(first)
        );
        assert_eq!(checkup.take_back(), Some((first, Answer::No)));
        assert_eq!(checkup.diagnosis(&base).expect("answers"), before);
        let look = checkup.next_look(&before).expect("a look").condition;
        checkup.answer(look, Answer::Later);
        assert_eq!(checkup.diagnosis(&base).expect("answers"), before);
        assert_ne!(
            checkup.next_look(&before).map(|look| look.condition),
            Some(look)
        );
    }

    #[test]
    fn a_reading_is_corrected_or_dropped_by_its_number() {
        let (base, mut checkup) = begun();
        let hold = base.find("weak-hold");
        assert!(!checkup.reread(0, hold) && !checkup.reread(2, hold));
        assert!(checkup.reread(1, hold));
        assert_eq!(
            checkup.read().observations[0].condition,
            hold.expect("there")
        );
        assert!(checkup.reread(1, None));
        assert!(checkup.read().observations.is_empty());
        let nothing = checkup.diagnosis(&base).expect("answers");
        assert!(nothing.causes.is_empty());
    }

    #[test]
    fn every_answer_has_one_word() {
        for answer in Answer::ALL {
            assert_eq!(Answer::parse(answer.as_str()), Some(answer));
        }
        assert_eq!(Answer::parse("maybe"), None);
    }
}
