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
use super::vehicle::{Vehicle, VehicleError, VehiclePart, past_stops};
use crate::findings::{GroundFindings, PartClearance, Threshold, Touching, cautions};
use crate::truck::Truck;
use nalgebra::{Matrix3, Vector3};

/// Thresholds of 49 CFR 523.5(b)(2) for an off-road light truck, four of five (from memory).
const THRESHOLDS: [(&str, f64); 5] = [
    ("approach angle, deg", 28.0),
    ("breakover angle, deg", 14.0),
    ("departure angle, deg", 20.0),
    ("running clearance, mm", 200.0),
    ("axle clearance, mm", 180.0),
];
/// The least breakover angle is found to within this, degrees: a hundredth of what is printed.
const BREAKOVER_TOLERANCE_DEG: f64 = 1.0e-3;
/// Pieces of edges are not halved further, mm: over so little an angle to an axle changes by less than the tolerance, unless
/// the edge runs into a tyre's arc.
const SHORTEST_PIECE_MM: f64 = 1.0e-3;

/// The level ground under four wheels.
pub(super) fn level(vehicle: &Vehicle) -> [TyrePath; 4] {
    let ground = Terrain {
        profile: Vec::new(),
        across: None,
        rolled: Vec::new(),
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
        // The ways in which the ground's forward and up lie in side view: on a rounded part the point that is told lies on its
        // rounding, that way from its corner.
        let offer = |slot: &mut Option<Touching>, value: Option<f64>, i: usize, way: [f64; 2]| {
            if let Some(value) = value
                && slot.as_ref().is_none_or(|best| value < best.value)
            {
                *slot = Some(Touching {
                    value,
                    part: part.name.clone(),
                    point_mm: placed.on_rounding(placed.vehicle[i], way).into(),
                });
            }
        };
        const DOWN: [f64; 2] = [0.0, -1.0];
        let lowest = placed.lowest();
        for (i, p) in placed.ground.iter().enumerate() {
            let approach = front.tangent_deg(p.x - front.x, p.z, placed.reach);
            offer(&mut best[0], approach, i, below_line(approach, 1.0));
            let departure = rear.tangent_deg(rear.x - p.x, p.z, placed.reach);
            offer(&mut best[2], departure, i, below_line(departure, -1.0));
        }
        if part.sprung {
            offer(&mut best[3], Some(lowest.0), lowest.1, DOWN);
        }
        if part.axle {
            offer(&mut best[4], Some(lowest.0), lowest.1, DOWN);
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
            name: (*name).into(),
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
        past_stops: past_stops(truck, travel_mm),
        warnings: truck.warnings.clone(),
        cautions: cautions(),
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
                point_mm: placed.on_rounding(placed.vehicle[i], [0.0, -1.0]).into(),
            });
        }
    }
    Ok(least)
}

/// The way from a rounded part's corner to where a line touches its rounding from below, forward and up; the line rises at an
/// angle toward where things lie ahead of its arc, forward (+1) or rearward (-1).
fn below_line(deg: Option<f64>, ahead: f64) -> [f64; 2] {
    let (sin, cos) = deg.unwrap_or(0.0).to_radians().sin_cos();
    [ahead * sin, -cos]
}

