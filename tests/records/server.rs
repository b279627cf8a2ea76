//! The same records on a PostgreSQL server that coaches share: the address of one in
//! `FAIRWHY_TEST_POSTGRES`, or one started here on loopback where `initdb` and `postgres` are installed.
//! Elsewhere the test says that it is skipped.

use super::{Desk, lesson, student};
use fairwhy::records::{DrillResult, Entry, Outcome, Place, Store, StoreError, evaluate};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A server for as long as this lives.
struct Server {
    address: String,
    /// The folder goes when the server has ended.
    running: Option<(Child, tempfile::TempDir)>,
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some((child, _)) = &mut self.running {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// A program of the server's, in the path or where distributions put it.
fn program(name: &str) -> Option<PathBuf> {
    let paths = std::env::var_os("PATH")?;
    let mut places: Vec<PathBuf> = std::env::split_paths(&paths).collect();
    if let Ok(versions) = std::fs::read_dir("/usr/lib/postgresql") {
        places.extend(versions.flatten().map(|version| version.path().join("bin")));
    }
    places
        .into_iter()
        .map(|place| place.join(name))
        .find(|file| file.exists())
}

/// The server will not run as root, and then runs as nobody.
fn as_somebody(command: &mut Command, folder: &Path) {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
    use std::os::unix::process::CommandExt;
    if std::fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0) {
        chown(folder, Some(65534), Some(65534)).expect("handed over");
        std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o700)).expect("set");
        command.uid(65534).gid(65534);
    }
    command
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null());
}

impl Server {
    fn start() -> Option<Self> {
        if let Ok(address) = std::env::var("FAIRWHY_TEST_POSTGRES") {
            return Some(Self {
                address,
                running: None,
            });
        }
        let (initdb, postgres) = (program("initdb")?, program("postgres")?);
        let folder = tempfile::tempdir().expect("a folder");
        let data = folder.path().join("data");
        let mut make = Command::new(initdb);
        make.arg("-D").arg(&data).args([
            "-U",
            "fairwhy",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--no-locale",
        ]);
        as_somebody(&mut make, folder.path());
        assert!(
            make.status().expect("it runs").success(),
            "the server's folder could not be made"
        );
        let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
        let port = listener.local_addr().expect("bound").port();
        drop(listener);
        let mut serve = Command::new(postgres);
        serve
            .arg("-D")
            .arg(&data)
            .args(["-h", "127.0.0.1", "-p", &port.to_string(), "-k", ""]);
        as_somebody(&mut serve, folder.path());
        let child = serve.spawn().expect("it starts");
        let server = Self {
            address: format!("postgres://fairwhy@127.0.0.1:{port}/postgres"),
            running: Some((child, folder)),
        };
        let begun = Instant::now();
        while Store::to_read(&server.place()).is_err() {
            assert!(
                begun.elapsed() < Duration::from_secs(30),
                "the server does not answer"
            );
            std::thread::sleep(Duration::from_millis(100));
        }
        Some(server)
    }

    fn place(&self) -> Place {
        Place::parse(&self.address)
    }

    fn store(&self, coach: &str) -> Store {
        Store::to_write(&self.place(), coach).expect("opens")
    }
}

fn outcome() -> Outcome {
    Outcome {
        number: 0,
        day: super::day("2026-05-11"),
        coach: String::new(),
        lesson: None,
        drill: "count-the-knuckles".into(),
        result: DrillResult::Partly,
        reps: None,
        note: None,
    }
}

