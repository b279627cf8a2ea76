//! The months of a student: findings, counts, numbers and drills, as text and as a small picture; and how
//! a coach's calls lie against our order.

use super::handout::{INK, PAPER, SHADE, html_escaped as escaped, sided_text};
use super::page::{Narrow, Page};
use super::percent::in_ten;
use super::student_pages::{how_many, named};
use crate::knowledge::KnowledgeBase;
use crate::measure::{BallCount, count_change, reading_change, wilson};
use crate::records::{Agreement, Evaluation, History, LessonRecord, Rate, Tally};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// So many lessons fit on a line.
const MOST_LESSONS: usize = 8;

/// The last check-ups, as many as fit.
fn last_check_ups(history: &History) -> Vec<&LessonRecord> {
    let mut last: Vec<&LessonRecord> = history.check_ups().rev().take(MOST_LESSONS).collect();
    last.reverse();
    last
}

/// One thing over the lessons: its name, and each place with a value.
type Series<'a, T> = Vec<(&'a str, Vec<(&'a LessonRecord, T)>)>;

fn findings(history: &History) -> Vec<&str> {
    let mut all: Vec<&str> = Vec::new();
    for id in history.check_ups().flat_map(|lesson| &lesson.seen) {
        if !all.contains(&id.as_str()) {
            all.push(id);
        }
    }
    all
}

fn series<'a, T: Copy>(
    history: &'a History,
    of: impl Fn(&'a LessonRecord) -> Vec<(&'a str, T)>,
) -> Series<'a, T> {
    let mut all: Series<'a, T> = Vec::new();
    for lesson in &history.lessons {
        for (what, value) in of(lesson) {
            match all.iter_mut().find(|one| one.0 == what) {
                Some(one) => one.1.push((lesson, value)),
                None => all.push((what, vec![(lesson, value)])),
            }
        }
    }
    all
}

fn counts(history: &History) -> Series<'_, BallCount> {
    let count = |tally: &Tally| BallCount {
        shown: tally.shown,
        of: tally.of,
    };
    series(history, |lesson| {
        lesson
            .counts
            .iter()
            .map(|tally| (tally.what.as_str(), count(tally)))
            .collect()
    })
}

fn measured(history: &History) -> Series<'_, (f64, f64, &str)> {
    series(history, |lesson| {
        lesson
            .measured
            .iter()
            .map(|one| {
                (
                    one.quantity.as_str(),
                    (one.value, one.error_sd, one.unit.as_str()),
                )
            })
            .collect()
    })
}

/// The sign for a finding in a lesson.
fn sign(lesson: &LessonRecord, id: &str) -> &'static str {
    let holds = |list: &[String]| list.iter().any(|other| other == id);
    if holds(&lesson.slight) {
        "\u{25cb}"
    } else if holds(&lesson.seen) {
        "\u{25cf}"
    } else if holds(&lesson.ruled_out) {
        "-"
    } else {
        "\u{b7}"
    }
}

/// The months in words and signs.
#[must_use]
pub fn progress_page(base: &KnowledgeBase, history: &History) -> Page {
    let mut page = Page::new();
    let handle = &history.student.handle;
    if history.lessons.is_empty() {
        page.text(format!("{handle}: no lesson is kept yet."));
        return page;
    }
    let lessons = how_many(history.check_ups().count(), "lessons");
    page.heading(format!("{handle}, {lessons}"));
    signs_table(&mut page, base, history);
    page.bullets_under("Counted", counts_in_words(base, history));
    page.bullets_under("Measured", measured_in_words(history));
    page.bullets_under("Drills, as they went", drills_in_words(base, history));
    page
}

