//! The network and its twin with something removed, written as tables over levels.
//!
//! A condition is taken twice, as it was and as it would have been with something removed. Removing a cause from a
//! noisy-OR network only switches things off, so the pair has three levels: 0 absent in both, 1 present only thanks to
//! what was removed, 2 present regardless. A node's level is the maximum over its fired sources, hence a noisy-MAX node
//! (Henrion 1989; Díez 1993; from memory); with nothing removed there are two levels, 0 and 2, and a noisy-OR node.

use super::answer::Removal;
use super::evidence::Report;
use super::factor::{Combinations, Factor};
use super::network::{Network, Node};

/// Families of at most this many open parents become one table: marrying two parents costs less than a selector.
const SMALL_FAMILY: usize = 2;

/// How a family with many open parents is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Encoding {
    /// A selector with one value per cumulative level: pairwise tables, some entries negative.
    Selector,
    /// A chain of small max-nodes: one more variable per parent, all entries positive.
    Chain,
}

/// The tables of a network under reports and a removal.
#[derive(Clone, Debug)]
pub(crate) struct Problem {
    /// Values per variable.
    pub cards: Vec<usize>,
    pub factors: Vec<Factor>,
    /// Logarithm of the tables in which no variable is left.
    pub ln: f64,
    /// Per node: its variable, if its level is open.
    pub variable: Vec<Option<usize>>,
    /// Per node: the levels it may still have, ascending; empty for nodes left out.
    pub levels: Vec<Vec<u8>>,
    /// Starts-here of nodes whose family has no variable left.
    pub fired: Vec<(usize, f64)>,
}

/// The chance of each level.
type Levels = [f64; 3];

/// The level after one more source of this level, which fires with this chance.
fn with_source(mut base: Levels, level: u8, strength: f64) -> Levels {
    let level = usize::from(level);
    let below: f64 = base[..level].iter().sum();
    base[..level].iter_mut().for_each(|t| *t *= 1.0 - strength);
    base[level] += strength * below;
    base
}

fn capped(held: bool, levels: Levels) -> Levels {
    if held {
        [levels[0], levels[1] + levels[2], 0.0]
    } else {
        levels
    }
}

fn members(mask: u8) -> Vec<u8> {
    (0..3).filter(|l| mask >> l & 1 == 1).collect()
}

/// A parent whose level is open.
struct Open {
    variable: usize,
    levels: Vec<u8>,
    strength: f64,
}

/// What a family is made of.
struct Family {
    node: usize,
    held: bool,
    /// Levels from the leak and the settled parents.
    base: Levels,
    /// The leak, when starts-here is wanted.
    leak: Option<f64>,
    open: Vec<Open>,
    /// Levels that the noise allows, before the report.
    possible: Vec<u8>,
    /// Levels that are left after the report.
    left: Vec<u8>,
    variable: Option<usize>,
}

/// Writes the tables of the nodes in `kept` (which must hold all parents of its members).
pub(crate) fn problem(
    network: &Network,
    reports: &[Option<Report>],
    kept: &[bool],
    removal: Option<&Removal>,
    encoding: Encoding,
) -> Problem {
    let count = network.len();
    let mut p = Problem {
        cards: Vec::new(),
        factors: Vec::new(),
        ln: 0.0,
        variable: vec![None; count],
        levels: vec![Vec::new(); count],
        fired: Vec::new(),
    };
    let removed =
        |x: usize| matches!(removal, Some(Removal::Leaks(nodes)) if nodes.contains(&Node(x)));
    let held = |x: usize| matches!(removal, Some(Removal::Held(node)) if node.0 == x);
    for &x in network.order().iter().filter(|&&x| kept[x]) {
        let leak_level = if removed(x) { 1 } else { 2 };
        let mut mask = 1 | 1 << leak_level;
        let mut base = with_source([1.0, 0.0, 0.0], leak_level, network.leak(Node(x)));
        let mut open = Vec::new();
        for &(u, strength) in network.parents(x) {
            let levels = &p.levels[u];
            levels.iter().for_each(|l| mask |= 1 << l);
            match (p.variable[u], levels.first()) {
                (Some(variable), _) => open.push(Open {
                    variable,
                    levels: levels.clone(),
                    strength,
                }),
                (None, Some(&level)) if level > 0 => base = with_source(base, level, strength),
                _ => {}
            }
        }
        if held(x) && mask & 4 != 0 {
            mask = mask & 1 | 2;
        }
        let left = match reports[x] {
            Some(Report::Present) => mask & !1,
            Some(Report::Absent) => 1,
            _ => mask,
        };
        let left = members(left);
        let variable = (left.len() > 1).then(|| p.new_variable(left.len()));
        p.variable[x] = variable;
        p.levels[x] = left.clone();
        let leak = removal.is_none().then(|| network.leak(Node(x)));
        p.family(
            &Family {
                node: x,
                held: held(x),
                base,
                leak,
                open,
                possible: members(mask),
                left,
                variable,
            },
            encoding,
        );
        if let (Some(Report::Likelihood(ratio)), Some(v)) = (reports[x], variable) {
            // Divided by the larger of the two, so that no product of ratios leaves the range of a double.
            let top = ratio.max(1.0);
            p.ln += libm::log(top);
            let table = p.levels[x]
                .iter()
                .map(|&l| if l > 0 { ratio / top } else { 1.0 / top })
                .collect();
            p.push(x, vec![v], table, None);
        }
    }
    p
}

