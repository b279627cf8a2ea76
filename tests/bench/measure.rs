//! What numbers cost: 10,000 strikes worked out with their ranges, forwards and back, and a table of as
//! many shots read, worked out and summed up.
//!
//! `cargo bench --bench measure`. Times are of the processor where Linux tells them
//! (`/proc/self/schedstat`), of the wall elsewhere; one thread. Each figure is the median of the runs,
//! with the slowest beside it, and the ratio to the first row of the same run.

use fairwhy::measure::{Club, MOST_BYTES, Number, ObservedStrike, ShotTable, flight, summary};
use std::time::Instant;

const RUNS: usize = 7;
const MANY: usize = 10_000;

/// Seconds of processor time so far, or of wall time where that is not told.
fn seconds(start: Instant) -> f64 {
    std::fs::read_to_string("/proc/self/schedstat")
        .ok()
        .and_then(|text| text.split_whitespace().next()?.parse::<f64>().ok())
        .map_or_else(|| start.elapsed().as_secs_f64(), |nanos| nanos / 1e9)
}

fn main() {
    let start = Instant::now();
    println!(
        "{:>40} {:>10} {:>10} {:>7}",
        "10,000 of", "median", "slowest", "ratio"
    );
    let mut first = None;
    for (name, work) in works() {
        let mut times: Vec<f64> = (0..RUNS)
            .map(|_| {
                let begin = seconds(start);
                work();
                seconds(start) - begin
            })
            .collect();
        times.sort_by(f64::total_cmp);
        let median = times[RUNS / 2];
        let ratio = median / *first.get_or_insert(median);
        println!(
            "{name:>40} {:>7.1} ms {:>7.1} ms {ratio:>7.2}",
            median * 1e3,
            times[RUNS - 1] * 1e3
        );
    }
}

type Work = Box<dyn Fn()>;

fn works() -> Vec<(&'static str, Work)> {
    vec![
        ("club to ball", strikes([Number::Face, Number::Path])),
        ("ball to club", strikes([Number::Start, Number::Tilt])),
        ("a table, whole", table()),
    ]
}

/// A table as a machine writes it: read, what follows from each shot, and the mean of each column.
fn table() -> Work {
    let mut text = String::from("shot,face (degrees),path (degrees),carry (yards),club\n");
    for shot in 0..MANY {
        let at = |step: usize| (shot * step % 97) as f64 / 12.0 - 4.0;
        text += &format!(
            "{shot},{:.2},{:.2},{},driver\n",
            at(31),
            at(53),
            150 + shot % 90
        );
    }
    Box::new(move || {
        let table = ShotTable::read(text.as_bytes(), MOST_BYTES).expect("a table");
        let flights = table.flights(None).expect("known words");
        assert!(flights.iter().all(Result::is_ok));
        for column in &table.columns {
            let values: Vec<f64> = column.there().into_iter().map(|(_, value)| value).collect();
            assert!(summary(&values).is_some_and(|found| found.n == MANY));
        }
    })
}

/// Strikes that differ a little, with every error stated.
fn strikes(numbers: [Number; 2]) -> Work {
    let given: Vec<ObservedStrike> = (0..MANY)
        .map(|shot| {
            let at = |step: usize| (shot * step % 97) as f64 / 12.0 - 4.0;
            ObservedStrike {
                numbers: [(numbers[0], at(31)), (numbers[1], at(53))].into(),
                errors: [(numbers[0], 1.0), (numbers[1], 1.0)].into(),
                club: Some(if shot % 2 == 0 {
                    Club::Driver
                } else {
                    Club::Iron
                }),
                ..ObservedStrike::default()
            }
        })
        .collect();
    Box::new(move || {
        let sum: f64 = given
            .iter()
            .filter_map(|given| flight(given).ok()?.path)
            .map(|path| path.high - path.low)
            .sum();
        assert!(sum.is_finite());
    })
}
