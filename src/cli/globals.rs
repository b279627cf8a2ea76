//! What every command understands.

use clap::{Args, ColorChoice, ValueEnum};
use std::path::PathBuf;

/// What every command understands.
#[derive(Debug, Args)]
#[command(next_help_heading = "Everywhere")]
pub(crate) struct Globals {
    /// A folder of knowledge on top of what ships; repeatable, later ones win where they say so
    #[arg(
        long,
        global = true,
        value_name = "DIR",
        env = "FAIRWHY_LIBRARY",
        value_delimiter = PATH_LIST_SEPARATOR
    )]
    pub(super) library: Vec<PathBuf>,
    /// Leave out what ships and use the given folders alone
    #[arg(long, global = true)]
    pub(super) no_shipped: bool,
    /// Leave out your own library
    #[arg(long, global = true)]
    pub(super) no_own: bool,
    /// How to print the answer
    #[arg(long, global = true, value_enum, default_value_t = Format::Table)]
    pub(super) format: Format,
    /// Whether to colour the answer
    #[arg(long, global = true, value_enum, default_value_t = ColorChoice::Auto)]
    pub(super) color: ColorChoice,
    /// Columns to fit into (left out: the terminal's, or COLUMNS, or 80)
    #[arg(long, global = true, value_name = "COLUMNS", value_parser = columns)]
    pub(super) width: Option<u16>,
}

fn columns(text: &str) -> Result<u16, String> {
    let number = text.trim().parse().ok();
    let number = number.filter(|columns| (40..=400).contains(columns));
    number.ok_or_else(|| "write a whole number of columns from 40 to 400".to_owned())
}

/// Several folders in one variable are parted as the platform parts a search path.
const PATH_LIST_SEPARATOR: char = if cfg!(windows) { ';' } else { ':' };

/// How an answer is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For a person at a terminal
    Table,
    /// For a document
    Markdown,
    /// For a program
    Json,
}
