//! A mesh part placed: where it stands by the scene's numbers, and how it follows a hand that drags one of its handles.
//!
//! The idea: arrows move the part along the axes of the body that carries it, rings turn it about its own middle. What
//! a drag does is a rigid motion seen from that body; while the hand holds the part the picture alone follows, and
//! where it is let go the motion becomes numbers in the scene's text, as if they had been typed.

use super::document::Document;
use crate::scene::{HangsFrom, LengthUnit, PartEntry, Point, ShapeEntry, scene_from_text};
use crate::suspension::Body;
use bevy::prelude::Resource;
use nalgebra::{Isometry3, Rotation3, Translation3, Unit, UnitQuaternion, Vector3};

/// A mesh part that the scene's text places.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedPart {
    /// Its name.
    pub name: String,
    /// The path of its shape in the text.
    pub shape: String,
    /// The body that carries it.
    pub on: Body,
    /// Where its file's origin goes, in the scene's unit.
    pub at: [f64; 3],
    /// Turned about x, then y, then z, degrees.
    pub turned_deg: [f64; 3],
    /// The scene's unit.
    pub unit: LengthUnit,
    /// Whether the corner looked at shows its mirror image.
    mirrored: bool,
    /// Whether it goes down with a lowered differential, and so stands elsewhere than its numbers say.
    follows_differential: bool,
}

/// Steps that a drag goes in: mm scenes a tenth of a millimetre, inch scenes five thousandths of an inch; a tenth of
/// a degree. Finer is typed.
const STEP: [f64; 2] = [0.1, 0.005];
/// See `STEP`.
const STEP_DEG: f64 = 0.1;

impl PlacedPart {
    /// The steps that a drag along an axis goes in, mm.
    fn step_mm(&self) -> f64 {
        let step = match self.unit {
            LengthUnit::Mm => STEP[0],
            LengthUnit::Inch => STEP[1],
        };
        step * self.unit.in_mm()
    }

    /// The numbers after a rigid motion, mm, seen from the body as the corner shows it.
    pub fn moved(&self, motion: &Isometry3<f64>) -> ([f64; 3], [f64; 3]) {
        let mm = self.unit.in_mm();
        // The mirror image of a motion turns the other way about x and z.
        let mirror = if self.mirrored { -1.0 } else { 1.0 };
        let shift = motion.translation.vector;
        let shift = Vector3::new(shift.x, mirror * shift.y, shift.z);
        let turn = motion.rotation.scaled_axis();
        let turn = Rotation3::new(Vector3::new(mirror * turn.x, turn.y, mirror * turn.z));
        let at = turn * (Vector3::from(self.at) * mm) + shift;
        let [x, y, z] = self.turned_deg.map(f64::to_radians);
        let (x, y, z) = (turn * Rotation3::from_euler_angles(x, y, z)).euler_angles();
        (
            at.map(|v| round(v / mm)).into(),
            [x, y, z].map(|a| round(a.to_degrees())),
        )
    }
}

/// To what is told apart: a tenth of a thousandth of the scene's unit, or of a degree.
fn round(value: f64) -> f64 {
    (value * 1.0e4).round() / 1.0e4
}

/// Mesh parts of the corner looked at, in the order of the text.
fn placed_parts(document: &Document) -> Option<Vec<PlacedPart>> {
    let scene = scene_from_text(document.text(), document.path()).ok()?;
    let corner = document.corner();
    let other = corner.side != scene.side;
    let lowered = !document.truck().housing.is_as_measured();
    let placed = |entry: &PartEntry, path: String, mirrored: bool| {
        // One whose holes say where it goes isn't placed by numbers.
        let ShapeEntry::Mesh {
            at,
            turned_deg,
            holes: None,
            ..
        } = &entry.shape
        else {
            return None;
        };
        let numbers = |p: &Option<Point>| p.map_or([0.0; 3], |Point(x, y, z)| [x, y, z]);
        let hangs = entry.hangs_from != HangsFrom::Body || entry.on.is_on_differential();
        Some(PlacedPart {
            name: entry.name.clone(),
            shape: format!("{path}.shape"),
            on: entry.on,
            at: numbers(at),
            turned_deg: numbers(turned_deg),
            unit: scene.units,
            mirrored,
            follows_differential: lowered && hangs,
        })
    };
    let own = scene.parts.iter().enumerate().filter_map(|(i, entry)| {
        let mirrored = other && entry.fitted == crate::scene::Fitted::EachSide;
        placed(entry, format!("parts[{i}]"), mirrored)
    });
    let others = &scene.other_side.parts;
    let replaced = |name: &str| other && others.iter().any(|entry| entry.name == name);
    let mut out: Vec<PlacedPart> = own.filter(|part| !replaced(&part.name)).collect();
    if other {
        let others = others.iter().enumerate();
        out.extend(
            others.filter_map(|(i, entry)| placed(entry, format!("other_side.parts[{i}]"), false)),
        );
    }
    out.retain(|part| corner.parts.iter().any(|p| p.name == part.name));
    Some(out)
}

/// What a handle does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Handle {
    /// Moves along an axis: 0, 1, 2.
    Arrow(usize),
    /// Turns about an axis: 0, 1, 2.
    Ring(usize),
}

/// A line of sight, seen from the body that carries the part, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    /// Where it starts.
    pub from: Vector3<f64>,
    /// Where it goes, of any length.
    pub along: Vector3<f64>,
}

/// A line of sight must come this near to a ring's plane being seen from the front, and stay this far from an arrow's
/// own direction: beyond, a pixel is too long a way.
const GRAZING: f64 = 0.08;

