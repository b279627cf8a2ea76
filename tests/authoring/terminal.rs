//! The program at a real terminal: questions with examples, a way back, and nothing saved until told.

use super::{DRILL, Desk, all_files};
use nix::sys::signal::Signal;
use nix::sys::wait::WaitStatus;
use rexpect::reader::Options;
use rexpect::session::{PtySession, spawn_with_options};
use std::fs;
use std::process::Command;

/// Longer than any step takes on a busy machine; reached only when the answer never comes.
const PATIENCE_MS: u64 = 60_000;

const PREVIEW: &str = "Enter saves it, a number changes that answer, q! leaves without saving > ";

/// Somebody at a terminal.
struct Coach {
    session: PtySession,
    /// All that was shown, escape sequences left out.
    shown: String,
}

impl Coach {
    /// Wide enough that no sentence is broken.
    fn at(desk: &Desk, arguments: &[&str]) -> Self {
        let mut command = desk.program(arguments);
        command.args(["--width", "300"]);
        Self::with(command)
    }

    fn with(command: Command) -> Self {
        let options = Options::new()
            .timeout_ms(Some(PATIENCE_MS))
            .strip_ansi_escape_codes(true);
        Self {
            session: spawn_with_options(command, options).expect("starts"),
            shown: String::new(),
        }
    }

    /// Waits until the program has said this.
    fn hears(&mut self, words: &str) -> &mut Self {
        match self.session.exp_string(words) {
            Ok(before) => self.shown.push_str(&(before + words)),
            Err(error) => panic!("no `{words}` after:\n{}\n{error}", self.shown),
        }
        self
    }

    fn types(&mut self, line: &str) -> &mut Self {
        self.session.send_line(line).expect("typed");
        self
    }

    fn presses(&mut self, control: char) -> &mut Self {
        self.session.send_control(control).expect("pressed");
        self
    }

    /// The rest of what is said, and how it ended.
    fn ends(mut self) -> (String, WaitStatus) {
        match self.session.exp_eof() {
            Ok(rest) => self.shown.push_str(&rest),
            Err(error) => panic!("no end after:\n{}\n{error}", self.shown),
        }
        let status = self.session.process().wait().expect("ended");
        // The session hands each byte over as a character of its own.
        let bytes: Vec<u8> = self.shown.chars().map(|byte| byte as u8).collect();
        let shown = String::from_utf8(bytes).expect("plain UTF-8");
        (shown.replace("\r\n", "\n"), status)
    }

    /// Answers the questions of a drill up to its steps, all that is needed and no more.
    fn begins_a_drill(&mut self, name: &str) -> &mut Self {
        self.hears("What is it called? (for example: ")
            .types(name)
            .hears("Its id")
            .hears("] > ")
            .types("")
            .hears("What else is it called")
            .hears("1> ")
            .types("")
            .hears("What sort of remedy?")
            .hears("drill, setup-change, feel, club-check, referral")
            .types("")
            .hears("What does it work on?")
            .hears("1> ")
            .types("hangs")
            .hears("Hangs back on the trail foot (hangs-back)")
            .hears("[fifty-fifty] > ")
            .types("prob")
            .hears("2> ")
            .types("")
            .hears("Which part of the motion")
            .types("down")
            .hears("For which shots?")
            .types("iron, pitch")
            .hears("How near is it")
            .types("rehearsal")
    }

    /// Passes over what is not needed, up to the preview.
    fn passes_over_the_rest(&mut self) -> &mut Self {
        for question in [
            "What should it feel like",
            "How does the student know",
            "How does it go wrong",
            "made easier",
            "made harder",
            "How many sets",
            "How many times a set",
            "How many balls",
            "How many minutes",
            "beyond club and ball",
            "Where can it be done",
            "Which drills come first",
            "What can it make worse",
            "With which pains",
            "A warning to give",
        ] {
            self.hears(question).hears("> ").types("");
        }
        self
    }
}

