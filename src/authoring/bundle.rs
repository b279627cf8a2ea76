//! A library as one plain text, to hand to another coach.
//!
//! ```text
//! fairwhy-bundle 1
//! files 2
//! file 312 <sha-256> drills/towel-under-arm.yaml
//! ...312 bytes, then a line end...
//! file 87 <sha-256> sources.yaml
//! ...
//! end <sha-256 of everything above this line>
//! ```
//!
//! Hashes are lowercase hex. Files are sorted by path, and nothing in a bundle depends on when or
//! where it was made: the same library gives the same bytes. The hashes find damage, not malice;
//! whoever can change a bundle can change its hashes.

use super::save::sha256;
use crate::knowledge::{FileText, folder::Limits, library_file};
use std::collections::BTreeSet;
use thiserror::Error;

/// The first line of every bundle of this version.
const HEAD: &str = "fairwhy-bundle 1";

/// The longest path, and the longest part of one, in bytes; what common file systems take.
const LONGEST_PATH: usize = 1_000;
const LONGEST_PART: usize = 200;

/// Why a bundle is not taken.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("line {line}: {message}")]
pub struct BundleError {
    /// The line of the bundle, from 1.
    pub line: usize,
    /// What is wrong with it.
    pub message: String,
}

/// The files as a bundle, sorted by path.
#[must_use]
pub fn pack(files: &[FileText]) -> String {
    let mut files: Vec<&FileText> = files.iter().collect();
    files.sort_by(|a, b| a.path.cmp(&b.path));
    let mut bundle = format!("{HEAD}\nfiles {}\n", files.len());
    for FileText { path, text } in files {
        let hash = sha256(text.as_bytes());
        bundle.push_str(&format!("file {} {hash} {path}\n{text}\n", text.len()));
    }
    let hash = sha256(bundle.as_bytes());
    bundle + &format!("end {hash}\n")
}

/// Reads a bundle from anyone, within limits.
///
/// Every path is one that stays inside a folder on every system, every text a library file that
/// reads by itself.
///
/// # Errors
///
/// The first thing that is wrong. Nothing of a bundle with an error is to be used.
pub fn read_bundle(bytes: &[u8], limits: Limits) -> Result<Vec<FileText>, BundleError> {
    let mut reading = Reading {
        bytes,
        at: 0,
        line: 1,
    };
    if reading.line()? != HEAD {
        return Err(reading.fault_above(format!(
            "this is no bundle that fairwhy can read: its first line is not `{HEAD}`"
        )));
    }
    let count = reading.line()?.strip_prefix("files ").and_then(number);
    let Some(count) = count.filter(|count| *count <= limits.files as u64) else {
        return Err(reading.fault_above(format!(
            "here belongs `files` and how many, at most {}",
            limits.files
        )));
    };
    let mut files: Vec<FileText> = Vec::new();
    let mut taken: BTreeSet<String> = BTreeSet::new();
    let mut total = 0_u64;
    for _ in 0..count {
        let file = reading.file(limits)?;
        total += file.text.len() as u64;
        if total > limits.library_bytes {
            return Err(reading.fault(format!(
                "the files together are larger than {} MiB",
                limits.library_bytes >> 20
            )));
        }
        // Some file systems do not tell capitals from small letters, and none lets a file be a folder.
        let folded = file.path.to_lowercase();
        let clash = taken.contains(&folded)
            || taken
                .range(format!("{folded}/")..format!("{folded}0"))
                .next()
                .is_some()
            || folded
                .match_indices('/')
                .any(|(end, _)| taken.contains(&folded[..end]));
        if clash {
            return Err(reading.fault(format!("two files would be in one place: {}", file.path)));
        }
        taken.insert(folded);
        files.push(file);
    }
    let body = reading.at;
    let last = reading.line()?;
    let Some(hash) = last.strip_prefix("end ") else {
        return Err(
            reading.fault_above("here belongs `end` and the hash of everything above".to_owned())
        );
    };
    if hash != sha256(&bytes[..body]) {
        return Err(reading.fault_above(damaged("the bundle")));
    }
    if reading.at != bytes.len() {
        return Err(reading.fault("there is something after the end of the bundle".to_owned()));
    }
    Ok(files)
}

fn damaged(what: &str) -> String {
    format!(
        "{what} is not as it was packed; it was changed or damaged on the way (hand it over as a file, not as pasted text)"
    )
}

