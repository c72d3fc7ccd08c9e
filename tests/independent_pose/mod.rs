//! Positions of a double wishbone by a solver that shares nothing with the library's closed forms: constraint equations,
//! Newton's method and continuation.
//!
//! The knuckle is one rigid body, a unit quaternion and the place of its lower ball joint. Six conditions hold it: both
//! ball joints keep their distances from both of their arm's pivots, the tie rod keeps its length, and the wheel centre has
//! the wanted height. They are solved along a path from the measured position in steps of a few millimetres, so that the
//! linkage stays as it was put together. Positions are named by wheel travel and rack, not by the arm's angle.

// Each test file uses its own part of this module.
#![allow(dead_code)]

use bindpoint::scene::{Arm, Foot, Point, Scene};
use bindpoint::suspension::{Body, Side};
use nalgebra::{
    Isometry3, Matrix6, Rotation3, Translation3, Unit, UnitQuaternion, Vector3, Vector6,
};

/// Longest step of the continuation, in travel or rack, mm: the knuckle turns by a degree or two over it.
const STEP_MM: f64 = 4.0;
/// Shortest step that is tried before the position counts as out of reach, mm.
const LEAST_STEP_MM: f64 = 0.01;
/// Accepted error of the conditions, mm: rounding of coordinates of a metre is a thousandth of it.
const ERROR_MM: f64 = 1.0e-10;
/// Newton's method doubles the digits in each step; from a neighbour it needs three or four.
const MOST_STEPS: usize = 12;

type V = Vector3<f64>;

/// One corner's points, vehicle coordinates at the measured position, mm.
#[derive(Clone, Debug)]
pub struct Points {
    pub side: Side,
    pub lower: [V; 2],
    pub lower_ball: V,
    /// The upper arm's pivots and ball joint; none where a strut holds the knuckle.
    pub upper: Option<([V; 2], V)>,
    pub rod_inner: V,
    pub rod_outer: V,
    pub wheel_centre: V,
    pub spindle: V,
    pub damper: [V; 2],
    pub foot: Foot,
    pub inner_joint: V,
    pub outer_joint: V,
    pub flange: V,
    pub outer_axis: V,
}

/// A point or direction as the other side has it.
fn on_side(p: &Point, mirrored: bool) -> V {
    V::new(p.0, if mirrored { -p.1 } else { p.1 }, p.2)
}

impl Points {
    /// The points of one side of a scene in millimetres: its own entries, mirrored ones, or those of `other_side`.
    pub fn of(scene: &Scene, side: Side) -> Points {
        assert_eq!(scene.units.in_mm(), 1.0, "scenes in millimetres only");
        let mirrored = side != scene.side;
        let other = &scene.other_side;
        // The entry, and whether it is the described side's mirrored.
        fn chosen<'a, T>(own: &'a T, other: &'a Option<T>, mirrored: bool) -> (&'a T, bool) {
            match other {
                Some(entry) if mirrored => (entry, false),
                _ => (own, mirrored),
            }
        }
        let arm = |own, other| {
            let (arm, m): (&Arm, bool) = chosen(own, other, mirrored);
            let pivots = [on_side(&arm.front_pivot, m), on_side(&arm.rear_pivot, m)];
            (pivots, on_side(&arm.ball_joint, m))
        };
        let (lower, lower_ball) = arm(&scene.lower_arm, &other.lower_arm);
        let upper = (scene.upper_arm.as_ref()).map(|own| arm(own, &other.upper_arm));
        let (knuckle, k) = chosen(&scene.knuckle, &other.knuckle, mirrored);
        let (rod_inner, r) = chosen(&scene.rack.tie_rod_inner, &other.tie_rod_inner, mirrored);
        let (damper, d) = chosen(&scene.damper, &other.damper, mirrored);
        let (shaft, s) = chosen(&scene.halfshaft, &other.halfshaft, mirrored);
        let spindle_side = if k { side.opposite() } else { side };
        let [x, y, z] = knuckle.spindle.direction(spindle_side);
        let spindle = on_side(&Point(x, y, z), k).normalize();
        let axis = |p: &Option<Point>, default: V| {
            p.as_ref().map_or(default, |p| on_side(p, s).normalize())
        };
        Points {
            side,
            lower,
            lower_ball,
            upper,
            rod_inner: on_side(rod_inner, r),
            rod_outer: on_side(&knuckle.tie_rod_outer, k),
            wheel_centre: on_side(&knuckle.wheel_centre, k),
            spindle,
            damper: [
                on_side(&damper.upper_mount, d),
                on_side(&damper.lower_mount, d),
            ],
            foot: damper.lower_mount_on,
            inner_joint: on_side(&shaft.inner_joint, s),
            outer_joint: on_side(&shaft.outer_joint, s),
            flange: axis(&shaft.flange_axis, V::new(0.0, side.outboard(), 0.0)),
            outer_axis: axis(&shaft.outer_axis, spindle),
        }
    }
}

