//! The search against two other ways of finding the best set: trying every set, and a general
//! integer programme handed to a solver from the registry (`good_lp` over `microlp`).

use super::choose::{Item, Problem, SAME};
use super::value::{FURTHER_RUNG, Gains, RUNGS};
use good_lp::{
    Expression, ProblemVariables, Solution, SolverModel, Variable, constraint, microlp, variable,
};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// A problem as lessons give them: minutes in halves, effects of two digits, some chains.
fn problem(rng: &mut Pcg64Mcg, items: usize, priorities: usize, hard: bool) -> Problem {
    let items = (0..items)
        .map(|index| {
            let mut effects = [0.0; 2];
            for effect in effects.iter_mut().take(priorities) {
                if rng.random_bool(0.6) {
                    *effect = f64::from(rng.random_range(10..95u32)) / 100.0;
                }
            }
            let mut after = Vec::new();
            if index > 0 && rng.random_bool(0.35) {
                after.push(rng.random_range(0..index));
            }
            let rung = rng.random_range(0..RUNGS);
            Item {
                rung,
                minutes: f64::from(rng.random_range(6..31u32)) / 2.0,
                effects,
                hard: hard && rung >= 3,
                after,
                warms: false,
            }
        })
        .collect();
    let one = f64::from(rng.random_range(5..80u32)) / 100.0;
    let other = f64::from(rng.random_range(5..80u32)) / 100.0;
    let gains = if priorities == 1 {
        Gains::single(one)
    } else {
        // Anything from "the one covers the other" to "only both together do anything more".
        let both = one.max(other) + rng.random_range(0.0..0.2);
        Gains {
            alone: [one, other],
            both: both.min(1.0),
        }
    };
    Problem {
        items,
        minutes: f64::from(rng.random_range(10..80u32)) / 2.0,
        most: rng.random_range(1..5),
        gains,
        priorities,
    }
}

/// At least ten easy minutes with a hard item; the order does not matter here.
fn warm(problem: &Problem, easy: f64, items: &[usize]) -> bool {
    let of = |hard: bool| -> f64 {
        items
            .iter()
            .filter(|item| problem.items[**item].hard == hard)
            .map(|item| problem.items[*item].minutes)
            .sum()
    };
    of(true) == 0.0 || easy + of(false) >= 10.0
}

/// The best value over every set there is.
fn by_trying_all(problem: &Problem, allowed: &dyn Fn(&[usize]) -> bool) -> f64 {
    let n = problem.items.len();
    let mut best: f64 = 0.0;
    for mask in 0u32..(1 << n) {
        if mask.count_ones() as usize > problem.most {
            continue;
        }
        let set: Vec<usize> = (0..n).filter(|item| mask & (1 << item) != 0).collect();
        let closed = set.iter().all(|item| {
            problem.items[*item]
                .after
                .iter()
                .all(|first| set.contains(first))
        });
        // What works on nothing is only there because something that does comes after it.
        let wanted: Vec<usize> = set
            .iter()
            .filter(|item| problem.items[**item].effects != [0.0; 2])
            .flat_map(|item| problem.closure(*item))
            .collect();
        let no_filler = set.iter().all(|item| wanted.contains(item));
        let minutes: f64 = set.iter().map(|item| problem.items[*item].minutes).sum();
        if closed
            && no_filler
            && minutes <= problem.minutes + SAME
            && problem.works_on_each(&set)
            && allowed(&set)
        {
            best = best.max(problem.value(&set));
        }
    }
    best
}

#[test]
fn four_hundred_generated_cases_equal_trying_every_set() {
    let mut rng = Pcg64Mcg::seed_from_u64(5);
    let mut solved = 0;
    for case in 0..400 {
        let size = 3 + case % 10;
        let problem = problem(&mut rng, size, 1 + case % 2, case % 3 == 0);
        let allowed = |items: &[usize]| warm(&problem, 4.0, items);
        let found = problem.solve(0.0, &allowed);
        let best = by_trying_all(&problem, &allowed);
        assert!(
            (found.value - best).abs() < 1e-9,
            "case {case}: found {} of {best} in {problem:?}",
            found.value
        );
        assert!(found.items.len() <= problem.most);
        assert!((problem.value(&found.items) - found.value).abs() < 1e-12);
        solved += usize::from(best > 0.0);
    }
    assert!(solved > 300, "only {solved} cases had a solution at all");
}

/// For one priority the logarithm of what is left unmended is a sum, so the problem is linear in
/// 0/1 variables: which items are in, which one is counted in full, which others for half, one a
/// rung.
fn by_integer_programme(problem: &Problem) -> f64 {
    let n = problem.items.len();
    let mut variables = ProblemVariables::new();
    let mut binaries = || -> Vec<Variable> { variables.add_vector(variable().binary(), n) };
    let (chosen, full, half) = (binaries(), binaries(), binaries());
    let gain = |item: usize, share: f64| -(1.0 - share * problem.items[item].effects[0]).ln();
    let sum = |terms: &[Variable]| -> Expression { terms.iter().copied().sum() };
    let goal: Expression = (0..n)
        .map(|item| gain(item, 1.0) * full[item] + gain(item, FURTHER_RUNG) * half[item])
        .sum();
    let minutes: Expression = (0..n)
        .map(|item| problem.items[item].minutes * chosen[item])
        .sum();
    let mut model = variables
        .maximise(goal)
        .using(microlp)
        .with(constraint!(minutes <= problem.minutes))
        .with(constraint!(sum(&chosen) <= problem.most as f64))
        .with(constraint!(sum(&full) <= 1));
    for item in 0..n {
        model = model.with(constraint!(full[item] + half[item] <= chosen[item]));
        for first in &problem.items[item].after {
            model = model.with(constraint!(chosen[item] <= chosen[*first]));
        }
    }
    for rung in 0..RUNGS {
        let counted: Expression = (0..n)
            .filter(|item| problem.items[*item].rung == rung)
            .map(|item| full[item] + half[item])
            .sum();
        model = model.with(constraint!(counted <= 1));
    }
    let solution = model.solve().expect("the empty set is always a solution");
    let set: Vec<usize> = (0..n)
        .filter(|item| solution.value(chosen[*item]) > 0.5)
        .collect();
    problem.value(&set)
}

#[test]
fn two_hundred_and_forty_generated_cases_equal_a_general_solver() {
    let mut rng = Pcg64Mcg::seed_from_u64(55);
    for case in 0..240 {
        let problem = problem(&mut rng, 4 + case % 15, 1, false);
        let found = problem.solve(0.0, &|_| true);
        let solver = by_integer_programme(&problem);
        // The solver works to 1e-6 in the logarithm.
        assert!(
            (found.value - solver).abs() < 1e-5,
            "case {case}: found {}, solver {solver}, in {problem:?}",
            found.value
        );
    }
}

/// What is there twice over, so that only mending both clears anything.
#[test]
fn two_starts_that_cover_for_each_other_are_taken_together() {
    let item = |effects| Item {
        rung: 0,
        minutes: 5.0,
        effects,
        hard: false,
        after: Vec::new(),
        warms: false,
    };
    let problem = Problem {
        items: vec![item([0.8, 0.0]), item([0.0, 0.8])],
        minutes: 10.0,
        most: 2,
        gains: Gains {
            alone: [0.0, 0.0],
            both: 1.0,
        },
        priorities: 2,
    };
    let found = problem.solve(0.0, &|_| true);
    assert_eq!(found.items, [0, 1]);
    assert!((found.value - 0.64).abs() < 1e-12);
}
