//! From a scene to corners: units, mirroring, defaults, and what can't be right.

use super::corner::{Corner, Truck};
use super::parts::{self, MeshStore};
use crate::kinematics::Positioner;
use crate::scene::{
    Arm, BallJoints, Damper, Foot, Halfshaft, Hose, Knuckle, Point, Problem, Scene, SceneError,
    Spindle, read_scene,
};
use crate::suspension::{DamperFoot, DoubleWishbone, HardpointError, Hardpoints, Side};
use nalgebra::Vector3;
use std::path::Path;

type Result<T> = std::result::Result<T, Problem>;

/// Reads a scene file and builds the truck.
///
/// # Errors
/// [`SceneError`] with line and column where the file says it.
pub fn load(path: &Path) -> std::result::Result<Truck, SceneError> {
    let (scene, text) = read_scene(path)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    assemble(&scene, folder).map_err(|problem| SceneError::from_problem(&problem, path, &text))
}

/// Converts one component's numbers: file units to millimetres, and to the other side if mirrored.
#[derive(Clone, Copy)]
pub(super) struct Reader {
    pub scale: f64,
    pub mirrored: bool,
}

impl Reader {
    pub fn finite(value: f64, path: &str) -> Result<f64> {
        if value.is_finite() {
            Ok(value)
        } else {
            Err(Problem::at(
                path,
                "this is not a finite number",
                "write a plain number",
            ))
        }
    }

    pub fn length(&self, value: f64, path: &str) -> Result<f64> {
        Ok(Reader::finite(value, path)? * self.scale)
    }

    pub fn positive(&self, value: f64, path: &str) -> Result<f64> {
        let length = self.length(value, path)?;
        if length > 0.0 {
            Ok(length)
        } else {
            Err(Problem::at(
                path,
                format!("{value} is not above zero"),
                "give a size above zero",
            ))
        }
    }

    pub fn point(&self, p: &Point, path: &str) -> Result<Vector3<f64>> {
        for c in [p.0, p.1, p.2] {
            Reader::finite(c, path)?;
        }
        Ok(self.flip(Vector3::new(p.0, p.1, p.2)) * self.scale)
    }

    pub fn direction(&self, p: &Point, path: &str) -> Result<Vector3<f64>> {
        for c in [p.0, p.1, p.2] {
            Reader::finite(c, path)?;
        }
        let v = Vector3::new(p.0, p.1, p.2);
        if v.norm() < 1.0e-9 {
            return Err(Problem::at(
                path,
                "a direction of length zero",
                "give a direction (x, y, z)",
            ));
        }
        Ok(self.flip(v).normalize())
    }

    pub fn flip(&self, v: Vector3<f64>) -> Vector3<f64> {
        if self.mirrored {
            Vector3::new(v.x, -v.y, v.z)
        } else {
            v
        }
    }
}

/// An angle in degrees, within a range, as radians.
pub(super) fn angle(deg: f64, low: f64, high: f64, path: &str) -> Result<f64> {
    if deg.is_finite() && deg > low && deg < high {
        Ok(deg.to_radians())
    } else {
        Err(Problem::at(
            path,
            format!("{deg} degrees"),
            format!("expected an angle between {low} and {high} degrees"),
        ))
    }
}

/// A component of one corner: its numbers, how to read them, and where they stand in the file.
pub(super) struct Source<'s, T> {
    pub entry: &'s T,
    pub reader: Reader,
    pub path: String,
}

/// Everything of one corner, from the described side or from `other_side`.
pub(super) struct CornerSource<'s> {
    pub side: Side,
    pub reader: Reader,
    pub lower_arm: Source<'s, Arm>,
    pub upper_arm: Source<'s, Arm>,
    pub knuckle: Source<'s, Knuckle>,
    pub tie_rod_inner: Source<'s, Point>,
    pub damper: Source<'s, Damper>,
    pub halfshaft: Source<'s, Halfshaft>,
    pub ball_joints: Source<'s, BallJoints>,
    pub hoses: Source<'s, Vec<Hose>>,
}

