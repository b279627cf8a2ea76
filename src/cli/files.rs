//! Files that are written: whole or not at all, and over another only when that was asked for.

use super::Failure;
use std::io::Write;
use std::path::Path;

/// Refuses a file that is there already, unless it may be written over, and a folder.
pub(crate) fn free(path: &Path, option: &str, replace: bool) -> Result<(), Failure> {
    if path.is_dir() {
        return Err(Failure::NotDone(format!(
            "error: `{}` is a folder\n  help: name a file in it with {option}",
            path.display()
        )));
    }
    if path.exists() && !replace {
        return Err(taken(path));
    }
    Ok(())
}

fn taken(path: &Path) -> Failure {
    Failure::NotDone(format!(
        "error: `{}` is there already and was left as it is\n  help: name another file, or say --replace",
        path.display()
    ))
}

/// Writes a file whole or not at all: into a new file beside it, which then takes its name. A file
/// that is there is only replaced when that was asked for, even one that appeared just now.
pub(crate) fn write_file(path: &Path, text: &str, replace: bool) -> Result<(), Failure> {
    // A page is for anyone to read; the umask still takes from this what it takes from every file.
    write_with(path, text, replace, 0o666)
}

/// The same for its owner's eyes only.
pub(crate) fn write_private(path: &Path, text: &str, replace: bool) -> Result<(), Failure> {
    write_with(path, text, replace, 0o600)
}

fn write_with(path: &Path, text: &str, replace: bool, mode: u32) -> Result<(), Failure> {
    let not_written = |error: &std::io::Error| {
        Failure::NotDone(format!(
            "error: `{}` could not be written: {error}\n  help: name a file in a folder that is there and that you may write to",
            path.display()
        ))
    };
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".fairwhy-");
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(mode));
    #[cfg(not(unix))]
    let _ = mode;
    let mut file = builder.tempfile_in(folder).map_err(|e| not_written(&e))?;
    file.write_all(text.as_bytes())
        .and_then(|()| file.as_file().sync_all())
        .map_err(|e| not_written(&e))?;
    if replace {
        file.persist(path).map_err(|e| not_written(&e.error))?;
    } else {
        file.persist_noclobber(path).map_err(|e| {
            if e.error.kind() == std::io::ErrorKind::AlreadyExists {
                taken(path)
            } else {
                not_written(&e.error)
            }
        })?;
    }
    Ok(())
}
