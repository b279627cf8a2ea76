//! From what the files say to what the program may rely on: ids become keys, words become chances.

use super::base::{Case, Fact, KnowledgeBase, LayerInfo, Source};
use super::body_words::body_words;
use super::conditions::{Units, condition, opposites};
use super::document::CaseText;
use super::drill_text::DrillText;
use super::ids::Index;
use super::links::links;
use super::node::clip;
use super::placed_entry::{PlacedEntry, origin};
use super::problems::Problems;
use super::remedies::drill;
use super::spoken::LibraryWords;
use super::standing_entries::Settled;
use super::vocabulary::{Stage, WhenSeen};
use std::collections::BTreeMap;
use std::mem::take;

/// Turns settled texts into a base, saying on the way everything that keeps one from being right.
///
/// Long texts that no later check reads are moved out of `settled`, not copied.
pub(super) fn resolve(settled: &mut Settled, problems: &mut Problems<'_>) -> KnowledgeBase {
    let mut base = linked(settled, problems);
    base.body_words = body_words(settled, problems);
    base.spoken = spoken(settled);
    take_prose(settled, &mut base);
    for (case, entry) in base.cases.iter_mut().zip(settled.cases.values_mut()) {
        case.text = take(&mut entry.text);
    }
    base.layers = layer_infos(&base, problems);
    base
}

/// The base, all but its prose.
fn linked(settled: &Settled, problems: &mut Problems<'_>) -> KnowledgeBase {
    let index = Index::new(settled);
    let mut units = Units::default();
    let mut base = KnowledgeBase {
        conditions: Vec::with_capacity(settled.conditions.len()),
        drills: Vec::with_capacity(settled.drills.len()),
        sources: Vec::with_capacity(settled.sources.len()),
        cases: Vec::with_capacity(settled.cases.len()),
        facts: facts(settled, problems),
        spoken: LibraryWords::default(),
        body_words: Vec::new(),
        when_seen: when_seen(settled),
        layers: Vec::new(),
        content_hash: String::new(),
    };
    for entry in settled.sources.values() {
        base.sources.push(Source {
            id: entry.text.id.clone(),
            cite: entry.text.cite.clone(),
            basis: entry.text.basis.clone(),
            origin: origin(entry.start(), problems.layers),
        });
    }
    for (kind, entry) in settled.conditions.values() {
        let condition = condition(*kind, entry, &index, &mut units, problems);
        base.conditions.push(condition);
    }
    opposites(settled, &index, &mut base, problems);
    links(settled, &index, &mut base, problems);
    for entry in settled.drills.values() {
        let drill = drill(entry, &index, &base, problems);
        base.drills.push(drill);
    }
    let entries: Vec<&PlacedEntry<DrillText>> =
        settled.drills.values().map(|entry| &**entry).collect();
    super::circle::check_order(&base, |drill| entries[drill].key("after"), problems);
    for entry in settled.cases.values() {
        check_case(entry, &index, problems);
        base.cases.push(Case {
            text: CaseText::default(),
            origin: origin(entry.start(), problems.layers),
        });
    }
    check_spoken(settled, &index, problems);
    base
}

/// Every id that the words name leads somewhere.
fn check_spoken(settled: &Settled, index: &Index<'_>, problems: &mut Problems<'_>) {
    let entries = &settled.spoken;
    for entry in &entries.sayings {
        index.condition(&entry.text.id, || entry.spot(&["id".into()]), problems);
    }
    for entry in &entries.flights {
        index.condition(&entry.text.id, || entry.spot(&["id".into()]), problems);
    }
    for entry in &entries.numbers {
        for (number, fact) in entry.text.when.iter().enumerate() {
            let spot = || entry.spot(&["when".into(), number.into()]);
            index.fact(fact, spot, problems);
        }
    }
    for entry in &entries.topics {
        for (number, id) in entry.text.rules_out.iter().enumerate() {
            let spot = || entry.spot(&["rules_out".into(), number.into()]);
            index.condition(id, spot, problems);
        }
    }
    for entry in settled.facts.values().flatten() {
        for (number, implied) in entry.text.implies.iter().enumerate() {
            let at = || entry.spot(&["implies".into(), number.into(), "fact".into()]);
            index.fact(&implied.fact, at, problems);
        }
    }
}

/// The words; those that ship when the library has none.
fn spoken(settled: &mut Settled) -> LibraryWords {
    let spoken = settled.spoken.take_spoken();
    if spoken.is_empty() {
        let shipped = super::gather::shipped_words().spoken.take_spoken();
        return LibraryWords {
            // What a coach adds to a small library of his own stays.
            sayings: [shipped.sayings, spoken.sayings].concat(),
            topics: [shipped.topics, spoken.topics].concat(),
            denials: [shipped.denials, spoken.denials].concat(),
            hedges: [shipped.hedges, spoken.hedges].concat(),
            clubs: [shipped.clubs, spoken.clubs].concat(),
            flights: [shipped.flights, spoken.flights].concat(),
            numbers: [shipped.numbers, spoken.numbers].concat(),
            opposites: [shipped.opposites, spoken.opposites].concat(),
            ..shipped
        };
    }
    spoken
}

