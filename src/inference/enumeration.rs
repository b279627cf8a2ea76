//! The oracle of the tests: every combination of origins and noises, one by one, straight from the definitions.

use super::evidence::{Evidence, Node, Report};

/// A two-layer model as plain lists: priors, and for each finding its leak and the strength of each origin behind it.
pub(crate) struct Model {
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

pub(crate) fn enumerate(
    model: &Model,
    evidence: &Evidence,
    weights: &[(Node, f64)],
    sets: &[Vec<usize>],
) -> Oracle {
    let origins = model.priors.len();
    // Coins: one for each origin, each leak and each link.
    let mut coins = model.priors.clone();
    let mut leaks = Vec::new();
    let mut links = Vec::new();
    for (leak, sources) in &model.findings {
        leaks.push(coins.len());
        coins.push(*leak);
        links.push(Vec::new());
        for (origin, strength) in sources {
            links.last_mut().unwrap().push((*origin, coins.len()));
            coins.push(*strength);
        }
    }
    assert!(coins.len() <= 20, "too many coins to enumerate");
    let count = model.findings.len();
    let mut o = Oracle {
        evidence: 0.0,
        posterior: vec![0.0; origins],
        present: vec![0.0; count],
        alone: vec![0.0; count],
        clears: vec![0.0; sets.len()],
    };
    for world in 0..1u32 << coins.len() {
        let up = |coin: usize| world >> coin & 1 == 1;
        let there = |finding: usize, without: &[usize]| {
            up(leaks[finding])
                || links[finding]
                    .iter()
                    .any(|&(origin, link)| up(origin) && up(link) && !without.contains(&origin))
        };
        let chance = |(coin, &p): (usize, &f64)| if up(coin) { p } else { 1.0 - p };
        let mut weight: f64 = coins.iter().enumerate().map(chance).product();
        for (finding, report) in evidence.iter() {
            let present = there(finding.0, &[]);
            weight *= match report {
                Report::Likelihood(ratio) if present => ratio,
                Report::Likelihood(_) => 1.0,
                Report::Present => f64::from(u8::from(present)),
                Report::Absent => f64::from(u8::from(!present)),
            };
        }
        if weight == 0.0 {
            continue;
        }
        o.evidence += weight;
        (0..origins)
            .filter(|&origin| up(origin))
            .for_each(|origin| o.posterior[origin] += weight);
        let all: Vec<usize> = (0..origins).collect();
        for finding in (0..count).filter(|&f| there(f, &[])) {
            o.present[finding] += weight;
            let handed = links[finding]
                .iter()
                .any(|&(origin, link)| up(origin) && up(link));
            if there(finding, &all) && !handed {
                o.alone[finding] += weight;
            }
        }
        for (set, clears) in sets.iter().zip(&mut o.clears) {
            for &(finding, counts) in weights {
                if there(finding.0, &[]) && !there(finding.0, set) {
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
        let model = Model {
            priors: vec![0.2, 0.3],
            findings: vec![(0.05, vec![(0, 0.8), (1, 0.6)])],
        };
        let seen = Evidence::from_reports([(Node(0), Report::Present)]).unwrap();
        let o = enumerate(&model, &seen, &[], &[]);
        assert!((o.posterior[0] - 0.4885).abs() < 5e-5);
    }
}
