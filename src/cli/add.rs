//! `fairwhy add`: an own drill, fault, cause, outcome or link.

use super::output::{Output, wrapped};
use super::own::{Found, Own, ToArgs, over, unreadable};
use super::{Failure, Format, Globals};
use crate::authoring::{Checked, Dialogue, Draft, EntryKind, Guide, Over, Saved, Turn, template};
use crate::knowledge::{Status, folder::Limits, library_file};
use crate::report::{change_json, change_page};
use clap::{Args, ValueEnum};
use serde_json::json;
use std::fs::File;
use std::io::{BufRead, IsTerminal, Read, Write};

#[derive(Debug, Args)]
pub(crate) struct AddArgs {
    /// What to add
    #[arg(value_enum)]
    kind: KindArg,
    /// A file in the library's format, whole or one entry; - reads standard input; left out at a
    /// terminal, you are asked
    #[arg(value_name = "FILE")]
    file: Option<String>,
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
    let mut draft = Draft::from_bytes(kind, &bytes)
        .map_err(|error| Failure::NotDone(unreadable(error, kind, &name, &bytes)))?;
    let mut own = Own::open(globals, &args.to)?;
    let (path, over) = place(&own, &mut draft, args)?;
    let checked = own.check(&draft, &path, &name).map_err(Failure::NotDone)?;
    if args.dry_run {
        return report(&draft, &checked, None, output, out);
    }
    let saved = own.save(&draft, &path, &name, &over)?;
    report(&draft, &checked, Some(&saved), output, out)
}

/// The draft's bytes, never more than a library file may have, and what to call it.
fn read(file: &str) -> Result<(Vec<u8>, String), Failure> {
    let most = Limits::default().file_bytes + 1;
    let mut bytes = Vec::new();
    let (read, name) = if file == "-" {
        let read = std::io::stdin().lock().take(most).read_to_end(&mut bytes);
        (read, "standard input".to_owned())
    } else {
        let read = File::open(file).and_then(|file| file.take(most).read_to_end(&mut bytes));
        (read, file.to_owned())
    };
    read.map_err(|error| {
        Failure::NotDone(format!(
            "error: {name} cannot be read: {error}\n  help: name a file in the library's format, or - for standard input"
        ))
    })?;
    Ok((bytes, name))
}

/// Settles status and place: which file of the library it becomes, and what may be there.
fn place(own: &Own<'_>, draft: &mut Draft, args: &AddArgs) -> Result<(String, Over), Failure> {
    match args.status {
        Some(StatusArg::Trial) => draft.set_status(Status::Trial),
        Some(StatusArg::Approved) => draft.set_status(Status::Approved),
        None => draft.set_on_trial(),
    }
    let mut ids = draft.entries();
    ids.extend(
        draft
            .names()
            .into_iter()
            .filter(|_| draft.kind() == EntryKind::Link)
            .map(|name| (EntryKind::Link, name)),
    );
    let mut standing: Option<Found> = None;
    for (kind, id) in &ids {
        let Some(found) = own.find_in(own.at, id) else {
            let below = (0..own.at).rev().find_map(|at| own.find_in(at, id));
            if args.replace && *kind != EntryKind::Link && below.is_some() {
                draft.set_replaces(id);
            }
            continue;
        };
        let file = &found.file.path;
        if !args.replace {
            return Err(Failure::NotDone(format!(
                "error: {} `{id}` is there already, in {}/{file}\n  help: --replace puts yours in its place and keeps the old one; fairwhy edit {id} opens it\nNothing was saved.",
                found.kind.as_str(),
                own.folder.display()
            )));
        }
        if found.kind != *kind {
            return Err(Failure::NotDone(format!(
                "error: `{id}` is a {}, and an id is never used for something else\n  help: give the new {} an id of its own\nNothing was saved.",
                found.kind.as_str(),
                kind.as_str()
            )));
        }
        standing = Some(match standing {
            None => found,
            Some(first) if first.file.path == found.file.path => first,
            Some(first) => {
                return Err(Failure::NotDone(format!(
                    "error: the entries stand in two files, {} and {file}\n  help: add them one by one\nNothing was saved.",
                    first.file.path
                )));
            }
        });
    }
    let Some(found) = standing else {
        let path = draft.path();
        let there = own.layer().files.iter().find(|file| file.path == path);
        return Ok(match there {
            Some(file) if args.replace => (path, over(file)),
            _ => (path, Over::Nothing),
        });
    };
    keeps_all(&found, draft)?;
    // What the old one stood in the place of, the new one must too, and is asked for no twice.
    for (_, id) in draft.entries() {
        if own.find_in(own.at, &id).is_some()
            && (0..own.at).any(|at| own.find_in(at, &id).is_some())
        {
            draft.set_replaces(&id);
        }
    }
    Ok((found.file.path.clone(), over(&found.file)))
}

