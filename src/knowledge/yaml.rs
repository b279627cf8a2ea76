//! The border to YAML: nothing past this module knows the notation.
//!
//! It takes the small, harmless part of YAML that the format allows: one document, lists, keys and text, at a
//! bounded depth and number; no anchors, aliases or tags, no key twice, no control characters.

use super::node::{Content, Flaw, Key, TextPlace, YamlNode, clip};
use saphyr_parser::{Event, Parser, ScalarStyle, Span};
use std::collections::HashSet;

/// How deep lists and keys may stand inside one another; the format itself needs 6.
pub(crate) const DEEPEST: usize = 12;

/// How many keys and values one file may hold. A file of the largest allowed size has about 65,000
/// when it is written as the shipped library is.
pub(crate) const MOST_NODES: usize = 100_000;

/// Where the key or value that starts at a line and column of one text stands in another that says the
/// same in another layout.
#[must_use]
pub fn same_place(from: &str, at: (usize, usize), to: &str) -> Option<(usize, usize)> {
    let (from, to) = (read(from).ok()??, read(to).ok()??);
    let mut found = None;
    side_by_side(&from, &to, &mut |one, other| {
        if (one.line, one.column) == at && found.is_none() {
            found = Some((other.line, other.column));
        }
    });
    found
}

/// Every key and value of two texts of one shape.
fn side_by_side(one: &YamlNode, other: &YamlNode, meet: &mut impl FnMut(TextPlace, TextPlace)) {
    // A group starts where its first key does, and that one says more.
    match (&one.content, &other.content) {
        (Content::List(items), Content::List(others)) => {
            for (item, other) in items.iter().zip(others) {
                side_by_side(item, other, meet);
            }
        }
        (Content::Map(entries), Content::Map(_)) => {
            for (key, value) in entries {
                let Some((other_key, other_value)) = other.entry(&key.text) else {
                    continue;
                };
                meet(key.at, other_key.at);
                side_by_side(value, other_value, meet);
            }
        }
        _ => {}
    }
    meet(one.at, other.at);
}

/// A container that is still open.
enum OpenCollection {
    List(TextPlace, Vec<YamlNode>),
    Map {
        at: TextPlace,
        entries: Vec<(Key, YamlNode)>,
        seen: HashSet<String>,
        key: Option<Key>,
    },
}

impl OpenCollection {
    fn closed(self) -> YamlNode {
        let (at, content) = match self {
            OpenCollection::List(at, items) => (at, Content::List(items)),
            OpenCollection::Map { at, entries, .. } => (at, Content::Map(entries)),
        };
        YamlNode { at, content }
    }
}

/// Reads one file. A file with nothing but comments is `None`.
pub(crate) fn read(text: &str) -> Result<Option<YamlNode>, Flaw> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if let Some((at, character)) = forbidden_in(text) {
        return Err(forbidden(at, character));
    }
    let mut parser = Parser::new_from_str(text);
    let mut open: Vec<OpenCollection> = Vec::new();
    let mut root: Option<YamlNode> = None;
    let mut documents = 0_usize;
    let mut nodes = 0_usize;
    while let Some(event) = parser.next_event() {
        let (event, span) = event.map_err(|error| {
            let at = TextPlace {
                line: error.marker().line(),
                column: error.marker().col() + 1,
            };
            syntax(text, at, error.info())
        })?;
        let at = place(span);
        if let Event::DocumentStart(_) = event {
            documents += 1;
            if documents > 1 {
                return Err(Flaw::new(
                    at,
                    "several-documents",
                    "a second document starts here (`---`); one file holds one",
                    "take the line `---` out, or move what follows into a file of its own",
                ));
            }
            continue;
        }
        let Some(done) = finished(event, at, &mut open)? else {
            continue;
        };
        nodes += 1;
        if nodes > MOST_NODES {
            return Err(Flaw::new(
                done.at,
                "too-many-values",
                format!("the file holds more than {MOST_NODES} keys and values"),
                "spread its entries over several files",
            ));
        }
        place_in(&mut open, &mut root, done)?;
    }
    Ok(root.filter(|node| !node.is_nothing()))
}

