//! What a plan says: one type, which every room that shows it reads.

use super::frame::Frame;
use super::rules::{Criterion, PracticeOrder};
use crate::diagnosis::NextLook;
use crate::knowledge::{ConditionKey, DrillKey, Place, Refer};

/// A start that the lesson works on.
#[derive(Clone, Debug, PartialEq)]
pub struct Priority {
    /// The condition.
    pub condition: ConditionKey,
    /// Share of what was seen that would be gone had it not started; from 0 to 1.
    pub clears: f64,
    /// The chance that the walk up the links from what was seen passes or stops at it; from 0 to 1.
    pub on_the_way: f64,
    /// The chance that the chosen drills mend it, as the library's effects have it.
    pub mended: f64,
    /// Whether it is a link in the middle more than a start: what is gained lasts while it is held.
    pub is_link: bool,
    /// The chain from it to what it does most for, both included; empty when the library has none.
    pub chain: Vec<ConditionKey>,
    /// The sentence of each link of the chain, where the library has one.
    pub because: Vec<Option<String>>,
}

/// One drill of the lesson.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// The drill.
    pub drill: DrillKey,
    /// Minutes it takes.
    pub minutes: f64,
    /// The priorities it works on; empty when it is there because another has to come after it.
    pub works_on: Vec<ConditionKey>,
    /// Drills of this plan that come after it by the library's word.
    pub opens: Vec<DrillKey>,
    /// Why it is there, in a sentence.
    pub why: String,
    /// What the plan would clear less without it, and without what comes after it; from 0 to 1.
    pub skipping_costs: f64,
    /// What it can make worse that is not likely there, but not unlikely either.
    pub watch_for: Vec<ConditionKey>,
    /// What has to be met before going a rung up; none where the check counts otherwise than by tries.
    pub criterion: Option<Criterion>,
    /// One or two cues.
    pub cues: Vec<String>,
}

/// A drill that is not in the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// The drill.
    pub drill: DrillKey,
    /// What it would have worked on.
    pub for_condition: ConditionKey,
    /// One word for why.
    pub reason: &'static str,
    /// Why, in a sentence.
    pub why: String,
}

/// A leading cause that no drill here can work on.
#[derive(Clone, Debug, PartialEq)]
pub struct OutOfReach {
    /// The cause.
    pub condition: ConditionKey,
    /// Share of what was seen that would be gone had it not started.
    pub clears: f64,
    /// Its best remedies that do not fit, each with the reason; empty when the library has none.
    pub remedies: Vec<(DrillKey, String)>,
}

/// Something that waits until something else is dealt with.
#[derive(Clone, Debug, PartialEq)]
pub struct NotBefore {
    /// What waits.
    pub waits: ConditionKey,
    /// What it waits for: a priority.
    pub until: ConditionKey,
    /// The chain from the one to the other, both included.
    pub chain: Vec<ConditionKey>,
}

/// What a longer lesson would buy.
#[derive(Clone, Debug, PartialEq)]
pub struct MoreTime {
    /// How much longer, in minutes.
    pub minutes: u32,
    /// What the longer plan is expected to clear; never less than the plan.
    pub expected_to_clear: f64,
    /// Drills that it has and the plan has not.
    pub adds: Vec<DrillKey>,
}

/// Handing the student over, when something hurts.
#[derive(Clone, Debug, PartialEq)]
pub struct Referral {
    /// What hurts.
    pub pains: Vec<ConditionKey>,
    /// The library's referrals for it; may be empty.
    pub remedies: Vec<DrillKey>,
    /// Minutes of the lesson that it takes; it comes before everything else.
    pub minutes: f64,
}