#[test]
fn a_drill_is_asked_for_gone_back_on_changed_and_saved() {
    let desk = Desk::new();
    let mut coach = Coach::at(&desk, &["add", "drill"]);
    coach
        .begins_a_drill("Coin under the heel")
        // A slip in an answer is taken back by going back to its question.
        .hears("What is it for")
        .types("Let the hele go")
        .hears("How is it set up?")
        .types("<")
        .hears("What is it for")
        .hears("now: Let the hele go (Enter keeps it, - takes it out)")
        .types("Let the heel go")
        .hears("How is it set up?")
        .types("A coin under the trail heel")
        .hears("What does the student do?")
        .hears("1> ")
        // What is needed cannot be passed over, and a step can be taken back.
        .types("")
        .hears("This one is needed.")
        .hears("1> ")
        .types("Swing to waist height")
        .hears("2> ")
        .types("Look donw")
        .hears("3> ")
        .types("<")
        .hears("Taken back: Look donw")
        .hears("2> ")
        .types("Look down")
        .hears("3> ")
        .types("")
        .passes_over_the_rest()
        .hears("check: ")
        .hears("Now offered for")
        .hears("Hangs back on the trail foot (hangs-back)")
        .hears("1 of 3 by how well it works")
        .hears("Worth a look")
        .hears(PREVIEW);
    assert!(
        !desk.library().exists(),
        "nothing is saved before it is said"
    );
    // An answer is changed by its number, and the preview with it.
    coach
        .types("99")
        .hears("numbered from 1 to 26")
        .hears(PREVIEW)
        .types("5")
        .hears("now: hangs-back (probable)")
        .hears("1> ")
        .types("hangs-back")
        .hears("[fifty-fifty] > ")
        .types("0,2")
        .hears("2> ")
        .types("")
        .hears("3 of 3 by how well it works")
        .hears(PREVIEW)
        .types("13")
        .hears("How does the student know")
        .hears("> ")
        .types("8 of 10 with the coin in sight")
        .hears(PREVIEW)
        .types("");
    let (shown, status) = coach.ends();
    assert!(matches!(status, WaitStatus::Exited(_, 0)), "{shown}");
    assert!(shown.contains("Saved coin-under-the-heel"), "{shown}");
    assert!(shown.contains("It is on trial"), "{shown}");
    let text =
        fs::read_to_string(desk.library().join("drills/coin-under-the-heel.yaml")).expect("saved");
    for line in [
        "name: Coin under the heel",
        "purpose: Let the heel go",
        "effect: 0.2",
        "- Look down",
        "check: 8 of 10 with the coin in sight",
        "status: trial",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
    for slip in ["hele", "donw", "probable"] {
        assert!(!text.contains(slip), "{slip}: {text}");
    }
    desk.fairwhy(&["check"]).assert().success();
}

#[test]
fn every_question_of_every_sort_comes_with_an_example() {
    let desk = Desk::new();
    for (kind, first) in [
        ("drill", "What is it called?"),
        ("fault", "What do you call it?"),
        ("cause", "What do you call it?"),
        ("outcome", "What do you call it?"),
        ("link", "What brings it about?"),
    ] {
        let mut coach = Coach::at(&desk, &["add", kind]);
        coach.hears(first).hears("(for example: ").types("q!");
        let (shown, status) = coach.ends();
        assert!(matches!(status, WaitStatus::Exited(_, 1)), "{shown}");
        assert!(shown.contains("Nothing was saved."), "{shown}");
    }
    assert!(!desk.library().exists());
}

#[test]
fn a_near_copy_is_shown_side_by_side_before_anything_is_saved() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let before = all_files(&desk.library());
    let mut coach = Coach::at(&desk, &["add", "drill"]);
    coach
        .begins_a_drill("Mat under the heel")
        .hears("What is it for")
        .types("Gets the student off the trail heel before the ball is struck")
        .hears("How is it set up?")
        .types("")
        .hears("What does the student do?")
        .hears("1> ")
        .types("Fold a mat under the trail heel")
        .hears("2> ")
        .types("Swing to waist height and let the heel leave the towel before impact")
        .hears("3> ")
        .types("")
        .passes_over_the_rest()
        .hears("Nearly the same as Towel under the trail heel (towel-under-trail-heel)")
        .hears("three-word runs in common (Sorensen-Dice coefficient of three-word runs")
        // Both stand beside each other, in one line of the table.
        .hears("mat-under-the-heel")
        .hears("towel-under-trail-heel")
        .hears("Fold a mat under the trail heel")
        .hears("Fold a towel under the trail heel")
        .hears(PREVIEW)
        .types("q!");
    let (shown, status) = coach.ends();
    let beside = shown.lines().any(|line| {
        line.contains("Fold a mat under the trail heel")
            && line.contains("Fold a towel under the trail heel")
    });
    assert!(beside, "{shown}");
    assert!(matches!(status, WaitStatus::Exited(_, 1)), "{shown}");
    assert_eq!(all_files(&desk.library()), before);
}