/// The value that an event finishes, if it does; a group that it begins is put on those that are open.
fn finished(
    event: Event<'_>,
    at: TextPlace,
    open: &mut Vec<OpenCollection>,
) -> Result<Option<YamlNode>, Flaw> {
    let closed = match event {
        Event::Alias(_) => return Err(anchored(at)),
        Event::Scalar(text, style, anchor, tag) => {
            refuse(at, anchor, tag.is_some())?;
            if let Some((_, character)) = forbidden_in(&text) {
                return Err(forbidden(at, character));
            }
            let plain = style == ScalarStyle::Plain;
            let text = text.into_owned();
            return Ok(Some(YamlNode {
                at,
                content: Content::Text { text, plain },
            }));
        }
        Event::SequenceStart(anchor, tag) => {
            refuse(at, anchor, tag.is_some())?;
            open.push(OpenCollection::List(at, Vec::new()));
            check_depth(at, open.len())?;
            None
        }
        Event::MappingStart(anchor, tag) => {
            refuse(at, anchor, tag.is_some())?;
            open.push(OpenCollection::Map {
                at,
                entries: Vec::new(),
                seen: HashSet::new(),
                key: None,
            });
            check_depth(at, open.len())?;
            None
        }
        Event::SequenceEnd | Event::MappingEnd => open.pop(),
        Event::Nothing
        | Event::StreamStart
        | Event::StreamEnd
        | Event::DocumentStart(_)
        | Event::DocumentEnd => None,
    };
    Ok(closed.map(OpenCollection::closed))
}

/// Puts a finished value where it belongs.
fn place_in(
    open: &mut [OpenCollection],
    root: &mut Option<YamlNode>,
    done: YamlNode,
) -> Result<(), Flaw> {
    match open.last_mut() {
        None => *root = Some(done),
        Some(OpenCollection::List(_, items)) => items.push(done),
        Some(OpenCollection::Map {
            entries, seen, key, ..
        }) => match key.take() {
            Some(key) => entries.push((key, done)),
            None => {
                let Content::Text { text, .. } = done.content else {
                    return Err(Flaw::new(
                        done.at,
                        "key-not-text",
                        "a list or a group of keys stands where a key belongs",
                        "write `key: value`; text that starts with `[` or `{` goes in quotes",
                    ));
                };
                if text.is_empty() {
                    return Err(Flaw::new(
                        done.at,
                        "key-not-text",
                        "there is no key before this `:`",
                        "write `key: value`",
                    ));
                }
                if !seen.insert(text.clone()) {
                    return Err(Flaw::new(
                        done.at,
                        "key-twice",
                        format!("the key `{}` is given twice in the same entry", clip(&text)),
                        "keep one of the two, or start a new entry with `-`",
                    ));
                }
                *key = Some(Key { at: done.at, text });
            }
        },
    }
    Ok(())
}

fn place(span: Span) -> TextPlace {
    TextPlace {
        line: span.start.line(),
        column: span.start.col() + 1,
    }
}

fn check_depth(at: TextPlace, depth: usize) -> Result<(), Flaw> {
    if depth > DEEPEST {
        return Err(too_deep(at));
    }
    Ok(())
}

fn too_deep(at: TextPlace) -> Flaw {
    Flaw::new(
        at,
        "too-deep",
        format!("lists and keys stand more than {DEEPEST} deep inside one another"),
        "look for a bracket too many, or a line that is indented too far",
    )
}

fn refuse(at: TextPlace, anchor: usize, tagged: bool) -> Result<(), Flaw> {
    if anchor > 0 {
        return Err(anchored(at));
    }
    if tagged {
        return Err(Flaw::new(
            at,
            "tag",
            "a word that starts with `!` is a tag, and tags are not allowed",
            "put the text in quotes",
        ));
    }
    Ok(())
}

fn anchored(at: TextPlace) -> Flaw {
    Flaw::new(
        at,
        "anchor-or-alias",
        "a word that starts with `&` or `*` is an anchor or an alias, and these are not allowed",
        "write the text out, or put it in quotes",
    )
}

