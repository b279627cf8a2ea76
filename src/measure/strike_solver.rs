//! From some numbers of a strike to the others: forwards from club to ball, and back.
//!
//! With `s` the face's share of the start, `delta` the face to the path:
//!
//! ```text
//! start = path + s delta        face = start + (1 - s) delta        path = start - s delta
//! ```
//!
//! (Wood, Henrikson and Broadie 2018 for the share), and `delta` from the tilt of the spin axis by
//! [`face_to_path`](super::collision::face_to_path). Every number carries a range; what is not said comes from [`Club`].

use super::arc;
use super::collision::reachable;
use super::contradictions::{ByTheClub, contradictions};
use super::range::Range;
use super::strike::{Caveat, Club, Curve, Flight, FlightError, ObservedStrike};
use super::strike_number::Number;
use super::swing::{Off, Swing};

/// A curve of no stated size is taken as a face four degrees from the path, between two and eight: a
/// mild and a wild one. Our choice.
const CURVE_SIZE: [f64; 3] = [2.0, 4.0, 8.0];
/// How far the face may be from the path before somebody sees a curve. Our choice.
const UNSEEN: f64 = 1.0;

/// Everything that follows from what is given, with a range for each.
///
/// # Errors
///
/// [`FlightError`]; reports that contradict each other are no error, and are in the answer.
///
/// ```
/// use fairwhy::measure::{Curve, Number, ObservedStrike, flight};
/// // Starts three in, bends out, face four open to the path, four fifths the face's.
/// let given = ObservedStrike {
///     numbers: [(Number::Start, -3.0), (Number::Delta, 4.0), (Number::FaceShare, 0.8)].into(),
///     curve: Some(Curve::Out),
///     ..ObservedStrike::default()
/// };
/// let flight = flight(&given)?;
/// assert!((flight.face.unwrap().value + 2.2).abs() < 1e-9);
/// assert!((flight.path.unwrap().value + 6.2).abs() < 1e-9);
/// # Ok::<(), fairwhy::measure::FlightError>(())
/// ```
pub fn flight(given: &ObservedStrike) -> Result<Flight, FlightError> {
    given.check()?;
    let mut notes = Vec::new();
    let club = given.club.unwrap_or(Club::Iron);
    let swing = Swing::of(given, club, &mut notes)?;
    let off = Off::centre(given, club, &mut notes);
    let reported_tilt = given.tilt(swing.loft.value);
    if let Some(lean) = reported_tilt
        && !reachable(
            lean.value - off.tilt.value,
            swing.loft.value,
            swing.attack.value,
        )
    {
        return Err(FlightError::Unreachable {
            tilt: lean.value,
            loft: swing.loft.value,
            attack: swing.attack.value,
        });
    }
    let start = given.start();
    let core_start = start.map(|start| start - swing.share.times(off.bulge));
    let said = given.delta_said(&swing, reported_tilt, off.tilt);
    let FaceAndPath {
        mut face,
        mut path,
        mut delta,
        seen,
    } = settle(given, &swing, core_start, said, &mut notes);
    for (number, found) in [
        (Number::Face, &mut face),
        (Number::Path, &mut path),
        (Number::Delta, &mut delta),
    ] {
        *found = found.map(|range| sane(number, range)).transpose()?;
    }
    let shift = swing.arc.map(|(_, shift)| shift);
    let path_if_on_line = path.is_none() && shift.is_some();
    if path_if_on_line {
        notes.push(Caveat::PlaneOnLine);
        path = shift;
        face = face.or_else(|| delta.zip(path).map(|(delta, path)| path + delta));
    }
    let implied = ByTheClub {
        tilt: seen.or_else(|| Some((swing.tilt_of(delta?) + off.tilt).held_within(-90.0, 90.0))),
        start: swing.start_of(face, path.filter(|_| !path_if_on_line), off.bulge),
    };
    let mut flight = Flight {
        start: start.or(implied.start),
        tilt: reported_tilt.or(implied.tilt),
        face,
        path,
        delta,
        attack: swing.attack,
        loft: swing.loft,
        share: swing.share,
        low_point: given.numbers.get(&Number::LowPoint).copied(),
        path_shift: shift,
        plane_aim: given
            .range(Number::Path)
            .zip(shift)
            .map(|(path, shift)| path - shift),
        slope_turn: given.range(Number::Slope).map(|slope| {
            Range::of([slope, swing.loft], |[slope, loft]| {
                arc::face_turn(slope, loft)
            })
        }),
        curve: given.curve,
        strike: given.strike,
        club: given.club,
        reported: given.numbers.keys().copied().collect(),
        attack_known: swing.arc.is_some() || given.numbers.contains_key(&Number::Attack),
        path_if_on_line,
        notes,
        contradictions: Vec::new(),
    };
    flight.contradictions = contradictions(given, &swing, implied, reported_tilt);
    Ok(flight)
}

