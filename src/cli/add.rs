//! `fairwhy add`: an own drill, fault, cause, outcome or link.

use super::library_change::{
    LibraryChange, NOT_SAVED, ToArgs, left, no_place, not_saved, open, unreadable,
};
use super::output::{Output, open_named};
use super::terminal::Terminal;
use super::{Failure, Globals, home, layers};
use crate::authoring::{
    Checked, Draft, EntryKind, Guide, Over, OwnLibrary, Respondent, Turn, template,
};
use crate::knowledge::{Status, folder::Limits};
use clap::{Args, ValueEnum};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
pub(crate) struct AddArgs {
    /// What to add
    #[arg(value_enum)]
    kind: KindArg,
    /// A file in the library's format, whole or one entry; - reads standard input; left out at a
    /// terminal, you are asked
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Print a commented entry to start from, and nothing else
    #[arg(long)]
    template: bool,
    /// Put it in the place of an entry of its id; what stood there is kept beside it
    #[arg(long)]
    replace: bool,
    /// Check it and show what it would change, but save nothing
    #[arg(long)]
    dry_run: bool,
    /// Whether it has proved itself (left out: what the file says; a drill without a word is on trial)
    #[arg(long, value_enum)]
    status: Option<StatusArg>,
    #[command(flatten)]
    to: ToArgs,
}

/// The sorts of entry, as words of the command line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum KindArg {
    /// Something to do about a fault or a cause
    Drill,
    /// A visible departure at a stage of the motion
    Fault,
    /// An underlying reason that is not a position
    Cause,
    /// What ball, turf, ear and body report
    Outcome,
    /// One entry bringing about another
    Link,
}

/// On trial or approved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum StatusArg {
    /// Being tried out; says so wherever it appears
    Trial,
    /// In use
    Approved,
}

impl StatusArg {
    fn status(self) -> Status {
        match self {
            StatusArg::Trial => Status::Trial,
            StatusArg::Approved => Status::Approved,
        }
    }
}

impl KindArg {
    fn kind(self) -> EntryKind {
        match self {
            KindArg::Drill => EntryKind::Drill,
            KindArg::Fault => EntryKind::Fault,
            KindArg::Cause => EntryKind::Cause,
            KindArg::Outcome => EntryKind::Outcome,
            KindArg::Link => EntryKind::Link,
        }
    }
}

pub(crate) fn run(
    args: &AddArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let kind = args.kind.kind();
    if args.template {
        let noun = kind.as_str();
        writeln!(
            out,
            "# When it is yours: fairwhy add {noun} FILE; fairwhy show ID shows any entry that you want to name."
        )?;
        out.write_all(template(kind).as_bytes())?;
        return Ok(0);
    }
    if kind == EntryKind::Link && args.status.is_some() {
        return Err(Failure::NotUnderstood(
            "error: a link has no status\n  help: leave --status out; entries can be on trial, links cannot".into(),
        ));
    }
    let Some(file) = &args.file else {
        return guided(args, kind, globals, output, out);
    };
    let (bytes, name) = read(file)?;
    let mut draft =
        Draft::from_bytes(kind, &bytes).map_err(|error| unreadable(error, kind, &name, &bytes))?;
    if draft.is_template() {
        let noun = kind.as_str();
        return Err(Failure::NotDone(format!(
            "error: {name} is the template as it came, so there is nothing of yours in it\n  help: change what it says to your own {noun}, its id above all, then: fairwhy add {noun} {name}\n{NOT_SAVED}"
        )));
    }
    let mut own = open(globals, &args.to)?;
    let (path, over, checked) = ready(&mut own, &mut draft, &name, args)?;
    layers::left_out(&own.stack, globals);
    let save = || own.save(&draft, &path, &name, &over);
    LibraryChange::of(&draft, &checked).offer(args.dry_run, output, out, save)
}

/// Where a draft goes and what it would change.
fn ready(
    own: &mut OwnLibrary,
    draft: &mut Draft,
    name: &str,
    args: &AddArgs,
) -> Result<(String, Over, Checked), Failure> {
    let status = args.status.map(StatusArg::status);
    let (path, over) = own
        .place(draft, status, args.replace)
        .map_err(|error| no_place(&error, own))?;
    let checked = own
        .check(draft, &path, name)
        .map_err(|(problems, layers)| Failure::broken(problems, &layers).and(NOT_SAVED))?;
    Ok((path, over, checked))
}

/// A file's bytes, never more than one above what a library file may have, and what to call it.
pub(crate) fn read(file: &Path) -> Result<(Vec<u8>, String), Failure> {
    let most = Limits::default().file_bytes + 1;
    let mut bytes = Vec::new();
    let (read, name) = if file.as_os_str() == "-" {
        let read = std::io::stdin().lock().take(most).read_to_end(&mut bytes);
        (read, "standard input".to_owned())
    } else {
        let read = open_named(file).and_then(|file| file.take(most).read_to_end(&mut bytes));
        (read, file.display().to_string())
    };
    read.map_err(|error| {
        Failure::NotDone(format!(
            "error: {name} cannot be read: {error}\n  help: name a file in the library's format, or - for standard input\n{NOT_SAVED}"
        ))
    })?;
    Ok((bytes, name))
}

