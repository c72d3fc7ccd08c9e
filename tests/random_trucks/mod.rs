//! Whole scenes of invented trucks, as RON text: proportions drawn wide around the trade's, from compact to full-size,
//! in inches or millimetres, measured from any origin, with static toe and camber, unequal shafts, drawn parts of every
//! kind on every body, meshes, setups and watch lists.
//!
//! They are good trucks: kingpin, caster, scrub radius, bump steer, damper and halfshaft lie where the trade has them, the
//! tie rod's inner end lies where it makes little bump steer, drawn parts begin and end at the points that they join, and
//! nothing overlaps as measured. One seed gives one truck, with its meshes, on every machine. Source of the proportions:
//! common practice about the demo trucks, no source for the widths.

// Each test file uses its own part of this module.
#![allow(dead_code)]

use super::dice::Dice;
use bindpoint::scene::{Scene, scene_from_text};
use bindpoint::suspension::{ArmPoints, DamperFoot, Hardpoints, Mechanism, UpperLink};
use bindpoint::truck::{MeshStore, Truck, assemble_setup};
use nalgebra::Vector3;
use std::fmt::Write as _;
use std::path::Path;

type V = Vector3<f64>;

/// One truck.
pub struct RandomTruck {
    /// What it was drawn from.
    pub seed: u64,
    /// The scene.
    pub text: String,
    /// Millimetres in one of its units.
    pub unit_mm: f64,
}

impl RandomTruck {
    /// The scene as read.
    pub fn scene(&self) -> Scene {
        scene_from_text(&self.text, Path::new("random.ron")).expect("a random truck reads")
    }
}

/// More draws than this for one good truck mean that the ranges below contradict each other.
const MOST_DRAWS: usize = 400;
/// Parts taken off again, one at a time, until nothing overlaps.
const MOST_PARTS_OFF: usize = 6;

/// The truck of a seed. Its meshes are written to `folder`, where the scene is to be read from.
pub fn random_truck(seed: u64, folder: &Path) -> RandomTruck {
    let mut dice = Dice::new(seed.wrapping_mul(0x2545_f491_4f6c_dd1d) ^ 0x6a09_e667);
    for _ in 0..MOST_DRAWS {
        let Some(design) = Design::draw(&mut dice) else {
            continue;
        };
        let mut draft = Draft::of(&design, seed, &mut dice);
        for (name, text) in &draft.meshes {
            std::fs::write(folder.join(name), text).expect("a mesh is written");
        }
        if draft.settle(folder) {
            return RandomTruck {
                seed,
                text: draft.text(),
                unit_mm: design.unit.scale,
            };
        }
    }
    panic!("seed {seed}: no good truck in {MOST_DRAWS} draws");
}

/// How the truck is measured.
#[derive(Clone, Copy)]
struct Unit {
    name: &'static str,
    /// Millimetres.
    scale: f64,
    /// What numbers are rounded to, in the unit itself.
    step: f64,
}

impl Unit {
    fn draw(dice: &mut Dice) -> Unit {
        let (name, scale, steps) = match dice.below(2) {
            0 => ("mm", 1.0, [1.0, 0.5, 0.1]),
            _ => ("inch", 25.4, [0.0625, 0.03125, 0.01]),
        };
        let step = steps[dice.below(3)];
        Unit { name, scale, step }
    }
    /// Rounded as a tape is read, mm.
    fn snap(self, mm: f64) -> f64 {
        (mm / self.scale / self.step).round() * self.step * self.scale
    }
    fn snap_point(self, p: V) -> V {
        p.map(|c| self.snap(c))
    }
    /// As written.
    fn write(self, mm: f64) -> String {
        let value = (mm / self.scale * 1.0e5).round() / 1.0e5;
        format!("{}", value + 0.0)
    }
    fn point(self, p: V) -> String {
        format!(
            "({}, {}, {})",
            self.write(p.x),
            self.write(p.y),
            self.write(p.z)
        )
    }
}

/// Tyre sizes: code, diameter and width in mm, rim in inches.
const TYRES: [(&str, f64, f64, f64); 12] = [
    ("215/75R15", 703.5, 215.0, 15.0),
    ("235/75R15", 733.5, 235.0, 15.0),
    ("31x10.50R15", 787.4, 266.7, 15.0),
    ("245/70R16", 749.4, 245.0, 16.0),
    ("265/75R16", 803.9, 265.0, 16.0),
    ("285/75R16", 833.9, 285.0, 16.0),
    ("265/65R17", 776.3, 265.0, 17.0),
    ("265/70R17", 802.8, 265.0, 17.0),
    ("285/70R17", 830.8, 285.0, 17.0),
    ("33x12.50R17", 838.2, 317.5, 17.0),
    ("275/70R18", 842.2, 275.0, 18.0),
    ("35x12.50R18", 889.0, 317.5, 18.0),
];

