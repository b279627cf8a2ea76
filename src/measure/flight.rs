//! From some numbers of a strike to the others: forwards from club to ball, and back.
//!
//! With `s` the face's share of the start, `delta` the face to the path:
//!
//! ```text
//! start = path + s delta        face = start + (1 - s) delta        path = start - s delta
//! ```
//!
//! (Wood, Henrikson and Broadie 2018 for the share), and `delta` from the tilt of the spin axis by
//! [`face_to_path`]. Every number carries a range; what is not said comes from [`Club`].

use super::arc::{self, arc};
use super::impact::{FACE_SHARE, bend, degrees_of, face_share, face_to_path, reachable, tilt};
use super::number::{Number, possible};
use super::range::Range;
use std::collections::BTreeMap;

/// Which way the ball bends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Curve {
    /// To the player's side.
    In,
    /// Not that anyone saw.
    None,
    /// Away from the player.
    Out,
}

/// Where on the face the ball was met, off its centre.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spot {
    /// Towards the end of the head.
    Toe,
    /// Towards the shaft.
    Heel,
    /// Below the centre.
    Low,
    /// Above the centre.
    High,
}

impl Curve {
    /// The curve of that name, if there is one.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        match text {
            "in" => Some(Self::In),
            "none" => Some(Self::None),
            "out" => Some(Self::Out),
            _ => None,
        }
    }
}

impl Spot {
    /// Every place.
    pub const ALL: &'static [Self] = &[Self::Toe, Self::Heel, Self::Low, Self::High];

    /// The place of that name, if there is one.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|spot| spot.as_str() == text)
    }

    /// The word.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Toe => "toe",
            Self::Heel => "heel",
            Self::Low => "low",
            Self::High => "high",
        }
    }
}

/// What sort of club, for what is not said of loft and attack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Club {
    /// A driver off a tee.
    Driver,
    /// A fairway wood or a hybrid.
    Wood,
    /// An iron about the middle of the set.
    Iron,
    /// A wedge.
    Wedge,
}

impl Club {
    /// The club that a table calls so: `driver`, `7-iron`, `3-wood`, `sand wedge`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim().to_lowercase();
        match text.rsplit([' ', '-']).next()? {
            "driver" => Some(Self::Driver),
            "wood" | "hybrid" => Some(Self::Wood),
            "iron" => Some(Self::Iron),
            "wedge" => Some(Self::Wedge),
            _ => None,
        }
    }

    /// As quantities of a library end.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Driver => "driver",
            Self::Wood => "wood",
            Self::Iron => "mid-iron",
            Self::Wedge => "wedge",
        }
    }

    /// Loft delivered: the worked strikes of [`super::impact`] (12, 24, 45), give or take common practice.
    fn loft(self) -> Range {
        match self {
            Self::Driver => Range::give_or_take(12.0, 2.0),
            Self::Wood => Range::give_or_take(15.0, 3.0),
            Self::Iron => Range::give_or_take(24.0, 4.0),
            Self::Wedge => Range::give_or_take(45.0, 5.0),
        }
    }

    /// Attack as coaches find it (common practice), about the worked strikes (0, -4, -6).
    fn attack(self) -> Range {
        match self {
            Self::Driver => Range::between(0.0, -2.0, 5.0),
            Self::Wood => Range::between(-2.0, -3.0, -1.0),
            Self::Iron => Range::between(-4.0, -5.0, -3.0),
            Self::Wedge => Range::between(-6.0, -8.0, -5.0),
        }
    }

    /// Whether the centre of gravity lies deep behind the face, so that the head's turning spins the ball.
    fn is_deep(self) -> bool {
        matches!(self, Self::Driver | Self::Wood)
    }
}

/// What was seen or read; angles in degrees, out and up are plus.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Given {
    /// The numbers.
    pub numbers: BTreeMap<Number, f64>,
    /// By how much a number may be off, in its unit.
    pub errors: BTreeMap<Number, f64>,
    /// Which way the ball bends.
    pub curve: Option<Curve>,
    /// Where on the face it was met.
    pub strike: Option<Spot>,
    /// With which club.
    pub club: Option<Club>,
}

