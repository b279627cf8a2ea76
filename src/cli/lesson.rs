//! `fairwhy lesson`: the answer as a dialogue, a look at a time, then the plan.
//!
//! Plain lines in, plain lines out: it reads the same to a screen reader, in a pipe and at a terminal.
//! What was said is kept after every answer, so that a lesson that was broken off goes on where it was.

use super::check_up::{self, LessonAction};
use super::failure::harmless;
use super::home::home;
use super::observations::ObservationArgs;
use super::output::{Output, wrapped};
use super::plan::{LessonArgs, is_sheet, write_sheet};
use super::visit::{self, Keep, Visit, VisitArgs};
use super::{Failure, Globals, layers, records};
use crate::diagnosis::{Answer, CheckUp, Diagnosis, NextLook, Standing};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::lesson::Lesson;
use crate::plan::Plan;
use crate::records::{Store, shape_of_handle};
use crate::report::{View, look_line, order_page, plan_page, sided, sided_text, why_page};
use crate::words::{Reader, Reading};
use clap::Args;
use serde::{Deserialize, Serialize};
use std::io::Write;
use std::path::{Path, PathBuf};

/// How many starts a person is shown.
const SHOWN: usize = 5;

/// More than this is no lesson that was broken off.
const LARGEST_KEPT: u64 = 1 << 20;

#[derive(Clone, Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(crate) struct LessonCommand {
    #[command(subcommand)]
    action: Option<LessonAction>,
    #[command(flatten)]
    observations: ObservationArgs,
    #[command(flatten)]
    lesson: LessonArgs,
    #[command(flatten)]
    whose: VisitArgs,
}

/// A lesson as it is kept between two answers.
#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    observations: ObservationArgs,
    /// Whose lesson it is.
    #[serde(default)]
    student: Option<String>,
    /// Readings put right: the number, and the id that was meant; none where it was dropped.
    #[serde(default)]
    reread: Vec<(usize, Option<String>)>,
    /// Looks by id, with the word for the answer.
    #[serde(default)]
    answers: Vec<(String, String)>,
}

/// What came of one prompt.
enum Said {
    /// An answer to the look.
    Answer(Answer),
    /// How to look, in full.
    How,
    /// The last answer back.
    Back,
    /// A reading to be put right, by its number.
    Reading(usize),
    /// On to the plan.
    Enough,
    /// Something else.
    Unclear,
}

pub(crate) fn run(
    args: &LessonCommand,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    if let Some(action) = &args.action {
        return check_up::run(action, globals, output, out);
    }
    let mut args = args.clone();
    args.name_student()?;
    args.whose.check()?;
    let mut base = layers::load(globals)?;
    let place = home()?.join("lesson.json");
    let mut talk = Talk {
        out,
        width: output.width,
    };
    let mut kept = begin(&args, &place, &mut talk)?;
    args.whose.name(kept.student.clone());
    let mut visit = args.whose.visit(&mut kept.observations, globals)?;
    if let Some(visit) = &visit {
        talk.say(&visit.line(&base, None))?;
    }
    let keeping = args
        .whose
        .handle()
        .map(|_| args.whose.keep_asked(&base))
        .transpose()?;
    let mut checkup = match opened(&mut base, &mut kept, visit.as_mut(), output) {
        Ok((checkup, moved)) => {
            if let Some(moved) = moved {
                talk.say(&moved)?;
            }
            checkup
        }
        Err(failure) => {
            // What cannot be read would stop every later lesson too.
            let _ = std::fs::remove_file(&place);
            return Err(failure);
        }
    };
    keep(&place, &kept)?;
    let mut dialogue = Dialogue {
        base: &base,
        kept: &mut kept,
        visit: visit.as_mut(),
        place: &place,
        output,
    };
    let diagnosis = dialogue.look_by_look(&mut checkup, &mut talk)?;
    let planned = plan(
        &base,
        &checkup,
        &diagnosis,
        &args,
        visit.as_ref(),
        output,
        &mut talk,
    )?;
    if let Some((diagnosis, plan)) = planned {
        if let Some(keeping) = keeping {
            let notes = kept.observations.notes();
            save(
                &base,
                &diagnosis,
                &plan,
                keeping,
                &args.whose,
                notes,
                &mut talk,
            )?;
        }
        let _ = std::fs::remove_file(&place);
    } else {
        talk.say("The lesson is kept: fairwhy lesson goes on with it.")?;
    }
    Ok(0)
}

