//! A page in blocks, laid out as text or written as Markdown.

use super::sentence::small;
use crate::knowledge::steers;
use anstyle::{Effects, Style};
use comfy_table::{
    Cell, ColumnConstraint, ContentArrangement, LineStyle, Table, TableStyle, Width,
};
use std::fmt::Write as _;
use unicode_width::UnicodeWidthStr;

/// One piece of a page.
#[derive(Clone, Debug, PartialEq)]
pub enum PageBlock {
    /// A title over what follows.
    Heading(String),
    /// Running text.
    Text(String),
    /// Text that must not be overlooked, such as a caution.
    Warning(String),
    /// Lines that belong together, each behind a label that what follows hangs from.
    Lines(Vec<(String, String)>),
    /// Points of equal rank.
    Bullets(Vec<String>),
    /// Steps in order, numbered from 1.
    Steps(Vec<String>),
    /// Facts in columns; every row has as many cells as the head.
    Grid {
        /// Column titles.
        head: Vec<String>,
        /// Rows of cells.
        rows: Vec<Vec<String>>,
        /// What stands in its place on a screen of fewer columns, a line for each row.
        narrow: Option<Narrow>,
    },
}

/// A grid for a screen that is too narrow for its columns.
#[derive(Clone, Debug, PartialEq)]
pub struct Narrow {
    /// The columns from which the grid itself is shown.
    pub below: usize,
    /// A line for each row.
    pub lines: Vec<String>,
}

/// What a command has to say to a person.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Page {
    /// The blocks, top to bottom.
    pub blocks: Vec<PageBlock>,
}

impl Page {
    /// An empty page.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a title.
    pub fn heading(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(PageBlock::Heading(text.into()))
    }

    /// Adds a title when there is something to put under it.
    pub fn heading_if(&mut self, wanted: bool, text: &str) -> &mut Self {
        if wanted {
            self.heading(text);
        }
        self
    }

    /// Adds running text.
    pub fn text(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(PageBlock::Text(text.into()))
    }

    /// Adds text that must not be overlooked.
    pub fn warning(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(PageBlock::Warning(text.into()))
    }

    /// Adds lines that belong together, each behind its label; none at all when there are none.
    pub fn lines(&mut self, lines: impl IntoIterator<Item = (String, String)>) -> &mut Self {
        let lines: Vec<(String, String)> = lines.into_iter().collect();
        if lines.is_empty() {
            return self;
        }
        self.push(PageBlock::Lines(lines))
    }

    /// Adds points of equal rank; none at all when the list is empty.
    pub fn bullets(&mut self, items: impl IntoIterator<Item = String>) -> &mut Self {
        let items: Vec<String> = items.into_iter().collect();
        if items.is_empty() {
            return self;
        }
        self.push(PageBlock::Bullets(items))
    }

    /// Adds points under a title; neither when there are none.
    pub fn bullets_under(
        &mut self,
        heading: &str,
        items: impl IntoIterator<Item = String>,
    ) -> &mut Self {
        let mut items = items.into_iter().peekable();
        self.heading_if(items.peek().is_some(), heading)
            .bullets(items)
    }

    /// Adds steps in order; none at all when the list is empty.
    pub fn steps(&mut self, items: impl IntoIterator<Item = String>) -> &mut Self {
        let items: Vec<String> = items.into_iter().collect();
        if items.is_empty() {
            return self;
        }
        self.push(PageBlock::Steps(items))
    }

    /// Adds a grid; none at all when there are no rows.
    pub fn grid<const N: usize>(&mut self, head: [&str; N], rows: Vec<[String; N]>) -> &mut Self {
        self.table(
            head.map(str::to_owned).to_vec(),
            rows.into_iter().map(Vec::from).collect(),
            None,
        )
    }

    /// Adds a grid of any number of columns, with what stands in its place on a narrow screen.
    pub fn table(
        &mut self,
        head: Vec<String>,
        rows: Vec<Vec<String>>,
        narrow: Option<Narrow>,
    ) -> &mut Self {
        if rows.is_empty() {
            return self;
        }
        self.push(PageBlock::Grid { head, rows, narrow })
    }

    /// Takes the title off that the page begins with, if it begins with one.
    pub fn take_title(&mut self) -> Option<String> {
        match self.blocks.first() {
            Some(PageBlock::Heading(title)) => {
                let title = title.clone();
                self.blocks.remove(0);
                Some(title)
            }
            _ => None,
        }
    }

