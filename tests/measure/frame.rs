//! `fairwhy frame`: a made-up player of known angles, projected through a pinhole camera.

use super::{json, refused, run, texts};
use fairwhy::measure::{
    CameraView, FrameClub, Lead, Moment, NAMES, Point, Setting, Skeleton, frame, joint_error,
    line_error,
};
use serde_json::{Value, json as value};
use std::path::PathBuf;

/// Centimetres: to the target, to the ball, up.
type Place = [f64; 3];

/// A right-handed player in centimetres, with the quantities that the places were made from.
struct Player {
    places: [Place; 17],
    ball: Place,
    clubhead: Place,
    hands: Place,
}

const TILT: f64 = 6.0;
const BEND: f64 = 35.0;
const FLEX: f64 = 20.0;
const ELBOW: f64 = 80.0;
const LEAN: f64 = 7.0;

fn tan(degrees: f64) -> f64 {
    degrees.to_radians().tan()
}

impl Player {
    fn made() -> Self {
        let at = |t: f64, b: f64, u: f64| [t, b, u];
        let rise = 50.0 * BEND.to_radians().cos();
        let chest = [-tan(TILT) * rise, tan(BEND) * rise, 88.0 + rise];
        let from = |t: f64, b: f64, u: f64| [chest[0] + t, chest[1] + b, chest[2] + u];
        // The leg bends at the knee by FLEX in the plane of ball and up; thigh and shin as long.
        let half = (FLEX / 2.0).to_radians();
        let (knee, ankle) = ([40.0 * half.sin(), -40.0 * half.cos()], -80.0 * half.cos());
        // The trail arm folds by ELBOW in the plane of the picture from face-on, swung out of it by 15.
        let (out, turn) = (15f64.to_radians(), ELBOW.to_radians());
        let fold = [26.0 * turn.sin(), 26.0 * turn.cos()];
        let right = |along: f64, up: f64| from(-19.0 - along * out.cos(), along * out.sin(), up);
        let places = [
            from(0.0, 12.0, 16.0),
            from(3.0, 11.0, 19.0),
            from(-3.0, 11.0, 19.0),
            from(7.0, 4.0, 18.0),
            from(-7.0, 4.0, 18.0),
            from(19.0, 0.0, 0.0),
            right(0.0, 0.0),
            from(14.0, 6.0, -24.0),
            right(26.0, 0.0),
            from(2.0, 10.0, -48.0),
            right(26.0 + fold[1], fold[0]),
            at(13.0, 0.0, 88.0),
            at(-13.0, 0.0, 88.0),
            at(16.0, knee[0], 88.0 + knee[1]),
            at(-13.0, knee[0], 88.0 + knee[1]),
            at(19.0, 0.0, 88.0 + ankle),
            at(-13.0, 0.0, 88.0 + ankle),
        ];
        let hands = from(0.0, 12.0, -52.0);
        let down = hands[2] - 2.0;
        let clubhead = [
            hands[0] - tan(LEAN) * down,
            hands[1] + tan(30.0) * down,
            2.0,
        ];
        Self {
            places,
            ball: [10.0, 75.0, 2.1],
            clubhead,
            hands,
        }
    }

    /// Seen from five metres off, by a camera at hip height that stands `off` degrees round the player
    /// from its place.
    fn seen(&self, view: CameraView, off: f64) -> Skeleton {
        let (sin, cos) = off.to_radians().sin_cos();
        let project = |[t, b, u]: Place| {
            let (across, near) = match view {
                CameraView::FaceOn => (t * cos + b * sin, b * cos - t * sin),
                CameraView::DownTheLine => (b * cos - t * sin, -(t * cos + b * sin)),
            };
            let scale = 2000.0 / (500.0 - near);
            Point {
                x: 960.0 + across * scale,
                y: 540.0 - (u - 90.0) * scale,
                confidence: 1.0,
            }
        };
        Skeleton {
            points: self.places.map(|place| Some(project(place))),
            ball: Some(project(self.ball)),
            ball_radius: None,
            clubhead: Some(project(self.clubhead)),
            hands: Some(project(self.hands)),
            handed: None,
        }
    }
}

fn setting(view: CameraView, at: Moment, off: f64) -> Setting {
    Setting {
        view,
        at,
        lead: Lead::Left,
        club: None,
        camera_off: off,
        scale: Some(0.25),
    }
}

fn reading(body: &Skeleton, setting: &Setting, quantity: &str) -> (f64, f64) {
    let frame = frame(body, setting).expect("a sound frame");
    let found = frame.measured.iter().find(|one| one.quantity == quantity);
    let found = found.unwrap_or_else(|| panic!("{quantity}: {:?}", frame.not_seen));
    (found.value, found.error_sd)
}

