//! The source as text: which files there are, and what of them is code.

use std::path::{Path, PathBuf};

/// A file of the source: its path below `src`, and its text.
pub struct File {
    pub name: String,
    pub text: String,
}

fn below(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder of the source") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            below(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

/// Every Rust file of the source, by name.
pub fn files() -> Vec<File> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    below(&root, &mut found);
    found.sort();
    assert!(found.len() > 150, "{} files", found.len());
    let file = |path: PathBuf| File {
        name: path
            .strip_prefix(&root)
            .expect("below")
            .to_string_lossy()
            .replace('\\', "/"),
        text: std::fs::read_to_string(&path).expect("readable"),
    };
    found.into_iter().map(file).collect()
}

/// What stands before the tests of a file.
pub fn before_tests(text: &str) -> &str {
    text.split("\n#[cfg(test)]\nmod ").next().unwrap_or(text)
}

/// How many bytes of `text` are a comment or a literal that begins here, if one does.
fn no_code(text: &str, after_a_word: bool) -> Option<usize> {
    let until = |open: usize, end: &str| {
        let rest = text[open..].find(end);
        rest.map_or(text.len(), |at| open + at + end.len())
    };
    if text.starts_with("//") {
        return Some(text.find('\n').unwrap_or(text.len()));
    }
    if text.starts_with("/*") {
        return Some(until(2, "*/"));
    }
    let quoted = text.strip_prefix('b').unwrap_or(text);
    let mark = text.len() - quoted.len();
    if let Some(raw) = quoted.strip_prefix('r').filter(|_| !after_a_word) {
        let signs = raw.len() - raw.trim_start_matches('#').len();
        if raw[signs..].starts_with('"') {
            let end = format!("\"{}", "#".repeat(signs));
            return Some(until(mark + signs + 2, &end));
        }
    }
    let sign = quoted.chars().next().filter(|c| matches!(c, '"' | '\''))?;
    if mark > 0 && after_a_word {
        return None;
    }
    let mut chars = quoted.char_indices().skip(1).peekable();
    // A lifetime has no sign at its end.
    if sign == '\'' {
        let mut ahead = quoted.chars().skip(1);
        if ahead.next()? != '\\' && ahead.next()? != '\'' {
            return None;
        }
    }
    while let Some((at, c)) = chars.next() {
        if c == '\\' {
            chars.next();
        } else if c == sign {
            return Some(mark + at + 1);
        }
    }
    None
}

/// The code of a text: comments and what stands in quotes are blanks, lines stay where they are.
pub fn code(text: &str) -> String {
    let mut code = String::with_capacity(text.len());
    let mut at = 0;
    let mut before = ' ';
    while let Some(c) = text[at..].chars().next() {
        let word = before.is_alphanumeric() || before == '_';
        if let Some(length) = no_code(&text[at..], word) {
            let gone = &text[at..at + length];
            code.extend(gone.chars().map(|c| if c == '\n' { c } else { ' ' }));
            at += length;
            before = ' ';
        } else {
            code.push(c);
            at += c.len_utf8();
            before = c;
        }
    }
    code
}

#[test]
fn what_is_no_code_is_blank() {
    let text = "a // b {\nc \"d { \\\" e\" 'f' <'g> b'{' r#\"h \" i\"# '\\'' j";
    let code = code(text);
    assert_eq!(code.chars().count(), text.chars().count());
    let left: Vec<&str> = code.split_whitespace().collect();
    assert_eq!(left, ["a", "c", "<'g>", "j"]);
    assert_eq!(code.find('\n'), text.find('\n'));
}