    /// Changes every text of the page.
    pub fn each_text(&mut self, mut change: impl FnMut(&mut String)) {
        for block in &mut self.blocks {
            match block {
                PageBlock::Heading(text) | PageBlock::Text(text) | PageBlock::Warning(text) => {
                    change(text)
                }
                PageBlock::Lines(lines) => lines.iter_mut().for_each(|(_, text)| change(text)),
                PageBlock::Bullets(items) | PageBlock::Steps(items) => {
                    items.iter_mut().for_each(&mut change);
                }
                PageBlock::Grid { head, rows, narrow } => {
                    let cells = rows.iter_mut().flatten();
                    let lines = narrow.iter_mut().flat_map(|narrow| &mut narrow.lines);
                    head.iter_mut()
                        .chain(cells)
                        .chain(lines)
                        .for_each(&mut change);
                }
            }
        }
    }

    fn push(&mut self, mut block: PageBlock) -> &mut Self {
        match &mut block {
            PageBlock::Heading(text) | PageBlock::Text(text) | PageBlock::Warning(text) => {
                tame(text)
            }
            PageBlock::Lines(lines) => lines.iter_mut().for_each(|(label, text)| {
                tame(label);
                tame(text);
            }),
            PageBlock::Bullets(items) | PageBlock::Steps(items) => items.iter_mut().for_each(tame),
            PageBlock::Grid { head, rows, narrow } => {
                let cells = rows.iter_mut().flatten();
                let lines = narrow.iter_mut().flat_map(|narrow| &mut narrow.lines);
                head.iter_mut().chain(cells).chain(lines).for_each(tame);
            }
        }
        self.blocks.push(block);
        self
    }

    /// The page as text in `width` columns, with ANSI emphasis when `color` says so.
    #[must_use]
    pub fn to_text(&self, width: usize, color: bool) -> String {
        let mut out = String::new();
        for (index, block) in self.blocks.iter().enumerate() {
            if index > 0 && (matches!(block, PageBlock::Heading(_)) || !self.hangs_on(index)) {
                out.push('\n');
            }
            block.push_text(&mut out, width, color);
        }
        out
    }

    /// Whether a block belongs right under the one before it: under a title, a warning under another, or
    /// lines under a grid.
    fn hangs_on(&self, index: usize) -> bool {
        match (&self.blocks[index - 1], &self.blocks[index]) {
            (PageBlock::Heading(_), _) | (PageBlock::Warning(_), PageBlock::Warning(_)) => true,
            (before, PageBlock::Lines(_)) => matches!(before, PageBlock::Grid { .. }),
            _ => false,
        }
    }

    /// The page as Markdown; `level` is the depth of its headings, from 1.
    #[must_use]
    pub fn to_markdown(&self, level: usize) -> String {
        let mut out = String::new();
        for (index, block) in self.blocks.iter().enumerate() {
            if index > 0 {
                out.push('\n');
            }
            block.push_markdown(&mut out, level);
        }
        out
    }
}

impl PageBlock {
    fn push_text(&self, out: &mut String, width: usize, color: bool) {
        let mut bullet = |text: &str| push_wrapped(out, text, width, "  - ", "    ", None);
        match self {
            Self::Heading(text) => {
                let style = Style::new().bold();
                push_wrapped(out, text, width, "", "", color.then_some(style));
            }
            Self::Text(text) => push_wrapped(out, text, width, "", "", None),
            Self::Warning(text) => {
                let style = Style::new().effects(Effects::BOLD | Effects::UNDERLINE);
                push_wrapped(out, text, width, "! ", "! ", color.then_some(style));
            }
            Self::Lines(lines) => {
                for (label, text) in lines {
                    let rest = " ".repeat(label.width());
                    push_wrapped(out, text, width, label, &rest, None);
                }
            }
            Self::Bullets(items) => items.iter().for_each(|item| bullet(item)),
            Self::Steps(items) => {
                for (number, item) in items.iter().enumerate() {
                    let first = format!("{:>3}. ", number + 1);
                    push_wrapped(out, item, width, &first, "     ", None);
                }
            }
            Self::Grid { head, rows, narrow } => match narrow {
                Some(narrow) if width < narrow.below => {
                    narrow.lines.iter().for_each(|line| bullet(line));
                }
                _ if least_width(head, rows) > width.max(20) => {
                    rows.iter().for_each(|row| bullet(&row_as_line(head, row)));
                }
                _ => push_grid(out, head, rows, width, color),
            },
        }
    }

