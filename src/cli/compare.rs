//! `fairwhy compare BEFORE AFTER`: what changed, and whether it is more than chance and error.

use super::day::day;
use super::files::{free, write_file};
use super::frame::{
    CameraArgs, MomentArg, TakenFrom, ViewArg, kept_readings, read_points, setting,
};
use super::output::Output;
use super::records::{place, refused};
use super::shots::{means, name, not_understood, read_table};
use super::timeline::{Timeline, TimelineArgs, print_kept};
use super::visit::counted;
use super::{Failure, Globals, layers};
use crate::knowledge::KnowledgeBase;
use crate::measure::{
    BallCount, FrameReading, MeasuredFrame, ShotTable, Skeleton, frame, mean_change,
    reading_change, summary,
};
use crate::records::{LessonRecord, MeasuredNumber, Store, shape_of_handle};
use crate::report::{
    Compared, Sides, compare_json, compare_page, compare_picture, compared_counts,
    compared_students,
};
use chrono::NaiveDate;
use clap::Args;
use std::io::Write;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fairwhy compare 7/10 3/10\n  fairwhy compare march.csv april.csv --picture change.svg"
)]
pub(crate) struct CompareArgs {
    /// Balls of balls, such as 7/10; a table of shots (.csv); the body points of a frame (.json); or a
    /// student who is kept, such as heron
    #[arg(value_name = "BEFORE")]
    before: String,
    /// The same, later; or another student
    #[arg(value_name = "AFTER")]
    after: String,
    /// For frames: from where the camera looks
    #[arg(long, value_enum)]
    view: Option<ViewArg>,
    /// For frames: when in the motion
    #[arg(long, value_enum)]
    at: Option<MomentArg>,
    #[command(flatten)]
    camera: CameraArgs,
    /// The change as a picture, to FILE.svg
    #[arg(long, value_name = "FILE.svg")]
    picture: Option<PathBuf>,
    /// Write over a file that is there already
    #[arg(long)]
    replace: bool,
    #[command(flatten)]
    whose: TimelineArgs,
    /// The day of BEFORE, which then is kept as well (left out: it is there already)
    #[arg(long, value_name = "DATE", value_parser = day, requires = "student", help_heading = "The student")]
    before_on: Option<NaiveDate>,
    /// For counts that are kept: what was counted, such as slice
    #[arg(
        long,
        value_name = "WHAT",
        requires = "student",
        help_heading = "The student"
    )]
    of: Option<String>,
}

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Counts,
    Tables,
    Frames,
    Students,
}

impl Kind {
    fn of(text: &str) -> Option<Self> {
        let ending = Path::new(text)
            .extension()
            .map(|end| end.to_string_lossy().to_lowercase());
        match ending.as_deref() {
            Some("csv") => Some(Self::Tables),
            Some("json") => Some(Self::Frames),
            _ if text.contains('/') => Some(Self::Counts),
            _ => shape_of_handle(text).is_ok().then_some(Self::Students),
        }
    }
}

pub(crate) fn run(
    args: &CompareArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    if let Some(path) = &args.picture {
        is_svg(path)?;
        free(path, "--picture", args.replace)?;
    }
    let whose = args.whose.open(globals)?;
    let (sides, keep) = args.sides(whose.as_ref(), globals)?;
    if let Some(path) = &args.picture {
        write_file(path, &compare_picture(&sides), args.replace)?;
    }
    let kept = whose.map(|whose| {
        let base = layers::load(globals)?;
        let numbers = args.numbers(&whose, &base, keep)?;
        Ok::<_, Failure>((base, whose.keep_all(&numbers)?))
    });
    let kept = kept.transpose()?;
    print_kept(
        kept.as_ref().map(|(base, kept)| (&**base, kept)),
        output,
        out,
        || compare_page(&sides),
        || compare_json(&sides),
    )?;
    Ok(0)
}

/// What of each side would be kept.
enum ToRecord {
    Counts(BallCount, BallCount),
    Numbers(Vec<MeasuredNumber>, Vec<MeasuredNumber>),
    /// It is on record already.
    Nothing,
}

