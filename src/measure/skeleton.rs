//! Body points of one player in one frame, read from JSON in the order of the COCO data set.
//!
//! 17 points, each with a confidence: nose; left and right eye, ear, shoulder, elbow, wrist, hip, knee,
//! ankle (Lin T-Y. et al. (2014), Microsoft COCO: common objects in context, ECCV). Left and right are
//! the player's own; x runs to the right of the picture and y down.

use serde_json::Value;

/// How many points there are.
pub const POINTS: usize = 17;

/// What the points are called, in their order.
pub const NAMES: [&str; POINTS] = [
    "nose",
    "left_eye",
    "right_eye",
    "left_ear",
    "right_ear",
    "left_shoulder",
    "right_shoulder",
    "left_elbow",
    "right_elbow",
    "left_wrist",
    "right_wrist",
    "left_hip",
    "right_hip",
    "left_knee",
    "right_knee",
    "left_ankle",
    "right_ankle",
];

/// How far two people's marks of one point lie apart, as a share of the root of the player's area:
/// the constants of the data set's own score (from memory).
const SPREAD: [f64; POINTS] = [
    0.026, 0.025, 0.025, 0.035, 0.035, 0.079, 0.079, 0.072, 0.072, 0.062, 0.062, 0.107, 0.107,
    0.087, 0.087, 0.089, 0.089,
];
/// One player who fills a sharp frame is marked better than people in the street: four tenths of that
/// spread. Our choice.
const SHARP: f64 = 0.4;
/// A player's area is about half of the box round the points (the data set's usual share, from memory).
const FILLED: f64 = 0.53;
/// A point of less confidence counts as not there.
const LEAST_CONFIDENCE: f64 = 0.2;
/// A second person this near in size to the largest may be the player.
const AS_LARGE: f64 = 0.6;

/// A point of the picture, in pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// To the right of the picture.
    pub x: f64,
    /// Down.
    pub y: f64,
    /// From 0, not there, to 1.
    pub confidence: f64,
}

/// A player in a frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Skeleton {
    /// In the order of [`NAMES`]; none where the confidence is too low.
    pub points: [Option<Point>; POINTS],
    /// The middle of the ball.
    pub ball: Option<Point>,
    /// How large the ball is from its middle to its edge, in pixels.
    pub ball_radius: Option<f64>,
    /// The clubhead.
    pub clubhead: Option<Point>,
    /// The hands on the grip.
    pub hands: Option<Point>,
    /// `right` or `left`, where the file says which way the player plays.
    pub handed: Option<String>,
}

/// What is wrong with a file of points: where, what, and what to write instead.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{at}: {what}")]
pub struct PointsError {
    /// Where in the file.
    pub at: String,
    /// What is wrong.
    pub what: String,
    /// What to write instead.
    pub help: String,
}

fn wrong(at: impl Into<String>, what: impl Into<String>, help: impl Into<String>) -> PointsError {
    PointsError {
        at: at.into(),
        what: what.into(),
        help: help.into(),
    }
}

impl Skeleton {
    /// Reads one player, or the largest of several.
    ///
    /// Taken: 51 numbers in a row; 17 lists of x, y and confidence; 17 objects with `x`, `y` and
    /// `confidence` or `score`, in any order when they have a `name`; an object that has one of these
    /// under `keypoints`; a list of such objects, or one under `annotations` or `people`.
    ///
    /// # Errors
    ///
    /// Everything that would have to be guessed: another number of points, another order, shares of the
    /// picture without its size, no confidence at all, two people of about one size.
    pub fn read(text: &str) -> Result<Self, PointsError> {
        let root: Value = serde_json::from_str(text).map_err(|error| {
            let at = format!("line {} column {}", error.line(), error.column());
            wrong(
                at,
                "this is not JSON",
                "numbers in digits with a point before the decimals, no NaN, lists in [ ]",
            )
        })?;
        let people = people(&root);
        let mut read = Vec::new();
        for (index, person) in people.iter().enumerate() {
            let at = if people.len() == 1 {
                "keypoints".to_owned()
            } else {
                format!("person {}", index + 1)
            };
            let one = person_of(person, &root, &at)?;
            read.push((one.area(), one));
        }
        read.sort_by(|a, b| b.0.total_cmp(&a.0));
        if let [(largest, _), (next, _), ..] = read.as_slice()
            && *next > AS_LARGE * *largest
        {
            return Err(wrong(
                "people",
                "two people of about the same size, and the player may be either",
                "keep the player's points alone",
            ));
        }
        let nobody = || {
            wrong(
                "people",
                "nobody is in it",
                "write the 17 points of one player",
            )
        };
        let (_, player) = read.into_iter().next().ok_or_else(nobody)?;
        player.check_order()?;
        Ok(player)
    }

