//! `fairwhy plan` as it is typed.

use assert_cmd::Command;
use fairwhy::knowledge::{Rung, Shot, Suits};
use predicates::str::contains;

fn plan(arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("fairwhy").expect("the program is built");
    command
        .env_remove("FAIRWHY_LIBRARY")
        .arg("plan")
        .args(arguments);
    command
}

#[test]
fn the_json_has_the_diagnosis_and_the_plan() {
    let output = plan(&[
        "slice",
        "--minutes",
        "45",
        "--place",
        "range",
        "--have",
        "mirror,stick",
        "--sessions",
        "3x20",
        "--weeks",
        "4",
        "--level",
        "improver",
        "--handed",
        "right",
        "--format",
        "json",
    ])
    .assert()
    .success()
    .get_output()
    .stdout
    .clone();
    let json: serde_json::Value = serde_json::from_slice(&output).expect("JSON");
    assert_eq!(json["observations"][0]["id"], "slice");
    assert!(
        json["causes"]
            .as_array()
            .is_some_and(|causes| !causes.is_empty())
    );
    let plan = &json["plan"];
    assert_eq!(plan["minutes"], 45);
    assert!(
        plan["used"]
            .as_f64()
            .is_some_and(|used| used > 0.0 && used <= 45.0)
    );
    let priorities = plan["priorities"].as_array().expect("a list");
    assert!((1..=2).contains(&priorities.len()));
    assert!(
        plan["expected_to_clear"]
            .as_f64()
            .is_some_and(|share| share > 0.0)
    );
    for step in plan["steps"].as_array().expect("a list") {
        for name in ["drill", "minutes", "ladder", "works_on", "why"] {
            assert!(!step[name].is_null(), "{name}");
        }
    }
    let weeks = plan["practice"].as_array().expect("a list");
    assert_eq!(weeks.len(), 4);
    assert_eq!(weeks[0]["week"], 1);
    assert_eq!(weeks[0]["sessions"].as_array().map(Vec::len), Some(3));
    assert!(weeks[0]["sessions"][0]["steps"][0].is_string());
}

#[test]
fn bad_options_say_what_to_write() {
    let refused = |arguments: &[&str], says: &str| {
        plan(arguments)
            .assert()
            .code(2)
            .stderr(contains(says.to_owned()));
    };
    refused(&["slice", "--minutes", "3"], "write 10 to 180");
    refused(&["slice", "--minutes", "many"], "--minutes");
    refused(&["slice", "--place", "moon"], "range");
    refused(&["slice", "--sessions", "20"], "such as 3x20");
    refused(&["slice", "--have", "miror"], "did you mean mirror?");
    refused(&["slice", "--suits", "junior,senior"], "both");
    refused(
        &["slice", "--shot", "driver", "--place", "putting-green"],
        "--place range",
    );
    refused(&["slice", "--handout", "page.pdf"], ".html");
    refused(&["slice", "--picture", "chain.png"], ".svg");
    refused(&[], "nothing was reported");
}

#[test]
fn files_are_written_whole_and_never_over_others_unasked() {
    let folder = tempfile::tempdir().expect("a folder");
    let page = folder.path().join("page.html");
    let chain = folder.path().join("chain.svg");
    let write = |more: &[&str]| {
        let mut command = plan(&["slice", "--handed", "left"]);
        command
            .arg("--handout")
            .arg(&page)
            .arg("--picture")
            .arg(&chain)
            .args(more);
        command
    };
    write(&[]).assert().success().stderr(contains("wrote"));
    let first = std::fs::read_to_string(&page).expect("the page");
    assert!(first.contains("<title>Your golf plan</title>"));
    assert!(
        std::fs::read_to_string(&chain)
            .expect("the picture")
            .ends_with("</svg>\n")
    );

    std::fs::write(&page, "mine").expect("writable");
    write(&[]).assert().code(1).stderr(contains("--replace"));
    assert_eq!(std::fs::read_to_string(&page).expect("the page"), "mine");
    write(&["--replace"]).assert().success();
    assert_eq!(std::fs::read_to_string(&page).expect("the page"), first);
    let left_behind = std::fs::read_dir(folder.path()).expect("a folder").count();
    assert_eq!(left_behind, 2, "nothing half-written is left");

    let nowhere = folder.path().join("no/such/page.md");
    plan(&["slice"])
        .arg("--handout")
        .arg(&nowhere)
        .assert()
        .code(1)
        .stderr(contains("could not be written"));
}

#[test]
fn the_page_goes_to_the_screen_when_no_file_is_named() {
    plan(&["slice", "--handout"])
        .assert()
        .success()
        .stdout(contains("# Your golf plan"));
    plan(&["slice", "--format", "json", "--handout"])
        .assert()
        .success()
        .stdout(contains("\"reading_grade\""));
    plan(&["--handout", "weak slice"])
        .assert()
        .code(2)
        .stderr(contains("put --handout last"));
}

