//! How far any point of one body can move as seen from another, proved over a whole cell.
//!
//! The idea in five lines. Seen from the other body, a material point x stands at a place that depends
//! smoothly on arm angle and rack. By Taylor's theorem its displacement from the place at a cell's
//! centre is at most its exact rate at the centre times the half-size, plus half its greatest second
//! derivative over the cell times the half-size squared. The rate at the centre comes from dual
//! numbers; the second derivative is enclosed over a patch that holds the cell, so the same bound on
//! bending serves every cell inside. In a direction n only the rate along n counts.
//!
//! Why it is a proof: let y(q) be the place of x in the fixed frame. For q in the cell and d = q - centre,
//! y(q) - y(centre) = y'(centre) d + (1/2) d . y''(s) d for some s between, in every component. Rotation
//! and offset are affine in x, so |y''| is at most |offset''| + |rotation''| |x - reference|, each
//! enclosed. Gap certificate: if the plane with normal n parts two convex sets by g at the centre, it
//! still parts them over the cell unless some vertex moves by g along n; n . x is affine in x, so
//! vertices suffice. Sources: B. Mirtich, "Impulse-based dynamic simulation of rigid body systems", PhD
//! thesis, Berkeley 1996 (conservative advancement along a normal); F. Schwarzer, M. Saha,
//! J.-C. Latombe, IEEE Trans. Robotics 21(3), 2005 (motion bound against distance, by bisection).
//! The second-order bound with enclosed bending is ours.

use crate::numbers::{Dual, Enclosure, Interval, Real};
use crate::suspension::Placement;
use nalgebra::{Matrix3, Vector3};

/// Where a shape's own frame is, over some number: `vehicle = origin + rotation * shape`.
#[derive(Clone, Debug)]
pub struct ShapePlacement<S: Real> {
    /// Vehicle from shape.
    pub rotation: Matrix3<S>,
    /// The shape frame's origin in vehicle coordinates.
    pub origin: Vector3<S>,
}

impl<S: Real> ShapePlacement<S> {
    /// A shape whose frame sits at `origin_in_body` with `rotation_in_body` on a placed body.
    pub fn on_body(
        body: &Placement<S>,
        rotation_in_body: &Matrix3<f64>,
        origin_in_body: &Vector3<f64>,
    ) -> Self {
        let column = |j: usize| body.direction(&rotation_in_body.column(j).into());
        ShapePlacement {
            rotation: Matrix3::from_columns(&[column(0), column(1), column(2)]),
            origin: body.point(origin_in_body),
        }
    }
}

/// Bound on how much the motion of one body seen from another bends, over a patch.
#[derive(Clone, Debug)]
pub struct RateField {
    /// Reference point, moving body's frame.
    reference: Vector3<f64>,
    /// Greatest second derivatives: by arm angle twice, by both, by rack twice.
    bend: [Bend; 3],
}

#[derive(Clone, Debug)]
struct Bend {
    turn: Matrix3<f64>,
    slide: Vector3<f64>,
}

/// Second derivatives of where one body stands in another over a patch, per half-size: of the rotation, and of points of the
/// moving body. Shared by every pair of parts on the same two bodies.
#[derive(Clone, Debug)]
pub struct RelativeBend {
    turn: [Matrix3<Interval>; 3],
    /// Points of the moving body, its own frame, each with its second derivatives. What is bounded from any of them holds.
    pivots: Vec<(Vector3<f64>, [Vector3<Interval>; 3])>,
}

/// The two variables of each second derivative.
const PAIRS: [(usize, usize); 3] = [(0, 0), (0, 1), (1, 1)];

impl RelativeBend {
    /// From both bodies' enclosed placements; `fixed_rests` where the fixed one never moves.
    pub fn between(
        fixed: &Placement<Enclosure>,
        moving: &Placement<Enclosure>,
        fixed_rests: bool,
    ) -> RelativeBend {
        let turn = [0, 1, 2].map(|k| {
            if fixed_rests {
                return moving.rotation.map(|e: Enclosure| e.bend[k]);
            }
            Matrix3::from_fn(|r, c| {
                let column = [0, 1, 2].map(|i| moving.rotation[(i, c)]);
                product_bend(&fixed.rotation, r, &column, k)
            })
        });
        let slide = |pivot: Vector3<f64>| {
            let between = moving.point(&pivot) - fixed.anchor;
            let slide = [0, 1, 2].map(|k| {
                if fixed_rests {
                    return between.map(|e: Enclosure| e.bend[k]);
                }
                Vector3::from_fn(|r, _| {
                    product_bend(&fixed.rotation, r, &[between.x, between.y, between.z], k)
                })
            });
            (pivot, slide)
        };
        let mut pivots = vec![slide(moving.anchor_in_body)];
        if !fixed_rests {
            // The point that stands at the fixed body's anchor: bounds from far off lose what cancels between both.
            let middle = |e: Enclosure| e.centre.middle();
            let away = fixed.anchor.map(middle) - moving.anchor.map(middle);
            let back = moving.rotation.map(middle).tr_mul(&away);
            pivots.push(slide(moving.anchor_in_body + back));
        }
        RelativeBend { turn, pivots }
    }
}

