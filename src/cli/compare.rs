//! `fairwhy compare BEFORE AFTER`: what changed, and whether it is more than chance and error.

use super::frame::{CameraArgs, MomentArg, ViewArg, read_points, setting};
use super::output::Output;
use super::plan::{free, write_file};
use super::shots::read_table;
use super::{Failure, Globals};
use crate::measure::{
    Count, FrameReading, Skeleton, Table, frame, mean_change, reading_change, summary,
};
use crate::report::{Compared, compare_json, compare_page, compare_picture, compared_counts};
use clap::Args;
use std::io::Write;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fairwhy compare 7/10 3/10\n  fairwhy compare march.csv april.csv --picture change.svg"
)]
pub(crate) struct CompareArgs {
    /// Balls of balls, such as 7/10; a table of shots (.csv); or the body points of a frame (.json)
    #[arg(value_name = "BEFORE")]
    before: String,
    /// The same, later
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
}

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Counts,
    Tables,
    Frames,
}

impl Kind {
    fn of(text: &str) -> Option<Self> {
        let ending = Path::new(text)
            .extension()
            .map(|end| end.to_string_lossy().to_lowercase());
        match ending.as_deref() {
            Some("csv") => Some(Self::Tables),
            Some("json") => Some(Self::Frames),
            _ => text.contains('/').then_some(Self::Counts),
        }
    }
}

pub(crate) fn run(
    args: &CompareArgs,
    _: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    if let Some(path) = &args.picture {
        if path
            .extension()
            .is_none_or(|end| !end.eq_ignore_ascii_case("svg"))
        {
            return Err(Failure::NotUnderstood(format!(
                "error: the picture is written as SVG, and `{}` does not end in .svg\n  help: write --picture change.svg",
                path.display()
            )));
        }
        free(path, "--picture", args.replace)?;
    }
    let (compared, needed) = args.compared()?;
    if let Some(path) = &args.picture {
        write_file(path, &compare_picture(&compared), args.replace)?;
    }
    output.print(
        out,
        || compare_page(&compared, needed),
        || compare_json(&compared, needed),
    )?;
    Ok(0)
}

impl CompareArgs {
    fn compared(&self) -> Result<(Vec<Compared>, Option<u32>), Failure> {
        let not = |text: String| Failure::NotUnderstood(text);
        match (Kind::of(&self.before), Kind::of(&self.after)) {
            (Some(Kind::Counts), Some(Kind::Counts)) => {
                let count = |text: &str| {
                    Count::parse(text).map_err(|help| {
                        let shown: String = text.chars().take(60).collect();
                        not(format!("error: `{shown}` is no count\n  help: {help}"))
                    })
                };
                let (one, needed) = compared_counts(count(&self.before)?, count(&self.after)?);
                Ok((vec![one], needed))
            }
            (Some(Kind::Tables), Some(Kind::Tables)) => {
                let (before, after) = (read_table(&self.before)?, read_table(&self.after)?);
                let all = tables(&before, &after);
                if all.is_empty() {
                    return Err(not("error: the tables have no column of numbers in common\n  help: write the same names and units in the head, such as path (degrees)".into()));
                }
                Ok((all, None))
            }
            (Some(Kind::Frames), Some(Kind::Frames)) => Ok((self.frames()?, None)),
            (Some(_), Some(_)) => Err(not("error: one is a count, a table or a frame and the other is not\n  help: compare two of one sort".into())),
            _ => Err(not("error: that is neither a count, a table nor a frame\n  help: write 7/10 3/10, two .csv files, or two .json files of body points".into())),
        }
    }

    fn frames(&self) -> Result<Vec<Compared>, Failure> {
        let Some((view, at)) = self.view.zip(self.at) else {
            return Err(Failure::NotUnderstood("error: where the camera stood and when is not said\n  help: add --view face-on or down-the-line, and --at address, top or impact".into()));
        };
        let read = |file: &str| read_points(Path::new(file));
        let (one, two) = (read(&self.before)?, read(&self.after)?);
        let setting = setting(view, at, &self.camera, &two, Some(&one))?;
        let shown = |body: &Skeleton, file: &str| {
            frame(body, &setting).map_err(|error| {
                Failure::NotUnderstood(format!(
                    "error: {file}: {error}\n  help: left and right are the player's own"
                ))
            })
        };
        let (before, after) = (shown(&one, &self.before)?, shown(&two, &self.after)?);
        let all: Vec<Compared> = before
            .measured
            .iter()
            .filter_map(|first| {
                let mut later = after.measured.iter();
                Some(readings(
                    first,
                    later.find(|one| one.quantity == first.quantity)?,
                ))
            })
            .collect();
        if all.is_empty() {
            return Err(Failure::NotUnderstood("error: the frames have no quantity in common\n  help: fairwhy frame says of each what is missing".into()));
        }
        Ok(all)
    }
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

/// Every column of numbers that both have under one name and unit.
fn tables(before: &Table, after: &Table) -> Vec<Compared> {
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
            unit: column
                .number
                .map_or(column.unit.as_str(), |n| n.unit())
                .to_owned(),
            before: of(&one),
            after: of(&two),
            change: mean_change(&one, &two),
        });
    }
    all
}
