//! Rows: of the students who show a condition, the share in whom a good teacher works on each start.
//!
//! A row comes from the shares that the library states and from the walk up its links
//! (docs/model.md has the formulas and a worked example). With `b` for how common a condition is, a
//! link `U -> X` of strength `s` says that U stands behind X in
//!
//! ```text
//! r_XU = s * b_U / b_X                              of those who show X
//! W_X  = (1 - SUM r_XU) e_X + SUM r_XU W_U          the walk: stop here, or go on to what is behind
//! row  = 0.85 stated + 0.15 W_X                     W_X alone where nothing is stated
//! ```
//!
//! A link that a later layer adds was not known to those who stated the shares, so it counts in full:
//! see [`Rows::new`].

use super::CausalGraph;
use crate::knowledge::words::DEFAULT_SHARE;
use crate::knowledge::{Cause, ConditionKey, ConditionKind, KnowledgeBase};
use std::collections::BTreeMap;

/// How common a condition is lies within these, whatever the library says: a link's share divides by it.
const COMMON: [f64; 2] = [0.005, 0.9];

/// The most of a fault or cause that its links hand on; what is left is its own doing.
const MOST_HANDED_ON: f64 = 0.85;

/// The same for an outcome, which is never its own doing: what is left is what no library knows.
const MOST_HANDED_ON_BY_OUTCOME: f64 = 0.97;

/// How much of a row the walk makes where shares are stated. 0.15 lost nothing on any of the case sets
/// that it was tried on, and covers what shares forget: in one lesson of six the teacher's cause stood
/// in no stated share (docs/model.md).
const WALK: f64 = 0.15;

/// What is less than this in a walk is not carried on: it is below the rounding of what is shown.
const LEAST: f64 = 1e-16;

/// How common a condition is taken to be, from 0.005 to 0.9; 0.1 where the library does not say.
#[must_use]
pub fn commonness(base: &KnowledgeBase, key: ConditionKey) -> f64 {
    base.condition(key)
        .how_common
        .map_or(DEFAULT_SHARE, |share| share.get())
        .clamp(COMMON[0], COMMON[1])
}

/// What stands behind one condition: shares above 0 that add up to at most 1, by key. A fault or a cause
/// has its own doing under its own key; what an outcome's shares leave of 1 is not known to the library.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    entries: Vec<(ConditionKey, f64)>,
}

impl Row {
    /// A row of these shares; they are above 0 and add up to at most 1.
    #[must_use]
    pub fn of(shares: BTreeMap<ConditionKey, f64>) -> Self {
        let entries = shares.into_iter().filter(|entry| entry.1 > LEAST);
        Self {
            entries: entries.collect(),
        }
    }

    /// Every entry, by key.
    #[must_use]
    pub fn entries(&self) -> &[(ConditionKey, f64)] {
        &self.entries
    }

    /// The share of one condition; 0 where it does not stand behind this one.
    #[must_use]
    pub fn share(&self, key: ConditionKey) -> f64 {
        self.entries
            .binary_search_by_key(&key, |entry| entry.0)
            .map_or(0.0, |index| self.entries[index].1)
    }

    /// All shares together; the rest of 1 is not known to the library.
    #[must_use]
    pub fn known(&self) -> f64 {
        self.entries.iter().map(|entry| entry.1).sum()
    }
}

/// Sums rows, densely: one slot for each condition, and which of them are in use.
struct Sum {
    shares: Vec<f64>,
    used: Vec<ConditionKey>,
}

impl Sum {
    fn new(conditions: usize) -> Self {
        Self {
            shares: vec![0.0; conditions],
            used: Vec::new(),
        }
    }

    fn add(&mut self, key: ConditionKey, share: f64) {
        if share > 0.0 {
            if self.shares[key.0] == 0.0 {
                self.used.push(key);
            }
            self.shares[key.0] += share;
        }
    }

    fn add_row(&mut self, times: f64, row: &Row) {
        for &(key, share) in &row.entries {
            self.add(key, times * share);
        }
    }

