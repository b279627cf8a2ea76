//! `fairwhy flight`, and the same numbers in `why`.

use super::{json, refused, run, texts};
use fairwhy::measure::{Club, Curve, Flight, Number, ObservedStrike, Range, flight};
use proptest::prelude::*;

fn value(answer: &serde_json::Value, key: &str) -> f64 {
    answer[key]["value"].as_f64().expect("a number")
}

/// A worked driver slice of rigid impact mechanics (Winfield and Tan 1994; Penner 2001): start 0.865,
/// tilt 22.8; and back.
#[test]
fn a_slice_forwards_and_back() {
    let there = json(&[
        "flight",
        "--face=2",
        "--path=-4",
        "--attack=-1",
        "--loft=13",
    ]);
    assert!((value(&there, "start") - 0.865).abs() < 0.01);
    assert!((value(&there, "tilt") - 22.8).abs() < 0.1);
    let back = json(&[
        "flight",
        "--start=0.865",
        "--tilt=22.8",
        "--attack=-1",
        "--loft=13",
        "--face-share=0.81",
    ]);
    assert!((value(&back, "face") - 2.0).abs() < 0.02);
    assert!((value(&back, "path") + 3.99).abs() < 0.02);
    assert_eq!(texts(&back["contradictions"]), Vec::<&str>::new());
}

/// A flight is called by its name, what it rests on too, and what it rules out is said.
#[test]
fn a_flight_amounts_to_findings() {
    let answer = json(&["flight", "--start=-3", "--curve", "out", "--club", "driver"]);
    let findings = texts(&answer["findings"]);
    for id in ["pull-slice", "path-out-to-in", "clubface-open-at-impact"] {
        assert!(findings.contains(&id), "{findings:?}");
    }
    let out = texts(&answer["ruled_out"]);
    assert!(
        out.contains(&"path-in-to-out") && out.contains(&"push"),
        "{out:?}"
    );
    assert_eq!(answer["why"], "fairwhy why pull-slice --shot driver");
    let (low, high) = (&answer["path"]["low"], &answer["path"]["high"]);
    assert!(low.as_f64() < Some(-6.0) && high.as_f64() > Some(-6.0));
}

#[test]
fn every_flight_has_its_name() {
    for (start, curve, id) in [
        ("-3", "in", "pull-hook"),
        ("-3", "none", "pull"),
        ("-3", "out", "pull-slice"),
        ("0", "in", "hook"),
        ("0", "out", "slice"),
        ("3", "in", "push-hook"),
        ("3", "none", "push"),
        ("3", "out", "push-slice"),
    ] {
        let start = format!("--start={start}");
        let answer = json(&["flight", &start, "--curve", curve, "--club", "iron"]);
        let named: Vec<&str> = texts(&answer["findings"])
            .into_iter()
            .filter(|id| !id.contains("clubface") && !id.contains("path"))
            .collect();
        assert_eq!(named, [id]);
    }
}

#[test]
fn what_does_not_fit_is_named_and_not_handed_on() {
    let answer = json(&[
        "flight",
        "--face=0",
        "--path=-6",
        "--start=4",
        "--curve",
        "in",
        "--club",
        "driver",
    ]);
    assert_eq!(texts(&answer["contradictions"]).len(), 2);
    assert!(answer["why"].is_null());
    let page = run(&["flight", "--face=0", "--path=-6", "--start=4"]);
    assert!(
        page.out.contains("! a start of 4.0 out was reported"),
        "{}",
        page.out
    );
}

#[test]
fn the_hand_turns_out_and_in_to_right_and_left() {
    let page = |hand: &str| run(&["flight", "--face=2", "--path=-4", "--handed", hand]).out;
    assert!(page("right").contains("2.0 right") && page("right").contains("4.0 left"));
    assert!(page("left").contains("2.0 left") && page("left").contains("4.0 right"));
    for width in ["40", "80", "120"] {
        let page = run(&["flight", "--start=-3", "--curve", "out", "--width", width]).out;
        let most = width.parse().expect("a number");
        assert!(
            page.lines().all(|line| line.chars().count() <= most),
            "{page}"
        );
    }
}

