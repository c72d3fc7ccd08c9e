//! A corner's mechanism: from lower-arm angle and rack position to every body's pose, in closed form.
//!
//! The idea in five lines. The lower arm's angle turns its ball joint on a circle. What holds the knuckle's upper end
//! ([`super::upper_arm`], [`super::strut`]) leaves it one turn, about the kingpin axis; the tie rod settles that. The
//! halfshaft's spider is where the flange axis meets the sphere of the shaft's length about the outer joint. The damper
//! points from eye to eye. No iteration, no linkage matrix.
//!
//! Written once over [`Real`]: see [`crate::numbers`]. Source of the geometry: any text on spatial
//! linkages, for example J. Angeles, "Fundamentals of Robotic Mechanical Systems", Springer 2014,
//! chapter 9; the vector form of circle meets sphere is derived in [`super::circle`].

use super::bodies::{HeldByTwo, Placement};
use super::circle::{Circle, DEAD_POINT_SINE, about_axis, without_twist};
use super::hardpoints::{
    DamperFoot, HardpointError, Hardpoints, LEAST_LENGTH_MM, OwnPoints, ReachLimit, UpperLink,
};
use super::linkage::{Linkage, Links};
use super::strut::Strut;
use super::upper_arm::UpperArm;
use crate::numbers::{Real, dot_plain, length_squared, lift, turn};
use nalgebra::{Matrix3, Vector3};

/// One corner's mechanism, ready to be solved.
#[derive(Clone, Debug, PartialEq)]
pub struct Mechanism {
    /// The points it was made from.
    pub hardpoints: Hardpoints,
    /// The same joints in the drawings of the parts on their other side.
    pub own: OwnPoints,
    lower: Circle,
    upper: Upper,
    tie_rod_length: f64,
    tie_rod_direction: Vector3<f64>,
    shaft_length: f64,
    shaft_direction: Vector3<f64>,
    /// From upper to lower eye, as it was fitted.
    damper_direction: Vector3<f64>,
    /// What brings the damper's own drawing to that direction, where it was drawn between other eyes.
    damper_fit: Option<Matrix3<f64>>,
    plunge_branch: f64,
    links: Links,
}

/// What holds the knuckle's upper end, ready to be solved.
#[derive(Clone, Debug, PartialEq)]
enum Upper {
    Arm(UpperArm),
    Strut(Strut),
}

/// The tie rod's inner end and its length.
pub(super) struct TieRodEnd<S: Real> {
    pub inner: Vector3<S>,
    pub length_mm: f64,
}

/// A knuckle that is held at its upper end and steered.
pub(super) struct Held<S: Real> {
    pub kingpin_top: Vector3<S>,
    pub kingpin: Vector3<S>,
    pub knuckle_rotation: Matrix3<S>,
    pub tie_rod_outer: Vector3<S>,
    pub at: HeldAt<S>,
    /// What is under the upper end's root, and what can't reach where that isn't above zero.
    pub upper_reserve: (ReachLimit, S),
    /// What is under the tie rod's root.
    pub steer_reserve: S,
}

/// Where what holds it is.
pub(super) enum HeldAt<S: Real> {
    /// The upper arm's ball joint, from its circle's centre.
    Arm { spoke: Vector3<S> },
    /// The strut's length, eye to eye.
    Strut { damper_mm: S },
}

impl Mechanism {
    /// Prepares the linkage, every part as measured.
    ///
    /// # Errors
    /// [`HardpointError`] where points coincide, lie in line, or stand at a dead point as measured.
    pub fn new(hardpoints: Hardpoints) -> Result<Self, HardpointError> {
        let own = OwnPoints::as_measured(&hardpoints);
        Mechanism::refitted(hardpoints, own)
    }

