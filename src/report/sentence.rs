//! Conditions in sentences, as one would say them to a student.

use crate::knowledge::{ConditionKey, KnowledgeBase};

/// A condition as a part of a sentence: the phrase the library gives it, or its name in small letters.
pub(super) fn clause(base: &KnowledgeBase, key: ConditionKey) -> String {
    let condition = base.condition(key);
    match &condition.phrase {
        Some(phrase) => phrase.clone(),
        None => small(&condition.name),
    }
}

/// The text with a capital and a full stop.
pub(super) fn sentence(text: &str) -> String {
    sentence_end(&capital(text.trim()))
}

/// The text with a full stop, as it goes on in a sentence.
pub(super) fn sentence_end(text: &str) -> String {
    let said = text.trim();
    if said.ends_with(['.', '!', '?']) {
        said.to_owned()
    } else {
        format!("{said}.")
    }
}

/// The text with a capital.
pub(crate) fn capital(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(characters).collect()
    })
}

/// The text with a small first letter, unless its first word is written in capitals.
pub(super) fn small(text: &str) -> String {
    let mut characters = text.chars();
    let second_is_small = text.chars().nth(1).is_none_or(|c| !c.is_uppercase());
    characters.next().map_or_else(String::new, |first| {
        if second_is_small {
            first.to_lowercase().chain(characters).collect()
        } else {
            text.to_owned()
        }
    })
}

/// The first sentence of a text, with its full stop; an abbreviation does not end one, since a capital
/// has to follow.
pub(super) fn first_sentence(text: &str) -> &str {
    let mut from = 0;
    while let Some(at) = text[from..].find(['.', '!', '?']) {
        let end = from + at + 1;
        let rest = &text[end..];
        let next = rest.trim_start();
        if next.is_empty() || (next.len() < rest.len() && next.starts_with(char::is_uppercase)) {
            return &text[..end];
        }
        from = end;
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_ends_where_a_capital_follows() {
        assert_eq!(
            first_sentence("Lay a club down. Then look."),
            "Lay a club down."
        );
        assert_eq!(
            first_sentence("About 0.5 of a ball, e.g. two"),
            "About 0.5 of a ball, e.g. two"
        );
        assert_eq!(first_sentence(""), "");
        assert_eq!(sentence("the ball is back"), "The ball is back.");
        assert_eq!(small("SLAP at it"), "SLAP at it");
    }
}