/// The first character that no library text may hold: controls other than tab and line ends, and
/// those that turn the direction of writing, with which a file can show one thing and say another.
fn forbidden_in(text: &str) -> Option<(TextPlace, char)> {
    let bad = |c: char| {
        (c.is_control() && !matches!(c, '\t' | '\n' | '\r'))
            || matches!(
                c,
                '\u{61c}'
                    | '\u{200e}'
                    | '\u{200f}'
                    | '\u{2028}'..='\u{202e}'
                    | '\u{2066}'..='\u{2069}'
                    | '\u{feff}'
            )
    };
    let (index, character) = text.char_indices().find(|(_, c)| bad(*c))?;
    let before = &text[..index];
    let start = before.rfind('\n').map_or(0, |newline| newline + 1);
    let at = TextPlace {
        line: before.matches('\n').count() + 1,
        column: before[start..].chars().count() + 1,
    };
    Some((at, character))
}

fn forbidden(at: TextPlace, character: char) -> Flaw {
    Flaw::new(
        at,
        "forbidden-character",
        format!(
            "the invisible character U+{:04X} is not allowed in a library",
            u32::from(character)
        ),
        "delete it; retyping the line by hand is the surest way",
    )
}

/// What the parser complains of, what that means to somebody who writes drills, and what to do.
/// The first row of which a word is in the complaint counts.
const COMPLAINTS: &[(&[&str], &str, &str)] = &[
    (
        &["tab"],
        "the line is indented with a tab, or has one where none may be",
        "indent with blanks, two for each step",
    ),
    (
        &["escape", "hexadecimal"],
        "inside double quotes a `\\` starts a special character, and this is none",
        "use single quotes, or write `\\\\`",
    ),
    (
        &["trailing content"],
        "the text goes on after its closing quote",
        "put all of it inside the quotes; inside double quotes write `'` for a quote",
    ),
    (
        &[
            "flow sequence",
            "flow mapping",
            "flow construct",
            "eof",
            "quoted scalar",
            "end of stream",
            "document indicator",
            "misplaced bracket",
        ],
        "a bracket or a quote was opened and not closed, or a comma is missing inside brackets",
        "close what was opened: `\"` with `\"`, `[` with `]`, `{` with `}`",
    ),
    (
        &[
            "cannot start",
            "unexpected character",
            "node content",
            "comment intercepting",
            "unprintable",
        ],
        "the text here starts with a sign that has a meaning of its own",
        "put the text in quotes",
    ),
    (
        &["mapping values", "':'", "mapping keys"],
        "there is a `: ` that does not fit here, so it cannot be told which word is the key",
        "text that holds `: ` goes in quotes: `key: \"text: more text\"`; keys of one entry start in the same column",
    ),
    (
        &[
            "expected key",
            "indentation",
            "indented",
            "block",
            "simple key",
            "'-'",
            "next token",
        ],
        "the line does not fit with the ones above it",
        "keys of one entry start in the same column; a list item starts with `- `; a key ends with `: `",
    ),
];

/// What the notation forbids, in the words of somebody who writes drills.
fn syntax(text: &str, at: TextPlace, info: &str) -> Flaw {
    if info.contains("recursion") {
        return too_deep(at);
    }
    if info.contains("anchor") || info.contains("alias") {
        return anchored(at);
    }
    if info.contains("tag")
        || info.contains("TAG")
        || info.contains("directive")
        || info.contains("handle")
    {
        return Flaw::new(
            at,
            "tag",
            "a line or word that starts with `%` or `!` is not allowed here",
            "put the text in quotes",
        );
    }
    let known = COMPLAINTS
        .iter()
        .find(|(words, _, _)| words.iter().any(|word| info.contains(word)));
    let (message, help) = known.map_or(
        (
            "the file cannot be read from here on",
            "text that starts with a sign, or holds `: ` or ` #`, goes in quotes; check brackets and indent",
        ),
        |(_, message, help)| (*message, *help),
    );
    if info.contains("tab") {
        return Flaw::new(first_tab(text, at), "yaml-syntax", message, help);
    }
    let (at, message, help) = slip_before(text, at).unwrap_or((at, message, help));
    Flaw::new(at, "yaml-syntax", message, help)
}

