//! What entries are called: words that mean two things, and words said twice.

use super::base::KnowledgeBase;
use super::node::clip;
use super::problems::{Problems, Spot};
use super::standing_entries::Settled;
use super::vocabulary::Shot;
use std::collections::BTreeMap;

/// One thing that an entry is called.
struct Called<'s> {
    id: &'s str,
    shots: Vec<Shot>,
    /// Whether the entry says itself that the words mean something else as well.
    shared: bool,
    spot: Spot,
}

/// Lower case, and single blanks for everything that is neither letter nor digit.
pub(super) fn folded(text: &str) -> String {
    let lower = text.to_lowercase();
    lower
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// Two conditions that are called the same, and can be met in the same lesson, need one of them to
/// say so, under `ambiguous_aliases`. Two drills may share an alias, but not a name. Conditions and
/// drills may share words.
pub(super) fn check(settled: &Settled, base: &KnowledgeBase, problems: &mut Problems<'_>) {
    let mut conditions: BTreeMap<String, Vec<Called<'_>>> = BTreeMap::new();
    for ((_, entry), condition) in settled.conditions.values().zip(&base.conditions) {
        if condition.retired_for.is_some() {
            continue;
        }
        let text = &entry.text;
        let name = [(&text.name, false, entry.spot(&["name".into()]))];
        let listed =
            |key: &'static str| move |(i, _): (usize, &String)| entry.spot(&[key.into(), i.into()]);
        let aliases = text.aliases.iter().enumerate();
        let aliases = aliases.map(|item| (item.1, false, listed("aliases")(item)));
        let shared = text.ambiguous_aliases.iter().enumerate();
        let shared = shared.map(|item| (item.1, true, listed("ambiguous_aliases")(item)));
        let all = name.into_iter().chain(aliases).chain(shared);
        add(&mut conditions, &text.id, &condition.shots, all, problems);
    }
    report(conditions, true, problems);
    let mut drills: BTreeMap<String, Vec<Called<'_>>> = BTreeMap::new();
    for (entry, drill) in settled.drills.values().zip(&base.drills) {
        if drill.retired_for.is_some() {
            continue;
        }
        let text = &entry.text;
        // Aliases are marked as shared: a search for one shows every drill that is called so.
        let name = [(&text.name, false, entry.spot(&["name".into()]))];
        let aliases = text.aliases.iter().enumerate();
        let aliases =
            aliases.map(|(i, alias)| (alias, true, entry.spot(&["aliases".into(), i.into()])));
        let all = name.into_iter().chain(aliases);
        add(&mut drills, &text.id, &drill.shots, all, problems);
    }
    report(drills, false, problems);
}

fn add<'s>(
    called: &mut BTreeMap<String, Vec<Called<'s>>>,
    id: &'s str,
    shots: &[Shot],
    words: impl Iterator<Item = (&'s String, bool, Spot)>,
    problems: &mut Problems<'_>,
) {
    for (word, shared, spot) in words {
        let same = called.entry(folded(word)).or_default();
        if same.iter().any(|other| other.id == id) {
            problems.warning(
                spot,
                "alias-repeated",
                format!("`{}` is already a name of this entry", clip(word)),
                "take it out; capitals, hyphens and blanks make no difference",
            );
            continue;
        }
        same.push(Called {
            id,
            shots: shots.to_vec(),
            shared,
            spot,
        });
    }
}

fn report(
    called: BTreeMap<String, Vec<Called<'_>>>,
    conditions: bool,
    problems: &mut Problems<'_>,
) {
    for (words, mut entries) in called {
        if words.is_empty() || entries.len() < 2 {
            continue;
        }
        entries.sort_by_key(|entry| entry.spot);
        for (i, later) in entries.iter().enumerate().skip(1) {
            let clash = entries[..i].iter().find(|earlier| {
                let meet = |shot: &Shot| earlier.shots.iter().any(|other| other.applies_to(*shot));
                !earlier.shared && !later.shared && later.shots.iter().any(meet)
            });
            let Some(earlier) = clash else { continue };
            let message = format!(
                "`{}` also means `{}`, in {}",
                clip(&words),
                earlier.id,
                problems.words(earlier.spot, later.spot)
            );
            let help = if conditions {
                "if both are meant, move it to `ambiguous_aliases`, and the program asks; if not, take one out"
            } else {
                "give one of the two drills another name"
            };
            problems.warning(later.spot, "alias-ambiguous", message, help);
        }
    }
}
