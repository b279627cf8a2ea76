//! Asking for an entry, one question after the other, with a way back.

use super::answers::{self, graded, in_words, one_of, over_standing, share, some_of};
use super::dialogue::{Prompted, Respondent, choose, gathered, line};
use super::questions::{GuideQuestion, Sort, example, questions};
use super::{EntryKind, kebab};
use crate::knowledge::words::{STRENGTH_WORDS, scale_line};
use crate::knowledge::{KnowledgeBase, LibraryFile, library_text, nearest};
use crate::lesson::Lesson;
use crate::words::{Readers, Reading};
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

/// Nobody to ask: what is said is kept for whoever filled in the form.
#[derive(Default)]
struct Nobody {
    said: Vec<String>,
}

impl Respondent for Nobody {
    fn say(&mut self, text: &str) {
        self.said.push(text.trim().to_owned());
    }

    fn ask(&mut self, _: &str) -> Option<String> {
        Some(String::new())
    }
}

/// An entry being asked for.
pub struct Guide<'b> {
    kind: EntryKind,
    base: &'b KnowledgeBase,
    readers: Readers<'b>,
    answers: Vec<Option<Value>>,
    /// The entry that is changed; what no question asks of it stays as it is.
    standing: Map<String, Value>,
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

    /// Each answer as it stands in a form, in the order of the fields: [`Self::put`] reads it back.
    #[must_use]
    pub fn in_a_form(&self) -> Vec<(&'static str, String)> {
        let all = questions(self.kind).iter().zip(&self.answers);
        all.map(|(question, answer)| {
            let text = answer.as_ref().map(|value| question.sort.in_a_form(value));
            (question.key, text.unwrap_or_default())
        })
        .collect()
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

    /// Takes an answer as it stands in a form; an empty one takes the answer out.
    ///
    /// # Errors
    ///
    /// What is wrong with it, and what to write instead.
    ///
    /// # Panics
    ///
    /// When there is no question of this number.
    pub fn put(&mut self, number: usize, text: &str) -> Result<(), String> {
        let question = questions(self.kind)[number - 1];
        let text = text.trim();
        if let Some(standing) = question.of(&self.standing) {
            if question
                .sort
                .same(&question.sort.in_a_form(&standing), text)
            {
                self.answers[number - 1] = Some(standing);
                return Ok(());
            }
            if matches!(question.sort, Sort::Id) {
                let id = in_words(&standing);
                return Err(format!("An id once used is kept: write {id}."));
            }
        }
        let lines = || text.lines().map(str::trim).filter(|line| !line.is_empty());
        let text = match question.sort {
            // A form without an id is asked for the one that its name gives.
            Sort::Id if text.is_empty() => self.offered_id().unwrap_or_default(),
            _ => text.split_whitespace().collect::<Vec<_>>().join(" "),
        };
        if text.is_empty() {
            self.answers[number - 1] = None;
            return if question.needed {
                Err("This one is needed.".to_owned())
            } else {
                Ok(())
            };
        }
        let ids = |drills| -> Result<Vec<String>, String> {
            lines().map(|words| self.named(words, drills)).collect()
        };
        let value = match question.sort {
            Sort::Id => self.id(&text)?,
            Sort::Line => Value::from(text),
            Sort::Lines => Value::from(lines().collect::<Vec<_>>()),
            Sort::OneOf(words) => Value::from(one_of(&words(), &text)?),
            Sort::SomeOf(words) => some_of(&words(), &text)?,
            Sort::Graded(scale) => graded(scale, &text)?,
            Sort::Share => share(&text)?,
            Sort::Number => answers::number(&text)?,
            Sort::Condition => Value::from(self.named(&text, false)?),
            Sort::Conditions => Value::from(ids(false)?),
            Sort::Drills => Value::from(ids(true)?),
            Sort::Weighed { key, reason } => {
                let standing = question.of(&self.standing).unwrap_or_default();
                let items = lines().map(|line| {
                    let item = self.weighed_line(line, key, reason)?;
                    Ok(over_standing(&standing, item, key))
                });
                Value::from(items.collect::<Result<Vec<_>, String>>()?)
            }
        };
        self.answers[number - 1] = Some(value);
        Ok(())
    }

    /// The id of the one entry that the words mean.
    fn named(&self, words: &str, drills: bool) -> Result<String, String> {
        let mut nobody = Nobody::default();
        let found = if drills {
            self.drill(words, &mut nobody)
        } else {
            self.condition(words, &mut nobody)
        };
        match found {
            Prompted::Got(id) => Ok(id),
            _ if nobody.said.len() > 1 => {
                // What was offered by number: `1  Name (id)`.
                let offers = nobody.said.iter();
                let offers = offers.filter_map(|said| Some(said.split_once("  ")?.1));
                let offers: Vec<&str> = offers.collect();
                Err(format!(
                    "\"{words}\" may be several: write {}",
                    offers.join(", or ")
                ))
            }
            _ => Err(nobody.said.pop().unwrap_or_default()),
        }
    }

    /// `words`, `words: how strongly` or `words: how strongly: why`.
    fn weighed_line(&self, line: &str, key: &str, reason: bool) -> Result<Value, String> {
        let mut parts = line.splitn(3, ':').map(str::trim);
        let id = self.named(parts.next().unwrap_or_default(), false)?;
        let weight = match parts.next().filter(|weight| !weight.is_empty()) {
            Some(weight) => graded(STRENGTH_WORDS, weight)?,
            None => Value::from(UNSAID),
        };
        let mut item = json!({ "id": id, key: weight });
        match parts.next().filter(|why| !why.is_empty()) {
            Some(why) if reason => item["because"] = Value::from(why),
            Some(_) => return Err(format!("\"{line}\" says more than how well it works")),
            None => {}
        }
        item["basis"] = Value::from(OWN_BASIS);
        Ok(item)
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
            let (outer, inner) = match question.key.split_once('.') {
                Some((outer, inner)) => (outer, Some(inner)),
                None => (question.key, None),
            };
            match (inner, answer) {
                (None, Some(answer)) => {
                    entry.insert(outer.to_owned(), answer.clone());
                }
                (None, None) => {
                    entry.remove(outer);
                }
                (Some(inner), Some(answer)) => {
                    let group = entry.entry(outer).or_insert_with(|| json!({}));
                    group[inner] = answer.clone();
                }
                (Some(inner), None) => {
                    if let Some(group) = entry.get_mut(outer).and_then(Value::as_object_mut) {
                        group.remove(inner);
                        if group.is_empty() {
                            entry.remove(outer);
                        }
                    }
                }
            }
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

    fn question(&mut self, at: usize, dialogue: &mut dyn Respondent) -> Turn {
        let question = questions(self.kind)[at];
        let now = self.answers[at].clone();
        dialogue.say("");
        dialogue.say(&format!("{} ({})", question.ask, example(&question)));
        if let Sort::OneOf(words) | Sort::SomeOf(words) = question.sort {
            dialogue.say(&format!("  {}", words().join(", ")));
        }
        if let Sort::Graded(scale) = question.sort {
            dialogue.say(&format!("  {}", scale_line(scale)));
        }
        if let Some(now) = &now {
            dialogue.say(&format!(
                "  now: {} (Enter keeps it, - takes it out)",
                in_words(now)
            ));
            if let Sort::Lines | Sort::Conditions | Sort::Drills | Sort::Weighed { .. } =
                question.sort
            {
                dialogue.say("  A new answer takes the place of the whole list.");
            }
        }
        let answered = match question.sort {
            Sort::Lines => self.lines(dialogue),
            Sort::Conditions => self.many(dialogue, false),
            Sort::Drills => self.many(dialogue, true),
            Sort::Weighed { key, reason } => self.weighed(key, reason, dialogue),
            _ => self.single(&question, now.is_some(), dialogue),
        };
        match answered {
            Prompted::Got(value) => self.answers[at] = Some(value),
            Prompted::None if question.needed && now.is_none() => {
                dialogue.say("This one is needed.");
                return self.question(at, dialogue);
            }
            Prompted::None => {}
            Prompted::Out if question.needed => {
                dialogue.say("This one is needed, so it stays as it is.");
            }
            Prompted::Out => self.answers[at] = None,
            Prompted::Back => return Turn::Back,
            Prompted::Quit => return Turn::Quit,
        }
        Turn::On
    }

    /// One line, asked for again until it fits.
    fn single(
        &self,
        question: &GuideQuestion,
        answered: bool,
        dialogue: &mut dyn Respondent,
    ) -> Prompted<Value> {
        let offer = match question.sort {
            // Enter keeps what is there already.
            Sort::Id if !answered => self.offered_id(),
            _ => None,
        };
        let prompt = offer
            .as_ref()
            .map_or_else(|| "> ".to_owned(), |id| format!("[{id}] > "));
        loop {
            let line = match line(dialogue, &prompt) {
                Prompted::Got(line) => line,
                Prompted::None if offer.is_some() => offer.clone().unwrap_or_default(),
                other => return other.map(Value::String),
            };
            let read = match question.sort {
                Sort::Id => self.id(&line),
                Sort::OneOf(words) => one_of(&words(), &line).map(Value::from),
                Sort::SomeOf(words) => some_of(&words(), &line),
                Sort::Graded(scale) => graded(scale, &line),
                Sort::Share => share(&line),
                Sort::Number => answers::number(&line),
                Sort::Condition => match self.condition(&line, dialogue) {
                    Prompted::Got(id) => Ok(Value::String(id)),
                    Prompted::None | Prompted::Out => continue,
                    other => return other.map(Value::String),
                },
                _ => Ok(Value::String(line)),
            };
            match read {
                Ok(value) => return Prompted::Got(value),
                Err(trouble) => dialogue.say(&trouble),
            }
        }
    }

    fn lines(&self, dialogue: &mut dyn Respondent) -> Prompted<Value> {
        let mut lines = Vec::new();
        loop {
            match line(dialogue, &format!("{}> ", lines.len() + 1)) {
                Prompted::Got(line) => lines.push(line),
                Prompted::None => return gathered(lines),
                // A slip in the last line need not cost the ones before it.
                Prompted::Back if !lines.is_empty() => {
                    let last = lines.pop().unwrap_or_default();
                    dialogue.say(&format!("Taken back: {last}"));
                }
                other => return other.map(Value::String),
            }
        }
    }

    fn many(&self, dialogue: &mut dyn Respondent, drills: bool) -> Prompted<Value> {
        let mut ids: Vec<String> = Vec::new();
        loop {
            let words = match line(dialogue, &format!("{}> ", ids.len() + 1)) {
                Prompted::Got(words) => words,
                Prompted::None => return gathered(ids),
                Prompted::Back if !ids.is_empty() => {
                    ids.pop();
                    continue;
                }
                other => return other.map(Value::String),
            };
            let found = if drills {
                self.drill(&words, dialogue)
            } else {
                self.condition(&words, dialogue)
            };
            match found {
                Prompted::Got(id) if !ids.contains(&id) => ids.push(id),
                Prompted::Got(_) | Prompted::None | Prompted::Out | Prompted::Back => {}
                Prompted::Quit => return Prompted::Quit,
            }
        }
    }

    fn weighed(&self, key: &str, reason: bool, dialogue: &mut dyn Respondent) -> Prompted<Value> {
        let mut items: Vec<Value> = Vec::new();
        loop {
            let words = match line(dialogue, &format!("{}> ", items.len() + 1)) {
                Prompted::Got(words) => words,
                Prompted::None if items.is_empty() => return Prompted::None,
                Prompted::None => return Prompted::Got(Value::Array(items)),
                Prompted::Back if !items.is_empty() => {
                    items.pop();
                    continue;
                }
                other => return other.map(Value::String),
            };
            let id = match self.condition(&words, dialogue) {
                Prompted::Got(id) => id,
                Prompted::Quit => return Prompted::Quit,
                _ => continue,
            };
            if items.iter().any(|item| item["id"] == id.as_str()) {
                dialogue.say("That one is named already.");
                continue;
            }
            let ask = if reason {
                "  Of ten who have it, how many show this because of it?"
            } else {
                "  Done as written, in how many of ten does it help?"
            };
            dialogue.say(&format!("{ask} {}", scale_line(STRENGTH_WORDS)));
            let weight = loop {
                match line(dialogue, &format!("  [{UNSAID}] > ")) {
                    Prompted::Got(line) => match graded(STRENGTH_WORDS, &line) {
                        Ok(weight) => break weight,
                        Err(trouble) => dialogue.say(&trouble),
                    },
                    Prompted::None => break Value::from(UNSAID),
                    Prompted::Back | Prompted::Out => break Value::Null,
                    Prompted::Quit => return Prompted::Quit,
                }
            };
            if weight.is_null() {
                continue;
            }
            let mut item = json!({ "id": id, key: weight });
            if reason {
                match line(dialogue, "  Why, in one sentence for the student? > ") {
                    Prompted::Got(why) => item["because"] = Value::String(why),
                    Prompted::Quit => return Prompted::Quit,
                    _ => {}
                }
            }
            item["basis"] = Value::from(OWN_BASIS);
            items.push(item);
            dialogue.say("Another? (Enter goes on)");
        }
    }

    fn offered_id(&self) -> Option<String> {
        let name = self.answers.first()?.as_ref()?.as_str()?;
        let id = kebab(name);
        (!id.is_empty()).then_some(id)
    }

    fn id(&self, line: &str) -> Result<Value, String> {
        let good = kebab(line);
        if good != line {
            return Err(if good.is_empty() {
                "An id is small letters a to z and digits, with hyphens between words.".to_owned()
            } else {
                format!("`{line}` is not an id: write {good}")
            });
        }
        if self.base.find(line).is_some() || self.base.find_drill(line).is_some() {
            return Err(format!(
                "There is an entry `{line}` already: write another id, or edit that entry."
            ));
        }
        Ok(Value::from(line))
    }

    /// The condition that the words mean; several are offered by number.
    fn condition(&self, words: &str, dialogue: &mut dyn Respondent) -> Prompted<String> {
        let named = |id: &str, name: &str| format!("{name} ({id})");
        let mut offers: Vec<(String, String)> = Vec::new();
        let mut offer = |key| {
            let entry = self.base.condition(key);
            if entry.retired_for.is_none() && !offers.iter().any(|(id, _)| *id == entry.id) {
                offers.push((entry.id.clone(), named(&entry.id, &entry.name)));
            }
        };
        if let Some(key) = self.base.find(words) {
            offer(key);
        } else {
            let reading = self.readers.free().read(words, &Lesson::default());
            if let Reading::Clear { condition, .. } = &reading {
                offer(*condition);
            }
            let part = words.to_lowercase();
            let keys = self.base.condition_keys();
            let holds = |text: &str| text.to_lowercase().contains(&part);
            let parts = keys.filter(|key| {
                let entry = self.base.condition(*key);
                holds(&entry.id) || holds(&entry.name)
            });
            parts.take(OFFERED).for_each(&mut offer);
            if let Reading::Several(candidates) | Reading::Unknown(candidates) = &reading {
                candidates
                    .iter()
                    .for_each(|candidate| offer(candidate.condition));
            }
        }
        choose(words, offers, dialogue)
    }

    fn drill(&self, words: &str, dialogue: &mut dyn Respondent) -> Prompted<String> {
        let part = words.to_lowercase();
        let drills = self
            .base
            .drills
            .iter()
            .filter(|drill| drill.retired_for.is_none());
        let named = |drill: &crate::knowledge::Drill| {
            (drill.id.clone(), format!("{} ({})", drill.name, drill.id))
        };
        let mut offers: Vec<(String, String)> = if self.base.find_drill(words).is_some() {
            drills
                .clone()
                .filter(|drill| drill.id == words)
                .map(named)
                .collect()
        } else {
            let holds = |text: &str| text.to_lowercase().contains(&part);
            drills
                .clone()
                .filter(|drill| holds(&drill.id) || holds(&drill.name))
                .take(OFFERED)
                .map(named)
                .collect()
        };
        if offers.is_empty() {
            let near = nearest(
                words,
                drills.clone().map(|drill| drill.id.as_str()),
                OFFERED,
            );
            offers = drills
                .filter(|drill| near.contains(&drill.id.as_str()))
                .map(named)
                .collect();
        }
        choose(words, offers, dialogue)
    }
}

/// What a strength is taken for when Enter passes it over: what the format takes an effect for that
/// is left out.
const UNSAID: &str = "fifty-fifty";

/// What a coach's own links and effects rest on.
const OWN_BASIS: &str = "own lessons";

/// How many entries are offered for part of a name.
const OFFERED: usize = 9;

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
