//! What holds for every library and every lesson.

use crate::fixture::{additive, diagnosis, key, library, within};
use fairwhy::diagnosis::Diagnosis;
use fairwhy::knowledge::{ConditionKey, DrillKey, KnowledgeBase, Rung};
use fairwhy::lesson::{AtHand, Lesson};
use fairwhy::plan::{
    FURTHER_RUNG, Frame, Plan, PlanOptions, SECOND_ADDS, Sessions, lesson_order, make_plan,
};
use proptest::prelude::*;
use std::fmt::Write as _;

const CAUSES: usize = 5;
const STAGES: [&str; CAUSES] = ["grip", "setup", "top", "downswing", "tempo"];
const RUNGS: [&str; 5] = [
    "rehearsal",
    "slow-with-ball",
    "half-speed",
    "full-speed",
    "transfer",
];

/// What a generated drill is made of.
#[derive(Clone, Debug)]
struct Made {
    effects: Vec<(usize, u32)>,
    rung: usize,
    halves: u32,
    after: Option<usize>,
    aggravates: Option<usize>,
    not_with: Option<usize>,
    stick: bool,
    home: bool,
}

#[derive(Clone, Debug)]
struct World {
    drills: Vec<Made>,
    causes: Vec<(f64, f64)>,
    minutes: u32,
    stick: bool,
}

fn made() -> impl Strategy<Value = Made> {
    (
        proptest::collection::vec((0..CAUSES, 10..95u32), 1..3),
        0..RUNGS.len(),
        6..30u32,
        proptest::option::weighted(0.3, 0..100usize),
        proptest::option::weighted(0.2, 0..CAUSES),
        proptest::option::weighted(0.2, 0..CAUSES),
        any::<bool>(),
        proptest::bool::weighted(0.15),
    )
        .prop_map(
            |(effects, rung, halves, after, aggravates, not_with, stick, home)| Made {
                effects,
                rung,
                halves,
                after,
                aggravates,
                not_with,
                stick,
                home,
            },
        )
}

fn world(most: usize) -> impl Strategy<Value = World> {
    (
        proptest::collection::vec(made(), 1..most),
        proptest::collection::vec((0.0..0.9f64, 0.0..0.6f64), CAUSES),
        10..=120u32,
        any::<bool>(),
    )
        .prop_map(|(drills, causes, minutes, stick)| World {
            drills,
            causes,
            minutes,
            stick,
        })
}

impl World {
    fn library(&self) -> KnowledgeBase {
        let mut text = String::from(
            "outcomes:\n  - {id: miss, name: Ball misses, stage: ball-flight}\nfaults:\n",
        );
        for (cause, stage) in STAGES.iter().enumerate() {
            let _ = writeln!(
                text,
                "  - {{id: c{cause}, name: Start number {cause}, stage: {stage}}}"
            );
        }
        text.push_str("drills:\n");
        for (index, drill) in self.drills.iter().enumerate() {
            let mut treats: Vec<(usize, u32)> = drill.effects.clone();
            treats.sort_unstable();
            treats.dedup_by_key(|(cause, _)| *cause);
            let treats: Vec<String> = treats
                .iter()
                .map(|(cause, effect)| format!("{{id: c{cause}, effect: 0.{effect:02}}}"))
                .collect();
            let _ = write!(
                text,
                "  - {{id: d{index:02}, name: Drill {index}, treats: [{}], ladder: {}, dose: {{sets: 2, reps: 8, minutes: {}}}, steps: [Do {index}], check: 8 of 10",
                treats.join(", "),
                RUNGS[drill.rung],
                f64::from(drill.halves) / 2.0
            );
            if let Some(after) = drill.after.filter(|_| index > 0) {
                let _ = write!(text, ", after: [d{:02}]", after % index);
            }
            let harms = drill
                .aggravates
                .filter(|harm| drill.effects.iter().all(|(cause, _)| cause != harm));
            if let Some(cause) = harms {
                let _ = write!(text, ", aggravates: [c{cause}]");
            }
            if let Some(cause) = drill.not_with {
                let _ = write!(text, ", not_with: [c{cause}]");
            }
            let equipment = if drill.stick { "stick" } else { "" };
            let place = if drill.home { "home" } else { "range" };
            let _ = writeln!(
                text,
                ", needs: {{equipment: [{equipment}], place: [{place}]}}}}"
            );
        }
        library(&text)
    }

