//! The double wishbone's position, in closed form.
//!
//! The idea in five lines. The lower arm's angle turns its ball joint on a circle. The upper ball
//! joint lies on the upper arm's circle and on the sphere of the knuckle's length about the lower
//! one: circle meets sphere, two points, the as-built one kept. The tie rod's outer end lies on its
//! circle about the kingpin axis and on the sphere of the rod's length about the rack's end: the same
//! question again. The halfshaft's spider is where the flange axis meets the sphere of the shaft's
//! length about the outer joint. No iteration, no linkage matrix.
//!
//! Written once over [`Real`]: see [`crate::numbers`]. Source of the geometry: any text on spatial
//! linkages, for example J. Angeles, "Fundamentals of Robotic Mechanical Systems", Springer 2014,
//! chapter 9; the vector form of circle meets sphere is derived in [`circle_meets_sphere`].

use super::bodies::{BootRing, HeldByTwo, Motion, Placement, TwoPointLink};
use crate::numbers::{Enclosure, Range, Real, dot_plain, length_squared, lift, turn};
use nalgebra::{Matrix3, Vector3};
use std::sync::Arc;

/// Which body carries the damper's lower eye.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DamperFoot {
    /// The lower control arm.
    LowerArm,
    /// The upper control arm.
    UpperArm,
    /// The knuckle.
    Knuckle,
}

/// One corner's points and axes: vehicle coordinates at the measured position, millimetres.
#[derive(Clone, Debug, PartialEq)]
pub struct Hardpoints {
    /// Lower arm, front frame pivot.
    pub lower_front: Vector3<f64>,
    /// Lower arm, rear frame pivot.
    pub lower_rear: Vector3<f64>,
    /// Lower ball joint's centre.
    pub lower_ball: Vector3<f64>,
    /// Upper arm, front frame pivot.
    pub upper_front: Vector3<f64>,
    /// Upper arm, rear frame pivot.
    pub upper_rear: Vector3<f64>,
    /// Upper ball joint's centre.
    pub upper_ball: Vector3<f64>,
    /// Tie rod's end on the rack.
    pub tie_rod_inner: Vector3<f64>,
    /// Tie rod's end on the knuckle.
    pub tie_rod_outer: Vector3<f64>,
    /// Wheel centre.
    pub wheel_centre: Vector3<f64>,
    /// Spindle axis, unit, pointing outboard.
    pub spindle_axis: Vector3<f64>,
    /// Damper's eye on the frame.
    pub damper_upper: Vector3<f64>,
    /// Damper's eye on `damper_foot`.
    pub damper_lower: Vector3<f64>,
    /// The body that carries the lower eye.
    pub damper_foot: DamperFoot,
    /// Outer joint's centre, in the knuckle.
    pub outer_joint: Vector3<f64>,
    /// Outer joint's axis in the knuckle, unit, outboard.
    pub outer_axis: Vector3<f64>,
    /// Inner joint's centre (the spider's) on the differential.
    pub inner_joint: Vector3<f64>,
    /// Output flange's axis, unit, outboard.
    pub flange_axis: Vector3<f64>,
}

/// Joint points as the part on the joint's other side has them, each in its part's own drawing: vehicle
/// coordinates at the measured position, millimetres.
///
/// With every part as measured they are the hardpoints themselves. With another arm, another knuckle or a
/// lowered differential the drawings no longer meet: the lengths between these points stay the part's own,
/// and [`DoubleWishbone::solve`] brings the joints together.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnPoints {
    /// Lower and upper ball joint in the knuckle's drawing.
    pub knuckle: [Vector3<f64>; 2],
    /// Inner and outer end in the tie rod's drawing.
    pub tie_rod: [Vector3<f64>; 2],
    /// Inner and outer joint's centre in the halfshaft's drawing.
    pub halfshaft: [Vector3<f64>; 2],
    /// Upper and lower eye in the damper's drawing.
    pub damper: [Vector3<f64>; 2],
    /// Height of the wheel centre at zero travel.
    pub wheel_height_mm: f64,
}

