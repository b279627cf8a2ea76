//! Variable elimination: an order, the tree of tables that it makes, and two passes over it.
//!
//! The first pass sums variables out one by one and ends with the logarithm of the total; the second carries
//! derivatives back, from which every variable's marginal follows without a division (Darwiche 2003, *A differential
//! approach to inference in Bayesian networks*, J ACM 50; from memory).

use super::factor::Factor;

/// An order of elimination with what it costs.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub order: Vec<usize>,
    /// Table cells visited in one pass.
    pub cells: f64,
    /// What planning itself took, in cells' worth of time.
    pub work: f64,
}

/// Why no plan was made.
#[derive(Clone, Debug)]
pub(crate) struct TooLarge {
    /// Cells of the table that passed the limit.
    pub cells: f64,
    /// The variables of that table.
    pub scope: Vec<usize>,
}

/// Min-fill order (ties by smaller table, then by variable); gives up once the tables together, and the time that
/// planning has taken in cells' worth, pass `limit` cells.
pub(crate) fn plan(cards: &[usize], factors: &[Factor], limit: f64) -> Result<Plan, TooLarge> {
    let count = cards.len();
    let words = count.div_ceil(64);
    let mut graph = Graph {
        words,
        rows: vec![0; count * words],
    };
    for factor in factors {
        for &a in &factor.scope {
            for &b in &factor.scope {
                if a != b {
                    graph.join(a, b);
                }
            }
        }
    }
    let logs: Vec<f64> = cards.iter().map(|&c| libm::log2(c as f64)).collect();
    let mut scores: Vec<(u64, f64)> = (0..count).map(|v| graph.score(v, &logs)).collect();
    let mut left: Vec<usize> = (0..count).collect();
    let mut order = Vec::with_capacity(count);
    // Reading and laying out a table costs about as much as a few hundred words, however small it is.
    let (mut cells, mut work) = (0.0, (count * words + 300 * (count + factors.len())) as f64);
    let (mut near, mut affected) = (Vec::new(), vec![false; count]);
    while !left.is_empty() {
        let mut best = 0;
        for i in 1..left.len() {
            let (a, b) = (scores[left[i]], scores[left[best]]);
            if a.0 < b.0 || (a.0 == b.0 && a.1 < b.1) {
                best = i;
            }
        }
        let v = left.remove(best);
        cells += libm::exp2(scores[v].1);
        graph.neighbours(v, &mut near);
        if cells + work / 10.0 > limit {
            near.push(v);
            return Err(TooLarge { cells, scope: near });
        }
        work += (left.len() + near.len() * words) as f64;
        order.push(v);
        let filled = scores[v].0 > 0;
        graph.eliminate(v, &near);
        affected.fill(false);
        for &u in &near {
            affected[u] = true;
            if filled {
                let mut second = Vec::new();
                graph.neighbours(u, &mut second);
                second.into_iter().for_each(|w| affected[w] = true);
            }
        }
        for &u in &left {
            if affected[u] {
                work += (logs.len() + words * 8) as f64 / 8.0;
                scores[u] = graph.score(u, &logs);
            }
        }
    }
    // A word looked at takes about a tenth of the time of a cell.
    Ok(Plan {
        order,
        cells,
        work: work / 10.0,
    })
}

struct Graph {
    words: usize,
    rows: Vec<u64>,
}

impl Graph {
    fn row(&self, v: usize) -> &[u64] {
        &self.rows[v * self.words..(v + 1) * self.words]
    }

    fn join(&mut self, a: usize, b: usize) {
        self.rows[a * self.words + b / 64] |= 1 << (b % 64);
    }

    fn neighbours(&self, v: usize, into: &mut Vec<usize>) {
        into.clear();
        for (w, &bits) in self.row(v).iter().enumerate() {
            let mut bits = bits;
            while bits != 0 {
                into.push(w * 64 + bits.trailing_zeros() as usize);
                bits &= bits - 1;
            }
        }
    }

    /// Edges that eliminating `v` would add, and the logarithm of its table's cells.
    fn score(&self, v: usize, logs: &[f64]) -> (u64, f64) {
        let row = self.row(v);
        let (mut missing, mut size) = (0, logs[v]);
        for (w, &bits) in row.iter().enumerate() {
            let mut bits = bits;
            while bits != 0 {
                let u = w * 64 + bits.trailing_zeros() as usize;
                bits &= bits - 1;
                size += logs[u];
                let other = self.row(u);
                missing += row
                    .iter()
                    .zip(other)
                    .map(|(a, b)| u64::from((a & !b).count_ones()))
                    .sum::<u64>()
                    - 1;
            }
        }
        (missing / 2, size)
    }

