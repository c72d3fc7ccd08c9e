//! From a scene to corners: units, mirroring, defaults, and what can't be right.

use super::boots;
use super::corner::{Corner, PairCount, StandingLimit, Truck};
use super::housing::Housing;
use super::links;
use super::mesh_store::{MeshStore, Moving};
use super::parts;
use super::springs;
use super::strut;
use super::watch;
use crate::driveline::FrontDriveshaft;
use crate::kinematics::{HEIGHT_TOLERANCE_MM, Position, Positioner};
use crate::limits::Needs;
use crate::numbers::Toward;
use crate::plausibility;
use crate::scene::{
    Arm, BallJoints, Brackets, Damper, Foot, Halfshaft, Hose, Knuckle, LengthUnit, Point, Problem,
    Scene, SceneError, SpacerEffect, Spindle, read_scene,
};
use crate::setups::{AS_MEASURED, fitted_measures, with_setup};
use crate::suspension::{
    ArmPoints, Body, DamperFoot, HardpointError, Hardpoints, HeldByTwo, Mechanism, OwnPoints,
    ReachLimit, Side, UpperLink,
};
use nalgebra::Vector3;
use std::path::Path;

type Result<T> = std::result::Result<T, Problem>;

/// Reads a scene file and builds the truck as measured.
///
/// # Errors
/// [`SceneError`] with line and column where the file says it.
pub fn load(path: &Path) -> std::result::Result<Truck, SceneError> {
    load_setup(path, None)
}

/// Reads a scene file and builds the truck with one of its setups.
///
/// # Errors
/// As [`load`], for a name that no setup has too.
pub fn load_setup(path: &Path, setup: Option<&str>) -> std::result::Result<Truck, SceneError> {
    let (scene, text) = read_scene(path)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    assemble_setup(&scene, setup, &MeshStore::new(folder))
        .map(|truck| truck.located(&text))
        .map_err(|problem| SceneError::from_problem(&problem, path, &text))
}

/// Builds the truck as measured. `folder` is where mesh files are looked for.
///
/// # Errors
/// The first [`Problem`] found.
pub fn assemble(scene: &Scene, folder: &Path) -> Result<Truck> {
    assemble_setup(scene, None, &MeshStore::new(folder))
}

/// Builds the truck with one of the scene's setups, or as measured.
///
/// # Errors
/// The first [`Problem`] found.
pub fn assemble_setup(scene: &Scene, setup: Option<&str>, meshes: &MeshStore) -> Result<Truck> {
    let Some(name) = setup.filter(|name| *name != AS_MEASURED) else {
        return refit(scene, scene, meshes);
    };
    let blamed = |problem| blamed_in_setup(problem, scene, name);
    let fitted = with_setup(scene, name).map_err(blamed)?;
    let mut truck = refit(scene, &fitted, meshes).map_err(blamed)?;
    truck.setup = Some(name.to_owned());
    Ok(truck)
}

/// A problem of the truck that a setup makes, at the setup, and at that number of it that is likely wrong.
pub(crate) fn blamed_in_setup(problem: Problem, scene: &Scene, name: &str) -> Problem {
    blamed_change(in_setup(problem, scene, name), scene, name)
}

/// Said behind every other way out where a number is blamed that may be unusual and right.
const OR_RIGHT: &str = "; a number that was measured so and is right is named in `measured`";

/// Where a problem of a changed truck stands that no one field of the scene has.
const OF_THE_SETUP: &str = "setups";

/// A problem of the changed truck, at its setup: the scene's own numbers are right.
fn in_setup(problem: Problem, scene: &Scene, name: &str) -> Problem {
    let is_whole = problem.path == OF_THE_SETUP;
    let i = scene.setups.iter().position(|s| s.name == name);
    // A name that no setup has is wrong by itself.
    if problem.path.starts_with("setups") && (!is_whole || i.is_none()) {
        return problem;
    }
    Problem {
        path: i.map_or(OF_THE_SETUP.to_owned(), |i| format!("setups[{i}]")),
        what: if is_whole {
            format!("with the setup `{name}` {}", problem.what)
        } else {
            format!(
                "with the setup `{name}`: {}: {}",
                problem.path, problem.what
            )
        },
        help: problem.help,
        first: None,
    }
}

/// A setup that can't be made because of a number of its own is told at that number: where it shows, the scene is right.
fn blamed_change(problem: Problem, scene: &Scene, name: &str) -> Problem {
    let found = plausibility::of_setups(scene, Some(name));
    let is_blamed = |found: &&plausibility::Implausible| {
        found.likely.is_some() && !plausibility::is_measured(scene, &found.path)
    };
    let Some(found) = found.iter().find(is_blamed) else {
        return problem;
    };
    Problem {
        path: found.path.clone(),
        what: format!(
            "{} looks wrong: {}; {}",
            found.written,
            found.what(),
            problem.what
        ),
        help: format!("{}; if not, {}{OR_RIGHT}", found.help(), problem.help),
        first: None,
    }
}

/// No length of a scene is greater, mm: a kilometre, for where an obstacle begins. What must be nearer has a
/// bound of its own; with this one nothing overflows and every figure fits on a line.
const LONGEST_MM: f64 = 1.0e6;

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
        let length = Reader::finite(value, path)? * self.scale;
        if length.abs() > LONGEST_MM {
            return Err(Problem::at(
                path,
                format!("this is more than {} m", LONGEST_MM / 1000.0),
                "a digit too many, or another unit than `units` says?",
            ));
        }
        Ok(length)
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
            self.length(c, path)?;
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

impl<T> Clone for Source<'_, T> {
    fn clone(&self) -> Self {
        Source {
            entry: self.entry,
            reader: self.reader,
            path: self.path.clone(),
        }
    }
}

