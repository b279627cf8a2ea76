//! The layers of the library, and own entries by a form.

use super::app::App;
use super::blocks::{blocks, stale};
use super::fields::Fields;
use super::not_given::NotGiven;
use super::shell::{self, Here};
use crate::authoring::{
    Checked, Draft, DraftError, EntryInFile, EntryKind, Field, Guide, Over, Overlay, OwnError,
    OwnLibrary, Takes, fields, overlays, sha256,
};
use crate::knowledge::{KnowledgeBase, LibraryFile, Problem, Stack};
use crate::report::{capital, change_page, layer_diff_page, layers_page};
use axum::http::StatusCode;
use maud::{Markup, html};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// The layers as they are read now, with the folder of each.
pub(super) fn layers(app: &App) -> Result<(Vec<Overlay>, Vec<Option<PathBuf>>), NotGiven> {
    let broken = |problems: Vec<Problem>| NotGiven::NotDone(said_of(&problems).join("; "));
    let mut stack = Stack::read(&app.library.wanted).map_err(broken)?;
    stack.load().map_err(broken)?;
    let overlays = overlays(&stack.layers).map_err(broken)?;
    Ok((overlays, stack.folders))
}

fn said_of(problems: &[Problem]) -> Vec<String> {
    let line = |problem: &Problem| match problem.line {
        0 => problem.message.clone(),
        line => format!("{}, line {line}: {}", problem.file, problem.message),
    };
    problems.iter().map(line).collect()
}

/// The library as a page; `diff` says what each layer changes in those below it.
pub(super) fn page(app: &App, overlays: &[Overlay], diff: bool) -> Markup {
    let page = if diff {
        layer_diff_page(overlays)
    } else {
        layers_page(overlays)
    };
    let own: Vec<_> = overlays
        .iter()
        .skip(1)
        .flat_map(|layer| &layer.adds)
        .collect();
    let main = html! {
        h1 { "Library" }
        (stale(&app.library.room()))
        @if can_add(app) {
            section aria-labelledby="add" {
                h2 id="add" { "Add of your own" }
                div class="answers" {
                    @for kind in KINDS { a class="button" href={ "/own/" (kind.as_str()) } { (capital(kind.as_str())) } }
                }
            }
        }
        section aria-labelledby="layers" {
            h2 id="layers" { @if diff { "What each layer changes" } @else { "Layers, first to last" } }
            (blocks(&page))
            p {
                @if diff { a class="button" href="/library" { "The layers" } }
                @else { a class="button" href="/library?diff=yes" { "What each layer changes" } }
            }
        }
        @if !own.is_empty() {
            section aria-labelledby="own" {
                h2 id="own" { "Added to what ships" }
                ul { @for entry in own { li { a href={ "/show/" (entry.id) } { (entry.id) } } } }
                p class="small" { "Each is changed from its own page." }
            }
        }
    };
    shell::page("Library", Here::Library, &main)
}

const KINDS: [EntryKind; 5] = [
    EntryKind::Drill,
    EntryKind::Fault,
    EntryKind::Cause,
    EntryKind::Outcome,
    EntryKind::Link,
];

/// The sort of entry with this word.
pub(super) fn kind(word: &str) -> Option<EntryKind> {
    KINDS.into_iter().find(|kind| kind.as_str() == word)
}

fn can_add(app: &App) -> bool {
    !app.read_only && app.library.wanted.own.is_some()
}

/// What was filled in, and what of it cannot be taken, by field.
#[derive(Default)]
pub(super) struct Filled {
    /// The entry that is changed, with its file as it was then.
    of: Option<StandsFor>,
    answers: BTreeMap<&'static str, String>,
    wrong: BTreeMap<&'static str, String>,
    /// What is wrong with the whole, each with what to do.
    whole: Vec<(String, String)>,
    /// What it would change, once nothing is wrong.
    preview: Option<Checked>,
}

