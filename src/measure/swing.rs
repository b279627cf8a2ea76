//! What of a strike is the club's: loft, attack, the face's share, and what a strike off the centre adds.

use super::collision::{FACE_SHARE, face_share, face_to_path, tilt};
use super::range::Range;
use super::strike::{Caveat, Club, FlightError, ObservedStrike, StrikeSpot};
use super::strike_number::Number;

/// How far the shares of two players differ with one club; no paper gives it, so this is our choice.
const SHARE_SPREAD: f64 = 0.03;

/// What a strike half an inch off the centre of a wood adds, as an order of magnitude: tilt from the
/// head's turning (450 to 890 rpm beside 2,800) and start from the bulge (2.4 to 2.9 degrees), own
/// calculation for a rigid body of 4.5e-4 kg m2; from none to all of it, half an inch being a guess.
const TURN: [f64; 3] = [0.0, 9.0, 17.6];
const BULGE: [f64; 3] = [0.0, 1.3, 2.9];

/// Loft, attack and share: said, from the arc, or the club's.
pub(super) struct Swing {
    pub(super) loft: Range,
    pub(super) attack: Range,
    pub(super) share: Range,
    /// Attack and path shift off the arc.
    pub(super) arc: Option<(Range, Range)>,
}

impl Swing {
    pub(super) fn of(
        given: &ObservedStrike,
        club: Club,
        notes: &mut Vec<Caveat>,
    ) -> Result<Self, FlightError> {
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
            notes.push(Caveat::ClubTaken);
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

    pub(super) fn delta_of(&self, lean: Range) -> Range {
        Range::of([lean, self.loft, self.attack], |[lean, loft, attack]| {
            face_to_path(lean, loft, attack)
        })
    }

    pub(super) fn start_of(
        &self,
        face: Option<Range>,
        path: Option<Range>,
        bulge: Range,
    ) -> Option<Range> {
        let core = Range::of([face?, path?, self.share], |[f, p, s]| p + s * (f - p));
        Some(core + self.share.times(bulge))
    }

    pub(super) fn tilt_of(&self, delta: Range) -> Range {
        Range::of([delta, self.loft, self.attack], |[delta, loft, attack]| {
            tilt(delta, loft, attack)
        })
    }
}

/// What a strike off the centre of a deep head adds to tilt and start.
#[derive(Clone, Copy)]
pub(super) struct Off {
    pub(super) tilt: Range,
    pub(super) bulge: Range,
}

impl Off {
    pub(super) fn centre(given: &ObservedStrike, club: Club, notes: &mut Vec<Caveat>) -> Self {
        let side = match given.strike {
            Some(StrikeSpot::Toe) => 1.0,
            Some(StrikeSpot::Heel) => -1.0,
            other => {
                notes.extend(other.map(|_| Caveat::SpinOfHeight));
                0.0
            }
        };
        let deep = club.is_deep() && side != 0.0;
        if side != 0.0 {
            notes.push(if deep {
                Caveat::DeepHeadTurns
            } else {
                Caveat::ShallowHeadTurns
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

impl Range {
    pub(super) fn times(self, other: Self) -> Self {
        Range::of([self, other], |[a, b]| a * b)
    }
}