/// A row of signs for each finding, a column for each of the last lessons.
fn signs_table(page: &mut Page, base: &KnowledgeBase, history: &History) {
    let shown = last_check_ups(history);
    let mut head = vec!["Finding".to_owned()];
    let days = shown.iter().map(|lesson| lesson.day.format("%y-%m-%d"));
    head.extend(days.map(|day| day.to_string()));
    let rows: Vec<Vec<String>> = findings(history)
        .into_iter()
        .map(|id| {
            let signs = shown.iter().map(|lesson| sign(lesson, id).to_owned());
            std::iter::once(named(base, id).to_owned())
                .chain(signs)
                .collect()
        })
        .collect();
    let lines = rows
        .iter()
        .map(|row| format!("{}: {}", row[0], row[1..].join(" ")))
        .collect();
    let below = 24 + 9 * shown.len();
    if !rows.is_empty() {
        page.table(head, rows, Some(Narrow { below, lines }));
        page.text("\u{25cf} seen, \u{25cb} slightly, - not there, \u{b7} not looked at");
    }
}

fn counts_in_words(base: &KnowledgeBase, history: &History) -> Vec<String> {
    counts(history)
        .into_iter()
        .map(|(what, values)| {
            let each: Vec<String> = values
                .iter()
                .map(|(lesson, count)| format!("{} of {} ({})", count.shown, count.of, lesson.day))
                .collect();
            let (first, last) = (values[0].1, values[values.len() - 1].1);
            let verdict = if values.len() > 1 {
                format!(
                    "; first to last: {}",
                    count_change(first, last).verdict.words()
                )
            } else {
                String::new()
            };
            format!("{}: {}{verdict}", named(base, what), each.join(", "))
        })
        .collect()
}

fn measured_in_words(history: &History) -> Vec<String> {
    measured(history)
        .into_iter()
        .map(|(what, values)| {
            let each: Vec<String> = values
                .iter()
                .map(|(lesson, (value, _, unit))| format!("{value} {unit} ({})", lesson.day))
                .collect();
            let (first, last) = (values[0].1, values[values.len() - 1].1);
            let change = reading_change((first.0, first.1), (last.0, last.1));
            let verdict = if values.len() > 1 && first.2 == last.2 {
                let least = change.smallest.unwrap_or_default();
                format!(
                    "; first to last: {} (shows from {least:.1} {})",
                    change.verdict.words(),
                    last.2
                )
            } else {
                String::new()
            };
            format!("{what}: {}{verdict}", each.join(", "))
        })
        .collect()
}

/// Drills of which it was told how they went.
fn drills_told(history: &History) -> Vec<&str> {
    let mut drills: Vec<&str> = Vec::new();
    for outcome in &history.outcomes {
        if !drills.contains(&outcome.drill.as_str()) {
            drills.push(&outcome.drill);
        }
    }
    drills
}

fn drills_in_words(base: &KnowledgeBase, history: &History) -> Vec<String> {
    drills_told(history)
        .into_iter()
        .map(|drill| {
            let each: Vec<String> = history
                .outcomes
                .iter()
                .filter(|outcome| outcome.drill == drill)
                .map(|outcome| format!("{} ({})", outcome.result.as_str(), outcome.day))
                .collect();
            format!("{}: {}", named(base, drill), each.join(", "))
        })
        .collect()
}

/// The same for a program.
#[must_use]
pub fn progress_json(history: &History) -> Value {
    let states = findings(history).into_iter().map(|id| {
        let word = |lesson: &LessonRecord| match sign(lesson, id) {
            "\u{25cf}" => "seen",
            "\u{25cb}" => "slight",
            "-" => "not-seen",
            _ => "not-looked-at",
        };
        let each = history.lessons.iter();
        let each = each.map(|lesson| json!({"date": lesson.day, "state": word(lesson)}));
        json!({"id": id, "lessons": each.collect::<Vec<_>>()})
    });
    json!({
        "handle": history.student.handle, "findings": states.collect::<Vec<_>>(),
        "counts": counts_json(history), "measured": measured_json(history),
        "outcomes": history.outcomes,
    })
}

fn counts_json(history: &History) -> Vec<Value> {
    let counts = counts(history).into_iter().map(|(what, values)| {
        let change = count_change(values[0].1, values[values.len() - 1].1);
        let each = values.iter();
        let each = each.map(
            |(lesson, count)| json!({"date": lesson.day, "shown": count.shown, "of": count.of}),
        );
        json!({
            "what": what, "values": each.collect::<Vec<_>>(),
            "verdict": (values.len() > 1).then(|| change.verdict.words()),
        })
    });
    counts.collect()
}