impl<'s> CornerSource<'s> {
    fn of(scene: &'s Scene, side: Side) -> CornerSource<'s> {
        let scale = scene.units.in_mm();
        let mirrored = side != scene.side;
        let o = &scene.other_side;
        fn pick<'s, T>(
            own: &'s T,
            other: Option<&'s T>,
            name: &str,
            mirrored: bool,
            scale: f64,
        ) -> Source<'s, T> {
            match other {
                Some(entry) if mirrored => Source {
                    entry,
                    reader: Reader {
                        scale,
                        mirrored: false,
                    },
                    path: format!("other_side.{name}"),
                },
                _ => Source {
                    entry: own,
                    reader: Reader { scale, mirrored },
                    path: name.to_owned(),
                },
            }
        }
        let m = mirrored;
        let mut tie_rod_inner = pick(
            &scene.rack.tie_rod_inner,
            o.tie_rod_inner.as_ref(),
            "tie_rod_inner",
            m,
            scale,
        );
        if !tie_rod_inner.path.starts_with("other_side") {
            tie_rod_inner.path = "rack.tie_rod_inner".to_owned();
        }
        CornerSource {
            side,
            reader: Reader { scale, mirrored },
            lower_arm: pick(
                &scene.lower_arm,
                o.lower_arm.as_ref(),
                "lower_arm",
                m,
                scale,
            ),
            upper_arm: pick(
                &scene.upper_arm,
                o.upper_arm.as_ref(),
                "upper_arm",
                m,
                scale,
            ),
            knuckle: pick(&scene.knuckle, o.knuckle.as_ref(), "knuckle", m, scale),
            tie_rod_inner,
            damper: pick(&scene.damper, o.damper.as_ref(), "damper", m, scale),
            halfshaft: pick(
                &scene.halfshaft,
                o.halfshaft.as_ref(),
                "halfshaft",
                m,
                scale,
            ),
            ball_joints: pick(
                &scene.ball_joints,
                o.ball_joints.as_ref(),
                "ball_joints",
                m,
                scale,
            ),
            hoses: pick(&scene.hoses, o.hoses.as_ref(), "hoses", m, scale),
        }
    }
}

/// Builds the truck. `folder` is where mesh files are looked for.
///
/// # Errors
/// The first [`Problem`] found.
pub fn assemble(scene: &Scene, folder: &Path) -> Result<Truck> {
    let mut meshes = MeshStore::new(folder);
    let mut warnings = Vec::new();
    let mut corners = Vec::new();
    // Unless something sits on one side only, the other corner is the mirror image and adds nothing.
    let differ = scene.other_side != Default::default()
        || scene
            .parts
            .iter()
            .any(|p| p.fitted != crate::scene::Fitted::EachSide)
        // The rack is one part: with uneven locks the corners steer unevenly.
        || scene.rack.travel.left != scene.rack.travel.right;
    let sides = [scene.side, scene.side.opposite()];
    for side in &sides[..if differ { 2 } else { 1 }] {
        corners.push(corner(scene, &CornerSource::of(scene, *side), &mut meshes)?);
    }
    parts::check_patterns(scene, &corners)?;
    for corner in &corners {
        for overlap in &corner.overlaps {
            let depth = match overlap.depth_mm {
                Some(d) => format!(", about {d:.2} mm deep"),
                None => String::new(),
            };
            warnings.push(format!(
                "{}: {} and {} already overlap as measured{depth}; this pair is not swept",
                corner.side.name(),
                overlap.a,
                overlap.b
            ));
        }
    }
    for corner in &corners {
        for part in corner.parts.iter().filter(|p| !p.surface.closed) {
            let text = format!(
                "{} is an open surface: gaps to it are measured, but whether a part lies inside it can \
                 only be guessed",
                part.name
            );
            if !warnings.contains(&text) {
                warnings.push(text);
            }
        }
    }
    if corners
        .iter()
        .all(|c| c.pairs.is_empty() && c.overlaps.is_empty())
    {
        warnings.push("no pair is watched: nothing is known about contact".to_owned());
    }
    if corners.len() == 1 {
        warnings.push(format!(
            "the {} corner is the mirror image of the {} one and is not shown twice",
            sides[1].name(),
            sides[0].name()
        ));
    }
    Ok(Truck {
        name: scene.name.clone(),
        scene_unit: scene.units,
        corners,
        warnings,
    })
}

