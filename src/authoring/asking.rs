//! A question put to whoever answers, until the answer fits or there is none.

use super::answers::{self, graded, in_words, one_of, share, some_of};
use super::dialogue::{Prompted, Respondent, gathered, line};
use super::guide::{Guide, Turn};
use super::questions::{GuideQuestion, Sort, example, questions};
use crate::knowledge::words::{STRENGTH_WORDS, scale_line};
use serde_json::{Value, json};

/// What a strength is taken for when Enter passes it over: what the format takes an effect for that
/// is left out.
pub(super) const UNSAID: &str = "fifty-fifty";

/// What a coach's own links and effects rest on.
pub(super) const OWN_BASIS: &str = "own lessons";

impl Guide<'_> {
    pub(super) fn question(&mut self, at: usize, dialogue: &mut dyn Respondent) -> Turn {
        let question = questions(self.kind)[at];
        let now = self.answers[at].clone();
        put(&question, now.as_ref(), dialogue);
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
            if let Sort::Condition = question.sort {
                match self.condition(&line, dialogue) {
                    Prompted::None | Prompted::Out => continue,
                    other => return other.map(Value::String),
                }
            }
            match self.one_line(question.sort, line) {
                Ok(value) => return Prompted::Got(value),
                Err(trouble) => dialogue.say(&trouble),
            }
        }
    }

    /// What one line says, by the sort of its question.
    pub(super) fn one_line(&self, sort: Sort, line: String) -> Result<Value, String> {
        match sort {
            Sort::Id => self.id(&line),
            Sort::OneOf(words) => one_of(&words(), &line).map(Value::from),
            Sort::SomeOf(words) => some_of(&words(), &line),
            Sort::Graded(scale) => graded(scale, &line),
            Sort::Share => share(&line),
            Sort::Number => answers::number(&line),
            _ => Ok(Value::String(line)),
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
            let weight = match how_strongly(reason, dialogue) {
                Prompted::Got(weight) => weight,
                Prompted::Quit => return Prompted::Quit,
                _ => continue,
            };
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
}

/// How strongly a cause works, or how well a drill; back where none is to be named after all.
fn how_strongly(cause: bool, dialogue: &mut dyn Respondent) -> Prompted<Value> {
    let ask = if cause {
        "  Of ten who have it, how many show this because of it?"
    } else {
        "  Done as written, in how many of ten does it help?"
    };
    dialogue.say(&format!("{ask} {}", scale_line(STRENGTH_WORDS)));
    loop {
        match line(dialogue, &format!("  [{UNSAID}] > ")) {
            Prompted::Got(line) => match graded(STRENGTH_WORDS, &line) {
                Ok(weight) => return Prompted::Got(weight),
                Err(trouble) => dialogue.say(&trouble),
            },
            Prompted::None => return Prompted::Got(Value::from(UNSAID)),
            other => return other.map(Value::String),
        }
    }
}

/// Says a question, the words to answer it with and the answer that it has.
fn put(question: &GuideQuestion, now: Option<&Value>, dialogue: &mut dyn Respondent) {
    dialogue.say("");
    dialogue.say(&format!("{} ({})", question.ask, example(question)));
    if let Sort::OneOf(words) | Sort::SomeOf(words) = question.sort {
        dialogue.say(&format!("  {}", words().join(", ")));
    }
    if let Sort::Graded(scale) = question.sort {
        dialogue.say(&format!("  {}", scale_line(scale)));
    }
    if let Some(now) = now {
        dialogue.say(&format!(
            "  now: {} (Enter keeps it, - takes it out)",
            in_words(now)
        ));
        if let Sort::Lines | Sort::Conditions | Sort::Drills | Sort::Weighed { .. } = question.sort
        {
            dialogue.say("  A new answer takes the place of the whole list.");
        }
    }
}
