//! How far any point of one shape can move as seen from another, proved over a whole rectangle.
//!
//! The idea in five lines. Both shapes' placements come as enclosures over a rectangle of arm angle
//! and rack, so the derivative of "moving shape seen from the fixed shape" is enclosed over all of
//! it. Seen from the other shape, a material point x moves at the rate v + W (x - x0), with v the rate
//! of a reference point and W of the rotation, each within a centre and a radius. By the mean value
//! theorem no point strays further from its place at a cell's centre than rate times half-size, along
//! each variable; in a direction n only the rate along n counts. Any cell inside the rectangle may use
//! the rectangle's rates.
//!
//! Gap certificate: if the plane with normal n parts two convex sets by d at the centre, it still
//! parts them over the cell unless some vertex moves by d along n: n is fixed in one shape's frame,
//! and n . x is affine in x, so vertices suffice. Sources: B. Mirtich, "Impulse-based dynamic
//! simulation of rigid body systems", PhD thesis, Berkeley 1996 (conservative advancement along a
//! normal); F. Schwarzer, M. Saha, J.-C. Latombe, IEEE Trans. Robotics 21(3), 2005 (motion bound
//! against distance, by bisection). Rates enclosed over the cell instead of at its centre: ours.

use crate::numbers::{Enclosure, Interval, Real};
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

/// Bounds on the velocity of points of a moving body, in the frame of a fixed one. Both frames are
/// body frames: vehicle coordinates at the measured position.
#[derive(Clone, Debug)]
pub struct RateField {
    /// Reference point, moving body's frame.
    reference: Vector3<f64>,
    /// By arm angle (per radian) and by rack (per millimetre).
    by: [Rates; 2],
}

#[derive(Clone, Debug)]
struct Rates {
    turn: Matrix3<f64>,
    turn_radius: Matrix3<f64>,
    slide: Vector3<f64>,
    slide_radius: Vector3<f64>,
    /// Greatest growth of speed with distance from the reference point.
    spread: f64,
}

impl Rates {
    fn from_intervals(turn: &Matrix3<Interval>, slide: &Vector3<Interval>) -> Self {
        let middle = |i: &Interval| if i.is_bounded() { i.middle() } else { 0.0 };
        // Distance of the far end from the rounded middle, so that rounding can't lose an end.
        let radius = |i: &Interval| {
            let m = middle(i);
            (i.hi - m).max(m - i.lo) * (1.0 + 1.0e-15)
        };
        let turn_middle = turn.map(|i| middle(&i));
        let turn_radius = turn.map(|i| radius(&i));
        Rates {
            // At every position the rate matrix is a cross product with the relative spin, times a
            // rotation: its greatest stretch is the spin, its Frobenius norm root two times that.
            spread: (turn_middle.norm() + turn_radius.norm())
                * (std::f64::consts::FRAC_1_SQRT_2 * (1.0 + 1.0e-15)),
            turn: turn_middle,
            turn_radius,
            slide: slide.map(|i| middle(&i)),
            slide_radius: slide.map(|i| radius(&i)),
        }
    }

    fn hull(&self, o: &Rates) -> Rates {
        let turn = Matrix3::from_fn(|i, j| {
            let k = (i, j);
            around(self.turn[k], self.turn_radius[k]).hull(around(o.turn[k], o.turn_radius[k]))
        });
        let slide = Vector3::from_fn(|k, _| {
            around(self.slide[k], self.slide_radius[k]).hull(around(o.slide[k], o.slide_radius[k]))
        });
        Rates::from_intervals(&turn, &slide)
    }
}

/// Rates of the fixed-from-moving rotation, by arm angle and by rack, per half-size. Shared by every
/// pair of parts on the same two bodies.
#[derive(Clone, Debug)]
pub struct SpinRates {
    by: [Matrix3<Interval>; 2],
    /// Whether the fixed body is at rest in vehicle coordinates.
    fixed_rests: bool,
}

impl SpinRates {
    /// From both bodies' enclosed placements; `fixed_rests` where the fixed one never moves.
    pub fn between(
        fixed: &Placement<Enclosure>,
        moving: &Placement<Enclosure>,
        fixed_rests: bool,
    ) -> SpinRates {
        let by = [0, 1].map(|i| {
            if fixed_rests {
                return moving.rotation.map(|e: Enclosure| e.rate[i]);
            }
            Matrix3::from_fn(|r, c| {
                let column = [0, 1, 2].map(|k| moving.rotation[(k, c)]);
                product_rate(&fixed.rotation, r, &column, i)
            })
        });
        SpinRates { by, fixed_rests }
    }
}

