//! Where a coach's own files live.

use super::Failure;
use etcetera::BaseStrategy;
use std::path::PathBuf;

/// The folder of everything that is the coach's own: `FAIRWHY_HOME`, or `fairwhy` in the platform's
/// data folder.
pub(crate) fn home() -> Result<PathBuf, Failure> {
    if let Some(set) = std::env::var_os("FAIRWHY_HOME").filter(|set| !set.is_empty()) {
        return Ok(PathBuf::from(set));
    }
    let platform = etcetera::base_strategy::choose_native_strategy();
    let platform = platform.map(|platform| platform.data_dir().join("fairwhy"));
    platform.map_err(|_| {
        Failure::NotDone(
            "error: there is no home folder to keep your own entries in\n  help: set FAIRWHY_HOME to a folder, or name one with --to DIR".into(),
        )
    })
}

/// The folder for what can be made again at any time; `None` where the platform has none.
pub(crate) fn cache() -> Option<PathBuf> {
    let platform = etcetera::base_strategy::choose_native_strategy().ok()?;
    Some(platform.cache_dir().join("fairwhy"))
}

/// The folder of the coach's own library, there or not.
pub(crate) fn own_library() -> Result<PathBuf, Failure> {
    Ok(home()?.join("library"))
}