/// The knuckle's place and the spider's slide: what the next step starts from.
#[derive(Clone, Copy, Debug)]
struct State {
    travel_mm: f64,
    rack_mm: f64,
    turn: UnitQuaternion<f64>,
    /// Where the lower ball joint is.
    at: V,
    plunge_mm: f64,
}

/// Every body at one position.
#[derive(Clone, Debug)]
pub struct Pose {
    pub travel_mm: f64,
    pub rack_mm: f64,
    pub knuckle: Isometry3<f64>,
    pub lower_arm: Isometry3<f64>,
    pub upper_arm: Isometry3<f64>,
    pub rack: Isometry3<f64>,
    pub tie_rod: Isometry3<f64>,
    pub damper_upper: Isometry3<f64>,
    pub damper_lower: Isometry3<f64>,
    pub halfshaft: Isometry3<f64>,
    /// Eye to eye.
    pub damper_mm: f64,
    /// Outboard positive.
    pub plunge_mm: f64,
    pub inner_joint_deg: f64,
    pub outer_joint_deg: f64,
}

impl Pose {
    /// The motion of a body, its turning about its own axis left out.
    pub fn of(&self, body: Body) -> Isometry3<f64> {
        match body {
            Body::Frame | Body::Differential | Body::InnerJointHousing | Body::FrontDriveshaft => {
                Isometry3::identity()
            }
            Body::Rack => self.rack,
            Body::LowerArm => self.lower_arm,
            Body::UpperArm => self.upper_arm,
            Body::Knuckle | Body::OuterJointHousing | Body::Wheel => self.knuckle,
            Body::TieRod => self.tie_rod,
            Body::DamperUpper => self.damper_upper,
            Body::DamperLower => self.damper_lower,
            Body::Halfshaft => self.halfshaft,
            Body::Link(_) => unreachable!("this solver has no links"),
        }
    }

    /// A body's point, vehicle coordinates.
    pub fn point(&self, body: Body, p: &V) -> V {
        (self.of(body) * nalgebra::Point3::from(*p)).coords
    }
}

/// The motion that turns a body and takes one of its points from one place to another.
fn moved(turn: UnitQuaternion<f64>, from: V, to: V) -> Isometry3<f64> {
    Isometry3::from_parts(Translation3::from(to - turn * from), turn)
}

/// An arm's turn about its pivots that takes its ball joint from one place to another.
fn arm(pivots: &[V; 2], from: V, to: V) -> Isometry3<f64> {
    let axis = Unit::new_normalize(pivots[1] - pivots[0]);
    let across = |p: V| (p - pivots[0]) - axis.scale((p - pivots[0]).dot(&axis));
    let (a, b) = (across(from), across(to));
    let angle = axis.dot(&a.cross(&b)).atan2(a.dot(&b));
    moved(
        UnitQuaternion::from_axis_angle(&axis, angle),
        pivots[0],
        pivots[0],
    )
}

/// The least rotation from one direction to another.
fn least_turn(from: V, to: V) -> UnitQuaternion<f64> {
    match Rotation3::rotation_between(&from, &to) {
        Some(turn) => UnitQuaternion::from_rotation_matrix(&turn),
        None => UnitQuaternion::identity(),
    }
}

/// Solves for positions, each from the one before.
#[derive(Clone, Debug)]
pub struct Solver {
    pub points: Points,
    last: State,
    home: State,
}

impl Solver {
    /// Stands at the measured position.
    pub fn new(points: Points) -> Solver {
        let home = State {
            travel_mm: 0.0,
            rack_mm: 0.0,
            turn: UnitQuaternion::identity(),
            at: points.lower_ball,
            plunge_mm: 0.0,
        };
        Solver {
            points,
            last: home,
            home,
        }
    }