impl OwnPoints {
    /// Every part as measured.
    pub fn as_measured(h: &Hardpoints) -> OwnPoints {
        OwnPoints {
            knuckle: [h.lower_ball, h.upper_ball],
            tie_rod: [h.tie_rod_inner, h.tie_rod_outer],
            halfshaft: [h.inner_joint, h.outer_joint],
            damper: [h.damper_upper, h.damper_lower],
            wheel_height_mm: h.wheel_centre.z,
        }
    }
}

/// Hardpoints that make no suspension. Points are named as in [`Hardpoints`].
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum HardpointError {
    /// Two points that must be apart are not.
    #[error("{a} and {b} are {distance_mm:.3} mm apart")]
    TooClose {
        /// One point.
        a: &'static str,
        /// The other.
        b: &'static str,
        /// Their distance.
        distance_mm: f64,
    },
    /// A ball joint lies on its arm's pivot line.
    #[error("{point} lies on the line through {a} and {b}")]
    InLine {
        /// The point.
        point: &'static str,
        /// One end of the line.
        a: &'static str,
        /// Its other end.
        b: &'static str,
    },
    /// The linkage as measured has no freedom to move: it stands at a dead point.
    #[error("as measured the {0} stands at a dead point: it could go either way")]
    DeadPoint(&'static str),
    /// The lower arm points straight up or down, so travel doesn't turn it.
    #[error("turning the lower arm does not lift its ball joint")]
    ArmUpright,
    /// With the lower arm as measured, the parts can't be put together.
    #[error("at the measured position the {} cannot be put together", .0.name())]
    Apart(ReachLimit),
}

/// The part of the linkage that can't reach.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReachLimit {
    /// The upper ball joint can't be both on its arm and on the knuckle.
    UpperArm,
    /// The tie rod is too short or too long for its end to stay on the knuckle.
    TieRod,
    /// The halfshaft is too short for its spider to stay on the flange's axis.
    Halfshaft,
    /// The wheel's height can't be changed any further by turning the arm.
    WheelHeight,
}

impl ReachLimit {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            ReachLimit::UpperArm => "upper arm and knuckle",
            ReachLimit::TieRod => "tie rod",
            ReachLimit::Halfshaft => "halfshaft",
            ReachLimit::WheelHeight => "wheel height",
        }
    }
}

/// A circle that a hardpoint runs on, fixed in some body.
#[derive(Clone, Debug, PartialEq)]
struct Circle {
    centre: Vector3<f64>,
    axis: Vector3<f64>,
    /// From centre to point as measured.
    spoke: Vector3<f64>,
    radius: f64,
}

impl Circle {
    fn about(from: Vector3<f64>, to: Vector3<f64>, point: Vector3<f64>) -> Circle {
        let axis = (to - from).normalize();
        let centre = from + axis * (point - from).dot(&axis);
        let spoke = point - centre;
        Circle {
            centre,
            axis,
            spoke,
            radius: spoke.norm(),
        }
    }
}

/// The linkage of one corner, ready to be solved.
#[derive(Clone, Debug, PartialEq)]
pub struct DoubleWishbone {
    /// The points it was made from.
    pub hardpoints: Hardpoints,
    /// The same joints in the drawings of the parts on their other side.
    pub own: OwnPoints,
    lower: Circle,
    upper: Circle,
    knuckle_length: f64,
    kingpin: Vector3<f64>,
    /// Foot of the tie-rod end on the kingpin axis, from the knuckle's lower ball joint.
    steer_offset: f64,
    steer_spoke: Vector3<f64>,
    steer_radius: f64,
    tie_rod_length: f64,
    tie_rod_direction: Vector3<f64>,
    shaft_length: f64,
    shaft_direction: Vector3<f64>,
    damper_direction: Vector3<f64>,
    upper_branch: f64,
    steer_branch: f64,
    plunge_branch: f64,
    links: Links,
}

/// What two bodies hold; none where there are none, which costs nothing to hand on.
type Links = Option<Arc<[HeldByTwo]>>;

