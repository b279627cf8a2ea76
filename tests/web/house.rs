//! A server's pages without a server, and a browser without a screen.

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode};
use fairwhy::knowledge::Wanted;
use fairwhy::records::StorePlace;
use fairwhy::web::{App, ServedLibrary, Setup, router};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tempfile::TempDir;
use tower::ServiceExt;

pub const HOST: &str = "127.0.0.1:4711";

/// What came back.
pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub text: String,
}

impl Answer {
    pub fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .map_or("", |value| value.to_str().expect("plain"))
    }

    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.text).unwrap_or_else(|error| panic!("{error}: {}", self.text))
    }
}

/// One server's pages, over what ships and a folder of its own.
pub struct House {
    pub home: TempDir,
    pub link: String,
    router: Router,
    pub cookie: String,
}

/// An app over a folder, for a server at this address.
pub fn app(home: &Path, read_only: bool, address: SocketAddr) -> App {
    let wanted = Wanted {
        shipped: true,
        own: Some(home.join("library")),
        ..Wanted::default()
    };
    let setup = Setup {
        library: ServedLibrary::read(wanted, None).expect("what ships is sound"),
        home: home.to_owned(),
        records: StorePlace::File(home.join("records.db")),
        coach: String::new(),
        read_only,
    };
    App::new(address, setup).expect("made")
}

impl House {
    pub fn new() -> Self {
        Self::kept_in(tempfile::tempdir().expect("made"), false)
    }

    /// A server that gives a request up soon.
    pub fn impatient() -> Self {
        let home = tempfile::tempdir().expect("made");
        Self::with(home, false, Duration::from_millis(200))
    }

    pub fn read_only() -> Self {
        Self::kept_in(tempfile::tempdir().expect("made"), true)
    }

    /// A server that is started over a folder that is there already.
    pub fn kept_in(home: TempDir, read_only: bool) -> Self {
        Self::with(home, read_only, Duration::from_secs(60))
    }

    fn with(home: TempDir, read_only: bool, patience: Duration) -> Self {
        let address = HOST.parse().expect("an address");
        let app = app(home.path(), read_only, address).give_up_after(patience);
        let link = app.link();
        Self {
            home,
            link,
            router: router(Arc::new(app)),
            cookie: "none=none".to_owned(),
        }
    }

    /// A server with its browser let in.
    pub fn open() -> Self {
        Self::new().let_in()
    }

    pub fn let_in(mut self) -> Self {
        let key = self.link.split_once("/?").expect("a link").1.to_owned();
        let answer = self.get(&format!("/?{key}"));
        assert_eq!(answer.status, StatusCode::OK);
        let cookie = answer.header("set-cookie").split(';').next();
        self.cookie = cookie.expect("a cookie").to_owned();
        self
    }

    pub fn request(method: Method, path: &str) -> axum::http::request::Builder {
        Request::builder()
            .method(method)
            .uri(path)
            .header("host", HOST)
    }

    /// Sends what was made by hand.
    pub fn send(&self, request: Request<Body>) -> Answer {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .expect("room for one thread");
        runtime.block_on(async {
            let response = self
                .router
                .clone()
                .oneshot(request)
                .await
                .expect("no error");
            let (parts, body) = response.into_parts();
            let bytes = to_bytes(body, usize::MAX).await.expect("whole");
            Answer {
                status: parts.status,
                headers: parts.headers,
                text: String::from_utf8(bytes.to_vec()).expect("text"),
            }
        })
    }

    pub fn get(&self, path: &str) -> Answer {
        let request = Self::request(Method::GET, path).header("cookie", &self.cookie);
        self.send(request.body(Body::empty()).expect("a request"))
    }

    /// Sends a form as a browser does.
    pub fn post(&self, path: &str, pairs: &[(&str, &str)]) -> Answer {
        let request = Self::request(Method::POST, path)
            .header("cookie", &self.cookie)
            .header("origin", format!("http://{HOST}"))
            .header("content-type", "application/x-www-form-urlencoded");
        self.send(request.body(Body::from(encoded(pairs))).expect("a request"))
    }

    /// Does one thing in the lesson that stands at this address, and gives the address after it.
    pub fn act(&self, address: &str, what: &str, more: &[(&str, &str)]) -> String {
        let ask = address.split_once('?').map_or("", |(_, query)| query);
        let ask = ask.split('#').next().unwrap_or_default();
        let mut pairs = vec![("ask", ask), ("do", what)];
        pairs.extend_from_slice(more);
        let answer = self.post("/lesson", &pairs);
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
        answer.header("location").to_owned()
    }

    /// The page at an address, without the part that only a browser looks at.
    pub fn page(&self, address: &str) -> String {
        let answer = self.get(address.split('#').next().unwrap_or_default());
        assert_eq!(answer.status, StatusCode::OK, "{address}: {}", answer.text);
        answer.text
    }
}

pub fn encoded(pairs: &[(&str, &str)]) -> String {
    form_urlencoded::Serializer::new(String::new())
        .extend_pairs(pairs)
        .finish()
}

/// Every file under a folder.
pub fn files(folder: &Path) -> Vec<std::path::PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        if entry.path().is_dir() {
            found.extend(files(&entry.path()));
        } else {
            found.push(entry.path());
        }
    }
    found.sort();
    found
}
