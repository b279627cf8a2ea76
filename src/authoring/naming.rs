//! Which entry the words of an answer name, and which id a new one has.

use super::dialogue::{Prompted, Respondent, choose};
use super::guide::Guide;
use crate::knowledge::to_kebab;
use crate::knowledge::{Drill, nearest};
use crate::lesson::Lesson;
use crate::words::Reading;
use serde_json::Value;

/// How many entries are offered for part of a name.
const OFFERED: usize = 9;

impl Guide<'_> {
    pub(super) fn offered_id(&self) -> Option<String> {
        let name = self.answers.first()?.as_ref()?.as_str()?;
        let id = to_kebab(name);
        (!id.is_empty()).then_some(id)
    }

    pub(super) fn id(&self, line: &str) -> Result<Value, String> {
        let good = to_kebab(line);
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
    pub(super) fn condition(&self, words: &str, dialogue: &mut dyn Respondent) -> Prompted<String> {
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

    pub(super) fn drill(&self, words: &str, dialogue: &mut dyn Respondent) -> Prompted<String> {
        let part = words.to_lowercase();
        let all = self.base.drills.iter();
        let all: Vec<&Drill> = all.filter(|drill| drill.retired_for.is_none()).collect();
        let holds = |text: &str| text.to_lowercase().contains(&part);
        let known = self.base.find_drill(words).is_some();
        let mut offers = all.clone();
        offers.retain(|drill| match known {
            true => drill.id == words,
            false => holds(&drill.id) || holds(&drill.name),
        });
        offers.truncate(OFFERED);
        if offers.is_empty() {
            let ids = all.iter().map(|drill| drill.id.as_str());
            let near = nearest(words, ids, OFFERED);
            offers = all;
            offers.retain(|drill| near.contains(&drill.id.as_str()));
        }
        let named = |drill: &Drill| (drill.id.clone(), format!("{} ({})", drill.name, drill.id));
        choose(words, offers.into_iter().map(named).collect(), dialogue)
    }
}
