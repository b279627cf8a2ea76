//! The student's page and the picture, of real plans.

use crate::fixture::{GRIP, additive, diagnosis, library};
use crate::panel::lessons;
use crate::shipped::base;
use fairwhy::lesson::Handed;
use fairwhy::plan::{PlanOptions, make_plan};
use fairwhy::report::{Handout, Occasion, handout, picture, reading_grade};

fn played(handed: Option<Handed>) -> Occasion {
    Occasion {
        handed,
        ..Occasion::default()
    }
}

fn sheets() -> Vec<(&'static str, Handout)> {
    lessons()
        .iter()
        .map(|(student, diagnosis, plan)| {
            (
                student.name,
                handout(base(), diagnosis, plan, &played(Some(Handed::Right))),
            )
        })
        .collect()
}

/// Grade 6 by Flesch-Kincaid, for every student of the panel.
#[test]
fn every_page_reads_at_grade_six_or_lower() {
    for (name, sheet) in sheets() {
        let grade = reading_grade(&sheet.text()).expect("words");
        assert!(grade <= 6.0, "{name}: grade {grade:.1}\n{}", sheet.text());
    }
}

#[test]
fn every_page_holds_what_a_student_needs_and_no_lead_or_trail_side() {
    for (name, sheet) in sheets() {
        // Whoever is in pain takes a referral home, and no reason why.
        assert!(!sheet.seen.is_empty(), "{name}");
        assert_eq!(sheet.why.is_empty(), sheet.first.is_some(), "{name}");
        assert!(sheet.tasks.len() <= 4 && !sheet.stop.is_empty(), "{name}");
        for task in &sheet.tasks {
            assert!(!task.steps.is_empty() && !task.check.is_empty(), "{name}");
            assert!(!task.stop.is_empty(), "{name}");
        }
        let text = sheet.text().to_lowercase();
        for side in [
            "lead hand",
            "lead foot",
            "trail foot",
            "trail hand",
            "lead arm",
        ] {
            assert!(!text.contains(side), "{name}: {side}");
        }
        assert!(base().content_hash.starts_with(&sheet.library));
        assert!(sheet.to_markdown().contains(&sheet.library));
    }
}

#[test]
fn sides_stay_lead_and_trail_while_the_hand_is_not_known() {
    let base = library(GRIP);
    let diagnosis = diagnosis(&base, &["bends-away"], &[("weak-hold", 0.7, 0.5)]);
    let plan = make_plan(
        &base,
        &diagnosis,
        &additive(&diagnosis),
        &PlanOptions::default(),
    )
    .expect("sound options");
    let why = |handed| handout(&base, &diagnosis, &plan, &played(handed)).why;
    assert!(why(None).contains("lead side"));
    assert!(why(Some(Handed::Right)).contains("left side"));
    assert!(why(Some(Handed::Left)).contains("right side"));
}

#[test]
fn the_page_stands_by_itself() {
    for (name, sheet) in sheets() {
        let html = sheet.to_html();
        for outside in ["http", "src=", "<script", "@import", "url("] {
            assert!(!html.contains(outside), "{name}: {outside}");
        }
        assert!(html.starts_with("<!DOCTYPE html>") && html.contains("lang=\"en\""));
    }
}

/// A page says whose it is and of which day, has a box for each time, and room to write.
#[test]
fn a_page_is_dated_and_can_be_ticked() {
    let (_, diagnosis, plan) = &lessons()[0];
    let occasion = Occasion {
        student: Some("heron".into()),
        date: Some("2026-05-04".into()),
        next: Some("2026-06-01".into()),
        ..Occasion::default()
    };
    let sheet = handout(base(), diagnosis, plan, &occasion);
    for text in [sheet.to_markdown(), sheet.to_html()] {
        for wanted in ["heron", "2026-05-04", "2026-06-01", "What I noticed"] {
            assert!(text.contains(wanted), "{wanted}");
        }
    }
    let boxes = |text: &str, of: &str| text.matches(of).count();
    assert_eq!(boxes(&sheet.to_markdown(), "\u{2610}"), sheet.ticks);
    assert_eq!(boxes(&sheet.to_html(), "class=\"box\""), sheet.ticks);
}