    fn eliminate(&mut self, v: usize, near: &[usize]) {
        for &u in near {
            for w in 0..self.words {
                self.rows[u * self.words + w] |= self.rows[v * self.words + w];
            }
            self.rows[u * self.words + u / 64] &= !(1 << (u % 64));
            self.rows[u * self.words + v / 64] &= !(1 << (v % 64));
        }
        self.rows[v * self.words..(v + 1) * self.words].fill(0);
    }
}

#[derive(Clone, Copy, Debug)]
enum Source {
    Factor(usize),
    Message(usize),
}

#[derive(Clone, Debug)]
struct Input {
    source: Source,
    /// Step in the source's table for each variable of the separator, then for the bucket's own variable.
    strides: Vec<usize>,
}

#[derive(Clone, Debug)]
struct Bucket {
    var: usize,
    separator: Vec<usize>,
    inputs: Vec<Input>,
    /// The bucket that takes this one's message.
    next: Option<usize>,
}

/// The tree of tables made by an order of elimination; good for all factors of the same scopes.
#[derive(Clone, Debug)]
pub(crate) struct Tree {
    cards: Vec<usize>,
    buckets: Vec<Bucket>,
    /// Per factor, the bucket that holds it.
    home: Vec<usize>,
}

/// What the first pass found.
#[derive(Clone, Debug)]
pub(crate) struct Collected {
    /// Natural logarithm of the sum over all variables of the product of all factors; NaN if the sum is not positive.
    pub ln: f64,
    /// A bound on the relative error of the sum, from what cancelled.
    pub error: f64,
    messages: Vec<Vec<f64>>,
    scales: Vec<f64>,
}

/// What the second pass found.
#[derive(Clone, Debug)]
pub(crate) struct Marginals {
    /// Per variable, one normalised entry per value.
    pub beliefs: Vec<Vec<f64>>,
    /// Per factor with a `fired` table: the node and the probability that its leak fired.
    pub fired: Vec<(usize, f64)>,
}

impl Tree {
    /// `factors` must have non-empty scopes within `0..cards.len()`, and `order` every variable once.
    pub fn new(cards: &[usize], factors: &[Factor], order: &[usize]) -> Tree {
        let mut rank = vec![0; cards.len()];
        for (r, &v) in order.iter().enumerate() {
            rank[v] = r;
        }
        let mut waiting: Vec<Vec<(Source, Vec<usize>)>> = vec![Vec::new(); order.len()];
        let mut home = Vec::with_capacity(factors.len());
        for (i, factor) in factors.iter().enumerate() {
            let first = factor
                .scope
                .iter()
                .map(|&v| rank[v])
                .min()
                .expect("factors have variables");
            home.push(first);
            waiting[first].push((Source::Factor(i), factor.scope.clone()));
        }
        let mut buckets = Vec::with_capacity(order.len());
        for (r, &var) in order.iter().enumerate() {
            let sources = std::mem::take(&mut waiting[r]);
            let mut separator: Vec<usize> =
                sources.iter().flat_map(|s| s.1.iter().copied()).collect();
            separator.sort_unstable_by_key(|&v| rank[v]);
            separator.dedup();
            separator.retain(|&v| v != var);
            let inputs = sources
                .into_iter()
                .map(|(source, scope)| {
                    let step = |v: usize| match scope.iter().position(|&s| s == v) {
                        Some(at) => scope[at + 1..].iter().map(|&s| cards[s]).product(),
                        None => 0,
                    };
                    let strides = separator.iter().chain([&var]).map(|&v| step(v)).collect();
                    Input { source, strides }
                })
                .collect();
            let next = separator.first().map(|&v| rank[v]);
            if let Some(next) = next {
                waiting[next].push((Source::Message(r), separator.clone()));
            }
            buckets.push(Bucket {
                var,
                separator,
                inputs,
                next,
            });
        }
        Tree {
            cards: cards.to_vec(),
            buckets,
            home,
        }
    }