    fn diagnosis(&self, base: &KnowledgeBase) -> Diagnosis {
        let ids: Vec<String> = (0..CAUSES).map(|cause| format!("c{cause}")).collect();
        let mut causes: Vec<(&str, f64, f64)> = ids
            .iter()
            .zip(&self.causes)
            .map(|(id, (chance, clears))| (id.as_str(), *chance, *clears))
            .collect();
        causes.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.0.cmp(b.0)));
        // What is likelier than not was seen in this world.
        let there = causes.iter().filter(|(_, chance, _)| *chance >= SEEN_FROM);
        let findings: Vec<&str> = ["miss"]
            .into_iter()
            .chain(there.map(|(id, ..)| *id))
            .collect();
        let lesson = Lesson {
            at_hand: Some(AtHand::of(if self.stick { &["stick"] } else { &[""] })),
            ..Lesson::default()
        };
        within(&diagnosis(base, &findings, &causes), lesson)
    }

    fn options(&self) -> PlanOptions {
        PlanOptions {
            minutes: self.minutes,
            sessions: Sessions {
                a_week: 1 + self.minutes % 7,
                minutes: 10 + self.minutes % 50,
            },
            ..PlanOptions::default()
        }
    }
}

fn make(base: &KnowledgeBase, diagnosis: &Diagnosis, options: &PlanOptions) -> Plan {
    make_plan(base, diagnosis, &additive(diagnosis), options).expect("the options make sense")
}

const SEEN_FROM: f64 = 0.5;

fn was_seen(world: &World, base: &KnowledgeBase, condition: ConditionKey) -> bool {
    (0..CAUSES).any(|cause| {
        key(base, &format!("c{cause}")) == condition && world.causes[cause].0 >= SEEN_FROM
    })
}

fn is_fast(base: &KnowledgeBase, drill: DrillKey) -> bool {
    base.drill(drill).rung >= Rung::FullSpeed
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 160, ..ProptestConfig::default() })]

    #[test]
    fn time_order_and_harm_are_kept(world in world(24)) {
        let base = world.library();
        let diagnosis = world.diagnosis(&base);
        let options = world.options();
        let plan = make(&base, &diagnosis, &options);
        let frame = Frame::of(world.minutes);
        prop_assert!(plan.used <= f64::from(world.minutes) + 1e-9);
        // Three minutes or more that the drills leave are not left lying.
        prop_assert!(plan.steps.is_empty() || plan.used > f64::from(world.minutes) - 3.0);
        prop_assert!(plan.steps.iter().map(|s| s.minutes).sum::<f64>() <= frame.work + 1e-9);
        prop_assert!(plan.steps.len() <= frame.most_drills());
        prop_assert!(plan.priorities.len() <= frame.most_priorities());
        if let [one, other] = plan.priorities.as_slice() {
            let set_up = |condition| lesson_order(base.condition(condition).stage) <= SET_UP_TO;
            prop_assert!(set_up(one.condition) || set_up(other.condition));
        }
        let mut easy = frame.warm_up + frame.baseline;
        for (at, step) in plan.steps.iter().enumerate() {
            let drill = base.drill(step.drill);
            for first in &drill.after {
                prop_assert!(plan.steps[..at].iter().any(|s| s.drill == *first));
            }
            for condition in drill.aggravates.iter().chain(&drill.not_with) {
                prop_assert!(!was_seen(&world, &base, *condition));
            }
            prop_assert!(world.stick || !drill.equipment.contains(&"stick".to_owned()));
            prop_assert!(drill.places.contains(&plan.place));
            prop_assert!(!step.works_on.is_empty() || !step.opens.is_empty());
            prop_assert!(step.skipping_costs >= 0.0);
            if is_fast(&base, step.drill) {
                prop_assert!(easy >= 10.0 - 1e-9);
            } else {
                easy += step.minutes;
            }
        }
        for session in &plan.practice.sessions {
            prop_assert!(session.minutes() <= f64::from(options.sessions.minutes) + 1e-9);
            prop_assert!(session.balls() <= 80);
            let mut easy = session.warm_up;
            for block in &session.blocks {
                if is_fast(&base, block.drill) {
                    prop_assert!(easy >= 10.0 - 1e-9);
                } else {
                    easy += block.minutes;
                }
            }
        }
        prop_assert_eq!(&make(&base, &diagnosis, &options), &plan);
    }

    #[test]
    fn more_never_makes_a_worse_plan(world in world(24), more in 1..60u32) {
        let base = world.library();
        let diagnosis = world.diagnosis(&base);
        let options = world.options();
        let plan = make(&base, &diagnosis, &options);
        prop_assert!(plan.more_time.expected_to_clear >= plan.expected_to_clear);
        // An earlier start comes within reach, or the same is cleared as well or better.
        let order = first_jobs(&world, &base, &diagnosis);
        let rank = |plan: &Plan| {
            let first = plan.priorities.first().map(|job| job.condition);
            first.map_or(usize::MAX, |first| order.iter().position(|key| *key == first).expect("of the order"))
        };
        let no_worse = |other: &Plan| {
            let (now, then) = (rank(&plan), rank(other));
            then < now || (then == now && other.expected_to_clear >= plan.expected_to_clear - 1e-9)
        };
        let longer = PlanOptions { minutes: world.minutes + more, ..options.clone() };
        prop_assert!(no_worse(&make(&base, &diagnosis, &longer)));
        let equipped = within(&diagnosis, Lesson::default());
        prop_assert!(no_worse(&make(&base, &equipped, &options)));
        let versed = PlanOptions { known: base.drill_keys().collect(), ..options };
        prop_assert!(no_worse(&make(&base, &diagnosis, &versed)));
    }

    /// The whole choice, priorities and drills, against trying every one, with the formula of
    /// `docs/plan.md` written out again.
    #[test]
    fn the_plan_is_the_best_there_is(world in world(10), known in proptest::option::of(0..512usize)) {
        let base = world.library();
        let diagnosis = world.diagnosis(&base);
        let is_known = |key: &DrillKey| known.unwrap_or(0) & (1 << key.0) != 0;
        let known: Vec<DrillKey> = base.drill_keys().filter(is_known).collect();
        let options = PlanOptions { known: known.clone(), ..world.options() };
        let plan = make(&base, &diagnosis, &options);
        for step in &plan.steps {
            prop_assert!(!step.works_on.is_empty() || !step.opens.is_empty());
        }
        let best = by_trying_all(&world, &base, &diagnosis, &known);
        prop_assert!((plan.expected_to_clear - best).abs() < 1e-9, "{} of {best}", plan.expected_to_clear);
    }
}

