//! Both trees of a pair walked at once, for the exact gap.
//!
//! The idea in five lines. Two nodes that are further apart than the best distance so far are skipped; else the larger is
//! opened, its nearer child first. The best distance starts from the last position's closest elements, so most of both
//! trees is skipped at once. Nodes are parted by their boxes, and by their discs along the best pair's own line: where two
//! surfaces face each other many nodes are nearly as near, which boxes can't rule out. Elements are parted by that line
//! too. Proofs over cells walk the same trees: [`super::cell_proof`].
//!
//! Source: E. Larsen et al., TR99-018, UNC 1999 (walk of both trees).

use super::distance::{Closest, closest_elements, slab_width};
use crate::shapes::{Node, Surface};
use nalgebra::{Matrix3, Vector3};

/// The moving shape's frame seen from the fixed one's: `fixed = rotation * moving + offset`.
#[derive(Clone, Copy, Debug)]
pub struct Relative {
    /// Rotation.
    pub rotation: Matrix3<f64>,
    /// Offset, mm.
    pub offset: Vector3<f64>,
}

impl Relative {
    /// A moving point in the fixed frame.
    #[inline]
    pub fn point(&self, p: &Vector3<f64>) -> Vector3<f64> {
        self.rotation * p + self.offset
    }

    /// A fixed point in the moving frame.
    #[inline]
    pub fn back(&self, p: &Vector3<f64>) -> Vector3<f64> {
        self.rotation.tr_mul(&(p - self.offset))
    }
}

/// A gap with its points, in the fixed shape's frame.
#[derive(Clone, Copy, Debug)]
pub struct Gap {
    /// Between the rounded solids, facet errors taken off, never below zero, mm.
    pub gap_mm: f64,
    /// Between the elements, before rounding and facet error are taken off, mm.
    pub core_mm: f64,
    /// Nearest element point of the fixed shape.
    pub fixed_point: Vector3<f64>,
    /// Nearest element point of the moving shape.
    pub moving_point: Vector3<f64>,
    /// The two elements.
    pub elements: (u32, u32),
}

/// Allowance for rounding in positions and distances, mm: positions are good to about 1e-11 mm at a
/// metre from the origin and distances to a few times that. It holds up to 100 m from the origin; at a
/// kilometre, where no truck is, rounding comes to three times as much.
pub(super) const ROUNDING_MM: f64 = 1.0e-9;

/// A fixed and a moving surface.
#[derive(Clone, Copy, Debug)]
pub struct PairWalk<'a> {
    /// The surface whose frame distances are taken in.
    pub fixed: &'a Surface,
    /// The surface that moves in it.
    pub moving: &'a Surface,
}

/// Two nodes' boxes: a lower bound of their distance, and the unit normal of a slab that parts them
/// (fixed frame) with its width.
pub(super) struct Boxes {
    pub(super) apart: f64,
    pub(super) normal: Vector3<f64>,
    pub(super) width: f64,
}

#[inline]
pub(super) fn boxes(
    fixed: &Node,
    moving: &Node,
    relative: &Relative,
    absolute: &Matrix3<f64>,
) -> Boxes {
    let between = relative.point(&moving.bounds.middle) - fixed.bounds.middle;
    let by_balls = between.norm() - fixed.radius - moving.radius;
    let mut gap =
        (between.abs() - fixed.bounds.half - absolute * moving.bounds.half).sup(&Vector3::zeros());
    let width = gap.norm();
    // The same in the moving frame.
    let turned = relative.rotation.tr_mul(&between);
    let mut inner_gap = (turned.abs() - moving.bounds.half - absolute.tr_mul(&fixed.bounds.half))
        .sup(&Vector3::zeros());
    let inner = inner_gap.norm();
    let (normal, width) = if inner > width {
        for i in 0..3 {
            inner_gap[i] = inner_gap[i].copysign(turned[i]);
        }
        (relative.rotation * inner_gap / inner, inner)
    } else {
        for i in 0..3 {
            gap[i] = gap[i].copysign(between[i]);
        }
        (if width > 0.0 { gap / width } else { gap }, width)
    };
    Boxes {
        apart: width.max(by_balls) - ROUNDING_MM,
        normal,
        width: width - ROUNDING_MM,
    }
}

