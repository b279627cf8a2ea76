//! What the numbers of a strike amount to, by what the library says of each condition.

use super::ReadBy;
use super::observation::{Observation, State};
use super::pairs::measured;
use super::refused::{Malformed, Trouble};
use crate::inference::{Measurement, Side as Outside, chance_outside};
use crate::knowledge::{Condition, ConditionKey, Impact, KnowledgeBase, Measure, Shot, Side};
use crate::measure::{Club, Flight, Number, ObservedStrike, Range, flight, possible, read_number};

/// A condition that the numbers amount to.
#[derive(Clone, Debug, PartialEq)]
pub struct ImpactFinding {
    /// Which.
    pub condition: ConditionKey,
    /// The number that shows it, with what was read; none where several numbers together do.
    pub number: Option<(Number, Range)>,
    /// Whether what it rests on was reported, and not worked out from the rest.
    pub reported: bool,
}

/// What a flight amounts to, each list in the library's order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ImpactFindings {
    /// What it amounts to.
    pub amounts_to: Vec<ImpactFinding>,
    /// What it may be, at the ends of the ranges.
    pub may_be: Vec<ConditionKey>,
    /// What it cannot be.
    pub ruled_out: Vec<ConditionKey>,
}

/// How a range lies to a condition.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Lies {
    Outside,
    AtTheEdge,
    Within,
}

/// What the numbers amount to: conditions whose `measure` is one of them and lies outside its sound
/// range, and conditions whose `impact` holds.
#[must_use]
pub fn impact_findings(base: &KnowledgeBase, flight: &Flight) -> ImpactFindings {
    let mut found = ImpactFindings::default();
    for key in base.condition_keys() {
        let condition = base.condition(key);
        if condition.retired_for.is_some() {
            continue;
        }
        let Some((lies, number)) = judged(condition, flight) else {
            continue;
        };
        match lies {
            Lies::Within => found.amounts_to.push(ImpactFinding {
                condition: key,
                number,
                reported: is_reported(condition, number.map(|(number, _)| number), flight),
            }),
            Lies::AtTheEdge => found.may_be.push(key),
            Lies::Outside => found.ruled_out.push(key),
        }
    }
    found
}

fn judged(condition: &Condition, flight: &Flight) -> Option<(Lies, Option<(Number, Range)>)> {
    if let Some(measure) = &condition.measure
        && let Some(number) = number_of(measure, flight.club)
    {
        let range = flight.number(number)?;
        return Some((shows(measure, range), Some((number, range))));
    }
    Some((holds(condition.impact.as_ref()?, flight)?, None))
}

/// The number that a library's quantity is, a club at its end allowed.
fn number_of(measure: &Measure, club: Option<Club>) -> Option<Number> {
    Number::ALL.iter().copied().find(|number| {
        let Some(rest) = number
            .quantity()
            .and_then(|name| measure.quantity.strip_prefix(name))
        else {
            return false;
        };
        let of = rest.strip_prefix('-');
        rest.is_empty() || club.is_some_and(|club| of == Some(club.as_str()))
    })
}

fn shows(measure: &Measure, range: Range) -> Lies {
    let [low, high] = measure.sound;
    let (below, above) = (measure.side != Side::Above, measure.side != Side::Below);
    let outside = |value: f64| (below && value < low) || (above && value > high);
    if outside(range.value) {
        Lies::Within
    } else if outside(range.low) || outside(range.high) {
        Lies::AtTheEdge
    } else {
        Lies::Outside
    }
}

/// How everything that is said of a condition lies; none when one of it is not known and the rest
/// does not rule it out.
fn holds(impact: &Impact, flight: &Flight) -> Option<Lies> {
    let number = |wanted: Option<[f64; 2]>, known: Option<Range>| {
        wanted.map(|wanted| known.map(|known| inside(wanted, known)))
    };
    let strike = impact.strike.map(|spot| {
        let met = flight.strike?;
        Some(if met.as_str() == spot.as_str() {
            Lies::Within
        } else {
            Lies::Outside
        })
    });
    let parts = [
        number(impact.start, flight.start),
        number(impact.tilt, flight.tilt),
        strike,
    ];
    let said: Vec<Option<Lies>> = parts.into_iter().flatten().collect();
    if said.contains(&Some(Lies::Outside)) {
        return Some(Lies::Outside);
    }
    said.into_iter()
        .collect::<Option<Vec<_>>>()?
        .into_iter()
        .min()
}

fn inside([low, high]: [f64; 2], range: Range) -> Lies {
    if (low..=high).contains(&range.value) {
        Lies::Within
    } else if range.high < low || range.low > high {
        Lies::Outside
    } else {
        Lies::AtTheEdge
    }
}

/// Whether a finding rests on what was reported.
fn is_reported(condition: &Condition, number: Option<Number>, flight: &Flight) -> bool {
    let any = |numbers: &[Number]| numbers.iter().any(|n| flight.reported.contains(n));
    match number {
        Some(Number::Delta) => any(&[Number::Delta]) || both(flight),
        Some(number) => any(&[number]),
        None => condition.impact.as_ref().is_some_and(|impact| {
            let start = impact.start.is_none() || any(&[Number::Start, Number::StartYards]);
            let tilt = impact.tilt.is_none()
                || any(&[Number::Tilt, Number::CurveYards])
                || flight.curve.is_some();
            start && tilt
        }),
    }
}

