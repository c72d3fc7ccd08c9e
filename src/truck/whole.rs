//! The rest of the truck: rear axle, underbody, and the obstacles that the scene names, in millimetres.

use super::assemble::{Reader, angle};
use super::mesh_store::MeshStore;
use super::parts::shape;
use crate::scene::{CarriedBy, Obstacle, ObstacleShape, Point, Problem, Scene};
use crate::shapes::{Shape, Surface};
use nalgebra::Vector3;
use std::sync::Arc;

type Result<T> = std::result::Result<T, Problem>;

/// Rear axle, underbody and obstacles.
#[derive(Clone, Debug)]
pub struct WholeTruck {
    /// Where the rear axle is, vehicle coordinates along x: where it was measured, whatever a setup does in front.
    pub rear_axle_x_mm: f64,
    /// From the middle to a rear wheel's centre, mm.
    pub rear_half_track_mm: f64,
    /// Height of the rear wheel centres, vehicle coordinates, mm.
    pub rear_wheel_z_mm: f64,
    /// The rear tyres' static loaded radius, mm.
    pub rear_radius_mm: f64,
    /// Springs of a front and of a rear wheel, where the scene gives them.
    pub springs: Option<[WheelSpring; 2]>,
    /// How far a rear wheel goes down and up from ride height, mm: below zero, above zero.
    pub rear_travel_mm: [f64; 2],
    /// Section widths of front and rear tyres, mm.
    pub tyre_widths_mm: [f64; 2],
    /// Underbody parts.
    pub underbody: Vec<UnderbodyPart>,
    /// Obstacles.
    pub obstacles: Vec<TruckObstacle>,
}

/// What a spring does at its wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelSpring {
    /// Load on the wheel at ride height, N.
    pub load_n: f64,
    /// Load gained for wheel travel, N/mm.
    pub rate_n_per_mm: f64,
}

/// A part of the truck's body or underbody: the ground can meet it, and the tyres.
#[derive(Clone, Debug)]
pub struct UnderbodyPart {
    /// Its name.
    pub name: String,
    /// What carries it.
    pub on: CarriedBy,
    /// Its shape, vehicle coordinates as measured.
    pub shape: Shape,
    /// The surface of that.
    pub surface: Arc<Surface>,
}

/// An obstacle, its lengths in mm.
#[derive(Clone, Debug)]
pub struct TruckObstacle {
    /// As in the scene, lengths in mm.
    pub entry: Obstacle,
    /// A mesh obstacle's corners and triangles, mm.
    pub mesh: Option<Triangles>,
}

/// Corners and corner numbers of triangles.
type Triangles = (Arc<Vec<Vector3<f64>>>, Arc<Vec<[u32; 3]>>);

/// The parts of the truck's body and underbody, each with its entry's number. Those drawn for both sides are two.
pub(super) fn body_parts(scene: &Scene, meshes: &MeshStore) -> Result<Vec<(usize, UnderbodyPart)>> {
    let scale = scene.units.in_mm();
    let mut underbody = Vec::new();
    for (i, entry) in scene.underbody.iter().enumerate() {
        let path = format!("underbody[{i}].shape");
        let sides: &[bool] = if entry.both_sides {
            &[false, true]
        } else {
            &[false]
        };
        for mirrored in sides {
            let reader = Reader {
                scale,
                mirrored: *mirrored,
            };
            let drawn = shape(&entry.shape, reader, &path, meshes)?;
            let surface = drawn.surface(None).map_err(|e| {
                Problem::at(&path, e.to_string(), "check the shape's sizes and points")
            })?;
            let y = surface.vertex_in_body(0).y;
            let name = match (entry.both_sides, y >= 0.0) {
                (false, _) => entry.name.clone(),
                (true, true) => format!("left {}", entry.name),
                (true, false) => format!("right {}", entry.name),
            };
            let part = UnderbodyPart {
                name,
                on: entry.on,
                shape: drawn,
                surface: Arc::new(surface),
            };
            underbody.push((i, part));
        }
    }
    Ok(underbody)
}

/// Whether a part of the body that the frame carries is no mirror image of itself: then each corner meets its own side.
pub(super) fn is_body_uneven(scene: &Scene, meshes: &MeshStore) -> Result<bool> {
    let is_drawn_once = |i: usize| !scene.underbody[i].both_sides;
    let parts = body_parts(scene, meshes)?;
    let mut once = parts
        .iter()
        .filter(|(i, part)| part.on == CarriedBy::Frame && is_drawn_once(*i));
    Ok(once.any(|(_, part)| !is_even(part)))
}

/// Whether a part is its own mirror image, to a micrometre.
fn is_even(part: &UnderbodyPart) -> bool {
    const SAME_MM: f64 = 1.0e-3;
    part.surface.lies_on(&part.surface.mirrored(), SAME_MM)
}

