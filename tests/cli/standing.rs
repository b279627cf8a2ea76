//! How sure the screen sounds, and what it gives a coach to do about it.

use super::{ids, json, run};
use fairwhy::diagnosis::{
    Asked, Behind, Diagnosis, Observation, ReadBy, Standing, State, diagnose,
};
use fairwhy::knowledge::{ConditionKind, KnowledgeBase, Strictness, load, shipped};
use fairwhy::lesson::Lesson;
use fairwhy::report::{View, why_page};

fn base() -> KnowledgeBase {
    load(&[shipped()], Strictness::ErrorsOnly)
        .expect("sound")
        .base
}

fn seen(base: &KnowledgeBase, ids: &[&str], lesson: Lesson) -> Diagnosis {
    let seen = ids.iter().map(|id| Observation {
        given: (*id).to_owned(),
        condition: base.find(id).unwrap_or_else(|| panic!("no `{id}`")),
        state: State::Seen,
        read_by: ReadBy::Id,
        perhaps: Vec::new(),
    });
    let asked = Asked {
        observations: seen.collect(),
        lesson,
        ..Asked::default()
    };
    diagnose(base, &asked).expect("answers")
}

/// Every outcome alone, and every fifth case of the library: settled is said only where it is more likely
/// than not that it starts there and half of what was seen comes from it.
#[test]
fn settled_is_earned() {
    let base = base();
    let outcomes = base
        .conditions
        .iter()
        .filter(|c| c.kind == ConditionKind::Outcome && !c.is_pain());
    let alone = outcomes.map(|c| (vec![c.id.as_str()], None));
    let cases = base.cases.iter().step_by(5).map(|case| {
        let seen = case.text.seen.iter().map(String::as_str).collect();
        (seen, case.text.shot)
    });
    let (mut settled, mut asked) = (0, 0);
    for (ids, shot) in alone.chain(cases) {
        let lesson = Lesson {
            shot,
            ..Lesson::default()
        };
        let answer = seen(&base, &ids, lesson);
        asked += 1;
        let Some(first) = answer.causes.first() else {
            continue;
        };
        let count = answer.findings().count();
        let beyond = first
            .accounts_for
            .iter()
            .filter(|of| of.how() != Behind::Not);
        let beyond = beyond.count();
        let itself = usize::from(answer.findings().any(|key| key == first.condition));
        if answer.standing == Some(Standing::Settled) {
            settled += 1;
            assert!(first.starts_here >= 0.5, "{ids:?}");
            assert!(2 * (beyond + itself) >= count, "{ids:?}");
        }
        if answer.standing != Some(Standing::Level) {
            assert_eq!(answer.rival, None, "{ids:?}");
            assert!(beyond > 0 || itself == count, "{ids:?}");
        }
    }
    assert!(settled > 0 && settled < asked / 2, "{settled} of {asked}");
}

/// A look that is there settles what one symptom could not.
#[test]
fn a_look_that_is_there_settles_it() {
    for (seen, found) in [
        ("slice", "grip-too-weak"),
        ("putt-pushed", "putter-face-open-at-impact"),
        ("fat-strike", "hangs-back"),
    ] {
        let alone = json(&["why", seen]);
        assert_ne!(alone["standing"], "settled", "{seen}");
        let looked = json(&["why", seen, "--found", found]);
        let first = &looked["causes"][0];
        if first["id"] == found && first["starts_here"].as_f64() >= Some(0.5) {
            assert_ne!(looked["standing"], "level", "{seen}");
        }
    }
}

/// While the hand is not known, or words may mean two things, nothing is settled.
#[test]
fn what_is_weighed_is_never_settled() {
    for note in [
        "ball curves left",
        "starts it right and it keeps going right",
        "misses left",
        "reverse pivot, strong grip",
    ] {
        let answer = json(&["why", note]);
        let observations = answer["observations"].as_array().expect("a list");
        let weighed = observations.iter().any(|o| !o["perhaps"].is_null());
        let open = answer["questions"]
            .as_array()
            .is_some_and(|q| !q.is_empty());
        assert!(
            !(weighed || open) || answer["standing"] != "settled",
            "{note}"
        );
    }
    assert_ne!(json(&["why", "ball curves left"])["standing"], "settled");
}

