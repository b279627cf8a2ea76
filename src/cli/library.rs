//! `fairwhy library`: layers and what each brings; a library as one text to share.

use super::layers::{Stack, stack};
use super::output::Output;
use super::own::{not_saved, said};
use super::{Failure, Format, Globals, home};
use crate::authoring::{
    Fate, Library, Planned, UnpackError, Unpacking, names_in, overlays, pack, plan_unpack,
    put_file, read_bundle, unpack,
};
use crate::knowledge::{FileText, Paint, folder::Limits, report_problems};
use crate::report::{layer_diff_page, layers_page, unpack_json, unpack_page};
use clap::{Args, Subcommand};
use serde_json::json;
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

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
    /// Write a library as one plain text to hand to another coach
    Pack(PackArgs),
    /// Lay a packed library into a folder; what differs from what is there is put beside it
    Unpack(UnpackArgs),
}

#[derive(Debug, Args)]
struct PackArgs {
    /// Where to write it; - writes to standard output
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The library to pack (left out: your own)
    #[arg(long, value_name = "DIR")]
    from: Option<PathBuf>,
    /// Write over a file that is there
    #[arg(long)]
    replace: bool,
}

#[derive(Debug, Args)]
struct UnpackArgs {
    /// The packed library; - reads standard input
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The folder to lay it into, made if it is not there
    #[arg(long, value_name = "DIR")]
    into: PathBuf,
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
        LibraryCommand::Pack(args) => run_pack(args, globals, output, out),
        LibraryCommand::Unpack(args) => run_unpack(args, globals, output, out),
    }
}

fn layers(
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
    diff: bool,
) -> Result<u8, Failure> {
    let stack = stack(globals, None)?;
    let overlays = overlays(&stack.layers).map_err(|problems| {
        Failure::NotDone(report_problems(&problems, &stack.layers, Paint::Plain))
    })?;
    output.print(
        out,
        || if diff { layer_diff_page(&overlays) } else { layers_page(&overlays) },
        || {
            let layers = overlays.iter().zip(&stack.folders).enumerate();
            let layers = layers.map(|(at, (layer, folder))| {
                if diff && at > 0 {
                    json!({"name": layer.name, "folder": folder, "counts": layer.counts, "adds": layer.adds,
                        "replaces": layer.replaces, "retires": layer.retires})
                } else {
                    json!({"name": layer.name, "folder": folder, "counts": layer.counts, "adds": layer.adds.len(),
                        "replaces": layer.replaces.len(), "retires": layer.retires.len()})
                }
            });
            json!({ "layers": layers.collect::<Vec<_>>() })
        },
    )?;
    Ok(0)
}

fn run_pack(
    args: &PackArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let (stack, at) = layer_for(globals, args.from.as_deref())?;
    let layer = &stack.layers[at];
    if layer.files.is_empty() {
        return Err(Failure::NotDone(format!(
            "error: there is nothing to pack: {} holds no library file\n  help: fairwhy add drill starts one, --from DIR names another",
            layer.name
        )));
    }
    // A bundle that nobody can unpack is no gift.
    stack.load()?;
    let bundle = pack(&layer.files);
    read_bundle(bundle.as_bytes(), Limits::default()).map_err(|error| {
        Failure::NotDone(format!(
            "error: {} cannot be packed: {}\n  help: rename the file; then pack again",
            layer.name, error.message
        ))
    })?;
    if args.file.as_os_str() == "-" {
        out.write_all(bundle.as_bytes())?;
        return Ok(0);
    }
    let saved = put_file(&args.file, &bundle, args.replace).map_err(not_saved)?;
    let kept = saved.kept.map(|kept| kept.display().to_string());
    let entries: usize = layer.files.iter().map(|file| names_in(file).len()).sum();
    if output.format == Format::Json {
        let files: Vec<&String> = layer.files.iter().map(|file| &file.path).collect();
        writeln!(
            out,
            "{}",
            json!({"packed": args.file, "from": layer.name, "files": files, "entries": entries, "kept": kept})
        )?;
    } else {
        writeln!(
            out,
            "Packed {} in {} of {} into {}.",
            counted(entries, "entry", "entries"),
            counted(layer.files.len(), "file", "files"),
            layer.name,
            args.file.display()
        )?;
        if let Some(kept) = kept {
            writeln!(out, "What stood there is kept in {kept}.")?;
        }
    }
    Ok(0)
}