impl LessonCommand {
    /// Takes the first word as the student, when a student goes by it.
    fn name_student(&mut self) -> Result<(), Failure> {
        if self.whose.handle().is_some() {
            return Ok(());
        }
        let mut known = Ok(false);
        let first = self.observations.take_first(|word| {
            known = is_student(word);
            matches!(known, Ok(true))
        });
        known?;
        self.whose.name(first);
        Ok(())
    }
}

/// Whether a student goes by this word; no records are opened for what cannot be a handle.
fn is_student(word: &str) -> Result<bool, Failure> {
    if shape_of_handle(word).is_err() {
        return Ok(false);
    }
    match Store::to_read(&records::place()?).map_err(records::refused)? {
        Some(mut store) => store.has(word).map_err(records::refused),
        None => Ok(false),
    }
}

/// Where words come from and go to.
struct Talk<'a> {
    out: &'a mut dyn Write,
    width: usize,
}

impl Talk<'_> {
    fn say(&mut self, line: &str) -> Result<(), Failure> {
        writeln!(self.out, "{}", wrapped(line, self.width))?;
        Ok(())
    }

    /// The line that answers a prompt; `None` when nobody is there any more.
    fn ask(&mut self, prompt: &str) -> Result<Option<String>, Failure> {
        write!(self.out, "{} ", wrapped(prompt, self.width))?;
        self.out.flush()?;
        let mut line = String::new();
        // Never held from line to line: what is asked while the note is read comes from there too.
        let read = std::io::stdin().read_line(&mut line)?;
        if read == 0 {
            writeln!(self.out)?;
        }
        Ok((read > 0).then(|| line.trim().to_owned()))
    }

    /// Whether a question is answered by yes; asked again until it is one or the other, and no when nobody
    /// is there any more.
    fn agree(&mut self, prompt: &str) -> Result<bool, Failure> {
        while let Some(line) = self.ask(prompt)? {
            match line.to_lowercase().as_str() {
                "" | "y" | "yes" => return Ok(true),
                "n" | "no" | "q" | "quit" => return Ok(false),
                _ => self.say("Press Enter for yes, or write n for no.")?,
            }
        }
        Ok(false)
    }
}

/// What the lesson starts from: the note given, the lesson that was broken off, or a note asked for.
fn begin(args: &LessonCommand, place: &Path, talk: &mut Talk<'_>) -> Result<Kept, Failure> {
    let mut observations = args.observations.clone();
    let student = args.whose.handle().map(str::to_owned);
    if !observations.is_empty() {
        if let Some(aside) = put_aside(place)? {
            talk.say(&aside_words(&aside, place))?;
        }
        return Ok(Kept {
            observations,
            student,
            ..Kept::default()
        });
    }
    if let Some(kept) = broken_off(place)?
        && (student.is_none() || student == kept.student)
    {
        talk.say("Going on with the lesson that was broken off. (Give a note to start another.)")?;
        return Ok(kept);
    }
    let note = talk.ask("What did you see?")?.unwrap_or_default();
    if !note.is_empty() {
        observations.add_note(note);
        if let Some(aside) = put_aside(place)? {
            talk.say(&aside_words(&aside, place))?;
        }
    }
    Ok(Kept {
        observations,
        student,
        ..Kept::default()
    })
}