impl Sight {
    /// How far along an arrow from the middle it passes nearest, mm; how far round a ring it goes through it, radians.
    fn reads(&self, handle: Handle, middle: &Vector3<f64>) -> Option<f64> {
        let d = self.along.try_normalize(0.0)?;
        match handle {
            Handle::Arrow(axis) => {
                let along = d[axis];
                let apart = 1.0 - along * along;
                let w = middle - self.from;
                (apart > GRAZING * GRAZING).then(|| (along * d.dot(&w) - w[axis]) / apart)
            }
            Handle::Ring(axis) => {
                let w = middle - self.from;
                if d[axis].abs() < GRAZING {
                    return None;
                }
                let through = d * (w[axis] / d[axis]) - w;
                let [u, v] = [(axis + 1) % 3, (axis + 2) % 3];
                Some(through[v].atan2(through[u]))
            }
        }
    }
}

/// A handle held.
#[derive(Clone, Debug)]
struct Grip {
    part: PlacedPart,
    handle: Handle,
    middle: Vector3<f64>,
    start: f64,
    motion: Isometry3<f64>,
}

/// The part being placed.
#[derive(Resource, Debug, Default)]
pub struct Placing {
    /// The handle under the pointer.
    pub under_pointer: Option<Handle>,
    parts: Vec<PlacedPart>,
    parts_of: Option<(u64, u64)>,
    grip: Option<Grip>,
    /// What was let go and isn't yet in the truck: the document's generation, the part, its motion.
    settling: Option<(u64, String, Isometry3<f64>)>,
}

impl Placing {
    /// Reads the text again where it has changed. A text that can't be used leaves the last.
    pub fn look_at(&mut self, document: &Document) {
        let of = (document.text_revision(), document.generation());
        if self.parts_of != Some(of) {
            self.parts_of = Some(of);
            if let Some(parts) = placed_parts(document) {
                self.parts = parts;
            }
        }
    }

    /// Mesh parts of the corner looked at.
    pub fn parts(&self) -> &[PlacedPart] {
        &self.parts
    }

    /// A mesh part by name.
    pub fn part(&self, name: &str) -> Option<&PlacedPart> {
        self.parts.iter().find(|part| part.name == name)
    }

    /// A mesh part by name, if it stands where its numbers say.
    pub fn with_handles(&self, name: &str) -> Option<&PlacedPart> {
        self.part(name).filter(|part| !part.follows_differential)
    }

    /// Takes a handle of a part whose middle is given, seen from its body, mm.
    pub fn take(&mut self, name: &str, middle: Vector3<f64>, handle: Handle, sight: &Sight) {
        // What was let go must be in the truck first: its numbers and its picture would differ.
        let part = self.with_handles(name).filter(|_| self.settling.is_none());
        let part = part.cloned();
        let start = sight.reads(handle, &middle);
        self.grip = part.zip(start).map(|(part, start)| Grip {
            part,
            handle,
            middle,
            start,
            motion: Isometry3::identity(),
        });
    }

    /// Moves what is held to where the hand is now.
    pub fn drag(&mut self, sight: &Sight) {
        let Some(grip) = &mut self.grip else {
            return;
        };
        let Some(now) = sight.reads(grip.handle, &grip.middle) else {
            return;
        };
        let by = now - grip.start;
        grip.motion = match grip.handle {
            Handle::Arrow(axis) => {
                let step = grip.part.step_mm();
                let by = (by / step).round() * step;
                Translation3::from(Vector3::ith(axis, by)).into()
            }
            Handle::Ring(axis) => {
                let by = (by.to_degrees() / STEP_DEG).round() * STEP_DEG;
                let about = Unit::new_unchecked(Vector3::ith(axis, 1.0));
                let turn = UnitQuaternion::from_axis_angle(&about, by.to_radians());
                let shift = grip.middle - turn * grip.middle;
                Isometry3::from_parts(shift.into(), turn)
            }
        };
    }

    /// Lets go: the scene's text has the part where it is now.
    pub fn let_go(&mut self, document: &mut Document) {
        if let Some(grip) = self.grip.take() {
            let generation = document.generation();
            let (at, turned_deg) = grip.part.moved(&grip.motion);
            if grip.motion != Isometry3::identity() {
                document.place(&grip.part.shape, at, turned_deg);
                document.end_change();
                self.settling = Some((generation, grip.part.name, grip.motion));
            }
        }
    }

    /// What was held isn't there any more: nothing is written.
    pub fn forget(&mut self) {
        self.grip = None;
    }

    /// The handle held.
    pub fn held(&self) -> Option<Handle> {
        self.grip.as_ref().map(|grip| grip.handle)
    }

    /// How a part is displaced from where the truck has it, seen from its body.
    pub fn motion_of(&self, name: &str) -> Option<Isometry3<f64>> {
        if let Some(grip) = self.grip.as_ref().filter(|g| g.part.name == name) {
            return Some(grip.motion);
        }
        let (_, part, motion) = self.settling.as_ref()?;
        (part == name).then_some(*motion)
    }

    /// What was let go is in the truck now, or never will be.
    pub fn settle(&mut self, document: &Document) {
        let over = |(generation, ..): &(u64, String, Isometry3<f64>)| {
            *generation != document.generation() || !document.is_waiting()
        };
        if self.settling.as_ref().is_some_and(over) {
            self.settling = None;
        }
    }

    /// The numbers of a part as it stands now, those of a drag under way too.
    pub fn numbers(&self, part: &PlacedPart) -> ([f64; 3], [f64; 3]) {
        match self.grip.as_ref().filter(|g| g.part.name == part.name) {
            Some(grip) => part.moved(&grip.motion),
            None => (part.at, part.turned_deg),
        }
    }
}
