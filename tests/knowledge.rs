//! Reading and checking libraries, as the rest of the program and a coach meet it.

use fairwhy::knowledge::{LayerText, Problem, Strictness, load, shipped};

fn layer(name: &str, text: &str) -> LayerText {
    LayerText::new(name, [("a.yaml", text)])
}

fn problems(layers: &[LayerText]) -> Vec<Problem> {
    match load(layers, Strictness::Lesson) {
        Ok(loaded) => loaded.warnings,
        Err(problems) => problems,
    }
}

const SMALL: &str = "
outcomes:
  - id: thud
    name: Heavy strike
    stage: strike
    caused_by:
      - {id: low-point-early, strength: probable, because: The club meets turf first, basis: common practice}
    behind:
      - {id: hangs-on-trail-foot, share: 0.4}
faults:
  - id: low-point-early
    name: Low point behind the ball
    stage: impact
    how_common: common
    caused_by:
      - {id: hangs-on-trail-foot, strength: 0.8, basis: common practice}
  - id: hangs-on-trail-foot
    name: Weight stays on the trail foot
    stage: downswing
drills:
  - id: step-through
    name: Step through
    treats: [{id: hangs-on-trail-foot, effect: expected, basis: common practice}]
    steps: [Swing, step past the ball]
    check: Walks on after 8 of 10
";

#[test]
fn a_small_library_becomes_a_base() {
    let loaded = load(&[layer("small", SMALL)], Strictness::Lesson).expect("loads");
    let base = &loaded.base;
    let fault = base.condition(base.find("low-point-early").expect("there"));
    assert_eq!(fault.how_common.map(|p| p.get()), Some(0.22));
    assert_eq!(fault.causes[0].strength.get(), 0.8);
    assert_eq!(fault.origin.line, 11);
    assert_eq!(fault.causes[0].origin.line, 16);
    assert_eq!(base.layers[0].counts["links"], 2);
    assert_eq!(base.content_hash.len(), 64);
}

#[test]
fn the_shipped_library_loads() {
    if let Err(problems) = load(&[shipped()], Strictness::Lesson) {
        panic!("{problems:#?}");
    }
}

#[test]
fn a_circle_of_causes_is_printed_as_the_circle() {
    let text = "
faults:
  - {id: a, name: A, stage: top, caused_by: [{id: c, strength: expected}]}
  - {id: b, name: B, stage: top, caused_by: [{id: a, strength: expected}]}
  - {id: c, name: C, stage: top, caused_by: [{id: b, strength: expected}]}
";
    let found = problems(&[layer("circle", text)]);
    assert_eq!(found[0].code, "cycle");
    assert!(
        found[0].message.contains("a -> b -> c -> a"),
        "{}",
        found[0].message
    );
}
