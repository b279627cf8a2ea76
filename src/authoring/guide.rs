//! Asking for an entry, one question after the other, with a way back.

use super::EntryKind;
use super::answers::in_words;
use super::dialogue::Respondent;
use super::questions::questions;
use crate::knowledge::{KnowledgeBase, LibraryFile, library_text};
use crate::words::Readers;
use serde_json::{Map, Value, json};

/// How a question was left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// It was answered, or passed over.
    On,
    /// Back to the one before.
    Back,
    /// Nothing is to be saved.
    Quit,
}

/// An entry being asked for.
pub struct Guide<'b> {
    pub(super) kind: EntryKind,
    pub(super) base: &'b KnowledgeBase,
    pub(super) readers: Readers<'b>,
    pub(super) answers: Vec<Option<Value>>,
    /// The entry that is changed; what no question asks of it stays as it is.
    pub(super) standing: Map<String, Value>,
    /// The question to ask next.
    next: usize,
}

impl<'b> Guide<'b> {
    /// A guide with nothing answered yet.
    #[must_use]
    pub fn new(kind: EntryKind, base: &'b KnowledgeBase) -> Self {
        Self {
            kind,
            base,
            readers: Readers::new(base),
            answers: vec![None; questions(kind).len()],
            standing: Map::new(),
            next: 0,
        }
    }

    /// A guide through a change of an entry: its answers are those of the entry, and what an answer
    /// leaves as it was, sources and all, stays word for word.
    #[must_use]
    pub fn over(kind: EntryKind, base: &'b KnowledgeBase, alone: &LibraryFile) -> Self {
        let mut guide = Self::new(kind, base);
        let file = serde_json::to_value(alone).unwrap_or_default();
        if let Some(entry) = file[kind.list()][0].as_object() {
            guide.standing.clone_from(entry);
            guide.answers = questions(kind).iter().map(|q| q.of(entry)).collect();
        }
        guide
    }

    /// Asks every question, first to last, or from where answers that were taken up leave off.
    pub fn run(&mut self, dialogue: &mut dyn Respondent) -> Turn {
        dialogue.say("Enter passes a question over, < goes back to the one before, q! leaves without saving.");
        while self.next < self.answers.len() {
            match self.question(self.next, dialogue) {
                Turn::On => self.next += 1,
                Turn::Back => self.next = self.next.saturating_sub(1),
                Turn::Quit => return Turn::Quit,
            }
            if let Some(at) = self.looked_at_nothing().filter(|at| self.next > *at) {
                dialogue.say("From where is said, but not what is seen from there.");
                self.next = at;
            }
            dialogue.keep(&json!({ "next": self.next, "answers": self.answers }));
        }
        Turn::On
    }

    /// The question what to look for, when it is not answered and from where is.
    fn looked_at_nothing(&self) -> Option<usize> {
        let all = questions(self.kind);
        let place = |key: &str| all.iter().position(|question| question.key == key);
        let (what, from) = (place("look.for")?, place("look.from")?);
        (self.answers[what].is_none() && self.answers[from].is_some()).then_some(what)
    }

    /// Takes up the answers that [`Respondent::keep`] was told; whether there are any.
    pub fn take_up(&mut self, kept: &Value) -> bool {
        let answers: Option<Vec<Option<Value>>> =
            serde_json::from_value(kept["answers"].clone()).ok();
        let fits = answers.filter(|answers| answers.len() == self.answers.len());
        let Some(answers) = fits.filter(|answers| answers.iter().any(Option::is_some)) else {
            return false;
        };
        self.next = kept["next"].as_u64().map_or(0, |next| {
            usize::try_from(next).unwrap_or_default().min(answers.len())
        });
        self.answers = answers;
        true
    }