fn measured_json(history: &History) -> Vec<Value> {
    let measured = measured(history).into_iter().map(|(what, values)| {
        let (first, last) = (values[0].1, values[values.len() - 1].1);
        let change = reading_change((first.0, first.1), (last.0, last.1));
        let each = values.iter().map(|(lesson, (value, sd, unit))| {
            json!({"date": lesson.day, "value": value, "error_sd": sd, "unit": unit})
        });
        json!({
            "quantity": what, "values": each.collect::<Vec<_>>(),
            "smallest_detectable": change.smallest,
            "verdict": (values.len() > 1).then(|| change.verdict.words()),
        })
    });
    measured.collect()
}

/// Where things stand in the picture, in pixels.
const WIDE: f64 = 720.0;
const LEFT: f64 = 240.0;
const ROW: f64 = 26.0;
const CHART: f64 = 96.0;

/// The months as a small picture: a row of signs for each finding, a row of words for each drill as it
/// went, a line with its intervals for each count and number. Signs differ by shape, so that it reads
/// without colour.
#[must_use]
pub fn progress_picture(base: &KnowledgeBase, history: &History) -> String {
    let (ink, paper) = (INK.css(), PAPER.css());
    let from = history.lessons.len().saturating_sub(MOST_LESSONS);
    let shown = &history.lessons[from..];
    let (ids, drills) = (findings(history), drills_told(history));
    let charts = charts(base, history);
    let step = (WIDE - LEFT - 40.0) / shown.len().max(1) as f64;
    let places: Vec<(&LessonRecord, f64)> = shown
        .iter()
        .enumerate()
        .map(|(place, lesson)| (lesson, LEFT + step * (place as f64 + 0.5)))
        .collect();
    let rows = ROW * (ids.len() + drills.len()) as f64;
    let height = 70.0 + rows + CHART * charts.len() as f64 + 30.0;
    let handle = escaped(&history.student.handle);
    let hand = history.student.handed;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDE} {height}\" width=\"{WIDE}\" height=\"{height}\" role=\"img\" font-family=\"sans-serif\" font-size=\"13\">\n<title>{handle}: the months</title>\n<rect width=\"100%\" height=\"100%\" fill=\"{paper}\"/>\n<text x=\"16\" y=\"26\" fill=\"{ink}\" font-size=\"16\">{handle}</text>\n"
    );
    for (lesson, x) in &places {
        let day = lesson.day.format("%y-%m-%d").to_string();
        written(&mut svg, &day, *x, 50.0);
    }
    let mut y = 74.0;
    for id in ids {
        row_name(&mut svg, &sided_text(named(base, id), hand), y);
        for (lesson, x) in &places {
            drawn_sign(&mut svg, sign(lesson, id), *x, y);
        }
        y += ROW;
    }
    for drill in drills {
        row_name(&mut svg, &sided_text(named(base, drill), hand), y);
        for (lesson, x) in &places {
            let told = history.outcomes_of(lesson.number);
            if let Some(outcome) = told.filter(|one| one.drill == drill).last() {
                written(&mut svg, outcome.result.as_str(), *x, y + 4.0);
            }
        }
        y += ROW;
    }
    for (chart, one) in charts.iter().enumerate() {
        drawn_chart(&mut svg, one, &places, 70.0 + rows + CHART * chart as f64);
    }
    let _ = writeln!(
        svg,
        "<text x=\"16\" y=\"{}\" fill=\"{ink}\" font-size=\"11\">full: seen; ring: slightly; dash: not there; words: how a drill given then went; lines: 95 % intervals</text>\n</svg>",
        height - 10.0
    );
    svg
}

/// A line of values over the lessons.
struct Chart<'a> {
    name: String,
    /// The highest and the lowest place, in words.
    ends: [String; 2],
    /// Each value with its interval, from 0 at the lowest place to 1.
    values: Vec<(&'a LessonRecord, [f64; 3])>,
}