fn by_trying_all(
    world: &World,
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    known: &[DrillKey],
) -> f64 {
    let order = first_jobs(world, base, diagnosis);
    let order: Vec<ConditionKey> = order
        .into_iter()
        .filter(|key| {
            let mut drills = base.drill_keys();
            drills.any(|drill| {
                base.drill(drill).effect_on(*key) > 0.0 && fits(world, base, known, drill)
            })
        })
        .collect();
    let mut values =
        (0..order.len()).map(|at| best_with(world, base, diagnosis, known, &order[at..]));
    values.find(|value| *value > 0.0).unwrap_or(0.0)
}

const SET_UP_TO: u8 = 4;

/// The starts in the order in which a job is looked for: what was seen or is set-up, then the rest.
fn first_jobs(world: &World, base: &KnowledgeBase, diagnosis: &Diagnosis) -> Vec<ConditionKey> {
    let clears = diagnosis.causes.iter().filter(|cause| cause.clears > 0.0);
    let (now, later): (Vec<_>, Vec<_>) = clears.map(|cause| cause.condition).partition(|key| {
        lesson_order(base.condition(*key).stage) <= SET_UP_TO || was_seen(world, base, *key)
    });
    [now, later].concat()
}

/// Whether a drill can be done here, and what has to come before it.
fn fits(world: &World, base: &KnowledgeBase, known: &[DrillKey], key: DrillKey) -> bool {
    let drill = base.drill(key);
    let mut harms = drill.aggravates.iter().chain(&drill.not_with);
    let mut after = drill.after.iter();
    harms.all(|condition| !was_seen(world, base, *condition))
        && (world.stick || drill.equipment.is_empty())
        && drill.places.contains(&fairwhy::knowledge::Place::Range)
        && after.all(|first| known.contains(first) || fits(world, base, known, *first))
}

