//! Club and ball in the half millisecond they touch: which way the ball starts and how its spin leans.
//!
//! Angles are in degrees, out (away from the player's side of the target line) is plus. The ball
//! leaves in the plane through the face's normal and the direction the club moves, near the normal,
//! and spins about an axis square to that plane (Jorgensen T. (1994), The Physics of Golf; Cochran A.
//! and Stobbs J. (1968), The Search for the Perfect Swing; both from memory). How near follows from
//! the rigid impact without slip of a free head and a solid sphere, standard mechanics as in Winfield
//! D. and Tan T. (1994), Computers & Structures 53(1):19-25, and Penner A. (2001), American Journal
//! of Physics 69:563 (methods read in the abstracts).

/// Mass of head and ball in kilograms, radius of the ball in metres: the ball of the Rules of Golf
/// (R&A and USGA), at most 45.93 g and at least 42.67 mm across; 200 g is a usual driver head.
pub const HEAD: f64 = 0.200;
/// See [`HEAD`].
pub const BALL: f64 = 0.045_93;
/// See [`HEAD`].
pub const RADIUS: f64 = 0.021_335;

/// The face's share of the start direction over several clubs, golfers and a robot: 61 % to 83 %,
/// the rest the path's (Wood P., Henrikson E. and Broadie C. (2018), Proceedings 2(6):249, abstract).
pub const FACE_SHARE: [f64; 2] = [0.61, 0.83];

/// How the club meets the ball, as the face's centre moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strike {
    /// Where the face looks, in degrees from the target line.
    pub face: f64,
    /// Where the club moves, in degrees from the target line.
    pub path: f64,
    /// The loft the face delivers, in degrees.
    pub loft: f64,
    /// Up is plus, in degrees.
    pub attack: f64,
}

/// How the ball leaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Launch {
    /// Degrees from the target line.
    pub start: f64,
    /// Degrees above level.
    pub launch: f64,
    /// How far the spin axis leans from level, in degrees; plus bends the ball out.
    pub tilt: f64,
    /// Ball speed over club speed.
    pub speed_ratio: f64,
    /// Turns per minute for each metre a second of club speed.
    pub spin_per_speed: f64,
    /// The angle between the face's normal and the club's direction, in degrees.
    pub spin_loft: f64,
}

/// What share of the closing speed a rebound gives back, by delivered loft: 0.83 to 12 degrees, 0.78 at
/// 24, 0.65 at 45, straight lines between. 0.83 is the older limit for drivers (USGA and R&A, from
/// memory); the others are assumptions under which the face's share comes out inside what was measured.
#[must_use]
pub fn rebound(loft: f64) -> f64 {
    let line = |a: f64, b: f64, from: f64, to: f64| from + (to - from) * (loft - a) / (b - a);
    match loft {
        _ if loft <= 12.0 => 0.83,
        _ if loft <= 24.0 => line(12.0, 24.0, 0.83, 0.78),
        _ if loft <= 45.0 => line(24.0, 45.0, 0.78, 0.65),
        _ => 0.65,
    }
}

/// Tangential over normal transfer, `k = (1 + m/M) / ((1 + e)(3.5 + m/M))`; so the ball leaves
/// `atan(k tan theta)` from the normal when the club comes at `theta` to it.
#[must_use]
pub fn transfer(rebound: f64) -> f64 {
    let ratio = BALL / HEAD;
    (1.0 + ratio) / ((1.0 + rebound) * (3.5 + ratio))
}

/// The ball's leaving, by the mechanics at the head of this file: normal ball speed
/// `V cos(theta)(1 + e)/(1 + m/M)`, tangential `V sin(theta)/(3.5 + m/M)`, spin `2.5 x tangential / r`.
///
/// ```
/// use fairwhy::measure::collision::{Strike, launch};
/// let ball = launch(&Strike { face: 2.0, path: -4.0, loft: 13.0, attack: -1.0 }, 0.83);
/// assert!((ball.start - 0.865).abs() < 1e-3 && (ball.tilt - 22.84).abs() < 1e-2);
/// ```
#[must_use]
pub fn launch(strike: &Strike, rebound: f64) -> Launch {
    let normal = pointing(strike.face, strike.loft);
    let moving = pointing(strike.path, strike.attack);
    let along = dot(normal, moving);
    let ratio = BALL / HEAD;
    let [pushed, rubbed] = [(1.0 + rebound) / (1.0 + ratio), 1.0 / (3.5 + ratio)];
    let ball: [f64; 3] = std::array::from_fn(|axis| {
        pushed * along * normal[axis] + rubbed * (moving[axis] - along * normal[axis])
    });
    let speed = dot(ball, ball).sqrt();
    let sine = (1.0 - along * along).max(0.0).sqrt();
    Launch {
        start: ball[0].atan2(ball[1]).to_degrees(),
        launch: (ball[2] / speed).asin().to_degrees(),
        tilt: tilt(strike.face - strike.path, strike.loft, strike.attack),
        speed_ratio: speed,
        spin_per_speed: 2.5 * rubbed * sine / RADIUS * 30.0 / std::f64::consts::PI,
        spin_loft: sine.atan2(along).to_degrees(),
    }
}