/// A file that is replaced whole must not take other entries with it, and a retired id stays so.
fn keeps_all(found: &Found, draft: &Draft) -> Result<(), Failure> {
    let Some((old, alone)) = &found.read else {
        return Ok(());
    };
    let kept = library_file(draft.text()).unwrap_or_default();
    let kept: Vec<&str> = kept.ids().collect();
    if let Some(other) = old.ids().find(|id| !kept.contains(id)) {
        return Err(Failure::NotDone(format!(
            "error: {} holds `{other}` too, which would be gone\n  help: fairwhy edit changes one entry of a file\nNothing was saved.",
            found.file.path
        )));
    }
    let was = alone
        .drills
        .iter()
        .filter_map(|drill| drill.retired_for.as_ref().map(|heir| (&drill.id, heir)));
    let conditions = [&alone.outcomes, &alone.faults, &alone.causes]
        .into_iter()
        .flatten();
    let also =
        conditions.filter_map(|entry| entry.retired_for.as_ref().map(|heir| (&entry.id, heir)));
    match was.chain(also).next() {
        Some((id, heir)) => Err(Failure::NotDone(format!(
            "error: `{id}` was retired for `{heir}`, and a retired id is not used again\n  help: give the new entry an id of its own\nNothing was saved."
        ))),
        None => Ok(()),
    }
}

/// Says what was done, or would be.
pub(crate) fn report(
    draft: &Draft,
    checked: &Checked,
    saved: Option<&Saved>,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let names: Vec<String> = draft.names();
    let place = saved.map(|saved| saved.path.display().to_string());
    let kept = saved
        .and_then(|saved| saved.kept.as_ref())
        .map(|kept| kept.display().to_string());
    if output.format == Format::Json {
        let mut value = json!({
            "entries": names, "saved": place, "kept": kept, "rewritten": draft.rewritten(), "text": draft.text(),
        });
        if let (Some(all), Some(more)) = (value.as_object_mut(), change_json(checked).as_object()) {
            all.extend(more.clone());
        }
        writeln!(out, "{value}")?;
        return Ok(0);
    }
    let headline = match &place {
        Some(_) => format!("Saved {}", names.join(", ")),
        None => format!("Checked {}; nothing was saved", names.join(", ")),
    };
    let mut page = change_page(checked, &headline);
    let on_trial = draft
        .file()
        .drills
        .iter()
        .filter(|drill| drill.status == Some(Status::Trial));
    if on_trial.count() > 0 {
        page.text("It is on trial, and says so wherever it appears; fairwhy edit changes that once it has proved itself.");
    }
    if draft.rewritten() {
        page.text("The text was laid out anew, so comments in it are gone.");
    }
    output.print(out, || page, || json!(null))?;
    // Paths are to be copied, so no margin breaks them.
    if let Some(place) = place {
        writeln!(out, "\nSaved in {place}")?;
    }
    if let Some(kept) = kept {
        writeln!(out, "What stood there is kept in {kept}")?;
    }
    Ok(0)
}

