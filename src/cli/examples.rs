//! Two examples for every help text, where to begin, and what is made from the commands themselves.

use super::{Cli, Failure};
use clap::{Args, Command, CommandFactory, error::ErrorKind};
use clap_complete::Shell;
use std::ffi::OsString;
use std::io::Write;

/// For each command two ways to use it; one that brings its own is left alone.
const EXAMPLES: &[(&str, [&str; 2])] = &[
    (
        "why",
        [
            "why \"weak slice\" \"pulls the short irons\" --not \"grip too weak\"",
            "why \"fat irons, sways off the ball\" --shot iron --handed right",
        ],
    ),
    (
        "drills",
        [
            "drills \"chunked wedges\" --place home --have \"\"",
            "drills \"feet together\" --limit 3",
        ],
    ),
    (
        "plan",
        [
            "plan \"weak slice\" --minutes 30 --place range --have mirror,stick",
            "plan \"fat irons\" --student heron --save --called ball-too-far-forward --handout heron.html",
        ],
    ),
    (
        "lesson",
        [
            "lesson \"weak slice, pulls the short irons, divots point in\"",
            "lesson heron \"fat irons\" --shot iron --minutes 30",
        ],
    ),
    (
        "lesson log",
        [
            "lesson log heron --drill towel-under-arm --result partly --reps 40",
            "lesson log heron --drill towel-under-arm --result no --note \"lost the towel each time\"",
        ],
    ),
    (
        "lesson next",
        [
            "lesson next heron",
            "lesson next heron \"slice still there, grip is fine\" --count slice=3/10 --save",
        ],
    ),
    (
        "lesson list",
        ["lesson list heron", "lesson list heron --format json"],
    ),
    (
        "show",
        [
            "show grip-too-weak",
            "show \"chair behind the hips\" --format markdown",
        ],
    ),
    ("check", ["check", "check academy --strict"]),
    ("add", ["add drill", "add link my-link.yaml --dry-run"]),
    (
        "edit",
        ["edit towel-under-arm", "edit hangs-back --to academy"],
    ),
    (
        "remove",
        [
            "remove towel-under-arm --dry-run",
            "remove grip-too-weak-to-thin-shot",
        ],
    ),
    (
        "retire",
        [
            "retire towel-under-arm --for chair-behind-hips",
            "retire towel-under-arm --for chair-behind-hips --dry-run",
        ],
    ),
    ("library", ["library list", "library share robin.yaml"]),
    (
        "library list",
        ["library list", "library list --library academy"],
    ),
    (
        "library diff",
        ["library diff", "library diff --library academy"],
    ),
    (
        "library share",
        ["library share robin.yaml", "library share - --from academy"],
    ),
    (
        "library receive",
        [
            "library receive robin.yaml --dry-run",
            "library receive robin.yaml --into academy",
        ],
    ),
    (
        "student",
        [
            "student add heron --handed right --level improver --goal \"keep it in play\"",
            "student show heron",
        ],
    ),
    (
        "student add",
        [
            "student add heron --handed right --level improver --fact senior --limits \"stiff neck\"",
            "student add wren --fact junior --goal \"break ninety\" --keep 12",
        ],
    ),
    (
        "student list",
        ["student list", "student list --format json"],
    ),
    (
        "student show",
        ["student show heron", "student show heron --limits"],
    ),
    (
        "student edit",
        [
            "student edit heron --level advanced",
            "student edit heron --no-limits --no-fact senior",
        ],
    ),
    (
        "student export",
        ["student export heron", "student export heron --format json"],
    ),
    (
        "student forget",
        ["student forget heron", "student forget heron --yes"],
    ),
    (
        "progress",
        ["progress heron", "progress heron --picture heron.svg"],
    ),
    ("eval", ["eval", "eval --coach robin --format json"]),
    ("records learn", ["records learn on", "records learn off"]),
    ("records", ["records backup may.db", "records undo"]),
    (
        "records backup",
        [
            "records backup may.db",
            "records backup /media/stick/may.db",
        ],
    ),
    (
        "records restore",
        [
            "records restore may.db",
            "records restore /media/stick/may.db",
        ],
    ),
    (
        "records undo",
        ["records undo", "records undo --format json"],
    ),
    (
        "records check",
        ["records check", "records check --format json"],
    ),
    (
        "records export",
        [
            "records export all.jsonl",
            "records export all.csv --replace",
        ],
    ),
    (
        "records import",
        ["records import all.jsonl", "records import all.csv"],
    ),
    (
        "serve",
        ["serve", "serve --port 4710 --no-open --read-only"],
    ),
    ("schema", ["schema", "schema > fairwhy.schema.json"]),
    (
        "completions",
        [
            "completions bash > ~/.local/share/bash-completion/completions/fairwhy",
            "completions zsh > ~/.zfunc/_fairwhy",
        ],
    ),
    (
        "manual",
        [
            "manual | man -l -",
            "manual > ~/.local/share/man/man1/fairwhy.1",
        ],
    ),
];

/// What `fairwhy` alone says.
const BEGIN: &str = "\
fairwhy: from what you saw, to why, to what to do. A coach's aid.

Begin with what you see, in your own words:

  fairwhy why \"weak slice\" \"divots point in\"   where it starts, and what to look at next
  fairwhy plan \"weak slice\" --minutes 45       the same as a lesson, and the practice after it
  fairwhy drills \"chunked wedges\"              drills by what you see
  fairwhy show grip-too-weak                   one entry in full
  fairwhy add drill                            a drill of your own