fn counted(number: usize, one: &str, several: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { several })
}

fn run_unpack(
    args: &UnpackArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let name = args.file.display().to_string();
    let files = read_bundle(&read(&args.file)?, Limits::default()).map_err(|error| {
        Failure::NotDone(format!("error: {name}, {error}\n  help: ask for the bundle again, as a file\nNothing was unpacked."))
    })?;
    let plan = if args.dry_run {
        let (stack, own) = layer_for(globals, Some(&args.into))?;
        planned(
            &stack,
            plan_unpack(&unpacking(&stack, own, &args.into, &files)),
        )?
    } else {
        // What cannot be unpacked should not leave an empty folder behind.
        let (stack, own) = layer_for(globals, Some(&args.into))?;
        planned(
            &stack,
            plan_unpack(&unpacking(&stack, own, &args.into, &files)),
        )?;
        let library = Library::open(&args.into).map_err(not_saved)?;
        let (stack, own) = layer_for(globals, Some(&args.into))?;
        planned(
            &stack,
            unpack(&library, &unpacking(&stack, own, &args.into, &files)),
        )?
    };
    let beside = plan
        .iter()
        .filter(|planned| matches!(planned.fate, Fate::Beside(_) | Fate::AlreadyBeside(_)))
        .count();
    let headline = match (args.dry_run, beside) {
        (true, _) => format!("{name} into {}: nothing was written", args.into.display()),
        (false, 0) => format!("Unpacked {name} into {}", args.into.display()),
        (false, beside) => format!(
            "Unpacked {name} into {}; {beside} put beside what is there, for you to compare",
            args.into.display()
        ),
    };
    output.print(
        out,
        || {
            let mut page = unpack_page(&plan, &headline);
            if !args.dry_run {
                page.text(format!(
                    "It is read with --library {} or when FAIRWHY_LIBRARY names it; your own folder is read without.",
                    args.into.display()
                ));
            }
            page
        },
        || json!({"into": args.into, "dry_run": args.dry_run, "files": unpack_json(&plan)}),
    )?;
    Ok(0)
}

fn unpacking<'a>(
    stack: &'a Stack,
    own: usize,
    folder: &'a Path,
    files: &'a [FileText],
) -> Unpacking<'a> {
    Unpacking {
        folder,
        layers: &stack.layers,
        own,
        files,
    }
}

fn planned(
    stack: &Stack,
    plan: Result<Vec<Planned>, UnpackError>,
) -> Result<Vec<Planned>, Failure> {
    plan.map_err(|error| match error {
        UnpackError::Library(error) => not_saved(error),
        UnpackError::Broken(problems) => {
            let page = report_problems(&problems, &stack.layers, Paint::Plain);
            Failure::NotDone(format!("{}\nNothing was unpacked.", page.trim_end()))
        }
        error => Failure::NotDone(format!(
            "error: {}\nNothing was unpacked.",
            said(&error.to_string())
        )),
    })
}

/// All layers, with a folder among them; the coach's own when none is named.
fn layer_for(globals: &Globals, folder: Option<&Path>) -> Result<(Stack, usize), Failure> {
    let folder = match folder {
        Some(folder) => folder.to_owned(),
        None => home::own_library()?,
    };
    let mut stack = match stack(globals, None) {
        Err(Failure::NotUnderstood(_)) => Stack::default(),
        other => other?,
    };
    let at = stack.with(&folder)?;
    Ok((stack, at))
}

/// All of a bundle, and no more than a bundle may be.
fn read(file: &Path) -> Result<Vec<u8>, Failure> {
    let limits = Limits::default();
    // Its texts, and for each of its files a line that a path fits in.
    let most = limits.library_bytes + limits.files as u64 * 1_200;
    let mut bytes = Vec::new();
    let read = if file.as_os_str() == "-" {
        std::io::stdin()
            .lock()
            .take(most + 1)
            .read_to_end(&mut bytes)
    } else {
        File::open(file).and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
    };
    match read {
        Ok(length) if length as u64 > most => Err(Failure::NotDone(format!(
            "error: {} is larger than any bundle\nNothing was unpacked.",
            file.display()
        ))),
        Ok(_) => Ok(bytes),
        Err(error) => Err(Failure::NotDone(format!(
            "error: {} cannot be read: {error}\nNothing was unpacked.",
            file.display()
        ))),
    }
}
