//! One page for the student, in plain words.
//!
//! A [`Handout`] is what the student takes home: what was seen, why, the drills of the lesson, when to
//! practise, when to stop, what to film. It is written as Markdown or as an HTML page of its own
//! that prints on the two sides of one sheet of A4 or Letter, with nothing fetched from anywhere. Its own sentences
//! are short; what comes from the library is the library's wording.

mod contrast;
mod html;
mod reading_grade;
mod sides;

pub use contrast::{Color, contrast};
pub(crate) use contrast::{INK, PAPER, SHADE};
pub(crate) use html::escaped as html_escaped;
pub use reading_grade::reading_grade;
pub use sides::{sided, sided_text, with_sides};

use super::page::escaped as markdown_escaped;
use super::plan::{phases, version};
use super::sentence::{capital, clause, sentence};
use super::titled;
use super::why::story_from;
use crate::diagnosis::Diagnosis;
use crate::knowledge::{ConditionKey, Drill, DrillKey, KnowledgeBase, View};
use crate::lesson::Handed;
use crate::plan::rules::Criterion;
use crate::plan::{Block, Plan, Practice, PracticeOrder, Session, Step};
use crate::words::to_student;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// At most this many of the things that were seen.
const MOST_SEEN: usize = 4;
/// Lines that fit on both sides of the smaller of the two sheets (the height of Letter, the width of A4)
/// at the sheet's type, margins off; and letters a line. Measured in a browser; see `docs/plan.md`.
const SHEET_LINES: usize = 120;
const LINE_LETTERS: usize = 98;

/// One thing to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Task {
    /// What it is called.
    pub name: String,
    /// How to set it up; may be empty.
    pub setup: String,
    /// What to do, in order.
    pub steps: Vec<String>,
    /// How much in one session; may be empty.
    pub dose: String,
    /// What it should feel like; may be empty.
    pub feel: String,
    /// How the student knows that it worked.
    pub check: String,
    /// What to take care of; may be empty.
    pub care: String,
    /// When to stop.
    pub stop: String,
}

/// Whose page it is, and of which day.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Occasion {
    /// How the student plays; `None` leaves lead and trail as they are.
    pub handed: Option<Handed>,
    /// The student's handle; left out, a line to write on.
    pub student: Option<String>,
    /// The day of the lesson; left out, a line to write on.
    pub date: Option<String>,
    /// The day of the next lesson; left out, a line to write on.
    pub next: Option<String>,
}