/// What is made is what is read, within twice the error that is stated, from 0 to 30 degrees of mis-set
/// on either side; and the error grows with it.
#[test]
fn a_made_up_player_through_a_pinhole() {
    let player = Player::made();
    let rows = [
        (
            CameraView::FaceOn,
            Moment::Address,
            "spine-side-tilt-at-address-mid-iron",
            TILT,
        ),
        (
            CameraView::FaceOn,
            Moment::Address,
            "heel-gap-to-shoulder-width",
            32.0 / 38.0,
        ),
        (
            CameraView::DownTheLine,
            Moment::Address,
            "trunk-forward-bend-at-address",
            BEND,
        ),
        (
            CameraView::DownTheLine,
            Moment::Address,
            "knee-flex-at-address",
            FLEX,
        ),
        (
            CameraView::FaceOn,
            Moment::Top,
            "trail-elbow-bend-at-top",
            ELBOW,
        ),
    ];
    for (view, at, quantity, truth) in rows {
        let mut least: f64 = 0.0;
        for step in 0..=6 {
            let off = f64::from(step) * 5.0;
            let mut stated: f64 = 0.0;
            for side in [-1.0, 1.0] {
                let (found, error) = reading(
                    &player.seen(view, side * off),
                    &setting(view, at, off),
                    quantity,
                );
                assert!(
                    (found - truth).abs() <= 2.0 * error,
                    "{quantity} at {off}: {found:.2} +- {error:.2} against {truth:.2}"
                );
                stated = stated.max(error);
            }
            assert!(
                stated >= least * 0.95,
                "{quantity} at {off}: {stated} after {least}"
            );
            least = stated;
        }
    }
}

/// The camera's part of the error by itself, in parallel projection: never more than its formula.
#[test]
fn the_camera_moves_a_line_and_a_joint_by_no_more_than_the_formula() {
    for tilt in [-10.0, 0.0, 6.0, 35.0] {
        for slope in [0.0, 0.12, 0.7] {
            for off in 0..=30 {
                let omega = f64::from(off).to_radians();
                for side in [-1.0, 1.0] {
                    let seen = (tan(tilt) * omega.cos() + side * slope * omega.sin()).atan();
                    let error = (seen.to_degrees() - tilt).abs();
                    assert!(error <= 3f64.sqrt() * line_error(tilt, slope, f64::from(off)) + 1e-9);
                }
            }
        }
    }
    // A joint in a plane that is swung about any axis of the picture.
    for angle in [30.0, 90.0, 150.0_f64] {
        for off in [0.0, 10.0, 30.0_f64] {
            for axis in 0..36 {
                let axis = f64::from(axis) * 5f64.to_radians();
                let seen = |direction: f64| {
                    let (along, across) = ((direction - axis).cos(), (direction - axis).sin());
                    (across * off.to_radians().cos()).atan2(along)
                };
                let turned = (seen(angle.to_radians()) - seen(0.0)).to_degrees();
                let turned = turned.rem_euclid(360.0);
                let error = (turned.min(360.0 - turned) - angle).abs();
                assert!(
                    error <= 3f64.sqrt() * joint_error(angle, off) + 1e-9,
                    "{angle} {off} {error}"
                );
            }
        }
    }
}

/// Shaft lean from face-on, with the camera square: what was made.
#[test]
fn shaft_lean_is_read_off_hands_and_clubhead() {
    let player = Player::made();
    let body = player.seen(CameraView::FaceOn, 0.0);
    let (lean, error) = reading(
        &body,
        &setting(CameraView::FaceOn, Moment::Impact, 0.0),
        "shaft-lean-at-impact-mid-iron",
    );
    assert!(
        lean > 0.0 && (lean - LEAN).abs() < 3.0 && error < 3.0,
        "{lean} +- {error}"
    );
}

