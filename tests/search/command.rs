//! `fairwhy drills` as a coach types it.

use assert_cmd::Command;
use predicates::prelude::*;
use serde_json::Value;

fn fairwhy(arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("fairwhy").expect("built");
    command
        .args(arguments)
        .env_remove("FAIRWHY_LIBRARY")
        .env_remove("COLUMNS");
    command
}

#[test]
fn json_carries_the_promised_keys() {
    let output = fairwhy(&[
        "drills",
        "chunked wedges",
        "--shot",
        "pitch",
        "--limit",
        "5",
        "--format",
        "json",
    ])
    .assert()
    .success()
    .get_output()
    .stdout
    .clone();
    let answer: Value = serde_json::from_slice(&output).expect("JSON");
    assert_eq!(answer["query"], "chunked wedges");
    assert_eq!(answer["read_as"][0], "chunked-chip");
    let drills = answer["drills"].as_array().expect("a list");
    assert_eq!(drills.len(), 5);
    for drill in drills {
        for key in ["id", "name", "score", "because", "treats"] {
            assert!(!drill[key].is_null(), "{key}: {drill}");
        }
        assert!(
            !drill["because"].as_array().expect("a list").is_empty(),
            "{drill}"
        );
    }
    let scores: Vec<f64> = drills.iter().filter_map(|d| d["score"].as_f64()).collect();
    assert!(scores.is_sorted_by(|a, b| a >= b), "{scores:?}");
}

/// A junior coach reads a drill in two lines: what it is called and how it is done, and why it is there.
#[test]
fn a_drill_takes_two_lines_at_the_most() {
    for query in [
        "weak slice",
        "chunked wedges",
        "feet together",
        "short putts miss",
    ] {
        let output = fairwhy(&["drills", query, "--limit", "10"])
            .assert()
            .success()
            .get_output()
            .stdout
            .clone();
        let text = String::from_utf8(output).expect("text");
        let lines = text.lines().filter(|line| line.starts_with("  "));
        let (named, below): (Vec<&str>, Vec<&str>) = lines
            .take_while(|line| !line.starts_with("  - "))
            .partition(|line| line.trim_start().starts_with(|c: char| c.is_ascii_digit()));
        assert!(!named.is_empty(), "{text}");
        // What a drill can make worse may take a line more, and a long name too; not in the mean.
        assert!(below.len() * 2 <= named.len() * 3, "{text}");
    }
}

#[test]
fn a_page_fits_eighty_columns_and_has_no_colour_in_a_pipe() {
    let output = fairwhy(&["drills", "weak slice", "--explain"])
        .assert()
        .success()
        .get_output()
        .stdout
        .clone();
    let text = String::from_utf8(output).expect("text");
    assert!(text.contains("read as: Slice"), "{text}");
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
    assert!(!text.contains('\u{1b}'));
}

#[test]
fn pain_comes_first() {
    fairwhy(&["drills", "sore lower back"])
        .assert()
        .success()
        .stdout(predicate::str::starts_with("! \"sore lower back\": Stop"));
}

#[test]
fn what_is_not_understood_ends_with_two_and_says_what_to_write() {
    for (arguments, says) in [
        (vec!["drills", "?!"], "no word"),
        (vec!["drills", ""], "no word"),
        (vec!["drills", "slice", "--place", "hoem"], "'home'"),
        (
            vec!["drills", "slice", "--have", "towle"],
            "did you mean towel",
        ),
        (vec!["drills", "slice", "--minutes", "0"], "no time"),
        (
            vec!["drills", "slice", "--limit", "0"],
            "whole number from 1",
        ),
        (
            vec!["drills", "slice", "--limit", "lots"],
            "whole number from 1",
        ),
        (
            vec!["drills", "slice", "--minutes", "ten"],
            "a number of minutes",
        ),
        (vec!["drills"], "required"),
    ] {
        fairwhy(&arguments)
            .assert()
            .code(2)
            .stderr(predicate::str::contains(says))
            .stdout("");
    }
}

#[test]
fn a_drill_asked_for_by_its_name_comes_first_and_few_fit_by_a_word() {
    let ids = |arguments: &[&str]| {
        let all = [&["drills"], arguments, &["--format", "json"]].concat();
        let output = fairwhy(&all).output().expect("runs");
        let answer: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let drills = answer["drills"].as_array().expect("a list").clone();
        let ids = drills.iter().filter_map(|d| d["id"].as_str());
        (
            ids.map(str::to_owned).collect::<Vec<_>>(),
            answer["total"].as_u64().expect("a number"),
        )
    };
    for (words, id) in [
        ("split hands", "split-hands-start"),
        ("nine to three", "corner-to-corner"),
        ("feet together", "shoes-together-swings"),
    ] {
        assert_eq!(ids(&[words]).0[0], id, "{words}");
    }
    // All of the library shares a word with this; most of it has nothing to do with it.
    let (_, total) = ids(&["my student keeps hitting it fat from the fairway"]);
    assert!((8..200).contains(&total), "{total}");
    // Nothing at hand is said as with `plan`.
    assert!(ids(&["slice", "--have", ""]).0.len() >= 3);
}

