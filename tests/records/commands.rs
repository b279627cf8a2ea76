//! The commands as a coach meets them.

use super::Desk;
use fairwhy::knowledge::{RemedyKind, Strictness, load, shipped};

/// From the first visit to the next: the record supplies what is not typed, the lesson is kept, the next
/// is held against it.
#[test]
fn a_student_from_one_month_to_the_next() {
    let desk = Desk::new();
    desk.done(&[
        "student",
        "add",
        "heron",
        "--handed",
        "left",
        "--level",
        "improver",
        "--fact",
        "senior",
        "--goal",
        "keep it in play",
    ]);
    let saved = desk.json(&[
        "plan",
        "weak slice, pulls the short irons",
        "--student",
        "heron",
        "--save",
        "--called",
        "grip too weak",
        "--reason",
        "no knuckle to be seen",
        "--count",
        "slice=9/10",
        "--photo",
        "films/may.mp4",
        "--on",
        "2026-05-04",
    ]);
    assert_eq!(saved["saved"]["lesson"], 1);
    assert_eq!(saved["saved"]["date"], "2026-05-04");
    let facts = saved["context"].as_array().expect("a list");
    assert!(
        facts.iter().any(|told| told["fact"] == "senior"),
        "{facts:?}"
    );
    let shown = desk.json(&["student", "show", "heron"]);
    let lesson = &shown["lessons"][0];
    assert_eq!(lesson["seen"], serde_json::json!(["slice", "pull"]));
    assert_eq!(lesson["coach_says"], "grip-too-weak");
    assert_eq!(
        lesson["counts"][0],
        serde_json::json!({"what": "slice", "of": 10, "shown": 9})
    );
    assert_eq!(lesson["pictures"][0]["file"], "may.mp4");
    let drill = lesson["prescribed"][0].as_str().expect("a drill");
    desk.done(&[
        "lesson", "log", "heron", "--drill", drill, "--result", "worked", "--reps", "60",
    ]);
    let shown = desk.json(&["student", "show", "heron"]);
    assert_eq!(shown["lessons"][0]["outcomes"][0]["result"], "worked");
    let first = desk.done(&["lesson", "next", "heron"]);
    assert!(
        first.contains("Look at these first") && first.contains("Grip too weak"),
        "{first}"
    );
    // A left-hander's page says right for the lead hand.
    assert!(
        first.contains("right hand") && !first.contains("lead hand"),
        "{first}"
    );
    let next = desk.json(&[
        "lesson",
        "next",
        "heron",
        "slice, no pulls, fat irons",
        "--not",
        "grip too weak",
        "--count",
        "slice=1/10",
        "--save",
        "--on",
        "2026-06-01",
    ]);
    let held = |id: &str| {
        let rows = next["since"].as_array().expect("a list");
        rows.iter()
            .find(|row| row["id"] == id)
            .map(|row| row["held"].clone())
            .unwrap_or_default()
    };
    assert_eq!(
        (held("slice"), held("pull")),
        ("better".into(), "gone".into()),
        "{next}"
    );
    assert_eq!(next["counts"][0]["change"]["verdict"], "a real change");
    assert_eq!(next["advice"], "go-on");
    assert_eq!(next["saved"]["lesson"], 2);
    let list = desk.done(&["lesson", "list", "heron"]);
    assert!(
        list.contains("2026-05-04") && list.contains("2026-06-01"),
        "{list}"
    );
}

/// What is typed goes before what is on record, and what is not typed comes from it.
#[test]
fn words_of_the_command_line_win() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron", "--handed", "right"]);
    let hand = |arguments: &[&str]| {
        let mut all = vec!["plan", "slice", "--student", "heron", "--handout"];
        all.extend(arguments);
        desk.done(&all)
    };
    assert!(hand(&[]).contains("**For:** heron"));
    let right = desk.done(&["why", "grip too weak", "--student", "heron", "--details"]);
    let left = desk.done(&[
        "why",
        "grip too weak",
        "--student",
        "heron",
        "--details",
        "--handed",
        "left",
    ]);
    assert_ne!(right, left);
    let told = desk.done(&[
        "why",
        "grip too weak, plays left-handed",
        "--student",
        "heron",
        "--details",
    ]);
    assert!(
        told.contains("right") || !told.contains("left hand"),
        "{told}"
    );
}

