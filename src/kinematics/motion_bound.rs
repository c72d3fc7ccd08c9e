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

/// Bounds on the velocity of points of a moving shape, in the frame of a fixed one.
#[derive(Clone, Debug)]
pub struct RateField {
    /// Reference point, moving shape's frame.
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
            spread: turn_middle.norm() + turn_radius.norm(),
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

fn around(middle: f64, radius: f64) -> Interval {
    Interval { lo: middle - radius, hi: middle + radius }
}

impl RateField {
    /// From both shapes' enclosed placements over a rectangle with half-sizes `half` (radians,
    /// millimetres, both above zero). `reference` is a point of the moving shape, best its middle.
    pub fn between(
        fixed: &ShapePlacement<Enclosure>,
        moving: &ShapePlacement<Enclosure>,
        reference: Vector3<f64>,
        half: [f64; 2],
    ) -> Self {
        let point = moving.origin + crate::numbers::turn(&moving.rotation, &reference);
        let back = fixed.rotation.transpose();
        let rotation = back * moving.rotation;
        let place = back * (point - fixed.origin);
        let per_unit = |i: usize| {
            let unit = 1.0 / half[i];
            Rates::from_intervals(
                &rotation.map(|e: Enclosure| e.rate[i].scale(unit)),
                &place.map(|e: Enclosure| e.rate[i].scale(unit)),
            )
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

    /// Greatest displacement of `point` (moving shape's frame) from its place at the centre of a cell
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

    /// Greatest displacement along the unit vector `n` (fixed shape's frame).
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

    /// Greatest displacement of any point within `radius` of `centre`.
    #[inline]
    pub fn displacement_of_ball(&self, centre: &Vector3<f64>, radius: f64, half: [f64; 2]) -> f64 {
        let spread = self.by[0].spread * half[0] + self.by[1].spread * half[1];
        self.displacement(centre, half) + spread * radius
    }
}