/// A drill that only says the word is found, and not counted among those that fit.
#[test]
fn what_fits_is_told_from_what_only_says_the_word() {
    let answer = |arguments: &[&str]| {
        let output = fairwhy(arguments).assert().success().get_output().clone();
        String::from_utf8(output.stdout).expect("text")
    };
    let page = answer(&["drills", "slice"]);
    let line = page.lines().find(|line| line.contains("drills that fit;"));
    let line = line.unwrap_or_else(|| panic!("{page}"));
    assert!(line.ends_with("more say the word."), "{line}");
    let fit = line.split(' ').nth(2).and_then(|fit| fit.parse().ok());
    assert!(
        fit.is_some_and(|fit: usize| (8..100).contains(&fit)),
        "{line}"
    );
}

/// What a query says is not at hand, how long there is, and who and where, are filters, and say so.
#[test]
fn words_that_are_filters_act_as_filters() {
    let base = fairwhy::knowledge::load(
        &[fairwhy::knowledge::shipped()],
        fairwhy::knowledge::Strictness::ErrorsOnly,
    )
    .expect("it loads")
    .base;
    let found = |query: &str| -> (Vec<fairwhy::knowledge::DrillKey>, String) {
        let output = fairwhy(&["drills", query, "--limit", "40", "--format", "json"])
            .assert()
            .success()
            .get_output()
            .stdout
            .clone();
        let answer: Value = serde_json::from_slice(&output).expect("JSON");
        let drills = answer["drills"].as_array().expect("a list").iter();
        let keys = drills.map(|d| d["id"].as_str().expect("an id").to_owned());
        let keys: Vec<_> = keys
            .map(|id| base.find_drill(&id).expect("there"))
            .collect();
        assert!(!keys.is_empty(), "{query}");
        (keys, answer["filters"].to_string())
    };
    for (query, filter) in [
        ("slice home", "home"),
        ("slice at the rnage", "range"),
        ("slice hom", "home"),
        ("slice at hoem", "home"),
        ("slice, junoir", "junior"),
        ("slice, no equipmnt", "no-equipment"),
        ("slice no miror", "mirror"),
    ] {
        let (_, filters) = found(query);
        assert!(filters.contains(filter), "{query}: {filters}");
    }
    // What the word is a part of stays whole, and a slip that would be no filter is searched for.
    for query in [
        "pushes it and it never comes home",
        "slice on the course",
        "slice miror",
    ] {
        let (_, filters) = found(query);
        assert_eq!(filters, "[]", "{query}");
    }
    for (query, thing) in [
        ("no mirror, slice", "mirror"),
        ("slice without a mirror", "mirror"),
        ("hook, no towel or stick", "stick"),
        ("fat shots no towel", "towel"),
    ] {
        let (drills, filters) = found(query);
        assert!(filters.contains(thing), "{query}: {filters}");
        for drill in drills {
            let needs = base.drill(drill).equipment.iter();
            let word = |needed: &&String| needed.split([' ', '-']).any(|word| word == thing);
            let needs: Vec<_> = needs.filter(word).collect();
            assert!(
                needs.is_empty(),
                "{query}: {} {needs:?}",
                base.drill(drill).id
            );
        }
    }
    for (query, most) in [
        ("slice, 5 minutes", 5.0),
        ("10-minute drill for a hook", 10.0),
    ] {
        let (drills, filters) = found(query);
        assert!(filters.contains("minutes"), "{query}: {filters}");
        assert!(
            drills
                .iter()
                .all(|drill| base.drill(*drill).minutes() <= most)
        );
    }
    for (query, place) in [
        ("5 minutes, putting, home", fairwhy::knowledge::Place::Home),
        (
            "anything for a rainy day indoors",
            fairwhy::knowledge::Place::Indoors,
        ),
        ("slice, home", fairwhy::knowledge::Place::Home),
    ] {
        let (drills, filters) = found(query);
        assert!(filters.contains(place.as_str()), "{query}: {filters}");
        assert!(
            drills
                .iter()
                .all(|drill| base.drill(*drill).places.contains(&place)),
            "{query}"
        );
    }
    let (drills, filters) = found("seated student, slice");
    assert!(filters.contains("seated"), "{filters}");
    let seated = fairwhy::knowledge::Suits::Seated;
    for drill in drills.iter().map(|drill| base.drill(*drill)) {
        // Who is hurt is sent to a professional, seated or not.
        let referral = drill.kind == fairwhy::knowledge::RemedyKind::Referral;
        assert!(referral || drill.suits.contains(&seated), "{}", drill.id);
    }
}

/// One word of several in common makes no drill fit.
#[test]
fn few_drills_fit_words_that_name_no_finding() {
    for query in ["9 to 3", "two coins and a phone", "rhythm with the tv on"] {
        let output = fairwhy(&["drills", query, "--limit", "500", "--format", "json"])
            .assert()
            .success()
            .get_output()
            .stdout
            .clone();
        let answer: Value = serde_json::from_slice(&output).expect("JSON");
        let count = answer["drills"].as_array().expect("a list").len();
        assert!(count < 100, "{query}: {count}");
    }
}
