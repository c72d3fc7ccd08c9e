//! What waits in a best-first search: cells, the least value first.

use super::rate_atlas::{Cell, NodeId};
use std::cmp::Ordering;

/// A cell with what is still open about it. A heap of these gives the least first, then the first to come, so that
/// every run takes the same order.
pub(super) struct Waiting<T> {
    /// A lower bound of the value sought over the cell.
    pub least: f64,
    /// Its number in the order of coming.
    pub number: u64,
    /// The cell.
    pub cell: Cell,
    /// The patch that holds it.
    pub node: NodeId,
    /// What isn't proved yet.
    pub open: Vec<T>,
}

impl<T> PartialEq for Waiting<T> {
    fn eq(&self, o: &Self) -> bool {
        self.number == o.number
    }
}
impl<T> Eq for Waiting<T> {}
impl<T> PartialOrd for Waiting<T> {
    fn partial_cmp(&self, o: &Self) -> Option<Ordering> {
        Some(self.cmp(o))
    }
}
impl<T> Ord for Waiting<T> {
    fn cmp(&self, o: &Self) -> Ordering {
        // The heap gives its greatest.
        o.least
            .total_cmp(&self.least)
            .then(o.number.cmp(&self.number))
    }
}
