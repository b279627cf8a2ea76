//! `fairwhy student`: who comes, what is known of them, and what is kept.

use super::context::{HandedArg, spelled};
use super::day::{day, today};
use super::output::{Output, whole};
use super::records::{place, refused, say, to_read, to_write};
use super::remind::remind;
use super::{Failure, Format, Globals, examples, layers};
use crate::knowledge::{KnowledgeBase, Level, Suits, nearest};
use crate::records::{History, Store, StoreError, Student, mistaken_for, shape_of_handle};
use crate::report::{how_many, sided, student_json, student_page, students_json, students_page};
use chrono::NaiveDate;
use clap::{Args, Subcommand};
use serde_json::json;
use std::io::{BufRead, IsTerminal, Write};

/// More letters than this are no note on a student.
const MOST_LETTERS: usize = 2000;

#[derive(Debug, Args)]
pub(crate) struct StudentArgs {
    #[command(subcommand)]
    action: StudentAction,
}

#[derive(Debug, Subcommand)]
enum StudentAction {
    /// Begin a record; students go by handles, never by names
    Add {
        /// What the student goes by, such as heron
        #[arg(value_name = "HANDLE")]
        handle: String,
        #[command(flatten)]
        about: AboutArgs,
        /// The day on which the record is begun (left out: today)
        #[arg(long, value_name = "DATE", value_parser = day)]
        on: Option<NaiveDate>,
    },
    /// Every student, with the last lesson and how long the record is kept
    List,
    /// One student: what is known, and every lesson in order
    Show {
        /// The student
        #[arg(value_name = "HANDLE")]
        handle: String,
        /// Show what was said of the body too
        #[arg(long)]
        limits: bool,
    },
    /// Change what is known; what is not said stays
    Edit {
        /// The student
        #[arg(value_name = "HANDLE")]
        handle: String,
        #[command(flatten)]
        about: AboutArgs,
        /// A fact that no longer holds; repeatable
        #[arg(long, value_name = "ID")]
        no_fact: Vec<String>,
        /// Let go of every goal first
        #[arg(long)]
        no_goals: bool,
        /// Erase what was said of the body
        #[arg(long, conflicts_with = "limits")]
        no_limits: bool,
    },
    /// Everything that is kept of a student, limits and all: Markdown, or JSON with --format json
    Export {
        /// The student
        #[arg(value_name = "HANDLE")]
        handle: String,
    },
    /// Erase a student for good, with every lesson and all that could be undone
    Forget {
        /// The student
        #[arg(value_name = "HANDLE")]
        handle: String,
        /// Do not ask
        #[arg(long)]
        yes: bool,
    },
}

/// What is known of a student.
#[derive(Clone, Debug, Args)]
struct AboutArgs {
    /// Which way the student plays
    #[arg(long, value_enum)]
    handed: Option<HandedArg>,
    /// How far along the student is
    #[arg(long, value_parser = spelled(Level::ALL, Level::as_str))]
    level: Option<Level>,
    /// What the student's body asks of a drill; repeatable
    #[arg(long, value_delimiter = ',', value_parser = spelled(Suits::ALL, Suits::as_str))]
    suits: Vec<Suits>,
    /// A fact about the student, such as senior or tall; repeatable. An age band, never a birth date
    #[arg(long = "fact", value_name = "ID")]
    facts: Vec<String>,
    /// What the student is after; repeatable
    #[arg(long = "goal", value_name = "TEXT")]
    goals: Vec<String>,
    /// What was said of the body, such as "stiff neck"; kept apart, shown only when asked for, and heeded in every plan
    #[arg(long, value_name = "TEXT")]
    limits: Option<String>,
    /// Months to keep the record after the last lesson, from 1 to 600 (left out: 36)
    #[arg(long, value_name = "MONTHS", value_parser = months)]
    keep: Option<u32>,
}

fn months(text: &str) -> Result<u32, String> {
    whole(text)
        .ok()
        .filter(|months| (1..=600).contains(months))
        .ok_or_else(|| "write a whole number of months from 1 to 600, such as 24".to_owned())
}