pub(super) fn whole(
    scene: &Scene,
    front_wheel: &Vector3<f64>,
    front_radius_mm: f64,
    measured_front_x_mm: f64,
    meshes: &MeshStore,
) -> Result<Option<WholeTruck>> {
    let r = Reader {
        scale: scene.units.in_mm(),
        mirrored: false,
    };
    let Some(rear) = &scene.rear else {
        for (list, used) in [
            (
                "underbody",
                scene.underbody.iter().any(|u| u.on == CarriedBy::RearAxle),
            ),
            ("obstacles", !scene.obstacles.is_empty()),
            ("wheel_springs", scene.wheel_springs.is_some()),
        ] {
            if used {
                return Err(Problem::at(
                    list,
                    "the scene has no rear axle to stand on",
                    "add `rear: (wheelbase: .., half_track: .., wheel_centre_z: .., loaded_radius: .., \
                     tyre_width: ..)`",
                ));
            }
        }
        return Ok(None);
    };
    let wheelbase_mm = r.positive(rear.wheelbase, "rear.wheelbase")?;
    let rear_radius_mm = r.positive(rear.loaded_radius, "rear.loaded_radius")?;
    if wheelbase_mm <= front_radius_mm + rear_radius_mm {
        return Err(Problem::at(
            "rear.wheelbase",
            format!("with a wheelbase of {} the tyres overlap", rear.wheelbase),
            "the wheelbase is longer than both loaded radii: is `units` right?",
        ));
    }
    let rear_width = r.positive(rear.tyre_width, "rear.tyre_width")?;
    let front_width = match &scene.tyre {
        Some(_) => crate::setups::fitted_measures(scene)?.width_mm,
        None => rear_width,
    };
    let rear_wheel_z_mm = r.length(rear.wheel_centre_z, "rear.wheel_centre_z")?;
    let step = (rear_wheel_z_mm - rear_radius_mm) - (front_wheel.z - front_radius_mm);
    if step.abs() > 0.3 * wheelbase_mm {
        return Err(Problem::at(
            "rear.wheel_centre_z",
            format!("the rear tyres would stand {step:.0} mm above the front ones"),
            "give the rear wheel centres' height in the scene's own coordinates",
        ));
    }
    let springs = match &scene.wheel_springs {
        None => None,
        Some(given) => {
            if rear.travel.is_none() {
                return Err(Problem::at(
                    "rear.travel",
                    "with wheel springs the rear wheels need an end of travel",
                    "add `travel: (droop, bump)`, how far a rear wheel goes down and up from ride height",
                ));
            }
            let force = scene.units.force_in_newtons();
            let spring = |s: &crate::scene::WheelSpring, at: &str| -> Result<WheelSpring> {
                let positive = |value: f64, field: &str| {
                    if value.is_finite() && value > 0.0 {
                        Ok(value)
                    } else {
                        Err(Problem::at(
                            format!("wheel_springs.{at}.{field}"),
                            format!("{value} is not above zero"),
                            "give the load on one wheel at ride height and what it gains for a length of travel",
                        ))
                    }
                };
                Ok(WheelSpring {
                    load_n: positive(s.load, "load")? * force,
                    rate_n_per_mm: positive(s.rate, "rate")? * force / r.scale,
                })
            };
            Some([spring(&given.front, "front")?, spring(&given.rear, "rear")?])
        }
    };
    let rear_travel_mm = match rear.travel {
        None => [0.0; 2],
        Some((droop, bump)) => [
            -r.positive(droop, "rear.travel")?,
            r.positive(bump, "rear.travel")?,
        ],
    };
    let underbody = body_parts(scene, meshes)?
        .into_iter()
        .map(|(_, part)| part)
        .collect();
    let mut obstacles: Vec<TruckObstacle> = Vec::new();
    for (i, entry) in scene.obstacles.iter().enumerate() {
        let path = format!("obstacles[{i}]");
        if scene.obstacles[..i].iter().any(|o| o.name == entry.name) {
            return Err(Problem::at(
                format!("{path}.name"),
                format!("two obstacles are named `{}`", entry.name),
                "give each obstacle a name of its own",
            ));
        }
        obstacles.push(obstacle(entry, r, &path, meshes)?);
    }
    Ok(Some(WholeTruck {
        rear_axle_x_mm: measured_front_x_mm - wheelbase_mm,
        rear_half_track_mm: r.positive(rear.half_track, "rear.half_track")?,
        rear_wheel_z_mm,
        rear_radius_mm,
        springs,
        rear_travel_mm,
        tyre_widths_mm: [front_width, rear_width],
        underbody,
        obstacles,
    }))
}

