//! What holds at a position, by measures that the library has no part in: positions of [`super::independent_pose`],
//! distances of parry3d on its own shapes, limits read off the scene.

// Each test file uses its own part of this module.
#![allow(dead_code)]

use super::independent_pose::{Points, Pose, Solver};
use bindpoint::limits::LimitId;
use bindpoint::scene::{BumpStopOn, Fitted, PartEntry, Point, Roll, Scene, ShapeEntry};
use bindpoint::suspension::{Body, Side};
use nalgebra::{Isometry3, Rotation3, Translation3, Unit, UnitQuaternion, Vector3};
use parry3d::math::{Pose as ParryPose, Vector};
use parry3d::query;
use parry3d::shape::SharedShape;
use std::f64::consts::TAU;

type V = Vector3<f64>;

/// Angles at which a part that turns with its body is looked at, before the nearest is refined.
const TURNS: usize = 90;
/// parry's search looks this far, mm.
const FAR_MM: f64 = 1.0e5;

/// A part as parry knows it.
#[derive(Clone)]
pub struct Solid {
    pub name: String,
    pub body: Body,
    shape: SharedShape,
    /// In its body.
    at: Isometry3<f64>,
    /// The axis that it turns about with its body, a point and a direction, where it isn't round about that.
    axis: Option<(V, Unit<V>)>,
    /// Whether the library makes it of facets, or of the revolution of something: its gaps are a little less than true.
    pub is_facetted: bool,
}

fn turned(entry: &Option<Point>, mirrored: bool) -> Rotation3<f64> {
    let Point(x, y, z) = entry.unwrap_or(Point(0.0, 0.0, 0.0));
    let sense = if mirrored { -1.0 } else { 1.0 };
    Rotation3::from_euler_angles(
        (x * sense).to_radians(),
        y.to_radians(),
        (z * sense).to_radians(),
    )
}

/// The turn that takes parry's y axis to a direction.
fn y_to(direction: V) -> UnitQuaternion<f64> {
    let turn = Rotation3::rotation_between(&V::y(), &direction)
        .unwrap_or_else(|| Rotation3::from_axis_angle(&V::x_axis(), std::f64::consts::PI));
    UnitQuaternion::from_rotation_matrix(&turn)
}

impl Solid {
    /// A part of the scene on a side; none for shapes that aren't known here.
    fn of(entry: &PartEntry, mirrored: bool, points: &Points, scene: &Scene) -> Option<Solid> {
        let p = |p: &Point| V::new(p.0, if mirrored { -p.1 } else { p.1 }, p.2);
        let bar = |from: V, to: V| {
            let middle = Translation3::from((from + to) * 0.5);
            Isometry3::from_parts(middle, y_to(to - from))
        };
        let placed = |at: V, turn: Rotation3<f64>| {
            let turn = UnitQuaternion::from_rotation_matrix(&turn);
            Isometry3::from_parts(Translation3::from(at), turn)
        };
        let is_free = |roll: &Roll| *roll == Roll::Free;
        let may_turn = match entry.on {
            Body::TieRod => is_free(&scene.rack.roll),
            // A strut's tube is one body with the knuckle.
            Body::DamperLower if scene.upper_arm.is_none() => false,
            Body::DamperUpper | Body::DamperLower => is_free(&scene.damper.roll),
            _ => true,
        };
        let axis = points.axis(entry.on).filter(|_| may_turn);
        let is_on = |q: V| axis.is_some_and(|(a, d)| (q - a).cross(&d).norm() < 1.0e-9);
        let (shape, at, is_round) = match &entry.shape {
            ShapeEntry::Ball { centre, radius } => {
                let centre = p(centre);
                let at = Isometry3::translation(centre.x, centre.y, centre.z);
                (SharedShape::ball(*radius), at, is_on(centre))
            }
            ShapeEntry::Capsule { from, to, radius } => {
                let (from, to) = (p(from), p(to));
                let half = 0.5 * (to - from).norm();
                let shape = SharedShape::capsule_y(half, *radius);
                (shape, bar(from, to), is_on(from) && is_on(to))
            }
            ShapeEntry::Cylinder { from, to, radius } => {
                let (from, to) = (p(from), p(to));
                let half = 0.5 * (to - from).norm();
                let shape = SharedShape::cylinder(half, *radius);
                (shape, bar(from, to), is_on(from) && is_on(to))
            }
            ShapeEntry::Box {
                centre,
                size,
                turned_deg,
            } => {
                let shape = SharedShape::cuboid(0.5 * size.0, 0.5 * size.1, 0.5 * size.2);
                (
                    shape,
                    placed(p(centre), turned(turned_deg, mirrored)),
                    false,
                )
            }
            _ => return None,
        };
        let turns = axis.is_some() && !is_round;
        Some(Solid {
            name: entry.name.clone(),
            body: entry.on,
            shape,
            at,
            axis: axis.filter(|_| turns),
            is_facetted: turns || matches!(entry.shape, ShapeEntry::Cylinder { .. }),
        })
    }