fn both(flight: &Flight) -> bool {
    [Number::Face, Number::Path]
        .iter()
        .all(|number| flight.reported.contains(number))
}

/// Findings as observations that do not count one thing twice: a flight that was seen by its name, and
/// club numbers that were read; what was worked out from these says nothing new.
///
/// `given` is how they were put.
#[must_use]
pub fn impact_observations(base: &KnowledgeBase, flight: &Flight, given: &str) -> Vec<Observation> {
    let mut found = Vec::new();
    for finding in impact_findings(base, flight).amounts_to {
        if finding.number.is_none() && finding.reported {
            found.push(Observation {
                given: given.to_owned(),
                condition: finding.condition,
                state: State::Seen,
                read_by: ReadBy::Measure,
                perhaps: Vec::new(),
            });
        }
    }
    for typed in quantities(base, flight) {
        found.extend(measured(base, &typed).unwrap_or_default());
    }
    found
}

/// Numbers that were reported and that the library measures, each as `quantity=value`.
#[must_use]
pub fn quantities(base: &KnowledgeBase, flight: &Flight) -> Vec<String> {
    let mut typed: Vec<String> = Vec::new();
    for condition in base.conditions.iter().filter(|c| c.retired_for.is_none()) {
        let Some(measure) = &condition.measure else {
            continue;
        };
        let Some(number) = number_of(measure, flight.club) else {
            continue;
        };
        if let Some(range) = flight.number(number)
            && is_reported(condition, Some(number), flight)
        {
            // A tenth of a degree is more than any reading holds.
            let value = (range.value * 100.0).round() / 100.0;
            let one = format!("{}={value}", measure.quantity);
            if !typed.contains(&one) {
                typed.push(one);
            }
        }
    }
    typed
}

/// A number of a strike, typed as `name=value`; none where the library has a quantity of that name, or
/// where it is no such number.
pub(super) fn number_typed(base: &KnowledgeBase, words: &str) -> Option<(Number, String)> {
    let (name, rest) = words.split_once('=')?;
    let name = name.trim();
    let known = |c: &Condition| c.measure.as_ref().is_some_and(|m| m.quantity == name);
    if base.conditions.iter().any(known) {
        return None;
    }
    let number = Number::parse(name).or_else(|| {
        let all = Number::ALL.iter().copied();
        all.into_iter()
            .find(|number| number.quantity() == Some(name))
    })?;
    let rest = rest.trim();
    let value = rest.strip_suffix(number.unit()).unwrap_or(rest).trim();
    Some((number, value.to_owned()))
}

/// Numbers of a strike, read together.
pub(super) fn numbers(
    base: &KnowledgeBase,
    shot: Option<Shot>,
    typed: &[(Number, String, String)],
) -> Result<Vec<Observation>, Trouble> {
    let mut given = ObservedStrike {
        club: shot.and_then(club_of),
        ..ObservedStrike::default()
    };
    let malformed = |words: &str, why: String| Trouble::Malformed {
        words: words.to_owned(),
        why: Malformed::Number(why),
    };
    for (number, value, words) in typed {
        let value = read_number(value).map_err(|help| malformed(words, help))?;
        possible(*number, value).map_err(|help| malformed(words, help))?;
        if given.numbers.insert(*number, value).is_some() {
            return Err(malformed(
                words,
                "this number was given twice; keep one".into(),
            ));
        }
    }
    let words: Vec<&str> = typed.iter().map(|(_, _, words)| words.as_str()).collect();
    let words = words.join(", ");
    let flight = flight(&given).map_err(|error| malformed(&words, error.to_string()))?;
    let found = impact_observations(base, &flight, &words);
    if found.is_empty() {
        let help = "by itself this amounts to nothing the library knows; say more of start and tilt, or of face and path";
        return Err(malformed(&words, help.to_owned()));
    }
    Ok(found)
}

/// The conditions that a quantity's value shows, with the chance that it lies outside their sound range
/// when the reading has this standard deviation; likeliest first.
#[must_use]
pub fn shown_by(
    base: &KnowledgeBase,
    quantity: &str,
    value: f64,
    error_sd: f64,
) -> Vec<(ConditionKey, f64)> {
    let mut found: Vec<(ConditionKey, f64)> = base
        .condition_keys()
        .filter_map(|key| {
            let condition = base.condition(key);
            let measure = condition.measure.as_ref()?;
            if measure.quantity != quantity || condition.retired_for.is_some() {
                return None;
            }
            let reading = Measurement {
                value,
                error: error_sd,
                low: measure.sound[0],
                high: measure.sound[1],
                side: match measure.side {
                    Side::Below => Outside::Below,
                    Side::Above => Outside::Above,
                    Side::Outside => Outside::Either,
                },
            };
            Some((key, chance_outside(&reading).ok()?))
        })
        .collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    found
}

/// The club that a shot is played with, where its name says so.
fn club_of(shot: Shot) -> Option<Club> {
    match shot {
        Shot::Driver => Some(Club::Driver),
        Shot::Iron => Some(Club::Iron),
        _ => None,
    }
}
