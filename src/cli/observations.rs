//! What was seen, as options shared by every command that starts from it.

use super::context::{ContextArgs, HandedArg};
use super::output::{Output, wrapped};
use super::{Failure, trouble};
use crate::diagnosis::{Answer, Asked, Reported, observe};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::{Handed, Lesson};
use crate::records::Student;
use crate::words::{Candidate, Readers, on_record};
use clap::Args;
use serde::{Deserialize, Serialize};
use std::io::{IsTerminal, Write};
use std::mem::ManuallyDrop;

/// What was seen.
#[derive(Clone, Debug, Default, PartialEq, Args, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[command(next_help_heading = "What was seen")]
pub(crate) struct ObservationArgs {
    /// What was seen: a whole note in quotes, or several; ids and names are words too
    #[arg(value_name = "SEEN")]
    seen: Vec<String>,
    /// Looked for because the tool said so, and there; repeatable
    #[arg(long, value_name = "ID")]
    found: Vec<String>,
    /// Looked for and not seen; repeatable
    #[arg(long = "not", value_name = "WORDS")]
    not_seen: Vec<String>,
    /// Seen slightly, or in an unsure look; repeatable
    #[arg(long, value_name = "WORDS")]
    slight: Vec<String>,
    /// A number, such as trail-elbow-bend-at-top=112; repeatable
    #[arg(long, value_name = "QUANTITY=VALUE")]
    measured: Vec<String>,
    /// Soft evidence as a number: how many times as likely the report is with it as without; repeatable
    #[arg(long, value_name = "ID=RATIO")]
    likelihood: Vec<String>,
    /// What words mean, when they were misread, such as "hands high=club-high-and-behind-at-top"; repeatable
    #[arg(long, value_name = "WORDS=ID")]
    read: Vec<String>,
    #[command(flatten)]
    context: ContextArgs,
    #[arg(skip)]
    #[serde(skip)]
    record: Option<KeptStudent>,
}

/// What is on record of a student, for where nothing else is typed.
#[derive(Clone, Debug, PartialEq)]
struct KeptStudent {
    student: Student,
    limits: Option<String>,
}

impl ObservationArgs {
    /// Whether nothing was seen, told or looked for.
    pub(crate) fn is_empty(&self) -> bool {
        self.reported().is_empty()
    }

    /// Takes another note in.
    pub(crate) fn add_note(&mut self, note: String) {
        self.seen.push(note);
    }

    /// Takes in what was looked for and is there, is not, or is there slightly.
    pub(crate) fn add_look(&mut self, id: &str, answer: Answer) {
        match answer {
            Answer::Yes => self.seen.push(id.to_owned()),
            Answer::No => self.not_seen.push(id.to_owned()),
            Answer::Slight => self.slight.push(id.to_owned()),
            Answer::Later => {}
        }
    }

    /// What was typed as seen.
    pub(crate) fn notes(&self) -> &[String] {
        &self.seen
    }

    /// The first thing typed as seen, taken out again, when `wanted` says so.
    pub(crate) fn take_first(&mut self, wanted: impl FnOnce(&str) -> bool) -> Option<String> {
        let first = self.seen.first()?;
        wanted(first).then(|| self.seen.remove(0))
    }

    /// Takes in what is on record of a student; what is typed goes before it.
    pub(crate) fn on_record(&mut self, student: &Student, limits: Option<&str>) {
        for fact in student.facts.iter().rev() {
            if !self.context.facts.contains(fact) {
                self.context.facts.insert(0, fact.clone());
            }
        }
        self.record = Some(KeptStudent {
            student: student.clone(),
            limits: limits.map(str::to_owned),
        });
    }

    fn reported(&self) -> Reported {
        Reported {
            seen: self.seen.clone(),
            found: self.found.clone(),
            not_seen: self.not_seen.clone(),
            slight: self.slight.clone(),
            measured: self.measured.clone(),
            likelihood: self.likelihood.clone(),
            facts: self.context.facts.clone(),
            read: self.read.clone(),
        }
    }

