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

use super::camera::{
    CameraView, FrameClub, Moment, Setting, depth, joint_error, line_error, out_of_plane, slope,
};
use super::landmarks::{
    BALL_RADIUS, BodyPart, Landmark, Landmarks, corner, from_to, length, middle,
};
use super::skeleton::Skeleton;

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

/// What makes a frame's quantities: what is known of the marks, and what came of them.
struct FrameReader<'a> {
    marks: Landmarks<'a>,
    frame: MeasuredFrame,
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
