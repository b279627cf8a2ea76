//! One handler a page: fields in, a room asked, a page or JSON out.

use super::app::App;
use super::ask::Ask;
use super::drills_view::{self, DrillAsk};
use super::entries;
use super::fields::Fields;
use super::gate::refused;
use super::lesson_view::{self, LessonView};
use super::library_view::{self, Came, Filled};
use super::not_given::NotGiven;
use super::on_record::OnRecord;
use super::plan_view::{self, Planned};
use super::served_library::LibraryState;
use super::shell;
use super::students;
use super::worked::{self, Unclear, work_out};
use crate::authoring::EntryKind;
use crate::records::{Store, StudentSummary};
use crate::report::{
    Handout, drills_json, layers_json, picture, plan_json, progress_picture, show_json,
    student_json, students_json, why_json,
};
use axum::Router;
use axum::body::Bytes;
use axum::extract::{Path, RawQuery, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, LOCATION};
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use maud::Markup;
use serde_json::Value;
use std::sync::Arc;

/// How many causes a program gets unless it asks for all, as from the command.
const LISTED: usize = 15;

/// So many lessons that were kept are remembered against a second tap: more than a day has.
const REMEMBERED: usize = 100;

type Shared = State<Arc<App>>;

/// Every page by its path.
pub(super) fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/", get(begin))
        .route("/lesson", get(lesson).post(act))
        .route("/lesson.json", get(why_as_json))
        .route("/why.json", get(why_as_json))
        .route("/forget", post(forget))
        .route("/keep", post(keep))
        .route("/plan", get(plan_as_page))
        .route("/plan.json", get(plan_as_json))
        .route("/sheet", get(sheet))
        .route("/sheet.html", get(sheet_to_keep))
        .route("/sheet.json", get(sheet_as_json))
        .route("/chain.svg", get(chain))
        .route("/drills", get(drills_as_page))
        .route("/drills.json", get(drills_as_json))
        .route("/library", get(library_as_page))
        .route("/library.json", get(library_as_json))
        .route("/own/{kind}", get(own_form).post(own_taken))
        .route("/students", get(students_as_page).post(begin_record))
        .route("/students.json", get(students_as_json))
        .route("/students/{handle}", get(student_named).post(drill_told))
        .route("/students/{handle}/progress.svg", get(progress))
        .route("/show", get(show))
        .route("/show.json", get(show_as_json))
        .route("/show/{id}", get(show_named))
        .route(
            "/page.css",
            get(|| async { of_type("text/css; charset=utf-8", shell::STYLE) }),
        )
        .route(
            "/page.js",
            get(|| async { of_type("text/javascript; charset=utf-8", shell::SCRIPT) }),
        )
        .route(
            "/sheet.css",
            get(|| async { of_type("text/css; charset=utf-8", sheet_style()) }),
        )
        .route(
            "/mark.svg",
            get(|| async { of_type("image/svg+xml", shell::MARK) }),
        )
        .route(
            "/favicon.ico",
            get(|| async { of_type("image/svg+xml", shell::MARK) }),
        )
        .fallback(nowhere)
}

fn of_type(kind: &'static str, text: impl Into<String>) -> Response {
    ([(CONTENT_TYPE, kind)], text.into()).into_response()
}

fn sheet_style() -> String {
    format!("{}{}", Handout::style(), include_str!("sheet.css"))
}

/// A page, or why there is none.
fn paged(page: Result<Markup, NotGiven>) -> Response {
    given(page.map(|page| Html(page.into_string())))
}

/// Whatever is given, or a page that says why it is not.
fn given<R: IntoResponse>(what: Result<R, NotGiven>) -> Response {
    what.map_or_else(|not| not.page(), IntoResponse::into_response)
}

/// The command's own JSON, or what is wrong in its shape.
fn answered(value: Result<Value, NotGiven>) -> Response {
    match value {
        // The same bytes as the command prints.
        Ok(value) => of_type("application/json", format!("{value}\n")),
        Err(not) => not.json(),
    }
}

fn fields(query: Option<&str>) -> Result<Fields, NotGiven> {
    Ok(Fields::parse(query.unwrap_or_default())?)
}

fn asked(query: Option<&str>) -> Result<Ask, NotGiven> {
    Ok(Ask::read(&fields(query)?)?)
}

