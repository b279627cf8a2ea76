//! What was not understood, in the words of a page.

use super::fields::Wrong;
use super::shell;
use crate::diagnosis::{MOST_NOTE_WORDS, MOST_REPORTED, MOST_TYPED_RATIO, Malformed, Trouble};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::LessonTrouble;
use crate::plan::{LONGEST_LESSON, PlanError, SHORTEST_LESSON};
use crate::search::DrillQueryError;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use serde_json::{Value, json};

/// Why a page cannot be given.
#[derive(Debug)]
pub(super) enum NotGiven {
    /// Some of what was sent was not understood.
    NotUnderstood(Vec<Wrong>),
    /// It was understood, and could not be done.
    NotDone(String),
    /// There is no such page or entry.
    NotThere { message: String, help: String },
    /// Nothing may be written.
    ReadOnly,
}

impl From<Vec<Wrong>> for NotGiven {
    fn from(wrong: Vec<Wrong>) -> Self {
        NotGiven::NotUnderstood(wrong)
    }
}

impl From<Wrong> for NotGiven {
    fn from(wrong: Wrong) -> Self {
        NotGiven::NotUnderstood(vec![wrong])
    }
}

impl NotGiven {
    fn status(&self) -> StatusCode {
        match self {
            NotGiven::NotUnderstood(_) => StatusCode::UNPROCESSABLE_ENTITY,
            NotGiven::NotDone(_) => StatusCode::INTERNAL_SERVER_ERROR,
            NotGiven::NotThere { .. } => StatusCode::NOT_FOUND,
            NotGiven::ReadOnly => StatusCode::FORBIDDEN,
        }
    }

    /// What is wrong and what to do, a pair for each.
    pub(super) fn said(&self) -> Vec<(String, String)> {
        match self {
            NotGiven::NotUnderstood(wrong) => wrong
                .iter()
                .map(|slip| (slip.message.clone(), slip.help.clone()))
                .collect(),
            NotGiven::NotDone(message) => vec![(message.clone(), String::new())],
            NotGiven::NotThere { message, help } => vec![(message.clone(), help.clone())],
            NotGiven::ReadOnly => vec![(
                "this server only reads".to_owned(),
                "start `fairwhy serve` without --read-only to save".to_owned(),
            )],
        }
    }

    /// As JSON, in the shape that the commands have on standard error.
    pub(super) fn json(&self) -> Response {
        let mut each = self.said().into_iter().map(|(message, help)| {
            let help = (!help.is_empty()).then_some(help);
            json!({"message": message, "help": help})
        });
        let mut first = each.next().unwrap_or_else(|| json!({}));
        let more: Vec<Value> = each.collect();
        if !more.is_empty() {
            first["more"] = json!(more);
        }
        first["status"] = json!(self.status().as_u16());
        (self.status(), axum::Json(json!({"error": first}))).into_response()
    }

    /// As a page.
    pub(super) fn page(&self) -> Response {
        let page = shell::trouble(&self.said());
        (self.status(), Html(page.into_string())).into_response()
    }
}

/// Everything that was not understood of a note.
pub(super) fn all(base: &KnowledgeBase, troubles: &[Trouble]) -> Vec<Wrong> {
    troubles.iter().map(|trouble| one(base, trouble)).collect()
}

/// Why no plan can be made.
pub(super) fn not_planned(error: &PlanError) -> NotGiven {
    let wrong = match error {
        PlanError::Minutes(minutes) => Wrong::new(
            "minutes",
            format!("no lesson is planned for {minutes} minutes"),
            format!("write {SHORTEST_LESSON} to {LONGEST_LESSON} minutes"),
        ),
        PlanError::Weeks(weeks) => Wrong::new(
            "weeks",
            format!("no practice is planned for {weeks} weeks"),
            "write 1 to 12 weeks",
        ),
        PlanError::Sessions(sessions) => Wrong::new(
            "sessions",
            format!(
                "no practice is planned {} times a week for {} minutes",
                sessions.a_week, sessions.minutes
            ),
            "write 1 to 7 times a week, 10 to 90 minutes each, such as 3x20",
        ),
        PlanError::Place {
            shot,
            place,
            instead,
        } => Wrong::new(
            "place",
            format!("a {} is not practised on a {}", shot.words(), place.words()),
            format!("choose {}, or another shot", instead.words()),
        ),
        PlanError::Shot { seen, shot } => Wrong::new(
            "shot",
            format!("\u{201c}{seen}\u{201d} is not seen in a {}", shot.words()),
            "leave the shot open, or choose the one in which it was seen",
        ),
        PlanError::Lesson(trouble) => no_lesson(trouble),
    };
    wrong.into()
}