/// Where a lesson was put aside, and how to take it up again.
fn aside_words(aside: &Path, place: &Path) -> String {
    harmless(&format!(
        "A lesson that was broken off was put aside: {}. To take it up again, name it {} and say fairwhy lesson.",
        aside.display(),
        place.file_name().unwrap_or_default().to_string_lossy()
    ))
}

/// The lesson that is kept, if there is one.
fn broken_off(place: &Path) -> Result<Option<Kept>, Failure> {
    let not_read = |why: &dyn std::fmt::Display| {
        Failure::NotDone(format!(
            "error: the lesson that was broken off cannot be read: {why}\n  help: it is kept in {}; move it away, or give a note to put it aside and start another",
            place.display()
        ))
    };
    match std::fs::metadata(place) {
        Ok(about) if about.len() > LARGEST_KEPT => return Err(not_read(&"it is too large")),
        Ok(_) => {}
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(not_read(&error)),
    }
    let text = std::fs::read_to_string(place).map_err(|error| not_read(&error))?;
    let kept = serde_json::from_str(&text).map_err(|error| not_read(&error))?;
    Ok(Some(kept))
}

/// Moves a kept lesson out of the way, beside itself, never over another.
fn put_aside(place: &Path) -> Result<Option<PathBuf>, Failure> {
    if !place.exists() {
        return Ok(None);
    }
    let aside = (1..)
        .map(|number| place.with_file_name(format!("lesson-aside-{number}.json")))
        .find(|free| !free.exists())
        .expect("numbers do not run out");
    std::fs::rename(place, &aside).map_err(|error| {
        Failure::NotDone(format!(
            "error: a lesson that was broken off could not be put aside: {error}\n  help: move {} away",
            place.display()
        ))
    })?;
    Ok(Some(aside))
}

/// Erases a lesson that was broken off and says this student's handle, so that nothing of it is left.
pub(super) fn forget(handle: &str) -> Result<(), Failure> {
    // Broken off at a terminal, put aside there, and begun on the page.
    for folder in [home()?, home()?.join("lessons")] {
        let Ok(files) = std::fs::read_dir(folder) else {
            continue;
        };
        for file in files.flatten() {
            let name = file.file_name();
            let place = file.path();
            let lesson = name.to_string_lossy().ends_with(".json") && place.is_file();
            if lesson && std::fs::read_to_string(&place).is_ok_and(|text| names(&text, handle)) {
                std::fs::remove_file(&place)?;
            }
        }
    }
    Ok(())
}

/// Whether a text says the handle, and not only as a part of a longer word.
fn names(text: &str, handle: &str) -> bool {
    let letter = |c: char| c.is_alphanumeric() || c == '-';
    text.match_indices(handle).any(|(at, _)| {
        !text[..at].ends_with(letter) && !text[at + handle.len()..].starts_with(letter)
    })
}

/// Writes the lesson whole or not at all; for the coach's eyes only, since it is about a student.
fn keep(place: &Path, kept: &Kept) -> Result<(), Failure> {
    let failed = |error: std::io::Error| {
        Failure::NotDone(format!(
            "error: the lesson could not be kept in {}: {error}\n  help: make the folder writable, or name another with FAIRWHY_HOME",
            place.display()
        ))
    };
    let folder = place.parent().unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder).map_err(failed)?;
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(failed)?;
    serde_json::to_writer(&mut file, kept).map_err(|error| failed(error.into()))?;
    file.as_file().sync_all().map_err(failed)?;
    file.persist(place).map_err(|error| failed(error.error))?;
    Ok(())
}