/// A truck's points, mm, left corner; and what else its parts are drawn from.
struct Design {
    unit: Unit,
    /// The described corner is the right one.
    is_right: bool,
    tyre: (&'static str, f64, f64, f64),
    /// How far the wheel is toed in and cambered, degrees.
    toe_deg: f64,
    camber_deg: f64,
    loaded: f64,
    h: Hardpoints,
    /// Fore (1) or aft (-1) of the axle.
    rack_side: f64,
    rack_travel: f64,
    /// How far in x the damper stands from the shaft; zero: its fork straddles the shaft.
    damper_aside: f64,
    /// Inner joint's y on the other side, where it differs.
    other_inner_y: Option<f64>,
    /// Damper's room to extend and to close, mm.
    room: [f64; 2],
}

impl Design {
    /// A design; none where what was drawn doesn't go together.
    fn draw(dice: &mut Dice) -> Option<Design> {
        let unit = Unit::draw(dice);
        let tyre = TYRES[dice.below(TYRES.len())];
        let (_, diameter, width, rim) = tyre;
        // Big tyres stand under wide trucks.
        let half_track = 690.0 + (diameter - 700.0) * 0.7 + dice.between(0.0, 110.0);
        let size = half_track / 815.0;
        let loaded = unit.snap(0.5 * diameter * dice.between(0.95, 0.975));
        // Measured from the ground at the axle, or from some datum on the frame.
        let (ahead, up) = match dice.below(4) {
            0 => (dice.between(-1500.0, 1500.0), dice.between(-650.0, 300.0)),
            1 => (0.0, dice.between(0.0, 30.0)),
            _ => (0.0, 0.0),
        };
        let wheel = unit.snap_point(V::new(ahead, half_track, loaded + up));
        let within_rim = 12.7 * rim - 55.0;

        let below = dice.between(80.0, 120.0_f64.min(within_rim - 20.0));
        let inboard = 0.5 * width * dice.between(0.52, 0.85);
        let lower_ball =
            unit.snap_point(wheel + V::new(dice.between(-15.0, 15.0), -inboard, -below));
        let is_tall = dice.below(4) != 0;
        let height = if is_tall {
            below + 0.5 * rim * 25.4 + dice.between(35.0, 110.0)
        } else {
            below + dice.between(80.0, within_rim)
        };
        let inclination = dice.between(6.0, 13.5_f64).to_radians();
        let caster = dice.between(1.5, 7.0_f64).to_radians();
        let upper_ball =
            unit.snap_point(lower_ball + V::new(-caster.tan(), -inclination.tan(), 1.0) * height);
        let scrub = inboard - (loaded - below) * inclination.tan();
        let is_beside_tyre = wheel.y - upper_ball.y > 0.5 * width + 18.0;
        if !(-15.0..=95.0).contains(&scrub) || is_tall && !is_beside_tyre {
            return None;
        }

        let lower_y = half_track * dice.between(0.35, 0.46);
        let lower_base = [0, 1].map(|_| dice.between(115.0, 230.0) * size);
        let lower_up = dice.between(15.0, 70.0);
        let askew = dice.between(-12.0, 12.0);
        let lower_front = unit.snap_point(V::new(
            lower_ball.x + lower_base[0],
            lower_y,
            lower_ball.z + lower_up,
        ));
        let lower_rear = unit.snap_point(V::new(
            lower_ball.x - lower_base[1],
            lower_y + askew,
            lower_ball.z + lower_up - dice.between(-8.0, 20.0),
        ));
        let rack_side = [1.0, -1.0][dice.below(2)];
        let damper_aside = if dice.below(2) == 0 {
            0.0
        } else {
            -rack_side * dice.between(78.0, 95.0)
        };
        let upper_y = half_track * dice.between(0.48, 0.58);
        let upper_up = dice.between(0.0, 55.0);
        let upper_base = [1.0, -1.0].map(|side: f64| {
            // The damper goes up between the legs.
            let for_damper = (side * damper_aside).max(0.0);
            for_damper + dice.between(85.0, 145.0)
        });
        let askew = dice.between(-8.0, 10.0);
        let upper_front = unit.snap_point(V::new(
            upper_ball.x + upper_base[0],
            upper_y,
            upper_ball.z - upper_up,
        ));
        let upper_rear = unit.snap_point(V::new(
            upper_ball.x - upper_base[1],
            upper_y + askew,
            upper_ball.z - upper_up - dice.between(2.0, 20.0),
        ));
        let reach = [lower_ball.y - lower_y, upper_ball.y - upper_y];
        if reach[0] < 280.0 || reach[1] < 150.0 || reach[1] > 0.85 * reach[0] {
            return None;
        }

        let arm = dice.between(115.0, 165.0);
        let tie_rod_outer = unit.snap_point(V::new(
            wheel.x + rack_side * arm,
            lower_ball.y - rack_side.min(0.0) * dice.between(-45.0, -5.0)
                + rack_side.max(0.0) * dice.between(-30.0, 0.0),
            lower_ball.z + dice.between(40.0, 105.0),
        ));
        let (toe_deg, camber_deg) = match dice.below(3) {
            0 => (0.0, 0.0),
            _ => (
                (dice.between(0.0, 0.25) * 100.0).round() / 100.0,
                (dice.between(-1.0, 0.5) * 10.0).round() / 10.0,
            ),
        };
        let spindle = bindpoint::scene::Spindle::Static {
            toe_deg,
            camber_deg,
        };
        let spindle = V::from(spindle.direction(bindpoint::suspension::Side::Left));
        let outer_joint = unit.snap_point(wheel - spindle * (inboard + dice.between(5.0, 30.0)));
        let inner_joint = unit.snap_point(V::new(
            wheel.x + dice.between(-12.0, 12.0),
            half_track * dice.between(0.22, 0.32),
            wheel.z + dice.between(0.0, 40.0),
        ));
        let along = dice.between(0.5, 0.68);
        let mut damper_lower = lower_front + (lower_ball - lower_front) * along;
        damper_lower.x = wheel.x + damper_aside + dice.between(-8.0, 8.0);
        damper_lower.z += dice.between(18.0, 40.0);
        let damper_lower = unit.snap_point(damper_lower);
        let damper_upper = unit.snap_point(
            damper_lower
                + V::new(
                    dice.between(-30.0, 12.0),
                    -dice.between(60.0, 115.0),
                    // The top eye stands above the upper arm.
                    (upper_ball.z - damper_lower.z + dice.between(60.0, 140.0)).max(380.0),
                ),
        );
        let upper = ArmPoints {
            front: upper_front,
            rear: upper_rear,
            ball: upper_ball,
        };
        let mut h = Hardpoints {
            lower_front,
            lower_rear,
            lower_ball,
            upper: UpperLink::Arm(upper),
            tie_rod_inner: tie_rod_outer - V::new(0.0, 340.0, -20.0),
            tie_rod_outer,
            wheel_centre: wheel,
            spindle_axis: spindle,
            damper_upper,
            damper_lower,
            damper_foot: DamperFoot::LowerArm,
            outer_joint,
            outer_axis: spindle,
            inner_joint,
            flange_axis: V::y(),
        };
        let inner = without_bump_steer(&h, tie_rod_outer.x + dice.between(-15.0, 15.0))?;
        let off = V::new(0.0, dice.between(-8.0, 8.0), dice.between(-1.5, 1.5));
        h.tie_rod_inner = unit.snap_point(inner + off);
        let inner_y = h.tie_rod_inner.y / half_track;
        let rod = tie_rod_outer.y - h.tie_rod_inner.y;
        if !(0.3..=0.56).contains(&inner_y) || rod < 200.0 {
            return None;
        }
        let steer_radius = (tie_rod_outer - lower_ball).xy().norm();
        let rack_travel = unit.snap(steer_radius * dice.between(0.48, 0.58));
        let room = [dice.between(35.0, 60.0), dice.between(50.0, 75.0)].map(|mm| unit.snap(mm));
        let design = Design {
            unit,
            is_right: dice.below(6) == 0,
            tyre,
            toe_deg,
            camber_deg,
            loaded,
            h,
            rack_side,
            rack_travel,
            damper_aside,
            other_inner_y: (dice.below(3) == 0)
                .then(|| unit.snap(inner_joint.y + dice.between(-60.0, 60.0))),
            room,
        };
        design.is_good().then_some(design)
    }

