//! `fairwhy shots FILE.csv`: a table of shots in, means with intervals and what follows out.

use super::files::{free, write_file};
use super::flight::ClubArg;
use super::output::{Output, open_named};
use super::timeline::{TimelineArgs, print_kept, quantity};
use super::{Failure, Globals, layers};
use crate::measure::{Column, MOST_BYTES, ShotTable, TableError, summary};
use crate::records::MeasuredNumber;
use crate::report::{shots_json, shots_page};
use clap::Args;
use std::io::Write;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fairwhy shots march.csv --club driver\n  fairwhy shots march.csv --out march-worked-out.csv"
)]
pub(crate) struct ShotsArgs {
    /// One row a shot; columns by name with their unit, such as face (degrees); - reads standard input
    #[arg(value_name = "FILE.csv")]
    file: String,
    /// With which club, where no column says it
    #[arg(long, value_enum)]
    club: Option<ClubArg>,
    /// The table with what follows from each shot behind its columns, to FILE.csv; - prints it instead
    #[arg(long, value_name = "FILE.csv")]
    out: Option<PathBuf>,
    /// Write over a file that is there already
    #[arg(long)]
    replace: bool,
    #[command(flatten)]
    whose: TimelineArgs,
}

pub(crate) fn run(
    args: &ShotsArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let instead = args.out.as_deref() == Some("-".as_ref());
    let beside = args.out.as_deref().filter(|_| !instead);
    if let Some(path) = beside {
        free(path, "--out", args.replace)?;
    }
    let table = read_table(&args.file)?;
    let club = args.club.map(ClubArg::club);
    let refused = |error: TableError| not_understood(&args.file, &error);
    let whose = args.whose.open(globals)?;
    let student = whose.as_ref().map(|whose| &whose.history.student);
    if let Some(hand) = student.and_then(|student| student.handed) {
        table.of_hand(hand.as_str()).map_err(refused)?;
    }
    let flights = table.flights(club).map_err(refused)?;
    if let Some(path) = beside {
        let text = table.with_flights(club).map_err(refused)?;
        write_file(path, &text, args.replace)?;
    }
    let kept = whose.map(|whose| {
        let mut numbers = whose.numbers(format!("{} shots, {}", table.len(), name(&args.file)));
        numbers.measured = means(&table);
        Ok::<_, Failure>((layers::load(globals)?, whose.keep(&numbers)?))
    });
    let kept = kept.transpose()?;
    if instead {
        out.write_all(table.with_flights(club).map_err(refused)?.as_bytes())?;
        if let Some((_, kept)) = &kept {
            // Beside the table, so that the table itself can be sent elsewhere.
            let _ = writeln!(std::io::stderr(), "{}", kept.line());
        }
        return Ok(0);
    }
    print_kept(
        kept.as_ref().map(|(base, kept)| (&**base, kept)),
        output,
        out,
        || shots_page(&table, &flights),
        || shots_json(&table, &flights),
    )?;
    Ok(0)
}

/// The name of the file, without the way to it.
pub(crate) fn name(file: &str) -> String {
    let name = Path::new(file).file_name().unwrap_or_default();
    name.to_string_lossy().into_owned()
}

/// Fewer shots than this say nothing of a mean.
const LEAST_SHOTS: usize = 3;

/// The mean of each column as a number whose error reaches as far as its interval does.
pub(crate) fn means(table: &ShotTable) -> Vec<MeasuredNumber> {
    let of = |column: &Column| {
        let values: Vec<f64> = column.there().into_iter().map(|(_, value)| value).collect();
        let found = summary(&values).filter(|found| found.n >= LEAST_SHOTS)?;
        let (low, high) = found.interval?;
        let number = column.number;
        let known = number.map(|number| number.quantity().unwrap_or(number.as_str()));
        let unit = number.map_or(column.unit.as_str(), |number| number.unit());
        let error = (high - low) / 2.0 / 1.959_963_984_540_054;
        Some(quantity(
            known.unwrap_or(&column.name),
            found.mean,
            unit,
            error,
        ))
    };
    table.columns.iter().filter_map(of).collect()
}

pub(crate) fn not_understood(file: &str, error: &TableError) -> Failure {
    Failure::NotUnderstood(format!("error: {file}: {error}\n  help: {}", error.help))
}

/// A table from a file, or from standard input.
pub(crate) fn read_table(file: &str) -> Result<ShotTable, Failure> {
    if file == "-" {
        let table = ShotTable::read(std::io::stdin().lock(), MOST_BYTES);
        return table.map_err(|error| not_understood("standard input", &error));
    }
    let opened = open_named(std::path::Path::new(file))
        .map_err(|error| Failure::NotDone(format!("error: {file} could not be read: {error}")))?;
    ShotTable::read(opened, MOST_BYTES).map_err(|error| not_understood(file, &error))
}