    /// The first pass.
    pub fn collect(&self, factors: &[Factor]) -> Collected {
        let signed = factors.iter().any(|f| f.table.iter().any(|&x| x < 0.0));
        let count = self.buckets.len();
        let mut collected = Collected {
            ln: 0.0,
            error: 0.0,
            messages: Vec::with_capacity(count),
            scales: Vec::with_capacity(count),
        };
        let mut errors: Vec<f64> = Vec::with_capacity(count);
        for bucket in &self.buckets {
            let (message, scale, worst) =
                self.message(bucket, factors, &collected.messages, signed);
            let before: f64 = bucket
                .inputs
                .iter()
                .map(|i| match i.source {
                    Source::Message(b) => errors[b],
                    Source::Factor(_) => f64::EPSILON,
                })
                .sum();
            let error = worst * (before + f64::EPSILON);
            errors.push(error);
            collected.ln += scale;
            if bucket.next.is_none() {
                collected.error += error;
                if message[0].is_nan() || message[0] <= 0.0 {
                    collected.ln = f64::NAN;
                }
            }
            collected.messages.push(message);
            collected.scales.push(scale);
        }
        if collected.ln.is_nan() {
            collected.error = f64::INFINITY;
        }
        collected
    }

    /// The logarithm of the sum after the tables of some factors (`changed`, by index) have changed since `before`;
    /// only messages on their way to the roots are made again, and put back before returning.
    pub fn again(&self, factors: &[Factor], before: &mut Collected, changed: &[usize]) -> f64 {
        let mut dirty = vec![false; self.buckets.len()];
        for &factor in changed {
            let mut at = Some(self.home[factor]);
            while let Some(bucket) = at.filter(|&b| !dirty[b]) {
                dirty[bucket] = true;
                at = self.buckets[bucket].next;
            }
        }
        let mut ln = before.ln;
        let mut kept = Vec::new();
        for r in (0..self.buckets.len()).filter(|&r| dirty[r]) {
            let (message, scale, _) =
                self.message(&self.buckets[r], factors, &before.messages, false);
            ln += scale - before.scales[r];
            kept.push((r, std::mem::replace(&mut before.messages[r], message)));
        }
        for (r, message) in kept {
            before.messages[r] = message;
        }
        ln
    }

    /// One bucket's message, divided by its largest entry; the logarithm of that entry; how much cancelled at worst.
    fn message(
        &self,
        bucket: &Bucket,
        factors: &[Factor],
        messages: &[Vec<f64>],
        signed: bool,
    ) -> (Vec<f64>, f64, f64) {
        let tables: Vec<&[f64]> = bucket
            .inputs
            .iter()
            .map(|i| table(i.source, factors, messages))
            .collect();
        let card = self.cards[bucket.var];
        let width = bucket.separator.len();
        let mut message = Vec::with_capacity(self.size(&bucket.separator));
        let mut worst: f64 = 1.0;
        self.walk(bucket, |at| {
            let (mut sum, mut size) = (0.0, 0.0);
            for x in 0..card {
                let mut product = 1.0;
                for ((table, input), &start) in tables.iter().zip(&bucket.inputs).zip(at) {
                    product *= table[start + x * input.strides[width]];
                }
                sum += product;
                size += product.abs();
            }
            if signed && size > 0.0 {
                worst = worst.max(size / sum.abs());
            }
            message.push(sum);
        });
        let scale = message.iter().fold(0.0, |m: f64, x| m.max(x.abs()));
        message.iter_mut().for_each(|x| *x /= scale);
        (message, libm::log(scale), worst)
    }

