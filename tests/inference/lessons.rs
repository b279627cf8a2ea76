//! Properties of a whole answer, from a library's text to the order of the starts.

use fairwhy::causal::{CausalGraph, Rows};
use fairwhy::diagnosis::{
    Asked, Diagnosis, Effort, Observation, RankedCause, ReadBy, Reported, State, Trouble, diagnose,
    observe,
};
use fairwhy::knowledge::{KnowledgeBase, LayerText, Strictness, load, shipped};
use fairwhy::lesson::Lesson;
use fairwhy::words::Readers;
use proptest::prelude::*;
use std::fmt::Write as _;

/// What rounding may do to a figure when sums are taken in another order.
const ROUNDING: f64 = 1e-9;

fn library(texts: &[&str]) -> KnowledgeBase {
    let layers: Vec<LayerText> = texts
        .iter()
        .enumerate()
        .map(|(n, text)| {
            let name = format!("layer-{n}");
            LayerText::new(&name, [("a.yaml", (*text).to_owned())])
        })
        .collect();
    load(&layers, Strictness::ErrorsOnly).expect("sound").base
}

fn with_own(text: &str) -> KnowledgeBase {
    let own = LayerText::new("own", [("own.yaml", text.to_owned())]);
    load(&[shipped(), own], Strictness::ErrorsOnly)
        .expect("sound")
        .base
}

fn asked(base: &KnowledgeBase, reports: &[(&str, State)]) -> Asked {
    let observations = reports.iter().map(|(id, state)| Observation {
        given: (*id).to_owned(),
        condition: base.find(id).unwrap_or_else(|| panic!("no `{id}`")),
        state: *state,
        read_by: ReadBy::Id,
        perhaps: Vec::new(),
    });
    Asked {
        observations: observations.collect(),
        effort: Effort::Order,
        ..Asked::default()
    }
}

fn answer(base: &KnowledgeBase, reports: &[(&str, State)]) -> Diagnosis {
    diagnose(base, &asked(base, reports)).expect("answers")
}

/// The figures of a start; none where it clears nothing.
fn start<'a>(base: &KnowledgeBase, answer: &'a Diagnosis, id: &str) -> Option<&'a RankedCause> {
    let key = base.find(id).expect("known");
    answer.causes.iter().find(|cause| cause.condition == key)
}

fn clears(base: &KnowledgeBase, answer: &Diagnosis, id: &str) -> f64 {
    start(base, answer, id).map_or(0.0, |cause| cause.clears)
}

/// A library in numbers: conditions in an order in which causes come first, the last of them outcomes.
#[derive(Clone, Debug)]
struct World {
    common: Vec<f64>,
    /// Cause, effect and strength; the cause comes first.
    links: Vec<(usize, usize, f64)>,
    /// For each outcome the shares of the faults, their sum below 1.
    shares: Vec<Vec<f64>>,
}

const FAULTS: usize = 6;
const OUTCOMES: usize = 3;

fn worlds() -> impl Strategy<Value = World> {
    let all = FAULTS + OUTCOMES;
    let link = (0..FAULTS, 1..all, 0.05..0.9f64);
    let shares = prop::collection::vec(0.0..0.15f64, FAULTS);
    (
        prop::collection::vec(0.05..0.5f64, all),
        prop::collection::vec(link, 4..16),
        prop::collection::vec(shares, OUTCOMES),
    )
        .prop_map(|(common, links, shares)| {
            let mut kept: Vec<(usize, usize, f64)> = Vec::new();
            for (cause, effect, strength) in links {
                let new = kept.iter().all(|l| (l.0, l.1) != (cause, effect));
                if cause < effect && new {
                    kept.push((cause, effect, strength));
                }
            }
            World {
                common,
                links: kept,
                shares,
            }
        })
}

impl World {
    /// The library with these names, written in this order.
    fn text(&self, names: &[String], order: &[usize]) -> String {
        let mut lists = [String::from("outcomes:\n"), String::from("faults:\n")];
        for &at in order {
            let fault = at < FAULTS;
            let (stage, text) = match fault {
                true => ("setup", &mut lists[1]),
                false => ("ball-flight", &mut lists[0]),
            };
            let name = &names[at];
            let _ = write!(
                text,
                "  - {{id: {name}, name: Name {name}, stage: {stage}, how_common: {:.4}, look: {{from: [face-on], for: It}}",
                self.common[at]
            );
            let causes = self.links.iter().filter(|link| link.1 == at);
            let causes: Vec<String> = causes
                .map(|(cause, _, strength)| {
                    format!("{{id: {}, strength: {strength:.4}}}", names[*cause])
                })
                .collect();
            if !causes.is_empty() {
                let _ = write!(text, ", caused_by: [{}]", causes.join(", "));
            }
            if !fault {
                let shares = self.shares[at - FAULTS].iter().enumerate();
                let shares: Vec<String> = shares
                    .filter(|(_, share)| **share > 0.01)
                    .map(|(cause, share)| format!("{{id: {}, share: {share:.4}}}", names[cause]))
                    .collect();
                if !shares.is_empty() {
                    let _ = write!(text, ", behind: [{}]", shares.join(", "));
                }
            }
            text.push_str("}\n");
        }
        lists.concat()
    }
}