/// What was seen and brings nothing else about does not lead; what it is level with does bring it about.
#[test]
fn a_start_that_stands_alone_never_leads() {
    for note in [
        &["slice", "ball-teed-too-low"][..],
        &["bunker-over-green", "too-upright-posture"],
        &["casting", "chicken-wing", "over-the-top", "grip-too-strong"],
        &["putt-pulled", "too-bent-over-posture"],
    ] {
        let mut arguments = vec!["why"];
        arguments.extend(note);
        let answer = json(&arguments);
        let first = &answer["causes"][0];
        let beyond = first["accounts_for"].as_array().expect("a list");
        if beyond.iter().any(|of| of["how"] != "not") {
            continue;
        }
        assert_eq!(answer["standing"], "level", "{note:?}");
        let rival = answer["level_with"].as_str().expect("a rival");
        let rival = answer["causes"]
            .as_array()
            .expect("a list")
            .iter()
            .find(|cause| cause["id"] == rival)
            .expect("it is listed");
        let beyond = rival["accounts_for"].as_array().expect("a list");
        assert!(beyond.iter().any(|of| of["how"] != "not"), "{note:?}");
        let text = run(&arguments).out;
        assert!(
            text.contains("Nothing else that was seen comes from it"),
            "{text}"
        );
    }
}

/// The line says by what, in the same words at every width.
#[test]
fn the_standing_says_by_what_at_every_width() {
    for note in ["fat-strike", "sway", "hook"] {
        let said = |width: &str| {
            let text = run(&["why", note, "grip-too-strong", "--width", width]).out;
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            let from = ["Settled: ", "Leading: ", "Level: "]
                .iter()
                .find_map(|word| text.find(word))
                .unwrap_or_else(|| panic!("{text}"));
            let rest = &text[from..];
            rest[..rest.find('.').expect("it ends")].to_owned()
        };
        let line = said("80");
        assert!(
            line.starts_with("Level") || line.contains("behind") || line.contains("seen"),
            "{line}"
        );
        assert_eq!(line, said("40"));
        assert_eq!(line, said("120"));
    }
}

/// Every look of the library fits in a sentence that says more than where to stand.
#[test]
fn every_look_says_where_and_what() {
    let base = base();
    for condition in &base.conditions {
        let asked = condition.kind != ConditionKind::Outcome && !condition.is_pain();
        if !asked || condition.look_for.is_empty() {
            continue;
        }
        let end = condition.look_for.find(". ");
        let first = &condition.look_for[..end.unwrap_or(condition.look_for.len())];
        let words = first.split_whitespace().count();
        assert!(first.len() <= 220, "{}: {first}", condition.id);
        assert!(
            words > 9 || first.contains([':', ',']),
            "{} only says where: {first}",
            condition.id
        );
    }
}

/// A number never stands on another line than its mark, however narrow the screen.
#[test]
fn a_mark_stays_with_its_number() {
    let note = "slice, over-the-top, grip-too-weak, casting, chicken-wing, early-extension";
    for width in ["40", "44", "50", "58"] {
        let text = run(&["why", note, "--width", width]).out;
        let marks = ['\u{25cf}', '\u{25cb}', '\u{b7}'];
        let grid = text.lines().skip_while(|line| !line.starts_with("  - "));
        for line in grid.take_while(|line| !line.contains("often behind")) {
            let line = line.trim();
            assert!(!line.starts_with(marks), "{width}: {line}\n{text}");
            assert!(
                !line.ends_with(|c: char| c.is_ascii_digit()),
                "{width}: {line}\n{text}"
            );
        }
        assert!(!text.contains('\u{a0}'));
    }
}

