//! Which drills fit the student, the place and the day, and why the others do not.

use crate::diagnosis::{Diagnosis, State};
use crate::knowledge::{
    ConditionKey, Drill, DrillKey, KnowledgeBase, Place, Refer, RemedyKind, Rung, Shot,
};
use crate::lesson::{Lesson, NotFor};
use crate::words::any_pain;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// A drill's possible harm is worth a word when what it can make worse is at least this likely. It
/// never removes a drill: nobody has looked yet.
const WATCH: f64 = 0.15;

/// Why a drill is not for this lesson, whatever time there is.
#[derive(Clone, Debug, PartialEq)]
pub enum Unfit {
    /// It is kept only so that its id is never reused.
    Retired,
    /// It hands the student over, which is not work on the swing.
    Referral,
    /// It is not for this lesson.
    NotFor(NotFor),
    /// It must not be done with something that is there.
    NotWith(ConditionKey),
    /// It can make worse something that was seen.
    Aggravates(ConditionKey),
    /// Something hurts, or somebody is ill.
    InPain,
    /// It is more than gentle, and nobody has asked the doctor yet.
    AskFirst,
    /// It comes after a drill that does not fit.
    Waits(DrillKey, Box<Unfit>),
}

impl Unfit {
    /// One word for a program.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Unfit::Retired => "retired",
            Unfit::Referral => "referral",
            Unfit::NotFor(NotFor::Shot(_)) => "shot",
            Unfit::NotFor(NotFor::Place(_)) => "place",
            Unfit::NotFor(NotFor::Equipment(_)) => "equipment",
            Unfit::NotFor(NotFor::Level(_)) => "level",
            Unfit::NotFor(NotFor::Suits(_) | NotFor::OnlyFor(_)) => "suits",
            Unfit::NotWith(_) => "not-with",
            Unfit::Aggravates(_) => "aggravates",
            Unfit::InPain => "pain",
            Unfit::AskFirst => "ask-first",
            Unfit::Waits(..) => "after",
        }
    }

    /// A sentence for a coach.
    #[must_use]
    pub fn words(&self, base: &KnowledgeBase) -> String {
        let name = |key: &ConditionKey| base.condition(*key).name.clone();
        match self {
            Unfit::Retired => "It is no longer in use.".to_owned(),
            Unfit::Referral => "It hands the student over; it is no work on the swing.".to_owned(),
            Unfit::NotFor(NotFor::Shot(shot)) => format!("It is not for a {}.", shot.words()),
            Unfit::NotFor(NotFor::Place(place)) => {
                format!("It cannot be done here ({}).", place.words())
            }
            Unfit::NotFor(NotFor::Equipment(missing)) => {
                format!("It needs: {}.", missing.join(", "))
            }
            Unfit::NotFor(NotFor::Level(level)) => {
                format!("It is not for a student at this level ({level}).")
            }
            Unfit::NotFor(NotFor::Suits(suits)) => {
                format!("It is not made to fit {}.", suits.words())
            }
            Unfit::NotFor(NotFor::OnlyFor(suits)) => {
                format!("It is for {} and for nobody else.", suits.words())
            }
            Unfit::NotWith(key) => format!("Not to be done with: {}.", name(key)),
            Unfit::Aggravates(key) => {
                format!("It can make worse what was seen: {}.", name(key))
            }
            Unfit::InPain => {
                "Nothing is worked on while something hurts and nobody licensed has looked at it."
                    .to_owned()
            }
            Unfit::AskFirst => {
                "More than set-up or a gentle rehearsal waits until the doctor was asked."
                    .to_owned()
            }
            Unfit::Waits(first, reason) => format!(
                "It comes after {}, which does not fit: {}",
                base.drill(*first).name,
                reason.words(base)
            ),
        }
    }
}

/// What is believed of the student, and what follows for every drill.
pub(crate) struct Fit<'a> {
    base: &'a KnowledgeBase,
    /// Where the lesson is.
    pub place: Place,
    /// The lesson, its place settled.
    lesson: Lesson,
    /// Pains reported, given as a limit or not.
    pub pains: BTreeSet<ConditionKey>,
    /// Whom to send the student to.
    pub refer: Option<Refer>,
    /// What was seen, and limits that were given.
    there: BTreeSet<ConditionKey>,
    /// How likely each other condition is; what is missing is not known.
    chance: BTreeMap<ConditionKey, f64>,
    verdicts: Vec<Option<Unfit>>,
}

