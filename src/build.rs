//! Lists the shipped library at build time, so that the program carries it wherever it goes.
//!
//! Every YAML file below `knowledge/` becomes one `include_str!`, with what it says packed beside it:
//! reading two megabytes of YAML costs more than everything else that a start does. A file that cannot
//! be read is carried as it is, and the program reports it like any other. Cargo rebuilds when a file
//! in that folder is added, changed or deleted.

#[path = "knowledge/document.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod document;
#[path = "knowledge/drill_text.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod drill_text;
#[path = "knowledge/graded.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod graded;
#[path = "knowledge/node.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod node;
#[path = "knowledge/packed.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod packed;
#[path = "knowledge/plain_values.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod plain_values;
#[path = "knowledge/spoken.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod spoken;
#[path = "knowledge/vocabulary.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod vocabulary;
#[path = "knowledge/words.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod words;
#[path = "knowledge/yaml.rs"]
#[allow(dead_code, reason = "the program uses the rest")]
mod yaml;

use node::{Content, TextPlace, YamlNode};
use packed::Packed;
use std::fmt::Write as _;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use std::{env, fs, io};
use yaml::read;

/// Every list of a library file, in the order in which [`Packed::places`] goes through them.
const LISTS: [&str; 21] = [
    "outcomes",
    "faults",
    "causes",
    "drills",
    "sources",
    "links",
    "facts",
    "body_words",
    "stages",
    "cases",
    "sayings",
    "synonyms",
    "opposites",
    "shorthand",
    "clubs",
    "denials",
    "hedges",
    "topics",
    "flights",
    "numbers",
    "word_lists",
];

fn main() -> io::Result<()> {
    println!("cargo::rerun-if-changed=knowledge");
    println!("cargo::rerun-if-changed=src/build.rs");
    println!(
        "cargo::rustc-env=FAIRWHY_INDEX_SOURCE={:016x}",
        source_hash()?
    );
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").expect("cargo sets it"));
    let library = root.join("knowledge");
    let mut files = Vec::new();
    if library.is_dir() {
        collect(&library, "", &mut files)?;
    }
    files.sort();
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets it"));
    let mut texts = Vec::with_capacity(files.len());
    let mut code = String::from("pub(super) static SHIPPED: &[ShippedFile] = &[\n");
    for (index, (name, path)) in files.iter().enumerate() {
        let text = fs::read_to_string(path)?;
        let packed = out.join(format!("{index}.json"));
        fs::write(&packed, pack(&text).unwrap_or_default())?;
        writeln!(
            code,
            "    ShippedFile {{ path: {name:?}, text: include_str!({path:?}), packed: include_str!({packed:?}) }},"
        )
        .expect("writing to a string");
        texts.push(text);
    }
    code.push_str("];\n");
    let named = files.iter().zip(&texts);
    let digest = packed::digest(named.map(|((name, _), text)| (name.as_str(), text.as_str())));
    writeln!(
        code,
        "pub(super) static SHIPPED_DIGEST: &str = \"{digest}\";"
    )
    .expect("writing to a string");
    fs::write(out.join("shipped.rs"), code)
}

/// A file in its packed form; `None` when there is nothing in it, or something wrong with it, which
/// the program says when it reads the text.
fn pack(text: &str) -> Option<String> {
    let root = read(text).ok().flatten()?;
    let file = serde_yaml::from_str(text).ok()?;
    let lists = LISTS.iter().filter_map(|list| items(&root, list));
    let places = lists
        .flatten()
        .flat_map(|item| {
            let causes = items(item, "caused_by").unwrap_or_default();
            std::iter::once(item.at).chain(causes.iter().map(|cause| cause.at))
        })
        .map(|TextPlace { line, column }| (line, column))
        .collect();
    serde_json::to_string(&Packed { file, places }).ok()
}

/// The list under a key.
fn items<'n>(node: &'n YamlNode, key: &str) -> Option<&'n [YamlNode]> {
    match &node.get(key)?.content {
        Content::List(items) => Some(items),
        _ => None,
    }
}

/// An index that is kept on disk is right for one library and for one state of this code.
fn source_hash() -> io::Result<u64> {
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
    Ok(source.finish())
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
