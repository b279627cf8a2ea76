//! From a diagnosis to a lesson.

use super::answer::Plan;
use super::choose::{Choice, Item, Problem, SAME};
use super::fit::{Fit, needs_warm_body};
use super::frame::Frame;
use super::options::{PlanError, PlanOptions, goes_with, usual_place};
use super::order::{Placed, in_order, lesson_order};
use super::rules;
use super::value::{Gains, PRIORITIES, RUNGS, mended};
use crate::causal::{CausalGraph, Rows};
use crate::diagnosis::{Diagnosis, RankedCause, Standing};
use crate::knowledge::{Condition, ConditionKey, DrillKey, KnowledgeBase, RemedyKind, Shot, Stage};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// How many of the leading causes are candidates for a priority: those that the diagnosis names. A coach
/// who has just read five starts does not follow a plan to a sixth.
pub const FIELD: usize = 5;

/// A second priority has to add at least this share of what was seen when both are mended: below
/// it, one change is better than two. It does not depend on the time there is, so that a longer
/// lesson is never a worse one. Our own choice, five points.
pub const SECOND_ADDS: f64 = 0.05;

/// Makes a lesson of a diagnosis, and the practice until the next.
///
/// `clears_together` gives the share of what was seen that would be gone with a set of starts
/// removed, from 0 to 1; it never falls when the set grows. It is asked about each single cause of
/// the field and about pairs, at most once each.
///
/// The first job is the first of the leading [`FIELD`] causes for which something can be done here and now;
/// alone and with every other of them that goes together with it, the best set of drills that fits is found,
/// exactly; see [`crate::plan`] for the formula. The same input gives the same plan.
///
/// # Errors
///
/// [`PlanError`] when the options make no sense by themselves or together. A diagnosis that leaves
/// nothing to work on is no error: the plan then has no steps, [`Plan::nothing`] says why, and
/// [`Plan::look_instead`] what to look at.
pub fn make_plan(
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    clears_together: &dyn Fn(&[ConditionKey]) -> f64,
    options: &PlanOptions,
) -> Result<Plan, PlanError> {
    let lesson = &diagnosis.lesson;
    options.check(base, lesson)?;
    let findings = || diagnosis.findings().map(|key| base.condition(key));
    if let (Some(asked), Some(first)) = (lesson.shot, findings().next())
        && !findings().any(|seen| seen.applies_to(lesson.shot))
    {
        return Err(PlanError::Shot {
            seen: first.name.clone(),
            shot: asked,
        });
    }
    let shot = diagnosis.shot(base);
    if let (Some(shot), Some(place)) = (shot, lesson.place)
        && !goes_with(shot, place)
    {
        return Err(PlanError::Place {
            shot,
            place,
            instead: usual_place(Some(shot)),
        });
    }
    let place = lesson.place.unwrap_or_else(|| usual_place(shot));
    let fit = Fit::new(base, diagnosis, &options.known, place, shot);
    let room = Room {
        base,
        diagnosis,
        field: field(base, diagnosis, &fit),
        rows: Rows::new(base, &CausalGraph::new(base)),
        fit,
        shot,
        clears_together,
        known: options.known.iter().copied().collect(),
        cleared: RefCell::default(),
    };
    Ok(room.plan(options))
}

/// Those of the leading causes that some drill here can work on, in order of worth; the next where there
/// is none for any of them.
fn field<'a>(
    base: &KnowledgeBase,
    diagnosis: &'a Diagnosis,
    fit: &Fit<'_>,
) -> Vec<&'a RankedCause> {
    let works = |cause: &&RankedCause| {
        let mut remedies = base.remedies(cause.condition).into_iter();
        remedies.any(|(drill, _)| fit.verdict(drill).is_none())
    };
    let causes = diagnosis
        .causes
        .iter()
        .filter(|cause| cause.clears > 0.0 && !base.condition(cause.condition).is_pain());
    let field: Vec<&RankedCause> = causes.clone().take(FIELD).filter(works).collect();
    if field.is_empty() {
        return causes.filter(works).take(FIELD).collect();
    }
    field
}

/// Whether a change of this can ride along with another: what is set before the motion starts.
pub(super) fn rides_along(base: &KnowledgeBase, condition: &Condition, key: ConditionKey) -> bool {
    match condition.stage {
        Stage::Equipment | Stage::Grip | Stage::Setup => true,
        // These two stages hold set-up and motion alike; the best remedy tells them apart.
        Stage::ShortGame | Stage::PuttingStroke => {
            base.remedies(key).first().is_some_and(|(drill, _)| {
                matches!(
                    base.drill(*drill).kind,
                    RemedyKind::SetupChange | RemedyKind::ClubCheck
                )
            })
        }
        _ => false,
    }
}

/// What was chosen: priorities in order of worth, and drills.
#[derive(Clone, Debug)]
pub(super) struct Chosen {
    pub(super) priorities: Vec<ConditionKey>,
    pub(super) gains: Gains,
    pub(super) drills: Vec<DrillKey>,
    pub(super) value: f64,
}

