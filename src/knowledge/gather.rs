//! All entries of all files, each read by itself, so that one bad entry does not hide the next.

use super::base::ConditionKind;
use super::document::{
    BodyWordsText, CaseText, ConditionText, FactText, LibraryFile, LinkText, SourceText, StageText,
};
use super::drill_text::DrillText;
use super::layer::{LayerText, SHIPPED, as_shipped};
use super::node::{Content, Flaw, YamlNode, clip};
use super::packed::Packed;
use super::placed_entry::{EntrySource, PlacedEntry};
use super::problem::{Problem, Severity};
use super::problems::{Problems, Spot};
use super::shape::{Context, KeyShape, Noun, Shape, fit, from_schema};
use super::spoken::{
    ClubText, DenialText, FlightText, NumberText, OppositeText, SayText, SayingText, ShorthandText,
    TopicText, WordListText,
};
use super::unpacked::Unpacked;
use serde::de::DeserializeOwned;
use std::cell::LazyCell;
use std::collections::HashSet;

/// How many values all files together may hold; keeps memory below about half a gigabyte whatever
/// is in them. A library of 100,000 drills stays within it.
const MOST_VALUES: usize = 4_000_000;

/// Everything that the files say.
#[allow(
    clippy::vec_box,
    reason = "entries are large, and moved from list to map and back"
)]
#[derive(Default)]
pub(super) struct Gathered {
    pub(super) conditions: Vec<(ConditionKind, Box<PlacedEntry<ConditionText>>)>,
    pub(super) drills: Vec<Box<PlacedEntry<DrillText>>>,
    pub(super) sources: Vec<Box<PlacedEntry<SourceText>>>,
    pub(super) links: Vec<Box<PlacedEntry<LinkText>>>,
    pub(super) cases: Vec<Box<PlacedEntry<CaseText>>>,
    pub(super) facts: Vec<Box<PlacedEntry<FactText>>>,
    pub(super) spoken: SpokenEntries,
    pub(super) body_words: Vec<Box<PlacedEntry<BodyWordsText>>>,
    pub(super) stages: Vec<Box<PlacedEntry<StageText>>>,
    /// Ids of entries that could not be read; a link to one is not to blame.
    pub(super) unreadable: HashSet<String>,
}

/// The lists of words, which all work alike: what a later layer says is added.
macro_rules! spoken_entries {
    ($($list:ident: $text:ty),+ $(,)?) => {
        /// Everything that the files say about words.
        #[allow(clippy::vec_box, reason = "like the other lists")]
        #[derive(Default)]
        pub(super) struct SpokenEntries {
            $(pub(super) $list: Vec<Box<PlacedEntry<$text>>>),+
        }

        impl SpokenEntries {
            /// Takes in what a file that ships says.
            fn take(&mut self, file: LibraryFile, unpacked: &mut Unpacked) {
                $(self.$list.extend(unpacked.entries(file.$list));)+
            }

            #[allow(clippy::result_large_err, reason = "a mistake is rare, and told at once")]
            fn keep(
                &mut self,
                list: &str,
                node: YamlNode,
                from: File,
                whole: bool,
            ) -> Result<(), (YamlNode, Flaw)> {
                match list {
                    $(stringify!($list) => keep(node, from, whole, &mut self.$list),)+
                    _ => Ok(()),
                }
            }

            fn fill(self, file: &mut LibraryFile) {
                $(file.$list = texts(self.$list);)+
            }

            /// What the entries say, taken out of them.
            pub(super) fn take_spoken(&mut self) -> super::spoken::LibraryWords {
                super::spoken::LibraryWords {
                    $($list: texts(std::mem::take(&mut self.$list))),+
                }
            }
        }
    };
}

spoken_entries! {
    sayings: SayingText,
    synonyms: SayText,
    opposites: OppositeText,
    shorthand: ShorthandText,
    clubs: ClubText,
    denials: DenialText,
    hedges: SayText,
    topics: TopicText,
    flights: FlightText,
    numbers: NumberText,
    word_lists: WordListText,
}

/// What ships about words and stages, for a library that brings none of its own.
pub(super) fn shipped_words() -> Gathered {
    let mut gathered = Gathered::default();
    for (place, shipped) in SHIPPED.iter().enumerate() {
        if shipped.path.starts_with("words/")
            && let Some(packed) = shipped.packed()
        {
            take(packed, Spot::default(), place, &mut gathered);
        }
    }
    gathered
}

