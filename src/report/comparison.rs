//! Before and after, and what a table of shots comes to.

use super::handout::{INK, PAPER, SHADE, html_escaped as escaped};
use super::page::Page;
use super::student_pages::named;
use crate::knowledge::KnowledgeBase;
use crate::measure::{
    BallCount, Change, Flight, FlightError, ShotTable, Summary, Verdict, balls_needed,
    count_change, reading_change, summary, wilson,
};
use crate::records::{History, LessonRecord, MeasuredNumber, Tally};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// One thing before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// What it is.
    pub what: String,
    /// Its unit.
    pub unit: String,
    /// Before: value, low, high, and of how many.
    pub before: (f64, f64, f64, Option<usize>),
    /// After, the same.
    pub after: (f64, f64, f64, Option<usize>),
    /// What the difference is worth.
    pub change: Change,
}

/// Things side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct Sides {
    /// Each of them.
    pub compared: Vec<Compared>,
    /// How many balls a side would show the same shares.
    pub needed: Option<u32>,
    /// The two students, where it is not one before and after.
    pub students: Option<[String; 2]>,
}

impl Sides {
    fn heads(&self) -> [&str; 2] {
        match &self.students {
            Some([one, other]) => [one, other],
            None => ["Before", "After"],
        }
    }

    fn row(&self, one: &Compared) -> [String; 6] {
        let of = |(value, _, _, n): (f64, f64, f64, Option<usize>)| match n {
            Some(n) => format!("{} ({n})", figure(value)),
            None => figure(value),
        };
        [
            format!("{} ({})", one.what, one.unit),
            of(one.before),
            of(one.after),
            signed(one.change.difference),
            one.change.smallest.map_or_else(|| "-".to_owned(), figure),
            self.verdict(one.change.verdict).to_owned(),
        ]
    }

    fn verdict(&self, verdict: Verdict) -> &'static str {
        match verdict {
            Verdict::Real if self.students.is_some() => "a real difference",
            verdict => verdict.words(),
        }
    }
}

/// What two students have on record: the last count of each thing, and the last number of each quantity
/// and unit, that both have.
#[must_use]
pub fn compared_students(base: &KnowledgeBase, one: &History, two: &History) -> Vec<Compared> {
    let same = |a: &Tally, b: &Tally| a.what == b.what;
    let counts = last_of_both(one, two, |lesson| &lesson.counts, same);
    let counts = counts.into_iter().map(|(mine, other)| {
        let [mine_of, other_of] = [mine, other].map(|tally| BallCount {
            shown: tally.shown,
            of: tally.of,
        });
        let (compared, _) = compared_counts(mine_of, other_of);
        Compared {
            what: named(base, &mine.what).to_owned(),
            ..compared
        }
    });
    let same =
        |a: &MeasuredNumber, b: &MeasuredNumber| a.quantity == b.quantity && a.unit == b.unit;
    let numbers = last_of_both(one, two, |lesson| &lesson.measured, same);
    let reach = |one: &MeasuredNumber| {
        let reach = 1.959_963_984_540_054 * one.error_sd;
        (one.value, one.value - reach, one.value + reach, None)
    };
    let numbers = numbers.into_iter().map(|(mine, other)| Compared {
        what: mine.quantity.clone(),
        unit: mine.unit.clone(),
        before: reach(mine),
        after: reach(other),
        change: reading_change((mine.value, mine.error_sd), (other.value, other.error_sd)),
    });
    counts.chain(numbers).collect()
}

/// The last of each thing that both students have, latest first.
fn last_of_both<'a, T: 'a>(
    one: &'a History,
    two: &'a History,
    of: impl Fn(&'a LessonRecord) -> &'a Vec<T>,
    same: impl Fn(&T, &T) -> bool,
) -> Vec<(&'a T, &'a T)> {
    let last = |history: &'a History| {
        let mut found: Vec<&T> = Vec::new();
        for one in history.lessons.iter().rev().flat_map(&of) {
            if !found.iter().any(|other| same(one, other)) {
                found.push(one);
            }
        }
        found
    };
    let theirs = last(two);
    let of_both = last(one).into_iter().filter_map(|mine| {
        let other = theirs.iter().find(|other| same(mine, other))?;
        Some((mine, *other))
    });
    of_both.collect()
}

/// Shares of a hundred, and how many balls would show it.
#[must_use]
pub fn compared_counts(before: BallCount, after: BallCount) -> (Compared, Option<u32>) {
    let of = |count: BallCount| {
        let (low, high) = wilson(count.shown, count.of);
        let balls = usize::try_from(count.of).ok();
        (count.share() * 100.0, low * 100.0, high * 100.0, balls)
    };
    let change = count_change(before, after);
    let hundred = Change {
        difference: change.difference * 100.0,
        low: change.low * 100.0,
        high: change.high * 100.0,
        smallest: change.smallest.map(|least| least * 100.0),
        ..change
    };
    let compared = Compared {
        what: "balls that show it".into(),
        unit: "%".into(),
        before: of(before),
        after: of(after),
        change: hundred,
    };
    let needed = (change.verdict != Verdict::Real && before.share() != after.share())
        .then(|| balls_needed(before, after))
        .flatten();
    (compared, needed)
}