    /// The second pass, over what the first one left.
    pub fn distribute(&self, factors: &[Factor], collected: &Collected) -> Marginals {
        let mut beliefs = vec![Vec::new(); self.cards.len()];
        let mut down: Vec<Vec<f64>> = collected
            .messages
            .iter()
            .map(|m| vec![0.0; m.len()])
            .collect();
        let mut shares: Vec<Vec<f64>> = factors
            .iter()
            .map(|f| vec![0.0; if f.fired.is_some() { f.table.len() } else { 0 }])
            .collect();
        for r in (0..self.buckets.len()).rev() {
            let bucket = &self.buckets[r];
            let mut own = std::mem::take(&mut down[r]);
            if bucket.separator.is_empty() {
                own[0] = 1.0;
            }
            let scale = own.iter().fold(0.0, |m: f64, x| m.max(x.abs()));
            own.iter_mut().for_each(|x| *x /= scale);
            let tables: Vec<&[f64]> = bucket
                .inputs
                .iter()
                .map(|i| table(i.source, factors, &collected.messages))
                .collect();
            let width = bucket.separator.len();
            let card = self.cards[bucket.var];
            let mut belief = vec![0.0; card];
            let mut before = vec![0.0; tables.len()];
            let mut cell = 0;
            self.walk(bucket, |at| {
                let derivative = own[cell];
                cell += 1;
                for (x, belief) in belief.iter_mut().enumerate() {
                    let mut product = derivative;
                    for (i, table) in tables.iter().enumerate() {
                        before[i] = product;
                        product *= table[at[i] + x * bucket.inputs[i].strides[width]];
                    }
                    *belief += product;
                    let mut after = 1.0;
                    for (i, table) in tables.iter().enumerate().rev() {
                        let index = at[i] + x * bucket.inputs[i].strides[width];
                        match bucket.inputs[i].source {
                            Source::Message(b) => down[b][index] += before[i] * after,
                            Source::Factor(f) => {
                                if let Some(share) = shares[f].get_mut(index) {
                                    *share += before[i] * after;
                                }
                            }
                        }
                        after *= table[index];
                    }
                }
            });
            let total: f64 = belief.iter().sum();
            belief.iter_mut().for_each(|x| *x /= total);
            beliefs[bucket.var] = belief;
        }
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        let fired = factors
            .iter()
            .zip(&shares)
            .filter_map(|(factor, share)| {
                let (node, table) = factor.fired.as_ref()?;
                Some((*node, dot(share, table) / dot(share, &factor.table)))
            })
            .collect();
        Marginals { beliefs, fired }
    }

    fn size(&self, scope: &[usize]) -> usize {
        scope.iter().map(|&v| self.cards[v]).product()
    }

    /// Calls `visit` for every combination of the separator with the place in each input's table where it starts.
    fn walk(&self, bucket: &Bucket, mut visit: impl FnMut(&[usize])) {
        let width = bucket.separator.len();
        let mut values = vec![0; width];
        let mut at = vec![0; bucket.inputs.len()];
        loop {
            visit(&at);
            let mut d = width;
            loop {
                if d == 0 {
                    return;
                }
                d -= 1;
                values[d] += 1;
                if values[d] < self.cards[bucket.separator[d]] {
                    at.iter_mut()
                        .zip(&bucket.inputs)
                        .for_each(|(a, i)| *a += i.strides[d]);
                    break;
                }
                let back = values[d] - 1;
                at.iter_mut()
                    .zip(&bucket.inputs)
                    .for_each(|(a, i)| *a -= back * i.strides[d]);
                values[d] = 0;
            }
        }
    }
}