/// A part's corners, on the ground and in the vehicle.
struct Placed {
    ground: Vec<Vector3<f64>>,
    vehicle: Vec<Vector3<f64>>,
    reach: f64,
    /// Vehicle to ground.
    turned: Matrix3<f64>,
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
            turned: stance.rotation(),
        }
    }

    /// Where a rounded part's surface is, this way from a point of its middle line, forward and up on the ground; vehicle
    /// coordinates. Where nothing is rounded the point itself.
    fn on_rounding(&self, middle: Vector3<f64>, [forward, up]: [f64; 2]) -> Vector3<f64> {
        let way = Vector3::new(forward, 0.0, up);
        let way = way.try_normalize(0.0).unwrap_or_else(Vector3::zeros);
        middle + self.turned.transpose() * way * self.reach
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

/// The angles of a point of the underside to both arcs, degrees; none inside an arc.
#[derive(Clone, Copy)]
struct Underside {
    share: f64,
    front_deg: Option<f64>,
    rear_deg: Option<f64>,
}

impl Underside {
    fn sum(&self) -> Option<f64> {
        Some(self.front_deg? + self.rear_deg?)
    }

    /// No point between two has a smaller sum; none where there is no point outside both arcs. Points from which an arc's
    /// tangent is at least so steep fill a half-plane, so along a straight edge each angle is least at an end.
    fn least_between(&self, other: &Underside) -> Option<f64> {
        let least = |a: Option<f64>, b: Option<f64>| match (a, b) {
            // An arc's disc is convex: an edge with both ends in it lies in it.
            (None, None) => None,
            (Some(a), Some(b)) => Some(a.min(b)),
            _ => Some(f64::NEG_INFINITY),
        };
        Some(least(self.front_deg, other.front_deg)? + least(self.rear_deg, other.rear_deg)?)
    }
}

/// The part of an edge between the axles, as shares of it; none where it lies ahead of both or behind both.
fn between_axles(a: f64, b: f64, front: Arc, rear: Arc) -> Option<[f64; 2]> {
    if a == b {
        return (rear.x < a && a < front.x).then_some([0.0, 1.0]);
    }
    let [x, y] = [rear.x, front.x].map(|x| (x - a) / (b - a));
    let (low, high) = (x.min(y).max(0.0), x.max(y).min(1.0));
    (low < high).then_some([low, high])
}

/// The least breakover angle over a part's edges: pieces of them are halved until none can hold a smaller one.
fn breakover(
    placed: &Placed,
    part: &VehiclePart,
    front: Arc,
    rear: Arc,
    best: &mut Option<Touching>,
) {
    let at = |[a, b]: [usize; 2], share: f64| {
        let p = placed.ground[a] + (placed.ground[b] - placed.ground[a]) * share;
        Underside {
            share,
            front_deg: front.tangent_deg(front.x - p.x, p.z, placed.reach),
            rear_deg: rear.tangent_deg(p.x - rear.x, p.z, placed.reach),
        }
    };
    let mut offer = |[a, b]: [usize; 2], point: &Underside| {
        let least = best.as_ref().map_or(f64::INFINITY, |b| b.value);
        match point.sum() {
            Some(value) if value < least => {
                let own = placed.vehicle[a] + (placed.vehicle[b] - placed.vehicle[a]) * point.share;
                // Between where the two lines touch its rounding.
                let [of_front, of_rear] = [
                    below_line(point.front_deg, -1.0),
                    below_line(point.rear_deg, 1.0),
                ];
                let way = [of_front[0] + of_rear[0], of_front[1] + of_rear[1]];
                *best = Some(Touching {
                    value,
                    part: part.name.clone(),
                    point_mm: placed.on_rounding(own, way).into(),
                });
                value
            }
            _ => least,
        }
    };
    for corner in 0..placed.ground.len() {
        offer([corner; 2], &at([corner; 2], 0.0));
    }
    let mut pieces: Vec<([usize; 2], [Underside; 2])> = Vec::new();
    for element in &part.surface.elements {
        for (i, j) in [(0, 1), (1, 2), (2, 0)] {
            let edge = [element[i] as usize, element[j] as usize];
            let [from, to] = edge.map(|corner| placed.ground[corner].x);
            if edge[0] < edge[1]
                && let Some(shares) = between_axles(from, to, front, rear)
            {
                pieces.push((edge, shares.map(|share| at(edge, share))));
            }
        }
    }
    while let Some((edge, [a, b])) = pieces.pop() {
        let least = offer(edge, &a).min(offer(edge, &b));
        let can_hold_less = a
            .least_between(&b)
            .is_some_and(|sum| sum < least - BREAKOVER_TOLERANCE_DEG);
        let [from, to] = edge.map(|corner| placed.ground[corner]);
        if !can_hold_less || (to - from).norm() * (b.share - a.share) < SHORTEST_PIECE_MM {
            continue;
        }
        let middle = at(edge, 0.5 * (a.share + b.share));
        pieces.extend([(edge, [a, middle]), (edge, [middle, b])]);
    }
}