/// The parser stumbles over the word after a slip; a reader looks for the slip itself: a tab or nothing
/// between a key and its value, or a bracket that was opened and not closed.
fn slip_before(text: &str, at: TextPlace) -> Option<(TextPlace, &'static str, &'static str)> {
    let lines: Vec<&str> = text.lines().take(at.line).collect();
    let content = |line: &str| !line.trim().is_empty() && !line.trim_start().starts_with('#');
    let near = (0..lines.len()).rev().filter(|line| content(lines[*line]));
    for line in near.take(2) {
        let Some(colon) = key_end(lines[line]) else {
            continue;
        };
        let column = lines[line][..colon].chars().count() + 2;
        let place = TextPlace {
            line: line + 1,
            column,
        };
        match lines[line][colon + 1..].chars().next() {
            Some('\t') => {
                let message = "a tab stands between the key and its value";
                return Some((
                    place,
                    message,
                    "put a blank in the place of the tab: `name: A`",
                ));
            }
            Some(next) if !next.is_whitespace() && next != '/' => {
                let message = "there is no blank between the `:` and what follows it";
                return Some((
                    place,
                    message,
                    "put a blank after the `:`, such as `name: A`",
                ));
            }
            _ => {}
        }
    }
    open_bracket(&lines, at)
        .filter(|bracket| bracket.line < at.line)
        .map(|bracket| {
            let message = "this bracket was opened and not closed, or a comma is missing behind it";
            (
                bracket,
                message,
                "close it at the end of its list: `[` with `]`, `{` with `}`",
            )
        })
}

/// Where the `:` of a key at the start of a line stands, in bytes.
fn key_end(line: &str) -> Option<usize> {
    let mut rest = line.trim_start_matches(' ');
    while let Some(inner) = rest.strip_prefix("- ") {
        rest = inner.trim_start_matches(' ');
    }
    let key = rest.find(|c: char| !(c.is_ascii_lowercase() || c == '_'))?;
    (key > 0 && rest[key..].starts_with(':')).then(|| line.len() - rest.len() + key)
}

/// The innermost bracket that is open before a place.
fn open_bracket(lines: &[&str], at: TextPlace) -> Option<TextPlace> {
    let mut open: Vec<TextPlace> = Vec::new();
    let mut quote: Option<char> = None;
    for (number, line) in lines.iter().enumerate() {
        let mut before = ' ';
        for (index, c) in line.chars().enumerate() {
            let here = TextPlace {
                line: number + 1,
                column: index + 1,
            };
            if (here.line, here.column) >= (at.line, at.column) {
                break;
            }
            // A sign counts at the start of a word, and anywhere within brackets.
            let starts = before == ' ' || !open.is_empty();
            match (quote, c) {
                (Some(end), _) if c == end && before != '\\' => quote = None,
                (Some(_), _) => {}
                (None, '"' | '\'') if before == ' ' || before == '[' || before == '{' => {
                    quote = Some(c);
                }
                (None, '#') if before == ' ' => break,
                (None, '[' | '{') if starts => open.push(here),
                (None, ']' | '}') => drop(open.pop()),
                _ => {}
            }
            before = c;
        }
    }
    open.pop()
}

/// The parser complains of a tab at the word before it; a reader looks for the tab.
fn first_tab(text: &str, from: TextPlace) -> TextPlace {
    let lines = text.lines().enumerate().skip(from.line.saturating_sub(1));
    let mut tabs = lines.filter_map(|(index, line)| {
        let indent = line.chars().take_while(|c| c.is_whitespace());
        let column = indent.enumerate().find(|(_, c)| *c == '\t')?.0;
        Some(TextPlace {
            line: index + 1,
            column: column + 1,
        })
    });
    tabs.next().unwrap_or(from)
}

