//! The other door: the same rooms as pages in a browser on this machine.
//!
//! Every page is plain HTML that works without script; a small script only saves the reload. What was
//! said in a lesson stands whole in the address of its page, so that a reload, a second tab or a
//! stopped server loses nothing; beside it the last address of each lesson is kept in the data folder.
//! Every page can be had as the command's own JSON under the same address with `.json`. Nothing is
//! computed here.

mod app;
mod ask;
mod blocks;
mod drills_view;
mod entries;
mod fields;
mod gate;
mod guard;
mod handlers;
mod lesson_view;
mod library_view;
mod not_given;
mod on_record;
mod plan_view;
mod served_library;
mod server;
mod shell;
mod students;
mod unfinished;
mod worked;

pub use app::{App, Setup};
pub use served_library::{LibraryError, ServedLibrary};
pub use server::{Server, router};