/// Why nothing follows.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FlightError {
    /// A number no strike has.
    #[error("{0}")]
    Impossible(String),
    /// A number and its own error do not fit.
    #[error("an error of {error} for `{}` is not one", .number.as_str())]
    BadError {
        /// The number.
        number: Number,
        /// Its error.
        error: f64,
    },
    /// Yards without the carry they were seen at, or a carry alone.
    #[error("`{}` says nothing without `{}`", .0.as_str(), .1.as_str())]
    Without(Number, Number),
    /// The same thing twice.
    #[error("`{}` and `{}` say the same thing: keep one", .0.as_str(), .1.as_str())]
    Twice(Number, Number),
    /// The curve's word and its number point apart.
    #[error("the curve is said to go one way and `{}` says the other", .0.as_str())]
    CurveSide(Number),
    /// The numbers together make another one impossible.
    #[error("these numbers together make `{}` {value:.0} degrees, which no strike has", .number.as_str())]
    Together {
        /// Which.
        number: Number,
        /// What it would be.
        value: f64,
    },
    /// No face gives that much tilt.
    #[error(
        "a tilt of {tilt} degrees is more than any face gives with a loft of {loft} and an attack of {attack}"
    )]
    Unreachable {
        /// The tilt.
        tilt: f64,
        /// The loft.
        loft: f64,
        /// The attack.
        attack: f64,
    },
    /// The club would meet the ball from below its face.
    #[error("an attack of {attack} degrees with a loft of {loft} meets the ball from below")]
    FromBelow {
        /// The attack.
        attack: f64,
        /// The loft.
        loft: f64,
    },
}

/// What was taken because it was not said, and what to keep in mind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Note {
    /// Loft and attack are a mid-iron's.
    ClubTaken,
    /// A curve without a size: face and path 2 to 8 degrees apart.
    CurveWithoutSize,
    /// The path follows from the arc, if its plane lies along the target line.
    PlaneOnLine,
    /// A strike off the centre of a wood starts the ball to its side and bends it back.
    DeepHeadTurns,
    /// A strike off the centre of an iron bends little; speed and start suffer.
    ShallowHeadTurns,
    /// A strike low on the face adds spin, one high takes some.
    SpinOfHeight,
    /// One more number would settle face and path.
    OneMore,
}

/// Two reports that cannot both be right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Contradiction {
    /// A number, and what the others make of it.
    Number {
        /// Which number.
        number: Number,
        /// As reported.
        reported: f64,
        /// As the rest has it.
        implied: Range,
    },
    /// A curve, and what the others make of it.
    Curve {
        /// As reported.
        reported: Curve,
        /// Tilt as the rest has it.
        implied: Range,
    },
}

/// What follows.
#[derive(Clone, Debug, PartialEq)]
pub struct Flight {
    /// Where the ball starts.
    pub start: Option<Range>,
    /// How the spin axis leans.
    pub tilt: Option<Range>,
    /// Where the face looks.
    pub face: Option<Range>,
    /// Where the club moves.
    pub path: Option<Range>,
    /// The face to the path.
    pub delta: Option<Range>,
    /// Down or up.
    pub attack: Range,
    /// The loft delivered.
    pub loft: Range,
    /// The face's share of the start.
    pub share: Range,
    /// The low point past the ball in cm, as reported.
    pub low_point: Option<f64>,
    /// How far the arc sends the path out of its plane's direction.
    pub path_shift: Option<Range>,
    /// Where the plane is aimed, when path and arc are known.
    pub plane_aim: Option<Range>,
    /// How far the slope alone turns the face.
    pub slope_turn: Option<Range>,
    /// Which way the ball was said to bend.
    pub curve: Option<Curve>,
    /// Where on the face the ball was met.
    pub strike: Option<Spot>,
    /// The club that was said.
    pub club: Option<Club>,
    /// Numbers that were reported.
    pub reported: Vec<Number>,
    /// Whether the attack was reported or follows from the arc.
    pub attack_known: bool,
    /// Whether the path rests on a plane along the target line.
    pub path_if_on_line: bool,
    /// What to keep in mind.
    pub notes: Vec<Note>,
    /// Reports that cannot both be right.
    pub contradictions: Vec<Contradiction>,
}

