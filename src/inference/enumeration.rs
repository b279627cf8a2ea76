//! The oracle of the tests: every combination of origins and noises, one by one, straight from the definitions.

use super::evidence::{Evidence, Node, Report};

/// A two-layer model as plain lists: priors, and for each finding its leak and the strength of each origin behind it.
pub(crate) struct PlainModel {
    pub priors: Vec<f64>,
    pub findings: Vec<(f64, Vec<(usize, f64)>)>,
}

/// Everything by definition. `weights` holds the findings that count for clears.
pub(crate) struct Oracle {
    pub evidence: f64,
    pub posterior: Vec<f64>,
    /// Per finding.
    pub present: Vec<f64>,
    /// Per finding, the chance that it is there by its own leak and by nothing else.
    pub alone: Vec<f64>,
    /// One figure per set of origins.
    pub clears: Vec<f64>,
}

/// The coins of a model: one for each origin, each leak and each link.
struct Coins {
    chances: Vec<f64>,
    /// Per finding its leak's coin.
    leaks: Vec<usize>,
    /// Per finding the origins behind it, each with the link's coin.
    links: Vec<Vec<(usize, usize)>>,
}

impl Coins {
    fn of(model: &PlainModel) -> Self {
        let mut coins = Self {
            chances: model.priors.clone(),
            leaks: Vec::new(),
            links: Vec::new(),
        };
        for (leak, sources) in &model.findings {
            coins.leaks.push(coins.chances.len());
            coins.chances.push(*leak);
            coins.links.push(Vec::new());
            for (origin, strength) in sources {
                let link = (*origin, coins.chances.len());
                coins.links.last_mut().unwrap().push(link);
                coins.chances.push(*strength);
            }
        }
        assert!(coins.chances.len() <= 20, "too many coins to enumerate");
        coins
    }
}

/// How one set of coins fell, a bit for each.
struct World<'a>(&'a Coins, u32);

impl World<'_> {
    fn up(&self, coin: usize) -> bool {
        self.1 >> coin & 1 == 1
    }

    /// Whether an origin hands the finding on, were those in `without` taken away.
    fn handed(&self, finding: usize, without: &[usize]) -> bool {
        let mut links = self.0.links[finding].iter();
        links.any(|&(origin, link)| self.up(origin) && self.up(link) && !without.contains(&origin))
    }

    fn there(&self, finding: usize, without: &[usize]) -> bool {
        self.up(self.0.leaks[finding]) || self.handed(finding, without)
    }

    /// Its chance, times what the evidence says of it.
    fn weight(&self, evidence: &Evidence) -> f64 {
        let chance = |(coin, &p): (usize, &f64)| if self.up(coin) { p } else { 1.0 - p };
        let mut weight: f64 = self.0.chances.iter().enumerate().map(chance).product();
        for (finding, report) in evidence.iter() {
            let present = self.there(finding.0, &[]);
            weight *= match report {
                Report::Likelihood(ratio) if present => ratio,
                Report::Likelihood(_) => 1.0,
                Report::Present => f64::from(u8::from(present)),
                Report::Absent => f64::from(u8::from(!present)),
            };
        }
        weight
    }
}

pub(crate) fn enumerate(
    model: &PlainModel,
    evidence: &Evidence,
    weights: &[(Node, f64)],
    sets: &[Vec<usize>],
) -> Oracle {
    let origins = model.priors.len();
    let count = model.findings.len();
    let coins = Coins::of(model);
    let mut o = Oracle {
        evidence: 0.0,
        posterior: vec![0.0; origins],
        present: vec![0.0; count],
        alone: vec![0.0; count],
        clears: vec![0.0; sets.len()],
    };
    let all: Vec<usize> = (0..origins).collect();
    for fallen in 0..1u32 << coins.chances.len() {
        let world = World(&coins, fallen);
        let weight = world.weight(evidence);
        if weight == 0.0 {
            continue;
        }
        o.evidence += weight;
        (0..origins)
            .filter(|&origin| world.up(origin))
            .for_each(|origin| o.posterior[origin] += weight);
        for finding in (0..count).filter(|&f| world.there(f, &[])) {
            o.present[finding] += weight;
            if world.there(finding, &all) && !world.handed(finding, &[]) {
                o.alone[finding] += weight;
            }
        }
        for (set, clears) in sets.iter().zip(&mut o.clears) {
            for &(finding, counts) in weights {
                if world.there(finding.0, &[]) && !world.there(finding.0, set) {
                    *clears += weight * counts;
                }
            }
        }
    }
    let total = o.evidence;
    for figure in [
        &mut o.posterior,
        &mut o.present,
        &mut o.alone,
        &mut o.clears,
    ] {
        figure.iter_mut().for_each(|x| *x /= total);
    }
    let all: f64 = weights.iter().map(|&(f, w)| w * o.present[f.0]).sum();
    if all > 0.0 {
        o.clears.iter_mut().for_each(|x| *x /= all);
    }
    o
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two causes, priors 0.2 and 0.3, strengths 0.8 and 0.6, leak 0.05, the effect seen; by hand from the table.
    #[test]
    fn the_oracle_explains_away() {
        let model = PlainModel {
            priors: vec![0.2, 0.3],
            findings: vec![(0.05, vec![(0, 0.8), (1, 0.6)])],
        };
        let seen = Evidence::from_reports([(Node(0), Report::Present)]).unwrap();
        let o = enumerate(&model, &seen, &[], &[]);
        assert!((o.posterior[0] - 0.4885).abs() < 5e-5);
    }
}