/// Everything of one corner, from the described side or from `other_side`.
#[derive(Clone)]
pub(super) struct CornerSource<'s> {
    pub side: Side,
    pub reader: Reader,
    pub lower_arm: Source<'s, Arm>,
    /// None where a strut holds the knuckle; whether one is written then is asked by [`upper_link`].
    pub upper_arm: Option<Source<'s, Arm>>,
    pub knuckle: Source<'s, Knuckle>,
    pub tie_rod_inner: Source<'s, Point>,
    pub damper: Source<'s, Damper>,
    pub halfshaft: Source<'s, Halfshaft>,
    pub ball_joints: Source<'s, BallJoints>,
    pub hoses: Source<'s, Vec<Hose>>,
    pub brackets: Brackets,
    tie_rod_longer: f64,
}

/// Lowered by more than this, the numbers are wrong, mm: the tallest kits drop a subframe by 8 inches (common practice, no
/// source).
pub(super) const MOST_LOWERED_MM: f64 = 300.0;

impl<'s> CornerSource<'s> {
    /// How far drop brackets have lowered what hangs from the frame: the drawing of a body on it, and the damper's eye, which
    /// stands for the damper's upper half. Zero for what hangs from something else.
    pub(super) fn lowered(&self, body: Body) -> Result<Vector3<f64>> {
        let (value, field) = match body {
            Body::LowerArm => (self.brackets.lower_arm, "lower_arm"),
            Body::UpperArm => (self.brackets.upper_arm, "upper_arm"),
            Body::Rack => (self.brackets.rack, "rack"),
            Body::DamperUpper => (self.brackets.damper, "damper"),
            Body::Frame
            | Body::Differential
            | Body::Knuckle
            | Body::TieRod
            | Body::DamperLower
            | Body::Halfshaft
            | Body::InnerJointHousing
            | Body::OuterJointHousing
            | Body::Wheel
            | Body::FrontDriveshaft
            | Body::Link(_) => return Ok(Vector3::zeros()),
        };
        let path = format!("brackets.{field}");
        let mm = self.reader.length(value, &path)?;
        if mm.abs() > MOST_LOWERED_MM {
            return Err(Problem::at(
                path,
                format!("{value} is further than brackets ever drop anything"),
                "give how far it has gone down; below zero raises it",
            ));
        }
        Ok(Vector3::new(0.0, 0.0, -mm))
    }

    /// How far drop brackets move a part drawn on a body, or an end of a hose on it.
    pub(super) fn lowered_drawing(&self, body: Body) -> Result<Vector3<f64>> {
        match body {
            // Between its eyes a damper half is placed by the linkage.
            Body::DamperUpper => Ok(Vector3::zeros()),
            _ => self.lowered(body),
        }
    }

    /// Thickness of those of the damper's spacers that add to something, mm.
    pub(super) fn spacers_mm(&self, adds: impl Fn(SpacerEffect) -> bool) -> f64 {
        let spacers = self.damper.entry.spacers.iter();
        let thickness = spacers.filter(|s| adds(s.adds)).map(|s| s.thickness);
        self.damper.reader.scale * thickness.sum::<f64>()
    }

    pub(super) fn of(scene: &'s Scene, side: Side) -> CornerSource<'s> {
        let scene = scene.of_side(side);
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
            upper_arm: (scene.upper_arm.as_ref())
                .map(|own| pick(own, o.upper_arm.as_ref(), "upper_arm", m, scale)),
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
            brackets: scene.brackets,
            tie_rod_longer: scene.rack.tie_rod_longer,
        }
    }
}

/// Builds the truck that `fitted` describes: `measured`, with changes. Parts that stay keep the points that
/// they were measured with, and the spring its length at ride height. With the same scene twice this is the
/// truck as measured.
///
/// # Errors
/// The first [`Problem`] found.
pub fn refit(measured: &Scene, fitted: &Scene, meshes: &MeshStore) -> Result<Truck> {
    let changed = measured != fitted;
    put_together(measured, fitted, changed, meshes).map_err(|problem| {
        if changed {
            let is_of_itself = OF_ITSELF
                .iter()
                .any(|start| problem.path.starts_with(start));
            let needs = lacking(measured, fitted).and_then(|needs| needs.listed());
            match needs.filter(|_| !is_of_itself) {
                Some(needs) => Problem {
                    what: format!(
                        "the truck can't stand as it did; it needs {needs}; as it is, {}: {}",
                        problem.path, problem.what
                    ),
                    help: format!(
                        "{}; what it needs can be changed too, as with `Halfshaft(longer: ..)`, `TieRodEnd(longer: ..)`, \
                         `Damper(..)`, `Strap(..)` or `Hose(..)`",
                        problem.help
                    ),
                    path: OF_THE_SETUP.to_owned(),
                    first: None,
                },
                None => problem,
            }
        } else {
            blamed(problem, measured)
        }
    })
}

/// What can't be put together, or is past a limit where it was measured, is told at the field that is most likely wrong, not
/// at the one that failed last.
fn blamed(problem: Problem, scene: &Scene) -> Problem {
    if let Some(found) = wrong_damper(&problem, scene) {
        return told_at(found, &problem);
    }
    if OF_ITSELF
        .iter()
        .any(|start| problem.path.starts_with(start))
    {
        return problem;
    }
    // Without a slip that would explain it, what failed says more; but of a list the entry says more than the list.
    let found = plausibility::most_likely_wrong(scene, &problem.path);
    let entry = format!("{}[", problem.path);
    let says_more = |found: &plausibility::Implausible| {
        found.likely.is_some() || found.path.starts_with(&entry)
    };
    let Some(found) = found.filter(says_more) else {
        return problem;
    };
    // A round figure off in an eye explains a damper's length no better than a slip in the length itself.
    let is_off = matches!(found.likely, Some((plausibility::Slip::Off { .. }, _)));
    if is_off && problem.path.starts_with("damper.") && found.path.starts_with("damper.") {
        return problem;
    }
    // A length past its own limit is as likely short as its ends are off.
    if found.path.starts_with(&problem.path) && is_length_of_ends(&problem.path) {
        return Problem {
            // Of a list the entry says more than the list.
            path: (found.path.split(".ends").next())
                .map_or_else(|| found.path.clone(), str::to_owned),
            help: format!("{}: `{}`: {}", problem.help, found.path, found.help()),
            ..problem
        };
    }
    if found.path.starts_with(&problem.path) {
        return Problem {
            path: found.path.clone(),
            what: problem.what,
            help: format!("{}; {}", found.help(), problem.help),
            first: None,
        };
    }
    told_at(found, &problem)
}