    /// The pose at a wheel travel and rack position; none where the linkage doesn't get there.
    pub fn pose(&mut self, travel_mm: f64, rack_mm: f64) -> Option<Pose> {
        let far = |s: &State| {
            (s.travel_mm - travel_mm)
                .abs()
                .max((s.rack_mm - rack_mm).abs())
        };
        let from = if far(&self.last) <= far(&self.home) {
            self.last
        } else {
            self.home
        };
        let state = self.walk(from, travel_mm, rack_mm).or_else(|| {
            // A way along the rack first gets round where the straight one leads out of reach.
            let turned = self.walk(self.home, 0.0, rack_mm)?;
            self.walk(turned, travel_mm, rack_mm)
        })?;
        self.last = state;
        Some(self.bodies(&state))
    }

    /// The same by a way from the measured position in small steps, along the rack and then along the travel: there the
    /// linkage stays on the branch that it was measured on.
    pub fn pose_by_steps(&mut self, travel_mm: f64, rack_mm: f64) -> Option<Pose> {
        const STEPS: i32 = 64;
        let share = |i: i32| f64::from(i) / f64::from(STEPS);
        self.last = self.home;
        for i in 1..=STEPS {
            self.pose(0.0, rack_mm * share(i))?;
        }
        let mut out = None;
        for i in 1..=STEPS {
            out = Some(self.pose(travel_mm * share(i), rack_mm)?);
        }
        out
    }

    fn walk(&self, from: State, travel_mm: f64, rack_mm: f64) -> Option<State> {
        let mut at = from;
        let mut step_mm = STEP_MM;
        loop {
            let (dt, dr) = (travel_mm - at.travel_mm, rack_mm - at.rack_mm);
            let left = dt.abs().max(dr.abs());
            let share = if left <= step_mm { 1.0 } else { step_mm / left };
            let (t, r) = if share == 1.0 {
                (travel_mm, rack_mm)
            } else {
                (at.travel_mm + dt * share, at.rack_mm + dr * share)
            };
            match self.newton(&at, t, r) {
                Some(next) if share == 1.0 => return Some(next),
                Some(next) => at = next,
                None if step_mm < LEAST_STEP_MM => return None,
                None => step_mm *= 0.25,
            }
        }
    }

    fn newton(&self, from: &State, travel_mm: f64, rack_mm: f64) -> Option<State> {
        let p = &self.points;
        let rod_inner = p.rod_inner + V::new(0.0, rack_mm, 0.0);
        let rod_mm = (p.rod_outer - p.rod_inner).norm();
        let height_mm = p.wheel_centre.z + travel_mm;
        // Each distance: knuckle point, fixed point, how far apart.
        let apart = |a: V, b: V| (a, b, (a - b).norm());
        let mut held = vec![
            apart(p.lower_ball, p.lower[0]),
            apart(p.lower_ball, p.lower[1]),
            (p.rod_outer, rod_inner, rod_mm),
        ];
        if let Some((pivots, ball)) = p.upper {
            held.extend(pivots.map(|pivot| apart(ball, pivot)));
        }
        // A strut's top mount, a point of the frame, stays on its axis, a line of the knuckle: along two directions square to
        // it they are as far apart as the axis is from itself.
        let axis = (p.damper[0] - p.damper[1]).normalize();
        let first = axis.cross(&V::x()).normalize();
        let square = match p.upper {
            Some(_) => Vec::new(),
            None => vec![first, axis.cross(&first)],
        };
        let mut state = State {
            travel_mm,
            rack_mm,
            ..*from
        };
        for _ in 0..MOST_STEPS {
            let mut error = Vector6::zeros();
            let mut rates = Matrix6::zeros();
            // A point moves with the lower ball joint and turns about it.
            let mut row = |i: usize, spoke: V, along: V, off: f64| {
                error[i] = off;
                rates
                    .fixed_view_mut::<1, 3>(i, 0)
                    .copy_from(&along.transpose());
                rates
                    .fixed_view_mut::<1, 3>(i, 3)
                    .copy_from(&spoke.cross(&along).transpose());
            };
            for (i, (own, fixed, length)) in held.iter().enumerate() {
                let spoke = state.turn * (own - p.lower_ball);
                let between = state.at + spoke - fixed;
                row(i, spoke, between / between.norm(), between.norm() - length);
            }
            for (i, normal) in square.iter().enumerate() {
                let turned = state.turn * normal;
                let to_mount = p.damper[0] - state.at;
                let off = turned.dot(&to_mount) - normal.dot(&(p.damper[1] - p.lower_ball));
                row(held.len() + i, to_mount, -turned, off);
            }
            let spoke = state.turn * (p.wheel_centre - p.lower_ball);
            row(5, spoke, V::z(), state.at.z + spoke.z - height_mm);
            let off = error.amax();
            let step = rates.lu().solve(&-error)?;
            if !step.iter().all(|c| c.is_finite()) {
                return None;
            }
            state.at += V::new(step[0], step[1], step[2]);
            let turn = V::new(step[3], step[4], step[5]);
            state.turn = UnitQuaternion::from_scaled_axis(turn) * state.turn;
            if off <= ERROR_MM {
                // Far from where it began it may stand on another branch.
                let moved = (state.at - from.at).norm();
                if moved > 4.0 * STEP_MM {
                    return None;
                }
                state.plunge_mm = self.plunge(&state, from.plunge_mm)?;
                return Some(state);
            }
        }
        None
    }