impl Filled {
    /// Takes every answer of a form, with what is wrong with it.
    fn put(&mut self, kind: EntryKind, given: &Fields, guide: &mut Guide<'_>) {
        for (number, field) in fields(kind).iter().enumerate() {
            let text = all_of(given, field);
            if let Err(slip) = guide.put(number + 1, &text) {
                self.wrong.insert(field.key, slip);
            }
            self.answers.insert(field.key, text);
        }
    }

    pub(super) fn status(&self) -> StatusCode {
        if self.is_sound() {
            StatusCode::OK
        } else {
            StatusCode::UNPROCESSABLE_ENTITY
        }
    }

    /// Whether it can be saved.
    fn is_sound(&self) -> bool {
        self.wrong.is_empty() && self.whole.is_empty()
    }
}

/// An entry that a form changes.
struct StandsFor {
    id: String,
    /// Tells the file as it was when the form was opened from any other.
    mark: String,
    /// Whether it is the coach's own; else a copy takes its place.
    own: bool,
}

/// The form of an entry that is there, filled in with what it says.
pub(super) fn opened(
    app: &App,
    base: &KnowledgeBase,
    kind: EntryKind,
    id: &str,
) -> Result<Filled, NotGiven> {
    let own = own_library(app)?;
    let (found, alone) = there(&own, kind, id)?;
    let answers = Guide::over(kind, base, &alone).in_a_form();
    Ok(Filled {
        of: Some(StandsFor {
            id: id.to_owned(),
            mark: sha256(found.file.text.as_bytes()),
            own: found.layer == own.at,
        }),
        answers: answers.into_iter().collect(),
        ..Filled::default()
    })
}

fn own_library(app: &App) -> Result<OwnLibrary, NotGiven> {
    let wanted = &app.library.wanted;
    let Some(folder) = wanted.own.as_ref().filter(|_| !app.read_only) else {
        return Err(NotGiven::ReadOnly);
    };
    OwnLibrary::open(wanted.clone(), folder)
        .map_err(|problems| NotGiven::NotDone(said_of(&problems).join("; ")))
}

/// The entry of an id, with its file and by itself.
fn there(
    own: &OwnLibrary,
    kind: EntryKind,
    id: &str,
) -> Result<(EntryInFile, LibraryFile), NotGiven> {
    let found = own.find(id).filter(|found| found.kind == kind);
    let found = found.ok_or_else(|| NotGiven::NotThere {
        message: format!("there is no {} \"{id}\"", kind.as_str()),
        help: "open it from its own page".to_owned(),
    })?;
    let alone = found.read.as_ref().map(|(_, alone)| alone.clone());
    let alone = alone.ok_or_else(|| {
        NotGiven::NotDone(format!(
            "{} cannot be read: mend it, or take it out",
            found.file.path
        ))
    })?;
    Ok((found, alone))
}

/// What came of a form.
pub(super) enum Came {
    /// The form again: with what is wrong beside each field, or with what it would change.
    Form(Box<Filled>),
    /// It is saved, under this id.
    Saved(String),
}

