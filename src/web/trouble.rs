//! What was not understood, in the words of a page.

use super::fields::Wrong;
use super::shell;
use crate::diagnosis::Trouble;
use crate::knowledge::KnowledgeBase;
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

fn one(base: &KnowledgeBase, trouble: &Trouble) -> Wrong {
    let text = trouble.describe(base);
    let text = text.strip_prefix("error: ").unwrap_or(&text);
    let (message, help) = text.split_once("\n  help: ").unwrap_or((text, ""));
    Wrong::new(
        "note",
        message,
        help.split_whitespace().collect::<Vec<_>>().join(" "),
    )
}