#[test]
fn an_interrupt_and_an_end_of_input_save_nothing() {
    let desk = Desk::new();
    let to_the_preview = |coach: &mut Coach| {
        coach
            .begins_a_drill("Coin under the heel")
            .hears("What is it for")
            .types("")
            .hears("How is it set up?")
            .types("")
            .hears("What does the student do?")
            .types("Step")
            .hears("2> ")
            .types("")
            .passes_over_the_rest()
            .hears(PREVIEW);
    };
    let at_the_start = |coach: &mut Coach| {
        coach.hears("What is it called?").hears("> ");
    };
    let in_a_list = |coach: &mut Coach| {
        coach
            .begins_a_drill("Coin under the heel")
            .hears("What is it for")
            .types("")
            .hears("How is it set up?")
            .types("")
            .hears("What does the student do?")
            .types("Step")
            .hears("2> ");
    };
    let stages: [&dyn Fn(&mut Coach); 3] = [&at_the_start, &in_a_list, &to_the_preview];
    for stage in stages {
        for key in ['c', 'd'] {
            let mut coach = Coach::at(&desk, &["add", "drill"]);
            stage(&mut coach);
            coach.presses(key);
            let (shown, status) = coach.ends();
            match (key, status) {
                ('c', WaitStatus::Signaled(_, Signal::SIGINT, _)) => {}
                ('d', WaitStatus::Exited(_, 1)) => {
                    assert!(shown.contains("Nothing was saved."), "{shown}");
                }
                (key, status) => panic!("Ctrl-{key}: {status:?}\n{shown}"),
            }
            assert!(!desk.library().exists(), "Ctrl-{key}");
            // The next one starts anew.
            let _ = fs::remove_file(desk.home.path().join("unfinished-drill.json"));
        }
    }
}

#[test]
fn a_dry_run_asks_and_saves_nothing() {
    let desk = Desk::new();
    let mut coach = Coach::at(&desk, &["add", "link", "--dry-run"]);
    coach
        .hears("What brings it about?")
        .hears("> ")
        .types("grips")
        .hears("Grips too tightly (grip-pressure-too-tight)")
        .hears("What is brought about?")
        .hears("> ")
        // Nothing of that name, then an id with a slip in it.
        .types("xyzzy")
        .hears("Nothing in the library is called `xyzzy`")
        .hears("> ")
        .types("hang-back")
        .hears("Hangs back on the trail foot (hangs-back)")
        .hears("Of ten who show the effect")
        .hears("> ")
        .types("of course")
        .hears("`of course` is no share of ten")
        .hears("> ")
        .types("12 of 10")
        .hears("`12 of 10` is no share of ten")
        .hears("> ")
        .types("3 of 20")
        .hears("Why, in one sentence")
        .hears("> ")
        .types("A tight hold keeps the weight where it is")
        .hears("What does that rest on?")
        .hears("> ")
        .types("own lessons")
        .hears("new, share 0.15")
        .hears("A number changes that answer, Enter ends > ")
        .types("");
    let (shown, status) = coach.ends();
    assert!(matches!(status, WaitStatus::Exited(_, 0)), "{shown}");
    assert!(shown.contains("nothing was saved"), "{shown}");
    assert!(!desk.library().exists());
}

#[test]
fn words_that_mean_several_things_are_asked_about() {
    let desk = Desk::with_all_that_ships();
    let mut coach = Coach::with(desk.program(&["why", "early release", "--width", "80"]));
    coach
        .hears("\"early release\" can mean:")
        .hears("1  ")
        .hears("2  ")
        .hears("Which one? (number, or Enter for none) ")
        .types("9")
        .hears("Write a number from 1 to ")
        .hears("Which one? (number, or Enter for none) ")
        .types("1")
        .hears("early release = ")
        .hears("often behind it");
    let (shown, status) = coach.ends();
    assert!(matches!(status, WaitStatus::Exited(_, 0)), "{shown}");
    assert!(
        shown.lines().all(|line| line.chars().count() <= 80),
        "{shown}"
    );
    // None of them, or nobody there any more: all of them are weighed, and the answer says so.
    for leave in [None, Some('d')] {
        let mut coach = Coach::at(&desk, &["why", "early release"]);
        coach.hears("Which one? (number, or Enter for none) ");
        match leave {
            None => coach.types(""),
            Some(key) => coach.presses(key),
        };
        let (shown, status) = coach.ends();
        assert!(matches!(status, WaitStatus::Exited(_, 0)), "{shown}");
        assert!(shown.contains("are weighed"), "{shown}");
    }
}

