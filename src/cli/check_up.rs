//! `fairwhy lesson log|next|list`: how a drill went, the next check-up against the last, every lesson.

use super::context::spelled;
use super::day::{day, today};
use super::observations::ObservationArgs;
use super::output::{Output, whole};
use super::records::{refused, say, to_read, to_write};
use super::visit::{KeptArgs, VisitArgs, drill, json_with, with_record};
use super::{Failure, Globals, layers};
use crate::diagnosis::{Answer, diagnose};
use crate::knowledge::KnowledgeBase;
use crate::records::{DrillResult, History, LessonRecord, Outcome, since_last};
use crate::report::{
    View, lessons_json, lessons_page, look_first_page, sided, since_json, since_page, why_json,
    why_page,
};
use chrono::NaiveDate;
use clap::{Args, Subcommand};
use serde_json::json;
use std::io::{BufRead, IsTerminal, Write};

/// How many starts a person is shown, and a program.
const SHOWN: usize = 5;
const LISTED: usize = 15;

#[derive(Clone, Debug, Subcommand)]
pub(crate) enum LessonAction {
    /// Write down how a drill went
    Log(LogArgs),
    /// The next check-up against the last: what held, what came back, and what follows
    Next(Box<NextArgs>),
    /// Every lesson of a student on a line
    List {
        /// The student
        #[arg(value_name = "HANDLE")]
        handle: String,
    },
}

#[derive(Clone, Debug, Args)]
pub(crate) struct LogArgs {
    /// The student
    #[arg(value_name = "HANDLE")]
    handle: String,
    /// The drill, by id or name
    #[arg(long, value_name = "ID")]
    drill: String,
    /// What came of it
    #[arg(long, value_parser = spelled(&DrillResult::ALL, DrillResult::as_str))]
    result: DrillResult,
    /// How many times it was done
    #[arg(long, value_name = "N", value_parser = whole)]
    reps: Option<u32>,
    /// Anything else
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// The lesson in which it was given, by number (left out: the last in which it was)
    #[arg(long, value_name = "N")]
    lesson: Option<i64>,
    /// The day on which it was told (left out: today)
    #[arg(long, value_name = "DATE", value_parser = day)]
    on: Option<NaiveDate>,
}

#[derive(Clone, Debug, Args)]
pub(crate) struct NextArgs {
    /// The student
    #[arg(value_name = "HANDLE")]
    handle: String,
    #[command(flatten)]
    observations: ObservationArgs,
    #[command(flatten)]
    kept: KeptArgs,
}

pub(crate) fn run(
    action: &LessonAction,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let mut base = layers::load(globals)?;
    match action {
        LessonAction::Log(args) => log(args, &base, output, out)?,
        LessonAction::Next(args) => next(args, &mut base, globals, output, out)?,
        LessonAction::List { handle } => {
            let history = to_read()?.history(handle).map_err(refused)?;
            output.print(
                out,
                || sided(lessons_page(&base, &history), history.student.handed),
                || lessons_json(&history),
            )?;
        }
    }
    Ok(0)
}

fn log(
    args: &LogArgs,
    base: &KnowledgeBase,
    output: &Output,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let drill = base.drill(drill(base, &args.drill)?);
    let history = to_read()?.history(&args.handle).map_err(refused)?;
    if let Some(number) = args.lesson
        && history.lessons.iter().all(|lesson| lesson.number != number)
    {
        return Err(Failure::NotUnderstood(format!(
            "error: {} has no lesson {number}\n  help: fairwhy lesson list {} names them",
            args.handle, args.handle
        )));
    }
    let note = args
        .note
        .as_deref()
        .map(str::trim)
        .filter(|note| !note.is_empty());
    let outcome = Outcome {
        number: 0,
        day: args.on.unwrap_or_else(today),
        coach: String::new(),
        lesson: args.lesson,
        drill: drill.id.clone(),
        result: args.result,
        reps: args.reps,
        note: note.map(str::to_owned),
    };
    let kept = to_write()?
        .add_outcome(&args.handle, &outcome)
        .map_err(refused)?;
    let of = kept.lesson.map_or_else(
        || "given in no lesson that is kept".to_owned(),
        |number| format!("given in lesson {number}"),
    );
    let result = kept.result.as_str();
    say(
        output,
        out,
        &format!("saved: {}, {of}: {result}, read back", drill.name),
        json!({"saved": {"student": args.handle, "drill": kept.drill, "result": result, "lesson": kept.lesson}}),
    )
}

