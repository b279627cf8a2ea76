//! Drills and other remedies: from what an entry says to a [`Drill`].

use super::base::{ConditionKey, Drill, DrillKey, KnowledgeBase, Treats};
use super::conditions::or_default;
use super::drill_text::DrillText;
use super::ids::{Index, check_retired_for, sources};
use super::node::clip;
use super::placed_entry::{PlacedEntry, origin};
use super::probability::Probability;
use super::problems::{Problems, Spot};
use super::vocabulary::{Place, RemedyKind, Rung, Shot, Status};
use super::words::{DEFAULT_EFFECT, STRENGTH_WORDS};

/// A remedy, all but its prose.
pub(super) fn drill(
    entry: &PlacedEntry<DrillText>,
    index: &Index<'_>,
    base: &KnowledgeBase,
    problems: &mut Problems<'_>,
) -> Drill {
    let text = &entry.text;
    check_retired_for(
        || entry.key("retired_for"),
        &text.id,
        text.retired_for.as_deref(),
        problems,
        |heir| {
            index
                .settled
                .drills
                .get(heir)
                .map(|entry| entry.text.retired_for.as_deref())
        },
    );
    let kind = text.kind.unwrap_or(RemedyKind::Drill);
    let needs = text.needs.clone().unwrap_or_default();
    check_referral_is_slow(kind, entry, problems);
    Drill {
        id: text.id.clone(),
        name: text.name.clone(),
        aliases: text.aliases.clone(),
        kind,
        treats: treats(entry, kind, index, base, problems),
        eases: listed(entry, "eases", &text.eases, index, problems),
        stage: text.stage,
        shots: or_default(&text.shots, Shot::FullSwing),
        rung: text.ladder.unwrap_or(Rung::SlowWithBall),
        purpose: String::new(),
        setup: String::new(),
        steps: Vec::new(),
        feel: Vec::new(),
        check: text.check.clone().unwrap_or_default(),
        goes_wrong: Vec::new(),
        easier: None,
        harder: None,
        dose: text.dose.unwrap_or_default(),
        equipment: needs.equipment,
        helper: needs.helper,
        places: or_default(&needs.place, Place::Range),
        after: after(entry, index, problems),
        aggravates: listed(entry, "aggravates", &text.aggravates, index, problems),
        not_with: listed(entry, "not_with", &text.not_with, index, problems),
        suits: [text.suits.as_slice(), &text.only_for].concat(),
        only_for: text.only_for.clone(),
        levels: text.levels.clone(),
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

fn check_referral_is_slow(
    kind: RemedyKind,
    entry: &PlacedEntry<DrillText>,
    problems: &mut Problems<'_>,
) {
    let fast = |rung| rung > Rung::SlowWithBall;
    if kind == RemedyKind::Referral && entry.text.ladder.is_some_and(fast) {
        problems.error(
            entry.spot(&["ladder".into()]),
            "referral-at-speed",
            format!(
                "`{}` is a referral, and nobody swings at speed before it",
                entry.text.id
            ),
            "write `ladder: rehearsal`, or another `kind`",
        );
    }
}

fn treats(
    entry: &PlacedEntry<DrillText>,
    kind: RemedyKind,
    index: &Index<'_>,
    base: &KnowledgeBase,
    problems: &mut Problems<'_>,
) -> Vec<Treats> {
    let mut found: Vec<Treats> = Vec::new();
    if entry.text.treats.is_empty() && entry.whole {
        let id = &entry.text.id;
        problems.error(
            entry.key("treats"),
            "treats-nothing",
            format!("the drill `{id}` treats nothing, so it would never be offered"),
            "name at least one fault or cause under `treats`",
        );
    }
    for (i, item) in entry.text.treats.iter().enumerate() {
        let spot = || entry.spot(&["treats".into(), i.into(), "id".into()]);
        let Some(condition) = index.condition(&item.id, spot, problems) else {
            continue;
        };
        if found.iter().any(|other| other.condition == condition) {
            problems.error(
                spot(),
                "treats-twice",
                format!("`{}` is named twice under `treats`", item.id),
                "keep one of the two",
            );
            continue;
        }
        if base.condition(condition).is_pain() && kind != RemedyKind::Referral {
            against_pain(&item.id, spot(), problems);
        }
        let effect = match &item.effect {
            Some(word) => word.on(STRENGTH_WORDS),
            None => Probability::new(DEFAULT_EFFECT).ok(),
        };
        if let Some(effect) = effect {
            found.push(Treats {
                condition,
                effect,
                basis: item.basis.clone(),
            });
        }
    }
    found.sort_by(|a, b| b.effect.get().total_cmp(&a.effect.get()));
    check_makes_nothing_worse(entry, problems);
    found
}

fn against_pain(id: &str, spot: Spot, problems: &mut Problems<'_>) {
    problems.error(
        spot,
        "drill-against-pain",
        format!("`{id}` is a pain, and a drill is not set against a pain"),
        "a remedy for it is of `kind: referral`; to keep the drill from players who have the pain, name it under `not_with`",
    );
}

/// Nothing that a drill treats is named among what it makes worse.
fn check_makes_nothing_worse(entry: &PlacedEntry<DrillText>, problems: &mut Problems<'_>) {
    for (i, id) in entry.text.aggravates.iter().enumerate() {
        if entry.text.treats.iter().any(|item| item.id == *id) {
            problems.error(
                entry.spot(&["aggravates".into(), i.into()]),
                "treats-and-aggravates",
                format!(
                    "the drill is said both to treat `{}` and to make it worse",
                    clip(id)
                ),
                "keep one of the two; the other belongs in `goes_wrong`",
            );
        }
    }
}

fn listed(
    entry: &PlacedEntry<DrillText>,
    key: &str,
    ids: &[String],
    index: &Index<'_>,
    problems: &mut Problems<'_>,
) -> Vec<ConditionKey> {
    let mut found = Vec::new();
    for (i, id) in ids.iter().enumerate() {
        let spot = || entry.spot(&[key.into(), i.into()]);
        let condition = index.condition(id, spot, problems);
        found.extend(condition.filter(|key| !found.contains(key)));
    }
    found
}

fn after(
    entry: &PlacedEntry<DrillText>,
    index: &Index<'_>,
    problems: &mut Problems<'_>,
) -> Vec<DrillKey> {
    let mut found = Vec::new();
    for (i, id) in entry.text.after.iter().enumerate() {
        let spot = || entry.spot(&["after".into(), i.into()]);
        if *id == entry.text.id {
            problems.error(
                spot(),
                "after-itself",
                format!("`{id}` is to come after itself"),
                "name the drill that comes first",
            );
            continue;
        }
        let drill = index.drill(id, spot, problems);
        found.extend(drill.filter(|key| !found.contains(key)));
    }
    found
}