#[test]
fn table_markdown_and_json_carry_the_same_drills() {
    let text = |format: &str| {
        let output = plan(&["hook", "--format", format])
            .assert()
            .success()
            .get_output()
            .stdout
            .clone();
        String::from_utf8(output).expect("text")
    };
    let json: serde_json::Value = serde_json::from_str(&text("json")).expect("JSON");
    let (table, markdown) = (text("table"), text("markdown"));
    for step in json["plan"]["steps"].as_array().expect("a list") {
        let name = step["name"].as_str().expect("a name");
        assert!(table.contains(name) && markdown.contains(name), "{name}");
    }
}

fn planned(words: &str, more: &[&str]) -> serde_json::Value {
    let arguments = [&[words, "--format", "json"], more].concat();
    let output = plan(&arguments)
        .assert()
        .success()
        .get_output()
        .stdout
        .clone();
    serde_json::from_slice(&output).expect("JSON")
}

/// The drills of a plan, by their ids.
fn drills_of(plan: &serde_json::Value) -> Vec<String> {
    let steps = plan["plan"]["steps"].as_array().expect("a list");
    let ids = steps.iter().filter_map(|step| step["drill"].as_str());
    ids.map(str::to_owned).collect()
}

/// A club named in the words says which entries belong to the lesson: a 7 iron is not looked at for the loft of
/// the driver, and a strike without a short shot not for the sole of the wedge.
#[test]
fn looks_and_starts_are_of_the_club_and_the_shot() {
    let loaded = fairwhy::knowledge::load(
        &[fairwhy::knowledge::shipped()],
        fairwhy::knowledge::Strictness::ErrorsOnly,
    )
    .expect("it loads");
    let belongs = |entry: &serde_json::Value, shot: Shot| {
        let id = entry["id"].as_str().expect("an id");
        let key = loaded.base.find(id).expect("of the library");
        loaded.base.condition(key).applies_to(Some(shot))
    };
    for (note, shot) in [
        ("7 iron flies too low, no distance", Shot::Iron),
        ("thin with the 7 iron, low flight", Shot::Iron),
        ("thin strikes, digs", Shot::FullSwing),
        ("driver flies too low", Shot::Driver),
    ] {
        let plan = planned(note, &[]);
        for list in ["causes", "next_looks"] {
            let entries = plan[list].as_array().expect("a list");
            assert!(!entries.is_empty(), "{note}");
            for entry in entries {
                assert!(belongs(entry, shot), "{note}: {list} {}", entry["id"]);
            }
        }
    }
    // Two clubs named are both meant.
    let both = planned("driver flies too low, thins the irons", &[]);
    let causes = both["causes"].as_array().expect("a list");
    let of_the_driver = causes.iter().any(|entry| !belongs(entry, Shot::Iron));
    assert!(of_the_driver, "{causes:?}");
}

/// An age told in the words asks of the drills what `--suits` asks.
#[test]
fn an_age_that_is_told_drives_the_fit() {
    let loaded = fairwhy::knowledge::load(
        &[fairwhy::knowledge::shipped()],
        fairwhy::knowledge::Strictness::ErrorsOnly,
    )
    .expect("it loads");
    let drill = |id: &str| loaded.base.drills.iter().find(|drill| drill.id == id);
    let suits = |id: &str, suits: Suits| drill(id).expect("there").suits.contains(&suits);

    let junior = planned("my 9 year old slices", &[]);
    let drills = drills_of(&junior);
    assert!(!drills.is_empty());
    assert!(
        drills.iter().all(|id| suits(id, Suits::Junior)),
        "{drills:?}"
    );
    assert!(junior["plan"]["cautions"].to_string().contains("Junior:"));

    let senior = planned("68 year old slices", &[]);
    let drills = drills_of(&senior);
    assert!(!drills.is_empty());
    let slow = |id: &str| drill(id).expect("there").rung <= Rung::SlowWithBall;
    assert!(
        drills.iter().all(|id| slow(id) || suits(id, Suits::Senior)),
        "{drills:?}"
    );
    assert!(senior["plan"]["cautions"].to_string().contains("Senior:"));

    // A fact by its id is the same; what is written out is taken at its word; the referral is never lost.
    let by_id = planned("slice", &["--fact", "senior"]);
    assert!(by_id["plan"]["cautions"].to_string().contains("Senior:"));
    let given = planned("my 9 year old slices", &["--suits", "senior"]);
    assert!(!given["plan"]["cautions"].to_string().contains("Junior:"));
    let sore = planned("my 9 year old slices, his wrist hurts", &[]);
    assert!(sore["plan"]["referral"].is_object());
}
