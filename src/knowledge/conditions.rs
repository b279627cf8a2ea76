//! Outcomes, faults and causes: from what an entry says to a [`Condition`].

use super::base::{
    CauseShare, Condition, ConditionKey, ConditionKind, Impact, KnowledgeBase, Measure, Told,
};
use super::document::{ConditionText, MeasureText};
use super::ids::{Index, Map, check_retired_for, sources};
use super::node::clip;
use super::placed_entry::{PlacedEntry, origin};
use super::probability::Probability;
use super::problems::{Problems, Spot};
use super::standing_entries::{Settled, is_kebab, to_kebab};
use super::vocabulary::{Shot, Side, Status};
use super::words::{COMMON_WORDS, DEFAULT_SHARE, LEAK_WORDS};

/// Strokes a round that a fault can cost; a number above it is a slip.
const MOST_STROKES: f64 = 30.0;

/// A condition, all but its causes, its opposites and its prose.
pub(super) fn condition<'s>(
    kind: ConditionKind,
    entry: &'s PlacedEntry<ConditionText>,
    index: &Index<'_>,
    units: &mut Units<'s>,
    problems: &mut Problems<'_>,
) -> Condition {
    let text = &entry.text;
    let (how_common, leak) = prior(entry, problems);
    let mut aliases = text.aliases.clone();
    aliases.extend(text.ambiguous_aliases.iter().cloned());
    check_retired_for(
        || entry.key("retired_for"),
        &text.id,
        text.retired_for.as_deref(),
        problems,
        |heir| {
            index
                .settled
                .conditions
                .get(heir)
                .map(|(_, entry)| entry.text.retired_for.as_deref())
        },
    );
    Condition {
        id: text.id.clone(),
        kind,
        name: text.name.clone(),
        phrase: text.phrase.clone(),
        aliases,
        stage: text.stage,
        shots: or_default(&text.shots, Shot::FullSwing),
        seen_from: text
            .look
            .as_ref()
            .map(|l| l.from.clone())
            .unwrap_or_default(),
        look_for: String::new(),
        how_common,
        leak,
        cost: cost(entry, problems),
        cost_basis: text.cost_basis.clone(),
        causes: Vec::new(),
        behind: behind(entry, index, problems),
        told: told(entry, index, problems),
        opposites: Vec::new(),
        pain: text.pain,
        refer: text.refer,
        measure: measure(entry, units, problems),
        impact: impact(entry, problems),
        caution: None,
        sources: sources(&text.sources, index, problems, |i| {
            entry.spot(&["sources".into(), i.into()])
        }),
        status: text.status.unwrap_or(Status::Approved),
        drops_caution: text.drops_caution.clone(),
        retired_for: text.retired_for.clone(),
        origin: origin(entry.start(), problems.layers),
    }
}

/// How common the condition is, or its bare leak.
fn prior(
    entry: &PlacedEntry<ConditionText>,
    problems: &mut Problems<'_>,
) -> (Option<Probability>, Option<Probability>) {
    let text = &entry.text;
    let common = text.how_common.as_ref();
    let leak = text.leak.as_ref();
    if common.is_some() && leak.is_some() {
        problems.error(
            entry.key("leak"),
            "common-and-leak",
            format!(
                "`{}` has both `how_common` and `leak`, which say the same in two ways",
                text.id
            ),
            "keep `how_common`; `leak` is for reference networks",
        );
    }
    match leak {
        Some(leak) => (None, leak.on(LEAK_WORDS)),
        None => (
            common
                .and_then(|word| word.on(COMMON_WORDS))
                .or_else(|| Probability::new(DEFAULT_SHARE).ok()),
            None,
        ),
    }
}

fn cost(entry: &PlacedEntry<ConditionText>, problems: &mut Problems<'_>) -> Option<f64> {
    let cost = entry.text.cost?;
    if !(0.0..=MOST_STROKES).contains(&cost) {
        problems.error(
            entry.spot(&["cost".into()]),
            "out-of-range",
            format!("`cost` is {cost} strokes a round"),
            format!("write strokes a round, from 0 to {MOST_STROKES}"),
        );
    }
    Some(cost)
}