impl AboutArgs {
    /// Refuses what the library does not know, and what is no note.
    fn check(&self, base: &KnowledgeBase) -> Result<(), Failure> {
        for id in &self.facts {
            if base.find_fact(id).is_none() {
                let known = base.facts.iter().map(|fact| fact.id.as_str());
                let near = nearest(id, known, 3);
                let help = if near.is_empty() {
                    "facts stand in the library, such as senior, junior, tall, beginner".to_owned()
                } else {
                    format!("did you mean {}?", near.join(", "))
                };
                return Err(Failure::NotUnderstood(format!(
                    "error: no fact \"{id}\"\n  help: {help}"
                )));
            }
        }
        for text in self.goals.iter().chain(&self.limits) {
            if text.trim().is_empty() || text.chars().count() > MOST_LETTERS {
                return Err(Failure::NotUnderstood(format!(
                    "error: a goal or a limit is words, at most {MOST_LETTERS} letters\n  help: such as --goal \"keep it in play\" or --limits \"stiff neck\""
                )));
            }
        }
        Ok(())
    }

    fn apply(&self, student: &mut Student, limits: &mut Option<String>) {
        student.handed = self.handed.map(HandedArg::handed).or(student.handed);
        student.level = self.level.or(student.level);
        if !self.suits.is_empty() {
            student.suits.clone_from(&self.suits);
        }
        for fact in &self.facts {
            if !student.facts.contains(fact) {
                student.facts.push(fact.clone());
            }
        }
        for goal in &self.goals {
            let goal = goal.trim().to_owned();
            if !student.goals.contains(&goal) {
                student.goals.push(goal);
            }
        }
        if let Some(said) = &self.limits {
            *limits = Some(said.trim().to_owned());
        }
        if let Some(months) = self.keep {
            student.keep_months = months;
        }
    }
}

pub(crate) fn run(
    args: &StudentArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    match &args.action {
        StudentAction::Add { handle, about, on } => {
            let base = layers::load(globals)?;
            about.check(&base)?;
            free(&base, handle)?;
            let mut student = Student::new(handle, on.unwrap_or_else(today));
            let mut limits = None;
            about.apply(&mut student, &mut limits);
            to_write()?
                .add_student(&student, limits.as_deref())
                .map_err(refused)?;
            saved(output, out, &format!("the record of {handle}"), handle)?;
        }
        StudentAction::List => list(globals, output, out)?,
        StudentAction::Show { handle, limits } => show(handle, *limits, globals, output, out)?,
        StudentAction::Export { handle } => {
            let mut output = *output;
            if output.format == Format::Table {
                output.format = Format::Markdown;
            }
            show(handle, true, globals, &output, out)?;
        }
        StudentAction::Edit {
            handle,
            about,
            no_fact,
            no_goals,
            no_limits,
        } => {
            let base = layers::load(globals)?;
            about.check(&base)?;
            drop(to_read()?);
            let edited = to_write()?.edit_student(handle, |student, limits| {
                student.facts.retain(|fact| !no_fact.contains(fact));
                if *no_goals {
                    student.goals.clear();
                }
                if *no_limits {
                    *limits = None;
                }
                about.apply(student, limits);
            });
            edited.map_err(refused)?;
            saved(output, out, &format!("the record of {handle}"), handle)?;
        }
        StudentAction::Forget { handle, yes } => forget(handle, *yes, output, out)?,
    }
    Ok(0)
}

fn list(globals: &Globals, output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
    let store = Store::to_read(&place()?).map_err(refused)?;
    let students = match store {
        Some(mut store) => store.students().map_err(refused)?,
        None => Vec::new(),
    };
    let now = today();
    output.print(
        out,
        || students_page(&students, now),
        || students_json(&students, now),
    )?;
    for one in &students {
        remind(&one.student, one.last, globals);
    }
    Ok(())
}

fn saved(output: &Output, out: &mut dyn Write, what: &str, handle: &str) -> Result<(), Failure> {
    say(
        output,
        out,
        &format!("saved: {what}, read back"),
        json!({"saved": {"student": handle}}),
    )
}

