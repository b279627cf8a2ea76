//! The library a command works on: what ships, then the given folders, then the coach's own.

use super::failure::notice;
use super::{Failure, Globals, home};
use crate::knowledge::{KnowledgeBase, LayerText, Loaded, Problem, Severity, Stack, Wanted};
use std::collections::BTreeMap;
use std::mem::ManuallyDrop;
use std::path::Path;

/// Reads and checks every layer. What of the coach's own has a slip in it is left out, and said. The
/// library is never taken apart again: a command ends with the process, and giving back thousands of
/// texts one by one would only delay that.
///
/// # Errors
///
/// Every problem that stops loading, as one text with places and what to write instead.
pub(crate) fn load(globals: &Globals) -> Result<ManuallyDrop<KnowledgeBase>, Failure> {
    let mut stack = stack(globals)?;
    let loaded = loaded(&mut stack)?;
    left_out(&stack, globals);
    taken_once(&loaded, globals);
    Ok(ManuallyDrop::new(loaded.base))
}

/// All layers: shipped, `--library`, and the coach's own if it is there.
pub(crate) fn stack(globals: &Globals) -> Result<Stack, Failure> {
    if globals.no_shipped && globals.library.is_empty() {
        return Err(Failure::NotUnderstood(
            "error: --no-shipped leaves nothing to work with\n  help: add --library DIR, a folder of knowledge".into(),
        ));
    }
    Stack::read(&wanted(globals)).map_err(|problems| Failure::broken(problems, &[]))
}

/// `--no-shipped` means the given folders and nothing else.
pub(crate) fn wanted(globals: &Globals) -> Wanted {
    Wanted {
        shipped: !globals.no_shipped,
        folders: globals.library.clone(),
        own: (!globals.no_shipped && !globals.no_own)
            .then(|| home::own_library().ok())
            .flatten(),
        top: None,
    }
}

/// All layers with one more folder on top when there is one, and what could not be read.
pub(crate) fn texts_with(
    globals: &Globals,
    top: Option<&Path>,
) -> Result<(Vec<LayerText>, Vec<Problem>), Failure> {
    let stack = match top {
        None => stack(globals)?,
        Some(top) => {
            let top = Some(top.to_owned());
            let wanted = Wanted {
                top,
                ..wanted(globals)
            };
            Stack::read(&wanted).map_err(|problems| Failure::broken(problems, &[]))?
        }
    };
    // What the own library skipped is said with the layer itself.
    let unread = stack.left_out.into_iter();
    let unread = unread.filter(|problem| problem.severity == Severity::Error);
    Ok((stack.layers, unread.collect()))
}

/// The layers as a checked library. What keeps it from loading is said without the warnings, which never
/// stop a lesson and are for `check`.
pub(crate) fn loaded(stack: &mut Stack) -> Result<Loaded, Failure> {
    stack.load().map_err(|mut problems| {
        problems.retain(|problem| problem.severity == Severity::Error);
        Failure::broken(problems, &stack.layers)
    })
}

/// The most slips of one file that are named.
const NAMED: usize = 3;

/// A problem on one line.
fn on_a_line(problem: &Problem) -> String {
    let line = (problem.line > 0).then(|| format!("line {}: ", problem.line));
    let help = problem.help.as_ref().map(|help| {
        let words: Vec<&str> = help.split_whitespace().collect();
        format!("; {}", words.join(" "))
    });
    let (line, help) = (line.unwrap_or_default(), help.unwrap_or_default());
    format!("  {line}{}{help}", problem.message)
}

/// Says loudly which files of the coach's own the answer does without.
pub(crate) fn left_out(stack: &Stack, globals: &Globals) {
    let mut files: BTreeMap<(&str, &str), Vec<&Problem>> = BTreeMap::new();
    for problem in &stack.left_out {
        let file = (problem.layer.as_str(), problem.file.as_str());
        files.entry(file).or_default().push(problem);
    }
    let last = files.len();
    for (number, ((layer, file), problems)) in (1..).zip(files) {
        let what = if file.is_empty() {
            format!("your own library {layer} is left out")
        } else {
            format!("{file} of your own library {layer} is left out, with all that stands in it")
        };
        let mut lines = vec![format!("warning: {what}")];
        lines.extend(
            problems
                .iter()
                .take(NAMED)
                .map(|problem| on_a_line(problem)),
        );
        if problems.len() > NAMED {
            lines.push(format!("  and {} more", problems.len() - NAMED));
        }
        if number == last {
            lines.push("  help: fairwhy check shows each line; --no-own leaves your library out without a word".to_owned());
        }
        notice(&lines.join("\n"), globals);
    }
}

/// Says that entries came twice, word for word.
fn taken_once(loaded: &Loaded, globals: &Globals) {
    let same = loaded.warnings.iter();
    let same: Vec<_> = same
        .filter(|warning| warning.code == "same-twice")
        .collect();
    let Some(first) = same.first() else { return };
    let rest = match same.len() {
        1 => String::new(),
        count => format!(" (and {} more of the sort)", count - 1),
    };
    notice(
        &format!(
            "note: {}/{}, line {}: {}{rest}\n  help: {}",
            first.layer,
            first.file,
            first.line,
            first.message,
            first.help.as_deref().unwrap_or_default()
        ),
        globals,
    );
}
