//! How firm a ranking is: strengths are opinions, so shake them and see whether the leading cause stays first.

use rand::SeedableRng;
use rand_pcg::Pcg64;

use super::evidence::Evidence;
use super::network::{Network, Node};
use super::origins::{Origin, Origins, OriginsError};
use super::worlds::{Draws, Worlds};

/// The standard deviation of the noise on log-odds that stands for careful judgement: 0.5 moves a probability of 0.5 to
/// between 0.38 and 0.62 two times in three. Pradhan, Henrion, Provan, Del Favero & Huang (1996), Artificial
/// Intelligence 85, shook log-odds by noise of 0.1 to 3; the choice within that range is ours, the range from memory.
pub const JUDGEMENT: f64 = 0.5;

/// How often to shake, and how hard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shakes {
    /// Redraws of all strengths and base rates.
    pub count: usize,
    /// Standard deviation of the normal noise on their log-odds.
    pub sd: f64,
    /// Seed of the noise.
    pub seed: u64,
    /// Worlds per redraw, the same random numbers for each (networks only).
    pub worlds: usize,
}

impl Default for Shakes {
    /// Forty redraws by [`JUDGEMENT`]: the share is then known to within about 0.08.
    fn default() -> Self {
        Shakes {
            count: 40,
            sd: JUDGEMENT,
            seed: 1,
            worlds: 600,
        }
    }
}

/// The share in `[0, 1]` of redraws of the network in which the node with the largest `clears * effect` (ties by node)
/// is the one that `leading` names; `None` when nothing is seen that could be cleared or `count` is 0.
///
/// `effects` holds one number of at least 0 per node. The figures of a redraw come from few worlds, so two causes that
/// are too close to call make the share smaller, as they should.
pub fn firmness(
    network: &Network,
    evidence: &Evidence,
    observed: &[(Node, f64)],
    effects: &[f64],
    leading: Node,
    shakes: Shakes,
) -> Option<f64> {
    if observed.is_empty() || shakes.count == 0 {
        return None;
    }
    let mut rng = Pcg64::seed_from_u64(shakes.seed);
    let draws = Draws {
        seed: shakes.seed,
        most: shakes.worlds,
        target: 0.0,
    };
    let stays = (0..shakes.count)
        .filter(|_| {
            let shaken = network.shaken(shakes.sd, &mut rng);
            Worlds::leading(&shaken, evidence, observed, effects, draws) == Some(leading)
        })
        .count();
    Some(stays as f64 / shakes.count as f64)
}

/// The same for the two-layer model, whose redraws are answered exactly; `effects` has one number per origin.
///
/// # Errors
/// As [`Origins::answer`].
pub fn origins_firmness(
    model: &Origins,
    evidence: &Evidence,
    weights: &[(Node, f64)],
    effects: &[f64],
    leading: Origin,
    shakes: Shakes,
) -> Result<Option<f64>, OriginsError> {
    if weights.is_empty() || shakes.count == 0 {
        return Ok(None);
    }
    let mut rng = Pcg64::seed_from_u64(shakes.seed);
    let mut stays = 0;
    for _ in 0..shakes.count {
        let answer = model
            .shaken(shakes.sd, &mut rng)
            .answer(evidence, weights)?;
        let worth = |o: usize| answer.origins[o].clears * effects[o];
        let best = (0..model.len()).max_by(|&a, &b| worth(a).total_cmp(&worth(b)).then(b.cmp(&a)));
        stays += usize::from(best == Some(leading.0));
    }
    Ok(Some(f64::from(stays as u32) / shakes.count as f64))
}

#[cfg(test)]
mod tests {
    use super::super::evidence::Report;
    use super::super::network::{Base, NetworkBuilder};
    use super::*;

    /// Two roots behind one finding; the first is `odds` times as likely a start as the second.
    fn rivals(odds: f64) -> (Network, Evidence, Vec<(Node, f64)>) {
        let mut b = NetworkBuilder::new();
        let first = b.add(Base::Leak(0.05 * odds)).unwrap();
        let second = b.add(Base::Leak(0.05)).unwrap();
        let finding = b.add(Base::Leak(0.01)).unwrap();
        b.link(first, finding, 0.7).unwrap();
        b.link(second, finding, 0.7).unwrap();
        let evidence = Evidence::from_reports([(finding, Report::Present)]).unwrap();
        (b.build(1e-4).unwrap(), evidence, vec![(finding, 1.0)])
    }

    #[test]
    fn a_clear_leader_is_firm_and_a_tie_is_not() {
        let share = |odds: f64, effects: &[f64]| {
            let (network, evidence, observed) = rivals(odds);
            firmness(
                &network,
                &evidence,
                &observed,
                effects,
                Node(0),
                Shakes::default(),
            )
            .unwrap()
        };
        let tie = share(1.0, &[1.0, 1.0, 0.0]);
        assert!((0.25..0.75).contains(&tie), "{tie}");
        assert!(share(8.0, &[1.0, 1.0, 0.0]) > 0.95);
        // What cannot be changed does not lead, however much it explains.
        assert!(share(8.0, &[0.0, 1.0, 0.0]) < 0.05);
        assert_eq!(share(3.0, &[1.0, 1.0, 0.0]), share(3.0, &[1.0, 1.0, 0.0]));
    }

    #[test]
    fn origins_are_shaken_alike() {
        let mut model = Origins::new(vec![0.3, 0.05]).unwrap();
        let f = model
            .add(0.01, &[(Origin(0), 0.7), (Origin(1), 0.7)])
            .unwrap();
        let evidence = Evidence::from_reports([(f, Report::Present)]).unwrap();
        let firm = |leader: usize, shakes: Shakes| {
            origins_firmness(
                &model,
                &evidence,
                &[(f, 1.0)],
                &[1.0, 1.0],
                Origin(leader),
                shakes,
            )
            .unwrap()
        };
        let share = firm(0, Shakes::default()).unwrap();
        assert!(share > 0.9);
        assert_eq!(firm(1, Shakes::default()), Some(1.0 - share));
        assert_eq!(
            firm(
                0,
                Shakes {
                    count: 0,
                    ..Shakes::default()
                }
            ),
            None
        );
    }
}
