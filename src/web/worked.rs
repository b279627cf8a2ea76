//! The lesson: a note read, put right, looks answered, the order moving with each.

use super::app::App;
use super::ask::{Ask, CoachStep};
use super::fields::{Fields, Wrong, query};
use super::guard::secret;
use super::not_given::NotGiven;
use super::on_record::OnRecord;
use super::served_library::LibraryState;
use super::students::said_of;
use super::unfinished::UnfinishedLesson;
use crate::diagnosis::{Asked, CheckUp, Diagnosis, diagnose};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::Lesson;
use crate::plan::PlanOptions;
use crate::records::learned_rows;
use crate::report::learned_line;
use crate::words::{Reader, Reading};
use std::sync::Arc;

/// A lesson worked out.
pub(super) struct Worked {
    /// The library, its effects as the records move them.
    pub(super) base: Arc<KnowledgeBase>,
    /// What was read, with what was done since.
    pub(super) checkup: CheckUp,
    /// The question that the order answers.
    pub(super) asked: Asked,
    /// The answer.
    pub(super) diagnosis: Diagnosis,
    /// What the records moved, in words.
    pub(super) moved: Option<String>,
}

/// Works out what an address asks, as the records move it where that was opted into.
pub(super) async fn work_out(
    app: &Arc<App>,
    room: &LibraryState,
    ask: &Ask,
    record: Option<&OnRecord>,
) -> Result<Worked, NotGiven> {
    let mut checkup = ask.check_up(room, record)?;
    let mut base = Arc::clone(&room.base);
    let mut moved = None;
    if let Some(record) = record.filter(|record| record.learns) {
        let read = checkup.asked(&base).observations;
        let found = read.iter().filter(|seen| seen.state.is_finding());
        let found = found.map(|seen| seen.condition);
        let ids = found.map(|key| (key, base.condition(key).id.clone()));
        let said = said_of(app, ids.collect()).await?;
        let handle = record.history.student.handle.as_str();
        let rows = learned_rows(&base, &said.calls, Some(handle));
        moved = learned_line(&base, &rows);
        checkup.learn(rows.into_iter().map(|(key, row)| (key, row.posterior)));
        let tries = said.tries.into_iter();
        let tries = tries.filter_map(|(id, tries)| Some((base.find_drill(&id)?, tries)));
        base = app.library.moved(&room.base, tries.collect());
    }
    let asked = checkup.asked(&base);
    let diagnosis = diagnose(&base, &asked)
        .map_err(|error| NotGiven::from(Wrong::new("note", error.to_string(), "")))?;
    Ok(Worked {
        base,
        checkup,
        asked,
        diagnosis,
        moved,
    })
}

/// Words that a correction was given in and that mean nothing certain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Unclear {
    /// What is being put right: the id of what was read, or the words that were not understood.
    pub(super) of: String,
    /// The words.
    pub(super) words: String,
}

impl Unclear {
    pub(super) fn read(fields: &Fields) -> Option<Self> {
        let (of, words) = fields.one("unclear")?.split_once('|')?;
        Some(Self {
            of: of.to_owned(),
            words: words.to_owned(),
        })
    }
}

/// Takes a form of the lesson in and gives the address to go on at.
///
/// The form holds the lesson as its page showed it, and what is done now; where another tab has gone on
/// from there, this one gets a draft of its own.
pub(super) fn act(app: &App, room: &LibraryState, fields: &Fields) -> Result<String, NotGiven> {
    let mut ask = Ask::read(&Fields::parse(fields.raw("ask").unwrap_or_default())?)?;
    let shown = ask.query();
    let (page, part, unclear) = done(&mut ask, room, fields)?;
    keep(app, &mut ask, &shown)?;
    let mut address = format!("{page}?{}", ask.query());
    if let Some(unclear) = unclear {
        address.push('&');
        address.push_str(&query([("unclear", unclear.as_str())]));
    }
    address.push_str(part);
    Ok(address)
}

