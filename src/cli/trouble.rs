//! What is wrong with what was typed, and what to write instead, in the words of a command line.

use super::Failure;
use crate::diagnosis::{
    MOST_NOTE_WORDS, MOST_REPORTED, MOST_TYPED_RATIO, Malformed, Pair, Trouble,
};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::LessonTrouble;
use crate::plan::{LONGEST_LESSON, PlanError, SHORTEST_LESSON};
use crate::search::DrillQueryError;
use std::fmt::Write as _;

/// Every trouble with what was reported.
pub(crate) fn not_read(base: &KnowledgeBase, troubles: &[Trouble]) -> Failure {
    let each: Vec<String> = troubles.iter().map(|one| describe(base, one)).collect();
    Failure::NotUnderstood(each.join("\n"))
}

/// Why no plan was made.
pub(crate) fn not_planned(error: &PlanError) -> Failure {
    let text = match error {
        PlanError::Minutes(minutes) => format!(
            "a lesson of {minutes} minutes cannot be planned: write {SHORTEST_LESSON} to {LONGEST_LESSON} (--minutes)"
        ),
        PlanError::Weeks(weeks) => format!(
            "{weeks} weeks until the next lesson cannot be planned: write 1 to 12 (--weeks)"
        ),
        PlanError::Sessions(sessions) => format!(
            "sessions {}x{} cannot be planned: write 1 to 7 a week of 10 to 90 minutes (--sessions)",
            sessions.a_week, sessions.minutes
        ),
        PlanError::Place {
            shot,
            place,
            instead,
        } => format!(
            "a {} is not practised on a {}: write --place {instead}, or another --shot",
            shot.words(),
            place.words()
        ),
        PlanError::Shot { seen, shot } => format!(
            "\"{seen}\" is not seen in a {}: leave out --shot, or name the shot in which it was seen",
            shot.words()
        ),
        PlanError::Lesson(trouble) => return no_lesson(trouble),
    };
    Failure::NotUnderstood(format!("error: {text}"))
}

/// Why nothing was searched.
pub(crate) fn not_searched(error: &DrillQueryError) -> Failure {
    let text = match error {
        DrillQueryError::NoWords(words) => format!(
            "there is no word in `{words}`\n  help: say what you see, such as: fairwhy drills \"chunked wedges\""
        ),
        DrillQueryError::TooManyWords { words, most } => format!(
            "{words} words are too many for one search; at most {most} are read\n  help: say the one or two things that matter most"
        ),
        DrillQueryError::OtherScript(words) => format!(
            "nothing in this library is written in the script of `{words}`\n  help: write it in the language of the library, or add your own drills and aliases in yours"
        ),
        DrillQueryError::NoTime(minutes) => {
            format!("`{minutes}` is no time for a drill\n  help: give minutes above 0, such as 10")
        }
        DrillQueryError::Lesson(trouble) => return no_lesson(trouble),
        DrillQueryError::Index(error) => return Failure::NotDone(format!("error: {error}")),
    };
    Failure::NotUnderstood(format!("error: {text}"))
}

/// What of the lesson's own options does not go together.
pub(crate) fn no_lesson(trouble: &LessonTrouble) -> Failure {
    Failure::NotUnderstood(match trouble {
        LessonTrouble::Suits(one, other) => format!(
            "error: a student cannot suit both `{one}` and `{other}`\n  help: name one of them with --suits"
        ),
        LessonTrouble::Thing { given, nearest } => format!(
            "error: no drill of this library needs `{given}`\n  help: did you mean {}? (--have)",
            nearest.join(" or ")
        ),
    })
}