/// A problem told at the field that explains it.
fn told_at(found: plausibility::Implausible, problem: &Problem) -> Problem {
    Problem {
        path: found.path.clone(),
        what: format!(
            "{} looks wrong: {}; with it, {}: {}",
            found.written,
            found.what(),
            problem.path,
            problem.what
        ),
        help: format!("{}; if not, {}{OR_RIGHT}", found.help(), problem.help),
        first: None,
    }
}

/// A slip in the damper's eyes or lengths that explains why a spring between its seats can't be drawn.
fn wrong_damper(problem: &Problem, scene: &Scene) -> Option<plausibility::Implausible> {
    let mut parts = scene.parts.iter().enumerate();
    let is_spring = parts.any(|(i, part)| {
        matches!(part.shape, crate::scene::ShapeEntry::Spring { .. })
            && problem.path.starts_with(&format!("parts[{i}].shape"))
    });
    let found = plausibility::most_likely_wrong(scene, "damper").filter(|_| is_spring)?;
    (found.path.starts_with("damper.") && found.likely.is_some()).then_some(found)
}

/// Whether a field is a hose or a strap: two ends and a length.
pub(super) fn is_length_of_ends(path: &str) -> bool {
    let list = path.split('[').next().unwrap_or(path);
    list.ends_with("hoses") || path.ends_with("damper.strap")
}

/// Beginnings of fields whose problems don't follow from the suspension's points and numbers.
const OF_ITSELF: [&str; 11] = [
    "parts",
    "other_side.parts",
    "watch",
    "joined",
    "setups",
    "underbody",
    "obstacles",
    "duties",
    "tyre",
    "differential",
    "front_driveshaft",
];

