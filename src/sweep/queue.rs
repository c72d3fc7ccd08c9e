//! What waits in a best-first search: cells, the least value first.

use super::rate_atlas::{Atlas, Cell, NodeId};
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// The cells of a search over the whole rectangle.
pub(super) struct BestFirst<T> {
    waiting: BinaryHeap<Waiting<T>>,
    number: u64,
}

impl<T: Clone> BestFirst<T> {
    /// The rectangle in its quarters, with `open` unproved and the value known to be no less than `least`. Both
    /// halves of the arm's angle are in it whatever the direction: away from straight ahead the wheel's measured
    /// height isn't at the arm's.
    pub fn over(atlas: &Atlas, least: f64, open: &[T]) -> Self {
        let mut queue = BestFirst {
            waiting: BinaryHeap::new(),
            number: 0,
        };
        let domain = atlas.domain;
        for alpha in [[domain.alpha[0], 0.0], [0.0, domain.alpha[1]]] {
            for rack in [[domain.rack[0], 0.0], [0.0, domain.rack[1]]] {
                let cell = Cell { alpha, rack };
                queue.add(least, cell, atlas.quarter(&cell), open.to_vec());
            }
        }
        queue
    }

    /// The cell with the least bound.
    pub fn next(&mut self) -> Option<Waiting<T>> {
        self.waiting.pop()
    }

    /// Both halves of a cell across `axis`, or across the other where this one is as thin as numbers are, with what is known
    /// of the whole. False where the cell is a point: then it is left out, and the caller's to answer for.
    #[must_use]
    pub fn split(
        &mut self,
        least: f64,
        cell: &Cell,
        axis: usize,
        node: NodeId,
        open: &[T],
    ) -> bool {
        let parted = |axis: usize| Some(cell.halves(axis)).filter(|halves| !halves.contains(cell));
        let Some(halves) = parted(axis).or_else(|| parted(1 - axis)) else {
            return false;
        };
        for half in halves {
            self.add(least, half, node, open.to_vec());
        }
        true
    }

    fn add(&mut self, least: f64, cell: Cell, node: NodeId, open: Vec<T>) {
        self.number += 1;
        self.waiting.push(Waiting {
            least,
            number: self.number,
            cell,
            node,
            open,
        });
    }
}

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_is_split_while_either_side_has_a_number_between_its_ends() {
        let mut queue: BestFirst<()> = BestFirst {
            waiting: BinaryHeap::new(),
            number: 0,
        };
        let node = NodeId::FIRST;
        let thin = [0.298_437_269_685_215, 0.298_437_269_685_215_f64.next_up()];
        let cell = Cell {
            alpha: thin,
            rack: [30.0, 60.0],
        };
        assert!(queue.split(1.0, &cell, 0, node, &[]));
        let halves: Vec<Cell> = std::iter::from_fn(|| queue.next().map(|w| w.cell)).collect();
        assert_eq!(halves, cell.halves(1));
        let point = Cell {
            alpha: thin,
            rack: [30.0, 30.0],
        };
        assert!(!queue.split(1.0, &point, 1, node, &[]));
    }
}
