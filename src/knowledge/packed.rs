//! A parsed file as bytes, so that the shipped library need not be parsed at every start.
//!
//! Written at build time, read by the same version of the same code, and never stored: the form may
//! change with every build. A value is a tag, its line and column, and what it holds; a list and keys
//! say how many there are and how many bytes they take, so that one can pass over them. Numbers are
//! unsigned LEB128 (seven bits a byte, lowest first). Texts stand by themselves, one behind the other
//! in the order in which they are met, and only their lengths among the rest: so the program can take
//! them as they lie there, without a copy.

use super::node::{Content, Key, Node, Place, Step};
use std::borrow::Cow;

const PLAIN: u8 = 0;
const QUOTED: u8 = 1;
const LIST: u8 = 2;
const MAP: u8 = 3;

/// A value in bytes, as it is written.
#[derive(Default)]
pub(crate) struct Bytes {
    /// Tags, places and lengths.
    pub(crate) form: Vec<u8>,
    /// All texts.
    pub(crate) texts: String,
}

/// A value as it was parsed, in bytes.
#[cfg_attr(not(test), allow(dead_code, reason = "used when the program is built"))]
pub(crate) fn pack(node: &Node) -> Bytes {
    let mut bytes = Bytes::default();
    bytes.node(node);
    bytes
}

impl Bytes {
    fn node(&mut self, node: &Node) {
        let tag = match &node.content {
            Content::Text { plain: true, .. } => PLAIN,
            Content::List(_) => LIST,
            Content::Map(_) => MAP,
            // Numbers are only told from text once it is known where they stand, after parsing.
            Content::Text { .. } | Content::Number(_) | Content::Whole(_) => QUOTED,
        };
        self.form.push(tag);
        self.place(node.at);
        match &node.content {
            Content::Text { text, .. } => self.text(text),
            Content::Number(number) => self.text(&number.to_string()),
            Content::Whole(number) => self.text(&number.to_string()),
            Content::List(items) => {
                let mut inner = Self::default();
                items.iter().for_each(|item| inner.node(item));
                self.several(items.len(), inner);
            }
            Content::Map(entries) => {
                let mut inner = Self::default();
                for (key, node) in entries {
                    inner.place(key.at);
                    inner.text(&key.text);
                    inner.node(node);
                }
                self.several(entries.len(), inner);
            }
        }
    }

    fn several(&mut self, count: usize, inner: Self) {
        for number in [count, inner.form.len(), inner.texts.len()] {
            self.number(number);
        }
        self.form.extend(inner.form);
        self.texts.push_str(&inner.texts);
    }

    fn place(&mut self, at: Place) {
        self.number(at.line);
        self.number(at.column);
    }

    fn text(&mut self, text: &str) {
        self.number(text.len());
        self.texts.push_str(text);
    }

    fn number(&mut self, mut number: usize) {
        while number > 0x7f {
            self.form.push((number & 0x7f) as u8 | 0x80);
            number >>= 7;
        }
        self.form.push(number as u8);
    }
}

/// A value that lies in the program as bytes. What is asked of it is `None` when the bytes are none
/// that [`pack`] made.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Packed {
    form: &'static [u8],
    texts: &'static str,
}

/// What a value is, with what it holds unread.
pub(crate) enum Held {
    Text { text: &'static str, plain: bool },
    List(Several),
    Map(Several),
}

impl Packed {
    pub(crate) fn new(form: &'static [u8], texts: &'static str) -> Self {
        Self { form, texts }
    }

    /// The value as a tree.
    pub(crate) fn node(mut self) -> Option<Node> {
        let node = self.take_node()?;
        self.is_empty().then_some(node)
    }

    /// Where it starts.
    pub(crate) fn at(mut self) -> Option<Place> {
        self.take().map(|(at, _)| at)
    }

    /// What it is.
    pub(crate) fn held(mut self) -> Option<Held> {
        self.take().map(|(_, held)| held)
    }

    /// The items of a list.
    pub(crate) fn items(self) -> Option<Several> {
        match self.held()? {
            Held::List(items) => Some(items),
            _ => None,
        }
    }

    /// Keys with their values.
    pub(crate) fn entries(self) -> Option<Several> {
        match self.held()? {
            Held::Map(entries) => Some(entries),
            _ => None,
        }
    }

    /// A key with its value.
    pub(crate) fn entry(self, key: &str) -> Option<(Key, Packed)> {
        let mut entries = self.entries()?;
        while let Some(entry) = entries.next_entry() {
            if entry.0.text == key {
                return Some(entry);
            }
        }
        None
    }