/// What is on record of the student that an address names, if it names one.
async fn record_of(app: &Arc<App>, ask: &Ask) -> Result<Option<OnRecord>, NotGiven> {
    match &ask.student {
        Some(handle) => students::on_record(app, handle).await.map(Some),
        None => Ok(None),
    }
}

/// What an address asks, with the record of its student.
async fn question(
    app: &Arc<App>,
    query: Option<&str>,
) -> Result<(Ask, Option<OnRecord>), NotGiven> {
    let ask = asked(query)?;
    let record = record_of(app, &ask).await?;
    Ok((ask, record))
}

fn see_other(address: &str) -> Response {
    (StatusCode::SEE_OTHER, [(LOCATION, address.to_owned())]).into_response()
}

async fn nowhere(request: axum::extract::Request) -> Response {
    let as_json = request.uri().path().ends_with(".json");
    refused(as_json, StatusCode::NOT_FOUND, "There is no such page.")
}

async fn begin(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    paged(asked(query.as_deref()).map(|ask| {
        let drafts = app.drafts.list();
        lesson_view::begin(&app.library.room(), &ask, &drafts, app.read_only, &[])
    }))
}

async fn lesson(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let page = async || {
        let fields = fields(query.as_deref())?;
        let (ask, record) = question(&app, query.as_deref()).await?;
        let room = app.library.room();
        let begin = |wrong: &[(String, String)]| {
            let drafts = app.drafts.list();
            let page = lesson_view::begin(&room, &ask, &drafts, app.read_only, wrong);
            Html(page.into_string())
        };
        if ask.is_empty() {
            return Ok(begin(&[]).into_response());
        }
        let worked = match work_out(&app, &room, &ask, record.as_ref()).await {
            // The note stays in its place, to be mended.
            Err(not @ NotGiven::NotUnderstood(_)) => {
                let page = begin(&not.said());
                return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
            }
            worked => worked?,
        };
        let view = LessonView {
            room: &room,
            query: ask.query(),
            ask: &ask,
            worked: &worked,
            unclear: Unclear::read(&fields),
            record: record.as_ref(),
        };
        Ok(Html(view.page().into_string()).into_response())
    };
    given(page().await)
}

async fn act(State(app): Shared, body: Bytes) -> Response {
    let went = || {
        let fields = Fields::of_body(&body)?;
        worked::act(&app, &app.library.room(), &fields)
    };
    given(went().map(|address| see_other(&address)))
}

async fn forget(State(app): Shared, body: Bytes) -> Response {
    let gone = || {
        if app.read_only {
            return Err(NotGiven::ReadOnly);
        }
        let fields = Fields::of_body(&body)?;
        app.drafts
            .forget(fields.one("lesson").unwrap_or_default())
            .map_err(|error| {
                NotGiven::NotDone(format!("the lesson could not be forgotten: {error}"))
            })
    };
    given(gone().map(|()| see_other("/")))
}

async fn why_as_json(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let value = async || {
        let (ask, record) = question(&app, query.as_deref()).await?;
        let room = app.library.room();
        let worked = work_out(&app, &room, &ask, record.as_ref()).await?;
        let usual = if ask.all { usize::MAX } else { LISTED };
        let listed = ask.limit.unwrap_or(usual);
        Ok(why_json(&room.base, &worked.diagnosis, listed))
    };
    answered(value().await)
}

/// The plan that an address asks for, with what it was made from.
async fn planned(
    app: &Arc<App>,
    query: Option<&str>,
) -> Result<(Arc<LibraryState>, Ask, Planned), NotGiven> {
    let (ask, record) = question(app, query).await?;
    let room = app.library.room();
    let planned = plan_view::plan(app, &room, &ask, record.as_ref()).await?;
    Ok((room, ask, planned))
}

async fn plan_as_page(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let made = planned(&app, query.as_deref()).await;
    paged(made.map(|(room, ask, planned)| plan_view::page(&room, &ask, &planned, !app.read_only)))
}

async fn plan_as_json(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let made = planned(&app, query.as_deref()).await;
    answered(made.map(|(room, _, planned)| {
        plan_json(&room.base, &planned.worked.diagnosis, &planned.plan, LISTED)
    }))
}