/// A number that was worked out, held within what is possible.
fn sane(number: Number, range: Range) -> Result<Range, FlightError> {
    let [low, high] = number.possible();
    if (low..=high).contains(&range.value) {
        return Ok(range.held_within(low, high));
    }
    Err(FlightError::Together {
        number,
        value: range.value,
    })
}

/// How far the face is from the path, as a number or as a curve's word says it.
#[derive(Clone, Copy)]
struct DeltaSaid {
    delta: Range,
    /// For a curve's word, the tilt that was seen.
    seen: Option<Range>,
}

impl ObservedStrike {
    fn delta_said(&self, swing: &Swing, tilt: Option<Range>, off: Range) -> Option<DeltaSaid> {
        let firm = |delta| Some(DeltaSaid { delta, seen: None });
        match (self.sided(Number::Delta), tilt, self.curve) {
            (_, None, Some(Curve::None)) => {
                // What bends nowhere was, off the centre of a wood, turned back.
                let straight = swing.delta_of(Range::exact(0.0) - off);
                let delta = straight + Range::give_or_take(0.0, UNSEEN);
                let seen = Some(swing.tilt_of(Range::give_or_take(0.0, UNSEEN)));
                Some(DeltaSaid { delta, seen })
            }
            (Some(delta), ..) => firm(delta),
            (None, Some(tilt), _) => firm(swing.delta_of(tilt - off)),
            (None, None, Some(curve)) => {
                let [low, value, high] = CURVE_SIZE;
                let out = Range::between(value, low, high);
                let centred = if curve == Curve::Out {
                    out
                } else {
                    Range::exact(0.0) - out
                };
                let seen = swing.tilt_of(centred);
                let delta = if off == Range::exact(0.0) {
                    centred
                } else {
                    swing.delta_of(seen - off)
                };
                let seen = Some(seen);
                Some(DeltaSaid { delta, seen })
            }
            (None, None, None) => None,
        }
    }
}

/// Face, path and the angle between them, as far as they are known.
struct FaceAndPath {
    face: Option<Range>,
    path: Option<Range>,
    delta: Option<Range>,
    /// The tilt that was seen, where the angle rests on a curve's word.
    seen: Option<Range>,
}

impl FaceAndPath {
    fn of(face: Option<Range>, path: Option<Range>, delta: Option<Range>) -> Self {
        Self {
            face,
            path,
            delta,
            seen: None,
        }
    }
}

