//! Drills by what is seen, with what narrows them as switches.

use super::ask::{hand, listed, things, whole};
use super::blocks::blocks;
use super::fields::{Fields, Wrong};
use super::not_given::{self, NotGiven};
use super::served_library::LibraryState;
use super::shell::{self, Here};
use crate::diagnosis::makes_likely;
use crate::knowledge::{ConditionKey, Level, Place, RemedyKind, Rung, Shot, Suits};
use crate::lesson::Lesson;
use crate::report::{Page, SURELY, because, guesses, nothing_fits, titled};
use crate::search::{DrillFilters, DrillQuery, Found};
use crate::words::cautions;
use maud::{Markup, html};
use std::collections::BTreeMap;

/// How many drills are listed where nothing is said, as from the command.
const LISTED: usize = 8;

/// What is looked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct DrillAsk {
    /// What is seen, or words of the drill.
    pub(super) words: String,
    lesson: Lesson,
    filters: DrillFilters,
    limit: Option<usize>,
}

fn time(name: &str, value: &str) -> Result<f64, Wrong> {
    let slip = |_| {
        let what = format!("\"{value}\" is no time");
        Wrong::new(name, what, "write a number of minutes, such as 10")
    };
    value.replace(',', ".").parse().map_err(slip)
}

impl DrillAsk {
    /// Reads the fields, and says of each that cannot be taken what to write instead.
    pub(super) fn read(fields: &Fields) -> Result<Self, Vec<Wrong>> {
        let mut ask = Self::default();
        let mut wrong = Vec::new();
        for (name, value) in fields.iter() {
            if let Err(slip) = ask.take(name, value.trim()) {
                wrong.push(slip);
            }
        }
        if wrong.is_empty() {
            Ok(ask)
        } else {
            Err(wrong)
        }
    }

    fn take(&mut self, name: &str, value: &str) -> Result<(), Wrong> {
        if value.is_empty() && name != "have" {
            return Ok(());
        }
        let (lesson, filters) = (&mut self.lesson, &mut self.filters);
        match name {
            // Several are one search, as several arguments are.
            "words" | "note" => {
                if !self.words.is_empty() {
                    self.words.push(' ');
                }
                self.words.push_str(value);
            }
            "place" => lesson.place = Some(listed(name, value, Place::ALL, Place::as_str)?),
            "ladder" => filters.rung = Some(listed(name, value, Rung::ALL, Rung::as_str)?),
            "kind" => {
                filters.kind = Some(listed(name, value, RemedyKind::ALL, RemedyKind::as_str)?)
            }
            "suits" => lesson.suits = vec![listed(name, value, Suits::ALL, Suits::as_str)?],
            "level" => lesson.level = Some(listed(name, value, Level::ALL, Level::as_str)?),
            "shot" => lesson.shot = Some(listed(name, value, Shot::ALL, Shot::as_str)?),
            "handed" => lesson.handed = Some(hand(name, value)?),
            "have" => {
                let at_hand = lesson.at_hand.get_or_insert_default();
                at_hand.add(&things(value).collect::<Vec<_>>());
            }
            "minutes" => filters.minutes = Some(time(name, value)?),
            "limit" => {
                let limit = whole(name, value)?.clamp(1, u32::from(u16::MAX));
                self.limit = Some(limit as usize);
            }
            "key" | "format" => {}
            _ => {
                let what = format!("there is no field `{name}`");
                let help = "the fields are named like the options of the command, and what is looked for is `words`";
                return Err(Wrong::new(name, what, help));
            }
        }
        Ok(())
    }
}

/// The drills that an address asks for.
pub(super) fn find(room: &LibraryState, ask: &DrillAsk) -> Result<Found, NotGiven> {
    let query = DrillQuery {
        words: ask.words.clone(),
        lesson: ask.lesson.clone(),
        filters: ask.filters.clone(),
        limit: ask.limit.unwrap_or(LISTED),
    };
    let likely = |typed: &[(ConditionKey, f64)]| makes_likely(&room.base, &ask.lesson, typed);
    let index = room
        .index()
        .map_err(|error| not_given::not_searched(&error))?;
    index
        .search(&room.base, &query, &likely)
        .map_err(|error| not_given::not_searched(&error))
}

