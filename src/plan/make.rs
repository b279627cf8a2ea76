//! From a diagnosis to a lesson.

use super::answer::{
    LeftOut, MoreTime, NotBefore, Nothing, OutOfReach, Plan, Priority, Referral, Step,
};
use super::choose::{Choice, Item, Problem, SAME};
use super::fit::{Fit, Unfit, needs_warm_body};
use super::frame::Frame;
use super::options::{PlanError, PlanOptions, usual_place};
use super::order::{Placed, in_order, lesson_order};
use super::practice::practice;
use super::rules;
use super::value::{Gains, PRIORITIES, RUNGS, mended};
use crate::causal::{CausalGraph, Rows};
use crate::diagnosis::{Diagnosis, Observation, RankedCause};
use crate::knowledge::{
    Condition, ConditionKey, ConditionKind, DrillKey, KnowledgeBase, RemedyKind, Shot, Stage,
    Status, Suits,
};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// How many of the leading causes are candidates for a priority. Behind the twelfth a cause is worth
/// a few points at most, and a coach would not follow the program there; within the twelve every
/// single one and every pair is weighed.
pub const FIELD: usize = 12;

/// How much longer the longer lesson is.
const LONGER: u32 = 15;

/// Chains that wait are listed up to this many.
const MOST_NOT_BEFORE: usize = 4;

/// A chain that stands behind less than this share of what waits is no reason to wait.
const WORTH_WAITING: f64 = 0.03;

/// A second priority has to add at least this share of what was seen when both are mended: below
/// it, one change is better than two. It does not depend on the time there is, so that a longer
/// lesson is never a worse one. Our own choice, five points.
pub const SECOND_ADDS: f64 = 0.05;

/// Other leading causes whose best drill is listed as left out.
const OTHER_CAUSES: usize = 3;

/// Makes a lesson of a diagnosis, and the practice until the next.
///
/// `clears_together` gives the share of what was seen that would be gone with a set of starts
/// removed, from 0 to 1; it never falls when the set grows. It is asked about each single cause of
/// the field and about pairs, at most once each.
///
/// Among the leading [`FIELD`] causes every priority and every pair of them is considered (a pair
/// only where one of the two is a change of set-up), and for each the best set of drills that fits,
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
    let place = lesson.place.unwrap_or_else(|| usual_place(lesson.shot));
    let fit = Fit::new(base, diagnosis, &options.known, place);
    let room = Room {
        base,
        diagnosis,
        field: field(base, diagnosis, &fit),
        rows: Rows::new(base, &CausalGraph::new(base)),
        fit,
        clears_together,
        known: options.known.iter().copied().collect(),
        cleared: RefCell::default(),
    };
    Ok(room.plan(options))
}

/// The leading causes that some drill here can work on, in order of worth.
fn field<'a>(
    base: &KnowledgeBase,
    diagnosis: &'a Diagnosis,
    fit: &Fit<'_>,
) -> Vec<&'a RankedCause> {
    diagnosis
        .causes
        .iter()
        .filter(|cause| cause.clears > 0.0 && !base.condition(cause.condition).is_pain())
        .filter(|cause| {
            base.remedies(cause.condition)
                .iter()
                .any(|(drill, _)| fit.verdict(*drill).is_none())
        })
        .take(FIELD)
        .collect()
}

/// Whether a change of this can ride along with another: what is set before the motion starts.
fn rides_along(base: &KnowledgeBase, condition: &Condition, key: ConditionKey) -> bool {
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
struct Chosen {
    priorities: Vec<ConditionKey>,
    gains: Gains,
    drills: Vec<DrillKey>,
    value: f64,
}

struct Room<'a> {
    base: &'a KnowledgeBase,
    diagnosis: &'a Diagnosis,
    field: Vec<&'a RankedCause>,
    rows: Rows,
    fit: Fit<'a>,
    clears_together: &'a dyn Fn(&[ConditionKey]) -> f64,
    known: BTreeSet<DrillKey>,
    /// Answers of `clears_together`, so that a longer lesson asks nothing twice.
    cleared: RefCell<BTreeMap<Vec<ConditionKey>, f64>>,
}

