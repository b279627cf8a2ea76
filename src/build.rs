//! Lists the shipped library at build time, so that the program carries it wherever it goes.
//!
//! Every YAML file below `knowledge/` becomes one `include_str!`, with the same file parsed beside
//! it: parsing a megabyte of YAML costs more than everything else that a start does. A file that
//! cannot be parsed is carried as it is, and the program reports it like any other. Cargo rebuilds
//! when a file in that folder is added, changed or deleted.

#[path = "knowledge/node.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod node;
#[path = "knowledge/packed.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod packed;

use std::fmt::Write as _;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    println!("cargo::rerun-if-changed=knowledge");
    println!("cargo::rerun-if-changed=src/build.rs");
    // An index that is kept on disk is right for one library and for one state of this code.
    let mut source = DefaultHasher::new();
    for room in ["src/search", "src/words", "src/knowledge"] {
        println!("cargo::rerun-if-changed={room}");
        let mut files: Vec<PathBuf> = fs::read_dir(room)?
            .map(|entry| entry.map(|entry| entry.path()))
            .collect::<io::Result<_>>()?;
        files.sort();
        for file in files.iter().filter(|file| file.is_file()) {
            fs::read(file)?.hash(&mut source);
        }
    }
    println!("cargo::rerun-if-changed=Cargo.lock");
    fs::read("Cargo.lock").ok().hash(&mut source);
    println!(
        "cargo::rustc-env=FAIRWHY_INDEX_SOURCE={:016x}",
        source.finish()
    );
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").expect("cargo sets it"));
    let library = root.join("knowledge");
    let mut files = Vec::new();
    if library.is_dir() {
        collect(&library, "", &mut files)?;
    }
    files.sort();
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets it"));
    let mut code = String::from("pub(super) static SHIPPED: &[(&str, &str, &[u8], &str)] = &[\n");
    for (index, (name, path)) in files.iter().enumerate() {
        let parsed = node::read(&fs::read_to_string(path)?).ok().flatten();
        let packed = parsed.map(|node| packed::pack(&node)).unwrap_or_default();
        let form = out.join(format!("{index}.form"));
        let texts = out.join(format!("{index}.texts"));
        fs::write(&form, packed.form)?;
        fs::write(&texts, packed.texts)?;
        writeln!(
            code,
            "    ({name:?}, include_str!({path:?}), include_bytes!({form:?}), include_str!({texts:?})),"
        )
        .expect("writing to a string");
    }
    code.push_str("];\n");
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
