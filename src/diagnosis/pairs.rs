//! What is typed as a name, a sign and a value: facts, readings, numbers and ratios.

use super::observation::{Observation, State};
use super::refused::{MOST_TYPED_RATIO, Malformed, Pair, Trouble};
use crate::inference::{Measurement, Side as MeasuredSide, likelihood_ratio};
use crate::knowledge::words::DEFAULT_SHARE;
use crate::knowledge::{ConditionKey, KnowledgeBase, Measure, Side, nearest};
use crate::words::{Override, ReadBy, ToldFact};
use std::collections::BTreeSet;

/// What a coach said of a student by the id of a fact, with its number where there is one: `tall`,
/// `age=68`.
///
/// # Errors
///
/// When there is no such fact.
pub fn told_fact(base: &KnowledgeBase, id: &str) -> Result<ToldFact, Trouble> {
    let id = id.trim();
    let (name, number) = match id.split_once(['=', ' ']) {
        Some((name, number)) => (name.trim(), number.trim().parse::<f64>().ok()),
        None => (id, None),
    };
    base.find_fact(name).map_or_else(
        || {
            let known = base.facts.iter().map(|fact| fact.id.as_str());
            let close = nearest(name, known.clone(), 3);
            Err(Trouble::Malformed {
                words: id.to_owned(),
                why: Malformed::Fact {
                    nearest: close.into_iter().map(str::to_owned).collect(),
                    known: known.map(str::to_owned).collect(),
                },
            })
        },
        |fact| {
            Ok(ToldFact {
                given: id.to_owned(),
                fact,
                number,
            })
        },
    )
}

/// `words=id`.
pub(super) fn overriding(base: &KnowledgeBase, words: &str) -> Result<Override, Trouble> {
    let Some((said, id)) = words.rsplit_once('=') else {
        return Err(malformed(words, Malformed::NotAPair(Pair::Read)));
    };
    let id = id.trim();
    let Some(condition) = base.find(id) else {
        return Err(no_condition(base, id));
    };
    Ok(Override {
        words: said.trim().to_owned(),
        condition,
    })
}

fn no_condition(base: &KnowledgeBase, id: &str) -> Trouble {
    let ids = base.conditions.iter().map(|c| c.id.as_str());
    Trouble::Unknown {
        words: id.to_owned(),
        nearest: nearest(id, ids, 3)
            .into_iter()
            .filter_map(|id| base.find(id))
            .collect(),
    }
}

/// A number for every condition that its quantity measures.
pub(super) fn measured(base: &KnowledgeBase, words: &str) -> Result<Vec<Observation>, Trouble> {
    let malformed = |why: Malformed| malformed(words, why);
    let Some((quantity, rest)) = words.split_once('=') else {
        return Err(malformed(Malformed::NotAPair(Pair::Measured)));
    };
    let (quantity, rest) = (quantity.trim(), rest.trim());
    let of: Vec<(ConditionKey, &Measure)> = base
        .condition_keys()
        .filter_map(|key| Some((key, base.condition(key).measure.as_ref()?)))
        .filter(|(_, measure)| measure.quantity == quantity)
        .collect();
    let Some((_, first)) = of.first() else {
        return Err(malformed(no_quantity(base, quantity)));
    };
    let (value, error) = value_in(quantity, rest, &first.unit).map_err(malformed)?;
    of.into_iter()
        .map(|(condition, measure)| {
            let error_sd = error.unwrap_or(measure.error_sd);
            let state = weighed(base, condition, measure, value, error_sd);
            Ok(Observation {
                given: words.to_owned(),
                condition,
                state: state.map_err(malformed)?,
                read_by: ReadBy::Measure,
                perhaps: Vec::new(),
            })
        })
        .collect()
}

fn malformed(words: &str, why: Malformed) -> Trouble {
    Trouble::Malformed {
        words: words.to_owned(),
        why,
    }
}

fn no_quantity(base: &KnowledgeBase, quantity: &str) -> Malformed {
    let measures = base.conditions.iter().filter_map(|c| c.measure.as_ref());
    let known: BTreeSet<String> = measures.map(|m| m.quantity.clone()).collect();
    let close = nearest(quantity, known.iter().map(String::as_str), 3);
    Malformed::Quantity {
        nearest: close.into_iter().map(str::to_owned).collect(),
        known: known.iter().cloned().collect(),
    }
}

/// The number in what stands behind the sign, with how far it may be off where that is said: `-8.5 cm +- 2`.
fn value_in(quantity: &str, text: &str, unit: &str) -> Result<(f64, Option<f64>), Malformed> {
    let (rest, error) = match text.split_once("+-").or_else(|| text.split_once('\u{b1}')) {
        Some((rest, error)) => (rest.trim(), Some(error.trim())),
        None => (text, None),
    };
    let error = error
        .map(|error| match crate::measure::read_number(error) {
            Ok(error) if error > 0.0 => Ok(error),
            _ => Err(Malformed::Spread {
                quantity: quantity.to_owned(),
                number: rest.to_owned(),
            }),
        })
        .transpose()?;
    let end = rest
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+')))
        .unwrap_or(rest.len());
    if rest[end..].starts_with(',')
        && let Err(help) = crate::measure::read_number(rest)
    {
        return Err(Malformed::Number(help));
    }
    let (number, written) = rest.split_at(end);
    let written = written.trim();
    let no_number = || Malformed::NoNumber {
        unit: unit.to_owned(),
    };
    if number.is_empty() {
        return Err(no_number());
    }
    if !(written.is_empty() || written.eq_ignore_ascii_case(unit)) {
        return Err(Malformed::Unit {
            quantity: quantity.to_owned(),
            number: number.to_owned(),
            unit: unit.to_owned(),
        });
    }
    match number.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok((value, error)),
        _ => Err(no_number()),
    }
}

/// What a number says of a condition that its quantity measures.
fn weighed(
    base: &KnowledgeBase,
    condition: ConditionKey,
    measure: &Measure,
    value: f64,
    error_sd: f64,
) -> Result<State, Malformed> {
    let prior = base
        .condition(condition)
        .how_common
        .map_or(DEFAULT_SHARE, |share| share.get());
    let [low, high] = measure.sound;
    let (side, outside) = match measure.side {
        Side::Below => (MeasuredSide::Below, value < low),
        Side::Above => (MeasuredSide::Above, value > high),
        Side::Outside => (MeasuredSide::Either, value < low || value > high),
    };
    let measurement = Measurement {
        value,
        error: error_sd,
        low,
        high,
        side,
    };
    let ratio = likelihood_ratio(&measurement, prior)
        .map_err(|error| Malformed::Number(error.to_string()))?;
    Ok(State::Measured {
        value,
        error_sd,
        ratio,
        outside,
    })
}

/// `id=ratio`.
pub(super) fn likelihood(base: &KnowledgeBase, words: &str) -> Result<Observation, Trouble> {
    let Some((id, number)) = words.split_once('=') else {
        return Err(malformed(words, Malformed::NotAPair(Pair::Likelihood)));
    };
    let id = id.trim();
    let Some(condition) = base.find(id) else {
        return Err(no_condition(base, id));
    };
    match number.trim().parse::<f64>() {
        Ok(ratio) if (1.0 / MOST_TYPED_RATIO..=MOST_TYPED_RATIO).contains(&ratio) => {
            Ok(Observation {
                given: words.to_owned(),
                condition,
                state: State::Likelihood(ratio),
                read_by: ReadBy::Id,
                perhaps: Vec::new(),
            })
        }
        _ => Err(malformed(words, Malformed::Ratio)),
    }
}
