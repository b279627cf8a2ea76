//! What records cost.
//!
//! `cargo bench --bench records` makes 20,000 students and prints what it takes to open and show one of
//! them beyond starting up, and what `why` takes beside them with and without a student: milliseconds of
//! the processor of whole commands (of the clock where the system does not tell).
//!
//! `cargo bench --bench records --features academy -- load` has 50 writers keep 100,000 lessons of 2,000
//! students, first in one SQLite file, then on a PostgreSQL server on loopback where there is one. It
//! prints how long a lesson takes until it was read back, and how many of those that were said to be kept
//! are not there. Two numbers behind `load` are writers and lessons; `file` or `server` is one of the two.

#[path = "../records/loopback.rs"]
mod loopback;

use fairwhy::records::{LessonRecord, Prescribed, Ranked, Record, Store, StorePlace, Student};
use loopback::Server;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const STUDENTS: usize = 20_000;
/// Lessons of the one who is shown.
const MONTHS: i64 = 24;
const RUNS: usize = 40;
/// A clock tick of the system is this many milliseconds, wherever Linux runs.
const TICK_MS: f64 = 10.0;

const WRITERS: usize = 50;
const LESSONS: usize = 100_000;
const SHARED: usize = 2_000;

fn lesson(number: i64) -> LessonRecord {
    let day = "2026-05-04".parse().expect("a day");
    LessonRecord {
        number,
        note: vec!["weak slice, pulls the short irons, divots point in".into()],
        seen: vec!["slice".into(), "pull".into(), "divot-points-in".into()],
        ruled_out: vec!["grip-too-strong".into()],
        library: "0123456789ab".into(),
        ranking: ["grip-too-weak", "over-the-top", "ball-too-far-forward"]
            .into_iter()
            .map(|id| Ranked {
                id: id.into(),
                chance: 0.3,
            })
            .collect(),
        coach_says: Some("grip-too-weak".into()),
        prescribed: vec![Prescribed {
            drill: "count-the-knuckles".into(),
            works_on: vec!["grip-too-weak".into()],
        }],
        ..LessonRecord::new(day)
    }
}

fn handle(number: usize) -> String {
    format!("bird-{number}")
}

fn student(number: usize) -> Record {
    let day = "2026-01-05".parse().expect("a day");
    Record::Student {
        student: Student::new(&handle(number), day),
        limits: None,
    }
}

/// Milliseconds of the processor of commands that ended.
fn of_commands() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    // Behind the name, which may hold blanks, fields 16 and 17 of proc(5).
    let mut fields = stat.rsplit(')').next()?.split_whitespace().skip(13);
    let (user, system): (f64, f64) = (fields.next()?.parse().ok()?, fields.next()?.parse().ok()?);
    Some((user + system) * TICK_MS)
}

/// What one run of a command takes.
fn takes(home: &Path, records: &Path, arguments: &[&str]) -> f64 {
    let run = || {
        let status = Command::new(env!("CARGO_BIN_EXE_fairwhy"))
            .args(arguments)
            .env_remove("FAIRWHY_LIBRARY")
            .env("FAIRWHY_HOME", home)
            .env("FAIRWHY_RECORDS", records)
            .stdout(Stdio::null())
            .status();
        assert!(status.expect("it starts").success(), "{arguments:?}");
    };
    run();
    let (before, begun) = (of_commands(), Instant::now());
    (0..RUNS).for_each(|_| run());
    let took = match (before, of_commands()) {
        (Some(before), Some(after)) => after - before,
        _ => begun.elapsed().as_secs_f64() * 1e3,
    };
    took / RUNS as f64
}

