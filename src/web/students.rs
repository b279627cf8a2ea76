//! Students: who comes, what was seen and given, and what came of it.
//!
//! The records block while they are read or written, so every question to them is put from a thread of
//! its own.

use super::app::App;
use super::blocks::{blocks, select};
use super::fields::{Fields, Wrong};
use super::not_given::NotGiven;
use super::on_record::OnRecord;
use super::shell::{self, Here};
use crate::knowledge::{ConditionKey, KnowledgeBase, Level, Suits};
use crate::lesson::Handed;
use crate::records::{
    CallFor, DrillResult, History, LessonRecord, Outcome, Store, StoreError, Student,
    StudentSummary, mistaken_for, shape_of_handle, since_last,
};
use crate::report::{look_first_page, progress_page, sided, student_page};
use chrono::{Local, NaiveDate};
use maud::{Markup, html};
use std::collections::BTreeMap;
use std::sync::Arc;

/// More letters than this are no note on a student, as from the command.
const MOST_LETTERS: usize = 2000;

/// Puts a question to the records, where they are; none are begun by it.
pub(super) async fn reading<T: Send + 'static>(
    app: &Arc<App>,
    ask: impl FnOnce(Option<&mut Store>) -> Result<T, StoreError> + Send + 'static,
) -> Result<T, NotGiven> {
    let place = app.records.clone();
    on_its_own(move || {
        let mut store = Store::to_read(&place)?;
        ask(store.as_mut())
    })
    .await
}

/// Changes the records, which are begun where there are none.
pub(super) async fn writing<T: Send + 'static>(
    app: &Arc<App>,
    change: impl FnOnce(&mut Store) -> Result<T, StoreError> + Send + 'static,
) -> Result<T, NotGiven> {
    if app.read_only {
        return Err(NotGiven::ReadOnly);
    }
    let (place, coach) = (app.records.clone(), app.coach.clone());
    on_its_own(move || change(&mut Store::to_write(&place, &coach)?)).await
}

async fn on_its_own<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, StoreError> + Send + 'static,
) -> Result<T, NotGiven> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done.map_err(not_given),
        Err(_) => Err(NotGiven::NotDone(
            "the records could not be asked".to_owned(),
        )),
    }
}

fn not_given(error: StoreError) -> NotGiven {
    let message = error.to_string();
    match error {
        StoreError::NoStudent { nearest, .. } => NotGiven::NotThere {
            message,
            help: if nearest.is_empty() {
                "the page of students names those who are kept".to_owned()
            } else {
                format!("did you mean {}?", nearest.join(", "))
            },
        },
        StoreError::HandleTaken(handle) => Wrong::new(
            "handle",
            message,
            format!("choose another, such as {handle}-2"),
        )
        .into(),
        StoreError::HandleShape { write, .. } => Wrong::new("handle", message, write).into(),
        _ => NotGiven::NotDone(message),
    }
}

/// What the records say of findings, and of drills by id.
pub(super) struct RecordsSay {
    pub(super) calls: BTreeMap<ConditionKey, Vec<CallFor>>,
    pub(super) tries: BTreeMap<String, (usize, f64)>,
}

/// Asks the records what they say of findings, each with its id.
pub(super) async fn said_of(
    app: &Arc<App>,
    findings: Vec<(ConditionKey, String)>,
) -> Result<RecordsSay, NotGiven> {
    reading(app, move |store| {
        let (mut calls, mut tries) = (BTreeMap::new(), BTreeMap::new());
        if let Some(store) = store {
            for (key, id) in findings {
                calls.insert(key, store.calls_for(&id)?);
            }
            tries = store.tries()?;
        }
        Ok(RecordsSay { calls, tries })
    })
    .await
}

/// Opens the record of a student.
pub(super) async fn on_record(app: &Arc<App>, handle: &str) -> Result<OnRecord, NotGiven> {
    let handle = handle.to_owned();
    reading(app, move |store| {
        let store = store.ok_or_else(|| nobody(&handle))?;
        Ok(OnRecord {
            history: store.history(&handle)?,
            limits: store.limits(&handle)?,
            learns: store.learns()?,
        })
    })
    .await
}

