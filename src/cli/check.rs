//! `fairwhy check`: is a library sound, and does it still give the advice its cases ask for?

use super::output::Output;
use super::{Failure, Globals, layers};
use crate::diagnosis::{CaseVerdict, RowNotes, row_notes, run_cases};
use crate::knowledge::KnowledgeBase;
use crate::knowledge::{self, LayerText, Paint, Problem, Severity, Strictness};
use crate::report::{LEAST, Page, percent};
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
    /// Note where links ask for more than the whole of a finding, and where stated shares and links part
    #[arg(long)]
    rows: bool,
}

/// No more of each note than this is listed on a page; JSON has them all.
const LISTED: usize = 20;

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
    let mut notes: Option<(KnowledgeBase, RowNotes)> = None;
    let (mut problems, verdicts, counts) = match knowledge::load(&layers, strictness) {
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
            if args.rows {
                let found = row_notes(&loaded.base);
                notes = Some((loaded.base, found));
            }
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
        if args.rows {
            report["rows"] = notes.as_ref().map(notes_json).unwrap_or_default();
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
        if let Some((base, notes)) = &notes {
            let page = notes_page(base, notes);
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

/// The notes on rows for a program.
fn notes_json((base, notes): &(KnowledgeBase, RowNotes)) -> serde_json::Value {
    let id = |key| base.condition(key).id.as_str();
    let past = notes.past_the_cap.iter().map(|(key, links)| {
        let links_of: Vec<_> = links.to.iter().map(|link| id(link.0)).collect();
        json!({"id": id(*key), "asked": links.asked, "most": links.most, "links": links_of})
    });
    let shares = notes.shares.iter().map(|row| {
        json!({
            "finding": id(row.finding),
            "cause": id(row.cause),
            "stated": row.stated,
            "by_links": row.by_links,
            "chain": row.chain,
        })
    });
    let rows = base.condition_keys().map(|key| {
        let row = notes.rows.row(key);
        let entries = row.entries().iter().filter(|e| e.0 != key && e.1 > LEAST);
        let entries = entries.map(|entry| json!({"id": id(entry.0), "share": entry.1}));
        json!({
            "id": id(key),
            "own": row.share(key),
            "row": entries.collect::<Vec<_>>(),
        })
    });
    json!({
        "rows": rows.collect::<Vec<_>>(),
        "past_the_cap": past.collect::<Vec<_>>(),
        "shares": shares.collect::<Vec<_>>(),
    })
}

/// The notes on rows for a person.
fn notes_page(base: &KnowledgeBase, notes: &RowNotes) -> Page {
    let mut page = Page::new();
    let id = |key| base.condition(key).id.clone();
    page.heading("Links that ask for more than the whole");
    if notes.past_the_cap.is_empty() {
        page.text("None: the links of every condition leave it a share of its own.");
    } else {
        let rows = notes.past_the_cap.iter().take(LISTED).map(|(key, links)| {
            [
                id(*key),
                links.to.len().to_string(),
                percent(links.asked),
                percent(links.most),
            ]
        });
        page.grid(
            ["Condition", "Links", "Ask for", "Brought down to"],
            rows.collect(),
        );
        page.text(format!(
            "{} conditions. A note, no fault: seven causes of equal commonness at 0.15 fill a condition already. The links keep their proportions.",
            notes.past_the_cap.len()
        ));
    }
    page.heading("Shares as stated, and as the links have them");
    if notes.shares.is_empty() {
        page.text(
            "This library does not say what is behind anything: its links alone make the rows.",
        );
        return page;
    }
    let rows = notes.shares.iter().take(LISTED).map(|row| {
        let cause = if row.finding == row.cause {
            "(its own)".to_owned()
        } else {
            id(row.cause)
        };
        let chain = if row.chain { "" } else { ", no chain" };
        let (stated, by_links) = (percent(row.stated), percent(row.by_links));
        // Two ids side by side are wider than a screen.
        format!(
            "{} <- {cause}: stated {stated}, by links {by_links}{chain}",
            id(row.finding)
        )
    });
    page.bullets(rows);
    #[allow(clippy::cast_precision_loss, reason = "a few thousand shares")]
    let mean = notes.shares.iter().map(|row| row.by()).sum::<f64>() / notes.shares.len() as f64;
    let far = notes.shares.iter().filter(|row| row.by() > 0.1).count();
    let no_chain = notes.shares.iter().filter(|row| !row.chain).count();
    page.text(format!(
        "{} shares; they lie {:.1} points apart on average, {far} of them more than 10; {no_chain} are stated with no chain of links behind them. A large gap says that a link is missing, or that one of the two is wrong.",
        notes.shares.len(),
        100.0 * mean
    ));
    page
}
