//! One check-up, as it is kept.

use crate::knowledge::Shot;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// So many of so many balls that showed a finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tally {
    /// What was counted: the id of a finding, or words of the coach's own.
    pub what: String,
    /// Of how many balls; above 0.
    pub of: u32,
    /// How many showed it; at most `of`.
    pub shown: u32,
}

/// A number off a frame or a machine, with the error it is known to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MeasuredNumber {
    /// The library's name of it.
    pub quantity: String,
    /// Its value, in `unit`.
    pub value: f64,
    /// The unit.
    pub unit: String,
    /// Standard deviation of the measuring error; above 0.
    pub error_sd: f64,
}

/// One start of our order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ranked {
    /// The id of the start.
    pub id: String,
    /// Its share of the worth of all starts, from 0 to 1: the chance that it is the one to work on.
    pub chance: f64,
}

/// A drill that was given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Prescribed {
    /// The id of the drill.
    pub drill: String,
    /// What it works on, by id.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub works_on: Vec<String>,
}

/// A picture or a film of the student: where it is and of which day, never what is on it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Picture {
    /// The name of the file.
    pub file: String,
    /// The day it is of.
    pub day: NaiveDate,
}

/// One check-up, or numbers of a day in between.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LessonRecord {
    /// Its place among this student's lessons, from 1 on, in the order in which they were kept; 0 before
    /// it is kept. It does not come from a clock, so that one set wrong changes no order.
    pub number: i64,
    /// The day of it.
    pub day: NaiveDate,
    /// Who wrote it; empty when that was not said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub coach: String,
    /// What was typed, as typed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub note: Vec<String>,
    /// The shot it was about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shot: Option<Shot>,
    /// Ids of what was seen, slight ones among them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub seen: Vec<String>,
    /// Those of `seen` that were slight, or seen in an unsure look.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub slight: Vec<String>,
    /// Ids of what was looked for and was not there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ruled_out: Vec<String>,
    /// Numbers with their errors.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measured: Vec<MeasuredNumber>,
    /// Balls of balls.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub counts: Vec<Tally>,
    /// The version of the library that ordered the starts; empty where nothing was ordered.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub library: String,
    /// Our order, best first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ranking: Vec<Ranked>,
    /// The start as the coach calls it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub coach_says: Option<String>,
    /// Why that is not the first of ours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// What was given to do, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub prescribed: Vec<Prescribed>,
    /// Pictures and films.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pictures: Vec<Picture>,
}

impl LessonRecord {
    /// A lesson of which nothing is written yet.
    #[must_use]
    pub fn new(day: NaiveDate) -> Self {
        Self {
            number: 0,
            day,
            coach: String::new(),
            note: Vec::new(),
            shot: None,
            seen: Vec::new(),
            slight: Vec::new(),
            ruled_out: Vec::new(),
            measured: Vec::new(),
            counts: Vec::new(),
            library: String::new(),
            ranking: Vec::new(),
            coach_says: None,
            reason: None,
            prescribed: Vec::new(),
            pictures: Vec::new(),
        }
    }

    /// Whether it is numbers alone, off a frame, a table or a count, and no check-up: no library ordered
    /// anything, and nothing was called or given.
    #[must_use]
    pub fn is_numbers(&self) -> bool {
        self.library.is_empty()
            && self.ranking.is_empty()
            && self.coach_says.is_none()
            && self.prescribed.is_empty()
    }

    /// Our first start.
    #[must_use]
    pub fn started_at(&self) -> Option<&str> {
        self.ranking.first().map(|first| first.id.as_str())
    }

    /// What was worked on: the start as the coach calls it; else what the drills given work on first;
    /// else nothing.
    #[must_use]
    pub fn worked_on(&self) -> Option<&str> {
        let drills = self.prescribed.iter();
        let of_drills = drills.flat_map(|given| &given.works_on).next();
        self.coach_says.as_deref().or(of_drills.map(String::as_str))
    }
}
