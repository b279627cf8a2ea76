//! Width and colour of what is printed, decided once.

use super::{Format, Globals};
use clap::ColorChoice;

/// How to print: decided from the options, the environment and whether a person is looking.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Output {
    /// The format asked for.
    pub format: Format,
    /// Columns to fit into.
    pub width: usize,
    /// Whether to colour.
    pub color: bool,
}

/// Lines longer than this are hard to read across, however wide the window is.
const WIDEST: usize = 120;
/// What a printed page and most pipes to a pager take.
const WITHOUT_TERMINAL: usize = 80;

impl Output {
    /// Decides from the options, then the terminal, then `COLUMNS`.
    pub fn new(globals: &Globals, terminal: bool) -> Self {
        let width = globals.width.map_or_else(
            || {
                measured(terminal)
                    .unwrap_or(WITHOUT_TERMINAL)
                    .clamp(40, WIDEST)
            },
            usize::from,
        );
        let color = match globals.color {
            ColorChoice::Always => true,
            ColorChoice::Never => false,
            ColorChoice::Auto => {
                let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
                let unwanted = std::env::var_os("NO_COLOR").is_some_and(|set| !set.is_empty());
                terminal && !dumb && !unwanted
            }
        };
        Self {
            format: globals.format,
            width,
            color,
        }
    }
}

fn measured(terminal: bool) -> Option<usize> {
    let columns = || std::env::var("COLUMNS").ok()?.trim().parse().ok();
    if terminal {
        comfy_table::Table::new()
            .width()
            .map(usize::from)
            .or_else(columns)
    } else {
        columns()
    }
}

impl Output {
    /// Prints a page for a person.
    pub fn page(
        &self,
        out: &mut dyn std::io::Write,
        page: &crate::report::Page,
    ) -> std::io::Result<()> {
        let text = match self.format {
            Format::Markdown => page.to_markdown(2),
            Format::Table | Format::Json => page.to_text(self.width, self.color),
        };
        out.write_all(text.as_bytes())
    }

    /// Prints a page or JSON, whichever was asked for; only what is printed is made.
    pub fn print(
        &self,
        out: &mut dyn std::io::Write,
        page: impl FnOnce() -> crate::report::Page,
        json: impl FnOnce() -> serde_json::Value,
    ) -> std::io::Result<()> {
        match self.format {
            Format::Json => writeln!(out, "{}", json()),
            Format::Table | Format::Markdown => self.page(out, &page()),
        }
    }
}

/// A line broken to fit, what follows below its first word.
pub(crate) fn wrapped(line: &str, width: usize) -> String {
    if textwrap::core::display_width(line) <= width {
        return line.to_owned();
    }
    let margin = " ".repeat(line.len() - line.trim_start().len() + 2);
    textwrap::fill(
        line,
        textwrap::Options::new(width)
            .subsequent_indent(&margin)
            // An id or a path is to be copied, so it is not broken at a hyphen or a slash.
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .word_splitter(textwrap::WordSplitter::NoHyphenation)
            .break_words(false),
    )
}

/// Opens a file that somebody named. A named pipe is refused, since nobody may ever write to it, and a
/// device, which may never end; what the shell puts in a file's place (`<(...)`) is a link to a pipe that is
/// written to, and is read.
pub(crate) fn open_named(path: &std::path::Path) -> std::io::Result<std::fs::File> {
    let refused = |why: &str| Err(std::io::Error::other(why));
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if std::fs::symlink_metadata(path).is_ok_and(|about| about.file_type().is_fifo()) {
            return refused(
                "it is a named pipe; send what it holds to standard input, and write - here",
            );
        }
        let sort = std::fs::metadata(path)?.file_type();
        if sort.is_char_device() || sort.is_block_device() {
            return refused("it is a device, and no file");
        }
    }
    let file = std::fs::File::open(path)?;
    if file.metadata()?.is_dir() {
        return refused("it is a folder, and no file");
    }
    Ok(file)
}

/// A whole number from the command line.
pub(crate) fn whole(text: &str) -> Result<u32, String> {
    let number = text.trim().parse();
    number.map_err(|_| "write a whole number, such as 4".to_owned())
}
