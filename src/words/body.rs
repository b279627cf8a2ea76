//! What a note says of the body: pain, injury, illness, operations, medication, and how urgent it is.
//!
//! Every word comes from the library's `body_words`; here is only how they are matched. What is found is
//! dropped where it shares a word with the trade's own ways of speaking, and then weighed against the
//! denials around it. A clause in which nothing is met is read by its likeness (`alike.rs`).

use super::alike::Alike;
use super::denials::Scene;
use super::tokens::{Stretch, Token};
use super::ways::{Met, Ways};
use crate::knowledge::{
    BodyRole, BodyWords, ConditionKey, KnowledgeBase, Refer, SHIPPED_LAYER, Strictness, load,
    shipped,
};
use std::borrow::Cow;
use std::cell::OnceCell;
use std::collections::{BTreeSet, HashSet};
use std::ops::Range;

/// A note is read this many words at a time, and so many of them twice.
const STRETCH: usize = 240;
const OVERLAP: usize = 40;
/// What holds something shorter is among so many that start before it.
const NEAR_ENOUGH: usize = 24;

/// Something that a note says of the body.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// The words, as typed.
    pub words: String,
    /// Where they stand in the note, in bytes.
    pub span: Range<usize>,
    /// Whom to send the student to, and how soon.
    pub refer: Refer,
    /// The body words that were met, by id.
    pub said: String,
    /// The pain of the library that it is, where one is known.
    pub pain: Option<ConditionKey>,
    /// What is to be said of it beside what is said to all who are referred alike.
    pub caution: Option<String>,
}

/// Everything that a note says of the body.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Complaints {
    /// What is there, in the order of the note.
    pub there: Vec<Complaint>,
    /// What is said not to be there, or no longer.
    pub denied: Vec<Complaint>,
    /// What stands on record as a limit: it closes drills, and sends nobody anywhere.
    pub limits: Vec<Limit>,
}

/// A limit on record that is no complaint, such as a stiff neck.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// The words, as they were kept.
    pub words: String,
    /// What of the library it closes drills to: the pain of that part, or a condition that was named.
    pub closed_to: Option<ConditionKey>,
}

impl Complaints {
    /// Whom to send the student to: the most urgent of all.
    #[must_use]
    pub fn refer(&self) -> Option<Refer> {
        self.there.iter().map(|complaint| complaint.refer).min()
    }

    /// The pains of the library among them, each once, in order.
    pub fn pains(&self) -> BTreeSet<ConditionKey> {
        self.there.iter().filter_map(|c| c.pain).collect()
    }

    /// Whether nothing that counts was said: nothing that is there, and no limit.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.there.is_empty() && self.limits.is_empty()
    }

    /// Takes in what another note says.
    pub fn extend(&mut self, other: Self) {
        self.there.extend(other.there);
        self.denied.extend(other.denied);
        self.limits.extend(other.limits);
    }

    /// What of the library the limits close drills to, each once, in order.
    #[must_use]
    pub fn closed_to(&self) -> BTreeSet<ConditionKey> {
        self.limits.iter().filter_map(|one| one.closed_to).collect()
    }
}

/// Reads what a note says of the body. Build it once.
pub struct BodyReader<'a> {
    base: &'a KnowledgeBase,
    entries: Cow<'a, [BodyWords]>,
    ways: Ways,
    alike: OnceCell<Alike>,
}

impl<'a> BodyReader<'a> {
    /// A reader of the words of a library; what ships is always among them, so that no library makes
    /// the program deaf to a pain.
    #[must_use]
    pub fn new(base: &'a KnowledgeBase) -> Self {
        let entries = entries(base);
        let ways = Ways::new(&entries);
        Self {
            base,
            entries,
            ways,
            alike: OnceCell::new(),
        }
    }