    /// Reads everything typed; asks at a terminal which hand is meant where that alone is open, then where
    /// words may mean several things. A hand that was told is kept with what was typed.
    pub(crate) fn read(&mut self, base: &KnowledgeBase, output: &Output) -> Result<Asked, Failure> {
        let reported = self.reported();
        if reported.is_empty() {
            return Err(Failure::NotUnderstood(
                "error: nothing was reported\n  help: say what you saw, in quotes, such as \"weak slice, divots point in\"".into(),
            ));
        }
        let mut lesson = self.context.lesson(base)?;
        // Not taken apart again, as the library is not: a command ends with the process.
        let readers = ManuallyDrop::new(Readers::new(base));
        if let Some(record) = &self.record {
            let typed = || self.seen.iter().find_map(|note| readers.hand_in(note));
            lesson.handed = lesson.handed.or_else(typed).or(record.student.handed);
        }
        let read = |lesson: &Lesson, choose: &mut Choose<'_>| {
            observe(&readers, lesson, &reported, choose)
                .map_err(|troubles| trouble::not_read(base, &troubles))
        };
        let mut unsure = false;
        let mut asked = read(&lesson, &mut |_, _| {
            unsure = true;
            None
        })?;
        if (unsure || !asked.heard.open.is_empty()) && somebody_is_there() {
            let by = |handed| {
                let lesson = Lesson {
                    handed: Some(handed),
                    ..lesson.clone()
                };
                read(&lesson, &mut |_, _| None).map(|asked| asked.observations)
            };
            if lesson.handed.is_none() && by(Handed::Right)? != by(Handed::Left)? {
                self.context.handed = ask_hand("Which hand does the student play with?");
                lesson.handed = self.context.handed.map(HandedArg::handed);
            }
            asked = read(&lesson, &mut |words, list| {
                ask(base, words, list, output.width)
            })?;
        }
        if let Some(KeptStudent { student, limits }) = &self.record {
            asked.lesson = asked
                .lesson
                .on_record(student.handed, student.level, &student.suits);
            if let Some(limits) = limits {
                let limits = on_record(base, readers.free(), limits);
                asked.complaints.extend(limits);
            }
        }
        Ok(asked)
    }
}

/// Chooses among what words may mean.
type Choose<'a> = dyn FnMut(&str, &[Candidate]) -> Option<ConditionKey> + 'a;

/// Whether a person is there to be asked.
pub(crate) fn somebody_is_there() -> bool {
    std::io::stdin().is_terminal() && std::io::stderr().is_terminal()
}

/// Asks for a hand on standard error; `None` where it is left open.
pub(crate) fn ask_hand(question: &str) -> Option<HandedArg> {
    let mut prompt = std::io::stderr();
    loop {
        let _ = write!(
            prompt,
            "{question} (r right, l left, Enter leaves it open) "
        );
        let _ = prompt.flush();
        let mut line = String::new();
        if std::io::stdin().read_line(&mut line).ok()? == 0 {
            return None;
        }
        match line.trim().to_lowercase().as_str() {
            "" => return None,
            "r" | "right" => return Some(HandedArg::Right),
            "l" | "left" => return Some(HandedArg::Left),
            _ => {}
        }
    }
}

/// Asks a person which entry is meant; on standard error, so that the answer itself can still be sent
/// elsewhere.
fn ask(
    base: &KnowledgeBase,
    words: &str,
    candidates: &[Candidate],
    width: usize,
) -> Option<ConditionKey> {
    let mut prompt = std::io::stderr();
    let can = if candidates.len() == 1 {
        "may mean, but that is not certain"
    } else {
        "can mean"
    };
    let _ = writeln!(prompt, "\"{words}\" {can}:");
    for (number, candidate) in candidates.iter().enumerate() {
        let condition = base.condition(candidate.condition);
        let line = format!(
            "  {}  {}: {}",
            number + 1,
            condition.name,
            condition.look_for
        );
        let _ = writeln!(prompt, "{}", wrapped(&line, width));
    }
    let chosen = which(candidates.len())?;
    Some(candidates[chosen].condition)
}

/// Which of so many offers is meant, from 0; none when none is.
fn which(offers: usize) -> Option<usize> {
    let mut prompt = std::io::stderr();
    loop {
        let _ = write!(prompt, "Which one? (number, or Enter for none) ");
        let _ = prompt.flush();
        let mut line = String::new();
        if std::io::stdin().read_line(&mut line).ok()? == 0 || line.trim().is_empty() {
            return None;
        }
        match line.trim().parse::<usize>() {
            Ok(number) if (1..=offers).contains(&number) => return Some(number - 1),
            _ => {
                let _ = writeln!(prompt, "Write a number from 1 to {offers}.");
            }
        }
    }
}
