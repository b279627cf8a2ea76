//! What `docs/format.md` and the schema say of the format.

use super::*;

/// The part of `docs/format.md` that is made from the types and the list of codes.
fn reference() -> String {
    use fairwhy::knowledge::words::{COMMON_WORDS, LEAK_WORDS, STRENGTH_WORDS, scale_line};
    let schema = fairwhy::knowledge::schema();
    let text = |value: &serde_json::Value| value.as_str().unwrap_or_default().replace('\n', " ");
    let mut page = String::from("\n## Lists of a file\n\n");
    let mut groups: Vec<(String, String)> = Vec::new();
    let name_of = |inner: &serde_json::Value| {
        let text = inner.to_string();
        let start = text.find("#/$defs/")? + 8;
        let name: String = text[start..]
            .chars()
            .take_while(|c| c.is_alphanumeric())
            .collect();
        Some(name)
    };
    let lists = schema["properties"].as_object().expect("an object");
    for (list, inner) in lists {
        page += &format!("- `{list}`: {}\n", text(&inner["description"]));
        let name = name_of(inner).expect("a list of something");
        match groups.iter_mut().find(|(known, _)| *known == name) {
            Some((_, title)) => *title += &format!(", `{list}`"),
            None => groups.push((name, format!("An entry of `{list}`"))),
        }
    }
    let mut words: Vec<(String, String)> = Vec::new();
    let mut next = 0;
    while let Some((name, title)) = groups.get(next).cloned() {
        next += 1;
        let group = &schema["$defs"][&name];
        let required = group["required"].as_array().cloned().unwrap_or_default();
        page += &format!("\n## {title}\n\n| key | must | what it says |\n| --- | --- | --- |\n");
        for (key, inner) in group["properties"].as_object().expect("an object") {
            let must = if required.contains(&key.as_str().into()) {
                "yes"
            } else {
                ""
            };
            let description = text(&inner["description"]).replace('|', "\\|");
            page += &format!("| `{key}` | {must} | {description} |\n");
            let Some(inner) = name_of(inner) else {
                continue;
            };
            let (list, title) = if schema["$defs"][&inner]["oneOf"].is_array() {
                (&mut words, format!("Words of `{key}`"))
            } else {
                (&mut groups, format!("Inside `{key}`"))
            };
            if list.iter().all(|(known, _)| *known != inner) {
                list.push((inner, title));
            }
        }
    }
    for (name, title) in words {
        page += &format!("\n## {title}\n\n");
        for word in schema["$defs"][&name]["oneOf"].as_array().expect("a list") {
            page += &format!(
                "- `{}`: {}\n",
                text(&word["const"]),
                text(&word["description"])
            );
        }
    }
    page += "\n## Words in place of numbers\n\n";
    for (key, scale) in [
        ("`strength` and `effect`", STRENGTH_WORDS),
        ("`how_common`", COMMON_WORDS),
        ("`leak`", LEAK_WORDS),
    ] {
        page += &format!("- {key}: {}\n", scale_line(scale));
    }
    page += "\nOr a number between 0 and 1, both ends left out.\n";
    page += "\n## Codes of problems\n\nErrors stop loading; warnings do not, unless `--strict` is given.\n\n| code | | what is wrong |\n| --- | --- | --- |\n";
    for (code, severity, meaning) in CODES {
        let severity = format!("{severity:?}").to_lowercase();
        page += &format!("| `{code}` | {severity} | {meaning} |\n");
    }
    page
}

#[test]
fn the_description_of_the_format_is_the_format() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/format.md");
    let page = fs::read_to_string(&path).expect("docs/format.md");
    let (lead, rest) = page.split_once(MARK).expect("the mark is there");
    let made = reference();
    if std::env::var_os("FAIRWHY_WRITE_DOCS").is_some() {
        fs::write(&path, format!("{lead}{MARK}{made}")).expect("docs/format.md");
    } else {
        assert_eq!(rest, made, "run the tests with FAIRWHY_WRITE_DOCS=1");
    }
}

#[test]
fn the_example_of_the_description_is_a_library() {
    let page = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/format.md"))
        .expect("docs/format.md");
    let example = page
        .split("```yaml\n")
        .nth(1)
        .and_then(|rest| rest.split("```").next())
        .expect("an example");
    let layers = [layer("rain", example)];
    match load(&layers, Strictness::Strict) {
        Ok(loaded) => assert_eq!(loaded.base.conditions.len(), 3),
        Err(found) => panic!("{}", report_problems(&found, &layers, Paint::Plain)),
    }
}

/// What the schema allows is what the reader takes: each list, each required key, each word.
#[test]
fn the_schema_names_every_list_and_refuses_other_keys() {
    let schema = fairwhy::knowledge::schema();
    let lists: Vec<&String> = schema["properties"]
        .as_object()
        .expect("an object")
        .keys()
        .collect();
    assert_eq!(
        lists,
        [
            "body_words",
            "cases",
            "causes",
            "clubs",
            "denials",
            "drills",
            "facts",
            "faults",
            "flights",
            "hedges",
            "links",
            "numbers",
            "opposites",
            "outcomes",
            "sayings",
            "shorthand",
            "sources",
            "stages",
            "synonyms",
            "topics",
            "word_lists",
        ]
    );
    let kinds = schema["$defs"].as_object().expect("an object").values();
    for kind in kinds
        .filter(|kind| kind["type"] == "object")
        .chain([&schema])
    {
        assert_eq!(kind["additionalProperties"], false, "{kind}");
        let keys = kind["properties"].as_object().expect("an object").values();
        for key in keys {
            assert!(key["description"].is_string(), "{key}");
        }
    }
}