/// A left-handed player is a right-handed one in a mirror: the same numbers.
#[test]
fn a_mirrored_player_reads_the_same() {
    let body = Player::made().seen(CameraView::FaceOn, 4.0);
    let mut other = body.clone();
    let turn = |point: Option<Point>| {
        point.map(|p| Point {
            x: 1920.0 - p.x,
            ..p
        })
    };
    for (index, point) in body.points.iter().enumerate() {
        // Left and right are exchanged in a mirror: 1 and 2, 3 and 4, and so on.
        let partner = if index == 0 { 0 } else { ((index - 1) ^ 1) + 1 };
        other.points[partner] = turn(*point);
    }
    (other.ball, other.clubhead, other.hands) =
        (turn(body.ball), turn(body.clubhead), turn(body.hands));
    for at in [Moment::Address, Moment::Top, Moment::Impact] {
        let right = frame(&body, &setting(CameraView::FaceOn, at, 5.0)).expect("sound");
        let left = Setting {
            lead: Lead::Right,
            ..setting(CameraView::FaceOn, at, 5.0)
        };
        let left = frame(&other, &left).expect("sound");
        assert_eq!(right.measured.len(), left.measured.len());
        for (one, two) in right.measured.iter().zip(&left.measured) {
            assert!(
                (one.value - two.value).abs() < 1e-9 && (one.error_sd - two.error_sd).abs() < 1e-9
            );
        }
    }
}

/// Less confidence, more error; and a point below what counts is not there.
#[test]
fn error_grows_as_confidence_falls() {
    let sure = Player::made().seen(CameraView::FaceOn, 0.0);
    let setting = Setting {
        club: Some(FrameClub::Iron),
        ..setting(CameraView::FaceOn, Moment::Address, 5.0)
    };
    let mut last = frame(&sure, &setting).expect("sound");
    for confidence in [0.8, 0.5, 0.3] {
        let mut body = sure.clone();
        for point in body.points.iter_mut().flatten() {
            point.confidence = confidence;
        }
        let next = frame(&body, &setting).expect("sound");
        for (before, after) in last.measured.iter().zip(&next.measured) {
            assert!(after.error_sd > before.error_sd, "{}", after.quantity);
            assert!((after.value - before.value).abs() < 1e-12);
        }
        last = next;
    }
}

// The command.

fn rows(body: &Skeleton, confidence: f64) -> Vec<[f64; 3]> {
    let points = body.points.iter().flatten();
    points.map(|p| [p.x, p.y, confidence]).collect()
}

fn file(name: &str, content: &Value) -> String {
    text_file(name, &content.to_string())
}

fn text_file(name: &str, text: &str) -> String {
    let path: PathBuf =
        std::env::temp_dir().join(format!("fairwhy-frame-{}-{name}.json", std::process::id()));
    std::fs::write(&path, text).expect("written");
    path.to_str().expect("text").to_owned()
}

fn address(path: &str) -> Vec<&str> {
    vec![
        "frame", path, "--view", "face-on", "--at", "address", "--handed", "right",
    ]
}

#[test]
fn the_shapes_of_a_file_read_the_same() {
    let body = Player::made().seen(CameraView::FaceOn, 0.0);
    let rows = rows(&body, 0.9);
    let flat: Vec<f64> = rows.iter().flatten().copied().collect();
    let mut named: Vec<Value> = rows
        .iter()
        .zip(NAMES)
        .map(|([x, y, c], name)| value!({"name": name, "x": x, "y": y, "confidence": c}))
        .collect();
    named.reverse();
    let small: Vec<[f64; 3]> = rows
        .iter()
        .map(|[x, y, c]| [x / 4.0, y / 4.0, *c])
        .collect();
    let shares: Vec<[f64; 3]> = rows
        .iter()
        .map(|[x, y, c]| [x / 1920.0, y / 1080.0, *c])
        .collect();
    let shapes = [
        value!(flat),
        value!(rows),
        value!({"keypoints": flat}),
        value!({"keypoints": rows}),
        value!([{"keypoints": small}, {"keypoints": rows}]),
        value!({"annotations": [{"keypoints": flat}]}),
        value!({"keypoints": named}),
        value!({"keypoints": shares, "width": 1920, "height": 1080}),
    ];
    let mut answers = Vec::new();
    for (index, shape) in shapes.iter().enumerate() {
        let path = file(&format!("shape-{index}"), shape);
        let answer = json(&address(&path));
        answers.push(
            answer["measured"]
                .as_array()
                .expect("a list")
                .iter()
                .map(|m| {
                    (
                        m["quantity"].to_string(),
                        m["value"].as_f64().expect("a number"),
                        m["error_sd"].as_f64().expect("a number"),
                    )
                })
                .collect::<Vec<_>>(),
        );
    }
    for other in &answers[1..] {
        assert_eq!(other.len(), answers[0].len());
        for (one, two) in answers[0].iter().zip(other) {
            assert!(one.0 == two.0 && (one.1 - two.1).abs() < 1e-6 && (one.2 - two.2).abs() < 1e-6);
        }
    }
    // The data set's own third number: 2 is seen, 1 hidden.
    let marks: Vec<[f64; 3]> = rows.iter().map(|[x, y, _]| [*x, *y, 2.0]).collect();
    assert!(
        !json(&address(&file("marks", &value!(marks))))["measured"]
            .as_array()
            .expect("a list")
            .is_empty()
    );
}