fn put_together(
    measured: &Scene,
    fitted: &Scene,
    changed: bool,
    meshes: &MeshStore,
) -> Result<Truck> {
    let scene = fitted;
    strut::check(scene)?;
    let judged = plausibility::judge(measured);
    let mut warnings: Vec<String> = judged.implausible.iter().map(ToString::to_string).collect();
    warnings.extend(judged.silenced_sentence());
    let implausible = judged.implausible;
    let mut corners = Vec::new();
    let housing = Housing::of(scene)?;
    // Unless something sits on one side only, the other corner is the mirror image and adds nothing.
    let differ = scene.other_side != Default::default()
        || scene.other_corner.is_some()
        || scene
            .parts
            .iter()
            .any(|p| p.fitted != crate::scene::Fitted::EachSide)
        // The rack is one part: with uneven locks the corners steer unevenly.
        || scene.rack.travel.left != scene.rack.travel.right
        // And with uneven stops on a knuckle, whose left is the other one's right.
        || (scene.knuckle.steering_stop_deg).is_some_and(|stop| stop.left != stop.right)
        // Mounts need not lie evenly.
        || !housing.is_as_measured()
        || scene.front_driveshaft.is_some_and(|s| s.diameter.is_some())
        || scene.parts.iter().any(|p| p.on == Body::FrontDriveshaft)
        || watch::tells_sides_apart(scene)
        || super::whole::is_body_uneven(scene, meshes)?;
    let sides = [scene.side, scene.side.opposite()];
    let mut needs = Needs::default();
    for side in &sides[..if differ { 2 } else { 1 }] {
        let fitting = Fitting {
            source: CornerSource::of(scene, *side),
            measured: changed.then(|| (measured, CornerSource::of(measured, *side))),
            housing: &housing,
            across: scene.of_side(side.opposite()),
        };
        let scene = scene.of_side(*side);
        let built = corner(scene, &fitting, meshes)?;
        needs = needs.and(super::needs::needs(scene, &fitting)?);
        warnings.extend(super::own_side::warnings(scene, &fitting)?);
        let of_damper = parts::damper_warnings(scene, &fitting);
        let mut of_rods = parts::rod_warnings(scene, &fitting)?;
        of_rods.extend(parts::driveshaft_warning(scene, &fitting)?);
        let of_arms = parts::arm_warnings(scene, &fitting);
        let of_plunge = super::limits::plunge_warnings(&fitting.source)?;
        let of_links = links::warnings(
            &links::links(scene, &fitting)?,
            &built.positioner,
            built.search_mm,
            built.rack_mm,
            &scene.measured,
        );
        corners.push(built);
        let of_change = of_damper.into_iter().chain(of_rods).chain(of_arms);
        for warning in of_change.chain(of_plunge).chain(of_links) {
            if !warnings.contains(&warning) {
                warnings.push(warning);
            }
        }
    }
    if !changed {
        watch::check_patterns(scene, &corners)?;
    }
    if !differ {
        // The corner that isn't built is the mirror image.
        needs = needs.and_mirrored();
    }
    let needs = needs.or_nothing();
    warnings.extend(needs.sentence());
    warnings.extend(housing.warning());
    for corner in &corners {
        for overlap in &corner.overlaps {
            let depth = match overlap.depth_mm {
                // Told in the answer's unit by `Units::reworded`, up to its last decimal as every depth.
                Some(d) => format!(", about {} mm deep", Toward::More.decimals(d, 3)),
                None => String::new(),
            };
            warnings.push(format!(
                "{}: {} and {} already overlap {}{depth}; this pair is not swept",
                corner.side.name(),
                overlap.a,
                overlap.b,
                if changed { "as fitted" } else { "as measured" }
            ));
        }
    }
    for corner in &corners {
        for [a, b] in &corner.overlapped_before {
            warnings.push(format!(
                "{}: {a} and {b} overlap as measured, no entry of `watch` or `joined` names them, and this setup moves one \
                 against the other: how deep they overlap now is not asked",
                corner.side.name()
            ));
        }
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
    for name in watch::unwatched(&corners) {
        warnings.push(format!(
            "`{name}` is drawn and no entry of `watch` names it: nothing is asked of it but what a wheel meets"
        ));
    }
    if scene.units == LengthUnit::Inch {
        let wide = |w: &&crate::scene::Watch| w.gap > MOST_GAP_IN && w.came_with.is_none();
        for entry in scene.watch.iter().filter(wide) {
            warnings.push(format!(
                "the entry of `watch` for `{}` and `{}` asks for a gap of {} inches: is it in millimetres? Write `\"{} mm\"`",
                entry.a, entry.b, entry.gap, entry.gap
            ));
        }
    }
    if corners.iter().all(|c| !c.watches_something()) {
        warnings.push("no pair is watched: nothing is known about contact".to_owned());
    }
    Ok(Truck {
        name: scene.name.clone(),
        setup: None,
        setups: scene.setups.iter().map(|s| s.name.clone()).collect(),
        scene_unit: scene.units,
        front_driveshaft: front_driveshaft(scene, &housing)?,
        whole: super::whole::whole(
            scene,
            &corners[0].positioner.linkage.hardpoints.wheel_centre,
            corners[0].loaded_radius_mm,
            measured_front_x_mm(measured),
            meshes,
        )?,
        housing,
        corners,
        meshes: meshes.reports(),
        hole_misses_mm: meshes.misses(),
        implausible,
        needs,
        warnings,
    })
}

/// What a changed truck that can't be put together would need, as far as that can be worked out.
fn lacking(measured: &Scene, fitted: &Scene) -> Option<Needs> {
    let housing = Housing::of(fitted).ok()?;
    let mut all = Needs::default();
    for side in [fitted.side, fitted.side.opposite()] {
        let fitting = Fitting {
            source: CornerSource::of(fitted, side),
            measured: Some((measured, CornerSource::of(measured, side))),
            housing: &housing,
            across: fitted.of_side(side.opposite()),
        };
        all = all.and(super::needs::needs(fitted.of_side(side), &fitting).ok()?);
    }
    Some(all)
}

/// What a setup's parts lack to stand, whether or not it can be put together, as far as that can be worked out.
pub(crate) fn needs_of_setup(scene: &Scene, name: &str) -> Option<Needs> {
    lacking(scene, &with_setup(scene, name).ok()?)
}

/// A wider gap than this is asked for by nobody in inches, and is usual in millimetres (common practice, no source).
const MOST_GAP_IN: f64 = 1.5;
/// Travel looked at when the scene says nothing, mm.
const SEARCH_MM: [f64; 2] = [300.0, 250.0];

/// What a corner is put together from.
pub(super) struct Fitting<'s> {
    /// Every component as fitted.
    pub source: CornerSource<'s>,
    /// The scene as measured with its components, where something was changed.
    pub measured: Option<(&'s Scene, CornerSource<'s>)>,
    /// How the differential stands.
    pub housing: &'s Housing,
    /// The scene that the other corner is put together from.
    pub across: &'s Scene,
}

impl Fitting<'_> {
    /// The linkage as fitted.
    pub fn linkage(&self) -> Result<Mechanism> {
        let (hardpoints, own) = points(self)?;
        check_sizes(&hardpoints, &self.source)?;
        Mechanism::refitted(hardpoints, own).map_err(|e| hardpoint_problem(&e))
    }
}

