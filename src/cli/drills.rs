//! `fairwhy drills WORDS`: drills by symptom, each with its reason.

use super::observations::{HandedArg, shot_parser};
use super::output::Output;
use super::{Failure, Globals, home, layers};
use crate::diagnosis::makes_likely;
use crate::knowledge::{ConditionKey, KnowledgeBase, Level, Place, RemedyKind, Rung, Shot, Suits};
use crate::report::{drills_json, drills_page};
use crate::search::{
    DrillFilters, DrillIndex, DrillQuery, DrillQueryError, Found, LARGE_LIBRARY, MakesLikely,
    Question,
};
use crate::words::Circumstances;
use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use std::io::Write;
use std::mem::ManuallyDrop;

#[derive(Debug, Args)]
pub(crate) struct DrillsArgs {
    /// What you see, in your own words; or words of the drill itself
    #[arg(value_name = "WORDS", required = true)]
    words: Vec<String>,
    /// Where it has to be possible
    #[arg(long, value_parser = spelled(Place::ALL, Place::as_str))]
    place: Option<Place>,
    /// All that is at hand beyond a club and a ball, such as towel,stick; "" for nothing; a drill that needs more is out
    #[arg(long, value_name = "THINGS", value_delimiter = ',')]
    have: Option<Vec<String>>,
    /// Which shot it is about
    #[arg(long, value_parser = shot_parser())]
    shot: Option<Shot>,
    /// Which way the student plays; settles words such as "curves left"
    #[arg(long, value_enum)]
    handed: Option<HandedArg>,
    /// How near to the shot as played
    #[arg(long, value_parser = spelled(Rung::ALL, Rung::as_str))]
    ladder: Option<Rung>,
    /// What sort of remedy
    #[arg(long, value_parser = spelled(RemedyKind::ALL, RemedyKind::as_str))]
    kind: Option<RemedyKind>,
    /// Whom it has to suit
    #[arg(long, value_parser = spelled(Suits::ALL, Suits::as_str))]
    suits: Option<Suits>,
    /// How far along the student is
    #[arg(long, value_parser = spelled(Level::ALL, Level::as_str))]
    level: Option<Level>,
    /// The longest that it may take
    #[arg(long, value_parser = minutes)]
    minutes: Option<f64>,
    /// How many to list
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = limit)]
    limit: u16,
    /// Show the parts of each score
    #[arg(long)]
    explain: bool,
}

/// What is at hand; an empty word stands for nothing.
pub(crate) fn at_hand(have: &[String]) -> Vec<String> {
    let things = have.iter().filter(|thing| !thing.trim().is_empty());
    things.cloned().collect()
}

fn minutes(text: &str) -> Result<f64, String> {
    let number = text.trim().replace(',', ".").parse();
    number.map_err(|_| "write a number of minutes, such as 10".to_owned())
}

fn limit(text: &str) -> Result<u16, String> {
    let number = text.trim().parse().ok().filter(|number| *number > 0);
    number.ok_or_else(|| format!("write a whole number from 1 to {}, such as 5", u16::MAX))
}

/// Takes the spellings of a closed list; an unknown one is answered with the nearest.
fn spelled<T>(
    all: &'static [T],
    spelling: fn(T) -> &'static str,
) -> impl TypedValueParser<Value = T>
where
    T: Copy + Send + Sync + 'static,
{
    PossibleValuesParser::new(all.iter().map(|value| spelling(*value))).map(move |text| {
        *all.iter()
            .find(|value| spelling(**value) == text)
            .expect("the parser takes only spellings")
    })
}

/// Asks the index kept in the cache folder when the library is large. Like the library, what was
/// built for it goes with the process.
fn ask(
    base: &KnowledgeBase,
    query: DrillQuery,
    likely: &MakesLikely<'_>,
) -> Result<Found, DrillQueryError> {
    match home::cache() {
        Some(folder) if base.drills.len() >= LARGE_LIBRARY => {
            let (index, _) = DrillIndex::kept_in(&folder, base)?;
            ManuallyDrop::new(index).search(base, &query, likely)
        }
        _ => ManuallyDrop::new(Question::new(base, query)?).answer(base, likely),
    }
}

pub(crate) fn run(
    args: &DrillsArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let base = layers::load(globals)?;
    let words = args.words.join(" ");
    let query = DrillQuery {
        words: words.clone(),
        circumstances: Circumstances {
            shot: args.shot,
            handed: args.handed.map(HandedArg::handed),
        },
        filters: DrillFilters {
            place: args.place,
            have: args.have.as_deref().map(at_hand),
            shot: args.shot,
            rung: args.ladder,
            kind: args.kind,
            suits: args.suits,
            level: args.level,
            minutes: args.minutes,
        },
        limit: usize::from(args.limit),
    };
    let likely = |typed: &[(ConditionKey, f64)]| makes_likely(&base, args.shot, typed);
    let found = ask(&base, query, &likely).map_err(|error| match error {
        DrillQueryError::Index(_) => Failure::NotDone(error.to_string()),
        _ => Failure::NotUnderstood(error.to_string()),
    })?;
    output.print(
        out,
        || drills_page(&base, &words, &found, args.explain),
        || drills_json(&base, &words, &found, args.explain),
    )?;
    Ok(0)
}
