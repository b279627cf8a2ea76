//! Who may ask: whoever opened the one-use link, from this address, in this browser.

use super::serve::App;
use super::shell;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{Html, IntoResponse, Response};
use rand::TryRngCore;
use rand::rngs::OsRng;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A page's own form is far smaller; files are not taken at all.
pub(super) const LARGEST_BODY: usize = 64 * 1024;

/// What a page of ours may do: its own style, its own script, its own pictures, its own forms.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The secrets of one run of the server.
pub(super) struct Guard {
    /// The only `Host` that is answered, such as `127.0.0.1:49152`.
    host: String,
    /// The only `Origin` that a form may come from.
    origin: String,
    /// What the cookie is called; two servers on one machine share a browser's cookies.
    cookie_name: String,
    key: String,
    cookie: String,
    used: AtomicBool,
}

/// What a request carries to show whose it is.
#[derive(Debug, PartialEq, Eq)]
enum Shown {
    Cookie,
    /// The key, for the first time: the cookie is given for it.
    Key,
    Nothing,
}

impl Guard {
    /// Secrets for a server at this address.
    ///
    /// # Errors
    ///
    /// When the system has no random numbers to give.
    pub(super) fn new(address: std::net::SocketAddr) -> std::io::Result<Self> {
        Ok(Self {
            host: address.to_string(),
            origin: format!("http://{address}"),
            cookie_name: format!("fairwhy-{}", address.port()),
            key: secret()?,
            cookie: secret()?,
            used: AtomicBool::new(false),
        })
    }

    /// The address that lets the first browser in.
    pub(super) fn link(&self) -> String {
        format!("{}/?key={}", self.origin, self.key)
    }

    /// Why a request is not for this server, if it is not.
    fn stranger(&self, request: &Request) -> Option<&'static str> {
        let headers = request.headers();
        let mut hosts = headers.get_all(header::HOST).iter();
        let host = hosts.next().filter(|_| hosts.next().is_none());
        let same_host = host.is_some_and(|host| host.as_bytes() == self.host.as_bytes());
        let authority = request.uri().authority();
        if !same_host || authority.is_some_and(|named| named.as_str() != self.host) {
            return Some("This address is not the one that the page was opened under.");
        }
        let foreign = |name: HeaderName, fits: &dyn Fn(&[u8]) -> bool| {
            headers
                .get_all(name)
                .iter()
                .any(|value| !fits(value.as_bytes()))
        };
        if foreign(header::ORIGIN, &|origin| origin == self.origin.as_bytes()) {
            return Some("Another page may not ask for this one.");
        }
        // What changes something comes from a page of ours, or from a program that has the cookie.
        let site = HeaderName::from_static("sec-fetch-site");
        let ours: &[&[u8]] = &[b"same-origin", b"none"];
        if request.method() == Method::POST && foreign(site, &|value| ours.contains(&value)) {
            return Some("Another page may not send a form to this one.");
        }
        None
    }

    fn shown(&self, request: &Request) -> Shown {
        if cookies(request.headers())
            .any(|(name, value)| name == self.cookie_name && same(value, &self.cookie))
        {
            return Shown::Cookie;
        }
        let query = request.uri().query().unwrap_or_default();
        let key = form_urlencoded::parse(query.as_bytes())
            .find(|(name, _)| name == "key")
            .is_some_and(|(_, value)| same(&value, &self.key));
        let first = Ordering::SeqCst;
        if key
            && self
                .used
                .compare_exchange(false, true, first, first)
                .is_ok()
        {
            Shown::Key
        } else {
            Shown::Nothing
        }
    }

    fn set_cookie(&self) -> HeaderValue {
        let text = format!(
            "{}={}; Path=/; HttpOnly; SameSite=Strict",
            self.cookie_name, self.cookie
        );
        HeaderValue::from_str(&text).expect("made of letters and digits")
    }
}

/// 32 random bytes as hexadecimal digits.
pub(super) fn secret() -> std::io::Result<String> {
    let mut bytes = [0_u8; 32];
    OsRng
        .try_fill_bytes(&mut bytes)
        .map_err(|error| std::io::Error::other(format!("no random numbers: {error}")))?;
    let mut text = String::with_capacity(64);
    for byte in bytes {
        let _ = write!(text, "{byte:02x}");
    }
    Ok(text)
}

/// Compares digests, so that the time it takes says nothing of where two secrets part.
fn same(given: &str, secret: &str) -> bool {
    Sha256::digest(given) == Sha256::digest(secret)
}

fn cookies(headers: &HeaderMap) -> impl Iterator<Item = (&str, &str)> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
}

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