/// Travel looked at when the scene says nothing, mm.
const SEARCH_MM: [f64; 2] = [300.0, 250.0];

fn corner(scene: &Scene, source: &CornerSource, meshes: &mut MeshStore) -> Result<Corner> {
    let wheel = &source.knuckle;
    let centre_path = format!("{}.wheel_centre", wheel.path);
    let centre = wheel
        .reader
        .point(&wheel.entry.wheel_centre, &centre_path)?;
    if centre.y * source.side.outboard() < 0.0 {
        return Err(Problem::at(
            centre_path,
            format!(
                "this wheel stands on the other side than `side` says ({})",
                scene.side.name()
            ),
            "left is +y, right is -y: is `side` right?",
        ));
    }
    let hardpoints = hardpoints(source)?;
    check_sizes(&hardpoints, source)?;
    let linkage = DoubleWishbone::new(hardpoints).map_err(|e| hardpoint_problem(&e))?;
    let positioner = Positioner::new(linkage);
    let r = source.reader;

    let travel = &scene.rack.travel;
    let rack_mm = [
        -r.positive(travel.right, "rack.travel.right")?,
        r.positive(travel.left, "rack.travel.left")?,
    ];
    for (lock, path) in rack_mm
        .iter()
        .zip(["rack.travel.right", "rack.travel.left"])
    {
        if positioner
            .place(0.0, *lock)
            .linkage
            .out_of_reach()
            .is_some()
        {
            return Err(Problem::at(
                path,
                format!("the tie rod cannot follow the rack to {:.1} mm", lock),
                "check the rack's travel, and both tie-rod ends",
            ));
        }
    }
    let search_mm = match &scene.search {
        None => SEARCH_MM,
        Some(s) => [
            r.positive(s.droop, "search.droop")?,
            r.positive(s.bump, "search.bump")?,
        ],
    };
    let ride_height_mm = r.length(scene.ride_height, "ride_height")?;
    if positioner.position(ride_height_mm, 0.0).is_err() {
        return Err(Problem::at(
            "ride_height",
            format!(
                "the suspension cannot reach {} from the measured position",
                scene.ride_height
            ),
            "ride_height is wheel travel from the measured position, bump positive",
        ));
    }
    let knuckle = &source.knuckle;
    let loaded_radius_mm = knuckle.reader.positive(
        knuckle.entry.loaded_radius,
        &format!("{}.loaded_radius", knuckle.path),
    )?;
    let shaft = &source.halfshaft;
    let orbit_factor_mm = match shaft.entry.track_pitch_radius {
        None => 0.0,
        Some(radius) => {
            0.5 * shaft
                .reader
                .positive(radius, &format!("{}.track_pitch_radius", shaft.path))?
        }
    };
    let bump_contact_mm = match &source.damper.entry.bump_stop {
        Some(stop) => Some(
            source
                .damper
                .reader
                .length(stop.contact, "damper.bump_stop.contact")?,
        ),
        None => None,
    };
    let limits = super::limits::limits(source, &positioner)?;
    let mut corner = Corner {
        side: source.side,
        limits,
        parts: parts::parts(scene, source, &positioner.linkage.hardpoints, meshes)?,
        pairs: Vec::new(),
        fields: Vec::new(),
        overlaps: Vec::new(),
        joined: Vec::new(),
        positioner,
        rack_mm,
        ride_height_mm,
        loaded_radius_mm,
        orbit_factor_mm,
        search_mm,
        bump_contact_mm,
    };
    parts::watch(scene, source.reader.scale, &mut corner)?;
    Ok(corner)
}