    /// Whether it moves as a good truck does: it reaches both locks and 60 mm each way, and bump steer is small.
    fn is_good(&self) -> bool {
        let Ok(linkage) = Mechanism::new(self.h.clone()) else {
            return false;
        };
        let heading = |alpha: f64, rack: f64| {
            let pose = linkage.solve(alpha, rack);
            if pose.out_of_reach().is_some() {
                return None;
            }
            let spindle = pose.knuckle.direction(&self.h.spindle_axis);
            let camber = (-spindle.z).asin().to_degrees();
            Some((
                (-spindle.x).atan2(spindle.y).to_degrees(),
                pose.wheel_centre.z,
                camber,
            ))
        };
        let Some((straight, z, upright)) = heading(0.0, 0.0) else {
            return false;
        };
        let at_locks = [-1.0, 1.0].map(|s| {
            let steered = [-0.22, 0.0, 0.18].map(|alpha| heading(alpha, s * self.rack_travel));
            steered.iter().all(Option::is_some)
                && steered[1]
                    .is_some_and(|(deg, ..)| (24.0..42.0).contains(&(deg - straight).abs()))
        });
        let stays = [-0.15, -0.08, 0.08, 0.15].iter().all(|alpha| {
            heading(*alpha, 0.0).is_some_and(|(deg, at, camber)| {
                let travel = (at - z).abs();
                // A twelfth of a degree an inch, and what the rod's curve leaves; camber gains 1.2 an inch at most.
                (deg - straight).abs() < 0.1 + 0.003 * travel
                    && (camber - upright).abs() < 0.2 + 0.047 * travel
            })
        });
        at_locks == [true; 2] && stays
    }
}

/// The upper arm's points.
fn upper_arm(h: &Hardpoints) -> ArmPoints {
    *h.upper_arm().unwrap_or_else(|| panic!("no upper arm"))
}

/// Where in the plane of `x` the tie rod's inner end makes no bump steer: alike far from the outer end of a knuckle that
/// doesn't steer, at three heights.
fn without_bump_steer(h: &Hardpoints, x: f64) -> Option<V> {
    let linkage = Mechanism::new(h.clone()).ok()?;
    let heading = |alpha: f64, rack: f64| {
        let pose = linkage.solve(alpha, rack);
        pose.out_of_reach().is_none().then(|| {
            let s = pose.knuckle.direction(&h.spindle_axis);
            (s.x, pose.tie_rod_outer)
        })
    };
    let straight = heading(0.0, 0.0)?.0;
    let outer_at = |alpha: f64| {
        // The rack that keeps the wheel straight, by the secant rule.
        let (mut a, mut b) = (-2.0, 2.0);
        let (mut fa, mut fb) = (
            heading(alpha, a)?.0 - straight,
            heading(alpha, b)?.0 - straight,
        );
        for _ in 0..12 {
            if (fb - fa).abs() < 1.0e-14 {
                break;
            }
            let c = b - fb * (b - a) / (fb - fa);
            (a, fa) = (b, fb);
            (b, fb) = (c, heading(alpha, c)?.0 - straight);
        }
        heading(alpha, b).map(|(_, p)| p)
    };
    let (down, here, up) = (outer_at(-0.12)?, outer_at(0.0)?, outer_at(0.12)?);
    // |p - q|^2 alike for three q in the plane of x: two straight lines in y and z.
    let row = |q: V, r: V| {
        let d = q - r;
        let right = 0.5 * (q.norm_squared() - r.norm_squared()) - d.x * x;
        (d.y, d.z, right)
    };
    let (a, b) = (row(up, here), row(down, here));
    let det = a.0 * b.1 - a.1 * b.0;
    let y = (a.2 * b.1 - a.1 * b.2) / det;
    let z = (a.0 * b.2 - a.2 * b.0) / det;
    (y.is_finite() && z.is_finite()).then(|| V::new(x, y, z))
}

/// A drawn part.
#[derive(Clone)]
struct DrawnPart {
    name: String,
    on: &'static str,
    shape: String,
    rest: String,
}

/// A scene in the making.
struct Draft {
    head: String,
    parts: Vec<DrawnPart>,
    watch: String,
    joined: Vec<(&'static str, &'static str, &'static str)>,
    tail: String,
    setups: Vec<String>,
    /// Names and texts of its mesh files.
    meshes: Vec<(String, String)>,
}

/// Writes what a design's points say.
struct Pen<'a> {
    d: &'a Design,
    seed: u64,
    meshes: Vec<(String, String)>,
}

impl Pen<'_> {
    fn at(&self, p: V) -> V {
        let side = if self.d.is_right { -1.0 } else { 1.0 };
        self.d.unit.snap_point(V::new(p.x, side * p.y, p.z))
    }
    fn point(&self, p: V) -> String {
        self.d.unit.point(self.at(p))
    }
    /// A point of the other corner, given as this one's.
    fn point_there(&self, p: V) -> String {
        self.point(V::new(p.x, -p.y, p.z))
    }
    fn mm(&self, mm: f64) -> String {
        self.d.unit.write(
            self.d
                .unit
                .snap(mm)
                .max(self.d.unit.step * self.d.unit.scale),
        )
    }
    fn signed(&self, mm: f64) -> String {
        self.d.unit.write(self.d.unit.snap(mm))
    }
    /// Finer than a tape: calipers.
    fn fine(&self, mm: f64) -> String {
        let unit = self.d.unit;
        unit.write((mm / unit.scale * 100.0).round() / 100.0 * unit.scale)
    }
    fn bar(&self, kind: &str, from: V, to: V, radius: f64) -> String {
        let (from, to, r) = (self.point(from), self.point(to), self.fine(radius));
        format!("{kind}(from: {from}, to: {to}, radius: {r})")
    }
    fn block(&self, centre: V, size: V) -> String {
        let size = self.d.unit.point(self.d.unit.snap_point(size));
        format!("Box(centre: {}, size: {size})", self.point(centre))
    }
    fn hull(&self, points: &[V]) -> String {
        let points: Vec<String> = points.iter().map(|p| self.point(*p)).collect();
        format!("Hull(points: [{}])", points.join(", "))
    }
    fn profile(&self, corners: &[(f64, f64)]) -> String {
        // Along the axis, outboard: it needs no mirror.
        let all: Vec<String> = corners
            .iter()
            .map(|(along, radius)| format!("({}, {})", self.fine(*along), self.fine(*radius)))
            .collect();
        all.join(", ")
    }
    /// A lathe on its body's own axis, or drawn there where that axis lies along y.
    fn lathe(&self, from: V, is_along_y: bool, corners: &[(f64, f64)], dice: &mut Dice) -> String {
        let profile = self.profile(corners);
        if is_along_y && dice.below(2) == 0 {
            let axis = if self.d.is_right {
                "(0, -1, 0)"
            } else {
                "(0, 1, 0)"
            };
            return format!(
                "Lathe(from: {}, axis: {axis}, profile: [{profile}])",
                self.point(from)
            );
        }
        format!("Lathe(profile: [{profile}])")
    }
    /// A mesh of boxes between pairs of corners, in a file of its own.
    fn mesh(&mut self, name: &str, boxes: &[[V; 2]], dice: &mut Dice) -> String {
        let mut text = String::from("# made for a test\n");
        let (unit, scale) = [("mm", 1.0), ("inch", 25.4), ("cm", 10.0)][dice.below(3)];
        for (i, [low, high]) in boxes.iter().enumerate() {
            for k in 0..8_usize {
                let pick = |axis: usize| {
                    if k >> axis & 1 == 0 {
                        low[axis]
                    } else {
                        high[axis]
                    }
                };
                let p = self.at(V::new(pick(0), pick(1), pick(2))) / scale;
                let _ = writeln!(text, "v {:.5} {:.5} {:.5}", p.x, p.y, p.z);
            }
            let faces = [
                [0, 2, 3],
                [0, 3, 1],
                [4, 5, 7],
                [4, 7, 6],
                [0, 1, 5],
                [0, 5, 4],
                [2, 6, 7],
                [2, 7, 3],
                [0, 4, 6],
                [0, 6, 2],
                [1, 3, 7],
                [1, 7, 5],
            ];
            for mut f in faces {
                if self.d.is_right {
                    f.swap(1, 2);
                }
                let [a, b, c] = f.map(|v| v + 1 + 8 * i);
                let _ = writeln!(text, "f {a} {b} {c}");
            }
        }
        let file = format!("truck_{}_{name}.obj", self.seed);
        self.meshes.push((file.clone(), text));
        format!("Mesh(file: \"{file}\", unit: {unit})")
    }
}

