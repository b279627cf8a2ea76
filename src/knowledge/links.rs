//! Links from causes to what they bring about, each once and in no circle.

use super::base::{Cause, Condition, ConditionKey, KnowledgeBase};
use super::document::{ConditionText, LinkText};
use super::graded::Graded;
use super::ids::{Index, Map};
use super::placed_entry::{PlacedEntry, origin};
use super::probability::Probability;
use super::problems::{Problems, Spot};
use super::standing_entries::Settled;
use super::words::{DEFAULT_SHARE, STRENGTH_WORDS};

/// Where a link is written.
#[derive(Clone, Copy)]
enum LinkPlace<'s> {
    CausedBy(&'s PlacedEntry<ConditionText>, usize),
    Links(&'s PlacedEntry<LinkText>),
}

impl LinkPlace<'_> {
    /// Where the cause is named.
    fn spot(self) -> Spot {
        match self {
            LinkPlace::CausedBy(entry, item) => {
                entry.spot(&["caused_by".into(), item.into(), "id".into()])
            }
            LinkPlace::Links(entry) => entry.spot(&["cause".into()]),
        }
    }
}

/// Where each link was written first.
type First<'s> = Map<(ConditionKey, ConditionKey), LinkPlace<'s>>;

/// Every link, from `caused_by` and from `links`, into the conditions.
pub(super) fn links(
    settled: &Settled,
    index: &Index<'_>,
    base: &mut KnowledgeBase,
    problems: &mut Problems<'_>,
) {
    let mut first = First::default();
    caused_by(settled, index, &mut first, base, problems);
    own_links(settled, index, &mut first, base, problems);
    for condition in &mut base.conditions {
        condition.causes.sort_by_key(|link| link.cause);
    }
    let spot = |cause, effect| first.get(&(cause, effect)).map(|written| written.spot());
    super::circle::check(base, spot, problems);
}

/// The links that stand with their effect.
fn caused_by<'s>(
    settled: &'s Settled,
    index: &Index<'_>,
    first: &mut First<'s>,
    base: &mut KnowledgeBase,
    problems: &mut Problems<'_>,
) {
    for (effect, (_, entry)) in settled.conditions.values().enumerate() {
        for (number, item) in entry.text.caused_by.iter().enumerate() {
            let written = LinkPlace::CausedBy(entry, number);
            let Some(cause) = index.condition(&item.id, || written.spot(), problems) else {
                continue;
            };
            let ends = (cause, ConditionKey(effect));
            let strength = new_link(ends, &item.strength, written, first, base, problems);
            if let Some(strength) = strength {
                base.conditions[effect].causes.push(Cause {
                    cause,
                    strength,
                    share: None,
                    because: item.because.clone(),
                    basis: item.basis.clone(),
                    origin: origin(entry.cause_start(number), problems.layers),
                });
            }
        }
    }
}

/// The links that stand by themselves.
fn own_links<'s>(
    settled: &'s Settled,
    index: &Index<'_>,
    first: &mut First<'s>,
    base: &mut KnowledgeBase,
    problems: &mut Problems<'_>,
) {
    for entry in &settled.links {
        let written = LinkPlace::Links(entry);
        let cause = index.condition(&entry.text.cause, || written.spot(), problems);
        let effect_spot = || entry.spot(&["effect".into()]);
        let effect = index.condition(&entry.text.effect, effect_spot, problems);
        let (Some(cause), Some(effect)) = (cause, effect) else {
            continue;
        };
        let Some((graded, share)) = own_strength(entry, cause, effect, base, problems) else {
            continue;
        };
        let ends = (cause, effect);
        if let Some(strength) = new_link(ends, &graded, written, first, base, problems) {
            base.conditions[effect.0].causes.push(Cause {
                cause,
                strength,
                share,
                because: entry.text.because.clone(),
                basis: entry.text.basis.clone(),
                origin: origin(entry.start(), problems.layers),
            });
        }
    }
}

/// What an entry of `links` says of how strong it is: a strength, or the share behind the effect and
/// the strength that amounts to it (see [`strength_of`]).
fn own_strength(
    entry: &PlacedEntry<LinkText>,
    cause: ConditionKey,
    effect: ConditionKey,
    base: &KnowledgeBase,
    problems: &mut Problems<'_>,
) -> Option<(Graded, Option<Probability>)> {
    match (&entry.text.strength, entry.text.share) {
        (Some(_), Some(_)) => {
            problems.error(
                entry.key("share"),
                "share-and-strength",
                "this link has both `share` and `strength`, which say the same in two ways",
                "keep `share`: of ten students who show the effect, with how many would you end up working on the cause?",
            );
            None
        }
        (None, None) => {
            if entry.whole {
                problems.error(
                    entry.head(),
                    "missing-key",
                    "a link has neither `share` nor `strength`",
                    "add `share: 0.3` for three of ten students who show the effect",
                );
            }
            None
        }
        (Some(strength), None) => Some((strength.clone(), None)),
        (None, Some(number)) => {
            let share = Probability::new(number).ok();
            let Some(share) = share.filter(|_| number > 0.0 && number < 1.0) else {
                problems.error(
                    entry.spot(&["share".into()]),
                    "out-of-range",
                    format!("a share of {number} is not between 0 and 1, ends left out"),
                    "write the share of ten students as a number: two of ten are 0.2",
                );
                return None;
            };
            let strength = strength_of(share, base.condition(cause), base.condition(effect));
            Some((Graded::Number(strength), Some(share)))
        }
    }
}

/// The strength of a link that makes up a share of its effect, `share * b_effect / b_cause`, at most
/// what `certain` stands for.
fn strength_of(share: Probability, cause: &Condition, effect: &Condition) -> f64 {
    let common = |condition: &Condition| {
        let share = condition.how_common.map_or(DEFAULT_SHARE, |b| b.get());
        share.clamp(0.005, 0.9)
    };
    (share.get() * common(effect) / common(cause)).clamp(1e-6, 0.99)
}

/// The strength of a link that may stand: not to itself, and not there already.
fn new_link<'s>(
    (cause, effect): (ConditionKey, ConditionKey),
    strength: &Graded,
    written: LinkPlace<'s>,
    first: &mut First<'s>,
    base: &KnowledgeBase,
    problems: &mut Problems<'_>,
) -> Option<Probability> {
    let cause_id = &base.condition(cause).id;
    if cause == effect {
        problems.error(
            written.spot(),
            "cycle",
            format!("`{cause_id}` is named as its own cause: {cause_id} -> {cause_id}"),
            "take the link out, or name what lies behind it",
        );
        return None;
    }
    if let Some(before) = first.get(&(cause, effect)) {
        let spot = written.spot();
        let message = format!(
            "the link {cause_id} -> {} is there already, in {}",
            base.condition(effect).id,
            problems.words(before.spot(), spot)
        );
        let help = "keep one; to change a link of an earlier layer, replace the entry it stands in";
        problems.error(spot, "link-twice", message, help);
        return None;
    }
    first.insert((cause, effect), written);
    strength.on(STRENGTH_WORDS)
}
