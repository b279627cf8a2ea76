//! The plan of a lesson: what it has to fit into, the lesson in order, the drills in full, the student's
//! page.

use super::app::App;
use super::ask::Ask;
use super::blocks::{blocks, select};
use super::fields::Wrong;
use super::not_given::{self, NotGiven};
use super::on_record::OnRecord;
use super::served_library::LibraryState;
use super::shell::{self, Here};
use super::students::today;
use super::worked::{Worked, work_out};
use crate::diagnosis::clears_together;
use crate::knowledge::{Level, Place, Suits};
use crate::plan::{Plan, PlanOptions, make_plan};
use crate::records::LessonRecord;
use crate::report::{Handout, Occasion, handout, plan_page, sided};
use chrono::Duration;
use maud::{Markup, html};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A plan, with the lesson that it rests on.
pub(super) struct Planned {
    pub(super) worked: Worked,
    pub(super) plan: Plan,
}

/// Makes the plan that an address asks for.
pub(super) async fn plan(
    app: &Arc<App>,
    room: &LibraryState,
    ask: &Ask,
    record: Option<&OnRecord>,
) -> Result<Planned, NotGiven> {
    let worked = work_out(app, room, ask, record).await?;
    let slip = |message: String| NotGiven::from(Wrong::new("", message, ""));
    let clears =
        clears_together(&worked.base, &worked.asked).map_err(|error| slip(error.to_string()))?;
    let known = record.map(|record| record.history.given(&room.base));
    let options = PlanOptions {
        known: known.unwrap_or_default(),
        ..ask.options.clone()
    };
    let plan = make_plan(&worked.base, &worked.diagnosis, &*clears, &options)
        .map_err(|error| not_given::not_planned(&error))?;
    drop(clears);
    Ok(Planned { worked, plan })
}

/// The student's page of a plan.
pub(super) fn sheet(room: &LibraryState, ask: &Ask, planned: &Planned) -> Handout {
    let date = ask.on.unwrap_or_else(today);
    let next = date.checked_add_signed(Duration::weeks(i64::from(ask.options.weeks)));
    let occasion = Occasion {
        handed: planned.worked.diagnosis.lesson.handed,
        student: ask.student.clone(),
        date: Some(date.to_string()),
        next: next.map(|next| next.to_string()),
    };
    handout(
        &room.base,
        &planned.worked.diagnosis,
        &planned.plan,
        &occasion,
    )
}

/// What is kept of a lesson, and whose it is.
pub(super) fn record(
    room: &LibraryState,
    ask: &Ask,
    planned: &Planned,
    reason: Option<&str>,
) -> Result<(String, LessonRecord), NotGiven> {
    let Some(handle) = ask.student.clone() else {
        let help = "begin the lesson from the student's page";
        return Err(Wrong::new("student", "it is not said whose lesson it is", help).into());
    };
    let day = ask.on.unwrap_or_else(today);
    let diagnosis = &planned.worked.diagnosis;
    let mut lesson = LessonRecord::of(&room.base, diagnosis, Some(&planned.plan), day);
    lesson.note.clone_from(&ask.reported.seen);
    lesson.coach_says = ask.called().map(str::to_owned);
    lesson.reason = reason.map(str::to_owned);
    Ok((handle, lesson))
}

/// The plan as a page.
pub(super) fn page(room: &LibraryState, ask: &Ask, planned: &Planned, can_save: bool) -> Markup {
    let query = ask.query();
    let page = plan_page(&room.base, &planned.worked.diagnosis, &planned.plan, true);
    let page = sided(page, planned.worked.diagnosis.lesson.handed);
    let main = html! {
        h1 { "Plan" }
        nav class="ways" aria-label="This lesson" {
            a class="button" href={ "/lesson?" (query) } { "Back to the lesson" }
            a class="button main" href={ "/sheet?" (query) } { "The student\u{2019}s page" }
        }
        (fits_into(room, ask, &query))
        (blocks(&page))
        @if let Some(student) = ask.student.as_ref().filter(|_| can_save) { (keep(ask, planned, room, student, &query)) }
        details class="chain" {
            summary { "The chain as a picture" }
            img src={ "/chain.svg?" (query) } loading="lazy" alt="How what the lesson works on leads to what was seen, as boxes and arrows.";
        }
    };
    shell::page("Plan", Here::Lesson, &main)
}