/// What the student takes home.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Handout {
    /// Whose it is, the day, and the day of the next lesson: a label each, and what is known.
    pub head: [(&'static str, Option<String>); 3],
    /// How many times to practise, each a box to tick; 0 when nothing is practised alone.
    pub ticks: usize,
    /// What comes before everything else, when something hurts.
    pub first: Option<String>,
    /// What was seen, in the library's words: the coach's own are private.
    pub seen: Vec<String>,
    /// Why, with the chain in one sentence.
    pub why: String,
    /// What to do: every drill of the lesson that fits on the sheet.
    pub tasks: Vec<Task>,
    /// When and how to practise.
    pub when: Vec<String>,
    /// When to stop.
    pub stop: Vec<String>,
    /// What to film.
    pub film: Vec<String>,
    /// The library's version.
    pub library: String,
}

/// The student's page of a plan.
///
/// Lead and trail become left and right when it is known how the student plays, and stay as they are
/// when it is not.
/// Every drill of the lesson is on it; when they do not fit on the two sides of a sheet, those that the
/// plan would miss least are left off.
#[must_use]
pub fn handout(
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    plan: &Plan,
    occasion: &Occasion,
) -> Handout {
    let mut steps: Vec<&Step> = plan.steps.iter().collect();
    loop {
        let sheet = written(base, diagnosis, plan, &steps, occasion);
        if sheet.lines() <= SHEET_LINES || steps.len() <= 1 {
            return sheet;
        }
        remove_least(&mut steps);
    }
}

fn remove_least(steps: &mut Vec<&Step>) {
    let least = (0..steps.len()).min_by(|a, b| {
        steps[*a]
            .skipping_costs
            .total_cmp(&steps[*b].skipping_costs)
            .then(b.cmp(a))
    });
    if let Some(least) = least {
        steps.remove(least);
    }
}

fn written(
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    plan: &Plan,
    steps: &[&Step],
    occasion: &Occasion,
) -> Handout {
    let hand = occasion.handed;
    let sided = |text: &str| sided_text(text, hand);
    let mut sheet = Handout {
        head: [
            ("For", occasion.student.clone()),
            ("Date", occasion.date.clone()),
            ("Next time", occasion.next.clone()),
        ],
        ticks: plan.practice.sessions.len(),
        first: to_student(base, &diagnosis.complaints),
        seen: seen(base, diagnosis),
        why: why(base, diagnosis, plan),
        tasks: steps.iter().map(|step| task(base, plan, step)).collect(),
        when: when(base, plan),
        stop: WHEN_TO_STOP.map(str::to_owned).to_vec(),
        film: film(plan),
        library: version(base).to_owned(),
    };
    if plan.referral.is_some() {
        sheet.why.clear();
        sheet.stop = vec![CALL_FOR_HELP.to_owned()];
        sheet.film.clear();
    }
    sheet.each_text(&mut |text| *text = sided(text));
    sheet
}

const WHEN_TO_STOP: [&str; 4] = [
    "It hurts. Stop that task for the day.",
    "It still hurts in a week. See a licensed health professional.",
    "You are tired, or the check fails three times.",
    CALL_FOR_HELP,
];

const CALL_FOR_HELP: &str = "Your chest, jaw or arm feels tight, you feel faint, you cannot get your breath, or a part goes weak or numb. Stop and call for help at once.";

/// What was seen, each once. What the words may have meant besides is not told as a fact, and what can only
/// be asked for (an injury, a temper) is the student's own and is not read back.
fn seen(base: &KnowledgeBase, diagnosis: &Diagnosis) -> Vec<String> {
    let asked_for = |key: ConditionKey| {
        let condition = base.condition(key);
        let views = &condition.seen_from;
        let only_asked = !views.is_empty() && views.iter().all(|view| *view == View::AskStudent);
        condition.is_pain() || only_asked
    };
    let findings = diagnosis.observations.iter().filter(|seen| {
        seen.state.is_finding() && seen.perhaps.is_empty() && !asked_for(seen.condition)
    });
    let mut said: Vec<String> = Vec::new();
    for finding in findings {
        let what = sentence(&clause(base, finding.condition));
        if !said.contains(&what) {
            said.push(what);
        }
    }
    said.truncate(MOST_SEEN);
    said
}

/// The chain as a student would be told it: what follows from each start, and the reason of the first. What
/// nobody has looked at yet is what we think.
fn why(base: &KnowledgeBase, diagnosis: &Diagnosis, plan: &Plan) -> String {
    if plan.priorities.is_empty() {
        return plan.nothing.map_or_else(String::new, |_| {
            "We do not know yet. We look at more first.".to_owned()
        });
    }
    let mut said = Vec::new();
    for (place, start) in plan.priorities.iter().enumerate() {
        let what = clause(base, start.condition);
        let seen = diagnosis.findings().any(|key| key == start.condition);
        let mut causes = diagnosis.causes.iter();
        let cause = causes.find(|cause| cause.condition == start.condition);
        let begin = if seen {
            capital(&what)
        } else {
            format!("We think {what}")
        };
        let chains = cause.map_or(&[][..], |cause| &cause.chains);
        let told = story_from(&begin, base, chains);
        said.push(match (told.is_empty(), seen) {
            (false, _) => told,
            // What was seen stands above already.
            (true, true) => format!("We mend this too: {what}."),
            (true, false) => format!("{begin}."),
        });
        if place == 0
            && let Some(because) = start.because.iter().flatten().next()
        {
            said.push(sentence(because));
        }
    }
    said.join(" ")
}

fn task(base: &KnowledgeBase, plan: &Plan, step: &Step) -> Task {
    let drill = base.drill(step.drill);
    Task {
        name: titled(drill),
        setup: drill.setup.clone(),
        steps: drill.steps.clone(),
        dose: dose(plan, step.drill),
        feel: step.cues.join(" "),
        check: check(plan, step, drill),
        care: drill.caution.clone().unwrap_or_default(),
        stop: "It hurts.".to_owned(),
    }
}

/// How the student knows that it works. Where one time at it holds fewer tries than the check counts, they
/// add up.
fn check(plan: &Plan, step: &Step, drill: &Drill) -> String {
    let mut check = sentence(&drill.check);
    let Some(Criterion { hits, tries }) = step.criterion else {
        return check;
    };
    if drill.check.is_empty() {
        check = format!("{hits} good ones of {tries}.");
    }
    if block(plan, step.drill).is_some_and(|block| block.sets * block.reps < tries) {
        let _ = write!(check, " Count on next time, until you have {tries}.");
    }
    check
}

/// The drill's part of a time of practice.
fn block(plan: &Plan, drill: DrillKey) -> Option<&Block> {
    let first = plan.practice.sessions.first()?;
    first.blocks.iter().find(|block| block.drill == drill)
}

fn dose(plan: &Plan, drill: DrillKey) -> String {
    block(plan, drill).map_or_else(String::new, |block| {
        let sets = if block.sets == 1 { "set" } else { "sets" };
        format!(
            "{} {sets} of {}, {} minutes.",
            block.sets, block.reps, block.minutes
        )
    })
}

/// Where nothing is to be practised.
const UNTIL_SEEN: &str = "Nothing until you have been seen.";
const NEXT_LESSON: &str = "We do this in our next lesson.";

fn on_which_days(practice: &Practice, first: &Session) -> String {
    let same_week = practice
        .sessions
        .iter()
        .filter(|one| one.week == first.week);
    let days: Vec<String> = same_week.map(|one| one.day.to_string()).collect();
    let weeks = if practice.weeks == 1 { "week" } else { "weeks" };
    format!(
        "{} minutes at a time, for {} {weeks}. Days: {}. Warm up for {} minutes first.",
        first.minutes(),
        practice.weeks,
        days.join(", "),
        first.warm_up
    )
}

fn in_which_order(order: PracticeOrder, one_task: bool) -> &'static str {
    match (order, one_task) {
        (PracticeOrder::Blocked, false) => "One task at a time. Check each try.",
        (PracticeOrder::Blocked, true) => "Stay with one club. Check each try.",
        (PracticeOrder::Serial, false) => {
            "Three tries of one task, then three of the next. Check each second try."
        }
        (PracticeOrder::Serial, true) => {
            "Three tries, then a new club or target. Check each second try."
        }
        (PracticeOrder::Random, false) => {
            "A new task each try. Say how it was, then check each fifth try."
        }
        (PracticeOrder::Random, true) => {
            "A new club or target each try. Say how it was, then check each fifth try."
        }
    }
}

