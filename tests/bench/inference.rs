//! How long an answer takes: `cargo bench --bench inference`.
//!
//! Times are CPU milliseconds of this process where the system tells them (Linux), wall time elsewhere; each line is
//! the median of its runs. The questions:
//! - the shipped library with 3, 8, 12, 15 and 20 findings seen: rows, order, whole answer;
//! - a library of links only, 2,000 conditions and 14,000 links, 15 seen;
//! - memory: the peak of the whole run.

use std::time::Instant;

use fairwhy::causal::{CausalGraph, Rows};
use fairwhy::diagnosis::{Asked, Effort, Observation, ReadBy, State, diagnose};
use fairwhy::knowledge::{
    ConditionKey, ConditionKind, KnowledgeBase, LayerText, Strictness, load, shipped,
};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::fmt::Write as _;

fn main() {
    let base = load(&[shipped()], Strictness::ErrorsOnly)
        .expect("what ships is sound")
        .base;
    rows("shipped library", &base);
    for seen in [3, 8, 12, 15, 20] {
        answers(&base, seen);
    }
    let made = links_only(2_000, 14_000);
    rows("links only, 2,000 conditions, 14,000 links", &made);
    answers(&made, 15);
    if let Some(peak) = peak_memory() {
        println!("peak memory of the whole run: {peak:.0} MB");
    }
}

/// CPU time of this process in milliseconds, or wall time where the system does not tell.
fn clock(start: Instant) -> f64 {
    let told = std::fs::read_to_string("/proc/self/schedstat").ok();
    let spent = told.and_then(|s| s.split(' ').next()?.parse::<f64>().ok());
    spent.map_or_else(
        || start.elapsed().as_secs_f64() * 1e3,
        |nanoseconds| nanoseconds / 1e6,
    )
}

/// Median over `times` runs of at least 40 milliseconds each (the system counts CPU time in steps of a few), per call.
fn median<T>(times: usize, mut run: impl FnMut() -> T) -> f64 {
    let start = Instant::now();
    let mut taken = Vec::new();
    for _ in 0..times {
        let (before, mut calls, mut spent) = (clock(start), 0.0, 0.0);
        while spent < 40.0 {
            std::hint::black_box(run());
            calls += 1.0;
            spent = clock(start) - before;
        }
        taken.push(spent / calls);
    }
    taken.sort_by(f64::total_cmp);
    taken[times / 2]
}

fn peak_memory() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}

fn rows(what: &str, base: &KnowledgeBase) {
    let ms = median(5, || Rows::new(base, &CausalGraph::new(base)));
    println!("{what}: all rows {ms:.2} ms");
}

/// Findings that hang together, as a lesson's do: a start, what it brings about, and so on down.
fn findings(base: &KnowledgeBase, seen: usize) -> Vec<ConditionKey> {
    let mut rng = Pcg64::seed_from_u64(seen as u64);
    let full = |key: &ConditionKey| {
        let condition = base.condition(*key);
        !condition.causes.is_empty() && condition.applies_to(Some(fairwhy::knowledge::Shot::Iron))
    };
    let mut open: Vec<ConditionKey> = base.condition_keys().filter(full).collect();
    let mut found = Vec::new();
    while found.len() < seen && !open.is_empty() {
        found.push(open.swap_remove(rng.random_range(0..open.len())));
    }
    found
}

fn answers(base: &KnowledgeBase, seen: usize) {
    let asked = |effort| Asked {
        observations: findings(base, seen)
            .into_iter()
            .map(|condition| Observation {
                given: base.condition(condition).id.clone(),
                condition,
                state: State::Seen,
                read_by: ReadBy::Id,
                perhaps: Vec::new(),
            })
            .collect(),
        effort,
        ..Asked::default()
    };
    let time = |effort| {
        let asked = asked(effort);
        median(5, || diagnose(base, &asked).expect("it fits"))
    };
    println!(
        "{seen} seen: order {:.2} ms, whole answer {:.2} ms",
        time(Effort::Order),
        time(Effort::Lesson)
    );
}

/// A made-up library without a single stated share: how common 0.08 to 0.3, strengths from the verbal scale.
fn links_only(count: usize, links: usize) -> KnowledgeBase {
    let mut rng = Pcg64::seed_from_u64(1);
    let mut causes = vec![std::collections::BTreeMap::new(); count];
    let mut made = 0;
    while made < links {
        let (a, b) = (rng.random_range(0..count), rng.random_range(0..count));
        let strength = [0.15, 0.25, 0.5, 0.75, 0.85][rng.random_range(0..5)];
        if a != b && causes[a.max(b)].insert(a.min(b), strength).is_none() {
            made += 1;
        }
    }
    let mut lists = [String::from("outcomes:\n"), String::from("faults:\n")];
    for (i, causes) in causes.iter().enumerate() {
        let outcome = i >= count - count / 10;
        let text = &mut lists[usize::from(!outcome)];
        let stage = if outcome { "ball-flight" } else { "backswing" };
        let common: f64 = rng.random_range(0.08..0.3);
        let _ = write!(
            text,
            "  - {{id: c{i}, name: Condition {i}, stage: {stage}, how_common: {common:.3}, look: {{from: [face-on], for: It}}, caused_by: ["
        );
        for (cause, strength) in causes {
            let _ = write!(text, "{{id: c{cause}, strength: {strength}}}, ");
        }
        text.push_str("]}\n");
    }
    // Files of at most a mebibyte.
    let [outcomes, faults] = lists;
    let layer = LayerText::new("made", [("o.yaml", outcomes), ("f.yaml", faults)]);
    let base = load(&[layer], Strictness::ErrorsOnly)
        .expect("a sound library")
        .base;
    assert!(
        base.conditions
            .iter()
            .any(|c| c.kind == ConditionKind::Outcome)
    );
    base
}