/// What keeps the lesson, as a new one, on the student's record.
fn keep(ask: &Ask, planned: &Planned, room: &LibraryState, student: &str, query: &str) -> Markup {
    let first = planned.worked.diagnosis.causes.first();
    let first = first.map(|cause| room.base.condition(cause.condition).id.as_str());
    let differs = ask.called().is_some() && ask.called() != first;
    html! {
        section aria-labelledby="keep" {
            h2 id="keep" { "Keep the lesson" }
            form method="post" action="/keep" {
                input type="hidden" name="ask" value=(query);
                @if differs { label { "Your call is not our first. Why?" input name="reason" maxlength="500"; } }
                button class="main" { "Keep it for " (student) }
            }
        }
    }
}

/// Minutes, place, what is at hand and for whom.
fn fits_into(room: &LibraryState, ask: &Ask, query: &str) -> Markup {
    let (options, context) = (&ask.options, &ask.context);
    let things: BTreeSet<&str> = room
        .base
        .drills
        .iter()
        .flat_map(|drill| drill.equipment.iter().map(String::as_str))
        .filter(|thing| !matches!(*thing, "club" | "ball"))
        .collect();
    let have = |thing: &str| {
        let at_hand = context.at_hand.as_ref();
        at_hand.is_some_and(|at_hand| at_hand.words().any(|own| own == thing))
    };
    html! {
        form method="post" action="/lesson" class="fits" {
            input type="hidden" name="ask" value=(query);
            div class="pair" {
                label { "Minutes" input name="minutes" type="number" inputmode="numeric" min="10" max="180" value=(options.minutes); }
                (select("place", "Place", "as usual for the shot", Place::ALL.iter().map(|place| (place.as_str(), place.words(), context.place == Some(*place)))))
            }
            details {
                summary { "At hand, level, practice" }
                div class="pair" {
                    (select("level", "Level", "not said", Level::ALL.iter().map(|level| (level.as_str(), level.words(), context.level == Some(*level)))))
                    (select("suits", "Made to fit", "anybody", Suits::ALL.iter().map(|suits| (suits.as_str(), suits.words(), context.suits.contains(suits)))))
                    label { "Practice: times a week x minutes" input name="sessions" pattern="[1-7]x[0-9]{2}" value={ (options.sessions.a_week) "x" (options.sessions.minutes) }; }
                    label { "Weeks until the next lesson" input name="weeks" type="number" inputmode="numeric" min="1" max="12" value=(options.weeks); }
                }
                fieldset class="switches" {
                    legend { "At hand" }
                    label class="switch" {
                        input type="checkbox" name="limited" value="yes" checked[context.at_hand.is_some()];
                        span { "Only what is ticked here" }
                    }
                    @for thing in things {
                        label class="switch" {
                            input type="checkbox" name="have" value=(thing) checked[have(thing)];
                            span { (thing) }
                        }
                    }
                }
            }
            button class="main" name="do" value="plan" { "Plan it so" }
        }
    }
}

/// The student's page: the sheet as it prints, with a way back that does not.
pub(super) fn sheet_page(ask: &Ask, sheet: &Handout) -> Markup {
    let query = ask.query();
    html! {
        (maud::DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Your golf plan" }
                link rel="stylesheet" href="/sheet.css";
                link rel="icon" href="/mark.svg" type="image/svg+xml";
                script src="/page.js" defer {}
            }
            body {
                nav class="ways" aria-label="This lesson" {
                    a class="button" href={ "/plan?" (query) } { "Back to the plan" }
                    a class="button" href={ "/sheet.html?" (query) } download="golf-plan.html" { "Save" }
                    button type="button" class="button" data-print hidden { "Print" }
                }
                (shell::made(sheet.to_html_content()))
            }
        }
    }
}