/// Asks, shows what came of it, and saves when told to.
fn guided(
    args: &AddArgs,
    kind: EntryKind,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    if !Terminal::is_there() {
        let noun = kind.as_str();
        return Err(Failure::NotUnderstood(format!(
            "error: no file was named, and there is nobody to ask\n  help: fairwhy add {noun} FILE, or - for standard input; --template prints one to start from"
        )));
    }
    let mut terminal = Terminal::new(output.width);
    let mut own = open(globals, &args.to)?;
    let base = layers::loaded(&mut own.stack)?.base;
    layers::left_out(&own.stack, globals);
    let mut guide = Guide::new(kind, &base);
    take_up(&mut guide, kind, &mut terminal);
    if guide.run(&mut terminal) == Turn::Quit {
        terminal.done();
        return left();
    }
    loop {
        let drafted = drafted(&guide, kind, &mut own, args);
        preview(&guide, &drafted, &mut terminal, output);
        let prompt = match &drafted {
            Ok(_) if args.dry_run => "A number changes that answer, Enter ends > ",
            Ok(_) => "Enter saves it, a number changes that answer, q! leaves without saving > ",
            Err(_) => "A number changes that answer, q! leaves without saving > ",
        };
        let answer = terminal.ask(prompt);
        match (answer.as_deref().map(str::trim), drafted) {
            (None | Some("q!"), _) => break,
            (Some(""), Ok(drafted)) if args.dry_run => {
                let change = LibraryChange::of(&drafted.draft, &drafted.checked);
                change.show(true, output, out)?;
                return change.report(None, output, out);
            }
            (Some(""), Ok(drafted)) => {
                let Drafted { draft, checked, .. } = &drafted;
                let saved = own.save(draft, &drafted.path, ANSWERS, &drafted.over);
                match saved.map_err(not_saved) {
                    Ok(saved) => {
                        terminal.done();
                        return LibraryChange::of(draft, checked).report(Some(&saved), output, out);
                    }
                    // The answers are worth another try.
                    Err(Failure::ClosedPipe) => return Err(Failure::ClosedPipe),
                    Err(failure) => terminal.show(failure.text()),
                }
            }
            (Some(number), _) => match number.parse() {
                Ok(number) if guide.again(number, &mut terminal) == Turn::Quit => break,
                Ok(_) => {}
                Err(_) => terminal.say("Write the number of the answer to change."),
            },
        }
    }
    terminal.done();
    left()
}

/// Goes on where an earlier try was broken off, and keeps the answers of this one.
fn take_up(guide: &mut Guide<'_>, kind: EntryKind, terminal: &mut Terminal) {
    if let Ok(home) = home::home() {
        let file = home.join(format!("unfinished-{}.json", kind.as_str()));
        if let Some(kept) = terminal.keeping(file) {
            guide.take_up(&kept);
        }
        terminal.say("Your answers are kept as you go: when you are interrupted, start again and they are here.");
    }
}

/// What the answers are called where a file would be named.
const ANSWERS: &str = "your answers";

/// What the answers come to: an entry with its place, checked against the whole library.
struct Drafted {
    draft: Draft,
    path: String,
    over: Over,
    checked: Checked,
}

fn drafted(
    guide: &Guide<'_>,
    kind: EntryKind,
    own: &mut OwnLibrary,
    args: &AddArgs,
) -> Result<Drafted, Failure> {
    let text = guide.text().map_err(|error| {
        Failure::NotDone(format!(
            "error: {error}\n  help: answer that question too, by its number"
        ))
    })?;
    let mut draft = Draft::from_text(kind, &text)
        .map_err(|error| unreadable(error, kind, ANSWERS, text.as_bytes()))?;
    let (path, over, checked) = ready(own, &mut draft, ANSWERS, args)?;
    Ok(Drafted {
        draft,
        path,
        over,
        checked,
    })
}

/// Shows every answer by its number, and what they would change or what is wrong with them.
fn preview(
    guide: &Guide<'_>,
    drafted: &Result<Drafted, Failure>,
    terminal: &mut Terminal,
    output: &Output,
) {
    terminal.say("");
    for (number, key, answer) in guide.answers() {
        terminal.say(&format!("{number:>3}  {key}: {answer}"));
    }
    terminal.say("");
    match drafted {
        Err(failure) => terminal.show(failure.text()),
        Ok(Drafted { draft, checked, .. }) => {
            let headline = format!("What {} changes", draft.names().join(", "));
            let page = LibraryChange::of(draft, checked).page(&headline);
            terminal.show(page.to_text(output.width, false).trim_end());
        }
    }
    terminal.say("");
}