#[cfg(test)]
mod tests {
    use super::super::node::PathStep;
    use super::*;

    fn refused(text: &str) -> (&'static str, usize, usize) {
        let flaw = read(text).expect_err(text);
        (flaw.code, flaw.at.line, flaw.at.column)
    }

    #[test]
    fn every_value_knows_its_line_and_column() {
        let node = read("faults:\n  - id: a\n    aliases: [b, c]\n")
            .expect("reads")
            .expect("not empty");
        let at = |path: &[PathStep<'_>]| {
            let place = node.find(path);
            (place.line, place.column)
        };
        assert_eq!(at(&["faults".into(), 0.into()]), (2, 5));
        assert_eq!(at(&["faults".into(), 0.into(), "id".into()]), (2, 9));
        assert_eq!(
            at(&["faults".into(), 0.into(), "aliases".into(), 1.into()]),
            (3, 18)
        );
        assert_eq!(at(&["faults".into(), 0.into(), "none".into()]), (2, 5));
    }

    #[test]
    fn the_harmful_part_of_the_notation_is_refused() {
        assert_eq!(refused("a: &x 1\nb: *x\n").0, "anchor-or-alias");
        assert_eq!(refused("a: *nowhere\n").0, "anchor-or-alias");
        assert_eq!(refused("a: !!str 1\n"), ("tag", 1, 4));
        assert_eq!(refused("a: 1\n---\nb: 2\n").0, "several-documents");
        assert_eq!(refused("a: 1\nb: 2\na: 3\n"), ("key-twice", 3, 1));
        assert_eq!(refused("? [a]\n: b\n").0, "key-not-text");
        assert_eq!(refused("a: b\0c\n"), ("forbidden-character", 1, 5));
        assert_eq!(refused("a: \"\\u202e\"\n"), ("forbidden-character", 1, 4));
        assert_eq!(refused(&"[".repeat(1 << 20)).0, "too-deep");
        assert_eq!(
            refused(&format!("a:\n{}", "- {}\n".repeat(200_000))).0,
            "too-many-values"
        );
    }

    #[test]
    fn a_slip_is_said_where_it_was_made() {
        let entry = |line: &str| {
            let text = format!(
                "drills:\n  - id: a\n    {line}\n    treats: [{{id: b}}]\n    steps: [Swing]\n"
            );
            let flaw = read(&text).expect_err(line);
            (flaw.at.line, flaw.at.column, flaw.message)
        };
        let at = |line: &str| (entry(line).0, entry(line).1);
        assert_eq!(at("aliases: [x, y"), (3, 14));
        assert_eq!(at("dose: {sets: 3"), (3, 11));
        assert_eq!(at("name:\tA"), (3, 10));
        assert_eq!(at("name:A"), (3, 10));
        assert!(
            entry("name:A").2.contains("no blank"),
            "{}",
            entry("name:A").2
        );
        // Where nothing of the sort was done, the place is the parser's.
        assert_eq!(at("name: A: B"), (3, 12));
        let flaw = read("drills:\n  - id:a\n    name: A\n").expect_err("refused");
        assert_eq!((flaw.at.line, flaw.at.column), (2, 8));
    }

    #[test]
    fn a_value_is_found_again_in_another_layout() {
        let (one, other) = ("a: [{b: 1, c: 2}]\n", "# x\na:\n  - b: 1\n    c: 2\n");
        assert_eq!(same_place(other, (4, 8), one), Some((1, 15)));
        assert_eq!(same_place(other, (4, 5), one), Some((1, 12)));
        assert_eq!(same_place(other, (9, 9), one), None);
    }

    #[test]
    fn a_byte_order_mark_and_dos_line_ends_are_no_matter() {
        let plain = read("a: b\nc: d\n").expect("reads");
        assert_eq!(read("\u{feff}a: b\r\nc: d\r\n").expect("reads"), plain);
        assert_eq!(read("# only a remark\n").expect("reads"), None);
        assert_eq!(read("").expect("reads"), None);
    }
}
