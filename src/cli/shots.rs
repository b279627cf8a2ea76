//! `fairwhy shots FILE.csv`: a table of shots in, means with intervals and what follows out.

use super::flight::ClubArg;
use super::output::Output;
use super::plan::{free, write_file};
use super::{Failure, Globals};
use crate::measure::{MOST_BYTES, Table, TableError};
use crate::report::{shots_json, shots_page};
use clap::Args;
use std::io::Write;
use std::path::PathBuf;

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
}

pub(crate) fn run(
    args: &ShotsArgs,
    _: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let instead = args
        .out
        .as_ref()
        .is_some_and(|path| path.as_os_str() == "-");
    let beside = args.out.as_deref().filter(|_| !instead);
    if let Some(path) = beside {
        free(path, "--out", args.replace)?;
    }
    let table = read_table(&args.file)?;
    let club = args.club.map(ClubArg::club);
    let refused = |error: TableError| not_understood(&args.file, &error);
    if instead {
        out.write_all(table.with_flights(club).map_err(refused)?.as_bytes())?;
        return Ok(0);
    }
    let flights = table.flights(club).map_err(refused)?;
    if let Some(path) = beside {
        write_file(
            path,
            &table.with_flights(club).map_err(refused)?,
            args.replace,
        )?;
    }
    output.print(
        out,
        || shots_page(&table, &flights),
        || shots_json(&table, &flights),
    )?;
    Ok(0)
}

fn not_understood(file: &str, error: &TableError) -> Failure {
    Failure::NotUnderstood(format!("error: {file}: {error}\n  help: {}", error.help))
}

/// A table from a file, or from standard input.
pub(crate) fn read_table(file: &str) -> Result<Table, Failure> {
    if file == "-" {
        let table = Table::read(std::io::stdin().lock(), MOST_BYTES);
        return table.map_err(|error| not_understood("standard input", &error));
    }
    let opened = std::fs::File::open(file)
        .map_err(|error| Failure::NotDone(format!("error: {file} could not be read: {error}")))?;
    Table::read(opened, MOST_BYTES).map_err(|error| not_understood(file, &error))
}