/// What is wrong with what was reported, as an error of two or three lines.
fn describe(base: &KnowledgeBase, trouble: &Trouble) -> String {
    let list = |keys: &[ConditionKey]| {
        keys.iter()
            .map(|key| {
                let condition = base.condition(*key);
                format!("{} ({})", condition.id, condition.name)
            })
            .collect::<Vec<_>>()
            .join(", ")
    };
    let mut text = String::new();
    let _ = match trouble {
        Trouble::NoWords { words } => write!(
            text,
            "error: there is no word in \"{}\"\n  help: say what ball, club or body did, such as \"slice\" or \"sways off the ball\"",
            clipped(words)
        ),
        Trouble::TooLong { words, count } => write!(
            text,
            "error: \"{}\" has {count} words, and a note at most {MOST_NOTE_WORDS}\n  help: leave out what is not about this lesson, or give two notes",
            clipped(words)
        ),
        Trouble::TooMany { reported } => write!(
            text,
            "error: {reported} findings are too many for one student; at most {MOST_REPORTED} are read\n  help: report what matters most, a finding of several words in quotes"
        ),
        Trouble::Unknown { words, nearest } if nearest.is_empty() && other_script(words) => {
            write!(
                text,
                "error: \"{}\" means nothing that the library knows; nothing in it is written in this script\n  help: write it in the language of the library, or add it there as an alias",
                clipped(words)
            )
        }
        Trouble::Unknown { words, nearest } if nearest.is_empty() => write!(
            text,
            "error: \"{}\" means nothing that the library knows\n  help: say what ball, club or body did, such as \"slice\" or \"sways off the ball\"",
            clipped(words)
        ),
        Trouble::Unknown { words, nearest } => write!(
            text,
            "error: \"{}\" means nothing that the library knows\n  help: did you mean one of these? {}",
            clipped(words),
            list(nearest)
        ),
        Trouble::Several { words, candidates } if candidates.len() == 1 => write!(
            text,
            "error: \"{}\" may mean {}, but that is not certain\n  help: if that is what you saw, write its name; if not, say it in other words",
            clipped(words),
            list(candidates)
        ),
        Trouble::Several { words, candidates } => write!(
            text,
            "error: \"{}\" can mean several things\n  help: write the one you mean: {}\n        or say which shot it is about with --shot, or which hand with --handed",
            clipped(words),
            list(candidates)
        ),
        Trouble::Contradiction { condition, given } => write!(
            text,
            "error: \"{}\" and \"{}\" both speak of {}, and cannot both be true\n  help: keep the one you saw",
            clipped(&given[0]),
            clipped(&given[1]),
            base.condition(*condition).id
        ),
        Trouble::Malformed { words, why } => write!(
            text,
            "error: \"{}\" was not understood\n  help: {}",
            clipped(words),
            how_to_write(why)
        ),
    };
    text
}

fn how_to_write(why: &Malformed) -> String {
    match why {
        Malformed::NotAPair(Pair::Measured) => {
            "write quantity=value, such as trail-elbow-bend-at-top=112".to_owned()
        }
        Malformed::NotAPair(Pair::Likelihood) => {
            "write id=ratio, such as grip-too-weak=3".to_owned()
        }
        Malformed::NotAPair(Pair::Read) => {
            "write the words and the id that they mean, such as \"hands high=club-high-and-behind-at-top\"".to_owned()
        }
        Malformed::Fact { nearest, known } if nearest.is_empty() => {
            format!("the library knows these facts: {}", known.join(", "))
        }
        Malformed::Fact { nearest, .. } => {
            format!("no fact of that name; the nearest: {}", nearest.join(", "))
        }
        Malformed::Quantity { known, .. } if known.is_empty() => {
            "the library measures nothing".to_owned()
        }
        Malformed::Quantity { nearest, known } if nearest.is_empty() => {
            format!("no quantity of that name; known ones: {}", known.join(", "))
        }
        Malformed::Quantity { nearest, .. } => {
            format!("no quantity of that name; the nearest: {}", nearest.join(", "))
        }
        Malformed::Spread { quantity, number } => format!(
            "write how far the number may be off after +-, above 0, such as {quantity}={number}+-5"
        ),
        Malformed::NoNumber { unit } => format!("write a number after the =, in {unit}"),
        Malformed::Unit {
            quantity,
            number,
            unit,
        } => format!(
            "{quantity} is measured in {unit}; write {quantity}={number} and leave the unit out, or write {unit}"
        ),
        Malformed::Ratio => format!(
            "the ratio is a number above 0, from {} to {MOST_TYPED_RATIO}: how many times as often this is reported of a student who has it as of one who has not",
            1.0 / MOST_TYPED_RATIO
        ),
        Malformed::Number(what) => what.clone(),
    }
}

/// What was typed, shortened to what is read at a glance.
pub(super) fn clipped(text: &str) -> String {
    let mut short: String = text.chars().take(80).collect();
    if short.len() < text.len() {
        short.push('\u{2026}');
    }
    short
}

/// Whether no letter or digit of it is one of those that ids are made of.
fn other_script(words: &str) -> bool {
    !words.chars().any(|c| c.is_ascii_alphanumeric())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{LayerText, Strictness, load};

    /// Found by fuzzing: one entry that comes near is not several things.
    #[test]
    fn one_that_comes_near_is_not_called_several() {
        let text = "faults: [{id: sways, name: Sways, stage: top}]\n";
        let layer = LayerText::new("small", [("a.yaml", text)]);
        let base = load(&[layer], Strictness::ErrorsOnly).expect("loads").base;
        let trouble = Trouble::Several {
            words: "sways like a poplar".to_owned(),
            candidates: vec![ConditionKey(0)],
        };
        let said = describe(&base, &trouble);
        assert!(
            said.contains("may mean sways (Sways), but that is not certain"),
            "{said}"
        );
        assert!(!said.contains("several"), "{said}");
    }
}
