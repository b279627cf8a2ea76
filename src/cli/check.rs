//! `fairwhy check`: is a library sound, and does it still give the advice its cases ask for?

use super::output::Output;
use super::{Failure, Format, Globals, layers};
use crate::diagnosis::{CaseVerdict, RowNotes, row_notes, run_cases};
use crate::knowledge::KnowledgeBase;
use crate::knowledge::{self, LayerText, Loaded, Paint, Problem, Severity, Strictness};
use crate::report::{LEAST, Page, percent};
use clap::Args;
use serde_json::{Value, json};
use std::collections::BTreeMap;
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
    let mut looked = match knowledge::load(&layers, strictness) {
        Ok(loaded) => LookedOver::of(loaded, args),
        Err(problems) => LookedOver {
            problems,
            ..LookedOver::default()
        },
    };
    looked.problems.extend(unread);
    if output.format == Format::Json {
        writeln!(out, "{}", looked.json(args.rows))?;
    } else {
        looked.report(&layers, output, out)?;
    }
    let mut problems = looked.problems.iter();
    let error = problems.any(|p| args.strict || p.severity == Severity::Error);
    Ok(u8::from(error || looked.failed().next().is_some()))
}

/// How much of each sort there is in a library.
fn counts(base: &KnowledgeBase) -> [(&'static str, usize); 5] {
    [
        ("conditions", base.conditions.len()),
        (
            "links",
            base.conditions.iter().map(|c| c.causes.len()).sum(),
        ),
        ("drills", base.drills.len()),
        ("sources", base.sources.len()),
        ("cases", base.cases.len()),
    ]
}

/// What came of looking a library over; of one that does not load, its problems alone.
#[derive(Default)]
struct LookedOver {
    problems: Vec<Problem>,
    verdicts: Vec<CaseVerdict>,
    counts: Option<[(&'static str, usize); 5]>,
    notes: Option<(KnowledgeBase, RowNotes)>,
}

impl LookedOver {
    fn of(loaded: Loaded, args: &CheckArgs) -> Self {
        let mut looked = Self {
            problems: loaded.warnings,
            counts: Some(counts(&loaded.base)),
            ..Self::default()
        };
        if !args.no_cases {
            looked.verdicts = run_cases(&loaded.base);
        }
        if args.rows {
            let found = row_notes(&loaded.base);
            looked.notes = Some((loaded.base, found));
        }
        looked
    }

    /// The cases that no longer hold.
    fn failed(&self) -> impl Iterator<Item = &CaseVerdict> {
        self.verdicts.iter().filter(|v| v.complaint.is_some())
    }

    fn json(&self, rows: bool) -> Value {
        let cases = self.verdicts.iter().map(|v| {
            json!({
                "id": v.id, "passed": v.complaint.is_none(), "complaint": v.complaint, "place": v.place,
            })
        });
        let mut report = json!({
            "problems": self.problems,
            "cases": cases.collect::<Vec<_>>(),
            "counts": self.counts.map(|counts| counts.into_iter().collect::<BTreeMap<_, _>>()),
        });
        if rows {
            report["rows"] = self.notes.as_ref().map(notes_json).unwrap_or_default();
        }
        report
    }

    /// Problems and failed cases go where a person looks for them: after one another, problems first.
    fn report(
        &self,
        layers: &[LayerText],
        output: &Output,
        out: &mut dyn Write,
    ) -> Result<(), Failure> {
        if !self.problems.is_empty() {
            let paint = if output.color {
                Paint::Ansi
            } else {
                Paint::Plain
            };
            let text = knowledge::report_problems(&self.problems, layers, paint);
            writeln!(out, "{}", text.trim_end())?;
        }
        output.page(out, &self.page())?;
        if let Some((base, notes)) = &self.notes {
            writeln!(out)?;
            output.page(out, &notes_page(base, notes))?;
        }
        Ok(())
    }

    fn page(&self) -> Page {
        let mut page = Page::new();
        let failed = self.failed().map(|verdict| {
            let complaint = verdict.complaint.as_deref().unwrap_or_default();
            format!("{} ({}): {complaint}", verdict.id, verdict.place)
        });
        page.bullets_under("Cases that no longer hold", failed);
        if let Some(counts) = self.counts {
            let counts = counts.map(|(what, number)| format!("{number} {what}"));
            let found = match self.problems.len() {
                0 => "no problem found".to_owned(),
                some => format!("{some} to look at"),
            };
            let cases = self.verdicts.len();
            let held = cases - self.failed().count();
            let cases = match cases {
                0 => ".".to_owned(),
                _ => format!("; {held} of {cases} cases hold."),
            };
            page.text(format!("{}; {found}{cases}", counts.join(", ")));
        }
        page
    }
}

/// The notes on rows for a program.
fn notes_json((base, notes): &(KnowledgeBase, RowNotes)) -> Value {
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
    stated_shares(&mut page, base, notes);
    page
}

/// The shares that are stated beside those that the links have, furthest apart first.
fn stated_shares(page: &mut Page, base: &KnowledgeBase, notes: &RowNotes) {
    let id = |key| base.condition(key).id.clone();
    page.heading("Shares as stated, and as the links have them");
    if notes.shares.is_empty() {
        page.text(
            "This library does not say what is behind anything: its links alone make the rows.",
        );
        return;
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
}
