//! A server, a driver and a browser of one test, ended with it.

use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use http::Method;
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use std::future::Future;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

const CHROMIUM: &str = "/usr/bin/chromium";
const DRIVER: &str = "/usr/bin/chromedriver";

/// How long a page may take in a browser on a machine that does other things too.
const PATIENCE: Duration = Duration::from_secs(30);

/// A phone held upright, and a tablet on its side.
pub const PHONE: (u32, u32) = (360, 740);
pub const TABLET: (u32, u32) = (1180, 820);

struct Ended(Child);

impl Drop for Ended {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// One browser at one server.
pub struct Session {
    pub client: Client,
    pub origin: String,
    home: TempDir,
    _server: Ended,
    _driver: Ended,
    _profile: TempDir,
}

/// A command of the browser that the standard has no name for.
#[derive(Debug)]
struct Own(&'static str, Value);

impl WebDriverCompatibleCommand for Own {
    fn endpoint(
        &self,
        base: &url::Url,
        session: Option<&str>,
    ) -> Result<url::Url, url::ParseError> {
        base.join(&format!(
            "session/{}/goog/cdp/execute",
            session.unwrap_or_default()
        ))
    }

    fn method_and_body(&self, _: &url::Url) -> (Method, Option<String>) {
        let body = json!({"cmd": self.0, "params": self.1});
        (Method::POST, Some(body.to_string()))
    }
}

/// Whether there is a browser; says so where there is none.
pub fn there_is_a_browser() -> bool {
    let there = Path::new(CHROMIUM).exists() && Path::new(DRIVER).exists();
    if !there {
        println!("skipped: {CHROMIUM} or {DRIVER} is not installed");
    }
    there
}

/// The first line that a program prints in which something is found.
fn first_line(child: &mut Child, find: impl Fn(&str) -> Option<String>) -> String {
    let out = child.stdout.take().expect("piped");
    let mut lines = BufReader::new(out).lines();
    let found = lines
        .by_ref()
        .map_while(Result::ok)
        .find_map(|line| find(&line));
    // What it says later is read away, so that it never waits for a reader.
    std::thread::spawn(move || lines.for_each(drop));
    found.expect("it says where it is")
}

impl Session {
    async fn new(size: (u32, u32), script: bool) -> Self {
        let home = tempfile::tempdir().expect("made");
        let mut server = Command::new(env!("CARGO_BIN_EXE_fairwhy"))
            .args(["serve", "--no-open"])
            .env("FAIRWHY_HOME", home.path())
            .env_remove("FAIRWHY_LIBRARY")
            .env_remove("FAIRWHY_RECORDS")
            .stdout(Stdio::piped())
            .spawn()
            .expect("built");
        let link = first_line(&mut server, |line| Some(line.to_owned()));
        let server = Ended(server);
        let mut driver = Command::new(DRIVER)
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("there");
        let port = first_line(&mut driver, |line| {
            let port = line.split("successfully on port ").nth(1)?;
            Some(port.trim_end_matches('.').to_owned())
        });
        let driver = Ended(driver);
        let profile = tempfile::tempdir().expect("made");
        let data = format!("--user-data-dir={}", profile.path().display());
        let arguments = [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-dev-shm-usage",
            "--hide-scrollbars",
            data.as_str(),
        ];
        let wanted = json!({"goog:chromeOptions": {"binary": CHROMIUM, "args": arguments}});
        let mut builder = ClientBuilder::new(HttpConnector::new());
        builder.capabilities(wanted.as_object().expect("an object").clone());
        let client = builder
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .expect("a browser");
        let origin = link.split("/?").next().expect("an address").to_owned();
        let session = Self {
            client,
            origin,
            home,
            _server: server,
            _driver: driver,
            _profile: profile,
        };
        session.resize(size).await;
        let off = json!({"value": !script});
        session
            .own("Emulation.setScriptExecutionDisabled", off)
            .await;
        session.client.goto(&link).await.expect("the first page");
        session
    }

    /// Runs the program in a terminal beside the page, on the same data folder.
    pub fn command(&self, words: &[&str]) {
        let out = Command::new(env!("CARGO_BIN_EXE_fairwhy"))
            .args(words)
            .env("FAIRWHY_HOME", self.home.path())
            .env_remove("FAIRWHY_LIBRARY")
            .env_remove("FAIRWHY_RECORDS")
            .output()
            .expect("built");
        let said = String::from_utf8_lossy(&out.stderr);
        assert!(out.status.success(), "{words:?}: {said}");
    }

    async fn own(&self, name: &'static str, parameters: Value) -> Value {
        self.client
            .issue_cmd(Own(name, parameters))
            .await
            .expect("the browser knows it")
    }

    pub async fn resize(&self, (width, height): (u32, u32)) {
        let small = width < 800;
        self.own(
            "Emulation.setDeviceMetricsOverride",
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": small}),
        )
        .await;
        self.own(
            "Emulation.setTouchEmulationEnabled",
            json!({"enabled": true}),
        )
        .await;
    }

    pub async fn goto(&self, path: &str) {
        self.client
            .goto(&format!("{}{path}", self.origin))
            .await
            .expect("a page");
    }

    pub async fn path(&self) -> String {
        let address = self.client.current_url().await.expect("a page");
        let query = address
            .query()
            .map_or_else(String::new, |query| format!("?{query}"));
        format!("{}{query}", address.path())
    }

    pub async fn run(&self, script: &str) -> Value {
        self.client
            .execute(script, Vec::new())
            .await
            .unwrap_or_else(|error| panic!("{error}: {script}"))
    }

    /// The text of what is found first, without the space around it; empty when there is nothing.
    pub async fn text(&self, selector: &str) -> String {
        let script = format!(
            "const e = document.querySelector({selector:?}); return e ? e.textContent.trim() : '';"
        );
        self.run(&script)
            .await
            .as_str()
            .unwrap_or_default()
            .to_owned()
    }

    /// Waits until a text of the page is, or is no longer, this.
    pub async fn until(&self, selector: &str, holds: impl Fn(&str) -> bool) -> String {
        let begun = Instant::now();
        loop {
            let text = self.text(selector).await;
            if holds(&text) {
                return text;
            }
            assert!(
                begun.elapsed() < PATIENCE,
                "{selector} is {text:?} on {}",
                self.path().await
            );
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// Waits until the page is the one of this path.
    pub async fn until_path(&self, starts: &str) {
        let begun = Instant::now();
        while !self.path().await.starts_with(starts) {
            assert!(
                begun.elapsed() < PATIENCE,
                "{} is not {starts}",
                self.path().await
            );
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// Presses a key, as a person does: on whatever has the focus.
    pub async fn press(&self, key: &str, text: &str) {
        let codes = match key {
            "Tab" => 9,
            "Enter" => 13,
            " " => 32,
            "ArrowRight" => 39,
            _ => 0,
        };
        for kind in ["keyDown", "keyUp"] {
            let mut parameters =
                json!({"type": kind, "key": key, "code": key, "windowsVirtualKeyCode": codes});
            if kind == "keyDown" && !text.is_empty() {
                parameters["text"] = json!(text);
            }
            self.own("Input.dispatchKeyEvent", parameters).await;
        }
    }

    /// Types where the focus is.
    pub async fn type_in(&self, text: &str) {
        self.own("Input.insertText", json!({"text": text})).await;
    }

    /// Goes on with the Tab key until the focus is on what has this text or name.
    pub async fn tab_to(&self, wanted: &str) {
        let focused = "const e = document.activeElement; if (!e) return ''; return e.matches('textarea, input[type=search]') ? e.id : (e.getAttribute('aria-label') || e.textContent || e.name || '').trim();";
        for _ in 0..250 {
            if self.run(focused).await.as_str() == Some(wanted) {
                let seen = self.run("return getComputedStyle(document.activeElement).outlineStyle !== 'none' || document.activeElement.matches(':focus-visible')").await;
                assert_eq!(seen, json!(true), "the focus on {wanted} is not to be seen");
                return;
            }
            self.press("Tab", "").await;
        }
        panic!(
            "the Tab key does not come to {wanted} on {}",
            self.path().await
        );
    }

    /// Touches the middle of what is found, after bringing it into view as a thumb does.
    pub async fn touch(&self, locator: Locator<'_>) {
        let element = self.client.find(locator).await.expect("it is there");
        let script = "arguments[0].scrollIntoView({block: 'center', behavior: 'instant'}); const r = arguments[0].getBoundingClientRect(); const x = r.x + r.width / 2, y = r.y + r.height / 2; const at = document.elementFromPoint(x, y); return [x, y, r.width, r.height, !!at && (arguments[0].contains(at) || at.contains(arguments[0]))];";
        let argument = serde_json::to_value(&element).expect("an element");
        let at = self
            .client
            .execute(script, vec![argument])
            .await
            .expect("in view");
        let number = |place: usize| at[place].as_f64().expect("a number");
        assert!(
            number(2) >= 44.0 && number(3) >= 44.0,
            "{locator:?} is {} x {}",
            at[2],
            at[3]
        );
        assert_eq!(at[4], json!(true), "{locator:?} lies under something");
        let point = json!([{"x": number(0), "y": number(1)}]);
        self.own(
            "Input.dispatchTouchEvent",
            json!({"type": "touchStart", "touchPoints": point}),
        )
        .await;
        self.own(
            "Input.dispatchTouchEvent",
            json!({"type": "touchEnd", "touchPoints": []}),
        )
        .await;
    }

    /// Every page that is wider than the screen can only be read by pushing it about.
    pub async fn fits_its_width(&self) {
        let wide = self.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth").await;
        assert_eq!(
            wide,
            json!(0),
            "{} is wider than the screen",
            self.path().await
        );
    }

    pub async fn picture(&self, whole: bool) -> Vec<u8> {
        let mut parameters = json!({"captureBeyondViewport": whole});
        if whole {
            parameters["clip"] = self.run("const d = document.documentElement; return {x: 0, y: 0, width: d.clientWidth, height: d.scrollHeight, scale: 1}").await;
        }
        let taken = self.own("Page.captureScreenshot", parameters).await;
        decoded(taken["data"].as_str().expect("a picture"))
    }

    pub async fn paper(&self) -> Vec<u8> {
        let printed = self
            .own(
                "Page.printToPDF",
                json!({"preferCSSPageSize": true, "paperWidth": 8.27, "paperHeight": 11.69}),
            )
            .await;
        decoded(printed["data"].as_str().expect("a document"))
    }
}

/// Bytes from base 64, as the browser sends them (RFC 4648, section 4).
fn decoded(text: &str) -> Vec<u8> {
    let letters = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let values = text
        .bytes()
        .filter_map(|byte| letters.iter().position(|letter| *letter == byte));
    let mut bytes = Vec::new();
    let (mut held, mut bits) = (0_usize, 0);
    for value in values {
        held = (held << 6 | value) & 0xfff;
        bits += 6;
        if bits >= 8 {
            bits -= 8;
            bytes.push(u8::try_from(held >> bits & 0xff).expect("eight bits"));
        }
    }
    bytes
}

/// Runs a test in a browser of its own, or says that there is none.
pub fn in_browser<F: Future<Output = ()>>(
    size: (u32, u32),
    script: bool,
    test: impl FnOnce(Session) -> F,
) {
    if !there_is_a_browser() {
        return;
    }
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build();
    runtime.expect("room for one thread").block_on(async {
        let session = Session::new(size, script).await;
        test(session).await;
    });
}