/// A lesson, and the practice until the next.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Length of the lesson in minutes.
    pub minutes: u32,
    /// Minutes that are spoken for; at most `minutes`.
    pub used: f64,
    /// Minutes that the drills leave: a target, the whole routine, one ball at a time. 0 when there are
    /// none to speak of.
    pub free: f64,
    /// What to look at before it is worked on, if anything: the first job, or a second.
    pub look_first: Option<ConditionKey>,
    /// Where it is.
    pub place: Place,
    /// Whether the place was given, or taken from the shot.
    pub place_given: bool,
    /// Minutes beside the drills.
    pub frame: Frame,
    /// Whom the student is sent to, when something was said of the body.
    pub refer: Option<Refer>,
    /// A referral and nothing else, when something hurts.
    pub referral: Option<Referral>,
    /// What the lesson works on, what is worth most first; at most two, and the drills in lesson order.
    pub priorities: Vec<Priority>,
    /// Expected share of what was seen that would be gone; from 0 to 1.
    pub expected_to_clear: f64,
    /// Before anything is changed: what to note.
    pub baseline: String,
    /// The drills, in the order they are done.
    pub steps: Vec<Step>,
    /// After the last drill: what to look at again.
    pub retest: Vec<ConditionKey>,
    /// Drills that would have worked on the priorities, or on a leading cause, and are not in.
    pub left_out: Vec<LeftOut>,
    /// Leading causes that would clear more than the priorities and that no drill here works on.
    pub out_of_reach: Vec<OutOfReach>,
    /// What waits for the priorities, by the chain.
    pub not_before: Vec<NotBefore>,
    /// What more time would buy.
    pub more_time: MoreTime,
    /// Things beyond club and balls that the steps need.
    pub to_hand: Vec<String>,
    /// Practice until the next lesson; empty sessions when there is nothing to practise.
    pub practice: Practice,
    /// Warnings that the drills carry, each once, and notes for the kind of student.
    pub cautions: Vec<String>,
    /// What to look at instead, when nothing can be worked on yet.
    pub look_instead: Vec<NextLook>,
    /// Why there is nothing to work on; `None` when there is.
    pub nothing: Option<Nothing>,
}

/// Why a plan has no steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Nothing {
    /// Something hurts, or somebody is ill: that comes first.
    Referred,
    /// Nothing was reported that has to be explained.
    NothingSeen,
    /// Nothing that the library knows would clear any of it.
    NoCause,
    /// There are causes, and no drill for them fits the student, the place and the day.
    NoDrillFits,
    /// Drills would fit, and none of them fits into the time.
    NoTime,
}

impl Nothing {
    /// One word for a program.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Nothing::Referred => "referred",
            Nothing::NothingSeen => "nothing-seen",
            Nothing::NoCause => "no-cause",
            Nothing::NoDrillFits => "no-drill-fits",
            Nothing::NoTime => "no-time",
        }
    }

    /// A sentence that says what to do.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Nothing::Referred => {
                "No lesson today. Note what was seen; it is worked on when a licensed health professional has said what the student may do."
            }
            Nothing::NothingSeen => {
                "Nothing was reported that has to be explained. Say what you saw, not only what you did not see."
            }
            Nothing::NoCause => {
                "Nothing in the library would clear what was seen. Look at the points below before choosing a drill."
            }
            Nothing::NoDrillFits => {
                "No drill for the leading causes fits the student, the place and what is at hand; below is why. Change one of them, or look at the points below."
            }
            Nothing::NoTime => {
                "The drills for the leading causes take longer than the work this lesson has room for; give it more minutes."
            }
        }
    }
}

/// One task in one session.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// The drill.
    pub drill: DrillKey,
    /// Minutes.
    pub minutes: f64,
    /// Sets; at least 1.
    pub sets: u32,
    /// Repetitions a set.
    pub reps: u32,
    /// Balls for all of it; 0 for a task without balls.
    pub balls: u32,
}

/// One session.
#[derive(Clone, Debug, PartialEq)]
pub struct Session {
    /// The week, from 1.
    pub week: u32,
    /// The day of that week, from 1.
    pub day: u32,
    /// How the tasks are mixed.
    pub order: PracticeOrder,
    /// Minutes of warm-up before the first task.
    pub warm_up: f64,
    /// The tasks, in order.
    pub blocks: Vec<Block>,
    /// Minutes of target shots, or full rehearsals, at the end.
    pub close: f64,
}

impl Session {
    /// Minutes of all of it.
    #[must_use]
    pub fn minutes(&self) -> f64 {
        self.warm_up + self.blocks.iter().map(|block| block.minutes).sum::<f64>() + self.close
    }

    /// Balls of all of it.
    #[must_use]
    pub fn balls(&self) -> u32 {
        self.blocks.iter().map(|block| block.balls).sum()
    }
}

/// Practice until the next lesson.
#[derive(Clone, Debug, PartialEq)]
pub struct Practice {
    /// Weeks until the next lesson.
    pub weeks: u32,
    /// Minutes that each session was to take.
    pub minutes: u32,
    /// What the student does, at most three drills of the lesson, in order.
    pub tasks: Vec<DrillKey>,
    /// Every session, first week first.
    pub sessions: Vec<Session>,
    /// Seconds between balls.
    pub rest_seconds: u32,
    /// When to stop.
    pub stop_rules: Vec<&'static str>,
    /// What to film for the next lesson.
    pub film: Vec<&'static str>,
    /// What else to look at or ask about at the next lesson, in the library's words.
    pub bring: Vec<String>,
    /// Whether the next lesson comes too early to judge the change.
    pub too_early_to_judge: bool,
}