/// Keeps a lesson as a new one, unless this very lesson was kept by a tap before; gives its number.
pub(super) async fn keep(
    app: &Arc<App>,
    handle: &str,
    lesson: LessonRecord,
) -> Result<i64, NotGiven> {
    let handle = handle.to_owned();
    writing(app, move |store| {
        Ok(store.add_lesson(&handle, &lesson)?.number)
    })
    .await
}

/// Where there are no records there is no student of that handle.
pub(super) fn nobody(handle: &str) -> StoreError {
    StoreError::NoStudent {
        handle: handle.to_owned(),
        nearest: Vec::new(),
    }
}

pub(super) fn today() -> NaiveDate {
    Local::now().date_naive()
}

/// Everyone, and a form to begin a record.
pub(super) fn list(app: &App, students: &[StudentSummary]) -> Markup {
    let today = today();
    let main = html! {
        h1 { "Students" }
        @if students.is_empty() { p { "Nobody is kept yet." } }
        ul class="drafts" {
            @for one in students {
                @let until = one.student.kept_until(one.last);
                li {
                    a href={ "/students/" (one.student.handle) } { b { (one.student.handle) } }
                    span {
                        (one.lessons) @if one.lessons == 1 { " lesson" } @else { " lessons" }
                        @if let Some(last) = one.last { ", last " (last) }
                        @if until < today { ", to be kept until " (until) }
                    }
                }
            }
        }
        @if !app.read_only {
            section aria-labelledby="begin" {
                h2 id="begin" { "Begin a record" }
                form method="post" action="/students" {
                    label for="handle" { "Handle: never a name, such as heron" }
                    input id="handle" name="handle" required maxlength="40" pattern="[a-z][a-z0-9-]*" autocapitalize="none";
                    div class="pair" {
                        (select("handed", "Plays", "not said", [Handed::Right, Handed::Left].into_iter().map(|hand| (hand.as_str(), hand.as_str(), false))))
                        (select("level", "Level", "not said", Level::ALL.iter().map(|level| (level.as_str(), level.words(), false))))
                        (select("suits", "Has to suit", "anybody", Suits::ALL.iter().map(|suits| (suits.as_str(), suits.words(), false))))
                    }
                    label { "After what" input name="goal" maxlength="2000"; }
                    label { "Said of the body; kept apart, and heeded in every plan" input name="limits" maxlength="2000"; }
                    p { button class="main" { "Begin" } }
                }
            }
        }
    };
    shell::page("Students", Here::Students, &main)
}

/// A new student from a form, with what was said of the body.
pub(super) fn begun(
    base: &KnowledgeBase,
    fields: &Fields,
) -> Result<(Student, Option<String>), NotGiven> {
    let handle = fields.one("handle").unwrap_or_default();
    // Asked before the records are, which would be begun by it.
    shape_of_handle(handle)
        .map_err(|write| Wrong::new("handle", format!("\"{handle}\" is no handle"), write))?;
    if let Some(entry) = mistaken_for(base, handle) {
        let message =
            format!("\"{handle}\" is a word of the library ({entry}), and cannot be a handle");
        let help = "choose a word that means nothing in a lesson, such as wren";
        return Err(Wrong::new("handle", message, help).into());
    }
    let mut student = Student::new(handle, today());
    let mut wrong = Vec::new();
    let mut said = |name: &str| {
        let text = fields.one(name)?;
        if text.chars().count() > MOST_LETTERS {
            let help = format!("write at most {MOST_LETTERS} letters");
            wrong.push(Wrong::new(name, "that is no note on a student", help));
        }
        Some(text.to_owned())
    };
    student.goals.extend(said("goal"));
    let limits = said("limits");
    student.handed = fields.one("handed").and_then(Handed::parse);
    student.level = fields.one("level").and_then(Level::parse);
    let suits = fields.one("suits").and_then(Suits::parse);
    student.suits.extend(suits);
    if !wrong.is_empty() {
        return Err(wrong.into());
    }
    Ok((student, limits))
}