/// Every body's placement and the lengths that come with it, for one arm angle and rack position.
#[derive(Clone, Debug)]
pub struct Linkage<S: Real> {
    /// Rack.
    pub rack: Placement<S>,
    /// Lower arm.
    pub lower_arm: Placement<S>,
    /// Upper arm.
    pub upper_arm: Placement<S>,
    /// Knuckle, anchored at the lower ball joint.
    pub knuckle: Placement<S>,
    /// Tie rod, anchored at its outer end.
    pub tie_rod: Placement<S>,
    /// Damper half at the frame.
    pub damper_upper: Placement<S>,
    /// Damper half at the foot.
    pub damper_lower: Placement<S>,
    /// Halfshaft, anchored at the outer joint.
    pub halfshaft: Placement<S>,
    /// Lower ball joint.
    pub lower_ball: Vector3<S>,
    /// Upper ball joint.
    pub upper_ball: Vector3<S>,
    /// Tie rod's outer end.
    pub tie_rod_outer: Vector3<S>,
    /// Tie rod's inner end.
    pub tie_rod_inner: Vector3<S>,
    /// Wheel centre.
    pub wheel_centre: Vector3<S>,
    /// Outer joint's centre.
    pub outer_joint: Vector3<S>,
    /// The inner joint's spider.
    pub inner_joint: Vector3<S>,
    /// Unit vector from lower to upper ball joint.
    pub kingpin: Vector3<S>,
    /// Unit vector from inner to outer tie-rod end.
    pub tie_rod_direction: Vector3<S>,
    /// Unit vector from spider to outer joint.
    pub shaft_direction: Vector3<S>,
    /// Unit vector from upper to lower damper eye.
    pub damper_direction: Vector3<S>,
    /// Damper length, eye to eye.
    pub damper_mm: S,
    /// Spider's slide along the flange axis, outboard positive.
    pub plunge_mm: S,
    /// Cosine of the inner joint's angle.
    pub inner_cos: S,
    /// Cosine of the outer joint's angle.
    pub outer_cos: S,
    /// Cosine and sine of the upper arm's turn from the measured position.
    pub upper_turn: (S, S),
    /// What is under each root: at or below zero, the linkage can't reach.
    reserve: [(ReachLimit, S); 3],
    links: Links,
}

impl<S: Real> Linkage<S> {
    /// The placement that parts on `motion` follow.
    pub fn placement(&self, motion: Motion) -> Placement<S> {
        match motion {
            Motion::Frame => Placement::identity(),
            Motion::Rack => self.rack,
            Motion::LowerArm => self.lower_arm,
            Motion::UpperArm => self.upper_arm,
            Motion::Knuckle => self.knuckle,
            Motion::TieRod => self.tie_rod,
            Motion::DamperUpper => self.damper_upper,
            Motion::DamperLower => self.damper_lower,
            Motion::Halfshaft => self.halfshaft,
            Motion::Link(number) => self.held_by_two(usize::from(number)),
        }
    }

    /// Where a link's two ends are; none for a number that no link has.
    pub fn link_ends(&self, number: usize) -> Option<[Vector3<S>; 2]> {
        match self.links.as_ref()?.get(number)? {
            HeldByTwo::Link(link) => Some(self.ends_of(link)),
            HeldByTwo::Ring(_) => None,
        }
    }

    fn ends_of(&self, link: &TwoPointLink) -> [Vector3<S>; 2] {
        let end = |(motion, point): &(Motion, Vector3<f64>)| self.placement(*motion).point(point);
        [end(&link.from), end(&link.to)]
    }

    fn held_by_two(&self, number: usize) -> Placement<S> {
        let links = self.links.as_deref().unwrap_or_default();
        match links.get(number) {
            Some(HeldByTwo::Link(link)) => self.link(link),
            Some(HeldByTwo::Ring(ring)) => self.ring(ring),
            // Bodies are made of these, so that there is one for each number.
            None => Placement::identity(),
        }
    }

    fn link(&self, link: &TwoPointLink) -> Placement<S> {
        let [from, to] = self.ends_of(link);
        Placement {
            rotation: without_twist(&link.direction, &unit(to - from)),
            anchor_in_body: link.drawn_from,
            anchor: from,
        }
    }

    fn ring(&self, ring: &BootRing) -> Placement<S> {
        let [from, to] = [&ring.from, &ring.to].map(|end| self.placement(end.0));
        let (a, b) = (from.point(&ring.from.1), to.point(&ring.to.1));
        let axis = from.direction(&ring.from.2) + to.direction(&ring.to.2);
        Placement {
            rotation: without_twist(&ring.direction, &unit(axis)),
            anchor_in_body: ring.drawn_at,
            anchor: a.map(|c: S| c.scale(1.0 - ring.share)) + b.map(|c: S| c.scale(ring.share)),
        }
    }
}