/// Keeps a lesson on its student's record; the same lesson by a second tap is not kept twice.
async fn keep(State(app): Shared, body: Bytes) -> Response {
    let kept = async || {
        let fields = Fields::of_body(&body)?;
        let query = fields.raw("ask").unwrap_or_default();
        if app.read_only {
            return Err(NotGiven::ReadOnly);
        }
        let mut saved = app.saved.lock().await;
        if let Some((_, address)) = saved.iter().find(|(asked, _)| asked == query) {
            return Ok(see_other(address));
        }
        let (room, ask, planned) = planned(&app, Some(query)).await?;
        let (handle, lesson) = plan_view::record(&room, &ask, &planned, fields.one("reason"))?;
        let number = students::keep(&app, &handle, lesson).await?;
        let address = format!("/students/{handle}?saved={number}");
        if saved.len() == REMEMBERED {
            saved.pop_front();
        }
        saved.push_back((query.to_owned(), address.clone()));
        // It is on record now, and need not be gone on with.
        let _ = app.drafts.forget(&ask.lesson);
        Ok(see_other(&address))
    };
    given(kept().await)
}

async fn handout_of(app: &Arc<App>, query: Option<&str>) -> Result<(Ask, Handout), NotGiven> {
    let (room, ask, planned) = planned(app, query).await?;
    let sheet = plan_view::sheet(&room, &ask, &planned);
    Ok((ask, sheet))
}

async fn sheet(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    paged(
        handout_of(&app, query.as_deref())
            .await
            .map(|(ask, sheet)| plan_view::sheet_page(&ask, &sheet)),
    )
}

/// The page as a file of its own; the browser saves it, and does not show it.
async fn sheet_to_keep(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    given(handout_of(&app, query.as_deref()).await.map(|(_, sheet)| {
        let kind = (CONTENT_TYPE, "text/html; charset=utf-8");
        let name = (
            CONTENT_DISPOSITION,
            "attachment; filename=\"golf-plan.html\"",
        );
        ([kind, name], sheet.to_html())
    }))
}

async fn sheet_as_json(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    answered(
        handout_of(&app, query.as_deref())
            .await
            .map(|(_, sheet)| sheet.to_json()),
    )
}

async fn chain(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let made = planned(&app, query.as_deref()).await;
    given(made.map(|(room, _, planned)| {
        let drawing = picture(&room.base, &planned.worked.diagnosis, &planned.plan);
        of_type("image/svg+xml", drawing)
    }))
}

async fn drills_as_page(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let page = || {
        let room = app.library.room();
        let ask = DrillAsk::read(&fields(query.as_deref())?)?;
        // Nothing looked for yet is no slip.
        let found = (!ask.words.is_empty()).then(|| drills_view::find(&room, &ask));
        Ok(drills_view::page(&room, &ask, found))
    };
    paged(page())
}

async fn drills_as_json(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let value = || {
        let room = app.library.room();
        let ask = DrillAsk::read(&fields(query.as_deref())?)?;
        let found = drills_view::find(&room, &ask)?;
        Ok(drills_json(&room.base, &ask.words, &found, false))
    };
    answered(value())
}

async fn library_as_page(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let page = || {
        let diff = fields(query.as_deref())?.one("diff").is_some();
        let (overlays, _) = library_view::layers(&app)?;
        Ok(library_view::page(&app, &overlays, diff))
    };
    paged(page())
}

async fn library_as_json(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let value = || {
        let diff = fields(query.as_deref())?.one("diff").is_some();
        let (overlays, folders) = library_view::layers(&app)?;
        Ok(layers_json(&overlays, &folders, diff))
    };
    answered(value())
}

fn kind_of(word: &str) -> Result<EntryKind, NotGiven> {
    library_view::kind(word).ok_or_else(|| NotGiven::NotThere {
        message: format!("\"{word}\" is no sort of entry"),
        help: "add a drill, a fault, a cause, an outcome or a link".to_owned(),
    })
}

async fn own_form(
    State(app): Shared,
    Path(word): Path<String>,
    RawQuery(query): RawQuery,
) -> Response {
    let page = || {
        let kind = kind_of(&word)?;
        if app.read_only {
            return Err(NotGiven::ReadOnly);
        }
        let filled = match fields(query.as_deref())?.one("id") {
            Some(id) => library_view::opened(&app, &app.library.room().base, kind, id)?,
            None => Filled::default(),
        };
        Ok(library_view::form(kind, &filled))
    };
    paged(page())
}