    /// The questions with their answers, numbered from 1 as [`Guide::again`] takes them.
    #[must_use]
    pub fn answers(&self) -> Vec<(usize, &'static str, String)> {
        let all = questions(self.kind).iter().zip(&self.answers).enumerate();
        all.map(|(at, (question, answer))| {
            (
                at + 1,
                question.key,
                answer.as_ref().map(in_words).unwrap_or_default(),
            )
        })
        .collect()
    }

    /// Asks one question again, by its number.
    pub fn again(&mut self, number: usize, dialogue: &mut dyn Respondent) -> Turn {
        match number.checked_sub(1).filter(|at| *at < self.answers.len()) {
            Some(at) => {
                let turn = self.question(at, dialogue);
                dialogue.keep(&json!({ "next": self.next, "answers": self.answers }));
                turn
            }
            None => {
                dialogue.say(&format!(
                    "The questions are numbered from 1 to {}.",
                    self.answers.len()
                ));
                Turn::On
            }
        }
    }

    /// The entry as a library file.
    ///
    /// # Errors
    ///
    /// What keeps the answers from being an entry; the questions leave nothing of the sort, except
    /// when a needed one was never asked.
    pub fn text(&self) -> Result<String, String> {
        let mut entry = self.standing.clone();
        for (question, answer) in questions(self.kind).iter().zip(&self.answers) {
            put(&mut entry, question.key, answer.as_ref());
        }
        if self.looked_at_nothing().is_some() {
            return Err(
                "it is said from where to look, but not what is seen from there".to_owned(),
            );
        }
        let file = json!({ self.kind.list(): [entry] });
        let file: LibraryFile = serde_json::from_value(file).map_err(|error| error.to_string())?;
        library_text(&file).map_err(|error| error.to_string())
    }
}

