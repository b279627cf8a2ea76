//! The answers of a guide as they stand in a form.

use super::answers::{graded, in_words, over_standing};
use super::asking::{OWN_BASIS, UNSAID};
use super::dialogue::{Prompted, Respondent};
use super::guide::Guide;
use super::questions::{GuideQuestion, Sort, questions};
use crate::knowledge::words::STRENGTH_WORDS;
use serde_json::{Value, json};

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
impl Guide<'_> {
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
        // A form without an id is asked for the one that its name gives.
        let offered = match question.sort {
            Sort::Id if text.is_empty() => self.offered_id().unwrap_or_default(),
            _ => String::new(),
        };
        let text = if text.is_empty() { &offered } else { text };
        if text.is_empty() {
            self.answers[number - 1] = None;
            return if question.needed {
                Err("This one is needed.".to_owned())
            } else {
                Ok(())
            };
        }
        self.answers[number - 1] = Some(self.value(&question, text)?);
        Ok(())
    }

    /// What an answer says, by the sort of its question.
    fn value(&self, question: &GuideQuestion, text: &str) -> Result<Value, String> {
        let lines = || text.lines().map(str::trim).filter(|line| !line.is_empty());
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let ids = |drills| -> Result<Vec<String>, String> {
            lines().map(|words| self.named(words, drills)).collect()
        };
        Ok(match question.sort {
            Sort::Lines => Value::from(lines().collect::<Vec<_>>()),
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
            sort => self.one_line(sort, text)?,
        })
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
}
