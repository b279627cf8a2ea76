//! What moved between two frames of one camera.

use super::camera::Setting;
use super::landmarks::{BodyPart, Landmark, Landmarks, from_to, length, middle};
use super::skeleton::Skeleton;

/// How far head and pelvis moved, and shoulder and hip lines turned in the picture, between two frames
/// of one camera.
#[derive(Clone, Debug, PartialEq)]
pub struct Shift {
    /// What moved.
    pub what: &'static str,
    /// By how much: to the target is plus face-on, to the ball down the line; up is plus for angles of a line's lead end.
    pub value: f64,
    /// Standard deviation of its error.
    pub error_sd: f64,
    /// The unit.
    pub unit: &'static str,
}

/// Shifts from `first` to `second`, as shares of the shoulders' width in the first, and the change of the
/// shoulder and hip lines against level, in degrees. Both frames are to come from one camera that did not
/// move; what it is off its place is the same in both, and is left out.
#[must_use]
pub fn shifts(first: &Skeleton, second: &Skeleton, setting: &Setting) -> Vec<Shift> {
    use BodyPart::{Ear, Hip, Shoulder};
    let read = |body| Landmarks { body, setting };
    let (one, two) = (read(first), read(second));
    let pair = |part| [Landmark::Lead(part), Landmark::Trail(part)];
    let width = one
        .read(pair(Shoulder), |[a, b]| length(a, b))
        .map(|(width, _)| width);
    let mut found = Vec::new();
    for (what, part) in [("head", Ear), ("pelvis", Hip)] {
        let at = |marks: &Landmarks<'_>| marks.read(pair(part), |[a, b]| middle(a, b)[0]);
        if let (Some((before, sd)), Some((after, other)), Some(width)) = (at(&one), at(&two), width)
            && width > 0.0
        {
            found.push(Shift {
                what,
                value: (after - before) / width,
                error_sd: sd.hypot(other) / width,
                unit: "shoulder widths",
            });
        }
    }
    for (what, part) in [("shoulder line", Shoulder), ("hip line", Hip)] {
        let level = |marks: &Landmarks<'_>| {
            marks.read(pair(part), |[lead, trail]| {
                let [ahead, up] = from_to(trail, lead);
                up.atan2(ahead.abs()).to_degrees()
            })
        };
        if let (Some((before, sd)), Some((after, other))) = (level(&one), level(&two)) {
            found.push(Shift {
                what,
                value: after - before,
                error_sd: sd.hypot(other),
                unit: "degrees",
            });
        }
    }
    found
}
