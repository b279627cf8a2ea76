//! Numbers of a student onto the timeline: what `flight`, `frame`, `shots` and `compare` have in common.

use super::context::HandedArg;
use super::day::{day, today};
use super::observations::{ask_hand, somebody_is_there};
use super::output::Output;
use super::records::{refused, to_read, to_write};
use super::remind::remind;
use super::{Failure, Globals};
use crate::knowledge::KnowledgeBase;
use crate::lesson::Handed;
use crate::records::{History, LessonRecord, MeasuredNumber};
use crate::report::{Page, numbers_since, numbers_since_json};
use chrono::NaiveDate;
use clap::Args;
use serde_json::{Value, json};
use std::io::Write;

/// Whose numbers they are.
#[derive(Clone, Debug, Default, Args)]
#[command(next_help_heading = "The student")]
pub(crate) struct TimelineArgs {
    /// Whose numbers they are: the hand comes from the record, and they are kept on the timeline
    #[arg(long, value_name = "HANDLE")]
    student: Option<String>,
    /// The day they are of (left out: today)
    #[arg(long, value_name = "DATE", value_parser = day, requires = "student")]
    on: Option<NaiveDate>,
    /// The word for it elsewhere; with a student, numbers are kept with and without it
    #[arg(long, hide = true, requires = "student")]
    save: bool,
}

/// A student whose numbers are to be kept.
pub(crate) struct Timeline {
    /// What is kept until now.
    pub(crate) history: History,
    on: NaiveDate,
}

/// Numbers that were kept and read back.
pub(crate) struct KeptNumbers {
    history: History,
    lesson: LessonRecord,
}

impl TimelineArgs {
    /// Opens the record, where a student is named.
    pub(crate) fn open(&self, globals: &Globals) -> Result<Option<Timeline>, Failure> {
        let Some(handle) = &self.student else {
            return Ok(None);
        };
        let history = to_read()?.history(handle).map_err(refused)?;
        remind(&history.student, history.last(), globals);
        let on = self.on.unwrap_or_else(today);
        Ok(Some(Timeline { history, on }))
    }
}

impl Timeline {
    /// Which hand the student plays with; asked for where the record does not say.
    pub(crate) fn hand(&self) -> Result<Handed, Failure> {
        let student = &self.history.student;
        let handle = &student.handle;
        let question = format!("Which hand does {handle} play with?");
        let asked = || {
            let hand = somebody_is_there().then(|| ask_hand(&question)).flatten();
            hand.map(HandedArg::handed)
        };
        student.handed.or_else(asked).ok_or_else(|| {
            Failure::NotUnderstood(format!(
                "error: which hand {handle} plays with is not known, so lead and trail are not\n  help: add --handed right or left; fairwhy student edit {handle} --handed right keeps it"
            ))
        })
    }

    /// Numbers of the day, to be filled in; `from` says off what they were read.
    pub(crate) fn numbers(&self, from: String) -> LessonRecord {
        LessonRecord {
            note: vec![from],
            ..LessonRecord::new(self.on)
        }
    }

    /// Keeps them as a new entry; it is read back before this returns.
    pub(crate) fn keep(self, numbers: &LessonRecord) -> Result<KeptNumbers, Failure> {
        self.keep_all(std::slice::from_ref(numbers))
    }

    /// The same of several days, each as an entry of its own; what changed is told of the last.
    pub(crate) fn keep_all(mut self, numbers: &[LessonRecord]) -> Result<KeptNumbers, Failure> {
        let handle = self.history.student.handle.clone();
        let empty = |one: &LessonRecord| {
            one.measured.is_empty() && one.counts.is_empty() && one.seen.is_empty()
        };
        let (Some((last, first)), false) = (numbers.split_last(), numbers.iter().any(empty)) else {
            return Err(Failure::NotDone(format!(
                "error: there is no number in it to keep for {handle}\n  help: leave --student out to see what there is"
            )));
        };
        let mut store = to_write()?;
        for one in first {
            let kept = store.add_lesson(&handle, one).map_err(refused)?;
            self.history.lessons.push(kept);
        }
        // What came after that day is no last time.
        self.history.lessons.retain(|one| one.day <= last.day);
        let lesson = store.add_lesson(&handle, last).map_err(refused)?;
        Ok(KeptNumbers {
            lesson,
            history: self.history,
        })
    }
}

/// Prints what numbers came to, with what was kept of them where a student is named.
pub(crate) fn print_kept(
    kept: Option<(&KnowledgeBase, &KeptNumbers)>,
    output: &Output,
    out: &mut dyn Write,
    page: impl FnOnce() -> Page,
    json: impl FnOnce() -> Value,
) -> std::io::Result<()> {
    let page = || {
        let mut page = page();
        if let Some((base, kept)) = kept {
            kept.tell(base, &mut page);
        }
        page
    };
    let json = || {
        let mut json = json();
        if let Some((_, kept)) = kept {
            kept.put(&mut json);
        }
        json
    };
    output.print(out, page, json)
}

impl KeptNumbers {
    /// What changed since the last of the same, and what was kept.
    pub(crate) fn tell(&self, base: &KnowledgeBase, page: &mut Page) {
        numbers_since(page, base, &self.history, &self.lesson);
        page.text(self.line());
    }

    /// What was kept.
    pub(crate) fn line(&self) -> String {
        let LessonRecord { number, day, .. } = &self.lesson;
        let handle = &self.history.student.handle;
        format!("saved: numbers {number} of {handle}, {day}, read back")
    }

    /// The same for a program.
    pub(crate) fn put(&self, value: &mut Value) {
        let handle = &self.history.student.handle;
        value["since"] = numbers_since_json(&self.history, &self.lesson);
        value["saved"] =
            json!({"student": handle, "lesson": self.lesson.number, "date": self.lesson.day});
    }
}

/// A number as it is kept: a hundredth is more than any reading holds, and no error is nothing.
pub(crate) fn quantity(name: &str, value: f64, unit: &str, error_sd: f64) -> MeasuredNumber {
    MeasuredNumber {
        quantity: name.to_owned(),
        value: (value * 100.0).round() / 100.0,
        unit: unit.to_owned(),
        error_sd: ((error_sd * 1000.0).round() / 1000.0).max(0.001),
    }
}
