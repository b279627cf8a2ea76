//! What stands before every page: who may ask, how much may come in, and the rules of every answer.

use super::app::App;
use super::guard::Shown;
use super::shell;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{self, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{Html, IntoResponse, Response};
use std::sync::Arc;

/// A page's own form is far smaller; files are not taken at all.
pub(super) const LARGEST_BODY: usize = 64 * 1024;

/// What a page of ours may do: its own style, its own script, its own pictures, its own forms.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Lets through what is for this server and from its own browser, within the limits, and puts the
/// rules of the page on every answer.
pub(super) async fn keep(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let mut response = admitted(&app, request, next).await;
    let headers = response.headers_mut();
    for (name, value) in [
        ("content-security-policy", POLICY),
        ("x-content-type-options", "nosniff"),
        ("x-frame-options", "DENY"),
        ("referrer-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cache-control", "no-store"),
    ] {
        headers.insert(
            HeaderName::from_static(name),
            HeaderValue::from_static(value),
        );
    }
    response
}

async fn admitted(app: &App, request: Request, next: Next) -> Response {
    let guard = app.guard();
    if let Some(why) = guard.stranger(&request) {
        return refusal(&request, StatusCode::FORBIDDEN, why);
    }
    let shown = guard.shown(&request);
    if shown == Shown::Nothing {
        let why = "This page is opened with the link that `fairwhy serve` prints; each link opens it once. Start it again for a new one: what was said in a lesson is kept.";
        return refusal(&request, StatusCode::FORBIDDEN, why);
    }
    if !matches!(*request.method(), Method::GET | Method::HEAD | Method::POST) {
        let why = "Pages are read, and forms are sent; nothing else is done here.";
        return refusal(&request, StatusCode::METHOD_NOT_ALLOWED, why);
    }
    let length = request.headers().get(header::CONTENT_LENGTH);
    let length = length.and_then(|length| length.to_str().ok()?.parse::<usize>().ok());
    if length.is_some_and(|length| length > LARGEST_BODY) {
        let why = "That is more than a form holds.";
        return refusal(&request, StatusCode::PAYLOAD_TOO_LARGE, why);
    }
    let as_json = wants_json(&request);
    let Ok(mut response) = tokio::time::timeout(app.patience, next.run(request)).await else {
        let why = "That took too long.";
        return refused(as_json, StatusCode::REQUEST_TIMEOUT, why);
    };
    if shown == Shown::Key {
        response
            .headers_mut()
            .insert(header::SET_COOKIE, guard.set_cookie());
    }
    response
}

/// Whether an address asks for JSON.
fn wants_json(request: &Request<Body>) -> bool {
    request.uri().path().ends_with(".json")
}

fn refusal(request: &Request, status: StatusCode, why: &str) -> Response {
    refused(wants_json(request), status, why)
}

/// Says no, on a page or as JSON.
pub(super) fn refused(as_json: bool, status: StatusCode, why: &str) -> Response {
    if as_json {
        let error =
            serde_json::json!({"error": {"message": why, "help": null, "status": status.as_u16()}});
        return (status, axum::Json(error)).into_response();
    }
    (status, Html(shell::bare(why).into_string())).into_response()
}