/// Puts an answer under its key, with a `.` before an inner one; none takes the key out.
fn put(entry: &mut Map<String, Value>, key: &str, answer: Option<&Value>) {
    match (key.split_once('.'), answer) {
        (None, Some(answer)) => {
            entry.insert(key.to_owned(), answer.clone());
        }
        (None, None) => {
            entry.remove(key);
        }
        (Some((outer, inner)), Some(answer)) => {
            let group = entry.entry(outer).or_insert_with(|| json!({}));
            group[inner] = answer.clone();
        }
        (Some((outer, inner)), None) => {
            if let Some(group) = entry.get_mut(outer).and_then(Value::as_object_mut) {
                group.remove(inner);
                if group.is_empty() {
                    entry.remove(outer);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{LayerText, Stage, Strictness, View, library_file, load};
    use std::collections::VecDeque;

    /// Answers from a list, and keeps what was said.
    struct Script {
        answers: VecDeque<&'static str>,
        said: Vec<String>,
        kept: Value,
    }

    impl Script {
        fn new(answers: &[&'static str]) -> Self {
            Self {
                answers: answers.iter().copied().collect(),
                said: Vec::new(),
                kept: Value::Null,
            }
        }
    }

    impl Respondent for Script {
        fn say(&mut self, text: &str) {
            self.said.push(text.to_owned());
        }

        fn ask(&mut self, _: &str) -> Option<String> {
            self.answers.pop_front().map(str::to_owned)
        }

        fn keep(&mut self, answers: &Value) {
            self.kept = answers.clone();
        }
    }

    fn base() -> KnowledgeBase {
        let text = "faults:\n- {id: hangs-back, name: Hangs back, stage: downswing}\n- {id: hips-hang, name: Hips hang, stage: top}\n";
        load(
            &[LayerText::new("small", [("a.yaml", text)])],
            Strictness::ErrorsOnly,
        )
        .expect("loads")
        .base
    }

    #[test]
    fn a_link_is_asked_for_with_ids_by_part_of_a_name_and_a_way_back() {
        let base = base();
        let mut guide = Guide::new(EntryKind::Link, &base);
        // "hang" fits two; then the effect is answered wrongly, and taken back.
        let mut script = Script::new(&[
            "hang",
            "7",
            "1",
            "hips hang",
            "<",
            "hips-hang",
            "often",
            "4 of 10",
            "It pulls",
            "<",
            "It drags",
            "",
        ]);
        assert_eq!(guide.run(&mut script), Turn::On);
        let file = library_file(&guide.text().expect("an entry")).expect("reads");
        assert_eq!(file.links[0].cause, "hangs-back");
        assert_eq!(file.links[0].effect, "hips-hang");
        assert_eq!(file.links[0].share, Some(0.4));
        assert_eq!(file.links[0].because.as_deref(), Some("It drags"));
        assert!(
            script
                .said
                .iter()
                .any(|said| said.contains("Write a number from 1 to 2"))
        );
        assert!(
            script
                .said
                .iter()
                .any(|said| said.contains("is no share of ten"))
        );
    }

    #[test]
    fn a_drill_needs_few_answers_and_one_can_be_given_again() {
        let base = base();
        let mut guide = Guide::new(EntryKind::Drill, &base);
        let mut script = Script::new(&[
            "",
            "Heel peel",
            "",
            "",
            "setup",
            "hangs-back",
            "",
            "",
            "down",
            "iron, chip",
            "",
            "",
            "",
            "Step one",
            "Step two",
            "<",
            "Step 2",
            "",
            "",
            "",
            "",
            "",
            "",
            "3",
            "x",
            "8",
        ]);
        script.answers.extend(std::iter::repeat_n("", 10));
        assert_eq!(guide.run(&mut script), Turn::On);
        let number = guide
            .answers()
            .iter()
            .find(|(_, key, _)| *key == "purpose")
            .map(|(number, ..)| *number);
        let mut again = Script::new(&["Let the heel go"]);
        assert_eq!(guide.again(number.expect("asked"), &mut again), Turn::On);
        let file = library_file(&guide.text().expect("an entry")).expect("reads");
        let drill = &file.drills[0];
        assert_eq!((drill.id.as_str(), drill.steps.len()), ("heel-peel", 2));
        assert_eq!(drill.steps[1], "Step 2");
        assert_eq!(drill.purpose.as_deref(), Some("Let the heel go"));
        assert_eq!(drill.stage, Some(Stage::Downswing));
        assert_eq!(
            drill.dose.map(|dose| (dose.sets, dose.reps)),
            Some((Some(3), Some(8)))
        );
    }

    #[test]
    fn from_where_is_not_dropped_and_answers_are_taken_up() {
        let base = base();
        let mut guide = Guide::new(EntryKind::Fault, &base);
        let answers = [
            "Sways",
            "",
            "",
            "backswing",
            "",
            "",
            "face-on",
            "The hips slide",
            "",
        ];
        let mut script = Script::new(&answers);
        // The answers run out, as when the terminal is closed.
        assert_eq!(guide.run(&mut script), Turn::Quit);
        assert!(
            script
                .said
                .iter()
                .any(|said| said.contains("not what is seen from there"))
        );
        let mut again = Guide::new(EntryKind::Fault, &base);
        assert!(again.take_up(&script.kept));
        assert!(!again.take_up(&json!({"answers": []})));
        let mut rest = Script::new(&[""; 3]);
        assert_eq!(again.run(&mut rest), Turn::On);
        let file = library_file(&again.text().expect("an entry")).expect("reads");
        let look = file.faults[0].look.as_ref().expect("kept");
        assert_eq!(
            (look.from.as_slice(), look.what.as_str()),
            (&[View::FaceOn][..], "The hips slide")
        );
    }

    #[test]
    fn leaving_and_running_out_of_answers_end_it() {
        let base = base();
        for answers in [&["q!"][..], &[], &["A name", "q!"]] {
            let mut guide = Guide::new(EntryKind::Drill, &base);
            assert_eq!(guide.run(&mut Script::new(answers)), Turn::Quit);
        }
    }
}
