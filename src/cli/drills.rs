//! `fairwhy drills WORDS`: drills by symptom, each with its reason.

use super::context::{ContextArgs, spelled};
use super::output::Output;
use super::{Failure, Globals, home, layers, trouble, visit};
use crate::diagnosis::makes_likely;
use crate::knowledge::{ConditionKey, KnowledgeBase, RemedyKind, Rung};
use crate::report::{drills_json, drills_page};
use crate::search::{
    DrillFilters, DrillIndex, DrillQuery, DrillQueryError, Found, LARGE_LIBRARY, MakesLikely,
    Question,
};
use clap::Args;
use std::io::Write;

#[derive(Debug, Args)]
pub(crate) struct DrillsArgs {
    /// What you see, in your own words; or words of the drill itself
    #[arg(value_name = "WORDS", required = true)]
    words: Vec<String>,
    #[command(flatten)]
    context: ContextArgs,
    /// How near to the shot as played
    #[arg(long, value_parser = spelled(Rung::ALL, Rung::as_str))]
    ladder: Option<Rung>,
    /// What sort of remedy
    #[arg(long, value_parser = spelled(RemedyKind::ALL, RemedyKind::as_str))]
    kind: Option<RemedyKind>,
    /// The longest that it may take
    #[arg(long, value_parser = minutes)]
    minutes: Option<f64>,
    /// How many to list
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = limit)]
    limit: u16,
    /// Whose lesson it is: hand, level and what was said of the body come from the record
    #[arg(long, value_name = "HANDLE")]
    student: Option<String>,
    /// Show the parts of each score
    #[arg(long)]
    explain: bool,
}

fn minutes(text: &str) -> Result<f64, String> {
    let number = text.trim().replace(',', ".").parse();
    number.map_err(|_| "write a number of minutes, such as 10".to_owned())
}

fn limit(text: &str) -> Result<u16, String> {
    let number = text.trim().parse().ok().filter(|number| *number > 0);
    number.ok_or_else(|| format!("write a whole number from 1 to {}, such as 5", u16::MAX))
}

/// Asks the index kept in the cache folder when the library is large.
fn ask(
    base: &KnowledgeBase,
    query: DrillQuery,
    likely: &MakesLikely<'_>,
) -> Result<Found, DrillQueryError> {
    match home::cache() {
        Some(folder) if base.drills.len() >= LARGE_LIBRARY => {
            let (index, _) = DrillIndex::kept_in(&folder, base)?;
            index.search(base, &query, likely)
        }
        _ => Question::new(base, query)?.answer(base, likely),
    }
}

/// What may be asked next.
fn further(found: &Found) -> String {
    let mut further = Vec::new();
    if found.total > found.drills.len() {
        further.push("--limit N lists more.");
    }
    if found.without_filters > 1 {
        further.push("A filter is an option, such as --place home.");
    }
    if !found.drills.is_empty() {
        further.push("A drill in full: fairwhy show ID.");
    }
    further.join(" ")
}

pub(crate) fn run(
    args: &DrillsArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let base = layers::load(globals)?;
    let words = args.words.join(" ");
    let record = args.student.as_deref().map(visit::of).transpose()?;
    let mut lesson = args.context.lesson_with_facts(&base)?;
    if let Some((student, _)) = &record {
        lesson = lesson.on_record(student.handed, student.level, &student.suits);
    }
    let likely = |typed: &[(ConditionKey, f64)]| makes_likely(&base, &lesson, typed);
    let query = DrillQuery {
        words: words.clone(),
        lesson: lesson.clone(),
        filters: DrillFilters {
            rung: args.ladder,
            kind: args.kind,
            minutes: args.minutes,
            limits: record.as_ref().and_then(|(_, limits)| limits.clone()),
            without: Vec::new(),
        },
        limit: usize::from(args.limit),
    };
    let found = ask(&base, query, &likely).map_err(|error| trouble::not_searched(&error))?;
    let page = || {
        let mut page = drills_page(&base, &words, &found, args.explain);
        page.text(further(&found));
        page
    };
    let json = || drills_json(&base, &words, &found, args.explain);
    output.print(out, page, json)?;
    Ok(0)
}
