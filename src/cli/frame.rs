//! `fairwhy frame FILE`: body points of a frame in, the quantities it can carry out.

use super::context::HandedArg;
use super::output::{Output, open_named};
use super::timeline::{Timeline, TimelineArgs, print_kept, quantity};
use super::{Failure, Globals, layers};
use crate::measure::{
    BY_EYE, CameraView, FrameClub, Lead, MeasuredFrame, Moment, PointsError, Setting, Skeleton,
    frame, read_number, shifts,
};
use crate::records::MeasuredNumber;
use crate::report::{frame_json, frame_page, frame_quantities};
use clap::builder::PossibleValue;
use clap::{Args, ValueEnum};
use std::fmt::Write as _;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// The largest file of points; a frame has a few hundred numbers.
const MOST_BYTES: u64 = 16 * 1024 * 1024;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fairwhy frame points.json --view face-on --at address --handed right --club driver\n  fairwhy frame top.json --view down-the-line --at top --with address.json"
)]
pub(crate) struct FrameArgs {
    /// 17 body points in the COCO order as JSON, with their confidence; ball, clubhead and hands beside them
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// From where the camera looks
    #[arg(long, value_enum)]
    view: ViewArg,
    /// When in the motion
    #[arg(long, value_enum)]
    at: MomentArg,
    /// An earlier frame of the same camera, for how head, pelvis and lines moved since
    #[arg(long, value_name = "FILE")]
    with: Option<PathBuf>,
    #[command(flatten)]
    camera: CameraArgs,
    #[command(flatten)]
    whose: TimelineArgs,
}

/// How the picture was taken.
#[derive(Clone, Debug, Args)]
pub(crate) struct CameraArgs {
    /// Which way the student plays (left out: as the record or the file says, or right)
    #[arg(long, value_enum)]
    handed: Option<HandedArg>,
    /// With which club, for what is measured for one club
    #[arg(long, value_enum)]
    club: Option<FrameClubArg>,
    /// How far the camera may stand off its place, in degrees, up to 45
    #[arg(long, value_name = "DEG", default_value_t = BY_EYE, value_parser = camera_off)]
    camera_off: f64,
    /// Centimetres for each pixel at the player (left out: from the ball, when its radius is marked)
    #[arg(long, value_name = "CM", value_parser = scale)]
    scale: Option<f64>,
}

fn camera_off(text: &str) -> Result<f64, String> {
    let degrees = read_number(text)?;
    let fits = (0.0..=45.0).contains(&degrees);
    fits.then_some(degrees)
        .ok_or_else(|| "write degrees from 0 to 45".to_owned())
}