    /// Whether it stands for the room that it sweeps as it turns or rolls.
    pub fn turns(&self) -> bool {
        self.axis.is_some()
    }

    /// Its place in the vehicle, turned about its own axis by an angle.
    fn place(&self, pose: &Pose, angle: f64) -> Isometry3<f64> {
        let turn = match &self.axis {
            None => Isometry3::identity(),
            Some((point, axis)) => {
                let turn = UnitQuaternion::from_axis_angle(axis, angle);
                Isometry3::from_parts(Translation3::from(point - turn * point), turn)
            }
        };
        pose.of(self.body) * turn * self.at
    }

    /// Angles to look at: one for a part that is round or doesn't turn.
    fn angles(&self, count: usize) -> Vec<f64> {
        match self.axis {
            None => vec![0.0],
            Some(_) => (0..count).map(|i| TAU * i as f64 / count as f64).collect(),
        }
    }
}

impl Points {
    /// The axis that parts on a body turn about with it, or may roll about.
    fn axis(&self, body: Body) -> Option<(V, Unit<V>)> {
        let (point, direction) = match body {
            Body::Halfshaft => (self.inner_joint, self.outer_joint - self.inner_joint),
            Body::InnerJointHousing => (self.inner_joint, self.flange),
            Body::OuterJointHousing => (self.outer_joint, self.outer_axis),
            Body::Wheel => (self.wheel_centre, self.spindle),
            Body::TieRod => (self.rod_inner, self.rod_outer - self.rod_inner),
            Body::DamperUpper | Body::DamperLower => {
                (self.damper[0], self.damper[1] - self.damper[0])
            }
            _ => return None,
        };
        Some((point, Unit::new_normalize(direction)))
    }
}

fn parry(at: &Isometry3<f64>) -> ParryPose {
    let mut pose = ParryPose::from_translation(Vector::from_array(at.translation.vector.into()));
    let q = at.rotation.quaternion();
    pose.rotation.x = q.i;
    pose.rotation.y = q.j;
    pose.rotation.z = q.k;
    pose.rotation.w = q.w;
    pose
}

/// The gap of two parts at a position, below zero where they overlap, mm. Of parts that turn the least of many angles:
/// never less than the true gap of what they sweep.
pub fn gap_mm(a: &Solid, b: &Solid, pose: &Pose) -> f64 {
    let at = |s: f64, t: f64| {
        let (p, q) = (parry(&a.place(pose, s)), parry(&b.place(pose, t)));
        match query::contact(&p, &*a.shape, &q, &*b.shape, FAR_MM) {
            Ok(Some(contact)) => contact.dist,
            _ => f64::INFINITY,
        }
    };
    let both_turn = a.axis.is_some() && b.axis.is_some();
    let count = if both_turn { TURNS / 3 } else { TURNS };
    let (mut least, mut best) = (f64::INFINITY, (0.0, 0.0));
    for s in a.angles(count) {
        for t in b.angles(count) {
            let gap = at(s, t);
            if gap < least {
                (least, best) = (gap, (s, t));
            }
        }
    }
    // Nearer and nearer to the best angles.
    let mut step = if a.axis.is_some() || b.axis.is_some() {
        TAU / count as f64
    } else {
        0.0
    };
    while step > 1.0e-7 {
        let (ds, dt) = (
            if a.axis.is_some() { step } else { 0.0 },
            if b.axis.is_some() { step } else { 0.0 },
        );
        let around = [(ds, 0.0), (-ds, 0.0), (0.0, dt), (0.0, -dt)];
        let next = around
            .map(|(ds, dt)| (best.0 + ds, best.1 + dt))
            .map(|to| (at(to.0, to.1), to))
            .into_iter()
            .min_by(|x, y| x.0.total_cmp(&y.0));
        match next {
            Some((gap, to)) if gap < least => (least, best) = (gap, to),
            _ => step *= 0.5,
        }
    }
    least
}

/// What a limit measures.
#[derive(Clone, Debug)]
enum Measure {
    DamperAtMost(f64),
    DamperAtLeast(f64),
    Strap([(Body, V); 2], f64),
    InnerJoint(f64),
    OuterJoint(f64),
    PlungeIn(f64),
    PlungeOut(f64),
    /// The allowed field, corners of a convex polygon: plunge, angle in degrees. It stands on angle zero and goes on
    /// below it.
    Field(Vec<(f64, f64)>),
}