/// A vector's direction.
#[inline]
fn unit<S: Real>(v: Vector3<S>) -> Vector3<S> {
    v * (S::one() / length_squared(&v).sqrt())
}

impl Linkage<Enclosure> {
    /// Whether the whole rectangle is proved within reach, with the wheel rising with the arm.
    pub fn is_within_reach(&self) -> bool {
        self.reserve.iter().all(|(_, r)| r.range.lo > 0.0) && self.wheel_centre.z.rate[0].lo > 0.0
    }

    /// Whether the whole rectangle is proved out of reach, or past the dead point where the wheel stops
    /// rising with the arm.
    pub fn is_beyond_reach(&self) -> bool {
        self.reserve.iter().any(|(_, r)| r.range.hi < 0.0) || self.wheel_centre.z.rate[0].hi < 0.0
    }
}

impl Linkage<Range> {
    /// Whether the whole rectangle is proved out of reach.
    pub fn is_beyond_reach(&self) -> bool {
        self.reserve.iter().any(|(_, r)| r.0.hi < 0.0)
    }
}

impl Linkage<f64> {
    /// The first part of the linkage that can't reach, if any.
    pub fn out_of_reach(&self) -> Option<ReachLimit> {
        // A NaN reserve is out of reach too, hence the negated comparison's spelling.
        self.reserve
            .iter()
            .find(|(_, r)| r.is_nan() || *r <= 0.0)
            .map(|(which, _)| *which)
    }
}

/// Where a circle meets a sphere, as the spoke from the circle's centre.
///
/// With `d` from sphere centre to circle centre, `m` its part across the circle's axis `a`, circle
/// radius r and sphere radius R, the spoke q must obey q.a = 0, q.q = r^2 and (d + q)^2 = R^2, so
/// q.m = c = (R^2 - d^2 - r^2)/2. Writing q in the basis m, a x m (same length, at right angles):
/// q = (c m +- sqrt(m^2 r^2 - c^2) a x m) / m^2. Returns the spoke and what is under the root.
#[inline]
fn circle_meets_sphere<S: Real>(
    centre: &Vector3<S>,
    axis: &Vector3<S>,
    radius: f64,
    sphere_centre: &Vector3<S>,
    sphere_radius: f64,
    branch: f64,
) -> (Vector3<S>, S) {
    let d = centre - sphere_centre;
    let along = d.dot(axis);
    let m = d - axis * along;
    let m2 = length_squared(&m);
    let fixed = S::constant(sphere_radius * sphere_radius - radius * radius);
    let c = (fixed - length_squared(&d)).scale(0.5);
    let reserve = m2.scale(radius * radius) - c.square();
    let across = axis.cross(&d);
    let inverse = S::one() / m2;
    let spoke = m * (c * inverse) + across * (reserve.sqrt().scale(branch) * inverse);
    (spoke, reserve)
}

/// Rotation by an angle about a fixed unit axis (Rodrigues).
#[inline]
fn about_axis<S: Real>(axis: &Vector3<f64>, sin: S, cos: S) -> Matrix3<S> {
    let versine = S::one() - cos;
    let a = axis;
    let d = |i: usize| cos + versine.scale(a[i] * a[i]);
    let o = |i: usize, j: usize, k: f64| versine.scale(a[i] * a[j]) + sin.scale(k);
    Matrix3::new(
        d(0),
        o(0, 1, -a.z),
        o(0, 2, a.y),
        o(1, 0, a.z),
        d(1),
        o(1, 2, -a.x),
        o(2, 0, -a.y),
        o(2, 1, a.x),
        d(2),
    )
}

