//! What may stand where in a library file: keys, lists, words and numbers.
//!
//! The shape is taken from the editor schema, which is generated from the types; so the types, the
//! editor and the checker cannot say different things. Unlike a plain deserialiser it reports
//! everything that is wrong with an entry at once, and each thing with its place.

use super::nearest::nearest;
use super::node::{Content, Flaw, TextPlace, YamlNode, clip};
use super::words;
use serde_json::Value as Json;

/// What may stand in one place.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Shape {
    /// Any text.
    Text,
    /// A finite number.
    Number,
    /// A whole number from 0.
    Whole,
    /// `true` or `false`.
    Flag,
    /// One of a closed list of words.
    Choice(Vec<String>),
    /// A word of a scale, or a number strictly between 0 and 1.
    Graded(&'static [(&'static str, f64)]),
    /// A list, with its length where that is fixed.
    List(Box<Shape>, Option<usize>),
    /// Keys.
    Keys(Vec<KeyShape>),
}

/// A key that may stand in a group of keys.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct KeyShape {
    pub(super) name: String,
    pub(super) required: bool,
    pub(super) shape: Shape,
}

/// Reads the shape off a JSON Schema as schemars writes it for the types of this room.
///
/// `None` when the schema says something that this module does not know; a test makes sure that it
/// does not.
pub(super) fn from_schema(schema: &Json, root: &Json) -> Option<Shape> {
    if let Some(reference) = schema.get("$ref").and_then(Json::as_str) {
        return from_schema(root.pointer(reference.strip_prefix('#')?)?, root);
    }
    if let Some(options) = schema.get("anyOf").and_then(Json::as_array) {
        return from_options(options, root);
    }
    if let Some(options) = schema.get("oneOf").and_then(Json::as_array) {
        let words = options.iter().map(|option| {
            let word = option.get("const").and_then(Json::as_str)?;
            Some(word.to_owned())
        });
        return words.collect::<Option<Vec<_>>>().map(Shape::Choice);
    }
    if let Some(options) = schema.get("enum").and_then(Json::as_array) {
        let words = options
            .iter()
            .map(|word| word.as_str().map(str::to_owned))
            .collect::<Option<Vec<_>>>()?;
        return Some(Shape::Choice(words));
    }
    match type_of(schema)? {
        "string" => Some(Shape::Text),
        "number" => Some(Shape::Number),
        "integer" => Some(Shape::Whole),
        "boolean" => Some(Shape::Flag),
        "array" => array(schema, root),
        "object" => object(schema, root),
        _ => None,
    }
}

fn array(schema: &Json, root: &Json) -> Option<Shape> {
    let item = from_schema(schema.get("items")?, root)?;
    let length = |key: &str| schema.get(key).and_then(Json::as_u64);
    let exact = match (length("minItems"), length("maxItems")) {
        (Some(least), Some(most)) if least == most => usize::try_from(least).ok(),
        _ => None,
    };
    Some(Shape::List(Box::new(item), exact))
}

fn object(schema: &Json, root: &Json) -> Option<Shape> {
    let required = schema.get("required").and_then(Json::as_array);
    let required: Vec<&str> = required.map_or_else(Vec::new, |names| {
        names.iter().filter_map(Json::as_str).collect()
    });
    let keys = schema.get("properties")?.as_object()?.iter();
    let keys = keys.map(|(name, inner)| {
        Some(KeyShape {
            name: name.clone(),
            required: required.contains(&name.as_str()),
            shape: from_schema(inner, root)?,
        })
    });
    keys.collect::<Option<Vec<_>>>().map(Shape::Keys)
}