/// What was compared, in words.
#[must_use]
pub fn compare_page(sides: &Sides) -> Page {
    let Sides {
        compared, needed, ..
    } = sides;
    let mut page = Page::new();
    let rows = compared.iter().map(|one| sides.row(one)).collect();
    let [first, second] = sides.heads();
    let (title, difference) = match &sides.students {
        Some([one, other]) => (format!("{one} and {other}, the last of each"), "Difference"),
        None => ("Before and after".to_owned(), "Change"),
    };
    page.heading(title)
        .grid(["", first, second, difference, "Shows from", ""], rows);
    page.text(
        "Shows from: a smaller change than this may be chance or error. In brackets: of how many.",
    );
    if let Some(balls) = needed {
        page.text(format!(
            "The same shares would be a real change from {balls} balls each on."
        ));
    }
    let real = compared
        .iter()
        .filter(|one| one.change.verdict == Verdict::Real)
        .count();
    if compared.len() > 3 && real > 0 {
        page.text(format!(
            "Of {} things compared, one in twenty looks real by chance alone: believe what you were working on.",
            compared.len()
        ));
    }
    page
}

/// The same for a program.
#[must_use]
pub fn compare_json(sides: &Sides) -> Value {
    let of = |(value, low, high, n): (f64, f64, f64, Option<usize>)| json!({"value": value, "low": finite(low), "high": finite(high), "n": n});
    let rows: Vec<Value> = sides
        .compared
        .iter()
        .map(|one| {
            json!({
                "what": one.what, "unit": one.unit, "before": of(one.before), "after": of(one.after),
                "difference": one.change.difference,
                "low": finite(one.change.low), "high": finite(one.change.high),
                "smallest_detectable": one.change.smallest.and_then(finite),
                "verdict": one.change.verdict.words(),
            })
        })
        .collect();
    json!({"compared": rows, "balls_needed": sides.needed, "students": sides.students})
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// Three figures are more than any of it holds.
fn figure(value: f64) -> String {
    let text = if value.abs() >= 20.0 {
        format!("{value:.0}")
    } else if value.abs() >= 1.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.2}")
    };
    if text
        .trim_start_matches('-')
        .chars()
        .all(|c| matches!(c, '0' | '.'))
    {
        return text.trim_start_matches('-').to_owned();
    }
    text
}

fn signed(value: f64) -> String {
    let text = figure(value);
    if value > 0.0 && text.chars().any(|c| ('1'..='9').contains(&c)) {
        format!("+{text}")
    } else {
        text
    }
}

/// Rows of the picture, in pixels.
const ROW: f64 = 64.0;
const WIDE: f64 = 640.0;
const LEFT: f64 = 40.0;

/// Each thing on a line of its own scale: a ring before, a square after, each with its interval.
#[must_use]
pub fn compare_picture(sides: &Sides) -> String {
    let compared = &sides.compared;
    let [first, second] = sides.heads().map(|head| escaped(&head.to_lowercase()));
    let (ink, paper) = (INK.css(), PAPER.css());
    let height = ROW * compared.len() as f64 + 40.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDE} {height}\" width=\"{WIDE}\" height=\"{height}\" role=\"img\" font-family=\"sans-serif\" font-size=\"14\">\n<title>{first} and {second}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"{paper}\"/>\n"
    );
    for (row, one) in compared.iter().enumerate() {
        picture_row(&mut svg, sides, one, ROW * row as f64 + 24.0);
    }
    let _ = writeln!(
        svg,
        "<text x=\"{LEFT}\" y=\"{}\" fill=\"{ink}\" font-size=\"12\">ring: {first}; square: {second}; lines: 95 % intervals</text>\n</svg>",
        height - 10.0
    );
    svg
}

