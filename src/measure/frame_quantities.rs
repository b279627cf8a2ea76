//! Quantities off one frame, each with the error that the points and the camera leave in it.
//!
//! Two parts make an error, squared and added. **Points**: each point is off by
//! [`Skeleton::spread`] along each axis, carried through the formula by its slopes (first-order
//! propagation of error). **Camera**: a part that lies out of the picture's plane, or a camera that
//! stands off its place, by `omega`, changes what is seen by at most
//!
//! ```text
//! a line against plumb or level   max |atan(t cos omega +- g sin omega) - atan t|
//! the angle phi at a joint        max |2 atan(tan(phi/2) c) - phi|, c = cos omega or 1 / cos omega
//! an offset between two depths    D sin omega
//! ```
//!
//! with `t` the tangent seen and `g` how steeply the part leans along the line of sight; geometry of
//! parallel projection. That most, over the square root of three, is the standard deviation of an
//! error which is anywhere within it. `omega` is the camera's own (stated, or 5 degrees: our choice for
//! one set down by eye) and the part's (our choice for players), squared and added.

use super::skeleton::{POINTS, Point, Skeleton};

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
/// The ball of the Rules of Golf (R&A and USGA), from its middle to its edge in centimetres.
const BALL_RADIUS: f64 = 2.1335;

/// An iron's head from heel to toe, in centimetres: common practice.
const IRON_HEAD: f64 = 8.0;

/// A quantity read off a frame.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameReading {
    /// Its name in a library.
    pub quantity: &'static str,
    /// The value.
    pub value: f64,
    /// Standard deviation of its error.
    pub error_sd: f64,
    /// The unit of both.
    pub unit: &'static str,
}

/// What was read, and what could not be.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MeasuredFrame {
    /// What was read.
    pub measured: Vec<FrameReading>,
    /// What a single camera there cannot see, or what is missing for it.
    pub not_seen: Vec<String>,
}

/// Why a frame is refused.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FrameError {
    /// The player faces away, or the picture is a mirror image, or the sides are exchanged.
    #[error(
        "the player's left and right are exchanged for a view from face-on: a mirrored picture, a view from behind, or sides written the wrong way round"
    )]
    SidesExchanged,
    /// Some pairs are one way round and some the other.
    #[error("left and right are mixed: {0} stand one way round, {1} the other")]
    SidesMixed(String, String),
}

/// A point with the spread of each of its axes.
#[derive(Clone, Copy)]
struct Marked {
    at: [f64; 2],
    spread: f64,
}

/// Points by what they are called on a lesson tee.
struct Landmarks<'a> {
    body: &'a Skeleton,
    setting: &'a Setting,
}

/// A part of the body with a lead and a trail side, by its place in the data set's order.
#[derive(Clone, Copy)]
enum BodyPart {
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
enum Landmark {
    Lead(BodyPart),
    Trail(BodyPart),
    Ball,
    Clubhead,
    Hands,
}

impl Landmarks<'_> {
    fn get(&self, mark: Landmark) -> Option<Marked> {
        let leads = |leads: bool| usize::from((self.setting.lead == Lead::Left) != leads);
        match mark {
            Landmark::Lead(part) => self.point(part as usize + leads(true)),
            Landmark::Trail(part) => self.point(part as usize + leads(false)),
            Landmark::Ball => self.placed(self.body.ball),
            Landmark::Clubhead => self.placed(self.body.clubhead),
            Landmark::Hands => self.placed(self.body.hands).or_else(|| self.hands()),
        }
    }

    fn point(&self, index: usize) -> Option<Marked> {
        let point = self.body.points[index]?;
        Some(Marked {
            at: [point.x, point.y],
            spread: self.body.spread(index)?,
        })
    }

    /// A mark set by hand is as good as an eye.
    fn placed(&self, mark: Option<Point>) -> Option<Marked> {
        const EYE: f64 = 0.4 * 0.025;
        let mark = mark?;
        Some(Marked {
            at: [mark.x, mark.y],
            spread: EYE * self.body.area().sqrt() / mark.confidence,
        })
    }

