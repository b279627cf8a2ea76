//! The library as the pages use it: read once, and again when something of it was saved, here or by
//! another program.

use crate::knowledge::{DrillKey, KnowledgeBase, Paint, Problem, Stack, Wanted, report_problems};
use crate::records::move_effects;
use crate::search::{DrillIndex, DrillQueryError, LARGE_LIBRARY};
use crate::words::Reader;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::{Duration, Instant, SystemTime};

/// One state of the library, with what reads words and finds drills in it.
pub(super) struct LibraryState {
    /// The library.
    pub(super) base: Arc<KnowledgeBase>,
    /// What reads a coach's words in it.
    pub(super) reader: Arc<Reader>,
    /// What of the coach's own the answers do without.
    pub(super) left_out: Vec<Problem>,
    /// Why this is not what now stands in the folders; empty where it is.
    stale: Mutex<Vec<Problem>>,
    cache: Option<PathBuf>,
    index: OnceLock<DrillIndex>,
}

impl LibraryState {
    /// The index of drills, built when it is first asked.
    pub(super) fn index(&self) -> Result<&DrillIndex, DrillQueryError> {
        if let Some(index) = self.index.get() {
            return Ok(index);
        }
        let index = match &self.cache {
            Some(folder) if self.base.drills.len() >= LARGE_LIBRARY => {
                DrillIndex::kept_in(folder, &self.base)?.0
            }
            _ => DrillIndex::beside(&self.base, Arc::clone(&self.reader))?,
        };
        Ok(self.index.get_or_init(|| index))
    }

    /// Why the folders, which were changed since, cannot be read; empty where nothing was, or all can.
    pub(super) fn stale(&self) -> Vec<Problem> {
        locked(&self.stale).clone()
    }
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
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
pub struct ServedLibrary {
    /// Which layers.
    pub(super) wanted: Wanted,
    cache: Option<PathBuf>,
    now: Mutex<Now>,
    moved: Mutex<Option<Moved>>,
}

/// How often each drill was tried, and how often it worked.
type Tries = BTreeMap<DrillKey, (usize, f64)>;

/// A library whose effects were moved by what became of drills.
struct Moved {
    of: Arc<KnowledgeBase>,
    tries: Tries,
    base: Arc<KnowledgeBase>,
}

/// The library as it was last read.
struct Now {
    room: Arc<LibraryState>,
    files: Files,
    looked: Instant,
}

/// The files of the folders, each with when it was written and how long it is.
type Files = Vec<(PathBuf, Option<SystemTime>, u64)>;

/// So long the folders are taken to be as they were.
const AS_IT_WAS: Duration = Duration::from_millis(200);

/// Folders in folders are looked into so far.
const DEEPEST: usize = 8;

impl ServedLibrary {
    /// Reads the layers; an index of a large library is kept in `cache`.
    ///
    /// # Errors
    ///
    /// Every problem that stops it.
    pub fn read(wanted: Wanted, cache: Option<PathBuf>) -> Result<Self, LibraryError> {
        // Looked at before it is read: what is written in between is then read once more.
        let files = files(&wanted);
        let now = Mutex::new(Now {
            room: Arc::new(read(&wanted, cache.clone())?),
            files,
            looked: Instant::now(),
        });
        Ok(Self {
            wanted,
            cache,
            now,
            moved: Mutex::default(),
        })
    }

    /// Reads the layers again, since something was saved; what was asked before goes on with what it had.
    pub(super) fn renew(&self) -> Result<(), LibraryError> {
        let files = files(&self.wanted);
        let room = Arc::new(read(&self.wanted, self.cache.clone())?);
        *locked(&self.now) = Now {
            room,
            files,
            looked: Instant::now(),
        };
        Ok(())
    }

    /// A library with its effects as these tries move them; made once for the same tries.
    pub(super) fn moved(&self, of: &Arc<KnowledgeBase>, tries: Tries) -> Arc<KnowledgeBase> {
        let mut moved = locked(&self.moved);
        if let Some(made) = &*moved
            && Arc::ptr_eq(&made.of, of)
            && made.tries == tries
        {
            return Arc::clone(&made.base);
        }
        let mut base = KnowledgeBase::clone(of);
        move_effects(&mut base, &tries);
        let base = Arc::new(base);
        *moved = Some(Moved {
            of: Arc::clone(of),
            tries,
            base: Arc::clone(&base),
        });
        base
    }

    /// The library as it now stands: what another program saved in its folders is read. Where that cannot
    /// be read, the pages go on with what they had, and say so.
    pub(super) fn room(&self) -> Arc<LibraryState> {
        let mut now = locked(&self.now);
        if now.looked.elapsed() > AS_IT_WAS {
            let files = files(&self.wanted);
            if files != now.files {
                match read(&self.wanted, self.cache.clone()) {
                    Ok(room) => now.room = Arc::new(room),
                    Err(error) => *locked(&now.room.stale) = error.problems,
                }
                now.files = files;
            }
            now.looked = Instant::now();
        }
        Arc::clone(&now.room)
    }
}

fn files(wanted: &Wanted) -> Files {
    let mut found = Files::new();
    let own = wanted.own.iter().chain(&wanted.top);
    for folder in wanted.folders.iter().chain(own) {
        files_in(folder, DEEPEST, &mut found);
    }
    found.sort();
    found
}

fn files_in(folder: &Path, deeper: usize, found: &mut Files) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let path = entry.path();
        let Ok(about) = fs::metadata(&path) else {
            continue;
        };
        if about.is_dir() && deeper > 0 {
            files_in(&path, deeper - 1, found);
        } else if about.is_file() {
            found.push((path, about.modified().ok(), about.len()));
        }
    }
}

fn read(wanted: &Wanted, cache: Option<PathBuf>) -> Result<LibraryState, LibraryError> {
    let broken = |problems: Vec<Problem>, stack: &Stack| LibraryError {
        page: report_problems(&problems, &stack.layers, Paint::Plain),
        problems,
    };
    let mut stack = Stack::read(wanted).map_err(|problems| broken(problems, &Stack::default()))?;
    let loaded = stack.load().map_err(|problems| broken(problems, &stack))?;
    let reader = Arc::new(Reader::new(&loaded.base));
    Ok(LibraryState {
        base: Arc::new(loaded.base),
        reader,
        left_out: stack.left_out,
        stale: Mutex::default(),
        cache,
        index: OnceLock::new(),
    })
}