/// Reads every file of every layer; with `trusting`, files that ship unchanged are taken at their
/// word, since a test holds them to the strictest check.
pub(super) fn gather(trusting: bool, problems: &mut Problems<'_>) -> Gathered {
    let lists = LazyCell::new(library_lists);
    let mut gathered = Gathered::default();
    let mut values = 0_usize;
    let layers = problems.layers;
    for (layer, text) in layers.iter().enumerate() {
        for (file, source) in text.files.iter().enumerate() {
            let spot = Spot {
                layer,
                file,
                at: Default::default(),
            };
            let shipped = as_shipped(source);
            let from = File {
                spot,
                as_shipped: shipped.is_some(),
            };
            if let Some(place) = shipped.filter(|_| trusting)
                && let Some(packed) = SHIPPED[place].packed()
            {
                take(packed, spot, place, &mut gathered);
                continue;
            }
            match super::yaml::read(&source.text) {
                Err(flaw) => {
                    gathered.unreadable.extend(ids_in(&source.text));
                    problems.flaw(spot, Severity::Error, flaw);
                }
                Ok(None) => {}
                Ok(Some(root)) => {
                    values += root.count();
                    if values > MOST_VALUES {
                        problems.error(
                            spot,
                            "library-too-large",
                            format!("all files together hold more than {MOST_VALUES} values"),
                            "read fewer folders at once",
                        );
                        return gathered;
                    }
                    read_file(root, from, &lists, &mut gathered, problems);
                }
            }
        }
    }
    gathered
}

/// Reads one file by itself: keys, words and numbers are checked, ids and links are not.
///
/// # Errors
///
/// Every problem of the file; their layer and file are empty.
pub fn library_file(text: &str) -> Result<LibraryFile, Vec<Problem>> {
    let layers = [LayerText::new("", [("", text)])];
    let mut problems = Problems::new(&layers);
    let gathered = gather(false, &mut problems);
    let failed = problems.any_error();
    let problems = problems.finish(false);
    if failed {
        return Err(problems);
    }
    let mut file = LibraryFile::default();
    for (kind, entry) in gathered.conditions {
        match kind {
            ConditionKind::Outcome => file.outcomes.push(entry.text),
            ConditionKind::Fault => file.faults.push(entry.text),
            ConditionKind::Cause => file.causes.push(entry.text),
        }
    }
    file.drills = texts(gathered.drills);
    file.sources = texts(gathered.sources);
    file.links = texts(gathered.links);
    file.cases = texts(gathered.cases);
    file.facts = texts(gathered.facts);
    gathered.spoken.fill(&mut file);
    file.body_words = texts(gathered.body_words);
    file.stages = texts(gathered.stages);
    Ok(file)
}

fn texts<T>(entries: Vec<Box<PlacedEntry<T>>>) -> Vec<T> {
    entries.into_iter().map(|entry| entry.text).collect()
}

/// The lists that may stand in a file, with the shape of an item of each.
fn library_lists() -> Vec<KeyShape> {
    let schema = schemars::schema_for!(LibraryFile).to_value();
    match from_schema(&schema, &schema) {
        Some(Shape::Keys(lists)) => lists,
        _ => unreachable!("a test reads the shape off the schema of the same types"),
    }
}

/// Ids written in a file that cannot be read, so that links to them are not reported as well.
fn ids_in(text: &str) -> impl Iterator<Item = String> + '_ {
    text.lines().filter_map(|line| {
        let rest = line.trim_start().trim_start_matches("- ").trim_start();
        let id = rest.strip_prefix("id:")?.trim();
        Some(id.trim_matches(['"', '\'']).to_owned())
    })
}

/// Takes in a file that ships, at its word, list by list in the order in which `build.rs` packed them.
fn take(packed: Packed, spot: Spot, place: usize, gathered: &mut Gathered) {
    let mut file = packed.file;
    let mut unpacked = Unpacked {
        places: packed.places.into_iter(),
        spot,
        file: place,
    };
    let conditions = [
        (ConditionKind::Outcome, std::mem::take(&mut file.outcomes)),
        (ConditionKind::Fault, std::mem::take(&mut file.faults)),
        (ConditionKind::Cause, std::mem::take(&mut file.causes)),
    ];
    for (kind, texts) in conditions {
        gathered.conditions.extend(unpacked.conditions(kind, texts));
    }
    macro_rules! take {
        ($($list:ident),+) => {
            $(gathered.$list.extend(unpacked.entries(std::mem::take(&mut file.$list)));)+
        };
    }
    take!(drills, sources, links, facts, body_words, stages, cases);
    gathered.spoken.take(file, &mut unpacked);
}

