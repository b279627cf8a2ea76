//! What a change to a library changes, and what its layers bring.

use super::page::Page;
use crate::authoring::{
    Checked, EntryRef, Fate, FieldChange, LinkChange, NearCopy, Overlay, Preview, RowChange, Taken,
};
use crate::knowledge::{DrillText, KnowledgeBase};
use serde_json::{Value, json};
use std::path::PathBuf;

/// The layers with the folder of each as JSON; with `diff`, what each changes in those below it.
#[must_use]
pub fn layers_json(overlays: &[Overlay], folders: &[Option<PathBuf>], diff: bool) -> Value {
    let layers = overlays.iter().zip(folders).enumerate();
    let layers = layers.map(|(at, (layer, folder))| {
        if diff && at > 0 {
            json!({"name": layer.name, "folder": folder, "counts": layer.counts, "adds": layer.adds,
                "replaces": layer.replaces, "retires": layer.retires})
        } else {
            json!({"name": layer.name, "folder": folder, "counts": layer.counts, "adds": layer.adds.len(),
                "replaces": layer.replaces.len(), "retires": layer.retires.len()})
        }
    });
    json!({ "layers": layers.collect::<Vec<_>>() })
}

/// What a change would do, or has done, below a line that says which.
#[must_use]
pub fn change_page(checked: &Checked, headline: &str) -> Page {
    let mut page = Page::new();
    page.heading(headline);
    preview(&mut page, &checked.preview, &checked.after);
    for copy in &checked.copies {
        near_copy(&mut page, copy, &checked.after);
    }
    let warnings = checked.warnings.iter().map(|warning| {
        let help = warning.help.as_deref().unwrap_or_default();
        let place = format!("{}, line {}", warning.file, warning.line);
        format!("{} ({place}): {help}", warning.message)
    });
    page.bullets_under("Worth a look", warnings);
    page
}

/// The same as JSON.
#[must_use]
pub fn change_json(checked: &Checked) -> Value {
    json!({
        "changes": checked.preview,
        "near_copies": checked.copies.iter().map(|copy| json!({
            "id": copy.own.id, "of": copy.of, "likeness": copy.likeness, "measure": MEASURE,
        })).collect::<Vec<_>>(),
        "warnings": checked.warnings,
    })
}

/// How likeness is measured, in words.
const MEASURE: &str = "Sorensen-Dice coefficient of three-word runs in purpose, set-up and steps";

fn preview(page: &mut Page, preview: &Preview, base: &KnowledgeBase) {
    page.bullets(preview.replaced.iter().map(|(id, layer)| {
        format!(
            "{} now stands in the place of the one from {layer}.",
            named(base, id)
        )
    }));
    for (id, warning) in &preview.unwarned {
        page.warning(format!("{} no longer warns: {warning}", named(base, id)));
    }
    for retired in &preview.retired {
        page.text(format!(
            "{} is retired: it is no longer offered, and leads to {}.",
            named(base, &retired.id),
            named(base, &retired.retired_for)
        ));
    }
    offers(page, preview);
    let gone = preview.no_longer_offered.iter();
    page.bullets_under(
        "No longer offered",
        gone.map(|(drill, condition)| {
            format!("{} for {}", named(base, drill), named(base, condition))
        }),
    );
    page.bullets_under(
        "Links",
        preview.links.iter().map(|link| changed(link, base)),
    );
    for change in &preview.rows {
        row(page, change, base);
    }
    let words = preview.words.iter();
    page.bullets_under(
        "Now understood",
        words.map(|(words, id)| format!("\"{words}\" as {id}")),
    );
    let broken = preview.broken_cases.iter();
    page.bullets_under(
        "Advice that changes",
        broken.map(|case| format!("The case {} no longer holds: {}", case.id, case.complaint)),
    );
}

/// What is offered that was not before, with its place among the others.
fn offers(page: &mut Page, preview: &Preview) {
    let offers = preview.offers.iter().map(|offer| {
        let first = preview.first_remedy_for.contains(&offer.condition);
        [
            format!("{} ({})", offer.name, offer.condition),
            format!("{:.2}", offer.effect),
            if first {
                "the first remedy for it".to_owned()
            } else {
                format!("{} of {} by how well it works", offer.place, offer.of)
            },
            offer.leads_to.join(", "),
        ]
    });
    page.heading_if(!preview.offers.is_empty(), "Now offered for")
        .grid(
            ["For", "Works", "Place", "Which can lead to"],
            offers.collect(),
        );
}