fn when(base: &KnowledgeBase, plan: &Plan) -> Vec<String> {
    let practice = &plan.practice;
    let Some(first) = practice.sessions.first() else {
        let referred = plan.referral.is_some();
        let nothing = if referred { UNTIL_SEEN } else { NEXT_LESSON };
        return vec![nothing.to_owned()];
    };
    let mut said = vec![on_which_days(practice, first)];
    let one_task = first.blocks.len() == 1;
    if first.blocks.len() < plan.steps.len() {
        let own = first.blocks.iter().map(|block| base.drill(block.drill));
        let own = own.map(titled).collect::<Vec<_>>().join("; ");
        said.push(format!("By yourself: {own}. The rest we do together."));
    }
    for (order, from, to) in phases(practice) {
        let what = in_which_order(order, one_task);
        said.push(match from == to {
            true => format!("Time {from}: {what}"),
            false => format!("Times {from} to {to}: {what}"),
        });
    }
    let mut blocks = first.blocks.iter();
    let balls = blocks.any(|block| base.drill(block.drill).dose.balls.unwrap_or(0) > 0);
    if plan.refer.is_some() {
        said.push("Take your time. No full swing. Nothing in it may hurt.".to_owned());
        return said;
    }
    let rest = practice.rest_seconds;
    said.push(match balls {
        true => format!("Rest {rest} seconds after each ball. End with a few shots at a target."),
        false => "Take your time. End with a few full swings with no ball.".to_owned(),
    });
    said.push("It may feel worse at first. That is normal. Give it two weeks.".to_owned());
    said
}