/// The file that an entry is read from.
#[derive(Clone, Copy)]
struct File {
    spot: Spot,
    as_shipped: bool,
}

fn read_file(
    root: YamlNode,
    from: File,
    lists: &[KeyShape],
    gathered: &mut Gathered,
    problems: &mut Problems<'_>,
) {
    let spot = from.spot;
    let Content::Map(entries) = root.content else {
        let names: Vec<&str> = lists.iter().map(|list| list.name.as_str()).collect();
        let flaw = Flaw::new(
            root.at,
            "wrong-type",
            "a library file starts with the name of a list, and this one does not",
            format!(
                "write one of these at the start of a line, with its entries below: {}",
                names.join(", ")
            ),
        );
        problems.flaw(spot, Severity::Error, flaw);
        return;
    };
    for (key, list) in entries {
        let at = Spot { at: key.at, ..spot };
        let Some(shape) = lists.iter().find(|list| list.name == key.text) else {
            no_such_list(&key.text, lists, at, problems);
            continue;
        };
        let Some(items) = items_of(&key.text, list, at, problems) else {
            continue;
        };
        let Shape::List(item_shape, _) = &shape.shape else {
            continue;
        };
        for item in items {
            read_item(item, &key.text, item_shape, from, gathered, problems);
        }
    }
}

fn no_such_list(list: &str, lists: &[KeyShape], at: Spot, problems: &mut Problems<'_>) {
    let names: Vec<&str> = lists.iter().map(|list| list.name.as_str()).collect();
    let near = super::nearest::nearest(list, names.iter().copied(), 1);
    let help = near.first().map_or_else(
        || format!("the lists are: {}", names.join(", ")),
        |near| format!("did you mean `{near}`?"),
    );
    let message = format!("`{}` is not a list of a library file", clip(list));
    problems.error(at, "unknown-key", message, help);
}

/// What stands in a list; none where it is no list of entries, or empty.
fn items_of(
    name: &str,
    list: YamlNode,
    at: Spot,
    problems: &mut Problems<'_>,
) -> Option<Vec<YamlNode>> {
    if list.is_nothing() {
        let message = format!("`{name}:` is written, but no entry below it");
        let help = "add an entry, or take the line out";
        problems.warning(at, "empty-value", message, help);
        return None;
    }
    if let Content::List(items) = list.content {
        return Some(items);
    }
    let message = format!("`{name}` takes a list of entries, and this is not one");
    let at = Spot { at: list.at, ..at };
    let help = "start each entry with `- id: ...`";
    problems.error(at, "wrong-type", message, help);
    None
}

impl Gathered {
    /// Keeps an item of a list; one that cannot be read comes back, with what is wrong with it.
    #[allow(
        clippy::result_large_err,
        reason = "a mistake is rare, and told at once"
    )]
    fn keep(
        &mut self,
        list: &str,
        node: YamlNode,
        from: File,
        whole: bool,
    ) -> Result<(), (YamlNode, Flaw)> {
        match list {
            "outcomes" => keep_condition(ConditionKind::Outcome, node, from, whole, self),
            "faults" => keep_condition(ConditionKind::Fault, node, from, whole, self),
            "causes" => keep_condition(ConditionKind::Cause, node, from, whole, self),
            "drills" => keep(node, from, whole, &mut self.drills),
            "sources" => keep(node, from, whole, &mut self.sources),
            "links" => keep(node, from, whole, &mut self.links),
            "cases" => keep(node, from, whole, &mut self.cases),
            "facts" => keep(node, from, whole, &mut self.facts),
            "body_words" => keep(node, from, whole, &mut self.body_words),
            "stages" => keep(node, from, whole, &mut self.stages),
            _ => self.spoken.keep(list, node, from, whole),
        }
    }
}

fn read_item(
    mut node: YamlNode,
    list: &str,
    shape: &Shape,
    from: File,
    gathered: &mut Gathered,
    problems: &mut Problems<'_>,
) {
    let spot = from.spot;
    let singular = list.strip_suffix('s').unwrap_or(list);
    if node.is_nothing() {
        let at = Spot {
            at: node.at,
            ..spot
        };
        problems.error(
            at,
            "empty-item",
            format!("an item of `{list}` with nothing in it"),
            "write the entry after the `-`, or take the line out",
        );
        return;
    }
    let context = Context {
        noun: Noun::Entry(singular),
        key: singular,
    };
    let mut flaws = Vec::new();
    let readable = fit(&mut node, shape, context, &mut flaws);
    let whole = flaws.iter().all(|flaw| flaw.code == "empty-value");
    for flaw in flaws {
        let severity = if flaw.code == "empty-value" {
            Severity::Warning
        } else {
            Severity::Error
        };
        problems.flaw(spot, severity, flaw);
    }
    let id = |node: &YamlNode| node.get("id").and_then(YamlNode::text).map(str::to_owned);
    if !readable {
        gathered.unreadable.extend(id(&node));
        return;
    }
    if let Err((node, flaw)) = gathered.keep(list, node, from, whole) {
        gathered.unreadable.extend(id(&node));
        problems.flaw(spot, Severity::Error, flaw);
    }
}

