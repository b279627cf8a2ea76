//! How long functions are.

use super::source::{code, files};

/// No function is longer than this, from the line of its name to its last, ...
const LONGEST: usize = 80;

/// ... but for these, each with its reason.
const LONGER: [(&str, &str, &str); 3] = [
    ("words/spans.rs", "fits", "one walk over what a span may be"),
    ("words/spans.rs", "settle_fits", "the same walk's end"),
    ("words/free_words.rs", "likeness", "one sum, term by term"),
];

/// Most functions are shorter than this: so many of a hundred at the least.
const SHORT: usize = 35;
const SHORT_OF_A_HUNDRED: usize = 90;

/// The functions of a text, each with its name, its first line and how many lines it has.
fn functions(text: &str) -> Vec<(String, usize, usize)> {
    let code = code(text);
    let mut found = Vec::new();
    for (at, _) in code.match_indices("fn ") {
        let inside = code[..at].chars().next_back();
        if inside.is_some_and(|c| c.is_alphanumeric() || c == '_') {
            continue;
        }
        let rest = &code[at + 3..];
        let name: String = rest
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect();
        if name.is_empty() {
            continue;
        }
        if let Some(length) = body_end(rest) {
            let lines = rest[..length].matches('\n').count() + 1;
            found.push((name, code[..at].matches('\n').count() + 1, lines));
        }
    }
    found
}

/// Where the body ends that follows; none for a function without one.
fn body_end(rest: &str) -> Option<usize> {
    let (mut brackets, mut braces) = (0, 0);
    for (at, c) in rest.char_indices() {
        match c {
            '(' | '[' if braces == 0 => brackets += 1,
            ')' | ']' if braces == 0 => brackets -= 1,
            ';' if braces == 0 && brackets == 0 => return None,
            '{' if brackets == 0 => braces += 1,
            '}' if brackets == 0 => {
                braces -= 1;
                if braces == 0 {
                    return Some(at + 1);
                }
            }
            _ => {}
        }
    }
    None
}

#[test]
fn lengths_are_counted() {
    let text = "trait A { fn a(b: [u8; 2]); }\nfn c<'d>() -> u8 {\n    // }\n    '}' as u8\n}\n";
    assert_eq!(functions(text), [("c".to_owned(), 2, 4)]);
}

#[test]
fn functions_are_short() {
    let (mut all, mut short) = (0, 0);
    let mut long = Vec::new();
    for file in files() {
        for (name, line, lines) in functions(&file.text) {
            all += 1;
            short += usize::from(lines < SHORT);
            let known = |(of, known, _): &(&str, &str, &str)| *of == file.name && *known == name;
            if lines > LONGEST && !LONGER.iter().any(known) {
                long.push(format!(
                    "src/{}:{line}: {name} has {lines} lines",
                    file.name
                ));
            }
        }
    }
    assert!(long.is_empty(), "{}", long.join("\n"));
    assert!(
        short * 100 >= SHORT_OF_A_HUNDRED * all,
        "{short} of {all} functions have fewer than {SHORT} lines"
    );
}
