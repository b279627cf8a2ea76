//! The library as the pages use it: read once, and again when something of it was saved.

use crate::knowledge::{KnowledgeBase, Paint, Problem, Stack, Wanted, report_problems};
use crate::search::{DrillIndex, DrillQueryError, LARGE_LIBRARY};
use crate::words::Reader;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// One state of the library, with what reads words and finds drills in it.
pub(super) struct Room {
    /// The library.
    pub(super) base: KnowledgeBase,
    /// What reads a coach's words in it.
    pub(super) reader: Reader,
    /// What of the coach's own the answers do without.
    pub(super) left_out: Vec<Problem>,
    cache: Option<PathBuf>,
    index: OnceLock<DrillIndex>,
}

impl Room {
    /// The index of drills, built when it is first asked.
    pub(super) fn index(&self) -> Result<&DrillIndex, DrillQueryError> {
        if let Some(index) = self.index.get() {
            return Ok(index);
        }
        let index = match &self.cache {
            Some(folder) if self.base.drills.len() >= LARGE_LIBRARY => {
                DrillIndex::kept_in(folder, &self.base)?.0
            }
            _ => DrillIndex::new(&self.base)?,
        };
        Ok(self.index.get_or_init(|| index))
    }
}

/// Why a library cannot be read.
#[derive(Debug)]
pub struct LibraryError {
    /// What is wrong with it.
    pub problems: Vec<Problem>,
    /// The same as a page of text.
    pub page: String,
}

/// The layers that are wanted, and the library that they make.
pub struct Library {
    /// Which layers.
    pub(super) wanted: Wanted,
    cache: Option<PathBuf>,
    room: Mutex<Arc<Room>>,
}

impl Library {
    /// Reads the layers; an index of a large library is kept in `cache`.
    ///
    /// # Errors
    ///
    /// Every problem that stops it.
    pub fn read(wanted: Wanted, cache: Option<PathBuf>) -> Result<Self, LibraryError> {
        let room = Mutex::new(Arc::new(read(&wanted, cache.clone())?));
        Ok(Self {
            wanted,
            cache,
            room,
        })
    }

    /// Reads the layers again, since something was saved; what was asked before goes on with what it had.
    pub(super) fn renew(&self) -> Result<(), LibraryError> {
        let room = Arc::new(read(&self.wanted, self.cache.clone())?);
        *self.room.lock().unwrap_or_else(PoisonError::into_inner) = room;
        Ok(())
    }

    /// The library as it now stands.
    pub(super) fn room(&self) -> Arc<Room> {
        Arc::clone(&self.room.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

fn read(wanted: &Wanted, cache: Option<PathBuf>) -> Result<Room, LibraryError> {
    let broken = |problems: Vec<Problem>, stack: &Stack| LibraryError {
        page: report_problems(&problems, &stack.layers, Paint::Plain),
        problems,
    };
    let mut stack = Stack::read(wanted).map_err(|problems| broken(problems, &Stack::default()))?;
    let loaded = stack.load().map_err(|problems| broken(problems, &stack))?;
    let reader = Reader::new(&loaded.base);
    Ok(Room {
        base: loaded.base,
        reader,
        left_out: stack.left_out,
        cache,
        index: OnceLock::new(),
    })
}
