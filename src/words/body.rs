//! What a note says of the body: pain, injury, illness, operations, medication, and how urgent it is.
//!
//! Every word comes from the library's `body_words`; here is only how they are matched. A note is cut
//! into tokens. Ways of saying are sequences of tokens and of other body words, tried at each token,
//! so that the time is linear in the note. What is found is dropped where it shares a word with the
//! trade's own ways of speaking, and then weighed against the denials around it: an odd number of them
//! denies, an even number does not. One too many costs a coach a second look; one too few costs a
//! student more than that, so a denial counts only when nothing but a few kinds of word stand between.

use crate::knowledge::{
    BodyRole, BodyWords, ConditionKey, KnowledgeBase, Refer, SHIPPED_LAYER, Strictness, load,
    shipped,
};
use std::cell::OnceCell;
use std::collections::{BTreeSet, HashMap, HashSet};
use std::ops::Range;

/// Words of at least this many letters are read in spite of a slip of the finger.
const LEAST_SLIP: usize = 5;
/// From this many letters on two slips are read.
const TWO_SLIPS: usize = 9;
/// More different words than this are not looked at for slips: such a note is no report.
const MOST_SLIPS: usize = 2_000;
/// This many filler words may stand between two words of a way of saying.
const MOST_FILLERS: usize = 4;
/// A `...` stands for up to this many words.
const GAP: usize = 3;
/// At most this many ends are kept of what starts at one place.
const MOST_ENDS: usize = 4;
/// A note is read this many words at a time, and so many of them twice.
const STRETCH: usize = 240;
const OVERLAP: usize = 40;
/// What holds something shorter is among so many that start before it.
const NEAR_ENOUGH: usize = 24;
/// A second denial is looked for this far before the first.
const DENIAL_REACH: usize = 6;
/// What takes a denial back is looked for this far behind.
const EXCEPT_REACH: usize = 4;

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

    /// Takes in what another note says.
    pub fn extend(&mut self, other: Self) {
        self.there.extend(other.there);
        self.denied.extend(other.denied);
    }
}

/// A word of the lists.
type WordId = u32;

/// One of the alternatives at a place in a way of saying.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Atom {
    Word(WordId),
    /// Any way of saying other body words.
    Group(usize),
    /// A number.
    Number,
    /// A number of four digits, as of a year.
    Year,
}

#[derive(Clone, Debug)]
enum Piece {
    One(Vec<Atom>),
    Gap,
}

#[derive(Clone, Debug)]
struct Pattern {
    group: usize,
    pieces: Vec<Piece>,
}

/// How a token is parted from the one before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Cut {
    None,
    Comma,
    Stop,
}

#[derive(Clone, Debug)]
struct Token {
    span: Range<usize>,
    ids: Vec<WordId>,
    digits: usize,
    cut: Cut,
}

/// Reads what a note says of the body. Build it once.
pub struct BodyReader<'a> {
    base: &'a KnowledgeBase,
    entries: Vec<BodyWords>,
    words: HashMap<String, WordId>,
    /// `sprain*` under its letters.
    prefixes: HashMap<String, WordId>,
    prefix_lengths: BTreeSet<usize>,
    /// Words that a slip may have been meant for, by first letter.
    slips: HashMap<char, Vec<(String, WordId)>>,
    patterns: Vec<Pattern>,
    /// Patterns by what they start with.
    starts: HashMap<Atom, Vec<usize>>,
    /// Groups in an order in which each comes after those it is made of.
    order: Vec<usize>,
    /// For each group its place in `order`.
    level: Vec<usize>,
    /// For each entry the group of its `unless`, if it has any.
    unless: Vec<Option<usize>>,
    vocabulary: OnceCell<HashSet<String>>,
}

/// A stretch of tokens.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Stretch {
    start: usize,
    end: usize,
}

impl Stretch {
    fn overlaps(self, other: Self) -> bool {
        self.start < other.end && other.start < self.end
    }

    fn holds(self, other: Self) -> bool {
        self.start <= other.start && other.end <= self.end
    }
}

/// For each group and each start the ends of what was met.
struct Met {
    /// By group, then by start.
    ends: Vec<HashMap<usize, Vec<usize>>>,
}

impl Met {
    fn ends(&self, group: usize, start: usize) -> &[usize] {
        self.ends[group].get(&start).map_or(&[], Vec::as_slice)
    }

