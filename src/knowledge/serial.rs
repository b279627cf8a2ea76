//! From a tree of places to the structs of a library file, and from these to YAML.

use super::document::LibraryFile;
use super::node::{Content, YamlNode};
use serde::de::value::{Error, MapDeserializer, SeqDeserializer};
use serde::de::{Deserializer, IntoDeserializer, Visitor};
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

impl<'de> IntoDeserializer<'de, Error> for &'de YamlNode {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

/// A node that fits its shape tells serde what it is; that saves building a second tree.
impl<'de> Deserializer<'de> for &'de YamlNode {
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