impl Problem {
    fn new_variable(&mut self, card: usize) -> usize {
        self.cards.push(card);
        self.cards.len() - 1
    }

    fn push(&mut self, node: usize, scope: Vec<usize>, table: Vec<f64>, fired: Option<Vec<f64>>) {
        if scope.is_empty() {
            self.ln += libm::log(table[0]);
            if let Some(fired) = fired {
                self.fired.push((node, fired[0] / table[0]));
            }
        } else {
            let fired = fired.map(|f| (node, f));
            self.factors.push(Factor {
                scope,
                table,
                fired,
                family: Some(node),
            });
        }
    }

    fn family(&mut self, f: &Family, encoding: Encoding) {
        if f.left == [0] {
            self.absorb(f);
        } else if f.open.len() <= SMALL_FAMILY {
            self.one_table(f);
        } else {
            match encoding {
                Encoding::Selector => self.selector(f),
                Encoding::Chain => self.chain(f),
            }
        }
    }

    /// A finding that is absent multiplies each parent by its own `1 - s`.
    fn absorb(&mut self, f: &Family) {
        self.push(
            f.node,
            Vec::new(),
            vec![f.base[0]],
            f.leak.map(|_| vec![0.0]),
        );
        for parent in &f.open {
            let table = parent
                .levels
                .iter()
                .map(|&l| if l > 0 { 1.0 - parent.strength } else { 1.0 })
                .collect();
            self.push(f.node, vec![parent.variable], table, None);
        }
    }

    fn one_table(&mut self, f: &Family) {
        let mut scope: Vec<usize> = f.open.iter().map(|o| o.variable).collect();
        scope.extend(f.variable);
        let (mut table, mut fired) = (Vec::new(), Vec::new());
        let mut parents = Combinations::new(f.open.iter().map(|o| o.levels.len()).collect());
        while parents.advance() {
            let sources = f
                .open
                .iter()
                .zip(&parents.at)
                .map(|(o, &at)| (o.levels[at], o.strength));
            let levels = sources
                .filter(|s| s.0 > 0)
                .fold(f.base, |t, (level, s)| with_source(t, level, s));
            let levels = capped(f.held, levels);
            table.extend(f.left.iter().map(|&l| levels[usize::from(l)]));
            fired.extend(
                f.left
                    .iter()
                    .map(|&l| if l == 2 { f.leak.unwrap_or(0.0) } else { 0.0 }),
            );
        }
        self.push(f.node, scope, table, f.leak.map(|_| fired));
    }

