//! One key of one entry changed in a coach's text, with every other character left alone.

/// A text with one line more or one line other than before.
pub(super) struct Changed {
    pub(super) text: String,
    /// The line that was written, from 0.
    pub(super) line: usize,
    /// Whether it stands between lines that were there, rather than in the place of one.
    pub(super) inserted: bool,
}

/// Every way to give the entry `id` the line `key: value`: one for each place where the text names
/// that id. Whether one is right, only reading the result can tell.
pub(super) fn with_key<'t>(
    text: &'t str,
    id: &'t str,
    key: &'t str,
    value: &'t str,
) -> impl Iterator<Item = Changed> + 't {
    let lines: Vec<&str> = text.lines().collect();
    (0..lines.len()).filter_map(move |at| {
        let column = column_of_id(lines[at], id)?;
        let entry = block(&lines, at, column);
        let line = format!("{}{key}: {value}", " ".repeat(column));
        let old = entry.clone().find(|index| {
            starts_at(lines[*index], column).is_some_and(|rest| {
                rest.strip_prefix(key)
                    .is_some_and(|rest| rest.starts_with(':'))
            })
        });
        let mut changed: Vec<&str> = lines.clone();
        let (place, inserted) = match old {
            Some(index) => (index, false),
            None => (at + 1, true),
        };
        if inserted {
            changed.insert(place, &line);
        } else {
            changed[place] = &line;
        }
        Some(Changed {
            text: changed.join("\n") + "\n",
            line: place,
            inserted,
        })
    })
}

/// The column of `id: <id>` when a line says that and nothing else.
fn column_of_id(line: &str, id: &str) -> Option<usize> {
    let mut rest = line.trim_start_matches(' ');
    while let Some(inner) = rest.strip_prefix("- ") {
        rest = inner.trim_start_matches(' ');
    }
    let value = rest.strip_prefix("id:")?.trim();
    let value = value.split(" #").next().unwrap_or_default().trim();
    (value.trim_matches(['"', '\'']) == id).then(|| line.len() - rest.len())
}

/// The lines of the entry whose keys stand in `column`, around line `at`.
fn block(lines: &[&str], at: usize, column: usize) -> std::ops::Range<usize> {
    let belongs = |line: &&str| {
        let blank = line.trim().is_empty() || line.trim_start().starts_with('#');
        blank || line.len() - line.trim_start_matches(' ').len() >= column
    };
    let before = lines[..at]
        .iter()
        .rev()
        .take_while(|line| belongs(line))
        .count();
    let after = lines[at + 1..]
        .iter()
        .take_while(|line| belongs(line))
        .count();
    // An id in an item's first line has nothing of its entry before it.
    let before = if lines[at].trim_start().starts_with("- ") {
        0
    } else {
        before
    };
    at - before..at + 1 + after
}

fn starts_at(line: &str, column: usize) -> Option<&str> {
    let rest = line.get(column..)?;
    (line[..column].trim().is_empty() && !rest.starts_with(' ')).then_some(rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn first(text: &str, key: &str) -> String {
        with_key(text, "a", key, "new").next().expect("found").text
    }

    #[test]
    fn a_key_is_added_below_the_id_or_changed_where_it_stands() {
        let text = "drills:\n  - id: a # mine\n    name: A\n    status: trial\n  - id: b\n";
        assert_eq!(
            first(text, "status"),
            "drills:\n  - id: a # mine\n    name: A\n    status: new\n  - id: b\n"
        );
        assert_eq!(
            first(text, "replaces"),
            "drills:\n  - id: a # mine\n    replaces: new\n    name: A\n    status: trial\n  - id: b\n"
        );
    }

    #[test]
    fn an_entry_on_one_line_is_left_to_be_written_anew() {
        assert!(
            with_key("drills: [{id: a, name: A}]\n", "a", "status", "trial")
                .next()
                .is_none()
        );
    }
}