/// Why nothing was looked for.
pub(super) fn not_searched(error: &DrillQueryError) -> NotGiven {
    let (message, help) = match error {
        DrillQueryError::Index(error) => return NotGiven::NotDone(error.to_string()),
        DrillQueryError::Lesson(trouble) => return no_lesson(trouble).into(),
        DrillQueryError::NoTime(minutes) => {
            let message = format!("{minutes} is no time for a drill");
            return Wrong::new("minutes", message, "write minutes above 0, such as 10").into();
        }
        DrillQueryError::NoWords(words) => (
            format!("there is no word in \"{words}\""),
            "write what you see, such as \"chunked wedges\"",
        ),
        DrillQueryError::TooManyWords { words, most } => (
            format!("{words} words are too many for one search, which reads {most} at most"),
            "write the one or two things that matter most",
        ),
        DrillQueryError::OtherScript(words) => (
            format!("nothing in this library is written in the script of \"{words}\""),
            "write it in the language of the library",
        ),
    };
    Wrong::new("words", message, help).into()
}

/// What of a lesson does not go together.
pub(super) fn no_lesson(trouble: &LessonTrouble) -> Wrong {
    match trouble {
        LessonTrouble::Suits(one, other) => Wrong::new(
            "suits",
            format!(
                "a student is not both {} and {}",
                one.words(),
                other.words()
            ),
            "choose one of them",
        ),
        LessonTrouble::Thing { given, nearest } => Wrong::new(
            "have",
            format!("no drill of this library needs \"{given}\""),
            format!("did you mean {}?", nearest.join(" or ")),
        ),
    }
}

fn one(base: &KnowledgeBase, trouble: &Trouble) -> Wrong {
    let names = |keys: &[ConditionKey]| {
        let names = keys.iter().map(|key| base.condition(*key).name.as_str());
        names.collect::<Vec<_>>().join(", ")
    };
    let say = "say what ball, club or body did, such as \"weak slice\"";
    let (message, help) = match trouble {
        Trouble::NoWords { words } => (format!("there is no word in \"{words}\""), say.to_owned()),
        Trouble::TooLong { count, .. } => (
            format!("the note has {count} words, and {MOST_NOTE_WORDS} are read at most"),
            "leave out what is not about this lesson".to_owned(),
        ),
        Trouble::TooMany { reported } => (
            format!("{reported} findings are too many for one student"),
            format!("say what matters most; {MOST_REPORTED} are read at most"),
        ),
        Trouble::Unknown { words, nearest } => (
            format!("\"{words}\" means nothing that the library knows"),
            if nearest.is_empty() {
                say.to_owned()
            } else {
                format!("did you mean one of these? {}", names(nearest))
            },
        ),
        Trouble::Several { words, candidates } => (
            format!("\"{words}\" may mean: {}", names(candidates)),
            "write the one you mean, or choose the shot and the hand".to_owned(),
        ),
        Trouble::Contradiction { condition, given } => (
            format!(
                "\"{}\" and \"{}\" both speak of {}, and cannot both be true",
                given[0],
                given[1],
                base.condition(*condition).name
            ),
            "keep the one you saw".to_owned(),
        ),
        Trouble::Malformed { words, why } => {
            (format!("\"{words}\" was not understood"), how_to_write(why))
        }
    };
    Wrong::new("note", message, help)
}

fn how_to_write(why: &Malformed) -> String {
    let nearest_or_all = |nearest: &[String], known: &[String]| {
        let these = if nearest.is_empty() { known } else { nearest };
        format!("did you mean one of these? {}", these.join(", "))
    };
    match why {
        Malformed::NotAPair(_) => "write a name, an = and a value".to_owned(),
        Malformed::Fact { nearest, known } | Malformed::Quantity { nearest, known } => {
            nearest_or_all(nearest, known)
        }
        Malformed::Spread { quantity, number } => {
            format!("write how far off it may be after +-, such as {quantity}={number}+-5")
        }
        Malformed::NoNumber { unit } => format!("write a number in {unit}"),
        Malformed::Unit { quantity, unit, .. } => format!("{quantity} is measured in {unit}"),
        Malformed::Ratio => format!(
            "write a ratio from {} to {MOST_TYPED_RATIO}: how many times as likely it is seen with it as without",
            1.0 / MOST_TYPED_RATIO
        ),
        Malformed::Number(what) => what.clone(),
    }
}