/// Takes a filled form: shows what it would change, and saves it when that was seen and agreed to.
pub(super) fn take(
    app: &App,
    base: &KnowledgeBase,
    kind: EntryKind,
    given: &Fields,
) -> Result<Came, NotGiven> {
    let mut own = own_library(app)?;
    let mut filled = Filled::default();
    let standing = match given.one("of") {
        Some(id) => Some(there(&own, kind, id)?),
        None => None,
    };
    let mut guide = match &standing {
        Some((_, alone)) => Guide::over(kind, base, alone),
        None => Guide::new(kind, base),
    };
    if let (Some(id), Some((found, _))) = (given.one("of"), &standing) {
        filled.of = Some(StandsFor {
            id: id.to_owned(),
            mark: given.one("mark").unwrap_or_default().to_owned(),
            own: found.layer == own.at,
        });
    }
    filled.put(kind, given, &mut guide);
    if let (Some(of), Some((found, _))) = (&filled.of, &standing)
        && of.mark != sha256(found.file.text.as_bytes())
    {
        let slip = format!("{} was changed since this form was opened", of.id);
        let help = "open it again in another tab, and put your changes in there";
        filled.whole.push((slip, help.to_owned()));
    }
    if !filled.is_sound() {
        return Ok(Came::Form(Box::new(filled)));
    }
    let text = match guide.text() {
        Ok(text) => text,
        Err(slip) => {
            filled.whole.push((slip, String::new()));
            return Ok(Came::Form(Box::new(filled)));
        }
    };
    let of = filled.of.as_ref().zip(standing.as_ref());
    let of = of.map(|(of, (found, _))| (found, of.id.as_str()));
    let (draft, path, over, checked) = match ready(&mut own, kind, &text, of) {
        Ok(ready) => ready,
        Err(whole) => {
            filled.whole = whole;
            return Ok(Came::Form(Box::new(filled)));
        }
    };
    filled.preview = Some(checked);
    if given.one("do") == Some("save") {
        match own.save(&draft, &path, NAME, &over) {
            Ok(_) => {
                let renewed = app.library.renew();
                renewed.map_err(|error| NotGiven::NotDone(error.page))?;
                let id = filled.of.map(|of| of.id);
                let id = id.or_else(|| draft.names().into_iter().next());
                return Ok(Came::Saved(id.unwrap_or_default()));
            }
            Err(error) => filled.whole = not_saved(error),
        }
    }
    Ok(Came::Form(Box::new(filled)))
}

/// Every value sent under a field's name, as one answer.
fn all_of(given: &Fields, field: &Field) -> String {
    let values = given.iter().filter(|(name, _)| *name == field.key);
    let values: Vec<&str> = values.map(|(_, value)| value.trim()).collect();
    values.join(", ")
}

/// What the draft is called where its lines are spoken of.
const NAME: &str = "your answers";

type Ready = (Draft, String, Over, Checked);

/// The draft with its place in the library and what it would change, or what is wrong with the whole.
fn ready(
    own: &mut OwnLibrary,
    kind: EntryKind,
    text: &str,
    of: Option<(&EntryInFile, &str)>,
) -> Result<Ready, Vec<(String, String)>> {
    let no_draft = |error: DraftError| match error {
        DraftError::Problems(problems) => with_help(&problems),
        other => vec![(other.to_string(), String::new())],
    };
    let (draft, path, over) = match of {
        Some((found, id)) => own.in_place(found, id, text).map_err(no_draft)?,
        None => {
            let mut draft = Draft::from_text(kind, text).map_err(no_draft)?;
            let help = "give it an id of its own";
            let (path, over) = own
                .place(&mut draft, None, false)
                .map_err(|error| vec![(error.to_string(), help.to_owned())])?;
            (draft, path, over)
        }
    };
    let checked = own
        .check(&draft, &path, NAME)
        .map_err(|(problems, _)| with_help(&problems))?;
    Ok((draft, path, over, checked))
}

fn with_help(problems: &[Problem]) -> Vec<(String, String)> {
    let each = problems.iter();
    each.map(|problem| {
        (
            problem.message.clone(),
            problem.help.clone().unwrap_or_default(),
        )
    })
    .collect()
}

fn not_saved(error: OwnError) -> Vec<(String, String)> {
    match error {
        OwnError::Broken(problems, _) => with_help(&problems),
        OwnError::Save(error) => {
            vec![(
                format!("nothing was saved: {error}"),
                "see that your own library may be written, then save again".to_owned(),
            )]
        }
    }
}

