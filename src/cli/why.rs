//! `fairwhy why`: what was seen in, ranked root causes out.

use super::observations::ObservationArgs;
use super::output::Output;
use super::visit::{VisitArgs, json_with, with_record};
use super::{Failure, Globals, layers};
use crate::diagnosis::{Effort, diagnose};
use crate::report::{View, sided, why_json, why_page};
use clap::Args;
use std::io::Write;

/// How many causes a program gets unless it asks for all.
const LISTED: usize = 15;

/// How many a person is shown.
const SHOWN: usize = 5;

#[derive(Debug, Args)]
pub(crate) struct WhyArgs {
    #[command(flatten)]
    observations: ObservationArgs,
    #[command(flatten)]
    whose: VisitArgs,
    /// List every start, not only the leading ones
    #[arg(long)]
    all: bool,
    /// List at most this many starts
    #[arg(long, value_name = "N")]
    limit: Option<usize>,
    /// Numbers, chains and every look in full
    #[arg(long)]
    details: bool,
}

impl WhyArgs {
    /// How many starts are listed where nothing is said.
    fn listed(&self, usual: usize) -> usize {
        self.limit
            .unwrap_or(if self.all { usize::MAX } else { usual })
    }
}

pub(crate) fn run(
    args: &WhyArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    args.whose.check()?;
    let mut base = layers::load(globals)?;
    let mut observations = args.observations.clone();
    let mut visit = args.whose.visit(&mut observations, globals)?;
    let keep = args.whose.keep(&base)?;
    let mut asked = observations.read(&base, output)?;
    let moved = match &mut visit {
        Some(visit) => visit.learn(&mut base, &mut asked)?,
        None => None,
    };
    asked.effort = if args.all {
        Effort::All
    } else {
        Effort::Lesson
    };
    let diagnosis =
        diagnose(&base, &asked).map_err(|error| Failure::NotDone(format!("error: {error}")))?;
    let view = View {
        starts: args.listed(SHOWN),
        details: args.details,
        width: output.width,
    };
    let kept = keep.map(|keep| keep.save(&base, &diagnosis, None, observations.notes()));
    let last = visit
        .as_ref()
        .map(|visit| visit.line(&base, moved.as_deref()));
    output.print(
        out,
        || {
            let page = sided(why_page(&base, &diagnosis, view), diagnosis.lesson.handed);
            with_record(page, last.as_deref(), kept.as_ref())
        },
        || {
            json_with(
                why_json(&base, &diagnosis, args.listed(LISTED)),
                kept.as_ref(),
            )
        },
    )?;
    kept.transpose()?;
    Ok(0)
}