async fn own_taken(State(app): Shared, Path(word): Path<String>, body: Bytes) -> Response {
    let came = || {
        let kind = kind_of(&word)?;
        let given = Fields::of_body(&body)?;
        let came = library_view::take(&app, &app.library.room().base, kind, &given)?;
        Ok(match came {
            Came::Saved(id) => see_other(&format!("/show/{id}")),
            Came::Form(filled) => {
                let page = Html(library_view::form(kind, &filled).into_string());
                (filled.status(), page).into_response()
            }
        })
    };
    given(came())
}

async fn everyone(app: &Arc<App>) -> Result<Vec<StudentSummary>, NotGiven> {
    students::reading(app, |store| store.map_or(Ok(Vec::new()), Store::students)).await
}

async fn students_as_page(State(app): Shared) -> Response {
    paged(everyone(&app).await.map(|all| students::list(&app, &all)))
}

async fn students_as_json(State(app): Shared) -> Response {
    answered(
        everyone(&app)
            .await
            .map(|all| students_json(&all, students::today())),
    )
}

async fn begin_record(State(app): Shared, body: Bytes) -> Response {
    let begun = Fields::of_body(&body)
        .map_err(NotGiven::from)
        .and_then(|fields| students::begun(&app.library.room().base, &fields));
    let kept = match begun {
        Ok((student, limits)) => {
            let address = format!("/students/{}", student.handle);
            let add = move |store: &mut Store| store.add_student(&student, limits.as_deref());
            students::writing(&app, add)
                .await
                .map(|()| see_other(&address))
        }
        Err(not) => Err(not),
    };
    given(kept)
}

/// A student by the address; with `.json` behind the handle, as JSON.
async fn student_named(
    State(app): Shared,
    Path(handle): Path<String>,
    RawQuery(query): RawQuery,
) -> Response {
    if let Some(handle) = handle.strip_suffix(".json") {
        let record = students::on_record(&app, handle).await;
        return answered(record.map(|record| student_json(&record.history, None)));
    }
    let page = async || {
        let record = students::on_record(&app, &handle).await?;
        let fields = fields(query.as_deref())?;
        let saved = fields.one("saved");
        let room = app.library.room();
        Ok(students::page(
            &room.base,
            &record.history,
            saved,
            app.read_only,
        ))
    };
    paged(page().await)
}

/// The months of a student as a picture.
async fn progress(State(app): Shared, Path(handle): Path<String>) -> Response {
    given(students::on_record(&app, &handle).await.map(|record| {
        let drawing = progress_picture(&app.library.room().base, &record.history);
        of_type("image/svg+xml", drawing)
    }))
}

/// How a drill went for a student.
async fn drill_told(State(app): Shared, Path(handle): Path<String>, body: Bytes) -> Response {
    let kept = async || {
        let outcome = students::told(&app.library.room().base, &Fields::of_body(&body)?)?;
        let address = format!("/students/{handle}#went");
        let tell = move |store: &mut Store| store.add_outcome(&handle, &outcome).map(drop);
        students::writing(&app, tell).await?;
        Ok(see_other(&address))
    };
    given(kept().await)
}

fn id_of(query: Option<&str>) -> Result<String, NotGiven> {
    Ok(fields(query)?.one("id").unwrap_or_default().to_owned())
}

async fn show(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let page = || {
        let room = app.library.room();
        let entry = entries::find(&room, &id_of(query.as_deref())?)?;
        Ok(entries::page(&app, &room, entry))
    };
    paged(page())
}

async fn show_as_json(State(app): Shared, RawQuery(query): RawQuery) -> Response {
    let value = || {
        let room = app.library.room();
        let entry = entries::find(&room, &id_of(query.as_deref())?)?;
        Ok(show_json(&room.base, entry))
    };
    answered(value())
}

/// An entry by its address; with `.json` behind the id, as JSON.
async fn show_named(State(app): Shared, Path(id): Path<String>) -> Response {
    let room = app.library.room();
    match id.strip_suffix(".json") {
        Some(id) => answered(entries::find(&room, id).map(|entry| show_json(&room.base, entry))),
        None => paged(entries::find(&room, &id).map(|entry| entries::page(&app, &room, entry))),
    }
}
