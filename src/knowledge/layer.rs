//! A layer: one folder of knowledge as text, or what ships inside the program.

use super::node::YamlNode;
use super::packed::{self, Packed};
use super::problem::Problem;
use super::yaml::read;
use std::borrow::Cow;
use std::sync::{LazyLock, OnceLock};

include!(concat!(env!("OUT_DIR"), "/shipped.rs"));

/// The name of the layer that ships inside the program.
pub const SHIPPED_LAYER: &str = "shipped";

/// One file of a layer.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FileText {
    /// Relative to the layer's folder, with `/` between its parts.
    pub path: String,
    /// All of it; what ships lies in the program.
    pub text: Cow<'static, str>,
}

/// One folder of knowledge, read but not yet understood.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LayerText {
    /// [`SHIPPED_LAYER`], or the folder as the user gave it.
    pub name: String,
    /// Its files, sorted by path.
    pub files: Vec<FileText>,
    /// What was left unread on purpose, such as a link out of the folder; warnings only.
    pub skipped: Vec<Problem>,
}

impl LayerText {
    /// A layer from pairs of path and text, sorted by path.
    #[must_use]
    pub fn new<P: Into<String>, T: Into<String>>(
        name: impl Into<String>,
        files: impl IntoIterator<Item = (P, T)>,
    ) -> Self {
        let mut files: Vec<FileText> = files
            .into_iter()
            .map(|(path, text)| FileText {
                path: path.into(),
                text: Cow::Owned(text.into()),
            })
            .collect();
        files.sort_by(|a, b| a.path.cmp(&b.path));
        Self {
            name: name.into(),
            files,
            skipped: Vec::new(),
        }
    }
}

/// The library that ships inside the program.
#[must_use]
pub fn shipped() -> LayerText {
    let file = |file: &ShippedFile| FileText {
        path: file.path.to_owned(),
        text: Cow::Borrowed(file.text),
    };
    LayerText {
        name: SHIPPED_LAYER.to_owned(),
        files: SHIPPED.iter().map(file).collect(),
        skipped: Vec::new(),
    }
}

/// One file that ships.
pub(super) struct ShippedFile {
    pub(super) path: &'static str,
    pub(super) text: &'static str,
    /// What it says, as it was read when the program was built; empty when it could not be.
    packed: &'static str,
}

impl ShippedFile {
    /// What it says, if it was packed.
    pub(super) fn packed(&self) -> Option<Packed> {
        serde_json::from_str(self.packed).ok()
    }
}

/// The place among the files that ship of one that is there unchanged.
pub(super) fn as_shipped(file: &FileText) -> Option<usize> {
    let found = SHIPPED.binary_search_by(|shipped| shipped.path.cmp(&file.path));
    let place = found.ok()?;
    let text = SHIPPED[place].text;
    (std::ptr::eq(text, &raw const *file.text) || *text == *file.text).then_some(place)
}

/// A file that ships with the place of each of its words, parsed when somebody first asks where one
/// stands, which only a mistake does.
pub(super) fn tree(place: usize) -> Option<&'static YamlNode> {
    static TREES: LazyLock<Vec<OnceLock<Option<YamlNode>>>> =
        LazyLock::new(|| SHIPPED.iter().map(|_| OnceLock::new()).collect());
    TREES[place]
        .get_or_init(|| read(SHIPPED[place].text).ok().flatten())
        .as_ref()
}

/// SHA-256 over a layer, known beforehand of what ships.
pub(super) fn digest(layer: &LayerText) -> Cow<'static, str> {
    let as_shipped = |file| as_shipped(file).is_some();
    if layer.files.len() == SHIPPED.len() && layer.files.iter().all(as_shipped) {
        return Cow::Borrowed(SHIPPED_DIGEST);
    }
    let mut files: Vec<&FileText> = layer.files.iter().collect();
    files.sort_by(|a, b| a.path.cmp(&b.path));
    let named = files.iter().map(|file| (file.path.as_str(), &*file.text));
    Cow::Owned(packed::digest(named))
}