    /// Where the value at the end of a path starts, or as far along it as there is something; like
    /// [`Node::find`].
    pub(crate) fn find(self, path: &[Step<'_>]) -> Option<Place> {
        let mut value = self;
        for step in path {
            let next = match step {
                Step::Key(key) => value.entry(key).map(|(_, value)| value),
                Step::Item(index) => value.items().and_then(|mut items| {
                    (0..*index).try_for_each(|_| items.next_item().map(drop))?;
                    items.next_item()
                }),
            };
            let Some(next) = next else { break };
            value = next;
        }
        value.at()
    }

    fn is_empty(&self) -> bool {
        self.form.is_empty() && self.texts.is_empty()
    }

    /// The first value, and this goes on behind it.
    fn take(&mut self) -> Option<(Place, Held)> {
        let tag = self.take_byte()?;
        let at = self.take_place()?;
        let held = match tag {
            PLAIN | QUOTED => Held::Text {
                text: self.take_text()?,
                plain: tag == PLAIN,
            },
            LIST => Held::List(self.take_several()?),
            MAP => Held::Map(self.take_several()?),
            _ => return None,
        };
        Some((at, held))
    }

    fn take_node(&mut self) -> Option<Node> {
        let (at, held) = self.take()?;
        let content = match held {
            Held::Text { text, plain } => Content::Text {
                text: Cow::Borrowed(text),
                plain,
            },
            Held::List(mut several) => {
                let mut items = Vec::with_capacity(several.left);
                for _ in 0..several.left {
                    items.push(several.rest.take_node()?);
                }
                several.rest.is_empty().then_some(Content::List(items))?
            }
            Held::Map(mut several) => {
                let mut entries = Vec::with_capacity(several.left);
                for _ in 0..several.left {
                    entries.push((several.rest.take_key()?, several.rest.take_node()?));
                }
                several.rest.is_empty().then_some(Content::Map(entries))?
            }
        };
        Some(Node { at, content })
    }

    fn take_key(&mut self) -> Option<Key> {
        Some(Key {
            at: self.take_place()?,
            text: Cow::Borrowed(self.take_text()?),
        })
    }

    fn take_several(&mut self) -> Option<Several> {
        // Each takes at least a byte, so that no count asks for more room than there are bytes.
        let left = self.take_number().filter(|left| *left <= self.form.len())?;
        let (form, texts) = (self.take_number()?, self.take_number()?);
        let (form, after_form) = self.form.split_at_checked(form)?;
        let (texts, after_texts) = self.texts.split_at_checked(texts)?;
        *self = Self::new(after_form, after_texts);
        let rest = Self::new(form, texts);
        Some(Several { rest, left })
    }

    fn take_place(&mut self) -> Option<Place> {
        Some(Place {
            line: self.take_number()?,
            column: self.take_number()?,
        })
    }

    fn take_text(&mut self) -> Option<&'static str> {
        let length = self.take_number()?;
        let (text, rest) = self.texts.split_at_checked(length)?;
        self.texts = rest;
        Some(text)
    }

    fn take_number(&mut self) -> Option<usize> {
        let mut number = 0_usize;
        for shift in (0..usize::BITS).step_by(7) {
            let byte = self.take_byte()?;
            number |= usize::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Some(number);
            }
        }
        None
    }

    fn take_byte(&mut self) -> Option<u8> {
        let (first, rest) = self.form.split_first()?;
        self.form = rest;
        Some(*first)
    }
}

/// The values of a list, or keys with theirs, as far as they are not read.
pub(crate) struct Several {
    rest: Packed,
    left: usize,
}

impl Several {
    /// How many are left.
    pub(crate) fn left(&self) -> usize {
        self.left
    }

    /// The next item of a list.
    pub(crate) fn next_item(&mut self) -> Option<Packed> {
        self.left = self.left.checked_sub(1)?;
        self.value()
    }

    /// The next key with its value.
    pub(crate) fn next_entry(&mut self) -> Option<(Key, Packed)> {
        self.left = self.left.checked_sub(1)?;
        Some((self.rest.take_key()?, self.value()?))
    }

    fn value(&mut self) -> Option<Packed> {
        let Packed { form, texts } = self.rest;
        self.rest.take()?;
        Some(Packed {
            form: &form[..form.len() - self.rest.form.len()],
            texts: &texts[..texts.len() - self.rest.texts.len()],
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::layer::SHIPPED;
    use super::super::node::read;
    use super::*;

    #[test]
    fn what_was_packed_at_build_time_is_what_parsing_gives() {
        for (path, text, form, texts) in SHIPPED {
            let Ok(Some(parsed)) = read(text) else {
                assert!(form.is_empty(), "{path}");
                continue;
            };
            assert_eq!(Packed::new(form, texts).node(), Some(parsed), "{path}");
        }
    }

    /// A file of every sort of value, as a tree and packed.
    fn both() -> (Node, Packed) {
        let text = "a: [1, 'two', {b: c}, []]\nlong: ".to_owned() + &"x".repeat(300);
        let node = read(&text).expect("reads").expect("not empty");
        let Bytes { form, texts } = pack(&node);
        (node, Packed::new(form.leak(), texts.leak()))
    }

    #[test]
    fn packing_and_unpacking_gives_the_same_and_cut_bytes_give_nothing() {
        let (node, Packed { form, texts }) = both();
        assert_eq!(Packed::new(form, texts).node(), Some(node));
        for end in 0..form.len() {
            assert_eq!(Packed::new(&form[..end], texts).node(), None, "{end}");
        }
        for end in 0..texts.len() {
            assert_eq!(Packed::new(form, &texts[..end]).node(), None, "{end}");
        }
    }

    #[test]
    fn a_path_leads_to_the_same_place_packed_or_not() {
        let (node, packed) = both();
        let paths: [&[Step<'_>]; 9] = [
            &[],
            &["a".into()],
            &["a".into(), 0.into()],
            &["a".into(), 1.into()],
            &["a".into(), 2.into(), "b".into()],
            &["a".into(), 3.into(), 0.into()],
            &["a".into(), 4.into()],
            &["long".into()],
            &["none".into(), "b".into()],
        ];
        for path in paths {
            assert_eq!(packed.find(path), Some(node.find(path)), "{path:?}");
        }
        assert_eq!(packed.entry("long").map(|(key, _)| key.at.line), Some(2));
    }
}
