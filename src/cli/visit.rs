//! Whose lesson it is: what comes from the record into every answer, and what of the answer is kept.

use super::day::{day, today};
use super::observations::ObservationArgs;
use super::records::{refused, to_read, to_write};
use super::remind::remind;
use super::{Failure, Globals};
use crate::diagnosis::{Asked, CheckUp, Diagnosis};
use crate::knowledge::{ConditionKey, ConditionKind, DrillKey, KnowledgeBase, nearest};
use crate::measure::BallCount;
use crate::plan::Plan;
use crate::records::{
    History, LearnedRow, LessonRecord, Picture, Prescribed, Store, Student, Tally, learned_rows,
    move_effects,
};
use crate::report::{Page, last_time, learned_line};
use chrono::NaiveDate;
use clap::Args;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, IsTerminal, Write};

/// Whose lesson it is, and what is kept of it.
#[derive(Clone, Debug, Default, Args)]
#[command(next_help_heading = "The student")]
pub(crate) struct VisitArgs {
    /// Whose lesson it is: hand, level, facts and what was said of the body come from the record, unless you say otherwise
    #[arg(long, value_name = "HANDLE")]
    student: Option<String>,
    /// Leave what was learnt from your lessons out of the order
    #[arg(long)]
    without_records: bool,
    #[command(flatten)]
    kept: KeptArgs,
}

/// What is kept of a lesson.
#[derive(Clone, Debug, Default, Args)]
#[command(next_help_heading = "The student")]
pub(crate) struct KeptArgs {
    /// Keep the lesson, always as a new one
    #[arg(long)]
    save: bool,
    /// Where it started as you call it: an id or a name
    #[arg(long, value_name = "ID")]
    called: Option<String>,
    /// Why that is not our first
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
    /// Balls that showed a finding, such as slice=7/10; repeatable
    #[arg(long = "count", value_name = "WHAT=BALLS")]
    counts: Vec<String>,
    /// A drill that you gave, by id, beside those of the plan; repeatable
    #[arg(long = "given", value_name = "ID")]
    given: Vec<String>,
    /// A picture or film of the student, such as may.mp4 or may.mp4=2026-05-04; its name is kept, not what is on it; repeatable
    #[arg(long = "photo", value_name = "FILE[=DATE]")]
    photos: Vec<String>,
    /// The day of the lesson, also on the student's page (left out: today)
    #[arg(long, value_name = "DATE", value_parser = day)]
    on: Option<NaiveDate>,
}

/// A student with everything on record.
pub(crate) struct Visit {
    /// What is kept.
    pub history: History,
    /// Whether something was said of the body.
    has_limits: bool,
    /// The records, where they may move the order.
    store: Option<Store>,
    /// Findings whose calls were asked for.
    asked_for: BTreeSet<ConditionKey>,
}

/// What is to be kept, read and checked before any work is done.
pub(crate) struct Keep {
    handle: String,
    day: NaiveDate,
    called: Option<String>,
    reason: Option<String>,
    counts: Vec<Tally>,
    given: Vec<Prescribed>,
    pictures: Vec<Picture>,
}

/// A lesson that is kept and was read back.
#[derive(Clone, Debug)]
pub(crate) struct Kept {
    handle: String,
    lesson: LessonRecord,
}

/// What is known of a student, without the lessons.
pub(crate) fn of(handle: &str) -> Result<(Student, Option<String>), Failure> {
    let mut store = to_read()?;
    let student = store.student(handle).map_err(refused)?;
    let limits = store.limits(handle).map_err(refused)?;
    Ok((student, limits))
}

impl VisitArgs {
    /// The same for a student who is named otherwise than by the option.
    pub(crate) fn named(handle: &str, kept: &KeptArgs) -> Self {
        Self {
            student: Some(handle.to_owned()),
            without_records: false,
            kept: kept.clone(),
        }
    }

    /// Names the student, where none is named yet.
    pub(crate) fn name(&mut self, handle: Option<String>) {
        self.student = self.student.take().or(handle);
    }

    /// The student's handle.
    pub(crate) fn handle(&self) -> Option<&str> {
        self.student.as_deref()
    }

    /// The day of the lesson.
    pub(crate) fn date(&self) -> NaiveDate {
        self.kept.on.unwrap_or_else(today)
    }

    /// Whether it was said that the lesson is to be kept.
    pub(crate) fn wants_save(&self) -> bool {
        self.kept.save
    }

    /// Refuses what makes no sense without a student, or without being kept.
    pub(crate) fn check(&self) -> Result<(), Failure> {
        self.check_but(false)
    }

