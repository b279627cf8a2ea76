//! From what the files say to what the program may rely on: ids become keys, words become chances.

use super::base::{
    Behind, Case, Cause, Condition, ConditionKey, ConditionKind, Drill, DrillKey, Fact, FactKey,
    Impact, KnowledgeBase, LayerInfo, Measure, Source, SourceKey, Told, Treats,
};
use super::body_words::body_words;
use super::document::{ConditionText, DrillText, Graded, LinkText};
use super::gather::{Entry, origin};
use super::node::clip;
use super::probability::Probability;
use super::problems::{Problems, Spot};
use super::settle::{Settled, is_kebab, to_kebab};
use super::spoken::Spoken;
use super::vocabulary::{Place, RemedyKind, Rung, Shot, Side, Stage, Status, WhenSeen};
use super::words::{COMMON_WORDS, DEFAULT_EFFECT, DEFAULT_SHARE, LEAK_WORDS, STRENGTH_WORDS};
use foldhash::fast::RandomState;
use std::collections::{BTreeMap, HashMap};
use std::mem::take;

/// Strokes a round that a fault can cost; a number above it is a slip.
const MOST_STROKES: f64 = 30.0;

/// A map by ids. The hash is quick and still seeded: libraries come from strangers too.
type Map<K, V> = HashMap<K, V, RandomState>;

/// Looks ids up and says what is wrong with one that leads nowhere.
pub(super) struct Index<'s> {
    settled: &'s Settled,
    conditions: Map<&'s str, (ConditionKey, &'s Entry<ConditionText>)>,
    drills: Map<&'s str, (DrillKey, &'s Entry<DrillText>)>,
    sources: Map<&'s str, SourceKey>,
}

impl<'s> Index<'s> {
    pub(super) fn new(settled: &'s Settled) -> Self {
        let conditions = settled.conditions.iter().enumerate();
        let drills = settled.drills.iter().enumerate();
        let sources = settled.sources.keys().enumerate();
        Self {
            settled,
            conditions: conditions
                .map(|(i, (id, (_, entry)))| (id.as_str(), (ConditionKey(i), &**entry)))
                .collect(),
            drills: drills
                .map(|(i, (id, entry))| (id.as_str(), (DrillKey(i), &**entry)))
                .collect(),
            sources: sources.map(|(i, id)| (id.as_str(), SourceKey(i))).collect(),
        }
    }

    /// The condition with an id; what is wrong otherwise is said.
    pub(super) fn condition(
        &self,
        id: &str,
        spot: impl Fn() -> Spot,
        problems: &mut Problems<'_>,
    ) -> Option<ConditionKey> {
        if let Some((key, entry)) = self.conditions.get(id) {
            if let Some(heir) = &entry.text.retired_for {
                retired(id, heir, entry.start(), spot(), problems);
            }
            return Some(*key);
        }
        let spot = spot();
        if self.drills.contains_key(id) {
            problems.error(
                spot,
                "wrong-kind",
                format!(
                    "`{}` is a drill; an outcome, fault or cause belongs here",
                    clip(id)
                ),
                "write the id of what the drill works on",
            );
            return None;
        }
        let named = self.settled.conditions.iter().find(|(_, (_, entry))| {
            entry.text.name.eq_ignore_ascii_case(id)
                || entry
                    .text
                    .aliases
                    .iter()
                    .any(|a| a.eq_ignore_ascii_case(id))
        });
        let named = named.map(|(known, _)| known.clone());
        let known = self.settled.conditions.keys();
        self.unknown(
            "an outcome, fault or cause",
            id,
            named,
            known,
            spot,
            problems,
        );
        None
    }

    fn fact(
        &self,
        id: &str,
        spot: impl Fn() -> Spot,
        problems: &mut Problems<'_>,
    ) -> Option<FactKey> {
        let key = self.settled.facts.keys().position(|known| known == id);
        if key.is_none() {
            let known = self.settled.facts.keys();
            self.unknown("a fact", id, None, known, spot(), problems);
        }
        key.map(FactKey)
    }

