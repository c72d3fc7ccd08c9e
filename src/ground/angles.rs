//! The truck on level ground: clearances and angles by the definitions of 49 CFR 523.2, on the real shapes.
//!
//! * Running clearance: ground to the lowest point except unsprung weight. Axle clearance: to the lowest point of an
//!   axle's differential.
//! * Approach angle: the smallest angle, in side view, between the ground and a line tangent to the front tyre's
//!   static-loaded-radius arc that touches anything ahead of it. Departure angle the same rearward.
//! * Breakover angle: the supplement of the largest angle between two lines tangent to both arcs that meet at a point
//!   of the underside. (The popular 2 atan(2 c / L) draws its lines from the contact points instead and reads
//!   smaller.)
//!
//! A point at height h, d ahead of an axle with loaded radius r, gives atan2(h - r, d) + asin(r / distance); a rounded
//! part's line is tangent to its rounding too, so its radius is taken off r. Angles are least at corners; the
//! breakover's two lines may also meet along an edge, which is searched.

use super::stance::{Stance, stand};
use super::terrain::Terrain;
use super::tyre_path::TyrePath;
use super::vehicle::{Vehicle, VehicleError, VehiclePart};
use crate::findings::{CAUTIONS, GroundFindings, PartClearance, Threshold, Touching};
use crate::truck::Truck;
use nalgebra::Vector3;

/// Thresholds of 49 CFR 523.5(b)(2) for an off-road light truck, four of five (from memory).
const THRESHOLDS: [(&str, f64); 5] = [
    ("approach angle, deg", 28.0),
    ("breakover angle, deg", 14.0),
    ("departure angle, deg", 20.0),
    ("running clearance, mm", 200.0),
    ("axle clearance, mm", 180.0),
];
/// Rounds of the search along an edge: a hundred-thousandth of its length.
const EDGE_ROUNDS: usize = 26;
/// Edges whose ends read this much more than the best so far can't come below it: along an edge of a part the sum
/// bends by less. Degrees.
const EDGE_REACH_DEG: f64 = 20.0;

/// The level ground under four wheels.
pub(super) fn level(vehicle: &Vehicle) -> [TyrePath; 4] {
    let ground = Terrain {
        profile: Vec::new(),
        across: None,
        cloud: Vec::new(),
        facets: Vec::new(),
        solids: Vec::new(),
        side_slope: 0.0,
        length_mm: 0.0,
        boulder: None,
    };
    [0, 1, 2, 3].map(|i| {
        TyrePath::new(
            &ground,
            vehicle.radii[i],
            vehicle.widths[i],
            // Level ground is the same all across.
            0.0,
        )
    })
}

/// How a truck stands on level ground, its front axle's middle at zero.
pub fn on_level_ground(vehicle: &Vehicle) -> Option<Stance> {
    stand(vehicle, &level(vehicle), 0.0, 0.0, None)
}

/// A tyre's arc in side view.
#[derive(Clone, Copy)]
struct Arc {
    x: f64,
    z: f64,
    radius: f64,
}

impl Arc {
    /// Angle between the ground and the line tangent to the arc that touches a point `ahead` of it, degrees.
    fn tangent_deg(&self, ahead: f64, height: f64, reach: f64) -> Option<f64> {
        let rise = height - self.z;
        let distance = ahead.hypot(rise);
        let radius = self.radius - reach;
        if ahead <= 0.0 || distance <= radius {
            return None;
        }
        Some((rise.atan2(ahead) + (radius / distance).asin()).to_degrees())
    }
}

/// What the truck clears at wheel travels from ride height (front left, front right, rear left, rear right).
///
/// # Errors
/// [`VehicleError`].
pub fn ground_findings(truck: &Truck, travel_mm: [f64; 4]) -> Result<GroundFindings, VehicleError> {
    let vehicle = Vehicle::held(truck, travel_mm)?;
    let [.., left, right] = travel_mm;
    let stance = on_level_ground(&vehicle).ok_or(VehicleError::AxleTooTilted(left - right))?;
    let arc = |a: usize, b: usize| {
        let [p, q] = [a, b].map(|i| stance.point(&vehicle, &stance.posture.wheels[i]));
        Arc {
            x: 0.5 * (p.x + q.x),
            z: 0.5 * (p.z + q.z),
            radius: 0.5 * (vehicle.radii[a] + vehicle.radii[b]),
        }
    };
    let (front, rear) = (arc(0, 1), arc(2, 3));
    let mut parts: Vec<PartClearance> = Vec::new();
    let mut best: [Option<Touching>; 5] = [None, None, None, None, None];
    for part in &vehicle.parts {
        let placed = Placed::of(&vehicle, &stance, part);
        let offer = |slot: &mut Option<Touching>, value: Option<f64>, i: usize| {
            if let Some(value) = value
                && slot.as_ref().is_none_or(|best| value < best.value)
            {
                *slot = Some(Touching {
                    value,
                    part: part.name.clone(),
                    point_mm: placed.vehicle[i].into(),
                });
            }
        };
        let lowest = placed.lowest();
        for (i, p) in placed.ground.iter().enumerate() {
            offer(
                &mut best[0],
                front.tangent_deg(p.x - front.x, p.z, placed.reach),
                i,
            );
            offer(
                &mut best[2],
                rear.tangent_deg(rear.x - p.x, p.z, placed.reach),
                i,
            );
        }
        if part.sprung {
            offer(&mut best[3], Some(lowest.0), lowest.1);
        }
        if part.axle {
            offer(&mut best[4], Some(lowest.0), lowest.1);
        }
        breakover(&placed, part, front, rear, &mut best[1]);
        parts.push(PartClearance {
            part: part.name.clone(),
            clearance_mm: lowest.0,
            sprung: part.sprung,
        });
    }
    parts.sort_by(|a, b| {
        a.clearance_mm
            .total_cmp(&b.clearance_mm)
            .then(a.part.cmp(&b.part))
    });
    let thresholds: Vec<Threshold> = THRESHOLDS
        .iter()
        .zip(&best)
        .map(|((name, at_least), found)| Threshold {
            name,
            at_least: *at_least,
            value: found.as_ref().map(|t| t.value),
            // Nothing ahead or behind to touch is as good as it gets.
            met: found.as_ref().is_none_or(|t| t.value >= *at_least),
        })
        .collect();
    let four_of_five = thresholds.iter().filter(|t| t.met).count() >= 4;
    let [approach_deg, breakover_deg, departure_deg, running, axle] = best;
    Ok(GroundFindings {
        truck: truck.name.clone(),
        travel_mm,
        pitch_deg: stance.pitch.to_degrees(),
        roll_deg: stance.roll.to_degrees(),
        running_clearance_mm: running,
        axle_clearance_mm: axle,
        approach_deg,
        breakover_deg,
        departure_deg,
        parts,
        thresholds,
        four_of_five,
        cautions: CAUTIONS.to_vec(),
    })
}

