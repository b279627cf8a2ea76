//! A page of the report room as HTML, and what several pages have.

use super::served_library::LibraryState;
use crate::report::{Page, PageBlock};
use maud::{Markup, html};

/// Every block in order; titles are of the second rank.
pub(super) fn blocks(page: &Page) -> Markup {
    html! {
        @for block in &page.blocks {
            @match block {
                PageBlock::Heading(text) => h2 { (text) },
                PageBlock::Text(text) => p { (text) },
                PageBlock::Warning(text) => p class="caution" { (text) },
                PageBlock::Lines(lines) => ul class="lines" {
                    @for (label, text) in lines {
                        li { @if !label.trim().is_empty() { b { (label.trim()) } " " } (text) }
                    }
                },
                PageBlock::Bullets(items) => ul { @for item in items { li { (item) } } },
                PageBlock::Steps(items) => ol { @for item in items { li { (item) } } },
                PageBlock::Grid { head, rows, narrow } => {
                    @if let Some(narrow) = narrow {
                        ul class="narrow" { @for line in &narrow.lines { li { (line) } } }
                    }
                    (grid(head, rows, narrow.is_some()))
                },
            }
        }
    }
}

/// A grid that is scrolled by itself where it is too wide.
fn grid(head: &[String], rows: &[Vec<String>], has_narrow: bool) -> Markup {
    // A first column of numbers stands beside the rest on a narrow screen, any other above it.
    let numbers = rows
        .iter()
        .all(|row| row.first().is_none_or(|cell| cell.len() <= 4));
    html! {
        div class={ "scroll" @if has_narrow { " wide" } @else if numbers { " numbered" } @else { " stacked" } } tabindex="0" role="region" aria-label=(head.join(", ")) {
            table {
                thead { tr { @for title in head { th scope="col" { (title) } } } }
                tbody { @for row in rows { tr { @for cell in row { td { (cell) } } } } }
            }
        }
    }
}

/// A choice of one, with a first that says nothing.
pub(super) fn select<'a>(
    name: &str,
    title: &str,
    none: &str,
    values: impl Iterator<Item = (&'a str, &'a str, bool)>,
) -> Markup {
    html! {
        label { (title)
            select name=(name) {
                option value="" { (none) }
                @for (value, words, chosen) in values {
                    option value=(value) selected[chosen] { (words) }
                }
            }
        }
    }
}

/// Why the answers are those of the library as it was before.
pub(super) fn stale(room: &LibraryState) -> Markup {
    let problems = room.stale();
    html! {
        @if !problems.is_empty() {
            section class="caution" aria-labelledby="stale" {
                h2 id="stale" { "The library was changed, and cannot be read" }
                p { "These pages go on with what was there before." }
                ul {
                    @for problem in problems.iter().take(5) {
                        li { (problem.file) ", line " (problem.line) ": " (problem.message) }
                    }
                }
            }
        }
    }
}
