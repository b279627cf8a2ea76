//! What a plan costs beyond the diagnosis: on the shipped library, and with 5,000 drills.
//!
//! `cargo bench --bench plan`. Times are of the processor where Linux tells them
//! (`/proc/self/schedstat`), of the wall elsewhere; one thread. Each figure is the median of the
//! runs, with the slowest beside it, and the ratio to the diagnosis in the same run.

use fairwhy::diagnosis::{Asked, Observation, ReadBy, State, clears_together, diagnose};
use fairwhy::knowledge::{Drill, KnowledgeBase, Probability, Strictness, load, shipped};
use fairwhy::plan::{PlanOptions, make_plan};
use std::time::Instant;

/// Lessons: what was seen.
const LESSONS: [&[&str]; 4] = [
    &["slice", "grip-too-weak", "clubface-open-at-impact"],
    &["pull", "divot-points-in", "path-out-to-in", "over-the-top"],
    &["fat-strike", "hangs-back", "low-point-behind-ball", "sway"],
    &["hook", "hands-roll-over", "divot-points-out"],
];

const RUNS: usize = 5;
const MANY: usize = 5_000;

/// Seconds of processor time so far, or of wall time where that is not told.
fn seconds(start: Instant) -> f64 {
    std::fs::read_to_string("/proc/self/schedstat")
        .ok()
        .and_then(|text| text.split_whitespace().next()?.parse::<f64>().ok())
        .map_or_else(|| start.elapsed().as_secs_f64(), |nanos| nanos / 1e9)
}

fn main() {
    let start = Instant::now();
    let base = load(&[shipped()], Strictness::Lesson)
        .expect("the shipped library loads")
        .base;
    let many = with_drills(&base, MANY);
    println!(
        "{:>34} {:>7} {:>10} {:>10} {:>10} {:>7}",
        "lesson", "drills", "diagnosis", "plan", "slowest", "ratio"
    );
    for seen in LESSONS {
        for library in [&base, &many] {
            measure(library, seen, start);
        }
    }
}

fn measure(base: &KnowledgeBase, seen: &[&str], start: Instant) {
    let asked = Asked {
        observations: seen
            .iter()
            .map(|id| Observation {
                given: (*id).to_owned(),
                condition: base.find(id).expect("in the library"),
                state: State::Seen,
                read_by: ReadBy::Id,
                perhaps: Vec::new(),
            })
            .collect(),
        ..Asked::default()
    };
    let options = PlanOptions::default();
    let (mut diagnosing, mut planning) = (Vec::new(), Vec::new());
    for _ in 0..RUNS {
        let begin = seconds(start);
        let diagnosis = diagnose(base, &asked).expect("a diagnosis");
        let between = seconds(start);
        let clears = clears_together(base, &asked).expect("a diagnosis");
        let plan = make_plan(base, &diagnosis, &*clears, &options).expect("sound options");
        assert!(!plan.steps.is_empty());
        planning.push(seconds(start) - between);
        diagnosing.push(between - begin);
    }
    diagnosing.sort_by(f64::total_cmp);
    planning.sort_by(f64::total_cmp);
    let (before, own) = (diagnosing[RUNS / 2], planning[RUNS / 2]);
    println!(
        "{:>34} {:>7} {:>7.1} ms {:>7.1} ms {:>7.1} ms {:>7.2}",
        format!("{} + {}", seen[0], seen.len() - 1),
        base.drills.len(),
        before * 1e3,
        own * 1e3,
        planning[RUNS - 1] * 1e3,
        own / before
    );
}

/// The library with copies of its drills, each a little longer and a little weaker or stronger than
/// the last, up to `count`; what comes first stays among copies of the same age.
fn with_drills(base: &KnowledgeBase, count: usize) -> KnowledgeBase {
    let mut grown = base.clone();
    let mut drills: Vec<(String, Drill)> = Vec::new();
    let own = base.drills.len();
    for copy in 0..count {
        let mut drill = base.drills[copy % own].clone();
        let age = copy / own;
        if age > 0 {
            drill.id = format!("{}-copy-{age:03}", drill.id);
            drill.dose.minutes = Some(drill.minutes() + 0.5 * ((copy * 7 % 11) as f64) - 2.0)
                .map(|minutes: f64| minutes.max(2.0));
            for treats in &mut drill.treats {
                let shift = (copy * 31 % 41) as f64 / 100.0 - 0.2;
                let effect = (treats.effect.get() + shift).clamp(0.02, 0.97);
                treats.effect = Probability::new(effect).expect("clamped");
            }
        }
        drills.push((drill.id.clone(), drill));
    }
    drills.sort_by(|a, b| a.0.cmp(&b.0));
    let place = |id: &str| {
        fairwhy::knowledge::DrillKey(
            drills
                .binary_search_by(|(known, _)| known.as_str().cmp(id))
                .expect("every id is there"),
        )
    };
    grown.drills = drills
        .iter()
        .map(|(id, drill)| {
            let mut drill = drill.clone();
            let age = id.split_once("-copy-").map(|(_, age)| age);
            for first in &mut drill.after {
                let original = &base.drill(*first).id;
                let same_age = age.map(|age| format!("{original}-copy-{age}"));
                *first = same_age
                    .filter(|id| drills.binary_search_by(|(known, _)| known.cmp(id)).is_ok())
                    .map_or_else(|| place(original), |id| place(&id));
            }
            drill
        })
        .collect();
    grown
}
