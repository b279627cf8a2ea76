//! `fairwhy check`: is a library sound, and does it still give the advice its cases ask for?

use super::output::Output;
use super::{Failure, Globals, layers};
use crate::diagnosis::{Agreement, CaseVerdict, agreement, run_cases};
use crate::knowledge::{self, LayerText, Paint, Problem, Severity, Strictness};
use crate::report::{Page, percent};
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
    /// Hold the stated shares against what the links alone make of them; takes a while
    #[arg(long)]
    shares: bool,
}

/// No more shares than this are listed on a page; JSON has them all.
const SHARES_LISTED: usize = 20;

pub(crate) fn run(
    args: &CheckArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let (layers, unread) = layers::texts_with(globals, args.folder.as_deref())?;
    let strictness = if args.strict {
        Strictness::Strict
    } else {
        Strictness::Lesson
    };
    let mut shares: Vec<(String, String, Agreement)> = Vec::new();
    let (mut problems, verdicts, counts) = match knowledge::load(&layers, strictness) {
        Err(problems) => (problems, Vec::new(), None),
        Ok(loaded) => {
            let verdicts = if args.no_cases {
                Vec::new()
            } else {
                run_cases(&loaded.base)
            };
            if args.shares {
                let base = &loaded.base;
                let id = |key| base.condition(key).id.clone();
                let rows =
                    agreement(base).map_err(|error| Failure::NotDone(format!("error: {error}")))?;
                shares = rows
                    .into_iter()
                    .map(|row| (id(row.finding), id(row.cause), row))
                    .collect();
            }
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
    problems.extend(unread);
    let failed: Vec<&CaseVerdict> = verdicts.iter().filter(|v| v.complaint.is_some()).collect();
    let errors = problems
        .iter()
        .filter(|p| args.strict || p.severity == Severity::Error)
        .count();
    if output.format == super::Format::Json {
        let mut report = json!({
            "problems": problems,
            "cases": verdicts.iter().map(|v| json!({
                "id": v.id, "passed": v.complaint.is_none(), "complaint": v.complaint, "place": v.place,
            })).collect::<Vec<_>>(),
            "counts": counts.map(|counts| counts.into_iter().collect::<std::collections::BTreeMap<_, _>>()),
        });
        if args.shares {
            let rows = shares
                .iter()
                .map(|(finding, cause, row)| {
                    json!({"finding": finding, "cause": cause, "stated": row.stated, "by_links": row.by_links})
                });
            report["shares"] = counts.map(|_| rows.collect()).unwrap_or_default();
        }
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
        // Of a library that does not load nothing can be said.
        if args.shares && counts.is_some() {
            let page = shares_page(&shares);
            let text = match output.format {
                super::Format::Markdown => page.to_markdown(2),
                _ => page.to_text(output.width, output.color),
            };
            writeln!(out)?;
            out.write_all(text.as_bytes())?;
        }
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

/// The shares that lie furthest from what the links make of them, and how far all of them lie.
fn shares_page(shares: &[(String, String, Agreement)]) -> Page {
    let mut page = Page::new();
    page.heading("Shares as stated, and as the links make them");
    if shares.is_empty() {
        page.text("This library does not say what is behind anything.");
        return page;
    }
    let rows = shares
        .iter()
        .take(SHARES_LISTED)
        .map(|(finding, cause, row)| {
            [
                finding.clone(),
                if row.finding == row.cause {
                    "(its own)".to_owned()
                } else {
                    cause.clone()
                },
                percent(row.stated),
                percent(row.by_links),
            ]
        })
        .collect();
    page.grid(["Seen", "Worked on", "Stated", "By links"], rows);
    #[allow(clippy::cast_precision_loss, reason = "a few thousand shares")]
    let mean = shares.iter().map(|(.., row)| row.apart()).sum::<f64>() / shares.len() as f64;
    let far = shares.iter().filter(|(.., row)| row.apart() > 0.1).count();
    page.text(format!(
        "{} shares; they lie {:.1} points apart on average, {far} of them more than 10. A large gap says that a link is missing, or that one of the two is wrong.",
        shares.len(),
        100.0 * mean
    ));
    page
}