    /// The area that the player fills, in square pixels, from the box round the points.
    #[must_use]
    pub fn area(&self) -> f64 {
        let there = || self.points.iter().flatten();
        let reach = |of: fn(&Point) -> f64| {
            let least = there().map(of).fold(f64::INFINITY, f64::min);
            let most = there().map(of).fold(f64::NEG_INFINITY, f64::max);
            (most - least).max(0.0)
        };
        FILLED * reach(|p| p.x) * reach(|p| p.y)
    }

    /// Standard deviation of where a point of this index is, in pixels along each axis:
    /// `0.4 spread sqrt(area) / confidence`.
    #[must_use]
    pub fn spread(&self, index: usize) -> Option<f64> {
        let point = self.points[index]?;
        Some(SHARP * SPREAD[index] * self.area().sqrt() / point.confidence)
    }

    /// Heads are above shoulders, these above hips, knees and ankles, whatever a golfer does.
    fn check_order(&self) -> Result<(), PointsError> {
        let height = |range: std::ops::Range<usize>| {
            let there: Vec<f64> = self.points[range].iter().flatten().map(|p| p.y).collect();
            (!there.is_empty()).then(|| there.iter().sum::<f64>() / there.len() as f64)
        };
        let levels = [0..5, 5..7, 11..13, 13..15, 15..17].map(height);
        let heights: Vec<f64> = levels.into_iter().flatten().collect();
        let down = heights.windows(2).all(|pair| pair[0] < pair[1]);
        let up = heights.windows(2).all(|pair| pair[0] > pair[1]);
        if down || heights.len() < 2 {
            return Ok(());
        }
        Err(if up && heights.len() > 2 {
            wrong(
                "keypoints",
                "the feet are above the head: y runs up",
                "let y run down from the top of the picture",
            )
        } else {
            wrong(
                "keypoints",
                "head, shoulders, hips, knees and ankles do not stand above each other",
                format!("write the points in this order: {}", NAMES.join(", ")),
            )
        })
    }
}

/// Where the people are in a file.
fn people(root: &Value) -> Vec<&Value> {
    for key in ["annotations", "people"] {
        if let Some(list) = root.get(key).and_then(Value::as_array) {
            return list.iter().collect();
        }
    }
    match root.as_array() {
        Some(list)
            if list
                .first()
                .is_some_and(|one| one.get("keypoints").is_some()) =>
        {
            list.iter().collect()
        }
        _ => vec![root],
    }
}