/// What becomes of a link.
fn changed(link: &LinkChange, base: &KnowledgeBase) -> String {
    let [cause, effect] = [&link.cause, &link.effect].map(|id| named(base, id));
    let says = match (link.before, link.after, link.share) {
        (None, Some(_), Some(share)) => format!("new, share {share:.2}"),
        (None, Some(after), None) => format!("new, strength {after:.2}"),
        (Some(before), None, _) => format!("gone, it was {before:.2}"),
        (before, after, _) => format!(
            "{:.2} becomes {:.2}",
            before.unwrap_or_default(),
            after.unwrap_or_default()
        ),
    };
    format!("{cause} -> {effect}: {says}")
}

/// Shares that change by less than a point are not shown; a program gets all.
const TOLD: f64 = 0.005;
/// Nor are more than these.
const MOST_TOLD: usize = 8;

/// What stands behind a condition now, and whether the answer to it alone is another.
fn row(page: &mut Page, change: &RowChange, base: &KnowledgeBase) {
    let name = |id: &String| {
        if *id == change.id {
            "(its own doing)".to_owned()
        } else {
            named(base, id)
        }
    };
    let told = change.row.iter();
    let told = told.filter(|share| (share.before - share.after).abs() >= TOLD);
    let rows = told.take(MOST_TOLD).map(|share| {
        let [before, after] = [share.before, share.after].map(|share| 100.0 * share);
        let name = name(&share.id);
        [name, format!("{before:.0} %"), format!("{after:.0} %")]
    });
    let rows: Vec<_> = rows.collect();
    if !rows.is_empty() {
        page.heading(format!(
            "Of those who show {}, one works on",
            named(base, &change.id)
        ));
        page.grid(["Start", "Was", "Is"], rows);
    }
    let list = |ids: &[String]| ids.iter().map(&name).collect::<Vec<_>>().join(", ");
    let [before, after] = [&change.starts_before, &change.starts_after].map(|ids| list(ids));
    let says = if change.starts_before == change.starts_after {
        format!("stay: {after}")
    } else if change.starts_before.is_empty() {
        format!("are: {after}")
    } else {
        format!("were: {before}; now: {after}")
    };
    page.text(format!("Seen alone, the first starts {says}."));
}

fn named(base: &KnowledgeBase, id: &str) -> String {
    let condition = base.find(id).map(|key| base.condition(key).name.as_str());
    let name = condition.or_else(|| base.find_drill(id).map(|key| base.drill(key).name.as_str()));
    name.map_or_else(|| id.to_owned(), |name| format!("{name} ({id})"))
}

/// A drill beside the one that it is like.
fn near_copy(page: &mut Page, copy: &NearCopy, base: &KnowledgeBase) {
    let Some(key) = base.find_drill(&copy.of) else {
        return;
    };
    let other = base.drill(key);
    let own: &DrillText = &copy.own;
    page.heading(format!("Nearly the same as {} ({})", other.name, other.id));
    page.warning(format!(
        "{:.0} of 100 three-word runs in common ({MEASURE}). If it is the same drill, there is no need for a second.",
        copy.likeness * 100.0
    ));
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    let rows = [
        ["Name".to_owned(), own.name.clone(), other.name.clone()],
        [
            "Purpose".to_owned(),
            text(&own.purpose),
            other.purpose.clone(),
        ],
        ["Set-up".to_owned(), text(&own.setup), other.setup.clone()],
        [
            "Steps".to_owned(),
            own.steps.join("\n"),
            other.steps.join("\n"),
        ],
        ["Check".to_owned(), text(&own.check), other.check.clone()],
    ];
    page.grid(
        ["", own.id.as_str(), other.id.as_str()],
        rows.into_iter().collect(),
    );
}

