//! Records as text, for other programs: lines of JSON, or a table with a line for each single thing.

use super::record::Record;
use serde_json::{Map, Value, json};

/// The form of both; raised when an older program could not read it.
pub const EXPORT_FORMAT: i64 = 1;

/// The columns of the table.
const COLUMNS: [&str; 6] = ["kind", "handle", "number", "field", "type", "value"];

/// Why text could not be read as records.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {why}")]
pub struct ExchangeError {
    /// The line, from 1 on.
    pub line: usize,
    /// What is wrong.
    pub why: String,
}

/// A head that says what it is, then a line for each record.
///
/// # Panics
///
/// Never: a record is always JSON.
#[must_use]
pub fn to_lines(entries: &[Record]) -> String {
    let mut text = json!({"kind": "fairwhy-records", "form": EXPORT_FORMAT}).to_string();
    text.push('\n');
    for entry in entries {
        text.push_str(&serde_json::to_string(entry).expect("a record is JSON"));
        text.push('\n');
    }
    text
}

/// Reads what [`to_lines`] wrote.
///
/// # Errors
///
/// The first line that is none of it, and why.
pub fn from_lines(text: &str) -> Result<Vec<Record>, ExchangeError> {
    let mut lines = text
        .lines()
        .enumerate()
        .map(|(at, line)| (at + 1, line))
        .filter(|(_, line)| !line.trim().is_empty());
    let wrong = |line: usize, why: String| ExchangeError { line, why };
    let (at, head) = lines
        .next()
        .ok_or_else(|| wrong(1, "there is nothing in it".into()))?;
    let head: Value = serde_json::from_str(head).unwrap_or_default();
    if head["kind"] != "fairwhy-records" {
        return Err(wrong(
            at,
            "the first line does not say that these are records".into(),
        ));
    }
    if head["form"] != EXPORT_FORMAT {
        return Err(wrong(
            at,
            format!(
                "its form is {}, and {EXPORT_FORMAT} is known here",
                head["form"]
            ),
        ));
    }
    lines
        .map(|(at, line)| serde_json::from_str(line).map_err(|error| wrong(at, error.to_string())))
        .collect()
}

/// A table: what it is of, the field, its type and its value.
///
/// # Panics
///
/// Never: writing to memory does not fail.
#[must_use]
pub fn to_csv(entries: &[Record]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS).expect("memory takes it");
    for entry in entries {
        let (table, handle, number) = entry.key();
        let kind = ["student", "lesson", "outcome"][usize::from(table)];
        let whole = serde_json::to_value(entry).expect("a record is JSON");
        let mut fields = Vec::new();
        flatten("", &whole, &mut fields);
        let number = number.to_string();
        for (field, of, value) in fields {
            let row = [kind, handle, &number, &field, of, &value];
            writer.write_record(row).expect("memory takes it");
        }
    }
    let bytes = writer.into_inner().expect("memory takes it");
    String::from_utf8(bytes).expect("text in, text out")
}

/// Every single thing of a value, with the way to it.
fn flatten(at: &str, value: &Value, fields: &mut Vec<(String, &'static str, String)>) {
    let under = |key: &str| {
        if at.is_empty() {
            key.to_owned()
        } else {
            format!("{at}.{key}")
        }
    };
    match value {
        Value::Object(map) if !map.is_empty() => {
            for (key, value) in map {
                flatten(&under(key), value, fields);
            }
        }
        Value::Array(list) if !list.is_empty() => {
            for (index, value) in list.iter().enumerate() {
                flatten(&under(&index.to_string()), value, fields);
            }
        }
        Value::String(text) => fields.push((at.to_owned(), "text", text.clone())),
        Value::Number(number) => fields.push((at.to_owned(), "number", number.to_string())),
        other => fields.push((at.to_owned(), "json", other.to_string())),
    }
}

/// Reads what [`to_csv`] wrote; lines of one record stand together.
///
/// # Errors
///
/// The first line that is none of it, and why.
pub fn from_csv(text: &str) -> Result<Vec<Record>, ExchangeError> {
    let mut reader = csv::ReaderBuilder::new().from_reader(text.as_bytes());
    let head = reader
        .headers()
        .map(|head| head.iter().eq(COLUMNS))
        .unwrap_or(false);
    if !head {
        return Err(ExchangeError {
            line: 1,
            why: format!("the columns of records are {}", COLUMNS.join(",")),
        });
    }
    let mut entries = Vec::new();
    let mut begun: Option<([String; 3], usize, Value)> = None;
    for row in reader.records() {
        let row = row.map_err(|error| ExchangeError {
            line: error.position().map_or(0, |at| at.line() as usize),
            why: "it does not have six columns".into(),
        })?;
        let line = row.position().map_or(0, |at| at.line() as usize);
        let key = [0, 1, 2].map(|column| row[column].to_owned());
        if begun.as_ref().is_none_or(|(of, ..)| *of != key) {
            entries.extend(finished(begun.take())?);
            begun = Some((key, line, Value::Null));
        }
        let value = match &row[4] {
            "text" => Value::String(row[5].to_owned()),
            "number" | "json" => serde_json::from_str(&row[5]).map_err(|error| ExchangeError {
                line,
                why: error.to_string(),
            })?,
            other => {
                return Err(ExchangeError {
                    line,
                    why: format!("`{other}` is no type; write text, number or json"),
                });
            }
        };
        if let Some((.., whole)) = &mut begun {
            place(whole, &row[3], value).map_err(|why| ExchangeError { line, why })?;
        }
    }
    entries.extend(finished(begun)?);
    Ok(entries)
}

fn finished(begun: Option<([String; 3], usize, Value)>) -> Result<Option<Record>, ExchangeError> {
    begun
        .map(|(_, line, whole)| {
            serde_json::from_value(whole).map_err(|error| ExchangeError {
                line,
                why: format!("the record that begins here is not whole: {error}"),
            })
        })
        .transpose()
}

/// Puts a value where a way leads; a number on the way is a place in a list, and comes in order.
fn place(whole: &mut Value, way: &str, value: Value) -> Result<(), String> {
    let mut here = whole;
    for step in way.split('.') {
        here = if let Ok(index) = step.parse::<usize>() {
            if here.is_null() {
                *here = Value::Array(Vec::new());
            }
            let list = here
                .as_array_mut()
                .ok_or_else(|| format!("`{way}` is no list"))?;
            if index > list.len() {
                return Err(format!("`{way}` comes before what stands before it"));
            }
            if index == list.len() {
                list.push(Value::Null);
            }
            &mut list[index]
        } else {
            if here.is_null() {
                *here = Value::Object(Map::new());
            }
            let map = here
                .as_object_mut()
                .ok_or_else(|| format!("`{way}` holds nothing"))?;
            map.entry(step).or_insert(Value::Null)
        };
    }
    if !here.is_null() {
        return Err(format!("`{way}` comes twice"));
    }
    *here = value;
    Ok(())
}
