//! Scenes of few parts, written as a person writes them: RON text. What a scene leaves out takes its default, so that a
//! new field of the format doesn't touch these.

// Each test file uses its own part of this module.
#![allow(dead_code)]

use super::dice::Dice;
use bindpoint::scene::{Scene, scene_from_text};
use nalgebra::{Rotation3, Vector3};
use std::path::Path;

type V = Vector3<f64>;

/// An invented left corner, its numbers and the text of its parts.
#[derive(Clone, Debug)]
pub struct Draft {
    pub lower: [V; 3],
    pub upper: [V; 3],
    pub wheel_centre: V,
    /// Toe and camber, degrees.
    pub alignment_deg: [f64; 2],
    pub rod: [V; 2],
    /// Rack to each lock: left, right.
    pub locks: [f64; 2],
    pub search: [f64; 2],
    pub damper: [V; 2],
    /// `lower_arm`, `knuckle` or `strut`.
    pub foot: &'static str,
    pub extended: f64,
    pub compressed: f64,
    /// Further fields of the damper: bump stop, strap.
    pub damper_more: String,
    pub outer_joint: V,
    pub inner_joint: V,
    pub joint_limits_deg: [f64; 2],
    pub plunge: [f64; 2],
    /// Further fields of the halfshaft: a polygon.
    pub shaft_more: String,
    pub parts: Vec<String>,
    pub watch: Vec<String>,
    /// Further fields of the scene.
    pub more: String,
}

impl Draft {
    /// A mid-size truck's corner; nothing in the way, joints that bind nowhere near, stops far out.
    pub fn new() -> Draft {
        let v = V::new;
        Draft {
            lower: [
                v(180.0, 335.0, 345.0),
                v(-190.0, 335.0, 335.0),
                v(8.0, 722.0, 290.0),
            ],
            upper: [
                v(95.0, 440.0, 655.0),
                v(-125.0, 445.0, 640.0),
                v(-22.0, 668.0, 682.0),
            ],
            wheel_centre: v(0.0, 815.0, 400.0),
            alignment_deg: [0.0, 0.0],
            rod: [v(-135.0, 366.0, 396.0), v(-140.0, 685.0, 372.0)],
            locks: [60.0, 60.0],
            search: [140.0, 120.0],
            damper: [v(-20.0, 470.0, 790.0), v(10.0, 560.0, 325.0)],
            foot: "lower_arm",
            extended: 520.0,
            compressed: 440.0,
            damper_more: String::new(),
            outer_joint: v(0.0, 700.0, 400.0),
            inner_joint: v(0.0, 235.0, 420.0),
            joint_limits_deg: [60.0, 75.0],
            plunge: [-150.0, 150.0],
            shaft_more: String::new(),
            parts: Vec::new(),
            watch: Vec::new(),
            more: String::new(),
        }
    }

    /// Every point moved by up to `by` each way, and other locks.
    pub fn random(dice: &mut Dice, by: f64) -> Draft {
        let mut draft = Draft::new();
        let points = (draft.lower.iter_mut())
            .chain(&mut draft.upper)
            .chain(&mut draft.rod)
            .chain(&mut draft.damper)
            .chain([&mut draft.outer_joint, &mut draft.inner_joint]);
        for p in points {
            *p += dice.vector(by);
        }
        draft.locks = [dice.between(20.0, 75.0), dice.between(20.0, 75.0)];
        draft
    }

    /// Puts the corner on a strut, its kingpin axis about where the ball joints had it.
    pub fn on_strut(&mut self) {
        self.foot = "strut";
        self.damper = [V::new(-55.0, 596.0, 1010.0), V::new(-20.0, 652.0, 470.0)];
        (self.extended, self.compressed) = (600.0, 500.0);
    }

    /// Whether a strut holds the knuckle.
    pub fn is_on_strut(&self) -> bool {
        self.foot == "strut"
    }

    /// Adds a part.
    pub fn part(&mut self, name: &str, on: &str, fitted: &str, shape: &str) {
        self.parts.push(format!(
            "(name: \"{name}\", on: {on}, fitted: {fitted}, shape: {shape}),"
        ));
    }