    /// What a note says of the body.
    #[must_use]
    pub fn read(&self, note: &str) -> Complaints {
        let tokens = self.ways.words.tokens(self.base, note);
        // Stretch by stretch, so that a note of any length takes time in step with it; they overlap, so
        // that nothing is cut in two.
        let mut said: HashSet<usize> = HashSet::new();
        let mut all: Vec<(usize, Complaint, bool)> = Vec::new();
        let mut from = 0;
        loop {
            let to = (from + STRETCH).min(tokens.len());
            all.append(&mut self.in_stretch(note, &tokens[from..to], &mut said));
            if to == tokens.len() {
                break;
            }
            from = to - OVERLAP;
        }
        let id = |id: &str| self.entries.iter().position(|words| words.id == id);
        all.retain(|(entry, ..)| {
            let with = &self.entries[*entry].with;
            let met = |other: &String| id(other).is_some_and(|other| said.contains(&other));
            with.is_empty() || with.iter().any(met)
        });
        // Of two of which one holds the other the longer, unless the shorter is more urgent.
        all.sort_by_key(|(entry, complaint, _)| {
            let span = &complaint.span;
            (
                span.start,
                std::cmp::Reverse(span.end),
                complaint.refer,
                *entry,
            )
        });
        let mut complaints = Complaints::default();
        let mut kept: Vec<Complaint> = Vec::new();
        for (_, complaint, denied) in all {
            // Those that hold it start before it, and are short: only the last few can.
            let held = kept.iter().rev().take(NEAR_ENOUGH).any(|longer| {
                longer.span.start <= complaint.span.start
                    && complaint.span.end <= longer.span.end
                    && longer.refer <= complaint.refer
            });
            if held {
                continue;
            }
            kept.push(complaint.clone());
            if denied {
                complaints.denied.push(complaint);
            } else {
                complaints.there.push(complaint);
            }
        }
        complaints
    }

    /// What stands on record of a student's body. What is said of a lesson is a complaint of today; on
    /// record, stiffness and a short range are limits, and only the rest is a complaint.
    #[must_use]
    pub fn read_record(&self, text: &str) -> Complaints {
        let mut found = self.read(text);
        let tokens = self.ways.words.tokens(self.base, text);
        let filler = self.ways.fillers(&tokens);
        let met = self.ways.meet(&tokens, &filler);
        let scene = Scene::new(&self.entries, &tokens, &filler, &met, &[]);
        let mut limits: Vec<Stretch> = Vec::new();
        let mut all = scene.of(BodyRole::Limit).to_vec();
        all.sort_by_key(|stretch| (stretch.start, std::cmp::Reverse(stretch.end)));
        for stretch in all {
            if !limits.iter().any(|longer| longer.holds(stretch)) && !scene.denied(stretch) {
                limits.push(stretch);
            }
        }
        let span = |s: &Stretch| tokens[s.start].span.start..tokens[s.end - 1].span.end;
        found.there.retain(|complaint| {
            let within = |limit: &Range<usize>| {
                limit.start <= complaint.span.start && complaint.span.end <= limit.end
            };
            complaint.refer == Refer::Emergency || !limits.iter().map(span).any(|l| within(&l))
        });
        let overlaps = |limit: &Range<usize>, complaint: &Complaint| {
            limit.start < complaint.span.end && complaint.span.start < limit.end
        };
        for stretch in &limits {
            let at = span(stretch);
            if found.there.iter().any(|complaint| overlaps(&at, complaint)) {
                continue;
            }
            let parts = scene.parts.iter().filter(|(_, part)| stretch.holds(*part));
            let pains = parts.filter_map(|(group, _)| self.entries[*group].pain.as_deref());
            found.limits.push(Limit {
                words: text[at].to_owned(),
                closed_to: pains.filter_map(|pain| self.base.find(pain)).next(),
            });
        }
        found
    }