fn person_of(person: &Value, root: &Value, at: &str) -> Result<Skeleton, PointsError> {
    let list = person.get("keypoints").unwrap_or(person);
    let raw = triples(list, at)?;
    let scale = scale(&raw, person, root, at)?;
    let graded = visibility(&raw);
    let mut points = [None; POINTS];
    for (index, [x, y, confidence]) in raw.into_iter().enumerate() {
        let confidence = if graded { confidence / 2.0 } else { confidence };
        if !(0.0..=1.0).contains(&confidence) {
            return Err(wrong(
                format!("{at}, point {} ({})", index + 1, NAMES[index]),
                format!("a confidence of {confidence}"),
                "a confidence lies between 0 and 1",
            ));
        }
        let point = Point {
            x: x * scale[0],
            y: y * scale[1],
            confidence,
        };
        points[index] = (confidence >= LEAST_CONFIDENCE).then_some(point);
    }
    if points.iter().all(Option::is_none) {
        return Err(wrong(
            at,
            "no point has a confidence that counts",
            format!("points of {LEAST_CONFIDENCE} and more are read; take a clearer frame"),
        ));
    }
    let mark = |key: &str| mark(person.get(key).or_else(|| root.get(key)), key, scale);
    let ball = mark("ball")?;
    Ok(Skeleton {
        points,
        ball: ball.map(|(point, _)| point),
        ball_radius: ball.and_then(|(_, radius)| radius),
        clubhead: mark("clubhead")?.map(|(point, _)| point),
        hands: mark("hands")?.map(|(point, _)| point),
        handed: root
            .get("handed")
            .or_else(|| person.get("handed"))
            .and_then(Value::as_str)
            .map(str::to_owned),
    })
}

/// The points as x, y and confidence.
fn triples(list: &Value, at: &str) -> Result<Vec<[f64; 3]>, PointsError> {
    let shapes = "51 numbers, or 17 lists of x, y and confidence";
    let Some(list) = list.as_array() else {
        return Err(wrong(
            at,
            "there is no list of points",
            format!("write {shapes}"),
        ));
    };
    if list.iter().any(|one| one.get("name").is_some()) {
        return by_name(list, at);
    }
    let flat = !list.iter().any(|one| one.is_array() || one.is_object());
    let (count, wanted) = (list.len(), if flat { 3 * POINTS } else { POINTS });
    if count != wanted {
        let what = if flat { "numbers" } else { "points" };
        return Err(wrong(
            at,
            format!("{count} {what}, and there must be {wanted}"),
            format!("write {shapes}, in this order: {}", NAMES.join(", ")),
        ));
    }
    (0..POINTS)
        .map(|index| {
            let at = format!("{at}, point {} ({})", index + 1, NAMES[index]);
            if flat {
                three(&list[3 * index..3 * index + 3], &at)
            } else {
                triple(&list[index], &at)
            }
        })
        .collect()
}

fn three(list: &[Value], at: &str) -> Result<[f64; 3], PointsError> {
    let mut found = [0.0; 3];
    for ((value, into), name) in list.iter().zip(&mut found).zip(["x", "y", "confidence"]) {
        *into = number(value, &format!("{at}, {name}"))?;
    }
    Ok(found)
}

fn triple(point: &Value, at: &str) -> Result<[f64; 3], PointsError> {
    if let Some(list) = point.as_array() {
        if list.len() != 3 {
            return Err(wrong(
                at,
                format!("{} numbers", list.len()),
                "write x, y and confidence",
            ));
        }
        return three(list, at);
    }
    let confidence = ["confidence", "score"]
        .iter()
        .find_map(|key| point.get(*key))
        .unwrap_or(&Value::Null);
    let null = Value::Null;
    let of = |key: &str| point.get(key).unwrap_or(&null).clone();
    three(&[of("x"), of("y"), confidence.clone()], at)
}

fn number(value: &Value, at: &str) -> Result<f64, PointsError> {
    let help = "write a number in digits, with a point before the decimals";
    match value {
        Value::Number(number) => number
            .as_f64()
            .filter(|number| number.is_finite() && number.abs() < 1e6)
            .ok_or_else(|| wrong(at, format!("{number} is not a place in a picture"), help)),
        Value::Null => Err(wrong(at, "there is nothing", help)),
        other => {
            let shown: String = other.to_string().chars().take(40).collect();
            Err(wrong(at, format!("{shown} is not a number"), help))
        }
    }
}