fn seen<'a>(names: &'a [String], of: &[usize]) -> Vec<(&'a str, State)> {
    of.iter()
        .map(|at| (names[*at].as_str(), State::Seen))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Other names and another order of the entries change no figure.
    #[test]
    fn names_and_order_change_nothing(world in worlds(), turn in 1..9usize) {
        let all = FAULTS + OUTCOMES;
        let names: Vec<String> = (0..all).map(|at| format!("c{at}")).collect();
        let others: Vec<String> = (0..all).map(|at| format!("k{}", (at * 4 + turn) % all)).collect();
        let order: Vec<usize> = (0..all).collect();
        let turned: Vec<usize> = (0..all).map(|at| (at + turn) % all).collect();
        let one = library(&[&world.text(&names, &order)]);
        let other = library(&[&world.text(&others, &turned)]);
        let of = [FAULTS, FAULTS + 1, 4];
        let (a, b) = (answer(&one, &seen(&names, &of)), answer(&other, &seen(&others, &of)));
        for at in 0..FAULTS {
            match (start(&one, &a, &names[at]), start(&other, &b, &others[at])) {
                (Some(a), Some(b)) => {
                    prop_assert!((a.clears - b.clears).abs() < ROUNDING);
                    prop_assert!((a.starts_here - b.starts_here).abs() < ROUNDING);
                    prop_assert!((a.worth - b.worth).abs() < ROUNDING);
                }
                (a, b) => prop_assert!(a.is_none() && b.is_none(), "{a:?} {b:?}"),
            }
        }
    }

    /// Of the causes of one finding, ruling one out leaves the others as they stood to one another.
    #[test]
    fn ruling_one_out_leaves_the_order_of_the_others(
        shares in prop::collection::vec(0.02..0.3f64, 4),
        common in prop::collection::vec(0.05..0.5f64, 5),
        out in 0..4usize,
    ) {
        prop_assume!(shares.iter().sum::<f64>() < 0.95);
        let base = library(&[&star(&shares, &common)]);
        let before = answer(&base, &[("miss", State::Seen)]);
        let gone = format!("c{out}");
        let after = answer(&base, &[("miss", State::Seen), (&gone, State::NotSeen)]);
        prop_assert!(clears(&base, &after, &gone) == 0.0);
        let others: Vec<String> = (0..4).filter(|c| *c != out).map(|c| format!("c{c}")).collect();
        for (one, other) in others.iter().zip(&others[1..]) {
            let (a, b) = (clears(&base, &before, one), clears(&base, &before, other));
            let (x, y) = (clears(&base, &after, one), clears(&base, &after, other));
            prop_assert!(x >= a - ROUNDING, "what is left takes what is gone: {a} {x}");
            prop_assert!((a > b) == (x > y) || (a - b).abs() < 1e-3, "{a} {b} then {x} {y}");
        }
    }

    /// More of a share never lowers the start that it speaks for.
    #[test]
    fn more_share_is_never_less(
        shares in prop::collection::vec(0.02..0.2f64, 4),
        common in prop::collection::vec(0.05..0.5f64, 5),
        more in 0.01..0.15f64,
    ) {
        let of = |shares: &[f64]| {
            let base = library(&[&star(shares, &common)]);
            clears(&base, &answer(&base, &[("miss", State::Seen)]), "c0")
        };
        let mut raised = shares.clone();
        raised[0] += more;
        prop_assert!(of(&raised) >= of(&shares) - ROUNDING);
    }
}