    fn push_markdown(&self, out: &mut String, level: usize) {
        let mut line = |begin: &str, text: &str| {
            let _ = writeln!(out, "{begin}{}", escaped(text));
        };
        match self {
            Self::Heading(text) => line(&format!("{} ", "#".repeat(level)), text),
            Self::Text(text) => line("", text),
            Self::Warning(text) => {
                let _ = writeln!(out, "> **{}**", escaped(text));
            }
            Self::Lines(lines) => {
                for (label, text) in lines {
                    line("- ", format!("{} {text}", label.trim()).trim());
                }
            }
            Self::Bullets(items) => items.iter().for_each(|item| line("- ", item)),
            Self::Steps(items) => {
                for (number, item) in items.iter().enumerate() {
                    line(&format!("{}. ", number + 1), item);
                }
            }
            Self::Grid { head, rows, .. } => {
                let _ = writeln!(out, "{}", markdown_row(head));
                let _ = writeln!(out, "|{}", " --- |".repeat(head.len()));
                for row in rows {
                    let _ = writeln!(out, "{}", markdown_row(row));
                }
            }
        }
    }
}

fn markdown_row(cells: &[String]) -> String {
    let cell = |cell: &String| escaped(cell).replace('|', "\\|").replace('\n', "<br>");
    let cells: Vec<String> = cells.iter().map(cell).collect();
    format!("| {} |", cells.join(" | "))
}

/// Names of files and typed words may hold what a terminal would obey; a sign is shown in its place.
fn tame(text: &mut String) {
    let obeyed = |c: char| steers(c) && c != '\n';
    if text.contains(obeyed) {
        *text = text.replace(obeyed, "\u{fffd}");
    }
}

/// Keeps what an entry says from being taken for markup: a name such as `*new* drill` or `<b>`.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        if matches!(
            character,
            '\\' | '*' | '_' | '`' | '<' | '>' | '[' | ']' | '#'
        ) {
            out.push('\\');
        }
        out.push(character);
    }
    out
}

fn push_wrapped(
    out: &mut String,
    text: &str,
    width: usize,
    first: &str,
    rest: &str,
    style: Option<Style>,
) {
    // An id or a path is to be copied, so it is not broken at a hyphen or a slash.
    let options = textwrap::Options::new(width.max(20))
        .word_separator(textwrap::WordSeparator::AsciiSpace)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .initial_indent(first)
        .subsequent_indent(rest);
    for line in textwrap::wrap(text, options) {
        // What may not be parted was held together by a blank that does not break.
        let line = line.replace('\u{a0}', " ");
        match style {
            Some(style) => {
                let _ = writeln!(out, "{}{line}{}", style.render(), style.render_reset());
            }
            None => {
                let _ = writeln!(out, "{line}");
            }
        }
    }
}

/// A rule under the head and nothing else: on a narrow screen every other line is a line of content.
const STYLE: TableStyle =
    TableStyle::new().header_separator(LineStyle::none().fill('─').junction('─'));

/// Blank columns behind each column of a grid, beside the one that comfy-table puts between two.
const GAP: u16 = 1;

/// The columns that a grid takes when no cell's word is broken.
fn least_width(head: &[String], rows: &[Vec<String>]) -> usize {
    let longest_word = |cell: &String| cell.split_whitespace().map(UnicodeWidthStr::width).max();
    let columns = (0..head.len()).map(|column| {
        let below = rows.iter().filter_map(|row| row.get(column));
        let cells = head.get(column).into_iter().chain(below);
        cells.filter_map(longest_word).max().unwrap_or(1).max(1) + usize::from(GAP) + 1
    });
    columns.sum::<usize>().saturating_sub(1)
}

/// A row of a grid as running text, for a screen too narrow for the grid: `Grip too weak: clears 20 %, ...`.
fn row_as_line(head: &[String], row: &[String]) -> String {
    let mut cells = head.iter().zip(row).filter(|(_, cell)| !cell.is_empty());
    let first = cells.next().map_or("", |(_, cell)| cell.as_str());
    // A sentence becomes a part of this one.
    let part = |cell: &str| match cell.strip_suffix('.') {
        Some(said) => small(said),
        None => cell.to_owned(),
    };
    let rest: Vec<String> = cells
        .map(|(title, cell)| format!("{} {}", title.to_lowercase(), part(cell)))
        .map(|said| said.trim().to_owned())
        .collect();
    if rest.is_empty() {
        first.to_owned()
    } else {
        format!("{first}: {}", rest.join(", "))
    }
}