fn corner(scene: &Scene, fitting: &Fitting, meshes: &MeshStore) -> Result<Corner> {
    let source = &fitting.source;
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
    let hung = links::links(scene, fitting)?;
    let linkage = fitting.linkage()?;
    let slices = boots::slices(scene, fitting, &linkage)?;
    // In the order of the bodies' numbers.
    let links = hung.iter().map(|l| HeldByTwo::Link(l.hangs.clone()));
    let rings = slices.iter().map(|s| HeldByTwo::Ring(s.hangs.clone()));
    let coils = springs::slices(scene, fitting, &linkage)?;
    let coils = coils.iter().filter_map(|s| s.hangs().cloned());
    let held = links.chain(rings).chain(coils.map(HeldByTwo::Coil));
    let linkage = linkage.with_links(held.collect());
    let Moving {
        positioner,
        proved_clear,
    } = meshes.moving(linkage);
    let r = source.reader;

    let rack_mm = rack_mm(scene, r)?;
    for (lock, path) in rack_mm
        .iter()
        .zip(["rack.travel.right", "rack.travel.left"])
    {
        // At its measured height: with the arm unmoved a steered wheel stands elsewhere.
        if let Err(error) = positioner.position(0.0, *lock) {
            return Err(Problem::at(
                path,
                format!(
                    "the {} cannot follow the rack to {lock:.1} mm with the wheel at its measured height",
                    error.limit.name()
                ),
                // Measured from lock to lock, half of it is what is asked.
                if positioner.position(0.0, 0.5 * lock).is_ok() {
                    "check the rack's travel (from straight ahead to each lock: is it lock to lock, and half of it meant?), \
                     and both tie-rod ends"
                } else {
                    "check the rack's travel, and both tie-rod ends"
                },
            ));
        }
    }
    let search_mm = search_mm(scene, r)?;
    let ride_height_mm = ride_height_mm(scene, fitting, &positioner)?;
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
    check_loaded_radius(scene, loaded_radius_mm, &knuckle.path)?;
    let shaft = &source.halfshaft;
    let orbit_factor_mm = match shaft.entry.track_pitch_radius {
        None => 0.0,
        Some(radius) => {
            0.5 * shaft
                .reader
                .positive(radius, &format!("{}.track_pitch_radius", shaft.path))?
        }
    };
    let ball_pitch_radius_mm = match shaft.entry.ball_pitch_radius {
        None => None,
        Some(radius) => Some(
            shaft
                .reader
                .positive(radius, &format!("{}.ball_pitch_radius", shaft.path))?,
        ),
    };
    let roll_held = parts::roll_held(scene, source)?;
    let super::limits::CornerLimits {
        limits,
        bump_contact,
        bump_stop_on_rod,
        damper_spacers_mm,
    } = super::limits::limits(
        scene,
        fitting,
        &positioner,
        roll_held.clone(),
        &springs::coil_binds(scene, fitting)?,
        &boots::limits(scene, fitting)?,
    )?;
    let mut corner = Corner {
        side: source.side,
        limits,
        standing_limits: front_driveshaft(scene, fitting.housing)?
            .as_ref()
            .map_or(Vec::new(), StandingLimit::of_shaft),
        parts: parts::parts(scene, fitting, &positioner.linkage, meshes)?,
        pairs: Vec::new(),
        fields: Vec::new(),
        overlaps: Vec::new(),
        overlapped_before: Vec::new(),
        lowered: lowered_bodies(source)?,
        resting: Vec::new(),
        joined: Vec::new(),
        pair_count: PairCount::default(),
        watch: watch::in_mm(scene, source.reader.scale),
        roll_held,
        positioner,
        proved_clear,
        rack_mm,
        ride_height_mm,
        loaded_radius_mm,
        orbit_factor_mm,
        ball_pitch_radius_mm,
        search_mm,
        bump_contact,
        bump_stop_on_rod,
        damper_spacers_mm,
        inner_joint_as_drawn: drawn_points(fitting)?.0.inner_joint,
    };
    watch::watch(scene, source.reader.scale, &mut corner)?;
    watch::fixed_overlaps(scene, fitting, &mut corner, meshes)?;
    Ok(corner)
}

/// The rack at its two locks, mm: toward -y, toward +y.
fn rack_mm(scene: &Scene, r: Reader) -> Result<[f64; 2]> {
    let travel = &scene.rack.travel;
    Ok([
        -r.positive(travel.right, "rack.travel.right")?,
        r.positive(travel.left, "rack.travel.left")?,
    ])
}

/// How far is looked, mm down and up.
fn search_mm(scene: &Scene, r: Reader) -> Result<[f64; 2]> {
    match &scene.search {
        None => Ok(SEARCH_MM),
        Some(s) => Ok([
            r.positive(s.droop, "search.droop")?,
            r.positive(s.bump, "search.bump")?,
        ]),
    }
}

/// Positions all over the travel and steering that are looked at.
pub(super) fn looked_at(
    scene: &Scene,
    source: &CornerSource,
    linkage: &Mechanism,
) -> Result<Vec<Position>> {
    /// Travels looked at: 64 lie 9 mm apart over the longest usual travel. Between two of them a length that bends by a
    /// millimetre in half a metre differs from both by 0.02 mm at most.
    const STEPS: usize = 64;
    let (search, rack) = (
        search_mm(scene, source.reader)?,
        rack_mm(scene, source.reader)?,
    );
    let positioner = Positioner::new(linkage.clone());
    let mut out = Vec::new();
    for rack in [rack[0], 0.5 * rack[0], 0.0, 0.5 * rack[1], rack[1]] {
        for step in 0..=STEPS {
            let share = step as f64 / STEPS as f64;
            let travel = -search[0] + (search[0] + search[1]) * share;
            // Where the suspension gives out before, as far as it goes.
            let position = positioner
                .position(travel, rack)
                .or_else(|error| positioner.position(error.reached_mm, rack));
            out.extend(position.ok());
        }
    }
    Ok(out)
}

/// The points of the corner as fitted, and what the parts that stay remember.
pub(super) fn points(fitting: &Fitting) -> Result<(Hardpoints, OwnPoints)> {
    check_knuckle_on_strut(fitting)?;
    let (drawn, own) = drawn_points(fitting)?;
    let source = &fitting.source;
    let [lower, upper, rack, eye] = [
        source.lowered(Body::LowerArm)?,
        source.lowered(Body::UpperArm)?,
        source.lowered(Body::Rack)?,
        source.lowered(Body::DamperUpper)?,
    ];
    let foot = match drawn.damper_foot {
        DamperFoot::LowerArm => lower,
        DamperFoot::UpperArm => upper,
        DamperFoot::Knuckle => Vector3::zeros(),
    };
    let own = OwnPoints {
        wheel_height_mm: own.wheel_height_mm + lower.z,
        ..own
    };
    let hardpoints = Hardpoints {
        lower_front: drawn.lower_front + lower,
        lower_rear: drawn.lower_rear + lower,
        lower_ball: drawn.lower_ball + lower,
        upper: match drawn.upper {
            UpperLink::Arm(arm) => UpperLink::Arm(arm.map(|p| p + upper)),
            UpperLink::Strut => UpperLink::Strut,
        },
        tie_rod_inner: drawn.tie_rod_inner + rack,
        damper_upper: drawn.damper_upper + eye,
        damper_lower: drawn.damper_lower + foot,
        inner_joint: fitting.housing.point(&drawn.inner_joint),
        flange_axis: fitting.housing.direction(&drawn.flange_axis),
        ..drawn
    };
    Ok((hardpoints, own))
}

