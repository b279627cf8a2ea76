//! Can the links be brought to say what the shares say? A fit of the strengths, and what it shows.
//!
//! The shipped strengths are not the fitted ones; `docs/knowledge.md` has the figures and why.
#![allow(clippy::cast_precision_loss, reason = "counts of shares and cases")]

use fairwhy::causal::CausalGraph;
use fairwhy::diagnosis::{
    Agreement, Asked, Effort, Observation, ReadBy, State, agreement, diagnose,
};
use fairwhy::knowledge::{KnowledgeBase, LayerText, Probability, Strictness, load, shipped};
use std::collections::BTreeMap;

/// Rounds of the fit; nothing is gained after the second.
const ROUNDS: usize = 6;
/// A strength stays within this factor of what was judged: about one word up or down.
const BAND: f64 = 2.0;
/// No strength passes this.
const STRONGEST: f64 = 0.95;
/// How far one round goes, on the logarithm.
const STEP: f64 = 0.5;
/// Shares below this are not told apart.
const FLOOR: f64 = 0.01;

fn mean_apart(rows: &[Agreement]) -> f64 {
    rows.iter().map(Agreement::apart).sum::<f64>() / rows.len().max(1) as f64
}

/// Moves every strength towards what the stated shares ask of the chains that it lies on, the heaviest
/// chain of each pair, weighed by the share, and of what it leaves to the finding's own; within the
/// band around `judged`.
fn round(base: &mut KnowledgeBase, judged: &KnowledgeBase, rows: &[Agreement]) {
    let graph = CausalGraph::new(base);
    let mut asked: BTreeMap<(usize, usize), (f64, f64)> = BTreeMap::new();
    for row in rows {
        if row.cause == row.finding {
            // What is left to the finding's own is what its links, all together, do not take.
            let wanted = ((1.0 - row.stated + FLOOR) / (1.0 - row.by_links + FLOOR)).ln();
            for link in &base.condition(row.finding).causes {
                let entry = asked.entry((link.cause.0, row.finding.0)).or_default();
                entry.0 += wanted;
                entry.1 += 1.0;
            }
            continue;
        }
        let wanted = ((row.stated + FLOOR) / (row.by_links + FLOOR)).ln();
        let weight = row.stated.max(row.by_links);
        let Some(chain) = graph
            .chains(row.cause, row.finding, 1, |_| 1.0)
            .into_iter()
            .next()
        else {
            continue;
        };
        for pair in chain.conditions().windows(2) {
            let entry = asked.entry((pair[0].0, pair[1].0)).or_default();
            entry.0 += weight * wanted;
            entry.1 += weight;
        }
    }
    for (effect, condition) in base.conditions.iter_mut().enumerate() {
        for (number, link) in condition.causes.iter_mut().enumerate() {
            let Some((sum, weight)) = asked.get(&(link.cause.0, effect)) else {
                continue;
            };
            let own = judged.conditions[effect].causes[number].strength.get();
            let moved = link.strength.get() * (STEP * sum / weight).exp();
            let kept = moved.clamp(own / BAND, (own * BAND).min(STRONGEST.max(own)));
            link.strength = Probability::new(kept).expect("within the band");
        }
    }
}

fn fit(judged: &KnowledgeBase, rounds: usize) -> (KnowledgeBase, Vec<f64>) {
    let mut base = judged.clone();
    let mut means = Vec::new();
    for _ in 0..rounds {
        let rows = agreement(&base).expect("a library that can be asked");
        means.push(mean_apart(&rows));
        round(&mut base, judged, &rows);
    }
    means.push(mean_apart(&agreement(&base).expect("still can be asked")));
    (base, means)
}

/// In what share of the library's own cases a wanted cause stands first, among three, among five.
fn cases(base: &KnowledgeBase) -> [f64; 3] {
    let mut hits = [0_usize; 3];
    let mut asked_for = 0_usize;
    for case in &base.cases {
        let Some(wanted) = &case.text.ranks else {
            continue;
        };
        let report = |ids: &[String], state| {
            ids.iter()
                .map(|id| Observation {
                    given: id.clone(),
                    condition: base.find(id).expect("checked"),
                    state,
                    read_by: ReadBy::Id,
                    perhaps: Vec::new(),
                })
                .collect::<Vec<_>>()
        };
        let mut observations = report(&case.text.seen, State::Seen);
        observations.extend(report(&case.text.not_seen, State::NotSeen));
        let asked = Asked {
            observations,
            shot: case.text.shot,
            weights: BTreeMap::new(),
            effort: Effort::Order,
        };
        let diagnosis = diagnose(base, &asked).expect("an answer");
        let place = diagnosis.causes.iter().position(|cause| {
            let id = &base.condition(cause.condition).id;
            wanted.any_of.contains(id)
        });
        asked_for += 1;
        for (hit, most) in hits.iter_mut().zip([1, 3, 5]) {
            *hit += usize::from(place.is_some_and(|place| place < most));
        }
    }
    hits.map(|hit| hit as f64 / asked_for.max(1) as f64)
}

