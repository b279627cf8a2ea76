//! A coach's own entries: from a draft, by way of a check, to a file that is whole or not there.
//!
//! Nothing in here knows of a terminal: the guide asks through [`Respondent`], and what an entry
//! changes comes back as a [`Preview`] that a report can show.

mod answers;
mod asking;
mod checked;
mod dialogue;
mod draft;
mod file_entries;
mod filled_form;
mod guide;
mod keys;
mod kind;
mod naming;
mod overlay;
mod own;
mod preview;
mod questions;
mod save;
mod share;
mod template;

pub use checked::{Checked, NearCopy, check};
pub use dialogue::Respondent;
pub use draft::{Draft, DraftError};
pub use file_entries::{find_entry, holds_id, names_in};
pub use guide::{Guide, Turn};
pub use kind::EntryKind;
pub use overlay::{EntryRef, FieldChange, Overlay, Replaced, overlays};
pub use own::{EntryInFile, OwnError, OwnLibrary, PlaceError, Remainder, without};
pub use preview::{BrokenCase, LinkChange, Offer, Preview, Retired, RowChange, ShareChange};
pub use questions::{Field, Takes, fields};
pub use save::{HeldFolder, Over, SaveError, SaveMoment, Saved, put_file, sha256};
pub use share::{Fate, Received, ShareError, Taken, receive, share};
pub use template::template;
