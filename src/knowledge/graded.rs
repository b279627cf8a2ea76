//! A chance as a coach writes it: a word of a scale, or a number.

use super::words;
use schemars::{Schema, SchemaGenerator, json_schema};
use serde::de::{Deserializer, Visitor};
use serde::{Deserialize, Serialize};
use std::fmt;

/// A chance written as a word of a scale or as a number.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Graded {
    /// A number strictly between 0 and 1.
    Number(f64),
    /// A word; which scale applies depends on the key.
    Word(String),
}

impl<'de> Deserialize<'de> for Graded {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(GradedVisitor)
    }
}

/// Takes a number or a word, and says so when it gets something else.
struct GradedVisitor;

impl Visitor<'_> for GradedVisitor {
    type Value = Graded;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("a word of the scale, or a number between 0 and 1")
    }

    fn visit_f64<E: serde::de::Error>(self, number: f64) -> Result<Graded, E> {
        if number > 0.0 && number < 1.0 {
            Ok(Graded::Number(number))
        } else {
            Err(E::custom(format!(
                "{number} is not strictly between 0 and 1"
            )))
        }
    }

    fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<Graded, E> {
        Err(E::custom(format!(
            "{number} is not strictly between 0 and 1"
        )))
    }

    fn visit_u64<E: serde::de::Error>(self, number: u64) -> Result<Graded, E> {
        Err(E::custom(format!(
            "{number} is not strictly between 0 and 1"
        )))
    }

    fn visit_str<E: serde::de::Error>(self, word: &str) -> Result<Graded, E> {
        Ok(Graded::Word(word.to_owned()))
    }
}

/// The words of a scale or a number strictly between 0 and 1, as an editor needs to know it.
fn graded(scale: &[(&str, f64)]) -> Schema {
    let words: Vec<&str> = scale.iter().map(|(word, _)| *word).collect();
    json_schema!({
        "anyOf": [
            { "type": "string", "enum": words },
            { "type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1 },
        ]
    })
}

pub(super) fn strength(_: &mut SchemaGenerator) -> Schema {
    graded(words::STRENGTH_WORDS)
}

pub(super) fn commonness(_: &mut SchemaGenerator) -> Schema {
    graded(words::COMMON_WORDS)
}

pub(super) fn leak(_: &mut SchemaGenerator) -> Schema {
    graded(words::LEAK_WORDS)
}