/// The rotation without twist that takes one unit vector to another less than 180 degrees away.
#[inline]
fn without_twist<S: Real>(from: &Vector3<f64>, to: &Vector3<S>) -> Matrix3<S> {
    let f = from;
    let v = Vector3::new(
        to.z.scale(f.y) - to.y.scale(f.z),
        to.x.scale(f.z) - to.z.scale(f.x),
        to.y.scale(f.x) - to.x.scale(f.y),
    );
    let c = dot_plain(to, f);
    let k = S::one() / (S::one() + c);
    let kx = v.x * k;
    let ky = v.y * k;
    let kz = v.z * k;
    let (xy, xz, yz) = (kx * v.y, kx * v.z, ky * v.z);
    Matrix3::new(
        c + kx * v.x,
        xy - v.z,
        xz + v.y,
        xy + v.z,
        c + ky * v.y,
        yz - v.x,
        xz - v.y,
        yz + v.x,
        c + kz * v.z,
    )
}

/// The least distance, mm, between two hardpoints that a suspension can be made of. Below it,
/// directions between them are noise of the measurement.
const LEAST_LENGTH_MM: f64 = 1.0;
/// As measured, the sine of the angle between an arm's spoke and its dead point must exceed this.
const DEAD_POINT_SINE: f64 = 1.0e-3;

impl DoubleWishbone {
    /// Prepares the linkage, every part as measured.
    ///
    /// # Errors
    /// [`HardpointError`] where points coincide, lie in line, or stand at a dead point as measured.
    pub fn new(hardpoints: Hardpoints) -> Result<Self, HardpointError> {
        let own = OwnPoints::as_measured(&hardpoints);
        DoubleWishbone::refitted(hardpoints, own)
    }

    /// Prepares the linkage with parts that were not drawn together.
    ///
    /// # Errors
    /// As [`new`](DoubleWishbone::new), and [`HardpointError::Apart`] where the parts don't meet with the
    /// lower arm as measured.
    pub fn refitted(hardpoints: Hardpoints, own: OwnPoints) -> Result<Self, HardpointError> {
        let h = &hardpoints;
        for (a, pa, b, pb) in [
            (
                "lower_arm.front_pivot",
                h.lower_front,
                "lower_arm.rear_pivot",
                h.lower_rear,
            ),
            (
                "upper_arm.front_pivot",
                h.upper_front,
                "upper_arm.rear_pivot",
                h.upper_rear,
            ),
            (
                "lower_arm.ball_joint",
                own.knuckle[0],
                "upper_arm.ball_joint",
                own.knuckle[1],
            ),
            (
                "rack.tie_rod_inner",
                own.tie_rod[0],
                "knuckle.tie_rod_outer",
                own.tie_rod[1],
            ),
            (
                "halfshaft.inner_joint",
                own.halfshaft[0],
                "halfshaft.outer_joint",
                own.halfshaft[1],
            ),
            (
                "damper.upper_mount",
                h.damper_upper,
                "damper.lower_mount",
                h.damper_lower,
            ),
        ] {
            let distance_mm = (pa - pb).norm();
            if distance_mm < LEAST_LENGTH_MM {
                return Err(HardpointError::TooClose { a, b, distance_mm });
            }
        }
        let mut lower = Circle::about(h.lower_front, h.lower_rear, h.lower_ball);
        let upper = Circle::about(h.upper_front, h.upper_rear, h.upper_ball);
        for (circle, point, a, b) in [
            (
                &lower,
                "lower_arm.ball_joint",
                "lower_arm.front_pivot",
                "lower_arm.rear_pivot",
            ),
            (
                &upper,
                "upper_arm.ball_joint",
                "upper_arm.front_pivot",
                "upper_arm.rear_pivot",
            ),
        ] {
            if circle.radius < LEAST_LENGTH_MM {
                return Err(HardpointError::InLine { point, a, b });
            }
        }
        // Positive arm angle is bump.
        let lift_rate = lower.axis.cross(&lower.spoke).z;
        if lift_rate.abs() < DEAD_POINT_SINE * lower.radius {
            return Err(HardpointError::ArmUpright);
        }
        lower.axis *= lift_rate.signum();

        let [knuckle_lower, knuckle_upper] = own.knuckle;
        let knuckle_length = (knuckle_upper - knuckle_lower).norm();
        let kingpin = (knuckle_upper - knuckle_lower) / knuckle_length;
        let steer = Circle::about(knuckle_lower, knuckle_upper, h.tie_rod_outer);
        if steer.radius < LEAST_LENGTH_MM {
            return Err(HardpointError::InLine {
                point: "knuckle.tie_rod_outer",
                a: "lower_arm.ball_joint",
                b: "upper_arm.ball_joint",
            });
        }
        let rod = own.tie_rod[1] - own.tie_rod[0];
        let tie_rod_length = rod.norm();
        let shaft = own.halfshaft[1] - own.halfshaft[0];
        let shaft_length = shaft.norm();
        let shaft_direction = shaft / shaft_length;

        // The sign that the measured position takes in each root.
        let branch = |circle: &Circle, sphere_centre: &Vector3<f64>| {
            let across = circle.axis.cross(&(circle.centre - sphere_centre));
            let sine = circle.spoke.dot(&across) / (circle.radius * across.norm());
            if sine.abs() > DEAD_POINT_SINE {
                Some(sine.signum())
            } else {
                None
            }
        };
        let upper_branch =
            branch(&upper, &h.lower_ball).ok_or(HardpointError::DeadPoint("upper arm"))?;
        let steer_branch =
            branch(&steer, &h.tie_rod_inner).ok_or(HardpointError::DeadPoint("tie rod"))?;
        let shaft_cos = shaft_direction.dot(&h.flange_axis);
        if shaft_cos.abs() < DEAD_POINT_SINE {
            return Err(HardpointError::DeadPoint("halfshaft"));
        }
        let this = DoubleWishbone {
            lower,
            upper,
            knuckle_length,
            kingpin,
            steer_offset: (steer.centre - knuckle_lower).dot(&kingpin),
            steer_spoke: steer.spoke / steer.radius,
            steer_radius: steer.radius,
            tie_rod_length,
            tie_rod_direction: rod / tie_rod_length,
            shaft_length,
            shaft_direction,
            damper_direction: (own.damper[1] - own.damper[0]).normalize(),
            upper_branch,
            steer_branch,
            plunge_branch: shaft_cos.signum(),
            links: None,
            hardpoints,
            own,
        };
        match this.solve(0.0, 0.0).out_of_reach() {
            None => Ok(this),
            Some(limit) => Err(HardpointError::Apart(limit)),
        }
    }