impl CompareArgs {
    fn sides(
        &self,
        whose: Option<&Timeline>,
        globals: &Globals,
    ) -> Result<(Sides, ToRecord), Failure> {
        let not = |text: String| Failure::NotUnderstood(text);
        let sides = |compared, needed| Sides {
            compared,
            needed,
            students: None,
        };
        match (Kind::of(&self.before), Kind::of(&self.after)) {
            (Some(Kind::Counts), Some(Kind::Counts)) => {
                let (before, after) = (count(&self.before)?, count(&self.after)?);
                let (one, needed) = compared_counts(before, after);
                Ok((sides(vec![one], needed), ToRecord::Counts(before, after)))
            }
            (Some(Kind::Tables), Some(Kind::Tables)) => {
                let (all, keep) = self.tables(whose)?;
                Ok((sides(all, None), keep))
            }
            (Some(Kind::Frames), Some(Kind::Frames)) => {
                let (all, keep) = self.frames(whose)?;
                Ok((sides(all, None), keep))
            }
            (Some(Kind::Students), Some(Kind::Students)) => {
                if whose.is_none() {
                    return Ok((self.students(globals)?, ToRecord::Nothing));
                }
                Err(not("error: what two students have on record is kept already\n  help: leave --student out".into()))
            }
            (Some(one), Some(other)) if ![one, other].contains(&Kind::Students) => Err(not("error: one is a count, a table or a frame and the other is not\n  help: compare two of one sort".into())),
            _ => Err(neither()),
        }
    }

    /// What is kept of each side, with its day; the first only when its day is said.
    fn numbers(
        &self,
        whose: &Timeline,
        base: &KnowledgeBase,
        keep: ToRecord,
    ) -> Result<Vec<LessonRecord>, Failure> {
        let mut before = whose.numbers(self.from(&self.before));
        let mut after = whose.numbers(self.from(&self.after));
        match keep {
            ToRecord::Counts(one, two) => {
                let Some(of) = &self.of else {
                    return Err(Failure::NotUnderstood(
                        "error: it is not said what was counted\n  help: add --of, such as --of slice".into(),
                    ));
                };
                before.counts = vec![counted(base, of, one)];
                after.counts = vec![counted(base, of, two)];
            }
            ToRecord::Numbers(one, two) => (before.measured, after.measured) = (one, two),
            ToRecord::Nothing => {}
        }
        let Some(day) = self.before_on else {
            return Ok(vec![after]);
        };
        if day > after.day {
            return Err(Failure::NotUnderstood(format!(
                "error: {day} lies after {}, the day of AFTER\n  help: --before-on is the day of the first, --on that of the second",
                after.day
            )));
        }
        before.day = day;
        Ok(vec![before, after])
    }

    fn from(&self, side: &str) -> String {
        match Kind::of(side) {
            Some(Kind::Tables) => format!("shots, {}", name(side)),
            Some(Kind::Frames) => format!("frame {}", name(side)),
            _ => "counted".to_owned(),
        }
    }

    /// What two students have on record, the last of each thing that both have.
    fn students(&self, globals: &Globals) -> Result<Sides, Failure> {
        let Some(mut store) = Store::to_read(&place()?).map_err(refused)? else {
            return Err(neither());
        };
        for handle in [&self.before, &self.after] {
            if !store.has(handle).map_err(refused)? {
                return Err(Failure::NotUnderstood(format!(
                    "error: `{handle}` is neither a count, a table, a frame nor a student who is kept\n  help: write 7/10 3/10, two .csv files, two .json files of body points, or two handles; fairwhy student list names them"
                )));
            }
        }
        let mut of = |handle: &str| store.history(handle).map_err(refused);
        let (one, two) = (of(&self.before)?, of(&self.after)?);
        let base = layers::load(globals)?;
        let compared = compared_students(&base, &one, &two);
        if compared.is_empty() {
            return Err(Failure::NotDone(format!(
                "error: {} and {} have nothing counted or measured in common\n  help: --count slice=7/10 keeps a count with a lesson, and frame --student a number",
                self.before, self.after
            )));
        }
        Ok(Sides {
            compared,
            needed: None,
            students: Some([self.before.clone(), self.after.clone()]),
        })
    }

    fn tables(&self, whose: Option<&Timeline>) -> Result<(Vec<Compared>, ToRecord), Failure> {
        let (before, after) = (read_table(&self.before)?, read_table(&self.after)?);
        let hand = whose.and_then(|whose| whose.history.student.handed);
        for (table, file) in [(&before, &self.before), (&after, &self.after)] {
            if let Some(hand) = hand {
                let of_hand = table.of_hand(hand.as_str());
                of_hand.map_err(|error| not_understood(file, &error))?;
            }
        }
        let all = tables(&before, &after);
        if all.is_empty() {
            return Err(Failure::NotUnderstood("error: the tables have no column of numbers in common\n  help: write the same names and units in the head, such as path (degrees)".into()));
        }
        Ok((all, ToRecord::Numbers(means(&before), means(&after))))
    }

