//! Points of a frame by what they are called on a lesson tee.

use super::camera::{Lead, Setting};
use super::skeleton::{POINTS, Point, Skeleton};

/// The ball of the Rules of Golf (R&A and USGA), from its middle to its edge in centimetres.
pub(super) const BALL_RADIUS: f64 = 2.1335;

/// A point with the spread of each of its axes.
#[derive(Clone, Copy)]
pub(super) struct Marked {
    pub(super) at: [f64; 2],
    pub(super) spread: f64,
}

/// Points by what they are called on a lesson tee.
pub(super) struct Landmarks<'a> {
    pub(super) body: &'a Skeleton,
    pub(super) setting: &'a Setting,
}

/// A part of the body with a lead and a trail side, by its place in the data set's order.
#[derive(Clone, Copy)]
pub(super) enum BodyPart {
    Eye = 1,
    Ear = 3,
    Shoulder = 5,
    Elbow = 7,
    Wrist = 9,
    Hip = 11,
    Knee = 13,
    Ankle = 15,
}

#[derive(Clone, Copy)]
pub(super) enum Landmark {
    Lead(BodyPart),
    Trail(BodyPart),
    Ball,
    Clubhead,
    Hands,
}

const _: () = assert!(BodyPart::Ankle as usize + 1 < POINTS && BodyPart::Eye as usize == 1);

impl Landmarks<'_> {
    pub(super) fn get(&self, mark: Landmark) -> Option<Marked> {
        let leads = |leads: bool| usize::from((self.setting.lead == Lead::Left) != leads);
        match mark {
            Landmark::Lead(part) => self.point(part as usize + leads(true)),
            Landmark::Trail(part) => self.point(part as usize + leads(false)),
            Landmark::Ball => self.placed(self.body.ball),
            Landmark::Clubhead => self.placed(self.body.clubhead),
            Landmark::Hands => self.placed(self.body.hands).or_else(|| self.hands()),
        }
    }

    pub(super) fn point(&self, index: usize) -> Option<Marked> {
        let point = self.body.points[index]?;
        Some(Marked {
            at: [point.x, point.y],
            spread: self.body.spread(index)?,
        })
    }

    /// A mark set by hand is as good as an eye.
    pub(super) fn placed(&self, mark: Option<Point>) -> Option<Marked> {
        const EYE: f64 = 0.4 * 0.025;
        let mark = mark?;
        Some(Marked {
            at: [mark.x, mark.y],
            spread: EYE * self.body.area().sqrt() / mark.confidence,
        })
    }

    /// Between the wrists, where the hands are not marked.
    pub(super) fn hands(&self) -> Option<Marked> {
        let (one, other) = (
            self.get(Landmark::Lead(BodyPart::Wrist))?,
            self.get(Landmark::Trail(BodyPart::Wrist))?,
        );
        Some(Marked {
            at: [0, 1].map(|axis| (one.at[axis] + other.at[axis]) / 2.0),
            spread: one.spread.hypot(other.spread) / 2.0,
        })
    }

    /// A function of marks with the standard deviation that their spreads give it; none when a mark is
    /// not there. Coordinates come as to the target (face-on) or to the ball (down the line), and up.
    pub(super) fn read<const N: usize>(
        &self,
        marks: [Landmark; N],
        f: impl Fn([[f64; 2]; N]) -> f64,
    ) -> Option<(f64, f64)> {
        let mut found = [Marked {
            at: [0.0; 2],
            spread: 0.0,
        }; N];
        for (into, mark) in found.iter_mut().zip(marks) {
            *into = self.get(mark)?;
        }
        let ahead = if self.setting.lead == Lead::Left {
            1.0
        } else {
            -1.0
        };
        let points = found.map(|mark| [mark.at[0] * ahead, -mark.at[1]]);
        let value = f(points);
        let mut variance = 0.0;
        for (index, mark) in found.iter().enumerate() {
            for axis in 0..2 {
                let step = mark.spread * 0.1;
                let mut at = [points; 2];
                at[0][index][axis] += step;
                at[1][index][axis] -= step;
                variance += ((f(at[0]) - f(at[1])) / 0.2).powi(2);
            }
        }
        value.is_finite().then_some((value, variance.sqrt()))
    }
}

pub(super) fn middle(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]
}

pub(super) fn from_to(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [b[0] - a[0], b[1] - a[1]]
}

pub(super) fn length(a: [f64; 2], b: [f64; 2]) -> f64 {
    let [x, y] = from_to(a, b);
    x.hypot(y)
}

/// The angle at `joint`, in degrees from 0 to 180.
pub(super) fn corner(a: [f64; 2], joint: [f64; 2], b: [f64; 2]) -> f64 {
    let (u, v) = (from_to(joint, a), from_to(joint, b));
    let (cross, dot) = (u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]);
    cross.abs().atan2(dot).to_degrees()
}