fn scale(text: &str) -> Result<f64, String> {
    let cm = read_number(text)?;
    let fits = cm > 0.0 && cm <= 10.0;
    fits.then_some(cm)
        .ok_or_else(|| "write centimetres for one pixel, above 0, such as 0.25".to_owned())
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ViewArg {
    /// At the player's front, square to the target line
    FaceOn,
    /// Along the target line, from behind the player
    DownTheLine,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum MomentArg {
    /// Before anything moves
    Address,
    /// The first part of the way back
    Takeaway,
    /// The lead arm level, going back
    LeadArmLevel,
    /// The top of the backswing
    Top,
    /// The change of direction
    Transition,
    /// The lead arm level, coming down
    LeadArmLevelDown,
    /// The shaft level, coming down
    ShaftLevelDown,
    /// Club and ball meet
    Impact,
    /// The end of the swing
    Finish,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum FrameClubArg {
    /// A driver
    Driver,
    /// An iron
    Iron,
}

pub(crate) fn run(
    args: &FrameArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let body = read_points(&args.file)?;
    let before = args.with.as_deref().map(read_points).transpose()?;
    let whose = args.whose.open(globals)?;
    let taken = TakenFrom {
        view: args.view,
        at: args.at,
        camera: &args.camera,
        of: whose.as_ref(),
    };
    let setting = setting(&taken, &body, before.as_ref())?;
    let shown = frame(&body, &setting).map_err(|error| {
        Failure::NotUnderstood(format!(
            "error: {}: {error}\n  help: turn the picture or the points round; left and right are the player's own",
            args.file.display()
        ))
    })?;
    let moved = before.map_or_else(Vec::new, |before| shifts(&before, &body, &setting));
    let base = layers::load(globals)?;
    let next = why_line(frame_quantities(&base, &shown), args.camera.club);
    let from = taken.from(&args.file);
    let kept = whose.map(|whose| {
        let mut numbers = whose.numbers(from);
        numbers.measured = kept_readings(&shown, &args.camera);
        whose.keep(&numbers)
    });
    let kept = kept.transpose()?;
    print_kept(
        kept.as_ref().map(|kept| (&*base, kept)),
        output,
        out,
        || frame_page(&base, &shown, &moved, next.as_deref()),
        || {
            let mut json = frame_json(&base, &shown, &moved);
            json["why"] = next.as_deref().into();
            json
        },
    )?;
    Ok(0)
}

/// Whether a quantity is measured for one club only.
fn is_of_a_club(quantity: &str) -> bool {
    ["-driver", "-mid-iron"]
        .iter()
        .any(|club| quantity.ends_with(club))
}

/// The readings as they are kept; what is measured for one club only once that club is said.
pub(crate) fn kept_readings(shown: &MeasuredFrame, camera: &CameraArgs) -> Vec<MeasuredNumber> {
    let readings = shown.measured.iter();
    readings
        .filter(|one| camera.club.is_some() || !is_of_a_club(one.quantity))
        .map(|one| quantity(one.quantity, one.value, one.unit, one.error_sd))
        .collect()
}

/// The readings as a command; what is measured for one club only once that club is said.
fn why_line(mut quantities: Vec<String>, club: Option<FrameClubArg>) -> Option<String> {
    if club.is_none() {
        quantities.retain(|one| one.split('=').next().is_none_or(|name| !is_of_a_club(name)));
    }
    if quantities.is_empty() {
        return None;
    }
    let mut line = String::from("fairwhy why");
    for quantity in quantities {
        let _ = write!(line, " --measured {quantity}");
    }
    match club {
        Some(FrameClubArg::Driver) => line.push_str(" --shot driver"),
        Some(FrameClubArg::Iron) => line.push_str(" --shot iron"),
        None => {}
    }
    Some(line)
}

/// The body points of a file.
pub(crate) fn read_points(path: &Path) -> Result<Skeleton, Failure> {
    let shown = path.display();
    let not_read = |error: std::io::Error| {
        Failure::NotDone(format!("error: {shown} could not be read: {error}"))
    };
    let mut text = String::new();
    let file = open_named(path).map_err(not_read)?;
    file.take(MOST_BYTES + 1)
        .read_to_string(&mut text)
        .map_err(not_read)?;
    if text.len() as u64 > MOST_BYTES {
        return Err(Failure::NotUnderstood(format!(
            "error: {shown} is larger than {} MB, and a frame is not\n  help: write the points of one frame",
            MOST_BYTES / 1024 / 1024
        )));
    }
    Skeleton::read(&text).map_err(|error: PointsError| {
        Failure::NotUnderstood(format!("error: {shown}: {error}\n  help: {}", error.help))
    })
}

/// From where, when and of whom a frame was taken.
pub(crate) struct TakenFrom<'a> {
    pub(crate) view: ViewArg,
    pub(crate) at: MomentArg,
    pub(crate) camera: &'a CameraArgs,
    /// Whose record it goes to.
    pub(crate) of: Option<&'a Timeline>,
}

impl TakenFrom<'_> {
    /// Off what numbers were read, for the record.
    pub(crate) fn from(&self, file: &Path) -> String {
        let name = file.file_name().unwrap_or_default().to_string_lossy();
        let word = |value: Option<PossibleValue>| {
            value.map_or_else(String::new, |value| value.get_name().replace('-', " "))
        };
        format!(
            "frame {name}, {}, {}",
            word(self.view.to_possible_value()),
            word(self.at.to_possible_value())
        )
    }
}

/// How the frame is read.
pub(crate) fn setting(
    taken: &TakenFrom<'_>,
    body: &Skeleton,
    before: Option<&Skeleton>,
) -> Result<Setting, Failure> {
    let camera = taken.camera;
    Ok(Setting {
        view: match taken.view {
            ViewArg::FaceOn => CameraView::FaceOn,
            ViewArg::DownTheLine => CameraView::DownTheLine,
        },
        at: match taken.at {
            MomentArg::Address => Moment::Address,
            MomentArg::Top => Moment::Top,
            MomentArg::Impact => Moment::Impact,
            _ => Moment::Other,
        },
        lead: camera.lead(taken.of, body, before)?,
        club: camera.club.map(|club| match club {
            FrameClubArg::Driver => FrameClub::Driver,
            FrameClubArg::Iron => FrameClub::Iron,
        }),
        camera_off: camera.camera_off,
        scale: camera.scale,
    })
}

impl CameraArgs {
    /// The lead side: what is said here, or else on the record, and in the files must agree.
    fn lead(
        &self,
        of: Option<&Timeline>,
        body: &Skeleton,
        before: Option<&Skeleton>,
    ) -> Result<Lead, Failure> {
        let files = [Some(body), before].into_iter().flatten();
        let files: Vec<String> = files.filter_map(|body| body.handed.clone()).collect();
        let said = self.handed.map(HandedArg::handed);
        let said = said.or_else(|| of.and_then(|of| of.history.student.handed));
        let said = match of {
            Some(of) if said.is_none() && files.is_empty() => Some(of.hand()?),
            _ => said,
        };
        let said = said.map(|handed| handed.as_str().to_owned());
        let all: Vec<String> = said.into_iter().chain(files).collect();
        let first = all.first().map_or("right", String::as_str);
        if all.iter().any(|other| other != first) {
            return Err(Failure::NotUnderstood(
                "error: the hands do not agree: one says right-handed and another left-handed\n  help: take frames of one student, and --handed as the student plays, here and on record".into(),
            ));
        }
        match first {
            "right" => Ok(Lead::Left),
            "left" => Ok(Lead::Right),
            other => Err(Failure::NotUnderstood(format!(
                "error: `handed` is `{other}` in the file\n  help: write right or left"
            ))),
        }
    }
}