/// Asks, shows what came of it, and saves when told to.
fn guided(
    args: &AddArgs,
    kind: EntryKind,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    if !(std::io::stdin().is_terminal() && std::io::stderr().is_terminal()) {
        let noun = kind.as_str();
        return Err(Failure::NotUnderstood(format!(
            "error: no file was named, and there is nobody to ask\n  help: fairwhy add {noun} FILE, or - for standard input; --template prints one to start from"
        )));
    }
    let mut terminal = Terminal {
        input: std::io::stdin().lock(),
        prompt: std::io::stderr(),
        width: output.width,
    };
    let mut own = Own::open(globals, &args.to)?;
    let base = own.stack.load()?.base;
    let mut guide = Guide::new(kind, &base);
    if guide.run(&mut terminal) == Turn::Quit {
        return left();
    }
    loop {
        let text = guide
            .text()
            .map_err(|error| Failure::NotDone(format!("error: {error}")))?;
        let name = "your answers";
        let ready = Draft::from_text(kind, &text)
            .map_err(|error| unreadable(error, kind, name, text.as_bytes()))
            .and_then(|mut draft| match place(&own, &mut draft, args) {
                Ok((path, over)) => {
                    let checked = own.check(&draft, &path, name)?;
                    Ok((draft, path, over, checked))
                }
                Err(Failure::NotDone(text) | Failure::NotUnderstood(text)) => Err(text),
                Err(Failure::ClosedPipe) => Err(String::new()),
            });
        terminal.say("");
        for (number, key, answer) in guide.answers() {
            terminal.say(&format!("{number:>3}  {key}: {answer}"));
        }
        terminal.say("");
        match &ready {
            Err(trouble) => terminal.show(trouble),
            Ok((draft, _, _, checked)) => {
                let page = change_page(
                    checked,
                    &format!("{} would change this", draft.names().join(", ")),
                );
                terminal.show(page.to_text(output.width, false).trim_end());
            }
        }
        terminal.say("");
        let prompt = match &ready {
            Ok(_) if args.dry_run => "A number changes that answer, Enter ends > ",
            Ok(_) => "Enter saves it, a number changes that answer, q! leaves without saving > ",
            Err(_) => "A number changes that answer, q! leaves without saving > ",
        };
        let Some(answer) = terminal.ask(prompt) else {
            return left();
        };
        match (answer.trim(), ready) {
            ("q!", _) => return left(),
            ("", Ok((draft, _, _, checked))) if args.dry_run => {
                return report(&draft, &checked, None, output, out);
            }
            ("", Ok((draft, path, over, checked))) => {
                match own.save(&draft, &path, name, &over) {
                    Ok(saved) => return report(&draft, &checked, Some(&saved), output, out),
                    // The answers are worth another try.
                    Err(Failure::NotDone(trouble) | Failure::NotUnderstood(trouble)) => {
                        terminal.show(&trouble);
                    }
                    Err(failure) => return Err(failure),
                }
            }
            (number, _) => match number.parse() {
                Ok(number) if guide.again(number, &mut terminal) == Turn::Quit => return left(),
                Ok(_) => {}
                Err(_) => terminal.say("Write the number of the answer to change."),
            },
        }
    }
}

fn left() -> Result<u8, Failure> {
    Err(Failure::NotDone("Nothing was saved.".into()))
}

/// Questions on standard error, so that what is printed can still be sent elsewhere.
pub(crate) struct Terminal<I, P> {
    /// Where answers come from.
    pub input: I,
    /// Where questions go.
    pub prompt: P,
    /// Columns to fit into.
    pub width: usize,
}

impl<I, P: Write> Terminal<I, P> {
    /// Says what is laid out already.
    pub fn show(&mut self, text: &str) {
        // Nobody is left to tell when this fails; the next question will find out.
        let _ = writeln!(self.prompt, "{text}");
    }
}

impl<I: BufRead, P: Write> Dialogue for Terminal<I, P> {
    fn say(&mut self, text: &str) {
        for line in text.lines().chain(text.is_empty().then_some("")) {
            self.show(&wrapped(line, self.width));
        }
    }

    fn ask(&mut self, prompt: &str) -> Option<String> {
        write!(self.prompt, "{prompt}")
            .and_then(|()| self.prompt.flush())
            .ok()?;
        let mut line = String::new();
        let read = self.input.read_line(&mut line).ok()?;
        (read > 0).then_some(line)
    }
}