impl Draft {
    #[allow(clippy::too_many_lines)]
    fn of(d: &Design, seed: u64, dice: &mut Dice) -> Draft {
        let mut pen = Pen {
            d,
            seed,
            meshes: Vec::new(),
        };
        let h = &d.h;
        let (_, diameter, width, rim) = d.tyre;
        let mut parts: Vec<DrawnPart> = Vec::new();
        let mut joined = Vec::new();
        let mut add = |name: &str, on: &'static str, shape: String, rest: &str| {
            let (name, rest) = (name.to_owned(), rest.to_owned());
            parts.push(DrawnPart {
                name,
                on,
                shape,
                rest,
            });
        };
        let short = |from: V, to: V, by: f64| to - (to - from).normalize() * by;

        // Arms: a leg from each bushing to shortly before the ball joint.
        let legs = [
            (
                "lower arm",
                "lower_arm",
                [h.lower_front, h.lower_rear],
                h.lower_ball,
                dice.between(14.0, 20.0),
                48.0,
            ),
            (
                "upper arm",
                "upper_arm",
                [upper_arm(h).front, upper_arm(h).rear],
                upper_arm(h).ball,
                dice.between(10.0, 14.0),
                40.0,
            ),
        ];
        for (arm, on, pivots, ball, radius, before) in legs {
            for (leg, pivot) in ["front leg", "rear leg"].iter().zip(pivots) {
                let kind = ["Capsule", "Capsule", "Cylinder"][dice.below(3)];
                let end = short(pivot, ball, before);
                let shape = match dice.below(7) {
                    0 => {
                        let c = (pen.point(pivot), pen.point(end));
                        let r = [1.1, 0.9].map(|k| pen.fine(k * radius));
                        format!(
                            "Cone(from: {}, to: {}, radius_from: {}, radius_to: {})",
                            c.0, c.1, r[0], r[1]
                        )
                    }
                    _ => pen.bar(kind, pivot, end, radius),
                };
                add(&format!("{arm} {leg}"), on, shape, "");
            }
        }
        if dice.below(2) == 0 {
            add(
                "lower ball joint housing",
                "lower_arm",
                {
                    format!(
                        "Ball(centre: {}, radius: {})",
                        pen.point(h.lower_ball),
                        pen.fine(21.0)
                    )
                },
                "",
            );
            joined.push((
                "lower ball joint housing",
                "*",
                "the ball joint's cone is checked as an angle",
            ));
        }
        if dice.below(2) == 0 {
            let top = upper_arm(h).ball + V::new(0.0, -26.0, 10.0);
            add(
                "upper ball joint housing",
                "upper_arm",
                pen.bar("Cylinder", top, top + V::z() * 14.0, 13.0),
                "",
            );
            joined.push((
                "upper ball joint housing",
                "knuckle*",
                "the ball joint's cone is checked as an angle",
            ));
        }
        if dice.below(3) == 0 {
            let gusset = (h.lower_front + h.lower_rear) * 0.25 + h.lower_ball * 0.5;
            add(
                "arm gusset",
                "lower_arm",
                pen.block(gusset, V::new(60.0, 50.0, 8.0)),
                "",
            );
        }
        if dice.below(4) == 0 {
            let foot = h.lower_front * 0.35 + h.lower_ball * 0.65 + V::new(20.0, 0.0, 25.0);
            add(
                "sway bar link",
                "lower_arm",
                pen.bar("Capsule", foot, foot + V::new(25.0, -20.0, 150.0), 7.0),
                "",
            );
        }

