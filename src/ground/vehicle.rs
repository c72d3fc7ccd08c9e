//! The whole truck as one body on four wheels: its parts, and where the wheels' travel has them.

use super::springing::WheelSuspension;
use super::travel_bound::TravelPatches;
use super::wheel_parts::RollingCircle;
use crate::findings::{TravelDirection, WheelPastStop};
use crate::kinematics::{Position, Positioner};
use crate::scene::CarriedBy;
use crate::shapes::Surface;
use crate::suspension::{Body, Motion, Side};
use crate::sweep::line::TRAVEL_TOLERANCE_MM;
use crate::sweep::rate_atlas::Atlas;
use crate::sweep::stop_order::stops_on_line;
use crate::sweep::stops::{Guard, stop_id};
use crate::truck::{Corner, TOUCH_MM, Truck};
use nalgebra::{Matrix3, Rotation3, Vector3};
use std::sync::Arc;

/// Why a truck can't stand on the ground.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum VehicleError {
    /// The scene has no rear axle.
    #[error("the scene has no rear axle to stand on")]
    NoRearAxle,
    /// A wheel can't have the travel.
    #[error("the {0} front wheel cannot reach travel {1:.1} mm")]
    OutOfReach(&'static str, f64),
    /// The rear wheels can't be that far apart in travel.
    #[error("the rear axle cannot stand with its wheels {0:.1} mm apart in travel")]
    AxleTooTilted(f64),
    /// The suspension is to follow, and the scene doesn't say how stiff it is.
    #[error("the scene has no wheel springs to follow the ground with")]
    NoSprings,
    /// The suspension is to follow, and ride height lies outside the free travel.
    #[error("at ride height the {0} front wheel is already past a stop")]
    PastAStop(&'static str),
}

/// What carries a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Carrier {
    /// The frame, and what is bolted to it.
    Frame,
    /// A moving body of a front corner: 0 left, 1 right.
    Front(usize, Motion),
    /// The rear axle.
    RearAxle,
}

/// A part that the ground may meet.
#[derive(Clone, Debug)]
pub struct VehiclePart {
    /// Its name, with its side where both have one.
    pub name: String,
    /// Whether the springs carry it.
    pub sprung: bool,
    /// Whether it is on a differential: front or rear.
    pub axle: bool,
    /// What moves it.
    pub carrier: Carrier,
    /// Its surface where it was measured: vehicle coordinates, mm.
    pub surface: Surface,
}

/// A front corner, seen from the vehicle.
#[derive(Clone, Debug)]
pub(super) struct FrontCorner {
    pub(super) side: Side,
    /// Solves the corner that was built; where `mirrored`, the other side's.
    pub(super) positioner: Positioner,
    pub(super) mirrored: bool,
    /// Its motion enclosed by patches of travel.
    pub(super) patches: Arc<TravelPatches>,
    ride_height_mm: f64,
}

/// A wheel held at a stop is no further past it than its bracket is wide, mm.
const AT_A_STOP_MM: f64 = 2.0 * TRAVEL_TOLERANCE_MM;

/// A line is searched so much further than is asked, mm.
const BEYOND_MM: f64 = 1.0;

/// Which wheels are past a stop at travels from ride height, straight ahead: a limit, a contact or the end of reach lies
/// between there and where the truck was measured.
pub(super) fn past_stops(truck: &Truck, held_mm: [f64; 4]) -> Vec<WheelPastStop> {
    let mut out = Vec::new();
    for (i, side) in [Side::Left, Side::Right].into_iter().enumerate() {
        let corner = truck.corner(side).unwrap_or(&truck.corners[0]);
        let travel_mm = corner.ride_height_mm + held_mm[i];
        let direction = if travel_mm < 0.0 {
            TravelDirection::Droop
        } else {
            TravelDirection::Bump
        };
        if travel_mm == 0.0 {
            continue;
        }
        // What lies beyond isn't asked.
        let mut search_mm = [BEYOND_MM; 2];
        let end = usize::from(direction == TravelDirection::Bump);
        search_mm[end] = corner.search_mm[end].min(travel_mm.abs() + BEYOND_MM);
        let past = on_straight_line(corner, search_mm, |guard| {
            let line = stops_on_line(guard, 0.0, direction);
            let first = line
                .met
                .iter()
                .filter(|met| met.stop.blocks() && !met.graze);
            let first = first.min_by(|a, b| a.stopped_at.abs().total_cmp(&b.stopped_at.abs()))?;
            let free_mm = corner.positioner.place(first.stopped_at, 0.0).travel_mm;
            let is_past = (travel_mm - free_mm) * direction.sign() > AT_A_STOP_MM;
            is_past.then(|| stop_id(corner, first.stop).name())
        });
        out.extend(past.map(|stop| WheelPastStop {
            wheel: ["front left", "front right"][i].into(),
            stop,
        }));
    }
    let rear_mm = truck.whole.as_ref().map(|whole| whole.rear_travel_mm);
    // A rear axle whose travel isn't given has none to be past.
    if let Some([droop, bump]) = rear_mm.filter(|ends| ends[0] < ends[1]) {
        for (i, wheel) in ["rear left", "rear right"].into_iter().enumerate() {
            let travel = held_mm[2 + i];
            let ends = [(travel < droop, "full droop"), (travel > bump, "full bump")];
            out.extend(
                ends.into_iter()
                    .filter(|end| end.0)
                    .map(|(_, stop)| WheelPastStop {
                        wheel: wheel.into(),
                        stop: stop.to_owned(),
                    }),
            );
        }
    }
    out
}