    fn all(&self, group: usize) -> impl Iterator<Item = Stretch> {
        let of = |(start, ends): (&usize, &Vec<usize>)| {
            let start = *start;
            ends.clone()
                .into_iter()
                .map(move |end| Stretch { start, end })
        };
        self.ends[group].iter().flat_map(of)
    }
}

impl<'a> BodyReader<'a> {
    /// A reader of the words of a library; what ships is always among them, so that no library makes
    /// the program deaf to a pain.
    #[must_use]
    pub fn new(base: &'a KnowledgeBase) -> Self {
        let mut reader = Self {
            base,
            entries: entries(base),
            words: HashMap::new(),
            prefixes: HashMap::new(),
            prefix_lengths: BTreeSet::new(),
            slips: HashMap::new(),
            patterns: Vec::new(),
            starts: HashMap::new(),
            order: Vec::new(),
            level: Vec::new(),
            unless: Vec::new(),
            vocabulary: OnceCell::new(),
        };
        reader.compile();
        reader
    }

    fn compile(&mut self) {
        let entries = std::mem::take(&mut self.entries);
        let groups: HashMap<&str, usize> = entries
            .iter()
            .enumerate()
            .map(|(index, words)| (words.id.as_str(), index))
            .collect();
        let mut made_of: Vec<Vec<usize>> = vec![Vec::new(); entries.len()];
        for (group, words) in entries.iter().enumerate() {
            let slips = !matches!(
                words.role,
                Some(BodyRole::Filler | BodyRole::Known | BodyRole::Trade | BodyRole::Carries)
            );
            for says in &words.say {
                self.pattern(says, group, &groups, slips, &mut made_of);
            }
            let unless = (!words.unless.is_empty()).then(|| {
                made_of.push(Vec::new());
                made_of.len() - 1
            });
            for says in &words.unless {
                let group = unless.unwrap_or_default();
                self.pattern(says, group, &groups, false, &mut made_of);
            }
            self.unless.push(unless);
        }
        // A group comes after all that it is made of.
        self.level = vec![usize::MAX; made_of.len()];
        while self.order.len() < made_of.len() {
            let before = self.order.len();
            for (group, parts) in made_of.iter().enumerate() {
                let ready = parts.iter().all(|part| self.level[*part] != usize::MAX);
                if self.level[group] == usize::MAX && ready {
                    self.level[group] = self.order.len();
                    self.order.push(group);
                }
            }
            if self.order.len() == before {
                // The checker refuses circles; what is in one is never met.
                break;
            }
        }
        for (index, pattern) in self.patterns.iter().enumerate() {
            if let Some(Piece::One(atoms)) = pattern.pieces.first() {
                for atom in atoms {
                    self.starts.entry(*atom).or_default().push(index);
                }
            }
        }
        drop(groups);
        self.entries = entries;
    }

    /// Takes in one way of saying.
    fn pattern(
        &mut self,
        says: &str,
        group: usize,
        groups: &HashMap<&str, usize>,
        slips: bool,
        made_of: &mut [Vec<usize>],
    ) {
        let mut pieces = Vec::new();
        if let Some((before, (choices, after))) = says
            .split_once('(')
            .and_then(|(before, rest)| Some((before, rest.split_once(')')?)))
        {
            for choice in choices.split('|') {
                let says = format!("{before} {choice} {after}");
                self.pattern(&says, group, groups, slips, made_of);
            }
            return;
        }
        for part in says.split_whitespace() {
            if part == "..." {
                pieces.push(Piece::Gap);
                continue;
            }
            let mut atoms = Vec::new();
            for choice in part.split('/') {
                let atom =
                    if let Some(id) = choice.strip_prefix('<').and_then(|c| c.strip_suffix('>')) {
                        let Some(index) = groups.get(id) else {
                            continue;
                        };
                        made_of[group].push(*index);
                        Atom::Group(*index)
                    } else if choice == "####" {
                        Atom::Year
                    } else if choice == "#" {
                        Atom::Number
                    } else if let Some(start) = choice.strip_suffix('*') {
                        let next = self.next_word();
                        let start = plain(start);
                        self.prefix_lengths.insert(start.len());
                        Atom::Word(*self.prefixes.entry(start).or_insert(next))
                    } else {
                        Atom::Word(self.word(&plain(choice), slips))
                    };
                atoms.push(atom);
            }
            pieces.push(Piece::One(atoms));
        }
        if !pieces.is_empty() {
            self.patterns.push(Pattern { group, pieces });
        }
    }