/// The second point of another knuckle on a strut is the corner's own top mount: nothing else holds it up there.
fn check_knuckle_on_strut(fitting: &Fitting) -> Result<()> {
    let k = &fitting.source.knuckle;
    let measured = fitting.measured.as_ref().map(|(_, source)| source);
    let before = hardpoints(measured.unwrap_or(&fitting.source))?;
    let Some((_, upper)) = &k.entry.ball_joints else {
        return Ok(());
    };
    let path = format!("{}.ball_joints[1]", k.path);
    let away = k.reader.point(upper, &path)? - before.damper_upper;
    if before.upper != UpperLink::Strut || away.norm() <= super::TOUCH_MM {
        return Ok(());
    }
    Err(Problem::at(
        path,
        "a strut holds the knuckle: it has no upper ball joint that could be elsewhere",
        "give the top mount as measured for the second point; another strut is `Damper(lower_mount: ..)`",
    ))
}

/// The same, the differential where it was drawn: where parts on each body are drawn too.
pub(super) fn drawn_points(fitting: &Fitting) -> Result<(Hardpoints, OwnPoints)> {
    let source = &fitting.source;
    let drawn = hardpoints(source)?;
    let before = match &fitting.measured {
        Some((_, measured)) => hardpoints(measured)?,
        None => drawn.clone(),
    };
    let mut own = OwnPoints::as_measured(&before);
    let k = &source.knuckle;
    if let Some((lower, upper)) = &k.entry.ball_joints {
        let at = |p: &Point, i: usize| k.reader.point(p, &format!("{}.ball_joints[{i}]", k.path));
        own.knuckle = [at(lower, 0)?, at(upper, 1)?];
    }
    if drawn.upper == UpperLink::Strut {
        // Another strut, drawn on the truck as measured: its axis is the line through the points that it came with. With
        // another top mount alone the strut is the same, and its axis stays where it is in the knuckle.
        let d = &source.damper;
        if let Some((upper, lower)) = &d.entry.brought_strut {
            let at = |p: &Point, field: &str| d.reader.point(p, &format!("{}.{field}", d.path));
            own.damper = [at(upper, "upper_mount")?, at(lower, "lower_mount")?];
        }
        own.knuckle[1] = own.damper[0];
    }
    // Another tie-rod end: the rod's length is set anew.
    if drawn.tie_rod_outer != before.tie_rod_outer || drawn.tie_rod_inner != before.tie_rod_inner {
        own.tie_rod = [drawn.tie_rod_inner, drawn.tie_rod_outer];
    }
    let shaft = &source.halfshaft;
    for (rod, longer, reader, path) in [
        (
            &mut own.tie_rod,
            source.tie_rod_longer,
            source.reader,
            "rack.tie_rod_longer".to_owned(),
        ),
        (
            &mut own.halfshaft,
            shaft.entry.longer,
            shaft.reader,
            format!("{}.longer", shaft.path),
        ),
    ] {
        let longer_mm = reader.length(longer, &path)?;
        if longer_mm != 0.0 {
            *rod = lengthened(*rod, longer_mm).ok_or_else(|| {
                Problem::at(
                    path,
                    format!(
                        "made shorter by {:.1} mm, nothing is left of it",
                        -longer_mm
                    ),
                    "below zero is shorter: give the difference of both lengths",
                )
            })?;
        }
    }
    Ok((drawn, own))
}

/// A rod as drawn, longer at its inner end; none where nothing is left of it.
pub(super) fn lengthened(
    [inner, outer]: [Vector3<f64>; 2],
    longer_mm: f64,
) -> Option<[Vector3<f64>; 2]> {
    let rod = inner - outer;
    let drawn_mm = rod.norm();
    let length_mm = drawn_mm + longer_mm;
    (drawn_mm > 0.0 && length_mm > 0.0).then(|| [outer + rod * (length_mm / drawn_mm), outer])
}

/// The linkage of a corner before anything was changed.
pub(super) fn measured_linkage(measured: &Scene, before: &CornerSource) -> Result<Mechanism> {
    let housing = Housing::of(measured)?;
    Fitting {
        source: before.clone(),
        measured: None,
        housing: &housing,
        across: measured,
    }
    .linkage()
}

/// Bodies whose drawings drop brackets move, and by how much.
fn lowered_bodies(source: &CornerSource) -> Result<Vec<(Body, Vector3<f64>)>> {
    let bodies = [Body::LowerArm, Body::UpperArm, Body::Rack];
    let all = bodies.map(|body| Ok((body, source.lowered_drawing(body)?)));
    let all = all.into_iter().collect::<Result<Vec<_>>>()?;
    Ok(all.into_iter().filter(|(_, by)| by.norm() > 0.0).collect())
}

/// The middle between the front wheel centres along x, as measured: the wheelbase counts from there.
fn measured_front_x_mm(measured: &Scene) -> f64 {
    let own = measured.knuckle.wheel_centre.0;
    let other = measured.other_side.knuckle.as_ref();
    let other = other.map_or(own, |knuckle| knuckle.wheel_centre.0);
    measured.units.in_mm() * 0.5 * (own + other)
}

/// What a tyre may stand larger than its size says, as a share: sizes are told to the nearest of a list.
const LARGER_THAN_ITS_SIZE: f64 = 1.02;

