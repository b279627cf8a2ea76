//! What a frame shows.

use super::page::Page;
use crate::diagnosis::shown_by;
use crate::knowledge::{KnowledgeBase, Measure};
use crate::measure::{FrameReading, MeasuredFrame, Shift};
use serde_json::{Value, json};

/// More than even: the reading speaks for the condition.
const SPEAKS: f64 = 0.5;
/// Five to one and more.
const LIKELY: f64 = 0.85;

/// The readings that the library measures, and what they amount to.
#[must_use]
pub fn frame_page(
    base: &KnowledgeBase,
    frame: &MeasuredFrame,
    shifts: &[Shift],
    next: Option<&str>,
) -> Page {
    let mut page = Page::new();
    let rows = known(base, frame).map(|(reading, measure)| {
        [
            reading.quantity.to_owned(),
            format!("{} {}", figure(reading.value, reading.unit), reading.unit),
            figure(reading.error_sd, reading.unit),
            format!("{} to {}", measure.sound[0], measure.sound[1]),
        ]
    });
    let rows: Vec<[String; 4]> = rows.collect();
    let note = if rows.is_empty() {
        "Nothing that the library measures at this moment from this side."
    } else {
        "A sound range is what is common, never a target for one player."
    };
    page.heading("What the frame shows");
    page.grid(["Quantity", "Value", "Good to", "Sound"], rows)
        .text(note);
    page.bullets_under("What it amounts to", amounts(base, frame));
    if !shifts.is_empty() {
        let rows = shifts.iter().map(shift_row).collect();
        page.heading("Since the other frame")
            .grid(["", "Moved", "Good to", ""], rows);
    }
    page.heading("What it does not show")
        .bullets(frame.not_seen.iter().cloned());
    if let Some(next) = next {
        page.heading("To go on").text(next);
    }
    page
}

fn shift_row(shift: &Shift) -> [String; 4] {
    let real = if shift.value.abs() > 1.96 * shift.error_sd {
        "moved"
    } else {
        "within the error"
    };
    [
        shift.what.to_owned(),
        format!("{} {}", figure(shift.value, shift.unit), shift.unit),
        figure(shift.error_sd, shift.unit),
        real.to_owned(),
    ]
}

/// Degrees and centimetres to the whole or the tenth, shares to the hundredth.
fn figure(value: f64, unit: &str) -> String {
    let text = match unit {
        "degrees" => format!("{value:.0}"),
        "cm" => format!("{value:.1}"),
        _ => format!("{value:.2}"),
    };
    let zero = text.trim_start_matches('-');
    if zero.chars().all(|c| matches!(c, '0' | '.')) {
        zero.to_owned()
    } else {
        text
    }
}

fn known<'a>(
    base: &'a KnowledgeBase,
    frame: &'a MeasuredFrame,
) -> impl Iterator<Item = (&'a FrameReading, &'a Measure)> {
    frame.measured.iter().filter_map(|reading| {
        let mut measures = base.conditions.iter().filter_map(|c| c.measure.as_ref());
        let measure = measures.find(|m| m.quantity == reading.quantity && m.unit == reading.unit);
        Some((reading, measure?))
    })
}

fn amounts(base: &KnowledgeBase, frame: &MeasuredFrame) -> Vec<String> {
    known(base, frame)
        .flat_map(|(reading, _)| shown_by(base, reading.quantity, reading.value, reading.error_sd))
        .filter(|(_, chance)| *chance > SPEAKS)
        .map(|(key, chance)| {
            let condition = base.condition(key);
            let how = if chance > LIKELY { "likely" } else { "perhaps" };
            format!("{} ({}), {how}", condition.name, condition.id)
        })
        .collect()
}

/// The frame for a program: the keys of `docs/commands.md`.
#[must_use]
pub fn frame_json(base: &KnowledgeBase, frame: &MeasuredFrame, shifts: &[Shift]) -> Value {
    let measured: Vec<Value> = known(base, frame)
        .map(|(reading, _)| {
            let findings: Vec<Value> =
                shown_by(base, reading.quantity, reading.value, reading.error_sd)
                    .into_iter()
                    .map(|(key, chance)| json!({"id": base.condition(key).id, "chance": chance}))
                    .collect();
            json!({
                "quantity": reading.quantity, "value": reading.value,
                "error_sd": reading.error_sd, "unit": reading.unit, "findings": findings,
            })
        })
        .collect();
    let shifts: Vec<Value> = shifts
        .iter()
        .map(|s| json!({"what": s.what, "value": s.value, "error_sd": s.error_sd, "unit": s.unit}))
        .collect();
    json!({"measured": measured, "not_seen": frame.not_seen, "shifts": shifts})
}

/// The readings as `quantity=value+-error`, as they are reported elsewhere.
#[must_use]
pub fn frame_quantities(base: &KnowledgeBase, frame: &MeasuredFrame) -> Vec<String> {
    known(base, frame)
        .map(|(reading, _)| {
            format!(
                "{}={}+-{}",
                reading.quantity,
                figure(reading.value, reading.unit),
                figure(reading.error_sd.max(0.01), "ratio")
            )
        })
        .collect()
}
