//! Single entries, and drills by words.

use super::blocks::blocks;
use super::room::Room;
use super::shell::{self, Here};
use super::trouble::NotGiven;
use crate::lesson::Lesson;
use crate::report::{Entry, show_page};
use maud::{Markup, html};

/// The entry that an id or a name means.
pub(super) fn find(room: &Room, words: &str) -> Result<Entry, NotGiven> {
    Entry::find(&room.base, words, |words| {
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
pub(super) fn page(room: &Room, entry: Entry) -> Markup {
    let mut page = show_page(&room.base, entry);
    let title = page.take_title().unwrap_or_default();
    let main = html! { h1 { (title) } (blocks(&page)) };
    shell::page(&title, Here::Nowhere, &main)
}
