//! `fairwhy progress HANDLE` and `fairwhy eval`: the months of a student, and a coach's own hit rates.

use super::files::{free, write_private};
use super::output::Output;
use super::records::{refused, to_read};
use super::{Failure, Globals, layers};
use crate::records::evaluate;
use crate::report::{eval_json, eval_page, progress_json, progress_page, progress_picture, sided};
use clap::Args;
use std::io::Write;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct ProgressArgs {
    /// The student
    #[arg(value_name = "HANDLE")]
    handle: String,
    /// The months as a small picture, to FILE.svg
    #[arg(long, value_name = "FILE.svg")]
    picture: Option<PathBuf>,
    /// Write over a file that is there already
    #[arg(long)]
    replace: bool,
}

#[derive(Debug, Args)]
pub(crate) struct EvalArgs {
    /// The calls of this coach alone, as FAIRWHY_COACH named them (left out: all)
    #[arg(long, value_name = "COACH")]
    coach: Option<String>,
}

/// The months of a student.
pub(crate) fn run(
    args: &ProgressArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    if let Some(path) = &args.picture {
        if path
            .extension()
            .is_none_or(|end| !end.eq_ignore_ascii_case("svg"))
        {
            return Err(Failure::NotUnderstood(format!(
                "error: the picture is written as SVG, and `{}` does not end in .svg\n  help: write --picture heron.svg",
                path.display()
            )));
        }
        free(path, "--picture", args.replace)?;
    }
    let history = to_read()?.history(&args.handle).map_err(refused)?;
    let base = layers::load(globals)?;
    if let Some(path) = &args.picture {
        write_private(path, &progress_picture(&base, &history), args.replace)?;
    }
    output.print(
        out,
        || sided(progress_page(&base, &history), history.student.handed),
        || progress_json(&history),
    )?;
    if let Some(path) = &args.picture {
        let _ = writeln!(std::io::stderr(), "wrote {}", path.display());
    }
    Ok(0)
}

/// Hit rates, calibration and agreement.
pub(crate) fn eval(args: &EvalArgs, output: &Output, out: &mut dyn Write) -> Result<u8, Failure> {
    let entries = to_read()?.entries(None).map_err(refused)?;
    let found = evaluate(&entries, args.coach.as_deref());
    output.print(out, || eval_page(&found), || eval_json(&found))?;
    Ok(0)
}
