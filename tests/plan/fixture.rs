//! Small libraries and diagnoses, made by hand.

use fairwhy::diagnosis::{Chain, Diagnosis, Observation, RankedCause, ReadBy, State, complaints};
use fairwhy::knowledge::{ConditionKey, KnowledgeBase, LayerText, Strictness, load};
use fairwhy::lesson::Lesson;
use fairwhy::plan::{Plan, PlanOptions, make_plan};
use fairwhy::words::Complaints;

/// A library from YAML; the folder is called `test`.
pub fn library(text: &str) -> KnowledgeBase {
    match load(
        &[LayerText::new("test", [("a.yaml", text)])],
        Strictness::Lesson,
    ) {
        Ok(loaded) => loaded.base,
        Err(problems) => panic!("{problems:#?}"),
    }
}

pub fn key(base: &KnowledgeBase, id: &str) -> ConditionKey {
    base.find(id).unwrap_or_else(|| panic!("no `{id}`"))
}

pub fn seen(base: &KnowledgeBase, id: &str) -> Observation {
    Observation {
        given: id.to_owned(),
        condition: key(base, id),
        state: State::Seen,
        read_by: ReadBy::Id,
        perhaps: Vec::new(),
    }
}

/// A cause: id, P(present), share cleared.
pub type Cause<'a> = (&'a str, f64, f64);

/// A diagnosis that says what it is told to say. The chain of each cause runs to the first finding.
pub fn diagnosis(base: &KnowledgeBase, findings: &[&str], causes: &[Cause<'_>]) -> Diagnosis {
    let observations: Vec<Observation> = findings.iter().map(|id| seen(base, id)).collect();
    let first = observations.first().map(|o| o.condition);
    Diagnosis {
        heard: fairwhy::diagnosis::Heard::default(),
        complaints: complaints(base, Complaints::default(), &observations),
        observations,
        said_twice: Vec::new(),
        lesson: Lesson::default(),
        causes: causes
            .iter()
            .map(|(id, probability, clears)| RankedCause {
                condition: key(base, id),
                starts_here: *probability,
                clears: *clears,
                effect: 0.5,
                best_remedy: None,
                worth: clears * 0.5,
                accounts_for: Vec::new(),
                on_the_way: 0.0,
                chains: first
                    .map(|finding| Chain {
                        conditions: vec![key(base, id), finding],
                        because: vec![Some("One brings the other".to_owned())],
                    })
                    .into_iter()
                    .collect(),
            })
            .collect(),
        next_looks: Vec::new(),
        unexplained: Vec::new(),
        at_odds: Vec::new(),
        standing: None,
        rival: None,
        would_change: Vec::new(),
        firmness: None,
    }
}

/// Shares add up, to at most 1.
pub fn additive(diagnosis: &Diagnosis) -> impl Fn(&[ConditionKey]) -> f64 + use<> {
    let shares: Vec<(ConditionKey, f64)> = diagnosis
        .causes
        .iter()
        .map(|cause| (cause.condition, cause.clears))
        .collect();
    move |set| {
        shares
            .iter()
            .filter(|(key, _)| set.contains(key))
            .map(|(_, clears)| clears)
            .sum::<f64>()
            .min(1.0)
    }
}

pub fn planned(base: &KnowledgeBase, diagnosis: &Diagnosis, options: &PlanOptions) -> Plan {
    make_plan(base, diagnosis, &additive(diagnosis), options).expect("the options make sense")
}

/// The same diagnosis in another lesson.
pub fn within(diagnosis: &Diagnosis, lesson: Lesson) -> Diagnosis {
    Diagnosis {
        lesson,
        ..diagnosis.clone()
    }
}

/// The ids of the drills, in order.
pub fn steps<'a>(base: &'a KnowledgeBase, plan: &Plan) -> Vec<&'a str> {
    plan.steps
        .iter()
        .map(|step| base.drill(step.drill).id.as_str())
        .collect()
}

/// Why a drill is not in.
pub fn left_out<'a>(base: &KnowledgeBase, plan: &'a Plan, drill: &str) -> (&'static str, &'a str) {
    plan.left_out
        .iter()
        .find(|left| base.drill(left.drill).id == drill)
        .map(|left| (left.reason, left.why.as_str()))
        .unwrap_or_else(|| panic!("`{drill}` is not among {:?}", plan.left_out))
}

/// A grip that starts a chain to an open face and a ball that bends away, with drills on the rungs.
pub const GRIP: &str = "
outcomes:
  - {id: bends-away, name: Ball bends away, stage: ball-flight, caused_by: [{id: face-open, strength: 0.8}]}
  - {id: sore-back, name: Sore back, stage: body, pain: true}
faults:
  - {id: weak-hold, name: Hands turned too far to the lead side, stage: grip}
  - {id: aimed-in, name: Body aimed in, stage: setup}
  - id: face-open
    name: Face open at the ball
    stage: impact
    caused_by: [{id: weak-hold, strength: 0.7, because: The hands come back to where they hang}]
  - {id: sways, name: Hips drift back, stage: backswing}
drills:
  - {id: knuckles, name: Count the knuckles, kind: setup-change, treats: [{id: weak-hold, effect: 0.8}], ladder: rehearsal, dose: {sets: 2, reps: 8, minutes: 6}, steps: [Look down, count], check: Two in 8 of 10, feel: [The club hangs like a bucket]}
  - {id: half-holds, name: Half swings with the new hold, treats: [{id: weak-hold, effect: 0.6}], ladder: half-speed, after: [knuckles], dose: {sets: 2, reps: 8, minutes: 8, balls: 16}, steps: [Swing], check: 7 of 10}
  - {id: face-feel, name: Face to the ground, treats: [{id: face-open, effect: 0.7}], ladder: slow-with-ball, dose: {sets: 2, reps: 8, minutes: 8, balls: 16}, steps: [Swing], check: 7 of 10}
  - {id: stick-aim, name: Stick on the toes, kind: setup-change, treats: [{id: aimed-in, effect: 0.7}], ladder: rehearsal, dose: {sets: 1, reps: 8, minutes: 5}, steps: [Lay it down], check: 8 of 10, needs: {equipment: [stick], place: [range]}}
  - {id: hip-wall, name: Hip to the wall, treats: [{id: sways, effect: 0.9}], ladder: rehearsal, dose: {minutes: 5}, steps: [Stand by a wall], check: 8 of 10, not_with: [sore-back]}
  - {id: big-turn, name: Big turn, treats: [{id: weak-hold, effect: 0.9}], ladder: slow-with-ball, aggravates: [sways], dose: {minutes: 5}, steps: [Turn], check: 8 of 10}
  - {id: full-rip, name: Full swings, treats: [{id: weak-hold, effect: 0.5}], ladder: full-speed, dose: {minutes: 8, balls: 10}, steps: [Swing], check: 8 of 10}
  - {id: see-someone, name: Hand over, kind: referral, treats: [{id: sore-back, effect: 0.7}], dose: {minutes: 10}, steps: [Stop], check: Gone to see one, needs: {place: [home]}}
";
