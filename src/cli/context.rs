//! The lesson, as options shared by every command that is about one.

use super::{Failure, trouble};
use crate::diagnosis::told_fact;
use crate::knowledge::{KnowledgeBase, Level, Place, Shot, Suits};
use crate::lesson::{AtHand, Handed, Lesson};
use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use serde::{Deserialize, Serialize};

/// Whose lesson it is, about what, and where.
#[derive(Clone, Debug, Default, PartialEq, Args, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[command(next_help_heading = "The student and the lesson")]
pub(crate) struct ContextArgs {
    /// Which shot it is about
    #[arg(long, value_parser = spelled(Shot::ALL, Shot::as_str))]
    shot: Option<Shot>,
    /// Which way the student plays; settles words such as "curves left"
    #[arg(long, value_enum)]
    pub(super) handed: Option<HandedArg>,
    /// How far along the student is
    #[arg(long, value_parser = spelled(Level::ALL, Level::as_str))]
    level: Option<Level>,
    /// What the student's body asks of a drill; repeatable
    #[arg(long, value_delimiter = ',', value_parser = spelled(Suits::ALL, Suits::as_str))]
    suits: Vec<Suits>,
    /// A fact about the student, such as senior or tall; repeatable
    #[arg(long = "fact", value_name = "ID")]
    pub(super) facts: Vec<String>,
    /// Where it is (left out: for a plan, where the shot is usually taught)
    #[arg(long, value_parser = spelled(Place::ALL, Place::as_str))]
    place: Option<Place>,
    /// What is at hand beyond a club and balls, such as mirror,stick; "" for nothing; a drill that needs more is out (left out: not limited)
    #[arg(long, value_name = "THINGS", value_delimiter = ',')]
    have: Option<Vec<String>>,
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

impl ContextArgs {
    /// The lesson; its facts are taken in where the note is read.
    pub(crate) fn lesson(&self, base: &KnowledgeBase) -> Result<Lesson, Failure> {
        let lesson = Lesson {
            shot: self.shot,
            handed: self.handed.map(HandedArg::handed),
            level: self.level,
            suits: self.suits.clone(),
            place: self.place,
            at_hand: self.have.as_deref().map(AtHand::of),
            ..Lesson::default()
        };
        lesson
            .check(base)
            .map_err(|trouble| trouble::no_lesson(&trouble))?;
        Ok(lesson)
    }

    /// The lesson with its facts, for a command that reads no note.
    pub(crate) fn lesson_with_facts(&self, base: &KnowledgeBase) -> Result<Lesson, Failure> {
        let mut lesson = self.lesson(base)?;
        for id in &self.facts {
            let told = told_fact(base, id).map_err(|wrong| trouble::not_read(base, &[wrong]))?;
            lesson.facts.insert(told.fact);
            lesson = lesson.told(&[base.fact(told.fact).id.as_str()]);
        }
        Ok(lesson)
    }
}

/// Takes the spellings of a closed list; an unknown one is answered with the nearest.
pub(crate) fn spelled<T>(
    all: &'static [T],
    spelling: fn(T) -> &'static str,
) -> impl TypedValueParser<Value = T>
where
    T: Copy + Send + Sync + 'static,
{
    PossibleValuesParser::new(all.iter().map(|value| spelling(*value))).map(move |text| {
        *all.iter()
            .find(|value| spelling(**value) == text)
            .expect("the parser takes only spellings")
    })
}
