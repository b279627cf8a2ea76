//! Asking for an entry, one question after the other, with a way back.

use super::{EntryKind, kebab};
use crate::knowledge::words::{COMMON_WORDS, STRENGTH_WORDS, scale_line};
use crate::knowledge::{
    KnowledgeBase, LibraryFile, Place, RemedyKind, Rung, Shot, Stage, View, library_text, nearest,
};
use crate::lesson::Lesson;
use crate::words::{Reader, Reading};
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;

/// Somebody who can be asked.
pub trait Dialogue {
    /// Says a line.
    fn say(&mut self, text: &str);
    /// Asks for a line; `None` when there is nobody left to answer.
    fn ask(&mut self, prompt: &str) -> Option<String>;
    /// Is told all that has been answered so far, as [`Guide::take_up`] takes it, after each answer.
    fn keep(&mut self, _answers: &Value) {}
}

/// How a question was left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// It was answered, or passed over.
    On,
    /// Back to the one before.
    Back,
    /// Nothing is to be saved.
    Quit,
}

/// What answers a question takes.
#[derive(Clone, Copy, Debug)]
enum Sort {
    /// The name, from which the id is offered.
    Id,
    Line,
    Lines,
    OneOf(Words),
    SomeOf(Words),
    Graded(&'static [(&'static str, f64)]),
    /// A share of students: `0.3`, `30 %`, `3 of 10`, or `3` for that of ten.
    Share,
    Number,
    Condition,
    Conditions,
    Drills,
    /// Conditions, each with a strength under this key and perhaps a reason.
    Weighed {
        key: &'static str,
        reason: bool,
    },
}

#[derive(Clone, Copy, Debug)]
struct Question {
    /// The key that it fills, with a `.` before an inner one.
    key: &'static str,
    ask: &'static str,
    example: &'static str,
    needed: bool,
    sort: Sort,
}

impl Question {
    /// What an entry says to it.
    fn of(&self, entry: &Map<String, Value>) -> Option<Value> {
        let value = match self.key.split_once('.') {
            Some((outer, inner)) => entry.get(outer)?.get(inner)?,
            None => entry.get(self.key)?,
        };
        let empty = value.is_null() || value.as_array().is_some_and(Vec::is_empty);
        (!empty).then(|| value.clone())
    }
}

impl Sort {
    /// Whether two answers of a form say the same: blanks and empty lines aside, and the order of words
    /// of a list.
    fn same(self, one: &str, other: &str) -> bool {
        let parts = |text: &str| -> Vec<String> {
            let parts = match self {
                Self::SomeOf(_) => text
                    .split(',')
                    .map(one_line)
                    .collect::<BTreeSet<_>>()
                    .into_iter()
                    .collect(),
                _ => text.lines().map(one_line).collect::<Vec<_>>(),
            };
            parts.into_iter().filter(|part| !part.is_empty()).collect()
        };
        parts(one) == parts(other)
    }

