//! `fairwhy compare` and `fairwhy shots`; exact tests and intervals against general statistics libraries.

use super::{json, refused, run};
use fairwhy::measure::{BallCount, fisher, mean_change, share_difference, summary, wilson};
use serde::Deserialize;

#[derive(Deserialize)]
struct Stored {
    library: String,
    counts: Vec<Counts>,
    wilson: Vec<Wilson>,
    sessions: Vec<Session>,
}

#[derive(Deserialize)]
struct Counts {
    before: (u32, u32),
    after: (u32, u32),
    p: f64,
    low: f64,
    high: f64,
}

#[derive(Deserialize)]
struct Wilson {
    count: (u32, u32),
    low: f64,
    high: f64,
}

#[derive(Deserialize)]
struct Session {
    before: Vec<f64>,
    after: Vec<f64>,
    mean: f64,
    sd: f64,
    low: f64,
    high: f64,
    far: Vec<usize>,
    change: (f64, f64),
}

fn near(found: f64, wanted: f64, within: f64, what: &str) {
    assert!(
        (found - wanted).abs() <= within,
        "{what}: {found} against {wanted}"
    );
}

/// `tests/reference/changes.py` made the values (scipy, statsmodels) and compares them when it is run with
/// `--check`. Tolerance 1e-9: both sides round at about 1e-12.
#[test]
fn tests_and_intervals_are_those_of_the_reference_libraries() {
    let stored: Stored =
        serde_json::from_str(include_str!("../reference/changes.json")).expect("stored");
    assert_eq!(stored.library, "scipy 1.17.1");
    assert!(stored.counts.len() >= 100 && stored.sessions.len() >= 6);
    for row in &stored.counts {
        let of = |(shown, of)| BallCount { shown, of };
        let (before, after) = (of(row.before), of(row.after));
        let what = format!("{:?} to {:?}", row.before, row.after);
        near(fisher(before, after), row.p, 1e-9, &what);
        let (low, high) = share_difference(before, after);
        near(low, row.low, 1e-9, &what);
        near(high, row.high, 1e-9, &what);
    }
    for row in &stored.wilson {
        let (low, high) = wilson(row.count.0, row.count.1);
        near(low, row.low, 1e-9, "wilson");
        near(high, row.high, 1e-9, "wilson");
    }
    for row in &stored.sessions {
        let (before, after) = (
            summary(&row.before).expect("numbers"),
            summary(&row.after).expect("numbers"),
        );
        near(before.mean, row.mean, 1e-12, "mean");
        near(before.sd, row.sd, 1e-12, "sd");
        let (low, high) = before.interval.expect("more than one");
        near(low, row.low, 1e-8, "interval");
        near(high, row.high, 1e-8, "interval");
        assert_eq!(before.far, row.far);
        let change = mean_change(&before, &after);
        near(change.low, row.change.0, 1e-8, "change");
        near(change.high, row.change.1, 1e-8, "change");
    }
}

fn table(name: &str, text: &str) -> String {
    let path =
        std::env::temp_dir().join(format!("fairwhy-shots-{}-{name}.csv", std::process::id()));
    std::fs::write(&path, text).expect("written");
    path.to_str().expect("text").to_owned()
}

fn session(path_first: f64) -> String {
    let mut text = String::from("shot,face (deg),path (deg),carry (yd),mood\n");
    for shot in 0..12 {
        let step = f64::from(shot % 4) - 1.5;
        text += &format!(
            "{shot},{:.1},{:.1},{},ok\n",
            1.0 + step / 2.0,
            path_first + step,
            180 + shot
        );
    }
    text
}

#[test]
fn balls_out_of_ten() {
    let page = run(&["compare", "7/10", "4/10", "--width", "80"]);
    assert_eq!(page.code, 0, "{}", page.err);
    assert!(
        page.out.contains("too few") && page.out.contains("30 balls"),
        "{}",
        page.out
    );
    assert!(page.out.lines().all(|line| line.chars().count() <= 80));
    let verdict = |before: &str, after: &str| {
        json(&["compare", before, after])["compared"][0]["verdict"].clone()
    };
    assert_eq!(verdict("9/10", "2/10"), "a real change");
    assert_eq!(verdict("21/30", "18/30"), "within the error");
    assert_eq!(verdict("2/3", "0/3"), "too few to tell");
}