#[test]
fn limits_are_heeded_and_shown_only_when_asked_for() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron", "--limits", "stiff neck"]);
    for command in ["why", "plan", "drills"] {
        let answer = desk.json(&[command, "slice", "--student", "heron"]);
        let cautions = answer["cautions"].as_array().expect("a list");
        assert!(!cautions.is_empty(), "{command}");
    }
    let shown = desk.done(&["student", "show", "heron"]);
    assert!(!shown.contains("neck"), "{shown}");
    assert!(
        desk.done(&["student", "show", "heron", "--limits"])
            .contains("stiff neck")
    );
    assert!(
        desk.done(&["student", "export", "heron"])
            .contains("stiff neck")
    );
    assert_eq!(
        desk.json(&["student", "export", "heron"])["limits"],
        "stiff neck"
    );
}

/// At a terminal the hand is asked for where it alone is open, and a note that may mean several things is
/// settled by its reader before the dialogue goes on.
#[cfg(unix)]
#[test]
fn a_hand_that_is_open_is_asked_for_at_a_terminal() {
    use rexpect::reader::Options;
    let desk = Desk::new();
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_fairwhy"));
    command
        .args(["lesson", "ball goes left, curves left", "--width", "300"])
        .env("FAIRWHY_HOME", desk.folder.path());
    for name in ["FAIRWHY_LIBRARY", "FAIRWHY_RECORDS"] {
        command.env_remove(name);
    }
    // Longer than any step takes on a busy machine; reached only when nothing comes.
    let options = Options::new()
        .timeout_ms(Some(120_000))
        .strip_ansi_escape_codes(true);
    let mut session = rexpect::session::spawn_with_options(command, options).expect("starts");
    session
        .exp_string("Which hand does the student play with?")
        .expect("asked");
    session.send_line("l").expect("typed");
    // Enter leaves open what may mean several things, and puts every look off.
    for _ in 0..60 {
        session.send_line("").expect("typed");
    }
    let shown = session.exp_string("Plan 45 minutes?").expect("goes on");
    assert!(
        shown.contains("Slice"),
        "a left-hander's ball to the left: {shown}"
    );
}

/// A stiff neck that has stood on record for months closes drills; a pain stops the lesson, and so does
/// the same neck when it is stiff today.
#[test]
fn a_limit_closes_drills_and_a_pain_sends_to_somebody() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron", "--handed", "right"]);
    let plan = |note: &str, limits: &str| {
        desk.done(&["student", "edit", "heron", "--limits", limits]);
        desk.json(&["plan", note, "--student", "heron", "--minutes", "90"])
    };
    let loaded = load(&[shipped()], Strictness::ErrorsOnly).expect("what ships is sound");
    let base = loaded.base;
    let is_closed = |drill: &str, condition: &str| {
        let drill = base.drill(base.find_drill(drill).expect("a drill"));
        drill
            .not_with
            .contains(&base.find(condition).expect("a condition"))
    };
    let taught = |plan: &serde_json::Value| {
        let steps = plan["plan"]["steps"].as_array().expect("a list").clone();
        let drills = steps
            .iter()
            .map(|step| step["drill"].as_str().expect("an id").to_owned());
        drills.collect::<Vec<_>>()
    };
    for (limits, closed) in [
        ("stiff neck", "neck-pain"),
        ("stiffness in the lower back", "low-back-pain"),
        ("limited shoulder rotation", "shoulder-pain"),
        ("poor balance", "poor-balance"),
    ] {
        let plan = plan("slice, sways", limits);
        let drills = taught(&plan);
        assert!(
            !drills.is_empty() && plan["plan"]["referral"].is_null(),
            "{limits}: {drills:?}"
        );
        for drill in &drills {
            assert!(!is_closed(drill, closed), "{limits}: {drill}");
        }
        let cautions = plan["cautions"].to_string();
        assert!(
            cautions.contains("licensed health professional"),
            "{limits}: {cautions}"
        );
        let found = desk.json(&["drills", "sways", "--student", "heron", "--limit", "60"]);
        for drill in found["drills"].as_array().expect("a list") {
            let drill = drill["id"].as_str().expect("an id");
            assert!(!is_closed(drill, closed), "{limits}: {drill}");
        }
    }
    for (note, limits) in [("slice", "sore neck"), ("slice, stiff neck", "stiff neck")] {
        let plan = plan(note, limits);
        let cautions = plan["cautions"].to_string();
        assert!(cautions.contains("Stop"), "{note}, {limits}: {cautions}");
        let drills = taught(&plan);
        let referral = |id: &String| {
            let key = base.find_drill(id).expect("a drill");
            base.drill(key).kind == RemedyKind::Referral
        };
        assert!(drills.iter().all(referral), "{drills:?}");
    }
}

#[test]
fn a_handle_means_nothing_else() {
    let desk = Desk::new();
    for (handle, says) in [
        ("list", "is a command"),
        ("lesson", "is a command"),
        ("slice", "word of the library"),
        ("grip-too-weak", "word of the library"),
        ("senior", "word of the library"),
        ("Jane Doe", "such as heron"),
    ] {
        let ran = desk.run(&["student", "add", handle]);
        assert_eq!(ran.code, 2, "{handle}");
        assert!(
            ran.err.contains(says) && ran.err.contains("such as"),
            "{}",
            ran.err
        );
    }
    assert!(!desk.file().exists());
}