/// Second derivative number `k` of (column `r` of `rotation`) . `v`, by the product rule.
#[inline]
fn product_bend(rotation: &Matrix3<Enclosure>, r: usize, v: &[Enclosure; 3], k: usize) -> Interval {
    let (i, j) = PAIRS[k];
    let term = |n: usize| {
        let f = &rotation[(n, r)];
        let v = &v[n];
        let cross = if i == j {
            (f.rate[i] * v.rate[i]).twice()
        } else {
            f.rate[i] * v.rate[j] + f.rate[j] * v.rate[i]
        };
        f.bend[k] * v.range + f.range * v.bend[k] + cross
    };
    term(0) + term(1) + term(2)
}

impl RateField {
    /// About a point of the moving body, best amid the part that is watched, over a patch with half-sizes `half` (radians,
    /// millimetres, both above zero).
    ///
    /// The point stands at a pivot's place and, turned, its arm from there. The arm is at rest in the body, so second
    /// derivatives add up in the same way.
    pub fn about(reference: Vector3<f64>, bend: &RelativeBend, half: [f64; 2]) -> Self {
        let bend = [0, 1, 2].map(|k| {
            let (i, j) = PAIRS[k];
            let unit = 1.0 / (half[i] * half[j]);
            let turn = &bend.turn[k];
            let from = |(pivot, slide): &(Vector3<f64>, [Vector3<Interval>; 3])| {
                let arm = reference - pivot;
                Vector3::from_fn(|r, _| {
                    let turned = |c: usize| turn[(r, c)].scale(arm[c]);
                    let bend: Interval = slide[k][r] + turned(0) + turned(1) + turned(2);
                    bend.scale(unit).magnitude()
                })
            };
            let all = bend.pivots.iter().map(from);
            Bend {
                turn: turn.map(|e| e.scale(unit).magnitude()),
                slide: all.fold(Vector3::repeat(f64::INFINITY), |least, slide| {
                    least.inf(&slide)
                }),
            }
        });
        RateField { reference, bend }
    }

    /// Holds over both patches.
    pub fn hull(&self, o: &RateField) -> RateField {
        let bend = [0, 1, 2].map(|k| Bend {
            turn: self.bend[k].turn.sup(&o.bend[k].turn),
            slide: self.bend[k].slide.sup(&o.bend[k].slide),
        });
        RateField {
            reference: self.reference,
            bend,
        }
    }

    /// How much of a point's displacement over a cell may come from bending by each variable alone, mm. Where a part turns
    /// back at the cell's centre its rate there is zero, and this all that it moves by.
    pub fn shares(&self, point: &Vector3<f64>, half: [f64; 2]) -> [f64; 2] {
        let arm = (point - self.reference).abs();
        let [by_arm, _, by_rack] = &self.bend;
        let share =
            |bend: &Bend, half: f64| 0.5 * half * half * (bend.slide + bend.turn * arm).norm();
        [share(by_arm, half[0]), share(by_rack, half[1])]
    }

    /// False where the linkage couldn't be enclosed.
    pub fn is_bounded(&self) -> bool {
        self.bend
            .iter()
            .all(|b| b.turn.sum().is_finite() && b.slide.sum().is_finite())
    }
}

/// Bounds on the displacement of a moving body's points over one cell, as seen from a fixed body.
#[derive(Clone, Debug)]
pub struct CellField {
    reference: Vector3<f64>,
    /// The cell's half-sizes: radians, millimetres.
    pub half: [f64; 2],
    /// Rates at the centre times half-size, by arm angle and by rack.
    turn: [Matrix3<f64>; 2],
    slide: [Vector3<f64>; 2],
    /// What bending adds.
    turn_bend: Matrix3<f64>,
    slide_bend: Vector3<f64>,
    /// Greatest growth of displacement with distance.
    spread: f64,
}

/// Half-sizes of an enclosure never go below this: radians, mm. Bending is divided by products of half-sizes, which mustn't
/// be zero for a cell that is a line; and an enclosure a little larger than the cell is still a proof for it. A metre
/// out both are one motion, a thousandth of the least tolerance that anything is found to.
pub const LEAST_HALF: [f64; 2] = [1.0e-9, 1.0e-6];

/// Half of `h . B h` for second derivatives with bounds `bend`.
#[inline]
pub fn bending(bend: &[f64; 3], half: [f64; 2]) -> f64 {
    0.5 * (bend[0] * half[0] * half[0] + bend[2] * half[1] * half[1]) + bend[1] * half[0] * half[1]
}