/// Running clearance with every wheel at ride height, exactly as [`ground_findings`] has it: ground to the lowest point
/// except unsprung parts (49 CFR 523.2), the truck standing on its four loaded radii, pitch counted. None where nothing
/// is sprung.
///
/// # Errors
/// [`VehicleError`].
pub fn running_clearance(truck: &Truck) -> Result<Option<Touching>, VehicleError> {
    let vehicle = Vehicle::held(truck, [0.0; 4])?;
    let stance = on_level_ground(&vehicle).ok_or(VehicleError::AxleTooTilted(0.0))?;
    let mut least: Option<Touching> = None;
    for part in vehicle.parts.iter().filter(|part| part.sprung) {
        let placed = Placed::of(&vehicle, &stance, part);
        let (height_mm, i) = placed.lowest();
        if least.as_ref().is_none_or(|least| height_mm < least.value) {
            least = Some(Touching {
                value: height_mm,
                part: part.name.clone(),
                point_mm: placed.vehicle[i].into(),
            });
        }
    }
    Ok(least)
}

/// A part's corners, on the ground and in the vehicle.
struct Placed {
    ground: Vec<Vector3<f64>>,
    vehicle: Vec<Vector3<f64>>,
    reach: f64,
}

impl Placed {
    fn of(vehicle: &Vehicle, stance: &Stance, part: &VehiclePart) -> Placed {
        let surface = &part.surface;
        let (rotation, offset) = vehicle.place(&stance.posture, part.carrier);
        let own: Vec<_> = (0..surface.vertices.len())
            .map(|i| rotation * surface.vertex_in_body(i) + offset)
            .collect();
        Placed {
            ground: own.iter().map(|p| stance.point(vehicle, p)).collect(),
            vehicle: own,
            reach: surface.reach_mm(),
        }
    }

    /// The part's lowest point over the ground, mm, and the corner that has it.
    fn lowest(&self) -> (f64, usize) {
        let mut lowest = (f64::INFINITY, 0);
        for (i, p) in self.ground.iter().enumerate() {
            let height = p.z - self.reach;
            if height < lowest.0 {
                lowest = (height, i);
            }
        }
        lowest
    }
}

/// The least breakover angle over a part's edges.
fn breakover(
    placed: &Placed,
    part: &VehiclePart,
    front: Arc,
    rear: Arc,
    best: &mut Option<Touching>,
) {
    let sum = |p: &Vector3<f64>| {
        if !(rear.x..=front.x).contains(&p.x) {
            return f64::INFINITY;
        }
        let ahead = front.tangent_deg(front.x - p.x, p.z, placed.reach);
        let behind = rear.tangent_deg(p.x - rear.x, p.z, placed.reach);
        ahead.zip(behind).map_or(f64::INFINITY, |(a, b)| a + b)
    };
    let mut offer = |value: f64, own: Vector3<f64>| {
        if value.is_finite() && best.as_ref().is_none_or(|b| value < b.value) {
            *best = Some(Touching {
                value,
                part: part.name.clone(),
                point_mm: own.into(),
            });
        }
        best.as_ref().map_or(f64::INFINITY, |b| b.value)
    };
    let sums: Vec<f64> = placed.ground.iter().map(sum).collect();
    let mut least = f64::INFINITY;
    for (value, own) in sums.iter().zip(&placed.vehicle) {
        least = offer(*value, *own);
    }
    for element in &part.surface.elements {
        for (i, j) in [(0, 1), (1, 2), (2, 0)] {
            let (a, b) = (element[i] as usize, element[j] as usize);
            if a >= b || sums[a].min(sums[b]) > least + EDGE_REACH_DEG {
                continue;
            }
            let at = |share: f64| placed.ground[a] + (placed.ground[b] - placed.ground[a]) * share;
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..EDGE_ROUNDS {
                let third = (high - low) / 3.0;
                if sum(&at(low + third)) < sum(&at(high - third)) {
                    high -= third;
                } else {
                    low += third;
                }
            }
            let share = 0.5 * (low + high);
            let own = placed.vehicle[a] + (placed.vehicle[b] - placed.vehicle[a]) * share;
            least = offer(sum(&at(share)), own);
        }
    }
}