fn film(plan: &Plan) -> Vec<String> {
    plan.practice
        .film
        .iter()
        .map(|film| {
            if film.starts_with("Face-on") {
                "From the front: phone at hand height, in line with your chest.".to_owned()
            } else {
                "From behind: phone at hand height, in line with your hands and the target."
                    .to_owned()
            }
        })
        .collect()
}

impl Handout {
    /// Every text of the page but the version, to be changed in place.
    fn each_text(&mut self, change: &mut dyn FnMut(&mut String)) {
        self.first.iter_mut().for_each(&mut *change);
        self.seen.iter_mut().for_each(&mut *change);
        change(&mut self.why);
        for task in &mut self.tasks {
            change(&mut task.name);
            change(&mut task.setup);
            task.steps.iter_mut().for_each(&mut *change);
            change(&mut task.dose);
            change(&mut task.feel);
            change(&mut task.check);
            change(&mut task.care);
            change(&mut task.stop);
        }
        self.when.iter_mut().for_each(&mut *change);
        self.stop.iter_mut().for_each(&mut *change);
        self.film.iter_mut().for_each(&mut *change);
    }

    /// All that the student reads, one line a sentence or more: what its reading grade is of.
    #[must_use]
    pub fn text(&self) -> String {
        let mut lines = Vec::new();
        self.clone()
            .each_text(&mut |text| lines.push(std::mem::take(text)));
        lines.retain(|line| !line.is_empty());
        lines.join("\n")
    }

    /// About how many lines it takes on the sheet.
    fn lines(&self) -> usize {
        let wrapped = |text: &str| text.chars().count() / LINE_LETTERS + 1;
        let list = |items: &[String]| items.iter().map(|item| wrapped(item)).sum::<usize>();
        let tasks: usize = self
            .tasks
            .iter()
            .map(|task| {
                2 + wrapped(&task.setup)
                    + list(&task.steps)
                    + wrapped(&task.feel)
                    + wrapped(&task.check)
                    + wrapped(&task.care)
                    + wrapped(&task.stop)
            })
            .sum();
        // Seven headings of two lines, the title, the head, boxes to tick, lines to write on and the foot.
        20 + NOTE_LINES
            + self.first.as_deref().map_or(0, wrapped)
            + list(&self.seen)
            + wrapped(&self.why)
            + tasks
            + list(&self.when)
            + list(&self.stop)
            + list(&self.film)
    }

    /// For whom and when, a blank where that is not known.
    fn markdown_head(&self) -> String {
        let head = self.head.iter().map(|(label, known)| {
            let blank = "\\_".repeat(BLANK);
            let known = known.as_ref().map_or(blank, |known| escaped(known));
            format!("**{label}:** {known}")
        });
        head.collect::<Vec<_>>().join("   ")
    }

