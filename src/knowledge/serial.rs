//! From a tree of places to the structs of a library file, and from these to YAML.

use super::document::LibraryFile;
use super::node::{Content, Node};
use super::packed::{Lying, Rest, Tag};
use super::shape::finite;
use serde::de::value::{BorrowedStrDeserializer, Error, MapDeserializer, SeqDeserializer};
use serde::de::{
    DeserializeOwned, DeserializeSeed, Deserializer, Error as _, IntoDeserializer, MapAccess,
    SeqAccess, Visitor,
};
use serde::forward_to_deserialize_any;

/// The file as YAML, in the order of its lists, what is left out left out.
///
/// # Errors
///
/// What [`serde_yaml`] refuses to write; no library file is known to be.
///
/// ```
/// use fairwhy::knowledge::{LibraryFile, library_file, library_text};
/// let text = "faults:\n- id: a\n  name: A\n  stage: top\n";
/// let file = library_file(text).expect("a good file");
/// assert_eq!(library_text(&file)?, text);
/// # Ok::<(), serde_yaml::Error>(())
/// ```
pub fn library_text(file: &LibraryFile) -> Result<String, serde_yaml::Error> {
    serde_yaml::to_string(file)
}

impl<'de> IntoDeserializer<'de, Error> for &'de Node {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

/// A node that fits its shape tells serde what it is; that saves building a second tree.
impl<'de> Deserializer<'de> for &'de Node {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match &self.content {
            Content::Text { text, .. } => visitor.visit_borrowed_str(text),
            Content::Number(number) => visitor.visit_f64(*number),
            Content::Whole(number) => visitor.visit_u64(*number),
            Content::List(items) => visitor.visit_seq(SeqDeserializer::new(items.iter())),
            Content::Map(entries) => {
                let entries = entries.iter().map(|(key, node)| (&*key.text, node));
                visitor.visit_map(MapDeserializer::new(entries))
            }
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_some(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        let word = self.text().unwrap_or_default();
        let word: serde::de::value::StrDeserializer<'_, Error> = word.into_deserializer();
        word.deserialize_enum(name, variants, visitor)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit
        unit_struct newtype_struct seq tuple tuple_struct map struct identifier ignored_any
    }
}

/// A packed value as a struct, without a tree in between.
///
/// # Errors
///
/// When it does not fit. It is taken at its word otherwise: what a shape finds fault with, such as an
/// unknown unit, is not looked for.
pub(super) fn of_packed<T: DeserializeOwned>(lying: Lying) -> Result<T, Error> {
    let mut rest = lying.rest();
    let value = T::deserialize(Packed(&mut rest))?;
    if rest.is_empty() {
        Ok(value)
    } else {
        Err(Error::custom("more than there should be"))
    }
}

/// The next value of what is not yet read.
struct Packed<'r>(&'r mut Rest);

impl Packed<'_> {
    fn text(self) -> Result<&'static str, Error> {
        match self.0.start() {
            Some((Tag::Text { text, .. }, _)) => Ok(text),
            _ => Err(Error::custom("text belongs here")),
        }
    }

    fn whole(self) -> Result<u64, Error> {
        let text = self.text()?;
        text.parse()
            .map_err(|_| Error::custom("a whole number belongs here"))
    }
}

impl<'de> Deserializer<'de> for Packed<'_> {
    type Error = Error;

    /// Where anything may stand, plain digits are a number.
    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        let rest = self.0;
        match rest.start() {
            Some((Tag::Text { text, plain }, _)) => match finite(text).filter(|_| plain) {
                Some(number) => visitor.visit_f64(number),
                None => visitor.visit_borrowed_str(text),
            },
            Some((Tag::List(left), _)) => visitor.visit_seq(Several { rest, left }),
            Some((Tag::Map(left), _)) => visitor.visit_map(Several { rest, left }),
            None => Err(Error::custom("something belongs here")),
        }
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_borrowed_str(self.text()?)
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.deserialize_str(visitor)
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        let number = finite(self.text()?);
        visitor.visit_f64(number.ok_or_else(|| Error::custom("a number belongs here"))?)
    }

    fn deserialize_u32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_u64(self.whole()?)
    }

    fn deserialize_u64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_u64(self.whole()?)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_some(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        let word: BorrowedStrDeserializer<'_, Error> = BorrowedStrDeserializer::new(self.text()?);
        word.deserialize_enum(name, variants, visitor)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0.start() {
            Some((Tag::List(left), _)) => visitor.visit_seq(Several { rest: self.0, left }),
            _ => Err(Error::custom("a list belongs here")),
        }
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, _: usize, visitor: V) -> Result<V::Value, Error> {
        self.deserialize_seq(visitor)
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0.start() {
            Some((Tag::Map(left), _)) => visitor.visit_map(Several { rest: self.0, left }),
            _ => Err(Error::custom("keys belong here")),
        }
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.deserialize_map(visitor)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u128 f32 char bytes byte_buf unit unit_struct newtype_struct
        tuple_struct identifier ignored_any
    }
}

/// So many values, or keys with values, of what is not yet read.
struct Several<'r> {
    rest: &'r mut Rest,
    left: usize,
}

impl<'de> SeqAccess<'de> for Several<'_> {
    type Error = Error;

    fn next_element_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, Error> {
        if self.left == 0 {
            return Ok(None);
        }
        self.left -= 1;
        seed.deserialize(Packed(self.rest)).map(Some)
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.left)
    }
}

impl<'de> MapAccess<'de> for Several<'_> {
    type Error = Error;

    fn next_key_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, Error> {
        if self.left == 0 {
            return Ok(None);
        }
        self.left -= 1;
        let key = self.rest.key_text();
        let key = key.ok_or_else(|| Error::custom("a key belongs here"))?;
        seed.deserialize(BorrowedStrDeserializer::new(key))
            .map(Some)
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, Error> {
        seed.deserialize(Packed(self.rest))
    }
}