fn behind(
    entry: &PlacedEntry<ConditionText>,
    index: &Index<'_>,
    problems: &mut Problems<'_>,
) -> Vec<CauseShare> {
    let mut found: Vec<CauseShare> = Vec::new();
    let mut sum = 0.0;
    for (i, item) in entry.text.behind.iter().enumerate() {
        let share = item.share;
        if !(share > 0.0 && share <= 1.0) {
            problems.error(
                entry.spot(&["behind".into(), i.into(), "share".into()]),
                "out-of-range",
                format!("a share of {share} is not above 0 and at most 1"),
                "write the share of ten students as a number: two of ten are 0.2",
            );
            continue;
        }
        sum += share;
        let spot = || entry.spot(&["behind".into(), i.into(), "id".into()]);
        let Some(key) = worked_on(&item.id, entry, &spot, index, problems) else {
            continue;
        };
        if found.iter().any(|other| other.cause == key) {
            problems.error(
                spot(),
                "behind-twice",
                format!("`{}` is named twice under `behind`", item.id),
                "keep one of the two, with the shares added",
            );
            continue;
        }
        if let Ok(share) = Probability::new(share) {
            found.push(CauseShare { cause: key, share });
        }
    }
    // A hair above 1 is rounding in decimal shares.
    if sum > 1.0 + 1e-9 {
        problems.error(
            entry.key("behind"),
            "behind-sum",
            format!("the shares behind `{}` add up to {sum:.2}", entry.text.id),
            "they are shares of the same students: lower them to 1 or less together",
        );
    }
    found
}

/// What a list says, or what stands for one that says nothing.
pub(super) fn or_default<T: Copy>(given: &[T], default: T) -> Vec<T> {
    let mut kept = Vec::new();
    if given.is_empty() {
        kept.push(default);
    }
    kept.extend_from_slice(given);
    kept
}

/// More than this many times as common is a slip: nothing in the trade is known so well.
const MOST_TIMES: f64 = 20.0;

/// What a teacher works on behind an entry: another one, and no outcome.
fn worked_on(
    id: &str,
    entry: &PlacedEntry<ConditionText>,
    spot: &impl Fn() -> Spot,
    index: &Index<'_>,
    problems: &mut Problems<'_>,
) -> Option<ConditionKey> {
    if id == entry.text.id {
        problems.error(
            spot(),
            "behind-itself",
            format!("`{id}` is named as being behind itself"),
            "leave it out: what is left over is a habit of its own",
        );
        return None;
    }
    let key = index.condition(id, spot, problems)?;
    if index.settled.conditions[id].0 == ConditionKind::Outcome {
        problems.error(
            spot(),
            "behind-outcome",
            format!("`{id}` is an outcome, and nobody can work on an outcome"),
            "name the fault or cause that a teacher works on",
        );
        return None;
    }
    Some(key)
}

fn told(
    entry: &PlacedEntry<ConditionText>,
    index: &Index<'_>,
    problems: &mut Problems<'_>,
) -> Vec<Told> {
    let mut found: Vec<Told> = Vec::new();
    for (i, item) in entry.text.told.iter().enumerate() {
        let at = |key: &str| entry.spot(&["told".into(), i.into(), key.into()]);
        let times = item.times;
        if !(1.0 / MOST_TIMES..=MOST_TIMES).contains(&times) {
            problems.error(
                at("times"),
                "out-of-range",
                format!("`times` is {times}, and must lie between 0.05 and {MOST_TIMES}"),
                "write how many times as common it is among those students: 2 for twice, 0.5 for half",
            );
            continue;
        }
        let Some(fact) = index.fact(&item.fact, || at("fact"), problems) else {
            continue;
        };
        if found.iter().any(|other| other.fact == fact) {
            problems.error(
                at("fact"),
                "told-twice",
                format!("`{}` is named twice under `told`", clip(&item.fact)),
                "keep one of the two",
            );
            continue;
        }
        found.push(Told {
            fact,
            times,
            basis: item.basis.clone(),
        });
    }
    found.sort_by_key(|told| told.fact);
    found
}

