//! A file of each form that ever was is kept here, and opens: `form-1.db`, made when it was the latest.
//!
//! `FAIRWHY_WRITE_FORMS=1 cargo test --test records forms` makes the file of the form of today, once.

use super::{Desk, lesson, student};
use fairwhy::records::{DrillResult, Outcome};
use std::path::PathBuf;

fn kept(form: u32) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/records/form-{form}.db"))
}

#[test]
fn every_form_is_brought_forward() {
    let today = kept(1);
    if std::env::var_os("FAIRWHY_WRITE_FORMS").is_some() && !today.exists() {
        let desk = Desk::new();
        let mut store = desk.store();
        store
            .add_student(&student("heron"), Some("stiff neck"))
            .expect("kept");
        store
            .add_lesson("heron", &lesson("2026-05-04"))
            .expect("kept");
        let told = Outcome {
            number: 0,
            day: super::day("2026-05-11"),
            coach: "robin".into(),
            lesson: None,
            drill: "count-the-knuckles".into(),
            result: DrillResult::Partly,
            reps: None,
            note: None,
        };
        store.add_outcome("heron", &told).expect("kept");
        drop(store);
        std::fs::copy(desk.file(), &today).expect("written");
    }
    for form in 1..=1 {
        let desk = Desk::new();
        std::fs::copy(kept(form), desk.file()).expect("there");
        let history = desk.read().history("heron").expect("read");
        assert_eq!(history.lessons.len(), 1);
        assert_eq!(
            history.lessons[0].coach_says.as_deref(),
            Some("grip-too-weak")
        );
        assert_eq!(history.outcomes[0].lesson, Some(1));
        assert_eq!(
            desk.read().limits("heron").expect("read").as_deref(),
            Some("stiff neck")
        );
        desk.store()
            .add_lesson("heron", &lesson("2026-06-01"))
            .expect("kept");
        assert!(
            desk.read()
                .check()
                .expect("read")
                .complaints
                .iter()
                .all(|line| line.starts_with("others"))
        );
    }
}