#[allow(
    clippy::result_large_err,
    reason = "a mistake is rare, and told at once"
)]
fn keep_condition(
    kind: ConditionKind,
    node: YamlNode,
    from: File,
    whole: bool,
    gathered: &mut Gathered,
) -> Result<(), (YamlNode, Flaw)> {
    let entry = entry(node, from, whole)?;
    gathered.conditions.push((kind, entry));
    Ok(())
}

#[allow(
    clippy::result_large_err,
    reason = "a mistake is rare, and told at once"
)]
fn keep<T: DeserializeOwned>(
    node: YamlNode,
    from: File,
    whole: bool,
    into: &mut Vec<Box<PlacedEntry<T>>>,
) -> Result<(), (YamlNode, Flaw)> {
    into.push(entry(node, from, whole)?);
    Ok(())
}

/// The entry behind a node that fits its shape; the node comes back with what is wrong.
#[allow(
    clippy::result_large_err,
    reason = "a mistake is rare, and told at once"
)]
fn entry<T: DeserializeOwned>(
    node: YamlNode,
    from: File,
    whole: bool,
) -> Result<Box<PlacedEntry<T>>, (YamlNode, Flaw)> {
    match T::deserialize(&node) {
        Ok(text) => Ok(Box::new(PlacedEntry {
            text,
            at: node.at,
            written: EntrySource::Parsed(node),
            layer: from.spot.layer,
            file: from.spot.file,
            whole,
            as_shipped: from.as_shipped,
        })),
        // Shapes are read off the same types, so this is for what they do not express.
        Err(error) => {
            let flaw = Flaw::new(
                node.at,
                "unreadable-entry",
                format!("this entry cannot be read: {error}"),
                "compare it with the format's description",
            );
            Err((node, flaw))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::layer::shipped;
    use super::*;

    /// What entries say, where they start, where their ids and causes stand; in the order of places.
    #[allow(clippy::vec_box, reason = "as in `Gathered`")]
    fn said<T: Clone>(
        entries: &[Box<PlacedEntry<T>>],
        causes: impl Fn(&T) -> usize,
    ) -> Vec<(T, Vec<Spot>)> {
        let mut said = Vec::new();
        for entry in entries {
            let mut spots = vec![entry.start(), entry.head()];
            spots.extend((0..causes(&entry.text)).map(|item| entry.cause_start(item)));
            said.push((entry.text.clone(), spots));
        }
        said.sort_by(|one, other| one.1.cmp(&other.1));
        said
    }

    #[test]
    fn what_was_packed_when_the_program_was_built_is_what_the_text_says_and_where() {
        let layers = [shipped()];
        let mut problems = Problems::new(&layers);
        let [packed, parsed] = [true, false].map(|trusting| gather(trusting, &mut problems));
        assert!(!problems.any_error());
        for kind in [
            ConditionKind::Outcome,
            ConditionKind::Fault,
            ConditionKind::Cause,
        ] {
            let [packed, parsed] = [&packed, &parsed].map(|gathered| {
                let all = gathered.conditions.iter();
                let of_kind = all.filter(|(own, _)| *own == kind);
                let entries: Vec<_> = of_kind.map(|(_, entry)| entry.clone()).collect();
                said(&entries, |text| text.caused_by.len())
            });
            assert_eq!(packed, parsed);
        }
        macro_rules! same {
            ($($($list:ident).+),+) => {
                $(assert_eq!(said(&packed.$($list).+, |_| 0), said(&parsed.$($list).+, |_| 0));)+
            };
        }
        same!(drills, sources, links, cases, facts, body_words, stages);
        same!(
            spoken.sayings,
            spoken.synonyms,
            spoken.opposites,
            spoken.shorthand
        );
        same!(
            spoken.clubs,
            spoken.denials,
            spoken.hedges,
            spoken.topics,
            spoken.flights
        );
        same!(spoken.numbers, spoken.word_lists);
        assert!(SHIPPED.iter().all(|file| file.packed().is_some()));
    }
}
