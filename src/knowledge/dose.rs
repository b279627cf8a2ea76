//! Doses that no lesson could hold.

use super::drill_text::DrillText;
use super::placed_entry::PlacedEntry;
use super::problems::Problems;
use super::vocabulary::Rung;

/// Beyond these a dose is a slip of the finger: an hour's bucket is about 100 balls, and nobody
/// repeats one thing with care for two hours. Common practice.
const MOST_SETS: f64 = 20.0;
const MOST_REPS: f64 = 100.0;
const MOST_MINUTES: f64 = 120.0;
const MOST_BALLS: f64 = 300.0;

/// The least time in which a swing is set up and made, in minutes.
const LEAST_MINUTES_A_REP: f64 = 2.0 / 60.0;

/// Checks the dose of one drill.
pub(super) fn check(entry: &PlacedEntry<DrillText>, problems: &mut Problems<'_>) {
    let Some(dose) = entry.text.dose else { return };
    let parts = [
        ("sets", dose.sets.map(f64::from), MOST_SETS),
        ("reps", dose.reps.map(f64::from), MOST_REPS),
        ("minutes", dose.minutes, MOST_MINUTES),
        ("balls", dose.balls.map(f64::from), MOST_BALLS),
    ];
    let mut sound = true;
    for (key, amount, most) in parts {
        let Some(amount) = amount else { continue };
        if amount > 0.0 && amount <= most {
            continue;
        }
        sound = false;
        problems.error(
            entry.spot(&["dose".into(), key.into()]),
            "dose",
            format!("{amount} {key} is not a dose that anybody could do"),
            format!("write a number above 0 and up to {most}, or leave `{key}` out"),
        );
    }
    let reps = f64::from(dose.sets.unwrap_or(1)) * dose.reps.map_or(0.0, f64::from);
    if let Some(minutes) = dose.minutes
        && sound
        && reps * LEAST_MINUTES_A_REP > minutes
    {
        problems.error(
            entry.key("dose"),
            "dose",
            format!("{reps} repetitions in {minutes} minutes leave less than two seconds for each"),
            "`reps` are counted for each set, `minutes` for all of them together",
        );
    }
    if dose.balls.is_some() && entry.text.ladder == Some(Rung::Rehearsal) {
        problems.warning(
            entry.spot(&["dose".into(), "balls".into()]),
            "dose",
            "a rehearsal is done without a ball, and this dose has balls",
            "leave `balls` out, or write `ladder: slow-with-ball`",
        );
    }
}
