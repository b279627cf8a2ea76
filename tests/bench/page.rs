//! How long a re-ordering takes on the page, and how much memory the server holds.
//!
//! `cargo bench --bench page` starts the server itself over what ships and 5,000 drills more, answers
//! looks over one connection as a browser does (the form, then the page it leads to), and prints the
//! spread of the times; then the memory that the system says the server holds after 10,000 requests of
//! every sort.

use std::fmt::Write as _;
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const DRILLS: usize = 5_000;
const FILE: usize = 250;
const ANSWERS: usize = 400;
const REQUESTS: usize = 10_000;

/// Drills of our own making, on what ships.
fn library(folder: &Path) {
    let base = fairwhy::knowledge::load(
        &[fairwhy::knowledge::shipped()],
        fairwhy::knowledge::Strictness::ErrorsOnly,
    );
    let base = base.expect("what ships is sound").base;
    let treated: Vec<&str> = base
        .drills
        .iter()
        .filter(|drill| drill.retired_for.is_none())
        .flat_map(|drill| &drill.treats)
        .map(|treats| base.condition(treats.condition).id.as_str())
        .filter(|id| {
            base.find(id)
                .is_some_and(|key| !base.condition(key).is_pain())
        })
        .collect();
    let steps = base.drills.iter().flat_map(|drill| &drill.steps);
    let steps: Vec<&String> = steps.collect();
    for file in 0..DRILLS / FILE {
        let mut text = String::from("drills:\n");
        for number in file * FILE..(file + 1) * FILE {
            let step =
                |place: usize| serde_json::json!(steps[(number * 7 + place * 131) % steps.len()]);
            let _ = writeln!(
                text,
                "- {{id: made-{number}, name: Made number {number}, treats: [{{id: {}, effect: 0.{}, basis: own lessons}}], steps: [{}, {}, {}], check: \"8 of 10 hold, count {number}\", dose: {{minutes: 6}}, status: trial}}",
                treated[number * 13 % treated.len()],
                1 + number % 8,
                step(0),
                step(1),
                step(2)
            );
        }
        fs::write(folder.join(format!("made-{file}.yaml")), text).expect("written");
    }
}

struct Server {
    child: Child,
    host: String,
    cookie: String,
    stream: BufReader<TcpStream>,
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Server {
    fn start(home: &Path, library: Option<&Path>) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_fairwhy"));
        command
            .args(["serve", "--no-open"])
            .env("FAIRWHY_HOME", home);
        command.env_remove("FAIRWHY_LIBRARY").stdout(Stdio::piped());
        if let Some(library) = library {
            command.arg("--library").arg(library);
        }
        let mut child = command.spawn().expect("built");
        let mut link = String::new();
        let mut out = BufReader::new(child.stdout.take().expect("piped"));
        out.read_line(&mut link).expect("a line");
        let rest = link.trim().strip_prefix("http://").expect("an address");
        let (host, path) = rest.split_once('/').expect("a path");
        let stream = BufReader::new(TcpStream::connect(host).expect("there"));
        let mut server = Self {
            child,
            host: host.to_owned(),
            cookie: String::new(),
            stream,
        };
        let (head, _) = server.ask("GET", &format!("/{path}"), "");
        let cookie = head
            .lines()
            .find_map(|line| line.strip_prefix("set-cookie: "));
        let cookie = cookie.and_then(|cookie| cookie.split(';').next());
        server.cookie = cookie.expect("let in").to_owned();
        server
    }

    /// Sends one request and reads the whole answer: its head and its body.
    fn ask(&mut self, method: &str, path: &str, body: &str) -> (String, String) {
        for _ in 0..2 {
            if let Some(answer) = self.try_ask(method, path, body) {
                return answer;
            }
            // The server ends a connection that has lived long enough; a browser opens another.
            self.stream = BufReader::new(TcpStream::connect(&self.host).expect("there"));
        }
        panic!("no answer to {method} {path}");
    }

    fn try_ask(&mut self, method: &str, path: &str, body: &str) -> Option<(String, String)> {
        let request = format!(
            "{method} {path} HTTP/1.1\r\nhost: {}\r\ncookie: {}\r\ncontent-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{body}",
            self.host,
            self.cookie,
            body.len()
        );
        self.stream.get_mut().write_all(request.as_bytes()).ok()?;
        let mut head = String::new();
        loop {
            let mut line = String::new();
            if self.stream.read_line(&mut line).ok()? == 0 {
                return None;
            }
            if line == "\r\n" {
                break;
            }
            head.push_str(&line.replace('\r', ""));
        }
        let length = head
            .lines()
            .find_map(|line| line.strip_prefix("content-length: "));
        let mut bytes = vec![0; length.map_or(0, |length| length.parse().expect("a number"))];
        self.stream.read_exact(&mut bytes).ok()?;
        Some((head, String::from_utf8(bytes).expect("text")))
    }