/// A limit of the corner.
#[derive(Clone, Debug)]
pub struct LimitMeasure {
    pub id: LimitId,
    pub intended: bool,
    measure: Measure,
}

impl LimitMeasure {
    /// What is left, mm or degrees; below zero when exceeded.
    pub fn margin(&self, pose: &Pose) -> f64 {
        match &self.measure {
            Measure::DamperAtMost(mm) => mm - pose.damper_mm,
            Measure::DamperAtLeast(mm) => pose.damper_mm - mm,
            Measure::Strap([a, b], mm) => {
                mm - (pose.point(a.0, &a.1) - pose.point(b.0, &b.1)).norm()
            }
            Measure::InnerJoint(deg) => deg - pose.inner_joint_deg,
            Measure::OuterJoint(deg) => deg - pose.outer_joint_deg,
            Measure::PlungeIn(mm) => pose.plunge_mm - mm,
            Measure::PlungeOut(mm) => mm - pose.plunge_mm,
            Measure::Field(corners) => field_margin(corners, pose.plunge_mm, pose.inner_joint_deg),
        }
    }
}

/// The distance into a convex polygon whose lower side lies on angle zero: the least to any other side's line.
fn field_margin(corners: &[(f64, f64)], plunge: f64, angle: f64) -> f64 {
    let n = corners.len();
    let area: f64 = (0..n)
        .map(|i| corners[i].0 * corners[(i + 1) % n].1 - corners[(i + 1) % n].0 * corners[i].1)
        .sum();
    let sides = (0..n).filter_map(|i| {
        let (a, b) = (corners[i], corners[(i + 1) % n]);
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let length = dx.hypot(dy);
        // The lower side: angles below zero are none.
        let is_lower = a.1.abs() < 1.0e-9 && b.1.abs() < 1.0e-9;
        let into = (dx * (angle - a.1) - dy * (plunge - a.0)) * area.signum() / length;
        (!is_lower && length > 0.0).then_some(into)
    });
    sides.fold(f64::INFINITY, f64::min)
}

/// A pair that has to keep a gap.
#[derive(Clone, Debug)]
pub struct PairMeasure {
    pub a: usize,
    pub b: usize,
    pub required_mm: f64,
}

/// One corner as it truly is.
#[derive(Clone)]
pub struct Oracle {
    pub solver: Solver,
    pub solids: Vec<Solid>,
    pub limits: Vec<LimitMeasure>,
    pub pairs: Vec<PairMeasure>,
    pub locks: [f64; 2],
}