fn table<'a>(source: Source, factors: &'a [Factor], messages: &'a [Vec<f64>]) -> &'a [f64] {
    match source {
        Source::Factor(f) => &factors[f].table,
        Source::Message(b) => &messages[b],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A conditional table as a factor: parents first, then the variable; `yes` holds P(present) per combination.
    fn cpt(parents: &[usize], var: usize, yes: &[f64]) -> Factor {
        let table = yes.iter().flat_map(|&p| [1.0 - p, p]).collect();
        Factor::new(parents.iter().copied().chain([var]).collect(), table)
    }

    fn posteriors(factors: &[Factor], count: usize, seen: &[(usize, bool)]) -> Vec<f64> {
        let mut factors = factors.to_vec();
        for &(v, state) in seen {
            factors.push(Factor::new(
                vec![v],
                if state {
                    vec![0.0, 1.0]
                } else {
                    vec![1.0, 0.0]
                },
            ));
        }
        let cards = vec![2; count];
        let plan = plan(&cards, &factors, 1e6).unwrap();
        let tree = Tree::new(&cards, &factors, &plan.order);
        let collected = tree.collect(&factors);
        tree.distribute(&factors, &collected)
            .beliefs
            .iter()
            .map(|b| b[1])
            .collect()
    }

    fn check(found: f64, published: f64) {
        assert!(
            (found - published).abs() < 5.1e-5,
            "{found} against {published}"
        );
    }

    /// Lauritzen & Spiegelhalter (1988), J R Stat Soc B 50:157-224; its answers by enumeration of its tables. Its
    /// dyspnoea table is no noisy-OR (0.9 for both causes where 0.9333 would follow), hence by table here.
    #[test]
    fn the_asia_network() {
        let (asia, tub, smoke, lung, bronc, either, xray, dysp) = (0, 1, 2, 3, 4, 5, 6, 7);
        let net = [
            cpt(&[], asia, &[0.01]),
            cpt(&[asia], tub, &[0.01, 0.05]),
            cpt(&[], smoke, &[0.5]),
            cpt(&[smoke], lung, &[0.01, 0.1]),
            cpt(&[smoke], bronc, &[0.3, 0.6]),
            cpt(&[tub, lung], either, &[0.0, 1.0, 1.0, 1.0]),
            cpt(&[either], xray, &[0.05, 0.98]),
            cpt(&[bronc, either], dysp, &[0.1, 0.7, 0.8, 0.9]),
        ];
        let p = posteriors(&net, 8, &[]);
        check(p[tub], 0.0104);
        check(p[lung], 0.0550);
        check(p[bronc], 0.4500);
        check(p[either], 0.0648);
        check(p[xray], 0.1103);
        check(p[dysp], 0.4360);
        let p = posteriors(&net, 8, &[(dysp, true)]);
        check(p[tub], 0.0188);
        check(p[lung], 0.1028);
        check(p[bronc], 0.8340);
        let p = posteriors(&net, 8, &[(dysp, true), (xray, true)]);
        check(p[tub], 0.1139);
        check(p[lung], 0.6213);
        check(p[bronc], 0.6819);
        check(p[smoke], 0.7856);
        let p = posteriors(&net, 8, &[(dysp, true), (xray, true), (asia, true)]);
        check(p[tub], 0.3917);
        check(p[lung], 0.4443);
        check(p[bronc], 0.6288);
        let p = posteriors(&net, 8, &[(dysp, true), (xray, false)]);
        check(p[lung], 0.0025);
        check(p[bronc], 0.8634);
    }

    /// Korb & Nicholson, *Bayesian Artificial Intelligence*; answers by enumeration. The alarm is no noisy-OR (0.95
    /// for both causes where 0.957 would follow), hence by table.
    #[test]
    fn the_earthquake_network() {
        let (burglary, quake, alarm, john, mary) = (0, 1, 2, 3, 4);
        let net = |b: f64, q: f64| {
            [
                cpt(&[], burglary, &[b]),
                cpt(&[], quake, &[q]),
                cpt(&[burglary, quake], alarm, &[0.001, 0.29, 0.94, 0.95]),
                cpt(&[alarm], john, &[0.05, 0.9]),
                cpt(&[alarm], mary, &[0.01, 0.7]),
            ]
        };
        let korb = net(0.01, 0.02);
        let p = posteriors(&korb, 5, &[(john, true), (mary, true)]);
        check(p[burglary], 0.5565);
        check(p[quake], 0.3518);
        check(posteriors(&korb, 5, &[(john, true)])[burglary], 0.1333);
        check(posteriors(&korb, 5, &[(alarm, true)])[burglary], 0.5835);
        check(
            posteriors(&korb, 5, &[(alarm, true), (quake, true)])[burglary],
            0.0320,
        );
        let older = net(0.001, 0.002);
        check(
            posteriors(&older, 5, &[(john, true), (mary, true)])[burglary],
            0.2842,
        );
    }

    /// Korb & Nicholson, *Bayesian Artificial Intelligence*; answers by enumeration. By table: 0.0485 would follow
    /// from a noisy-OR where the table has 0.05.
    #[test]
    fn the_cancer_network() {
        let (pollution, smoker, cancer, xray, dysp) = (0, 1, 2, 3, 4);
        let net = [
            cpt(&[], pollution, &[0.1]),
            cpt(&[], smoker, &[0.3]),
            cpt(&[pollution, smoker], cancer, &[0.001, 0.03, 0.02, 0.05]),
            cpt(&[cancer], xray, &[0.2, 0.9]),
            cpt(&[cancer], dysp, &[0.3, 0.65]),
        ];
        check(posteriors(&net, 5, &[])[cancer], 0.0116);
        check(posteriors(&net, 5, &[(xray, true)])[cancer], 0.0503);
        check(
            posteriors(&net, 5, &[(xray, true), (dysp, true)])[cancer],
            0.1029,
        );
        check(
            posteriors(&net, 5, &[(xray, true), (dysp, true), (smoker, true)])[cancer],
            0.2437,
        );
    }

    #[test]
    fn a_plan_that_would_pass_the_limit_is_refused_with_its_variables() {
        let all: Vec<usize> = (0..12).collect();
        let factors = [Factor::new(all.clone(), vec![1.0; 4096])];
        let error = plan(&[2; 12], &factors, 1000.0).unwrap_err();
        assert_eq!(error.cells, 4096.0);
        let mut scope = error.scope;
        scope.sort_unstable();
        assert_eq!(scope, all);
    }
}