impl CellField {
    /// For a cell inside the field's patch: both bodies placed at the centre, with derivatives.
    pub fn new(
        field: &RateField,
        fixed: &Placement<Dual>,
        moving: &Placement<Dual>,
        half: [f64; 2],
    ) -> CellField {
        let between = moving.point(&field.reference) - fixed.anchor;
        let value = |m: &Matrix3<Dual>| m.map(|d: Dual| d.value);
        let (f, m) = (value(&fixed.rotation), value(&moving.rotation));
        let b = between.map(|d: Dual| d.value);
        let mut turn = [Matrix3::zeros(); 2];
        let mut slide = [Vector3::zeros(); 2];
        let mut spread = 0.0;
        for i in 0..2 {
            let df = fixed.rotation.map(|d: Dual| d.rate[i]);
            let dm = moving.rotation.map(|d: Dual| d.rate[i]);
            let db = between.map(|d: Dual| d.rate[i]);
            turn[i] = (df.tr_mul(&m) + f.tr_mul(&dm)) * half[i];
            slide[i] = (df.tr_mul(&b) + f.tr_mul(&db)) * half[i];
            // The rate matrix is a cross product with the spin, times a rotation: its greatest
            // stretch is the spin, its Frobenius norm root two times that.
            spread += turn[i].norm() * (std::f64::consts::FRAC_1_SQRT_2 * (1.0 + 1.0e-12));
        }
        let [aa, ar, rr] = &field.bend;
        let weights = [
            0.5 * half[0] * half[0],
            half[0] * half[1],
            0.5 * half[1] * half[1],
        ];
        let turn_bend = aa.turn * weights[0] + ar.turn * weights[1] + rr.turn * weights[2];
        CellField {
            reference: field.reference,
            half,
            spread: spread + turn_bend.norm(),
            slide_bend: aa.slide * weights[0] + ar.slide * weights[1] + rr.slide * weights[2],
            turn,
            slide,
            turn_bend,
        }
    }

    /// For a cell over which no rates are known: no point of the moving body is further from its place at a stated
    /// placement than these bounds on where `reference` is and on each entry of the rotation say.
    pub fn within(
        reference: Vector3<f64>,
        half: [f64; 2],
        slide: Vector3<f64>,
        turn: Matrix3<f64>,
    ) -> CellField {
        CellField {
            reference,
            half,
            turn: [Matrix3::zeros(); 2],
            slide: [Vector3::zeros(); 2],
            spread: turn.norm(),
            turn_bend: turn,
            slide_bend: slide,
        }
    }

    /// Greatest displacement of `point` (moving body's frame) from its place at the cell's centre, mm.
    #[inline]
    pub fn displacement(&self, point: &Vector3<f64>) -> f64 {
        let arm = point - self.reference;
        let by_bend = self.slide_bend + self.turn_bend * arm.abs();
        let by = |i: usize| (self.slide[i] + self.turn[i] * arm).abs();
        (by(0) + by(1) + by_bend).norm()
    }

    /// Greatest displacement along the unit vector `n` (fixed body's frame).
    #[inline]
    pub fn displacement_along(&self, point: &Vector3<f64>, n: &Vector3<f64>) -> f64 {
        let arm = point - self.reference;
        let by_bend = self.slide_bend + self.turn_bend * arm.abs();
        let by = |i: usize| n.dot(&(self.slide[i] + self.turn[i] * arm)).abs();
        by(0) + by(1) + n.abs().dot(&by_bend)
    }

    /// How a point's place along the unit vector `n` (fixed body's frame) changes from the cell's centre to its upper
    /// end, by arm angle and by rack, and how much bending may add or take off: mm, signed.
    pub fn growth_along(&self, point: &Vector3<f64>, n: &Vector3<f64>) -> ([f64; 2], f64) {
        let arm = point - self.reference;
        let by_bend = self.slide_bend + self.turn_bend * arm.abs();
        let growth = [0, 1].map(|i| n.dot(&(self.slide[i] + self.turn[i] * arm)));
        (growth, n.abs().dot(&by_bend))
    }

    /// Greatest displacement of any point within `radius` of `centre`.
    #[inline]
    pub fn displacement_of_ball(&self, centre: &Vector3<f64>, radius: f64) -> f64 {
        self.displacement(centre) + self.spread * radius
    }

