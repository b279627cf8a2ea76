//! A library file as a tree in which every word knows its line and column.

/// Where something stands in a file; both count from 1, 0 means unknown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct TextPlace {
    pub(crate) line: usize,
    pub(crate) column: usize,
}

/// Something wrong in a file, before it is known which file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Flaw {
    pub(crate) at: TextPlace,
    pub(crate) code: &'static str,
    pub(crate) message: String,
    pub(crate) help: Option<String>,
}

impl Flaw {
    pub(crate) fn new(
        at: TextPlace,
        code: &'static str,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        let help = help.into();
        Self {
            at,
            code,
            message: message.into(),
            help: (!help.is_empty()).then_some(help),
        }
    }
}

/// A value and where it starts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct YamlNode {
    pub(crate) at: TextPlace,
    pub(crate) content: Content,
}

/// What a value is.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Content {
    /// Text; `plain` when it was written without quotes, so that it may stand for a number.
    Text { text: String, plain: bool },
    /// A number, once it is known that a number belongs here.
    Number(f64),
    /// A whole number, once it is known that one belongs here.
    Whole(u64),
    /// A list.
    List(Vec<YamlNode>),
    /// Keys with their values, in the order written, each key once.
    Map(Vec<(Key, YamlNode)>),
}

/// A key and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Key {
    pub(crate) at: TextPlace,
    pub(crate) text: String,
}

impl YamlNode {
    /// A key with its value.
    pub(crate) fn entry(&self, key: &str) -> Option<&(Key, YamlNode)> {
        match &self.content {
            Content::Map(entries) => entries.iter().find(|(own, _)| own.text == key),
            _ => None,
        }
    }

    /// The value under a key.
    pub(crate) fn get(&self, key: &str) -> Option<&YamlNode> {
        self.entry(key).map(|(_, node)| node)
    }

    /// The text of a value that is text.
    pub(crate) fn text(&self) -> Option<&str> {
        match &self.content {
            Content::Text { text, .. } => Some(text),
            _ => None,
        }
    }

    /// Whether nothing was written.
    pub(crate) fn is_nothing(&self) -> bool {
        match &self.content {
            Content::Text { text, plain: true } => {
                matches!(text.as_str(), "" | "~" | "null" | "Null" | "NULL")
            }
            _ => false,
        }
    }

    /// Where the value at the end of a path starts, or as far along it as there is something.
    pub(crate) fn find(&self, path: &[PathStep<'_>]) -> TextPlace {
        let Some((step, rest)) = path.split_first() else {
            return self.at;
        };
        let next = match (step, &self.content) {
            (PathStep::Key(key), _) => self.get(key),
            (PathStep::Item(index), Content::List(items)) => items.get(*index),
            (PathStep::Item(_), _) => None,
        };
        next.map_or(self.at, |node| node.find(rest))
    }

    /// The item that starts at a place in one of the lists under its keys.
    pub(crate) fn item_at(&self, at: TextPlace) -> Option<&YamlNode> {
        let Content::Map(lists) = &self.content else {
            return None;
        };
        lists.iter().find_map(|(_, list)| match &list.content {
            Content::List(items) => items.iter().find(|item| item.at == at),
            _ => None,
        })
    }

    /// Every text in it, with the key that it stands under.
    pub(crate) fn each_text<'n>(&'n self, look: &mut impl FnMut(&'n str, &'n str)) {
        self.each_text_under("", look);
    }

    fn each_text_under<'n>(&'n self, key: &'n str, look: &mut impl FnMut(&'n str, &'n str)) {
        match &self.content {
            Content::Text { text, .. } => look(key, text),
            Content::Number(_) | Content::Whole(_) => {}
            Content::List(items) => {
                for item in items {
                    item.each_text_under(key, look);
                }
            }
            Content::Map(entries) => {
                for (key, node) in entries {
                    node.each_text_under(&key.text, look);
                }
            }
        }
    }

    /// How many values it holds, itself included.
    pub(crate) fn count(&self) -> usize {
        1 + match &self.content {
            Content::List(items) => items.iter().map(YamlNode::count).sum(),
            Content::Map(entries) => entries.iter().map(|(_, node)| node.count()).sum(),
            _ => 0,
        }
    }
}

/// One step of a path into a [`YamlNode`].
#[derive(Clone, Copy, Debug)]
pub(crate) enum PathStep<'a> {
    Key(&'a str),
    Item(usize),
}

impl<'a> From<&'a str> for PathStep<'a> {
    fn from(key: &'a str) -> Self {
        PathStep::Key(key)
    }
}

impl From<usize> for PathStep<'_> {
    fn from(index: usize) -> Self {
        PathStep::Item(index)
    }
}

/// Shortens foreign words for a message.
pub(crate) fn clip(text: &str) -> String {
    const MOST: usize = 60;
    let mut flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if flat.chars().count() > MOST {
        flat = flat.chars().take(MOST - 3).collect::<String>() + "...";
    }
    flat
}