/// Circular arc: radius 1.6 m, plane 60, low point 10.16 cm past the ball (geometry).
#[test]
fn the_low_point_gives_attack_and_path() {
    let answer = json(&[
        "flight",
        "--low-point=10.16",
        "--plane=60",
        "--club",
        "iron",
    ]);
    assert!((value(&answer, "attack") + 3.15).abs() < 0.01);
    assert!((value(&answer, "path") - 1.82).abs() < 0.01);
    assert_eq!(texts(&answer["findings"]), Vec::<&str>::new());
    let behind = json(&["flight", "--low-point=-5", "--plane=60", "--club", "iron"]);
    let findings = texts(&behind["findings"]);
    assert!(findings.contains(&"low-point-behind-ball"), "{findings:?}");
    assert!(findings.contains(&"attack-too-shallow"), "{findings:?}");
}

/// The line that the answer ends with is one that `why` understands, and numbers go in as they are.
#[test]
fn the_findings_flow_into_why() {
    let line = json(&["flight", "--face=2", "--path=-5", "--club", "driver"])["why"].clone();
    let words: Vec<&str> = line.as_str().expect("a line").split(' ').skip(1).collect();
    let answer = json(&words);
    let seen: Vec<&str> = answer["observations"]
        .as_array()
        .expect("a list")
        .iter()
        .filter(|one| one["outside"] == true)
        .map(|one| one["id"].as_str().expect("an id"))
        .collect();
    assert_eq!(seen, ["clubface-open-at-impact", "path-out-to-in"]);
    let numbers = ["why", "--measured", "start=-3", "--measured", "tilt=20"];
    let answer = json(&[&numbers[..], &["--shot", "driver"]].concat());
    assert_eq!(answer["observations"][0]["id"], "pull-slice");
    let same = |first: &str, second: &str| {
        json(&["why", "--measured", first, "--measured", second])["observations"]
            .as_array()
            .expect("a list")
            .len()
    };
    assert_eq!(
        same("face=2", "path=-5 degrees"),
        4,
        "four conditions measure path and face to path"
    );
}

#[test]
fn slips_say_what_to_write_instead() {
    refused(&["flight"], &["no number was given"]);
    refused(&["flight", "--path=400"], &["-45 and 45 degrees"]);
    refused(
        &["flight", "--path=2,5"],
        &["write a point before the decimals: 2.5"],
    );
    refused(&["flight", "--path=NaN"], &["write a number in digits"]);
    refused(&["flight", "--start-yards=20"], &["`carry`", "--carry=200"]);
    refused(
        &["flight", "--face-share=0.5", "--face=1"],
        &["0.61", "0.83"],
    );
    refused(&["flight", "--tilt=-10", "--curve", "out"], &["one way"]);
    refused(
        &["flight", "--face=1", "--error", "club=2"],
        &["the numbers are"],
    );
    refused(
        &["flight", "--face=1", "--error", "path=2"],
        &["for `path`"],
    );
    refused(&["why", "--measured", "path=400"], &["-45 and 45"]);
    refused(
        &["why", "--measured", "path=-4", "--measured", "path=-5"],
        &["twice"],
    );
    refused(
        &["why", "--measured", "club-path=2,5"],
        &["a point before the decimals: 2.5"],
    );
}

fn numbers(flight: &Flight) -> [Option<Range>; 5] {
    [
        flight.start,
        flight.tilt,
        flight.face,
        flight.path,
        flight.delta,
    ]
}

fn mirrored(given: &ObservedStrike) -> ObservedStrike {
    let across = |n: Number| !matches!(n, Number::Loft | Number::Attack | Number::FaceShare);
    ObservedStrike {
        numbers: given
            .numbers
            .iter()
            .map(|(n, v)| (*n, if across(*n) { -v } else { *v }))
            .collect(),
        curve: given.curve.map(|curve| match curve {
            Curve::In => Curve::Out,
            Curve::None => Curve::None,
            Curve::Out => Curve::In,
        }),
        ..given.clone()
    }
}

