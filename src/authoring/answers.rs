//! Answers to questions: read as what a key of the format takes, put back on a line or into a form, and
//! laid over what an entry said before.

use super::questions::{GuideQuestion, Sort};
use crate::knowledge::nearest;
use crate::knowledge::to_kebab;
use serde_json::{Map, Value};
use std::collections::BTreeSet;

/// The word of a list that is typed, or begun.
pub(super) fn one_of(words: &[&'static str], line: &str) -> Result<&'static str, String> {
    let typed = to_kebab(line);
    let exact = words.iter().find(|word| **word == typed);
    let mut starts = words
        .iter()
        .filter(|word| word.starts_with(&typed) && !typed.is_empty());
    match (exact, starts.next(), starts.next()) {
        (Some(word), ..) | (None, Some(word), None) => Ok(word),
        _ => {
            let near = nearest(&typed, words.iter().copied(), 1);
            Err(match near.first() {
                Some(near) => format!("`{line}` is not one of them; did you mean {near}?"),
                None => format!("`{line}` is not one of: {}", words.join(", ")),
            })
        }
    }
}

/// Words of a list, with commas between them.
pub(super) fn some_of(words: &[&'static str], line: &str) -> Result<Value, String> {
    let parts = line
        .split([',', ';'])
        .map(str::trim)
        .filter(|part| !part.is_empty());
    let found = parts
        .map(|part| one_of(words, part))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Value::from(found))
}

/// A word of a scale, or a number.
pub(super) fn graded(scale: &[(&'static str, f64)], line: &str) -> Result<Value, String> {
    if let Ok(number) = line.replace(',', ".").parse::<f64>() {
        return if number > 0.0 && number < 1.0 {
            Ok(Value::from(number))
        } else {
            Err(format!(
                "`{line}` is no chance: write a number between 0 and 1, such as 0.4."
            ))
        };
    }
    let words: Vec<&str> = scale.iter().map(|(word, _)| *word).collect();
    one_of(&words, line)
        .map(Value::from)
        .map_err(|trouble| format!("{trouble} A number between 0 and 1 will do too."))
}

/// A share of students, as a coach says one.
pub(super) fn share(line: &str) -> Result<Value, String> {
    let number = |text: &str| text.trim().replace(',', ".").parse::<f64>().ok();
    let parts = ["out of", "of", "in", "/"];
    let of = parts.iter().find_map(|part| line.split_once(part));
    let share = if let Some(percent) = line.trim().strip_suffix('%') {
        number(percent).map(|percent| percent / 100.0)
    } else if let Some((some, all)) = of {
        number(some).zip(number(all)).map(|(some, all)| some / all)
    } else {
        // "3" answers the question how many of ten.
        number(line).map(|some| if some < 1.0 { some } else { some / 10.0 })
    };
    share
        .filter(|share| *share > 0.0 && *share < 1.0)
        .map(Value::from)
        .ok_or_else(|| {
            format!("`{line}` is no share of ten: write such as 3 of 10, 0.3 or 30 %, above none and below all.")
        })
}

/// A whole number.
pub(super) fn number(line: &str) -> Result<Value, String> {
    line.parse::<u32>()
        .map(Value::from)
        .map_err(|_| format!("`{line}` is not a whole number."))
}

/// An answer on one line.
pub(super) fn in_words(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Array(items) => items.iter().map(in_words).collect::<Vec<_>>().join("; "),
        Value::Object(fields) => {
            let weight = fields
                .get("effect")
                .or(fields.get("strength"))
                .map(in_words)
                .unwrap_or_default();
            format!(
                "{} ({weight})",
                fields.get("id").map(in_words).unwrap_or_default()
            )
        }
        other => other.to_string(),
    }
}

impl GuideQuestion {
    /// What an entry says to it.
    pub(super) fn of(&self, entry: &Map<String, Value>) -> Option<Value> {
        let value = match self.key.split_once('.') {
            Some((outer, inner)) => entry.get(outer)?.get(inner)?,
            None => entry.get(self.key)?,
        };
        let empty = value.is_null() || value.as_array().is_some_and(Vec::is_empty);
        (!empty).then(|| value.clone())
    }
}

impl Sort {
    /// Whether two answers of a form say the same: blanks and empty lines aside, and the order of words
    /// of a list.
    pub(super) fn same(self, one: &str, other: &str) -> bool {
        let parts = |text: &str| -> Vec<String> {
            let parts = match self {
                Self::SomeOf(_) => text
                    .split(',')
                    .map(one_line)
                    .collect::<BTreeSet<_>>()
                    .into_iter()
                    .collect(),
                _ => text.lines().map(one_line).collect::<Vec<_>>(),
            };
            parts.into_iter().filter(|part| !part.is_empty()).collect()
        };
        parts(one) == parts(other)
    }

    /// An answer as it stands in a form.
    pub(super) fn in_a_form(self, value: &Value) -> String {
        let line = |value: &Value| one_line(&in_words(value));
        match (self, value) {
            (Self::SomeOf(_), Value::Array(items)) => {
                items.iter().map(line).collect::<Vec<_>>().join(", ")
            }
            (Self::Weighed { key, reason }, Value::Array(items)) => {
                let items = items.iter().map(|item| {
                    let part = |key: &str| item.get(key).map(line).unwrap_or_default();
                    let mut text = format!("{}: {}", part("id"), part(key));
                    if reason && item.get("because").is_some() {
                        text = format!("{text}: {}", part("because"));
                    }
                    text
                });
                items.collect::<Vec<_>>().join("\n")
            }
            (_, Value::Array(items)) => items.iter().map(line).collect::<Vec<_>>().join("\n"),
            (_, value) => line(value),
        }
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What a line says of an item, over what stands of it: its sources stay, and its basis unless the
/// strength is another.
pub(super) fn over_standing(standing: &Value, item: Value, key: &str) -> Value {
    let all = standing.as_array().into_iter().flatten();
    let Some(old) = all.into_iter().find(|old| old["id"] == item["id"]) else {
        return item;
    };
    let mut merged = old.clone();
    if old[key] != item[key] {
        merged[key] = item[key].clone();
        merged["basis"] = item["basis"].clone();
    }
    if let (Some(merged), because) = (merged.as_object_mut(), item.get("because")) {
        match because {
            Some(because) => merged.insert("because".into(), because.clone()),
            None => merged.remove("because"),
        };
    }
    merged
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_taken_as_a_coach_says_it() {
        for (said, meant) in [
            ("3 of 10", 0.3),
            ("1 in 4", 0.25),
            ("0,3", 0.3),
            ("30 %", 0.3),
            ("3", 0.3),
            ("2 out of 5", 0.4),
        ] {
            assert_eq!(share(said), Ok(Value::from(meant)), "{said}");
        }
        for said in ["0", "10", "all", "11 of 10", "-1"] {
            assert!(share(said).is_err(), "{said}");
        }
    }
}
