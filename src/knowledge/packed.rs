//! A parsed file as bytes, so that the shipped library need not be parsed at every start.
//!
//! Written at build time, read by the same version of the same code, and never stored: the form may
//! change with every build. A value is a tag, its line and column, and what it holds; numbers are
//! unsigned LEB128 (seven bits a byte, lowest first). Texts stand by themselves, one behind the other
//! in the order in which they are met, and only their lengths among the rest: so the program can take
//! them as they lie there, without a copy.

use super::node::{Content, Key, Node, Place};
use std::borrow::Cow;

const PLAIN: u8 = 0;
const QUOTED: u8 = 1;
const LIST: u8 = 2;
const MAP: u8 = 3;

/// A value in bytes.
#[derive(Default)]
pub(crate) struct Packed {
    /// Tags, places and lengths.
    pub(crate) form: Vec<u8>,
    /// All texts.
    pub(crate) texts: String,
}

/// A value as it was parsed, in bytes.
#[cfg_attr(not(test), allow(dead_code, reason = "used when the program is built"))]
pub(crate) fn pack(node: &Node) -> Packed {
    let mut packed = Packed::default();
    packed.node(node);
    packed
}

/// A packed value that lies in the program, unpacked only where somebody needs its places.
#[derive(Clone, Copy, Debug)]
#[allow(dead_code, reason = "not used when the program is built")]
pub(crate) struct Lying {
    form: &'static [u8],
    texts: &'static str,
}

#[allow(dead_code, reason = "not used when the program is built")]
impl Lying {
    pub(crate) fn new(form: &'static [u8], texts: &'static str) -> Self {
        Self { form, texts }
    }

    /// The value; `None` when the bytes are none that [`pack`] made.
    pub(crate) fn node(self) -> Option<Node> {
        let mut rest = self.rest();
        let node = rest.node()?;
        rest.is_empty().then_some(node)
    }

    /// What is read from the start.
    pub(crate) fn rest(self) -> Rest {
        Rest {
            form: self.form,
            texts: self.texts,
        }
    }

    /// Where it starts.
    pub(crate) fn at(self) -> Option<Place> {
        Some(self.rest().start()?.1)
    }

    /// The items of a list, unread; `None` for what is no list.
    pub(crate) fn items(self) -> Option<Vec<Lying>> {
        let mut rest = self.rest();
        let (Tag::List(count), _) = rest.start()? else {
            return None;
        };
        (0..count).map(|_| rest.cut_off()).collect()
    }

    /// Keys with their values, unread; `None` for what has no keys.
    pub(crate) fn entries(self) -> Option<Vec<(Key, Lying)>> {
        let mut rest = self.rest();
        let (Tag::Map(count), _) = rest.start()? else {
            return None;
        };
        (0..count)
            .map(|_| Some((rest.key()?, rest.cut_off()?)))
            .collect()
    }

    /// The value under a key.
    pub(crate) fn get(self, key: &str) -> Option<Lying> {
        let mut rest = self.rest();
        let (Tag::Map(count), _) = rest.start()? else {
            return None;
        };
        for _ in 0..count {
            if rest.key()?.text == key {
                return rest.cut_off();
            }
            rest.skip()?;
        }
        None
    }
}

impl Packed {
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
                put_number(&mut self.form, items.len());
                items.iter().for_each(|item| self.node(item));
            }
            Content::Map(entries) => {
                put_number(&mut self.form, entries.len());
                for (key, node) in entries {
                    self.place(key.at);
                    self.text(&key.text);
                    self.node(node);
                }
            }
        }
    }

    fn place(&mut self, at: Place) {
        put_number(&mut self.form, at.line);
        put_number(&mut self.form, at.column);
    }

    fn text(&mut self, text: &str) {
        put_number(&mut self.form, text.len());
        self.texts.push_str(text);
    }
}

fn put_number(bytes: &mut Vec<u8>, mut number: usize) {
    while number > 0x7f {
        bytes.push((number & 0x7f) as u8 | 0x80);
        number >>= 7;
    }
    bytes.push(number as u8);
}

/// What a value is, before what it holds.
#[allow(dead_code, reason = "not used when the program is built")]
pub(crate) enum Tag {
    Text {
        text: &'static str,
        plain: bool,
    },
    /// A list of so many.
    List(usize),
    /// So many keys.
    Map(usize),
}

/// What is not yet read.
#[derive(Clone, Copy)]
#[allow(dead_code, reason = "not used when the program is built")]
pub(crate) struct Rest {
    form: &'static [u8],
    texts: &'static str,
}

