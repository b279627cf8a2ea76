//! `fairwhy schema`: the format of a library file, for an editor.

use super::Failure;
use crate::knowledge::schema;
use std::io::Write;

pub(crate) fn run(out: &mut dyn Write) -> Result<u8, Failure> {
    serde_json::to_writer_pretty(&mut *out, &schema()).map_err(std::io::Error::from)?;
    writeln!(out)?;
    Ok(0)
}