    /// The sum as a row; the slots are free again.
    fn take(&mut self) -> Row {
        self.used.sort_unstable();
        let entries = self.used.drain(..).filter_map(|key| {
            let share = std::mem::take(&mut self.shares[key.0]);
            (share > LEAST).then_some((key, share))
        });
        Row {
            entries: entries.collect(),
        }
    }
}

/// What the links of one condition hand on, before and after the cap.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HandedOn {
    /// Each direct cause with its share after the cap, by key.
    pub to: Vec<(ConditionKey, f64)>,
    /// The shares together as the links have them, before the cap; may pass 1.
    pub asked: f64,
    /// The cap: 0.85, for an outcome 0.97.
    pub most: f64,
}

impl HandedOn {
    fn new(base: &KnowledgeBase, key: ConditionKey, links: impl Fn(&Cause) -> bool) -> Self {
        let condition = base.condition(key);
        let most = if condition.kind == ConditionKind::Outcome {
            MOST_HANDED_ON_BY_OUTCOME
        } else {
            MOST_HANDED_ON
        };
        let common = commonness(base, key);
        let mut to: Vec<(ConditionKey, f64)> = condition
            .causes
            .iter()
            .filter(|link| links(link))
            .map(|link| {
                let by_strength = link.strength.get() * commonness(base, link.cause) / common;
                (
                    link.cause,
                    link.share.map_or(by_strength, |share| share.get()),
                )
            })
            .collect();
        let asked: f64 = to.iter().map(|link| link.1).sum();
        if asked > most {
            to.iter_mut().for_each(|link| link.1 *= most / asked);
        }
        Self { to, asked, most }
    }

    /// The shares together, after the cap.
    #[must_use]
    pub fn sum(&self) -> f64 {
        self.asked.min(self.most)
    }
}

/// The links that were known to those who wrote an effect's entry: those of its own layer. A link that
/// says its share says what it comes to, all else known, so it counts in full wherever it stands.
fn own_layer(base: &KnowledgeBase, key: ConditionKey) -> impl Fn(&Cause) -> bool {
    let layer = base.condition(key).origin.layer;
    move |link| link.origin.layer == layer && link.share.is_none()
}

/// The links that another layer added to an effect, which count in full.
fn added(base: &KnowledgeBase, key: ConditionKey) -> impl Fn(&Cause) -> bool {
    let own = own_layer(base, key);
    move |link| !own(link)
}

/// The row of every condition of a library, and the walk up its links.
#[derive(Clone, Debug)]
pub struct Rows {
    rows: Vec<Row>,
    walks: Vec<Row>,
    /// What each condition hands on in one step of the walk, later layers' links among it.
    steps: Vec<Vec<(ConditionKey, f64)>>,
    /// Every condition, causes before effects.
    order: Vec<ConditionKey>,
}

impl Rows {
    /// The rows of a checked library, in one pass from causes to effects.
    ///
    /// Stated shares and the walk use the links of the layer that wrote the effect. Then the links that
    /// other layers added to X come in, all at once: with `q` their sum, each scaled so that `q` stays
    /// within the cap,
    ///
    /// ```text
    /// row_X := (1 - q) T(row_X) + SUM r_U row_U
    /// ```
    ///
    /// where T hands on what stopped at another condition C with added links, to
    /// `(1 - q_C) e_C + SUM r_CV row_V`. So one added link of share r takes exactly r of X's row, two
    /// do not depend on their order, and no share turns negative.
    #[must_use]
    pub fn new(base: &KnowledgeBase, graph: &CausalGraph) -> Self {
        let order = graph.causes_first();
        let count = base.conditions.len();
        let mut sum = Sum::new(count);
        let mut steps = vec![Vec::new(); count];
        let mut walks = vec![Row::default(); count];
        let mut rows = vec![Row::default(); count];
        for &key in &order {
            let handed_on = HandedOn::new(base, key, own_layer(base, key));
            let outcome = base.condition(key).kind == ConditionKind::Outcome;
            if !outcome {
                sum.add(key, 1.0 - handed_on.sum());
            }
            for &(cause, share) in &handed_on.to {
                sum.add_row(share, &walks[cause.0]);
            }
            walks[key.0] = sum.take();
            steps[key.0] = handed_on.to;
            rows[key.0] = stated(base, key, &walks[key.0], &mut sum);
        }
        let mut found = Self {
            rows,
            walks,
            steps,
            order,
        };
        found.add_later_links(base, &mut sum);
        found
    }

