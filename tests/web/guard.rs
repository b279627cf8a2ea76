//! Who is let in, and how much anybody may send.

use crate::house::{self, HOST, House, files};
use axum::body::{Body, Bytes};
use axum::http::{Method, StatusCode};
use std::time::{Duration, Instant};

fn status(
    house: &House,
    change: impl FnOnce(axum::http::request::Builder) -> axum::http::request::Builder,
) -> StatusCode {
    let request = House::request(Method::GET, "/").header("cookie", &house.cookie);
    house
        .send(change(request).body(Body::empty()).expect("a request"))
        .status
}

#[test]
fn the_key_lets_one_browser_in_once() {
    let house = House::new();
    assert!(house.link.starts_with(&format!("http://{HOST}/?key=")));
    for path in [
        "/",
        "/why.json?note=slice",
        "/page.css",
        "/?key=",
        "/?key=0000",
    ] {
        assert_eq!(house.get(path).status, StatusCode::FORBIDDEN, "{path}");
    }
    let key = house.link.split_once("/?").expect("a link").1;
    // Not from another host either, and that does not use the key up.
    let request =
        House::request(Method::GET, &format!("/?{key}")).header("origin", "http://evil.example");
    let answer = house.send(request.body(Body::empty()).expect("a request"));
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
    let answer = house.get(&format!("/?{key}"));
    assert_eq!(answer.status, StatusCode::OK);
    let cookie = answer.header("set-cookie");
    assert!(
        cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"),
        "{cookie}"
    );
    assert!(!key.contains(cookie.split(['=', ';']).nth(1).expect("a value")));
    assert_eq!(house.get(&format!("/?{key}")).status, StatusCode::FORBIDDEN);
}

#[test]
fn a_program_may_use_the_key_for_its_one_question() {
    let house = House::new();
    let key = house.link.split_once("/?").expect("a link").1;
    let answer = house.get(&format!("/why.json?note=slice&{key}"));
    assert_eq!(answer.status, StatusCode::OK);
    assert!(answer.json()["causes"].is_array());
}

#[test]
fn another_host_or_origin_is_refused() {
    let house = House::open();
    assert_eq!(status(&house, |request| request), StatusCode::OK);
    assert_eq!(
        status(&house, |request| request
            .header("origin", format!("http://{HOST}"))),
        StatusCode::OK
    );
    for origin in [
        "http://evil.example",
        "null",
        "http://127.0.0.1",
        "https://127.0.0.1:4711",
        "http://127.0.0.1:4711.evil.example",
    ] {
        assert_eq!(
            status(&house, |request| request.header("origin", origin)),
            StatusCode::FORBIDDEN,
            "{origin}"
        );
    }
    for host in [
        "evil.example",
        "127.0.0.1",
        "127.0.0.1:4712",
        "localhost:4711",
        "",
    ] {
        let request = axum::http::Request::builder()
            .uri("/")
            .header("host", host)
            .header("cookie", &house.cookie);
        let answer = house.send(request.body(Body::empty()).expect("a request"));
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{host}");
    }
    let twice = status(&house, |request| request.header("host", HOST));
    assert_eq!(twice, StatusCode::FORBIDDEN);
    let nobody = axum::http::Request::builder()
        .uri("/")
        .header("cookie", &house.cookie);
    assert_eq!(
        house
            .send(nobody.body(Body::empty()).expect("a request"))
            .status,
        StatusCode::FORBIDDEN
    );
    let named = axum::http::Request::builder()
        .uri("http://evil.example/")
        .header("host", HOST)
        .header("cookie", &house.cookie);
    assert_eq!(
        house
            .send(named.body(Body::empty()).expect("a request"))
            .status,
        StatusCode::FORBIDDEN
    );
}

#[test]
fn a_form_of_another_page_is_refused() {
    let house = House::open();
    let request = House::request(Method::POST, "/lesson")
        .header("cookie", &house.cookie)
        .header("sec-fetch-site", "cross-site");
    let answer = house.send(
        request
            .body(Body::from("do=read&note=slice"))
            .expect("a request"),
    );
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
}

#[test]
fn every_answer_carries_the_rules_of_the_page() {
    let house = House::open();
    let stranger = House::new();
    for answer in [
        house.get("/"),
        house.get("/nowhere"),
        house.get("/why.json?note=slice"),
        stranger.get("/"),
    ] {
        let policy = answer.header("content-security-policy");
        assert!(
            policy.contains("default-src 'none'") && !policy.contains("unsafe"),
            "{policy}"
        );
        assert_eq!(answer.header("x-content-type-options"), "nosniff");
        assert_eq!(answer.header("cache-control"), "no-store");
        assert!(
            !answer
                .headers
                .keys()
                .any(|name| name.as_str().starts_with("access-control"))
        );
    }
    for path in [
        "/",
        "/lesson?note=weak+slice",
        "/plan?note=weak+slice",
        "/sheet?note=weak+slice",
        "/drills?words=slice",
        "/show/grip-too-weak",
    ] {
        let page = house.page(path);
        assert!(
            !page.contains(" style=") && !page.contains("<style") && !page.contains("<script>"),
            "{path}"
        );
        for handler in [" onclick", " onload", "javascript:", "http://", "https://"] {
            assert!(!page.contains(handler), "{path}: {handler}");
        }
    }
}

#[test]
fn other_methods_are_refused() {
    let house = House::open();
    for method in [
        Method::PUT,
        Method::DELETE,
        Method::PATCH,
        Method::OPTIONS,
        Method::TRACE,
    ] {
        let request = House::request(method, "/").header("cookie", &house.cookie);
        let answer = house.send(request.body(Body::empty()).expect("a request"));
        assert_eq!(answer.status, StatusCode::METHOD_NOT_ALLOWED);
    }
}

