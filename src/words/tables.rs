//! The fixed phrases of a library made ready: denials, hedges, facts, topics.

use super::number::Numbers;
use super::phrases::Phrases;
use super::term::Cutter;
use super::trade::Trade;
use crate::knowledge::{ConditionKey, Denies, FactKey, KnowledgeBase, TopicText, WordUse};
use crate::lesson::Handed;

/// What a fixed phrase does to the findings around it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Effect {
    Denies(Denies),
    Hedges,
    /// Makes only what stands right behind it slight: `a small fade`.
    HedgesNext,
    Believes,
}

/// A fact that follows, from which number on and below which.
pub(super) type Implied = (FactKey, Option<f64>, Option<f64>);

/// The fixed phrases of a library.
pub(super) struct Tables {
    pub(super) effects: Phrases<Effect>,
    pub(super) parts: Phrases<bool>,
    pub(super) facts: Phrases<FactKey>,
    pub(super) how_often: Phrases<()>,
    pub(super) how_bad: Phrases<()>,
    /// Whether an entry is one of too little of something, by key.
    pub(super) lacks: Vec<bool>,
    pub(super) topics: Phrases<usize>,
    pub(super) stated: Phrases<usize>,
    pub(super) rules_out: Vec<Vec<ConditionKey>>,
    pub(super) implies: Vec<Vec<Implied>>,
    pub(super) in_passing: Vec<bool>,
    pub(super) numbers: Numbers,
    pub(super) hands: [Option<FactKey>; 2],
}

impl Tables {
    pub(super) fn new(cutter: &mut Cutter, trade: &Trade, base: &KnowledgeBase) -> Self {
        let spoken = &base.spoken;
        let mut effects: Vec<(&str, Effect)> = Vec::new();
        for text in &spoken.denials {
            effects.extend(
                text.say
                    .iter()
                    .map(|say| (say.as_str(), Effect::Denies(text.denies))),
            );
        }
        for text in &spoken.hedges {
            effects.extend(text.say.iter().map(|say| (say.as_str(), Effect::Hedges)));
        }
        let of = |used_as: WordUse| {
            let lists = spoken
                .word_lists
                .iter()
                .filter(move |list| list.used_as == used_as);
            lists.flat_map(|list| list.say.iter().map(String::as_str))
        };
        effects.extend(of(WordUse::SlightBeside).map(|say| (say, Effect::HedgesNext)));
        effects.extend(of(WordUse::Belief).map(|say| (say, Effect::Believes)));
        let parts = of(WordUse::Parts).map(|say| (say, false));
        let parts = parts.chain(of(WordUse::Occasion).map(|say| (say, true)));
        let keys = (0..base.facts.len()).map(FactKey);
        let facts: Vec<(&str, FactKey)> = keys
            .flat_map(|key| {
                base.fact(key)
                    .say
                    .iter()
                    .map(move |say| (say.as_str(), key))
            })
            .collect();
        let say = |of: fn(&TopicText) -> &Vec<String>| {
            let topics = spoken.topics.iter().enumerate();
            topics
                .flat_map(move |(number, topic)| {
                    of(topic).iter().map(move |say| (say.as_str(), number))
                })
                .collect::<Vec<_>>()
        };
        let lack = Phrases::new(cutter, false, of(WordUse::LackName).map(|say| (say, ())));
        let lacks = named(cutter, trade, base, &lack);
        let hand = |hand: Handed| base.find_fact(&format!("handed-{}", hand.as_str()));
        Self {
            effects: Phrases::new(cutter, false, effects),
            parts: Phrases::new(cutter, false, parts),
            facts: Phrases::new(cutter, true, facts),
            how_often: Phrases::new(cutter, false, of(WordUse::HowOften).map(|say| (say, ()))),
            how_bad: Phrases::new(cutter, false, of(WordUse::HowBad).map(|say| (say, ()))),
            lacks,
            topics: Phrases::new(cutter, true, say(|topic| &topic.say)),
            stated: Phrases::new(cutter, true, say(|topic| &topic.stated)),
            rules_out: spoken
                .topics
                .iter()
                .map(|topic| {
                    topic
                        .rules_out
                        .iter()
                        .flat_map(|id| base.find(id))
                        .collect()
                })
                .collect(),
            implies: base
                .facts
                .iter()
                .map(|fact| {
                    let each = fact.implies.iter();
                    each.filter_map(|i| Some((base.find_fact(&i.fact)?, i.from, i.below)))
                        .collect()
                })
                .collect(),
            in_passing: base.facts.iter().map(|fact| fact.in_passing).collect(),
            numbers: Numbers::new(cutter, base),
            hands: [hand(Handed::Right), hand(Handed::Left)],
        }
    }
}

/// Which entries have one of some phrases in their name, by key.
fn named(
    cutter: &mut Cutter,
    trade: &Trade,
    base: &KnowledgeBase,
    phrases: &Phrases<()>,
) -> Vec<bool> {
    let names = base.conditions.iter().map(|condition| {
        let name = cutter.cut(&condition.name);
        !phrases.all(trade, &name).is_empty()
    });
    names.collect()
}