pub(super) struct Room<'a> {
    pub(super) base: &'a KnowledgeBase,
    pub(super) diagnosis: &'a Diagnosis,
    pub(super) field: Vec<&'a RankedCause>,
    pub(super) rows: Rows,
    /// The shot that it is about, given or implied.
    pub(super) shot: Option<Shot>,
    pub(super) fit: Fit<'a>,
    pub(super) clears_together: &'a dyn Fn(&[ConditionKey]) -> f64,
    pub(super) known: BTreeSet<DrillKey>,
    /// Answers of `clears_together`, so that a longer lesson asks nothing twice.
    pub(super) cleared: RefCell<BTreeMap<Vec<ConditionKey>, f64>>,
}

impl Room<'_> {
    pub(super) fn cleared(&self, set: &[ConditionKey]) -> f64 {
        if let Some(known) = self.cleared.borrow().get(set) {
            return *known;
        }
        let clears = (self.clears_together)(set).clamp(0.0, 1.0);
        self.cleared.borrow_mut().insert(set.to_vec(), clears);
        clears
    }

    pub(super) fn gains(&self, priorities: &[ConditionKey]) -> Gains {
        match priorities {
            [one] => Gains::single(self.cleared(&[*one])),
            [one, other, ..] => {
                let alone = [self.cleared(&[*one]), self.cleared(&[*other])];
                Gains {
                    alone,
                    both: self.cleared(&[*one, *other]).max(alone[0]).max(alone[1]),
                }
            }
            [] => Gains::single(0.0),
        }
    }

    /// The best priorities and drills for a lesson's frame, `taken` minutes of work being spoken for. The
    /// first job is the first of the order that may be one and for which there is time; what else is worked
    /// on has to go together with it.
    pub(super) fn choose(&self, frame: &Frame, taken: f64) -> Option<Chosen> {
        let order = self.first_jobs();
        let mut each = order.iter().enumerate();
        each.find_map(|(place, lead)| self.choose_with(*lead, &order[place + 1..], frame, taken))
    }

    /// The field in the order in which it is taken up: by worth, as the diagnosis has it. While no start
    /// leads, what nobody has seen comes after the rest, unless it is a change of set-up, which does no harm
    /// where it was not needed.
    fn first_jobs(&self) -> Vec<ConditionKey> {
        let leads = matches!(
            self.diagnosis.standing,
            Some(Standing::Settled | Standing::Leading)
        );
        let field = self.field.iter().map(|cause| cause.condition);
        let (now, after_a_look): (Vec<_>, Vec<_>) =
            field.partition(|key| leads || !self.wants_a_look(*key));
        [now, after_a_look].concat()
    }

    /// Whether a job has to be seen before it is worked on: nobody has, and it is no change of set-up.
    pub(super) fn wants_a_look(&self, key: ConditionKey) -> bool {
        !self.fit.is_there(key) && !rides_along(self.base, self.base.condition(key), key)
    }

    fn choose_with(
        &self,
        lead: ConditionKey,
        others: &[ConditionKey],
        frame: &Frame,
        taken: f64,
    ) -> Option<Chosen> {
        let mut best: Option<Chosen> = None;
        let consider = |priorities: Vec<ConditionKey>, best: &mut Option<Chosen>| {
            let floor = best.as_ref().map_or(0.0, |chosen| chosen.value);
            if let Some(chosen) = self.best_drills(priorities, frame, taken, floor) {
                *best = Some(chosen);
            }
        };
        consider(vec![lead], &mut best);
        if frame.most_priorities().min(rules::most_priorities()) >= PRIORITIES {
            for other in others {
                if self.go_together(lead, *other) && self.adds_enough(lead, *other) {
                    consider(vec![lead, *other], &mut best);
                }
            }
        }
        best
    }

    /// Whether `other` may be worked on beside `one`: one of them is a change of set-up, and `other` was
    /// seen or is itself one. What nobody has looked at waits for the look.
    pub(super) fn go_together(&self, one: ConditionKey, other: ConditionKey) -> bool {
        let set_up = |key: ConditionKey| rides_along(self.base, self.base.condition(key), key);
        set_up(other) || (set_up(one) && self.fit.is_there(other))
    }

    pub(super) fn adds_enough(&self, one: ConditionKey, other: ConditionKey) -> bool {
        let gains = self.gains(&[one, other]);
        gains.both - gains.alone[0].max(gains.alone[1]) >= SECOND_ADDS
    }

    /// The best drills for these priorities, if they clear more than `floor`.
    pub(super) fn best_drills(
        &self,
        priorities: Vec<ConditionKey>,
        frame: &Frame,
        taken: f64,
        floor: f64,
    ) -> Option<Chosen> {
        let gains = self.gains(&priorities);
        if gains.both <= floor + SAME {
            return None;
        }
        let drills = self.candidates(&priorities);
        let problem = Problem {
            items: drills
                .iter()
                .map(|key| self.item(*key, &drills, &priorities))
                .collect(),
            minutes: frame.work - taken,
            most: frame.most_drills(),
            gains,
            priorities: priorities.len(),
        };
        let easy = easy_before(frame);
        let allowed = |items: &[usize]| {
            // What works on nothing is there for something that does and comes after it.
            let working = items.iter().filter(|item| problem.items[**item].works());
            let wanted = items.iter().all(|first| {
                problem.items[*first].works()
                    || working
                        .clone()
                        .any(|item| self.comes_after(drills[*item], drills[*first]))
            });
            let set: Vec<DrillKey> = items.iter().map(|item| drills[*item]).collect();
            wanted && in_order(&self.placed(&set, &priorities), easy).is_some()
        };
        let Choice { items, value, .. } = problem.solve(floor, &allowed);
        (!items.is_empty()).then(|| Chosen {
            drills: items.iter().map(|item| drills[*item]).collect(),
            priorities,
            gains,
            value,
        })
    }

    /// Drills that fit and work on a priority, with all that comes before them, by key. What is known from
    /// earlier lessons need not be done again, and may be, where a full swing wants a warmer body.
    pub(super) fn candidates(&self, priorities: &[ConditionKey]) -> Vec<DrillKey> {
        let mut found = BTreeSet::new();
        let mut queue: Vec<DrillKey> = self
            .base
            .drill_keys()
            .filter(|key| self.fit.verdict(*key).is_none())
            .filter(|key| {
                priorities
                    .iter()
                    .any(|priority| self.base.drill(*key).effect_on(*priority) > 0.0)
            })
            .collect();
        while let Some(key) = queue.pop() {
            if found.insert(key) {
                queue.extend(&self.base.drill(key).after);
            }
        }
        found.retain(|key| self.fit.verdict(*key).is_none());
        found.into_iter().collect()
    }

    /// Whether the library puts `first` before `drill`, known from earlier lessons or not.
    pub(super) fn comes_after(&self, drill: DrillKey, first: DrillKey) -> bool {
        let mut before = self.base.drill(drill).after.iter();
        before.any(|key| *key == first || self.comes_after(*key, first))
    }

    /// What has to come before a drill in the same lesson.
    pub(super) fn first(&self, key: DrillKey) -> impl Iterator<Item = DrillKey> {
        self.base
            .drill(key)
            .after
            .iter()
            .copied()
            .filter(|first| !self.known.contains(first))
    }

    pub(super) fn item(
        &self,
        key: DrillKey,
        drills: &[DrillKey],
        priorities: &[ConditionKey],
    ) -> Item {
        let drill = self.base.drill(key);
        let mut effects = [0.0; PRIORITIES];
        for (effect, priority) in effects.iter_mut().zip(priorities) {
            *effect = drill.effect_on(*priority);
        }
        let hard = needs_warm_body(drill);
        Item {
            rung: drill.rung as usize,
            minutes: drill.minutes(),
            effects,
            hard,
            after: self
                .first(key)
                .filter_map(|first| drills.binary_search(&first).ok())
                .collect(),
            warms: !hard && !self.known.is_empty(),
        }
    }

    /// The drills with what their order depends on.
    pub(super) fn placed(&self, drills: &[DrillKey], priorities: &[ConditionKey]) -> Vec<Placed> {
        drills
            .iter()
            .map(|key| {
                let drill = self.base.drill(*key);
                let stage = main_target(self.base, *key, priorities)
                    .map(|target| self.base.condition(target).stage)
                    .or(drill.stage)
                    .unwrap_or(Stage::WholeSwing);
                Placed {
                    drill: *key,
                    stage,
                    rung: drill.rung,
                    minutes: drill.minutes(),
                    after: self.first(*key).collect(),
                    hard: needs_warm_body(drill),
                }
            })
            .collect()
    }

    pub(super) fn value(&self, chosen: &Chosen, drills: &[DrillKey]) -> f64 {
        let mut best = [[0.0; RUNGS]; PRIORITIES];
        for key in drills {
            let drill = self.base.drill(*key);
            for (rungs, priority) in best.iter_mut().zip(&chosen.priorities) {
                let rung = drill.rung as usize;
                rungs[rung] = f64::max(rungs[rung], drill.effect_on(*priority));
            }
        }
        chosen.gains.expected(best.map(|rungs| mended(&rungs)))
    }
}

/// Easy minutes before the first drill: the warm-up, and the baseline, which is hit at an easy pace
/// where the warm-up alone is short.
pub(super) fn easy_before(frame: &Frame) -> f64 {
    frame.warm_up + frame.baseline
}

/// What a drill works on most among the priorities; ties go to the earlier stage.
pub(super) fn main_target(
    base: &KnowledgeBase,
    key: DrillKey,
    priorities: &[ConditionKey],
) -> Option<ConditionKey> {
    priorities
        .iter()
        .copied()
        .filter(|priority| base.drill(key).effect_on(*priority) > 0.0)
        .max_by(|a, b| {
            base.drill(key)
                .effect_on(*a)
                .total_cmp(&base.drill(key).effect_on(*b))
                .then_with(|| {
                    lesson_order(base.condition(*b).stage)
                        .cmp(&lesson_order(base.condition(*a).stage))
                })
        })
}
