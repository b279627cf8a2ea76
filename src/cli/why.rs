//! `fairwhy why`: what was seen in, ranked root causes out.

use super::observations::ObservationArgs;
use super::output::Output;
use super::{Failure, Globals, layers};
use crate::diagnosis::{Effort, diagnose};
use crate::report::{why_json, why_page};
use clap::Args;
use std::io::Write;

/// How many causes a program gets unless it asks for all.
const LISTED: usize = 15;

#[derive(Debug, Args)]
pub(crate) struct WhyArgs {
    #[command(flatten)]
    observations: ObservationArgs,
    /// List every condition of the library, not only the leading causes
    #[arg(long)]
    all: bool,
}

pub(crate) fn run(
    args: &WhyArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let base = layers::load(globals)?;
    let asked = args.observations.read(&base, output)?;
    let mut asked = asked;
    asked.effort = if args.all {
        Effort::All
    } else {
        Effort::Lesson
    };
    let diagnosis =
        diagnose(&base, &asked).map_err(|error| Failure::NotDone(format!("error: {error}")))?;
    output.print(
        out,
        || why_page(&base, &diagnosis, args.all),
        || {
            why_json(
                &base,
                &diagnosis,
                if args.all { usize::MAX } else { LISTED },
            )
        },
    )?;
    Ok(0)
}
