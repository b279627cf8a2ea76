//! What holds of the source itself: rooms that know of no door, files that do not go round in a circle,
//! functions that are short.

#[path = "house/circles.rs"]
mod circles;
#[path = "house/files.rs"]
mod files;
#[path = "house/lengths.rs"]
mod lengths;
#[path = "house/map.rs"]
mod map;
#[path = "house/names.rs"]
mod names;
#[path = "house/source.rs"]
mod source;

/// The files of the rooms: everything but the doors, and the two files that belong to cargo.
fn rooms() -> Vec<(String, String)> {
    let files = source::files().into_iter();
    let rooms = files.filter(|file| {
        let door = ["cli/", "web/"];
        let door = door.iter().any(|door| file.name.starts_with(door));
        !door && file.name != "main.rs" && file.name != "build.rs"
    });
    rooms.map(|file| (file.name, file.text)).collect()
}

/// The lines that are code, and not comments or tests, with their numbers.
fn code(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let lines = source::before_tests(text).lines().enumerate();
    lines
        .map(|(at, line)| (at + 1, line))
        .filter(|(_, line)| !line.trim_start().starts_with("//"))
}

/// Whether text names an option of a command line: two hyphens and a small letter, at its beginning or
/// behind a blank, a bracket or a quote.
fn names_an_option(text: &str) -> bool {
    text.match_indices("--").any(|(at, _)| {
        let before = text[..at].chars().next_back();
        let after = text[at + 2..].chars().next();
        before.is_none_or(|c| c.is_whitespace() || "(`\"'[".contains(c))
            && after.is_some_and(|c| c.is_ascii_lowercase())
    })
}

/// Whether a text in a line begins an error's help.
fn says_help(line: &str) -> bool {
    let texts = line.split('"').skip(1).step_by(2);
    texts.into_iter().any(|text| text.contains("help: "))
}

#[test]
fn an_option_is_known_where_it_is_named() {
    assert!(names_an_option("write --place range"));
    assert!(names_an_option("\"--place\""));
    assert!(!names_an_option("a -- b, a--b and ---"));
}

/// A page in a browser has no `--shot` to offer, and its errors no line that begins with `help:`. What a
/// room has to say is a typed value; the door puts it in its own words.
#[test]
fn no_room_speaks_of_options() {
    let mut found = Vec::new();
    for (name, text) in rooms() {
        for (at, line) in code(&text) {
            if names_an_option(line) || says_help(line) {
                found.push(format!("src/{name}:{at}: {}", line.trim()));
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// No room imports a door.
#[test]
fn no_room_imports_a_door() {
    for (name, text) in rooms() {
        for (at, line) in code(&text) {
            let imports = line.contains("crate::cli") || line.contains("crate::web");
            assert!(!imports, "src/{name}:{at}: {line}");
        }
    }
}
