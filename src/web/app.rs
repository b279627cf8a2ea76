//! Everything that a page is made from.

use super::guard::Guard;
use super::served_library::ServedLibrary;
use super::unfinished::UnfinishedLessons;
use crate::records::StorePlace;
use std::collections::VecDeque;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;
use tokio::sync::Mutex;

/// What a server is set up with.
pub struct Setup {
    /// The library.
    pub library: ServedLibrary,
    /// The folder of what is the coach's own.
    pub home: PathBuf,
    /// Where records are.
    pub records: StorePlace,
    /// Who writes records; empty when that is not said.
    pub coach: String,
    /// Whether nothing is written.
    pub read_only: bool,
}

/// Everything that a page is made from.
pub struct App {
    guard: Guard,
    /// The library, which a save replaces.
    pub(super) library: ServedLibrary,
    /// Lessons as they were last seen.
    pub(super) drafts: UnfinishedLessons,
    pub(super) records: StorePlace,
    pub(super) coach: String,
    pub(super) read_only: bool,
    /// Lessons kept on a record last in this run, oldest first: what they ask, and where that led.
    pub(super) saved: Mutex<VecDeque<(String, String)>>,
    /// A request that takes longer, body and all, is given up.
    pub(super) patience: Duration,
}

/// How long a request may take where nothing else is said.
const PATIENCE: Duration = Duration::from_secs(10);

impl App {
    /// An app for a server at this address.
    ///
    /// # Errors
    ///
    /// When the system has no random numbers for the link's key.
    pub fn new(address: SocketAddr, setup: Setup) -> std::io::Result<Self> {
        Ok(Self {
            guard: Guard::new(address)?,
            library: setup.library,
            drafts: UnfinishedLessons::new(setup.home.join("lessons")),
            records: setup.records,
            coach: setup.coach,
            read_only: setup.read_only,
            saved: Mutex::default(),
            patience: PATIENCE,
        })
    }

    /// The same with another bound on how long a request may take, body and all.
    #[must_use]
    pub fn give_up_after(self, patience: Duration) -> Self {
        Self { patience, ..self }
    }

    /// The address that lets one browser in, with its one-use key.
    #[must_use]
    pub fn link(&self) -> String {
        self.guard.link()
    }

    pub(super) fn guard(&self) -> &Guard {
        &self.guard
    }
}