impl<'a> Fit<'a> {
    pub(crate) fn new(
        base: &'a KnowledgeBase,
        diagnosis: &Diagnosis,
        known: &[DrillKey],
        place: Place,
        shot: Option<Shot>,
    ) -> Self {
        let lesson = &diagnosis.lesson;
        let mut chance: BTreeMap<ConditionKey, f64> = diagnosis
            .causes
            .iter()
            .map(|cause| (cause.condition, cause.likely_there()))
            .collect();
        let mut there: BTreeSet<ConditionKey> = lesson.limits.iter().copied().collect();
        there.extend(diagnosis.complaints.closed_to());
        for observation in &diagnosis.observations {
            if observation.state.is_finding() {
                there.insert(observation.condition);
            } else if observation.state == State::NotSeen {
                chance.insert(observation.condition, 0.0);
            }
        }
        let of_limits = lesson
            .limits
            .iter()
            .copied()
            .filter(|key| base.condition(*key).pain);
        let refer = of_limits
            .clone()
            .map(|key| base.condition(key).refer.unwrap_or(Refer::Professional))
            .chain(diagnosis.complaints.refer())
            .min();
        let mut pains: BTreeSet<ConditionKey> = diagnosis.complaints.pains();
        pains.extend(of_limits);
        // Something is the matter, and nobody said where.
        if refer.is_some() && pains.is_empty() {
            pains.extend(any_pain(base));
        }
        let mut fit = Self {
            base,
            place,
            lesson: Lesson {
                place: Some(place),
                // A short shot or a putt is not mended with the drills of the full swing; the shots of
                // the full swing share theirs.
                shot: lesson
                    .shot
                    .or(shot.filter(|shot| !Shot::FullSwing.applies_to(*shot))),
                ..lesson.clone()
            },
            pains,
            there,
            refer,
            chance,
            verdicts: Vec::new(),
        };
        let alone = base.drills.iter().map(|drill| fit.alone(drill)).collect();
        fit.verdicts = with_what_comes_first(base, alone, known);
        fit
    }

    /// Whether a condition was seen, or given as a limit.
    pub(crate) fn is_there(&self, key: ConditionKey) -> bool {
        self.there.contains(&key)
    }

    /// Whether a condition is likely enough, without anybody having looked, to be named beside a
    /// drill that can make it worse.
    pub(crate) fn is_worth_a_word(&self, key: ConditionKey) -> bool {
        self.chance.get(&key).is_some_and(|chance| *chance >= WATCH)
    }

    /// Whether there is no lesson, only a referral.
    pub(crate) fn stops(&self) -> bool {
        self.refer.is_some_and(|refer| refer != Refer::Ask)
    }

    /// Why a drill does not fit; `None` when it does.
    pub(crate) fn verdict(&self, key: DrillKey) -> Option<&Unfit> {
        self.verdicts[key.0].as_ref()
    }

    fn alone(&self, drill: &Drill) -> Option<Unfit> {
        if drill.retired_for.is_some() {
            return Some(Unfit::Retired);
        }
        if drill.kind == RemedyKind::Referral {
            return Some(Unfit::Referral);
        }
        self.harm(drill)
            .or_else(|| self.lesson.refuses(drill).map(Unfit::NotFor))
    }

    /// What speaks against a drill because of the student's body or swing.
    fn harm(&self, drill: &Drill) -> Option<Unfit> {
        if self.stops() {
            return Some(Unfit::InPain);
        }
        let there = |key: &&ConditionKey| self.is_there(**key);
        if let Some(key) = drill.not_with.iter().find(there) {
            return Some(Unfit::NotWith(*key));
        }
        if let Some(key) = self.named_pain(drill) {
            return Some(Unfit::NotWith(key));
        }
        if self.refer.is_some() && !drill.is_gentle() {
            return Some(Unfit::AskFirst);
        }
        drill
            .aggravates
            .iter()
            .find(there)
            .map(|key| Unfit::Aggravates(*key))
    }

    /// A pain for which the drill is closed: the one reported; any, when it is not known which part
    /// hurts or when the drill is closed to pain as such.
    fn named_pain(&self, drill: &Drill) -> Option<ConditionKey> {
        let any = any_pain(self.base);
        let unknown_part = any.is_some_and(|any| self.pains.contains(&any));
        if self.pains.is_empty() {
            return None;
        }
        drill.not_with.iter().copied().find(|key| {
            self.pains.contains(key)
                || Some(*key) == any
                || (unknown_part && self.base.condition(*key).is_pain())
        })
    }
}

/// Whether a drill belongs to the full swing, which loads the body as short shots and putts do not.
pub(crate) fn is_full_swing(drill: &Drill) -> bool {
    drill
        .shots
        .iter()
        .any(|shot| matches!(shot, Shot::FullSwing | Shot::Driver | Shot::Iron))
}

/// Whether a drill needs a warm body first: full swings at speed.
pub(crate) fn needs_warm_body(drill: &Drill) -> bool {
    drill.rung >= Rung::FullSpeed && is_full_swing(drill)
}

/// A drill that comes after one that does not fit does not fit either, unless that one is known
/// from earlier lessons.
fn with_what_comes_first(
    base: &KnowledgeBase,
    alone: Vec<Option<Unfit>>,
    known: &[DrillKey],
) -> Vec<Option<Unfit>> {
    let mut later: BTreeMap<DrillKey, Vec<DrillKey>> = BTreeMap::new();
    for key in base.drill_keys() {
        for first in &base.drill(key).after {
            later.entry(*first).or_default().push(key);
        }
    }
    let mut verdicts = alone;
    let mut spread: VecDeque<DrillKey> = base
        .drill_keys()
        .filter(|key| verdicts[key.0].is_some() && !known.contains(key))
        .collect();
    while let Some(first) = spread.pop_front() {
        for next in later.get(&first).into_iter().flatten() {
            if verdicts[next.0].is_some() {
                continue;
            }
            verdicts[next.0] = match &verdicts[first.0] {
                Some(Unfit::Waits(root, reason)) => Some(Unfit::Waits(*root, reason.clone())),
                Some(reason) => Some(Unfit::Waits(first, Box::new(reason.clone()))),
                None => None,
            };
            if !known.contains(next) {
                spread.push_back(*next);
            }
        }
    }
    verdicts
}
