//! A coach's own entries: from a draft, by way of a check, to a file that is whole or not there.
//!
//! Nothing in here knows of a terminal: the guide asks through [`Dialogue`], and what an entry
//! changes comes back as a [`Preview`] that a report can show.

mod bundle;
mod check;
mod draft;
mod guide;
mod keys;
mod kind;
mod overlay;
mod preview;
mod save;
mod template;
mod unpack;

pub use bundle::{BundleError, pack, read_bundle};
pub use check::{Checked, NearCopy, check};
pub use draft::{Draft, DraftError, find_entry, holds_id, names_in};
pub use guide::{Dialogue, Guide, Turn};
pub use kind::EntryKind;
pub use overlay::{EntryRef, FieldChange, Overlay, Replaced, overlays};
pub use preview::{BrokenCase, LinkChange, Offer, Preview, Retired};
pub use save::{Library, Over, SaveError, Saved, Step, put_file, sha256};
pub use template::template;
pub use unpack::{
    Fate, Planned, UnpackError, UnpackStep, Unpacking, plan_unpack, unpack, unpack_with,
};
