//! The best set of drills under a time limit, exactly.
//!
//! Numbers only: nothing here knows what a drill is. The search is a depth-first branch and bound.
//! Every node is itself a candidate; its bound is what could be reached if every remaining item that
//! still fits could be had at once, held only to the number of steps that are left. The bound never
//! falls short of what is below the node (the value only grows with better effects), so what is cut
//! off cannot hold a better set.

use super::value::{Gains, PRIORITIES, RUNGS, mended};

/// Sums of minutes and values closer than this are the same.
pub(crate) const SAME: f64 = 1e-9;

/// Something that can be chosen. What has no effect is only taken where another item comes after it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Item {
    /// Its rung on the ladder, below [`RUNGS`].
    pub rung: usize,
    /// Minutes it takes; above 0.
    pub minutes: f64,
    /// Its effect on each priority, from 0 to below 1.
    pub effects: [f64; PRIORITIES],
    /// Whether a set may be refused because of it.
    pub hard: bool,
    /// Items that must be chosen too.
    pub after: Vec<usize>,
    /// Whether it may be chosen without any effect, since a hard item may be refused without it.
    pub warms: bool,
}

impl Item {
    /// Whether it has an effect on any priority.
    pub(crate) fn works(&self) -> bool {
        self.effects.iter().any(|effect| *effect > 0.0)
    }
}

/// What to choose from, and within what.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Problem {
    /// What can be chosen; ties go to the earlier item.
    pub items: Vec<Item>,
    /// Minutes that there are.
    pub minutes: f64,
    /// At most this many items.
    pub most: usize,
    /// What the priorities are worth.
    pub gains: Gains,
    /// How many priorities there are; a set works on each of them.
    pub priorities: usize,
}

/// A set of items.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Choice {
    /// The items, ascending.
    pub items: Vec<usize>,
    /// Expected share cleared.
    pub value: f64,
    /// Minutes they take.
    pub minutes: f64,
}

impl Choice {
    /// More cleared; then fewer minutes; then fewer items; then the items that come earlier.
    pub(crate) fn beats(&self, other: &Choice) -> bool {
        if (self.value - other.value).abs() > SAME {
            return self.value > other.value;
        }
        if (self.minutes - other.minutes).abs() > SAME {
            return self.minutes < other.minutes;
        }
        (self.items.len(), &self.items) < (other.items.len(), &other.items)
    }
}

impl Problem {
    /// What a set is worth.
    pub(crate) fn value(&self, items: &[usize]) -> f64 {
        let mut best = [[0.0; RUNGS]; PRIORITIES];
        for item in items {
            raise(&mut best, &self.items[*item]);
        }
        self.gains.expected(best.map(|rungs| mended(&rungs)))
    }

    /// Whether a set has something for every priority.
    pub(crate) fn works_on_each(&self, items: &[usize]) -> bool {
        (0..self.priorities).all(|priority| {
            let mut effects = items.iter().map(|item| self.items[*item].effects[priority]);
            effects.any(|effect| effect > 0.0)
        })
    }

    /// The best set that works on each priority and for which `allowed` holds; the empty set when nothing
    /// helps.
    ///
    /// `allowed` gets the items in ascending order, and is asked only about sets with a hard item.
    /// It may refuse a set and accept a larger one. Sets worth no more than `at_least` are not
    /// looked for.
    pub(crate) fn solve(&self, at_least: f64, allowed: &dyn Fn(&[usize]) -> bool) -> Choice {
        let mut search = Search {
            problem: self,
            units: self.units(),
            allowed,
            floor: at_least,
            best: Choice {
                items: Vec::new(),
                value: 0.0,
                minutes: 0.0,
            },
        };
        search.descend(&mut Vec::new(), 0);
        search.best
    }

    /// Every item worth choosing for itself, with all that must come with it, most promising first;
    /// what only warms comes last, and so is tried where nothing else is accepted.
    fn units(&self) -> Vec<Unit> {
        let mut units: Vec<Unit> = (0..self.items.len())
            .filter(|item| self.items[*item].works() || self.items[*item].warms)
            .map(|item| Unit {
                item,
                members: self.closure(item),
            })
            .filter(|unit| {
                unit.members.len() <= self.most
                    && self.minutes_of(&unit.members) <= self.minutes + SAME
            })
            .collect();
        let dominated: Vec<bool> = units
            .iter()
            .map(|unit| units.iter().any(|other| self.makes_useless(other, unit)))
            .collect();
        let mut keep = dominated.iter().map(|dominated| !dominated);
        units.retain(|_| keep.next().unwrap_or(true));
        let promise = |unit: &Unit| self.value(&unit.members);
        units.sort_by(|a, b| promise(b).total_cmp(&promise(a)).then(a.item.cmp(&b.item)));
        units
    }