/// A drive starts no further from its obstacle, mm: all the way is proved step by step.
const MOST_AHEAD_MM: f64 = 50_000.0;

/// An obstacle with its lengths in mm, its sizes checked.
fn obstacle(entry: &Obstacle, r: Reader, path: &str, meshes: &MeshStore) -> Result<TruckObstacle> {
    let at = |field: &str| format!("{path}.shape.{field}");
    let size = |value: f64, field: &str| r.positive(value, &at(field));
    let length = |value: f64, field: &str| r.length(value, &at(field));
    let mut mesh = None;
    let mut across_allowed = true;
    let shape = match &entry.shape {
        ObstacleShape::Ledge {
            height,
            edge_radius,
        } => {
            let height = size(*height, "height")?;
            let edge_radius = length(*edge_radius, "edge_radius")?;
            if !(0.0..=height).contains(&edge_radius) {
                return Err(Problem::at(
                    at("edge_radius"),
                    "the edge's radius is not between zero and the ledge's height",
                    "give the rounding of its edge",
                ));
            }
            ObstacleShape::Ledge {
                height,
                edge_radius,
            }
        }
        ObstacleShape::Ramp {
            height,
            length: long,
        } => ObstacleShape::Ramp {
            height: size(*height, "height")?,
            length: size(*long, "length")?,
        },
        ObstacleShape::Hump {
            height,
            length: long,
        } => ObstacleShape::Hump {
            height: size(*height, "height")?,
            length: size(*long, "length")?,
        },
        ObstacleShape::Log { diameter } => ObstacleShape::Log {
            diameter: size(*diameter, "diameter")?,
        },
        ObstacleShape::Boulder { size: s, middle_y } => {
            across_allowed = false;
            ObstacleShape::Boulder {
                size: Point(size(s.0, "size")?, size(s.1, "size")?, size(s.2, "size")?),
                middle_y: length(*middle_y, "middle_y")?,
            }
        }
        ObstacleShape::Mesh {
            file,
            unit,
            middle_y,
            sunk,
        } => {
            across_allowed = false;
            mesh = Some(meshes.load(file, *unit, &at("file"))?);
            ObstacleShape::Mesh {
                file: file.clone(),
                unit: *unit,
                middle_y: length(*middle_y, "middle_y")?,
                sunk: length(*sunk, "sunk")?,
            }
        }
        ObstacleShape::Ditch { depth, width } => {
            across_allowed = false;
            ObstacleShape::Ditch {
                depth: size(*depth, "depth")?,
                width: size(*width, "width")?,
            }
        }
        ObstacleShape::SideSlope { deg } => {
            across_allowed = false;
            angle(*deg, -45.0, 45.0, &at("deg"))?;
            ObstacleShape::SideSlope { deg: *deg }
        }
        ObstacleShape::Profile { points } => {
            let mut out: Vec<(f64, f64)> = Vec::new();
            for (x, z) in points {
                let p = (length(*x, "points")?, length(*z, "points")?);
                if out.last().is_some_and(|last| p.0 < last.0) || p.0 < 0.0 {
                    return Err(Problem::at(
                        at("points"),
                        "the distances don't rise",
                        "list (distance, height) from the front on, the first at zero or more",
                    ));
                }
                out.push(p);
            }
            if out.len() < 2 {
                return Err(Problem::at(
                    at("points"),
                    "a profile needs two corners or more",
                    "list (distance, height) from the front on",
                ));
            }
            ObstacleShape::Profile { points: out }
        }
    };
    let across = match entry.across {
        None => None,
        Some(_) if !across_allowed => {
            return Err(Problem::at(
                format!("{path}.across"),
                "this kind of obstacle can't be narrowed",
                "leave `across` out; boulders are placed by `middle_y`",
            ));
        }
        Some((a, b)) => {
            let path = format!("{path}.across");
            let (a, b) = (r.length(a, &path)?, r.length(b, &path)?);
            if a == b {
                return Err(Problem::at(
                    path,
                    "this obstacle has no width",
                    "give both its edges, left positive",
                ));
            }
            Some((a.min(b), a.max(b)))
        }
    };
    let ahead = match entry.ahead {
        None => None,
        Some(d) => {
            let path = format!("{path}.ahead");
            let ahead_mm = r.length(d, &path)?;
            if ahead_mm > MOST_AHEAD_MM {
                return Err(Problem::at(
                    path,
                    format!("it begins more than {} m ahead", MOST_AHEAD_MM / 1000.0),
                    "leave `ahead` out: the drive begins where nothing touches yet",
                ));
            }
            Some(ahead_mm)
        }
    };
    Ok(TruckObstacle {
        entry: Obstacle {
            name: entry.name.clone(),
            shape,
            across,
            ahead,
        },
        mesh,
    })
}