/// The search as a page.
pub(super) fn page(
    room: &LibraryState,
    ask: &DrillAsk,
    found: Option<Result<Found, NotGiven>>,
) -> Markup {
    let facets = match &found {
        Some(Ok(found)) => Some(&found.facets),
        _ => None,
    };
    let none = BTreeMap::new();
    let (lesson, filters) = (&ask.lesson, &ask.filters);
    let main = html! {
        h1 { "Drills" }
        form method="get" action="/drills" role="search" data-again {
            label for="words" { "What do you see? Or words of the drill." }
            input id="words" name="words" type="search" maxlength="600" autocapitalize="none" value=(ask.words) placeholder="chunked wedges at home";
            p { button class="main" { "Find" } }
            details class="filters" open[*filters != DrillFilters::default() || *lesson != Lesson::default()] {
                summary { "Narrow it down" }
                div id="filters" data-part {
                    (switches("place", "Where", facets.map_or(&none, |f| &f.place), lesson.place.map(Place::as_str), Place::ALL.iter().map(|v| (v.as_str(), v.words()))))
                    (switches("ladder", "How near to the shot", facets.map_or(&none, |f| &f.ladder), filters.rung.map(Rung::as_str), Rung::ALL.iter().map(|v| (v.as_str(), v.words()))))
                    (switches("kind", "What sort", facets.map_or(&none, |f| &f.kind), filters.kind.map(RemedyKind::as_str), RemedyKind::ALL.iter().map(|v| (v.as_str(), v.words()))))
                    (switches("shot", "Shot", facets.map_or(&none, |f| &f.shot), lesson.shot.map(Shot::as_str), Shot::ALL.iter().map(|v| (v.as_str(), v.words()))))
                    (switches("suits", "Made to fit", facets.map_or(&none, |f| &f.suits), lesson.suits.first().map(|suits| suits.as_str()), Suits::ALL.iter().map(|v| (v.as_str(), v.words()))))
                    (switches("level", "Level", facets.map_or(&none, |f| &f.level), lesson.level.map(Level::as_str), Level::ALL.iter().map(|v| (v.as_str(), v.words()))))
                }
            }
        }
        section id="results" data-part aria-label="Results" {
            @match &found {
                None => {},
                Some(Err(not)) => div role="alert" { (shell::troubles(&not.said())) },
                Some(Ok(found)) => (results(room, found)),
            }
        }
    };
    shell::page("Drills", Here::Drills, &main)
}

/// One filter as switches, each with how many drills it would leave; what would leave none is off.
fn switches<'v>(
    name: &str,
    title: &str,
    counts: &BTreeMap<String, usize>,
    chosen: Option<&str>,
    values: impl Iterator<Item = (&'v str, &'v str)>,
) -> Markup {
    html! {
        fieldset class="switches" {
            legend { (title) }
            label class="switch" {
                input type="radio" name=(name) value="" id={ (name) "-any" } checked[chosen.is_none()];
                span { "any" }
            }
            @for (value, words) in values {
                @let count = counts.get(value).copied();
                @if count.is_some() || chosen == Some(value) || counts.is_empty() {
                    label class="switch" {
                        input type="radio" name=(name) value=(value) id={ (name) "-" (value) } checked[chosen == Some(value)];
                        span { (words) @if let Some(count) = count { " " b { (count) } } }
                    }
                }
            }
        }
    }
}

fn results(room: &LibraryState, found: &Found) -> Markup {
    let base = &room.base;
    let mut first = Page::new();
    for caution in cautions(base, &found.complaints) {
        first.warning(caution);
    }
    let read: Vec<&str> = found
        .read_as
        .iter()
        .map(|read| base.condition(read.condition).name.as_str())
        .collect();
    let how = if found
        .read_as
        .first()
        .is_some_and(|read| read.weight >= SURELY)
    {
        "Read as"
    } else {
        "It may mean"
    };
    html! {
        @if !first.blocks.is_empty() { div role="alert" { (blocks(&first)) } }
        p data-say {
            @if found.drills.is_empty() { (nothing_fits(found)) } @else {
                (found.total) @if found.total == 1 { " drill fits." } @else { " drills fit." }
            }
        }
        @if !read.is_empty() { p { (how) ": " (read.join(", ")) "." } }
        @if !found.filters.is_empty() { p { "Taken from the words as a filter: " (found.filters.join(", ")) "." } }
        @for guess in guesses(found) { p { (guess) } }
        ol class="starts" {
            @for hit in &found.drills {
                @let drill = base.drill(hit.drill);
                li {
                    h2 { a href={ "/show/" (drill.id) } { (titled(drill)) } }
                    p { (drill.rung.words()) ", " (drill.minutes()) " min" @if !drill.equipment.is_empty() { ", needs " (drill.equipment.join(", ")) } }
                    p class="small" { (because(base, found, hit).join("; ")) "." }
                }
            }
        }
    }
}