#[test]
fn two_sessions_side_by_side() {
    let (march, april) = (
        table("march", &session(-6.0)),
        table("april", &session(-2.0)),
    );
    let answer = json(&["compare", &march, &april]);
    let rows = answer["compared"].as_array().expect("a list");
    let verdicts: Vec<(&str, &str)> = rows
        .iter()
        .map(|row| {
            (
                row["what"].as_str().expect("text"),
                row["verdict"].as_str().expect("text"),
            )
        })
        .collect();
    assert_eq!(
        verdicts,
        [
            ("face", "within the error"),
            ("path", "a real change"),
            ("carry", "within the error")
        ]
    );
    let picture = std::env::temp_dir().join(format!("fairwhy-change-{}.svg", std::process::id()));
    let path = picture.to_str().expect("text");
    let arguments = ["compare", &march, &april, "--picture", path];
    assert_eq!(run(&[&arguments[..], &["--replace"]].concat()).code, 0);
    let svg = std::fs::read_to_string(&picture).expect("written");
    assert!(svg.starts_with("<svg") && svg.contains("a real change") && svg.ends_with("</svg>\n"));
    refused(&arguments, &["is there already"]);
}

#[test]
fn a_table_of_shots_comes_to_means_and_what_follows() {
    let mut text = session(-6.0);
    text += "12,1.0,20.0,181,ok\n";
    let path = table("far", &text);
    let page = run(&["shots", &path, "--club", "driver", "--width", "80"]);
    assert_eq!(page.code, 0, "{}", page.err);
    assert!(
        page.out.contains("13 shots") && page.out.contains("row 14, path (degrees): 20"),
        "{}",
        page.out
    );
    assert!(
        page.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        page.out
    );
    let csv = run(&["shots", &path, "--club", "driver", "--out", "-"]).out;
    assert!(
        csv.starts_with("shot,face (deg),path (deg),carry (yd),mood,start worked out (degrees)"),
        "{csv}"
    );
    assert_eq!(csv.lines().count(), 14);
    // Face 0.2, path -7.5: 0.81 of the way from path to face.
    let first: Vec<&str> = csv.lines().nth(1).expect("a row").split(',').collect();
    let start: f64 = first[5].parse().expect("a number");
    assert!((start + 1.24).abs() < 0.05, "{csv}");
    let answer = json(&["shots", &path]);
    assert_eq!(answer["columns"][1]["far"][0]["row"], 14);
    assert_eq!(answer["refused"].as_array().map(Vec::len), Some(0));
}

#[test]
fn slips_in_a_table_name_row_and_column() {
    let refuse =
        |name: &str, text: &str, words: &[&str]| refused(&["shots", &table(name, text)], words);
    refuse(
        "unit",
        "face,path (deg)\n1,2\n",
        &["row 1, column 1", "face (degrees)"],
    );
    refuse(
        "comma",
        "face (deg)\n\"2,5\"\n",
        &["row 2, column 1", "2.5"],
    );
    refuse("nan", "path (deg)\n1\nNaN\n", &["row 3, column 1"]);
    refuse(
        "most",
        "path (deg)\n400\n",
        &["row 2, column 1", "between -45 and 45"],
    );
    refuse(
        "hands",
        "path (deg),handed\n1,right\n1,left\n",
        &["row 3, column 2", "one hand"],
    );
    refuse("semicolon", "path (deg);face (deg)\n1;2\n", &["semicolons"]);
    refuse(
        "curve",
        "path (deg),curve\n1,left\n",
        &["row 2, column 2", "in, none or out"],
    );
    refused(&["shots", "/nowhere.csv"], &["could not be read"]);
    refused(&["compare", "7/10", "march.csv"], &["two of one sort"]);
    refused(&["compare", "7/0", "3/10"], &["7/10"]);
    refused(&["compare", "seven", "three"], &["neither"]);
    refused(&["compare", "a.json", "b.json"], &["--view"]);
    let (one, two) = (
        table("one", "path (deg)\n1\n"),
        table("two", "face (deg)\n1\n"),
    );
    refused(&["compare", &one, &two], &["in common"]);
}

/// A file of a gigabyte that takes no room: it is left off, and said.
#[cfg(unix)]
#[test]
fn a_gigabyte_is_refused() {
    let path = table("large", "path (deg)\n");
    let file = std::fs::OpenOptions::new()
        .write(true)
        .open(&path)
        .expect("opened");
    file.set_len(1 << 30).expect("a hole");
    refused(&["shots", &path], &["larger than 64 MB"]);
    std::fs::remove_file(&path).expect("removed");
}