/// The truck, its four wheels and its parts: vehicle coordinates, mm. Wheels in this order: front left, front right,
/// rear left, rear right.
#[derive(Clone, Debug)]
pub struct Vehicle {
    /// Static loaded radii.
    pub radii: [f64; 4],
    /// Tyre widths.
    pub widths: [f64; 4],
    /// Everything that the tyres' rolling circles don't stand for.
    pub parts: Vec<VehiclePart>,
    pub(super) front_corners: [FrontCorner; 2],
    /// Middle of the front wheel centres at ride height.
    front: Vector3<f64>,
    rear_middle: Vector3<f64>,
    rear_half_track_mm: f64,
    /// The springs of the four wheels, where the suspension follows the ground.
    pub(super) suspension: Option<[WheelSuspension; 4]>,
    /// Travel of the four wheels where the suspension is held, mm from ride height.
    pub(super) held_mm: [f64; 4],
}

/// Where the wheels' travel has everything that isn't sprung.
#[derive(Clone, Debug)]
pub struct Posture {
    /// Travel of the four wheels from ride height, bump positive.
    pub travel_mm: [f64; 4],
    /// The four wheel centres, vehicle coordinates.
    pub wheels: [Vector3<f64>; 4],
    /// The front corners as they were built; see [`Vehicle::place`] for a mirrored one.
    pub front: [Position; 2],
    axle: (Matrix3<f64>, Vector3<f64>),
}

impl Posture {
    /// Middle of the rear wheel centres.
    pub(super) fn axle_middle(&self) -> Vector3<f64> {
        (self.wheels[2] + self.wheels[3]) * 0.5
    }
}