    /// Displacements along the unit vector `n` (fixed body's frame), ready to be asked of many points: those of a shape whose
    /// frame stands at `origin` with `rotation` in the moving body.
    #[inline]
    pub fn along(
        &self,
        n: &Vector3<f64>,
        rotation: &Matrix3<f64>,
        origin: &Vector3<f64>,
    ) -> AlongNormal {
        let arm = origin - self.reference;
        let turned = [0, 1].map(|i| self.turn[i].tr_mul(n));
        let bend_by_arm = self.turn_bend.tr_mul(&n.abs());
        AlongNormal {
            rotation: *rotation,
            arm,
            rate: [0, 1].map(|i| n.dot(&self.slide[i]) + turned[i].dot(&arm)),
            rate_by_point: turned.map(|t| rotation.tr_mul(&t)),
            bend: n.abs().dot(&self.slide_bend),
            bend_by_arm,
            bend_by_half: rotation.abs().tr_mul(&bend_by_arm),
        }
    }

    /// Greatest displacement of a point at rest in the fixed body as seen from the moving one, along a direction that
    /// turns with it and is the unit vector `n` (fixed body's frame) at the cell's centre. `point` is where it stands in
    /// the moving body there.
    ///
    /// A fixed point strays in the moving body as far as the material point at its place strays from it (|d|): both are
    /// one way, seen from either side. With R and R' the rotations at the centre and elsewhere its way along the turned
    /// n is |R' R^-1 n . d| <= |n . d| + |R' - R| |d|.
    ///
    /// `displacement_mm` is |d|, which callers have at hand: [`Self::displacement`] of the same point.
    #[inline]
    pub fn displacement_of_resting_along(
        &self,
        point: &Vector3<f64>,
        displacement_mm: f64,
        n: &Vector3<f64>,
    ) -> f64 {
        self.displacement_along(point, n) + self.spread * displacement_mm
    }

    /// How much of a point's displacement comes from its rate by each variable, mm: which side to split. What bending adds
    /// is [`RateField::shares`].
    pub fn shares(&self, point: &Vector3<f64>) -> [f64; 2] {
        let arm = point - self.reference;
        [0, 1].map(|i| (self.slide[i] + self.turn[i] * arm).norm())
    }
}

/// A [`CellField`]'s displacements along one direction: linear in the point but for what bending adds.
#[derive(Clone, Debug)]
pub struct AlongNormal {
    /// Moving body from shape.
    rotation: Matrix3<f64>,
    /// From the field's reference to the shape's origin, moving body's frame.
    arm: Vector3<f64>,
    /// Rates of the shape's origin times half-size, by arm angle and by rack.
    rate: [f64; 2],
    /// What a point's place in the shape's frame adds to them.
    rate_by_point: [Vector3<f64>; 2],
    /// What bending adds everywhere, for each mm from the reference, and for each mm of a box's half-size.
    bend: f64,
    bend_by_arm: Vector3<f64>,
    bend_by_half: Vector3<f64>,
}

impl AlongNormal {
    /// How the place of a point (shape's frame) changes from the cell's centre to its upper end, but for bending.
    #[inline]
    fn rates(&self, point: &Vector3<f64>) -> [f64; 2] {
        [0, 1].map(|i| self.rate[i] + self.rate_by_point[i].dot(point))
    }

    /// What bending adds at most.
    #[inline]
    fn bending(&self, point: &Vector3<f64>) -> f64 {
        let arm = self.arm + self.rotation * point;
        self.bend + self.bend_by_arm.dot(&arm.abs())
    }

    /// Greatest displacement of a point (shape's frame), mm.
    #[inline]
    pub fn displacement(&self, point: &Vector3<f64>) -> f64 {
        let [by_arm, by_rack] = self.rates(point);
        by_arm.abs() + by_rack.abs() + self.bending(point)
    }

    /// How far toward -n any point of a box comes over the cell, counted from where the box's middle stands at the cell's
    /// centre. The box lies along the shape's axes; `along` is how far each half edge reaches along n at the centre.
    ///
    /// Places along n are linear in the point, so a corner is the furthest. At the corner with the signs s it is
    /// sum of |c_i + s . t_i| over the variables i, less s . along, and what bending adds, where c_i is the middle's rate
    /// times half-size along n and t_i the half edges'. Each |x| is the greater of x and -x: for each choice of these signs
    /// the best s is known.
    #[inline]
    pub fn advance_of_box_against(
        &self,
        middle: &Vector3<f64>,
        half: &Vector3<f64>,
        along: &Vector3<f64>,
    ) -> f64 {
        let of_middle = self.rates(middle);
        let of_edges = self.rate_by_point.map(|rate| rate.component_mul(half));
        let by = |signs: [f64; 2]| {
            let edges = of_edges[0] * signs[0] + of_edges[1] * signs[1] - along;
            of_middle[0] * signs[0] + of_middle[1] * signs[1] + edges.abs().sum()
        };
        let most = by([1.0, 1.0]).max(by([1.0, -1.0]));
        let most = most.max(by([-1.0, 1.0])).max(by([-1.0, -1.0]));
        most + self.bending(middle) + self.bend_by_half.dot(half)
    }
}
