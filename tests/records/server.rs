//! The same records on a PostgreSQL server that coaches share. Without one the test says that it is skipped.

use super::loopback::Server;
use super::{Desk, lesson, student};
use fairwhy::records::{DrillResult, Outcome, Record, Store, StoreError, StorePlace, evaluate};

fn store(server: &Server, coach: &str) -> Store {
    Store::to_write(&server.place(), coach).expect("opens")
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
        println!("{}", super::loopback::NONE);
        return;
    };
    let mut robin = store(&server, "robin");
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
    let mut linnet = store(&server, "linnet");
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
    let mut there = Store::to_read(&StorePlace::File(copy.clone()))
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
    store(server, "robin")
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
    let lessons = store(server, "").history("wren").expect("read").lessons;
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
    let mut store = store(server, "");
    assert_eq!(store.student("wren").expect("read").goals.len(), 6);
    assert!(
        store
            .entries(Some("wren"))
            .expect("read")
            .iter()
            .any(|one| matches!(one, Record::Lesson { .. }))
    );
}

/// Everything that a store does, with what came of it, the place aside.
fn everything(place: &StorePlace) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    let mut say = |what: &dyn std::fmt::Debug| said.push(format!("{what:?}"));
    let mut robin = Store::to_write(place, "robin").expect("opens");
    let mut linnet = Store::to_write(place, "linnet").expect("opens");
    say(&robin.add_student(&student("heron"), Some("stiff neck")));
    say(&robin.add_student(&student("wren"), None));
    say(&robin.add_student(&student("wren"), None));
    say(&robin.edit_student("heron", |one, limits| {
        one.goals.push("length".into());
        *limits = Some("stiff neck, left side".into());
    }));
    say(&robin.student("herron"));
    for (store, day) in [(&mut robin, "2026-05-04"), (&mut linnet, "2026-06-01")] {
        say(&store.add_lesson("heron", &lesson(day)));
        say(&store.add_outcome("heron", &outcome()));
    }
    say(&linnet.add_lesson("heron", &lesson("2026-05-20")));
    say(&linnet.undo());
    say(&linnet.undo());
    say(&robin.history("heron"));
    say(&robin.limits("heron"));
    say(&robin.has("nobody"));
    say(&robin.students());
    say(&robin.set("learning", Some("on")));
    say(&robin.learns());
    say(&robin.set("learning", None));
    say(&robin.learns());
    say(&robin.calls_for("slice"));
    say(&robin.tries());
    let entries = robin.entries(None).expect("read");
    say(&entries);
    say(&robin.take_in(&entries));
    let mut other = entries.clone();
    other.retain(|one| one.handle() == "heron");
    say(&robin
        .forget("heron")
        .map(|gone| (gone.lessons, gone.outcomes)));
    say(&robin.entries(Some("heron")));
    say(&robin.take_in(&other));
    say(&robin.entries(None));
    say(&robin.check());
    said
}

/// The same calls, and so the same statements, on both databases come to the same, to the last bit.
#[test]
fn the_same_statements_on_both_databases() {
    let desk = Desk::new();
    let in_a_file = everything(&desk.place());
    assert!(
        in_a_file
            .iter()
            .filter(|said| said.starts_with("Err"))
            .count()
            == 3
    );
    let Some(server) = Server::start() else {
        println!("{}", super::loopback::NONE);
        return;
    };
    for (number, (one, other)) in in_a_file
        .iter()
        .zip(everything(&server.place()))
        .enumerate()
    {
        assert_eq!(one, &other, "call {number}");
    }
}
