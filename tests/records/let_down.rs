//! Let down by the machine: killed, a full disk, damage, a file from the future, two at once.

use super::{Desk, lesson, student};
use fairwhy::records::{Store, StoreError, StorePlace};
use std::fs;
use std::time::Duration;

/// Damage anywhere is refused with what to do, and the sound file is never written over.
#[test]
fn a_damaged_copy_is_refused_and_the_good_one_stays() {
    let desk = Desk::new();
    let mut store = desk.store();
    store.add_student(&student("heron"), None).expect("kept");
    for _ in 0..40 {
        store
            .add_lesson("heron", &lesson("2026-05-04"))
            .expect("kept");
    }
    let copy = desk.folder.path().join("copy.db");
    store.backup(&copy).expect("copied");
    drop(store);
    let good = fs::read(desk.file()).expect("there");
    let whole = fs::read(&copy).expect("there");
    let bad = desk.folder.path().join("bad.db");
    let halves = [
        Vec::new(),
        b"SQLite format 3\0".to_vec(),
        vec![0xa5; 5000],
        whole[..whole.len() / 2].to_vec(),
        {
            let mut damaged = whole.clone();
            for place in (4096..damaged.len()).step_by(3) {
                damaged[place] ^= 0x5a;
            }
            damaged
        },
    ];
    for (number, bytes) in halves.iter().enumerate() {
        fs::write(&bad, bytes).expect("written");
        let refused = Store::restore(&desk.place(), &bad);
        assert!(refused.is_err(), "{number}");
        assert_eq!(fs::read(desk.file()).expect("there"), good, "{number}");
        let ran = desk.run(&["records", "restore", bad.to_str().expect("text")]);
        assert_eq!(ran.code, 1, "{number}: {}", ran.err);
        assert!(
            ran.err.contains("help:") && !ran.err.contains("panicked"),
            "{}",
            ran.err
        );
    }
    // Damaged records are refused too, and a copy brings them back; the damaged file is kept.
    fs::write(desk.file(), &halves[4]).expect("written");
    assert!(desk.run(&["records", "check"]).code == 1);
    desk.done(&["records", "restore", copy.to_str().expect("text")]);
    assert_eq!(
        desk.read().history("heron").expect("read").lessons.len(),
        40
    );
    let aside = desk.folder.path().join("records-before-1.db");
    assert_eq!(fs::read(aside).expect("kept"), halves[4]);
}

#[test]
fn a_file_from_the_future_is_left_alone() {
    let desk = Desk::new();
    desk.store()
        .add_student(&student("heron"), None)
        .expect("kept");
    let mut bytes = fs::read(desk.file()).expect("there");
    sql(&desk, "update _sqlx_migrations set version = 99");
    let now = fs::read(desk.file()).expect("there");
    assert!(matches!(
        Store::to_read(&desk.place()),
        Err(StoreError::FromLater { found: 99, .. })
    ));
    assert!(matches!(
        Store::to_write(&desk.place(), ""),
        Err(StoreError::FromLater { .. })
    ));
    let ran = desk.run(&["student", "add", "wren"]);
    assert!(
        ran.code == 1 && ran.err.contains("later version"),
        "{}",
        ran.err
    );
    assert_eq!(fs::read(desk.file()).expect("there"), now);
    // Somebody else's database is no records either.
    bytes[68..72].copy_from_slice(&[0, 0, 0, 1]);
    fs::write(desk.file(), bytes).expect("written");
    assert!(matches!(
        Store::to_read(&desk.place()),
        Err(StoreError::Damaged { .. })
    ));
}

/// Runs a statement of its own on the file, past the store.
fn sql(desk: &Desk, statement: &'static str) {
    use sqlx::{Connection, Executor};
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .expect("runs");
    runtime.block_on(async {
        let address = format!("sqlite://{}", desk.file().display());
        let mut link = sqlx::SqliteConnection::connect(&address)
            .await
            .expect("opens");
        link.execute(statement).await.expect("done");
        link.close().await.expect("closed");
    });
}

/// Reading changes no byte and makes no file, also where nothing may be written.
#[cfg(unix)]
#[test]
fn reading_never_writes() {
    use std::os::unix::fs::PermissionsExt;
    let desk = Desk::new();
    let none = Store::to_read(&desk.place()).expect("no trouble");
    assert!(none.is_none() && !desk.file().exists());
    let mut store = desk.store();
    store.add_student(&student("heron"), None).expect("kept");
    store
        .add_lesson("heron", &lesson("2026-05-04"))
        .expect("kept");
    drop(store);
    let mode = fs::metadata(desk.file())
        .expect("there")
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o600);
    let files = || {
        let mut names: Vec<_> = fs::read_dir(desk.folder.path())
            .expect("read")
            .map(|entry| entry.expect("there").file_name())
            .collect();
        names.sort();
        names
    };
    let (bytes, before) = (fs::read(desk.file()).expect("there"), files());
    for arguments in [
        &["student", "list"][..],
        &["student", "show", "heron"],
        &["student", "export", "heron"],
        &["why", "slice", "--student", "heron"],
        &["plan", "slice", "--student", "heron"],
        &["lesson", "next", "heron", "slice"],
        &["lesson", "list", "heron"],
        &["records", "check"],
    ] {
        desk.done(arguments);
    }
    assert_eq!(fs::read(desk.file()).expect("there"), bytes);
    assert_eq!(files(), before);
    // What others could read is its owner's alone from the next change on.
    fs::set_permissions(desk.file(), fs::Permissions::from_mode(0o644)).expect("set");
    assert_eq!(desk.run(&["records", "check"]).code, 1);
    desk.done(&["student", "add", "wren"]);
    let mode = fs::metadata(desk.file())
        .expect("there")
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o600);
}

