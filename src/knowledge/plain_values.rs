//! Ids and texts as the schema describes them.

use schemars::{Schema, SchemaGenerator, json_schema};

/// The longest id; longer ones no longer fit a line of a table.
pub(super) const LONGEST_ID: usize = 80;

/// What `is_kebab` takes, as an editor needs to know it.
pub(super) fn id(_: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "string",
        "pattern": "^[a-z0-9]+(-[a-z0-9]+)*$",
        "maxLength": LONGEST_ID,
    })
}

pub(super) fn text(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "string", "minLength": 1 })
}

/// Whether a flag is as it is when it is left out.
#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde calls it so")]
pub(super) fn is_false(flag: &bool) -> bool {
    !flag
}