    /// The same where counts are of use by themselves.
    pub(crate) fn check_but(&self, counts_alone: bool) -> Result<(), Failure> {
        let kept = &self.kept;
        if kept.save && self.student.is_none() {
            return Err(Failure::NotUnderstood(
                "error: --save does not say whose lesson it is\n  help: add --student HANDLE; fairwhy student add HANDLE begins a record".into(),
            ));
        }
        let only_kept = [
            ("--called", kept.called.is_some()),
            ("--reason", kept.reason.is_some()),
            ("--count", !kept.counts.is_empty() && !counts_alone),
            ("--given", !kept.given.is_empty()),
            ("--photo", !kept.photos.is_empty()),
        ];
        match only_kept.into_iter().find(|(_, given)| *given) {
            Some((option, _)) if !kept.save => Err(Failure::NotUnderstood(format!(
                "error: {option} is only of use when the lesson is kept\n  help: add --save, and --student HANDLE"
            ))),
            _ => Ok(()),
        }
    }

    /// Opens the record, where a student is named, and takes into the question what is on it.
    pub(crate) fn visit(
        &self,
        observations: &mut ObservationArgs,
        globals: &Globals,
    ) -> Result<Option<Visit>, Failure> {
        let Some(handle) = &self.student else {
            return Ok(None);
        };
        let mut store = to_read()?;
        let history = store.history(handle).map_err(refused)?;
        let limits = store.limits(handle).map_err(refused)?;
        observations.on_record(&history.student, limits.as_deref());
        remind(&history.student, history.last(), globals);
        let learns = !self.without_records && store.learns().map_err(refused)?;
        Ok(Some(Visit {
            history,
            has_limits: limits.is_some(),
            store: learns.then_some(store),
            asked_for: BTreeSet::new(),
        }))
    }

    /// What is to be kept, where that was said.
    pub(crate) fn keep(&self, base: &KnowledgeBase) -> Result<Option<Keep>, Failure> {
        if self.kept.save {
            self.keep_asked(base).map(Some)
        } else {
            Ok(None)
        }
    }

    /// What is to be kept, whether it was said or a dialogue asked.
    pub(crate) fn keep_asked(&self, base: &KnowledgeBase) -> Result<Keep, Failure> {
        let kept = &self.kept;
        let each = |texts: &[String], read: &dyn Fn(&str) -> Result<Tally, Failure>| {
            texts
                .iter()
                .map(|text| read(text))
                .collect::<Result<Vec<_>, _>>()
        };
        Ok(Keep {
            handle: self.student.clone().unwrap_or_default(),
            day: self.date(),
            called: kept
                .called
                .as_deref()
                .map(|words| start(base, words))
                .transpose()?,
            reason: kept
                .reason
                .as_deref()
                .map(str::trim)
                .filter(|why| !why.is_empty())
                .map(str::to_owned),
            counts: each(&kept.counts, &|text| tally(base, text))?,
            given: kept
                .given
                .iter()
                .map(|id| Ok(given(base, drill(base, id)?)))
                .collect::<Result<_, Failure>>()?,
            pictures: kept
                .photos
                .iter()
                .map(|text| picture(text, self.date()))
                .collect::<Result<_, _>>()?,
        })
    }
}

/// The condition of this id, name or alias, and no other: what is kept for years is not guessed.
fn entry(base: &KnowledgeBase, words: &str) -> Option<ConditionKey> {
    let same = |text: &String| text.eq_ignore_ascii_case(words);
    base.find(words).or_else(|| {
        base.condition_keys().find(|key| {
            let condition = base.condition(*key);
            same(&condition.name) || condition.aliases.iter().any(same)
        })
    })
}

/// The id of a start, from words.
pub(crate) fn start(base: &KnowledgeBase, words: &str) -> Result<String, Failure> {
    let words = words.trim();
    let key = entry(base, words);
    let Some(key) = key else {
        let ids = base.conditions.iter().map(|c| c.id.as_str());
        let near = nearest(words, ids, 3);
        let help = if near.is_empty() {
            "write the id or the name of a fault or a cause, such as grip-too-weak".to_owned()
        } else {
            format!("did you mean {}?", near.join(", "))
        };
        return Err(Failure::NotUnderstood(format!(
            "error: no start \"{words}\"\n  help: {help}"
        )));
    };
    let condition = base.condition(key);
    if condition.kind == ConditionKind::Outcome {
        return Err(Failure::NotUnderstood(format!(
            "error: \"{words}\" is what the ball does, and nothing starts there\n  help: write the fault or the cause that it starts at, such as grip-too-weak"
        )));
    }
    Ok(condition.id.clone())
}