    fn drill(
        &self,
        id: &str,
        spot: impl Fn() -> Spot,
        problems: &mut Problems<'_>,
    ) -> Option<DrillKey> {
        if let Some((key, entry)) = self.drills.get(id) {
            if let Some(heir) = &entry.text.retired_for {
                retired(id, heir, entry.start(), spot(), problems);
            }
            return Some(*key);
        }
        let spot = spot();
        if self.conditions.contains_key(id) {
            problems.error(
                spot,
                "wrong-kind",
                format!("`{}` is not a drill, and a drill belongs here", clip(id)),
                "write the id of a drill",
            );
            return None;
        }
        self.unknown(
            "a drill",
            id,
            None,
            self.settled.drills.keys(),
            spot,
            problems,
        );
        None
    }

    fn source(
        &self,
        id: &str,
        spot: impl Fn() -> Spot,
        problems: &mut Problems<'_>,
    ) -> Option<SourceKey> {
        let key = self.sources.get(id).copied();
        if key.is_none() {
            self.unknown(
                "a source",
                id,
                None,
                self.settled.sources.keys(),
                spot(),
                problems,
            );
        }
        key
    }

    fn unknown<'a>(
        &self,
        noun: &str,
        id: &str,
        named: Option<String>,
        known: impl ExactSizeIterator<Item = &'a String>,
        spot: Spot,
        problems: &mut Problems<'_>,
    ) {
        if self.settled.unreadable.contains(id) {
            return;
        }
        let help = match named {
            Some(named) => format!("write its id: `{named}`"),
            None => problems.did_you_mean(
                id,
                known.map(String::as_str),
                "correct the id, or add an entry that has it",
            ),
        };
        let message = format!("no entry has the id `{}`; {noun} belongs here", clip(id));
        problems.error(spot, "unknown-id", message, help);
    }
}

/// A link to a retired entry is told to those who could have known: not to the authors of a layer
/// below the one that retired it.
fn retired(id: &str, heir: &str, by: Spot, spot: Spot, problems: &mut Problems<'_>) {
    if by.layer > spot.layer {
        return;
    }
    problems.warning(
        spot,
        "retired-link",
        format!("`{}` is retired", clip(id)),
        format!("write `{}`", clip(heir)),
    );
}

/// Turns settled texts into a base, saying on the way everything that keeps one from being right.
///
/// Long texts that no later check reads are moved out of `settled`, not copied.
pub(super) fn resolve(settled: &mut Settled, problems: &mut Problems<'_>) -> KnowledgeBase {
    let mut base = linked(settled, problems);
    take_prose(settled, &mut base);
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
        spoken: Spoken::default(),
        body_words: body_words(settled, problems),
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
    let entries: Vec<&Entry<DrillText>> = settled.drills.values().map(|entry| &**entry).collect();
    super::circle::check_order(&base, |drill| entries[drill].key("after"), problems);
    for entry in settled.cases.values() {
        check_case(entry, &index, problems);
        base.cases.push(Case {
            text: entry.text.clone(),
            origin: origin(entry.start(), problems.layers),
        });
    }
    base.spoken = spoken(settled, &index, problems);
    base.layers = layer_infos(&base, problems);
    base
}

