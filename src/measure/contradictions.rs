//! What was reported, against what the rest makes of it.

use super::range::Range;
use super::strike::{Contradiction, Curve, ObservedStrike};
use super::strike_number::Number;
use super::swing::Swing;

/// A tilt below this bends the ball by less than anyone sees, above the second by more than none.
const SEEN: [f64; 2] = [1.0, 5.0];

/// What the club makes of the ball.
#[derive(Clone, Copy)]
pub(super) struct ByTheClub {
    pub(super) start: Option<Range>,
    pub(super) tilt: Option<Range>,
}

/// What was reported, against what the rest makes of it.
pub(super) fn contradictions(
    given: &ObservedStrike,
    swing: &Swing,
    implied: ByTheClub,
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