    /// The spider's slide along the flange's axis at which the shaft has its length, by Newton's method.
    fn plunge(&self, state: &State, from_mm: f64) -> Option<f64> {
        let p = &self.points;
        let length = (p.outer_joint - p.inner_joint).norm();
        let outer = state.at + state.turn * (p.outer_joint - p.lower_ball);
        let mut plunge = from_mm;
        for _ in 0..MOST_STEPS {
            let shaft = outer - p.inner_joint - p.flange * plunge;
            let off = shaft.norm() - length;
            let rate = -p.flange.dot(&shaft) / shaft.norm();
            if off.abs() <= ERROR_MM {
                return Some(plunge);
            }
            plunge -= off / rate;
            if !plunge.is_finite() {
                return None;
            }
        }
        None
    }

    fn bodies(&self, state: &State) -> Pose {
        let p = &self.points;
        let knuckle = moved(state.turn, p.lower_ball, state.at);
        let on = |body: &Isometry3<f64>, q: &V| (body * nalgebra::Point3::from(*q)).coords;
        let lower_arm = arm(&p.lower, p.lower_ball, state.at);
        let upper_arm = (p.upper).map_or(Isometry3::identity(), |(pivots, ball)| {
            arm(&pivots, ball, on(&knuckle, &ball))
        });
        let slide = V::new(0.0, state.rack_mm, 0.0);
        let rod = [p.rod_inner + slide, on(&knuckle, &p.rod_outer)];
        let rod_turn = least_turn(p.rod_outer - p.rod_inner, rod[1] - rod[0]);
        let carrier = match p.foot {
            Foot::LowerArm => lower_arm,
            Foot::UpperArm => upper_arm,
            Foot::Knuckle | Foot::Strut => knuckle,
        };
        let foot = on(&carrier, &p.damper[1]);
        let damper = foot - p.damper[0];
        let drawn = p.damper[1] - p.damper[0];
        let damper_turn = least_turn(drawn, damper);
        // The lower half is held by what carries its eye; a strut's is one body with the knuckle.
        let lower_half = match p.foot {
            Foot::Strut => knuckle,
            Foot::LowerArm | Foot::UpperArm | Foot::Knuckle => {
                let turn = carrier.rotation;
                moved(
                    turn * least_turn(drawn, turn.inverse() * damper),
                    p.damper[1],
                    foot,
                )
            }
        };
        let spider = p.inner_joint + p.flange * state.plunge_mm;
        let outer = on(&knuckle, &p.outer_joint);
        let shaft = outer - spider;
        let shaft_turn = least_turn(p.outer_joint - p.inner_joint, shaft);
        Pose {
            travel_mm: state.travel_mm,
            rack_mm: state.rack_mm,
            knuckle,
            lower_arm,
            upper_arm,
            rack: Isometry3::translation(0.0, state.rack_mm, 0.0),
            tie_rod: moved(rod_turn, p.rod_outer, rod[1]),
            damper_upper: moved(damper_turn, p.damper[0], p.damper[0]),
            damper_lower: lower_half,
            halfshaft: moved(shaft_turn, p.outer_joint, outer),
            damper_mm: damper.norm(),
            plunge_mm: state.plunge_mm,
            inner_joint_deg: shaft.angle(&p.flange).to_degrees(),
            outer_joint_deg: shaft.angle(&(state.turn * p.outer_axis)).to_degrees(),
        }
    }
}