    fn add_later_links(&mut self, base: &KnowledgeBase, sum: &mut Sum) {
        let later: Vec<HandedOn> = base
            .condition_keys()
            .map(|key| HandedOn::new(base, key, added(base, key)))
            .collect();
        if later.iter().all(|links| links.to.is_empty()) {
            return;
        }
        let mut met = vec![false; self.rows.len()];
        for key in base.condition_keys() {
            self.bring_in(key, &later, &mut met, sum);
        }
        for (step, HandedOn { to, .. }) in self.steps.iter_mut().zip(&later) {
            let q: f64 = to.iter().map(|link| link.1).sum();
            step.iter_mut().for_each(|link| link.1 *= 1.0 - q);
            step.extend(to.iter().copied());
            step.sort_unstable_by_key(|link| link.0);
        }
    }

    /// Brings added links into one row, after the rows that it needs: those of its own added causes and
    /// of the added causes of what stands in it. Where shares that are stated against the run of the
    /// links make these needs a circle, the row met first takes the others as they stand.
    fn bring_in(&mut self, key: ConditionKey, later: &[HandedOn], met: &mut [bool], sum: &mut Sum) {
        if std::mem::replace(&mut met[key.0], true) {
            return;
        }
        let before = self.rows[key.0].entries.clone();
        let own = &later[key.0];
        let behind = before.iter().filter(|entry| entry.0 != key);
        let needed = behind.flat_map(|entry| &later[entry.0.0].to).chain(&own.to);
        for &(cause, _) in needed {
            self.bring_in(cause, later, met, sum);
        }
        let q: f64 = own.to.iter().map(|link| link.1).sum();
        for &(at, share) in &before {
            let kept = (1.0 - q) * share;
            let links = &later[at.0].to;
            if at == key || links.is_empty() {
                sum.add(at, kept);
                continue;
            }
            let handed_on: f64 = links.iter().map(|link| link.1).sum();
            sum.add(at, kept * (1.0 - handed_on));
            for &(cause, part) in links {
                sum.add_row(kept * part, &self.rows[cause.0]);
            }
        }
        for &(cause, share) in &own.to {
            sum.add_row(share, &self.rows[cause.0]);
        }
        self.rows[key.0] = sum.take();
    }

    /// Puts a row in the place of the library's own, such as one that a coach's records have moved.
    pub fn put(&mut self, key: ConditionKey, row: Row) {
        self.rows[key.0] = row;
    }

    /// What stands behind a condition.
    #[must_use]
    pub fn row(&self, key: ConditionKey) -> &Row {
        &self.rows[key.0]
    }

    /// What the links of the entry's own layer alone say: where the walk from it stops.
    #[must_use]
    pub fn walk(&self, key: ConditionKey) -> &Row {
        &self.walks[key.0]
    }

    /// What is handed on from a condition in one step of the walk: each direct cause with its share, by
    /// key; links of every layer. The rest of 1 stops there.
    #[must_use]
    pub fn step(&self, key: ConditionKey) -> &[(ConditionKey, f64)] {
        &self.steps[key.0]
    }

    /// The chance that the walk from a condition passes or stops at each other, by key (1 at itself).
    #[must_use]
    pub fn passes(&self, from: ConditionKey) -> Vec<f64> {
        let mut met = vec![0.0; self.rows.len()];
        met[from.0] = 1.0;
        for &key in self.order.iter().rev() {
            if met[key.0] > 0.0 {
                for &(cause, share) in &self.steps[key.0] {
                    met[cause.0] += met[key.0] * share;
                }
            }
        }
        met
    }