/// A direction of length one: out, to the target, up.
fn pointing(out: f64, up: f64) -> [f64; 3] {
    let (out, up) = (out.to_radians(), up.to_radians());
    [out.sin() * up.cos(), out.cos() * up.cos(), up.sin()]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// What [`tilt`] and [`face_to_path`] share: `C = cos l cos a`, `C sin l sin a` and `sin(l - a)`.
fn terms(loft: f64, attack: f64) -> (f64, f64, f64) {
    let (loft, attack) = (loft.to_radians(), attack.to_radians());
    let level = loft.cos() * attack.cos();
    (
        level,
        level * loft.sin() * attack.sin(),
        (loft - attack).sin(),
    )
}

/// How far the spin axis leans, in degrees, plus for a ball that bends out: the axis is square to the
/// club's direction and the face's normal. With `delta` the face to the path, `l` the loft and `a` the
/// attack,
///
/// ```text
/// tan tilt = cos l cos a sin delta / sqrt(sin2(l - a) + 2 (1 - cos delta) sin l cos l sin a cos a)
/// ```
///
/// which is `tan delta / tan(l - a)` where both are small. A loft equal to the attack leaves the ball
/// spinning about an upright axis.
#[must_use]
pub fn tilt(delta: f64, loft: f64, attack: f64) -> f64 {
    let (level, product, sine) = terms(loft, attack);
    let half = (delta.to_radians() / 2.0).sin();
    let flat = (sine * sine + 4.0 * half * half * product).max(0.0).sqrt();
    (level * delta.to_radians().sin()).atan2(flat).to_degrees()
}

/// The face to the path, in degrees, that leans the axis by `tilt`: [`tilt`] turned round, exactly. A
/// lean that no angle gives comes back as the angle that gives the most.
#[must_use]
pub fn face_to_path(tilt: f64, loft: f64, attack: f64) -> f64 {
    let (level, product, sine) = terms(loft, attack);
    let lean = tilt.to_radians().tan();
    // With u = 1 - cos delta: C2 u2 - 2 (C2 - T2 E) u + T2 D2 = 0, the root that is 0 with the tilt.
    let middle = level * level - lean * lean * product;
    let under = middle * middle - (level * lean * sine).powi(2);
    let one_less_cosine = (lean * sine).powi(2) / (middle + under.max(0.0).sqrt());
    let delta = 2.0 * (one_less_cosine / 2.0).clamp(0.0, 1.0).sqrt().asin();
    delta.to_degrees().copysign(tilt)
}

/// Whether some angle of face to path leans the axis that far.
#[must_use]
pub fn reachable(tilt_asked: f64, loft: f64, attack: f64) -> bool {
    let back = tilt(face_to_path(tilt_asked, loft, attack), loft, attack);
    (back - tilt_asked).abs() < 1e-6
}

/// The face's share of the start direction with this loft and attack: [`launch`] for a face three
/// degrees off the path, held within [`FACE_SHARE`]. It moves by less than 0.005 with that angle.
#[must_use]
pub fn face_share(loft: f64, attack: f64) -> f64 {
    let strike = Strike {
        face: 3.0,
        path: 0.0,
        loft,
        attack,
    };
    let share = launch(&strike, rebound(loft)).start / 3.0;
    share.clamp(FACE_SHARE[0], FACE_SHARE[1])
}

/// A ball that starts so many yards off at a distance, in degrees: `atan(yards / carry)`.
#[must_use]
pub fn degrees_of(yards: f64, carry: f64) -> f64 {
    yards.atan2(carry).to_degrees()
}

/// Curve for each degree of tilt as a share of the carry, least and most: 0.89 to 0.96 % for a driver,
/// 1.0 % for a mid-iron, 0.68 % for a wedge. Own calculation from this file's launch and the drag and
/// lift of Smits A. and Smith D. (1994), A new aerodynamic model of a golf ball in flight, in Science
/// and Golf II (coefficients from memory).
#[must_use]
pub fn bend(loft: f64) -> [f64; 2] {
    match loft {
        _ if loft <= 16.0 => [0.0089, 0.0096],
        _ if loft <= 35.0 => [0.0096, 0.0100],
        _ => [0.0068, 0.0100],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ball(face: f64, path: f64, loft: f64, attack: f64, rebound: f64) -> Launch {
        launch(
            &Strike {
                face,
                path,
                loft,
                attack,
            },
            rebound,
        )
    }

    fn near(found: f64, wanted: f64, within: f64) {
        assert!((found - wanted).abs() <= within, "{found} against {wanted}");
    }

    /// k for five rebounds (row S5).
    #[test]
    fn the_transfer_of_the_rows() {
        for (e, k) in [
            (0.83, 0.1802),
            (0.78, 0.1852),
            (0.70, 0.1939),
            (0.65, 0.1998),
            (0.60, 0.2061),
        ] {
            near(transfer(e), k, 5e-5);
        }
    }

    /// A square driver at 45 m/s (row S6), and the same hit down, level and up (row S15).
    #[test]
    fn a_square_driver() {
        let square = ball(0.0, 0.0, 12.0, 0.0, 0.83);
        near(square.launch, 9.81, 0.005);
        near(square.speed_ratio * 45.0, 65.56, 0.01);
        near(square.spin_per_speed * 45.0, 2807.0, 1.0);
        near(square.tilt, 0.0, 1e-12);
        for (attack, up, spin) in [(-3.0, 9.24, 3494.0), (3.0, 10.37, 2112.0)] {
            let other = ball(0.0, 0.0, 12.0, attack, 0.83);
            near(other.launch, up, 0.01);
            near(other.spin_per_speed * 45.0, spin, 1.0);
        }
    }

    /// Rows S7 to S10: start, tilt, and where the row has them launch, spin and share.
    #[test]
    fn the_worked_strikes() {
        let slice = ball(2.0, -4.0, 13.0, -1.0, 0.83);
        near(slice.start, 0.865, 5e-4);
        near(slice.tilt, 22.8, 0.05);
        near(slice.launch, 10.43, 0.01);
        near(slice.spin_loft, 15.21, 0.005);
        near(slice.spin_per_speed * 45.0, 3543.0, 1.0);
        near((slice.start + 4.0) / 6.0, 0.811, 5e-4);
        for (face, path, loft, attack, rebound, start, lean) in [
            (2.0, 5.0, 12.0, 2.0, 0.83, 2.56, -16.4),
            (0.0, -6.0, 12.0, 0.0, 0.83, -1.13, 26.2),
            (3.0, 0.0, 24.0, -4.0, 0.78, 2.34, 5.80),
            (0.0, -6.0, 24.0, -4.0, 0.78, -1.32, 11.5),
            (3.0, 0.0, 45.0, -6.0, 0.65, 1.92, 2.71),
        ] {
            let found = ball(face, path, loft, attack, rebound);
            near(found.start, start, 0.006);
            near(found.tilt, lean, 0.05);
        }
    }

    /// The model's share for driver, mid-iron and wedge (row S11), inside what was measured (row S1).
    #[test]
    fn the_share_of_three_clubs() {
        for (loft, attack, share) in [(12.0, 0.0, 0.81), (24.0, -4.0, 0.78), (45.0, -6.0, 0.64)] {
            near(face_share(loft, attack), share, 0.005);
        }
        assert_eq!(face_share(80.0, 0.0), FACE_SHARE[0]);
    }

    /// The small-angle form, 13.85, and the exact one, 13.83 (row S12).
    #[test]
    fn the_small_angle_form_is_near() {
        near(tilt(3.0, 12.0, 0.0), 13.83, 0.005);
        let small = (3f64.to_radians().tan() / 12f64.to_radians().tan()).atan();
        near(small.to_degrees(), 13.85, 0.005);
    }

    #[test]
    fn face_to_path_turns_tilt_round() {
        for loft in [8.0, 12.0, 24.0, 45.0, 60.0] {
            for attack in [-8.0, -1.0, 0.0, 4.0] {
                for delta in [-20.0, -6.0, -1e-3, 0.0, 1e-6, 0.5, 3.0, 12.0] {
                    let lean = tilt(delta, loft, attack);
                    if reachable(lean, loft, attack) {
                        near(face_to_path(lean, loft, attack), delta, 1e-9);
                    }
                    assert_eq!(tilt(-delta, loft, attack), -lean);
                }
            }
        }
        assert!(!reachable(80.0, 45.0, -6.0));
    }

    /// A degree of start is 1.75, 2.62, 3.49 and 4.36 yards at 100 to 250 (row S21).
    #[test]
    fn yards_are_degrees_at_a_distance() {
        for (carry, yards) in [(100.0, 1.75), (150.0, 2.62), (200.0, 3.49), (250.0, 4.36)] {
            near(degrees_of(yards, carry), 1.0, 0.003);
        }
    }
}