/// Two of start, tilt, face and path, with a loft and an attack.
fn strikes() -> impl Strategy<Value = ObservedStrike> {
    let pairs = prop::sample::select(vec![
        (Number::Start, Number::Tilt),
        (Number::Face, Number::Path),
        (Number::Start, Number::Path),
        (Number::Start, Number::Face),
        (Number::Tilt, Number::Face),
        (Number::Tilt, Number::Path),
    ]);
    (
        pairs,
        -8.0..8.0_f64,
        -8.0..8.0_f64,
        9.0..50.0_f64,
        -7.0..5.0_f64,
    )
        .prop_map(|((one, other), a, b, loft, attack)| ObservedStrike {
            numbers: [
                (one, a),
                (other, b),
                (Number::Loft, loft),
                (Number::Attack, attack),
            ]
            .into(),
            ..ObservedStrike::default()
        })
}

proptest! {
    /// A left-handed player's numbers are a right-handed player's in a mirror.
    #[test]
    fn a_mirror_turns_every_side(given in strikes()) {
        let (one, other) = (flight(&given), flight(&mirrored(&given)));
        prop_assert_eq!(one.is_ok(), other.is_ok());
        if let (Ok(one), Ok(other)) = (one, other) {
            for (a, b) in numbers(&one).into_iter().zip(numbers(&other)) {
                prop_assert_eq!(a.is_some(), b.is_some());
                if let (Some(a), Some(b)) = (a, b) {
                    prop_assert!((a.value + b.value).abs() < 1e-9);
                    prop_assert!((a.low + b.high).abs() < 1e-9 && (a.high + b.low).abs() < 1e-9);
                }
            }
        }
    }

    /// To know less of one number never makes another surer.
    #[test]
    fn more_error_never_narrows(given in strikes(), error in 0.0..3.0_f64, more in 0.0..2.0_f64) {
        for number in given.numbers.keys() {
            let with = |error| ObservedStrike { errors: [(*number, error)].into(), ..given.clone() };
            let (Ok(sure), Ok(unsure)) = (flight(&with(error)), flight(&with(error + more))) else { continue };
            for (a, b) in numbers(&sure).into_iter().zip(numbers(&unsure)) {
                if let (Some(a), Some(b)) = (a, b) {
                    prop_assert!(b.low <= a.low + 1e-12 && b.high >= a.high - 1e-12, "{:?} {:?}", a, b);
                }
            }
        }
    }

    /// From two numbers to all, and from any other two of them back to these.
    #[test]
    fn round_trips_come_home(given in strikes()) {
        let Ok(there) = flight(&given) else { return Ok(()) };
        let [start, tilt, face, path, delta] = numbers(&there).map(|range| range.expect("it follows").value);
        prop_assume!(delta.abs() < 20.0 && start.abs() < 40.0 && face.abs() < 40.0 && path.abs() < 40.0);
        let ways = [[(Number::Start, start), (Number::Tilt, tilt)], [(Number::Face, face), (Number::Path, path)]];
        for way in ways {
            let mut back = given.clone();
            back.numbers.retain(|n, _| matches!(n, Number::Loft | Number::Attack));
            back.numbers.extend(way);
            let Ok(back) = flight(&back) else { continue };
            for (found, wanted) in numbers(&back).into_iter().zip([start, tilt, face, path, delta]) {
                prop_assert!((found.expect("it follows").value - wanted).abs() < 1e-9);
            }
        }
    }

    /// Nothing typed makes it fall over, and a range holds its value.
    #[test]
    fn ranges_hold_their_value(given in strikes(), club in 0..4_usize) {
        let club = [Club::Driver, Club::Wood, Club::Iron, Club::Wedge][club];
        let mut given = ObservedStrike { club: Some(club), ..given };
        given.numbers.retain(|n, _| !matches!(n, Number::Loft | Number::Attack));
        if let Ok(flight) = flight(&given) {
            for range in numbers(&flight).into_iter().flatten() {
                prop_assert!(range.low <= range.value && range.value <= range.high);
                prop_assert!(range.low.is_finite() && range.high.is_finite());
            }
        }
    }
}
