//! The arc of the clubhead near the ground, and what a slope does to the face.
//!
//! The head moves near impact on a plane curve (Morrison A., McGrath D. and Wallace E. (2018), Journal
//! of Sports Sciences 36, abstract: an ellipse fits to 1.2 mm; path and attack follow from the plane
//! within 2 and 3 %). Here it is a circle of radius `R` in a plane inclined by `beta` to the ground;
//! what follows is geometry.

/// The radius taken, in metres, and how far a player's may be off. Our choice: about an arm and a
/// mid-iron to a driver, between the rows' 1.6.
pub const RADIUS: [f64; 3] = [1.5, 1.6, 1.7];

/// What a low point so far past the ball makes of the strike.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Attack in degrees, up is plus.
    pub attack: f64,
    /// How far the path points out of the plane's own direction, in degrees.
    pub path_shift: f64,
    /// How far the head at the ball is above its lowest, in metres.
    pub height: f64,
}

/// The strike `past` metres before the arc's lowest point (minus: after it), on a circle of `radius`
/// metres in a plane inclined by `plane` degrees: with `sin psi = past / R`,
///
/// ```text
/// attack = -asin(sin psi sin beta)   path shift = atan(tan psi cos beta)   height = R (1 - cos psi) sin beta
/// ```
///
/// A low point further off than the radius counts as at the radius.
///
/// ```
/// let arc = fairwhy::measure::arc::arc(0.1016, 60.0, 1.6);
/// assert!((arc.attack + 3.15).abs() < 0.01 && (arc.path_shift - 1.82).abs() < 0.01);
/// ```
#[must_use]
pub fn arc(past: f64, plane: f64, radius: f64) -> Arc {
    let psi = (past / radius).clamp(-1.0, 1.0).asin();
    let beta = plane.to_radians();
    Arc {
        attack: -(psi.sin() * beta.sin()).asin().to_degrees(),
        path_shift: (psi.tan() * beta.cos()).atan().to_degrees(),
        height: radius * (1.0 - psi.cos()) * beta.sin(),
    }
}

/// How far before its lowest point, in metres, a head that digs `depth` metres first touches flat
/// ground: `R acos(1 - depth / (R sin beta))`, turf that does not give. Compare signs and order only.
#[must_use]
pub fn first_touch(depth: f64, plane: f64, radius: f64) -> f64 {
    let sink = depth / (radius * plane.to_radians().sin());
    radius * (1.0 - sink).clamp(-1.0, 1.0).acos()
}

/// How far a ball above the feet, or a toe that sits up, by `slope` degrees turns the face, in degrees,
/// out is plus: `-atan(tan loft sin slope)`.
#[must_use]
pub fn face_turn(slope: f64, loft: f64) -> f64 {
    -(loft.to_radians().tan() * slope.to_radians().sin())
        .atan()
        .to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64, within: f64) {
        assert!((found - wanted).abs() <= within, "{found} against {wanted}");
    }

    /// Low point past and behind the ball (row S23).
    #[test]
    fn the_two_low_points_of_the_row() {
        let past = arc(0.1016, 60.0, 1.6);
        near(past.attack, -3.15, 0.005);
        near(past.path_shift, 1.82, 0.005);
        near(past.height * 1000.0, 2.80, 0.005);
        let behind = arc(-0.05, 60.0, 1.6);
        near(behind.attack, 1.55, 0.005);
        near(behind.path_shift, -0.90, 0.005);
    }

    /// Path shift for each degree down is 1/tan(beta) (row S24).
    #[test]
    fn a_flatter_plane_shifts_more() {
        for (plane, shift) in [
            (45.0, 1.00),
            (50.0, 0.84),
            (55.0, 0.70),
            (60.0, 0.577),
            (63.4, 0.50),
        ] {
            let arc = arc(0.01, plane, 1.6);
            near(-arc.path_shift / arc.attack, shift, 0.002);
        }
    }

    /// Where the ground is first touched at 2, 5 and 10 mm (row S25).
    #[test]
    fn deeper_touches_earlier() {
        for (depth, before) in [(0.002, 0.086), (0.005, 0.136), (0.010, 0.192)] {
            near(first_touch(depth, 60.0, 1.6), before, 5e-4);
        }
    }

    /// Slope and loft turn the face in (row S26).
    #[test]
    fn a_slope_turns_the_face() {
        for (loft, slope, turn) in [
            (45.0, 1.0, 1.00),
            (45.0, 2.0, 2.00),
            (45.0, 5.0, 4.98),
            (30.0, 2.0, 1.15),
            (10.0, 5.0, 0.88),
        ] {
            near(-face_turn(slope, loft), turn, 0.005);
            assert_eq!(face_turn(-slope, loft), -face_turn(slope, loft));
        }
    }
}