fn next(
    args: &NextArgs,
    base: &mut KnowledgeBase,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let whose = VisitArgs::named(&args.handle, &args.kept);
    let mut observations = args.observations.clone();
    let mut visit = whose.visit(&mut observations, globals)?;
    whose.check_but(true)?;
    let keep = whose.keep(base)?;
    let visit = visit.as_mut().expect("a student is named");
    let history = visit.history.clone();
    let history = &history;
    if observations.is_empty() && std::io::stdin().is_terminal() {
        look_again(base, history, &mut observations)?;
    }
    if observations.is_empty() {
        let nothing = LessonRecord::new(whose.date());
        let since = since_last(base, history, &nothing);
        let page = || look_first_page(base, history, since.as_ref());
        output.print(
            out,
            || sided(page(), history.student.handed),
            || since_json(history, since.as_ref()),
        )?;
        return Ok(());
    }
    let mut asked = observations.read(base, output)?;
    let moved = visit.learn(base, &mut asked)?;
    let base = &*base;
    let diagnosis =
        diagnose(base, &asked).map_err(|error| Failure::NotDone(format!("error: {error}")))?;
    let mut now = LessonRecord::of(base, &diagnosis, None, whose.date());
    now.counts = whose.keep_asked(base)?.counts().to_vec();
    let since = since_last(base, history, &now);
    let kept = keep.map(|keep| keep.save(base, &diagnosis, None, observations.notes()));
    let view = View {
        starts: SHOWN,
        details: false,
        width: output.width,
    };
    let page = || {
        let mut page = since_page(base, history, since.as_ref());
        page.blocks.extend(why_page(base, &diagnosis, view).blocks);
        let page = sided(page, diagnosis.lesson.handed);
        with_record(page, moved.as_deref(), kept.as_ref())
    };
    let json = || {
        let mut value = why_json(base, &diagnosis, LISTED);
        if let (Some(value), serde_json::Value::Object(since)) =
            (value.as_object_mut(), since_json(history, since.as_ref()))
        {
            value.extend(since);
        }
        json_with(value, kept.as_ref())
    };
    output.print(out, page, json)?;
    kept.transpose()?;
    Ok(())
}

/// Asks a coach at a terminal about the start that was worked on and all that was there last time.
fn look_again(
    base: &KnowledgeBase,
    history: &History,
    observations: &mut ObservationArgs,
) -> Result<(), Failure> {
    let Some(last) = history.check_ups().next_back() else {
        return Ok(());
    };
    let start = last.worked_on().into_iter();
    let mut ids: Vec<&str> = Vec::new();
    for id in start.chain(last.seen.iter().map(String::as_str)) {
        if !ids.contains(&id) {
            ids.push(id);
        }
    }
    for id in ids {
        let Some(key) = base.find(id) else { continue };
        let Some(answer) = is_it_there(&base.condition(key).name)? else {
            break;
        };
        observations.add_look(id, answer);
    }
    Ok(())
}

/// Asks until the answer is one; none when nothing more is typed.
fn is_it_there(name: &str) -> std::io::Result<Option<Answer>> {
    let mut prompt = std::io::stderr();
    loop {
        write!(
            prompt,
            "{name}: is it there? y yes, n no, s slightly, Enter not looked at: "
        )?;
        prompt.flush()?;
        let mut line = String::new();
        if std::io::stdin().lock().read_line(&mut line)? == 0 {
            return Ok(None);
        }
        return Ok(Some(match line.trim().to_lowercase().as_str() {
            "y" | "yes" => Answer::Yes,
            "n" | "no" => Answer::No,
            "s" | "slight" | "slightly" => Answer::Slight,
            "" => Answer::Later,
            _ => continue,
        }));
    }
}