impl Oracle {
    /// A side of a scene in millimetres, its pairs those that `watch` names without wildcards and every wheel part against
    /// the frame's.
    pub fn of(scene: &Scene, side: Side) -> Oracle {
        let points = Points::of(scene, side);
        let mirrored = side != scene.side;
        let fitted = |part: &&PartEntry| match part.fitted {
            Fitted::EachSide | Fitted::Once => true,
            Fitted::Left => side == Side::Left,
            Fitted::Right => side == Side::Right,
        };
        let mut solids: Vec<Solid> = scene
            .parts
            .iter()
            .filter(fitted)
            .filter_map(|part| {
                let is_mirrored = mirrored && part.fitted == Fitted::EachSide;
                Solid::of(part, is_mirrored, &points, scene)
            })
            .collect();
        let other = &scene.other_side;
        let damper = (other.damper.as_ref().filter(|_| mirrored)).unwrap_or(&scene.damper);
        let shaft = (other.halfshaft.as_ref().filter(|_| mirrored)).unwrap_or(&scene.halfshaft);
        let between = points.outer_joint - points.inner_joint;
        solids.push(Solid {
            name: "halfshaft".into(),
            body: Body::Halfshaft,
            shape: SharedShape::capsule_y(0.5 * between.norm(), 0.5 * shaft.diameter),
            at: Isometry3::from_parts(
                Translation3::from((points.inner_joint + points.outer_joint) * 0.5),
                y_to(between),
            ),
            axis: None,
            is_facetted: false,
        });
        let mut limits = Vec::new();
        let mut limit = |id, intended, measure| {
            limits.push(LimitMeasure {
                id,
                intended,
                measure,
            });
        };
        limit(
            LimitId::DamperExtended,
            true,
            Measure::DamperAtMost(damper.extended),
        );
        limit(
            LimitId::DamperCompressed,
            true,
            Measure::DamperAtLeast(damper.compressed),
        );
        if let Some(stop) = &damper.bump_stop {
            let is_by_damper = stop.ends.is_none() && stop.on != Some(BumpStopOn::Rod);
            assert!(is_by_damper, "bump stops by the damper's length only");
            limit(
                LimitId::BumpStopCrushed,
                true,
                Measure::DamperAtLeast(stop.crushed),
            );
        }
        if let Some(strap) = &damper.strap {
            let own = mirrored && other.damper.is_none();
            let end = |end: &bindpoint::scene::End| {
                let Point(x, y, z) = end.at;
                (end.on, V::new(x, if own { -y } else { y }, z))
            };
            let ends = [end(&strap.ends.0), end(&strap.ends.1)];
            limit(
                LimitId::LimitStrap,
                true,
                Measure::Strap(ends, strap.length),
            );
        }
        limit(
            LimitId::InnerJointAngle,
            false,
            Measure::InnerJoint(shaft.inner_limit_deg),
        );
        limit(
            LimitId::OuterJointAngle,
            false,
            Measure::OuterJoint(shaft.outer_limit_deg),
        );
        // A polygon narrower than the plunge's own ends ends it.
        let along = shaft.plunge_polygon.iter().map(|c| c.0);
        let [inner, outer] = if shaft.plunge_polygon.is_empty() {
            [f64::NEG_INFINITY, f64::INFINITY]
        } else {
            [
                along.clone().fold(f64::INFINITY, f64::min),
                along.fold(f64::NEG_INFINITY, f64::max),
            ]
        };
        limit(
            LimitId::PlungeIn,
            false,
            Measure::PlungeIn(shaft.plunge.inner.max(inner)),
        );
        limit(
            LimitId::PlungeOut,
            false,
            Measure::PlungeOut(shaft.plunge.outer.min(outer)),
        );
        if !shaft.plunge_polygon.is_empty() {
            limit(
                LimitId::PlungeField,
                false,
                Measure::Field(shaft.plunge_polygon.clone()),
            );
        }
        let mut pairs = Vec::new();
        let at_rest = |body: Body| {
            matches!(
                body,
                Body::Frame | Body::Differential | Body::InnerJointHousing
            )
        };
        for a in 0..solids.len() {
            for b in a + 1..solids.len() {
                let (x, y) = (&solids[a], &solids[b]);
                let named =
                    scene.watch.iter().rev().find(|w| {
                        (w.a == x.name && w.b == y.name) || (w.a == y.name && w.b == x.name)
                    });
                let is_rub = (x.body == Body::Wheel && at_rest(y.body))
                    || (y.body == Body::Wheel && at_rest(x.body));
                let required_mm = match named {
                    Some(entry) => entry.gap,
                    None if is_rub => 0.0,
                    None => continue,
                };
                if x.body != y.body {
                    pairs.push(PairMeasure { a, b, required_mm });
                }
            }
        }
        Oracle {
            locks: [-scene.rack.travel.right, scene.rack.travel.left],
            solver: Solver::new(points),
            solids,
            limits,
            pairs,
        }
    }

    /// The least margin of the stops that a maker means, at a pose.
    pub fn intended(&self, pose: &Pose) -> f64 {
        let intended = self.limits.iter().filter(|l| l.intended);
        intended
            .map(|l| l.margin(pose))
            .fold(f64::INFINITY, f64::min)
    }

    /// The gap of a pair.
    pub fn gap(&self, pair: &PairMeasure, pose: &Pose) -> f64 {
        gap_mm(&self.solids[pair.a], &self.solids[pair.b], pose)
    }

    /// The travel at which the first intended stop is met at a rack position, upward or downward.
    pub fn stop_travel(&mut self, rack_mm: f64, sign: f64) -> Option<f64> {
        let mut good = 0.0;
        let mut step = 2.0;
        while step > 1.0e-9 {
            let next = good + sign * step;
            let pose = self.solver.pose(next, rack_mm)?;
            if self.intended(&pose) > 0.0 {
                good = next;
                if good.abs() > 400.0 {
                    return None;
                }
            } else {
                step *= 0.5;
            }
        }
        Some(good)
    }

    /// The pose at a position if the locks and every intended stop are kept there.
    pub fn inside(&mut self, travel_mm: f64, rack_mm: f64) -> Option<Pose> {
        if !(self.locks[0]..=self.locks[1]).contains(&rack_mm) {
            return None;
        }
        let pose = self.solver.pose(travel_mm, rack_mm)?;
        (self.intended(&pose) > 0.0).then_some(pose)
    }

    /// Whether every intended stop is kept along the rack from the measured position, and then along the travel.
    pub fn is_way_there(&mut self, travel_mm: f64, rack_mm: f64) -> bool {
        const STEPS: i32 = 16;
        let share = |i: i32| f64::from(i) / f64::from(STEPS);
        (1..=STEPS).all(|i| self.inside(0.0, rack_mm * share(i)).is_some())
            && (1..=STEPS).all(|i| self.inside(travel_mm * share(i), rack_mm).is_some())
    }
}