/// `X or nothing` is an `X`, since nothing is handled before shapes are; a word of a scale or a
/// number is the one other choice that the format knows.
fn from_options(options: &[Json], root: &Json) -> Option<Shape> {
    let real: Vec<&Json> = options
        .iter()
        .filter(|option| type_of(option) != Some("null"))
        .collect();
    match real.as_slice() {
        [one] => from_schema(one, root),
        [word, number] if type_of(number) == Some("number") => {
            let Shape::Choice(words) = from_schema(word, root)? else {
                return None;
            };
            let scales = [
                words::STRENGTH_WORDS,
                words::COMMON_WORDS,
                words::LEAK_WORDS,
            ];
            scales
                .into_iter()
                .find(|scale| scale.iter().map(|(word, _)| *word).eq(words.iter()))
                .map(Shape::Graded)
        }
        _ => None,
    }
}

/// The type a schema names, `null` aside.
fn type_of(schema: &Json) -> Option<&str> {
    match schema.get("type")? {
        Json::String(name) => Some(name),
        Json::Array(names) => names
            .iter()
            .filter_map(Json::as_str)
            .find(|name| *name != "null"),
        _ => None,
    }
}

/// Where in the format a value stands, in words.
#[derive(Clone, Copy)]
pub(super) struct Context<'a> {
    /// What the group of keys is called, if it is one.
    pub(super) noun: Noun<'a>,
    /// The key that the value stands under.
    pub(super) key: &'a str,
}

/// How a group of keys is called in a message.
#[derive(Clone, Copy)]
pub(super) enum Noun<'a> {
    /// An entry of a list at the top of a file: `fault`.
    Entry(&'a str),
    /// An item of the list under a key.
    ItemOf(&'a str),
    /// The group under a key.
    Under(&'a str),
}

impl std::fmt::Display for Noun<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Noun::Entry(name) if name.starts_with(['a', 'e', 'i', 'o', 'u']) => {
                write!(f, "an {name}")
            }
            Noun::Entry(name) => write!(f, "a {name}"),
            Noun::ItemOf(key) => write!(f, "an item of `{key}`"),
            Noun::Under(key) => write!(f, "`{key}`"),
        }
    }
}

/// Checks a value against a shape and takes out of it what does not fit, so that the rest can
/// still be looked at. Numbers become numbers.
///
/// Returns whether what is left can be read.
pub(super) fn fit(
    node: &mut YamlNode,
    shape: &Shape,
    context: Context<'_>,
    flaws: &mut Vec<Flaw>,
) -> bool {
    match shape {
        Shape::Keys(keys) => fit_keys(node, keys, context, flaws),
        Shape::List(item, exact) => fit_list(node, item, *exact, context, flaws),
        _ => fit_scalar(node, shape, context.key, flaws),
    }
}

fn fit_list(
    node: &mut YamlNode,
    item: &Shape,
    exact: Option<usize>,
    context: Context<'_>,
    flaws: &mut Vec<Flaw>,
) -> bool {
    let at = node.at;
    let key = context.key;
    let Content::List(items) = &mut node.content else {
        let example = match &node.content {
            Content::Text { text, .. } if !matches!(item, Shape::Keys(_)) => {
                format!("write `{key}: [{}]`", clip(text))
            }
            _ => format!("start each item under `{key}:` with `- `"),
        };
        flaws.push(Flaw::new(
            at,
            "wrong-type",
            format!("`{key}` takes a list, and this is not one"),
            example,
        ));
        return false;
    };
    let inner = Context {
        noun: Noun::ItemOf(key),
        key,
    };
    items.retain_mut(|node| {
        if node.is_nothing() {
            flaws.push(empty_item(node.at, key));
            return false;
        }
        fit(node, item, inner, flaws)
    });
    match exact {
        Some(count) if count != items.len() => {
            flaws.push(Flaw::new(
                at,
                "wrong-type",
                format!("`{key}` takes {count} values, lowest and highest"),
                format!("write for example `{key}: [0, 3]`"),
            ));
            false
        }
        _ => true,
    }
}

fn empty_item(at: TextPlace, key: &str) -> Flaw {
    if key == "steps" {
        return Flaw::new(
            at,
            "empty-step",
            "a step with nothing in it",
            "write the step, or take the line out",
        );
    }
    Flaw::new(
        at,
        "empty-item",
        format!("an item of `{key}` with nothing in it"),
        "write it, or take the line out",
    )
}

