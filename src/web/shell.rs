//! What every page has: its head, the ways to the others, and its own style and script.

use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The rooms that a page leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Here {
    Lesson,
    Students,
    Drills,
    Library,
    Nowhere,
}

const WAYS: [(Here, &str, &str); 4] = [
    (Here::Lesson, "/", "Lesson"),
    (Here::Students, "/students", "Students"),
    (Here::Drills, "/drills", "Drills"),
    (Here::Library, "/library", "Library"),
];

/// The style of every page.
pub(super) const STYLE: &str = include_str!("page.css");

/// The script that saves reloads.
pub(super) const SCRIPT: &str = include_str!("page.js");

/// A mark for the browser's tab: two links of a chain.
pub(super) const MARK: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 32 32\"><rect width=\"32\" height=\"32\" fill=\"#fff\"/><path d=\"M6 25V14a5 5 0 0 1 10 0v4a5 5 0 0 0 10 0V7\" fill=\"none\" stroke=\"#000\" stroke-width=\"4\"/></svg>";

/// The words that say what the tool is not, on every page.
const AID: &str = "A coach\u{2019}s aid: it does not see the student. Pain or a known injury means stop, and see a licensed health professional.";

/// A page with the ways to the others.
pub(super) fn page(title: &str, here: Here, main: &Markup) -> Markup {
    frame(
        title,
        &html! {
            a class="skip" href="#main" { "To the content" }
            header class="top" {
                nav aria-label="Rooms" {
                    ul {
                        @for (way, href, name) in WAYS {
                            li { a href=(href) aria-current=[(way == here).then_some("page")] { (name) } }
                        }
                    }
                }
            }
            main id="main" tabindex="-1" { (main) }
            footer class="foot" { p { (AID) } }
        },
    )
}

fn frame(title: &str, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light";
                title { (title) " \u{b7} fairwhy" }
                link rel="stylesheet" href="/page.css";
                link rel="icon" href="/mark.svg" type="image/svg+xml";
                script src="/page.js" defer {}
            }
            body { (body) }
        }
    }
}

/// A page for somebody who may not come in: nothing on it is fetched.
pub(super) fn bare(why: &str) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "fairwhy" }
            }
            body { main { h1 { "fairwhy" } p { (why) } } }
        }
    }
}

/// What was not understood or could not be done, each with what to do instead.
pub(super) fn trouble(said: &[(String, String)]) -> Markup {
    page(
        "Not understood",
        Here::Nowhere,
        &html! {
            h1 { "That did not work" }
            div role="alert" { (troubles(said)) }
            p { a class="button" href="/" { "To the lesson" } }
        },
    )
}

/// The same as a list within a page.
pub(super) fn troubles(said: &[(String, String)]) -> Markup {
    html! {
        ul class="troubles" {
            @for (message, help) in said {
                li { strong { (message) } @if !help.is_empty() { " " (help) "." } }
            }
        }
    }
}

/// Markup that was made by another room.
pub(super) fn made(text: String) -> PreEscaped<String> {
    PreEscaped(text)
}