        // The upright goes round the outer joint, in two pieces and a steering arm.
        let on_kingpin = |z: f64| {
            let k = (z - h.lower_ball.z) / (upper_arm(h).ball.z - h.lower_ball.z);
            h.lower_ball + (upper_arm(h).ball - h.lower_ball) * k
        };
        let hub_z = h.wheel_centre.z;
        let above = on_kingpin((hub_z + 85.0).min(upper_arm(h).ball.z - 45.0)) + V::y() * 8.0;
        if upper_arm(h).ball.z - hub_z > 140.0 {
            let top = on_kingpin(upper_arm(h).ball.z - 34.0) + V::y() * 4.0;
            let shape = match dice.below(3) {
                0 => pen.hull(&[
                    above + V::new(14.0, 0.0, 0.0),
                    above - V::new(14.0, 0.0, 0.0),
                    above + V::y() * 18.0,
                    top + V::new(11.0, 0.0, 0.0),
                    top - V::new(11.0, 0.0, 0.0),
                    top + V::y() * 14.0,
                ]),
                1 => {
                    let [a, b] = [above, top].map(|p| p + V::y() * 6.0);
                    let (low, high) = (a.inf(&b), a.sup(&b));
                    pen.mesh(
                        "upright",
                        &[[low - V::repeat(11.0), high + V::new(11.0, 11.0, 6.0)]],
                        dice,
                    )
                }
                _ => pen.bar("Capsule", above, top, 14.0),
            };
            add("knuckle upright", "knuckle", shape, "");
        }
        let eye = h.tie_rod_outer + V::y() * 36.0;
        let root = V::new(
            h.wheel_centre.x + d.rack_side * 82.0,
            h.lower_ball.y + 22.0,
            h.tie_rod_outer.z,
        );
        add(
            "knuckle steering arm",
            "knuckle",
            pen.bar("Capsule", eye, root, 10.0),
            "",
        );
        if dice.below(3) == 0 {
            let centre = h.wheel_centre + V::new(-d.rack_side * 105.0, -30.0, 40.0);
            add(
                "brake caliper",
                "knuckle",
                pen.block(centre, V::new(45.0, 50.0, 80.0)),
                "",
            );
        }

        let rod = pen.bar(
            "Capsule",
            h.tie_rod_inner,
            short(h.tie_rod_inner, h.tie_rod_outer, 30.0),
            dice.between(7.5, 10.0),
        );
        add("tie rod", "tie_rod", rod, "");
        if dice.below(3) == 0 {
            let from = V::new(
                h.tie_rod_inner.x,
                h.tie_rod_inner.y - d.rack_travel - 45.0,
                h.tie_rod_inner.z,
            );
            let to = V::new(from.x, -from.y, from.z);
            add(
                "rack tube",
                "frame",
                pen.bar("Cylinder", from, to, 24.0),
                ", fitted: once",
            );
        }

        // Damper: its body and spring on the line between the eyes; a fork where it stands over the shaft.
        let up = h.damper_upper - h.damper_lower;
        let on_line = |k: f64| h.damper_lower + up * k;
        let is_fork = d.damper_aside == 0.0;
        let spring_radius = dice.between(36.0, 46.0);
        if is_fork {
            let head = (h.wheel_centre.z + 85.0 - h.damper_lower.z) / up.z;
            for (name, aside) in [("damper fork front", 1.0), ("damper fork rear", -1.0)] {
                let [a, b] = [0.0, head].map(|k| on_line(k) + V::x() * aside * 50.0);
                add(name, "damper_lower", pen.bar("Capsule", a, b, 9.0), "");
            }
            add(
                "damper body",
                "damper_lower",
                pen.bar("Cylinder", on_line(head), on_line(head + 0.28), 24.0),
                "",
            );
            add(
                "spring",
                "damper_upper",
                pen.bar(
                    "Cylinder",
                    on_line(head + 0.13),
                    on_line(0.96),
                    spring_radius,
                ),
                "",
            );
            joined.push((
                "damper fork*",
                "lower arm*",
                "the fork is bolted between the arm's legs",
            ));
            joined.push(("damper fork*", "spring", "both are the damper"));
        } else {
            add(
                "damper body",
                "damper_lower",
                pen.bar("Cylinder", on_line(0.08), on_line(0.55), 24.0),
                "",
            );
            add(
                "spring",
                "damper_upper",
                pen.bar("Cylinder", on_line(0.42), on_line(0.96), spring_radius),
                "",
            );
            joined.push((
                "damper body",
                "lower arm*",
                "the damper is bolted to the arm",
            ));
        }
        joined.push(("damper body", "spring", "the spring surrounds the damper"));
        if dice.below(3) == 0 {
            let at = on_line(0.97);
            let (a, b) = (pen.point(at), pen.point(at + up.normalize() * 22.0));
            let r = [30.0, 44.0].map(|mm| pen.fine(mm));
            add(
                "damper boot cone",
                "damper_upper",
                format!(
                    "Cone(from: {a}, to: {b}, radius_from: {}, radius_to: {})",
                    r[0], r[1]
                ),
                "",
            );
        }

        // Joints of the halfshaft.
        let shaft = dice.between(24.0, 34.0);
        let bore = 0.5 * shaft + dice.between(21.0, 26.0);
        let out = bore + 8.0;
        let inner = pen.lathe(
            h.inner_joint,
            true,
            &[
                (-60.0, 0.0),
                (-60.0, out),
                (36.0, out),
                (36.0, bore),
                (-45.0, bore),
                (-45.0, 0.0),
            ],
            dice,
        );
        add("inner joint housing", "inner_joint_housing", inner, "");
        let is_straight = d.toe_deg == 0.0 && d.camber_deg == 0.0;
        let outer = pen.lathe(
            h.outer_joint,
            is_straight,
            &[
                (40.0, 0.0),
                (40.0, out),
                (-16.0, out),
                (-16.0, bore),
                (25.0, bore),
                (25.0, 0.0),
            ],
            dice,
        );
        add("outer joint housing", "outer_joint_housing", outer, "");

        // Wheel and tyre.
        let (r, w, seat) = (0.5 * diameter, 0.5 * width, 12.7 * rim + 8.0);
        let tyre = pen.lathe(
            h.wheel_centre,
            is_straight,
            &[
                (-0.82 * w, seat),
                (0.82 * w, seat),
                (w, 0.5 * (r + seat)),
                (0.95 * w, 0.9 * r + 0.1 * seat),
                (0.8 * w, r),
                (-0.8 * w, r),
                (-0.95 * w, 0.9 * r + 0.1 * seat),
                (-w, 0.5 * (r + seat)),
            ],
            dice,
        );
        add("tyre", "wheel", tyre, "");
        if dice.below(3) != 0 {
            let rim = pen.lathe(
                h.wheel_centre,
                is_straight,
                &[
                    (-0.78 * w, seat),
                    (-0.78 * w, seat - 16.0),
                    (45.0, seat - 20.0),
                    (45.0, 65.0),
                    (58.0, 65.0),
                    (58.0, seat - 12.0),
                    (0.78 * w, seat),
                ],
                dice,
            );
            add("rim", "wheel", rim, "");
        }