fn hardpoints(source: &CornerSource) -> Result<Hardpoints> {
    let outboard = source.side.outboard();
    let arm = |arm: &Source<Arm>| -> Result<[Vector3<f64>; 3]> {
        let (e, p) = (arm.entry, &arm.path);
        Ok([
            arm.reader
                .point(&e.front_pivot, &format!("{p}.front_pivot"))?,
            arm.reader
                .point(&e.rear_pivot, &format!("{p}.rear_pivot"))?,
            arm.reader
                .point(&e.ball_joint, &format!("{p}.ball_joint"))?,
        ])
    };
    let [lower_front, lower_rear, lower_ball] = arm(&source.lower_arm)?;
    let [upper_front, upper_rear, upper_ball] = arm(&source.upper_arm)?;
    let k = &source.knuckle;
    let spindle_path = format!("{}.spindle", k.path);
    let spindle_axis = match &k.entry.spindle {
        Spindle::Axis(axis) => k.reader.direction(axis, &spindle_path)?,
        Spindle::Static {
            toe_deg,
            camber_deg,
        } => {
            let toe = angle(*toe_deg, -45.0, 45.0, &spindle_path)?;
            let camber = angle(*camber_deg, -45.0, 45.0, &spindle_path)?;
            // Heading left-positive; toe-in turns a left wheel right.
            let heading = -toe * outboard;
            Vector3::new(
                -heading.sin() * camber.cos() * outboard,
                heading.cos() * camber.cos() * outboard,
                -camber.sin(),
            )
        }
    };
    if spindle_axis.y * outboard < 0.5 {
        return Err(Problem::at(
            spindle_path,
            "the spindle does not point outboard",
            "give the direction from the knuckle out through the wheel",
        ));
    }
    let d = &source.damper;
    let h = &source.halfshaft;
    let outer_axis = match &h.entry.outer_axis {
        Some(axis) => h
            .reader
            .direction(axis, &format!("{}.outer_axis", h.path))?,
        None => spindle_axis,
    };
    let flange_axis = match &h.entry.flange_axis {
        Some(axis) => h
            .reader
            .direction(axis, &format!("{}.flange_axis", h.path))?,
        None => Vector3::new(0.0, outboard, 0.0),
    };
    let outer_joint = h
        .reader
        .point(&h.entry.outer_joint, &format!("{}.outer_joint", h.path))?;
    let inner_joint = h
        .reader
        .point(&h.entry.inner_joint, &format!("{}.inner_joint", h.path))?;
    for (axis, name) in [(&flange_axis, "flange_axis"), (&outer_axis, "outer_axis")] {
        if axis.dot(&(outer_joint - inner_joint)) <= 0.0 {
            return Err(Problem::at(
                format!("{}.{name}", h.path),
                "this axis points away from the shaft",
                "give it pointing outboard, from the differential toward the wheel",
            ));
        }
    }
    Ok(Hardpoints {
        lower_front,
        lower_rear,
        lower_ball,
        upper_front,
        upper_rear,
        upper_ball,
        tie_rod_inner: source
            .tie_rod_inner
            .reader
            .point(source.tie_rod_inner.entry, &source.tie_rod_inner.path)?,
        tie_rod_outer: k
            .reader
            .point(&k.entry.tie_rod_outer, &format!("{}.tie_rod_outer", k.path))?,
        wheel_centre: k
            .reader
            .point(&k.entry.wheel_centre, &format!("{}.wheel_centre", k.path))?,
        spindle_axis,
        damper_upper: d
            .reader
            .point(&d.entry.upper_mount, &format!("{}.upper_mount", d.path))?,
        damper_lower: d
            .reader
            .point(&d.entry.lower_mount, &format!("{}.lower_mount", d.path))?,
        damper_foot: match d.entry.lower_mount_on {
            Foot::LowerArm => DamperFoot::LowerArm,
            Foot::UpperArm => DamperFoot::UpperArm,
            Foot::Knuckle => DamperFoot::Knuckle,
        },
        outer_joint,
        outer_axis,
        inner_joint,
        flange_axis,
    })
}

