//! `fairwhy records`: copies, bringing one back, undo, looking everything over; and how every command
//! comes to the records.

use super::output::Output;
use super::{Failure, Format, Globals, home};
use crate::records::{
    ExchangeError, Record, Restored, Store, StoreError, StorePlace, from_csv, from_lines, to_csv,
    to_lines,
};
use crate::report::{checked_page, how_many};
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use std::io::Write;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
pub(crate) struct RecordsArgs {
    #[command(subcommand)]
    action: RecordsAction,
}

#[derive(Debug, Subcommand)]
enum RecordsAction {
    /// Make a copy in one file; it is read and looked over before it counts
    Backup {
        /// The file to make
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
    /// Bring a copy back; what is kept until now is moved aside, never written over
    Restore {
        /// A file that was made by backup
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
    /// Take the last change back; said again, the change stands again
    Undo,
    /// Look everything over: the file, every record, who may read it
    Check,
    /// Let your own lessons move the order and the effects of drills, or not; off until you say so
    Learn {
        /// on or off (left out: say which it is)
        #[arg(value_parser = ["on", "off"])]
        state: Option<String>,
    },
    /// Write everything as text: to FILE.jsonl (lines of JSON) or FILE.csv (a table)
    Export {
        /// The file to make
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// Write over a file that is there already
        #[arg(long)]
        replace: bool,
    },
    /// Take in what export wrote: all of it, or nothing where something is at odds
    Import {
        /// FILE.jsonl or FILE.csv
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
}

/// Where the records are: `FAIRWHY_RECORDS`, or a file beside the coach's own library.
pub(crate) fn place() -> Result<StorePlace, Failure> {
    match std::env::var_os("FAIRWHY_RECORDS").filter(|set| !set.is_empty()) {
        Some(set) => match set.to_str() {
            Some(text) => Ok(StorePlace::parse(text)),
            None => Ok(StorePlace::File(PathBuf::from(set))),
        },
        None => Ok(StorePlace::File(home::home()?.join("records.db"))),
    }
}

/// Who writes, where it is said.
pub(crate) fn coach() -> String {
    std::env::var("FAIRWHY_COACH")
        .unwrap_or_default()
        .trim()
        .to_owned()
}

/// The records, to read; said to be none where none are kept yet.
pub(crate) fn to_read() -> Result<Store, Failure> {
    let place = place()?;
    let store = Store::to_read(&place).map_err(refused)?;
    store.ok_or_else(|| {
        Failure::NotDone(format!(
            "error: no records are kept yet ({place})\n  help: begin with fairwhy student add HANDLE, such as: fairwhy student add heron"
        ))
    })
}

/// The records, to write.
pub(crate) fn to_write() -> Result<Store, Failure> {
    Store::to_write(&place()?, &coach()).map_err(refused)
}

/// What the store says, with what to do about it.
pub(crate) fn refused(error: StoreError) -> Failure {
    let help = match &error {
        StoreError::NoStudent { nearest, .. } if nearest.is_empty() => {
            "fairwhy student list names those who are kept; fairwhy student add HANDLE begins a record".to_owned()
        }
        StoreError::NoStudent { nearest, .. } => format!("did you mean {}?", nearest.join(", ")),
        StoreError::HandleTaken(handle) => {
            format!("choose another, such as {handle}-2; fairwhy student edit {handle} changes the one that is there")
        }
        StoreError::HandleShape { write, .. } => write.clone(),
        StoreError::NothingToUndo => "nothing was changed".to_owned(),
        StoreError::ChangedSince(_) => {
            "nothing was changed; undo what came after it first, or write what is meant".to_owned()
        }
        StoreError::Damaged { .. } | StoreError::Form { .. } => {
            "nothing was changed; bring a copy back with fairwhy records restore FILE, which keeps this one beside it".to_owned()
        }
        StoreError::FromLater { .. } => {
            "nothing was changed; use the later version, or name other records with FAIRWHY_RECORDS".to_owned()
        }
        StoreError::Busy(_) => "nothing was changed; try again when the other is done".to_owned(),
        StoreError::Full(_) => "nothing was changed; make room, then say it again".to_owned(),
        StoreError::NoAccess { .. } => {
            "name a file that you may write to with FAIRWHY_RECORDS, or make its folder writable".to_owned()
        }
        StoreError::Taken(_) => "name another file".to_owned(),
        StoreError::ReadBack(_) => {
            "it may not be kept; look with fairwhy records check, and at the disk".to_owned()
        }
        StoreError::NoServer => {
            "build it with: cargo build --release --features academy".to_owned()
        }
        StoreError::AtOdds(_) => "nothing was changed".to_owned(),
        StoreError::Database { .. } => {
            "nothing was changed; see that the place is right: FAIRWHY_RECORDS names a file or postgres://user@host/database".to_owned()
        }
    };
    let text = format!("error: {error}\n  help: {help}");
    match error {
        StoreError::NoStudent { .. }
        | StoreError::HandleTaken(_)
        | StoreError::HandleShape { .. } => Failure::NotUnderstood(text),
        _ => Failure::NotDone(text),
    }
}

pub(crate) fn run(
    args: &RecordsArgs,
    _: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    match &args.action {
        RecordsAction::Backup { file } => backup(file, output, out)?,
        RecordsAction::Restore { file } => restore(file, output, out)?,
        RecordsAction::Undo => undo(output, out)?,
        RecordsAction::Check => return check(output, out),
        RecordsAction::Learn { state } => learn(state.as_deref(), output, out)?,
        RecordsAction::Export { file, replace } => export(file, *replace, output, out)?,
        RecordsAction::Import { file } => import(file, output, out)?,
    }
    Ok(0)
}

fn backup(file: &Path, output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
    drop(to_read()?);
    let checked = to_write()?.backup(file).map_err(refused)?;
    let counts = counted(&checked.counts);
    say(
        output,
        out,
        &format!(
            "saved: {} holds {counts}, read back and sound",
            file.display()
        ),
        json!({"saved": file, "holds": counts_value(&checked.counts)}),
    )
}

fn restore(file: &Path, output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
    let place = place()?;
    let Restored { now, aside } = Store::restore(&place, file).map_err(refused)?;
    let aside_said = aside.as_ref().map_or_else(String::new, |aside| {
        format!("; what was there until now is kept in {}", aside.display())
    });
    say(
        output,
        out,
        &format!(
            "restored: {place} holds {}{aside_said}",
            counted(&now.counts)
        ),
        json!({"restored": place.to_string(), "aside": aside, "holds": counts_value(&now.counts)}),
    )
}

fn undo(output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
    drop(to_read()?);
    let undone = to_write()?.undo().map_err(refused)?;
    let line = if undone.again {
        format!("done again: {}", undone.what)
    } else {
        format!(
            "undone: {} (fairwhy records undo again: it stands again)",
            undone.what
        )
    };
    say(
        output,
        out,
        &line,
        json!({"undone": undone.what, "again": undone.again}),
    )
}

fn check(output: &Output, out: &mut dyn Write) -> Result<u8, Failure> {
    let checked = to_read()?.check().map_err(refused)?;
    let sound = checked.complaints.is_empty();
    let value = json!({
        "sound": sound, "complaints": checked.complaints,
        "holds": counts_value(&checked.counts),
    });
    output.print(out, || checked_page(&checked), || value)?;
    Ok(u8::from(!sound))
}

fn learn(state: Option<&str>, output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
    if let Some(state) = state {
        drop(to_read()?);
        let mut store = to_write()?;
        store.set("learning", Some(state)).map_err(refused)?;
    }
    let learns = to_read()?.learns().map_err(refused)?;
    let line = if learns {
        "on: your lessons move the order for a named student, and fairwhy show says by how much; --without-records leaves them out"
    } else {
        "off: the library alone orders the starts"
    };
    say(output, out, line, json!({"learning": learns}))
}

fn export(file: &Path, replace: bool, output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
    let table = is_table(file)?;
    drop(to_read()?);
    let mut store = to_write()?;
    let entries = store.entries(None).map_err(refused)?;
    let text = if table {
        to_csv(&entries)
    } else {
        to_lines(&entries)
    };
    super::files::write_private(file, &text, replace)?;
    store.remember(file).map_err(refused)?;
    say(
        output,
        out,
        &format!("wrote {} with {} records", file.display(), entries.len()),
        json!({"wrote": file, "records": entries.len()}),
    )
}

fn import(file: &Path, output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
    let entries = read_entries(file)?;
    let new = to_write()?.take_in(&entries).map_err(refused)?;
    say(
        output,
        out,
        &format!(
            "saved: {new} records, read back; {} were there already",
            entries.len() - new
        ),
        json!({"saved": new, "there_already": entries.len() - new}),
    )
}

fn counted(counts: &[(&'static str, i64)]) -> String {
    let counts: Vec<String> = counts
        .iter()
        .take(3)
        .map(|(what, count)| how_many(*count, what))
        .collect();
    counts.join(", ")
}

fn counts_value(counts: &[(&'static str, i64)]) -> Value {
    counts
        .iter()
        .map(|(what, count)| ((*what).to_owned(), json!(count)))
        .collect()
}

/// One line for a person, or a value for a program.
pub(crate) fn say(
    output: &Output,
    out: &mut dyn Write,
    line: &str,
    value: Value,
) -> Result<(), Failure> {
    match output.format {
        Format::Json => writeln!(out, "{value}")?,
        Format::Table | Format::Markdown => {
            writeln!(out, "{}", super::output::wrapped(line, output.width))?;
        }
    }
    Ok(())
}

/// Whether the file's name asks for a table.
fn is_table(file: &Path) -> Result<bool, Failure> {
    let ending = file
        .extension()
        .map(|end| end.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("csv") => Ok(true),
        Some("jsonl" | "ndjson") => Ok(false),
        _ => Err(Failure::NotUnderstood(format!(
            "error: `{}` ends neither in .jsonl nor in .csv\n  help: write {}.jsonl for lines of JSON, or {}.csv for a table",
            file.display(),
            file.with_extension("").display(),
            file.with_extension("").display()
        ))),
    }
}

fn read_entries(file: &Path) -> Result<Vec<Record>, Failure> {
    let table = is_table(file)?;
    let text = std::fs::read_to_string(file).map_err(|error| {
        Failure::NotDone(format!(
            "error: `{}` cannot be read: {error}\n  help: name a file that fairwhy records export wrote",
            file.display()
        ))
    })?;
    let read = if table {
        from_csv(&text)
    } else {
        from_lines(&text)
    };
    read.map_err(|ExchangeError { line, why }| {
        Failure::NotUnderstood(format!(
            "error: {}, line {line}: {why}\n  help: nothing was taken in; mend the line, or export again",
            file.display()
        ))
    })
}
