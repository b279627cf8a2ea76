//! From where a frame was taken, and what is lost by it.

/// From where the camera looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CameraView {
    /// At the player's front, square to the target line.
    FaceOn,
    /// Along the target line, from behind the player.
    DownTheLine,
}

/// When in the motion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// Before anything moves.
    Address,
    /// The top of the backswing.
    Top,
    /// Club and ball meet.
    Impact,
    /// Any other.
    Other,
}

/// Which side of the body leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lead {
    /// A right-handed player's.
    Left,
    /// A left-handed player's.
    Right,
}

/// What sort of shot, for quantities that have a club in their name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrameClub {
    /// A driver.
    Driver,
    /// An iron.
    Iron,
}

/// How a frame was taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// From where.
    pub view: CameraView,
    /// When.
    pub at: Moment,
    /// Which side leads.
    pub lead: Lead,
    /// With which club, where that was said.
    pub club: Option<FrameClub>,
    /// How far the camera may stand off its place, in degrees.
    pub camera_off: f64,
    /// Centimetres for each pixel at the player, where that is known.
    pub scale: Option<f64>,
}

/// A camera set down by eye. Our choice.
pub const BY_EYE: f64 = 5.0;

/// How far a line may seem to lean from plumb or level, in degrees: see the head of this file.
#[must_use]
pub fn line_error(angle: f64, slope: f64, omega: f64) -> f64 {
    let (tangent, omega) = (angle.to_radians().tan(), omega.to_radians());
    let off = |side: f64| {
        let seen = (tangent * omega.cos() + side * slope * omega.sin()).atan();
        (seen.to_degrees() - angle).abs()
    };
    off(1.0).max(off(-1.0)) / 3f64.sqrt()
}

/// How far the angle at a joint may seem off, in degrees: see the head of this file.
#[must_use]
pub fn joint_error(angle: f64, omega: f64) -> f64 {
    let cosine = omega.to_radians().cos().max(1e-3);
    let half = (angle.clamp(0.0, 180.0) / 2.0).to_radians().tan();
    let off = |c: f64| ((2.0 * (half * c).atan()).to_degrees() - angle).abs();
    off(cosine).max(off(1.0 / cosine)) / 3f64.sqrt()
}

/// How far parts lie out of the picture's plane on players, in degrees. Our choice.
pub(super) mod out_of_plane {
    /// The trail arm at the top, in either view.
    pub const ARM: f64 = 20.0;
    /// The shaft and the lead arm at the top.
    pub const SHAFT: f64 = 15.0;
    /// The legs at address.
    pub const LEG: f64 = 10.0;
}

/// How steeply parts lean along the line of sight. Our choice: 35 degrees of bend for the trunk face-on,
/// 7 of side tilt down the line, a shaft that lies at 60 degrees, a shaft 15 across the line at the top,
/// feet or shoulders 10 degrees open.
pub(super) mod slope {
    pub const TRUNK_FACE_ON: f64 = 0.70;
    pub const TRUNK_DOWN_THE_LINE: f64 = 0.12;
    pub const SHAFT: f64 = 0.58;
    pub const SHAFT_AT_TOP: f64 = 0.27;
    pub const ACROSS: f64 = 0.18;
}

/// How far behind the ball parts stand along the line of sight from face-on, in centimetres. Common
/// practice: an arm's length for the ear, that and the feet's for the foot.
pub(super) mod depth {
    pub const EAR: f64 = 40.0;
    pub const FOOT: f64 = 70.0;
}
