//! A parsed file as bytes, so that the shipped library need not be parsed at every start.
//!
//! Written at build time, read by the same version of the same code, and never stored: the form may
//! change with every build. A value is a tag, its line and column, and what it holds; numbers are
//! unsigned LEB128 (seven bits a byte, lowest first), texts follow their length.

use super::node::{Content, Key, Node, Place};

const PLAIN: u8 = 0;
const QUOTED: u8 = 1;
const LIST: u8 = 2;
const MAP: u8 = 3;

/// The bytes of a value as it was parsed.
#[cfg_attr(not(test), allow(dead_code, reason = "used when the program is built"))]
pub(crate) fn pack(node: &Node) -> Vec<u8> {
    let mut bytes = Vec::new();
    put_node(&mut bytes, node);
    bytes
}

/// The value behind bytes; `None` when they are none that [`pack`] made.
#[allow(dead_code, reason = "not used when the program is built")]
pub(crate) fn unpack(mut bytes: &[u8]) -> Option<Node> {
    let node = take_node(&mut bytes)?;
    bytes.is_empty().then_some(node)
}

fn put_node(bytes: &mut Vec<u8>, node: &Node) {
    let tag = match &node.content {
        Content::Text { plain: true, .. } => PLAIN,
        Content::List(_) => LIST,
        Content::Map(_) => MAP,
        // Numbers are only told from text once it is known where they stand, after parsing.
        Content::Text { .. } | Content::Number(_) | Content::Whole(_) => QUOTED,
    };
    bytes.push(tag);
    put_place(bytes, node.at);
    match &node.content {
        Content::Text { text, .. } => put_text(bytes, text),
        Content::Number(number) => put_text(bytes, &number.to_string()),
        Content::Whole(number) => put_text(bytes, &number.to_string()),
        Content::List(items) => {
            put_number(bytes, items.len());
            items.iter().for_each(|item| put_node(bytes, item));
        }
        Content::Map(entries) => {
            put_number(bytes, entries.len());
            for (key, node) in entries {
                put_place(bytes, key.at);
                put_text(bytes, &key.text);
                put_node(bytes, node);
            }
        }
    }
}

fn put_place(bytes: &mut Vec<u8>, at: Place) {
    put_number(bytes, at.line);
    put_number(bytes, at.column);
}

fn put_text(bytes: &mut Vec<u8>, text: &str) {
    put_number(bytes, text.len());
    bytes.extend_from_slice(text.as_bytes());
}

fn put_number(bytes: &mut Vec<u8>, mut number: usize) {
    while number > 0x7f {
        bytes.push((number & 0x7f) as u8 | 0x80);
        number >>= 7;
    }
    bytes.push(number as u8);
}

fn take_node(bytes: &mut &[u8]) -> Option<Node> {
    let tag = take_byte(bytes)?;
    let at = take_place(bytes)?;
    let content = match tag {
        PLAIN | QUOTED => Content::Text {
            text: take_text(bytes)?,
            plain: tag == PLAIN,
        },
        LIST => {
            let count = take_number(bytes)?;
            let items = (0..count).map(|_| take_node(bytes));
            Content::List(items.collect::<Option<Vec<_>>>()?)
        }
        MAP => {
            let count = take_number(bytes)?;
            let entries = (0..count).map(|_| {
                let key = Key {
                    at: take_place(bytes)?,
                    text: take_text(bytes)?,
                };
                Some((key, take_node(bytes)?))
            });
            Content::Map(entries.collect::<Option<Vec<_>>>()?)
        }
        _ => return None,
    };
    Some(Node { at, content })
}

fn take_place(bytes: &mut &[u8]) -> Option<Place> {
    Some(Place {
        line: take_number(bytes)?,
        column: take_number(bytes)?,
    })
}

fn take_text(bytes: &mut &[u8]) -> Option<String> {
    let length = take_number(bytes)?;
    let (text, rest) = bytes.split_at_checked(length)?;
    *bytes = rest;
    std::str::from_utf8(text).ok().map(str::to_owned)
}

fn take_byte(bytes: &mut &[u8]) -> Option<u8> {
    let (first, rest) = bytes.split_first()?;
    *bytes = rest;
    Some(*first)
}

fn take_number(bytes: &mut &[u8]) -> Option<usize> {
    let mut number = 0_usize;
    for shift in (0..usize::BITS).step_by(7) {
        let byte = take_byte(bytes)?;
        number |= usize::from(byte & 0x7f) << shift;
        if byte < 0x80 {
            return Some(number);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::super::layer::SHIPPED;
    use super::super::node::read;
    use super::*;

    #[test]
    fn what_was_packed_at_build_time_is_what_parsing_gives() {
        for (path, text, packed) in SHIPPED {
            let Ok(Some(parsed)) = read(text) else {
                assert!(packed.is_empty(), "{path}");
                continue;
            };
            assert_eq!(unpack(packed), Some(parsed), "{path}");
        }
    }

    #[test]
    fn packing_and_unpacking_gives_the_same_and_cut_bytes_give_nothing() {
        let text = "a: [1, 'two', {b: c}]\nlong: ".to_owned() + &"x".repeat(300);
        let node = read(&text).expect("reads").expect("not empty");
        let bytes = pack(&node);
        assert_eq!(unpack(&bytes), Some(node));
        for end in 0..bytes.len() {
            assert_eq!(unpack(&bytes[..end]), None, "{end}");
        }
    }
}
