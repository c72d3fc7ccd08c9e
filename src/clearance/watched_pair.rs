//! Parts, and the pairs of them that are watched.

use super::pair_walk::{Gap, PairWalk, Relative};
use super::second_look::Drawn;
use crate::kinematics::ShapePlacement;
use crate::shapes::{ElementKind, Surface};
use crate::suspension::{Body, Linkage, Motion, Side};
use std::sync::Arc;
use wildmatch::WildMatch;

/// A part of one corner: a surface on a body.
#[derive(Clone, Debug)]
pub struct Part {
    /// Its name, unique on its corner.
    pub name: String,
    /// Its name in the scene, which entries of `watch` go by. The other side's part of a name that the corner has too has
    /// the same here, and its side before it in `name`.
    pub entry_name: String,
    /// The side that has it: for what reaches over, the other one.
    pub side: Side,
    /// Whether the other side has one of its name too.
    pub has_twin: bool,
    /// The body that carries it.
    pub body: Body,
    /// Its surface, body coordinates.
    pub surface: Arc<Surface>,
    /// Whether it stands for the full revolution of a part that isn't round.
    pub revolved: bool,
    /// Whether a tripod's orbit carries it round: the halfshaft, and the boot between it and the inner joint's cup.
    pub orbits: bool,
    /// Whether it is a part of the truck's body, from the scene's `underbody`.
    pub is_bodywork: bool,
    /// The shape as drawn, for the second look.
    pub drawn: Drawn,
}

impl Part {
    /// Whether it may be one of the pieces that one entry makes: a slice of a coil spring or of a boot.
    pub fn may_be_a_piece(&self) -> bool {
        matches!(
            self.body,
            Body::DamperUpper | Body::DamperLower | Body::Link(_)
        )
    }

    /// Whether a pattern names it: by its own name or its entry's, which all pieces of a spring or a boot have, and what
    /// reaches over from the other side.
    pub fn is_named_by(&self, pattern: &WildMatch) -> bool {
        pattern.matches(&self.name) || pattern.matches(&self.entry_name)
    }

    /// How far it reaches onto a side of the truck as measured, mm from the middle plane; below zero where it stays off it.
    pub fn reach_onto_mm(&self, side: Side) -> f64 {
        let outboard = (0..self.surface.vertices.len())
            .map(|i| self.surface.vertex_in_body(i).y * side.outboard())
            .fold(f64::NEG_INFINITY, f64::max);
        outboard + self.surface.reach_mm()
    }
}

/// Two parts and the gap they must keep.
#[derive(Clone, Debug)]
pub struct WatchedPair {
    /// Number of the first part, as named in the scene.
    pub a: usize,
    /// Number of the second.
    pub b: usize,
    /// The gap that must remain, mm; zero means contact alone is watched.
    pub required_mm: f64,
    /// Whether `a` is the fixed one in the walk.
    pub a_is_fixed: bool,
    /// Number of the relative motion it follows, among its corner's.
    pub field: usize,
    /// Whether an entry of `watch` names it; a wheel's part meets the frame's and the body's unnamed.
    pub is_named: bool,
    /// Whether one of them widens with the tripod's orbit.
    pub orbits: bool,
}

impl WatchedPair {
    /// Pairs two parts. The part with triangles moves in the other's frame, since the bound is
    /// sharpest at small elements.
    pub fn new(parts: &[Part], a: usize, b: usize, required_mm: f64, tripod: bool) -> Self {
        let triangles = |i: usize| parts[i].surface.kind == ElementKind::Triangle;
        // Of two made of triangles the frame's is the fixed one: then all of them share the other's rates.
        let rests = |i: usize| parts[i].body.motion() == Motion::Frame;
        let b_is_fixed = triangles(a) && triangles(b) && rests(b) && !rests(a);
        // So too of the truck's body, which has many parts, most of them far away.
        let of_body = [a, b].map(|i| parts[i].is_bodywork);
        WatchedPair {
            a,
            b,
            required_mm,
            a_is_fixed: match of_body {
                [true, false] => true,
                [false, true] => false,
                _ => !b_is_fixed && (!triangles(a) || triangles(b)),
            },
            field: 0,
            is_named: true,
            orbits: tripod && (parts[a].orbits || parts[b].orbits),
        }
    }

    /// (fixed, moving) part numbers.
    pub fn roles(&self) -> (usize, usize) {
        if self.a_is_fixed {
            (self.a, self.b)
        } else {
            (self.b, self.a)
        }
    }

    /// The walk over both surfaces.
    pub fn walk<'p>(&self, parts: &'p [Part]) -> PairWalk<'p> {
        let (fixed, moving) = self.roles();
        PairWalk {
            fixed: &parts[fixed].surface,
            moving: &parts[moving].surface,
        }
    }

    /// Where the moving shape stands in the fixed one's frame.
    pub fn relative(&self, parts: &[Part], linkage: &Linkage<f64>) -> Relative {
        let (fixed, moving) = self.roles();
        let [f, m] = [fixed, moving].map(|i| placement(&parts[i], linkage));
        Relative {
            rotation: f.rotation.tr_mul(&m.rotation),
            offset: f.rotation.tr_mul(&(m.origin - f.origin)),
        }
    }

    /// The gap with its points in vehicle coordinates: `(gap, point on a, point on b)`, the points on
    /// the rounded surfaces.
    pub fn points(
        &self,
        parts: &[Part],
        linkage: &Linkage<f64>,
        gap: &Gap,
        swell_mm: f64,
    ) -> [nalgebra::Vector3<f64>; 2] {
        let (fixed, moving) = self.roles();
        let frame = placement(&parts[fixed], linkage);
        let between = gap.moving_point - gap.fixed_point;
        let n = if gap.core_mm > 0.0 {
            between / gap.core_mm
        } else {
            between
        };
        let widened = |i: usize| {
            let swell = if parts[i].orbits { swell_mm } else { 0.0 };
            parts[i].surface.radius_mm + swell
        };
        let f = frame.origin + frame.rotation * (gap.fixed_point + n * widened(fixed));
        let m = frame.origin + frame.rotation * (gap.moving_point - n * widened(moving));
        if self.a_is_fixed { [f, m] } else { [m, f] }
    }
}

/// A part's shape frame in vehicle coordinates.
pub fn placement(part: &Part, linkage: &Linkage<f64>) -> ShapePlacement<f64> {
    ShapePlacement::on_body(
        &linkage.placement(part.body.motion()),
        &part.surface.rotation,
        &part.surface.origin,
    )
}