/// Points that say what they are, in any order.
fn by_name(list: &[Value], at: &str) -> Result<Vec<[f64; 3]>, PointsError> {
    let plain = |name: &str| name.to_lowercase().replace([' ', '-'], "_");
    let mut found: [Option<[f64; 3]>; POINTS] = [None; POINTS];
    for (position, point) in list.iter().enumerate() {
        let at = format!("{at}, point {}", position + 1);
        let name = plain(point.get("name").and_then(Value::as_str).unwrap_or(""));
        let Some(index) = NAMES.iter().position(|known| *known == name) else {
            return Err(wrong(
                at,
                format!(
                    "`{}` is not one of the points",
                    name.chars().take(40).collect::<String>()
                ),
                format!("the points are: {}", NAMES.join(", ")),
            ));
        };
        if found[index].replace(triple(point, &at)?).is_some() {
            return Err(wrong(
                at,
                format!("`{name}` stands there twice"),
                "keep one",
            ));
        }
    }
    Ok(found.map(|point| point.unwrap_or([0.0; 3])).to_vec())
}

/// Whether the third number is the data set's own mark: 0 not there, 1 hidden, 2 seen.
fn visibility(raw: &[[f64; 3]]) -> bool {
    let marks = raw.iter().map(|[_, _, mark]| *mark);
    marks
        .clone()
        .all(|mark| mark == 0.0 || mark == 1.0 || mark == 2.0)
        && marks.clone().any(|mark| mark == 2.0)
}

/// What a unit of x and of y is in pixels: shares of the picture need its size.
fn scale(
    raw: &[[f64; 3]],
    person: &Value,
    root: &Value,
    at: &str,
) -> Result<[f64; 2], PointsError> {
    let counted = raw.iter().filter(|[_, _, confidence]| *confidence > 0.0);
    let shares = counted.clone().count() > 0
        && counted
            .clone()
            .all(|[x, y, _]| x.abs() <= 1.5 && y.abs() <= 1.5);
    if !shares {
        return Ok([1.0, 1.0]);
    }
    let size = |key: &str| {
        let value = root.get(key).or_else(|| person.get(key))?.as_f64()?;
        (value > 0.0 && value.is_finite()).then_some(value)
    };
    size("width").zip(size("height")).map(|(w, h)| [w, h]).ok_or_else(|| {
        wrong(
            at,
            "the points are shares of the picture, and its size is not there",
            "write \"width\" and \"height\" of the picture beside the points, or the points in pixels",
        )
    })
}

/// A marked thing: `[x, y]`, `[x, y, confidence]` or `{"x":, "y":, "radius":}`.
fn mark(
    value: Option<&Value>,
    key: &str,
    scale: [f64; 2],
) -> Result<Option<(Point, Option<f64>)>, PointsError> {
    let Some(value) = value.filter(|value| !value.is_null()) else {
        return Ok(None);
    };
    let null = Value::Null;
    let (x, y, confidence, radius) = match value.as_array() {
        Some(list) => (list.first(), list.get(1), list.get(2), None),
        None => (
            value.get("x"),
            value.get("y"),
            value.get("confidence"),
            value.get("radius"),
        ),
    };
    let of = |value: Option<&Value>, name: &str| {
        number(value.unwrap_or(&null), &format!("{key}, {name}"))
    };
    let confidence = match confidence {
        Some(value) => number(value, &format!("{key}, confidence"))?,
        None => 1.0,
    };
    let radius = radius.map(|value| of(Some(value), "radius")).transpose()?;
    if !(0.0..=1.0).contains(&confidence) || radius.is_some_and(|radius| radius <= 0.0) {
        return Err(wrong(
            key,
            "a confidence or a radius that cannot be",
            "a confidence lies between 0 and 1, a radius above 0",
        ));
    }
    let point = Point {
        x: of(x, "x")? * scale[0],
        y: of(y, "y")? * scale[1],
        confidence,
    };
    Ok((confidence >= LEAST_CONFIDENCE).then_some((point, radius.map(|radius| radius * scale[0]))))
}