/// A whole number without sign or leading zeros.
fn number(text: &str) -> Option<u64> {
    let plain = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    (plain && (text == "0" || !text.starts_with('0')))
        .then(|| text.parse().ok())
        .flatten()
}

struct Reading<'b> {
    bytes: &'b [u8],
    at: usize,
    line: usize,
}

impl Reading<'_> {
    fn fault(&self, message: String) -> BundleError {
        BundleError {
            line: self.line,
            message,
        }
    }

    /// A fault in the line that was just read.
    fn fault_above(&self, message: String) -> BundleError {
        BundleError {
            line: self.line.saturating_sub(1).max(1),
            message,
        }
    }

    fn line(&mut self) -> Result<&str, BundleError> {
        let rest = &self.bytes[self.at..];
        // A line of ours is a path, a hash and a few words at most.
        let end = rest
            .iter()
            .take(LONGEST_PATH + 200)
            .position(|byte| *byte == b'\n');
        let Some(end) = end else {
            let cut = rest.len() < LONGEST_PATH + 200;
            return Err(self.fault(if cut {
                "the bundle ends here, before its end".to_owned()
            } else {
                "this line is longer than any line of a bundle".to_owned()
            }));
        };
        let line = std::str::from_utf8(&rest[..end])
            .map_err(|_| self.fault("this line is not plain UTF-8 text".to_owned()))?;
        self.at += end + 1;
        self.line += 1;
        Ok(line)
    }

    fn file(&mut self, limits: Limits) -> Result<FileText, BundleError> {
        let line = self.line()?.to_owned();
        let mut words = line
            .strip_prefix("file ")
            .unwrap_or_default()
            .splitn(3, ' ');
        let (length, hash, path) = (words.next().and_then(number), words.next(), words.next());
        let (Some(length), Some(hash), Some(path)) = (length, hash, path) else {
            return Err(self.fault_above(
                "here belongs `file`, its length in bytes, its SHA-256 and its path".to_owned(),
            ));
        };
        if let Some(trouble) = unsafe_path(path, limits.depth) {
            return Err(
                self.fault_above(format!("`{}` cannot be unpacked: {trouble}", shown(path)))
            );
        }
        if length > limits.file_bytes {
            return Err(self.fault_above(format!(
                "{path} is larger than {} MiB",
                limits.file_bytes >> 20
            )));
        }
        let start = self.at;
        let end = usize::try_from(length)
            .ok()
            .and_then(|length| start.checked_add(length));
        let text = end.and_then(|end| Some((self.bytes.get(start..end)?, *self.bytes.get(end)?)));
        let Some((text, after)) = text else {
            return Err(self.fault(format!("the bundle ends inside {path}")));
        };
        if hash != sha256(text) || after != b'\n' {
            return Err(self.fault(damaged(path)));
        }
        let Ok(text) = std::str::from_utf8(text) else {
            return Err(self.fault(format!("{path} is not plain UTF-8 text")));
        };
        if let Err(problems) = library_file(text) {
            let first = &problems[0];
            let line = self.line + first.line.saturating_sub(1);
            return Err(BundleError {
                line,
                message: format!(
                    "{path} is no good library file: {} ({})",
                    first.message, first.code
                ),
            });
        }
        self.at += text.len() + 1;
        self.line += text.bytes().filter(|byte| *byte == b'\n').count() + 1;
        Ok(FileText {
            path: path.to_owned(),
            text: text.to_owned(),
        })
    }
}

/// Why a path is refused. A rule for all systems, so that a bundle that unpacks for one coach
/// unpacks for another.
pub(super) fn unsafe_path(path: &str, depth: usize) -> Option<&'static str> {
    /// Names that are devices on Windows whatever follows the first dot.
    const DEVICES: &[&str] = &["con", "prn", "aux", "nul", "conin$", "conout$"];
    let odd = |c: char| {
        c.is_control()
            || matches!(c, '\\' | ':' | '*' | '?' | '"' | '<' | '>' | '|')
            || matches!(c, '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
    };
    let parts: Vec<&str> = path.split('/').collect();
    let device = |part: &str| {
        let stem = part
            .split('.')
            .next()
            .unwrap_or_default()
            .trim_end()
            .to_lowercase();
        let numbered = stem
            .strip_prefix("com")
            .or_else(|| stem.strip_prefix("lpt"));
        DEVICES.contains(&stem.as_str()) || numbered.is_some_and(|rest| rest.chars().count() == 1)
    };
    if path.starts_with('/') {
        Some("it leads from the root of the disk")
    } else if path.chars().any(odd) {
        Some("it holds a character that a file name may not hold everywhere")
    } else if path.len() > LONGEST_PATH || parts.iter().any(|part| part.len() > LONGEST_PART) {
        Some("it is too long")
    } else if parts.len() > depth {
        Some("it is too deep")
    } else if parts
        .iter()
        .any(|part| part.is_empty() || part.starts_with('.'))
    {
        Some("a part of it is empty or starts with a dot")
    } else if parts
        .iter()
        .any(|part| part.starts_with(' ') || part.ends_with([' ', '.']))
    {
        Some("a part of it starts or ends with a blank, or ends with a dot")
    } else if parts.iter().any(|part| device(part)) {
        Some("a part of it is the name of a device")
    } else if !(path.ends_with(".yaml") || path.ends_with(".yml")) {
        Some("a bundle holds library files, which end in .yaml")
    } else {
        None
    }
}

