//! `fairwhy why`.

use super::{fairwhy, ids, json, run, small};
use unicode_width::UnicodeWidthStr;

fn small_json(arguments: &[&str]) -> serde_json::Value {
    let folder = small();
    let mut all = vec!["why"];
    all.extend(arguments);
    all.extend([
        "--no-shipped",
        "--all",
        "--library",
        folder.to_str().expect("text"),
    ]);
    json(&all)
}

fn cause<'a>(answer: &'a serde_json::Value, id: &str) -> &'a serde_json::Value {
    answer["causes"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|cause| cause["id"] == id)
        .unwrap_or_else(|| panic!("{id} is listed"))
}

fn figure(answer: &serde_json::Value, id: &str, key: &str) -> f64 {
    cause(answer, id)[key].as_f64().expect("a number")
}

/// Worked by hand for the chain long-club -> stands-tall -> clipped, the last seen. Nothing says how
/// common any of them is, so each is at 0.1 and a link of strength s hands on the share s.
#[test]
fn a_chain_of_three_is_answered_as_by_hand() {
    let answer = small_json(&["clipped"]);
    // 0.6 of clipped is handed to stands-tall, which keeps half of it and hands half to the club.
    let shares = [("stands-tall", 0.3), ("long-club", 0.3)];
    // Prior 0.1 each, strength 0.3 * 0.1 / 0.1; what is left of 0.1 is the leak.
    let (prior, strength, leak) = (0.1, 0.3, 0.1 * 0.4);
    let quiet = 1.0 - prior * strength;
    let seen = 1.0 - (1.0 - leak) * quiet * quiet;
    let starts = prior * (1.0 - (1.0 - leak) * (1.0 - strength) * quiet) / seen;
    let clears = prior * strength * (1.0 - leak) * quiet / seen;
    for (id, share) in shares {
        assert!((figure(&answer, id, "starts_here") - starts).abs() < 1e-12);
        assert!((figure(&answer, id, "clears") - clears).abs() < 1e-12);
        let of = &cause(&answer, id)["accounts_for"];
        assert_eq!(of[0]["id"], "clipped");
        assert_eq!(of[0]["how"], "often");
        assert!((of[0]["share"].as_f64().expect("a share") - share).abs() < 1e-12);
    }
    let worth = figure(&answer, "stands-tall", "worth");
    assert!(
        (worth - 0.8 * clears).abs() < 1e-12,
        "its best drill does 0.8"
    );
    assert!(
        (figure(&answer, "long-club", "effect") - 0.5).abs() < 1e-12,
        "without a remedy the effect counts as one half"
    );
    // The walk passes or stops at stands-tall with 0.6, and goes on to the club with half of that.
    assert!((figure(&answer, "stands-tall", "on_the_way") - 0.6).abs() < 1e-12);
    assert!((figure(&answer, "long-club", "on_the_way") - 0.3).abs() < 1e-12);
    let chain = serde_json::json!([["long-club", "stands-tall", "clipped"]]);
    assert_eq!(cause(&answer, "long-club")["chains"], chain);
}

#[test]
fn the_json_has_the_promised_keys() {
    let answer = json(&["why", "slice", "--not", "grip-too-weak"]);
    for key in [
        "observations",
        "causes",
        "next_looks",
        "unexplained",
        "at_odds",
        "firmness",
        "standing",
        "would_change",
        "context",
        "not_understood",
        "cautions",
        "library",
    ] {
        assert!(!answer[key].is_null(), "{key}");
    }
    assert_eq!(answer["observations"][0]["read_by"], "id");
    assert_eq!(answer["observations"][1]["state"], "not-seen");
    let cause = &answer["causes"][0];
    for key in [
        "id",
        "name",
        "kind",
        "stage",
        "starts_here",
        "clears",
        "accounts_for",
        "on_the_way",
        "effect",
        "worth",
        "chains",
    ] {
        assert!(!cause[key].is_null(), "{key}");
    }
    assert!(
        !ids(&answer["causes"]).contains(&"grip-too-weak"),
        "what was looked for and not seen is not offered"
    );
    let worths: Vec<f64> = answer["causes"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|cause| cause["worth"].as_f64().expect("a number"))
        .collect();
    assert!(worths.is_sorted_by(|a, b| a >= b), "{worths:?}");
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let arguments = [
        "why",
        "slice",
        "fat-strike",
        "over-the-top",
        "--format",
        "json",
    ];
    assert_eq!(run(&arguments).out, run(&arguments).out);
}

#[test]
fn the_order_of_the_observations_does_not_matter() {
    let one = json(&["why", "slice", "fat-strike"]);
    let other = json(&["why", "fat-strike", "slice"]);
    assert_eq!(ids(&one["causes"]), ids(&other["causes"]));
}

