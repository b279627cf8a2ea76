//! What follows from the numbers of a strike.

use super::page::Page;
use crate::diagnosis::ImpactFindings;
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::Handed;
use crate::measure::{Caveat, Contradiction, Curve, Flight, Number, Range, StrikeSpot};
use serde_json::{Value, json};

/// The flight for a person: numbers, what they amount to and rule out, what does not fit.
///
/// `next` is how to go on, in the words of the door.
#[must_use]
pub fn flight_page(
    base: &KnowledgeBase,
    flight: &Flight,
    findings: &ImpactFindings,
    handed: Option<Handed>,
    next: Option<&str>,
) -> Page {
    let sides = SideNames(handed);
    let mut rows = sided_rows(flight, sides);
    rows.extend(plain_rows(flight));
    let mut page = Page::new();
    page.heading("What follows, in degrees")
        .grid(["", "Figure", "Between", "From"], rows);
    let amounts = findings.amounts_to.iter();
    page.heading("What it amounts to");
    if amounts.len() == 0 {
        page.text("Nothing that the library has a name for.");
    }
    page.bullets(amounts.map(|finding| named(base, finding.condition)));
    let at_the_ends = "At the ends of these ranges it may also be";
    list(&mut page, base, at_the_ends, &findings.may_be);
    list(&mut page, base, "It is not", &findings.ruled_out);
    page.heading_if(!flight.contradictions.is_empty(), "What does not fit");
    for contradiction in &flight.contradictions {
        page.warning(contradiction_words(contradiction, sides));
    }
    page.bullets_under("Bear in mind", notes(flight, sides));
    if let Some(next) = next {
        page.heading("To go on").text(next);
    }
    page
}

fn list(page: &mut Page, base: &KnowledgeBase, start: &str, keys: &[ConditionKey]) {
    if keys.is_empty() {
        return;
    }
    let names: Vec<&str> = keys
        .iter()
        .map(|key| base.condition(*key).name.as_str())
        .collect();
    page.text(format!("{start}: {}.", names.join("; ").to_lowercase()));
}

fn named(base: &KnowledgeBase, key: ConditionKey) -> String {
    let condition = base.condition(key);
    format!("{} ({})", condition.name, condition.id)
}

/// How out and in are called: by the hand, where it is known.
#[derive(Clone, Copy)]
struct SideNames(Option<Handed>);

impl SideNames {
    fn of(self, value: f64) -> &'static str {
        match (self.0, value > 0.0) {
            (None, true) => "out",
            (None, false) => "in",
            (Some(Handed::Right), true) | (Some(Handed::Left), false) => "right",
            (Some(Handed::Right), false) | (Some(Handed::Left), true) => "left",
        }
    }
}

/// The words for both ways of a number.
type Ways = fn(SideNames, bool) -> &'static str;

fn across(sides: SideNames, plus: bool) -> &'static str {
    sides.of(if plus { 1.0 } else { -1.0 })
}

fn open(_: SideNames, plus: bool) -> &'static str {
    if plus { "open" } else { "closed" }
}

fn up(_: SideNames, plus: bool) -> &'static str {
    if plus { "up" } else { "down" }
}

/// `2.2 in`, or `0.0`.
fn figure(value: f64, sides: SideNames, ways: Ways) -> String {
    let size = format!("{:.1}", value.abs());
    if size == "0.0" {
        return size;
    }
    format!("{size} {}", ways(sides, value > 0.0))
}

fn between(range: Range, sides: SideNames, ways: Ways) -> String {
    let (low, high) = (
        figure(range.low, sides, ways),
        figure(range.high, sides, ways),
    );
    if low == high {
        return String::new();
    }
    // From the smaller to the larger, as one says it.
    if range.high <= 0.0 {
        format!("{high} and {low}")
    } else {
        format!("{low} and {high}")
    }
}

/// Where a number comes from: whoever reported it, or else what it follows from.
fn from<'a>(flight: &Flight, numbers: &[Number], follows: &'a str) -> &'a str {
    let said = numbers.iter().any(|n| flight.reported.contains(n));
    if said { "reported" } else { follows }
}

fn sided_rows(flight: &Flight, sides: SideNames) -> Vec<[String; 4]> {
    use Number::{Attack, CurveYards, Delta, Face, Path, Start, StartYards, Tilt};
    type Row<'a> = (&'a str, Option<Range>, Ways, &'a [Number], &'a str);
    let numbers: [Row<'_>; 6] = [
        (
            "Starts",
            flight.start,
            across,
            &[Start, StartYards],
            "face and path",
        ),
        (
            "Spin axis leans",
            flight.tilt,
            across,
            &[Tilt, CurveYards],
            "face to path, loft",
        ),
        ("Face", flight.face, across, &[Face], "worked out"),
        ("Path", flight.path, across, &[Path], "worked out"),
        ("Face to path", flight.delta, open, &[Delta], "worked out"),
        (
            "Attack",
            Some(flight.attack),
            up,
            &[Attack],
            arc_or_club(flight),
        ),
    ];
    let numbers = numbers.into_iter();
    let rows = numbers.filter_map(|(name, range, ways, numbers, follows)| {
        let range = range?;
        Some([
            name.to_owned(),
            figure(range.value, sides, ways),
            between(range, sides, ways),
            from(flight, numbers, follows).to_owned(),
        ])
    });
    rows.collect()
}