/// Rate `i` of (column `r` of `rotation`) . `v`, by the product rule on tight ranges.
#[inline]
fn product_rate(rotation: &Matrix3<Enclosure>, r: usize, v: &[Enclosure; 3], i: usize) -> Interval {
    let term = |k: usize| {
        let f = &rotation[(k, r)];
        f.rate[i] * v[k].range + f.range * v[k].rate[i]
    };
    term(0) + term(1) + term(2)
}

fn around(middle: f64, radius: f64) -> Interval {
    Interval { lo: middle - radius, hi: middle + radius }
}

impl RateField {
    /// From both bodies' enclosed placements over a rectangle with half-sizes `half` (radians,
    /// millimetres, both above zero). `spin` holds the rates of the fixed-from-moving rotation, see
    /// [`SpinRates`]; `reference` is a point of the moving body, best amid the part that is watched.
    pub fn between(
        fixed: &Placement<Enclosure>,
        moving: &Placement<Enclosure>,
        spin: &SpinRates,
        reference: Vector3<f64>,
        half: [f64; 2],
    ) -> Self {
        let between = moving.point(&reference) - fixed.anchor;
        let per_unit = |i: usize| {
            let unit = 1.0 / half[i];
            let slide = match spin.fixed_rests {
                true => between.map(|e: Enclosure| e.rate[i].scale(unit)),
                false => Vector3::from_fn(|r, _| {
                    product_rate(&fixed.rotation, r, &[between.x, between.y, between.z], i)
                        .scale(unit)
                }),
            };
            Rates::from_intervals(&spin.by[i].map(|e: Interval| e.scale(unit)), &slide)
        };
        RateField { reference, by: [per_unit(0), per_unit(1)] }
    }

    /// Holds over both rectangles.
    pub fn hull(&self, o: &RateField) -> RateField {
        RateField {
            reference: self.reference,
            by: [self.by[0].hull(&o.by[0]), self.by[1].hull(&o.by[1])],
        }
    }

    /// False where the linkage couldn't be enclosed.
    pub fn is_bounded(&self) -> bool {
        self.by.iter().all(|r| r.spread.is_finite() && r.slide_radius.sum().is_finite())
    }

    /// Greatest displacement of `point` (moving body's frame) from its place at the centre of a cell
    /// with half-sizes `half`, mm.
    #[inline]
    pub fn displacement(&self, point: &Vector3<f64>, half: [f64; 2]) -> f64 {
        let arm = point - self.reference;
        let reach = arm.abs();
        let mut sum = Vector3::zeros();
        for (rates, h) in self.by.iter().zip(half) {
            if h > 0.0 {
                let middle = rates.slide + rates.turn * arm;
                let radius = rates.slide_radius + rates.turn_radius * reach;
                sum += (middle.abs() + radius) * h;
            }
        }
        sum.norm()
    }

    /// Greatest displacement along the unit vector `n` (fixed body's frame).
    #[inline]
    pub fn displacement_along(
        &self,
        point: &Vector3<f64>,
        n: &Vector3<f64>,
        half: [f64; 2],
    ) -> f64 {
        let arm = point - self.reference;
        let reach = arm.abs();
        let size = n.abs();
        let mut sum = 0.0;
        for (rates, h) in self.by.iter().zip(half) {
            if h > 0.0 {
                let middle = rates.slide + rates.turn * arm;
                let radius = rates.slide_radius + rates.turn_radius * reach;
                sum += (n.dot(&middle).abs() + size.dot(&radius)) * h;
            }
        }
        sum
    }

    /// Greatest displacement along unit `n` of any point within `radius` of `centre`.
    #[inline]
    pub fn displacement_of_ball_along(
        &self,
        centre: &Vector3<f64>,
        radius: f64,
        n: &Vector3<f64>,
        half: [f64; 2],
    ) -> f64 {
        let spread = self.by[0].spread * half[0] + self.by[1].spread * half[1];
        self.displacement_along(centre, n, half) + spread * radius
    }

    /// Greatest displacement of any point within `radius` of `centre`.
    #[inline]
    pub fn displacement_of_ball(&self, centre: &Vector3<f64>, radius: f64, half: [f64; 2]) -> f64 {
        let spread = self.by[0].spread * half[0] + self.by[1].spread * half[1];
        self.displacement(centre, half) + spread * radius
    }
}