/// Refuses a tyre that would stand higher under load than it is without.
fn check_loaded_radius(scene: &Scene, loaded_mm: f64, knuckle: &str) -> Result<()> {
    if scene.tyre.is_none() {
        return Ok(());
    }
    let free_mm = 0.5 * fitted_measures(scene)?.diameter_mm;
    if loaded_mm <= free_mm * LARGER_THAN_ITS_SIZE {
        return Ok(());
    }
    Err(Problem::at(
        format!("{knuckle}.loaded_radius"),
        format!(
            "the loaded radius is {loaded_mm:.1} mm, and the tyre's radius without load {free_mm:.1} mm by its size"
        ),
        "it is measured from the wheel's centre down to the ground with the truck standing, and less than half the tyre's \
         diameter",
    ))
}

/// Wheel travel at ride height. The spring keeps the length that it has there on the truck as measured, so the
/// damper does too, but for the spacers that were put in; on top of that comes what the setup raises.
fn ride_height_mm(scene: &Scene, fitting: &Fitting, positioner: &Positioner) -> Result<f64> {
    let r = fitting.source.reader;
    let wanted_mm = r.length(scene.ride_height, "ride_height")?;
    let Some((measured, before)) = &fitting.measured else {
        return Ok(wanted_mm);
    };
    let before_mm = r.length(measured.ride_height, "ride_height")?;
    let as_measured = measured_linkage(measured, before)?;
    let at_ride = |positioner: &Positioner| {
        let position = positioner.position(before_mm, 0.0).ok()?;
        Some(position.linkage.damper_mm)
    };
    // All of them: what adds preload only raises the truck as well.
    let spacers = |source: &CornerSource| source.spacers_mm(|_| true);
    // Another strut, drawn on the truck as measured, stands there as the old one did, from whichever point it is counted.
    let drawn = |own: &OwnPoints| (own.damper[0] - own.damper[1]).norm();
    let counted_mm = drawn(&positioner.linkage.own) - drawn(&as_measured.own);
    let held_mm = at_ride(&Positioner::new(as_measured))
        .map(|mm| mm + counted_mm + spacers(&fitting.source) - spacers(before));
    // Where the parts that set it are as they were, it is to the last digit.
    let unchanged = held_mm.is_some_and(|held| {
        at_ride(positioner).is_some_and(|now| (now - held).abs() < HEIGHT_TOLERANCE_MM)
    });
    let raised_mm = wanted_mm - before_mm;
    if unchanged {
        return Ok(before_mm + raised_mm);
    }
    let held = held_mm.and_then(|mm| positioner.travel_at_damper_length(mm, 0.0));
    held.map(|travel_mm| travel_mm + raised_mm).ok_or_else(|| {
        Problem::at(
            "ride_height",
            "the damper can't have the length at which the spring holds it at ride height",
            "check the setup's damper mounts, spacers and lower arm",
        )
    })
}

/// The front driveshaft with its pinion where the housing has taken it.
pub(super) fn front_driveshaft(
    scene: &Scene,
    housing: &Housing,
) -> Result<Option<FrontDriveshaft>> {
    let Some(entry) = &scene.front_driveshaft else {
        return Ok(None);
    };
    let r = Reader {
        scale: scene.units.in_mm(),
        mirrored: false,
    };
    let path = |field: &str| format!("front_driveshaft.{field}");
    let point = |p: &Point, field: &str| r.point(p, &path(field));
    let axis = |p: &Point, field: &str| r.direction(p, &path(field));
    let pinion = point(&entry.pinion, "pinion")?;
    let transfer_case = point(&entry.transfer_case, "transfer_case")?;
    let shaft = FrontDriveshaft {
        transfer_case,
        transfer_case_axis: axis(&entry.transfer_case_axis, "transfer_case_axis")?,
        pinion: housing.point(&pinion),
        pinion_axis: housing.direction(&axis(&entry.pinion_axis, "pinion_axis")?),
        joints: [entry.joint_at_transfer_case, entry.joint_at_pinion],
        phase: Reader::finite(entry.phase_deg, &path("phase_deg"))?.to_radians(),
        joint_limit: angle(entry.joint_limit_deg, 0.0, 80.0, &path("joint_limit_deg"))?,
        fluctuation_limit: match entry.fluctuation_limit {
            None => crate::driveline::FLUCTUATION_LIMIT,
            Some(limit) if limit.is_finite() && limit > 0.0 => limit,
            Some(limit) => {
                return Err(Problem::at(
                    path("fluctuation_limit"),
                    format!("{limit} is no limit"),
                    "give (fastest - slowest) / mean as a fraction, such as 0.0027",
                ));
            }
        },
        length_as_measured_mm: (pinion - transfer_case).norm(),
    };
    if shaft.length_as_measured_mm < 1.0 {
        return Err(Problem::at(
            path("pinion"),
            "both ends of the front driveshaft are at one point",
            "measure the joints' centres again",
        ));
    }
    if shaft
        .joint_angles()
        .iter()
        .any(|a| *a > std::f64::consts::FRAC_PI_2)
    {
        return Err(Problem::at(
            path("pinion_axis"),
            "an axis points against the shaft",
            "give both axes in the direction from the transfer case to the pinion",
        ));
    }
    Ok(Some(shaft))
}