/// One miss and four causes with nothing above them.
fn star(shares: &[f64], common: &[f64]) -> String {
    let mut text = String::from("faults:\n");
    let (mut links, mut behind) = (Vec::new(), Vec::new());
    for (at, share) in shares.iter().enumerate() {
        let _ = writeln!(
            text,
            "  - {{id: c{at}, name: Cause {at}, stage: setup, how_common: {:.4}, look: {{from: [face-on], for: It}}}}",
            common[at]
        );
        links.push(format!("{{id: c{at}, strength: 0.2}}"));
        behind.push(format!("{{id: c{at}, share: {share:.4}}}"));
    }
    let _ = writeln!(
        text,
        "outcomes:\n  - {{id: miss, name: Miss, stage: ball-flight, how_common: {:.4}, caused_by: [{}], behind: [{}]}}",
        common[4],
        links.join(", "),
        behind.join(", ")
    );
    text
}

/// A coach who links a cause of one's own at 0.95 to a fat strike finds it first or second there.
#[test]
fn an_own_cause_with_a_strong_link_leads() {
    for says in ["strength: 0.95", "share: 0.5"] {
        let own = format!(
            "causes: [{{id: strap, name: Strap slips, stage: equipment}}]\nlinks: [{{cause: strap, effect: fat-strike, {says}}}]\n"
        );
        let base = with_own(&own);
        let found = answer(&base, &[("fat-strike", State::Seen)]);
        let key = base.find("strap").expect("own");
        let place = found.causes.iter().position(|cause| cause.condition == key);
        assert!(place.is_some_and(|place| place < 2), "{says}: {place:?}");
    }
}

/// A fact told makes a cause so many times as common: its share s becomes ts / (1 - s + ts), and what
/// is told of others leaves it alone.
#[test]
fn what_is_told_weighs_a_row() {
    let text = "
facts: [{id: tall, name: tall, say: [tall]}, {id: small, name: small, say: [small]}]
outcomes:
  - {id: miss, name: Miss, stage: ball-flight, how_common: 0.3, caused_by: [{id: club, strength: 0.3}, {id: aim, strength: 0.3}], behind: [{id: club, share: 0.2}, {id: aim, share: 0.3}]}
causes: [{id: club, name: Club too short, stage: equipment, how_common: 0.2, told: [{fact: tall, times: 3}]}]
faults: [{id: aim, name: Aims off, stage: setup, how_common: 0.2, look: {from: [face-on], for: It}}]
";
    let base = library(&[text]);
    let rows = Rows::new(&base, &CausalGraph::new(&base));
    let with = |fact: &str| {
        let mut asked = asked(&base, &[("miss", State::Seen)]);
        asked.lesson.facts.extend(base.find_fact(fact));
        let answer = diagnose(&base, &asked).expect("answers");
        (
            clears(&base, &answer, "club"),
            clears(&base, &answer, "aim"),
        )
    };
    let (before, told) = (with("none"), with("tall"));
    assert_eq!(with("small"), before);
    let key = |id: &str| base.find(id).expect("known");
    let share = rows.row(key("miss")).share(key("club"));
    let weighed = 3.0 * share / (1.0 - share + 3.0 * share);
    // One finding alone gives its row back, as far as two origins do not act at once.
    assert!(
        told.0 > before.0 && told.1 < before.1,
        "{before:?} {told:?}"
    );
    let times = (told.0 / before.0) / (weighed / share);
    assert!((times - 1.0).abs() < 0.1, "{before:?} {told:?}");
}

/// What stands between words does not make them fewer: twenty thousand of them are refused, not read.
#[test]
fn a_note_of_too_many_words_is_refused_whatever_parts_them() {
    let base = load(&[shipped()], Strictness::ErrorsOnly)
        .expect("sound")
        .base;
    let mut nobody = |_: &str, _: &[_]| None;
    for parts in [" ", ",", "-", "/"] {
        let reported = Reported {
            seen: vec![format!("slice{parts}").repeat(20_000)],
            ..Reported::default()
        };
        let troubles = observe(
            &Readers::new(&base),
            &Lesson::default(),
            &reported,
            &mut nobody,
        )
        .expect_err("it is no note");
        let [Trouble::TooLong { count, .. }] = troubles.as_slice() else {
            panic!("{troubles:?}");
        };
        assert_eq!(*count, 20_000);
    }
}

/// One thing in two words, once seen and once not, is asked about and moves nothing.
#[test]
fn one_thing_seen_and_not_seen_is_refused() {
    let base = load(&[shipped()], Strictness::ErrorsOnly)
        .expect("sound")
        .base;
    let reported = Reported {
        seen: vec!["fat shot".to_owned()],
        not_seen: vec!["chunks it".to_owned()],
        ..Reported::default()
    };
    let mut nobody = |_: &str, _: &[_]| None;
    let troubles = observe(
        &Readers::new(&base),
        &Lesson::default(),
        &reported,
        &mut nobody,
    )
    .expect_err("it cannot be both");
    let [Trouble::Contradiction { condition, given }] = troubles.as_slice() else {
        panic!("{troubles:?}");
    };
    assert_eq!(base.condition(*condition).id, "fat-strike");
    assert_eq!(given, &["fat shot".to_owned(), "chunks it".to_owned()]);
}