        // What stands around.
        let middle_y = 0.5 * (h.lower_front.y + upper_arm(h).front.y);
        let x = h.wheel_centre.x;
        add(
            "frame rail",
            "frame",
            pen.block(
                V::new(x, middle_y, hub_z + 165.0),
                V::new(1500.0, 56.0, 100.0),
            ),
            "",
        );
        if dice.below(2) == 0 {
            let tower = h.damper_upper + V::z() * 45.0;
            let corners: Vec<V> = [-1.0, 1.0]
                .iter()
                .flat_map(|s| {
                    [
                        V::new(s * 60.0, -60.0, 0.0),
                        V::new(s * 60.0, 50.0, 0.0),
                        V::new(s * 50.0, 0.0, 35.0),
                    ]
                    .map(|o| tower + o)
                })
                .collect();
            add("shock tower", "frame", pen.hull(&corners), "");
        }
        let half = h.inner_joint.y - 75.0;
        if dice.below(2) == 0 {
            let other = d.other_inner_y.map_or(half, |y| y - 75.0);
            let (low, high) = (
                V::new(x - 90.0, -other, hub_z - 55.0),
                V::new(x + 80.0, half, hub_z + 95.0),
            );
            let shape = match dice.below(2) {
                0 => pen.mesh("differential", &[[low, high]], dice),
                _ => pen.block((low + high) * 0.5, high - low),
            };
            add(
                "differential housing",
                "differential",
                shape,
                ", fitted: once",
            );
        }
        let skid_z = h.lower_front.z.min(h.lower_rear.z).min(hub_z - 70.0) - 60.0;
        let skid_y = 0.62 * h.lower_front.y.min(h.lower_rear.y);
        if dice.below(2) == 0 {
            let shape = pen.block(
                V::new(x - 40.0, 0.0, skid_z),
                V::new(420.0, 2.0 * skid_y, 6.0),
            );
            add("skid plate", "frame", shape, ", fitted: once");
        }
        if dice.below(3) == 0 {
            let turned = ", turned_deg: (0, 0, 12))";
            let shape = pen.block(
                V::new(x + 520.0, 0.0, hub_z + 150.0),
                V::new(60.0, 300.0, 80.0),
            );
            add(
                "winch plate",
                "frame",
                shape.replacen("))", &format!("){turned}"), 1),
                ", fitted: once",
            );
        }

        let head = pen.head(shaft, dice);
        let tail = pen.tail(dice);
        let setups = pen.setups(&parts, dice);
        let gap = |mm: f64| pen.fine(mm);
        let watch = match dice.below(3) {
            0 => format!(
                "(a: \"*\", b: \"*\", gap: {}), (a: \"tyre\", b: \"*\", gap: {}), (a: \"halfshaft\", b: \"* joint housing\", gap: 0)",
                gap(3.0),
                gap(dice.between(5.0, 15.0))
            ),
            1 => format!(
                "(a: \"lower arm*\", b: \"*\", gap: {0}), (a: \"upper arm*\", b: \"*\", gap: {0}), (a: \"tie rod\", b: \"*\", gap: {0}), \
                 (a: \"halfshaft\", b: \"*\", gap: {0}), (a: \"halfshaft\", b: \"* joint housing\", gap: 0), (a: \"tyre\", b: \"*\", gap: {1})",
                gap(dice.between(2.0, 6.0)),
                gap(8.0)
            ),
            _ => format!("(a: \"*\", b: \"*\", gap: {})", gap(1.0)),
        };
        let meshes = pen.meshes;
        joined.push((
            "inner joint housing",
            "differential housing",
            "the joint's stub shaft sits in the side tube",
        ));
        joined.push((
            "knuckle*",
            "outer joint housing",
            "the joint sits in the knuckle",
        ));
        Draft {
            head,
            parts,
            watch,
            joined,
            tail,
            setups,
            meshes,
        }
    }

    fn text(&self) -> String {
        let parts: Vec<String> = self
            .parts
            .iter()
            .map(|p| {
                format!(
                    "        (name: \"{}\", on: {}, shape: {}{}),\n",
                    p.name, p.on, p.shape, p.rest
                )
            })
            .collect();
        let matches = |pattern: &str| {
            let known = self
                .parts
                .iter()
                .map(|p| p.name.as_str())
                .chain(["halfshaft"]);
            let stem = pattern.trim_end_matches('*');
            known.into_iter().any(|name| {
                if pattern.ends_with('*') {
                    name.starts_with(stem)
                } else {
                    name == pattern
                }
            })
        };
        let joined: Vec<String> = self
            .joined
            .iter()
            .filter(|(a, b, _)| matches(a) && matches(b))
            .map(|(a, b, why)| format!("(a: \"{a}\", b: \"{b}\", why: \"{why}\")"))
            .collect();
        format!(
            "(\n{}    parts: [\n{}    ],\n    watch: [{}],\n    joined: [{}],\n{}    setups: [\n{}    ],\n)\n",
            self.head,
            parts.concat(),
            self.watch,
            joined.join(", "),
            self.tail,
            self.setups.concat()
        )
    }

    /// Takes off what overlaps as measured, and setups that can't be built; whether a good truck is left.
    fn settle(&mut self, folder: &Path) -> bool {
        let meshes = MeshStore::new(folder);
        for _ in 0..=MOST_PARTS_OFF {
            let scene = match scene_from_text(&self.text(), Path::new("random.ron")) {
                Ok(scene) => scene,
                Err(error) => panic!("a random scene doesn't read: {error}\n{}", self.text()),
            };
            let Ok(truck) = assemble_setup(&scene, None, &meshes) else {
                return false;
            };
            let Some(part) = self.overlapping(&truck) else {
                let builds = |name: &str| assemble_setup(&scene, Some(name), &meshes).is_ok();
                let kept: Vec<String> = scene
                    .setups
                    .iter()
                    .zip(&self.setups)
                    .filter(|(setup, _)| builds(&setup.name))
                    .map(|(_, text)| text.clone())
                    .collect();
                self.setups = kept;
                return true;
            };
            if [
                "tyre",
                "tie rod",
                "frame rail",
                "lower arm front leg",
                "lower arm rear leg",
                "upper arm front leg",
                "upper arm rear leg",
            ]
            .contains(&self.parts[part].name.as_str())
            {
                return false;
            }
            self.parts.remove(part);
        }
        false
    }

    /// Of the pairs that overlap as measured, a part that the truck can be drawn without.
    fn overlapping(&self, truck: &Truck) -> Option<usize> {
        let names: Vec<String> = truck
            .corners
            .iter()
            .flat_map(|c| {
                let moving = c.overlaps.iter().flat_map(|o| [o.a.clone(), o.b.clone()]);
                let resting = c
                    .resting
                    .iter()
                    .filter(|r| r.is_overlap)
                    .flat_map(|r| [r.pair.a, r.pair.b].map(|i| c.parts[i].name.clone()));
                moving.chain(resting).collect::<Vec<_>>()
            })
            .collect();
        // What was drawn last is the least needed.
        let wanted = [
            "tyre",
            "tie rod",
            "lower arm front leg",
            "lower arm rear leg",
            "upper arm front leg",
            "upper arm rear leg",
            "frame rail",
        ];
        let order = |i: &usize| (!wanted.contains(&self.parts[*i].name.as_str()), *i);
        (0..self.parts.len())
            .filter(|i| {
                names.iter().any(|n| {
                    n.trim_start_matches("left ").trim_start_matches("right ")
                        == self.parts[*i].name
                })
            })
            .max_by_key(order)
    }
}