/// The words, with every id that they name looked up; those that ship when the library has none.
fn spoken(settled: &Settled, index: &Index<'_>, problems: &mut Problems<'_>) -> Spoken {
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
    let spoken = entries.spoken();
    if spoken.is_empty() {
        let shipped = super::gather::shipped_words().spoken.spoken();
        return Spoken {
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

fn condition<'s>(
    kind: ConditionKind,
    entry: &'s Entry<ConditionText>,
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

fn or_default<T: Copy>(given: &[T], default: T) -> Vec<T> {
    let mut kept = Vec::new();
    if given.is_empty() {
        kept.push(default);
    }
    kept.extend_from_slice(given);
    kept
}

/// How common the condition is, or its bare leak.
fn prior(
    entry: &Entry<ConditionText>,
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

fn cost(entry: &Entry<ConditionText>, problems: &mut Problems<'_>) -> Option<f64> {
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
    entry: &Entry<ConditionText>,
    index: &Index<'_>,
    problems: &mut Problems<'_>,
) -> Vec<Behind> {
    let mut found: Vec<Behind> = Vec::new();
    let mut sum = 0.0;
    for (i, item) in entry.text.behind.iter().enumerate() {
        let spot = || entry.spot(&["behind".into(), i.into(), "id".into()]);
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
        if item.id == entry.text.id {
            problems.error(
                spot(),
                "behind-itself",
                format!("`{}` is named as being behind itself", item.id),
                "leave it out: what is left over is a habit of its own",
            );
            continue;
        }
        let Some(key) = index.condition(&item.id, spot, problems) else {
            continue;
        };
        if index.settled.conditions[&item.id].0 == ConditionKind::Outcome {
            problems.error(
                spot(),
                "behind-outcome",
                format!(
                    "`{}` is an outcome, and nobody can work on an outcome",
                    item.id
                ),
                "name the fault or cause that a teacher works on",
            );
            continue;
        }
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
            found.push(Behind { cause: key, share });
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

/// More than this many times as common is a slip: nothing in the trade is known so well.
const MOST_TIMES: f64 = 20.0;

fn told(entry: &Entry<ConditionText>, index: &Index<'_>, problems: &mut Problems<'_>) -> Vec<Told> {
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
fn opposites(
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
type Units<'s> = Map<&'s str, (&'s str, &'s Entry<ConditionText>)>;

fn measure<'s>(
    entry: &'s Entry<ConditionText>,
    units: &mut Units<'s>,
    problems: &mut Problems<'_>,
) -> Option<Measure> {
    let text = entry.text.measure.as_ref()?;
    let at = |key: &str| entry.spot(&["measure".into(), key.into()]);
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
    match units.get(text.quantity.as_str()) {
        Some((unit, first)) if **unit != text.unit => {
            let spot = at("unit");
            let first = first.spot(&["measure".into(), "unit".into()]);
            let message = format!(
                "`{}` is in `{}` here, and in `{}` in {}",
                clip(&text.quantity),
                clip(&text.unit),
                clip(unit),
                problems.words(first, spot)
            );
            problems.error(spot, "unit-clash", message, "use one unit for one quantity");
        }
        Some(_) => {}
        None => {
            units.insert(&text.quantity, (&text.unit, entry));
        }
    }
    Some(Measure {
        quantity: text.quantity.clone(),
        unit: text.unit.clone(),
        sound: text.sound,
        error_sd: text.error_sd,
        side: text.side.unwrap_or(Side::Outside),
        basis: text.basis.clone(),
    })
}

/// The numbers of a strike; a group that says none stands for nothing.
fn impact(entry: &Entry<ConditionText>, problems: &mut Problems<'_>) -> Option<Impact> {
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

fn sources(
    ids: &[String],
    index: &Index<'_>,
    problems: &mut Problems<'_>,
    spot: impl Fn(usize) -> Spot,
) -> Vec<SourceKey> {
    let mut found = Vec::new();
    for (i, id) in ids.iter().enumerate() {
        let key = index.source(id, || spot(i), problems);
        found.extend(key.filter(|key| !found.contains(key)));
    }
    found
}

/// An heir exists, is of the same sort, and following heirs ends somewhere.
fn check_retired_for<'a>(
    spot: impl Fn() -> Spot,
    id: &str,
    heir: Option<&'a str>,
    problems: &mut Problems<'_>,
    heir_of: impl Fn(&str) -> Option<Option<&'a str>>,
) {
    let Some(first) = heir else { return };
    if heir_of(first).is_none() {
        problems.error(
            spot(),
            "retired-for-nothing",
            format!(
                "`{}` is retired for `{}`, which is no entry of its sort",
                clip(id),
                clip(first)
            ),
            "name an entry that is there",
        );
        return;
    }
    let mut seen = vec![id];
    let mut next = Some(first);
    while let Some(now) = next {
        if seen.contains(&now) {
            problems.error(
                spot(),
                "retired-in-a-circle",
                format!(
                    "following `retired_for` from `{}` leads back to `{}`",
                    clip(id),
                    clip(now)
                ),
                "let one of them stand",
            );
            return;
        }
        seen.push(now);
        next = heir_of(now).flatten();
    }
}

/// Where a link is written.
#[derive(Clone, Copy)]
enum Written<'s> {
    CausedBy(&'s Entry<ConditionText>, usize),
    Links(&'s Entry<LinkText>),
}

impl Written<'_> {
    /// Where the cause is named.
    fn spot(self) -> Spot {
        match self {
            Written::CausedBy(entry, item) => {
                entry.spot(&["caused_by".into(), item.into(), "id".into()])
            }
            Written::Links(entry) => entry.spot(&["cause".into()]),
        }
    }
}

/// Where each link was written first.
type First<'s> = Map<(ConditionKey, ConditionKey), Written<'s>>;

/// Every link, from `caused_by` and from `links`, into the conditions.
fn links(
    settled: &Settled,
    index: &Index<'_>,
    base: &mut KnowledgeBase,
    problems: &mut Problems<'_>,
) {
    let mut first = First::default();
    for (effect, (_, entry)) in settled.conditions.values().enumerate() {
        for (number, item) in entry.text.caused_by.iter().enumerate() {
            let written = Written::CausedBy(entry, number);
            let Some(cause) = index.condition(&item.id, || written.spot(), problems) else {
                continue;
            };
            let ends = (cause, ConditionKey(effect));
            let strength = new_link(ends, &item.strength, written, &mut first, base, problems);
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
    for entry in &settled.links {
        let written = Written::Links(entry);
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
        if let Some(strength) = new_link(ends, &graded, written, &mut first, base, problems) {
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
    for condition in &mut base.conditions {
        condition.causes.sort_by_key(|link| link.cause);
    }
    let spot = |cause, effect| first.get(&(cause, effect)).map(|written| written.spot());
    super::circle::check(base, spot, problems);
}

/// What an entry of `links` says of how strong it is: a strength, or the share behind the effect and
/// the strength that amounts to it (see [`strength_of`]).
fn own_strength(
    entry: &Entry<LinkText>,
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
    written: Written<'s>,
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

fn drill(
    entry: &Entry<DrillText>,
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
    if kind == RemedyKind::Referral && text.ladder.is_some_and(|rung| rung > Rung::SlowWithBall) {
        problems.error(
            entry.spot(&["ladder".into()]),
            "referral-at-speed",
            format!(
                "`{}` is a referral, and nobody swings at speed before it",
                text.id
            ),
            "write `ladder: rehearsal`, or another `kind`",
        );
    }
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

fn treats(
    entry: &Entry<DrillText>,
    kind: RemedyKind,
    index: &Index<'_>,
    base: &KnowledgeBase,
    problems: &mut Problems<'_>,
) -> Vec<Treats> {
    let mut found: Vec<Treats> = Vec::new();
    if entry.text.treats.is_empty() && entry.whole {
        problems.error(
            entry.key("treats"),
            "treats-nothing",
            format!(
                "the drill `{}` treats nothing, so it would never be offered",
                entry.text.id
            ),
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
            problems.error(
                spot(),
                "drill-against-pain",
                format!("`{}` is a pain, and a drill is not set against a pain", item.id),
                "a remedy for it is of `kind: referral`; to keep the drill from players who have the pain, name it under `not_with`",
            );
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
    found
}

fn listed(
    entry: &Entry<DrillText>,
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
    entry: &Entry<DrillText>,
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

fn check_case(
    entry: &Entry<super::document::CaseText>,
    index: &Index<'_>,
    problems: &mut Problems<'_>,
) {
    let text = &entry.text;
    let none = Vec::new();
    let any_of = text.ranks.as_ref().map_or(&none, |ranks| &ranks.any_of);
    let lists: [(&[super::node::Step<'_>], &Vec<String>); 4] = [
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
    if text.seen.is_empty() && entry.whole {
        let message = format!("the case `{}` has nothing seen", text.id);
        problems.error(
            entry.key("seen"),
            "case-unusable",
            message,
            "name at least one thing seen",
        );
    }
    if let Some(both) = text.seen.iter().find(|id| text.not_seen.contains(id)) {
        let message = format!("`{}` is both seen and not seen", clip(both));
        problems.error(
            entry.key("not_seen"),
            "case-unusable",
            message,
            "keep one of the two",
        );
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
    if text.ranks.is_none() && text.never_first.is_empty() && entry.whole {
        problems.warning(
            entry.head(),
            "case-expects-nothing",
            format!("the case `{}` expects nothing, so it cannot fail", text.id),
            "add `ranks` or `never_first`",
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
        count(
            condition.origin.layer,
            &format!("{}s", condition.kind.as_str()),
        );
        for link in &condition.causes {
            count(link.origin.layer, "links");
        }
    }
    base.drills
        .iter()
        .for_each(|drill| count(drill.origin.layer, "drills"));
    base.sources
        .iter()
        .for_each(|source| count(source.origin.layer, "sources"));
    base.cases
        .iter()
        .for_each(|case| count(case.origin.layer, "cases"));
    base.facts
        .iter()
        .for_each(|fact| count(fact.origin.layer, "facts"));
    base.body_words
        .iter()
        .for_each(|words| count(words.origin.layer, "body_words"));
    infos
}
