//! Single entries, and drills by words.

use super::app::App;
use super::blocks::blocks;
use super::library_view::way_to_change;
use super::not_given::NotGiven;
use super::served_library::LibraryState;
use super::shell::{self, Here};
use crate::knowledge::SHIPPED_LAYER;
use crate::lesson::Lesson;
use crate::report::{LibraryEntry, show_page};
use maud::{Markup, html};

/// The entry that an id or a name means.
pub(super) fn find(room: &LibraryState, words: &str) -> Result<LibraryEntry, NotGiven> {
    LibraryEntry::find(&room.base, words, |words| {
        room.reader.read(words, &Lesson::default())
    })
    .map_err(|near| NotGiven::NotThere {
        message: format!("there is no entry \"{words}\""),
        help: if near.is_empty() {
            "look for it among the drills by what you see".to_owned()
        } else {
            format!("the nearest ids are {}", near.join(", "))
        },
    })
}

/// One entry, whole.
pub(super) fn page(app: &App, room: &LibraryState, entry: LibraryEntry) -> Markup {
    let mut page = show_page(&room.base, entry);
    let title = page.take_title().unwrap_or_default();
    let change = match entry {
        LibraryEntry::Condition(key) => {
            let condition = room.base.condition(key);
            Some((condition.kind.as_str(), &condition.id, &condition.origin))
        }
        LibraryEntry::Drill(key) => {
            let drill = room.base.drill(key);
            Some(("drill", &drill.id, &drill.origin))
        }
        LibraryEntry::Source(_) => None,
    };
    let change = change.and_then(|(kind, id, origin)| {
        let shipped = room.base.layer_name(origin) == SHIPPED_LAYER;
        way_to_change(app, kind, id, shipped)
    });
    let main = html! { h1 { (title) } (blocks(&page)) @if let Some(way) = change { (way) } };
    shell::page(&title, Here::Nowhere, &main)
}