/// A direction along which two nodes may be parted.
#[derive(Clone, Copy)]
struct PartingLine {
    /// Unit, from the fixed to the moving shape, in the fixed frame; zero where they touch.
    direction: Vector3<f64>,
    /// The same in the moving frame.
    in_moving: Vector3<f64>,
    /// The moving frame's origin along it, mm.
    offset: f64,
}

impl PartingLine {
    fn through(closest: &Closest, relative: &Relative) -> PartingLine {
        // So small a length has lost its digits, or underflowed to zero.
        let direction = if closest.distance > 1.0e-100 {
            (closest.b - closest.a) / closest.distance
        } else {
            Vector3::zeros()
        };
        PartingLine {
            direction,
            in_moving: relative.rotation.tr_mul(&direction),
            offset: relative.offset.dot(&direction),
        }
    }

    /// The least distance of what two nodes hold, as far as this direction shows, mm.
    #[inline]
    fn apart(&self, fixed: &Node, moving: &Node) -> f64 {
        let [_, fixed_end] = fixed.extent_along(&self.direction);
        let [moving_end, _] = moving.extent_along(&self.in_moving);
        moving_end + self.offset - fixed_end - ROUNDING_MM
    }
}

/// The two pairs of nodes that a pair (fixed, moving) is opened into: the larger node by its children, but a leaf stays.
#[inline]
pub(super) fn opened((f, fixed): (u32, &Node), (m, moving): (u32, &Node)) -> [(u32, u32); 2] {
    if moving.count > 0 || (fixed.count == 0 && fixed.radius >= moving.radius) {
        [(fixed.first, m), (fixed.first + 1, m)]
    } else {
        [(f, moving.first), (f, moving.first + 1)]
    }
}

