//! How fast words are read and drills are found, at 300, 20,000 and 100,000 drills, beside SQLite
//! FTS5 in the same run.
//!
//! `cargo bench --bench search` prints the figures as tables for `docs/search.md`; a number or two
//! behind `--` leaves out the other sizes. The drills are made of the shipped ones' sentences, mixed
//! with a seeded generator. Times are of the processor, not of the clock, wherever the system tells
//! them (Linux), so that other work on the machine lengthens them less. The other engine is asked by
//! `tests/search/fts5.py`, with the same texts and the same queries, when there is a `python3` with
//! `sqlite3`; when there is none, the bench says so.

use fairwhy::knowledge::{self, ConditionKey, Drill, KnowledgeBase, Strictness};
use fairwhy::lesson::Lesson;
use fairwhy::search::{DrillIndex, DrillQuery, Kept, PlainIndex, Question, behind_shares};
use fairwhy::words::Reader;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::OnceLock;
use std::thread;
use std::time::Instant;

const QUERIES: [&str; 10] = [
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
    grown.content_hash = format!("{n} drills made for the benchmark");
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

/// Runs of one command, and of one query in one batch, and batches.
const PROCESSES: usize = 40;
const BATCH: usize = 3;
const BATCHES: usize = 9;
/// A new clock tick of the system is this many milliseconds, wherever Linux runs.
const TICK_MS: f64 = 10.0;

/// Milliseconds that this thread has had of the processor; of the clock, where the system does not
/// say.
fn now() -> f64 {
    // Giving way for a moment makes the system bring its account up to date.
    thread::yield_now();
    let used = fs::read_to_string("/proc/thread-self/schedstat").ok();
    let used = used.and_then(|text| text.split(' ').next()?.parse::<f64>().ok());
    static START: OnceLock<Instant> = OnceLock::new();
    used.map_or_else(
        || START.get_or_init(Instant::now).elapsed().as_secs_f64() * 1e3,
        |nanoseconds| nanoseconds / 1e6,
    )
}

/// Milliseconds that commands started here have had of the processor.
fn of_commands() -> Option<f64> {
    let stat = fs::read_to_string("/proc/self/stat").ok()?;
    // Behind the name, which may hold blanks, fields 16 and 17 of proc(5).
    let mut fields = stat.rsplit(')').next()?.split_whitespace().skip(13);
    let (user, system): (f64, f64) = (fields.next()?.parse().ok()?, fields.next()?.parse().ok()?);
    Some((user + system) * TICK_MS)
}

fn timed<T>(run: impl FnOnce() -> T) -> (T, f64) {
    let start = now();
    let made = run();
    (made, now() - start)
}

fn median(mut took: Vec<f64>) -> f64 {
    took.sort_by(f64::total_cmp);
    took[took.len() / 2]
}

/// Milliseconds that one run takes: the median of batches.
fn each(mut run: impl FnMut()) -> f64 {
    run();
    let batch = |_| timed(|| (0..BATCH).for_each(|_| run())).1 / BATCH as f64;
    median((0..BATCHES).map(batch).collect())
}

/// Whole commands over the shipped library.
fn processes() {
    let program = env!("CARGO_BIN_EXE_fairwhy");
    println!("\n| whole command, shipped library | processor |\n| --- | --- |");
    let commands: [&[&str]; 4] = [
        &["drills", "chunked wedges"],
        &["show", "slice"],
        &["why", "slice"],
        &["schema"],
    ];
    for arguments in commands {
        let run = || {
            let status = Command::new(program)
                .args(arguments)
                .env_remove("FAIRWHY_LIBRARY")
                .env("FAIRWHY_HOME", "/nonexistent")
                .stdout(Stdio::null())
                .status();
            assert!(status.expect("the program starts").success());
        };
        run();
        let (before, start) = (of_commands(), Instant::now());
        (0..PROCESSES).for_each(|_| run());
        let (took, how) = match (before, of_commands()) {
            (Some(before), Some(after)) => (after - before, ""),
            _ => (start.elapsed().as_secs_f64() * 1e3, " (by the clock)"),
        };
        let took = took / PROCESSES as f64;
        println!("| `fairwhy {}` | {took:.1} ms{how} |", arguments.join(" "));
    }
}

fn reading(base: &KnowledgeBase) {
    let built = each(|| {
        black_box(Reader::new(base));
    });
    let reader = Reader::new(base);
    let took = QUERIES.map(|words| {
        each(|| {
            black_box(reader.read(black_box(words), &Lesson::default()));
        })
    });
    println!(
        "\nreader of {} conditions: built in {built:.1} ms; a phrase is read in {:.3} ms (median), {:.3} ms (slowest)",
        base.conditions.len(),
        median(took.to_vec()),
        slowest(&took)
    );
}

fn slowest(took: &[f64]) -> f64 {
    took.iter().copied().fold(0.0, f64::max)
}

/// What one size costs, in milliseconds; queries in the order of [`QUERIES`].
struct Size {
    drills: usize,
    built: f64,
    first: f64,
    again: f64,
    bytes: u64,
    in_memory: Vec<f64>,
    kept: Vec<f64>,
    plain: Vec<f64>,
}

fn asked(base: &KnowledgeBase, index: &DrillIndex) -> Vec<f64> {
    let likely = |typed: &[(ConditionKey, f64)]| behind_shares(base, typed);
    let one = |words: &str| {
        let query = DrillQuery {
            words: words.to_owned(),
            limit: 10,
            ..DrillQuery::default()
        };
        each(|| {
            black_box(index.search(base, &query, &likely).expect("a query"));
        })
    };
    QUERIES.iter().copied().map(one).collect()
}

/// What a command does that asks once, beside building the whole index and asking that.
fn once(base: &KnowledgeBase) {
    let likely = |typed: &[(ConditionKey, f64)]| behind_shares(base, typed);
    let query = |words: &str| DrillQuery {
        words: words.to_owned(),
        limit: 8,
        ..DrillQuery::default()
    };
    let whole = |words: &&str| {
        timed(|| {
            let index = DrillIndex::new(base).expect("memory");
            black_box(index.search(base, &query(words), &likely).expect("a query"));
        })
        .1
    };
    let question = |words: &&str| {
        timed(|| {
            let question = Question::new(base, query(words)).expect("memory");
            black_box(question.answer(base, &likely).expect("a query"));
        })
        .1
    };
    let whole = median(QUERIES.iter().map(whole).collect());
    let question = median(QUERIES.iter().map(question).collect());
    println!(
        "\none question over the shipped library, index included: {question:.1} ms; by way of the \
         whole index {whole:.1} ms; ratio {:.2}",
        question / whole
    );
}

fn size(base: &KnowledgeBase, drills: usize, texts: &Path) -> Size {
    let grown = grown(base, drills);
    let cache = tempfile::tempdir().expect("a folder");
    let times = if drills > 1_000 { 1 } else { 15 };
    let build = |_| timed(|| black_box(DrillIndex::new(&grown).expect("memory"))).1;
    let built = median((0..times).map(build).collect());
    let index = DrillIndex::new(&grown).expect("memory");
    let in_memory = asked(&grown, &index);
    drop(index);
    let kept = || DrillIndex::kept_in(cache.path(), &grown).expect("memory");
    let ((_, how), first) = timed(kept);
    assert_eq!(how, Kept::Written);
    let ((index, how), again) = timed(kept);
    assert_eq!(how, Kept::Found);
    let on_disk = asked(&grown, &index);
    drop(index);
    let bytes = fs::read_dir(cache.path()).expect("there");
    let bytes = bytes.map(|entry| {
        entry
            .and_then(|e| e.metadata())
            .map_or(0, |data| data.len())
    });
    let plain = PlainIndex::of_drills(&grown).expect("memory");
    let one = |words: &str| {
        each(|| {
            black_box(plain.search(words, 10).expect("a query"));
        })
    };
    let plain = QUERIES.iter().copied().map(one).collect();
    let lines: String = PlainIndex::texts_of_drills(&grown)
        .iter()
        .map(|text| text.replace('\n', " ") + "\n")
        .collect();
    fs::write(texts.join(format!("drills-{drills}.txt")), lines).expect("written");
    Size {
        drills,
        built,
        first,
        again,
        bytes: bytes.sum(),
        in_memory,
        kept: on_disk,
        plain,
    }
}

/// What the other engine takes, as it tells; `None` when it cannot be asked.
fn other_engine(texts: &Path) -> Option<serde_json::Value> {
    fs::write(texts.join("queries.txt"), QUERIES.join("\n")).expect("written");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/search/fts5.py");
    let output = Command::new("python3").arg(script).arg(texts).output();
    let output = output.ok().filter(|output| output.status.success())?;
    serde_json::from_slice(&output.stdout).ok()
}

fn main() {
    let numbers = std::env::args().filter_map(|argument| argument.parse().ok());
    let mut sizes: Vec<usize> = numbers.collect();
    if sizes.is_empty() {
        sizes = vec![300, 20_000, 100_000];
    }
    let base = shipped();
    processes();
    reading(&base);
    once(&base);
    let texts = tempfile::tempdir().expect("a folder");
    let sizes: Vec<Size> = sizes
        .into_iter()
        .map(|drills| size(&base, drills, texts.path()))
        .collect();
    let other = other_engine(texts.path());
    println!(
        "\nmilliseconds of the processor; of ten queries the median and, behind it, the slowest\n\n\
         | drills | query, index in memory | query, kept index | plain BM25 | build | first, kept | \
         again, kept | on disk | FTS5 query | FTS5 build | query, ours / FTS5 | build, ours / FTS5 |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"
    );
    for size in &sizes {
        let pair = |took: &[f64]| format!("{:.2} ({:.2})", median(took.to_vec()), slowest(took));
        let theirs = other.as_ref().and_then(|other| {
            let theirs = &other["sizes"][size.drills.to_string()];
            let queries = theirs["query_ms"].as_array()?;
            let queries: Option<Vec<f64>> = queries.iter().map(|took| took.as_f64()).collect();
            Some((queries?, theirs["build_ms"].as_f64()?))
        });
        let theirs = theirs.map_or(
            "not asked | not asked | | ".to_owned(),
            |(queries, build)| {
                format!(
                    "{} | {build:.0} | {:.2} | {:.2} ",
                    pair(&queries),
                    median(size.in_memory.clone()) / median(queries.clone()),
                    size.built / build
                )
            },
        );
        println!(
            "| {} | {} | {} | {} | {:.0} | {:.0} | {:.0} | {:.1} MB | {theirs}|",
            size.drills,
            pair(&size.in_memory),
            pair(&size.kept),
            pair(&size.plain),
            size.built,
            size.first,
            size.again,
            size.bytes as f64 / 1e6,
        );
    }
    match other {
        Some(other) => println!(
            "\nFTS5 of SQLite {}",
            other["sqlite"].as_str().unwrap_or("?")
        ),
        None => {
            println!("\nFTS5 was not asked: there is no python3 here that has sqlite3 with FTS5")
        }
    }
    let load = fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let cores = thread::available_parallelism().map_or(0, usize::from);
    println!(
        "on {cores} cores, load {}",
        load.split(' ').next().unwrap_or("unknown")
    );
}
