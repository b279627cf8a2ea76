//! A layer: one folder of knowledge as text, or what ships inside the program.

use super::packed::Packed;
use super::problem::Problem;

include!(concat!(env!("OUT_DIR"), "/shipped.rs"));

/// The name of the layer that ships inside the program.
pub const SHIPPED_LAYER: &str = "shipped";

/// One file of a layer.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FileText {
    /// Relative to the layer's folder, with `/` between its parts.
    pub path: String,
    /// All of it.
    pub text: String,
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
                text: text.into(),
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
    LayerText::new(
        SHIPPED_LAYER,
        SHIPPED.iter().map(|(path, text, ..)| (*path, *text)),
    )
}

/// The file as it was parsed when the program was built, if it is one that ships, unchanged.
pub(super) fn parsed_at_build(file: &FileText) -> Option<Packed> {
    let found = SHIPPED.binary_search_by(|(path, ..)| (*path).cmp(&file.path));
    let (_, text, form, texts) = SHIPPED.get(found.ok()?)?;
    (*text == file.text && !form.is_empty()).then(|| Packed::new(form, texts))
}
