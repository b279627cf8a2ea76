//! Students: who comes, what was seen and given, and what came of it.
//!
//! The records block while they are read or written, so every question to them is put from a thread of
//! its own.

use super::blocks::blocks;
use super::fields::{Fields, Wrong};
use super::lesson_view::select;
use super::serve::App;
use super::shell::{self, Here};
use super::trouble::NotGiven;
use crate::knowledge::{KnowledgeBase, Level, Suits};
use crate::lesson::Handed;
use crate::records::{History, Store, StoreError, Student, Summary, mistaken_for, shape_of_handle};
use crate::report::student_page;
use chrono::{Local, NaiveDate};
use maud::{Markup, html};
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
pub(super) fn list(app: &App, students: &[Summary]) -> Markup {
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
    student.handed = [Handed::Right, Handed::Left]
        .into_iter()
        .find(|hand| fields.one("handed") == Some(hand.as_str()));
    student.level = fields.one("level").and_then(Level::parse);
    student
        .suits
        .extend(fields.one("suits").and_then(Suits::parse));
    if wrong.is_empty() {
        Ok((student, limits))
    } else {
        Err(wrong.into())
    }
}

/// One student, with every lesson in order.
pub(super) fn page(base: &KnowledgeBase, history: &History) -> Markup {
    let student = &history.student;
    let mut page = student_page(base, history, None);
    let title = page.take_title().unwrap_or_default();
    let main = html! {
        h1 { (title) }
        p { a class="button main" href={ "/?student=" (student.handle) } { "Begin a lesson" } }
        (blocks(&page))
    };
    shell::page(&title, Here::Students, &main)
}