/// Many at once: everybody's lesson is kept, under a number of its own.
#[test]
fn two_writers_lose_nothing() {
    let desk = Desk::new();
    desk.store()
        .add_student(&student("heron"), None)
        .expect("kept");
    let writers: Vec<_> = (0..4)
        .map(|_| {
            let place = desk.place();
            std::thread::spawn(move || {
                for _ in 0..10 {
                    let mut store = Store::to_write(&place, "").expect("opens");
                    store
                        .add_lesson("heron", &lesson("2026-05-04"))
                        .expect("kept");
                }
            })
        })
        .collect();
    for writer in writers {
        writer.join().expect("no panic");
    }
    let lessons = desk.read().history("heron").expect("read").lessons;
    let numbers: Vec<i64> = lessons.iter().map(|lesson| lesson.number).collect();
    assert_eq!(numbers, (1..=40).collect::<Vec<_>>());
}

/// Two who begin records at one moment both find them whole.
#[test]
fn two_may_begin_at_once() {
    let desk = Desk::new();
    let writers: Vec<_> = ["heron", "wren", "plover", "dunlin"]
        .into_iter()
        .map(|handle| {
            let place = desk.place();
            std::thread::spawn(move || {
                let mut store = Store::to_write(&place, "").expect("opens");
                store.add_student(&student(handle), None).expect("kept");
            })
        })
        .collect();
    for writer in writers {
        writer.join().expect("no panic");
    }
    assert_eq!(desk.read().students().expect("read").len(), 4);
    let files = fs::read_dir(desk.folder.path()).expect("read").count();
    assert_eq!(files, 1);
}

/// Killed at any moment: the file is sound, and what was said to be saved is there.
#[cfg(unix)]
#[test]
fn killed_at_any_moment() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron"]);
    let program = assert_cmd::cargo::cargo_bin("fairwhy");
    let (mut said, mut cut) = (0, 0);
    for step in 0..24 {
        let mut child = std::process::Command::new(&program)
            .args([
                "lesson",
                "log",
                "heron",
                "--drill",
                "count-the-knuckles",
                "--result",
                "no",
            ])
            .env("FAIRWHY_HOME", desk.folder.path())
            .env_remove("FAIRWHY_RECORDS")
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::null())
            .spawn()
            .expect("it runs");
        std::thread::sleep(Duration::from_millis(4 * step));
        let _ = child.kill();
        let output = child.wait_with_output().expect("it ended");
        said += usize::from(String::from_utf8_lossy(&output.stdout).contains("saved"));
        cut += usize::from(output.status.code().is_none());
        let mut store = desk.read();
        assert!(store.check().expect("read").complaints.is_empty(), "{step}");
        let kept = store.history("heron").expect("read").outcomes.len();
        // One more may have been kept than was said; never one fewer.
        assert!(
            kept >= said && kept <= usize::try_from(step).expect("small") + 1,
            "{step}: {kept} {said}"
        );
    }
    assert!(cut > 0, "none was cut short");
}

/// A disk that fills up while writing: said, and nothing half kept.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_said_and_nothing_is_half_kept() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron"]);
    desk.done(&["why", "slice", "--student", "heron", "--save"]);
    let before = desk.read().entries(None).expect("read");
    let size = fs::metadata(desk.file()).expect("there").len() / 1024;
    let program = assert_cmd::cargo::cargo_bin("fairwhy");
    let mut refused = 0;
    // A limit on the size of files is the full disk of one process; a long goal needs new pages.
    for room in [1, 8, size / 2, size, size + 1] {
        let goal = "a long goal ".repeat(150);
        let line = format!(
            "ulimit -f {room}; trap '' XFSZ; exec '{}' student edit heron --goal '{goal}' --goal '{goal}x' --goal '{goal}y' --goal '{goal}z'",
            program.display()
        );
        let output = std::process::Command::new("bash")
            .args(["-c", &line])
            .env("FAIRWHY_HOME", desk.folder.path())
            .env_remove("FAIRWHY_RECORDS")
            .output()
            .expect("it runs");
        let said = String::from_utf8_lossy(&output.stdout).contains("saved");
        let error = String::from_utf8_lossy(&output.stderr);
        assert!(!error.contains("panicked"), "{error}");
        assert_eq!(said, output.status.success(), "{error}");
        let mut store = desk.read();
        assert!(store.check().expect("read").complaints.is_empty());
        if said {
            break;
        }
        refused += 1;
        assert!(error.contains("help:"), "{error}");
        assert_eq!(store.entries(None).expect("read"), before);
    }
    assert!(refused > 0, "there was always room");
}

#[test]
fn a_place_that_cannot_be_is_said() {
    let desk = Desk::new();
    let file = desk.folder.path().join("file");
    fs::write(&file, "x").expect("written");
    let place = StorePlace::File(file.join("records.db"));
    assert!(matches!(
        Store::to_write(&place, ""),
        Err(StoreError::NoAccess { .. })
    ));
    let folder = StorePlace::File(desk.folder.path().to_owned());
    assert!(Store::to_write(&folder, "").is_err());
}