/// One student: what to look at first, how the drills went, and every lesson in order.
pub(super) fn page(
    base: &KnowledgeBase,
    history: &History,
    saved: Option<&str>,
    read_only: bool,
) -> Markup {
    let student = &history.student;
    let mut page = sided(student_page(base, history, None), student.handed);
    let title = page.take_title().unwrap_or_default();
    let since = since_last(base, history, &LessonRecord::new(today()));
    let first = sided(
        look_first_page(base, history, since.as_ref()),
        student.handed,
    );
    let main = html! {
        h1 { (title) }
        @if let Some(number) = saved { p role="status" class="caution" { "Saved and read back: lesson " (number) "." } }
        p { a class="button main" href={ "/?student=" (student.handle) } { "Begin a lesson" } }
        @if !history.lessons.is_empty() { (blocks(&first)) }
        @if let Some(last) = history.check_ups().rfind(|one| !one.prescribed.is_empty()).filter(|_| !read_only) { (how_it_went(base, history, last)) }
        @if !history.lessons.is_empty() { (progress(base, history)) }
        (blocks(&page))
    };
    shell::page(&title, Here::Students, &main)
}

/// The months as signs and words, with the picture behind them.
fn progress(base: &KnowledgeBase, history: &History) -> Markup {
    let mut page = progress_page(base, history);
    page.take_title();
    let page = sided(page, history.student.handed);
    let handle = &history.student.handle;
    html! {
        section aria-labelledby="progress" {
            h2 id="progress" { "Progress" }
            a href={ "/students/" (handle) "/progress.svg" } {
                img class="chart" src={ "/students/" (handle) "/progress.svg" } loading="lazy" alt={ "The months of " (handle) ": what was seen, how the drills went and what was counted, lesson by lesson. The lines below say it in words." };
            }
            (blocks(&page))
        }
    }
}

/// A tap for how each drill went of the last lesson that gave any.
fn how_it_went(base: &KnowledgeBase, history: &History, last: &LessonRecord) -> Markup {
    let told = |drill: &str| {
        let of_it = history
            .outcomes_of(last.number)
            .filter(|outcome| outcome.drill == drill);
        of_it.last().map(|outcome| outcome.result)
    };
    html! {
        @if !last.prescribed.is_empty() {
            section aria-labelledby="went" {
                h2 id="went" { "How the drills went" }
                @for given in &last.prescribed {
                    @let name = base.find_drill(&given.drill).map_or(given.drill.as_str(), |key| base.drill(key).name.as_str());
                    @let label = format!("went-{}", given.drill);
                    form method="post" action={ "/students/" (history.student.handle) } {
                        h3 id=(label) { (name) @if let Some(result) = told(&given.drill) { ": " (result.as_str()) } }
                        input type="hidden" name="drill" value=(given.drill);
                        input type="hidden" name="lesson" value=(last.number);
                        div class="answers four" {
                            @for result in DrillResult::ALL {
                                button name="result" value=(result.as_str()) aria-describedby=(label) aria-pressed=((told(&given.drill) == Some(result)).to_string()) { (went(result)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn went(result: DrillResult) -> &'static str {
    match result {
        DrillResult::Worked => "Worked",
        DrillResult::Partly => "Partly",
        DrillResult::No => "No change",
        DrillResult::Worse => "Worse",
    }
}

/// How a drill went, from the form of [`page`].
pub(super) fn told(base: &KnowledgeBase, fields: &Fields) -> Result<Outcome, NotGiven> {
    let drill = fields.one("drill").unwrap_or_default();
    if base.find_drill(drill).is_none() {
        let help = "go back to the student and use the buttons";
        return Err(Wrong::new("drill", format!("there is no drill \"{drill}\""), help).into());
    }
    let result = fields.one("result").and_then(DrillResult::parse);
    let result = result.ok_or_else(|| {
        Wrong::new(
            "result",
            "it is not said how it went",
            "choose worked, partly, no or worse",
        )
    })?;
    Ok(Outcome {
        number: 0,
        day: today(),
        coach: String::new(),
        lesson: fields.one("lesson").and_then(|number| number.parse().ok()),
        drill: drill.to_owned(),
        result,
        reps: None,
        note: None,
    })
}