/// The layers, first to last, with what each brings.
#[must_use]
pub fn layers_page(overlays: &[Overlay]) -> Page {
    let mut page = Page::new();
    page.text("Layers, the later ones on top:");
    for (at, layer) in overlays.iter().enumerate() {
        let counts = LISTS
            .iter()
            .filter_map(|list| Some(counted(*layer.counts.get(list)?, list)));
        let own = layer.adds.iter();
        let all = own.chain(layer.replaces.iter().map(|replaced| &replaced.entry));
        let on_trial = all.filter(|entry| entry.trial).count();
        // The lowest layer adds all that it holds, which goes without saying.
        let adds = if at > 0 { layer.adds.len() } else { 0 };
        let brings = [
            (adds, "adds"),
            (layer.replaces.len(), "replaces"),
            (layer.retires.len(), "retires"),
            (on_trial, "on trial"),
        ];
        let brings = brings.iter().filter(|(count, _)| *count > 0);
        let brings: Vec<String> = brings
            .map(|(count, what)| format!("{what} {count}"))
            .collect();
        let holds = format!("holds {}", counts.collect::<Vec<_>>().join(", "));
        let lines = [holds, brings.join(", ")];
        page.heading(layer.name.clone())
            .bullets(lines.into_iter().filter(|line| !line.is_empty()));
    }
    page
}

/// The lists of a library file, what a coach asks for most first.
const LISTS: &[&str] = &[
    "drills", "faults", "causes", "outcomes", "links", "sources", "cases",
];

/// `1 drill`, `2 drills`.
fn counted(count: usize, list: &str) -> String {
    let noun = if count == 1 {
        list.strip_suffix('s').unwrap_or(list)
    } else {
        list
    };
    format!("{count} {noun}")
}

/// An entry that a layer adds, with where it stands.
fn added(entry: &EntryRef) -> String {
    let name = match entry.name.as_str() {
        "" => String::new(),
        name => format!(": {name}"),
    };
    let trial = if entry.trial { " (on trial)" } else { "" };
    format!(
        "{} {}{name}{trial}, in {}",
        entry.kind, entry.id, entry.file
    )
}

/// Every entry that a layer above the first adds, replaces or retires.
#[must_use]
pub fn layer_diff_page(overlays: &[Overlay]) -> Page {
    let mut page = Page::new();
    for layer in overlays.iter().skip(1) {
        page.heading(format!("{} adds", layer.name));
        if layer.adds.is_empty() {
            page.text("Nothing.");
        }
        // Not a grid: an id and a file are to be copied, and a narrow column would break them.
        page.bullets(layer.adds.iter().map(added));
        for replaced in &layer.replaces {
            page.heading(format!(
                "{} replaces {} {} of {}",
                layer.name, replaced.entry.kind, replaced.entry.id, replaced.from
            ));
            page.grid(
                ["Key", "Was", "Is"],
                replaced.changes.iter().map(field).collect(),
            );
        }
        let retires = layer.retires.iter();
        page.bullets_under(
            &format!("{} retires", layer.name),
            retires.map(|retired| format!("{}; use {}", retired.id, retired.retired_for)),
        );
    }
    if overlays.len() < 2 {
        page.text("There is one layer, so there is nothing to compare.");
    }
    page
}

fn field(change: &FieldChange) -> [String; 3] {
    let words = |value: &Option<Value>| value.as_ref().map(words).unwrap_or_default();
    [
        change.key.clone(),
        words(&change.before),
        words(&change.after),
    ]
}

/// A value as a coach would write it on a line.
fn words(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(items) => items.iter().map(words).collect::<Vec<_>>().join("\n"),
        Value::Object(fields) => {
            let fields = fields
                .iter()
                .map(|(key, value)| format!("{key}: {}", words(value)));
            fields.collect::<Vec<_>>().join(", ")
        }
        other => other.to_string(),
    }
}

/// What becomes of each entry of a file that is taken in.
pub fn received(page: &mut Page, entries: &[Taken]) {
    let of = |wanted: &Fate| {
        let with = entries.iter().filter(|taken| taken.fate == *wanted);
        let ids: Vec<&str> = with.map(|taken| taken.id.as_str()).collect();
        (ids.len(), ids.join(", "))
    };
    let (new, ids) = of(&Fate::New);
    if new > 0 {
        page.text(format!("{new} new: {ids}"));
    }
    let (same, ids) = of(&Fate::Same);
    if same > 0 {
        page.text(format!("{same} there already, word for word: {ids}"));
    }
    let left_out = entries.iter().filter_map(|taken| match &taken.fate {
        Fate::LeftOut { why } => Some(format!("{}: {why}", taken.id)),
        _ => None,
    });
    let left_out: Vec<String> = left_out.collect();
    page.heading_if(
        !left_out.is_empty(),
        "Left out, since it does not go with what is there",
    )
    .bullets(left_out);
}
