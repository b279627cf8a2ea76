//! What a page asks: all that was said in a lesson, as it stands in its address.

use super::fields::{Fields, Wrong, query};
use super::not_given;
use super::on_record::OnRecord;
use super::served_library::LibraryState;
use super::unfinished::is_name;
use crate::diagnosis::{Answer, CheckUp, Effort, Reported, State, observe};
use crate::knowledge::{KnowledgeBase, Level, Place, Shot, Suits};
use crate::lesson::{Handed, Lesson};
use crate::plan::{PlanOptions, Sessions};
use crate::records::shape_of_handle;
use crate::words::{Candidate, Readers, on_record};
use chrono::NaiveDate;

/// One thing that the coach did after the note; each can be taken back, last first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum CoachStep {
    /// A look was answered.
    Look(String, Answer),
    /// What was read as one entry is another.
    Means(String, String),
    /// What was read is there, slight, or not there.
    Stands(String, Stands),
    /// What was read was not said.
    Drop(String),
    /// Words that were not understood mean this entry.
    Reads(String, String),
    /// The coach says where it starts.
    Called(String),
}

/// How something that was read stands, by the coach's tap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stands {
    Seen,
    Slight,
    NotSeen,
}

impl Stands {
    pub(super) const ALL: [Stands; 3] = [Stands::Seen, Stands::Slight, Stands::NotSeen];

    pub(super) fn as_str(self) -> &'static str {
        self.state().as_str()
    }

    pub(super) fn state(self) -> State {
        match self {
            Stands::Seen => State::Seen,
            Stands::Slight => State::Slight,
            Stands::NotSeen => State::NotSeen,
        }
    }

    fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|stands| stands.as_str() == word)
    }
}

impl CoachStep {
    /// The step in one word for an address.
    pub(super) fn written(&self) -> String {
        match self {
            CoachStep::Look(id, answer) => format!("look:{id}:{}", answer.as_str()),
            CoachStep::Means(id, other) => format!("means:{id}:{other}"),
            CoachStep::Stands(id, stands) => format!("stands:{id}:{}", stands.as_str()),
            CoachStep::Drop(id) => format!("drop:{id}"),
            CoachStep::Reads(words, id) => format!("reads:{id}:{words}"),
            CoachStep::Called(id) => format!("called:{id}"),
        }
    }

    /// The step that a word of an address stands for.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let (what, rest) = text.split_once(':')?;
        let two = || rest.split_once(':');
        let owned = |text: &str| text.to_owned();
        Some(match what {
            "look" => {
                let (id, word) = two()?;
                CoachStep::Look(owned(id), Answer::parse(word)?)
            }
            "means" => {
                let (id, other) = two()?;
                CoachStep::Means(owned(id), owned(other))
            }
            "stands" => {
                let (id, word) = two()?;
                CoachStep::Stands(owned(id), Stands::parse(word)?)
            }
            "drop" => CoachStep::Drop(owned(rest)),
            "reads" => {
                let (id, words) = two()?;
                CoachStep::Reads(owned(words), owned(id))
            }
            "called" => CoachStep::Called(owned(rest)),
            _ => return None,
        })
    }
}

/// Everything that was said in a lesson.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Ask {
    /// The draft that it is kept as; empty for a question that is not kept.
    pub(super) lesson: String,
    /// The student's handle, where there is a record.
    pub(super) student: Option<String>,
    /// What was typed.
    pub(super) reported: Reported,
    /// Whose lesson it is, about what, and where.
    pub(super) context: Lesson,
    /// What was done since, in order.
    pub(super) steps: Vec<CoachStep>,
    /// What the plan has to fit into.
    pub(super) options: PlanOptions,
    /// The day of the lesson; today where nothing is said.
    pub(super) on: Option<NaiveDate>,
    /// How many starts a program gets; `None` for the usual number.
    pub(super) limit: Option<usize>,
    pub(super) all: bool,
}

/// Fields that are not part of what is asked, and are no slip.
const BESIDE: [&str; 4] = ["key", "format", "unclear", "ask"];

impl Ask {
    /// Reads the fields, and says of each that cannot be taken what to write instead.
    pub(super) fn read(fields: &Fields) -> Result<Self, Vec<Wrong>> {
        let mut ask = Self::default();
        let mut wrong = Vec::new();
        for (name, value) in fields.iter() {
            if let Err(slip) = ask.take(name, value) {
                wrong.push(slip);
            }
        }
        if wrong.is_empty() {
            Ok(ask)
        } else {
            Err(wrong)
        }
    }