    /// The parts with a tie rod and a halfshaft of the lengths that suit them with the lower arm as drawn: the knuckle is
    /// carried over without twist, the shaft stands where it was measured.
    ///
    /// # Errors
    /// [`HardpointError`] where the arms and the knuckle don't meet, or a rod would have no length.
    pub fn suiting_rods(h: &Hardpoints, own: &OwnPoints) -> Result<OwnPoints, HardpointError> {
        let [knuckle_lower, knuckle_upper] = own.knuckle;
        let upper = Circle::about(h.upper_front, h.upper_rear, h.upper_ball);
        let knuckle_length = (knuckle_upper - knuckle_lower).norm();
        let across = upper.axis.cross(&(upper.centre - h.lower_ball));
        let branch = upper.spoke.dot(&across).signum();
        let (spoke, reserve) = circle_meets_sphere(
            &upper.centre,
            &upper.axis,
            upper.radius,
            &h.lower_ball,
            knuckle_length,
            branch,
        );
        if reserve.is_nan() || reserve <= 0.0 {
            return Err(HardpointError::Apart(ReachLimit::UpperArm));
        }
        let kingpin = (upper.centre + spoke - h.lower_ball) / knuckle_length;
        let drawn = (knuckle_upper - knuckle_lower) / knuckle_length;
        let turn = without_twist(&drawn, &kingpin);
        let carried = |p: &Vector3<f64>| h.lower_ball + turn * (p - knuckle_lower);
        let suited = |[inner, outer]: [Vector3<f64>; 2], length: f64| {
            let rod = inner - outer;
            [outer + rod * (length / rod.norm()), outer]
        };
        let rod = (carried(&h.tie_rod_outer) - h.tie_rod_inner).norm();
        let shaft = (carried(&h.outer_joint) - h.inner_joint).norm();
        Ok(OwnPoints {
            tie_rod: suited(own.tie_rod, rod),
            halfshaft: suited(own.halfshaft, shaft),
            ..own.clone()
        })
    }