/// The upper arm that holds the knuckle; none where a strut does.
fn upper_link<'a, 's>(source: &'a CornerSource<'s>) -> Result<Option<&'a Source<'s, Arm>>> {
    let d = &source.damper;
    let is_strut = d.entry.lower_mount_on == Foot::Strut;
    match &source.upper_arm {
        Some(arm) if is_strut => Err(Problem::at(
            format!("{}.lower_mount_on", d.path),
            "a strut holds the knuckle's upper end, and so does the upper arm",
            format!(
                "leave out `{}`, or name the body that carries the damper's lower eye",
                arm.path
            ),
        )),
        None if !is_strut => Err(Problem::at(
            "upper_arm",
            "nothing holds the knuckle's upper end",
            "give `upper_arm: (front_pivot: .., rear_pivot: .., ball_joint: ..)`; where the damper holds the knuckle, say so: \
             `damper: (lower_mount_on: strut, ..)`",
        )),
        arm => Ok(arm.as_ref()),
    }
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
    let upper = match upper_link(source)? {
        Some(own) => {
            let [front, rear, ball] = arm(own)?;
            UpperLink::Arm(ArmPoints { front, rear, ball })
        }
        None => UpperLink::Strut,
    };
    let k = &source.knuckle;
    let spindle_path = format!("{}.spindle", k.path);
    let spindle_axis = match &k.entry.spindle {
        Spindle::Axis(axis) => k.reader.direction(axis, &spindle_path)?,
        Spindle::Static {
            toe_deg,
            camber_deg,
        } => {
            angle(*toe_deg, -45.0, 45.0, &spindle_path)?;
            angle(*camber_deg, -45.0, 45.0, &spindle_path)?;
            Vector3::from(k.entry.spindle.direction(source.side))
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
            let is_written = match name {
                "flange_axis" => h.entry.flange_axis.is_some(),
                _ => h.entry.outer_axis.is_some(),
            };
            if !is_written {
                return Err(Problem::at(
                    format!("{}.outer_joint", h.path),
                    "the shaft runs inboard from its inner joint: on the right side of the truck the outer joint's y is \
                     the lower one, on the left the higher",
                    "give both joints on their own side of the truck: y is positive on the left, negative on the right; \
                     the joint at the wheel is `outer_joint`",
                ));
            }
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
        upper,
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
            Foot::Knuckle | Foot::Strut => DamperFoot::Knuckle,
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
    let lower = &source.lower_arm.path;
    let of_upper_arm = (source.upper_arm.iter().zip(h.upper_arm())).flat_map(|(source, arm)| {
        [
            (arm.front, "front_pivot"),
            (arm.rear, "rear_pivot"),
            (arm.ball, "ball_joint"),
        ]
        .map(|(point, field)| (point, format!("{}.{field}", source.path)))
    });
    let (damper, shaft) = (&source.damper.path, &source.halfshaft.path);
    for (point, path) in [
        (h.lower_front, format!("{lower}.front_pivot")),
        (h.lower_rear, format!("{lower}.rear_pivot")),
        (h.lower_ball, format!("{lower}.ball_joint")),
        (h.tie_rod_inner, source.tie_rod_inner.path.clone()),
        (h.tie_rod_outer, format!("{k}.tie_rod_outer")),
        (h.damper_upper, format!("{damper}.upper_mount")),
        (h.damper_lower, format!("{damper}.lower_mount")),
        (h.outer_joint, format!("{shaft}.outer_joint")),
        (h.inner_joint, format!("{shaft}.inner_joint")),
    ]
    .into_iter()
    .chain(of_upper_arm)
    {
        let distance = (point - h.wheel_centre).norm();
        if distance > CORNER_SIZE_MM {
            let asked = in_millimetres(&point, &h.wheel_centre, source.reader.scale);
            return Err(Problem::at(
                path,
                format!("this point is {distance:.0} mm from the wheel centre"),
                format!(
                    "{asked}expected at most {CORNER_SIZE_MM} mm: a digit too many, or a point in another \
                     unit than `units` says?"
                ),
            ));
        }
    }
    Ok(())
}

/// Asks whether a number of a point that is too far away in a scene in inches is in millimetres, where it would be near enough
/// so; empty else. It is written as a scene takes it, so that it stays as it is where messages are told in the scene's unit.
fn in_millimetres(point: &Vector3<f64>, centre: &Vector3<f64>, scale: f64) -> String {
    let meant = |i: usize| {
        let mut meant = *point;
        meant[i] /= scale;
        meant
    };
    let axes = (0..3).filter(|_| scale != 1.0);
    let mut near = axes.filter(|i| (meant(*i) - centre).norm() <= CORNER_SIZE_MM);
    near.next().map_or(String::new(), |i| {
        let written = (point[i].abs() / scale * 1.0e4).round() / 1.0e4;
        let inches = written / scale;
        let axis = ["x", "y", "z"][i];
        format!("is {axis} in millimetres? \"{written}mm\" is {inches:.2} in; ")
    })
}

fn hardpoint_problem(error: &HardpointError) -> Problem {
    let path = match error {
        HardpointError::TooClose { a, .. } => (*a).to_owned(),
        HardpointError::InLine { point, .. } => (*point).to_owned(),
        HardpointError::DeadPoint(part) => match *part {
            "upper arm" => "upper_arm".to_owned(),
            "tie rod" => "rack.tie_rod_inner".to_owned(),
            "strut" => "damper.upper_mount".to_owned(),
            _ => "halfshaft".to_owned(),
        },
        HardpointError::ArmUpright => "lower_arm".to_owned(),
        HardpointError::Apart(limit) => match limit {
            ReachLimit::UpperArm => "upper_arm".to_owned(),
            ReachLimit::Strut => "damper.upper_mount".to_owned(),
            ReachLimit::WheelHeight => "lower_arm".to_owned(),
            ReachLimit::TieRod => "rack.tie_rod_inner".to_owned(),
            ReachLimit::Halfshaft => "halfshaft".to_owned(),
        },
    };
    let help = match error {
        HardpointError::TooClose { .. } => "measure both points again: they can't be the same",
        HardpointError::InLine { .. } => "three points of an arm can't lie on one line",
        HardpointError::DeadPoint(_) => {
            "measure with the suspension in the middle of its travel, and check these points"
        }
        HardpointError::ArmUpright => "check the arm's pivots and ball joint",
        HardpointError::Apart(_) => {
            "the arm, knuckle, rod or shaft is too long or too short for the points it joins"
        }
    };
    Problem::at(path, error.to_string(), help)
}
