//! A choice of priorities and drills, laid out as a lesson.

use super::answer::{MoreTime, Nothing, Plan, Priority, Referral, Step};
use super::choose::SAME;
use super::frame::Frame;
use super::make::{Chosen, Room, easy_before};
use super::options::PlanOptions;
use super::order::in_order;
use super::practice::practice;
use super::rules;
use super::value::{RUNGS, mended};
use crate::diagnosis::{Observation, Standing};
use crate::knowledge::{
    ConditionKey, DrillKey, KnowledgeBase, Place, RemedyKind, Shot, Status, Suits,
};
use std::collections::BTreeSet;

/// How much longer the longer lesson is.
const LONGER: u32 = 15;

impl Room<'_> {
    pub(super) fn plan(&self, options: &PlanOptions) -> Plan {
        let frame = Frame::of(options.minutes);
        let stops = self.fit.stops();
        let referral = self.referral(&frame);
        let taken = referral.as_ref().map_or(0.0, |referral| referral.minutes);
        let chosen = if stops {
            None
        } else {
            self.choose(&frame, taken)
        };
        let chosen = chosen.as_ref();
        let steps = chosen.map_or_else(Vec::new, |chosen| self.steps(chosen, &frame));
        let seen = self.seen();
        let suits = &self.diagnosis.lesson.suits;
        let work: f64 = steps.iter().map(|step| step.minutes).sum();
        let beside = if steps.is_empty() {
            0.0
        } else {
            frame.beside()
        };
        let free = if steps.is_empty() || self.fit.refer.is_some() {
            0.0
        } else {
            whole_minutes(f64::from(options.minutes) - beside - taken - work)
        };
        // Drills that nobody is to do today are not named.
        let (out_of_reach, left_out) = if stops {
            (Vec::new(), Vec::new())
        } else {
            let left_out = self.left_out(chosen, &steps, &frame, taken);
            (self.out_of_reach(chosen), left_out)
        };
        Plan {
            minutes: options.minutes,
            used: beside + taken + work + free,
            free,
            look_first: self.look_first(chosen),
            place: self.fit.place,
            place_given: self.diagnosis.lesson.place.is_some(),
            frame,
            priorities: chosen.map_or_else(Vec::new, |chosen| self.priorities(chosen)),
            expected_to_clear: chosen.map_or(0.0, |chosen| chosen.value),
            baseline: baseline(
                &frame,
                self.fit.refer.is_some(),
                self.shot == Some(Shot::Putt),
                self.fit.place == Place::Home,
            ),
            retest: self.retest(&seen),
            out_of_reach,
            left_out,
            not_before: chosen.map_or_else(Vec::new, |chosen| self.not_before(chosen, &seen)),
            more_time: self.more_time(options, taken, chosen),
            to_hand: to_hand(self.base, &steps),
            practice: practice(self.base, &steps, &seen, suits, options),
            cautions: cautions(self.base, &steps, suits),
            look_instead: if steps.is_empty() && !stops {
                self.diagnosis.next_looks.clone()
            } else {
                Vec::new()
            },
            refer: self.fit.refer,
            nothing: chosen.is_none().then(|| self.why_nothing()),
            steps,
            referral,
        }
    }

    /// What was found, each once.
    fn seen(&self) -> Vec<ConditionKey> {
        let mut seen: Vec<ConditionKey> = Vec::new();
        for key in self.diagnosis.findings() {
            if !seen.contains(&key) {
                seen.push(key);
            }
        }
        seen
    }

    /// What is looked at again at the end: all that was found, pain aside.
    fn retest(&self, seen: &[ConditionKey]) -> Vec<ConditionKey> {
        if self.fit.stops() {
            return Vec::new();
        }
        let again = seen.iter().copied();
        again
            .filter(|key| !self.base.condition(*key).is_pain())
            .collect()
    }

    /// What to look at before it is worked on: the first job itself, where nobody has seen it and it is no
    /// change of set-up; else what a second job waits for, of the leading causes that the lesson does not
    /// work on.
    fn look_first(&self, chosen: Option<&Chosen>) -> Option<ConditionKey> {
        let chosen = chosen?;
        let can_be_seen = |key: &ConditionKey| !self.base.condition(*key).seen_from.is_empty();
        let settled = self.diagnosis.standing == Some(Standing::Settled);
        let first = chosen.priorities.first().copied();
        let first = first.filter(|key| !settled && self.wants_a_look(*key));
        if first.is_some() {
            return first.filter(can_be_seen);
        }
        let [one] = chosen.priorities.as_slice() else {
            return None;
        };
        let mut field = self.field.iter().map(|cause| cause.condition);
        let waiting = field
            .find(|key| key != one && !self.fit.is_there(*key) && self.adds_enough(*one, *key));
        waiting.filter(can_be_seen)
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
        chosen
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
            .collect()
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
        // What is known already and works on nothing is done again to be warm for what comes after it.
        let warms = works_on.is_empty();
        let opens: Vec<DrillKey> = chosen
            .drills
            .iter()
            .copied()
            .filter(|other| {
                self.first(*other).any(|first| first == key)
                    || (warms && self.comes_after(*other, key))
            })
            .collect();
        let without: Vec<DrillKey> = chosen
            .drills
            .iter()
            .copied()
            .filter(|other| !(self.needs(*other, key) || warms && opens.contains(other)))
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
}

/// Minutes that are left for play, whole ones; below three they are the lesson's slack.
fn whole_minutes(left: f64) -> f64 {
    if left < 3.0 { 0.0 } else { left.floor() }
}

fn baseline(frame: &Frame, referred: bool, putting: bool, at_home: bool) -> String {
    let said = if referred {
        "No full swings. Look at grip, aim and posture, and note what you see."
    } else if at_home {
        "Five slow swings as the student makes them now, on film: what shows of what was seen?"
    } else if putting {
        "Ten putts as the student putts now: in how many is what was seen?"
    } else if frame.warm_up + SAME >= rules::easy_minutes_before_full_swings() {
        "Ten balls as the student plays now: in how many is what was seen?"
    } else {
        "Five balls at an easy pace, for the body is not warm yet: in how many is what was seen?"
    };
    said.to_owned()
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