impl Flight {
    /// The range of a number, where one was reported or follows; the path only where it needs no plane.
    #[must_use]
    pub fn number(&self, number: Number) -> Option<Range> {
        match number {
            Number::Start => self.start,
            Number::Tilt => self.tilt,
            Number::Face => self.face,
            Number::Path => self.path.filter(|_| !self.path_if_on_line),
            Number::Delta => self.delta,
            Number::Attack => Some(self.attack).filter(|_| self.attack_known),
            Number::Loft => Some(self.loft).filter(|_| self.reported.contains(&Number::Loft)),
            Number::LowPoint => self.low_point.map(Range::exact),
            _ => None,
        }
    }
}

/// A curve of no stated size is taken as a face four degrees from the path, between two and eight: a
/// mild and a wild one. Our choice.
const CURVE_SIZE: [f64; 3] = [2.0, 4.0, 8.0];
/// How far the face may be from the path before somebody sees a curve. Our choice.
const UNSEEN: f64 = 1.0;
/// How far the shares of two players differ with one club; no paper gives it, so this is our choice.
const SHARE_SPREAD: f64 = 0.03;
/// A tilt below this bends the ball by less than anyone sees, above the second by more than none.
const SEEN: [f64; 2] = [1.0, 5.0];
/// What a strike half an inch off the centre of a wood adds, as an order of magnitude: tilt from the
/// head's turning (450 to 890 rpm beside 2,800) and start from the bulge (2.4 to 2.9 degrees), own
/// calculation for a rigid body of 4.5e-4 kg m2; from none to all of it, half an inch being a guess.
const TURN: [f64; 3] = [0.0, 9.0, 17.6];
const BULGE: [f64; 3] = [0.0, 1.3, 2.9];