impl Room<'_> {
    fn cleared(&self, set: &[ConditionKey]) -> f64 {
        if let Some(known) = self.cleared.borrow().get(set) {
            return *known;
        }
        let clears = (self.clears_together)(set).clamp(0.0, 1.0);
        self.cleared.borrow_mut().insert(set.to_vec(), clears);
        clears
    }

    fn gains(&self, priorities: &[ConditionKey]) -> Gains {
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

    /// The best priorities and drills for a lesson's frame, `taken` minutes of work being spoken for.
    fn choose(&self, frame: &Frame, taken: f64) -> Option<Chosen> {
        let mut best: Option<Chosen> = None;
        let consider = |priorities: Vec<ConditionKey>, best: &mut Option<Chosen>| {
            let floor = best.as_ref().map_or(0.0, |chosen| chosen.value);
            if let Some(chosen) = self.best_drills(priorities, frame, taken, floor) {
                *best = Some(chosen);
            }
        };
        for cause in &self.field {
            consider(vec![cause.condition], &mut best);
        }
        if frame.most_priorities().min(rules::most_priorities()) >= PRIORITIES {
            for (index, one) in self.field.iter().enumerate() {
                for other in &self.field[index + 1..] {
                    if self.go_together(one.condition, other.condition)
                        && self.adds_enough(one.condition, other.condition)
                    {
                        consider(vec![one.condition, other.condition], &mut best);
                    }
                }
            }
        }
        best
    }

    /// Whether `other`, which is worth less, may be worked on beside `one`: one of them is a change of
    /// set-up, and `other` was seen or is itself one. What nobody has looked at waits for the look.
    fn go_together(&self, one: ConditionKey, other: ConditionKey) -> bool {
        let set_up = |key: ConditionKey| rides_along(self.base, self.base.condition(key), key);
        set_up(other) || (set_up(one) && self.fit.is_there(other))
    }

    fn adds_enough(&self, one: ConditionKey, other: ConditionKey) -> bool {
        let gains = self.gains(&[one, other]);
        gains.both - gains.alone[0].max(gains.alone[1]) >= SECOND_ADDS
    }

    /// The best drills for these priorities, if they clear more than `floor`.
    fn best_drills(
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
        };
        let easy = easy_before(frame);
        let allowed = |items: &[usize]| {
            let set: Vec<DrillKey> = items.iter().map(|item| drills[*item]).collect();
            in_order(&self.placed(&set, &priorities), easy).is_some()
        };
        let Choice { items, value, .. } = problem.solve(floor, &allowed);
        (!items.is_empty()).then(|| Chosen {
            drills: items.iter().map(|item| drills[*item]).collect(),
            priorities,
            gains,
            value,
        })
    }

    /// Drills that fit and work on a priority, with all that must come before them, by key.
    fn candidates(&self, priorities: &[ConditionKey]) -> Vec<DrillKey> {
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
                queue.extend(self.first(key));
            }
        }
        found.into_iter().collect()
    }

    /// What has to come before a drill in the same lesson.
    fn first(&self, key: DrillKey) -> impl Iterator<Item = DrillKey> {
        self.base
            .drill(key)
            .after
            .iter()
            .copied()
            .filter(|first| !self.known.contains(first))
    }

    fn item(&self, key: DrillKey, drills: &[DrillKey], priorities: &[ConditionKey]) -> Item {
        let drill = self.base.drill(key);
        let mut effects = [0.0; PRIORITIES];
        for (effect, priority) in effects.iter_mut().zip(priorities) {
            *effect = drill.effect_on(*priority);
        }
        Item {
            rung: drill.rung as usize,
            minutes: drill.minutes(),
            effects,
            hard: needs_warm_body(drill),
            after: self
                .first(key)
                .filter_map(|first| drills.binary_search(&first).ok())
                .collect(),
        }
    }

    /// The drills with what their order depends on.
    fn placed(&self, drills: &[DrillKey], priorities: &[ConditionKey]) -> Vec<Placed> {
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

    fn value(&self, chosen: &Chosen, drills: &[DrillKey]) -> f64 {
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

    fn plan(&self, options: &PlanOptions) -> Plan {
        let frame = Frame::of(options.minutes);
        let referral = self.referral(&frame);
        let taken = referral.as_ref().map_or(0.0, |referral| referral.minutes);
        let chosen = if self.fit.stops() {
            None
        } else {
            self.choose(&frame, taken)
        };
        let steps = chosen
            .as_ref()
            .map_or_else(Vec::new, |chosen| self.steps(chosen, &frame));
        let nothing = chosen.is_none().then(|| self.why_nothing());
        let seen: Vec<ConditionKey> = self
            .diagnosis
            .observations
            .iter()
            .filter(|observation| observation.state.is_finding())
            .map(|observation| observation.condition)
            .collect();
        let work: f64 = steps.iter().map(|step| step.minutes).sum();
        let beside = if steps.is_empty() {
            0.0
        } else {
            frame.beside()
        };
        let stops = self.fit.stops();
        let free = if steps.is_empty() || self.fit.refer.is_some() {
            0.0
        } else {
            whole_minutes(f64::from(options.minutes) - beside - taken - work)
        };
        Plan {
            minutes: options.minutes,
            used: beside + taken + work + free,
            free,
            look_first: self.look_first(chosen.as_ref()),
            place: self.fit.place,
            place_given: self.diagnosis.lesson.place.is_some(),
            frame,
            priorities: chosen
                .as_ref()
                .map_or_else(Vec::new, |chosen| self.priorities(chosen)),
            expected_to_clear: chosen.as_ref().map_or(0.0, |chosen| chosen.value),
            baseline: baseline(
                &frame,
                self.fit.refer.is_some(),
                self.diagnosis.lesson.shot == Some(Shot::Putt),
            ),
            retest: seen
                .iter()
                .copied()
                .filter(|_| !stops)
                .filter(|key| !self.base.condition(*key).is_pain())
                .collect(),
            // Drills that nobody is to do today are not named.
            out_of_reach: if stops {
                Vec::new()
            } else {
                self.out_of_reach(chosen.as_ref())
            },
            left_out: if stops {
                Vec::new()
            } else {
                self.left_out(chosen.as_ref(), &steps, &frame, taken)
            },
            not_before: chosen
                .as_ref()
                .map_or_else(Vec::new, |chosen| self.not_before(chosen, &seen)),
            more_time: self.more_time(options, taken, chosen.as_ref()),
            to_hand: to_hand(self.base, &steps),
            practice: practice(
                self.base,
                &steps,
                &seen,
                &self.diagnosis.lesson.suits,
                options,
            ),
            cautions: cautions(self.base, &steps, &self.diagnosis.lesson.suits),
            look_instead: if steps.is_empty() && !stops {
                self.diagnosis.next_looks.clone()
            } else {
                Vec::new()
            },
            refer: self.fit.refer,
            steps,
            referral,
            nothing,
        }
    }

    /// What to look at before a second job is taken on: the leading cause that the lesson does not
    /// work on, that nobody has seen, and that is no change of set-up.
    fn look_first(&self, chosen: Option<&Chosen>) -> Option<ConditionKey> {
        let chosen = chosen?;
        let [one] = chosen.priorities.as_slice() else {
            return None;
        };
        let waiting =
            self.field.iter().map(|cause| cause.condition).find(|key| {
                key != one && !self.fit.is_there(*key) && self.adds_enough(*one, *key)
            })?;
        (!self.base.condition(waiting).seen_from.is_empty()).then_some(waiting)
    }

    fn why_nothing(&self) -> Nothing {
        if self.fit.stops() {
            return Nothing::Referred;
        }
        let seen =
            |o: &Observation| o.state.is_finding() && !self.base.condition(o.condition).is_pain();
        if !self.diagnosis.observations.iter().any(seen) {
            Nothing::NothingSeen
        } else if !self.field.is_empty() {
            Nothing::NoTime
        } else if self
            .diagnosis
            .causes
            .iter()
            .any(|cause| cause.clears > 0.0 && !self.base.condition(cause.condition).is_pain())
        {
            Nothing::NoDrillFits
        } else {
            Nothing::NoCause
        }
    }

    /// A referral and nothing else, when something hurts: the library's best referral for each pain.
    fn referral(&self, frame: &Frame) -> Option<Referral> {
        if !self.fit.stops() {
            return None;
        }
        let mut remedies: Vec<DrillKey> = Vec::new();
        for pain in &self.fit.pains {
            let best = self
                .base
                .remedies(*pain)
                .into_iter()
                .map(|(key, _)| key)
                .find(|key| self.base.drill(*key).kind == RemedyKind::Referral);
            if let Some(key) = best.filter(|key| !remedies.contains(key)) {
                remedies.push(key);
            }
        }
        let minutes = remedies
            .iter()
            .map(|key| self.base.drill(*key).minutes())
            .fold(5.0, f64::max);
        Some(Referral {
            pains: self.fit.pains.iter().copied().collect(),
            remedies,
            minutes: minutes.min(frame.work),
        })
    }

    fn priorities(&self, chosen: &Chosen) -> Vec<Priority> {
        let mut found: Vec<Priority> = chosen
            .priorities
            .iter()
            .map(|key| {
                let cause = self
                    .field
                    .iter()
                    .find(|cause| cause.condition == *key)
                    .expect("priorities are taken from the field");
                let mut best = [0.0; RUNGS];
                for drill in &chosen.drills {
                    let drill = self.base.drill(*drill);
                    let rung = drill.rung as usize;
                    best[rung] = f64::max(best[rung], drill.effect_on(*key));
                }
                let told = cause.chains.iter().find(|chain| chain.conditions.len() > 1);
                Priority {
                    condition: *key,
                    clears: cause.clears,
                    on_the_way: cause.on_the_way,
                    mended: mended(&best),
                    is_link: cause.is_link(),
                    chain: told.map_or_else(Vec::new, |told| told.conditions.clone()),
                    because: told.map_or_else(Vec::new, |told| told.because.clone()),
                }
            })
            .collect();
        found.sort_by_key(|priority| lesson_order(self.base.condition(priority.condition).stage));
        found
    }

    fn steps(&self, chosen: &Chosen, frame: &Frame) -> Vec<Step> {
        let placed = self.placed(&chosen.drills, &chosen.priorities);
        let order = in_order(&placed, easy_before(frame))
            .expect("a set with no order was refused when it was chosen");
        order
            .into_iter()
            .map(|index| self.step(chosen, chosen.drills[index]))
            .collect()
    }

    fn step(&self, chosen: &Chosen, key: DrillKey) -> Step {
        let drill = self.base.drill(key);
        let works_on: Vec<ConditionKey> = drill
            .treats
            .iter()
            .map(|treats| treats.condition)
            .filter(|condition| chosen.priorities.contains(condition))
            .collect();
        let opens: Vec<DrillKey> = chosen
            .drills
            .iter()
            .copied()
            .filter(|other| self.first(*other).any(|first| first == key))
            .collect();
        let without: Vec<DrillKey> = chosen
            .drills
            .iter()
            .copied()
            .filter(|other| !self.needs(*other, key))
            .collect();
        let skipping_costs = (chosen.value - self.value(chosen, &without)).max(0.0);
        Step {
            drill: key,
            minutes: drill.minutes(),
            why: self.why(key, &works_on, &opens),
            works_on,
            opens,
            skipping_costs,
            watch_for: drill
                .aggravates
                .iter()
                .copied()
                .filter(|condition| self.fit.is_worth_a_word(*condition))
                .collect(),
            criterion: rules::criterion(&drill.check),
            cues: rules::cues(&drill.feel, self.diagnosis.lesson.level),
        }
    }

    /// Whether `drill` is, or has to come after, `first`.
    fn needs(&self, drill: DrillKey, first: DrillKey) -> bool {
        let mut open = vec![drill];
        let mut met = BTreeSet::new();
        while let Some(key) = open.pop() {
            if key == first {
                return true;
            }
            if met.insert(key) {
                open.extend(self.first(key));
            }
        }
        false
    }

    fn why(&self, key: DrillKey, works_on: &[ConditionKey], opens: &[DrillKey]) -> String {
        let drill = self.base.drill(key);
        let name = |condition: &ConditionKey| self.base.condition(*condition).name.as_str();
        let mut said = Vec::new();
        if let Some(first) = works_on.first() {
            let role = self
                .field
                .iter()
                .find(|cause| cause.condition == *first)
                .map_or("", |cause| {
                    if cause.is_link() {
                        ", a link worth holding"
                    } else {
                        ", where it starts"
                    }
                });
            said.push(match works_on {
                [one] => format!("Works on {}{role}", name(one)),
                several => format!(
                    "Works on {}",
                    several.iter().map(name).collect::<Vec<_>>().join(" and ")
                ),
            });
        }
        for other in opens {
            said.push(format!("comes before {}", self.base.drill(*other).name));
        }
        if drill.status == Status::Trial {
            said.push("on trial: not yet proved".to_owned());
        }
        let mut said = said.join("; ");
        said.push('.');
        if let Some(first) = said.get(..1).map(str::to_uppercase) {
            said.replace_range(..1, &first);
        }
        said
    }

    fn more_time(&self, options: &PlanOptions, taken: f64, chosen: Option<&Chosen>) -> MoreTime {
        let longer = Frame::of(options.minutes + LONGER);
        // A referral that was cut to fit takes its whole time in the longer lesson.
        let taken = self
            .referral(&longer)
            .map_or(taken, |referral| referral.minutes);
        let more = if self.fit.stops() {
            None
        } else {
            self.choose(&longer, taken)
        };
        let now = chosen.map_or(0.0, |chosen| chosen.value);
        let (value, drills) = more.map_or((0.0, Vec::new()), |more| (more.value, more.drills));
        let better = value > now + SAME;
        MoreTime {
            minutes: LONGER,
            expected_to_clear: value.max(now),
            adds: drills
                .into_iter()
                .filter(|key| better && chosen.is_none_or(|chosen| !chosen.drills.contains(key)))
                .collect(),
        }
    }

    /// What waits for a priority, because it is downstream of one: the other priority, leading
    /// causes, and faults that were seen.
    fn not_before(&self, chosen: &Chosen, seen: &[ConditionKey]) -> Vec<NotBefore> {
        let faults = seen
            .iter()
            .copied()
            .filter(|key| self.base.condition(*key).kind == ConditionKind::Fault);
        let mut waiting: Vec<ConditionKey> = Vec::new();
        for key in chosen.priorities.iter().copied().chain(faults).chain(
            self.field
                .iter()
                .take(OTHER_CAUSES)
                .map(|cause| cause.condition),
        ) {
            if !waiting.contains(&key) {
                waiting.push(key);
            }
        }
        let mut found: Vec<(f64, NotBefore)> = waiting
            .into_iter()
            .filter_map(|waits| {
                let ways = self.rows.ways(waits, |_| true);
                let mut above = chosen.priorities.iter().copied();
                let until = above.find(|key| *key != waits && ways.weight(*key) > 0.0)?;
                let weight = ways.weight(until);
                let chain = ways.chain(until)?;
                let wait = NotBefore {
                    waits,
                    until,
                    chain,
                };
                (weight >= WORTH_WAITING).then_some((weight, wait))
            })
            .collect();
        // The strongest reason first; the other priority before everything else.
        let weak =
            |(weight, wait): &(f64, NotBefore)| (!chosen.priorities.contains(&wait.waits), -weight);
        found.sort_by(|a, b| {
            weak(a)
                .0
                .cmp(&weak(b).0)
                .then(weak(a).1.total_cmp(&weak(b).1))
        });
        found.truncate(MOST_NOT_BEFORE);
        found.into_iter().map(|(_, wait)| wait).collect()
    }

    /// Remedies for the priorities that are not in the plan, and the best remedy of the next
    /// leading causes, each with the reason.
    fn left_out(
        &self,
        chosen: Option<&Chosen>,
        steps: &[Step],
        frame: &Frame,
        taken: f64,
    ) -> Vec<LeftOut> {
        let mut found: Vec<LeftOut> = Vec::new();
        let priorities = chosen.map_or(&[][..], |chosen| &chosen.priorities);
        let mut note =
            |drill: DrillKey, condition: ConditionKey, reason: (&'static str, String)| {
                if found.iter().all(|left| left.drill != drill)
                    && steps.iter().all(|step| step.drill != drill)
                {
                    found.push(LeftOut {
                        drill,
                        for_condition: condition,
                        reason: reason.0,
                        why: reason.1,
                    });
                }
            };
        for priority in priorities {
            for (drill, _) in self.base.remedies(*priority) {
                note(drill, *priority, self.why_not(drill, frame.work - taken));
            }
        }
        let others = self
            .diagnosis
            .causes
            .iter()
            .filter(|cause| {
                cause.clears > 0.0
                    && !priorities.contains(&cause.condition)
                    && !self.base.condition(cause.condition).is_pain()
            })
            .take(OTHER_CAUSES);
        for cause in others {
            let remedies = self.base.remedies(cause.condition);
            let fits = remedies
                .iter()
                .find(|(drill, _)| self.fit.verdict(*drill).is_none());
            match (fits, chosen) {
                (Some((drill, _)), Some(_)) => note(
                    *drill,
                    cause.condition,
                    (
                        "one-change",
                        format!(
                            "One change at a time: {} waits.",
                            self.base.condition(cause.condition).name
                        ),
                    ),
                ),
                (Some((drill, _)), None) => {
                    note(
                        *drill,
                        cause.condition,
                        self.why_not(*drill, frame.work - taken),
                    );
                }
                (None, _) => {
                    for (drill, _) in remedies.iter().take(OTHER_CAUSES) {
                        note(
                            *drill,
                            cause.condition,
                            self.why_not(*drill, frame.work - taken),
                        );
                    }
                }
            }
        }
        found.sort_by_key(|left| importance(left.reason));
        found
    }

    /// Causes that would clear more than what the lesson works on, were there a drill that fits.
    fn out_of_reach(&self, chosen: Option<&Chosen>) -> Vec<OutOfReach> {
        let least = chosen.map_or(0.0, |chosen| {
            chosen
                .gains
                .alone
                .iter()
                .zip(&chosen.priorities)
                .map(|(clears, _)| *clears)
                .fold(f64::MAX, f64::min)
        });
        self.diagnosis
            .causes
            .iter()
            .take(FIELD)
            .filter(|cause| cause.clears > least)
            .filter(|cause| !self.base.condition(cause.condition).is_pain())
            .filter(|cause| self.field.iter().all(|f| f.condition != cause.condition))
            .take(OTHER_CAUSES)
            .map(|cause| OutOfReach {
                condition: cause.condition,
                clears: cause.clears,
                remedies: self
                    .base
                    .remedies(cause.condition)
                    .into_iter()
                    .filter_map(|(drill, _)| {
                        Some((drill, self.fit.verdict(drill)?.words(self.base)))
                    })
                    .take(OTHER_CAUSES)
                    .collect(),
            })
            .collect()
    }

    fn why_not(&self, drill: DrillKey, minutes: f64) -> (&'static str, String) {
        if let Some(unfit) = self.fit.verdict(drill) {
            return (Unfit::code(unfit), unfit.words(self.base));
        }
        let mut needed = 0.0;
        let mut open = vec![drill];
        let mut met = BTreeSet::new();
        while let Some(key) = open.pop() {
            if met.insert(key) {
                needed += self.base.drill(key).minutes();
                open.extend(self.first(key));
            }
        }
        if needed > minutes + SAME {
            let first = if met.len() > 1 {
                " with what comes before it"
            } else {
                ""
            };
            return (
                "time",
                format!("It takes {needed} minutes{first}; the work has {minutes}."),
            );
        }
        (
            "less",
            "The drills of the plan do as much or more in the time.".to_owned(),
        )
    }
}

/// Where a reason for leaving a drill out stands in the list: harm first, then what a coach can
/// change today, then the rest.
fn importance(reason: &str) -> usize {
    const ORDER: [&str; 13] = [
        "aggravates",
        "not-with",
        "pain",
        "ask-first",
        "equipment",
        "time",
        "after",
        "one-change",
        "place",
        "level",
        "suits",
        "less",
        "shot",
    ];
    ORDER
        .iter()
        .position(|known| *known == reason)
        .unwrap_or(ORDER.len())
}

/// What a drill works on most among the priorities; ties go to the earlier stage.
fn main_target(
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

/// Easy minutes before the first drill: the warm-up, and the baseline, which is hit at an easy pace
/// where the warm-up alone is short.
fn easy_before(frame: &Frame) -> f64 {
    frame.warm_up + frame.baseline
}

/// Minutes that are left for play, whole ones; below three they are the lesson's slack.
fn whole_minutes(left: f64) -> f64 {
    if left < 3.0 { 0.0 } else { left.floor() }
}

fn baseline(frame: &Frame, referred: bool, putting: bool) -> String {
    if referred {
        return "No full swings. Look at grip, aim and posture, and note what you see.".to_owned();
    }
    if putting {
        return "Ten putts as the student putts now: how many of the ten show it?".to_owned();
    }
    if frame.warm_up + SAME >= rules::easy_minutes_before_full_swings() {
        "Ten balls as the student plays now: how many of the ten show it?".to_owned()
    } else {
        "Five balls at an easy pace, for the body is not warm yet: how many of the five show it?"
            .to_owned()
    }
}

fn to_hand(base: &KnowledgeBase, steps: &[Step]) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for thing in steps
        .iter()
        .flat_map(|step| &base.drill(step.drill).equipment)
    {
        if !found.contains(thing) {
            found.push(thing.clone());
        }
    }
    found
}

fn cautions(base: &KnowledgeBase, steps: &[Step], suits: &[Suits]) -> Vec<String> {
    let mut found: Vec<String> = suits
        .iter()
        .filter_map(|suits: &Suits| rules::student_note(*suits))
        .map(str::to_owned)
        .collect();
    let mut add = |name: &str, caution: &Option<String>| {
        if let Some(caution) = caution
            && !found.iter().any(|known| known.ends_with(caution.as_str()))
        {
            found.push(format!("{name}: {caution}"));
        }
    };
    for step in steps {
        let drill = base.drill(step.drill);
        add(&drill.name, &drill.caution);
        for key in &step.works_on {
            let condition = base.condition(*key);
            add(&condition.name, &condition.caution);
        }
    }
    found
}
