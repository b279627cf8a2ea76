//! `fairwhy library`: layers and what each brings; a library as one file to hand on.

use super::add::read;
use super::failure::harmless;
use super::layers::{left_out, loaded, stack};
use super::library_change::{LibraryChange, NOT_SAVED, ToArgs, left, not_saved, not_written, open};
use super::output::Output;
use super::{Failure, Format, Globals};
use crate::authoring::{
    Over, OwnLibrary, Received, ShareError, overlays, put_file, receive, share,
};
use crate::knowledge::{
    LayerText, LibraryFile, Problem, Strictness, folder::Limits, library_file, load,
};
use crate::report::{
    Page, change_json, change_page, layer_diff_page, layers_json, layers_page, received as page_of,
};
use clap::{Args, Subcommand};
use serde_json::json;
use std::io::Write;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(crate) struct LibraryArgs {
    #[command(subcommand)]
    command: LibraryCommand,
}

#[derive(Debug, Subcommand)]
enum LibraryCommand {
    /// The layers that are read, and how much each holds, adds and replaces
    List,
    /// What each layer adds to, and changes in, those below it
    Diff,
    /// Write a library as one file like any other, to hand to another coach
    Share(ShareArgs),
    /// Take in a library file of another coach; what does not go with what is there is left out, and said
    Receive(ReceiveArgs),
}

#[derive(Debug, Args)]
struct ShareArgs {
    /// Where to write it; - writes to standard output
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The library to share (left out: your own)
    #[arg(long, value_name = "DIR")]
    from: Option<PathBuf>,
    /// Write over a file that is there; the old one is kept beside it
    #[arg(long)]
    replace: bool,
}

#[derive(Debug, Args)]
struct ReceiveArgs {
    /// The file; - reads standard input
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The library to take it into, made if it is not there (left out: your own)
    #[arg(long, value_name = "DIR")]
    into: Option<PathBuf>,
    /// Say what would be done, and write nothing
    #[arg(long)]
    dry_run: bool,
}

pub(crate) fn run(
    args: &LibraryArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    match &args.command {
        LibraryCommand::List => layers(globals, output, out, false),
        LibraryCommand::Diff => layers(globals, output, out, true),
        LibraryCommand::Share(args) => run_share(args, globals, output, out),
        LibraryCommand::Receive(args) => run_receive(args, globals, output, out),
    }
}

fn layers(
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
    diff: bool,
) -> Result<u8, Failure> {
    let mut stack = stack(globals)?;
    loaded(&mut stack)?;
    left_out(&stack, globals);
    let overlays =
        overlays(&stack.layers).map_err(|problems| Failure::broken(problems, &stack.layers))?;
    output.print(
        out,
        || {
            if diff {
                layer_diff_page(&overlays)
            } else {
                layers_page(&overlays)
            }
        },
        || layers_json(&overlays, &stack.folders, diff),
    )?;
    Ok(0)
}

fn not_shared(error: ShareError, own: &OwnLibrary) -> Failure {
    let layer = &own.layer().name;
    match error {
        ShareError::Broken { file, problems } => {
            let placed = problems.into_iter().map(|problem| Problem {
                layer: layer.clone(),
                file: file.clone(),
                ..problem
            });
            Failure::broken(placed.collect(), &own.stack.layers)
        }
        ShareError::Empty => Failure::NotDone(format!(
            "error: {error}: {layer} holds no entry\n  help: fairwhy add drill starts one, --from DIR names another"
        )),
        ShareError::TooLarge => Failure::NotDone(format!(
            "error: {error}\n  help: hand on the folder {layer} itself; it is read with --library DIR"
        )),
    }
}

fn run_share(
    args: &ShareArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let own = open(globals, &to(args.from.as_ref()))?;
    let layer = own.layer();
    // A library that nobody can take in is no gift.
    let (text, entries) = share(layer).map_err(|error| not_shared(error, &own))?;
    if let Some(unread) = own.stack.left_out.first() {
        let unread = vec![unread.clone()];
        return Err(Failure::broken(unread, &own.stack.layers));
    }
    load(&own.stack.layers, Strictness::ErrorsOnly)
        .map_err(|problems| Failure::broken(problems, &own.stack.layers))?;
    if args.file.as_os_str() == "-" {
        out.write_all(text.as_bytes())?;
        return Ok(0);
    }
    let saved = put_file(&args.file, &text, args.replace).map_err(|error| not_written(&error))?;
    let kept = saved.kept.map(|kept| kept.display().to_string());
    if output.format == Format::Json {
        let report =
            json!({"shared": args.file, "from": layer.name, "entries": entries, "kept": kept});
        writeln!(out, "{report}")?;
        return Ok(0);
    }
    let noun = if entries == 1 { "entry" } else { "entries" };
    let file = args.file.display().to_string();
    let said = format!("Shared {entries} {noun} of {} in {file}", layer.name);
    writeln!(out, "{}", harmless(&said))?;
    let said = format!("Another coach takes it in with: fairwhy library receive {file}");
    writeln!(out, "{}", harmless(&said))?;
    if let Some(kept) = kept {
        writeln!(out, "What stood there is kept in {}", harmless(&kept))?;
    }
    Ok(0)
}