/// A start that stands behind nothing that was seen is no line of the screen.
#[test]
fn a_start_without_a_mark_is_not_listed() {
    let base = base();
    for case in base.cases.iter().step_by(9) {
        let ids: Vec<&str> = case.text.seen.iter().map(String::as_str).collect();
        let lesson = Lesson {
            shot: case.text.shot,
            ..Lesson::default()
        };
        let answer = seen(&base, &ids, lesson);
        let view = View {
            starts: 5,
            details: false,
            width: 120,
        };
        let text = why_page(&base, &answer, view).to_text(120, false);
        let rows = text.lines().skip_while(|line| !line.starts_with("Start "));
        for row in rows.skip(3).take_while(|row| !row.contains("often behind")) {
            let row = row.trim_start();
            let named = base.conditions.iter().any(|c| row.starts_with(&c.name));
            assert!(
                !named || row.contains(['\u{25cf}', '\u{25cb}']),
                "{}: {row}\n{text}",
                case.text.id
            );
        }
    }
}

/// What would change the order reads as a sentence, and the chain of another shot is on no way.
#[test]
fn reasons_read_as_sentences() {
    for note in [
        "fat full irons",
        "sways",
        "pushes short putts",
        "blocks and hooks",
    ] {
        let text = run(&["why", note]).out;
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(!text.contains("is not there,"), "{text}");
        assert!(!text.contains("is there,"), "{text}");
    }
    let irons = run(&[
        "why",
        "fat full irons, hangs back",
        "--shot",
        "iron",
        "--details",
    ])
    .out;
    assert!(!irons.contains("short shots"), "{irons}");
    // What leaves the start another way is a sentence of its own.
    let both = run(&["why", "hook", "push", "grip-too-strong"]).out;
    let both = both.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(!both.contains("hooks, and the body"), "{both}");
}

/// The same words said to mean the same thing twice are one finding.
#[test]
fn a_clause_is_one_finding() {
    for note in [
        "skulls bunker shots over the green",
        "pushes short putts to the right",
        "sky marks on the crown",
    ] {
        let answer = json(&["why", note, "--handed", "right"]);
        let mut found = ids(&answer["observations"]);
        found.sort_unstable();
        let all = found.len();
        found.dedup();
        assert_eq!(found.len(), all, "{note}: {found:?}");
    }
}

/// Where the findings belong to several shots, the looks are those of the shot that the ball was hit with.
#[test]
fn looks_belong_to_the_shot_that_was_hit() {
    use fairwhy::knowledge::Shot;
    let base = base();
    for (ids, shots) in [
        (
            ["bunker-shot-skulled", "ball-too-far-back"],
            &[Shot::Pitch, Shot::Chip, Shot::Bunker][..],
        ),
        (
            ["bunker-over-green", "too-upright-posture"],
            &[Shot::Pitch, Shot::Chip, Shot::Bunker],
        ),
        (["putt-pulled", "stance-too-wide"], &[Shot::Putt]),
    ] {
        let answer = seen(&base, &ids, Lesson::default());
        assert!(!answer.next_looks.is_empty(), "{ids:?}");
        for look in &answer.next_looks {
            let condition = base.condition(look.condition);
            let fits = shots.iter().any(|shot| condition.applies_to(Some(*shot)));
            assert!(fits, "{ids:?}: {}", condition.id);
        }
    }
}

/// What a start brings about at once is one list, and where no look is put nothing is said of two answers.
#[test]
fn what_comes_at_once_is_one_list() {
    for note in [
        "chunked-chip, bladed-chip, weight-back-in-short-shot",
        "heel-strike, shank, stands-too-close",
        "heel strikes and a slice, stands close",
        "hook, two-way-miss, grip-too-strong",
    ] {
        let ran = run(&["why", note]);
        let text = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
        if text.contains("Settled:") {
            assert!(!text.contains("it is not so that"), "{text}");
        }
    }
    let text = run(&[
        "why",
        "chunked-chip",
        "bladed-chip",
        "weight-back-in-short-shot",
    ])
    .out;
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        text.contains("so the chip is chunked, and the chip is bladed."),
        "{text}"
    );
}