    /// What a stretch of a note says, each with its words and whether it is denied; `said` collects all
    /// the words that were met.
    fn in_stretch(
        &self,
        note: &str,
        tokens: &[Token],
        said: &mut HashSet<usize>,
    ) -> Vec<(usize, Complaint, bool)> {
        let filler = self.ways.fillers(tokens);
        let met = self.ways.meet(tokens, &filler);
        said.extend((0..self.entries.len()).filter(|entry| met.any(*entry)));
        let hits = self.hits(&filler, &met);
        let scene = Scene::new(&self.entries, tokens, &filler, &met, &hits);
        let mut found = Vec::new();
        for (entry, stretch) in &hits {
            let (entry, stretch) = (*entry, *stretch);
            let words = &self.entries[entry];
            let span = tokens[stretch.start].span.start..tokens[stretch.end - 1].span.end;
            let Some(refer) = Self::refer(words, stretch, &scene) else {
                continue;
            };
            let complaint = Complaint {
                words: note[span.clone()].to_owned(),
                span,
                refer,
                said: words.id.clone(),
                pain: self.pain(entry, stretch, &scene),
                caution: words.caution.clone(),
            };
            found.push((entry, complaint, scene.denied(stretch)));
        }
        found
    }

    fn of_role(&self, role: BodyRole, met: &Met) -> Vec<Stretch> {
        let groups = (0..self.entries.len()).filter(|i| self.entries[*i].role == Some(role));
        let mut found: Vec<Stretch> = groups.flat_map(|group| met.all(group)).collect();
        found.sort_unstable();
        found
    }

    /// What reports something, the trade's own ways of speaking aside.
    fn hits(&self, filler: &[bool], met: &Met) -> Vec<(usize, Stretch)> {
        let mut hidden = vec![false; filler.len()];
        for stretch in self.of_role(BodyRole::Trade, met) {
            for at in stretch.start..stretch.end {
                hidden[at] |= !filler[at];
            }
        }
        let mut found: Vec<(usize, Stretch)> = Vec::new();
        for (entry, words) in self.entries.iter().enumerate() {
            if words.refer.is_none() || words.role.is_some() {
                continue;
            }
            let unless: Vec<Stretch> =
                self.ways.unless[entry].map_or_else(Vec::new, |group| met.all(group).collect());
            found.extend(
                met.all(entry)
                    .filter(|hit| !(hit.start..hit.end).any(|at| hidden[at]))
                    .filter(|hit| !unless.iter().any(|other| other.overlaps(*hit)))
                    .map(|hit| (entry, hit)),
            );
        }
        found.sort_by_key(|(entry, hit)| (hit.start, std::cmp::Reverse(hit.end), *entry));
        found
    }

    /// What a clause reports of the body by its likeness to what people say, for where [`Self::read`] finds
    /// nothing. `sure` is the share of the likeness that must be with the body, from 0 to 1.
    #[must_use]
    pub fn likened(&self, note: &str, clause: Range<usize>, sure: f64) -> Option<Complaint> {
        let text = &note[clause.clone()];
        let tokens = self.ways.words.tokens(self.base, text);
        let whole = Stretch {
            start: 0,
            end: tokens.len(),
        };
        if tokens.is_empty() || tokens.len() > STRETCH {
            return None;
        }
        let filler = self.ways.fillers(&tokens);
        let met = self.ways.meet(&tokens, &filler);
        let hits = self.hits(&filler, &met);
        let scene = Scene::new(&self.entries, &tokens, &filler, &met, &hits);
        let small = [
            BodyRole::Denial,
            BodyRole::WeakDenial,
            BodyRole::NoDenial,
            BodyRole::ReachesOn,
            BodyRole::Except,
            BodyRole::Over,
            BodyRole::UsedTo,
            BodyRole::Again,
            BodyRole::Old,
            BodyRole::New,
            BodyRole::Carries,
        ];
        let small = |at: usize| {
            let here = |met: &Stretch| met.start <= at && at < met.end;
            filler[at] || small.iter().any(|role| scene.of(*role).iter().any(here))
        };
        // `used to`, `not again`: small words alone report nothing.
        if !scene.of(BodyRole::Trade).is_empty() || (0..tokens.len()).all(small) {
            return None;
        }
        // `no pain`: what is met and denied, with nothing beside it, is no report either.
        let denied: Vec<Stretch> = hits.iter().map(|(_, hit)| *hit).collect();
        let inside = |at: usize| denied.iter().any(|hit| hit.start <= at && at < hit.end);
        if !denied.is_empty()
            && denied.iter().all(|hit| scene.denied(*hit))
            && (0..tokens.len()).all(|at| small(at) || inside(at))
        {
            return None;
        }
        let alike = self
            .alike
            .get_or_init(|| Alike::new(self.base, &self.entries));
        let entry = alike.of(text, sure, &self.entries)?;
        let words = &self.entries[entry];
        let complaint = Complaint {
            words: text.trim().to_owned(),
            span: clause,
            refer: Self::refer(words, whole, &scene).unwrap_or(Refer::Ask),
            said: words.id.clone(),
            pain: self.pain(entry, whole, &scene),
            caution: words.caution.clone(),
        };
        Some(complaint)
    }