/// Face, path and the angle between them, from the two that are best known.
fn settle(
    given: &ObservedStrike,
    swing: &Swing,
    start: Option<Range>,
    said: Option<DeltaSaid>,
    notes: &mut Vec<Caveat>,
) -> FaceAndPath {
    let share = swing.share;
    let (face, path) = (given.range(Number::Face), given.range(Number::Path));
    let vague = said.is_none_or(|said| said.seen.is_some());
    match (face, path, start) {
        (Some(face), Some(path), _) => FaceAndPath::of(Some(face), Some(path), Some(face - path)),
        (Some(face), None, Some(start)) if vague => {
            let delta = Range::of([face, start, share], |[f, b, s]| (f - b) / (1.0 - s));
            let path = Range::of([face, start, share], |[f, b, s]| (b - s * f) / (1.0 - s));
            FaceAndPath::of(Some(face), Some(path), Some(delta))
        }
        (None, Some(path), Some(start)) if vague => {
            let delta = Range::of([path, start, share], |[p, b, s]| (b - p) / s);
            let face = Range::of([path, start, share], |[p, b, s]| p + (b - p) / s);
            FaceAndPath::of(Some(face), Some(path), Some(delta))
        }
        (face, path, start) => {
            let Some(DeltaSaid { delta, seen }) = said else {
                notes.push(Caveat::OneMore);
                return FaceAndPath::of(face, path, None);
            };
            if seen.is_some() && given.curve != Some(Curve::None) {
                notes.push(Caveat::CurveWithoutSize);
            }
            let (face, path) = match (face, path, start) {
                (Some(face), ..) => (Some(face), Some(face - delta)),
                (None, Some(path), _) => (Some(path + delta), Some(path)),
                (None, None, Some(start)) => {
                    let inputs = [start, share, delta];
                    let face = Range::of(inputs, |[b, s, d]| b + (1.0 - s) * d);
                    let path = Range::of(inputs, |[b, s, d]| b - s * d);
                    (Some(face), Some(path))
                }
                (None, None, None) => {
                    notes.push(Caveat::OneMore);
                    (None, None)
                }
            };
            FaceAndPath {
                seen,
                ..FaceAndPath::of(face, path, Some(delta))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::strike::StrikeSpot;
    use super::*;

    fn given(numbers: &[(Number, f64)]) -> ObservedStrike {
        ObservedStrike {
            numbers: numbers.iter().copied().collect(),
            ..ObservedStrike::default()
        }
    }

    fn near(found: Option<Range>, wanted: f64, within: f64) {
        let found = found.expect("it follows").value;
        assert!((found - wanted).abs() <= within, "{found} against {wanted}");
    }

    use Number::{
        Attack, Carry, CurveYards, Delta, Face, FaceShare, Loft, LowPoint, Path, Plane, Start, Tilt,
    };

    /// Rows S7 and S8 forwards, with the share the model gives.
    #[test]
    fn from_club_to_ball() {
        for (face, path, loft, attack, start, tilt) in [
            (2.0, -4.0, 13.0, -1.0, 0.865, 22.8),
            (2.0, 5.0, 12.0, 2.0, 2.56, -16.4),
            (0.0, -6.0, 12.0, 0.0, -1.13, 26.2),
            (3.0, 0.0, 24.0, -4.0, 2.34, 5.80),
            (3.0, 0.0, 45.0, -6.0, 1.92, 2.71),
        ] {
            let flight = flight(&given(&[
                (Face, face),
                (Path, path),
                (Loft, loft),
                (Attack, attack),
            ]))
            .unwrap();
            near(flight.start, start, 0.01);
            near(flight.tilt, tilt, 0.05);
        }
    }

    /// Rows S7 and S8 back (S13): face and path from start and tilt.
    #[test]
    fn from_ball_to_club() {
        for (start, tilt, loft, attack, face, path) in [
            (0.865, 22.8, 13.0, -1.0, 2.00, -3.99),
            (2.56, -16.4, 12.0, 2.0, 1.99, 4.97),
        ] {
            let numbers = [
                (Start, start),
                (Tilt, tilt),
                (Loft, loft),
                (Attack, attack),
                (FaceShare, 0.81),
            ];
            let flight = flight(&given(&numbers)).unwrap();
            near(flight.face, face, 0.03);
            near(flight.path, path, 0.03);
        }
    }

    /// Row S14, and its mirror image.
    #[test]
    fn the_nine_flights() {
        let rows = [
            (-3.0, Curve::In, -3.8, 0.2),
            (-3.0, Curve::None, -3.0, -3.0),
            (-3.0, Curve::Out, -2.2, -6.2),
            (0.0, Curve::In, -0.8, 3.2),
            (0.0, Curve::None, 0.0, 0.0),
            (0.0, Curve::Out, 0.8, -3.2),
            (3.0, Curve::In, 2.2, 6.2),
            (3.0, Curve::None, 3.0, 3.0),
            (3.0, Curve::Out, 3.8, -0.2),
        ];
        for (start, curve, face, path) in rows {
            let one = ObservedStrike {
                curve: Some(curve),
                ..given(&[(Start, start), (Delta, 4.0), (FaceShare, 0.8)])
            };
            let found = flight(&one).unwrap();
            near(found.face, face, 1e-9);
            near(found.path, path, 1e-9);
            let mirrored = ObservedStrike {
                curve: Some(match curve {
                    Curve::In => Curve::Out,
                    Curve::None => Curve::None,
                    Curve::Out => Curve::In,
                }),
                ..given(&[(Start, -start), (Delta, 4.0), (FaceShare, 0.8)])
            };
            let other = flight(&mirrored).unwrap();
            near(other.face, -face, 1e-9);
            near(other.path, -path, 1e-9);
        }
    }

    #[test]
    fn forward_and_back_comes_home() {
        for loft in [9.0, 13.0, 24.0, 50.0] {
            for attack in [-6.0, -1.0, 3.0] {
                for (face, path) in [
                    (2.0, -4.0),
                    (-1.5, 3.0),
                    (0.0, 0.0),
                    (4.0, 4.0),
                    (1e-4, 0.0),
                ] {
                    let fixed = [(Loft, loft), (Attack, attack)];
                    let there = flight(&given(
                        &[&fixed[..], &[(Face, face), (Path, path)]].concat(),
                    ))
                    .unwrap();
                    let (start, tilt) = (there.start.unwrap().value, there.tilt.unwrap().value);
                    let back = flight(&given(
                        &[&fixed[..], &[(Start, start), (Tilt, tilt)]].concat(),
                    ))
                    .unwrap();
                    near(back.face, face, 1e-9);
                    near(back.path, path, 1e-9);
                    for known in [(Face, face), (Path, path)] {
                        let back = flight(&given(&[&fixed[..], &[(Start, start), known]].concat()))
                            .unwrap();
                        near(back.face, face, 1e-9);
                        near(back.path, path, 1e-9);
                    }
                }
            }
        }
    }

    #[test]
    fn yards_count_as_degrees() {
        let flight = flight(&ObservedStrike {
            club: Some(Club::Driver),
            ..given(&[
                (Number::StartYards, -12.2),
                (CurveYards, 28.0),
                (Carry, 234.0),
            ])
        })
        .unwrap();
        near(flight.start, -2.98, 0.01);
        // Row S20: a face three degrees from the path bends a driver by 28 yards.
        near(flight.delta, 3.0, 0.25);
    }

    #[test]
    fn the_arc_gives_attack_and_path() {
        let flight = flight(&given(&[(LowPoint, 10.16), (Plane, 60.0)])).unwrap();
        assert!((flight.attack.value + 3.15).abs() < 0.005);
        near(flight.path, 1.82, 0.005);
        assert!(flight.path_if_on_line && flight.number(Path).is_none());
        assert!(flight.notes.contains(&Caveat::PlaneOnLine));
    }

    #[test]
    fn what_cannot_both_be_is_named() {
        let numbers = [(Face, 0.0), (Path, -6.0), (Start, 4.0)];
        let found = flight(&ObservedStrike {
            curve: Some(Curve::In),
            ..given(&numbers)
        })
        .unwrap();
        assert_eq!(found.contradictions.len(), 2, "{:?}", found.contradictions);
        let agreed = flight(&ObservedStrike {
            curve: Some(Curve::Out),
            ..given(&numbers[..2])
        })
        .unwrap();
        assert!(agreed.contradictions.is_empty());
    }

    /// A heel strike with a wood bends the ball out by itself, so less is the face's.
    #[test]
    fn a_heel_strike_explains_part_of_a_curve() {
        let curve = |strike| {
            let one = ObservedStrike {
                curve: Some(Curve::Out),
                strike,
                club: Some(Club::Driver),
                ..given(&[(Start, 0.0)])
            };
            flight(&one).unwrap().delta.unwrap()
        };
        let (centre, heel) = (curve(None), curve(Some(StrikeSpot::Heel)));
        assert!(heel.value < centre.value && heel.low < 0.0 && heel.high >= centre.high);
    }

    #[test]
    fn slips_are_refused() {
        for (numbers, curve) in [
            (&[(Path, 400.0)][..], None),
            (&[(Start, f64::NAN)], None),
            (&[(FaceShare, 0.9)], None),
            (&[(CurveYards, 10.0)], None),
            (&[(Carry, 200.0)], None),
            (
                &[(Start, 1.0), (Number::StartYards, 1.0), (Carry, 200.0)],
                None,
            ),
            (&[(Delta, -4.0)], Some(Curve::Out)),
            (&[(Loft, 5.0), (Attack, 6.0)], None),
            (&[(Tilt, 79.0), (Loft, 45.0), (Attack, -6.0)], None),
        ] {
            assert!(
                flight(&ObservedStrike {
                    curve,
                    ..given(numbers)
                })
                .is_err(),
                "{numbers:?}"
            );
        }
        let error = [(Face, -1.0)].into();
        assert!(
            flight(&ObservedStrike {
                errors: error,
                ..given(&[(Face, 2.0)])
            })
            .is_err()
        );
    }
}