impl Vehicle {
    /// The truck with its suspension held at wheel travels from ride height (front left, front right, rear left,
    /// rear right; bump positive).
    ///
    /// # Errors
    /// [`VehicleError`].
    pub fn held(truck: &Truck, held_mm: [f64; 4]) -> Result<Vehicle, VehicleError> {
        let whole = truck.whole.as_ref().ok_or(VehicleError::NoRearAxle)?;
        let mut parts: Vec<VehiclePart> = Vec::new();
        // Their names on their own corners.
        let mut own_names: Vec<String> = Vec::new();
        let mut radii = [whole.rear_radius_mm; 4];
        let mut front_corners = Vec::new();
        for (i, side) in [Side::Left, Side::Right].into_iter().enumerate() {
            // Where both sides mirror each other only one was built.
            let (corner, mirrored) = match truck.corner(side) {
                Some(corner) => (corner, false),
                None => (&truck.corners[0], true),
            };
            front_corners.push(FrontCorner {
                side,
                positioner: corner.positioner.clone(),
                mirrored,
                patches: Arc::new(TravelPatches::new()),
                ride_height_mm: corner.ride_height_mm,
            });
            radii[i] = corner.loaded_radius_mm;
            let hardpoints = &corner.positioner.linkage.hardpoints;
            let rolls = RollingCircle {
                centre: hardpoints.wheel_centre,
                axis: hardpoints.spindle_axis,
                radius_mm: corner.loaded_radius_mm,
                half_width_mm: 0.5 * whole.tyre_widths_mm[0],
            };
            let asked = corner.parts.iter().flat_map(|part| {
                let surfaces = match part.body {
                    Body::Wheel => rolls.beside(&part.surface),
                    _ => vec![Surface::clone(&part.surface)],
                };
                surfaces.into_iter().map(move |surface| (part, surface))
            });
            // The other corner's come before.
            let first = parts.len();
            for (part, surface) in asked {
                let surface = if mirrored {
                    surface.mirrored()
                } else {
                    surface
                };
                // Its spider's orbit widens a shaft, by no more than at the inner joint's greatest angle.
                let surface = if part.orbits {
                    let radius_mm = surface.radius_mm + corner.greatest_orbit_mm();
                    surface.thickened(radius_mm)
                } else {
                    surface
                };
                let motion = part.body.motion();
                let at_rest = motion == Motion::Frame;
                let mut name = part.name.clone();
                let twins = (0..first).filter(|twin| own_names[*twin] == name);
                let twins: Vec<usize> = twins.collect();
                // Drawn once and seen by both corners.
                let lies_on = |twin: &usize| surface.lies_on(&parts[*twin].surface, TOUCH_MM);
                if at_rest && twins.iter().any(lies_on) {
                    continue;
                }
                // Two of a name are told apart by their sides.
                if !twins.is_empty() {
                    let drawn = without_side(&name).to_owned();
                    for twin in twins {
                        parts[twin].name = format!("left {drawn}");
                    }
                    name = format!("right {drawn}");
                }
                own_names.push(part.name.clone());
                parts.push(VehiclePart {
                    name,
                    sprung: part.body.is_sprung(),
                    axle: part.body == Body::Differential,
                    carrier: if at_rest {
                        Carrier::Frame
                    } else {
                        Carrier::Front(i, motion)
                    },
                    surface,
                });
            }
        }
        for part in &whole.underbody {
            let unsprung = part.on == CarriedBy::RearAxle;
            // Seen by a corner already, where its wheel is watched against it.
            let seen = |own: &VehiclePart| {
                own.carrier == Carrier::Frame
                    && own.name == part.name
                    && part.surface.lies_on(&own.surface, TOUCH_MM)
            };
            if !unsprung && parts.iter().any(seen) {
                continue;
            }
            parts.push(VehiclePart {
                name: part.name.clone(),
                sprung: !unsprung,
                axle: unsprung,
                carrier: if unsprung {
                    Carrier::RearAxle
                } else {
                    Carrier::Frame
                },
                surface: Surface::clone(&part.surface),
            });
        }
        let [front, rear] = whole.tyre_widths_mm;
        let Ok(front_corners) = <[FrontCorner; 2]>::try_from(front_corners) else {
            unreachable!("one for each side")
        };
        let mut vehicle = Vehicle {
            radii,
            widths: [front, front, rear, rear],
            parts,
            front_corners,
            front: Vector3::zeros(),
            rear_middle: Vector3::zeros(),
            rear_half_track_mm: whole.rear_half_track_mm,
            suspension: None,
            held_mm,
        };
        let at_ride = vehicle.posture([0.0; 4])?;
        vehicle.front = (at_ride.wheels[0] + at_ride.wheels[1]) * 0.5;
        vehicle.rear_middle = Vector3::new(whole.rear_axle_x_mm, 0.0, whole.rear_wheel_z_mm);
        vehicle.posture(held_mm)?;
        Ok(vehicle)
    }

    /// The truck with its suspension following the ground, between full droop and the bump stop.
    ///
    /// # Errors
    /// [`VehicleError`].
    pub fn following(truck: &Truck) -> Result<Vehicle, VehicleError> {
        let mut vehicle = Vehicle::held(truck, [0.0; 4])?;
        let whole = truck.whole.as_ref().ok_or(VehicleError::NoRearAxle)?;
        let [front, rear] = whole.springs.ok_or(VehicleError::NoSprings)?;
        let left = free_travel_straight_ahead(&truck.corners[0])?;
        let other = match truck.corners.get(1) {
            Some(corner) => free_travel_straight_ahead(corner)?,
            None => left,
        };
        let [left, right] = if truck.corners[0].side == Side::Left {
            [left, other]
        } else {
            [other, left]
        };
        let wheel = |spring, travel_mm| WheelSuspension { spring, travel_mm };
        let [droop, bump] = whole.rear_travel_mm;
        if 0.5 * (bump - droop) > GREATEST_LEAN * whole.rear_half_track_mm {
            return Err(VehicleError::AxleTooTilted(bump - droop));
        }
        let rear = wheel(rear, whole.rear_travel_mm);
        vehicle.suspension = Some([wheel(front, left), wheel(front, right), rear, rear]);
        Ok(vehicle)
    }

