//! Problems as a page that a coach can work through: what, where with the line itself, and what to
//! write instead. The one place that knows how the frames are drawn.

use super::layer::LayerText;
use super::problem::{Problem, Severity};
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};
use std::collections::{BTreeMap, HashMap};
use std::fmt::Write as _;
use std::ops::Range;

/// The width that the page keeps to, in columns.
const WIDTH: usize = 80;

/// So many warnings of one sort are shown, each with its line; the rest are counted.
const MOST_ALIKE: usize = 20;

/// Longer source lines are named, not shown: nobody wrote them by hand.
const LONGEST_LINE: usize = 1_000;

/// Whether the page carries ANSI colour codes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paint {
    /// Text and nothing else.
    #[default]
    Plain,
    /// With colour codes for a terminal.
    Ansi,
}

/// All problems in the order given, each with its line where `layers` hold it, and a last line that
/// counts them. Of warnings of one sort the first twenty are shown, and the rest counted. An empty list
/// gives `no problems`.
///
/// Text from files and folder names cannot steer a terminal: control characters are shown as a sign.
#[must_use]
pub fn report_problems(problems: &[Problem], layers: &[LayerText], paint: Paint) -> String {
    let renderer = match paint {
        Paint::Plain => Renderer::plain(),
        Paint::Ansi => Renderer::styled(),
    };
    let renderer = renderer.term_width(WIDTH);
    let mut sources = Sources::new(layers);
    let mut page = String::new();
    let mut alike: BTreeMap<&str, usize> = BTreeMap::new();
    for problem in problems {
        if problem.severity == Severity::Warning {
            let count = alike.entry(problem.code).or_default();
            *count += 1;
            if *count > MOST_ALIKE {
                continue;
            }
        }
        page.push_str(&renderer.render(&[group(problem, &mut sources)]));
        page.push_str("\n\n");
    }
    let more = alike.iter().filter(|(_, count)| **count > MOST_ALIKE);
    for (code, count) in more {
        let more = count - MOST_ALIKE;
        let _ = writeln!(
            page,
            "{more} more of the sort warning[{code}]; fairwhy check lists them all as JSON"
        );
    }
    page.push_str(&count_line(problems));
    page.push('\n');
    page
}

fn group<'a>(problem: &'a Problem, sources: &mut Sources<'a>) -> Group<'a> {
    let level = match problem.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let name = match problem.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    };
    let lead = name.len() + problem.code.len() + 4;
    let title = wrapped(&problem.message, WIDTH - lead);
    let mut group = level
        .primary_title(title)
        .id(problem.code)
        .element(place(problem, sources));
    if let Some(help) = &problem.help {
        // The frame puts up to 14 columns before a line of help.
        group = group.element(Level::HELP.message(wrapped(help, WIDTH - 14)));
    }
    group
}

/// The line with the word marked, or only its place.
fn place<'a>(problem: &'a Problem, sources: &mut Sources<'a>) -> annotate_snippets::Element<'a> {
    let path = if problem.file.is_empty() {
        shown(&problem.layer)
    } else {
        format!("{}/{}", shown(&problem.layer), shown(&problem.file))
    };
    let line = sources
        .line(problem)
        .filter(|line| line.len() <= LONGEST_LINE);
    match line {
        Some(line) => {
            let line = shown(line);
            let span = word_at(&line, problem.column);
            Snippet::source(line)
                .line_start(problem.line)
                .path(path)
                .annotation(AnnotationKind::Primary.span(span))
                .into()
        }
        None if problem.line > 0 => {
            let origin = Origin::path(path).line(problem.line);
            origin.char_column(problem.column.max(1)).into()
        }
        None => Origin::path(path).into(),
    }
}

/// The bytes of the word that starts in a column, counted from 1 in characters.
fn word_at(line: &str, column: usize) -> Range<usize> {
    let start = line
        .char_indices()
        .nth(column.saturating_sub(1))
        .map_or(line.len(), |(index, _)| index);
    let rest = &line[start..];
    let length = match rest.chars().next() {
        None => 0,
        Some(open @ ('"' | '\'')) => rest[1..].find(open).map_or(rest.len(), |end| end + 2),
        Some(open @ ('[' | '{')) => open.len_utf8(),
        Some(first) => {
            let ends = [", ", ": ", " #", "]", "}"];
            let ends = ends.iter().filter_map(|end| rest.find(end));
            let end = ends.min().unwrap_or(rest.len());
            rest[..end]
                .trim_end_matches(':')
                .trim_end()
                .len()
                .max(first.len_utf8())
        }
    };
    start..start + length
}

