//! From a tree of places to the structs of a library file, and from these to YAML.

use super::document::LibraryFile;
use super::node::{Content, Node};
use super::packed::{Held, Packed, Several};
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

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_bool(self.text() == Some("true"))
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
        i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit
        unit_struct newtype_struct seq tuple tuple_struct map struct identifier ignored_any
    }
}

/// A packed value as a struct, without a tree in between. It is taken at its word: what a shape finds
/// fault with, such as an unknown unit, is not looked for.
///
/// # Errors
///
/// When it does not fit.
pub(super) fn of_packed<T: DeserializeOwned>(packed: Packed) -> Result<T, Error> {
    T::deserialize(packed)
}

impl Packed {
    fn text(self) -> Result<&'static str, Error> {
        match self.held() {
            Some(Held::Text { text, .. }) => Ok(text),
            _ => Err(Error::custom("text belongs here")),
        }
    }

    fn whole(self) -> Result<u64, Error> {
        let number = self.text()?.parse();
        number.map_err(|_| Error::custom("a whole number belongs here"))
    }
}

impl<'de> Deserializer<'de> for Packed {
    type Error = Error;

    /// Where anything may stand, plain digits are a number.
    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.held() {
            Some(Held::Text { text, plain }) => match finite(text).filter(|_| plain) {
                Some(number) => visitor.visit_f64(number),
                None => visitor.visit_borrowed_str(text),
            },
            Some(Held::List(items)) => visitor.visit_seq(Unread::new(items)),
            Some(Held::Map(entries)) => visitor.visit_map(Unread::new(entries)),
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

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_bool(self.text()? == "true")
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

    forward_to_deserialize_any! {
        i8 i16 i32 i64 i128 u8 u16 u128 f32 char bytes byte_buf unit unit_struct newtype_struct
        seq tuple tuple_struct map struct identifier ignored_any
    }
}

/// The values of a list, or keys with theirs, that serde has not taken yet.
struct Unread {
    several: Several,
    /// The value of the key that was taken last.
    value: Option<Packed>,
}

impl Unread {
    fn new(several: Several) -> Self {
        Self {
            several,
            value: None,
        }
    }
}

impl<'de> SeqAccess<'de> for Unread {
    type Error = Error;

    fn next_element_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, Error> {
        if self.several.left() == 0 {
            return Ok(None);
        }
        let item = self.several.next_item();
        let item = item.ok_or_else(|| Error::custom("an item belongs here"))?;
        seed.deserialize(item).map(Some)
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.several.left())
    }
}

impl<'de> MapAccess<'de> for Unread {
    type Error = Error;

    fn next_key_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, Error> {
        if self.several.left() == 0 {
            return Ok(None);
        }
        let entry = self.several.next_entry();
        let (key, value) = entry.ok_or_else(|| Error::custom("a key belongs here"))?;
        self.value = Some(value);
        seed.deserialize(key.text.into_deserializer()).map(Some)
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, Error> {
        let value = self.value.take();
        seed.deserialize(value.ok_or_else(|| Error::custom("a value belongs here"))?)
    }
}
