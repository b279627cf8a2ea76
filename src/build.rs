//! Lists the shipped library at build time, so that the program carries it wherever it goes.
//!
//! Every YAML file below `knowledge/` becomes one `include_str!`. Cargo rebuilds when a file in that
//! folder is added, changed or deleted.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    println!("cargo::rerun-if-changed=knowledge");
    println!("cargo::rerun-if-changed=src/build.rs");
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").expect("cargo sets it"));
    let library = root.join("knowledge");
    let mut files = Vec::new();
    if library.is_dir() {
        collect(&library, "", &mut files)?;
    }
    files.sort();
    let mut code = String::from("const SHIPPED: &[(&str, &str)] = &[\n");
    for (name, path) in &files {
        writeln!(code, "    ({name:?}, include_str!({path:?})),").expect("writing to a string");
    }
    code.push_str("];\n");
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets it"));
    fs::write(out.join("shipped.rs"), code)
}

/// Adds every YAML file below `folder`, named relative to the library with `/` between its parts.
fn collect(folder: &Path, prefix: &str, files: &mut Vec<(String, PathBuf)>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let kind = entry.file_type()?;
        let path = entry.path();
        if kind.is_dir() {
            collect(&path, &format!("{prefix}{name}/"), files)?;
        } else if kind.is_file() && path.extension().is_some_and(|e| e == "yaml" || e == "yml") {
            files.push((format!("{prefix}{name}"), path));
        }
    }
    Ok(())
}