    /// Between the wrists, where the hands are not marked.
    fn hands(&self) -> Option<Marked> {
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
    fn read<const N: usize>(
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

fn middle(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]
}

fn from_to(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [b[0] - a[0], b[1] - a[1]]
}

fn length(a: [f64; 2], b: [f64; 2]) -> f64 {
    let [x, y] = from_to(a, b);
    x.hypot(y)
}

/// The angle at `joint`, in degrees from 0 to 180.
fn corner(a: [f64; 2], joint: [f64; 2], b: [f64; 2]) -> f64 {
    let (u, v) = (from_to(joint, a), from_to(joint, b));
    let (cross, dot) = (u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]);
    cross.abs().atan2(dot).to_degrees()
}

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

/// What makes a frame's quantities: what is known of the marks, and what came of them.
struct FrameReader<'a> {
    marks: Landmarks<'a>,
    frame: MeasuredFrame,
}

/// How far parts lie out of the picture's plane on players, in degrees. Our choice.
mod out_of_plane {
    /// The trail arm at the top, in either view.
    pub(super) const ARM: f64 = 20.0;
    /// The shaft and the lead arm at the top.
    pub(super) const SHAFT: f64 = 15.0;
    /// The legs at address.
    pub(super) const LEG: f64 = 10.0;
}

/// How steeply parts lean along the line of sight. Our choice: 35 degrees of bend for the trunk face-on,
/// 7 of side tilt down the line, a shaft that lies at 60 degrees, a shaft 15 across the line at the top,
/// feet or shoulders 10 degrees open.
mod slope {
    pub(super) const TRUNK_FACE_ON: f64 = 0.70;
    pub(super) const TRUNK_DOWN_THE_LINE: f64 = 0.12;
    pub(super) const SHAFT: f64 = 0.58;
    pub(super) const SHAFT_AT_TOP: f64 = 0.27;
    pub(super) const ACROSS: f64 = 0.18;
}

/// How far behind the ball parts stand along the line of sight from face-on, in centimetres. Common
/// practice: an arm's length for the ear, that and the feet's for the foot.
mod depth {
    pub(super) const EAR: f64 = 40.0;
    pub(super) const FOOT: f64 = 70.0;
}

/// Reads what this view can carry.
///
/// # Errors
///
/// [`FrameError`], from face-on at address, where the sides can be told.
pub fn frame(body: &Skeleton, setting: &Setting) -> Result<MeasuredFrame, FrameError> {
    sides(body, setting)?;
    let marks = Landmarks { body, setting };
    let mut reader = FrameReader {
        marks,
        frame: MeasuredFrame::default(),
    };
    match (setting.view, setting.at) {
        (CameraView::FaceOn, Moment::Address) => reader.address_face_on(),
        (CameraView::DownTheLine, Moment::Address) => reader.address_down_the_line(),
        (view, Moment::Top) => reader.top(view),
        (CameraView::FaceOn, Moment::Impact) => reader.impact_face_on(),
        _ => {}
    }
    reader.beyond(setting);
    Ok(reader.frame)
}

/// Whether the player's left is on the picture's right, as it is from face-on, point pair by pair.
fn sides(body: &Skeleton, setting: &Setting) -> Result<(), FrameError> {
    if setting.view != CameraView::FaceOn || setting.at != Moment::Address {
        return Ok(());
    }
    let (mut right, mut exchanged) = (Vec::new(), Vec::new());
    for (name, part) in [
        ("shoulders", BodyPart::Shoulder),
        ("hips", BodyPart::Hip),
        ("ankles", BodyPart::Ankle),
    ] {
        let index = part as usize;
        let (Some(left), Some(other)) = (body.points[index], body.points[index + 1]) else {
            continue;
        };
        if left.x >= other.x {
            right.push(name);
        } else {
            exchanged.push(name);
        }
    }
    match (right.is_empty(), exchanged.is_empty()) {
        (_, true) => Ok(()),
        (true, false) => Err(FrameError::SidesExchanged),
        (false, false) => Err(FrameError::SidesMixed(
            right.join(" and "),
            exchanged.join(" and "),
        )),
    }
}