    /// The same with what hangs between its bodies.
    #[must_use]
    pub fn with_links(self, links: Vec<HeldByTwo>) -> Self {
        DoubleWishbone {
            links: (!links.is_empty()).then(|| links.into()),
            ..self
        }
    }

    /// The steered chain alone: lower arm, upper arm, knuckle. Enough for the wheel's height.
    #[inline]
    fn steered<S: Real>(&self, alpha: S, rack_mm: S) -> Steered<S> {
        let h = &self.hardpoints;
        let (sin, cos) = alpha.sin_cos();
        let lower_rotation = about_axis(&self.lower.axis, sin, cos);
        let lower_ball = lift(&self.lower.centre) + turn(&lower_rotation, &self.lower.spoke);
        let (upper_spoke, upper_reserve) = circle_meets_sphere(
            &lift(&self.upper.centre),
            &lift(&self.upper.axis),
            self.upper.radius,
            &lower_ball,
            self.knuckle_length,
            self.upper_branch,
        );
        let upper_ball = lift(&self.upper.centre) + upper_spoke;
        let kingpin = (upper_ball - lower_ball).map(|c: S| c.scale(1.0 / self.knuckle_length));

        let tie_rod_inner = Vector3::new(
            S::constant(h.tie_rod_inner.x),
            S::constant(h.tie_rod_inner.y) + rack_mm,
            S::constant(h.tie_rod_inner.z),
        );
        let steer_centre = lower_ball + kingpin.map(|c: S| c.scale(self.steer_offset));
        let (steer_spoke, steer_reserve) = circle_meets_sphere(
            &steer_centre,
            &kingpin,
            self.steer_radius,
            &tie_rod_inner,
            self.tie_rod_length,
            self.steer_branch,
        );
        let spoke = steer_spoke.map(|c: S| c.scale(1.0 / self.steer_radius));
        let side = kingpin.cross(&spoke);
        let side_measured = self.kingpin.cross(&self.steer_spoke);
        // Columns (kingpin, spoke, side) now, from the same columns as measured.
        let rotation = Matrix3::from_fn(|i, j| {
            kingpin[i].scale(self.kingpin[j])
                + spoke[i].scale(self.steer_spoke[j])
                + side[i].scale(side_measured[j])
        });
        Steered {
            lower_rotation,
            lower_ball,
            upper_spoke,
            upper_ball,
            kingpin,
            tie_rod_inner,
            tie_rod_outer: steer_centre + steer_spoke,
            knuckle: Placement {
                rotation,
                anchor_in_body: self.own.knuckle[0],
                anchor: lower_ball,
            },
            upper_reserve,
            steer_reserve,
        }
    }

    /// Wheel-centre height above its measured place, mm: what is called travel, bump positive.
    #[inline]
    pub fn travel_mm<S: Real>(&self, alpha: S, rack_mm: S) -> S {
        let steered = self.steered(alpha, rack_mm);
        steered.knuckle.point(&self.hardpoints.wheel_centre).z
            - S::constant(self.own.wheel_height_mm)
    }

