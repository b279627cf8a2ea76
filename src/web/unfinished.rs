//! Lessons as they were last seen, so that a stopped browser or server loses none.
//!
//! The address of a page holds the whole lesson; what is kept is that address, one file a lesson. Two
//! tabs that go on from one lesson are told apart by where each of them stood: the second to answer gets
//! a file of its own.

use serde::{Deserialize, Serialize};
use std::fs;
use std::io::Write;
use std::path::PathBuf;
use std::time::SystemTime;

/// A draft is an address; more than this is none.
const LARGEST: u64 = 256 * 1024;

/// So many are kept; the oldest go first.
const MOST: usize = 100;

/// The folder of lessons that are not finished.
pub(super) struct UnfinishedLessons {
    folder: PathBuf,
}

/// A lesson that is not finished.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct UnfinishedLesson {
    /// What the page asks: the part of its address behind `?`.
    pub(super) ask: String,
    /// What it is about, for a list.
    pub(super) about: String,
}

/// Whether this is the name of a draft: so it never names anything else in the folder, or beside it.
pub(super) fn is_name(text: &str) -> bool {
    text.len() == 16 && text.bytes().all(|byte| byte.is_ascii_hexdigit())
}

impl UnfinishedLessons {
    pub(super) fn new(folder: PathBuf) -> Self {
        Self { folder }
    }

    fn path(&self, name: &str) -> Option<PathBuf> {
        is_name(name).then(|| self.folder.join(format!("{name}.json")))
    }

    /// The draft of this name, where there is one that can be read.
    pub(super) fn find(&self, name: &str) -> Option<UnfinishedLesson> {
        let path = self.path(name)?;
        if fs::metadata(&path).ok()?.len() > LARGEST {
            return None;
        }
        serde_json::from_slice(&fs::read(path).ok()?).ok()
    }

    /// Every draft with its name, last seen first.
    pub(super) fn list(&self) -> Vec<(String, UnfinishedLesson)> {
        let mut found: Vec<(SystemTime, String)> = self.files();
        found.sort_by(|one, other| other.cmp(one));
        let named = found.into_iter();
        named
            .filter_map(|(_, name)| Some((name.clone(), self.find(&name)?)))
            .collect()
    }

    fn files(&self) -> Vec<(SystemTime, String)> {
        let Ok(entries) = fs::read_dir(&self.folder) else {
            return Vec::new();
        };
        entries
            .filter_map(|entry| {
                let entry = entry.ok()?;
                let name = entry
                    .file_name()
                    .to_str()?
                    .strip_suffix(".json")?
                    .to_owned();
                let seen = entry.metadata().ok()?.modified().ok()?;
                is_name(&name).then_some((seen, name))
            })
            .collect()
    }

    /// Keeps a draft whole or not at all; for the coach's eyes only, since it is about a student.
    pub(super) fn keep(&self, name: &str, draft: &UnfinishedLesson) -> std::io::Result<()> {
        let Some(path) = self.path(name) else {
            return Ok(());
        };
        fs::create_dir_all(&self.folder)?;
        let mut file = tempfile::NamedTempFile::new_in(&self.folder)?;
        serde_json::to_writer(&mut file, draft)?;
        file.flush()?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|error| error.error)?;
        let mut files = self.files();
        files.sort();
        for (_, name) in files.iter().take(files.len().saturating_sub(MOST)) {
            self.forget(name)?;
        }
        Ok(())
    }

    /// Takes a draft away; one that is not there is no trouble.
    pub(super) fn forget(&self, name: &str) -> std::io::Result<()> {
        let Some(path) = self.path(name) else {
            return Ok(());
        };
        match fs::remove_file(path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(error),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_draft_comes_back_and_its_name_leads_nowhere_else() {
        let folder = tempfile::tempdir().expect("made");
        let drafts = UnfinishedLessons::new(folder.path().join("lessons"));
        let draft = UnfinishedLesson {
            ask: "note=slice".to_owned(),
            about: "slice".to_owned(),
        };
        drafts.keep("0123456789abcdef", &draft).expect("kept");
        assert_eq!(drafts.find("0123456789abcdef"), Some(draft.clone()));
        assert_eq!(drafts.list().len(), 1);
        for name in [
            "../../../etc/passwd",
            "",
            "0123456789abcdeg",
            "0123456789ABCDEF0",
        ] {
            drafts.keep(name, &draft).expect("nothing done");
            assert_eq!(drafts.find(name), None);
        }
        assert_eq!(fs::read_dir(folder.path()).expect("there").count(), 1);
        drafts.forget("0123456789abcdef").expect("gone");
        drafts.forget("0123456789abcdef").expect("gone already");
        assert!(drafts.list().is_empty());
    }

    #[test]
    fn no_more_are_kept_than_a_coach_can_look_through() {
        let folder = tempfile::tempdir().expect("made");
        let drafts = UnfinishedLessons::new(folder.path().to_owned());
        let draft = UnfinishedLesson {
            ask: String::new(),
            about: String::new(),
        };
        for number in 0..MOST + 3 {
            drafts
                .keep(&format!("{number:016x}"), &draft)
                .expect("kept");
        }
        assert_eq!(drafts.files().len(), MOST);
    }
}
