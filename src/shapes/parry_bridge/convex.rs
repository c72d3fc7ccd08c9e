//! How far two convex shapes are apart by parry's search, with a bound that doesn't rest on it.
//!
//! parry's search (GJK) has been seen to report too much: 2.3e-5 mm on round shapes, and 196 mm instead of
//! 0.012 on aligned skew cylinders; where it doesn't converge it says that shapes meet, or nothing. So
//! nothing is taken from it on trust. The points that it returns lie in the two shapes, so their distance is
//! an upper bound. Square to any direction, the slab between the two shapes' supports is a lower bound, so
//! one along the found points certifies them. Where the two bounds don't meet, the search starts again from
//! another direction, and the best of both bounds is kept.

use parry3d::math::{Pose, Vector};
use parry3d::query::details::closest_points_support_map_support_map_with_params;
use parry3d::query::gjk::{GJKResult, VoronoiSimplex};
use parry3d::shape::SupportMap;

/// Bounds this close to each other are one number, mm. Well above what parry's search leaves on round shapes
/// (2.3e-5 mm), a hundredth of the least distance that the comparison is after.
pub(super) const CLOSED_MM: f64 = 1.0e-4;
/// The same as a share of the distance: parry's search stops at a relative 5e-8.
pub(super) const CLOSED_SHARE: f64 = 1.0e-7;

/// Searches that must agree that two shapes meet, with no direction found that parts them.
const MEETINGS: u32 = 3;

/// Directions to start from when the given one leads nowhere: in no symmetry with shapes drawn along axes,
/// which is where the search goes wrong.
const STARTS: [[f64; 3]; 8] = [
    [0.83, 0.41, 0.37],
    [-0.29, 0.88, -0.38],
    [0.31, -0.43, 0.85],
    [-0.77, -0.22, 0.6],
    [0.52, -0.81, -0.27],
    [-0.47, 0.33, 0.82],
    [0.13, 0.57, -0.81],
    [-0.61, -0.53, -0.59],
];

/// What is known of a distance.
#[derive(Clone, Copy, Debug)]
pub(super) struct Span {
    /// No less than this, mm.
    pub lower: f64,
    /// No more than this, mm; without limit where nothing was found.
    pub upper: f64,
    /// Unit direction from the first to the second that gave the lower bound; zero where none did.
    pub along: Vector,
    /// Searches made.
    pub searches: u64,
}

impl Span {
    /// Whether the two bounds are one number.
    pub fn is_closed(&self) -> bool {
        self.upper.is_finite() && self.upper - self.lower <= CLOSED_MM + CLOSED_SHARE * self.upper
    }
}

/// Width of the slab square to unit `n` between the first shape (behind) and the second: a lower bound of
/// their distance whatever `n` is; below zero where they overlap along it.
pub(super) fn slab<A, B>(pos12: &Pose, a: &A, b: &B, n: Vector) -> f64
where
    A: ?Sized + SupportMap,
    B: ?Sized + SupportMap,
{
    b.support_point(pos12, -n).dot(n) - a.local_support_point(n).dot(n)
}

/// How far a point that parry puts on a shape may lie outside it by rounding, mm.
const ON_SHAPE_MM: f64 = 1.0e-6;

/// Whether a shape at `pose` may hold a point: it reaches as far in some directions that tell most.
fn may_hold<S: ?Sized + SupportMap>(shape: &S, pose: &Pose, point: Vector) -> bool {
    let axes = [Vector::X, Vector::Y, Vector::Z];
    let others = STARTS.map(Vector::from_array);
    axes.iter().chain(&others).all(|n| {
        [*n, -*n].iter().all(|n| {
            let beyond = point.dot(*n) - shape.support_point(pose, *n).dot(*n);
            beyond <= ON_SHAPE_MM
        })
    })
}

/// Distance of two convex shapes, the second seen from the first at `pos12`, looked for up to
/// `greatest`: shapes further apart may end with any lower bound from there on. `start` is where the
/// search begins; any direction will do.
pub(super) fn distance<A, B>(pos12: &Pose, a: &A, b: &B, greatest: f64, start: Vector) -> Span
where
    A: ?Sized + SupportMap,
    B: ?Sized + SupportMap,
{
    let mut span = Span {
        lower: 0.0,
        upper: f64::INFINITY,
        along: Vector::ZERO,
        searches: 0,
    };
    let mut best = f64::NEG_INFINITY;
    let mut meetings = 0;
    for round in 0..=STARTS.len() {
        let from = match round {
            0 => start,
            // Along the best bound so far: close to the answer, but not where the search was led astray.
            1 if span.along != Vector::ZERO => -span.along,
            _ => Vector::from_array(STARTS[round - 1]),
        };
        let mut simplex = VoronoiSimplex::new();
        span.searches += 1;
        let found = closest_points_support_map_support_map_with_params(
            pos12,
            a,
            b,
            greatest,
            &mut simplex,
            Some(from),
        );
        let mut certify = |n: Vector| {
            let width = slab(pos12, a, b, n);
            if width > best {
                best = width;
                if width > 0.0 {
                    (span.lower, span.along) = (width, n);
                }
            }
        };
        match found {
            GJKResult::ClosestPoints(p1, p2, _) => {
                let between = p2 - p1;
                let length = between.length();
                if let Some(n) = between.try_normalize() {
                    certify(n);
                }
                // The slab vouches for the points where it is as wide as they are apart. Else they may be no
                // points of the shapes at all: a search that fails on a sliver returns its frame's origin.
                let vouched = span.lower > 0.0 && (length - span.lower).abs() <= CLOSED_MM;
                // Spelled so that NaN is no bound.
                if length < span.upper
                    && (vouched || (may_hold(a, &Pose::IDENTITY, p1) && may_hold(b, pos12, p2)))
                {
                    span.upper = length;
                }
            }
            // Beyond the greatest distance along this direction; or not converged, and the direction is
            // any. Either way the slab tells.
            GJKResult::NoIntersection(n) | GJKResult::Proximity(n) => {
                certify(n);
                certify(-n);
            }
            GJKResult::Intersection => {
                meetings += 1;
                // One slab that parts them proves the search wrong.
                if meetings >= MEETINGS && span.lower <= 0.0 {
                    span.upper = 0.0;
                }
            }
        }
        if span.is_closed() || span.lower >= greatest {
            break;
        }
    }
    // A certificate is proved, points are only found: beyond rounding the proof stands.
    if span.upper < span.lower {
        span.upper = span.lower;
    }
    span
}