    /// The heaviest ways up from a condition: for every condition the next one down towards `from`, where
    /// a way leads. `open` says whether a way may pass a condition.
    #[must_use]
    pub fn ways(&self, from: ConditionKey, open: impl Fn(ConditionKey) -> bool) -> HeaviestWays {
        let mut weight = vec![0.0; self.rows.len()];
        let mut down = vec![None; self.rows.len()];
        weight[from.0] = 1.0;
        for &key in self.order.iter().rev() {
            if weight[key.0] == 0.0 || !(key == from || open(key)) {
                continue;
            }
            for &(cause, share) in &self.steps[key.0] {
                if weight[key.0] * share > weight[cause.0] {
                    weight[cause.0] = weight[key.0] * share;
                    down[cause.0] = Some(key);
                }
            }
        }
        HeaviestWays { from, down, weight }
    }

    /// Where the links of a condition ask for more than the cap, the links of its own layer and then
    /// those that others added.
    #[must_use]
    pub fn past_the_cap(base: &KnowledgeBase) -> Vec<(ConditionKey, HandedOn)> {
        let all = base.condition_keys().flat_map(|key| {
            let own = HandedOn::new(base, key, own_layer(base, key));
            let later = HandedOn::new(base, key, added(base, key));
            [(key, own), (key, later)]
        });
        all.filter(|(_, links)| links.asked > links.most).collect()
    }
}

/// The heaviest ways up from one condition.
#[derive(Clone, Debug)]
pub struct HeaviestWays {
    from: ConditionKey,
    down: Vec<Option<ConditionKey>>,
    weight: Vec<f64>,
}

impl HeaviestWays {
    /// The share of those who show where the ways lead from in whom the heaviest way passes a
    /// condition, from 0 to 1.
    #[must_use]
    pub fn weight(&self, start: ConditionKey) -> f64 {
        self.weight[start.0]
    }

    /// Every condition on the way from `start` to where the ways lead from, both included; `None`
    /// where there is none.
    #[must_use]
    pub fn chain(&self, start: ConditionKey) -> Option<Vec<ConditionKey>> {
        let mut chain = vec![start];
        let mut here = start;
        while here != self.from {
            here = self.down[here.0]?;
            chain.push(here);
        }
        Some(chain)
    }
}