#[test]
fn coaches_share_a_server_and_lose_nothing() {
    let Some(server) = Server::start() else {
        println!("skipped: no PostgreSQL server is installed (apt-get install postgresql)");
        return;
    };
    let mut robin = server.store("robin");
    robin
        .add_student(&student("heron"), Some("stiff neck"))
        .expect("kept");
    let kept = robin
        .add_lesson("heron", &lesson("2026-05-04"))
        .expect("kept");
    assert_eq!((kept.number, kept.coach.as_str()), (1, "robin"));
    robin.add_outcome("heron", &outcome()).expect("kept");
    robin
        .edit_student("heron", |student, _| student.goals.push("length".into()))
        .expect("kept");
    // The last change of this coach is undone, not another's.
    let mut linnet = server.store("linnet");
    linnet
        .add_lesson("heron", &lesson("2026-05-05"))
        .expect("kept");
    robin.undo().expect("undone");
    assert!(robin.student("heron").expect("read").goals.is_empty());
    robin.undo().expect("done again");
    assert_eq!(robin.student("heron").expect("read").goals, ["length"]);
    assert_eq!(robin.history("heron").expect("read").lessons.len(), 2);
    writers(&server);
    both_edit(&server);
    let entries = robin.entries(None).expect("read");
    // The same entries in a file, and back.
    let desk = Desk::new();
    let copy = desk.folder.path().join("copy.db");
    robin.backup(&copy).expect("copied");
    let mut there = Store::to_read(&Place::File(copy.clone()))
        .expect("opens")
        .expect("is there");
    assert_eq!(there.entries(None).expect("read"), entries);
    assert!(matches!(
        Store::restore(&server.place(), &copy),
        Err(StoreError::AtOdds(_))
    ));
    robin.set("learning", Some("on")).expect("kept");
    assert!(robin.learns().expect("read"));
    let calls = robin.calls_for("slice").expect("read");
    assert!(calls.iter().all(|call| call.start == "grip-too-weak") && !calls.is_empty());
    assert_eq!(robin.tries().expect("read")["count-the-knuckles"], (1, 0.5));
    let agreement = evaluate(&entries, None).agreement;
    assert!(
        agreement
            .iter()
            .any(|one| one.coaches == ["linnet".to_owned(), "robin".to_owned()])
    );
    assert!(robin.check().expect("read").complaints.is_empty());
    robin.forget("heron").expect("forgotten");
    assert!(!robin.has("heron").expect("read"));
    assert_eq!(robin.students().expect("read").len(), 1);
    robin.forget("wren").expect("forgotten");
    Store::restore(&server.place(), &copy).expect("brought back");
    assert_eq!(robin.entries(None).expect("read"), entries);
}

/// Eight at once write to one student: each lesson has a number of its own.
fn writers(server: &Server) {
    server
        .store("robin")
        .add_student(&student("wren"), None)
        .expect("kept");
    let threads: Vec<_> = (0..8)
        .map(|coach| {
            let place = server.place();
            std::thread::spawn(move || {
                let mut store = Store::to_write(&place, &format!("coach-{coach}")).expect("opens");
                for _ in 0..5 {
                    store
                        .add_lesson("wren", &lesson("2026-05-04"))
                        .expect("kept");
                }
            })
        })
        .collect();
    for thread in threads {
        thread.join().expect("no panic");
    }
    let lessons = server.store("").history("wren").expect("read").lessons;
    let mut numbers: Vec<i64> = lessons.iter().map(|lesson| lesson.number).collect();
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=40).collect::<Vec<_>>());
    let mine = lessons
        .iter()
        .filter(|lesson| lesson.coach == "coach-3")
        .count();
    assert_eq!(mine, 5);
}

/// Two who edit one record at once: both edits are there.
fn both_edit(server: &Server) {
    let threads: Vec<_> = (0..6)
        .map(|number| {
            let place = server.place();
            std::thread::spawn(move || {
                let mut store = Store::to_write(&place, "").expect("opens");
                store
                    .edit_student("wren", |student, _| {
                        student.goals.push(format!("goal {number}"))
                    })
                    .expect("kept");
            })
        })
        .collect();
    for thread in threads {
        thread.join().expect("no panic");
    }
    let mut store = server.store("");
    assert_eq!(store.student("wren").expect("read").goals.len(), 6);
    assert!(
        store
            .entries(Some("wren"))
            .expect("read")
            .iter()
            .any(|one| matches!(one, Entry::Lesson { .. }))
    );
}
