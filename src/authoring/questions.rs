//! What is asked for each sort of entry, in order; the words of closed lists are those of the format.

use super::EntryKind;
use crate::knowledge::words::{COMMON_WORDS, scale_line};
use crate::knowledge::{Place, RemedyKind, Rung, Shot, Stage, View};

/// What answers a question takes.
#[derive(Clone, Copy, Debug)]
pub(super) enum Sort {
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

/// One question.
#[derive(Clone, Copy, Debug)]
pub(super) struct GuideQuestion {
    /// The key that it fills, with a `.` before an inner one.
    pub(super) key: &'static str,
    pub(super) ask: &'static str,
    pub(super) example: &'static str,
    pub(super) needed: bool,
    pub(super) sort: Sort,
}

const fn q(
    key: &'static str,
    ask: &'static str,
    example: &'static str,
    sort: Sort,
) -> GuideQuestion {
    GuideQuestion {
        key,
        ask,
        example,
        needed: false,
        sort,
    }
}

const fn must(
    key: &'static str,
    ask: &'static str,
    example: &'static str,
    sort: Sort,
) -> GuideQuestion {
    GuideQuestion {
        needed: true,
        ..q(key, ask, example, sort)
    }
}

/// The words of a closed list of the format.
pub(super) type Words = fn() -> Vec<&'static str>;

const KINDS: Words = || spelled(RemedyKind::ALL, RemedyKind::as_str);
const STAGES: Words = || spelled(Stage::ALL, Stage::as_str);
const SHOTS: Words = || spelled(Shot::ALL, Shot::as_str);
const VIEWS: Words = || spelled(View::ALL, View::as_str);
const RUNGS: Words = || spelled(Rung::ALL, Rung::as_str);
const PLACES: Words = || spelled(Place::ALL, Place::as_str);

fn spelled<T: Copy>(all: &[T], spelling: fn(T) -> &'static str) -> Vec<&'static str> {
    all.iter().map(|value| spelling(*value)).collect()
}

const DRILL: &[GuideQuestion] = &[
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

const LOOK: [GuideQuestion; 2] = [
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

const HOW_COMMON: GuideQuestion = q(
    "how_common",
    "Of those who take lessons, how many have it?",
    "common, or 0.2",
    Sort::Graded(COMMON_WORDS),
);

const CAUSED_BY: GuideQuestion = q(
    "caused_by",
    "What brings it about, directly? Part of a name will do",
    "grip too weak",
    Sort::Weighed {
        key: "strength",
        reason: true,
    },
);

const CONDITION_HEAD: [GuideQuestion; 5] = [
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

const CAUTION: GuideQuestion = q(
    "caution",
    "A warning to give with it",
    "Pain: refer to a licensed health professional",
    Sort::Line,
);

const CONDITION: &[GuideQuestion] = &[
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

const LINK: &[GuideQuestion] = &[
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

/// The questions for a sort of entry, in order, as [`super::Guide::put`] numbers them from 1.
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

/// The questions for a sort of entry; none for sources and cases, which are written in a file.
pub(super) fn questions(kind: EntryKind) -> &'static [GuideQuestion] {
    match kind {
        EntryKind::Drill => DRILL,
        EntryKind::Link => LINK,
        EntryKind::Fault | EntryKind::Cause | EntryKind::Outcome => CONDITION,
        EntryKind::Source | EntryKind::Case => &[],
    }
}

/// How an answer may look, and how a list ends.
pub(super) fn example(question: &GuideQuestion) -> String {
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