    /// Does one thing in a lesson as a form does, and reads the page that it leads to.
    fn act(&mut self, address: &str, what: &str) -> (String, String) {
        let ask = address.split_once('?').map_or("", |(_, query)| query);
        let ask = ask.split('#').next().unwrap_or_default();
        let form = form_urlencoded::Serializer::new(String::new())
            .append_pair("ask", ask)
            .append_pair("do", what)
            .append_pair("note", NOTE)
            .finish();
        let (head, body) = self.ask("POST", "/lesson", &form);
        let to = head
            .lines()
            .find_map(|line| line.strip_prefix("location: "));
        let to = to.unwrap_or_else(|| panic!("{head}{body}")).to_owned();
        let (_, page) = self.ask("GET", to.split('#').next().unwrap_or_default(), "");
        (to, page)
    }

    /// Megabytes of memory that the server holds, and has held at most; where the system says it (Linux).
    fn memory(&self) -> Option<(f64, f64)> {
        let status = fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let of = |name: &str| {
            let line = status.lines().find_map(|line| line.strip_prefix(name))?;
            let kb: f64 = line.trim().trim_end_matches(" kB").parse().ok()?;
            Some(kb / 1024.0)
        };
        Some((of("VmRSS:")?, of("VmHWM:")?))
    }
}

const NOTE: &str = "thin irons, sways off the ball, weak slice, divots point in";

/// What the buttons of a page do.
fn buttons(page: &str) -> Vec<String> {
    page.split("name=\"do\" value=\"step:look:")
        .skip(1)
        .filter_map(|rest| Some(format!("step:look:{}", rest.split('"').next()?)))
        .collect()
}

fn spread(name: &str, times: &mut [Duration]) {
    times.sort_unstable();
    let at = |share: f64| times[(times.len() as f64 * share) as usize].as_secs_f64() * 1e3;
    println!(
        "{name}: {} of them, median {:.1} ms, p95 {:.1} ms, most {:.1} ms",
        times.len(),
        at(0.5),
        at(0.95),
        at(0.999)
    );
}

fn main() {
    let folder = tempfile::tempdir().expect("made");
    let (home, own) = (folder.path().join("home"), folder.path().join("own"));
    fs::create_dir_all(&own).expect("made");
    library(&own);
    let begun = Instant::now();
    let mut server = Server::start(&home, Some(&own));
    println!(
        "{DRILLS} drills more: first page after {:.0} ms",
        begun.elapsed().as_secs_f64() * 1e3
    );
    let mut orders = Vec::new();
    let (begin, first) = server.act("", "read");
    let (mut address, mut page) = (begin.clone(), first.clone());
    for number in 0..ANSWERS {
        let all = buttons(&page);
        if all.is_empty() || number % 8 == 7 {
            (address, page) = (begin.clone(), first.clone());
            continue;
        }
        let what = all[number % all.len()].clone();
        let begun = Instant::now();
        (address, page) = server.act(&address, &what);
        orders.push(begun.elapsed());
    }
    spread(
        "an answer to a look and the page with the new order",
        &mut orders,
    );
    let plan = address.replacen("/lesson", "/plan", 1);
    let plan = plan.split('#').next().unwrap_or_default().to_owned();
    let mut plans: Vec<Duration> = (0..50)
        .map(|_| {
            let begun = Instant::now();
            let (_, page) = server.ask("GET", &plan, "");
            assert!(page.contains("Work on"));
            begun.elapsed()
        })
        .collect();
    spread("the plan", &mut plans);
    drop(server);

    let mut server = Server::start(&home, None);
    let (begin, _) = server.act("", "read");
    let lesson = begin.split('#').next().unwrap_or_default().to_owned();
    let of = |path: &str| lesson.replacen("/lesson", path, 1);
    let paths = [
        "/".to_owned(),
        lesson.clone(),
        of("/plan"),
        of("/sheet"),
        of("/chain.svg"),
        of("/why.json"),
        "/drills?words=chunked+wedges+at+home".to_owned(),
        "/show/over-the-top".to_owned(),
        "/page.css".to_owned(),
    ];
    println!(
        "what ships: {:?} MB held and at most, before",
        server.memory()
    );
    let begun = Instant::now();
    for number in 0..REQUESTS {
        server.ask("GET", &paths[number % paths.len()], "");
    }
    let took = begun.elapsed().as_secs_f64();
    println!(
        "after {REQUESTS} requests in {took:.0} s: {:?} MB held and at most",
        server.memory()
    );
}