#[test]
fn slips_are_answered_and_nothing_is_kept() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron"]);
    let before = std::fs::read(desk.file()).expect("there");
    for arguments in [
        &["why", "slice", "--save"][..],
        &["why", "slice", "--student", "heran"],
        &[
            "why",
            "slice",
            "--student",
            "heron",
            "--save",
            "--called",
            "slice",
        ],
        &[
            "why",
            "slice",
            "--student",
            "heron",
            "--save",
            "--called",
            "grip-to-weak",
        ],
        &[
            "why",
            "slice",
            "--student",
            "heron",
            "--save",
            "--count",
            "slice=11/10",
        ],
        &[
            "why",
            "slice",
            "--student",
            "heron",
            "--called",
            "grip-too-weak",
        ],
        &[
            "lesson",
            "log",
            "heron",
            "--drill",
            "nothing-such",
            "--result",
            "no",
        ],
        &[
            "lesson",
            "log",
            "heron",
            "--drill",
            "count-the-knuckles",
            "--result",
            "bad",
        ],
        &["student", "edit", "heron", "--fact", "snior"],
    ] {
        let ran = desk.run(arguments);
        assert_eq!(ran.code, 2, "{arguments:?}: {}", ran.err);
        assert!(!ran.out.contains("saved"), "{}", ran.out);
    }
    assert_eq!(std::fs::read(desk.file()).expect("there"), before);
}

/// A student is named by the first word, and the dialogue keeps the lesson.
#[test]
fn the_dialogue_keeps_a_students_lesson() {
    let desk = Desk::new();
    desk.done(&["student", "add", "heron"]);
    let lines = "q\n\n\n\ngrip too weak\nit looked so\n";
    let output = desk
        .fairwhy(&[
            "lesson",
            "heron",
            "pulls it, divots point in",
            "--on",
            "2026-05-04",
        ])
        .write_stdin(lines)
        .output()
        .expect("it runs");
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(text.contains("saved: lesson 1 of heron"), "{text}");
    let shown = desk.json(&["student", "show", "heron"]);
    assert_eq!(
        shown["lessons"][0]["coach_says"], "grip-too-weak",
        "{shown}"
    );
    assert_eq!(shown["lessons"][0]["reason"], "it looked so");
}

#[test]
fn copies_undo_and_text_by_command() {
    let desk = Desk::new();
    let path = |name: &str| desk.folder.path().join(name).display().to_string();
    desk.done(&["student", "add", "heron"]);
    desk.done(&["why", "slice", "--student", "heron", "--save"]);
    assert!(
        desk.done(&["records", "backup", &path("may.db")])
            .contains("1 lesson,")
    );
    assert_eq!(desk.run(&["records", "backup", &path("may.db")]).code, 1);
    desk.done(&["records", "undo"]);
    assert_eq!(
        desk.json(&["student", "show", "heron"])["lessons"],
        serde_json::json!([])
    );
    desk.done(&["records", "restore", &path("may.db")]);
    assert_eq!(
        desk.json(&["student", "show", "heron"])["lessons"]
            .as_array()
            .map(Vec::len),
        Some(1)
    );
    for name in ["all.jsonl", "all.csv"] {
        desk.done(&["records", "export", &path(name)]);
        desk.done(&["records", "import", &path(name)]);
    }
    assert_eq!(desk.run(&["records", "export", &path("all.txt")]).code, 2);
    desk.done(&["records", "check"]);
    assert_eq!(desk.run(&["student", "forget", "heron"]).code, 1);
    // A lesson begun on the page is about the student too; one of somebody else stays.
    let begun = desk.folder.path().join("lessons");
    std::fs::create_dir_all(&begun).expect("made");
    let [hers, other] = ["0123456789abcdef.json", "fedcba9876543210.json"].map(|f| begun.join(f));
    std::fs::write(
        &hers,
        r#"{"ask":"note=slice&student=heron","about":"slice"}"#,
    )
    .expect("kept");
    std::fs::write(&other, r#"{"ask":"note=slice&student=heronry","about":""}"#).expect("kept");
    let forgotten = desk.done(&["student", "forget", "heron", "--yes"]);
    assert!(!hers.exists() && other.exists());
    assert!(
        forgotten.contains("may.db") && forgotten.contains("all.csv"),
        "{forgotten}"
    );
    assert_eq!(desk.run(&["student", "show", "heron"]).code, 2);
}