/// A drill by id or name.
pub(crate) fn drill(base: &KnowledgeBase, words: &str) -> Result<DrillKey, Failure> {
    let words = words.trim();
    // A name is also written as ids are.
    let plain = |text: &str| text.to_lowercase().replace(['-', '_'], " ");
    let named = |key: &DrillKey| plain(&base.drill(*key).name) == plain(words);
    let found = base
        .find_drill(words)
        .or_else(|| base.drill_keys().find(named));
    found.ok_or_else(|| {
        let near = nearest(words, base.drills.iter().map(|drill| drill.id.as_str()), 3);
        let help = if near.is_empty() {
            "fairwhy drills \"what you see\" finds them; fairwhy add drill keeps one of your own"
                .to_owned()
        } else {
            format!("did you mean {}?", near.join(", "))
        };
        Failure::NotUnderstood(format!("error: no drill \"{words}\"\n  help: {help}"))
    })
}

fn given(base: &KnowledgeBase, key: DrillKey) -> Prescribed {
    let drill = base.drill(key);
    let works_on = drill
        .treats
        .iter()
        .map(|treats| base.condition(treats.condition).id.clone());
    Prescribed {
        drill: drill.id.clone(),
        works_on: works_on.collect(),
    }
}

/// Reads `slice=7/10`.
fn tally(base: &KnowledgeBase, text: &str) -> Result<Tally, Failure> {
    let wrong = |help: String| {
        Failure::NotUnderstood(format!("error: \"{text}\" is no count\n  help: {help}"))
    };
    let (what, balls) = text
        .rsplit_once('=')
        .ok_or_else(|| wrong("write what was counted and the balls, such as slice=7/10".into()))?;
    let count = BallCount::parse(balls).map_err(wrong)?;
    let what = what.trim();
    if what.is_empty() {
        return Err(wrong(
            "write what was counted before the =, such as slice=7/10".into(),
        ));
    }
    Ok(counted(base, what, count))
}

/// Balls that showed something: an entry of the library by its id or name, or words of the coach's own.
pub(crate) fn counted(base: &KnowledgeBase, what: &str, count: BallCount) -> Tally {
    let id = entry(base, what);
    Tally {
        what: id.map_or_else(|| what.to_owned(), |key| base.condition(key).id.clone()),
        of: count.of,
        shown: count.shown,
    }
}

/// Reads `may.mp4` or `may.mp4=2026-05-04`; of a path the name of the file is kept.
fn picture(text: &str, of: NaiveDate) -> Result<Picture, Failure> {
    let (file, of) = match text.rsplit_once('=') {
        Some((file, date)) => (
            file,
            day(date).map_err(|help| {
                Failure::NotUnderstood(format!(
                    "error: \"{text}\" is no picture with its day\n  help: {help}"
                ))
            })?,
        ),
        None => (text, of),
    };
    let name = std::path::Path::new(file).file_name();
    let name = name.map(|name| name.to_string_lossy().into_owned());
    let file = name.ok_or_else(|| {
        Failure::NotUnderstood(format!(
            "error: \"{text}\" names no file\n  help: write a file, such as may.mp4"
        ))
    })?;
    Ok(Picture { file, day: of })
}

impl Visit {
    /// Drills that the student was given before.
    pub(crate) fn known(&self, base: &KnowledgeBase) -> Vec<DrillKey> {
        self.history.given(base)
    }

    /// Moves the rows of what is reported and the effects of drills by the records, where that was opted
    /// into, and says what moved.
    pub(crate) fn learn(
        &mut self,
        base: &mut KnowledgeBase,
        asked: &mut Asked,
    ) -> Result<Option<String>, Failure> {
        let moved = self.moved(base, asked)?;
        if let Some(store) = &mut self.store {
            let tries = store.tries().map_err(refused)?.into_iter();
            let tries = tries.filter_map(|(drill, tries)| Some((base.find_drill(&drill)?, tries)));
            let tries: BTreeMap<_, _> = tries.collect();
            move_effects(base, &tries);
        }
        let said = learned_line(base, &moved);
        let rows = moved.into_iter().map(|(key, row)| (key, row.posterior));
        asked.learned.extend(rows);
        Ok(said)
    }

    /// The same for what was found since, as a dialogue goes on.
    pub(crate) fn learn_more(
        &mut self,
        base: &KnowledgeBase,
        checkup: &mut CheckUp,
    ) -> Result<Option<String>, Failure> {
        let moved = self.moved(base, &checkup.asked(base))?;
        let said = learned_line(base, &moved);
        checkup.learn(moved.into_iter().map(|(key, row)| (key, row.posterior)));
        Ok(said)
    }

    /// The rows of findings that were not asked for before, as calls move them.
    fn moved(
        &mut self,
        base: &KnowledgeBase,
        asked: &Asked,
    ) -> Result<BTreeMap<ConditionKey, LearnedRow>, Failure> {
        let Some(store) = &mut self.store else {
            return Ok(BTreeMap::new());
        };
        let mut calls = BTreeMap::new();
        let found = asked.observations.iter();
        for seen in found.filter(|seen| seen.state.is_finding()) {
            if self.asked_for.insert(seen.condition) {
                let id = &base.condition(seen.condition).id;
                calls.insert(seen.condition, store.calls_for(id).map_err(refused)?);
            }
        }
        let own = self.history.student.handle.as_str();
        Ok(learned_rows(base, &calls, Some(own)))
    }