/// Opening and showing one of many.
fn one_of_many() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = |name: &str| folder.path().join(name);
    let shown = handle(STUDENTS / 2);
    let fill = |name: &str, students: &mut dyn Iterator<Item = usize>| {
        let mut entries = Vec::new();
        for number in students {
            let lessons = if handle(number) == shown { MONTHS } else { 1 };
            entries.push(student(number));
            entries.extend((1..=lessons).map(|number_of| Record::Lesson {
                handle: handle(number),
                lesson: lesson(number_of),
            }));
        }
        let mut store = Store::to_write(&StorePlace::File(file(name)), "").expect("opens");
        store.take_in(&entries).expect("kept");
    };
    fill("one.db", &mut std::iter::once(STUDENTS / 2));
    let begun = Instant::now();
    fill("all.db", &mut (0..STUDENTS));
    println!(
        "{STUDENTS} students brought in by {:.1} s",
        begun.elapsed().as_secs_f64()
    );
    let time = |records: &str, arguments: &[&str]| takes(folder.path(), &file(records), arguments);
    let rows: [(&str, &[&str], &[&str]); 4] = [
        (
            "show one as JSON, beyond `--version`",
            &["student", "show", &shown, "--format", "json"],
            &["--version"],
        ),
        (
            "show one as a page, beyond `show slice`",
            &["student", "show", &shown],
            &["show", "slice"],
        ),
        (
            "`why slice` of one, beyond none",
            &["why", "slice", "--student", &shown],
            &["why", "slice"],
        ),
        (
            "list all, beyond `--version`",
            &["student", "list", "--format", "json"],
            &["--version"],
        ),
    ];
    println!(
        "{:>42} {:>12} {:>12} {:>10}",
        "", "alone", "among all", "beyond"
    );
    for (name, arguments, without) in rows {
        let (one, all, start) = (
            time("one.db", arguments),
            time("all.db", arguments),
            time("all.db", without),
        );
        println!(
            "{name:>42} {one:>9.1} ms {all:>9.1} ms {:>7.1} ms",
            all - start
        );
    }
    let (none, beside) = (
        time("none.db", &["why", "slice"]),
        time("all.db", &["why", "slice"]),
    );
    println!(
        "`why slice` without a student: {none:.1} ms without records, {beside:.1} ms beside them"
    );
}

/// Writers who keep lessons at once; every one that was said to be kept is looked for.
fn load(name: &str, place: &StorePlace, writers: usize, lessons: usize) {
    let mut store = Store::to_write(place, "").expect("opens");
    let students: Vec<Record> = (0..SHARED).map(student).collect();
    store.take_in(&students).expect("kept");
    let begun = Instant::now();
    let threads: Vec<_> = (0..writers)
        .map(|writer| {
            let place = place.clone();
            std::thread::spawn(move || {
                let mut store = Store::to_write(&place, &format!("coach-{writer}")).expect("opens");
                let mut took: Vec<Duration> = Vec::new();
                let (mut kept, mut refused) = (Vec::new(), Vec::new());
                for number in (writer..lessons).step_by(writers) {
                    // Coaches meet at the same students now and then.
                    let handle = handle(number * 7919 % SHARED);
                    let begun = Instant::now();
                    match store.add_lesson(&handle, &lesson(0)) {
                        Ok(lesson) => kept.push((handle, lesson.number)),
                        Err(error) => refused.push(error.to_string()),
                    }
                    took.push(begun.elapsed());
                }
                (took, kept, refused)
            })
        })
        .collect();
    let (mut took, mut kept, mut refused) = (Vec::new(), Vec::new(), Vec::new());
    for thread in threads {
        let (times, there, not) = thread.join().expect("no panic");
        took.extend(times);
        kept.extend(there);
        refused.extend(not);
    }
    let seconds = begun.elapsed().as_secs_f64();
    took.sort_unstable();
    let at = |share: f64| took[((took.len() - 1) as f64 * share) as usize].as_secs_f64() * 1e3;
    let mut there = std::collections::BTreeSet::new();
    for number in 0..SHARED {
        let handle = handle(number);
        let history = store.history(&handle).expect("read");
        there.extend(history.lessons.iter().map(|l| (handle.clone(), l.number)));
    }
    let said = kept.len();
    let lost = kept.iter().filter(|one| !there.contains(*one)).count();
    println!(
        "{name}: {writers} writers, {said} lessons in {seconds:.0} s ({:.0} a second); until read back: median {:.1} ms, p95 {:.1}, p99 {:.1}, most {:.1}; refused {}; two under one number {}; lost {lost}",
        said as f64 / seconds,
        at(0.5),
        at(0.95),
        at(0.99),
        at(1.0),
        refused.len(),
        said - there.len().min(said),
    );
    if let Some(first) = refused.first() {
        println!("  the first refusal: {first}");
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if !arguments.iter().any(|one| one == "load") {
        one_of_many();
        return;
    }
    let mut numbers = arguments.iter().filter_map(|one| one.parse().ok());
    let writers = numbers.next().unwrap_or(WRITERS);
    let lessons = numbers.next().unwrap_or(LESSONS);
    let alone = |word: &str| arguments.iter().any(|one| one == word);
    if !alone("server") {
        let folder = tempfile::tempdir().expect("a folder");
        let file = StorePlace::File(folder.path().join("records.db"));
        load("SQLite", &file, writers, lessons);
    }
    if alone("file") {
        return;
    }
    match Server::start() {
        Some(server) => load("PostgreSQL", &server.place(), writers, lessons),
        None => println!("PostgreSQL: {}", loopback::NONE),
    }
}