fn picture_row(svg: &mut String, sides: &Sides, one: &Compared, top: f64) {
    let (ink, paper, shade) = (INK.css(), PAPER.css(), SHADE.css());
    let ends = [one.before, one.after].map(|(value, low, high, _)| [value, low, high]);
    let there = ends.into_iter().flatten().filter(|end| end.is_finite());
    let low = there.clone().fold(f64::INFINITY, f64::min);
    let high = there.fold(f64::NEG_INFINITY, f64::max);
    let width = (high - low).max(1e-9);
    let at = |value: f64| LEFT + (value.clamp(low, high) - low) / width * (WIDE - 2.0 * LEFT);
    let _ = writeln!(
        svg,
        "<text x=\"{LEFT}\" y=\"{top}\" fill=\"{ink}\">{} ({}): {} to {}, {}</text>\n<rect x=\"{LEFT}\" y=\"{}\" width=\"{}\" height=\"24\" fill=\"{shade}\"/>",
        escaped(&one.what),
        escaped(&one.unit),
        figure(one.before.0),
        figure(one.after.0),
        sides.verdict(one.change.verdict),
        top + 6.0,
        WIDE - 2.0 * LEFT,
    );
    for (side, (value, from, to, _)) in [one.before, one.after].into_iter().enumerate() {
        let y = top + 12.0 + 12.0 * side as f64;
        let (from, to, x) = (at(from), at(to), at(value));
        let (left, up) = (x - 5.0, y - 5.0);
        let mark = match side {
            0 => format!(
                "<circle cx=\"{x:.1}\" cy=\"{y}\" r=\"5\" fill=\"{paper}\" stroke=\"{ink}\" stroke-width=\"2\"/>"
            ),
            _ => format!(
                "<rect x=\"{left:.1}\" y=\"{up}\" width=\"10\" height=\"10\" fill=\"{ink}\"/>"
            ),
        };
        let _ = writeln!(
            svg,
            "<line x1=\"{from:.1}\" y1=\"{y}\" x2=\"{to:.1}\" y2=\"{y}\" stroke=\"{ink}\" stroke-width=\"2\"/>\n{mark}"
        );
    }
}

/// A table of shots: means with intervals, what is far from the others, what does not fit.
#[must_use]
pub fn shots_page(table: &ShotTable, flights: &[Result<Flight, FlightError>]) -> Page {
    let mut page = Page::new();
    let all = summaries(table);
    page.heading(format!("{} shots", table.len()));
    if all.is_empty() {
        page.text("No column has a unit in its head, so there is no number to read.");
    }
    let rows = all.iter().map(|(head, _, s)| {
        let interval = s.interval.map_or_else(
            || "-".to_owned(),
            |(low, high)| format!("{} and {}", figure(low), figure(high)),
        );
        let [mean, spread] = [s.mean, s.sd].map(figure);
        [head.clone(), s.n.to_string(), mean, interval, spread]
    });
    let head = ["", "Shots", "Mean", "95 % between", "Spread"];
    page.grid(head, rows.collect());
    let far = all.iter().flat_map(|(head, values, s)| {
        s.far.iter().map(move |place| {
            let (row, value) = values[*place];
            format!("row {}, {head}: {}", row + 2, figure(value))
        })
    });
    page.bullets_under("Far from the others, and still counted", far);
    let (odd, none) = doubts(flights);
    if !odd.is_empty() || !none.is_empty() {
        page.heading("Look again");
    }
    page.bullets(rows_line("numbers that cannot all be right", &odd));
    page.bullets(rows_line("numbers from which no strike follows", &none));
    page
}

/// A column's head with its unit, its values with their rows, and what they come to.
type Summed = (String, Vec<(usize, f64)>, Summary);

fn summaries(table: &ShotTable) -> Vec<Summed> {
    table
        .columns
        .iter()
        .filter_map(|column| {
            let there = column.there();
            let values: Vec<f64> = there.iter().map(|(_, value)| *value).collect();
            let unit = column
                .number
                .map_or(column.unit.as_str(), |number| number.unit());
            Some((
                format!("{} ({unit})", column.name),
                there,
                summary(&values)?,
            ))
        })
        .collect()
}

/// Rows with a contradiction, and rows that are refused.
fn doubts(flights: &[Result<Flight, FlightError>]) -> (Vec<usize>, Vec<usize>) {
    let rows = |wanted: fn(&Result<Flight, FlightError>) -> bool| {
        let all = flights.iter().enumerate();
        all.filter(|(_, flight)| wanted(flight))
            .map(|(row, _)| row + 2)
            .collect()
    };
    (
        rows(|flight| flight.as_ref().is_ok_and(|f| !f.contradictions.is_empty())),
        rows(Result::is_err),
    )
}

fn rows_line(what: &str, rows: &[usize]) -> Option<String> {
    let named: Vec<String> = rows.iter().take(12).map(usize::to_string).collect();
    let more = if rows.len() > named.len() {
        ", ..."
    } else {
        ""
    };
    (!rows.is_empty()).then(|| format!("{what}: row {}{more}", named.join(", ")))
}

/// The same for a program.
#[must_use]
pub fn shots_json(table: &ShotTable, flights: &[Result<Flight, FlightError>]) -> Value {
    let columns: Vec<Value> = summaries(table)
        .into_iter()
        .map(|(head, values, s)| {
            let far: Vec<Value> = s
                .far
                .iter()
                .map(|place| json!({"row": values[*place].0 + 2, "value": values[*place].1}))
                .collect();
            json!({
                "column": head, "n": s.n, "mean": s.mean, "sd": s.sd,
                "low": s.interval.map(|i| i.0), "high": s.interval.map(|i| i.1), "far": far,
            })
        })
        .collect();
    let (odd, none) = doubts(flights);
    json!({"shots": table.len(), "columns": columns, "contradictions": odd, "refused": none})
}