#[test]
fn readings_flow_into_why_with_their_error() {
    let body = Player::made().seen(CameraView::FaceOn, 0.0);
    let path = file("top", &value!({"keypoints": rows(&body, 0.95)}));
    let arguments = ["frame", &path, "--view", "face-on", "--at", "top"];
    let answer = json(&arguments);
    assert!(
        texts(&answer["not_seen"])
            .iter()
            .any(|text| text.contains("how far shoulders and pelvis turn"))
    );
    let line = answer["why"].as_str().expect("a line").to_owned();
    let words: Vec<&str> = line.split(' ').skip(1).collect();
    let why = json(&words);
    assert_eq!(why["observations"][0]["id"], "trail-arm-overfolds");
    // More error, a weaker ratio.
    let ratio = |words: &str| {
        json(&["why", "--measured", words])["observations"][0]["ratio"]
            .as_f64()
            .expect("a ratio")
    };
    assert!(ratio("trail-elbow-bend-at-top=112+-6") > ratio("trail-elbow-bend-at-top=112+-20"));
    assert!(
        (ratio("trail-elbow-bend-at-top=112") - ratio("trail-elbow-bend-at-top=112+-6")).abs()
            < 1e-9
    );
    let page = run(&[&arguments[..], &["--with", &path, "--width", "80"]].concat());
    assert!(
        page.out.contains("within the error") && page.out.lines().all(|l| l.chars().count() <= 80),
        "{}",
        page.out
    );
}

#[test]
fn what_would_have_to_be_guessed_is_refused() {
    let body = Player::made().seen(CameraView::FaceOn, 0.0);
    let good = rows(&body, 0.9);
    let refuse = |name: &str, content: Value, words: &[&str]| {
        refused(&address(&file(name, &content)), words)
    };
    refuse(
        "none",
        value!(rows(&body, 0.0)),
        &["no point has a confidence"],
    );
    refuse("few", value!(good[..16]), &["16 points", "17"]);
    refuse("flat", value!([1, 2, 3]), &["3 numbers", "51"]);
    let up: Vec<[f64; 3]> = good.iter().map(|[x, y, c]| [*x, 1080.0 - y, *c]).collect();
    refuse("up", value!(up), &["y runs up"]);
    let mut mixed = good.clone();
    mixed.swap(0, 15);
    mixed.swap(5, 13);
    mixed.swap(6, 14);
    refuse("mixed", value!(mixed), &["in this order"]);
    let mut exchanged = good.clone();
    for pair in 0..8 {
        exchanged.swap(2 * pair + 1, 2 * pair + 2);
    }
    refuse("exchanged", value!(exchanged), &["exchanged"]);
    let mut half = good.clone();
    half.swap(5, 6);
    refuse(
        "half",
        value!(half),
        &["left and right are mixed", "shoulders"],
    );
    refuse(
        "two",
        value!([{"keypoints": good}, {"keypoints": good}]),
        &["two people"],
    );
    refuse("nobody", value!({"people": []}), &["nobody"]);
    let shares: Vec<[f64; 3]> = good
        .iter()
        .map(|[x, y, c]| [x / 1920.0, y / 1080.0, *c])
        .collect();
    refuse(
        "shares",
        value!(shares),
        &["shares of the picture", "width"],
    );
    let percent: Vec<[f64; 3]> = good.iter().map(|[x, y, _]| [*x, *y, 90.0]).collect();
    refuse(
        "percent",
        value!(percent),
        &["point 1 (nose)", "between 0 and 1"],
    );
    let mut words: Vec<Value> = good.iter().map(|row| value!(row)).collect();
    words[3][1] = value!("12,5");
    refuse(
        "comma",
        value!(words),
        &["point 4 (left_ear), y", "a point before the decimals"],
    );
    let path = text_file("nan", "[NaN, 1, 2]");
    refused(&address(&path), &["line 1 column", "no NaN"]);
    let path = file("hand", &value!({"keypoints": good, "handed": "left"}));
    refused(&address(&path), &["the hands do not agree"]);
    refused(&address("/nowhere/points.json"), &["could not be read"]);
    let path = text_file("large", &" ".repeat(17 * 1024 * 1024));
    refused(&address(&path), &["larger than 16 MB"]);
}