/// Does what a form says: the page and the part of it to go on at, and words that mean no one entry.
fn done(
    ask: &mut Ask,
    room: &LibraryState,
    fields: &Fields,
) -> Result<(&'static str, &'static str, Option<String>), NotGiven> {
    let what = fields.one("do").unwrap_or_default();
    let (verb, about) = what.split_once(':').unwrap_or((what, ""));
    let part = match verb {
        "read" => {
            begin(ask, fields)?;
            ""
        }
        "step" => {
            let step = CoachStep::parse(about);
            ask.steps.push(step.ok_or_else(|| no_such_step(what))?);
            "#looks"
        }
        "hand" => {
            ask.take("handed", about)?;
            ""
        }
        "back" => {
            ask.steps.pop();
            "#looks"
        }
        "plan" => {
            fit(ask, fields)?;
            return Ok(("/plan", "", None));
        }
        "means" | "reads" | "called" => {
            let (part, about) = match verb {
                "called" => ("#called", verb),
                _ => ("#read", about),
            };
            let id = match meant(room, fields) {
                Ok(id) => id,
                Err(words) => return Ok(("/lesson", part, Some(format!("{about}|{words}")))),
            };
            ask.steps.push(match verb {
                "means" => CoachStep::Means(about.to_owned(), id),
                "reads" => CoachStep::Reads(about.to_owned(), id),
                _ => CoachStep::Called(id),
            });
            part
        }
        _ => return Err(no_such_step(what).into()),
    };
    Ok(("/lesson", part, None))
}

fn no_such_step(what: &str) -> Wrong {
    let help = "go back to the lesson and use its buttons";
    Wrong::new(
        "do",
        format!("\"{what}\" is nothing that is done in a lesson"),
        help,
    )
}

/// A note, and what is known of the student, in the place of what was there.
fn begin(ask: &mut Ask, fields: &Fields) -> Result<(), Vec<Wrong>> {
    ask.reported.seen.clear();
    ask.context.shot = None;
    ask.context.handed = None;
    ask.context.level = None;
    let mut wrong = Vec::new();
    for (name, value) in fields.iter() {
        if matches!(name, "note" | "shot" | "handed" | "level")
            && let Err(slip) = ask.take(name, value)
        {
            wrong.push(slip);
        }
    }
    if ask.is_empty() && wrong.is_empty() {
        let help = "say what ball, club or body did, such as \"weak slice, divots point in\"";
        wrong.push(Wrong::new("note", "there is no note yet", help));
    }
    if wrong.is_empty() { Ok(()) } else { Err(wrong) }
}

/// What the plan has to fit into, in the place of what was there.
fn fit(ask: &mut Ask, fields: &Fields) -> Result<(), Vec<Wrong>> {
    if fields.raw("minutes").is_none() {
        return Ok(());
    }
    ask.options = PlanOptions::default();
    ask.context = Lesson {
        shot: ask.context.shot,
        handed: ask.context.handed,
        level: ask.context.level,
        ..Lesson::default()
    };
    let limited = fields.one("limited") == Some("yes");
    let mut wrong = Vec::new();
    for (name, value) in fields.iter() {
        let taken = match name {
            "minutes" | "weeks" | "place" | "sessions" | "level" | "suits" => ask.take(name, value),
            "have" if limited => ask.take(name, value),
            _ => Ok(()),
        };
        wrong.extend(taken.err());
    }
    if wrong.is_empty() { Ok(()) } else { Err(wrong) }
}

/// The id that the words of a correction mean, or the words where they mean nothing certain.
fn meant(room: &LibraryState, fields: &Fields) -> Result<String, String> {
    let words = fields.one("words").unwrap_or_default();
    let id = |key: ConditionKey| room.base.condition(key).id.clone();
    match room.reader.read(words, &Lesson::default()) {
        Reading::Clear { condition, .. } => Ok(id(condition)),
        Reading::Several(_) | Reading::Unknown(_) => Err(words.to_owned()),
    }
}

/// What words of a correction may mean, best first.
pub(super) fn may_mean(reader: &Reader, words: &str) -> Vec<ConditionKey> {
    let near = match reader.read(words, &Lesson::default()) {
        Reading::Clear { condition, .. } => return vec![condition],
        Reading::Several(near) | Reading::Unknown(near) => near,
    };
    near.iter()
        .take(5)
        .map(|candidate| candidate.condition)
        .collect()
}

/// Keeps the lesson, under a name of its own where it is new or where another tab went on before.
fn keep(app: &App, ask: &mut Ask, shown: &str) -> Result<(), NotGiven> {
    if app.read_only {
        return Ok(());
    }
    let not_kept =
        |error: std::io::Error| NotGiven::NotDone(format!("the lesson could not be kept: {error}"));
    let elsewhere = app
        .drafts
        .find(&ask.lesson)
        .is_some_and(|draft| draft.ask != shown);
    if ask.lesson.is_empty() || elsewhere {
        ask.lesson = secret().map_err(not_kept)?[..16].to_owned();
    }
    let draft = UnfinishedLesson {
        ask: ask.query(),
        about: ask.about(),
    };
    app.drafts.keep(&ask.lesson, &draft).map_err(not_kept)
}
