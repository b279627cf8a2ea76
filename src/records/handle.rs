//! Whether a handle means something else already.

use crate::knowledge::KnowledgeBase;
use crate::lesson::Lesson;
use crate::words::Reader;

/// The entry of the library that a handle would be mistaken for: by its id, or because the handle is a
/// word of its name or of another way to say it, or tells it in a note.
#[must_use]
pub fn mistaken_for(base: &KnowledgeBase, handle: &str) -> Option<String> {
    let conditions = base.conditions.iter().map(|c| (&c.id, &c.name, &c.aliases));
    let drills = base.drills.iter().map(|d| (&d.id, &d.name, &d.aliases));
    let spaced = handle.replace('-', " ");
    let word = |text: &str| {
        text.eq_ignore_ascii_case(&spaced)
            || text
                .split(|c: char| !c.is_alphanumeric())
                .any(|word| word.eq_ignore_ascii_case(handle))
    };
    let mut named = conditions.chain(drills).filter(|(id, name, aliases)| {
        id.as_str() == handle || word(name) || aliases.iter().any(|alias| word(alias))
    });
    if let Some((id, ..)) = named.next() {
        return Some(id.clone());
    }
    if base.find_fact(handle).is_some() || base.find_source(handle).is_some() {
        return Some(handle.to_owned());
    }
    let note = Reader::new(base).note(&spaced, &Lesson::default(), &[]);
    let told = note.facts.first();
    told.map(|told| base.fact(told.fact).id.clone())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{Strictness, load, shipped};

    #[test]
    fn words_of_the_trade_are_no_handles() {
        let base = load(&[shipped()], Strictness::ErrorsOnly)
            .expect("sound")
            .base;
        for word in ["slice", "grip", "senior", "grip-too-weak", "towel"] {
            assert!(mistaken_for(&base, word).is_some(), "{word}");
        }
        for bird in [
            "heron",
            "wren",
            "kestrel",
            "plover",
            "robin",
            "finch",
            "reed-warbler-2",
        ] {
            assert_eq!(mistaken_for(&base, bird), None, "{bird}");
        }
    }
}