    /// The page as Markdown.
    #[must_use]
    pub fn to_markdown(&self) -> String {
        let mut out = format!("# Your golf plan\n\n{}\n", self.markdown_head());
        let heading = |out: &mut String, text: &str| {
            let _ = write!(out, "\n## {text}\n\n");
        };
        if let Some(first) = &self.first {
            let _ = write!(out, "\n> **{}**\n", escaped(first));
        }
        if !self.seen.is_empty() {
            heading(&mut out, "What we saw");
            bullets(&mut out, &self.seen);
        }
        if !self.why.is_empty() {
            heading(&mut out, "Why");
            let _ = writeln!(out, "{}", escaped(&self.why));
        }
        for (number, task) in self.tasks.iter().enumerate() {
            let name = escaped(&task.name);
            heading(&mut out, &format!("Task {}: {name}", number + 1));
            task.push_markdown(&mut out);
        }
        for (title, items) in self.lists() {
            if !items.is_empty() {
                heading(&mut out, title);
                bullets(&mut out, items);
            }
        }
        if self.ticks > 0 {
            heading(&mut out, "Tick each time");
            let boxes = vec!["\u{2610}"; self.ticks];
            let _ = writeln!(out, "{}", boxes.join(" "));
        }
        heading(&mut out, "What I noticed");
        for _ in 0..NOTE_LINES {
            let _ = writeln!(out, "{}\n", "\\_".repeat(60));
        }
        let _ = writeln!(out, "{} Library {}.", FOOT, self.library);
        out
    }

    /// The page as HTML, whole and by itself.
    #[must_use]
    pub fn to_html(&self) -> String {
        html::page(self)
    }

    /// What stands on the page as HTML, for a door that brings its own head; [`Handout::style`] goes with
    /// it.
    #[must_use]
    pub fn to_html_content(&self) -> String {
        html::content(self)
    }

    /// The style of the page, for the screen and for one sheet of paper.
    #[must_use]
    pub fn style() -> String {
        html::style()
    }

    /// The page for a program.
    #[must_use]
    pub fn to_json(&self) -> Value {
        json!({
            "student": self.head[0].1,
            "date": self.head[1].1,
            "next": self.head[2].1,
            "times": self.ticks,
            "first": self.first,
            "seen": self.seen,
            "why": self.why,
            "tasks": self.tasks.iter().map(|task| json!({
                "name": task.name, "setup": task.setup, "do": task.steps, "dose": task.dose,
                "feel": task.feel, "check": task.check, "care": task.care, "stop_if": task.stop,
            })).collect::<Vec<_>>(),
            "when": self.when,
            "stop_if": self.stop,
            "film": self.film,
            "reading_grade": reading_grade(&self.text()),
            "library": self.library,
        })
    }

    /// The lists after the tasks, with their titles.
    fn lists(&self) -> [(&'static str, &[String]); 3] {
        [
            ("When", &self.when),
            ("Stop if", &self.stop),
            ("Film for next time", &self.film),
        ]
    }
}

impl Task {
    fn push_markdown(&self, out: &mut String) {
        if !self.setup.is_empty() {
            let _ = write!(out, "**Set up:** {}\n\n", escaped(&self.setup));
        }
        let _ = write!(out, "**Do:** {}\n\n", escaped(&self.dose));
        for (step, text) in self.steps.iter().enumerate() {
            let _ = writeln!(out, "{}. {}", step + 1, escaped(text));
        }
        out.push('\n');
        for (label, text) in self.points() {
            let _ = writeln!(out, "- **{label}:** {}", escaped(text));
        }
    }

    /// Feel, check, care and stop, those that there are.
    fn points(&self) -> Vec<(&'static str, &str)> {
        [
            ("Feel", &self.feel),
            ("Check", &self.check),
            ("Take care", &self.care),
            ("Stop if", &self.stop),
        ]
        .into_iter()
        .filter(|(_, text)| !text.is_empty())
        .map(|(label, text)| (label, text.as_str()))
        .collect()
    }
}

/// Letters of a line to write a name or a day on, and how many lines there are for notes.
const BLANK: usize = 16;
const NOTE_LINES: usize = 2;

/// What the page is, in a line.
const FOOT: &str = "This page helps your coach. It is no health advice.";

/// As on any page, on one line.
fn escaped(text: &str) -> String {
    markdown_escaped(text).replace('\n', " ")
}

fn bullets(out: &mut String, items: &[String]) {
    for item in items {
        let _ = writeln!(out, "- {}", escaped(item));
    }
}
