//! The student's page as HTML for one printed sheet.

use super::contrast::{INK, PAPER, SHADE, SMALL_PRINT};
use super::{FOOT, Handout, Task};
use std::fmt::Write as _;

/// The text with nothing in it that HTML or XML would take for its own.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\r' | '\t' => out.push(' '),
            // Other control characters are not allowed in XML at all.
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

/// The whole page: one file, no script, nothing fetched, black on white, at most a sheet.
pub(super) fn page(sheet: &Handout) -> String {
    let style = format!("<style>\n{}</style>", style());
    format!(
        "<!DOCTYPE html>
<html lang=\"en\">
<head>
<meta charset=\"utf-8\">
<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">
<title>Your golf plan</title>
{style}
</head>
<body>
{}</body>
</html>
",
        content(sheet)
    )
}

/// What stands on the page: its main part and its foot.
pub(super) fn content(sheet: &Handout) -> String {
    let mut body = String::from("<p class=\"head\">");
    for (label, known) in &sheet.head {
        let known = known.as_deref().map_or_else(String::new, escaped);
        let _ = write!(body, "<span>{label}: <b>{known}</b></span> ");
    }
    body.push_str("</p>\n");
    if let Some(first) = &sheet.first {
        let _ = writeln!(
            body,
            "<p class=\"first\" role=\"note\"><strong>First.</strong> {}</p>",
            escaped(first)
        );
    }
    if !sheet.seen.is_empty() {
        let _ = write!(body, "<h2>What we saw</h2>\n{}", list("ul", &sheet.seen));
    }
    if !sheet.why.is_empty() {
        let _ = writeln!(body, "<h2>Why</h2>\n<p>{}</p>", escaped(&sheet.why));
    }
    for (number, task) in sheet.tasks.iter().enumerate() {
        body.push_str(&task_section(number + 1, task));
    }
    for (title, items) in sheet.lists() {
        if !items.is_empty() {
            let _ = write!(body, "<h2>{title}</h2>\n{}", list("ul", items));
        }
    }
    if sheet.ticks > 0 {
        let boxes = "<span class=\"box\"></span>".repeat(sheet.ticks);
        let _ = writeln!(
            body,
            "<h2>Tick each time</h2>\n<p role=\"img\" aria-label=\"{} boxes to tick\">{boxes}</p>",
            sheet.ticks
        );
    }
    let lines = "<p class=\"line\"></p>\n".repeat(super::NOTE_LINES);
    let _ = write!(body, "<h2>What I noticed</h2>\n{lines}");
    format!(
        "<main>
<h1>Your golf plan</h1>
{body}</main>
<footer>{FOOT} Library {}.</footer>
",
        escaped(&sheet.library)
    )
}

/// The style of the page, for the screen and for paper.
pub(super) fn style() -> String {
    let (ink, paper, shade, small) = (INK.css(), PAPER.css(), SHADE.css(), SMALL_PRINT.css());
    format!(
        "@page {{ margin: 10mm 12mm; }}
body {{ margin: 1rem auto; max-width: 46rem; padding: 0 0.5rem; background: {paper}; color: {ink}; font: 1rem/1.35 \"Liberation Sans\", Arial, Helvetica, sans-serif; }}
h1 {{ font-size: 1.4em; margin: 0 0 0.2em; }}
h2 {{ font-size: 1.1em; margin: 0.6em 0 0.15em; border-bottom: 2px solid {ink}; break-after: avoid; }}
p, ul, ol {{ margin: 0.1em 0; }}
ul, ol {{ padding-left: 1.4em; }}
section {{ break-inside: avoid; }}
.head {{ display: flex; flex-wrap: wrap; gap: 0 1.5em; }}
.head b {{ display: inline-block; min-width: 8em; border-bottom: 1px solid {ink}; }}
.box {{ display: inline-block; width: 0.9em; height: 0.9em; margin-right: 0.5em; border: 1.5px solid {ink}; }}
.line {{ height: 1.5em; border-bottom: 1px solid {ink}; }}
.first {{ background: {shade}; border: 3px solid {ink}; padding: 0.4em; }}
footer {{ margin-top: 0.6em; font-size: 0.85em; color: {small}; }}
@media print {{ body {{ margin: 0; max-width: none; padding: 0; font-size: 9pt; line-height: 1.2; }} main {{ columns: 2; column-gap: 7mm; }} h1, .head, .first {{ column-span: all; }} }}
"
    )
}

fn list(tag: &str, items: &[String]) -> String {
    let mut out = format!("<{tag}>\n");
    for item in items {
        let _ = writeln!(out, "<li>{}</li>", escaped(item));
    }
    let _ = writeln!(out, "</{tag}>");
    out
}

fn task_section(number: usize, task: &Task) -> String {
    let mut out = format!(
        "<section>\n<h2>Task {number}: {}</h2>\n",
        escaped(&task.name)
    );
    if !task.setup.is_empty() {
        let _ = writeln!(
            out,
            "<p><strong>Set up:</strong> {}</p>",
            escaped(&task.setup)
        );
    }
    let _ = write!(
        out,
        "<p><strong>Do:</strong> {}</p>\n{}",
        escaped(&task.dose),
        list("ol", &task.steps)
    );
    for (label, text) in task.points() {
        let _ = writeln!(out, "<p><strong>{label}:</strong> {}</p>", escaped(text));
    }
    out.push_str("</section>\n");
    out
}