    /// Whether `other` is at least as good as `unit` in every set: the same rung, no less effect on
    /// anything, no more time, nothing that has to come with it. Within a rung only the best effect
    /// counts, so a set with both loses nothing without `unit`, and a set with `unit` alone is no
    /// better than the same with `other` in its place. (`unit` can still come along as what another
    /// item has to come after, and then counts as a member of that one.)
    ///
    /// Where a set may be refused for its hard items, what easy items it holds may be what makes it
    /// acceptable, so there only hard items give way to hard ones.
    fn makes_useless(&self, other: &Unit, unit: &Unit) -> bool {
        let (a, b) = (&self.items[other.item], &self.items[unit.item]);
        let exchangeable = !self.items.iter().any(|item| item.hard) || (a.hard && b.hard);
        let no_worse = exchangeable
            && other.members.len() == 1
            && a.rung == b.rung
            && a.minutes <= b.minutes
            && a.effects.iter().zip(&b.effects).all(|(a, b)| a >= b);
        let alike = a.minutes >= b.minutes && a.effects == b.effects && unit.members.len() == 1;
        other.item != unit.item && no_worse && (!alike || other.item < unit.item)
    }

    /// An item with everything that it must come after, ascending.
    pub(crate) fn closure(&self, item: usize) -> Vec<usize> {
        let mut members = vec![item];
        let mut next = 0;
        while next < members.len() {
            for before in &self.items[members[next]].after {
                if !members.contains(before) {
                    members.push(*before);
                }
            }
            next += 1;
        }
        members.sort_unstable();
        members
    }

    pub(crate) fn minutes_of(&self, items: &[usize]) -> f64 {
        items.iter().map(|item| self.items[*item].minutes).sum()
    }
}

fn raise(best: &mut [[f64; RUNGS]; PRIORITIES], item: &Item) {
    for (rungs, effect) in best.iter_mut().zip(item.effects) {
        rungs[item.rung] = rungs[item.rung].max(effect);
    }
}

/// An item with what must come with it.
struct Unit {
    item: usize,
    members: Vec<usize>,
}

struct Search<'a> {
    problem: &'a Problem,
    units: Vec<Unit>,
    allowed: &'a dyn Fn(&[usize]) -> bool,
    floor: f64,
    best: Choice,
}

impl Search<'_> {
    /// Looks at `chosen` and at everything that adds units from `from` on.
    fn descend(&mut self, chosen: &mut Vec<usize>, from: usize) {
        let minutes = self.problem.minutes_of(chosen);
        let here = Choice {
            items: chosen.clone(),
            value: self.problem.value(chosen),
            minutes,
        };
        let hard = || chosen.iter().any(|item| self.problem.items[*item].hard);
        if here.value > self.floor + SAME
            && here.beats(&self.best)
            && self.problem.works_on_each(chosen)
            && (!hard() || (self.allowed)(chosen))
        {
            self.best = here;
        }
        let slots = self.problem.most - chosen.len();
        if slots == 0 {
            return;
        }
        for next in from..self.units.len() {
            let bound = self.bound(chosen, minutes, slots, next);
            if bound < self.best.value - SAME || bound <= self.floor + SAME {
                // Later starts see fewer units, so their bound is no higher.
                return;
            }
            let added: Vec<usize> = self.units[next]
                .members
                .iter()
                .copied()
                .filter(|member| !chosen.contains(member))
                .collect();
            if added.is_empty()
                || added.len() > slots
                || minutes + self.problem.minutes_of(&added) > self.problem.minutes + SAME
            {
                continue;
            }
            let before = chosen.clone();
            chosen.extend(added);
            chosen.sort_unstable();
            self.descend(chosen, next + 1);
            *chosen = before;
        }
    }

    /// No set that adds up to `slots` items from the units `from` on is worth more than this.
    fn bound(&self, chosen: &[usize], minutes: f64, slots: usize, from: usize) -> f64 {
        let mut now = [[0.0; RUNGS]; PRIORITIES];
        for item in chosen {
            raise(&mut now, &self.problem.items[*item]);
        }
        let mut could = now;
        for unit in &self.units[from..] {
            for member in &unit.members {
                let item = &self.problem.items[*member];
                if minutes + item.minutes <= self.problem.minutes + SAME {
                    raise(&mut could, item);
                }
            }
        }
        let mut reach = [0.0; PRIORITIES];
        for (priority, reach) in reach.iter_mut().enumerate() {
            *reach = most_mended(&now[priority], &could[priority], slots);
        }
        self.problem.gains.expected(reach)
    }
}

/// The most that raising at most `slots` rungs from `now` to what they `could` be can mend.
fn most_mended(now: &[f64; RUNGS], could: &[f64; RUNGS], slots: usize) -> f64 {
    let mut most = mended(now);
    for raised in 1u32..(1 << RUNGS) {
        if raised.count_ones() as usize > slots {
            continue;
        }
        let mut best = *now;
        for (rung, effect) in best.iter_mut().enumerate() {
            if raised & (1 << rung) != 0 {
                *effect = could[rung];
            }
        }
        most = most.max(mended(&best));
    }
    most
}