    /// Takes one field in; one that is left empty asks for nothing.
    pub(super) fn take(&mut self, name: &str, value: &str) -> Result<(), Wrong> {
        let value = value.trim();
        // Nothing at hand is something said.
        if value.is_empty() && name != "have" {
            return Ok(());
        }
        let reported = &mut self.reported;
        let list = match name {
            "note" => Some(&mut reported.seen),
            "found" => Some(&mut reported.found),
            "not" => Some(&mut reported.not_seen),
            "slight" => Some(&mut reported.slight),
            "measured" => Some(&mut reported.measured),
            "likelihood" => Some(&mut reported.likelihood),
            "fact" => Some(&mut reported.facts),
            "read" => Some(&mut reported.read),
            _ => None,
        };
        if let Some(list) = list {
            list.push(value.to_owned());
            return Ok(());
        }
        self.set(name, value)
    }

    /// Sets what is said once; `value` holds more than blanks, save for `have`.
    fn set(&mut self, name: &str, value: &str) -> Result<(), Wrong> {
        let context = &mut self.context;
        match name {
            "shot" => context.shot = Some(listed(name, value, Shot::ALL, Shot::as_str)?),
            "handed" => context.handed = Some(hand(name, value)?),
            "level" => context.level = Some(listed(name, value, Level::ALL, Level::as_str)?),
            "place" => context.place = Some(listed(name, value, Place::ALL, Place::as_str)?),
            "suits" => {
                for word in things(value) {
                    let suits = listed(name, word, Suits::ALL, Suits::as_str)?;
                    context.suits.push(suits);
                }
            }
            "have" => {
                let at_hand = context.at_hand.get_or_insert_default();
                at_hand.add(&things(value).collect::<Vec<_>>());
            }
            "minutes" => self.options.minutes = whole(name, value)?,
            "weeks" => self.options.weeks = whole(name, value)?,
            "sessions" => {
                self.options.sessions = Sessions::parse(value).map_err(|help| {
                    Wrong::new(name, format!("\"{value}\" is no practice"), help)
                })?;
            }
            "limit" => self.limit = Some(whole(name, value)? as usize),
            "all" => self.all = true,
            "on" | "step" | "student" | "lesson" => self.set_kept(name, value)?,
            beside if BESIDE.contains(&beside) => {}
            _ => {
                let help =
                    "the fields are named like the options of the command, and the note is `note`";
                return Err(Wrong::new(
                    name,
                    format!("there is no field `{name}`"),
                    help,
                ));
            }
        }
        Ok(())
    }

    /// Sets what a lesson is kept by: its day, its steps, its student and its name.
    fn set_kept(&mut self, name: &str, value: &str) -> Result<(), Wrong> {
        match name {
            "on" => {
                let help = "write the day year first, such as 2026-05-04";
                let day = value.parse().ok();
                self.on = Some(
                    day.ok_or_else(|| Wrong::new(name, format!("\"{value}\" is no day"), help))?,
                );
            }
            "step" => {
                let step = CoachStep::parse(value);
                let help = "leave it out; it is written by the page itself";
                self.steps.push(step.ok_or_else(|| {
                    Wrong::new(name, format!("\"{value}\" is no step of a lesson"), help)
                })?);
            }
            "student" => {
                let shaped = shape_of_handle(value);
                shaped.map_err(|write| {
                    Wrong::new(name, format!("\"{value}\" is no handle"), write)
                })?;
                self.student = Some(value.to_owned());
            }
            _ if is_name(value) => value.clone_into(&mut self.lesson),
            _ => {
                return Err(Wrong::new(
                    name,
                    "that is no kept lesson",
                    "begin a new one",
                ));
            }
        }
        Ok(())
    }

    /// The fields that give this back, in one order, so that the same lesson has one address.
    pub(super) fn pairs(&self) -> Vec<(&'static str, String)> {
        let mut pairs = Vec::new();
        let mut put = |name: &'static str, value: String| pairs.push((name, value));
        if !self.lesson.is_empty() {
            put("lesson", self.lesson.clone());
        }
        if let Some(student) = &self.student {
            put("student", student.clone());
        }
        let reported = &self.reported;
        for (name, list) in [
            ("note", &reported.seen),
            ("found", &reported.found),
            ("not", &reported.not_seen),
            ("slight", &reported.slight),
            ("measured", &reported.measured),
            ("likelihood", &reported.likelihood),
            ("fact", &reported.facts),
            ("read", &reported.read),
        ] {
            list.iter().for_each(|value| put(name, value.clone()));
        }
        self.context_pairs(&mut put);
        if let Some(on) = self.on {
            put("on", on.to_string());
        }
        self.steps
            .iter()
            .for_each(|step| put("step", step.written()));
        pairs
    }