    fn next_word(&self) -> WordId {
        WordId::try_from(self.words.len() + self.prefixes.len()).unwrap_or(WordId::MAX)
    }

    fn word(&mut self, text: &str, slips: bool) -> WordId {
        let next = self.next_word();
        let id = *self.words.entry(text.to_owned()).or_insert(next);
        if slips && text.chars().count() >= LEAST_SLIP {
            let first = text.chars().next().unwrap_or_default();
            let list = self.slips.entry(first).or_default();
            if !list.iter().any(|(known, _)| known == text) {
                list.push((text.to_owned(), id));
            }
        }
        id
    }

    /// What a note says of the body.
    #[must_use]
    pub fn read(&self, note: &str) -> Complaints {
        let tokens = self.tokens(note);
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

    /// What a stretch of a note says, each with its words and whether it is denied; `said` collects all
    /// the words that were met.
    fn in_stretch(
        &self,
        note: &str,
        tokens: &[Token],
        said: &mut HashSet<usize>,
    ) -> Vec<(usize, Complaint, bool)> {
        let met = self.meet(tokens);
        said.extend((0..self.entries.len()).filter(|entry| !met.ends[*entry].is_empty()));
        let hits = self.hits(tokens, &met);
        let scene = Scene::new(self, tokens, &met, &hits);
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

    /// What is said to a student who is sent to somebody: the caution, and the pain that stands for any.
    #[must_use]
    pub fn answer(&self, refer: Refer) -> Option<&BodyWords> {
        self.entries
            .iter()
            .find(|words| words.role == Some(BodyRole::Answer) && words.refer == Some(refer))
    }

    fn tokens(&self, note: &str) -> Vec<Token> {
        let mut tokens: Vec<Token> = Vec::new();
        let mut cut = Cut::Stop;
        let mut start = None;
        let mut slipped: HashMap<String, Vec<WordId>> = HashMap::new();
        let mut push = |range: Range<usize>, cut: Cut, tokens: &mut Vec<Token>| {
            let text = plain(&note[range.clone()]);
            if text.is_empty() {
                return;
            }
            let ids = self.ids(&text, &mut slipped);
            let digits = text.bytes().take_while(u8::is_ascii_digit).count();
            let ordinal = matches!(&text[digits..], "" | "st" | "nd" | "rd" | "th");
            tokens.push(Token {
                span: range,
                ids,
                digits: if ordinal { digits } else { 0 },
                cut,
            });
        };
        for (at, letter) in note.char_indices() {
            let inside = letter.is_alphanumeric()
                || (is_apostrophe(letter)
                    && start.is_some()
                    && !is_possessive(&note[at + letter.len_utf8()..]));
            if inside {
                start.get_or_insert(at);
                continue;
            }
            if let Some(from) = start.take() {
                push(from..at, cut, &mut tokens);
                cut = Cut::None;
            }
            let here = match letter {
                '.' | ';' | '!' | '?' | '\n' => Cut::Stop,
                ',' | ':' | '(' | ')' | '\u{2013}' | '\u{2014}' => Cut::Comma,
                '-' if note[..at].ends_with(' ') => Cut::Comma,
                _ => Cut::None,
            };
            cut = cut.max(here);
        }
        if let Some(from) = start {
            push(from..note.len(), cut, &mut tokens);
        }
        tokens
    }

    /// The words of the lists that a token may be.
    fn ids(&self, text: &str, slipped: &mut HashMap<String, Vec<WordId>>) -> Vec<WordId> {
        let mut ids: Vec<WordId> = self.words.get(text).copied().into_iter().collect();
        for length in &self.prefix_lengths {
            let start = text.get(..*length);
            ids.extend(start.and_then(|start| self.prefixes.get(start)));
        }
        let letters = text.chars().count();
        if !ids.is_empty() || letters < LEAST_SLIP || !text.chars().all(char::is_alphabetic) {
            return ids;
        }
        if let Some(known) = slipped.get(text) {
            return known.clone();
        }
        if slipped.len() >= MOST_SLIPS {
            return ids;
        }
        let allowed = if letters >= TWO_SLIPS { 2 } else { 1 };
        let mut firsts: Vec<char> = text.chars().take(2).collect();
        firsts.dedup();
        let mut nearest = allowed + 1;
        for (known, id) in firsts.iter().filter_map(|c| self.slips.get(c)).flatten() {
            if known.len().abs_diff(text.len()) > allowed {
                continue;
            }
            let apart = strsim::osa_distance(text, known);
            if apart <= allowed && apart <= nearest {
                if apart < nearest {
                    ids.clear();
                }
                nearest = apart;
                ids.push(*id);
            }
        }
        if !ids.is_empty() && self.vocabulary().contains(text) {
            ids.clear();
        }
        slipped.insert(text.to_owned(), ids.clone());
        ids
    }

    /// Words that the library uses are no slips for others.
    fn vocabulary(&self) -> &HashSet<String> {
        self.vocabulary.get_or_init(|| {
            let conditions = self.base.conditions.iter().flat_map(|c| {
                c.aliases
                    .iter()
                    .map(String::as_str)
                    .chain([c.name.as_str(), c.look_for.as_str()])
            });
            let drills = self.base.drills.iter().map(|d| d.name.as_str());
            conditions
                .chain(drills)
                .flat_map(|text| text.split(|c: char| !c.is_alphanumeric()))
                .map(plain)
                .collect()
        })
    }

    /// Everything that the ways of saying meet in the note.
    fn meet(&self, tokens: &[Token]) -> Met {
        let mut met = Met {
            ends: vec![HashMap::new(); self.level.len()],
        };
        let filler = self.fillers(tokens);
        // What may start somewhere is found by the words that stand there; what starts with other body
        // words, once these have been met.
        let mut by_group: Vec<Vec<(usize, usize)>> = vec![Vec::new(); self.level.len()];
        for (start, token) in tokens.iter().enumerate() {
            let words = token.ids.iter().map(|id| Atom::Word(*id));
            let number = (token.digits > 0).then_some(Atom::Number);
            let year = (token.digits == 4).then_some(Atom::Year);
            for atom in words.chain(number).chain(year) {
                for pattern in self.starts.get(&atom).into_iter().flatten() {
                    by_group[self.patterns[*pattern].group].push((start, *pattern));
                }
            }
        }
        for group in &self.order {
            let mut tries = std::mem::take(&mut by_group[*group]);
            tries.sort_unstable();
            tries.dedup();
            for (start, pattern) in tries {
                let mut ends = Vec::new();
                self.go_on(
                    &self.patterns[pattern].pieces,
                    start,
                    start,
                    tokens,
                    &filler,
                    &met,
                    &mut ends,
                );
                let known = met.ends[*group].entry(start).or_default();
                for end in ends {
                    if known.len() < MOST_ENDS && !known.contains(&end) {
                        known.push(end);
                    }
                }
            }
            met.ends[*group].retain(|_, ends| !ends.is_empty());
            for pattern in self.starts.get(&Atom::Group(*group)).into_iter().flatten() {
                let target = self.patterns[*pattern].group;
                by_group[target].extend(met.ends[*group].keys().map(|start| (*start, *pattern)));
            }
        }
        met
    }

    /// Which tokens may stand between two words of a way of saying.
    fn fillers(&self, tokens: &[Token]) -> Vec<bool> {
        let mut ids: HashSet<WordId> = HashSet::new();
        for pattern in &self.patterns {
            let role = self.entries.get(pattern.group).and_then(|e| e.role);
            if role == Some(BodyRole::Filler)
                && let [Piece::One(atoms)] = pattern.pieces.as_slice()
            {
                ids.extend(atoms.iter().filter_map(|atom| match atom {
                    Atom::Word(id) => Some(*id),
                    _ => None,
                }));
            }
        }
        let is = |token: &Token| token.ids.iter().any(|id| ids.contains(id));
        tokens.iter().map(is).collect()
    }

    /// Tries what is left of a way of saying from a token on.
    #[allow(clippy::too_many_arguments, reason = "one recursion, called once")]
    fn go_on(
        &self,
        pieces: &[Piece],
        start: usize,
        at: usize,
        tokens: &[Token],
        filler: &[bool],
        met: &Met,
        ends: &mut Vec<usize>,
    ) {
        let Some((piece, rest)) = pieces.split_first() else {
            if !ends.contains(&at) {
                ends.push(at);
            }
            return;
        };
        if ends.len() >= MOST_ENDS {
            return;
        }
        let within = |at: usize| at < tokens.len() && (at == start || tokens[at].cut == Cut::None);
        let Piece::One(atoms) = piece else {
            for skipped in 0..=GAP {
                if skipped > 0 && !within(at + skipped - 1) {
                    break;
                }
                self.go_on(rest, start, at + skipped, tokens, filler, met, ends);
            }
            return;
        };
        for skipped in 0..=MOST_FILLERS {
            let here = at + skipped;
            if !within(here) || (skipped > 0 && (at == start || !filler[here - 1])) {
                break;
            }
            let token = &tokens[here];
            for atom in atoms {
                let fits = match atom {
                    Atom::Word(id) => token.ids.contains(id),
                    Atom::Number => token.digits > 0,
                    Atom::Year => token.digits == 4,
                    Atom::Group(group) => {
                        for end in met.ends(*group, here) {
                            self.go_on(rest, start, *end, tokens, filler, met, ends);
                        }
                        false
                    }
                };
                if fits {
                    self.go_on(rest, start, here + 1, tokens, filler, met, ends);
                }
            }
        }
    }

    fn of_role(&self, role: BodyRole, met: &Met) -> Vec<Stretch> {
        let groups = (0..self.entries.len()).filter(|i| self.entries[*i].role == Some(role));
        let mut found: Vec<Stretch> = groups.flat_map(|group| met.all(group)).collect();
        found.sort_unstable();
        found
    }

    /// What reports something, the trade's own ways of speaking aside.
    fn hits(&self, tokens: &[Token], met: &Met) -> Vec<(usize, Stretch)> {
        let mut hidden = vec![false; tokens.len()];
        let filler = self.fillers(tokens);
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
                self.unless[entry].map_or_else(Vec::new, |group| met.all(group).collect());
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

/// A stretch of a note with all that bears on what was met in it.
struct Scene<'a> {
    tokens: &'a [Token],
    filler: Vec<bool>,
    roles: HashMap<BodyRole, Vec<Stretch>>,
    /// Parts of the body, with their group.
    parts: Vec<(usize, Stretch)>,
    hits: Vec<Stretch>,
}

impl<'a> Scene<'a> {
    fn new(
        reader: &BodyReader<'_>,
        tokens: &'a [Token],
        met: &Met,
        hits: &[(usize, Stretch)],
    ) -> Self {
        let mut roles: HashMap<BodyRole, Vec<Stretch>> = HashMap::new();
        let mut parts = Vec::new();
        for (group, words) in reader.entries.iter().enumerate() {
            if let Some(role) = words.role {
                roles.entry(role).or_default().extend(met.all(group));
            } else if words.pain.is_some() && words.refer.is_none() {
                parts.extend(met.all(group).map(|part| (group, part)));
            }
        }
        for list in roles.values_mut() {
            list.sort_unstable();
        }
        parts.sort_unstable();
        Self {
            tokens,
            filler: reader.fillers(tokens),
            roles,
            parts,
            hits: hits.iter().map(|(_, hit)| *hit).collect(),
        }
    }

    fn of(&self, role: BodyRole) -> &[Stretch] {
        self.roles.get(&role).map_or(&[], Vec::as_slice)
    }

    /// The longest of a role that ends at a token.
    fn ends_at(&self, role: BodyRole, end: usize) -> Option<Stretch> {
        self.of(role).iter().find(|s| s.end == end).copied()
    }

    fn starts_at(&self, role: BodyRole, start: usize) -> Option<Stretch> {
        self.of(role).iter().rfind(|s| s.start == start).copied()
    }

    fn inside(&self, role: BodyRole, at: usize) -> bool {
        self.of(role).iter().any(|s| s.start <= at && at < s.end)
    }

    /// Where the sentence of a stretch starts and ends.
    fn sentence(&self, stretch: Stretch) -> Stretch {
        let start = (0..=stretch.start)
            .rev()
            .find(|at| self.tokens[*at].cut == Cut::Stop)
            .unwrap_or(0);
        let end = (stretch.end..self.tokens.len())
            .find(|at| self.tokens[*at].cut == Cut::Stop)
            .unwrap_or(self.tokens.len());
        Stretch { start, end }
    }

    /// Whether an odd number of denials stand around it, and nothing takes them back.
    fn denied(&self, hit: Stretch) -> bool {
        let sentence = self.sentence(hit);
        let count = self.denials_before(hit, sentence) + self.denials_behind(hit, sentence);
        let taken_back = self.of(BodyRole::Except).iter().any(|except| {
            except.start >= hit.end
                && except.start <= hit.end + EXCEPT_REACH
                && sentence.holds(*except)
        });
        count % 2 == 1 && !taken_back
    }

    /// Denials before it, with nothing but fillers, parts and what carries a denial in between.
    fn denials_before(&self, hit: Stretch, sentence: Stretch) -> usize {
        let mut at = hit.start;
        let mut listed = false;
        while at > sentence.start && self.tokens[at].cut == Cut::None {
            if let Some(denial) = self.ends_at(BodyRole::Denial, at) {
                if self.inside(BodyRole::NoDenial, at - 1) {
                    return 0;
                }
                return 1 + usize::from(self.second_denial(denial, sentence));
            }
            if let Some(used_to) = self.ends_at(BodyRole::UsedTo, at) {
                let back = self.of(BodyRole::Again).iter();
                let back = back.filter(|again| again.start >= hit.start && sentence.holds(**again));
                return usize::from(back.count() == 0)
                    + usize::from(self.second_denial(used_to, sentence));
            }
            if let Some(or) = self.ends_at(BodyRole::ReachesOn, at) {
                listed = true;
                at = or.start;
            } else if let Some(other) = self.hits.iter().find(|other| listed && other.end == at) {
                at = other.start;
            } else if let Some(carries) = self.ends_at(BodyRole::Carries, at) {
                at = carries.start;
            } else if let Some((_, part)) = self.parts.iter().find(|(_, part)| part.end == at) {
                at = part.start;
            } else if self.filler[at - 1] {
                at -= 1;
            } else {
                return 0;
            }
        }
        0
    }

    /// Whether another denial stands not far before one, with anything but a comma in between.
    fn second_denial(&self, denial: Stretch, sentence: Stretch) -> bool {
        let from = denial
            .start
            .saturating_sub(DENIAL_REACH)
            .max(sentence.start);
        let mut at = denial.start;
        while at > from && self.tokens[at].cut == Cut::None {
            let before = self
                .ends_at(BodyRole::Denial, at)
                .or_else(|| self.ends_at(BodyRole::WeakDenial, at));
            if before.is_some() && !self.inside(BodyRole::NoDenial, at - 1) {
                return true;
            }
            at -= 1;
        }
        false
    }

    /// Behind it: that it is over, or that it is not.
    fn denials_behind(&self, hit: Stretch, sentence: Stretch) -> usize {
        let mut at = hit.end;
        while at < sentence.end && self.tokens[at].cut == Cut::None {
            if self.starts_at(BodyRole::Over, at).is_some() {
                return 1;
            }
            if let Some(denial) = self.starts_at(BodyRole::Denial, at) {
                let near = denial.end..=denial.end + 2;
                let over = self.of(BodyRole::Over).iter();
                return 2 * usize::from(over.filter(|o| near.contains(&o.start)).count() > 0);
            }
            let carries = self.of(BodyRole::Carries).contains(&Stretch {
                start: at,
                end: at + 1,
            });
            if !(self.filler[at] || carries) {
                return 0;
            }
            at += 1;
        }
        0
    }
}

/// The words of a library; where nothing that ships is in it, with what ships.
fn entries(base: &KnowledgeBase) -> Vec<BodyWords> {
    let ships = base.layers.iter().any(|layer| layer.name == SHIPPED_LAYER);
    if ships {
        return base.body_words.clone();
    }
    let shipped = load(&[shipped()], Strictness::ErrorsOnly).map(|loaded| loaded.base.body_words);
    let mut all = shipped.unwrap_or_default();
    for own in &base.body_words {
        match all.iter_mut().find(|words| words.id == own.id) {
            Some(words) if words.role.is_none() => words.say.extend(own.say.iter().cloned()),
            // What silences a pain is not taken from a library that ships without ours.
            _ if own.role.is_some() => {}
            Some(_) => {}
            None => all.push(own.clone()),
        }
    }
    all
}

fn is_apostrophe(letter: char) -> bool {
    matches!(letter, '\'' | '\u{2019}' | '\u{2018}' | '`')
}

/// Whether what follows an apostrophe is an `s` by itself: `his back's sore` has a back.
fn is_possessive(rest: &str) -> bool {
    let mut letters = rest.chars();
    matches!(letters.next(), Some('s' | 'S')) && !letters.next().is_some_and(char::is_alphanumeric)
}

/// One spelling: small letters, no apostrophes.
fn plain(text: &str) -> String {
    text.chars()
        .filter(|letter| !is_apostrophe(*letter))
        .flat_map(char::to_lowercase)
        .collect()
}