/// The check-up as it was: what was read, put right where it was, with every answer. An id that the
/// library no longer has is left out.
fn opened(
    base: &mut KnowledgeBase,
    kept: &mut Kept,
    visit: Option<&mut Visit>,
    output: &Output,
) -> Result<(CheckUp, Option<String>), Failure> {
    let mut asked = kept.observations.read(base, output)?;
    let moved = match visit {
        Some(visit) => visit.learn(base, &mut asked)?,
        None => None,
    };
    let mut checkup = CheckUp::new(asked);
    for (number, meant) in &kept.reread {
        let meant = meant.as_ref().map(|id| base.find(id));
        if meant != Some(None) {
            checkup.reread(*number, meant.flatten());
        }
    }
    for (id, word) in &kept.answers {
        if let (Some(condition), Some(answer)) = (base.find(id), Answer::parse(word)) {
            checkup.answer(condition, answer);
        }
    }
    Ok((checkup, moved))
}

/// What goes along from look to look.
struct Dialogue<'a> {
    base: &'a KnowledgeBase,
    kept: &'a mut Kept,
    visit: Option<&'a mut Visit>,
    place: &'a Path,
    output: &'a Output,
}

impl Dialogue<'_> {
    /// Puts one look after another until the order is settled, the coach has enough, or nothing is left
    /// to look at. Gives the order as it then stands.
    fn look_by_look(
        &mut self,
        checkup: &mut CheckUp,
        talk: &mut Talk<'_>,
    ) -> Result<Diagnosis, Failure> {
        let mut first = true;
        loop {
            if let Some(visit) = &mut self.visit
                && let Some(moved) = visit.learn_more(self.base, checkup)?
            {
                talk.say(&moved)?;
            }
            let diagnosis = checkup
                .diagnosis(self.base)
                .map_err(|error| Failure::NotDone(format!("error: {error}")))?;
            self.show(&diagnosis, first, talk)?;
            first = false;
            let Some(look) = checkup.next_look(&diagnosis).cloned() else {
                return Ok(diagnosis);
            };
            // What is settled needs no look; who wants one all the same, or answered too fast, may have it.
            if diagnosis.standing == Some(Standing::Settled) {
                match self.settled(checkup, talk)? {
                    Next::Look => {}
                    Next::Again => continue,
                    Next::Plan => return Ok(diagnosis),
                }
            }
            if put(self.base, &look, &diagnosis, checkup, self.kept, talk)? {
                return Ok(diagnosis);
            }
            keep(self.place, self.kept)?;
        }
    }

    /// The whole answer first, then the order alone.
    fn show(&self, diagnosis: &Diagnosis, first: bool, talk: &mut Talk<'_>) -> Result<(), Failure> {
        let Output { width, color, .. } = *self.output;
        let page = if first {
            let view = View {
                starts: SHOWN,
                details: false,
                width,
            };
            // The looks are put one by one, right below.
            let mut shown = diagnosis.clone();
            shown.next_looks.clear();
            why_page(self.base, &shown, view)
        } else {
            order_page(self.base, diagnosis, SHOWN)
        };
        let page = sided(page, diagnosis.lesson.handed);
        writeln!(talk.out, "\n{}", page.to_text(width, color))?;
        if first {
            talk.say(
                "Every answer is kept: stop at any time, and fairwhy lesson goes on from there.",
            )?;
        }
        Ok(())
    }

    /// Where to go on once the order is settled.
    fn settled(&mut self, checkup: &mut CheckUp, talk: &mut Talk<'_>) -> Result<Next, Failure> {
        let line = talk.ask(
            "Settled. Enter or q for the plan, l to look further, u to take back, a number to correct a reading:",
        )?;
        match understood(line.as_deref()) {
            Said::Unclear if line.is_some_and(|line| line.starts_with(['l', 'L'])) => {
                return Ok(Next::Look);
            }
            Said::Back => match checkup.take_back() {
                Some((back, _)) => {
                    self.kept.answers.pop();
                    talk.say(&format!("Taken back: {}.", self.base.condition(back).name))?;
                }
                None => talk.say("There is no answer to take back yet.")?,
            },
            Said::Reading(number) => {
                correct(self.base, number, checkup, self.kept, talk)?;
            }
            Said::Answer(Answer::Later) | Said::Enough => return Ok(Next::Plan),
            Said::Answer(_) | Said::How | Said::Unclear => {
                talk.say("No look was put. Press Enter, or write l, u or a number.")?;
            }
        }
        keep(self.place, self.kept)?;
        Ok(Next::Again)
    }
}