    /// Places every body.
    ///
    /// `alpha` is the lower arm's turn from the measured position, radians, bump positive; `rack_mm`
    /// the rack's shift toward +y. Where the linkage can't reach, plain numbers turn NaN (ask
    /// [`Linkage::out_of_reach`]) and enclosures unbounded.
    #[inline]
    pub fn solve<S: Real>(&self, alpha: S, rack_mm: S) -> Linkage<S> {
        let h = &self.hardpoints;
        let s = self.steered(alpha, rack_mm);

        // Upper arm: its turn from the spoke, as cosine and sine in the circle's own basis.
        let inverse = 1.0 / (self.upper.radius * self.upper.radius);
        let upper_cos = dot_plain(&s.upper_spoke, &self.upper.spoke).scale(inverse);
        let upper_sin =
            dot_plain(&s.upper_spoke, &self.upper.axis.cross(&self.upper.spoke)).scale(inverse);
        let upper_arm = Placement {
            rotation: about_axis(&self.upper.axis, upper_sin, upper_cos),
            anchor_in_body: self.upper.centre,
            anchor: lift(&self.upper.centre),
        };
        let lower_arm = Placement {
            rotation: s.lower_rotation,
            anchor_in_body: self.lower.centre,
            anchor: lift(&self.lower.centre),
        };

        let tie_rod_direction =
            (s.tie_rod_outer - s.tie_rod_inner).map(|c: S| c.scale(1.0 / self.tie_rod_length));
        let tie_rod = Placement {
            rotation: without_twist(&self.tie_rod_direction, &tie_rod_direction),
            anchor_in_body: self.own.tie_rod[1],
            anchor: s.tie_rod_outer,
        };

        // Halfshaft: the spider slides along the flange axis f. With w from measured spider to outer
        // joint, (w - p f)^2 = length^2 gives p = w.f -+ sqrt((w.f)^2 - w^2 + length^2).
        let outer_joint = s.knuckle.point(&h.outer_joint);
        let w = outer_joint - lift::<S>(&h.inner_joint);
        let along = dot_plain(&w, &h.flange_axis);
        let shaft_reserve = along.square() - length_squared(&w)
            + S::constant(self.shaft_length * self.shaft_length);
        let plunge_mm = along - shaft_reserve.sqrt().scale(self.plunge_branch);
        let slide = h.flange_axis.map(|c| plunge_mm.scale(c));
        let shaft_direction = (w - slide).map(|c: S| c.scale(1.0 / self.shaft_length));
        let halfshaft = Placement {
            rotation: without_twist(&self.shaft_direction, &shaft_direction),
            anchor_in_body: self.own.halfshaft[1],
            anchor: outer_joint,
        };
        let outer_axis = s.knuckle.direction(&h.outer_axis);

        let foot = match h.damper_foot {
            DamperFoot::LowerArm => &lower_arm,
            DamperFoot::UpperArm => &upper_arm,
            DamperFoot::Knuckle => &s.knuckle,
        };
        let damper_foot = foot.point(&h.damper_lower);
        let damper = damper_foot - lift::<S>(&h.damper_upper);
        let damper_mm = length_squared(&damper).sqrt();
        let damper_inverse = S::one() / damper_mm;
        let damper_direction = damper * damper_inverse;
        let damper_rotation = without_twist(&self.damper_direction, &damper_direction);

        Linkage {
            rack: Placement {
                rotation: Matrix3::identity(),
                anchor_in_body: h.tie_rod_inner,
                anchor: s.tie_rod_inner,
            },
            lower_arm,
            upper_arm,
            tie_rod,
            damper_upper: Placement {
                rotation: damper_rotation,
                anchor_in_body: self.own.damper[0],
                anchor: lift(&h.damper_upper),
            },
            damper_lower: Placement {
                rotation: damper_rotation,
                anchor_in_body: self.own.damper[1],
                anchor: damper_foot,
            },
            halfshaft,
            lower_ball: s.lower_ball,
            upper_ball: s.upper_ball,
            tie_rod_outer: s.tie_rod_outer,
            tie_rod_inner: s.tie_rod_inner,
            wheel_centre: s.knuckle.point(&h.wheel_centre),
            outer_joint,
            inner_joint: lift::<S>(&h.inner_joint) + slide,
            kingpin: s.kingpin,
            tie_rod_direction,
            shaft_direction,
            damper_direction,
            damper_mm,
            plunge_mm,
            inner_cos: dot_plain(&shaft_direction, &h.flange_axis),
            outer_cos: shaft_direction.dot(&outer_axis),
            upper_turn: (upper_cos, upper_sin),
            reserve: [
                (ReachLimit::UpperArm, s.upper_reserve),
                (ReachLimit::TieRod, s.steer_reserve),
                (ReachLimit::Halfshaft, shaft_reserve),
            ],
            links: self.links.clone(),
            knuckle: s.knuckle,
        }
    }
}

/// Intermediate of [`DoubleWishbone::solve`]: everything up to the knuckle.
struct Steered<S: Real> {
    lower_rotation: Matrix3<S>,
    lower_ball: Vector3<S>,
    upper_spoke: Vector3<S>,
    upper_ball: Vector3<S>,
    kingpin: Vector3<S>,
    tie_rod_inner: Vector3<S>,
    tie_rod_outer: Vector3<S>,
    knuckle: Placement<S>,
    upper_reserve: S,
    steer_reserve: S,
}