/// How wide each column is: as wide as its widest cell where all fit; else the widest is narrowed again
/// and again, but never below its longest word. comfy-table's own arrangement narrows all alike, and
/// breaks a name over two lines beside a column that has room to spare.
fn column_widths(head: &[String], rows: &[Vec<String>], width: usize) -> Vec<usize> {
    let cells = |column: usize| {
        let below = rows.iter().filter_map(move |row| row.get(column));
        head.get(column).into_iter().chain(below)
    };
    let of = |measure: fn(&str) -> usize| -> Vec<usize> {
        (0..head.len())
            .map(|column| {
                cells(column)
                    .map(|cell| measure(cell))
                    .max()
                    .unwrap_or(0)
                    .max(1)
            })
            .collect()
    };
    let mut widths = of(|cell| cell.width());
    let least = of(|cell| {
        cell.split_whitespace()
            .map(UnicodeWidthStr::width)
            .max()
            .unwrap_or(0)
    });
    let between = (usize::from(GAP) + 1) * head.len();
    let room = (width + 1).saturating_sub(between);
    while widths.iter().sum::<usize>() > room {
        let narrowed = (0..widths.len())
            .filter(|column| widths[*column] > least[*column])
            .max_by_key(|column| (widths[*column], *column));
        let Some(column) = narrowed else { break };
        widths[column] -= 1;
    }
    widths
}

fn push_grid(out: &mut String, head: &[String], rows: &[Vec<String>], width: usize, color: bool) {
    let mut table = Table::new();
    table
        .load_style(STYLE)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(u16::try_from(width).unwrap_or(u16::MAX))
        .set_header(head.iter().map(|title| match color {
            true => Cell::new(title).add_attribute(comfy_table::Attribute::Bold),
            false => Cell::new(title),
        }));
    // Without a terminal comfy-table styles nothing; the decision about colour is made elsewhere.
    if color {
        table.enforce_styling();
    } else {
        table.force_no_tty();
    }
    for row in rows {
        table.add_row(row);
    }
    let widths = column_widths(head, rows, width);
    for (column, columns) in table.column_iter_mut().zip(widths) {
        // A column of marks or numbers needs no air of its own on both sides.
        column.set_padding((0, GAP));
        let columns = u16::try_from(columns).unwrap_or(u16::MAX);
        let columns = columns.saturating_add(GAP);
        column.set_constraint(ColumnConstraint::Absolute(Width::Fixed(columns)));
    }
    for line in table.to_string().lines() {
        let _ = writeln!(out, "{}", line.trim_end());
        debug_assert!(color || line.trim_end().width() <= width.max(40));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page() -> Page {
        let mut page = Page::new();
        page.heading("Why")
            .text("A word or two that is long enough to be wrapped when the width is small.")
            .bullets(["one".to_owned(), "two".to_owned()])
            .grid(
                ["cause", "clears"],
                vec![["Grip *too* weak | thumbs".to_owned(), "41 %".to_owned()]],
            );
        page
    }

    #[test]
    fn text_fits_the_width_and_has_no_escape_codes_without_colour() {
        for width in [40, 80, 120] {
            let text = page().to_text(width, false);
            assert!(!text.contains('\u{1b}'));
            assert!(text.lines().all(|line| line.width() <= width), "{text}");
        }
    }

    #[test]
    fn a_sentence_in_a_row_goes_on_in_the_line() {
        let head = ["Cause", "Strength", "Because", "Rests on"].map(str::to_owned);
        let row = ["Sway", "0.28", "The hips go first.", "common practice"].map(str::to_owned);
        assert_eq!(
            row_as_line(&head, &row),
            "Sway: strength 0.28, because the hips go first, rests on common practice"
        );
    }

    #[test]
    fn markdown_keeps_cells_and_markup_apart() {
        let text = page().to_markdown(2);
        assert!(text.contains("## Why"));
        assert!(text.contains("Grip \\*too\\* weak \\| thumbs"));
    }
}