fn fit_keys(
    node: &mut YamlNode,
    keys: &[KeyShape],
    context: Context<'_>,
    flaws: &mut Vec<Flaw>,
) -> bool {
    let noun = context.noun;
    let Content::Map(entries) = &mut node.content else {
        flaws.push(no_keys(node, keys, noun));
        return false;
    };
    let mut seen = vec![false; keys.len()];
    // A required key that was only misspelt is not reported as missing as well.
    let mut misspelt: Vec<&str> = Vec::new();
    let mut readable = true;
    entries.retain_mut(|(key, value)| {
        let Some(place) = keys.iter().position(|known| known.name == key.text) else {
            let names = keys.iter().map(|known| known.name.as_str());
            let near = nearest(&key.text, names.clone(), 1).first().copied();
            flaws.push(unknown_key(key.at, &key.text, noun, near, names));
            misspelt.extend(near);
            return false;
        };
        let known = &keys[place];
        if value.is_nothing() {
            if !known.required {
                flaws.push(Flaw::new(
                    key.at,
                    "empty-value",
                    format!("`{}` is written, but nothing after it", key.text),
                    "fill it in, or take the line out",
                ));
            }
            return false;
        }
        seen[place] = true;
        let inner = Context {
            noun: Noun::Under(&key.text),
            key: &key.text,
        };
        let fits = fit(value, &known.shape, inner, flaws);
        readable &= fits || !known.required;
        fits
    });
    for (key, seen) in keys.iter().zip(seen) {
        if seen || !key.required {
            continue;
        }
        readable = false;
        if !misspelt.contains(&key.name.as_str()) {
            flaws.push(missing_key(node, key, noun));
        }
    }
    readable
}

/// The flaw of a text or a list where keys and values are wanted.
fn no_keys(node: &YamlNode, keys: &[KeyShape], noun: Noun<'_>) -> Flaw {
    let names: Vec<&str> = keys
        .iter()
        .filter(|key| key.required)
        .map(|key| key.name.as_str())
        .collect();
    let example = match (&node.content, names.as_slice()) {
        (Content::Text { text, .. }, ["id", rest @ ..]) => {
            let rest: String = rest.iter().map(|name| format!(", {name}: ...")).collect();
            format!("write `{{id: {}{rest}}}`", clip(text))
        }
        _ => format!("write its keys, at least: {}", names.join(", ")),
    };
    Flaw::new(
        node.at,
        "wrong-type",
        format!("{noun} is made of keys and values, and this is not"),
        example,
    )
}

fn missing_key(node: &YamlNode, key: &KeyShape, noun: Noun<'_>) -> Flaw {
    let id = node.get("id").and_then(YamlNode::text).map(clip);
    let what = match (&id, noun) {
        (Some(id), Noun::Entry(entry)) if key.name != "id" => {
            format!("the {entry} `{id}` has no `{}`", key.name)
        }
        _ => format!("{noun} has no `{}`", key.name),
    };
    Flaw::new(node.at, "missing-key", what, example_of(key))
}

/// What to write for a key that is missing.
fn example_of(key: &KeyShape) -> String {
    let name = &key.name;
    match &key.shape {
        Shape::Choice(words) => format!("add `{name}:` with one of: {}", words.join(", ")),
        Shape::Graded(scale) => format!("add `{name}:` with one of: {}", words::scale_line(scale)),
        Shape::Text if name == "id" => {
            "add `id:` with words in lower case and hyphens between them".to_owned()
        }
        Shape::List(..) => format!("add `{name}:` with a list"),
        Shape::Keys(_) => format!("add `{name}:` with its keys"),
        Shape::Flag => format!("add a line `{name}: true`"),
        Shape::Text | Shape::Number | Shape::Whole => format!("add a line `{name}: ...`"),
    }
}