/// What a library says is never taken for markup.
#[test]
fn names_with_markup_stay_names() {
    let base = library(&GRIP.replace(
        "name: Ball bends away",
        "name: \"Ball <b>bends</b> & \\\"away\\\"\"",
    ));
    let mut diagnosis = diagnosis(&base, &["bends-away"], &[("weak-hold", 0.7, 0.5)]);
    diagnosis.observations[0].given = "<script>alert(1)</script>".to_owned();
    diagnosis.observations[0].read_by = fairwhy::diagnosis::ReadBy::Words;
    let plan = make_plan(
        &base,
        &diagnosis,
        &additive(&diagnosis),
        &PlanOptions::default(),
    )
    .expect("sound options");
    let sheet = handout(&base, &diagnosis, &plan, &played(None));
    let html = sheet.to_html();
    // The coach's own words are not for the student.
    assert!(!html.contains("script") && !sheet.to_markdown().contains("alert"));
    assert!(!html.contains("<b>bends") && html.contains("&lt;b&gt;bends"));
    let svg = picture(&base, &diagnosis, &plan);
    assert!(!svg.contains("<b>") && svg.contains("&lt;b&gt;"));
    assert!(svg.contains("&amp;"));
}

/// Every start tag of the picture is closed, it has its text alternative, and boxes do not overlap.
#[test]
fn the_picture_is_whole_and_its_boxes_stand_apart() {
    for (student, diagnosis, plan) in lessons() {
        let svg = picture(base(), diagnosis, plan);
        assert_eq!(svg, picture(base(), diagnosis, plan));
        assert!(svg.contains("<title id=\"title\">") && svg.contains("<desc id=\"desc\">"));
        assert!(svg.contains("WORK ON") && svg.contains("SEEN") && svg.contains("LIKELY"));
        for tag in ["text", "title", "desc", "svg", "defs", "marker"] {
            let opened =
                svg.matches(&format!("<{tag} ")).count() + svg.matches(&format!("<{tag}>")).count();
            assert_eq!(opened, svg.matches(&format!("</{tag}>")).count(), "{tag}");
        }
        let boxes = boxes(&svg);
        assert!(boxes.len() > 3, "{}", student.name);
        for (at, a) in boxes.iter().enumerate() {
            for b in &boxes[at + 1..] {
                let apart =
                    a.0 + a.2 <= b.0 || b.0 + b.2 <= a.0 || a.1 + a.3 <= b.1 || b.1 + b.3 <= a.1;
                assert!(apart, "{}: {a:?} {b:?}", student.name);
            }
        }
    }
}

/// Left, top, width and height of the boxes for conditions: rectangles, and the outer outlines.
fn boxes(svg: &str) -> Vec<(f64, f64, f64, f64)> {
    let number = |line: &str, name: &str| -> Option<f64> {
        let rest = line.split_once(&format!(" {name}=\""))?.1;
        rest.split('"').next()?.parse().ok()
    };
    let rectangles = svg
        .lines()
        .filter(|line| line.starts_with("<rect"))
        .filter_map(|line| {
            Some((
                number(line, "x")?,
                number(line, "y")?,
                number(line, "width")?,
                number(line, "height")?,
            ))
        });
    let outlines = svg
        .lines()
        .filter(|line| line.starts_with("<polygon"))
        .step_by(2)
        .filter_map(|line| {
            let points: Vec<(f64, f64)> = line
                .split('"')
                .nth(1)?
                .split(' ')
                .filter_map(|point| {
                    let (x, y) = point.split_once(',')?;
                    Some((x.parse().ok()?, y.parse().ok()?))
                })
                .collect();
            let low = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).fold(f64::MAX, f64::min);
            let high = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).fold(f64::MIN, f64::max);
            let (left, top) = (low(|p| p.0), low(|p| p.1));
            Some((left, top, high(|p| p.0) - left, high(|p| p.1) - top))
        });
    rectangles.chain(outlines).collect()
}
