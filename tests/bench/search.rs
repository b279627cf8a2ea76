//! How fast words are read and drills are found, at 300, 20,000 and 100,000 drills.
//!
//! `cargo bench --bench search` prints the figures; `--write DIR` also writes the texts and the
//! queries, one a line, so that `tests/search/fts5.py` can ask another engine the same. The drills
//! are made of the shipped ones' sentences, mixed with a seeded generator.

use fairwhy::knowledge::{self, ConditionKey, Drill, KnowledgeBase, Strictness};
use fairwhy::search::{
    Circumstances, DrillFilters, DrillIndex, DrillQuery, PlainIndex, Reader, behind_shares,
};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::hint::black_box;
use std::path::PathBuf;
use std::time::{Duration, Instant};

const QUERIES: &[&str] = &[
    "chunked wedges",
    "weak slice with driver",
    "towel under the lead foot",
    "fat then thin cant find middle",
    "hips slide past the ball",
    "shanks",
    "leaves putts short",
    "slcie w drvier",
    "trail elbow too bent at top",
    "mirror check of the grip",
];

fn shipped() -> KnowledgeBase {
    knowledge::load(&[knowledge::shipped()], Strictness::Lesson)
        .unwrap_or_else(|problems| panic!("{problems:?}"))
        .base
}

/// `n` drills whose lines come from drills of the shipped library, each from another one.
fn grown(base: &KnowledgeBase, n: usize) -> KnowledgeBase {
    let mut rng = Pcg64Mcg::seed_from_u64(7);
    let mut grown = base.clone();
    grown.drills = (0..n)
        .map(|number| {
            let mut any = || &base.drills[rng.random_range(0..base.drills.len())];
            let mut drill: Drill = any().clone();
            drill.id = format!("made-{number:06}");
            drill.purpose.clone_from(&any().purpose);
            drill.setup.clone_from(&any().setup);
            drill.feel.clone_from(&any().feel);
            drill.check.clone_from(&any().check);
            let lines = drill.steps.len();
            drill.steps = (0..lines)
                .filter_map(|_| {
                    let other = any();
                    other.steps.get(number % other.steps.len().max(1)).cloned()
                })
                .collect();
            drill.after.clear();
            drill.retired_for = None;
            drill
        })
        .collect();
    grown
}

/// The median of `times` runs, in microseconds.
fn median(times: usize, mut run: impl FnMut()) -> f64 {
    let mut took: Vec<Duration> = (0..times)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed()
        })
        .collect();
    took.sort_unstable();
    took[times / 2].as_secs_f64() * 1e6
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let write = arguments
        .iter()
        .position(|a| a == "--write")
        .and_then(|at| arguments.get(at + 1))
        .map(PathBuf::from);
    let base = shipped();

    println!("reading words ({} conditions)", base.conditions.len());
    let built = median(15, || {
        black_box(Reader::new(&base));
    });
    let reader = Reader::new(&base);
    println!("  build the reader           {:9.2} ms", built / 1e3);
    for words in QUERIES {
        let took = median(201, || {
            black_box(reader.read(black_box(words), &Circumstances::default()));
        });
        println!("  {words:34} {took:9.1} us");
    }

    for n in [300, 20_000, 100_000] {
        let grown = grown(&base, n);
        let times = if n > 1_000 { 1 } else { 15 };
        let built = median(times, || {
            black_box(DrillIndex::new(&grown).expect("memory"));
        });
        let index = DrillIndex::new(&grown).expect("memory");
        let plain = PlainIndex::of_drills(&grown).expect("memory");
        let likely = |typed: &[(ConditionKey, f64)]| behind_shares(&grown, typed);
        println!("{n} drills: build the index {:.1} ms", built / 1e3);
        for words in QUERIES {
            let query = DrillQuery {
                words: (*words).to_owned(),
                filters: DrillFilters::default(),
                limit: 10,
                ..DrillQuery::default()
            };
            let joined = median(21, || {
                black_box(index.search(&grown, &query, &likely).expect("a query"));
            });
            let text = median(21, || {
                black_box(plain.search(words, 10).expect("a query"));
            });
            println!(
                "  {words:34} {:9.2} ms   plain BM25 {:9.2} ms",
                joined / 1e3,
                text / 1e3
            );
        }
        if let Some(folder) = &write {
            std::fs::create_dir_all(folder).expect("a folder to write to");
            let texts: String = PlainIndex::texts_of_drills(&grown)
                .iter()
                .map(|text| text.replace('\n', " ") + "\n")
                .collect();
            std::fs::write(folder.join(format!("drills-{n}.txt")), texts).expect("written");
            std::fs::write(folder.join("queries.txt"), QUERIES.join("\n")).expect("written");
        }
    }
}
