//! Ranking of drills: `tests/search/queries.yaml`, with plain BM25 over the same text beside it.

use super::shipped;
use fairwhy::diagnosis::makes_likely;
use fairwhy::knowledge::{ConditionKey, DrillKey, KnowledgeBase, Shot};
use fairwhy::lesson::{Handed, Lesson};
use fairwhy::search::{
    DrillFilters, DrillIndex, DrillQuery, MakesLikely, PlainIndex, behind_shares,
};
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
struct Queries {
    queries: Vec<Judged>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Judged {
    words: String,
    #[serde(default)]
    shot: Option<Shot>,
    #[serde(default)]
    handed: Option<String>,
    #[serde(default)]
    wants: BTreeMap<String, f64>,
    #[serde(default)]
    ids: Vec<String>,
}

fn queries() -> Queries {
    serde_yaml::from_str(include_str!("queries.yaml")).expect("the file is well-formed")
}

/// The words of every judged query.
pub(super) fn words() -> Vec<String> {
    let judged = queries().queries.into_iter();
    judged.map(|judged| judged.words).collect()
}

impl Judged {
    /// What a drill is worth for the query, from 0 to 3.
    fn gain(&self, base: &KnowledgeBase, drill: DrillKey) -> f64 {
        if self.ids.contains(&base.drill(drill).id) {
            return 3.0;
        }
        self.wants
            .iter()
            .map(|(id, grade)| {
                let condition = base
                    .find(id)
                    .unwrap_or_else(|| panic!("{id} is in the library"));
                grade * base.drill(drill).effect_on(condition)
            })
            .fold(0.0, f64::max)
    }

    /// A drill counts as right from this gain on: it works on what is wanted better than not, or on
    /// what helps very well.
    const RIGHT: f64 = 1.2;
}

#[derive(Debug, Default, Clone, Copy)]
struct Measures {
    ndcg: f64,
    mrr: f64,
    hit1: f64,
    hit5: f64,
}

#[allow(clippy::cast_precision_loss, reason = "ranks are small")]
fn measures(base: &KnowledgeBase, judged: &Judged, ranked: &[DrillKey]) -> Measures {
    let discount = |rank: usize| 1.0 / ((rank + 2) as f64).log2();
    // Exponential gain, as in Jaervelin and Kekaelaeinen's measure in its usual form.
    let worth = |gain: f64| gain.exp2() - 1.0;
    let dcg: f64 = ranked
        .iter()
        .take(10)
        .enumerate()
        .map(|(rank, drill)| worth(judged.gain(base, *drill)) * discount(rank))
        .sum();
    let mut ideal: Vec<f64> = base
        .drill_keys()
        .map(|d| worth(judged.gain(base, d)))
        .collect();
    ideal.sort_by(|a, b| b.total_cmp(a));
    let best: f64 = ideal
        .iter()
        .take(10)
        .enumerate()
        .map(|(rank, g)| g * discount(rank))
        .sum();
    let first = ranked
        .iter()
        .position(|d| judged.gain(base, *d) >= Judged::RIGHT);
    Measures {
        ndcg: if best > 0.0 { dcg / best } else { 0.0 },
        mrr: first.map_or(0.0, |rank| 1.0 / (rank + 1) as f64),
        hit1: f64::from(u8::from(first == Some(0))),
        hit5: f64::from(u8::from(first.is_some_and(|rank| rank < 5))),
    }
}

#[allow(clippy::cast_precision_loss, reason = "under a hundred queries")]
fn mean(of: &[Measures]) -> Measures {
    let n = of.len() as f64;
    let mean = |part: fn(&Measures) -> f64| of.iter().map(part).sum::<f64>() / n;
    Measures {
        ndcg: mean(|m| m.ndcg),
        mrr: mean(|m| m.mrr),
        hit1: mean(|m| m.hit1),
        hit5: mean(|m| m.hit5),
    }
}

/// Run with `--nocapture` for the figures, and for the queries that come out worst.
#[test]
fn the_joined_ranking_beats_plain_bm25_over_the_same_text() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    let plain = PlainIndex::of_drills(&base).expect("memory");
    let queries = queries();
    let shares = |typed: &[(ConditionKey, f64)]| behind_shares(&base, typed);
    let (mut joined, mut by_shares, mut baseline) = (Vec::new(), Vec::new(), Vec::new());
    for judged in &queries.queries {
        for id in &judged.ids {
            assert!(base.find_drill(id).is_some(), "{id} is not in the library");
        }
        let query = DrillQuery {
            words: judged.words.clone(),
            lesson: Lesson {
                shot: judged.shot,
                handed: judged.handed.as_deref().and_then(Handed::parse),
                ..Lesson::default()
            },
            filters: DrillFilters::default(),
            limit: 10,
        };
        let likely = |typed: &[(ConditionKey, f64)]| makes_likely(&base, &query.lesson, typed);
        let ranked_by = |likely: &MakesLikely<'_>| {
            let found = index.search(&base, &query, likely).expect("a query");
            found
                .drills
                .iter()
                .map(|hit| hit.drill)
                .collect::<Vec<DrillKey>>()
        };
        by_shares.push(measures(&base, judged, &ranked_by(&shares)));
        let found = index.search(&base, &query, &likely).expect("a query");
        let ranked: Vec<DrillKey> = found.drills.iter().map(|hit| hit.drill).collect();
        let ours = measures(&base, judged, &ranked);
        let theirs: Vec<DrillKey> = plain
            .search(&judged.words, 10)
            .expect("a query")
            .into_iter()
            .map(|(number, _)| DrillKey(number))
            .collect();
        let theirs = measures(&base, judged, &theirs);
        if ours.ndcg < 0.5 || ours.ndcg < theirs.ndcg - 0.1 {
            let read: Vec<String> = found
                .read_as
                .iter()
                .map(|r| format!("{} {:.2}", base.condition(r.condition).id, r.weight))
                .collect();
            let top: Vec<&str> = ranked
                .iter()
                .take(4)
                .map(|d| base.drill(*d).id.as_str())
                .collect();
            println!(
                "{:40} {:.2} against {:.2}  read {read:?} top {top:?}",
                judged.words, ours.ndcg, theirs.ndcg
            );
        }
        joined.push(ours);
        baseline.push(theirs);
    }
    let (ours, theirs) = (mean(&joined), mean(&baseline));
    println!(
        "{} queries\njoined {ours:.3?}\nBM25   {theirs:.3?}",
        joined.len()
    );
    assert!(ours.ndcg > theirs.ndcg + 0.1, "{ours:?} against {theirs:?}");
    assert!(ours.mrr > theirs.mrr && ours.hit1 > theirs.hit1 && ours.hit5 >= theirs.hit5);
    assert!(ours.hit1 >= 0.8 && ours.hit5 >= 0.9, "{ours:?}");
}
