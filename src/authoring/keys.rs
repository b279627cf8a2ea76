//! One key of one entry, or one whole entry, changed in a coach's text, with every other character
//! left alone.

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

/// The text without the item that makes it `fit`, and without its list when that held nothing else. Only
/// items that name a part of `id` are tried.
pub(super) fn without_item(text: &str, id: &str, fits: impl Fn(&str) -> bool) -> Option<String> {
    let lines: Vec<&str> = text.lines().collect();
    let indent = |line: &str| line.len() - line.trim_start_matches(' ').len();
    let content = |line: &&str| !line.trim().is_empty() && !line.trim_start().starts_with('#');
    let part = id.split("-to-").next().unwrap_or(id);
    let starts = (0..lines.len()).filter(|at| lines[*at].trim_start().starts_with("- "));
    let mut cuts = starts.filter_map(|start| {
        let column = indent(lines[start]);
        let below = lines[start + 1..].iter();
        let end = below
            .take_while(|line| !content(line) || indent(line) > column)
            .count();
        // Remarks at the end are about what follows.
        let mut end = start + 1 + end;
        while end > start + 1 && !content(&lines[end - 1]) {
            end -= 1;
        }
        let named = lines[start..end].iter().any(|line| line.contains(part));
        let item = |line: &str| indent(line) == column && line.trim_start().starts_with("- ");
        let head = (0..start).rev().find(|at| content(&lines[*at]));
        let next = lines[end..].iter().find(|line| content(line));
        let alone = next.is_none_or(|line| !item(line));
        let list = head.filter(|at| {
            alone && lines[*at].trim_end().ends_with(':') && !lines[*at].starts_with(' ')
        });
        let kept = (0..lines.len()).filter(|at| !(start..end).contains(at) && Some(*at) != list);
        let kept: Vec<&str> = kept.map(|at| lines[at]).collect();
        named.then(|| kept.join("\n") + "\n")
    });
    cuts.find(|text| fits(text))
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
    fn an_item_is_taken_out_and_its_list_when_it_was_alone() {
        let text = "# mine\ndrills:\n  - id: a\n    steps:\n      - id a\n\n  # b is new\n  - id: b\nlinks:\n  - {cause: a, effect: b}\n";
        let cut = |id, wanted: &str| without_item(text, id, |text| text == wanted);
        let wanted =
            "# mine\ndrills:\n\n  # b is new\n  - id: b\nlinks:\n  - {cause: a, effect: b}\n";
        assert!(cut("a", wanted).is_some());
        let wanted =
            "# mine\ndrills:\n  - id: a\n    steps:\n      - id a\n\n  # b is new\n  - id: b\n";
        assert!(cut("a-to-b", wanted).is_some());
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
