//! Tables over small groups of variables.

/// A table over the variables in `scope`, the last running fastest; entries may be negative (selectors).
#[derive(Clone, Debug)]
pub(crate) struct Factor {
    /// Variables, each once.
    pub scope: Vec<usize>,
    /// One entry per combination of values.
    pub table: Vec<f64>,
    /// For the factor that carries a node's leak: the node, and the table with "and its leak fired" added.
    pub fired: Option<(usize, Vec<f64>)>,
    /// The node whose family the table belongs to, where there is one.
    pub family: Option<usize>,
}

impl Factor {
    /// A plain table.
    pub fn new(scope: Vec<usize>, table: Vec<f64>) -> Self {
        Factor {
            scope,
            table,
            fired: None,
            family: None,
        }
    }
}

/// Steps through all combinations of values of some variables, the last running fastest.
pub(crate) struct Combinations {
    cards: Vec<usize>,
    /// The current combination.
    pub at: Vec<usize>,
    started: bool,
}

impl Combinations {
    pub fn new(cards: Vec<usize>) -> Self {
        Combinations {
            at: vec![0; cards.len()],
            cards,
            started: false,
        }
    }

    /// Moves to the next combination; false after the last.
    pub fn advance(&mut self) -> bool {
        if !std::mem::replace(&mut self.started, true) {
            return true;
        }
        for (at, &card) in self.at.iter_mut().zip(&self.cards).rev() {
            *at += 1;
            if *at < card {
                return true;
            }
            *at = 0;
        }
        false
    }
}