#[test]
fn a_body_of_ten_megabytes_is_refused_said_or_not() {
    let house = House::open();
    let large = "x".repeat(10 << 20);
    let request = |length: bool| {
        let request = House::request(Method::POST, "/lesson").header("cookie", &house.cookie);
        if length {
            request.header("content-length", large.len())
        } else {
            request
        }
    };
    for length in [true, false] {
        let answer = house.send(
            request(length)
                .body(Body::from(large.clone()))
                .expect("a request"),
        );
        assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE, "{length}");
    }
}

#[test]
fn a_body_that_never_ends_is_given_up() {
    struct Never;
    impl axum::body::HttpBody for Never {
        type Data = Bytes;
        type Error = std::convert::Infallible;
        fn poll_frame(
            self: std::pin::Pin<&mut Self>,
            _: &mut std::task::Context<'_>,
        ) -> std::task::Poll<Option<Result<http_body::Frame<Bytes>, Self::Error>>> {
            std::task::Poll::Pending
        }
    }
    let house = House::impatient().let_in();
    let request = House::request(Method::POST, "/lesson").header("cookie", &house.cookie);
    let answer = house.send(request.body(Body::new(Never)).expect("a request"));
    assert_eq!(answer.status, StatusCode::REQUEST_TIMEOUT);
}

#[test]
fn no_path_leads_out_of_the_pages() {
    let house = House::open();
    for path in [
        "/../Cargo.toml",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/show/..%2f..%2fetc%2fpasswd",
        "/show/%2Fetc%2Fpasswd",
        "/page.css/../../x",
        "//etc/passwd",
        "/show/%00",
        "/.git/config",
        "/lesson/",
        "/show?id=../../etc/passwd",
    ] {
        let answer = house.get(path);
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        assert!(!answer.text.contains("root:"), "{path}");
    }
    let before = files(house.home.path());
    for name in [
        "../../evil",
        "..%2Fevil",
        "/tmp/evil",
        "0123456789abcde/",
        "con",
    ] {
        let ask = format!("lesson={name}&note=slice");
        let answer = house.post("/lesson", &[("ask", &ask), ("do", "back")]);
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{name}");
        assert_eq!(
            house.post("/forget", &[("lesson", name)]).status,
            StatusCode::SEE_OTHER
        );
    }
    assert_eq!(files(house.home.path()), before);
}

#[test]
fn what_was_typed_is_shown_and_never_run() {
    let house = House::open();
    let nasty = "%3Cscript%3Ealert(1)%3C%2Fscript%3E+slice+%22%3E%3Cimg+src%3Dx%3E";
    for path in [
        format!("/?note={nasty}"),
        format!("/lesson?note={nasty}"),
        format!("/drills?words={nasty}"),
        format!("/show/{nasty}"),
        format!("/lesson?note={nasty}&step={nasty}"),
        format!("/sheet?note={nasty}"),
    ] {
        let text = house.get(&path).text;
        assert!(
            !text.contains("<script>alert") && !text.contains("<img src=x"),
            "{path}"
        );
    }
}

#[test]
fn too_many_fields_and_too_long_a_note_are_refused_in_words() {
    let house = House::open();
    let many = "note=slice&".repeat(700);
    assert_eq!(
        house.get(&format!("/lesson?{many}")).status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    let long = "slice+".repeat(500);
    let answer = house.get(&format!("/why.json?note={long}"));
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        answer.json()["error"]["message"]
            .as_str()
            .expect("words")
            .contains("500 words")
    );
}

#[test]
fn a_server_that_only_reads_writes_nothing() {
    let house = House::read_only().let_in();
    let address = house.act("", "read", &[("note", "weak slice")]);
    let address = house.act(&address, "step:look:over-the-top:no", &[]);
    assert!(house.page(&address).contains("Take back"));
    assert!(files(house.home.path()).is_empty());
    assert_eq!(
        house
            .post("/forget", &[("lesson", "0123456789abcdef")])
            .status,
        StatusCode::FORBIDDEN
    );
}

/// A head that never ends, a byte now and then, holds its place no longer than the patience for it.
#[test]
fn a_head_that_never_ends_is_given_up() {
    use std::io::{Read, Write};
    let home = tempfile::tempdir().expect("made");
    let server = fairwhy::web::Server::bind("127.0.0.1:0".parse().expect("an address"));
    let server = server.expect("bound");
    let address = server.address().expect("told");
    let app = house::app(home.path(), false, address).give_up_after(Duration::from_millis(300));
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let serving = std::thread::spawn(move || {
        let stopped = async {
            let _ = stopped.await;
            Ok(())
        };
        server.run_until(std::sync::Arc::new(app), stopped)
    });
    let mut socket = std::net::TcpStream::connect(address).expect("there");
    socket
        .set_read_timeout(Some(Duration::from_secs(20)))
        .expect("set");
    let begun = Instant::now();
    socket.write_all(b"GET / HTTP/1.1\r\nhost: ").expect("sent");
    let mut trickle = socket.try_clone().expect("the same");
    let drip = std::thread::spawn(move || {
        while begun.elapsed() < Duration::from_secs(15) && trickle.write_all(b"a").is_ok() {
            std::thread::sleep(Duration::from_millis(50));
        }
    });
    let mut answer = Vec::new();
    // An end, or an error: the connection is gone either way.
    let _ = socket.read_to_end(&mut answer);
    assert!(
        begun.elapsed() < Duration::from_secs(10),
        "{:?}",
        begun.elapsed()
    );
    assert!(!answer.starts_with(b"HTTP/1.1 200"));
    drip.join().expect("ended");
    let _ = stop.send(());
    serving.join().expect("ended").expect("served");
}