    /// Watches a pair.
    pub fn watch(&mut self, a: &str, b: &str, gap: f64) {
        self.watch
            .push(format!("(a: \"{a}\", b: \"{b}\", gap: {gap:?}),"));
    }

    /// The scene's text.
    pub fn text(&self, name: &str) -> String {
        let arm = |[front, rear, ball]: &[V; 3]| {
            format!(
                "(front_pivot: {}, rear_pivot: {}, ball_joint: {})",
                point(front),
                point(rear),
                point(ball)
            )
        };
        let [toe, camber] = self.alignment_deg;
        format!(
            "(
    name: \"{name}\", units: mm, side: left,
    search: (droop: {:?}, bump: {:?}),
    lower_arm: {},
    {}
    knuckle: (
        wheel_centre: {}, spindle: Static(toe_deg: {toe:?}, camber_deg: {camber:?}),
        tie_rod_outer: {}, loaded_radius: 387,
    ),
    rack: (tie_rod_inner: {}, travel: (left: {:?}, right: {:?})),
    damper: {},
    halfshaft: {},
    parts: [
        {}
    ],
    watch: [
        {}
    ],
    {}
)
",
            self.search[0],
            self.search[1],
            arm(&self.lower),
            if self.is_on_strut() {
                String::new()
            } else {
                format!("upper_arm: {},", arm(&self.upper))
            },
            point(&self.wheel_centre),
            point(&self.rod[1]),
            point(&self.rod[0]),
            self.locks[0],
            self.locks[1],
            self.damper_text(),
            self.shaft_text(),
            self.parts.join("\n        "),
            self.watch.join("\n        "),
            self.more,
        )
    }

    /// The damper's entry.
    pub fn damper_text(&self) -> String {
        format!(
            "(upper_mount: {}, lower_mount: {}, lower_mount_on: {}, extended: {:?}, compressed: {:?}, {})",
            point(&self.damper[0]),
            point(&self.damper[1]),
            self.foot,
            self.extended,
            self.compressed,
            self.damper_more
        )
    }

    /// The halfshaft's entry.
    pub fn shaft_text(&self) -> String {
        format!(
            "(outer_joint: {}, inner_joint: {}, diameter: 28, inner_limit_deg: {:?}, outer_limit_deg: {:?}, \
             plunge: (inner: {:?}, outer: {:?}), {})",
            point(&self.outer_joint),
            point(&self.inner_joint),
            self.joint_limits_deg[0],
            self.joint_limits_deg[1],
            self.plunge[0],
            self.plunge[1],
            self.shaft_more
        )
    }

    /// The scene.
    pub fn scene(&self, name: &str) -> Scene {
        let text = self.text(name);
        match scene_from_text(&text, Path::new("small.ron")) {
            Ok(scene) => scene,
            Err(error) => panic!("{error:?}\n{text}"),
        }
    }
}

/// A point as written.
pub fn point(p: &V) -> String {
    format!("({:?}, {:?}, {:?})", p.x, p.y, p.z)
}

/// A ball as written.
pub fn ball(centre: &V, radius: f64) -> String {
    format!("Ball(centre: {}, radius: {radius:?})", point(centre))
}

/// A round bar with round ends as written.
pub fn capsule(from: &V, to: &V, radius: f64) -> String {
    format!(
        "Capsule(from: {}, to: {}, radius: {radius:?})",
        point(from),
        point(to)
    )
}

/// A round bar with flat ends as written.
pub fn cylinder(from: &V, to: &V, radius: f64) -> String {
    format!(
        "Cylinder(from: {}, to: {}, radius: {radius:?})",
        point(from),
        point(to)
    )
}

/// A box as written.
pub fn cuboid(centre: &V, size: &V, turn: &Rotation3<f64>) -> String {
    // Turned about x, then y, then z.
    let (x, y, z) = turn.euler_angles();
    format!(
        "Box(centre: {}, size: {}, turned_deg: {})",
        point(centre),
        point(size),
        point(&V::new(x.to_degrees(), y.to_degrees(), z.to_degrees()))
    )
}

/// A turn that takes the z axis to a direction.
pub fn z_to(direction: &V) -> Rotation3<f64> {
    Rotation3::rotation_between(&V::z(), direction)
        .unwrap_or_else(|| Rotation3::from_axis_angle(&V::x_axis(), std::f64::consts::PI))
}
