//! The command itself: one line, one address, many at once.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

struct Served {
    child: Child,
    host: String,
    path: String,
    out: BufReader<std::process::ChildStdout>,
    _home: tempfile::TempDir,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn command(home: &std::path::Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_fairwhy"));
    command
        .arg("serve")
        .args(arguments)
        .env("FAIRWHY_HOME", home);
    command
        .env_remove("FAIRWHY_LIBRARY")
        .env_remove("FAIRWHY_RECORDS");
    command
}

fn served(arguments: &[&str]) -> Served {
    let home = tempfile::tempdir().expect("made");
    let mut child = command(home.path(), arguments)
        .arg("--no-open")
        .stdout(Stdio::piped())
        .spawn()
        .expect("built");
    let mut out = BufReader::new(child.stdout.take().expect("piped"));
    let mut line = String::new();
    out.read_line(&mut line).expect("a line");
    let rest = line
        .trim_end()
        .strip_prefix("http://127.0.0.1:")
        .expect("this machine alone");
    let (port, path) = rest.split_once('/').expect("a path");
    let host = format!("127.0.0.1:{port}");
    Served {
        child,
        host,
        path: format!("/{path}"),
        out,
        _home: home,
    }
}

/// Sends one request over a connection of its own and reads the answer to its end.
fn ask(host: &str, path: &str, cookie: &str) -> String {
    let mut stream = TcpStream::connect(host).expect("there");
    stream
        .set_read_timeout(Some(Duration::from_secs(60)))
        .expect("set");
    let request = format!(
        "GET {path} HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\nconnection: close\r\n\r\n"
    );
    stream.write_all(request.as_bytes()).expect("sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("text");
    answer
}

fn cookie(server: &Served) -> String {
    let answer = ask(&server.host, &server.path, "");
    let line = answer
        .lines()
        .find_map(|line| line.strip_prefix("set-cookie: "))
        .expect("let in");
    line.split(';').next().expect("a pair").to_owned()
}

#[test]
fn two_hundred_at_once_are_all_answered() {
    let server = served(&[]);
    let cookie = cookie(&server);
    std::thread::scope(|scope| {
        let asking: Vec<_> = (0..200)
            .map(|number| {
                let (host, cookie) = (&server.host, &cookie);
                let path = if number % 20 == 0 {
                    "/why.json?note=weak+slice"
                } else {
                    "/"
                };
                scope.spawn(move || ask(host, path, cookie))
            })
            .collect();
        for one in asking {
            let answer = one.join().expect("answered");
            assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
        }
    });
}

#[test]
fn the_cookie_of_one_server_opens_no_other() {
    let (one, other) = (served(&[]), served(&[]));
    let cookie = cookie(&one);
    assert!(ask(&one.host, "/", &cookie).starts_with("HTTP/1.1 200"));
    assert!(ask(&other.host, "/", &cookie).starts_with("HTTP/1.1 403"));
}

#[cfg(unix)]
#[test]
fn it_prints_one_line_and_ends_when_it_is_told_to() {
    let mut server = served(&["--read-only"]);
    assert!(ask(&server.host, "/", "").starts_with("HTTP/1.1 403"));
    let id = nix::unistd::Pid::from_raw(i32::try_from(server.child.id()).expect("an id"));
    nix::sys::signal::kill(id, nix::sys::signal::Signal::SIGTERM).expect("told");
    assert!(server.child.wait().expect("ended").success());
    let mut rest = String::new();
    server.out.read_to_string(&mut rest).expect("text");
    assert_eq!(rest, "");
}

#[test]
fn an_address_that_cannot_be_had_is_said() {
    let home = tempfile::tempdir().expect("made");
    let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("free");
    let port = taken.local_addr().expect("an address").port().to_string();
    for (arguments, status, said) in [
        (vec!["--listen", "0.0.0.0"], 2, "name the address"),
        (vec!["--port", port.as_str()], 1, "leave out --port"),
        (vec!["--listen", "elsewhere"], 2, "invalid"),
    ] {
        let output = command(home.path(), &arguments)
            .arg("--no-open")
            .output()
            .expect("built");
        assert_eq!(output.status.code(), Some(status));
        let text = String::from_utf8_lossy(&output.stderr);
        assert!(text.contains(said), "{text}");
        assert!(output.stdout.is_empty());
    }
}