#[test]
fn an_editor_is_offered_again_when_the_text_does_not_pass() {
    let desk = Desk::new();
    desk.add("drill", DRILL).success();
    let place = desk.library().join("drills/towel-under-trail-heel.yaml");
    // The first time it makes a slip, the second time it mends it.
    let script = desk.file(
        "editor.sh",
        "grep -q hangs-bak \"$1\" && sed -i s/hangs-bak/hangs-back/ \"$1\" || sed -i 's/hangs-back/hangs-bak/; s/8 of 10/9 of 10/' \"$1\"\n",
    );
    let mut command = desk.program(&["edit", "towel-under-trail-heel"]);
    command.env("EDITOR", format!("sh {script}"));
    let mut coach = Coach::with(command);
    coach
        .hears("did you mean `hangs-back`?")
        .hears("Enter opens the editor again, q! leaves > ")
        .types("")
        .hears("Save it? (y or n) > ")
        .types("y");
    let (shown, status) = coach.ends();
    assert!(matches!(status, WaitStatus::Exited(_, 0)), "{shown}");
    let text = fs::read_to_string(&place).expect("there");
    assert!(
        text.contains("9 of 10") && text.contains("hangs-back"),
        "{text}"
    );
}

#[test]
fn a_change_is_shown_and_asked_about_before_it_is_saved() {
    let desk = Desk::new();
    let file = desk.file("draft.yaml", DRILL);
    let asked = |arguments: &[&str], answer: &str| {
        let mut coach = Coach::at(&desk, arguments);
        coach
            .hears("towel-under-trail-heel")
            .hears("Save it? (y or n) > ")
            .types(answer);
        let (shown, status) = coach.ends();
        (shown, matches!(status, WaitStatus::Exited(_, 0)))
    };
    let (shown, done) = asked(&["add", "drill", &file], "n");
    assert!(!done && shown.contains("Nothing was saved."), "{shown}");
    assert!(shown.contains("Now offered for"), "{shown}");
    assert!(
        !desk.library().exists(),
        "nothing is saved before it is said"
    );
    let (shown, done) = asked(&["add", "drill", &file], "y");
    assert!(
        done && shown.contains("Saved towel-under-trail-heel"),
        "{shown}"
    );
    let before = all_files(&desk.library());
    let (shown, done) = asked(&["remove", "towel-under-trail-heel"], "n");
    assert!(!done, "{shown}");
    assert_eq!(all_files(&desk.library()), before);
    let (shown, done) = asked(&["remove", "towel-under-trail-heel"], "y");
    assert!(
        done && shown.contains("Removed towel-under-trail-heel"),
        "{shown}"
    );
}

#[test]
fn answers_outlast_an_interruption() {
    let desk = Desk::new();
    let mut coach = Coach::at(&desk, &["add", "drill"]);
    coach
        .begins_a_drill("Coin under the heel")
        .hears("What is it for")
        .types("Let the heel go")
        .hears("How is it set up?")
        .presses('c');
    let (shown, status) = coach.ends();
    assert!(!matches!(status, WaitStatus::Exited(_, 0)), "{shown}");
    let mut coach = Coach::at(&desk, &["add", "drill"]);
    coach
        .hears("Enter takes them up, n starts anew > ")
        .types("")
        .hears("How is it set up?")
        .types("A coin under the trail heel")
        .hears("What does the student do?")
        .hears("1> ")
        .types("Swing to waist height")
        .hears("2> ")
        .types("")
        .passes_over_the_rest()
        .hears("purpose: Let the heel go")
        .hears(PREVIEW)
        .types("");
    let (shown, status) = coach.ends();
    assert!(matches!(status, WaitStatus::Exited(_, 0)), "{shown}");
    // What is saved is not asked about again.
    assert!(!desk.home.path().join("unfinished-drill.json").exists());
}

/// A terminal that obeys no escape sequences gets none; another gets them.
#[test]
fn a_dumb_terminal_gets_plain_text() {
    for (kind, escapes) in [("dumb", false), ("xterm", true)] {
        let desk = Desk::with_all_that_ships();
        let mut command = desk.program(&["plan", "slice"]);
        command.env("TERM", kind).env_remove("NO_COLOR");
        let options = Options::new().timeout_ms(Some(PATIENCE_MS));
        let mut session = spawn_with_options(command, options).expect("starts");
        let text = session.exp_eof().expect("ends");
        assert!(text.contains("Work on"), "{text}");
        assert_eq!(text.contains('\u{1b}'), escapes, "{kind}: {text:?}");
    }
}