/// Where a dialogue goes on.
enum Next {
    /// The next look.
    Look,
    /// The order, worked out again.
    Again,
    /// The plan.
    Plan,
}

/// Puts one look until it is answered; `true` when the coach has enough.
fn put(
    base: &KnowledgeBase,
    look: &NextLook,
    diagnosis: &Diagnosis,
    checkup: &mut CheckUp,
    kept: &mut Kept,
    talk: &mut Talk<'_>,
) -> Result<bool, Failure> {
    let condition = base.condition(look.condition);
    let said = |text: String| sided_text(&text, diagnosis.lesson.handed);
    talk.say(&said(format!("Look: {}", look_line(base, look.condition))))?;
    loop {
        let line = talk.ask(
            "Is it there? y yes, n no, s slightly, Enter not now, ? how to look, u take back, a number to correct a reading, q to the plan:",
        )?;
        match understood(line.as_deref()) {
            Said::Enough => return Ok(true),
            Said::Answer(answer) => {
                checkup.answer(look.condition, answer);
                kept.answers.retain(|(id, _)| *id != condition.id);
                kept.answers
                    .push((condition.id.clone(), answer.as_str().to_owned()));
                return Ok(false);
            }
            Said::How => talk.say(&said(condition.look_for.clone()))?,
            Said::Back => match checkup.take_back() {
                Some((back, _)) => {
                    kept.answers.pop();
                    talk.say(&format!("Taken back: {}.", base.condition(back).name))?;
                    return Ok(false);
                }
                None => talk.say("There is no answer to take back yet.")?,
            },
            Said::Reading(number) => {
                if correct(base, number, checkup, kept, talk)? {
                    return Ok(false);
                }
            }
            Said::Unclear => talk.say("Write y, n, s, ?, u, q or a number, or press Enter.")?,
        }
    }
}

fn understood(line: Option<&str>) -> Said {
    let Some(line) = line else {
        return Said::Enough;
    };
    match line.to_lowercase().as_str() {
        "y" | "yes" => Said::Answer(Answer::Yes),
        "n" | "no" => Said::Answer(Answer::No),
        "s" | "slight" | "slightly" => Said::Answer(Answer::Slight),
        "" | "later" | "not now" => Said::Answer(Answer::Later),
        "?" | "how" | "h" => Said::How,
        "u" | "undo" => Said::Back,
        "q" | "quit" | "plan" => Said::Enough,
        other => other.parse().map_or(Said::Unclear, Said::Reading),
    }
}

/// Puts a reading right; `true` when it was.
fn correct(
    base: &KnowledgeBase,
    number: usize,
    checkup: &mut CheckUp,
    kept: &mut Kept,
    talk: &mut Talk<'_>,
) -> Result<bool, Failure> {
    let Some(reading) = checkup
        .read()
        .observations
        .iter()
        .filter(|seen| seen.state.is_finding())
        .nth(number.wrapping_sub(1))
        .cloned()
    else {
        talk.say(&format!("Nothing was read as number {number}."))?;
        return Ok(false);
    };
    let prompt = format!(
        "\"{}\" was read as {}. What does it mean? (an id, a name or other words; - to leave it out; Enter to let it stand)",
        reading.given,
        base.condition(reading.condition).name
    );
    let words = talk
        .ask(&sided_text(&prompt, checkup.read().lesson.handed))?
        .unwrap_or_default();
    let meant = match words.as_str() {
        "" => return Ok(false),
        "-" => None,
        words => match meant(base, words) {
            Some(key) => Some(key),
            None => {
                talk.say(&format!(
                    "\"{words}\" means nothing certain; it stands as it was."
                ))?;
                return Ok(false);
            }
        },
    };
    let place = checkup
        .read()
        .observations
        .iter()
        .position(|seen| *seen == reading)
        .map_or(0, |place| place + 1);
    checkup.reread(place, meant);
    talk.say(&match meant {
        Some(key) => format!("{number} = {} now.", base.condition(key).name),
        None => format!("{number} is left out, and those after it move up."),
    })?;
    kept.reread
        .push((place, meant.map(|key| base.condition(key).id.clone())));
    Ok(true)
}

