//! Answers on paper: the same facts for a person at a terminal, for a document and for a program.
//!
//! A [`Page`] is what a command has to say to a person, in blocks; it is laid out as text that fits
//! a width, or written as Markdown. What a program gets is JSON, made from the same answer. This
//! room decides nothing and computes nothing.

mod change;
mod json;
mod page;
mod percent;
mod show;
mod why;

pub use change::{
    change_json, change_page, layer_diff_page, layers_page, unpack_json, unpack_page,
};
pub use json::why_json;
pub use page::{Block, Page};
pub use percent::{in_ten, percent};
pub use show::{Entry, dose, drill_json, show_json, show_page};
pub use why::why_page;