fn unknown_key<'a>(
    at: TextPlace,
    key: &str,
    noun: Noun<'_>,
    near: Option<&str>,
    known: impl Iterator<Item = &'a str>,
) -> Flaw {
    let help = match near {
        Some(one) => format!("did you mean `{one}`?"),
        None => format!("its keys are: {}", known.collect::<Vec<_>>().join(", ")),
    };
    Flaw::new(
        at,
        "unknown-key",
        format!("`{}` is not a key of {noun}", clip(key)),
        help,
    )
}

fn not_one_value(node: &YamlNode, key: &str) -> Flaw {
    let (what, help) = match &node.content {
        Content::Map(entries) => {
            let first = entries.first().map(|(inner, _)| clip(&inner.text));
            let help = first.map_or_else(
                || "text that starts with `{` goes in quotes".to_owned(),
                |key| format!("`{key}:` was read as a key; text that holds `: ` goes in quotes"),
            );
            ("a group of keys", help)
        }
        _ => (
            "a list",
            "write the value without `[` `]` or `- `; text that starts with `[` goes in quotes"
                .to_owned(),
        ),
    };
    let message = format!("`{key}` takes one value, and this is {what}");
    Flaw::new(node.at, "wrong-type", message, help)
}

fn fit_scalar(node: &mut YamlNode, shape: &Shape, key: &str, flaws: &mut Vec<Flaw>) -> bool {
    let at = node.at;
    let (text, plain) = match &node.content {
        Content::Text { text, plain } => (text.as_str(), *plain),
        Content::Number(_) | Content::Whole(_) => return true,
        Content::List(_) | Content::Map(_) => {
            flaws.push(not_one_value(node, key));
            return false;
        }
    };
    let outcome = match shape {
        Shape::Choice(words) => choice(text, words, key),
        Shape::Graded(scale) => graded(text, plain, scale, key),
        Shape::Number => number(text, key).map(|n| Some(Content::Number(n))),
        Shape::Whole => whole(text, key).map(|n| Some(Content::Whole(n))),
        Shape::Flag => flag(text, key),
        Shape::Text | Shape::List(..) | Shape::Keys(_) => Ok(None),
    };
    match outcome {
        Ok(None) => true,
        Ok(Some(number)) => {
            node.content = number;
            true
        }
        Err((code, message, help)) => {
            flaws.push(Flaw::new(at, code, message, help));
            false
        }
    }
}