/// A wheel centre this far from the truck's middle is plausible, mm.
const HALF_TRACK_MM: [f64; 2] = [250.0, 1500.0];
/// No hardpoint of a corner is further from its wheel centre than this, mm.
const CORNER_SIZE_MM: f64 = 1500.0;

fn check_sizes(h: &Hardpoints, source: &CornerSource) -> Result<()> {
    let k = &source.knuckle.path;
    let half_track = h.wheel_centre.y * source.side.outboard();
    if !(HALF_TRACK_MM[0]..=HALF_TRACK_MM[1]).contains(&half_track) {
        return Err(Problem::at(
            format!("{k}.wheel_centre"),
            format!(
                "the {} wheel centre stands at y = {:.1} mm",
                source.side.name(),
                h.wheel_centre.y
            ),
            format!(
                "expected {} to {} mm from the truck's middle, left +y and right -y: is `units` right?",
                HALF_TRACK_MM[0], HALF_TRACK_MM[1]
            ),
        ));
    }
    let (lower, upper) = (&source.lower_arm.path, &source.upper_arm.path);
    let (damper, shaft) = (&source.damper.path, &source.halfshaft.path);
    for (point, path) in [
        (h.lower_front, format!("{lower}.front_pivot")),
        (h.lower_rear, format!("{lower}.rear_pivot")),
        (h.lower_ball, format!("{lower}.ball_joint")),
        (h.upper_front, format!("{upper}.front_pivot")),
        (h.upper_rear, format!("{upper}.rear_pivot")),
        (h.upper_ball, format!("{upper}.ball_joint")),
        (h.tie_rod_inner, source.tie_rod_inner.path.clone()),
        (h.tie_rod_outer, format!("{k}.tie_rod_outer")),
        (h.damper_upper, format!("{damper}.upper_mount")),
        (h.damper_lower, format!("{damper}.lower_mount")),
        (h.outer_joint, format!("{shaft}.outer_joint")),
        (h.inner_joint, format!("{shaft}.inner_joint")),
    ] {
        let distance = (point - h.wheel_centre).norm();
        if distance > CORNER_SIZE_MM {
            return Err(Problem::at(
                path,
                format!("this point is {distance:.0} mm from the wheel centre"),
                format!(
                    "expected at most {CORNER_SIZE_MM} mm: a digit too many, or a point in another \
                     unit than `units` says?"
                ),
            ));
        }
    }
    Ok(())
}

fn hardpoint_problem(error: &HardpointError) -> Problem {
    let path = match error {
        HardpointError::TooClose { a, .. } => (*a).to_owned(),
        HardpointError::InLine { point, .. } => (*point).to_owned(),
        HardpointError::DeadPoint(part) => match *part {
            "upper arm" => "upper_arm".to_owned(),
            "tie rod" => "rack.tie_rod_inner".to_owned(),
            _ => "halfshaft".to_owned(),
        },
        HardpointError::ArmUpright => "lower_arm".to_owned(),
    };
    let help = match error {
        HardpointError::TooClose { .. } => "measure both points again: they can't be the same",
        HardpointError::InLine { .. } => "three points of an arm can't lie on one line",
        HardpointError::DeadPoint(_) => {
            "measure with the suspension in the middle of its travel, and check these points"
        }
        HardpointError::ArmUpright => "check the arm's pivots and ball joint",
    };
    Problem::at(path, error.to_string(), help)
}