/// What has no side.
fn plain_rows(flight: &Flight) -> [[String; 4]; 2] {
    let row = |name: &str, [figure, ends]: [String; 2], number, follows| {
        let from = from(flight, &[number], follows);
        [name.to_owned(), figure, ends, from.to_owned()]
    };
    let [loft, share] = [(flight.loft, 1.0, ""), (flight.share, 100.0, " %")]
        .map(|(range, scale, unit)| plain(range, scale, unit));
    [
        row("Loft", loft, Number::Loft, "the club"),
        row("Face's share of start", share, Number::FaceShare, "loft"),
    ]
}

/// A figure without a side, and between what it lies; empty where it is known.
fn plain(range: Range, scale: f64, unit: &str) -> [String; 2] {
    let [value, low, high] = [range.value, range.low, range.high].map(|of| of * scale);
    let ends = format!("{low:.0} and {high:.0}{unit}");
    let known = range.low == range.high;
    [
        format!("{value:.0}{unit}"),
        if known { String::new() } else { ends },
    ]
}

fn arc_or_club(flight: &Flight) -> &'static str {
    if flight.path_shift.is_some() {
        "low point, plane"
    } else {
        "the club"
    }
}

fn contradiction_words(contradiction: &Contradiction, sides: SideNames) -> String {
    match contradiction {
        Contradiction::Number {
            number,
            reported,
            implied,
        } => {
            let (name, ways): (&str, Ways) = match number {
                Number::Start => ("a start", across),
                Number::Tilt => ("a lean of the spin axis", across),
                Number::Attack => ("an attack", up),
                other => (other.as_str(), across),
            };
            format!(
                "{name} of {} was reported, and the other numbers make it {}",
                figure(*reported, sides, ways),
                figure(implied.value, sides, ways)
            )
        }
        Contradiction::Curve { reported, implied } => {
            let curve = match reported {
                Curve::In => format!("a curve {}", sides.of(-1.0)),
                Curve::Out => format!("a curve {}", sides.of(1.0)),
                Curve::None => "no curve".to_owned(),
            };
            format!(
                "{curve} was reported, and the other numbers lean the spin axis {}",
                figure(implied.value, sides, across)
            )
        }
    }
}

fn notes(flight: &Flight, sides: SideNames) -> Vec<String> {
    let mut notes: Vec<String> = flight
        .notes
        .iter()
        .map(|note| note_words(*note, flight))
        .collect();
    if let Some(aim) = flight.plane_aim {
        notes.push(format!(
            "The arc alone sends the path {}, so the plane itself is aimed {}.",
            figure(
                flight.path_shift.map_or(0.0, |shift| shift.value),
                sides,
                across
            ),
            figure(aim.value, sides, across)
        ));
    }
    if let Some(turn) = flight.slope_turn {
        notes.push(format!(
            "The slope, or a club that does not sit level, turns the face {} by itself.",
            figure(turn.value, sides, across)
        ));
    }
    notes
}

fn note_words(note: Caveat, flight: &Flight) -> String {
    match note {
        Caveat::ClubTaken => "No club or loft was said, so a mid-iron's is taken; the same spin leans further with less loft.".into(),
        Caveat::CurveWithoutSize => "How much it bends was not said: the face is taken as 4 degrees from the path, between 2 and 8.".into(),
        Caveat::PlaneOnLine => "The path is what the low point gives if the plane of the swing lies along the target line.".into(),
        Caveat::DeepHeadTurns => format!(
            "A {} strike turns the head of a wood: by itself it starts the ball to that side and bends it back. Centre the strike before you mend face or path.",
            flight.strike.map_or("", StrikeSpot::as_str)
        ),
        Caveat::ShallowHeadTurns => "Off the centre of an iron the ball bends little, but it loses speed and leaks to the side of the strike.".into(),
        Caveat::SpinOfHeight => "A strike low on the face adds spin, one high on it takes some away; it says nothing of face and path.".into(),
        Caveat::OneMore => "One more of face, path, start or curve would settle the rest.".into(),
    }
}

/// The flight for a program: the keys of `docs/commands.md`; what does not follow is null.
#[must_use]
pub fn flight_json(base: &KnowledgeBase, flight: &Flight, findings: &ImpactFindings) -> Value {
    let range = |range: Option<Range>| {
        range.map(|r| json!({"value": r.value, "low": r.low, "high": r.high}))
    };
    let id = |key: &ConditionKey| base.condition(*key).id.as_str();
    let contradictions: Vec<String> = flight
        .contradictions
        .iter()
        .map(|contradiction| contradiction_words(contradiction, SideNames(None)))
        .collect();
    json!({
        "face": range(flight.face),
        "path": range(flight.path),
        "start": range(flight.start),
        "tilt": range(flight.tilt),
        "delta": range(flight.delta),
        "attack": range(Some(flight.attack)),
        "loft": range(Some(flight.loft)),
        "face_share": range(Some(flight.share)),
        "path_shift": range(flight.path_shift),
        "plane_aim": range(flight.plane_aim),
        "slope_turn": range(flight.slope_turn),
        "findings": findings.amounts_to.iter().map(|f| id(&f.condition)).collect::<Vec<_>>(),
        "may_be": findings.may_be.iter().map(id).collect::<Vec<_>>(),
        "ruled_out": findings.ruled_out.iter().map(id).collect::<Vec<_>>(),
        "contradictions": contradictions,
        "notes": notes(flight, SideNames(None)),
    })
}
