//! One question, one answer.

use super::network::Node;

/// What is taken away in the world that would have been.
#[derive(Clone, Debug, PartialEq)]
pub enum Removal {
    /// These nodes' own leaks do not fire (the origin form).
    Leaks(Vec<Node>),
    /// This node is held absent, whatever pushes it (the patch form).
    Held(Node),
}