impl Pen<'_> {
    fn head(&self, shaft: f64, dice: &mut Dice) -> String {
        let (d, h) = (self.d, &self.d.h);
        let mut out = String::new();
        let side = if d.is_right { "right" } else { "left" };
        let _ = writeln!(
            out,
            "    name: \"Random {}\",\n    units: {},\n    side: {side},",
            self.seed, d.unit.name
        );
        if dice.below(3) == 0 {
            let _ = writeln!(
                out,
                "    search: (droop: {}, bump: {}),",
                self.mm(220.0),
                self.mm(140.0)
            );
        }
        for (name, points) in [
            ("lower_arm", [h.lower_front, h.lower_rear, h.lower_ball]),
            (
                "upper_arm",
                [upper_arm(h).front, upper_arm(h).rear, upper_arm(h).ball],
            ),
        ] {
            let [front, rear, ball] = points.map(|p| self.point(p));
            let _ = writeln!(
                out,
                "    {name}: (\n        front_pivot: {front},\n        rear_pivot: {rear},\n        ball_joint: {ball},\n    ),"
            );
        }
        let stop = match dice.below(3) {
            0 => ", steering_stop_deg: (left: 40, right: 40)",
            _ => "",
        };
        let spindle = if d.toe_deg == 0.0 && d.camber_deg == 0.0 && dice.below(2) == 0 {
            format!("Axis((0, {}, 0))", if d.is_right { -1 } else { 1 })
        } else {
            format!(
                "Static(toe_deg: {}, camber_deg: {})",
                d.toe_deg, d.camber_deg
            )
        };
        let _ = writeln!(
            out,
            "    knuckle: (\n        wheel_centre: {},\n        spindle: {spindle},\n        tie_rod_outer: {},\n        loaded_radius: {}{stop},\n    ),",
            self.point(h.wheel_centre),
            self.point(h.tie_rod_outer),
            self.mm(d.loaded)
        );
        let _ = writeln!(
            out,
            "    rack: (\n        tie_rod_inner: {},\n        travel: (left: {1}, right: {1}),\n    ),",
            self.point(h.tie_rod_inner),
            self.mm(d.rack_travel)
        );
        let length = (h.damper_upper - h.damper_lower).norm();
        let (extended, compressed) = (length + d.room[0], length - d.room[1]);
        let spacer_mm = [0.0, 0.0, 12.0, 25.4][dice.below(4)];
        let mut damper = format!(
            "        upper_mount: {},\n        lower_mount: {},\n        lower_mount_on: lower_arm,\n        extended: {},\n        compressed: {},\n",
            self.point(h.damper_upper),
            self.point(h.damper_lower),
            self.fine(extended - spacer_mm),
            self.fine(compressed - spacer_mm)
        );
        if spacer_mm > 0.0 {
            let _ = writeln!(
                damper,
                "        spacers: [(name: \"top spacer\", thickness: {}, adds: total_length)],",
                self.fine(spacer_mm)
            );
        } else if dice.below(5) == 0 {
            let _ = writeln!(
                damper,
                "        spacers: [(name: \"preload ring\", thickness: {}, adds: preload_only)],",
                self.mm(10.0)
            );
        }
        match dice.below(3) {
            0 => {
                let on_rod = [compressed + 26.0 - spacer_mm, compressed + 13.0 - spacer_mm];
                let _ = writeln!(
                    damper,
                    "        bump_stop: (contact: {}, crushed: {}, on: rod),",
                    self.fine(on_rod[0]),
                    self.fine(on_rod[1])
                );
            }
            1 => {
                let _ = writeln!(
                    damper,
                    "        bump_stop: (contact: {}, crushed: {}),",
                    self.fine(compressed + 26.0),
                    self.fine(compressed + 13.0)
                );
            }
            _ => {
                let pad = h.lower_front * 0.5 + h.lower_ball * 0.5 + V::new(-20.0, 0.0, 20.0);
                let stop = V::new(pad.x, pad.y, pad.z + 95.0);
                let _ = writeln!(
                    damper,
                    "        bump_stop: (contact: {}, crushed: {}, ends: ((on: frame, at: {}), (on: lower_arm, at: {}))),",
                    self.mm(50.0),
                    self.mm(30.0),
                    self.point(stop),
                    self.point(pad)
                );
            }
        }
        if dice.below(3) == 0 {
            let foot = h.lower_front * 0.45 + h.lower_ball * 0.55 + V::new(45.0, 0.0, 25.0);
            let top = V::new(foot.x, h.lower_front.y + 60.0, h.wheel_centre.z + 170.0);
            let _ = writeln!(
                damper,
                "        strap: (ends: ((on: frame, at: {}), (on: lower_arm, at: {})), length: {}),",
                self.point(top),
                self.point(foot),
                self.mm((top - foot).norm() + dice.between(50.0, 80.0))
            );
        }
        if dice.below(2) == 0 || d.damper_aside == 0.0 {
            damper += "        roll: HeldBy(\"the bolt through its lower eye\"),\n";
        }
        let _ = writeln!(out, "    damper: (\n{damper}    ),");
        let polygon = match dice.below(3) {
            0 => format!(
                ", plunge_polygon: [({0}, 0), ({1}, 0), ({1}, 15), ({2}, 24), ({3}, 24), ({0}, 15)]",
                self.signed(-26.0),
                self.signed(24.0),
                self.signed(17.0),
                self.signed(-17.0)
            ),
            _ => String::new(),
        };
        let pitch = match dice.below(2) {
            0 => format!(", track_pitch_radius: {}", self.mm(25.0)),
            _ => String::new(),
        };
        let angles = [dice.between(23.0, 26.0), dice.between(44.0, 48.0)]
            .map(|deg| (deg * 2.0).round() / 2.0);
        let limits = format!(
            "diameter: {}, inner_limit_deg: {}, outer_limit_deg: {}, plunge: (inner: {}, outer: {}){polygon}{pitch}",
            self.fine(shaft),
            angles[0],
            angles[1],
            self.signed(-26.0),
            self.signed(24.0)
        );
        let _ = writeln!(
            out,
            "    halfshaft: (\n        outer_joint: {},\n        inner_joint: {},\n        {limits},\n    ),",
            self.point(h.outer_joint),
            self.point(h.inner_joint)
        );
        if let Some(y) = d.other_inner_y {
            let inner = V::new(h.inner_joint.x, y, h.inner_joint.z);
            let _ = writeln!(
                out,
                "    other_side: (\n        halfshaft: (\n            outer_joint: {},\n            inner_joint: {},\n            {limits},\n        ),\n    ),",
                self.point_there(h.outer_joint),
                self.point_there(inner)
            );
        }
        if dice.below(4) != 0 {
            let cone = |dice: &mut Dice| {
                let half = (dice.between(26.0, 33.0) * 2.0).round() / 2.0;
                format!(
                    "(half_angle_deg: {half}, preset_deg: {})",
                    (dice.between(3.0, 8.0) * 2.0).round() / 2.0
                )
            };
            let kingpin = (upper_arm(h).ball - h.lower_ball).normalize();
            let rod = (h.tie_rod_inner - h.tie_rod_outer).normalize();
            let rest = rod
                .dot(&kingpin)
                .clamp(-1.0, 1.0)
                .acos()
                .to_degrees()
                .round();
            let rest = 180.0 - rest;
            let _ = writeln!(
                out,
                "    ball_joints: (\n        upper: {},\n        lower: {},\n        tie_rod_outer: (half_angle_deg: 34, rest_deg: {rest}),\n        tie_rod_inner: (half_angle_deg: 34),\n    ),",
                cone(dice),
                cone(dice)
            );
        }
        if dice.below(2) == 0 {
            let frame = upper_arm(h).rear + V::new(-20.0 * d.rack_side, 20.0, -40.0);
            let knuckle = h.wheel_centre + V::new(-60.0, -115.0, 120.0);
            let _ = writeln!(
                out,
                "    hoses: [(name: \"brake hose\", ends: ((on: frame, at: {}), (on: knuckle, at: {})), longest: {})],",
                self.point(frame),
                self.point(knuckle),
                self.mm((frame - knuckle).norm() + dice.between(90.0, 150.0))
            );
        }
        out
    }

    fn tail(&self, dice: &mut Dice) -> String {
        let (d, h) = (self.d, &self.d.h);
        let mut out = String::new();
        let (code, _, width, _) = d.tyre;
        let _ = writeln!(out, "    tyre: (size: Code(\"{code}\")),");
        let z = h.wheel_centre.z;
        let x = h.wheel_centre.x;
        let [front, rear] = [(215.0, 180.0), (215.0, -180.0)]
            .map(|(dx, y)| self.point(V::new(x + dx, y, z + 70.0)));
        let _ = writeln!(
            out,
            "    differential: (front_mounts: [{front}, {rear}], rear_mounts: [{}]),",
            self.point(V::new(x - 120.0, 0.0, z + 55.0))
        );
        if dice.below(3) == 0 {
            let _ = writeln!(
                out,
                "    front_driveshaft: (transfer_case: {}, transfer_case_axis: (1, 0, 0.03), pinion: {}, pinion_axis: (1, 0, -0.025), joint_at_transfer_case: double_cardan, joint_at_pinion: cardan, joint_limit_deg: 20),",
                self.point(V::new(x - 905.0, 25.0, z + 80.0)),
                self.point(V::new(x - 262.0, 25.0, z + 55.0))
            );
        }
        if dice.below(2) == 0 {
            let base = 2700.0 + dice.between(0.0, 1000.0);
            let _ = writeln!(
                out,
                "    rear: (wheelbase: {}, half_track: {}, wheel_centre_z: {}, loaded_radius: {}, tyre_width: {}),",
                self.mm(base),
                self.mm(h.wheel_centre.y),
                self.d.unit.write(self.d.unit.snap(z)),
                self.mm(d.loaded),
                self.fine(width)
            );
            let bumper = self.block(
                V::new(x + 720.0, 0.0, z + 190.0),
                V::new(120.0, 1400.0, 170.0),
            );
            let (a, b) = (
                V::new(x - 620.0, 0.96 * h.wheel_centre.y, z - 20.0),
                V::new(x - base + 650.0, 0.96 * h.wheel_centre.y, z - 20.0),
            );
            let slider = self.bar("Capsule", a, b, 35.0);
            let _ = writeln!(
                out,
                "    underbody: [\n        (name: \"front bumper\", shape: {bumper}),\n        (name: \"slider\", both_sides: true, shape: {slider}),\n    ],\n    obstacles: [(name: \"ledge\", shape: Ledge(height: {}, edge_radius: {}))],",
                self.mm(220.0),
                self.mm(15.0)
            );
        }
        out
    }

    fn setups(&self, parts: &[DrawnPart], dice: &mut Dice) -> Vec<String> {
        let mut all = vec![
            format!("Damper(longer: {})", self.fine(25.4)),
            format!(
                "RideHeight(up: {}, by: preload)",
                self.mm(dice.between(15.0, 40.0))
            ),
            format!("DifferentialSpacers(thickness: {})", self.fine(25.4)),
            format!("DifferentialDrop(by: {})", self.mm(30.0)),
            format!(
                "DamperSpacer((name: \"lift spacer\", thickness: {}, adds: total_length))",
                self.mm(15.0)
            ),
            "UpperArm((cone: (half_angle_deg: 34, preset_deg: 12)))".to_owned(),
            format!("WheelOffset(outboard: {})", self.mm(20.0)),
            "Tyre(size: Code(\"265/70R17\"))".to_owned(),
        ];
        if parts.iter().any(|p| p.name == "skid plate") {
            let by = self
                .d
                .unit
                .point(self.d.unit.snap_point(V::new(0.0, 0.0, -25.4)));
            all.push(format!("MovePart(name: \"skid plate\", by: {by})"));
        }
        let count = dice.below(5);
        (0..count)
            .map(|i| {
                let change = all.swap_remove(dice.below(all.len()));
                format!("        (name: \"setup {i}\", changes: [{change}]),\n")
            })
            .collect()
    }
}
