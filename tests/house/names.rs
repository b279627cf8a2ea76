//! What types are called.

use super::source::{before_tests, code, files};
use std::collections::{BTreeMap, BTreeSet};

/// Names that still stand for a thing of its own in each of several rooms. Take a name out when it stands for one.
const STILL_SEVERAL: [&str; 12] = [
    "Cut", "Fit", "Found", "Kept", "Known", "Part", "Phrase", "Piece", "Problem", "Reported",
    "Said", "Student",
];

/// The types that a line of code begins: `pub(crate) struct Name`.
fn type_begun(line: &str) -> Option<&str> {
    let mut words = line.split_whitespace();
    let mut word = words.next()?;
    if word == "pub" || (word.starts_with("pub(") && word.ends_with(')')) {
        word = words.next()?;
    }
    if !matches!(word, "struct" | "enum" | "trait") {
        return None;
    }
    let name = words.next()?;
    name.split(|c: char| !(c.is_alphanumeric() || c == '_'))
        .next()
        .filter(|name| !name.is_empty())
}

#[test]
fn a_type_is_known_by_the_line_that_begins_it() {
    assert_eq!(type_begun("pub(super) struct Name<'a> {"), Some("Name"));
    assert_eq!(type_begun("    enum Name;"), Some("Name"));
    assert_eq!(type_begun("let structure = 1;"), None);
}

/// A name stands for one thing, in whatever room it is met.
#[test]
fn a_type_name_stands_for_one_thing() {
    let mut types: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for file in files() {
        for name in code(before_tests(&file.text))
            .lines()
            .filter_map(type_begun)
        {
            types
                .entry(name.to_owned())
                .or_default()
                .push(file.name.clone());
        }
    }
    types.retain(|_, files| files.len() > 1);
    let several: BTreeSet<&str> = types.keys().map(String::as_str).collect();
    let known = BTreeSet::from(STILL_SEVERAL);
    let new = &several - &known;
    let new = new
        .iter()
        .map(|name| format!("`{name}` is a type of {}", types[*name].join(" and of ")));
    let new: Vec<String> = new.collect();
    assert!(new.is_empty(), "{}", new.join("\n"));
}