    /// Prepares the linkage with parts that were not drawn together.
    ///
    /// # Errors
    /// As [`new`](Mechanism::new), and [`HardpointError::Apart`] where the parts don't meet with the
    /// lower arm as measured.
    pub fn refitted(hardpoints: Hardpoints, own: OwnPoints) -> Result<Self, HardpointError> {
        let h = &hardpoints;
        let top = match &h.upper {
            UpperLink::Arm(_) => "upper_arm.ball_joint",
            UpperLink::Strut => "damper.upper_mount",
        };
        let upper_pivots = h.upper_arm().map(|arm| {
            let [a, b] = ["upper_arm.front_pivot", "upper_arm.rear_pivot"];
            (a, arm.front, b, arm.rear)
        });
        let pairs = [(
            "lower_arm.front_pivot",
            h.lower_front,
            "lower_arm.rear_pivot",
            h.lower_rear,
        )];
        let others = [
            ("lower_arm.ball_joint", own.knuckle[0], top, own.knuckle[1]),
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
        ];
        for (a, pa, b, pb) in pairs.into_iter().chain(upper_pivots).chain(others) {
            let distance_mm = (pa - pb).norm();
            if distance_mm < LEAST_LENGTH_MM {
                return Err(HardpointError::TooClose { a, b, distance_mm });
            }
        }
        let mut lower = Circle::about(h.lower_front, h.lower_rear, h.lower_ball);
        for (radius, point, a, b) in [(
            lower.radius,
            "lower_arm.ball_joint",
            "lower_arm.front_pivot",
            "lower_arm.rear_pivot",
        )]
        .into_iter()
        .chain(h.upper_arm().map(|arm| {
            (
                Circle::about(arm.front, arm.rear, arm.ball).radius,
                "upper_arm.ball_joint",
                "upper_arm.front_pivot",
                "upper_arm.rear_pivot",
            )
        })) {
            if radius < LEAST_LENGTH_MM {
                return Err(HardpointError::InLine { point, a, b });
            }
        }
        // Positive arm angle is bump.
        let lift_rate = lower.axis.cross(&lower.spoke).z;
        if lift_rate.abs() < DEAD_POINT_SINE * lower.radius {
            return Err(HardpointError::ArmUpright);
        }
        lower.axis *= lift_rate.signum();

        let rod = own.tie_rod[1] - own.tie_rod[0];
        let tie_rod_length = rod.norm();
        let shaft = own.halfshaft[1] - own.halfshaft[0];
        let shaft_length = shaft.norm();
        let shaft_direction = shaft / shaft_length;

        let upper = match &h.upper {
            UpperLink::Arm(arm) => Upper::Arm(UpperArm::new(h, arm, &own)?),
            UpperLink::Strut => Upper::Strut(Strut::new(h, &own)?),
        };
        let shaft_cos = shaft_direction.dot(&h.flange_axis);
        if shaft_cos.abs() < DEAD_POINT_SINE {
            return Err(HardpointError::DeadPoint("halfshaft"));
        }
        let damper = damper_as_fitted(h, &own);
        let this = Mechanism {
            lower,
            upper,
            tie_rod_length,
            tie_rod_direction: rod / tie_rod_length,
            shaft_length,
            shaft_direction,
            damper_direction: damper.0,
            damper_fit: damper.1,
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
        let knuckle_lower = own.knuckle[0];
        let [drawn, kingpin] = match &h.upper {
            UpperLink::Arm(arm) => UpperArm::kingpin_at(h, arm, own),
            UpperLink::Strut => Strut::kingpin_at(h, own),
        }
        .map_err(HardpointError::Apart)?;
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
        Mechanism {
            links: (!links.is_empty()).then(|| links.into()),
            ..self
        }
    }

    /// The steered chain alone: lower arm, upper end, knuckle. Enough for the wheel's height.
    #[inline]
    fn steered<S: Real>(&self, alpha: S, rack_mm: S) -> Steered<S> {
        let h = &self.hardpoints;
        let (sin, cos) = alpha.sin_cos();
        let lower_rotation = about_axis(&self.lower.axis, sin, cos);
        let lower_ball = lift(&self.lower.centre) + turn(&lower_rotation, &self.lower.spoke);
        let tie_rod_inner = Vector3::new(
            S::constant(h.tie_rod_inner.x),
            S::constant(h.tie_rod_inner.y) + rack_mm,
            S::constant(h.tie_rod_inner.z),
        );
        let rod = TieRodEnd {
            inner: tie_rod_inner,
            length_mm: self.tie_rod_length,
        };
        let held = match &self.upper {
            Upper::Arm(arm) => arm.hold(&lower_ball, &rod),
            Upper::Strut(strut) => strut.hold(&lower_ball, &rod),
        };
        Steered {
            lower_rotation,
            tie_rod_inner: rod.inner,
            knuckle: Placement {
                rotation: held.knuckle_rotation,
                anchor_in_body: self.own.knuckle[0],
                anchor: lower_ball,
            },
            lower_ball,
            held,
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

        let (upper_arm, upper_turn) = match (&self.upper, &s.held.at) {
            (Upper::Arm(arm), HeldAt::Arm { spoke }) => arm.placement(spoke),
            _ => (Placement::identity(), (S::one(), S::zero())),
        };
        let lower_arm = Placement {
            rotation: s.lower_rotation,
            anchor_in_body: self.lower.centre,
            anchor: lift(&self.lower.centre),
        };

        let tie_rod_direction =
            (s.held.tie_rod_outer - s.tie_rod_inner).map(|c: S| c.scale(1.0 / self.tie_rod_length));
        let tie_rod = Placement {
            rotation: without_twist(&self.tie_rod_direction, &tie_rod_direction),
            anchor_in_body: self.own.tie_rod[1],
            anchor: s.held.tie_rod_outer,
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
        let (damper_mm, damper_direction) = match (&self.upper, s.held.at) {
            // The knuckle's own axis: sharper over a cell than the line between both eyes, which it is.
            (Upper::Strut(strut), HeldAt::Strut { damper_mm }) => {
                (damper_mm, -s.knuckle.direction(strut.axis()))
            }
            _ => {
                let damper = damper_foot - lift::<S>(&h.damper_upper);
                let damper_mm = length_squared(&damper).sqrt();
                (damper_mm, damper * (S::one() / damper_mm))
            }
        };
        // Rod and tube turn in each other, so each half is held by its own eye: the upper one by the frame, the lower one by
        // what carries it. Of a strut that is the knuckle, one body with the tube.
        let from_drawing = |half: Matrix3<S>| match &self.damper_fit {
            None => half,
            Some(fit) => {
                let column = |j: usize| turn(&half, &fit.column(j).into());
                Matrix3::from_columns(&[column(0), column(1), column(2)])
            }
        };
        let upper_half = from_drawing(without_twist(&self.damper_direction, &damper_direction));
        let lower_half = match &self.upper {
            Upper::Strut(_) => s.knuckle.rotation,
            Upper::Arm(_) => {
                let from_foot = foot.rotation.transpose() * damper_direction;
                from_drawing(foot.rotation * without_twist(&self.damper_direction, &from_foot))
            }
        };

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
                rotation: upper_half,
                anchor_in_body: self.own.damper[0],
                anchor: lift(&h.damper_upper),
            },
            damper_lower: Placement {
                rotation: lower_half,
                anchor_in_body: self.own.damper[1],
                anchor: damper_foot,
            },
            halfshaft,
            lower_ball: s.lower_ball,
            kingpin_top: s.held.kingpin_top,
            tie_rod_outer: s.held.tie_rod_outer,
            tie_rod_inner: s.tie_rod_inner,
            wheel_centre: s.knuckle.point(&h.wheel_centre),
            outer_joint,
            inner_joint: lift::<S>(&h.inner_joint) + slide,
            kingpin: s.held.kingpin,
            tie_rod_direction,
            shaft_direction,
            damper_direction,
            damper_mm,
            plunge_mm,
            inner_cos: dot_plain(&shaft_direction, &h.flange_axis),
            outer_cos: shaft_direction.dot(&outer_axis),
            upper_turn,
            reserve: [
                s.held.upper_reserve,
                (ReachLimit::TieRod, s.held.steer_reserve),
                (ReachLimit::Halfshaft, shaft_reserve),
            ],
            links: self.links.clone(),
            knuckle: s.knuckle,
        }
    }
}

/// The damper's direction as it was fitted, from upper to lower eye, and what turns its own drawing there where that was made
/// between other eyes: first there, as on the truck as measured, then with the motion, each without twist, so that a damper
/// that a setup brings hangs as the same one in a scene of its own does. A strut's axis is drawn in the knuckle.
fn damper_as_fitted(h: &Hardpoints, own: &OwnPoints) -> (Vector3<f64>, Option<Matrix3<f64>>) {
    let drawn = (own.damper[1] - own.damper[0]).normalize();
    let fitted = (h.damper_lower - h.damper_upper).normalize();
    if h.upper == UpperLink::Strut || fitted == drawn {
        return (drawn, None);
    }
    (fitted, Some(without_twist(&drawn, &fitted)))
}

/// Intermediate of [`Mechanism::solve`]: everything up to the knuckle.
struct Steered<S: Real> {
    lower_rotation: Matrix3<S>,
    lower_ball: Vector3<S>,
    tie_rod_inner: Vector3<S>,
    held: Held<S>,
    knuckle: Placement<S>,
}