    /// Whom to send the student to, with what is said of the time.
    fn refer(words: &BodyWords, hit: Stretch, scene: &Scene<'_>) -> Option<Refer> {
        let refer = words.refer?;
        let sentence = scene.sentence(hit);
        let said = |role: &BodyRole| scene.of(*role).iter().any(|time| sentence.holds(*time));
        let when = if said(&BodyRole::New) {
            words.when_new
        } else if said(&BodyRole::Old) {
            words.when_old
        } else {
            None
        };
        when.or(Some(refer))
    }

    /// The pain of the library: by the part named in the words or nearest to them.
    fn pain(&self, entry: usize, hit: Stretch, scene: &Scene<'_>) -> Option<ConditionKey> {
        let key = |id: &Option<String>| id.as_deref().and_then(|id| self.base.find(id));
        if let Some(own) = key(&self.entries[entry].pain) {
            return Some(own);
        }
        let sentence = scene.sentence(hit);
        let parts = scene.parts.iter().filter(|(_, part)| sentence.holds(*part));
        let nearest = parts.min_by_key(|(group, part)| {
            let away = if part.overlaps(hit) {
                0
            } else {
                hit.start.abs_diff(part.start) + 1
            };
            // Of two that lie as near, the one that says more, such as a neck before a nerve.
            (away, std::cmp::Reverse(part.end - part.start), *group)
        });
        nearest.and_then(|(group, _)| key(&self.entries[*group].pain))
    }
}

/// The words of a library; where nothing that ships is in it, with what ships.
fn entries(base: &KnowledgeBase) -> Cow<'_, [BodyWords]> {
    let ships = base.layers.iter().any(|layer| layer.name == SHIPPED_LAYER);
    if ships {
        return Cow::Borrowed(&base.body_words);
    }
    let shipped = load(&[shipped()], Strictness::ErrorsOnly).map(|loaded| loaded.base.body_words);
    let mut all = shipped.unwrap_or_default();
    for own in &base.body_words {
        match all.iter_mut().find(|words| words.id == own.id) {
            Some(words) if words.role.is_none() => {
                words.say.extend(own.say.iter().cloned());
                words.alike.extend(own.alike.iter().cloned());
            }
            // What silences a pain is not taken from a library that ships without ours.
            _ if own.role.is_some() => {}
            Some(_) => {}
            None => all.push(own.clone()),
        }
    }
    Cow::Owned(all)
}

/// What is said to a student who is sent to somebody: the caution, and the pain that stands for any.
pub(super) fn answer(base: &KnowledgeBase, refer: Refer) -> Option<BodyWords> {
    entries(base)
        .iter()
        .find(|words| words.role == Some(BodyRole::Answer) && words.refer == Some(refer))
        .cloned()
}

/// What is said of limits that stand on record.
pub(super) fn of_limits(base: &KnowledgeBase) -> Option<String> {
    let entries = entries(base);
    let mut limits = entries
        .iter()
        .filter(|words| words.role == Some(BodyRole::Limit));
    limits.find_map(|words| words.caution.clone())
}
