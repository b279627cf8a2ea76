//! Who may ask: whoever opened the one-use link, from this address, in this browser.

use axum::extract::Request;
use axum::http::Method;
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use rand::TryRngCore;
use rand::rngs::OsRng;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::sync::atomic::{AtomicBool, Ordering};

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
pub(super) enum Shown {
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
    pub(super) fn stranger(&self, request: &Request) -> Option<&'static str> {
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

    pub(super) fn shown(&self, request: &Request) -> Shown {
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

    pub(super) fn set_cookie(&self) -> HeaderValue {
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
