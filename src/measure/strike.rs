//! A strike: what may be given of it, and what is said of its flight.

use super::arc::{self, arc};
use super::collision::{bend, degrees_of};
use super::range::Range;
use super::strike_number::{Number, possible};
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
pub enum StrikeSpot {
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

impl StrikeSpot {
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

    /// Loft delivered: the worked strikes of [`super::collision`] (12, 24, 45), give or take common practice.
    pub(super) fn loft(self) -> Range {
        match self {
            Self::Driver => Range::give_or_take(12.0, 2.0),
            Self::Wood => Range::give_or_take(15.0, 3.0),
            Self::Iron => Range::give_or_take(24.0, 4.0),
            Self::Wedge => Range::give_or_take(45.0, 5.0),
        }
    }

    /// Attack as coaches find it (common practice), about the worked strikes (0, -4, -6).
    pub(super) fn attack(self) -> Range {
        match self {
            Self::Driver => Range::between(0.0, -2.0, 5.0),
            Self::Wood => Range::between(-2.0, -3.0, -1.0),
            Self::Iron => Range::between(-4.0, -5.0, -3.0),
            Self::Wedge => Range::between(-6.0, -8.0, -5.0),
        }
    }

    /// Whether the centre of gravity lies deep behind the face, so that the head's turning spins the ball.
    pub(super) fn is_deep(self) -> bool {
        matches!(self, Self::Driver | Self::Wood)
    }
}

/// What was seen or read; angles in degrees, out and up are plus.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ObservedStrike {
    /// The numbers.
    pub numbers: BTreeMap<Number, f64>,
    /// By how much a number may be off, in its unit.
    pub errors: BTreeMap<Number, f64>,
    /// Which way the ball bends.
    pub curve: Option<Curve>,
    /// Where on the face it was met.
    pub strike: Option<StrikeSpot>,
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
pub enum Caveat {
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
    pub strike: Option<StrikeSpot>,
    /// The club that was said.
    pub club: Option<Club>,
    /// Numbers that were reported.
    pub reported: Vec<Number>,
    /// Whether the attack was reported or follows from the arc.
    pub attack_known: bool,
    /// Whether the path rests on a plane along the target line.
    pub path_if_on_line: bool,
    /// What to keep in mind.
    pub notes: Vec<Caveat>,
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

impl ObservedStrike {
    pub(super) fn check(&self) -> Result<(), FlightError> {
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

    pub(super) fn range(&self, number: Number) -> Option<Range> {
        let value = *self.numbers.get(&number)?;
        let error = self.errors.get(&number).copied().unwrap_or(0.0);
        Some(Range::give_or_take(value, error))
    }

    /// A number whose side the curve's word may say.
    pub(super) fn sided(&self, number: Number) -> Option<Range> {
        let range = self.range(number)?;
        Some(match self.curve {
            Some(Curve::In) if range.value > 0.0 => Range::exact(0.0) - range,
            _ => range,
        })
    }

    pub(super) fn start(&self) -> Option<Range> {
        self.range(Number::Start).or_else(|| {
            let yards = self.range(Number::StartYards)?;
            let carry = self.range(Number::Carry)?;
            Some(Range::of([yards, carry], |[yards, carry]| {
                degrees_of(yards, carry)
            }))
        })
    }

    pub(super) fn tilt(&self, loft: f64) -> Option<Range> {
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

    pub(super) fn arc(&self) -> Option<(Range, Range)> {
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
}
