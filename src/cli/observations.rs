//! What was seen, as options shared by every command that starts from it.

use super::Failure;
use super::output::{Output, wrapped};
use crate::diagnosis::{Asked, Effort, Reported, complaints, observe};
use crate::knowledge::{ConditionKey, KnowledgeBase, Shot};
use crate::words::{Candidate, Circumstances, Handed, Reader};
use clap::Args;
use clap::builder::PossibleValuesParser;
use clap::builder::TypedValueParser;
use serde::{Deserialize, Serialize};
use std::io::{BufRead, IsTerminal, Write};
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
    /// A fact about the student, such as senior or tall; repeatable
    #[arg(long = "fact", value_name = "ID")]
    facts: Vec<String>,
    /// What words mean, when they were misread, such as "hands high=club-high-and-behind-at-top"; repeatable
    #[arg(long, value_name = "WORDS=ID")]
    read: Vec<String>,
    /// Which shot it is about
    #[arg(long, value_parser = shot_parser())]
    shot: Option<Shot>,
    /// Which way the student plays; settles words such as "curves left"
    #[arg(long, value_enum)]
    handed: Option<HandedArg>,
}

/// `right` or `left`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum HandedArg {
    /// Plays right-handed
    Right,
    /// Plays left-handed
    Left,
}

impl HandedArg {
    /// The same for the rooms that know no command line.
    pub(crate) fn handed(self) -> Handed {
        match self {
            HandedArg::Right => Handed::Right,
            HandedArg::Left => Handed::Left,
        }
    }
}

/// The spelling of every shot, and nothing else.
pub(crate) fn shot_parser() -> impl TypedValueParser<Value = Shot> {
    PossibleValuesParser::new(Shot::ALL.iter().map(|shot| shot.as_str()))
        .map(|text| Shot::parse(&text).expect("the parser takes only spellings of shots"))
}

impl ObservationArgs {
    /// Which way the student plays, when it was said by an option.
    pub(crate) fn handed(&self) -> Option<Handed> {
        self.handed.map(HandedArg::handed)
    }

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
            facts: self.facts.clone(),
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
        let circumstances = Circumstances {
            shot: self.shot,
            handed: self.handed(),
        };
        // Like the library, it goes with the process.
        let reader = ManuallyDrop::new(Reader::new(base));
        let (observations, heard) = observe(
            base,
            &reader,
            &circumstances,
            &reported,
            &mut |words, list| ask(base, words, list, output.width),
        )
        .map_err(|troubles| {
            Failure::NotUnderstood(
                troubles
                    .iter()
                    .map(|trouble| trouble.describe(base))
                    .collect::<Vec<_>>()
                    .join("\n"),
            )
        })?;
        let complaints = complaints(base, &reported, &observations);
        Ok(Asked {
            observations,
            complaints,
            facts: heard.facts().into_iter().collect(),
            heard,
            shot: self.shot,
            weights: std::collections::BTreeMap::new(),
            effort: Effort::Lesson,
        })
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