fn meant(base: &KnowledgeBase, words: &str) -> Option<ConditionKey> {
    match Reader::new(base).read(words, &Lesson::default()) {
        Reading::Clear { condition, .. } => Some(condition),
        Reading::Several(_) | Reading::Unknown(_) => None,
    }
}

/// The plan, and the student's page to a file; none when the lesson is not done.
fn plan(
    base: &KnowledgeBase,
    checkup: &CheckUp,
    diagnosis: &Diagnosis,
    args: &LessonCommand,
    visit: Option<&Visit>,
    output: &Output,
    talk: &mut Talk<'_>,
) -> Result<Option<(Diagnosis, Plan)>, Failure> {
    if diagnosis.observations.is_empty() {
        return Ok(None);
    }
    let wanted = format!("Plan {} minutes? Enter yes, n no:", args.lesson.minutes());
    if !talk.agree(&wanted)? {
        return Ok(None);
    }
    let (diagnosis, plan) = args.lesson.plan(base, &checkup.asked(base), visit)?;
    let page = sided(
        plan_page(base, &diagnosis, &plan, false),
        diagnosis.lesson.handed,
    );
    writeln!(talk.out, "\n{}", page.to_text(output.width, output.color))?;
    loop {
        let file = talk
            .ask("The student's page to a file? (such as page.html or page.md; Enter for none)")?;
        let Some(file) = file.filter(|file| !file.is_empty()) else {
            return Ok(Some((diagnosis, plan)));
        };
        if !is_sheet(Path::new(&file)) {
            talk.say("Write a name that ends in .html or .md.")?;
            continue;
        }
        let sheet = args.lesson.sheet(base, &diagnosis, &plan, &args.whose);
        match write_sheet(Path::new(&file), &sheet, false) {
            Ok(()) => {
                talk.say(&format!("Wrote {file}."))?;
                return Ok(Some((diagnosis, plan)));
            }
            Err(failure) => talk.say(failure.text())?,
        }
    }
}

/// Keeps the lesson of a student, where the coach says so.
fn save(
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    plan: &Plan,
    mut keeping: Keep,
    whose: &VisitArgs,
    notes: &[String],
    talk: &mut Talk<'_>,
) -> Result<(), Failure> {
    let handle = whose.handle().unwrap_or_default();
    let wanted = format!("Keep this lesson of {handle}? Enter yes, n no:");
    if !whose.wants_save() && !talk.agree(&wanted)? {
        return Ok(());
    }
    while !keeping.is_called() {
        let line = talk
            .ask("Where did it start, as you call it? (an id or a name; Enter to leave it open)")?;
        let Some(words) = line.filter(|line| !line.is_empty()) else {
            break;
        };
        match visit::start(base, &words) {
            Ok(called) => {
                let ours = diagnosis
                    .causes
                    .first()
                    .map(|first| &base.condition(first.condition).id);
                let reason = if ours == Some(&called) {
                    None
                } else {
                    talk.ask("That is not our first. Why? (Enter for none)")?
                };
                keeping.told(Some(called), reason.filter(|why| !why.is_empty()));
            }
            Err(failure) => talk.say(failure.text())?,
        }
    }
    let kept = keeping.save(base, diagnosis, Some(plan), notes)?;
    talk.say(&kept.line())
}