/// The best with the first of these as the first job.
fn best_with(
    world: &World,
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    known: &[DrillKey],
    order: &[ConditionKey],
) -> f64 {
    let frame = Frame::of(world.minutes);
    let clears = additive(diagnosis);
    let set_up = |key: &ConditionKey| lesson_order(base.condition(*key).stage) <= SET_UP_TO;
    let lead = order[0];
    let mut goals: Vec<Vec<ConditionKey>> = vec![vec![lead]];
    if frame.most_priorities() == 2 {
        for other in &order[1..] {
            let adds = clears(&[lead, *other]) - clears(&[lead]).max(clears(&[*other]));
            // The second is a change of set-up, or was seen beside one.
            let together = set_up(other) || (set_up(&lead) && was_seen(world, base, *other));
            if together && adds >= SECOND_ADDS {
                goals.push(vec![lead, *other]);
            }
        }
    }
    let drills: Vec<DrillKey> = base.drill_keys().collect();
    let mut best: f64 = 0.0;
    for mask in 0u32..(1 << drills.len()) {
        let set: Vec<DrillKey> = drills
            .iter()
            .copied()
            .filter(|key| mask & (1 << key.0) != 0)
            .collect();
        let minutes: f64 = set.iter().map(|key| base.drill(*key).minutes()).sum();
        if set.len() > frame.most_drills() || minutes > frame.work + 1e-9 {
            continue;
        }
        let with_first = set.iter().all(|key| {
            let mut after = base.drill(*key).after.iter();
            after.all(|first| set.contains(first) || known.contains(first))
        });
        let fits = with_first && set.iter().all(|key| fits(world, base, known, *key));
        if !fits || !warm(base, &set, known, frame.warm_up + frame.baseline) {
            continue;
        }
        for goal in &goals {
            // What works on no goal is only there because something that does comes after it.
            let useful = |key: &DrillKey| goal.iter().any(|g| base.drill(*key).effect_on(*g) > 0.0);
            let wanted = set.iter().all(|key| {
                useful(key)
                    || set
                        .iter()
                        .any(|other| useful(other) && needs(base, *other, *key))
            });
            let e: Vec<f64> = goal.iter().map(|g| mended(base, &set, *g)).collect();
            if wanted && e.iter().all(|mended| *mended > 0.0) {
                let value = match e.as_slice() {
                    [a] => a * clears(&goal[..1]),
                    [a, b] => {
                        a * (1.0 - b) * clears(&goal[..1])
                            + (1.0 - a) * b * clears(&goal[1..])
                            + a * b * clears(goal)
                    }
                    _ => 0.0,
                };
                best = best.max(value);
            }
        }
    }
    best
}

fn needs(base: &KnowledgeBase, drill: DrillKey, first: DrillKey) -> bool {
    base.drill(drill)
        .after
        .iter()
        .any(|before| *before == first || needs(base, *before, first))
}

/// Whether some order puts ten easy minutes before every fast drill and keeps what comes first
/// first: take easy ones as long as there are any, then fast ones.
fn warm(base: &KnowledgeBase, set: &[DrillKey], known: &[DrillKey], mut easy: f64) -> bool {
    let mut left: Vec<DrillKey> = set.to_vec();
    while !left.is_empty() {
        let ready = |key: &&DrillKey| {
            let mut after = base.drill(**key).after.iter();
            after.all(|first| !left.contains(first) || known.contains(first))
        };
        let next = left
            .iter()
            .filter(ready)
            .min_by_key(|key| is_fast(base, **key))
            .copied()
            .expect("no circle");
        if is_fast(base, next) {
            if easy < 10.0 {
                return false;
            }
        } else {
            easy += base.drill(next).minutes();
        }
        left.retain(|key| *key != next);
    }
    true
}

fn mended(base: &KnowledgeBase, set: &[DrillKey], goal: ConditionKey) -> f64 {
    let mut rungs = [0.0f64; 5];
    for key in set {
        let drill = base.drill(*key);
        let rung = drill.rung as usize;
        rungs[rung] = rungs[rung].max(drill.effect_on(goal));
    }
    rungs.sort_by(|a, b| b.total_cmp(a));
    1.0 - (1.0 - rungs[0])
        * rungs[1..]
            .iter()
            .map(|effect| 1.0 - FURTHER_RUNG * effect)
            .product::<f64>()
}