/// What cannot be seen together, on both sides.
pub(super) fn opposites(
    settled: &Settled,
    index: &Index<'_>,
    base: &mut KnowledgeBase,
    problems: &mut Problems<'_>,
) {
    for (place, (id, (_, entry))) in settled.conditions.iter().enumerate() {
        let Some(other) = &entry.text.opposite else {
            continue;
        };
        let spot = || entry.spot(&["opposite".into()]);
        if other == id {
            problems.error(
                spot(),
                "opposite-of-itself",
                format!("`{}` is named as its own opposite", clip(id)),
                "name what cannot be there at the same time",
            );
            continue;
        }
        let Some(key) = index.condition(other, spot, problems) else {
            continue;
        };
        for (one, two) in [(place, key), (key.0, ConditionKey(place))] {
            let list = &mut base.conditions[one].opposites;
            if let Err(at) = list.binary_search(&two) {
                list.insert(at, two);
            }
        }
    }
}

/// Of each quantity its unit, and who said it first.
pub(super) type Units<'s> = Map<&'s str, (&'s str, &'s PlacedEntry<ConditionText>)>;

fn measure<'s>(
    entry: &'s PlacedEntry<ConditionText>,
    units: &mut Units<'s>,
    problems: &mut Problems<'_>,
) -> Option<Measure> {
    let text = entry.text.measure.as_ref()?;
    check_measure(
        text,
        |key| entry.spot(&["measure".into(), key.into()]),
        problems,
    );
    check_one_unit(text, entry, units, problems);
    Some(Measure {
        quantity: text.quantity.clone(),
        unit: text.unit.clone(),
        sound: text.sound,
        error_sd: text.error_sd,
        side: text.side.unwrap_or(Side::Outside),
        basis: text.basis.clone(),
    })
}

/// A quantity has a name, a range that runs upwards and an error above 0.
fn check_measure(text: &MeasureText, at: impl Fn(&str) -> Spot, problems: &mut Problems<'_>) {
    if !is_kebab(&text.quantity) {
        problems.error(
            at("quantity"),
            "bad-id",
            format!(
                "`{}` is not the name of a quantity: lower-case words with hyphens",
                clip(&text.quantity)
            ),
            format!("write `{}`", to_kebab(&text.quantity)),
        );
    }
    let [low, high] = text.sound;
    if low > high {
        problems.error(
            at("sound"),
            "range-reversed",
            format!("the sound range runs from {low} down to {high}"),
            format!("write the lower number first: [{high}, {low}]"),
        );
    }
    if text.error_sd <= 0.0 {
        problems.error(
            at("error_sd"),
            "out-of-range",
            format!(
                "an `error_sd` of {} would mean measuring without error",
                text.error_sd
            ),
            "write how far two honest readings differ, above 0",
        );
    }
}

/// A quantity has one unit, in whatever entry it is measured.
fn check_one_unit<'s>(
    text: &'s MeasureText,
    entry: &'s PlacedEntry<ConditionText>,
    units: &mut Units<'s>,
    problems: &mut Problems<'_>,
) {
    let Some((unit, first)) = units.get(text.quantity.as_str()) else {
        units.insert(&text.quantity, (&text.unit, entry));
        return;
    };
    if **unit != text.unit {
        let [spot, first] =
            [entry, *first].map(|entry| entry.spot(&["measure".into(), "unit".into()]));
        let message = format!(
            "`{}` is in `{}` here, and in `{}` in {}",
            clip(&text.quantity),
            clip(&text.unit),
            clip(unit),
            problems.words(first, spot)
        );
        problems.error(spot, "unit-clash", message, "use one unit for one quantity");
    }
}

/// The numbers of a strike; a group that says none stands for nothing.
fn impact(entry: &PlacedEntry<ConditionText>, problems: &mut Problems<'_>) -> Option<Impact> {
    let text = entry.text.impact.as_ref()?;
    for (key, range) in [("start", text.start), ("tilt", text.tilt)] {
        if let Some([low, high]) = range.filter(|[low, high]| low > high) {
            problems.error(
                entry.spot(&["impact".into(), key.into()]),
                "range-reversed",
                format!("the range of `{key}` runs from {low} down to {high}"),
                format!("write the lower number first: [{high}, {low}]"),
            );
        }
    }
    if text.start.is_none() && text.tilt.is_none() && text.strike.is_none() {
        problems.error(
            entry.key("impact"),
            "missing-key",
            "`impact` says no number",
            "write one of these below it: start, tilt, strike; or take it out",
        );
        return None;
    }
    Some(Impact {
        start: text.start,
        tilt: text.tilt,
        strike: text.strike,
        basis: text.basis.clone(),
    })
}
