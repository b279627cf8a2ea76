//! What each drill has of a query, by meaning and by text.

use crate::knowledge::DrillKey;

/// Two numbers for each drill that has any, over an array of all: a query touches many drills of a
/// large library, and nothing is as fast as a place in an array.
pub(super) struct Scored {
    numbers: Vec<(f64, f64)>,
    touched: Vec<DrillKey>,
    seen: Vec<bool>,
}

impl Scored {
    pub(super) fn new(drills: usize) -> Self {
        Self {
            numbers: vec![(0.0, 0.0); drills],
            touched: Vec::new(),
            seen: vec![false; drills],
        }
    }

    pub(super) fn at(&mut self, drill: DrillKey) -> &mut (f64, f64) {
        if !self.seen[drill.0] {
            self.seen[drill.0] = true;
            self.touched.push(drill);
        }
        &mut self.numbers[drill.0]
    }

    /// Those with any, the best `most` of them by their weighted sum when there are more.
    pub(super) fn best(self, most: usize, share: f64) -> Vec<(DrillKey, (f64, f64))> {
        let mut all: Vec<(DrillKey, (f64, f64))> = self.each().collect();
        if all.len() > most {
            let worth = |(meaning, text): (f64, f64)| share * meaning + (1.0 - share) * text;
            all.select_nth_unstable_by(most, |a, b| {
                worth(b.1).total_cmp(&worth(a.1)).then(a.0.cmp(&b.0))
            });
            all.truncate(most);
        }
        all
    }

    pub(super) fn each_mut(&mut self, mut change: impl FnMut(&mut (f64, f64))) {
        for drill in &self.touched {
            change(&mut self.numbers[drill.0]);
        }
    }

    pub(super) fn each(self) -> impl Iterator<Item = (DrillKey, (f64, f64))> {
        let Self {
            numbers, touched, ..
        } = self;
        touched
            .into_iter()
            .map(move |drill| (drill, numbers[drill.0]))
    }
}