impl PairWalk<'_> {
    /// What rounding and facets take off the elements' distance, mm.
    pub fn reach_mm(&self) -> f64 {
        self.fixed.reach_mm() + self.moving.reach_mm()
    }

    #[inline]
    fn moved(&self, element: usize, relative: &Relative) -> [Vector3<f64>; 3] {
        self.moving.corners(element).map(|p| relative.point(&p))
    }

    /// The exact gap, less `swell_mm` (the tripod orbit's widening of a shaft). `warm` names two
    /// elements to start from. Gaps above `cutoff_mm` may be answered by any pair above it.
    pub fn gap(
        &self,
        relative: &Relative,
        swell_mm: f64,
        cutoff_mm: f64,
        warm: Option<(u32, u32)>,
    ) -> Gap {
        self.search(
            relative,
            swell_mm,
            [f64::NEG_INFINITY, cutoff_mm],
            0.0,
            warm,
        )
    }

    /// A gap between two points of the surfaces of which the least one takes off no more than `share`. Far apart, where
    /// hundreds of elements are nearly as near, it costs a fraction of the exact one.
    pub fn gap_within(
        &self,
        share: f64,
        relative: &Relative,
        swell_mm: f64,
        cutoff_mm: f64,
        warm: Option<(u32, u32)>,
    ) -> Gap {
        let limits = [f64::NEG_INFINITY, cutoff_mm];
        self.search(relative, swell_mm, limits, share, warm)
    }

    /// Whether the gap, less `swell_mm`, is no more than `level_mm`. The search ends at the first two elements that say so.
    pub fn is_within(
        &self,
        relative: &Relative,
        swell_mm: f64,
        level_mm: f64,
        warm: Option<(u32, u32)>,
    ) -> bool {
        self.search(relative, swell_mm, [level_mm; 2], 0.0, warm)
            .gap_mm
            <= level_mm
    }

    /// The gap; of gaps up to the first limit or above the second any may be answered that is there too, and one of which
    /// the least gap takes off no more than `share`.
    fn search(
        &self,
        relative: &Relative,
        swell_mm: f64,
        [enough_mm, cutoff_mm]: [f64; 2],
        share: f64,
        warm: Option<(u32, u32)>,
    ) -> Gap {
        let (fk, mk) = (self.fixed.kind, self.moving.kind);
        let start = warm.unwrap_or((0, 0));
        let first = self.closest_of(relative, start);
        let mut best = (first, start);
        let mut line = PartingLine::through(&first, relative);
        let off = self.reach_mm() + swell_mm;
        let cutoff = cutoff_mm + off;
        let enough = enough_mm + off;
        // Only what is nearer by more than the share of the gap is worth looking for.
        let worth_mm = |distance: f64| distance - share * (distance - off).max(0.0);
        let absolute = relative.rotation.abs();
        let nodes = (&self.fixed.tree.nodes, &self.moving.tree.nodes);
        let apart = |f: u32, m: u32| {
            boxes(
                &nodes.0[f as usize],
                &nodes.1[m as usize],
                relative,
                &absolute,
            )
            .apart
        };
        let mut stack: Vec<(f64, u32, u32)> = Vec::with_capacity(64);
        stack.push((apart(0, 0), 0, 0));
        while let Some((bound, f, m)) = stack.pop() {
            if best.0.distance <= enough {
                break;
            }
            if bound >= worth_mm(best.0.distance.min(cutoff)) {
                continue;
            }
            let (fixed, moving) = (&nodes.0[f as usize], &nodes.1[m as usize]);
            if fixed.count > 0 && moving.count > 0 {
                for j in moving.first..moving.first + moving.count {
                    let b = self.moved(j as usize, relative);
                    for i in fixed.first..fixed.first + fixed.count {
                        let a = self.fixed.corners(i as usize);
                        // Parted by more than the best along its own line: can't be closer. Ties are all
                        // looked at, whichever way rounding makes them fall.
                        let parted = slab_width(&a, &b, &line.direction) - ROUNDING_MM;
                        if parted > worth_mm(best.0.distance) {
                            continue;
                        }
                        let pair = closest_elements(fk, &a, mk, &b);
                        // Ties go to the lower element numbers, so the answer doesn't depend on
                        // where the walk started.
                        let closer = pair.distance < best.0.distance
                            || (pair.distance == best.0.distance && (i, j) < best.1);
                        if closer {
                            best = (pair, (i, j));
                            line = PartingLine::through(&pair, relative);
                        }
                    }
                }
                continue;
            }
            let [x, y] = opened((f, fixed), (m, moving)).map(|(f, m)| {
                let by_line = line.apart(&nodes.0[f as usize], &nodes.1[m as usize]);
                (apart(f, m).max(by_line), f, m)
            });
            // Nearer child on top.
            if x.0 < y.0 {
                stack.extend([y, x])
            } else {
                stack.extend([x, y])
            }
        }
        gap_of(best.0, off, best.1)
    }

    /// The gap between two elements alone.
    pub fn gap_of_elements(&self, relative: &Relative, swell_mm: f64, elements: (u32, u32)) -> Gap {
        let closest = self.closest_of(relative, elements);
        gap_of(closest, self.reach_mm() + swell_mm, elements)
    }

    fn closest_of(&self, relative: &Relative, (fixed, moving): (u32, u32)) -> Closest {
        closest_elements(
            self.fixed.kind,
            &self.fixed.corners(fixed as usize),
            self.moving.kind,
            &self.moved(moving as usize, relative),
        )
    }
}

/// What is left of two elements' distance without `off_mm`.
fn gap_of(pair: Closest, off_mm: f64, elements: (u32, u32)) -> Gap {
    Gap {
        gap_mm: (pair.distance - off_mm).max(0.0),
        core_mm: pair.distance,
        fixed_point: pair.a,
        moving_point: pair.b,
        elements,
    }
}
