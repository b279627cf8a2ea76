//! The pairs of an address or a form, in order, and what was wrong with them.

use axum::body::Bytes;

/// More pairs than this are no lesson.
const MOST_PAIRS: usize = 600;

/// What was sent, in order; a name may come more than once.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Fields(Vec<(String, String)>);

/// A value that cannot be taken: which field, what is wrong and what to write instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Wrong {
    /// The field.
    pub(super) field: String,
    /// What is wrong.
    pub(super) message: String,
    /// What to write instead.
    pub(super) help: String,
}

impl Wrong {
    pub(super) fn new(field: &str, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self {
            field: field.to_owned(),
            message: message.into(),
            help: help.into(),
        }
    }
}

impl Fields {
    /// The pairs of the part of an address behind `?`, or of a form that was sent.
    pub(super) fn parse(text: &str) -> Result<Self, Wrong> {
        Self::of(text.as_bytes())
    }

    /// The same of the body of a form.
    pub(super) fn of_body(body: &Bytes) -> Result<Self, Wrong> {
        Self::of(body)
    }

    fn of(bytes: &[u8]) -> Result<Self, Wrong> {
        let mut pairs = Vec::new();
        for (name, value) in form_urlencoded::parse(bytes) {
            if pairs.len() == MOST_PAIRS {
                let help = format!("send at most {MOST_PAIRS}");
                return Err(Wrong::new("", "there are too many fields", help));
            }
            // A browser ends the lines of a note with two signs.
            pairs.push((name.into_owned(), value.replace("\r\n", "\n")));
        }
        Ok(Self(pairs))
    }

    /// The first value under a name, without the space around it; `None` when it is empty or not there.
    pub(super) fn one(&self, name: &str) -> Option<&str> {
        self.raw(name)
            .map(str::trim)
            .filter(|value| !value.is_empty())
    }

    /// The first value under a name, as it was sent.
    pub(super) fn raw(&self, name: &str) -> Option<&str> {
        let mut pairs = self.0.iter();
        pairs
            .find(|(own, _)| own == name)
            .map(|(_, value)| value.as_str())
    }

    /// Every pair, in order.
    pub(super) fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
    }
}

/// The pairs as the part of an address behind `?`.
pub(super) fn query<'a>(pairs: impl IntoIterator<Item = (&'a str, &'a str)>) -> String {
    let mut text = form_urlencoded::Serializer::new(String::new());
    text.extend_pairs(pairs);
    text.finish()
}