impl FrameReader<'_> {
    fn omega(&self, own: f64) -> f64 {
        self.marks.setting.camera_off.hypot(own).min(85.0)
    }

    /// Keeps a reading, or says what it lacks.
    fn keep(
        &mut self,
        quantity: &'static str,
        unit: &'static str,
        found: Option<(f64, f64)>,
        camera: impl Fn(f64) -> f64,
        lacks: &str,
    ) {
        match found {
            Some((value, points)) => self.frame.measured.push(FrameReading {
                quantity,
                value,
                error_sd: points.hypot(camera(value)),
                unit,
            }),
            None => self.frame.not_seen.push(format!("{quantity}: {lacks}")),
        }
    }

    fn address_face_on(&mut self) {
        use BodyPart::{Ankle, Hip, Shoulder};
        use Landmark::{Lead, Trail};
        let omega = self.omega(0.0);
        let trunk = [Lead(Hip), Trail(Hip), Lead(Shoulder), Trail(Shoulder)];
        let tilt = self.marks.read(trunk, |[a, b, c, d]| {
            let [ahead, up] = from_to(middle(a, b), middle(c, d));
            (-ahead).atan2(up).to_degrees()
        });
        for (club, quantity) in [
            (FrameClub::Driver, "spine-side-tilt-at-address-driver"),
            (FrameClub::Iron, "spine-side-tilt-at-address-mid-iron"),
        ] {
            if self.marks.setting.club.is_none_or(|said| said == club) {
                let camera = |tilt| line_error(tilt, slope::TRUNK_FACE_ON, omega);
                self.keep(
                    quantity,
                    "degrees",
                    tilt,
                    camera,
                    "hips and shoulders are not all seen",
                );
            }
        }
        let widths = [Lead(Ankle), Trail(Ankle), Lead(Shoulder), Trail(Shoulder)];
        let stance = self
            .marks
            .read(widths, |[a, b, c, d]| length(a, b) / length(c, d));
        // Ankles stand for heels and joints for the shoulders' edges, which reads wide.
        const JOINTS: f64 = 0.15;
        let camera = |ratio: f64| JOINTS.hypot(ratio * slope::ACROSS * omega.to_radians().tan());
        self.keep(
            "heel-gap-to-shoulder-width",
            "ratio",
            stance,
            camera,
            "ankles and shoulders are not all seen",
        );
        self.ball_face_on(omega);
    }

    /// Where the ball lies, in centimetres.
    fn ball_face_on(&mut self, omega: f64) {
        let Some(scale) = self.scale() else {
            self.frame.not_seen.push(
                "where ear and ball are: in centimetres, and nothing says how large a pixel is; mark the ball with its radius, or say the scale".into(),
            );
            return;
        };
        let depth = |cm: f64| move |_: f64| cm * omega.to_radians().sin() / 3f64.sqrt();
        let ear = self.marks.read(
            [Landmark::Lead(BodyPart::Ear), Landmark::Ball],
            |[ear, ball]| (ear[0] - ball[0]) * scale,
        );
        self.keep(
            "lead-ear-to-ball-offset",
            "cm",
            ear,
            depth(depth::EAR),
            "lead ear and ball are not both seen",
        );
        let lacks = "lead foot and ball are not both seen";
        let foot = self.marks.read(
            [Landmark::Lead(BodyPart::Ankle), Landmark::Ball],
            |[foot, ball]| (foot[0] - ball[0]) * scale,
        );
        if self.marks.setting.club != Some(FrameClub::Iron) {
            self.keep(
                "ball-inside-lead-heel-driver",
                "cm",
                foot,
                depth(depth::FOOT),
                lacks,
            );
        }
        if self.marks.setting.club != Some(FrameClub::Driver) {
            let heads = |(cm, sd): (f64, f64)| (cm / IRON_HEAD, sd / IRON_HEAD);
            let camera = |_| depth(depth::FOOT)(0.0) / IRON_HEAD;
            self.keep(
                "ball-inside-lead-foot-mid-iron",
                "clubhead widths",
                foot.map(heads),
                camera,
                lacks,
            );
        }
    }

    /// Centimetres for each pixel: said, or from the ball.
    fn scale(&self) -> Option<f64> {
        let ball = || Some(BALL_RADIUS / self.marks.body.ball_radius?);
        self.marks.setting.scale.or_else(ball)
    }

    fn address_down_the_line(&mut self) {
        use BodyPart::{Ankle, Hip, Knee, Shoulder};
        use Landmark::{Lead, Trail};
        let omega = self.omega(0.0);
        let trunk = [Lead(Hip), Trail(Hip), Lead(Shoulder), Trail(Shoulder)];
        let bend = self.marks.read(trunk, |[a, b, c, d]| {
            let [ahead, up] = from_to(middle(a, b), middle(c, d));
            ahead.atan2(up).to_degrees()
        });
        let camera = |bend| line_error(bend, slope::TRUNK_DOWN_THE_LINE, omega);
        self.keep(
            "trunk-forward-bend-at-address",
            "degrees",
            bend,
            camera,
            "hips and shoulders are not all seen",
        );
        let leg = self.omega(out_of_plane::LEG);
        let knee = self.marks.read(
            [Trail(Hip), Trail(Knee), Trail(Ankle)],
            |[hip, knee, ankle]| 180.0 - corner(hip, knee, ankle),
        );
        let camera = |flex: f64| joint_error(180.0 - flex, leg);
        self.keep(
            "knee-flex-at-address",
            "degrees",
            knee,
            camera,
            "the trail leg is not all seen",
        );
    }

    fn top(&mut self, view: CameraView) {
        use BodyPart::{Elbow, Shoulder, Wrist};
        use Landmark::{Clubhead, Hands, Lead, Trail};
        let arm = self.omega(out_of_plane::ARM);
        let trail = [Trail(Shoulder), Trail(Elbow), Trail(Wrist)];
        let bend = self.marks.read(trail, |[a, b, c]| 180.0 - corner(a, b, c));
        let lacks = "the trail arm is not all seen";
        let camera = |bend: f64| joint_error(180.0 - bend, arm);
        self.keep("trail-elbow-bend-at-top", "degrees", bend, camera, lacks);
        let reach = self.marks.read(trail, |[a, b, c]| {
            length(a, c) / (length(a, b) + length(b, c))
        });
        // The chord of a bend is its half's cosine, so its slope turns the one error into the other.
        let camera = |reach: f64| {
            let half = reach.clamp(0.0, 1.0).acos();
            half.sin() / 2.0 * joint_error(180.0 - 2.0 * half.to_degrees(), arm).to_radians()
        };
        self.keep(
            "trail-hand-to-shoulder-distance-at-top",
            "ratio",
            reach,
            camera,
            lacks,
        );
        if view == CameraView::DownTheLine {
            return;
        }
        let shaft = self.omega(out_of_plane::SHAFT);
        let past = self.marks.read([Hands, Clubhead], |[hands, head]| {
            let [ahead, up] = from_to(hands, head);
            (-up).atan2(ahead.abs()).to_degrees()
        });
        let omega = self.omega(0.0);
        let camera = |past| line_error(past, slope::SHAFT_AT_TOP, omega);
        self.keep(
            "shaft-angle-past-level-at-top",
            "degrees",
            past,
            camera,
            "the clubhead is not marked",
        );
        let hinge = self.marks.read(
            [Lead(Elbow), Lead(Wrist), Clubhead],
            |[elbow, wrist, head]| corner(elbow, wrist, head),
        );
        let camera = |hinge| joint_error(hinge, shaft);
        self.keep(
            "lead-forearm-to-shaft-angle-at-top",
            "degrees",
            hinge,
            camera,
            "the lead arm or the clubhead is not marked",
        );
    }

    fn impact_face_on(&mut self) {
        if self.marks.setting.club == Some(FrameClub::Driver) {
            return;
        }
        let omega = self.omega(0.0);
        let lean = self
            .marks
            .read([Landmark::Clubhead, Landmark::Hands], |[head, hands]| {
                let [ahead, up] = from_to(head, hands);
                ahead.atan2(up).to_degrees()
            });
        let camera = |lean| line_error(lean, slope::SHAFT, omega);
        self.keep(
            "shaft-lean-at-impact-mid-iron",
            "degrees",
            lean,
            camera,
            "hands and clubhead are not both marked",
        );
    }

    /// What no single camera there shows.
    fn beyond(&mut self, setting: &Setting) {
        let other = match setting.view {
            CameraView::FaceOn => {
                "how far the trunk bends to the ball, and where hands and club are to the line: a camera down the line shows it"
            }
            CameraView::DownTheLine => {
                "side tilt, where the ball is in the stance, and shifts to and from the target: a camera face-on shows it"
            }
        };
        let mut never = vec![
            other,
            "how far shoulders and pelvis turn: a turn is along the line of sight, and the body points hardly move across the picture",
            "pressure under the feet",
        ];
        match setting.at {
            Moment::Address => never.push("the grip, and where the clubface looks"),
            Moment::Top => never.push("turns of the forearms and of the clubface"),
            Moment::Impact | Moment::Other => never
                .push("face, path and attack: they change within a frame; see what the ball did"),
        }
        self.frame
            .not_seen
            .extend(never.into_iter().map(str::to_owned));
    }
}

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

const _: () = assert!(BodyPart::Ankle as usize + 1 < POINTS && BodyPart::Eye as usize == 1);