    fn selector(&mut self, f: &Family) {
        let top = f.possible.len() - 1;
        // P(level = v_i) = P(level <= v_i) - P(level <= v_(i-1)): the signs that the selector's values carry.
        let sign = |value: usize, level: u8| match f.possible.iter().position(|&p| p == level) {
            Some(i) if i == value => 1.0,
            Some(i) if i == value + 1 => -1.0,
            _ => 0.0,
        };
        let values: Vec<usize> = (0..=top)
            .filter(|&k| f.left.iter().any(|&l| sign(k, l) != 0.0))
            .collect();
        let selector = self.new_variable(values.len());
        let below = |k: usize| -> f64 {
            if k == top {
                1.0
            } else {
                f.base[..=usize::from(f.possible[k])].iter().sum()
            }
        };
        let settled = |k: usize| {
            if f.variable.is_some() {
                1.0
            } else {
                sign(k, f.left[0])
            }
        };
        let own = values.iter().map(|&k| settled(k) * below(k)).collect();
        let leak = f.leak.map(|leak| {
            values
                .iter()
                .map(|&k| if k == top { settled(k) * leak } else { 0.0 })
                .collect()
        });
        self.push(f.node, vec![selector], own, leak);
        for parent in &f.open {
            let stays = |k: usize, level: u8| k == top || level <= f.possible[k];
            let row = |&k: &usize| {
                let entry = move |&l: &u8| {
                    if stays(k, l) {
                        1.0
                    } else {
                        1.0 - parent.strength
                    }
                };
                parent.levels.iter().map(entry).collect::<Vec<f64>>()
            };
            self.push(
                f.node,
                vec![selector, parent.variable],
                values.iter().flat_map(row).collect(),
                None,
            );
        }
        if let Some(variable) = f.variable {
            let signs = values
                .iter()
                .flat_map(|&k| f.left.iter().map(move |&l| sign(k, l)))
                .collect();
            self.push(f.node, vec![selector, variable], signs, None);
        }
    }

    fn chain(&mut self, f: &Family) {
        let mut mask = (0..3u8).fold(0, |m, l| m | u8::from(f.base[usize::from(l)] > 0.0) << l);
        let mut before: Option<(usize, Vec<u8>)> = None;
        for (i, parent) in f.open.iter().enumerate() {
            let last = i + 1 == f.open.len();
            parent.levels.iter().for_each(|l| mask |= 1 << l);
            let after = if last { f.left.clone() } else { members(mask) };
            let variable = if last {
                f.variable
            } else {
                Some(self.new_variable(after.len()))
            };
            let (mut table, mut fired) = (Vec::new(), Vec::new());
            let starts: Vec<Levels> = match &before {
                None => vec![f.base],
                Some((_, levels)) => levels
                    .iter()
                    .map(|&l| with_source([1.0, 0.0, 0.0], l, 1.0))
                    .collect(),
            };
            for start in starts {
                for &level in &parent.levels {
                    let t = if level > 0 {
                        with_source(start, level, parent.strength)
                    } else {
                        start
                    };
                    let t = capped(f.held && last, t);
                    table.extend(after.iter().map(|&l| t[usize::from(l)]));
                    fired.extend(
                        after
                            .iter()
                            .map(|&l| if l == 2 { f.leak.unwrap_or(0.0) } else { 0.0 }),
                    );
                }
            }
            let mut scope: Vec<usize> = before.iter().map(|b| b.0).collect();
            scope.push(parent.variable);
            scope.extend(variable);
            self.push(
                f.node,
                scope,
                table,
                f.leak.filter(|_| i == 0).map(|_| fired),
            );
            before = variable.map(|v| (v, after));
        }
    }

    /// Only the tables that hang together with one of `seeds`; variables keep their nodes, not their numbers.
    pub fn around(&self, seeds: impl IntoIterator<Item = usize>) -> Problem {
        let mut at = vec![Vec::new(); self.cards.len()];
        for (i, factor) in self.factors.iter().enumerate() {
            factor.scope.iter().for_each(|&v| at[v].push(i));
        }
        let mut reached = vec![false; self.cards.len()];
        let mut stack: Vec<usize> = seeds.into_iter().collect();
        while let Some(v) = stack.pop() {
            if !std::mem::replace(&mut reached[v], true) {
                stack.extend(
                    at[v]
                        .iter()
                        .flat_map(|&i| self.factors[i].scope.iter().copied()),
                );
            }
        }
        let mut number = vec![usize::MAX; self.cards.len()];
        let mut cards = Vec::new();
        for v in (0..self.cards.len()).filter(|&v| reached[v]) {
            number[v] = cards.len();
            cards.push(self.cards[v]);
        }
        let factors = self
            .factors
            .iter()
            .filter(|f| reached[f.scope[0]])
            .cloned()
            .map(|mut f| {
                f.scope.iter_mut().for_each(|v| *v = number[*v]);
                f
            });
        Problem {
            factors: factors.collect(),
            cards,
            ln: 0.0,
            variable: self
                .variable
                .iter()
                .map(|v| v.filter(|&v| reached[v]).map(|v| number[v]))
                .collect(),
            levels: self.levels.clone(),
            fired: Vec::new(),
        }
    }
}