/// Every count, and every number that was read more than once.
fn charts<'a>(base: &KnowledgeBase, history: &'a History) -> Vec<Chart<'a>> {
    let mut charts: Vec<Chart<'a>> = Vec::new();
    for (what, values) in counts(history) {
        let of = |count: BallCount| {
            let (low, high) = wilson(count.shown, count.of);
            [low, count.share(), high]
        };
        charts.push(Chart {
            name: named(base, what).to_owned(),
            ends: ["all".into(), "none".into()],
            values: values.iter().map(|(l, count)| (*l, of(*count))).collect(),
        });
    }
    for (what, values) in measured(history).into_iter().filter(|one| one.1.len() > 1) {
        let reach =
            |(value, sd, _): (f64, f64, &str)| [value - 1.96 * sd, value, value + 1.96 * sd];
        let all = || values.iter().flat_map(|(_, one)| reach(*one));
        let low = all().fold(f64::INFINITY, f64::min);
        let high = all().fold(f64::NEG_INFINITY, f64::max);
        let width = (high - low).max(1e-9);
        let of = |one| reach(one).map(|value| (value - low) / width);
        charts.push(Chart {
            name: what.replace('-', " "),
            ends: [format!("{high:.0} {}", values[0].1.2), format!("{low:.0}")],
            values: values.iter().map(|(l, one)| (*l, of(*one))).collect(),
        });
    }
    charts
}

/// As much of a name as stands beside its row.
fn row_name(svg: &mut String, name: &str, y: f64) {
    let name: String = name.chars().take(32).collect();
    let ink = INK.css();
    let _ = writeln!(
        svg,
        "<text x=\"16\" y=\"{}\" fill=\"{ink}\">{}</text>",
        y + 4.0,
        escaped(&name)
    );
}

/// A word in the middle of a column.
fn written(svg: &mut String, word: &str, x: f64, y: f64) {
    let ink = INK.css();
    let _ = writeln!(
        svg,
        "<text x=\"{x:.1}\" y=\"{y}\" fill=\"{ink}\" font-size=\"10\" text-anchor=\"middle\">{word}</text>"
    );
}

fn drawn_sign(svg: &mut String, sign: &str, x: f64, y: f64) {
    let (ink, paper) = (INK.css(), PAPER.css());
    let _ = match sign {
        "\u{25cf}" => writeln!(
            svg,
            "<circle cx=\"{x:.1}\" cy=\"{y}\" r=\"6\" fill=\"{ink}\"/>"
        ),
        "\u{25cb}" => writeln!(
            svg,
            "<circle cx=\"{x:.1}\" cy=\"{y}\" r=\"5\" fill=\"{paper}\" stroke=\"{ink}\" stroke-width=\"2\"/>"
        ),
        "-" => writeln!(
            svg,
            "<line x1=\"{:.1}\" y1=\"{y}\" x2=\"{:.1}\" y2=\"{y}\" stroke=\"{ink}\" stroke-width=\"2\"/>",
            x - 6.0,
            x + 6.0
        ),
        _ => Ok(()),
    };
}

fn drawn_chart(svg: &mut String, chart: &Chart<'_>, places: &[(&LessonRecord, f64)], top: f64) {
    let (ink, shade) = (INK.css(), SHADE.css());
    let (floor, high) = (top + CHART - 16.0, CHART - 32.0);
    let y = |share: f64| floor - high * share;
    row_name(svg, &chart.name, top + 48.0);
    let (wide, left, [upper, lower]) = (WIDE - LEFT - 40.0, LEFT - 6.0, &chart.ends);
    let _ = writeln!(
        svg,
        "<rect x=\"{LEFT}\" y=\"{}\" width=\"{wide}\" height=\"{high}\" fill=\"{shade}\"/>\n<text x=\"{left}\" y=\"{}\" fill=\"{ink}\" font-size=\"10\" text-anchor=\"end\">{upper}</text>\n<text x=\"{left}\" y=\"{floor}\" fill=\"{ink}\" font-size=\"10\" text-anchor=\"end\">{lower}</text>",
        top + 16.0,
        top + 24.0,
    );
    let mut line = String::new();
    for (lesson, [low, value, up]) in &chart.values {
        let same = |(other, _): &&(&LessonRecord, f64)| other.number == lesson.number;
        let Some((_, x)) = places.iter().find(same) else {
            continue;
        };
        let [low, at, up] = [low, value, up].map(|share| y(*share));
        let _ = write!(line, "{x:.1},{at:.1} ");
        let _ = writeln!(
            svg,
            "<line x1=\"{x:.1}\" y1=\"{low:.1}\" x2=\"{x:.1}\" y2=\"{up:.1}\" stroke=\"{ink}\"/>\n<rect x=\"{:.1}\" y=\"{:.1}\" width=\"8\" height=\"8\" fill=\"{ink}\"/>",
            x - 4.0,
            at - 4.0
        );
    }
    let _ = writeln!(
        svg,
        "<polyline points=\"{}\" fill=\"none\" stroke=\"{ink}\"/>",
        line.trim()
    );
}