/// The chains a coach meets weekly: what was seen, and what a good teacher may well name; one of
/// them must be among the first three. Common practice.
#[test]
fn the_weekly_chains_come_out_right() {
    let weekly: &[(&[&str], &[&str])] = &[
        (
            &[
                "trail-arm-overfolds",
                "narrow-backswing",
                "shaft-too-steep-in-downswing",
                "thud-sound",
            ],
            &[
                "shoulder-turn-too-short",
                "longer-swing-power-idea",
                "arms-dominated-swing",
                "trail-arm-folds-early-behind",
                "takeaway-inside",
            ],
        ),
        (&["slice"], &["grip-too-weak", "over-the-top"]),
        (&["hook"], &["grip-too-strong"]),
        (
            &["fat-strike", "hangs-back"],
            &[
                "tries-to-help-ball-up",
                "hangs-back",
                "ball-too-far-forward",
                "sway",
                "no-push-into-lead-leg",
            ],
        ),
        (
            &["thin-strike", "early-extension"],
            &[
                "early-extension",
                "stands-too-close",
                "limited-lead-hip-rotation",
                "weight-on-toes-at-address",
                "limited-hip-hinge",
            ],
        ),
        (
            &["shank", "hands-move-out-to-ball"],
            &[
                "stands-too-close",
                "weight-on-toes-at-address",
                "hands-move-out-to-ball",
            ],
        ),
        (
            &["loss-of-distance", "casting"],
            &[
                "casting",
                "shoulder-turn-too-short",
                "grip-in-palm",
                "hits-hard-with-arms",
            ],
        ),
    ];
    for (seen, roots) in weekly {
        let mut arguments = vec!["why"];
        arguments.extend(*seen);
        let answer = json(&arguments);
        let first: Vec<&str> = ids(&answer["causes"]).into_iter().take(3).collect();
        assert!(
            first.iter().any(|id| roots.contains(id)),
            "{seen:?} -> {first:?}"
        );
    }
}

/// Trail elbow at the top not past 90 degrees; mid-iron ball about one clubhead inside the lead
/// foot; lead ear over the ball in a mirror: common practice.
#[test]
fn numbers_off_a_video_frame_are_weighed_against_the_sound_range() {
    let past = json(&[
        "why",
        "thud-sound",
        "--measured",
        "trail-elbow-bend-at-top=112",
    ]);
    let row = &past["observations"][1];
    assert_eq!(row["id"], "trail-arm-overfolds");
    assert_eq!(row["outside"], true);
    assert!(row["ratio"].as_f64().expect("a number") > 10.0);
    let sound = json(&[
        "why",
        "thud-sound",
        "--measured",
        "trail-elbow-bend-at-top=75",
    ]);
    assert_eq!(sound["observations"][1]["outside"], false);
    assert!(
        sound["observations"][1]["ratio"]
            .as_f64()
            .expect("a number")
            < 0.5
    );
}

#[test]
fn soft_evidence_lies_between_silence_and_sight() {
    let starts = |arguments: &[&str]| {
        let mut all = vec!["clipped"];
        all.extend(arguments);
        figure(&small_json(&all), "stands-tall", "starts_here")
    };
    let (silent, slight) = (starts(&[]), starts(&["--slight", "stands-tall"]));
    let seen = starts(&["stands-tall"]);
    assert!(silent < slight && slight < seen, "{silent} {slight} {seen}");
    let ratios = ["0.5", "1", "3", "30"].map(|ratio| {
        let said = format!("stands-tall={ratio}");
        starts(&["--likelihood", &said])
    });
    assert!(ratios.is_sorted(), "{ratios:?}");
    assert!(
        (ratios[1] - silent).abs() < 1e-12,
        "a ratio of 1 says nothing"
    );
}

#[test]
fn pain_leads_the_answer() {
    let ran = run(&["why", "slice", "low back pain"]);
    let first = ran.out.lines().next().unwrap_or_default();
    assert!(first.starts_with("! \"low back pain\": Stop"), "{first}");
    assert!(ran.out.contains("licensed"), "{}", ran.out);
    let answer = json(&["why", "slice", "low-back-pain"]);
    assert!(!answer["cautions"].as_array().expect("a list").is_empty());
}

/// Beside something else, in the middle of a phrase, of a part that no entry is about, as an injury.
#[test]
fn a_pain_is_never_drowned_by_what_else_is_said() {
    for words in [
        "slices and hurts",
        "it hurts when he slices",
        "slices and his back hurts",
        "neck hurts",
        "sprained wrist",
        "pulled hamstring",
    ] {
        let answer = json(&["why", "slice", words]);
        let cautions = answer["cautions"].as_array().expect("a list");
        assert!(!cautions.is_empty(), "{words}: {}", answer["observations"]);
        let plan = json(&["plan", "slice", words]);
        assert!(plan["plan"]["referral"].is_object(), "{words}");
    }
    for words in ["no pain", "hits it with pace", "pulled it left of the flag"] {
        let answer = json(&["why", "slice", words, "--handed", "right"]);
        assert_eq!(
            answer["cautions"].as_array().map(Vec::len),
            Some(0),
            "{words}"
        );
    }
}