    fn frames(&self, whose: Option<&Timeline>) -> Result<(Vec<Compared>, ToRecord), Failure> {
        let Some((view, at)) = self.view.zip(self.at) else {
            return Err(Failure::NotUnderstood("error: where the camera stood and when is not said\n  help: add --view face-on or down-the-line, and --at address, top or impact".into()));
        };
        let read = |file: &str| read_points(Path::new(file));
        let (one, two) = (read(&self.before)?, read(&self.after)?);
        let taken = TakenFrom {
            view,
            at,
            camera: &self.camera,
            of: whose,
        };
        let setting = setting(&taken, &two, Some(&one))?;
        let shown = |body: &Skeleton, file: &str| {
            frame(body, &setting).map_err(|error| {
                Failure::NotUnderstood(format!(
                    "error: {file}: {error}\n  help: left and right are the player's own"
                ))
            })
        };
        let (before, after) = (shown(&one, &self.before)?, shown(&two, &self.after)?);
        let both = before.measured.iter().filter_map(|first| {
            let mut later = after.measured.iter();
            let second = later.find(|one| one.quantity == first.quantity)?;
            Some(readings(first, second))
        });
        let all: Vec<Compared> = both.collect();
        if all.is_empty() {
            return Err(Failure::NotUnderstood("error: the frames have no quantity in common\n  help: fairwhy frame says of each what is missing".into()));
        }
        let keep = |shown: &MeasuredFrame| kept_readings(shown, &self.camera);
        Ok((all, ToRecord::Numbers(keep(&before), keep(&after))))
    }
}

fn neither() -> Failure {
    Failure::NotUnderstood("error: that is neither a count, a table, a frame nor a student who is kept\n  help: write 7/10 3/10, two .csv files, two .json files of body points, or two handles".into())
}

fn readings(before: &FrameReading, after: &FrameReading) -> Compared {
    let of = |one: &FrameReading| {
        let reach = 1.959_963_984_540_054 * one.error_sd;
        (one.value, one.value - reach, one.value + reach, None)
    };
    Compared {
        what: before.quantity.to_owned(),
        unit: before.unit.to_owned(),
        before: of(before),
        after: of(after),
        change: reading_change(
            (before.value, before.error_sd),
            (after.value, after.error_sd),
        ),
    }
}

fn is_svg(path: &Path) -> Result<(), Failure> {
    let svg = |end: &std::ffi::OsStr| end.eq_ignore_ascii_case("svg");
    if path.extension().is_some_and(svg) {
        return Ok(());
    }
    Err(Failure::NotUnderstood(format!(
        "error: the picture is written as SVG, and `{}` does not end in .svg\n  help: write --picture change.svg",
        path.display()
    )))
}

fn count(text: &str) -> Result<BallCount, Failure> {
    BallCount::parse(text).map_err(|help| {
        let shown: String = text.chars().take(60).collect();
        Failure::NotUnderstood(format!("error: `{shown}` is no count\n  help: {help}"))
    })
}

/// Every column of numbers that both have under one name and unit.
fn tables(before: &ShotTable, after: &ShotTable) -> Vec<Compared> {
    let mut all = Vec::new();
    for column in &before.columns {
        let same = |other: &&crate::measure::Column| match (column.number, other.number) {
            (Some(one), Some(two)) => one == two,
            (None, None) => column.name == other.name && column.unit == other.unit,
            _ => false,
        };
        let values = |column: &crate::measure::Column| {
            let there: Vec<f64> = column.there().into_iter().map(|(_, value)| value).collect();
            summary(&there)
        };
        let Some(other) = after.columns.iter().find(same) else {
            continue;
        };
        let Some((one, two)) = values(column).zip(values(other)) else {
            continue;
        };
        let of = |s: &crate::measure::Summary| {
            let (low, high) = s.interval.unwrap_or((s.mean, s.mean));
            (s.mean, low, high, Some(s.n))
        };
        all.push(Compared {
            what: column.name.clone(),
            unit: column.number.map_or(&*column.unit, |n| n.unit()).to_owned(),
            before: of(&one),
            after: of(&two),
            change: mean_change(&one, &two),
        });
    }
    all
}