    /// An answer as it stands in a form.
    fn in_a_form(self, value: &Value) -> String {
        let line = |value: &Value| one_line(&in_words(value));
        match (self, value) {
            (Self::SomeOf(_), Value::Array(items)) => {
                items.iter().map(line).collect::<Vec<_>>().join(", ")
            }
            (Self::Weighed { key, reason }, Value::Array(items)) => {
                let items = items.iter().map(|item| {
                    let part = |key: &str| item.get(key).map(line).unwrap_or_default();
                    let mut text = format!("{}: {}", part("id"), part(key));
                    if reason && item.get("because").is_some() {
                        text = format!("{text}: {}", part("because"));
                    }
                    text
                });
                items.collect::<Vec<_>>().join("\n")
            }
            (_, Value::Array(items)) => items.iter().map(line).collect::<Vec<_>>().join("\n"),
            (_, value) => line(value),
        }
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What a line says of an item, over what stands of it: its sources stay, and its basis unless the
/// strength is another.
fn over_standing(standing: &Value, item: Value, key: &str) -> Value {
    let all = standing.as_array().into_iter().flatten();
    let Some(old) = all.into_iter().find(|old| old["id"] == item["id"]) else {
        return item;
    };
    let mut merged = old.clone();
    if old[key] != item[key] {
        merged[key] = item[key].clone();
        merged["basis"] = item["basis"].clone();
    }
    if let (Some(merged), because) = (merged.as_object_mut(), item.get("because")) {
        match because {
            Some(because) => merged.insert("because".into(), because.clone()),
            None => merged.remove("because"),
        };
    }
    merged
}

const fn q(key: &'static str, ask: &'static str, example: &'static str, sort: Sort) -> Question {
    Question {
        key,
        ask,
        example,
        needed: false,
        sort,
    }
}

const fn must(key: &'static str, ask: &'static str, example: &'static str, sort: Sort) -> Question {
    Question {
        needed: true,
        ..q(key, ask, example, sort)
    }
}

/// The words of a closed list of the format.
type Words = fn() -> Vec<&'static str>;

const KINDS: Words = || spelled(RemedyKind::ALL, RemedyKind::as_str);
const STAGES: Words = || spelled(Stage::ALL, Stage::as_str);
const SHOTS: Words = || spelled(Shot::ALL, Shot::as_str);
const VIEWS: Words = || spelled(View::ALL, View::as_str);
const RUNGS: Words = || spelled(Rung::ALL, Rung::as_str);
const PLACES: Words = || spelled(Place::ALL, Place::as_str);

fn spelled<T: Copy>(all: &[T], spelling: fn(T) -> &'static str) -> Vec<&'static str> {
    all.iter().map(|value| spelling(*value)).collect()
}

const DRILL: &[Question] = &[
    must(
        "name",
        "What is it called?",
        "Chair behind the hips",
        Sort::Line,
    ),
    must(
        "id",
        "Its id: small letters and hyphens",
        "chair-behind-hips",
        Sort::Id,
    ),
    q(
        "aliases",
        "What else is it called on the lesson tee? One a line",
        "hips on the chair",
        Sort::Lines,
    ),
    q("kind", "What sort of remedy?", "drill", Sort::OneOf(KINDS)),
    must(
        "treats",
        "What does it work on? A fault or cause, part of its name will do",
        "hangs back",
        Sort::Weighed {
            key: "effect",
            reason: false,
        },
    ),
    q(
        "stage",
        "Which part of the motion does it train?",
        "downswing",
        Sort::OneOf(STAGES),
    ),
    q(
        "shots",
        "For which shots? Several with commas",
        "iron, pitch",
        Sort::SomeOf(SHOTS),
    ),
    q(
        "ladder",
        "How near is it to the shot as played?",
        "slow-with-ball",
        Sort::OneOf(RUNGS),
    ),
    q(
        "purpose",
        "What is it for, in one sentence?",
        "Keep the hips back while turning through",
        Sort::Line,
    ),
    q(
        "setup",
        "How is it set up?",
        "A chair a hand's width behind the hips",
        Sort::Line,
    ),
    must(
        "steps",
        "What does the student do? One step a line",
        "Swing to waist height and back",
        Sort::Lines,
    ),
    q(
        "feel",
        "What should it feel like? One a line",
        "The trail pocket brushes the chair",
        Sort::Lines,
    ),
    q(
        "check",
        "How does the student know that it worked, with a number?",
        "8 of 10 brush the chair",
        Sort::Line,
    ),
    q(
        "goes_wrong",
        "How does it go wrong, and what then? One a line",
        "Sways off: feet closer",
        Sort::Lines,
    ),
    q(
        "easier",
        "How is it made easier?",
        "Without a ball",
        Sort::Line,
    ),
    q(
        "harder",
        "How is it made harder?",
        "Eyes closed",
        Sort::Line,
    ),
    q("dose.sets", "How many sets?", "3", Sort::Number),
    q("dose.reps", "How many times a set?", "8", Sort::Number),
    q("dose.balls", "How many balls in all?", "24", Sort::Number),
    q(
        "dose.minutes",
        "How many minutes in all?",
        "8",
        Sort::Number,
    ),
    q(
        "needs.equipment",
        "What does it need beyond club and ball? One a line",
        "chair",
        Sort::Lines,
    ),
    q(
        "needs.place",
        "Where can it be done? Several with commas",
        "range, home",
        Sort::SomeOf(PLACES),
    ),
    q(
        "after",
        "Which drills come first? Part of a name will do",
        "half swing",
        Sort::Drills,
    ),
    q(
        "aggravates",
        "What can it make worse?",
        "hangs back",
        Sort::Conditions,
    ),
    q(
        "not_with",
        "With which pains or limits must it not be done?",
        "low back pain",
        Sort::Conditions,
    ),
    q(
        "caution",
        "A warning to give with it",
        "Stop at any pain in the back",
        Sort::Line,
    ),
];

const LOOK: [Question; 2] = [
    q(
        "look.for",
        "What do you look for?",
        "The hips leave an imagined wall behind the player",
        Sort::Line,
    ),
    q(
        "look.from",
        "From where is it seen? Several with commas",
        "down-the-line",
        Sort::SomeOf(VIEWS),
    ),
];

const HOW_COMMON: Question = q(
    "how_common",
    "Of those who take lessons, how many have it?",
    "common, or 0.2",
    Sort::Graded(COMMON_WORDS),
);

const CAUSED_BY: Question = q(
    "caused_by",
    "What brings it about, directly? Part of a name will do",
    "grip too weak",
    Sort::Weighed {
        key: "strength",
        reason: true,
    },
);

const CONDITION_HEAD: [Question; 5] = [
    must(
        "name",
        "What do you call it?",
        "Pelvis moves toward the ball",
        Sort::Line,
    ),
    must(
        "id",
        "Its id: small letters and hyphens",
        "pelvis-moves-to-ball",
        Sort::Id,
    ),
    q(
        "aliases",
        "What do people say for it? One a line",
        "humps the ball",
        Sort::Lines,
    ),
    must(
        "stage",
        "Where in the motion, or where else, is it met?",
        "downswing",
        Sort::OneOf(STAGES),
    ),
    q(
        "shots",
        "On which shots? Several with commas",
        "iron, pitch",
        Sort::SomeOf(SHOTS),
    ),
];

const CAUTION: Question = q(
    "caution",
    "A warning to give with it",
    "Pain: refer to a licensed health professional",
    Sort::Line,
);

const CONDITION: &[Question] = &[
    CONDITION_HEAD[0],
    CONDITION_HEAD[1],
    CONDITION_HEAD[2],
    CONDITION_HEAD[3],
    CONDITION_HEAD[4],
    LOOK[0],
    LOOK[1],
    HOW_COMMON,
    CAUSED_BY,
    CAUTION,
];

const LINK: &[Question] = &[
    must(
        "cause",
        "What brings it about? Part of a name will do",
        "grip too weak",
        Sort::Condition,
    ),
    must("effect", "What is brought about?", "slice", Sort::Condition),
    must(
        "share",
        "Of ten who show the effect, with how many would you end up working on the cause?",
        "3 of 10, or 0.3",
        Sort::Share,
    ),
    q(
        "because",
        "Why, in one sentence for the student?",
        "An open face needs help to come back",
        Sort::Line,
    ),
    q(
        "basis",
        "What does that rest on?",
        "own lessons",
        Sort::Line,
    ),
];

/// What answers a question of a form takes.
#[derive(Clone, Debug, PartialEq)]
pub enum Takes {
    /// A line.
    Line,
    /// Lines.
    Lines,
    /// One of these words.
    One(Vec<&'static str>),
    /// Any of these words.
    Some(Vec<&'static str>),
    /// A word of this scale, or a number.
    Graded(String),
    /// Entries of the library, a line each.
    Entries,
    /// Entries, a line each, with how strongly and perhaps why behind colons.
    Weighed {
        /// Whether a reason may follow.
        reason: bool,
    },
}

/// A question as a form puts it.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// The key of the format that it fills.
    pub key: &'static str,
    /// The question.
    pub ask: &'static str,
    /// An answer, for example.
    pub example: &'static str,
    /// Whether it has to be answered.
    pub needed: bool,
    /// What it takes.
    pub takes: Takes,
}

/// The questions for a sort of entry, in order, as [`Guide::put`] numbers them from 1.
#[must_use]
pub fn fields(kind: EntryKind) -> Vec<Field> {
    let all = questions(kind).iter();
    all.map(|question| Field {
        key: question.key,
        ask: question.ask,
        example: question.example,
        needed: question.needed,
        takes: match question.sort {
            Sort::Id | Sort::Line | Sort::Number | Sort::Share | Sort::Condition => Takes::Line,
            Sort::Lines => Takes::Lines,
            Sort::OneOf(words) => Takes::One(words()),
            Sort::SomeOf(words) => Takes::Some(words()),
            Sort::Graded(scale) => Takes::Graded(scale_line(scale)),
            Sort::Conditions | Sort::Drills => Takes::Entries,
            Sort::Weighed { reason, .. } => Takes::Weighed { reason },
        },
    })
    .collect()
}

/// Nobody to ask: what is said is kept for whoever filled in the form.
#[derive(Default)]
struct Nobody {
    said: Vec<String>,
}

impl Dialogue for Nobody {
    fn say(&mut self, text: &str) {
        self.said.push(text.trim().to_owned());
    }

    fn ask(&mut self, _: &str) -> Option<String> {
        Some(String::new())
    }
}

/// An entry being asked for.
pub struct Guide<'b> {
    kind: EntryKind,
    base: &'b KnowledgeBase,
    reader: Reader,
    answers: Vec<Option<Value>>,
    /// The entry that is changed; what no question asks of it stays as it is.
    standing: Map<String, Value>,
    /// The question to ask next.
    next: usize,
}

impl<'b> Guide<'b> {
    /// A guide with nothing answered yet.
    #[must_use]
    pub fn new(kind: EntryKind, base: &'b KnowledgeBase) -> Self {
        Self {
            kind,
            base,
            reader: Reader::new(base),
            answers: vec![None; questions(kind).len()],
            standing: Map::new(),
            next: 0,
        }
    }

    /// A guide through a change of an entry: its answers are those of the entry, and what an answer
    /// leaves as it was, sources and all, stays word for word.
    #[must_use]
    pub fn over(kind: EntryKind, base: &'b KnowledgeBase, alone: &LibraryFile) -> Self {
        let mut guide = Self::new(kind, base);
        let file = serde_json::to_value(alone).unwrap_or_default();
        if let Some(entry) = file[kind.list()][0].as_object() {
            guide.standing.clone_from(entry);
            guide.answers = questions(kind).iter().map(|q| q.of(entry)).collect();
        }
        guide
    }

    /// Each answer as it stands in a form, in the order of [`fields`]: [`Self::put`] reads it back.
    #[must_use]
    pub fn in_a_form(&self) -> Vec<(&'static str, String)> {
        let all = questions(self.kind).iter().zip(&self.answers);
        all.map(|(question, answer)| {
            let text = answer.as_ref().map(|value| question.sort.in_a_form(value));
            (question.key, text.unwrap_or_default())
        })
        .collect()
    }

    /// Asks every question, first to last, or from where answers that were taken up leave off.
    pub fn run(&mut self, dialogue: &mut dyn Dialogue) -> Turn {
        dialogue.say("Enter passes a question over, < goes back to the one before, q! leaves without saving.");
        while self.next < self.answers.len() {
            match self.question(self.next, dialogue) {
                Turn::On => self.next += 1,
                Turn::Back => self.next = self.next.saturating_sub(1),
                Turn::Quit => return Turn::Quit,
            }
            if let Some(at) = self.looked_at_nothing().filter(|at| self.next > *at) {
                dialogue.say("From where is said, but not what is seen from there.");
                self.next = at;
            }
            dialogue.keep(&json!({ "next": self.next, "answers": self.answers }));
        }
        Turn::On
    }

    /// The question what to look for, when it is not answered and from where is.
    fn looked_at_nothing(&self) -> Option<usize> {
        let all = questions(self.kind);
        let place = |key: &str| all.iter().position(|question| question.key == key);
        let (what, from) = (place("look.for")?, place("look.from")?);
        (self.answers[what].is_none() && self.answers[from].is_some()).then_some(what)
    }

    /// Takes up the answers that [`Dialogue::keep`] was told; whether there are any.
    pub fn take_up(&mut self, kept: &Value) -> bool {
        let answers: Option<Vec<Option<Value>>> =
            serde_json::from_value(kept["answers"].clone()).ok();
        let fits = answers.filter(|answers| answers.len() == self.answers.len());
        let Some(answers) = fits.filter(|answers| answers.iter().any(Option::is_some)) else {
            return false;
        };
        self.next = kept["next"].as_u64().map_or(0, |next| {
            usize::try_from(next).unwrap_or_default().min(answers.len())
        });
        self.answers = answers;
        true
    }

    /// The questions with their answers, numbered from 1 as [`Guide::again`] takes them.
    #[must_use]
    pub fn answers(&self) -> Vec<(usize, &'static str, String)> {
        let all = questions(self.kind).iter().zip(&self.answers).enumerate();
        all.map(|(at, (question, answer))| {
            (
                at + 1,
                question.key,
                answer.as_ref().map(in_words).unwrap_or_default(),
            )
        })
        .collect()
    }

    /// Asks one question again, by its number.
    pub fn again(&mut self, number: usize, dialogue: &mut dyn Dialogue) -> Turn {
        match number.checked_sub(1).filter(|at| *at < self.answers.len()) {
            Some(at) => {
                let turn = self.question(at, dialogue);
                dialogue.keep(&json!({ "next": self.next, "answers": self.answers }));
                turn
            }
            None => {
                dialogue.say(&format!(
                    "The questions are numbered from 1 to {}.",
                    self.answers.len()
                ));
                Turn::On
            }
        }
    }

    /// Takes an answer as it stands in a form; an empty one takes the answer out.
    ///
    /// # Errors
    ///
    /// What is wrong with it, and what to write instead.
    ///
    /// # Panics
    ///
    /// When there is no question of this number.
    pub fn put(&mut self, number: usize, text: &str) -> Result<(), String> {
        let question = questions(self.kind)[number - 1];
        let text = text.trim();
        if let Some(standing) = question.of(&self.standing) {
            if question
                .sort
                .same(&question.sort.in_a_form(&standing), text)
            {
                self.answers[number - 1] = Some(standing);
                return Ok(());
            }
            if matches!(question.sort, Sort::Id) {
                let id = in_words(&standing);
                return Err(format!("An id once used is kept: write {id}."));
            }
        }
        let lines = || text.lines().map(str::trim).filter(|line| !line.is_empty());
        let text = match question.sort {
            // A form without an id is asked for the one that its name gives.
            Sort::Id if text.is_empty() => self.offered_id().unwrap_or_default(),
            _ => text.split_whitespace().collect::<Vec<_>>().join(" "),
        };
        if text.is_empty() {
            self.answers[number - 1] = None;
            return if question.needed {
                Err("This one is needed.".to_owned())
            } else {
                Ok(())
            };
        }
        let ids = |drills| -> Result<Vec<String>, String> {
            lines().map(|words| self.named(words, drills)).collect()
        };
        let value = match question.sort {
            Sort::Id => self.id(&text)?,
            Sort::Line => Value::from(text),
            Sort::Lines => Value::from(lines().collect::<Vec<_>>()),
            Sort::OneOf(words) => Value::from(one_of(&words(), &text)?),
            Sort::SomeOf(words) => some_of(&words(), &text)?,
            Sort::Graded(scale) => graded(scale, &text)?,
            Sort::Share => share(&text)?,
            Sort::Number => self::number(&text)?,
            Sort::Condition => Value::from(self.named(&text, false)?),
            Sort::Conditions => Value::from(ids(false)?),
            Sort::Drills => Value::from(ids(true)?),
            Sort::Weighed { key, reason } => {
                let standing = question.of(&self.standing).unwrap_or_default();
                let items = lines().map(|line| {
                    let item = self.weighed_line(line, key, reason)?;
                    Ok(over_standing(&standing, item, key))
                });
                Value::from(items.collect::<Result<Vec<_>, String>>()?)
            }
        };
        self.answers[number - 1] = Some(value);
        Ok(())
    }

    /// The id of the one entry that the words mean.
    fn named(&self, words: &str, drills: bool) -> Result<String, String> {
        let mut nobody = Nobody::default();
        let found = if drills {
            self.drill(words, &mut nobody)
        } else {
            self.condition(words, &mut nobody)
        };
        match found {
            Answer::Got(id) => Ok(id),
            _ if nobody.said.len() > 1 => {
                // What was offered by number: `1  Name (id)`.
                let offers = nobody.said.iter();
                let offers = offers.filter_map(|said| Some(said.split_once("  ")?.1));
                let offers: Vec<&str> = offers.collect();
                Err(format!(
                    "\"{words}\" may be several: write {}",
                    offers.join(", or ")
                ))
            }
            _ => Err(nobody.said.pop().unwrap_or_default()),
        }
    }

    /// `words`, `words: how strongly` or `words: how strongly: why`.
    fn weighed_line(&self, line: &str, key: &str, reason: bool) -> Result<Value, String> {
        let mut parts = line.splitn(3, ':').map(str::trim);
        let id = self.named(parts.next().unwrap_or_default(), false)?;
        let weight = match parts.next().filter(|weight| !weight.is_empty()) {
            Some(weight) => graded(STRENGTH_WORDS, weight)?,
            None => Value::from(UNSAID),
        };
        let mut item = json!({ "id": id, key: weight });
        match parts.next().filter(|why| !why.is_empty()) {
            Some(why) if reason => item["because"] = Value::from(why),
            Some(_) => return Err(format!("\"{line}\" says more than how well it works")),
            None => {}
        }
        item["basis"] = Value::from(OWN_BASIS);
        Ok(item)
    }

    /// The entry as a library file.
    ///
    /// # Errors
    ///
    /// What keeps the answers from being an entry; the questions leave nothing of the sort, except
    /// when a needed one was never asked.
    pub fn text(&self) -> Result<String, String> {
        let mut entry = self.standing.clone();
        for (question, answer) in questions(self.kind).iter().zip(&self.answers) {
            let (outer, inner) = match question.key.split_once('.') {
                Some((outer, inner)) => (outer, Some(inner)),
                None => (question.key, None),
            };
            match (inner, answer) {
                (None, Some(answer)) => {
                    entry.insert(outer.to_owned(), answer.clone());
                }
                (None, None) => {
                    entry.remove(outer);
                }
                (Some(inner), Some(answer)) => {
                    let group = entry.entry(outer).or_insert_with(|| json!({}));
                    group[inner] = answer.clone();
                }
                (Some(inner), None) => {
                    if let Some(group) = entry.get_mut(outer).and_then(Value::as_object_mut) {
                        group.remove(inner);
                        if group.is_empty() {
                            entry.remove(outer);
                        }
                    }
                }
            }
        }
        if self.looked_at_nothing().is_some() {
            return Err(
                "it is said from where to look, but not what is seen from there".to_owned(),
            );
        }
        let file = json!({ self.kind.list(): [entry] });
        let file: LibraryFile = serde_json::from_value(file).map_err(|error| error.to_string())?;
        library_text(&file).map_err(|error| error.to_string())
    }

    fn question(&mut self, at: usize, dialogue: &mut dyn Dialogue) -> Turn {
        let question = questions(self.kind)[at];
        let now = self.answers[at].clone();
        dialogue.say("");
        dialogue.say(&format!("{} ({})", question.ask, example(&question)));
        if let Sort::OneOf(words) | Sort::SomeOf(words) = question.sort {
            dialogue.say(&format!("  {}", words().join(", ")));
        }
        if let Sort::Graded(scale) = question.sort {
            dialogue.say(&format!("  {}", scale_line(scale)));
        }
        if let Some(now) = &now {
            dialogue.say(&format!(
                "  now: {} (Enter keeps it, - takes it out)",
                in_words(now)
            ));
            if let Sort::Lines | Sort::Conditions | Sort::Drills | Sort::Weighed { .. } =
                question.sort
            {
                dialogue.say("  A new answer takes the place of the whole list.");
            }
        }
        let answered = match question.sort {
            Sort::Lines => self.lines(dialogue),
            Sort::Conditions => self.many(dialogue, false),
            Sort::Drills => self.many(dialogue, true),
            Sort::Weighed { key, reason } => self.weighed(key, reason, dialogue),
            _ => self.single(&question, now.is_some(), dialogue),
        };
        match answered {
            Answer::Got(value) => self.answers[at] = Some(value),
            Answer::None if question.needed && now.is_none() => {
                dialogue.say("This one is needed.");
                return self.question(at, dialogue);
            }
            Answer::None => {}
            Answer::Out if question.needed => {
                dialogue.say("This one is needed, so it stays as it is.");
            }
            Answer::Out => self.answers[at] = None,
            Answer::Back => return Turn::Back,
            Answer::Quit => return Turn::Quit,
        }
        Turn::On
    }

    /// One line, asked for again until it fits.
    fn single(
        &self,
        question: &Question,
        answered: bool,
        dialogue: &mut dyn Dialogue,
    ) -> Answer<Value> {
        let offer = match question.sort {
            // Enter keeps what is there already.
            Sort::Id if !answered => self.offered_id(),
            _ => None,
        };
        let prompt = offer
            .as_ref()
            .map_or_else(|| "> ".to_owned(), |id| format!("[{id}] > "));
        loop {
            let line = match line(dialogue, &prompt) {
                Answer::Got(line) => line,
                Answer::None if offer.is_some() => offer.clone().unwrap_or_default(),
                other => return other.map(Value::String),
            };
            let read = match question.sort {
                Sort::Id => self.id(&line),
                Sort::OneOf(words) => one_of(&words(), &line).map(Value::from),
                Sort::SomeOf(words) => some_of(&words(), &line),
                Sort::Graded(scale) => graded(scale, &line),
                Sort::Share => share(&line),
                Sort::Number => number(&line),
                Sort::Condition => match self.condition(&line, dialogue) {
                    Answer::Got(id) => Ok(Value::String(id)),
                    Answer::None | Answer::Out => continue,
                    other => return other.map(Value::String),
                },
                _ => Ok(Value::String(line)),
            };
            match read {
                Ok(value) => return Answer::Got(value),
                Err(trouble) => dialogue.say(&trouble),
            }
        }
    }

    fn lines(&self, dialogue: &mut dyn Dialogue) -> Answer<Value> {
        let mut lines = Vec::new();
        loop {
            match line(dialogue, &format!("{}> ", lines.len() + 1)) {
                Answer::Got(line) => lines.push(line),
                Answer::None => return gathered(lines),
                // A slip in the last line need not cost the ones before it.
                Answer::Back if !lines.is_empty() => {
                    let last = lines.pop().unwrap_or_default();
                    dialogue.say(&format!("Taken back: {last}"));
                }
                other => return other.map(Value::String),
            }
        }
    }

    fn many(&self, dialogue: &mut dyn Dialogue, drills: bool) -> Answer<Value> {
        let mut ids: Vec<String> = Vec::new();
        loop {
            let words = match line(dialogue, &format!("{}> ", ids.len() + 1)) {
                Answer::Got(words) => words,
                Answer::None => return gathered(ids),
                Answer::Back if !ids.is_empty() => {
                    ids.pop();
                    continue;
                }
                other => return other.map(Value::String),
            };
            let found = if drills {
                self.drill(&words, dialogue)
            } else {
                self.condition(&words, dialogue)
            };
            match found {
                Answer::Got(id) if !ids.contains(&id) => ids.push(id),
                Answer::Got(_) | Answer::None | Answer::Out | Answer::Back => {}
                Answer::Quit => return Answer::Quit,
            }
        }
    }

    fn weighed(&self, key: &str, reason: bool, dialogue: &mut dyn Dialogue) -> Answer<Value> {
        let mut items: Vec<Value> = Vec::new();
        loop {
            let words = match line(dialogue, &format!("{}> ", items.len() + 1)) {
                Answer::Got(words) => words,
                Answer::None if items.is_empty() => return Answer::None,
                Answer::None => return Answer::Got(Value::Array(items)),
                Answer::Back if !items.is_empty() => {
                    items.pop();
                    continue;
                }
                other => return other.map(Value::String),
            };
            let id = match self.condition(&words, dialogue) {
                Answer::Got(id) => id,
                Answer::Quit => return Answer::Quit,
                _ => continue,
            };
            if items.iter().any(|item| item["id"] == id.as_str()) {
                dialogue.say("That one is named already.");
                continue;
            }
            let ask = if reason {
                "  Of ten who have it, how many show this because of it?"
            } else {
                "  Done as written, in how many of ten does it help?"
            };
            dialogue.say(&format!("{ask} {}", scale_line(STRENGTH_WORDS)));
            let weight = loop {
                match line(dialogue, &format!("  [{UNSAID}] > ")) {
                    Answer::Got(line) => match graded(STRENGTH_WORDS, &line) {
                        Ok(weight) => break weight,
                        Err(trouble) => dialogue.say(&trouble),
                    },
                    Answer::None => break Value::from(UNSAID),
                    Answer::Back | Answer::Out => break Value::Null,
                    Answer::Quit => return Answer::Quit,
                }
            };
            if weight.is_null() {
                continue;
            }
            let mut item = json!({ "id": id, key: weight });
            if reason {
                match line(dialogue, "  Why, in one sentence for the student? > ") {
                    Answer::Got(why) => item["because"] = Value::String(why),
                    Answer::Quit => return Answer::Quit,
                    _ => {}
                }
            }
            item["basis"] = Value::from(OWN_BASIS);
            items.push(item);
            dialogue.say("Another? (Enter goes on)");
        }
    }

    fn offered_id(&self) -> Option<String> {
        let name = self.answers.first()?.as_ref()?.as_str()?;
        let id = kebab(name);
        (!id.is_empty()).then_some(id)
    }

    fn id(&self, line: &str) -> Result<Value, String> {
        let good = kebab(line);
        if good != line {
            return Err(if good.is_empty() {
                "An id is small letters a to z and digits, with hyphens between words.".to_owned()
            } else {
                format!("`{line}` is not an id: write {good}")
            });
        }
        if self.base.find(line).is_some() || self.base.find_drill(line).is_some() {
            return Err(format!(
                "There is an entry `{line}` already: write another id, or edit that entry."
            ));
        }
        Ok(Value::from(line))
    }

    /// The condition that the words mean; several are offered by number.
    fn condition(&self, words: &str, dialogue: &mut dyn Dialogue) -> Answer<String> {
        let named = |id: &str, name: &str| format!("{name} ({id})");
        let mut offers: Vec<(String, String)> = Vec::new();
        let mut offer = |key| {
            let entry = self.base.condition(key);
            if entry.retired_for.is_none() && !offers.iter().any(|(id, _)| *id == entry.id) {
                offers.push((entry.id.clone(), named(&entry.id, &entry.name)));
            }
        };
        if let Some(key) = self.base.find(words) {
            offer(key);
        } else {
            let reading = self.reader.read(words, &Lesson::default());
            if let Reading::Clear { condition, .. } = &reading {
                offer(*condition);
            }
            let part = words.to_lowercase();
            let keys = self.base.condition_keys();
            let holds = |text: &str| text.to_lowercase().contains(&part);
            let parts = keys.filter(|key| {
                let entry = self.base.condition(*key);
                holds(&entry.id) || holds(&entry.name)
            });
            parts.take(OFFERED).for_each(&mut offer);
            if let Reading::Several(candidates) | Reading::Unknown(candidates) = &reading {
                candidates
                    .iter()
                    .for_each(|candidate| offer(candidate.condition));
            }
        }
        choose(words, offers, dialogue)
    }

    fn drill(&self, words: &str, dialogue: &mut dyn Dialogue) -> Answer<String> {
        let part = words.to_lowercase();
        let drills = self
            .base
            .drills
            .iter()
            .filter(|drill| drill.retired_for.is_none());
        let named = |drill: &crate::knowledge::Drill| {
            (drill.id.clone(), format!("{} ({})", drill.name, drill.id))
        };
        let mut offers: Vec<(String, String)> = if self.base.find_drill(words).is_some() {
            drills
                .clone()
                .filter(|drill| drill.id == words)
                .map(named)
                .collect()
        } else {
            let holds = |text: &str| text.to_lowercase().contains(&part);
            drills
                .clone()
                .filter(|drill| holds(&drill.id) || holds(&drill.name))
                .take(OFFERED)
                .map(named)
                .collect()
        };
        if offers.is_empty() {
            let near = nearest(
                words,
                drills.clone().map(|drill| drill.id.as_str()),
                OFFERED,
            );
            offers = drills
                .filter(|drill| near.contains(&drill.id.as_str()))
                .map(named)
                .collect();
        }
        choose(words, offers, dialogue)
    }
}

/// What a strength is taken for when Enter passes it over: what the format takes an effect for that
/// is left out.
const UNSAID: &str = "fifty-fifty";

/// What a coach's own links and effects rest on.
const OWN_BASIS: &str = "own lessons";

/// How many entries are offered for part of a name.
const OFFERED: usize = 9;

/// What came of a prompt.
enum Answer<T> {
    Got(T),
    None,
    Out,
    Back,
    Quit,
}

impl<T> Answer<T> {
    fn map<U>(self, with: impl FnOnce(T) -> U) -> Answer<U> {
        match self {
            Answer::Got(value) => Answer::Got(with(value)),
            Answer::None => Answer::None,
            Answer::Out => Answer::Out,
            Answer::Back => Answer::Back,
            Answer::Quit => Answer::Quit,
        }
    }
}

fn line(dialogue: &mut dyn Dialogue, prompt: &str) -> Answer<String> {
    let Some(line) = dialogue.ask(prompt) else {
        return Answer::Quit;
    };
    match line.trim() {
        "" => Answer::None,
        "<" => Answer::Back,
        "-" => Answer::Out,
        "q!" => Answer::Quit,
        line => Answer::Got(line.to_owned()),
    }
}

fn gathered(lines: Vec<String>) -> Answer<Value> {
    if lines.is_empty() {
        Answer::None
    } else {
        Answer::Got(Value::from(lines))
    }
}

/// One of what is offered; the only one is taken and said.
fn choose(
    words: &str,
    offers: Vec<(String, String)>,
    dialogue: &mut dyn Dialogue,
) -> Answer<String> {
    match offers.as_slice() {
        [] => {
            dialogue.say(&format!(
                "Nothing in the library is called `{words}`; try another part of its name."
            ));
            Answer::None
        }
        [(id, name)] => {
            dialogue.say(&format!("  {name}"));
            Answer::Got(id.clone())
        }
        many => {
            for (number, (_, name)) in many.iter().enumerate() {
                dialogue.say(&format!("  {}  {name}", number + 1));
            }
            loop {
                match line(dialogue, "  Which one? (number, Enter for none) > ") {
                    Answer::Got(line) => {
                        let at = line
                            .parse::<usize>()
                            .ok()
                            .and_then(|number| number.checked_sub(1));
                        match at.and_then(|at| many.get(at)) {
                            Some((id, _)) => return Answer::Got(id.clone()),
                            None => {
                                dialogue.say(&format!("Write a number from 1 to {}.", many.len()))
                            }
                        }
                    }
                    other => return other,
                }
            }
        }
    }
}

fn questions(kind: EntryKind) -> &'static [Question] {
    match kind {
        EntryKind::Drill => DRILL,
        EntryKind::Link => LINK,
        EntryKind::Fault | EntryKind::Cause | EntryKind::Outcome => CONDITION,
    }
}

fn example(question: &Question) -> String {
    let repeated = matches!(
        question.sort,
        Sort::Lines | Sort::Conditions | Sort::Drills | Sort::Weighed { .. }
    );
    let ends = if repeated {
        "; an empty line ends it"
    } else {
        ""
    };
    format!("for example: {}{ends}", question.example)
}

fn one_of(words: &[&'static str], line: &str) -> Result<&'static str, String> {
    let typed = kebab(line);
    let exact = words.iter().find(|word| **word == typed);
    let mut starts = words
        .iter()
        .filter(|word| word.starts_with(&typed) && !typed.is_empty());
    match (exact, starts.next(), starts.next()) {
        (Some(word), ..) | (None, Some(word), None) => Ok(word),
        _ => {
            let near = nearest(&typed, words.iter().copied(), 1);
            Err(match near.first() {
                Some(near) => format!("`{line}` is not one of them; did you mean {near}?"),
                None => format!("`{line}` is not one of: {}", words.join(", ")),
            })
        }
    }
}

fn some_of(words: &[&'static str], line: &str) -> Result<Value, String> {
    let parts = line
        .split([',', ';'])
        .map(str::trim)
        .filter(|part| !part.is_empty());
    let found = parts
        .map(|part| one_of(words, part))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Value::from(found))
}

fn graded(scale: &[(&'static str, f64)], line: &str) -> Result<Value, String> {
    if let Ok(number) = line.replace(',', ".").parse::<f64>() {
        return if number > 0.0 && number < 1.0 {
            Ok(Value::from(number))
        } else {
            Err(format!(
                "`{line}` is no chance: write a number between 0 and 1, such as 0.4."
            ))
        };
    }
    let words: Vec<&str> = scale.iter().map(|(word, _)| *word).collect();
    one_of(&words, line)
        .map(Value::from)
        .map_err(|trouble| format!("{trouble} A number between 0 and 1 will do too."))
}

/// A share of students, as a coach says one.
fn share(line: &str) -> Result<Value, String> {
    let number = |text: &str| text.trim().replace(',', ".").parse::<f64>().ok();
    let parts = ["out of", "of", "in", "/"];
    let of = parts.iter().find_map(|part| line.split_once(part));
    let share = if let Some(percent) = line.trim().strip_suffix('%') {
        number(percent).map(|percent| percent / 100.0)
    } else if let Some((some, all)) = of {
        number(some).zip(number(all)).map(|(some, all)| some / all)
    } else {
        // "3" answers the question how many of ten.
        number(line).map(|some| if some < 1.0 { some } else { some / 10.0 })
    };
    share
        .filter(|share| *share > 0.0 && *share < 1.0)
        .map(Value::from)
        .ok_or_else(|| {
            format!("`{line}` is no share of ten: write such as 3 of 10, 0.3 or 30 %, above none and below all.")
        })
}

fn number(line: &str) -> Result<Value, String> {
    line.parse::<u32>()
        .map(Value::from)
        .map_err(|_| format!("`{line}` is not a whole number."))
}

/// An answer on one line.
fn in_words(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Array(items) => items.iter().map(in_words).collect::<Vec<_>>().join("; "),
        Value::Object(fields) => {
            let weight = fields
                .get("effect")
                .or(fields.get("strength"))
                .map(in_words)
                .unwrap_or_default();
            format!(
                "{} ({weight})",
                fields.get("id").map(in_words).unwrap_or_default()
            )
        }
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{LayerText, Strictness, library_file, load};
    use std::collections::VecDeque;

    /// Answers from a list, and keeps what was said.
    struct Script {
        answers: VecDeque<&'static str>,
        said: Vec<String>,
        kept: Value,
    }

    impl Script {
        fn new(answers: &[&'static str]) -> Self {
            Self {
                answers: answers.iter().copied().collect(),
                said: Vec::new(),
                kept: Value::Null,
            }
        }
    }

    impl Dialogue for Script {
        fn say(&mut self, text: &str) {
            self.said.push(text.to_owned());
        }

        fn ask(&mut self, _: &str) -> Option<String> {
            self.answers.pop_front().map(str::to_owned)
        }

        fn keep(&mut self, answers: &Value) {
            self.kept = answers.clone();
        }
    }

    fn base() -> KnowledgeBase {
        let text = "faults:\n- {id: hangs-back, name: Hangs back, stage: downswing}\n- {id: hips-hang, name: Hips hang, stage: top}\n";
        load(
            &[LayerText::new("small", [("a.yaml", text)])],
            Strictness::ErrorsOnly,
        )
        .expect("loads")
        .base
    }

    #[test]
    fn a_link_is_asked_for_with_ids_by_part_of_a_name_and_a_way_back() {
        let base = base();
        let mut guide = Guide::new(EntryKind::Link, &base);
        // "hang" fits two; then the effect is answered wrongly, and taken back.
        let mut script = Script::new(&[
            "hang",
            "7",
            "1",
            "hips hang",
            "<",
            "hips-hang",
            "often",
            "4 of 10",
            "It pulls",
            "<",
            "It drags",
            "",
        ]);
        assert_eq!(guide.run(&mut script), Turn::On);
        let file = library_file(&guide.text().expect("an entry")).expect("reads");
        assert_eq!(file.links[0].cause, "hangs-back");
        assert_eq!(file.links[0].effect, "hips-hang");
        assert_eq!(file.links[0].share, Some(0.4));
        assert_eq!(file.links[0].because.as_deref(), Some("It drags"));
        assert!(
            script
                .said
                .iter()
                .any(|said| said.contains("Write a number from 1 to 2"))
        );
        assert!(
            script
                .said
                .iter()
                .any(|said| said.contains("is no share of ten"))
        );
    }

    #[test]
    fn a_share_is_taken_as_a_coach_says_it() {
        for (said, meant) in [
            ("3 of 10", 0.3),
            ("1 in 4", 0.25),
            ("0,3", 0.3),
            ("30 %", 0.3),
            ("3", 0.3),
            ("2 out of 5", 0.4),
        ] {
            assert_eq!(share(said), Ok(Value::from(meant)), "{said}");
        }
        for said in ["0", "10", "all", "11 of 10", "-1"] {
            assert!(share(said).is_err(), "{said}");
        }
    }

    #[test]
    fn a_drill_needs_few_answers_and_one_can_be_given_again() {
        let base = base();
        let mut guide = Guide::new(EntryKind::Drill, &base);
        let mut script = Script::new(&[
            "",
            "Heel peel",
            "",
            "",
            "setup",
            "hangs-back",
            "",
            "",
            "down",
            "iron, chip",
            "",
            "",
            "",
            "Step one",
            "Step two",
            "<",
            "Step 2",
            "",
            "",
            "",
            "",
            "",
            "",
            "3",
            "x",
            "8",
        ]);
        script.answers.extend(std::iter::repeat_n("", 10));
        assert_eq!(guide.run(&mut script), Turn::On);
        let number = guide
            .answers()
            .iter()
            .find(|(_, key, _)| *key == "purpose")
            .map(|(number, ..)| *number);
        let mut again = Script::new(&["Let the heel go"]);
        assert_eq!(guide.again(number.expect("asked"), &mut again), Turn::On);
        let file = library_file(&guide.text().expect("an entry")).expect("reads");
        let drill = &file.drills[0];
        assert_eq!((drill.id.as_str(), drill.steps.len()), ("heel-peel", 2));
        assert_eq!(drill.steps[1], "Step 2");
        assert_eq!(drill.purpose.as_deref(), Some("Let the heel go"));
        assert_eq!(drill.stage, Some(Stage::Downswing));
        assert_eq!(
            drill.dose.map(|dose| (dose.sets, dose.reps)),
            Some((Some(3), Some(8)))
        );
    }

    #[test]
    fn from_where_is_not_dropped_and_answers_are_taken_up() {
        let base = base();
        let mut guide = Guide::new(EntryKind::Fault, &base);
        let answers = [
            "Sways",
            "",
            "",
            "backswing",
            "",
            "",
            "face-on",
            "The hips slide",
            "",
        ];
        let mut script = Script::new(&answers);
        // The answers run out, as when the terminal is closed.
        assert_eq!(guide.run(&mut script), Turn::Quit);
        assert!(
            script
                .said
                .iter()
                .any(|said| said.contains("not what is seen from there"))
        );
        let mut again = Guide::new(EntryKind::Fault, &base);
        assert!(again.take_up(&script.kept));
        assert!(!again.take_up(&json!({"answers": []})));
        let mut rest = Script::new(&[""; 3]);
        assert_eq!(again.run(&mut rest), Turn::On);
        let file = library_file(&again.text().expect("an entry")).expect("reads");
        let look = file.faults[0].look.as_ref().expect("kept");
        assert_eq!(
            (look.from.as_slice(), look.what.as_str()),
            (&[View::FaceOn][..], "The hips slide")
        );
    }

    #[test]
    fn leaving_and_running_out_of_answers_end_it() {
        let base = base();
        for answers in [&["q!"][..], &[], &["A name", "q!"]] {
            let mut guide = Guide::new(EntryKind::Drill, &base);
            assert_eq!(guide.run(&mut Script::new(answers)), Turn::Quit);
        }
    }
}