#[test]
fn a_page_fits_its_width_and_has_no_colour_in_a_pipe() {
    for width in ["80", "120"] {
        let ran = run(&["why", "slice", "fat-strike", "--width", width]);
        let limit: usize = width.parse().expect("a number");
        assert!(
            ran.out.lines().all(|line| line.width() <= limit),
            "{}",
            ran.out
        );
        assert!(!ran.out.contains('\u{1b}'));
    }
    let coloured = run(&["why", "slice", "--color", "always"]);
    assert!(coloured.out.contains('\u{1b}'));
    let narrow = fairwhy(&["why", "slice"])
        .env("COLUMNS", "60")
        .output()
        .expect("it runs");
    let text = String::from_utf8(narrow.stdout).expect("text");
    assert!(text.lines().all(|line| line.width() <= 60));
}

#[test]
fn a_small_answer_as_table_and_as_markdown() {
    let folder = small();
    let library = folder.to_str().expect("text");
    for format in ["table", "markdown"] {
        let ran = run(&[
            "why",
            "caught it thin",
            "--slight",
            "stiff as a post",
            "--no-shipped",
            "--library",
            library,
            "--format",
            format,
        ]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        insta::assert_snapshot!(format!("small-{format}"), ran.out);
    }
}

/// Every case of the library with one to three findings, on the screen that a coach has: 24 lines at 80
/// columns, nothing wider than the screen, no word broken.
#[test]
fn an_answer_to_three_findings_is_one_screen() {
    use fairwhy::diagnosis::{Asked, Observation, ReadBy, State, diagnose};
    use fairwhy::knowledge::{Strictness, load, shipped};
    use fairwhy::report::{View, why_page};
    let base = load(&[shipped()], Strictness::ErrorsOnly)
        .expect("sound")
        .base;
    let few = base.cases.iter().filter(|case| case.text.seen.len() <= 3);
    let mut shown = 0;
    for case in few.step_by(5) {
        let seen = case.text.seen.iter().map(|id| Observation {
            given: id.clone(),
            condition: base.find(id).expect("there"),
            state: State::Seen,
            read_by: ReadBy::Id,
            perhaps: Vec::new(),
        });
        let asked = Asked {
            observations: seen.collect(),
            lesson: fairwhy::lesson::Lesson {
                shot: case.text.shot,
                ..Default::default()
            },
            ..Asked::default()
        };
        let diagnosis = diagnose(&base, &asked).expect("answers");
        // What must be said of a pain is not cut to fit.
        if diagnosis.complaints.refer().is_some() {
            continue;
        }
        for width in [40, 60, 80, 120] {
            let view = View {
                starts: 5,
                details: false,
                width,
            };
            let text = why_page(&base, &diagnosis, view).to_text(width, false);
            let lines: Vec<&str> = text.lines().collect();
            assert!(width < 80 || lines.len() <= 24, "{}\n{text}", case.text.id);
            assert!(lines.iter().all(|line| line.width() <= width), "{text}");
            // A word of the first remedy's name stands whole somewhere.
            let first = diagnosis.causes[0].best_remedy.expect("a remedy");
            for word in base.drill(first).name.split_whitespace() {
                assert!(text.contains(word), "{word}\n{text}");
            }
        }
        shown += 1;
    }
    assert!(shown > 40, "{shown}");
}

/// Left and right on the screen once the hand is known, lead and trail until then.
#[test]
fn the_screen_speaks_the_students_sides() {
    let said = |arguments: &[&str]| {
        let ran = run(arguments);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    let neutral = said(&["why", "hangs-back", "fat-strike"]);
    assert!(neutral.contains("trail foot") && !neutral.contains("right foot"));
    let right = said(&["why", "hangs-back", "fat-strike", "--handed", "right"]);
    assert!(right.contains("right foot") && !right.contains("trail foot"));
    let lefty = said(&["why", "lefty, hangs back on the trail foot"]);
    assert!(lefty.contains("left foot"), "{lefty}");
}

/// What is called a link on the way is not called a habit of its own in the same breath.
#[test]
fn a_link_is_no_habit_of_its_own() {
    for id in ["sway", "flying-elbow", "backswing-too-flat"] {
        let ran = run(&["why", id, "--no-own", "--width", "400"]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        assert!(
            ran.out.contains("is a link on the way"),
            "{id}: {}",
            ran.out
        );
        assert!(!ran.out.contains("habit of its own"), "{id}: {}", ran.out);
    }
}