/// Moves the sentences of every entry into the base.
fn take_prose(settled: &mut Settled, base: &mut KnowledgeBase) {
    let texts = settled.conditions.values_mut();
    for (condition, (_, entry)) in base.conditions.iter_mut().zip(texts) {
        let text = &mut entry.text;
        condition.caution = text.caution.take();
        if let Some(look) = &mut text.look {
            condition.look_for = take(&mut look.what);
        }
    }
    for (drill, entry) in base.drills.iter_mut().zip(settled.drills.values_mut()) {
        let text = &mut entry.text;
        drill.purpose = text.purpose.take().unwrap_or_default();
        drill.setup = text.setup.take().unwrap_or_default();
        drill.steps = take(&mut text.steps);
        drill.feel = take(&mut text.feel);
        drill.goes_wrong = take(&mut text.goes_wrong);
        drill.easier = text.easier.take();
        drill.harder = text.harder.take();
        drill.caution = text.caution.take();
    }
}

/// What the layers say of stages; where none says anything, what ships.
fn when_seen(settled: &Settled) -> BTreeMap<Stage, WhenSeen> {
    let said = |stages: &mut dyn Iterator<Item = (Stage, Option<WhenSeen>)>| {
        stages
            .filter_map(|(stage, when)| Some((stage, when?)))
            .collect()
    };
    if !settled.stages.is_empty() {
        return said(&mut settled.stages.iter().map(|(stage, when)| (*stage, *when)));
    }
    let shipped = super::gather::shipped_words().stages;
    said(
        &mut shipped
            .iter()
            .map(|entry| (entry.text.id, entry.text.when_seen)),
    )
}

/// Every fact with what all layers say of it, sorted by id.
fn facts(settled: &Settled, problems: &Problems<'_>) -> Vec<Fact> {
    let each = settled.facts.iter();
    each.map(|(id, said)| {
        let name = said.iter().find_map(|entry| entry.text.name.clone());
        let mut say: Vec<String> = Vec::new();
        for words in said.iter().flat_map(|entry| &entry.text.say) {
            if !say.contains(words) {
                say.push(words.clone());
            }
        }
        Fact {
            id: id.clone(),
            name: name.unwrap_or_else(|| id.replace('-', " ")),
            say,
            implies: said
                .iter()
                .flat_map(|entry| entry.text.implies.clone())
                .collect(),
            in_passing: said.iter().any(|entry| entry.text.in_passing),
            origin: origin(said[0].start(), problems.layers),
        }
    })
    .collect()
}

fn check_case(entry: &PlacedEntry<CaseText>, index: &Index<'_>, problems: &mut Problems<'_>) {
    let text = &entry.text;
    let none = Vec::new();
    let any_of = text.ranks.as_ref().map_or(&none, |ranks| &ranks.any_of);
    let lists: [(&[super::node::PathStep<'_>], &Vec<String>); 4] = [
        (&["seen".into()], &text.seen),
        (&["not_seen".into()], &text.not_seen),
        (&["never_first".into()], &text.never_first),
        (&["ranks".into(), "any_of".into()], any_of),
    ];
    for (path, ids) in lists {
        for (i, id) in ids.iter().enumerate() {
            let spot = || {
                let mut path = path.to_vec();
                path.push(i.into());
                entry.spot(&path)
            };
            index.condition(id, spot, problems);
        }
    }
    check_usable(entry, problems);
    if text.ranks.is_none() && text.never_first.is_empty() && entry.whole {
        problems.warning(
            entry.head(),
            "case-expects-nothing",
            format!("the case `{}` expects nothing, so it cannot fail", text.id),
            "add `ranks` or `never_first`",
        );
    }
}

/// A case says what is seen, no thing both ways, and expects what a list can show.
fn check_usable(entry: &PlacedEntry<CaseText>, problems: &mut Problems<'_>) {
    let text = &entry.text;
    if text.seen.is_empty() && entry.whole {
        let message = format!("the case `{}` has nothing seen", text.id);
        let help = "name at least one thing seen";
        problems.error(entry.key("seen"), "case-unusable", message, help);
    }
    if let Some(both) = text.seen.iter().find(|id| text.not_seen.contains(id)) {
        let message = format!("`{}` is both seen and not seen", clip(both));
        let help = "keep one of the two";
        problems.error(entry.key("not_seen"), "case-unusable", message, help);
    }
    if let Some(ranks) = &text.ranks
        && entry.whole
        && (ranks.first == 0 || ranks.any_of.is_empty())
    {
        problems.error(
            entry.key("ranks"),
            "case-unusable",
            format!(
                "the case `{}` expects something that no list can show",
                text.id
            ),
            "write `first` from 1, and at least one id in `any_of`",
        );
    }
}

fn layer_infos(base: &KnowledgeBase, problems: &Problems<'_>) -> Vec<LayerInfo> {
    let mut infos: Vec<LayerInfo> = problems
        .layers
        .iter()
        .map(|layer| LayerInfo {
            name: layer.name.clone(),
            counts: BTreeMap::new(),
        })
        .collect();
    let mut count = |layer: usize, what: &str| {
        if let Some(info) = infos.get_mut(layer) {
            *info.counts.entry(what.to_owned()).or_insert(0) += 1;
        }
    };
    for condition in &base.conditions {
        let kind = format!("{}s", condition.kind.as_str());
        count(condition.origin.layer, &kind);
        for link in &condition.causes {
            count(link.origin.layer, "links");
        }
    }
    macro_rules! count {
        ($($list:ident),+) => {
            $(base.$list.iter().for_each(|one| count(one.origin.layer, stringify!($list)));)+
        };
    }
    count!(drills, sources, cases, facts, body_words);
    infos
}
