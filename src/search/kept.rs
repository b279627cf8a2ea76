//! The index of a large library, kept in the cache folder between two commands.
//!
//! One file for one library and one version of the program: its name is a hash of both, so it can
//! only be right or absent, and it is never changed once it is there. It is written under another
//! name and renamed; two commands that build it at once write the same. Reading takes no lock and
//! needs no leave to write. A file that is cut off or altered is told by its checksum and built anew.
//! Whatever fails here (a full disk, a folder that may not be written) costs time, not the answer.

use crate::knowledge::KnowledgeBase;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs;
use std::io::{self, Write as _};
use std::path::Path;
use std::time::{Duration, SystemTime};

/// What became of an index that was to be kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It was there and was read.
    Found,
    /// It was built, and is there for the next command.
    Written,
    /// It was built, and could not be written down.
    Not,
}

/// The beginning of every kept index.
const MAGIC: &[u8] = b"fairwhy drills\n";
const CHECKSUM: usize = 32;
/// Names are `drills-` and a hash, with `.index` behind it.
const PREFIX: &str = "drills-";
const SUFFIX: &str = ".index";
/// What a command that was killed has left half-written.
const PART: &str = ".part";
/// Older ones than the newest so many are cleared away.
const NEWEST: usize = 3;
/// Half-written files this old are nobody's any more.
const ABANDONED: Duration = Duration::from_secs(60 * 60);

/// A named part of a kept index.
pub(super) type Part = (String, Vec<u8>);

/// The file's name: of the library by its content, of the program by its version and by the source
/// of everything that has to do with an index.
pub(super) fn name_of(base: &KnowledgeBase) -> String {
    let mut hash = Sha256::new();
    for text in [
        base.content_hash.as_str(),
        env!("CARGO_PKG_VERSION"),
        env!("FAIRWHY_INDEX_SOURCE"),
    ] {
        hash.update(text.len().to_le_bytes());
        hash.update(text.as_bytes());
    }
    let mut name = PREFIX.to_owned();
    for byte in hash.finalize() {
        write!(name, "{byte:02x}").expect("writing to a string");
    }
    name + SUFFIX
}

/// The parts of a kept index; `None` when there is none, or none that is whole.
pub(super) fn read(folder: &Path, name: &str) -> Option<Vec<Part>> {
    let bytes = fs::read(folder.join(name)).ok()?;
    let rest = bytes.strip_prefix(MAGIC)?;
    let (checksum, mut rest) = rest.split_at_checked(CHECKSUM)?;
    if Sha256::digest(rest).as_slice() != checksum {
        return None;
    }
    let mut parts = Vec::new();
    while !rest.is_empty() {
        let name = String::from_utf8(take(&mut rest)?.to_vec()).ok()?;
        parts.push((name, take(&mut rest)?.to_vec()));
    }
    Some(parts)
}

/// Bytes behind their length.
fn take<'b>(bytes: &mut &'b [u8]) -> Option<&'b [u8]> {
    let (length, rest) = bytes.split_first_chunk()?;
    let length = usize::try_from(u64::from_le_bytes(*length)).ok()?;
    let (taken, rest) = rest.split_at_checked(length)?;
    *bytes = rest;
    Some(taken)
}

/// Writes an index down, all or nothing, and clears older ones away.
pub(super) fn write(folder: &Path, name: &str, parts: &[Part]) -> io::Result<()> {
    let mut bytes = Vec::new();
    for (name, part) in parts {
        for text in [name.as_bytes(), part] {
            bytes.extend_from_slice(&(text.len() as u64).to_le_bytes());
            bytes.extend_from_slice(text);
        }
    }
    fs::create_dir_all(folder)?;
    let mut file = tempfile::Builder::new()
        .prefix(PREFIX)
        .suffix(PART)
        .tempfile_in(folder)?;
    file.write_all(MAGIC)?;
    file.write_all(&Sha256::digest(&bytes))?;
    file.write_all(&bytes)?;
    // No sync: what a power cut leaves behind is told by its checksum.
    file.persist(folder.join(name))
        .map_err(|error| error.error)?;
    clear(folder, name);
    Ok(())
}

/// Removes what is no longer of use; what cannot be removed stays.
fn clear(folder: &Path, just_written: &str) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    let mut kept: Vec<(SystemTime, std::path::PathBuf)> = Vec::new();
    for entry in entries.flatten() {
        let name = entry.file_name();
        let Some(name) = name.to_str().filter(|name| name.starts_with(PREFIX)) else {
            continue;
        };
        let Ok(modified) = entry.metadata().and_then(|data| data.modified()) else {
            continue;
        };
        if name.ends_with(SUFFIX) && name != just_written {
            kept.push((modified, entry.path()));
        } else if name.ends_with(PART) && modified.elapsed().is_ok_and(|age| age > ABANDONED) {
            let _ = fs::remove_file(entry.path());
        }
    }
    kept.sort();
    let old = kept.len().saturating_sub(NEWEST - 1);
    for (_, path) in &kept[..old] {
        let _ = fs::remove_file(path);
    }
}
