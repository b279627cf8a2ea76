//! `fairwhy flight`: some numbers of a strike in, the others and what they amount to out.

use super::context::HandedArg;
use super::output::Output;
use super::timeline::{KeptNumbers, Timeline, TimelineArgs, print_kept, quantity};
use super::{Failure, Globals, layers};
use crate::diagnosis::{ImpactFindings, State, impact_findings, impact_observations, quantities};
use crate::knowledge::KnowledgeBase;
use crate::measure::{
    Club, Curve, Flight, FlightError, Number, ObservedStrike, StrikeSpot, flight, read_number,
};
use crate::report::{flight_json, flight_page};
use clap::{Args, ValueEnum};
use std::fmt::Write as _;
use std::io::Write;

#[derive(Debug, Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  fairwhy flight --start=-3 --curve out --club driver\n  fairwhy flight --face=2 --path=-4 --attack=-1 --loft=13 --handed right"
)]
pub(crate) struct FlightArgs {
    #[command(flatten)]
    ball: BallArgs,
    #[command(flatten)]
    club: ClubArgs,
    /// How far a number may be off, such as face=1; repeatable
    #[arg(long = "error", value_name = "NUMBER=DEG", value_parser = error_of)]
    errors: Vec<(Number, f64)>,
    /// Which way the student plays; the answer then says left and right
    #[arg(long, value_enum)]
    handed: Option<HandedArg>,
    #[command(flatten)]
    whose: TimelineArgs,
}

/// What the ball did.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "The ball; out (away from the player's side) is plus")]
struct BallArgs {
    /// Where it starts, in degrees from the target line
    #[arg(long, value_name = "DEG", value_parser = read_number)]
    start: Option<f64>,
    /// Which way it bends
    #[arg(long, value_enum)]
    curve: Option<CurveArg>,
    /// How far its spin axis leans, in degrees; plus bends it out
    #[arg(long, value_name = "DEG", value_parser = read_number)]
    tilt: Option<f64>,
    /// Where it starts, in yards off the line at the carry
    #[arg(long, value_name = "YARDS", value_parser = read_number)]
    start_yards: Option<f64>,
    /// How far it bends, in yards at the carry
    #[arg(long, value_name = "YARDS", value_parser = read_number)]
    curve_yards: Option<f64>,
    /// How far it flies, in yards
    #[arg(long, value_name = "YARDS", value_parser = read_number)]
    carry: Option<f64>,
    /// Where on the face it was met
    #[arg(long, value_enum)]
    strike: Option<SpotArg>,
}