/// Opposites that are both seen are asked about, and each keeps its own place.
#[test]
fn opposites_are_told_and_not_averaged() {
    let base = load(&[shipped()], Strictness::ErrorsOnly)
        .expect("sound")
        .base;
    let (weak, strong) = ("grip-too-weak", "grip-too-strong");
    let both = answer(&base, &[(weak, State::Seen), (strong, State::Seen)]);
    let mut pair = [
        base.find(weak).expect("ships"),
        base.find(strong).expect("ships"),
    ];
    pair.sort_unstable();
    assert_eq!(both.at_odds, [(pair[0], pair[1])]);
    assert!(clears(&base, &both, weak) > 0.2 && clears(&base, &both, strong) > 0.2);
}

/// What was seen shuts out its opposite, as a start and as a look.
#[test]
fn the_opposite_of_what_was_seen_is_not_a_start() {
    let base = load(&[shipped()], Strictness::ErrorsOnly)
        .expect("sound")
        .base;
    let strong = answer(
        &base,
        &[("slice", State::Seen), ("grip-too-strong", State::Seen)],
    );
    let weak = base.find("grip-too-weak").expect("ships");
    assert!(strong.at_odds.is_empty());
    assert!(strong.causes.iter().all(|cause| cause.condition != weak));
    assert!(strong.next_looks.iter().all(|look| look.condition != weak));
    let alone = answer(&base, &[("slice", State::Seen)]);
    assert!(alone.causes.iter().any(|cause| cause.condition == weak));
}

/// A library whose every link asks for more than there is still answers with chances.
#[test]
fn links_past_the_whole_are_brought_down_in_proportion() {
    let causes: Vec<String> = (0..8)
        .map(|c| format!("{{id: c{c}, strength: 0.95}}"))
        .collect();
    let mut text = format!(
        "outcomes:\n  - {{id: miss, name: Miss, stage: ball-flight, how_common: 0.1, caused_by: [{}]}}\nfaults:\n",
        causes.join(", ")
    );
    for c in 0..8 {
        let _ = writeln!(
            text,
            "  - {{id: c{c}, name: Cause {c}, stage: setup, how_common: 0.5, look: {{from: [face-on], for: It}}}}"
        );
    }
    let base = library(&[&text]);
    let rows = Rows::new(&base, &CausalGraph::new(&base));
    let row = rows.row(base.find("miss").expect("known"));
    assert!((row.known() - 0.97).abs() < 1e-12, "{}", row.known());
    assert_eq!(Rows::past_the_cap(&base).len(), 1);
    let found = answer(&base, &[("miss", State::Seen)]);
    let first = found.causes[0].clears;
    assert!(first > 0.0 && first < 0.3);
    assert!(
        found
            .causes
            .iter()
            .all(|cause| (cause.clears - first).abs() < ROUNDING)
    );
}

/// Behind what nothing stands behind there is nothing: a fault is its own, an outcome is not accounted
/// for, and neither moves what stands behind another finding.
#[test]
fn what_nothing_stands_behind_moves_nothing_else() {
    let text = "
outcomes:
  - {id: miss, name: Miss, stage: ball-flight, how_common: 0.3, caused_by: [{id: aim, strength: 0.5}], behind: [{id: aim, share: 0.5}]}
  - {id: noise, name: Noise, stage: ball-flight, how_common: 0.3}
faults:
  - {id: aim, name: Aims off, stage: setup, how_common: 0.2, look: {from: [face-on], for: It}}
  - {id: hat, name: Hat askew, stage: setup, how_common: 0.2, look: {from: [face-on], for: It}}
";
    let base = library(&[text]);
    let alone = answer(&base, &[("miss", State::Seen)]);
    let with = answer(
        &base,
        &[
            ("miss", State::Seen),
            ("noise", State::Seen),
            ("hat", State::Seen),
        ],
    );
    let of = |found: &Diagnosis, id: &str| start(&base, found, id).map(|cause| cause.starts_here);
    let (before, after) = (
        of(&alone, "aim").expect("it starts"),
        of(&with, "aim").expect("it starts"),
    );
    assert!((before - after).abs() < ROUNDING, "{before} {after}");
    assert_eq!(with.unexplained, [base.find("noise").expect("known")]);
    assert!(clears(&base, &with, "hat") > 0.2);
}