    /// Everything unsprung at wheel travels from ride height, bump positive.
    ///
    /// # Errors
    /// [`VehicleError`].
    pub fn posture(&self, travel_mm: [f64; 4]) -> Result<Posture, VehicleError> {
        let at = |i: usize| {
            let corner = &self.front_corners[i];
            corner
                .positioner
                .position(corner.ride_height_mm + travel_mm[i], 0.0)
                .map_err(|_| VehicleError::OutOfReach(corner.side.name(), travel_mm[i]))
        };
        let front = [at(0)?, at(1)?];
        let centre = |i: usize| {
            let mut centre = front[i].linkage.wheel_centre;
            if self.front_corners[i].mirrored {
                centre.y = -centre.y;
            }
            centre
        };
        // A beam axle: its wheels stay a track apart and lean it by the difference of their travels.
        let apart = travel_mm[2] - travel_mm[3];
        let lean = 0.5 * apart / self.rear_half_track_mm;
        if lean.abs() > GREATEST_LEAN {
            return Err(VehicleError::AxleTooTilted(apart));
        }
        let rotation = Rotation3::from_axis_angle(&Vector3::x_axis(), lean.asin()).into_inner();
        let lift = Vector3::new(0.0, 0.0, 0.5 * (travel_mm[2] + travel_mm[3]));
        let offset = self.rear_middle - rotation * self.rear_middle + lift;
        let rear = |sign: f64| {
            let own = self.rear_middle + Vector3::new(0.0, sign * self.rear_half_track_mm, 0.0);
            rotation * own + offset
        };
        Ok(Posture {
            travel_mm,
            wheels: [centre(0), centre(1), rear(1.0), rear(-1.0)],
            front,
            axle: (rotation, offset),
        })
    }

    /// Where a posture has what a carrier carries: `vehicle = rotation * measured + offset`.
    pub fn place(&self, posture: &Posture, carrier: Carrier) -> (Matrix3<f64>, Vector3<f64>) {
        match carrier {
            Carrier::Frame => (Matrix3::identity(), Vector3::zeros()),
            Carrier::RearAxle => posture.axle,
            Carrier::Front(i, motion) => {
                let mut placement = posture.front[i].linkage.placement(motion);
                if self.front_corners[i].mirrored {
                    placement = placement.mirrored();
                }
                (placement.rotation, placement.offset())
            }
        }
    }

    /// From front to rear wheel centres along x, at ride height, mm.
    pub(super) fn wheelbase_mm(&self) -> f64 {
        self.front.x - self.rear_middle.x
    }

    pub(super) fn rear_half_track_mm(&self) -> f64 {
        self.rear_half_track_mm
    }

    /// Middle of the front wheel centres at ride height: where the truck is, is told by this point.
    pub fn front(&self) -> Vector3<f64> {
        self.front
    }
}

/// Asks of a corner with the wheels straight ahead, so far down and up: proved rates are needed there only.
fn on_straight_line<T>(corner: &Corner, search_mm: [f64; 2], ask: impl FnOnce(&Guard) -> T) -> T {
    let straight = Corner {
        rack_mm: [0.0; 2],
        search_mm,
        ..corner.clone()
    };
    let atlas = Atlas::build(&straight);
    ask(&Guard::new(&straight, &atlas, 1.0))
}

/// How far the wheel goes down and up from ride height with the wheels straight ahead, before anything stops it: mm,
/// below and above zero, proved free to there.
fn free_travel_straight_ahead(corner: &Corner) -> Result<[f64; 2], VehicleError> {
    let travel = on_straight_line(corner, corner.search_mm, |guard| {
        [TravelDirection::Droop, TravelDirection::Bump].map(|direction| {
            let alpha = stops_on_line(guard, 0.0, direction).free_to();
            corner.positioner.place(alpha, 0.0).travel_mm - corner.ride_height_mm
        })
    });
    if travel[0] < 0.0 && travel[1] > 0.0 {
        Ok(travel)
    } else {
        Err(VehicleError::PastAStop(corner.side.name()))
    }
}

/// Sine of the greatest lean of the rear axle in the frame: 45 degrees.
const GREATEST_LEAN: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// A part's name without the side that it was drawn for.
fn without_side(name: &str) -> &str {
    let sides = ["left ", "right "];
    let bare = sides.iter().find_map(|side| name.strip_prefix(side));
    bare.unwrap_or(name)
}