fn in_words(rate: &Rate) -> String {
    if rate.of == 0 {
        return "no lesson says".to_owned();
    }
    format!(
        "{} of {}, which leaves anything from {} to {} in a hundred likely",
        rate.hits,
        rate.of,
        (100.0 * rate.low).round(),
        (100.0 * rate.high).round()
    )
}

/// How the calls lie against our order.
#[must_use]
pub fn eval_page(eval: &Evaluation) -> Page {
    let mut page = Page::new();
    let of = eval.among[0].1.of;
    if of == 0 {
        page.text("No lesson with a start as the coach calls it is kept yet, so there is nothing to hold our order against.");
    } else {
        page.heading("The start as you called it was");
        page.bullets(eval.among.iter().map(|(most, rate)| {
            let place = match most {
                1 => "our first".to_owned(),
                most => format!("among our first {most}"),
            };
            format!("{place}: {}", in_words(rate))
        }));
        page.heading("When we gave a start this chance, it was the one");
        let rows = eval.reliability.iter().map(|bin| {
            [
                format!("{:.0} to {:.0} in 100", 100.0 * bin.from, 100.0 * bin.to),
                in_ten(bin.said),
                format!("{} of {}", bin.was.hits, bin.was.of),
                format!("{:.0} to {:.0}", 100.0 * bin.was.low, 100.0 * bin.was.high),
            ]
        });
        page.grid(
            ["Chance", "Said on average", "Was so", "In 100, between"],
            rows.collect(),
        );
    }
    if eval.not_called > 0 {
        page.text(format!(
            "{} without a call.",
            how_many(eval.not_called, "lessons")
        ));
    }
    page.bullets_under(
        "Two coaches on the same students",
        eval.agreement.iter().map(agreed),
    );
    page
}

/// How far two coaches call the same start, beyond what chance does.
fn agreed(one: &Agreement) -> String {
    let kappa = one.kappa.map_or_else(
        || "chance alone would make them agree".to_owned(),
        |kappa| {
            let give_or_take = 1.96 * one.error.unwrap_or(0.0);
            format!("kappa {kappa:.2} (0 is chance, 1 is always), give or take {give_or_take:.2}")
        },
    );
    format!(
        "{} and {}: alike on {} of {} students; {kappa}",
        one.coaches[0], one.coaches[1], one.alike, one.students
    )
}

/// The same for a program.
#[must_use]
pub fn eval_json(eval: &Evaluation) -> Value {
    let rate =
        |rate: &Rate| json!({"hits": rate.hits, "of": rate.of, "low": rate.low, "high": rate.high});
    let among: Vec<Value> = eval
        .among
        .iter()
        .map(|(most, one)| json!({"first": most, "rate": rate(one)}))
        .collect();
    let bins: Vec<Value> = eval
        .reliability
        .iter()
        .map(|bin| json!({"from": bin.from, "to": bin.to, "said": bin.said, "was": rate(&bin.was)}))
        .collect();
    let agreement: Vec<Value> = eval
        .agreement
        .iter()
        .map(|one| {
            json!({
                "coaches": one.coaches, "students": one.students, "alike": one.alike,
                "kappa": one.kappa, "error": one.error,
            })
        })
        .collect();
    json!({"among": among, "not_called": eval.not_called, "reliability": bins, "agreement": agreement})
}