/// The same library with its links alone to rank by.
fn by_links_alone(base: &KnowledgeBase) -> KnowledgeBase {
    let mut base = base.clone();
    for condition in &mut base.conditions {
        condition.behind.clear();
    }
    base
}

/// One cause, one finding: the links can say exactly what the share says, and the fit gets there.
#[test]
fn a_share_that_one_link_can_carry_is_reached() {
    let text = "
outcomes:
  - {id: slice, name: Slice, stage: ball-flight, how_common: 0.3, caused_by: [{id: grip, strength: 0.3, because: The face stays open}], behind: [{id: grip, share: 0.5}]}
faults:
  - {id: grip, name: Grip, stage: grip, how_common: 0.4}
";
    let layer = LayerText::new("small", [("a.yaml", text)]);
    let base = load(&[layer], Strictness::ErrorsOnly).expect("sound").base;
    let (fitted, means) = fit(&base, 20);
    assert!(means[0] > 0.05, "{means:?}");
    assert!(means.last().is_some_and(|last| *last < 0.02), "{means:?}");
    let strength = fitted
        .conditions
        .iter()
        .flat_map(|c| &c.causes)
        .next()
        .expect("one link");
    // P(grip and its link) / P(slice) = 0.4 s / 0.3, less what the leak would have done anyway.
    assert!(
        (0.36..0.50).contains(&strength.strength.get()),
        "{strength:?}"
    );
    let (again, means_again) = fit(&base, 20);
    assert_eq!(means_again, means, "the same library, the same fit");
    let of = |base: &KnowledgeBase| {
        base.conditions
            .iter()
            .flat_map(|c| c.causes.clone())
            .map(|l| l.strength)
            .collect::<Vec<_>>()
    };
    assert_eq!(of(&again), of(&fitted));
}

#[test]
#[ignore = "minutes: cargo test --release --test fit -- --ignored --nocapture"]
fn the_shipped_links_fitted_to_the_shipped_shares() {
    let base = load(&[shipped()], Strictness::ErrorsOnly)
        .expect("the shipped library is sound")
        .base;
    let (fitted, means) = fit(&base, ROUNDS);
    let far = |base: &KnowledgeBase| {
        let rows = agreement(base).expect("an answer");
        rows.iter().filter(|row| row.apart() > 0.1).count()
    };
    let show = |what: &str, [first, three, five]: [f64; 3]| {
        println!(
            "{what}: first {:.0} %, three {:.0} %, five {:.0} %",
            100.0 * first,
            100.0 * three,
            100.0 * five
        );
    };
    println!(
        "mean gap by round: {:?}",
        means
            .iter()
            .map(|m| (1000.0 * m).round() / 10.0)
            .collect::<Vec<_>>()
    );
    println!(
        "more than ten points apart: {} before, {} after",
        far(&base),
        far(&fitted)
    );
    show("cases, by shares", cases(&base));
    show("cases, by links as judged", cases(&by_links_alone(&base)));
    show("cases, by links as fitted", cases(&by_links_alone(&fitted)));
    let rows = agreement(&fitted).expect("an answer");
    println!("what is left, worst first:");
    for row in rows.iter().take(15) {
        println!(
            "  {} <- {}: stated {:.2}, by links {:.2}",
            base.condition(row.finding).id,
            base.condition(row.cause).id,
            row.stated,
            row.by_links
        );
    }
    if let Some(path) = std::env::var_os("FAIRWHY_FITTED") {
        let lines: Vec<String> = fitted
            .conditions
            .iter()
            .flat_map(|c| {
                c.causes.iter().map(|l| {
                    format!(
                        "{}\t{}\t{:.3}",
                        base.condition(l.cause).id,
                        c.id,
                        l.strength.get()
                    )
                })
            })
            .collect();
        std::fs::write(path, lines.join("\n")).expect("written");
    }
    assert!(means.last() < means.first(), "{means:?}");
}