/// Refuses a handle that a command or the library would be mistaken for.
fn free(base: &KnowledgeBase, handle: &str) -> Result<(), Failure> {
    if let Err(write) = shape_of_handle(handle) {
        let handle = handle.to_owned();
        return Err(refused(StoreError::HandleShape { handle, write }));
    }
    let instead = || {
        let birds = ["wren", "kestrel", "plover", "dunlin", "heron"];
        birds
            .into_iter()
            .find(|bird| *bird != handle)
            .unwrap_or("wren")
    };
    let command = examples::command();
    let commands = command.get_subcommands();
    let mut names = commands.flat_map(|one| {
        let inner = one.get_subcommands().map(clap::Command::get_name);
        std::iter::once(one.get_name()).chain(inner)
    });
    let what = if names.any(|name| name == handle) || handle == "help" {
        Some(format!("\"{handle}\" is a command"))
    } else {
        mistaken_for(base, handle)
            .map(|entry| format!("\"{handle}\" is a word of the library ({entry})"))
    };
    match what {
        None => Ok(()),
        Some(what) => Err(Failure::NotUnderstood(format!(
            "error: {what}, and cannot be a handle\n  help: choose a word that means nothing in a lesson, such as {}, or {handle}-bird",
            instead()
        ))),
    }
}

fn show(
    handle: &str,
    limits: bool,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let mut store = to_read()?;
    let history = store.history(handle).map_err(refused)?;
    let limits = if limits {
        store.limits(handle).map_err(refused)?
    } else {
        None
    };
    match output.format {
        // A program gets ids, and the library need not be read for them.
        Format::Json => writeln!(out, "{}", student_json(&history, limits.as_deref()))?,
        Format::Table | Format::Markdown => {
            let base = layers::load(globals)?;
            let page = student_page(&base, &history, limits.as_deref());
            let page = sided(page, history.student.handed);
            output.print(out, || page, || json!(null))?;
        }
    }
    remind(&history.student, history.last(), globals);
    Ok(())
}

fn forget(handle: &str, yes: bool, output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
    let History { lessons, .. } = to_read()?.history(handle).map_err(refused)?;
    if !yes && !agreed(handle, lessons.len())? {
        return Err(Failure::NotDone(
            "error: nothing was erased\n  help: say yes, or give --yes".into(),
        ));
    }
    let mut store: Store = to_write()?;
    let forgotten = store.forget(handle).map_err(refused)?;
    // A lesson that was broken off is about a student too.
    super::lesson::forget(handle)?;
    let files = forgotten.backups.iter().map(|(file, _)| file.as_str());
    let files: Vec<&str> = files.collect();
    let backups = if files.is_empty() {
        String::new()
    } else {
        format!(
            "\nThese copies may still hold {handle}; erase them yourself: {}",
            files.join(", ")
        )
    };
    say(
        output,
        out,
        &format!(
            "erased: {handle}, {}, {}, and what could be undone{backups}",
            how_many(forgotten.lessons, "lessons"),
            how_many(forgotten.outcomes, "outcomes")
        ),
        json!({"erased": handle, "lessons": forgotten.lessons, "outcomes": forgotten.outcomes, "backups": files}),
    )
}

fn agreed(handle: &str, lessons: usize) -> Result<bool, Failure> {
    if !std::io::stdin().is_terminal() {
        return Err(Failure::NotDone(format!(
            "error: {handle} has {}, and erasing cannot be taken back\n  help: say fairwhy student forget {handle} --yes",
            how_many(lessons, "lessons")
        )));
    }
    let mut prompt = std::io::stderr();
    write!(
        prompt,
        "Erase {handle} with {} for good? (yes to erase) ",
        how_many(lessons, "lessons")
    )?;
    prompt.flush()?;
    let mut line = String::new();
    std::io::stdin().lock().read_line(&mut line)?;
    Ok(matches!(line.trim().to_lowercase().as_str(), "yes" | "y"))
}