/// The form, empty or filled in.
pub(super) fn form(kind: EntryKind, filled: &Filled) -> Markup {
    let noun = kind.as_str();
    let title = match &filled.of {
        Some(of) if of.own => format!("Change {}", of.id),
        Some(of) => format!("Your own {noun} instead of {}", of.id),
        None => format!("Your own {noun}"),
    };
    let wrong = filled.wrong.len() + filled.whole.len();
    let main = html! {
        h1 { (title) }
        @if let Some(of) = &filled.of {
            p { @if of.own { "What you change is checked, and shown before it is saved." } @else { "This one is not yours: a copy in your own library takes its place, and the other comes back when yours is removed." } }
        }
        @if wrong > 0 {
            div role="alert" class="caution" {
                p { (wrong) @if wrong == 1 { " thing is" } @else { " things are" } " to be put right; nothing was saved." }
                (shell::troubles(&filled.whole))
                @if !filled.wrong.is_empty() {
                    ul { @for key in filled.wrong.keys() { li { a href={ "#" (key) } { (title_of(kind, key)) } } } }
                }
            }
        }
        form method="post" action={ "/own/" (noun) } class="own" {
            @if let Some(of) = &filled.of {
                input type="hidden" name="of" value=(of.id);
                input type="hidden" name="mark" value=(of.mark);
            }
            @if let Some(checked) = &filled.preview {
                section class="preview" role="status" aria-label="What it changes" {
                    (blocks(&change_page(checked, "Not saved yet: what it would change")))
                    p { button class="main" name="do" value="save" { "Save it" } }
                }
            }
            p { "Write lead and trail, not left and right. What is marked * is needed." }
            @for field in fields(kind) { (one(&field, filled)) }
            p { button class="main" name="do" value="check" { "Show what it would change" } }
        }
    };
    shell::page(&title, Here::Library, &main)
}

/// The way to the form that changes an entry, where it can be changed.
pub(super) fn way_to_change(app: &App, kind: &str, id: &str, shipped: bool) -> Option<Markup> {
    let kind = self::kind(kind).filter(|_| can_add(app))?;
    Some(html! {
        p { a class="button" href={ "/own/" (kind.as_str()) "?id=" (id) } {
            @if shipped { "Put your own in its place" } @else { "Change it" }
        } }
    })
}

fn title_of(kind: EntryKind, key: &str) -> &'static str {
    let all = fields(kind);
    all.iter()
        .find(|field| field.key == key)
        .map_or("", |field| field.ask)
}

fn one(field: &Field, filled: &Filled) -> Markup {
    let now = filled.answers.get(field.key).map_or("", String::as_str);
    let wrong = filled.wrong.get(field.key);
    let help = format!("{}-help", field.key);
    let slip = format!("{}-wrong", field.key);
    let described = if wrong.is_some() {
        format!("{slip} {help}")
    } else {
        help.clone()
    };
    let invalid = wrong.map(|_| "true");
    let label = html! { (field.ask) @if field.needed { " *" } };
    let (hint, rows) = match field.takes {
        Takes::Weighed { reason: true } => (
            "; a line for each, with how strongly and why behind colons",
            Some(3),
        ),
        Takes::Weighed { reason: false } => {
            ("; a line for each, with how well behind a colon", Some(3))
        }
        Takes::Lines | Takes::Entries => ("; a line for each", Some(3)),
        _ => ("", None),
    };
    html! {
        div class={ "field" @if wrong.is_some() { " wrong" } } {
            @match &field.takes {
                Takes::Some(words) => fieldset class="switches" id=(field.key) aria-describedby=(described) {
                    legend { (label) }
                    @for word in words {
                        label class="switch" {
                            input type="checkbox" name=(field.key) value=(word) checked[now.split(", ").any(|own| own == *word)];
                            span { (word) }
                        }
                    }
                },
                Takes::One(words) => {
                    label for=(field.key) { (label) }
                    select id=(field.key) name=(field.key) aria-describedby=(described) aria-invalid=[invalid] {
                        option value="" { "not said" }
                        @for word in words { option value=(word) selected[now == *word] { (word) } }
                    }
                },
                _ => {
                    label for=(field.key) { (label) }
                    @if let Some(rows) = rows {
                        textarea id=(field.key) name=(field.key) rows=(rows) aria-describedby=(described) aria-invalid=[invalid] autocapitalize="none" { (now) }
                    } @else {
                        input id=(field.key) name=(field.key) value=(now) aria-describedby=(described) aria-invalid=[invalid] autocapitalize="none";
                    }
                },
            }
            @if let Some(wrong) = wrong { p id=(slip) class="slip" { (wrong) } }
            p id=(help) class="small" { "For example: " (field.example) (hint) "." @if let Takes::Graded(scale) = &field.takes { " " (scale) "." } }
        }
    }
}