/// Whether a terminal would obey a character instead of showing it: controls, line ends among them,
/// and signs that turn the direction of writing.
#[must_use]
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200e}' | '\u{200f}' | '\u{61c}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

/// The same without characters that a terminal would obey.
fn shown(text: &str) -> String {
    let sign = |c: char| match c {
        '\t' => ' ',
        c if steers(c) => '\u{fffd}',
        c => c,
    };
    text.chars().map(sign).collect()
}

fn wrapped(text: &str, width: usize) -> String {
    let lines = text.lines().map(|line| {
        let options = textwrap::Options::new(width)
            .break_words(false)
            .word_splitter(textwrap::WordSplitter::NoHyphenation)
            .word_separator(textwrap::WordSeparator::AsciiSpace);
        textwrap::fill(line, options)
    });
    lines.collect::<Vec<_>>().join("\n")
}

fn count_line(problems: &[Problem]) -> String {
    let of = |severity: Severity| problems.iter().filter(|p| p.severity == severity).count();
    let counted = |count: usize, one: &str| match count {
        0 => None,
        1 => Some(format!("1 {one}")),
        many => Some(format!("{many} {one}s")),
    };
    let parts: Vec<String> = [
        counted(of(Severity::Error), "error"),
        counted(of(Severity::Warning), "warning"),
    ]
    .into_iter()
    .flatten()
    .collect();
    if parts.is_empty() {
        "no problems".to_owned()
    } else {
        parts.join(", ")
    }
}

/// Finds lines without walking through a file again for each problem.
struct Sources<'a> {
    texts: HashMap<(&'a str, &'a str), &'a str>,
    lines: HashMap<(&'a str, &'a str), Vec<&'a str>>,
}

impl<'a> Sources<'a> {
    fn new(layers: &'a [LayerText]) -> Self {
        let texts = layers.iter().flat_map(|layer| {
            let files = layer.files.iter();
            files.map(|file| ((layer.name.as_str(), file.path.as_str()), &*file.text))
        });
        Self {
            texts: texts.collect(),
            lines: HashMap::new(),
        }
    }

    fn line(&mut self, problem: &'a Problem) -> Option<&'a str> {
        let wanted = (problem.layer.as_str(), problem.file.as_str());
        let (key, text) = self.texts.get_key_value(&wanted)?;
        let lines = self
            .lines
            .entry(*key)
            .or_insert_with(|| text.trim_start_matches('\u{feff}').lines().collect());
        lines.get(problem.line.checked_sub(1)?).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_word_that_is_wrong_is_marked() {
        let marked = |line: &str, column| line[word_at(line, column)].to_owned();
        assert_eq!(marked("    nmae: Top", 5), "nmae");
        assert_eq!(marked("  - {id: a b, share: 2}", 10), "a b");
        assert_eq!(marked("  - {id: a, share: 2}", 20), "2");
        assert_eq!(marked("name: \"a, b\" # c", 7), "\"a, b\"");
        assert_eq!(marked("look:", 1), "look");
        assert_eq!(marked("x", 9), "");
        assert_eq!(marked("öl: ä, b", 5), "ä");
    }

    #[test]
    fn many_warnings_of_one_sort_are_counted() {
        let problem = |severity, code, line| Problem {
            layer: "mine".to_owned(),
            file: "a.yaml".to_owned(),
            line,
            column: 1,
            severity,
            code,
            message: format!("entry {line}"),
            help: None,
        };
        let mut problems: Vec<Problem> = (1..=50)
            .map(|line| problem(Severity::Warning, "no-remedy", line))
            .collect();
        problems.extend((1..=50).map(|line| problem(Severity::Error, "unknown-id", line)));
        let page = report_problems(&problems, &[], Paint::Plain);
        assert_eq!(
            page.matches("warning[no-remedy]: entry").count(),
            MOST_ALIKE
        );
        assert_eq!(page.matches("error[unknown-id]: entry").count(), 50);
        assert!(
            page.contains("30 more of the sort warning[no-remedy]"),
            "{page}"
        );
        assert!(page.ends_with("50 errors, 50 warnings\n"), "{page}");
    }

    #[test]
    fn the_last_line_counts() {
        assert_eq!(report_problems(&[], &[], Paint::Plain), "no problems\n");
    }
}
