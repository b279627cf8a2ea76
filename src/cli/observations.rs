//! What was seen, as options shared by every command that starts from it.

use super::context::ContextArgs;
use super::output::{Output, wrapped};
use super::{Failure, trouble};
use crate::diagnosis::{Asked, Reported, observe};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::words::{Candidate, Reader};
use clap::Args;
use serde::{Deserialize, Serialize};
use std::io::{BufRead, IsTerminal, Write};

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

    /// Reads everything typed; asks at a terminal where words may mean several things.
    pub(crate) fn read(&self, base: &KnowledgeBase, output: &Output) -> Result<Asked, Failure> {
        let reported = self.reported();
        if reported.is_empty() {
            return Err(Failure::NotUnderstood(
                "error: nothing was reported\n  help: say what you saw, such as: fairwhy why \"weak slice\" \"divots point in\"".into(),
            ));
        }
        let lesson = self.context.lesson(base)?;
        let reader = Reader::new(base);
        let mut choose = |words: &str, list: &[Candidate]| ask(base, words, list, output.width);
        observe(base, &reader, &lesson, &reported, &mut choose)
            .map_err(|troubles| trouble::not_read(base, &troubles))
    }
}

/// Asks which entry is meant, when a person is there to answer; on standard error, so that the
/// answer itself can still be sent elsewhere.
fn ask(
    base: &KnowledgeBase,
    words: &str,
    candidates: &[Candidate],
    width: usize,
) -> Option<ConditionKey> {
    let mut prompt = std::io::stderr();
    if !(std::io::stdin().is_terminal() && prompt.is_terminal()) {
        return None;
    }
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
    loop {
        let _ = write!(prompt, "Which one? (number, or Enter for none) ");
        let _ = prompt.flush();
        let mut line = String::new();
        if std::io::stdin().lock().read_line(&mut line).ok()? == 0 || line.trim().is_empty() {
            return None;
        }
        match line.trim().parse::<usize>() {
            Ok(number) if (1..=candidates.len()).contains(&number) => {
                return Some(candidates[number - 1].condition);
            }
            _ => {
                let _ = writeln!(prompt, "Write a number from 1 to {}.", candidates.len());
            }
        }
    }
}