fairwhy --help lists every command; fairwhy COMMAND --help ends with two examples.
";

/// The command line, each help text with its examples.
pub(crate) fn command() -> Command {
    with_examples(Cli::command(), "")
}

fn with_examples(command: Command, path: &str) -> Command {
    let names = command
        .get_subcommands()
        .map(|sub| sub.get_name().to_owned());
    let names: Vec<String> = names.collect();
    let command = names.iter().fold(command, |command, name| {
        let path = format!("{path} {name}");
        command.mut_subcommand(name, |sub| with_examples(sub, path.trim()))
    });
    if command.get_after_help().is_some() {
        return command;
    }
    let found = EXAMPLES.iter().find(|(name, _)| *name == path);
    match found {
        Some((_, [one, other])) => {
            command.after_help(format!("Examples:\n  fairwhy {one}\n  fairwhy {other}"))
        }
        None if path.is_empty() => command.after_help(
            "Examples:\n  fairwhy why \"weak slice\" \"divots point in\"\n  fairwhy drills \"chunked wedges\" --place home",
        ),
        None => command,
    }
}

/// An example of the command that was typed, where something that it must have is missing.
pub(crate) fn instead(kind: ErrorKind, arguments: &[OsString]) -> String {
    if kind != ErrorKind::MissingRequiredArgument {
        return String::new();
    }
    let words: Vec<&str> = arguments
        .iter()
        .skip(1)
        .filter_map(|w| w.to_str())
        .collect();
    let typed = |path: &str| {
        let mut words = words.iter();
        path.split(' ').all(|part| words.any(|word| *word == part))
    };
    let found = EXAMPLES.iter().filter(|(path, _)| typed(path));
    let found = found.max_by_key(|(path, _)| path.len());
    found.map_or_else(String::new, |(_, [first, _])| {
        format!("\nFor example: fairwhy {first}\n")
    })
}

/// Says where to begin.
pub(crate) fn begin(out: &mut dyn Write) -> Result<u8, Failure> {
    out.write_all(BEGIN.as_bytes())?;
    Ok(0)
}

#[derive(Debug, Args)]
pub(crate) struct CompletionsArgs {
    /// The shell that completes
    shell: Shell,
}

/// Prints what a shell completes commands and options from.
pub(crate) fn completions(args: &CompletionsArgs, out: &mut dyn Write) -> Result<u8, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut command(), "fairwhy", &mut script);
    out.write_all(&script)?;
    Ok(0)
}

/// Prints the manual: a page for the program, and one for each command behind it.
pub(crate) fn manual(out: &mut dyn Write) -> Result<u8, Failure> {
    let mut all = command();
    all.build();
    let mut page = Vec::new();
    pages(&all, "fairwhy", &mut page)?;
    out.write_all(&page)?;
    Ok(0)
}

fn pages(command: &Command, name: &str, page: &mut Vec<u8>) -> Result<(), Failure> {
    let titled = command.clone().display_name(name.replace(' ', "-"));
    clap_mangen::Man::new(titled).render(page)?;
    let subs = command.get_subcommands();
    for sub in subs.filter(|sub| sub.get_name() != "help" && !sub.is_hide_set()) {
        pages(sub, &format!("{name} {}", sub.get_name()), page)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_help_text_ends_with_two_examples_that_are_understood() {
        fn each(command: &Command, path: &str) {
            for sub in command.get_subcommands() {
                let path = format!("{path} {}", sub.get_name());
                let help = sub.clone().render_long_help().to_string();
                let examples = help.split("Examples:\n").nth(1).unwrap_or_default();
                let lines: Vec<&str> = examples.lines().map(str::trim).collect();
                assert_eq!(lines.len(), 2, "{path}: no two examples at the end");
                for line in lines {
                    assert!(line.starts_with(&path), "{line}");
                    let typed = line.split(['>', '|']).next().unwrap_or_default();
                    let words = typed.split('"').enumerate().flat_map(|(at, part)| {
                        let words: Vec<&str> = if at % 2 == 1 {
                            vec![part]
                        } else {
                            part.split_whitespace().collect()
                        };
                        words
                    });
                    let words: Vec<&str> = words.collect();
                    let understood = super::command().try_get_matches_from(&words);
                    assert!(understood.is_ok(), "{line}: {:?}", understood.err());
                }
                each(sub, &path);
            }
        }
        each(&super::command(), "fairwhy");
    }

    #[test]
    fn shells_complete_and_the_manual_knows_every_command() {
        let text = |made: &dyn Fn(&mut Vec<u8>) -> Result<u8, Failure>| {
            let mut bytes = Vec::new();
            made(&mut bytes).expect("made");
            String::from_utf8(bytes).expect("text")
        };
        let manual = text(&|out| manual(out));
        for shell in [Shell::Bash, Shell::Zsh, Shell::Fish, Shell::PowerShell] {
            let script = text(&|out| completions(&CompletionsArgs { shell }, out));
            for command in super::command().get_subcommands() {
                assert!(
                    script.contains(command.get_name()),
                    "{shell}: {}",
                    command.get_name()
                );
                let page = format!(".TH fairwhy-{}", command.get_name());
                assert!(manual.contains(&page), "no {page}");
            }
        }
    }
}
