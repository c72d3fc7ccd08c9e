//! The whole truck as one body on four wheels: its parts where the wheels' travel has them.

use crate::scene::CarriedBy;
use crate::shapes::Surface;
use crate::suspension::{Body, Motion, Side};
use crate::truck::{TOUCH_MM, Truck};
use nalgebra::{Matrix3, Vector3};

/// Why a truck can't stand on the ground.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum VehicleError {
    /// The scene has no rear axle.
    #[error("the scene has no rear axle to stand on")]
    NoRearAxle,
    /// A wheel can't have the travel.
    #[error("the {0} front wheel cannot reach travel {1:.1} mm")]
    OutOfReach(&'static str, f64),
}

/// A part that the ground may meet, vehicle coordinates, its wheel at the travel asked for.
#[derive(Clone, Debug)]
pub struct VehiclePart {
    /// Its name, with its side where both have one.
    pub name: String,
    /// Whether the springs carry it.
    pub sprung: bool,
    /// Whether it is on a differential: front or rear.
    pub axle: bool,
    /// Its surface; `rotation` and `origin` place it in vehicle coordinates.
    pub surface: Surface,
}

/// The truck, its four wheels and its parts: vehicle coordinates, mm.
#[derive(Clone, Debug)]
pub struct Vehicle {
    /// Wheel centres: front left, front right, rear left, rear right.
    pub wheels: [Vector3<f64>; 4],
    /// Static loaded radii.
    pub radii: [f64; 4],
    /// Tyre widths.
    pub widths: [f64; 4],
    /// Everything but what turns with a wheel.
    pub parts: Vec<VehiclePart>,
}

impl Vehicle {
    /// At wheel travels from ride height, bump positive: front left, front right, rear left, rear right.
    ///
    /// # Errors
    /// [`VehicleError`].
    pub fn new(truck: &Truck, travel_mm: [f64; 4]) -> Result<Vehicle, VehicleError> {
        let whole = truck.whole.as_ref().ok_or(VehicleError::NoRearAxle)?;
        let mut parts: Vec<VehiclePart> = Vec::new();
        let mut wheels = [Vector3::zeros(); 4];
        let mut radii = [whole.rear_radius_mm; 4];
        for (i, side) in [Side::Left, Side::Right].into_iter().enumerate() {
            // Where both sides mirror each other only one was built.
            let (corner, mirrored) = match truck.corner(side) {
                Some(corner) => (corner, false),
                None => (&truck.corners[0], true),
            };
            let travel = corner.ride_height_mm + travel_mm[i];
            let position = corner
                .position(travel, 0.0)
                .map_err(|_| VehicleError::OutOfReach(side.name(), travel_mm[i]))?;
            wheels[i] = position.linkage.wheel_centre;
            if mirrored {
                wheels[i].y = -wheels[i].y;
            }
            radii[i] = corner.loaded_radius_mm;
            for part in &corner.parts {
                // Rim and tread are inside the circle that rolls.
                if part.body == Body::Wheel {
                    continue;
                }
                let placement = position.linkage.placement(part.body.motion());
                let own = &part.surface;
                let surface = Surface {
                    rotation: placement.rotation * own.rotation,
                    origin: placement.point(&own.origin),
                    ..Surface::clone(own)
                };
                let surface = if mirrored { mirror(&surface) } else { surface };
                let at_rest = part.body.motion() == Motion::Frame;
                let mut name = part.name.clone();
                if let Some(twin) = parts.iter().position(|p| p.name == name) {
                    // Drawn once and seen by both corners.
                    if at_rest && surface.lies_on(&parts[twin].surface, TOUCH_MM) {
                        continue;
                    }
                    // Two of a name are told apart by their sides.
                    parts[twin].name = format!("left {name}");
                    name = format!("right {name}");
                }
                parts.push(VehiclePart {
                    name,
                    sprung: at_rest,
                    axle: part.body == Body::Differential,
                    surface,
                });
            }
        }
        let x = 0.5 * (wheels[0].x + wheels[1].x) - whole.wheelbase_mm;
        for (i, sign) in [(2, 1.0), (3, -1.0)] {
            let y = sign * whole.rear_half_track_mm;
            wheels[i] = Vector3::new(x, y, whole.rear_wheel_z_mm + travel_mm[i]);
        }
        for part in &whole.underbody {
            let unsprung = part.on == CarriedBy::RearAxle;
            let lift = if unsprung {
                0.5 * (travel_mm[2] + travel_mm[3])
            } else {
                0.0
            };
            let surface = Surface {
                origin: part.surface.origin + Vector3::new(0.0, 0.0, lift),
                ..Surface::clone(&part.surface)
            };
            parts.push(VehiclePart {
                name: part.name.clone(),
                sprung: !unsprung,
                axle: unsprung,
                surface,
            });
        }
        let [front, rear] = whole.tyre_widths_mm;
        Ok(Vehicle {
            wheels,
            radii,
            widths: [front, front, rear, rear],
            parts,
        })
    }

    /// Middle of the front wheel centres.
    pub fn front(&self) -> Vector3<f64> {
        (self.wheels[0] + self.wheels[1]) * 0.5
    }
}

fn mirror(surface: &Surface) -> Surface {
    let vertices: Vec<Vector3<f64>> = (0..surface.vertices.len())
        .map(|i| surface.vertex_in_body(i))
        .map(|v| Vector3::new(v.x, -v.y, v.z))
        .collect();
    // A mirrored triangle runs the other way; the other kinds have no sense.
    let elements = surface
        .elements
        .iter()
        .map(|[a, b, c]| {
            if surface.kind == crate::shapes::ElementKind::Triangle {
                [*a, *c, *b]
            } else {
                [*a, *b, *c]
            }
        })
        .collect();
    Surface::new(
        Matrix3::identity(),
        Vector3::zeros(),
        vertices,
        elements,
        surface.kind,
        surface.closed,
    )
    .thickened(surface.radius_mm)
    .facetted(surface.facet_error_mm)
}