/// Everything that follows from what is given, with a range for each.
///
/// # Errors
///
/// [`FlightError`]; reports that contradict each other are no error, and are in the answer.
///
/// ```
/// use fairwhy::measure::{Curve, Given, Number, flight};
/// // Starts three in, bends out, face four open to the path, four fifths the face's.
/// let given = Given {
///     numbers: [(Number::Start, -3.0), (Number::Delta, 4.0), (Number::FaceShare, 0.8)].into(),
///     curve: Some(Curve::Out),
///     ..Given::default()
/// };
/// let flight = flight(&given)?;
/// assert!((flight.face.unwrap().value + 2.2).abs() < 1e-9);
/// assert!((flight.path.unwrap().value + 6.2).abs() < 1e-9);
/// # Ok::<(), fairwhy::measure::FlightError>(())
/// ```
pub fn flight(given: &Given) -> Result<Flight, FlightError> {
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
    let Settled {
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
        notes.push(Note::PlaneOnLine);
        path = shift;
        face = face.or_else(|| delta.zip(path).map(|(delta, path)| path + delta));
    }
    let implied = Implied {
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

/// Loft, attack and share: said, from the arc, or the club's.
struct Swing {
    loft: Range,
    attack: Range,
    share: Range,
    /// Attack and path shift off the arc.
    arc: Option<(Range, Range)>,
}

impl Swing {
    fn of(given: &Given, club: Club, notes: &mut Vec<Note>) -> Result<Self, FlightError> {
        let arc = given.arc();
        let said = given.range(Number::Loft);
        let loft = said.unwrap_or_else(|| club.loft());
        let attack = given
            .range(Number::Attack)
            .or(arc.map(|(attack, _)| attack))
            .unwrap_or_else(|| club.attack());
        if attack.value >= loft.value {
            return Err(FlightError::FromBelow {
                attack: attack.value,
                loft: loft.value,
            });
        }
        let guessed = given.club.is_none() && said.is_none();
        if guessed {
            notes.push(Note::ClubTaken);
        }
        let share = given.range(Number::FaceShare).unwrap_or_else(|| {
            let value = face_share(loft.value, attack.value);
            if guessed {
                return Range::between(value, FACE_SHARE[0], FACE_SHARE[1]);
            }
            let by_loft = Range::of([loft, attack], |[loft, attack]| face_share(loft, attack));
            Range::between(
                value,
                by_loft.low - SHARE_SPREAD,
                by_loft.high + SHARE_SPREAD,
            )
        });
        Ok(Self {
            loft,
            attack,
            share: share.held_within(FACE_SHARE[0], FACE_SHARE[1]),
            arc,
        })
    }

    fn delta_of(&self, lean: Range) -> Range {
        Range::of([lean, self.loft, self.attack], |[lean, loft, attack]| {
            face_to_path(lean, loft, attack)
        })
    }

    fn start_of(&self, face: Option<Range>, path: Option<Range>, bulge: Range) -> Option<Range> {
        let core = Range::of([face?, path?, self.share], |[f, p, s]| p + s * (f - p));
        Some(core + self.share.times(bulge))
    }

    fn tilt_of(&self, delta: Range) -> Range {
        Range::of([delta, self.loft, self.attack], |[delta, loft, attack]| {
            tilt(delta, loft, attack)
        })
    }
}

/// What a strike off the centre of a deep head adds to tilt and start.
#[derive(Clone, Copy)]
struct Off {
    tilt: Range,
    bulge: Range,
}

impl Off {
    fn centre(given: &Given, club: Club, notes: &mut Vec<Note>) -> Self {
        let side = match given.strike {
            Some(Spot::Toe) => 1.0,
            Some(Spot::Heel) => -1.0,
            other => {
                notes.extend(other.map(|_| Note::SpinOfHeight));
                0.0
            }
        };
        let deep = club.is_deep() && side != 0.0;
        if side != 0.0 {
            notes.push(if deep {
                Note::DeepHeadTurns
            } else {
                Note::ShallowHeadTurns
            });
        }
        let of = |[low, value, high]: [f64; 3], side: f64| {
            let side = if deep { side } else { 0.0 };
            let ends = [low * side, high * side];
            Range::between(value * side, ends[0].min(ends[1]), ends[0].max(ends[1]))
        };
        // A toe strike starts out and bends in.
        Self {
            tilt: of(TURN, -side),
            bulge: of(BULGE, side),
        }
    }
}

/// How far the face is from the path, as a number or as a curve's word says it.
#[derive(Clone, Copy)]
struct Said {
    delta: Range,
    /// For a curve's word, the tilt that was seen.
    seen: Option<Range>,
}

impl Given {
    fn check(&self) -> Result<(), FlightError> {
        for (number, value) in &self.numbers {
            possible(*number, *value).map_err(FlightError::Impossible)?;
        }
        for (number, error) in &self.errors {
            let [low, high] = number.possible();
            if !(0.0..=high - low).contains(error) || !self.numbers.contains_key(number) {
                return Err(FlightError::BadError {
                    number: *number,
                    error: *error,
                });
            }
        }
        self.check_pairs()
    }

    fn check_pairs(&self) -> Result<(), FlightError> {
        use Number::{Carry, CurveYards, Delta, LowPoint, Plane, Start, StartYards, Tilt};
        let has = |number| self.numbers.contains_key(&number);
        for (one, other) in [(StartYards, Carry), (CurveYards, Carry), (LowPoint, Plane)] {
            // A low point is a finding by itself.
            if one != LowPoint && has(one) && !has(other) {
                return Err(FlightError::Without(one, other));
            }
        }
        for (one, other) in [(Carry, CurveYards), (Plane, LowPoint)] {
            if has(one) && !has(other) && !(one == Carry && has(StartYards)) {
                return Err(FlightError::Without(one, other));
            }
        }
        for (one, other) in [(Start, StartYards), (Tilt, CurveYards)] {
            if has(one) && has(other) {
                return Err(FlightError::Twice(one, other));
            }
        }
        // The size of a curve may be said without its sign, and its side by the word.
        for number in [Tilt, CurveYards, Delta] {
            if self.curve == Some(Curve::Out) && self.numbers.get(&number).is_some_and(|n| *n < 0.0)
            {
                return Err(FlightError::CurveSide(number));
            }
        }
        Ok(())
    }

    fn range(&self, number: Number) -> Option<Range> {
        let value = *self.numbers.get(&number)?;
        let error = self.errors.get(&number).copied().unwrap_or(0.0);
        Some(Range::give_or_take(value, error))
    }

    /// A number whose side the curve's word may say.
    fn sided(&self, number: Number) -> Option<Range> {
        let range = self.range(number)?;
        Some(match self.curve {
            Some(Curve::In) if range.value > 0.0 => Range::exact(0.0) - range,
            _ => range,
        })
    }

    fn start(&self) -> Option<Range> {
        self.range(Number::Start).or_else(|| {
            let yards = self.range(Number::StartYards)?;
            let carry = self.range(Number::Carry)?;
            Some(Range::of([yards, carry], |[yards, carry]| {
                degrees_of(yards, carry)
            }))
        })
    }

    fn tilt(&self, loft: f64) -> Option<Range> {
        self.sided(Number::Tilt).or_else(|| {
            let yards = self.sided(Number::CurveYards)?;
            let carry = self.range(Number::Carry)?;
            let [low, high] = bend(loft);
            let by_degree = Range::between((low + high) / 2.0, low, high);
            let tilt = Range::of([yards, carry, by_degree], |[yards, carry, bend]| {
                yards / carry / bend
            });
            Some(tilt.held_within(-80.0, 80.0))
        })
    }

    fn arc(&self) -> Option<(Range, Range)> {
        let (past, plane) = (self.range(Number::LowPoint)?, self.range(Number::Plane)?);
        let [low, value, high] = arc::RADIUS;
        let inputs = [past, plane, Range::between(value, low, high)];
        let attack = Range::of(inputs, |[past, plane, r]| {
            arc(past / 100.0, plane, r).attack
        });
        let shift = Range::of(inputs, |[past, plane, r]| {
            arc(past / 100.0, plane, r).path_shift
        });
        Some((attack, shift))
    }

    fn delta_said(&self, swing: &Swing, tilt: Option<Range>, off: Range) -> Option<Said> {
        let firm = |delta| Some(Said { delta, seen: None });
        match (self.sided(Number::Delta), tilt, self.curve) {
            (_, None, Some(Curve::None)) => {
                // What bends nowhere was, off the centre of a wood, turned back.
                let straight = swing.delta_of(Range::exact(0.0) - off);
                let delta = straight + Range::give_or_take(0.0, UNSEEN);
                let seen = Some(swing.tilt_of(Range::give_or_take(0.0, UNSEEN)));
                Some(Said { delta, seen })
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
                Some(Said { delta, seen })
            }
            (None, None, None) => None,
        }
    }
}

impl Range {
    fn times(self, other: Self) -> Self {
        Range::of([self, other], |[a, b]| a * b)
    }
}

/// Face, path and the angle between them, as far as they are known.
struct Settled {
    face: Option<Range>,
    path: Option<Range>,
    delta: Option<Range>,
    /// The tilt that was seen, where the angle rests on a curve's word.
    seen: Option<Range>,
}

impl Settled {
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
    given: &Given,
    swing: &Swing,
    start: Option<Range>,
    said: Option<Said>,
    notes: &mut Vec<Note>,
) -> Settled {
    let share = swing.share;
    let (face, path) = (given.range(Number::Face), given.range(Number::Path));
    let vague = said.is_none_or(|said| said.seen.is_some());
    match (face, path, start) {
        (Some(face), Some(path), _) => Settled::of(Some(face), Some(path), Some(face - path)),
        (Some(face), None, Some(start)) if vague => {
            let delta = Range::of([face, start, share], |[f, b, s]| (f - b) / (1.0 - s));
            let path = Range::of([face, start, share], |[f, b, s]| (b - s * f) / (1.0 - s));
            Settled::of(Some(face), Some(path), Some(delta))
        }
        (None, Some(path), Some(start)) if vague => {
            let delta = Range::of([path, start, share], |[p, b, s]| (b - p) / s);
            let face = Range::of([path, start, share], |[p, b, s]| p + (b - p) / s);
            Settled::of(Some(face), Some(path), Some(delta))
        }
        (face, path, start) => {
            let Some(Said { delta, seen }) = said else {
                notes.push(Note::OneMore);
                return Settled::of(face, path, None);
            };
            if seen.is_some() && given.curve != Some(Curve::None) {
                notes.push(Note::CurveWithoutSize);
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
                    notes.push(Note::OneMore);
                    (None, None)
                }
            };
            Settled {
                seen,
                ..Settled::of(face, path, Some(delta))
            }
        }
    }
}

/// What the club makes of the ball.
#[derive(Clone, Copy)]
struct Implied {
    start: Option<Range>,
    tilt: Option<Range>,
}

/// What was reported, against what the rest makes of it.
fn contradictions(
    given: &Given,
    swing: &Swing,
    implied: Implied,
    tilt: Option<Range>,
) -> Vec<Contradiction> {
    let mut found = Vec::new();
    let arc = swing.arc.map(|(attack, _)| attack);
    let pairs = [
        (Number::Start, given.start(), implied.start),
        (Number::Tilt, tilt, implied.tilt),
        (Number::Attack, given.range(Number::Attack), arc),
    ];
    for (number, reported, implied) in pairs {
        let Some((reported, implied)) = reported.zip(implied) else {
            continue;
        };
        let error = (reported.high - reported.low) / 2.0;
        if implied.distance(reported.value) > error.max(number.allowance()) {
            found.push(Contradiction::Number {
                number,
                reported: reported.value,
                implied,
            });
        }
    }
    if let Some((reported, implied)) = given.curve.zip(tilt.or(implied.tilt)) {
        let against = match reported {
            Curve::Out => implied.high < SEEN[0],
            Curve::In => implied.low > -SEEN[0],
            Curve::None => implied.low > SEEN[1] || implied.high < -SEEN[1],
        };
        if against {
            found.push(Contradiction::Curve { reported, implied });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn given(numbers: &[(Number, f64)]) -> Given {
        Given {
            numbers: numbers.iter().copied().collect(),
            ..Given::default()
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
            let one = Given {
                curve: Some(curve),
                ..given(&[(Start, start), (Delta, 4.0), (FaceShare, 0.8)])
            };
            let found = flight(&one).unwrap();
            near(found.face, face, 1e-9);
            near(found.path, path, 1e-9);
            let mirrored = Given {
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
        let flight = flight(&Given {
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
        assert!(flight.notes.contains(&Note::PlaneOnLine));
    }

    #[test]
    fn what_cannot_both_be_is_named() {
        let numbers = [(Face, 0.0), (Path, -6.0), (Start, 4.0)];
        let found = flight(&Given {
            curve: Some(Curve::In),
            ..given(&numbers)
        })
        .unwrap();
        assert_eq!(found.contradictions.len(), 2, "{:?}", found.contradictions);
        let agreed = flight(&Given {
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
            let one = Given {
                curve: Some(Curve::Out),
                strike,
                club: Some(Club::Driver),
                ..given(&[(Start, 0.0)])
            };
            flight(&one).unwrap().delta.unwrap()
        };
        let (centre, heel) = (curve(None), curve(Some(Spot::Heel)));
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
                flight(&Given {
                    curve,
                    ..given(numbers)
                })
                .is_err(),
                "{numbers:?}"
            );
        }
        let error = [(Face, -1.0)].into();
        assert!(
            flight(&Given {
                errors: error,
                ..given(&[(Face, 2.0)])
            })
            .is_err()
        );
    }
}