#[allow(dead_code, reason = "not used when the program is built")]
impl Rest {
    pub(crate) fn is_empty(&self) -> bool {
        self.form.is_empty() && self.texts.is_empty()
    }

    /// The start of the next value: all of a text, the length of anything else.
    pub(crate) fn start(&mut self) -> Option<(Tag, Place)> {
        let tag = self.byte()?;
        let at = self.place()?;
        let tag = match tag {
            PLAIN | QUOTED => Tag::Text {
                text: self.text()?,
                plain: tag == PLAIN,
            },
            LIST => Tag::List(self.count()?),
            MAP => Tag::Map(self.count()?),
            _ => return None,
        };
        Some((tag, at))
    }

    /// The text of the next key.
    pub(crate) fn key_text(&mut self) -> Option<&'static str> {
        self.place()?;
        self.text()
    }

    fn key(&mut self) -> Option<Key> {
        Some(Key {
            at: self.place()?,
            text: Cow::Borrowed(self.text()?),
        })
    }

    fn node(&mut self) -> Option<Node> {
        let (tag, at) = self.start()?;
        let content = match tag {
            Tag::Text { text, plain } => Content::Text {
                text: Cow::Borrowed(text),
                plain,
            },
            Tag::List(count) => {
                let mut items = Vec::with_capacity(count);
                for _ in 0..count {
                    items.push(self.node()?);
                }
                Content::List(items)
            }
            Tag::Map(count) => {
                let mut entries = Vec::with_capacity(count);
                for _ in 0..count {
                    entries.push((self.key()?, self.node()?));
                }
                Content::Map(entries)
            }
        };
        Some(Node { at, content })
    }

    /// Passes over a value.
    fn skip(&mut self) -> Option<()> {
        let mut values = 1_usize;
        while values > 0 {
            values -= 1;
            match self.start()?.0 {
                Tag::Text { .. } => {}
                Tag::List(count) => values += count,
                Tag::Map(count) => {
                    // Each key stands before its value, so they are passed over in turn.
                    for _ in 0..count {
                        self.key()?;
                        self.skip()?;
                    }
                }
            }
        }
        Some(())
    }

    /// The next value, unread, and this goes on behind it.
    fn cut_off(&mut self) -> Option<Lying> {
        let before = *self;
        self.skip()?;
        Some(Lying {
            form: &before.form[..before.form.len() - self.form.len()],
            texts: &before.texts[..before.texts.len() - self.texts.len()],
        })
    }

    fn place(&mut self) -> Option<Place> {
        Some(Place {
            line: self.number()?,
            column: self.number()?,
        })
    }

    fn text(&mut self) -> Option<&'static str> {
        let length = self.number()?;
        let (text, rest) = self.texts.split_at_checked(length)?;
        self.texts = rest;
        Some(text)
    }

    /// How many values follow; each takes at least a byte.
    fn count(&mut self) -> Option<usize> {
        self.number().filter(|count| *count <= self.form.len())
    }

    fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.form.split_first()?;
        self.form = rest;
        Some(*first)
    }

    fn number(&mut self) -> Option<usize> {
        let mut number = 0_usize;
        for shift in (0..usize::BITS).step_by(7) {
            let byte = self.byte()?;
            number |= usize::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Some(number);
            }
        }
        None
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
            assert_eq!(Lying::new(form, texts).node(), Some(parsed), "{path}");
        }
    }

    #[test]
    fn packing_and_unpacking_gives_the_same_and_cut_bytes_give_nothing() {
        let text = "a: [1, 'two', {b: c}]\nlong: ".to_owned() + &"x".repeat(300);
        let node = read(&text).expect("reads").expect("not empty");
        let Packed { form, texts } = pack(&node);
        let (form, texts): (&'static [u8], &'static str) = (form.leak(), texts.leak());
        let lying = Lying::new(form, texts);
        assert_eq!(lying.node(), Some(node.clone()));
        for end in 0..form.len() {
            assert_eq!(Lying::new(&form[..end], texts).node(), None, "{end}");
        }
        for end in 0..texts.len() {
            assert_eq!(Lying::new(form, &texts[..end]).node(), None, "{end}");
        }
        // Piece by piece it is the same.
        let list = lying.get("a").expect("there");
        let items = list.items().expect("a list");
        assert_eq!(
            (items.len(), list.at()),
            (3, Some(node.find(&["a".into()])))
        );
        assert_eq!(
            items[2]
                .get("b")
                .and_then(Lying::node)
                .as_ref()
                .and_then(Node::text),
            Some("c")
        );
        let entries = lying.entries().expect("keys");
        assert_eq!(entries[1].0.text, "long");
        assert!(lying.items().is_none() && list.entries().is_none());
    }
}