type Refusal = (&'static str, String, String);

fn choice(text: &str, words: &[String], key: &str) -> Result<Option<Content>, Refusal> {
    if words.iter().any(|word| word == text) {
        return Ok(None);
    }
    let list = words.join(", ");
    let help = match nearest(text, words.iter().map(String::as_str), 1).as_slice() {
        [one] => format!("did you mean `{one}`? the words are: {list}"),
        _ => format!("the words are: {list}"),
    };
    let message = format!("`{}` is not a word that `{key}` takes", clip(text));
    Err(("not-on-list", message, help))
}

fn flag(text: &str, key: &str) -> Result<Option<Content>, Refusal> {
    if matches!(text, "true" | "false") {
        return Ok(None);
    }
    let message = format!(
        "`{key}` is either true or false, and `{}` is not",
        clip(text)
    );
    Err((
        "wrong-type",
        message,
        format!("write `{key}: true`, or take the line out"),
    ))
}

fn graded(
    text: &str,
    plain: bool,
    scale: &[(&str, f64)],
    key: &str,
) -> Result<Option<Content>, Refusal> {
    if words::number_of(scale, text).is_some() {
        return Ok(None);
    }
    // Put together only when it is needed: most numbers are good ones.
    let help = || {
        let words = words::scale_line(scale);
        format!("write a number between 0 and 1, or one of: {words}")
    };
    if plain && let Some(number) = finite(text) {
        if number > 0.0 && number < 1.0 {
            return Ok(Some(Content::Number(number)));
        }
        let message = format!("`{key}` is {text}, and must lie between 0 and 1, ends left out");
        return Err(("off-scale", message, help()));
    }
    let help = help();
    let near = nearest(text, scale.iter().map(|(word, _)| *word), 1);
    let help = match near.as_slice() {
        [one] => format!("did you mean `{one}`? {help}"),
        _ => slipped(text).map_or(help, |number| format!("write `{key}: {number}`")),
    };
    let message = format!("`{}` is not on the scale of `{key}`", clip(text));
    Err(("off-scale", message, help))
}

fn number(text: &str, key: &str) -> Result<f64, Refusal> {
    finite(text).ok_or_else(|| {
        let help = slipped(text).map_or_else(
            || format!("write `{key}` in digits, with a point before the decimals and no unit"),
            |number| format!("write {number}"),
        );
        let message = format!("`{key}` takes a number, and `{}` is not one", clip(text));
        ("wrong-type", message, help)
    })
}

fn whole(text: &str, key: &str) -> Result<u64, Refusal> {
    let most = u64::from(u32::MAX);
    text.parse::<u64>()
        .ok()
        .filter(|number| *number <= most)
        .ok_or_else(|| {
            let message = format!(
                "`{key}` takes a whole number, and `{}` is not one",
                clip(text)
            );
            let help = "write it in digits: 1, 2, 3, and so on".to_owned();
            ("wrong-type", message, help)
        })
}

/// A number in plain digits; none of the ways to write infinity or "not a number".
fn finite(text: &str) -> Option<f64> {
    if !text
        .chars()
        .all(|c| c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | 'e' | 'E'))
    {
        return None;
    }
    text.parse::<f64>().ok().filter(|number| number.is_finite())
}

/// The number behind two common slips: a decimal comma, and a percentage.
fn slipped(text: &str) -> Option<f64> {
    if let Some(share) = text.strip_suffix('%') {
        return finite(share.trim()).map(|number| number / 100.0);
    }
    let (whole, decimals) = text.split_once(',')?;
    finite(&format!("{whole}.{decimals}"))
}

#[cfg(test)]
mod tests {
    use super::super::document::LibraryFile;
    use super::super::yaml::read;
    use super::*;

    fn library_shape() -> Shape {
        let schema = schemars::schema_for!(LibraryFile).to_value();
        from_schema(&schema, &schema).expect("the schema says nothing that shapes do not know")
    }

    fn flaws(text: &str) -> Vec<(String, usize, String)> {
        let mut node = read(text).expect("can be read").expect("holds something");
        let mut flaws = Vec::new();
        let context = Context {
            noun: Noun::Entry("library file"),
            key: "",
        };
        fit(&mut node, &library_shape(), context, &mut flaws);
        flaws
            .into_iter()
            .map(|flaw| (flaw.code.to_owned(), flaw.at.line, flaw.message))
            .collect()
    }

    #[test]
    fn everything_wrong_with_an_entry_is_said_at_once() {
        let found = flaws(
            "faults:\n  - id: a\n    nmae: A\n    stage: topp\n    cost: 1,5\n    aliases: push\n    caused_by:\n      - {id: b, strength: 1.4}\n      - {id: c, strength: likely}\n",
        );
        let codes: Vec<(&str, usize)> = found
            .iter()
            .map(|(code, line, _)| (code.as_str(), *line))
            .collect();
        assert_eq!(
            codes,
            [
                ("unknown-key", 3),
                ("not-on-list", 4),
                ("wrong-type", 5),
                ("wrong-type", 6),
                ("off-scale", 8),
                ("off-scale", 9),
            ]
        );
    }

    #[test]
    fn the_ways_to_write_no_number_are_no_number() {
        for text in ["nan", ".nan", "inf", "-.inf", "1e999", "infinity", "e", ""] {
            assert_eq!(finite(text), None, "{text}");
        }
        assert_eq!(finite("-0.5"), Some(-0.5));
        assert_eq!(slipped("30%"), Some(0.3));
        assert_eq!(slipped("0,3"), Some(0.3));
    }
}