/// What the club did.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "The club; out and up are plus")]
struct ClubArgs {
    /// Where the face looks, in degrees from the target line
    #[arg(long, value_name = "DEG", value_parser = read_number)]
    face: Option<f64>,
    /// Where the club moves, in degrees from the target line
    #[arg(long, value_name = "DEG", value_parser = read_number)]
    path: Option<f64>,
    /// The face to the path, in degrees; its side may be left to --curve
    #[arg(long, value_name = "DEG", value_parser = read_number)]
    delta: Option<f64>,
    /// Up or down, in degrees
    #[arg(long, value_name = "DEG", value_parser = read_number)]
    attack: Option<f64>,
    /// The loft that the face delivers, in degrees
    #[arg(long, value_name = "DEG", value_parser = read_number)]
    loft: Option<f64>,
    /// The face's share of the start, from 0.61 to 0.83 (left out: by loft)
    #[arg(long, value_name = "SHARE", value_parser = read_number)]
    face_share: Option<f64>,
    /// The lowest point of the arc past the ball, in cm; minus: behind it
    #[arg(long, value_name = "CM", value_parser = read_number)]
    low_point: Option<f64>,
    /// The slope of the swing's plane to the ground, in degrees
    #[arg(long, value_name = "DEG", value_parser = read_number)]
    plane: Option<f64>,
    /// How far the ball lies above the feet, or the toe sits up, in degrees
    #[arg(long, value_name = "DEG", value_parser = read_number)]
    slope: Option<f64>,
    /// With which club, for the loft and attack that are not said
    #[arg(long, value_enum)]
    club: Option<ClubArg>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum CurveArg {
    /// To the player's side
    In,
    /// Not that anyone saw
    None,
    /// Away from the player
    Out,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum SpotArg {
    /// Towards the end of the head
    Toe,
    /// Towards the shaft
    Heel,
    /// Below the centre
    Low,
    /// Above the centre
    High,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ClubArg {
    /// A driver off a tee
    Driver,
    /// A fairway wood or a hybrid
    #[value(aliases = ["fairway-wood", "hybrid", "3-wood", "5-wood"])]
    Wood,
    /// An iron about the middle of the set
    #[value(aliases = ["mid-iron", "5-iron", "6-iron", "7-iron", "8-iron"])]
    Iron,
    /// A wedge
    #[value(aliases = ["pitching-wedge", "gap-wedge", "sand-wedge", "lob-wedge"])]
    Wedge,
}

impl ClubArg {
    /// The same for the room that knows no command line.
    pub(crate) fn club(self) -> Club {
        match self {
            ClubArg::Driver => Club::Driver,
            ClubArg::Wood => Club::Wood,
            ClubArg::Iron => Club::Iron,
            ClubArg::Wedge => Club::Wedge,
        }
    }
}

fn error_of(text: &str) -> Result<(Number, f64), String> {
    let (name, value) = text.split_once('=').ok_or("write it as face=1")?;
    let names = || {
        Number::ALL
            .iter()
            .map(|n| n.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let number =
        Number::parse(name.trim()).ok_or_else(|| format!("the numbers are: {}", names()))?;
    Ok((number, read_number(value)?))
}

pub(crate) fn run(
    args: &FlightArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let given = args.given();
    if given.numbers.is_empty() && given.curve.is_none() && given.strike.is_none() {
        return Err(Failure::NotUnderstood(
            "error: no number was given\n  help: say two of start, curve, face and path, such as: fairwhy flight --start=-3 --curve out --club driver".into(),
        ));
    }
    let answer = flight(&given).map_err(|error| refused(&error))?;
    let whose = args.whose.open(globals)?;
    let base = layers::load(globals)?;
    let findings = impact_findings(&base, &answer);
    // What does not fit is to be looked at again first.
    let sound = answer.contradictions.is_empty();
    let next = sound.then(|| why_line(&base, &answer, &findings)).flatten();
    let handed = args.handed.map(HandedArg::handed);
    let handed = handed.or_else(|| whose.as_ref()?.history.student.handed);
    let kept = whose
        .map(|whose| keep(whose, &base, &given, &answer))
        .transpose()?;
    print_kept(
        kept.as_ref().map(|kept| (&*base, kept)),
        output,
        out,
        || flight_page(&base, &answer, &findings, handed, next.as_deref()),
        || {
            let mut json = flight_json(&base, &answer, &findings);
            json["why"] = next.as_deref().into();
            json
        },
    )?;
    Ok(0)
}

/// Keeps the numbers that were given, and the flight by its name; what was worked out from them is not
/// kept, and neither is what does not fit together.
fn keep(
    whose: Timeline,
    base: &KnowledgeBase,
    given: &ObservedStrike,
    flight: &Flight,
) -> Result<KeptNumbers, Failure> {
    if !flight.contradictions.is_empty() {
        return Err(Failure::NotDone(
            "error: these numbers cannot all be right, and were not kept\n  help: look again without --student at what does not fit".into(),
        ));
    }
    let club = flight
        .club
        .map_or_else(String::new, |club| format!(", {}", club.as_str()));
    let mut numbers = whose.numbers(format!("flight{club}"));
    for seen in impact_observations(base, flight, "flight") {
        if seen.state == State::Seen {
            numbers.take(base, &seen);
        }
    }
    for (number, value) in &given.numbers {
        let error = given.errors.get(number).copied();
        let error = error.unwrap_or_else(|| number.allowance());
        let name = number.quantity().unwrap_or(number.as_str());
        numbers
            .measured
            .push(quantity(name, *value, number.unit(), error));
    }
    whose.keep(&numbers)
}

fn refused(error: &FlightError) -> Failure {
    let help = match error {
        FlightError::Impossible(_) => {
            "degrees from the target line, out and up are plus; minus is written as --path=-4"
        }
        FlightError::BadError { .. } => {
            "an error is 0 or more, for a number that is given, such as: --face=2 --error face=1"
        }
        FlightError::Without(..) => "give both, such as: --curve-yards=20 --carry=200",
        FlightError::Twice(..) => "give degrees, or yards with --carry",
        FlightError::CurveSide(_) => "leave the sign out, or leave --curve out; plus bends out",
        FlightError::Together { .. } => {
            "one of them was misread, or has the wrong sign; out and up are plus"
        }
        FlightError::Unreachable { .. } | FlightError::FromBelow { .. } => {
            "look at the loft and the attack again, or say the club with --club"
        }
    };
    Failure::NotUnderstood(format!("error: {error}\n  help: {help}"))
}

/// The findings as a command: the flight by its name, and the club's numbers that were read. What was
/// worked out from them would be the same thing twice.
fn why_line(base: &KnowledgeBase, flight: &Flight, findings: &ImpactFindings) -> Option<String> {
    let mut line = String::from("fairwhy why");
    let mut any = false;
    for finding in &findings.amounts_to {
        if finding.number.is_none() && finding.reported {
            let _ = write!(line, " {}", base.condition(finding.condition).id);
            any = true;
        }
    }
    for quantity in quantities(base, flight) {
        let _ = write!(line, " --measured {quantity}");
        any = true;
    }
    match flight.club {
        Some(Club::Driver) => line.push_str(" --shot driver"),
        Some(Club::Iron) => line.push_str(" --shot iron"),
        _ => {}
    }
    any.then_some(line)
}

impl CurveArg {
    fn curve(self) -> Curve {
        match self {
            CurveArg::In => Curve::In,
            CurveArg::None => Curve::None,
            CurveArg::Out => Curve::Out,
        }
    }
}

impl SpotArg {
    fn spot(self) -> StrikeSpot {
        match self {
            SpotArg::Toe => StrikeSpot::Toe,
            SpotArg::Heel => StrikeSpot::Heel,
            SpotArg::Low => StrikeSpot::Low,
            SpotArg::High => StrikeSpot::High,
        }
    }
}

impl FlightArgs {
    fn given(&self) -> ObservedStrike {
        let (ball, club) = (&self.ball, &self.club);
        let numbers = [
            (Number::Start, ball.start),
            (Number::Tilt, ball.tilt),
            (Number::StartYards, ball.start_yards),
            (Number::CurveYards, ball.curve_yards),
            (Number::Carry, ball.carry),
            (Number::Face, club.face),
            (Number::Path, club.path),
            (Number::Delta, club.delta),
            (Number::Attack, club.attack),
            (Number::Loft, club.loft),
            (Number::FaceShare, club.face_share),
            (Number::LowPoint, club.low_point),
            (Number::Plane, club.plane),
            (Number::Slope, club.slope),
        ];
        ObservedStrike {
            numbers: numbers
                .into_iter()
                .filter_map(|(n, v)| Some((n, v?)))
                .collect(),
            errors: self.errors.iter().copied().collect(),
            curve: ball.curve.map(CurveArg::curve),
            strike: ball.strike.map(SpotArg::spot),
            club: club.club.map(ClubArg::club),
        }
    }
}