    /// Those of the student, the shot, the place and the plan, where they are not the usual ones.
    fn context_pairs(&self, put: &mut impl FnMut(&'static str, String)) {
        let (context, options) = (&self.context, &self.options);
        let usual = PlanOptions::default();
        if let Some(shot) = context.shot {
            put("shot", shot.to_string());
        }
        if let Some(handed) = context.handed {
            put("handed", handed.as_str().to_owned());
        }
        if let Some(level) = context.level {
            put("level", level.to_string());
        }
        for suits in &context.suits {
            put("suits", suits.to_string());
        }
        if options.minutes != usual.minutes {
            put("minutes", options.minutes.to_string());
        }
        if let Some(place) = context.place {
            put("place", place.to_string());
        }
        if let Some(at_hand) = &context.at_hand {
            put("have", at_hand.words().collect::<Vec<_>>().join(","));
        }
        if options.sessions != usual.sessions {
            let Sessions { a_week, minutes } = options.sessions;
            put("sessions", format!("{a_week}x{minutes}"));
        }
        if options.weeks != usual.weeks {
            put("weeks", options.weeks.to_string());
        }
    }

    /// The same as the part of an address behind `?`.
    pub(super) fn query(&self) -> String {
        let pairs = self.pairs();
        query(pairs.iter().map(|(name, value)| (*name, value.as_str())))
    }

    /// What it is about, in a few words.
    pub(super) fn about(&self) -> String {
        let said = self.reported.seen.join(", ");
        let mut short: String = said.split_whitespace().collect::<Vec<_>>().join(" ");
        if short.chars().count() > 70 {
            short = short.chars().take(70).collect();
            short.push('\u{2026}');
        }
        short
    }

    /// The start as the coach calls it, the last word counting.
    pub(super) fn called(&self) -> Option<&str> {
        self.steps.iter().rev().find_map(|step| match step {
            CoachStep::Called(id) => Some(id.as_str()),
            _ => None,
        })
    }

    /// Whether anything was said that can be ranked.
    pub(super) fn is_empty(&self) -> bool {
        self.reported.is_empty()
    }

    /// What was reported and of whom, with what is on record; what is said today goes before that.
    fn with_record(
        &self,
        base: &KnowledgeBase,
        readers: &Readers<'_>,
        record: Option<&OnRecord>,
    ) -> (Reported, Lesson) {
        let mut reported = self.reported.clone();
        let mut context = self.context.clone();
        if let Some(OnRecord { history, .. }) = record {
            let student = &history.student;
            let known = student.facts.iter();
            let known = known.filter(|fact| !self.reported.facts.contains(fact));
            reported.facts.splice(0..0, known.cloned());
            let notes = &self.reported.seen;
            let told = || notes.iter().find_map(|note| readers.hand_in(note));
            context.handed = context.handed.or_else(told).or(student.handed);
        }
        for step in &self.steps {
            if let CoachStep::Reads(words, id) = step
                && base.find(id).is_some()
            {
                reported.read.push(format!("{words}={id}"));
            }
        }
        (reported, context)
    }

    /// The check-up as it stands: what was read, put right, with every answer. An id that the library
    /// no longer has is left out.
    pub(super) fn check_up(
        &self,
        room: &LibraryState,
        record: Option<&OnRecord>,
    ) -> Result<CheckUp, Vec<Wrong>> {
        let base = &room.base;
        let readers = Readers::with(base, &room.reader);
        let (reported, context) = self.with_record(base, &readers, record);
        if reported.is_empty() {
            let help = "say what ball, club or body did, such as \"weak slice\"";
            return Err(vec![Wrong::new("note", "nothing was reported", help)]);
        }
        context
            .check(base)
            .map_err(|trouble| vec![not_given::no_lesson(&trouble)])?;
        let mut nobody = |_: &str, _: &[Candidate]| None;
        let mut asked = observe(&readers, &context, &reported, &mut nobody)
            .map_err(|troubles| not_given::all(base, &troubles))?;
        if self.all {
            asked.effort = Effort::All;
        }
        if let Some(record) = record {
            let student = &record.history.student;
            let lesson = asked.lesson;
            asked.lesson = lesson.on_record(student.handed, student.level, &student.suits);
            if let Some(limits) = &record.limits {
                let limits = on_record(base, &room.reader, limits);
                asked.complaints.extend(limits);
            }
        }
        let mut checkup = CheckUp::new(asked);
        for step in &self.steps {
            apply(base, &mut checkup, step);
        }
        Ok(checkup)
    }
}

/// Takes one step in a check-up; one that names nothing there changes nothing.
fn apply(base: &KnowledgeBase, checkup: &mut CheckUp, step: &CoachStep) {
    let (CoachStep::Look(id, _)
    | CoachStep::Means(id, _)
    | CoachStep::Stands(id, _)
    | CoachStep::Drop(id)) = step
    else {
        return;
    };
    let Some(key) = base.find(id) else { return };
    // From the last on, so that one that is dropped moves none that is still to come.
    let read = checkup.read().observations.iter().enumerate().rev();
    let of_it = read.filter(|(_, seen)| seen.condition == key);
    let places: Vec<usize> = of_it.map(|(place, _)| place + 1).collect();
    match step {
        CoachStep::Look(_, answer) => checkup.answer(key, *answer),
        CoachStep::Means(_, other) => {
            let Some(other) = base.find(other) else {
                return;
            };
            for place in places {
                checkup.reread(place, Some(other));
            }
        }
        CoachStep::Stands(_, stands) => {
            for place in places {
                checkup.restate(place, stands.state());
            }
        }
        _ => {
            for place in places {
                checkup.reread(place, None);
            }
        }
    }
}

/// What a list parted by commas names.
pub(super) fn things(value: &str) -> impl Iterator<Item = &str> {
    value
        .split(',')
        .map(str::trim)
        .filter(|thing| !thing.is_empty())
}

/// `right` or `left`.
pub(super) fn hand(name: &str, value: &str) -> Result<Handed, Wrong> {
    match value {
        "right" => Ok(Handed::Right),
        "left" => Ok(Handed::Left),
        _ => Err(not_listed(name, value, &["right", "left"])),
    }
}

pub(super) fn listed<T: Copy>(
    name: &str,
    value: &str,
    all: &'static [T],
    spelling: fn(T) -> &'static str,
) -> Result<T, Wrong> {
    let found = all.iter().copied().find(|one| spelling(*one) == value);
    found.ok_or_else(|| {
        let words: Vec<&str> = all.iter().map(|one| spelling(*one)).collect();
        not_listed(name, value, &words)
    })
}

pub(super) fn not_listed(name: &str, value: &str, words: &[&str]) -> Wrong {
    let help = format!("choose one of {}", words.join(", "));
    Wrong::new(name, format!("\"{value}\" is not on the list"), help)
}

pub(super) fn whole(name: &str, value: &str) -> Result<u32, Wrong> {
    let wrong = |_| {
        Wrong::new(
            name,
            format!("\"{value}\" is no whole number"),
            "write a whole number, such as 45",
        )
    };
    value.parse().map_err(wrong)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lesson::AtHand;

    #[test]
    fn an_address_gives_the_lesson_back() {
        let text = "lesson=0123456789abcdef&note=weak+slice&note=thin&not=grip&fact=senior&read=hands+high%3Dx&shot=iron&handed=left&level=improver&suits=senior&minutes=30&place=range&have=&sessions=2x15&weeks=6&on=2026-05-04&step=look%3Aa%3Ayes&step=means%3Aa%3Ab&step=stands%3Aa%3Aslight&step=drop%3Aa&step=reads%3Aid%3Asome+words&step=called%3Aa";
        let ask = Ask::read(&Fields::parse(text).expect("few")).expect("all known");
        assert_eq!(ask.query(), text);
        assert_eq!(ask.called(), Some("a"));
        assert_eq!(ask.context.at_hand, Some(AtHand::default()));
        assert_eq!(ask.about(), "weak slice, thin");
    }

    #[test]
    fn every_slip_is_named_with_what_to_write() {
        let text = "note=x&shot=wood&handed=both&minutes=soon&on=May&step=jump&sessions=many&lesson=..%2F..&colour=red&place=moon";
        let wrong = Ask::read(&Fields::parse(text).expect("few")).expect_err("many slips");
        let fields: Vec<&str> = wrong.iter().map(|slip| slip.field.as_str()).collect();
        assert_eq!(
            fields,
            [
                "shot", "handed", "minutes", "on", "step", "sessions", "lesson", "colour", "place"
            ]
        );
        assert!(wrong.iter().all(|slip| !slip.help.is_empty()));
    }
}