/// Stated shares and the walk in one row.
fn stated(base: &KnowledgeBase, key: ConditionKey, walk: &Row, sum: &mut Sum) -> Row {
    let condition = base.condition(key);
    if condition.behind.is_empty() {
        return walk.clone();
    }
    let mut own = 1.0;
    for behind in &condition.behind {
        sum.add(behind.cause, (1.0 - WALK) * behind.share.get());
        own -= behind.share.get();
    }
    if condition.kind != ConditionKind::Outcome {
        sum.add(key, (1.0 - WALK) * own.max(0.0));
    }
    sum.add_row(WALK, walk);
    sum.take()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{LayerText, Strictness, load};

    /// The worked example of docs/model.md: four conditions, and a strap that a later layer adds.
    const SHIPPED: &str = "
outcomes:
  - id: slice
    name: Slice
    stage: ball-flight
    how_common: 0.4
    caused_by: [{id: face, strength: 0.5}, {id: path, strength: 0.4}]
    behind: [{id: grip, share: 0.4}, {id: path, share: 0.3}]
faults:
  - {id: face, name: Face, stage: impact, how_common: 0.4, caused_by: [{id: grip, strength: 0.8}]}
  - {id: path, name: Path, stage: impact, how_common: 0.5}
  - {id: grip, name: Grip, stage: grip, how_common: 0.3}
";
    const STRAP: &str = "causes: [{id: strap, name: Strap, stage: equipment}]\n";

    fn rows(own: &str) -> (KnowledgeBase, Rows) {
        let layers = [
            LayerText::new("shipped", [("a.yaml", SHIPPED.to_owned())]),
            LayerText::new("own", [("b.yaml", own.to_owned())]),
        ];
        let base = load(&layers, Strictness::ErrorsOnly).expect("sound").base;
        let rows = Rows::new(&base, &CausalGraph::new(&base));
        (base, rows)
    }

    fn check(own: &str, of: &str, expected: &[(&str, f64)]) {
        let (base, rows) = rows(own);
        let row = rows.row(base.find(of).expect("known"));
        assert_eq!(row.entries().len(), expected.len(), "{row:?}");
        for (id, share) in expected {
            let found = row.share(base.find(id).expect("known"));
            assert!((found - share).abs() < 1e-15, "{id} behind {of}: {found}");
        }
    }

    #[test]
    fn the_worked_example() {
        check(STRAP, "face", &[("face", 0.4), ("grip", 0.6)]);
        let slice = [("grip", 0.38365), ("path", 0.32775), ("face", 0.0291)];
        check(STRAP, "slice", &slice);
        let own = format!("{STRAP}links: [{{cause: strap, effect: face, share: 0.2}}]\n");
        check(
            &own,
            "face",
            &[("face", 0.32), ("grip", 0.48), ("strap", 0.2)],
        );
        let slice = [
            ("grip", 0.38365),
            ("path", 0.32775),
            ("face", 0.02328),
            ("strap", 0.00582),
        ];
        check(&own, "slice", &slice);
    }

    #[test]
    fn an_added_share_is_exactly_that_and_two_do_not_depend_on_their_order() {
        let link = |cause: &str, share: f64| {
            format!("  - {{cause: {cause}, effect: slice, share: {share}}}\n")
        };
        let causes = "causes: [{id: strap, name: Strap, stage: equipment}, {id: shoe, name: Shoe, stage: equipment}]\n";
        let of = |links: &[String]| {
            let (base, rows) = rows(&format!("{causes}links:\n{}", links.concat()));
            let row = rows.row(base.find("slice").expect("known"));
            let share = |id: &str| row.share(base.find(id).expect("known"));
            (["strap", "shoe", "grip", "path"].map(share), row.known())
        };
        let (one, _) = of(&[link("strap", 0.3)]);
        assert!((one[0] - 0.3).abs() < 1e-15 && (one[2] - 0.7 * 0.38365).abs() < 1e-15);
        let (both, known) = of(&[link("strap", 0.3), link("shoe", 0.25)]);
        let (other, _) = of(&[link("shoe", 0.25), link("strap", 0.3)]);
        assert_eq!(both, other);
        assert!((both[1] - 0.25).abs() < 1e-15 && known < 1.0);
        // Past the cap both come down together.
        let (capped, known) = of(&[link("strap", 0.9), link("shoe", 0.6)]);
        assert!((capped[0] - 0.97 * 0.6).abs() < 1e-15, "{capped:?}");
        assert!(capped.iter().all(|share| *share > 0.0) && known <= 1.0);
    }

    /// The walk keeps everything: what it passes and where it stops agree.
    #[test]
    fn the_walk_passes_what_it_stops_at() {
        let (base, rows) = rows(STRAP);
        let key = |id: &str| base.find(id).expect("known");
        let met = rows.passes(key("slice"));
        assert!((met[key("face").0] - 0.485).abs() < 1e-15);
        assert!((met[key("grip").0] - 0.291).abs() < 1e-15);
        let ways = rows.ways(key("slice"), |_| true);
        let chain = ways.chain(key("grip")).expect("a way");
        assert_eq!(chain, ["grip", "face", "slice"].map(key));
        assert_eq!(
            rows.ways(key("slice"), |way| way != key("face"))
                .chain(key("grip")),
            None
        );
        let past = Rows::past_the_cap(&base);
        assert_eq!(past.len(), 1);
        assert!((past[0].1.asked - 1.0).abs() < 1e-15);
    }
}
