//! What a rule set for accessibility says of every page.
//!
//! The rules are axe-core's, fetched by `.ci/run` into `target/axe`; where they are not there, the test
//! says so and passes.

use crate::driver::{PHONE, Session, TABLET, in_browser};
use std::path::Path;

const RULES: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/target/axe/node_modules/axe-core/axe.min.js"
);

const PAGES: &[&str] = &[
    "/",
    "/lesson?note=thin+irons,+since+the+wedding&handed=right",
    "/lesson?note=weak+slice,+pulls+the+short+irons,+divots+point+in,+grip+is+fine&step=called%3Aover-the-top",
    "/lesson?note=weak+slice,+sharp+pain+in+the+lower+back",
    "/lesson?note=weak+slice&unclear=slice%7Czzz",
    "/lesson?note=qwertyuiop",
    "/plan?note=weak+slice&minutes=30",
    "/sheet?note=weak+slice",
    "/drills?words=chunked+wedges&place=home",
    "/drills?words=knee+pain",
    "/show/grip-too-weak",
    "/show/over-the-top",
    "/library",
    "/library?diff=yes",
    "/own/drill",
    "/own/link",
    "/own/drill?id=count-the-knuckles",
    "/students",
    "/students/heron",
    "/?student=heron",
    "/lesson?student=heron&note=weak+slice",
    "/sheet?student=heron&note=weak+slice",
];

/// What the record of one student holds: two lessons with a count, and how a drill went.
const RECORD: &[&str] = &[
    "student add heron --handed right --level improver --fact senior",
    "plan slice --student heron --save --on 2026-08-20 --called grip-too-weak --count slice=7/10",
    "lesson log heron --drill count-the-knuckles --result worked --reps 30 --on 2026-09-01",
    "plan slice --student heron --save --on 2026-09-20 --count slice=4/10",
];

/// Asks the rules on the page as it stands; a line for each that is broken.
const ASK: &str = "const done = arguments[arguments.length - 1]; axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'wcag2aaa', 'best-practice'], rules: {'color-contrast-enhanced': {enabled: true}, 'target-size': {enabled: true}}}).then(r => done(r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html + ' ' + n.failureSummary).join(' | '))))";

async fn broken(session: &Session, rules: &str) -> serde_json::Value {
    session.run(&format!("{rules}; return 0")).await;
    let asked = session.client.execute_async(ASK, Vec::new()).await;
    asked.expect("it ran")
}

async fn no_rule_is_broken(session: Session) {
    if !Path::new(RULES).exists() {
        println!("skipped: {RULES} is not there; .ci/run fetches it");
        return;
    }
    let rules = std::fs::read_to_string(RULES).expect("text");
    // A rule that is broken on purpose is found; else nothing below would say anything.
    session.goto("/").await;
    session
        .run("document.querySelector('main').append(document.createElement('img'))")
        .await;
    assert_ne!(broken(&session, &rules).await, serde_json::json!([]));
    for line in RECORD {
        session.command(&line.split(' ').collect::<Vec<_>>());
    }
    for page in PAGES {
        session.goto(page).await;
        if page.contains("heron") {
            // The record is there, so that the page is a student's and not a refusal.
            let text = session.text("main").await;
            assert!(text.contains("heron"), "{page}: {text}");
        }
        let open = "document.querySelectorAll('details').forEach(d => d.open = true)";
        session.run(open).await;
        let found = broken(&session, &rules).await;
        assert_eq!(found, serde_json::json!([]), "{page}");
    }
}

#[test]
fn no_rule_is_broken_on_a_phone() {
    in_browser(PHONE, true, no_rule_is_broken);
}

#[test]
fn no_rule_is_broken_on_a_tablet() {
    in_browser(TABLET, true, no_rule_is_broken);
}
