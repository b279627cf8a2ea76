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

/// The value behind bytes; `None` when they are none that [`pack`] made.
#[allow(dead_code, reason = "not used when the program is built")]
pub(crate) fn unpack(form: &[u8], texts: &'static str) -> Option<Node> {
    let mut rest = Rest { form, texts };
    let node = rest.node()?;
    (rest.form.is_empty() && rest.texts.is_empty()).then_some(node)
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

/// What is not yet read.
struct Rest<'p> {
    form: &'p [u8],
    texts: &'static str,
}

impl Rest<'_> {
    fn node(&mut self) -> Option<Node> {
        let tag = self.byte()?;
        let at = self.place()?;
        let content = match tag {
            PLAIN | QUOTED => Content::Text {
                text: self.text()?,
                plain: tag == PLAIN,
            },
            LIST => {
                let count = self.count()?;
                let mut items = Vec::with_capacity(count);
                for _ in 0..count {
                    items.push(self.node()?);
                }
                Content::List(items)
            }
            MAP => {
                let count = self.count()?;
                let mut entries = Vec::with_capacity(count);
                for _ in 0..count {
                    let key = Key {
                        at: self.place()?,
                        text: self.text()?,
                    };
                    entries.push((key, self.node()?));
                }
                Content::Map(entries)
            }
            _ => return None,
        };
        Some(Node { at, content })
    }

    fn place(&mut self) -> Option<Place> {
        Some(Place {
            line: self.number()?,
            column: self.number()?,
        })
    }

    fn text(&mut self) -> Option<Cow<'static, str>> {
        let length = self.number()?;
        let (text, rest) = self.texts.split_at_checked(length)?;
        self.texts = rest;
        Some(Cow::Borrowed(text))
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
            assert_eq!(unpack(form, texts), Some(parsed), "{path}");
        }
    }

    #[test]
    fn packing_and_unpacking_gives_the_same_and_cut_bytes_give_nothing() {
        let text = "a: [1, 'two', {b: c}]\nlong: ".to_owned() + &"x".repeat(300);
        let node = read(&text).expect("reads").expect("not empty");
        let Packed { form, texts } = pack(&node);
        let texts: &'static str = texts.leak();
        assert_eq!(unpack(&form, texts), Some(node));
        for end in 0..form.len() {
            assert_eq!(unpack(&form[..end], texts), None, "{end}");
        }
        for end in 0..texts.len() {
            assert_eq!(unpack(&form, &texts[..end]), None, "{end}");
        }
    }
}