/// A path from a stranger, for a message: signs for what could steer a terminal, and not too long.
fn shown(path: &str) -> String {
    path.escape_debug().take(120).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn file(path: &str, text: &str) -> FileText {
        FileText {
            path: path.to_owned(),
            text: text.to_owned(),
        }
    }

    fn sample() -> Vec<FileText> {
        vec![
            file("drills/a.yaml", "drills:\n- id: a\n  name: Ä\n  treats: []"),
            file("b.yaml", "faults:\n- id: b\n  name: B\n  stage: top\n"),
        ]
    }

    fn read(bytes: &[u8]) -> Result<Vec<FileText>, BundleError> {
        read_bundle(bytes, Limits::default())
    }

    /// A bundle around a header line that is not ours, its hashes put right.
    fn forged(path: &str, text: &str) -> String {
        let body = format!(
            "{HEAD}\nfiles 1\nfile {} {} {path}\n{text}\n",
            text.len(),
            sha256(text.as_bytes())
        );
        let hash = sha256(body.as_bytes());
        format!("{body}end {hash}\n")
    }

    #[test]
    fn what_was_packed_is_what_is_read_sorted() {
        let bundle = pack(&sample());
        let mut files = sample();
        files.reverse();
        assert_eq!(read(bundle.as_bytes()), Ok(files.clone()));
        assert_eq!(pack(&files), bundle);
        assert_eq!(read(pack(&[]).as_bytes()), Ok(Vec::new()));
    }

    #[test]
    fn a_bundle_cut_anywhere_is_refused() {
        let bundle = pack(&sample());
        for end in 0..bundle.len() {
            assert!(read(&bundle.as_bytes()[..end]).is_err(), "{end}");
        }
    }

    #[test]
    fn a_bundle_with_one_byte_changed_is_refused() {
        let bundle = pack(&sample()).into_bytes();
        for at in 0..bundle.len() {
            let mut bytes = bundle.clone();
            bytes[at] ^= 1;
            assert!(read(&bytes).is_err(), "{at}");
        }
        assert!(read(&[bundle, b"more".to_vec()].concat()).is_err());
    }

    #[test]
    fn a_path_that_could_leave_the_folder_is_refused() {
        for path in [
            "/etc/a.yaml",
            "../a.yaml",
            "a/../../b.yaml",
            "./a.yaml",
            "a//b.yaml",
            "..\\a.yaml",
            "C:a.yaml",
            "c:\\a.yaml",
            "a.yaml:stream.yaml",
            ".hidden.yaml",
            ".git/a.yaml",
            "a/.b/c.yaml",
            "con.yaml",
            "drills/NUL.x.yaml",
            "com1.yaml",
            "a. /b.yaml",
            " a.yaml",
            "a.txt",
            "a.yaml/",
            "a\u{202e}lmay.yaml",
            "a\tb.yaml",
            "a\u{1b}[2J.yaml",
            "",
            "~",
            "a\u{200b}.yaml",
        ] {
            let error = read(forged(path, "faults:\n").as_bytes()).expect_err(path);
            assert_eq!(error.line, 3, "{path}: {error}");
        }
        assert!(read(forged(&format!("{}a.yaml", "d/".repeat(16)), "").as_bytes()).is_err());
        assert!(read(forged(&format!("{}.yaml", "x".repeat(200)), "").as_bytes()).is_err());
        assert!(read(forged("~/größe/ok name.yaml", "").as_bytes()).is_ok());
    }

    #[test]
    fn a_text_that_is_no_library_file_is_refused() {
        for text in [
            "faults:\n  - id: a\u{202e}\n",
            "a: &x 1\n",
            "drills: [\u{7}]",
            "name: x\n",
            &"[".repeat(5_000),
        ] {
            assert!(
                read(forged("a.yaml", text).as_bytes()).is_err(),
                "{text:.20}"
            );
        }
        let error = read(
            forged(
                "a.yaml",
                "faults:\n  - id: a\n    nmae: A\n    stage: top\n",
            )
            .as_bytes(),
        );
        assert_eq!(error.map_err(|error| error.line), Err(6));
    }

    #[test]
    fn sizes_are_kept_to() {
        let limits = Limits {
            file_bytes: 10,
            library_bytes: 15,
            files: 2,
            ..Limits::default()
        };
        let lines = |n: usize| "#".repeat(n);
        let read = |files: &[FileText]| {
            read_bundle(pack(files).as_bytes(), limits).map(|files| files.len())
        };
        assert_eq!(read(&[file("a.yaml", &lines(10))]), Ok(1));
        assert!(read(&[file("a.yaml", &lines(11))]).is_err());
        assert!(read(&[file("a.yaml", &lines(8)), file("b.yaml", &lines(8))]).is_err());
        assert!(read(&[file("a.yaml", ""), file("b.yaml", ""), file("c.yaml", "")]).is_err());
        // A length that nothing could hold is not believed.
        let huge = format!("{HEAD}\nfiles 1\nfile 18446744073709551615 x a.yaml\n");
        assert!(
            read_bundle(
                huge.as_bytes(),
                Limits {
                    file_bytes: u64::MAX,
                    ..limits
                }
            )
            .is_err()
        );
        assert!(
            read_bundle(
                format!("{HEAD}\nfiles 99999999999999999999\n").as_bytes(),
                limits
            )
            .is_err()
        );
    }

    #[test]
    fn two_files_in_one_place_are_refused() {
        for (one, two) in [
            ("a.yaml", "A.yaml"),
            ("a.yaml", "a.yaml"),
            ("a.yaml", "a.yaml/b.yaml"),
            ("a.yaml/b.yaml", "a.yaml"),
            ("Ä.yaml/b.yaml", "ä.yaml"),
        ] {
            let bundle = pack(&[file(one, ""), file(two, "")]);
            assert!(read(bundle.as_bytes()).is_err(), "{one} {two}");
        }
        assert!(
            read(
                pack(&[
                    file("a.yaml", ""),
                    file("ab.yaml", ""),
                    file("a/b.yaml", "")
                ])
                .as_bytes()
            )
            .is_ok()
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]

        /// Any bytes, and any bytes in place of some of a good bundle, give a bundle or an error.
        #[test]
        fn no_bytes_bring_the_reader_down(noise in proptest::collection::vec(any::<u8>(), 0..400), at in 0..300_usize, length in 0..60_usize) {
            let _ = read(&noise);
            let mut bytes = pack(&sample()).into_bytes();
            let start = at.min(bytes.len());
            let end = (start + length).min(bytes.len());
            bytes.splice(start..end, noise);
            if let Ok(files) = read(&bytes) {
                prop_assert!(files.iter().all(|file| unsafe_path(&file.path, 16).is_none()));
            }
        }

        /// Lines of a bundle in any order and number.
        #[test]
        fn no_lines_bring_the_reader_down(lines in proptest::collection::vec("(fairwhy-bundle 1|files [0-9]{1,20}|file [0-9]{1,3} [0-9a-f]{0,64} [a-z./]{0,12}|end [0-9a-f]{0,64}|[a-z: -]{0,20}|\\PC{0,20})", 0..12)) {
            let _ = read(format!("{HEAD}\n{}", lines.join("\n")).as_bytes());
        }

        /// Packing and reading is the identity on files with good paths, whatever comments say. All
        /// paths start with a k: no device does.
        #[test]
        fn every_packed_library_comes_back(texts in proptest::collection::btree_map("k[a-z]{0,5}/k[a-z0-9]{0,5}\\.yaml", "(# [a-zäöü€ ]{0,30}\n){0,4}", 0..6)) {
            let files: Vec<FileText> = texts.iter().map(|(path, text)| file(path, text)).collect();
            prop_assert_eq!(read(pack(&files).as_bytes()), Ok(files));
        }
    }
}