    /// Who it is, and what there was last time, in a line.
    pub(crate) fn line(&self, base: &KnowledgeBase, moved: Option<&str>) -> String {
        let mut line = last_time(base, &self.history, self.has_limits);
        if let Some(moved) = moved {
            line.push(' ');
            line.push_str(moved);
        }
        line
    }
}

impl Keep {
    /// Keeps the lesson; it is read back before this returns. Asks a coach at a terminal why the start
    /// differs from ours, where that was not said.
    pub(crate) fn save(
        mut self,
        base: &KnowledgeBase,
        diagnosis: &Diagnosis,
        plan: Option<&Plan>,
        notes: &[String],
    ) -> Result<Kept, Failure> {
        let mut lesson = LessonRecord::of(base, diagnosis, plan, self.day);
        lesson.note = notes.to_vec();
        let differs = self.called.is_some() && self.called.as_deref() != lesson.started_at();
        if differs && self.reason.is_none() {
            self.reason = ask_why();
        }
        lesson.coach_says = self.called;
        lesson.reason = self.reason;
        // What was counted in the words stays beside it, unless the same was given.
        let given = self.counts;
        let said = std::mem::take(&mut lesson.counts).into_iter();
        let said = said.filter(|said| given.iter().all(|one| one.what != said.what));
        lesson.counts = given.iter().cloned().chain(said).collect();
        lesson.pictures = self.pictures;
        for given in self.given {
            if lesson
                .prescribed
                .iter()
                .all(|other| other.drill != given.drill)
            {
                lesson.prescribed.push(given);
            }
        }
        let lesson = to_write()?
            .add_lesson(&self.handle, &lesson)
            .map_err(refused)?;
        Ok(Kept {
            handle: self.handle,
            lesson,
        })
    }

    /// Takes in what a dialogue was told.
    pub(crate) fn told(&mut self, called: Option<String>, reason: Option<String>) {
        self.called = self.called.take().or(called);
        self.reason = self.reason.take().or(reason);
    }

    /// What was counted.
    pub(crate) fn counts(&self) -> &[Tally] {
        &self.counts
    }

    /// Whether the start was called already.
    pub(crate) fn is_called(&self) -> bool {
        self.called.is_some()
    }
}

fn ask_why() -> Option<String> {
    let mut prompt = std::io::stderr();
    if !(std::io::stdin().is_terminal() && prompt.is_terminal()) {
        return None;
    }
    let _ = write!(prompt, "That is not our first. Why? (Enter for none) ");
    let _ = prompt.flush();
    let mut line = String::new();
    std::io::stdin().lock().read_line(&mut line).ok()?;
    let line = line.trim();
    (!line.is_empty()).then(|| line.to_owned())
}

impl Kept {
    /// What was done, in a line.
    pub(crate) fn line(&self) -> String {
        let LessonRecord {
            number,
            day,
            coach_says,
            reason,
            ..
        } = &self.lesson;
        let differs = coach_says.is_some() && coach_says.as_deref() != self.lesson.started_at();
        let why = if differs && reason.is_none() {
            ". Your start is not our first; --reason TEXT would say why"
        } else {
            ""
        };
        let given = &self.lesson.prescribed;
        let theirs = coach_says.as_ref().filter(|called| {
            let mut all = given.iter().flat_map(|given| &given.works_on);
            !given.is_empty() && all.all(|other| other != *called)
        });
        let ours = theirs.map_or_else(String::new, |called| {
            format!(". The drills work on our start; --found {called} plans for yours")
        });
        format!(
            "saved: lesson {number} of {}, {day}, read back{why}{ours}",
            self.handle
        )
    }

    fn value(&self) -> Value {
        json!({
            "student": self.handle, "lesson": self.lesson.number, "date": self.lesson.day,
            "coach_says": self.lesson.coach_says,
        })
    }
}

/// The page with what the record says, and what was kept.
pub(crate) fn with_record(
    mut page: Page,
    last: Option<&str>,
    kept: Option<&Result<Kept, Failure>>,
) -> Page {
    if let Some(last) = last {
        page.text(last);
    }
    if let Some(Ok(kept)) = kept {
        page.text(kept.line());
    }
    page
}

/// The answer for a program with what was kept.
pub(crate) fn json_with(mut value: Value, kept: Option<&Result<Kept, Failure>>) -> Value {
    if let Some(Ok(kept)) = kept {
        value["saved"] = kept.value();
    }
    value
}