/// What a file brings, before it is saved.
fn received_page(received: &Received, name: &str, dry_run: bool) -> Page {
    let headline = match (dry_run, &received.file) {
        (true, _) => format!("{name}: nothing was saved"),
        (false, Some(_)) => format!("What {name} brings"),
        (false, None) => format!("{name}: nothing to take in"),
    };
    let mut page = match &received.file {
        Some((_, checked)) => change_page(checked, &headline),
        None => {
            let mut page = Page::new();
            page.heading(headline);
            page
        }
    };
    page_of(&mut page, &received.entries);
    page
}

fn run_receive(
    args: &ReceiveArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let (bytes, name) = read(&args.file)?;
    let file = library(&bytes, &name)?;
    let mut own = open(globals, &to(args.into.as_ref()))?;
    let stem = args.file.file_stem().unwrap_or_default().to_string_lossy();
    let received = receive(&mut own, &file, &stem)
        .map_err(|problems| Failure::broken(problems, &own.stack.layers).and(NOT_SAVED))?;
    left_out(&own.stack, globals);
    let new = received.file.as_ref();
    if output.format != Format::Json {
        output.page(out, &received_page(&received, &name, args.dry_run))?;
        out.flush()?;
    }
    let mut saved = None;
    if let Some((file, checked)) = new.filter(|_| !args.dry_run) {
        let change = LibraryChange {
            names: vec![name.clone()],
            checked,
            text: Some(&file.text),
            rewritten: false,
            on_trial: false,
            done: "Saved",
        };
        if !change.agreed(output) {
            return left();
        }
        let put = own.change(&file.path, Some(&file.text), &Over::Nothing);
        saved = Some(put.map_err(not_saved)?.path.display().to_string());
    }
    if output.format == Format::Json {
        let mut report = json!({"into": own.folder, "dry_run": args.dry_run, "saved": saved, "entries": received.entries});
        if let Some((_, checked)) = new {
            report["change"] = change_json(checked);
        }
        writeln!(out, "{report}")?;
    } else if let Some(place) = saved {
        writeln!(out, "\nSaved in {}", harmless(&place))?;
        if args.into.is_some() {
            writeln!(
                out,
                "It is read with --library DIR, or when FAIRWHY_LIBRARY names that folder; your own is read without."
            )?;
        }
    }
    Ok(0)
}

fn to(folder: Option<&PathBuf>) -> ToArgs {
    ToArgs {
        to: folder.cloned(),
    }
}

/// The bytes as a library file, or what is wrong with them.
fn library(bytes: &[u8], name: &str) -> Result<LibraryFile, Failure> {
    if bytes.len() as u64 > Limits::default().file_bytes {
        return Err(Failure::NotDone(format!(
            "error: {name} is larger than {} MiB, the limit on a library file\n  help: ask for it in parts, or for the folder, which is read with --library DIR\n{NOT_SAVED}",
            Limits::default().file_bytes >> 20
        )));
    }
    let text = std::str::from_utf8(bytes).map_err(|_| {
        Failure::NotDone(format!(
            "error: {name} is not plain UTF-8 text\n  help: ask for it again, as a file\n{NOT_SAVED}"
        ))
    })?;
    // One entry by itself, as `add` takes it, does not say of what sort it is.
    if text
        .lines()
        .any(|line| line.starts_with("id:") || line.starts_with("cause:"))
    {
        return Err(Failure::NotUnderstood(harmless(&format!(
            "error: {name} holds one entry by itself and no lists of entries\n  help: take it in with fairwhy add drill, fault, cause, outcome or link, and the file: fairwhy add drill {name}\n{NOT_SAVED}"
        ))));
    }
    library_file(text).map_err(|problems| {
        let problems = problems.into_iter().map(|problem| Problem {
            layer: name.to_owned(),
            ..problem
        });
        let layer = LayerText::new(name, [("", text)]);
        Failure::broken(problems.collect(), &[layer]).and(NOT_SAVED)
    })
}
