//! `fairwhy check`: is a library sound, and does it still give the advice its cases ask for?

use super::output::Output;
use super::{Failure, Globals, layers};
use crate::diagnosis::{CaseVerdict, run_cases};
use crate::knowledge::{self, LayerText, Paint, Problem, Severity, Strictness};
use crate::report::Page;
use clap::Args;
use serde_json::json;
use std::io::Write;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct CheckArgs {
    /// A folder to check on top of what ships and of --library
    #[arg(value_name = "DIR")]
    folder: Option<PathBuf>,
    /// Count warnings as errors, as for the shipped library
    #[arg(long)]
    strict: bool,
    /// Leave the library's own cases out
    #[arg(long)]
    no_cases: bool,
}

pub(crate) fn run(
    args: &CheckArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let layers = layers::texts_with(globals, args.folder.as_deref())?;
    let strictness = if args.strict {
        Strictness::Strict
    } else {
        Strictness::Lesson
    };
    let (problems, verdicts, counts) = match knowledge::load(&layers, strictness) {
        Err(problems) => (problems, Vec::new(), None),
        Ok(loaded) => {
            let verdicts = if args.no_cases {
                Vec::new()
            } else {
                run_cases(&loaded.base)
            };
            let links: usize = loaded.base.conditions.iter().map(|c| c.causes.len()).sum();
            let counts = [
                ("conditions", loaded.base.conditions.len()),
                ("links", links),
                ("drills", loaded.base.drills.len()),
                ("sources", loaded.base.sources.len()),
                ("cases", loaded.base.cases.len()),
            ];
            (loaded.warnings, verdicts, Some(counts))
        }
    };
    let failed: Vec<&CaseVerdict> = verdicts.iter().filter(|v| v.complaint.is_some()).collect();
    let errors = problems
        .iter()
        .filter(|p| args.strict || p.severity == Severity::Error)
        .count();
    if output.format == super::Format::Json {
        let report = json!({
            "problems": problems,
            "cases": verdicts.iter().map(|v| json!({
                "id": v.id, "passed": v.complaint.is_none(), "complaint": v.complaint, "place": v.place,
            })).collect::<Vec<_>>(),
            "counts": counts.map(|counts| counts.into_iter().collect::<std::collections::BTreeMap<_, _>>()),
        });
        writeln!(out, "{report}")?;
    } else {
        report(
            &problems,
            &failed,
            verdicts.len(),
            counts,
            &layers,
            output,
            out,
        )?;
    }
    Ok(u8::from(errors > 0 || !failed.is_empty()))
}

/// Problems and failed cases go where a person looks for them: after one another, problems first.
fn report(
    problems: &[Problem],
    failed: &[&CaseVerdict],
    cases: usize,
    counts: Option<[(&str, usize); 5]>,
    layers: &[LayerText],
    output: &Output,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    if !problems.is_empty() {
        let text = knowledge::report_problems(
            problems,
            layers,
            if output.color {
                Paint::Ansi
            } else {
                Paint::Plain
            },
        );
        writeln!(out, "{}", text.trim_end())?;
    }
    let mut page = Page::new();
    if !failed.is_empty() {
        page.heading("Cases that no longer hold")
            .bullets(failed.iter().map(|verdict| {
                format!(
                    "{} ({}): {}",
                    verdict.id,
                    verdict.place,
                    verdict.complaint.as_deref().unwrap_or_default()
                )
            }));
    }
    if let Some(counts) = counts {
        let counts: Vec<String> = counts
            .iter()
            .map(|(what, number)| format!("{number} {what}"))
            .collect();
        let held = cases - failed.len();
        page.text(format!(
            "{}; {}{}",
            counts.join(", "),
            if problems.is_empty() {
                "no problem found".to_owned()
            } else {
                format!("{} to look at", problems.len())
            },
            if cases == 0 {
                ".".to_owned()
            } else {
                format!("; {held} of {cases} cases hold.")
            }
        ));
    }
    let text = match output.format {
        super::Format::Markdown => page.to_markdown(2),
        _ => page.to_text(output.width, output.color),
    };
    out.write_all(text.as_bytes())?;
    Ok(())
}
