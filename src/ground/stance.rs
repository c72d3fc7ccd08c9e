//! How the truck stands on its four wheels, and how far that can change over a stretch of the drive.
//!
//! The idea in five lines. The body has three numbers, height, pitch and roll, to meet four wheels. With the
//! suspension held, the plane that fits four wheel heights best by least squares is taken. Where it follows, each
//! wheel's travel comes from how four springs share the weight (see [`super::springing`]), which leaves one plane
//! that all of them touch. Where a wheel is along the track depends a little on both: a few rounds settle it. Over a
//! stretch the wheel heights are enclosed; what they can do to travel, height, pitch and roll follows, and is checked
//! to hold the wheels where they were assumed to be.
//!
//! The plane fit is linear in small turns. Over a stretch it changes by no more than its turn times the slope it
//! stands on; stretches that turn by more than [`MOST_TURN`] are refused, which keeps that, on slopes of up to 45
//! degrees, within the allowance of [`SECOND_ORDER`].

use super::springing::Springing;
use super::travel_bound::TravelBound;
use super::tyre_path::TyrePath;
use super::vehicle::{Carrier, Posture, Vehicle, VehicleError};
use crate::shapes::Surface;
use nalgebra::{Matrix3, Rotation3, Vector3};

/// The truck's attitude: ground coordinates = rotation * (vehicle - front) + position, `front` the middle of the
/// front wheel centres at ride height.
#[derive(Clone, Debug)]
pub struct Stance {
    /// Where `front` is, ground coordinates.
    pub position: Vector3<f64>,
    /// Pitch, radians, nose up positive.
    pub pitch: f64,
    /// Roll, radians, left side up positive.
    pub roll: f64,
    /// Where the wheels' travel has everything unsprung.
    pub posture: Posture,
    /// What each wheel's centre misses its height on the ground by, mm: below zero it hangs over it.
    pub misses_mm: [f64; 4],
    /// What the travel would be for each wheel to touch; below full droop where it hangs.
    reach_mm: [f64; 4],
}

/// How far a stance can be from its middle over a stretch of the drive.
pub struct StanceBounds {
    /// The stance in the middle.
    pub middle: Stance,
    /// Forward, mm.
    pub forward_mm: f64,
    /// Up or down at `front`, mm.
    pub height_mm: f64,
    /// Sum of pitch and roll, radians.
    pub turn: f64,
    /// Each wheel's travel, mm.
    pub travel_mm: [f64; 4],
    fronts: [Option<TravelBound>; 2],
    half_track_mm: f64,
}

impl Stance {
    /// At an attitude of one's own choosing, whether or not the wheels meet the ground there: `front` at `position`,
    /// pitch and roll in radians, the wheels where the vehicle is held.
    ///
    /// # Errors
    /// [`VehicleError`] where a wheel can't have that travel.
    pub fn at(
        vehicle: &Vehicle,
        position: Vector3<f64>,
        pitch: f64,
        roll: f64,
    ) -> Result<Stance, VehicleError> {
        Ok(Stance {
            position,
            pitch,
            roll,
            posture: vehicle.posture(vehicle.held_mm)?,
            misses_mm: [0.0; 4],
            reach_mm: vehicle.held_mm,
        })
    }

    /// Vehicle to ground.
    pub fn rotation(&self) -> Matrix3<f64> {
        // Nose up is a turn about -y, left side up one about +x.
        (Rotation3::from_axis_angle(&Vector3::y_axis(), -self.pitch)
            * Rotation3::from_axis_angle(&Vector3::x_axis(), self.roll))
        .into_inner()
    }

    /// A vehicle point on the ground.
    pub fn point(&self, vehicle: &Vehicle, p: &Vector3<f64>) -> Vector3<f64> {
        self.position + self.rotation() * (p - vehicle.front())
    }

    /// Where something carried stands on the ground: `ground = rotation * measured + offset`.
    pub fn place(&self, vehicle: &Vehicle, carrier: Carrier) -> (Matrix3<f64>, Vector3<f64>) {
        let (rotation, offset) = vehicle.place(&self.posture, carrier);
        (self.rotation() * rotation, self.point(vehicle, &offset))
    }

    /// The ground's twist under the four wheels: what the springs have to make up for.
    fn twist(&self, twist: &[f64; 4]) -> f64 {
        (0..4)
            .map(|i| twist[i] * (self.misses_mm[i] + self.posture.travel_mm[i]))
            .sum()
    }
}

/// Rounds of settling pitch and travel against where the wheels are.
const ROUNDS: usize = 60;
/// A stance is settled when height and travel change by less, mm, and angles by less than this over a metre.
const SETTLED_MM: f64 = 1.0e-11;
/// Allowance for the second order of the plane fit: a stretch's greatest turn on a slope of 45 degrees.
const SECOND_ORDER: f64 = 1.05;
/// Stretches that can turn the truck by more, radians, are to be halved.
const MOST_TURN: f64 = 0.05;

/// Rounds of widening what is assumed of a stretch, and by how much more than was needed.
const WIDENINGS: usize = 40;
/// See [`WIDENINGS`].
const WIDER: f64 = 1.1;

/// Change of each wheel centre's height by height, pitch and roll.
fn plane(vehicle: &Vehicle, stance: &Stance) -> [Vector3<f64>; 4] {
    let rotation = stance.rotation();
    let front = vehicle.front();
    stance.posture.wheels.map(|w| {
        let arm = rotation * (w - front);
        let own = Rotation3::from_axis_angle(&Vector3::x_axis(), stance.roll) * (w - front);
        // Pitch turns about -y at the outside, roll about x at the inside.
        let by_roll = Rotation3::from_axis_angle(&Vector3::y_axis(), -stance.pitch)
            * Vector3::new(0.0, -own.z, own.y);
        Vector3::new(1.0, arm.x, by_roll.z)
    })
}

/// Least squares over the four wheels: rows give height, pitch, roll from four changes of height.
fn plane_fit(rows: &[Vector3<f64>; 4]) -> [[f64; 4]; 3] {
    let normal: Matrix3<f64> = rows.iter().map(|r| r * r.transpose()).sum();
    let inverse = normal.try_inverse().unwrap_or_else(Matrix3::zeros);
    let mut out = [[0.0; 4]; 3];
    for (i, row) in rows.iter().enumerate() {
        let column = inverse * row;
        for k in 0..3 {
            out[k][i] = column[k];
        }
    }
    out
}

/// What four heights, or four loads, can be without height, pitch or roll, or weight and moments: the fourth
/// direction. Its greatest entry is 1 or -1.
fn twist_of(rows: &[Vector3<f64>; 4]) -> [f64; 4] {
    let volume = |a: usize, b: usize, c: usize| rows[a].dot(&rows[b].cross(&rows[c]));
    let twist = [
        volume(1, 2, 3),
        -volume(0, 2, 3),
        volume(0, 1, 3),
        -volume(0, 1, 2),
    ];
    let greatest = twist.iter().map(|t| t.abs()).fold(0.0, f64::max);
    twist.map(|t| t / greatest)
}

fn springing(vehicle: &Vehicle, rows: &[Vector3<f64>; 4]) -> Option<(Springing, [f64; 4])> {
    let wheels = vehicle.suspension?;
    let twist = twist_of(rows);
    Some((Springing::new(wheels, twist), twist))
}

/// Stands the truck with its front axle's middle at `x`. None where a wheel can't have the travel that the ground
/// asks for.
pub fn stand(
    vehicle: &Vehicle,
    paths: &[TyrePath; 4],
    side_slope: f64,
    x: f64,
    from: Option<&Stance>,
) -> Option<Stance> {
    let mut stance = match from {
        Some(stance) => stance.clone(),
        None => {
            // The truck's middle plane runs along the track's, wherever between the wheels `front` is.
            let level = Vector3::new(x, vehicle.front().y, vehicle.radii[0]);
            Stance::at(vehicle, level, 0.0, side_slope).ok()?
        }
    };
    stance.position.x = x;
    for _ in 0..ROUNDS {
        for (i, path) in paths.iter().enumerate() {
            let at = stance.point(vehicle, &stance.posture.wheels[i]);
            // On a side slope the centre lies a radius off the slope, square to it.
            let slope = side_slope.tan() * at.y;
            stance.misses_mm[i] = path.height(at.x) / side_slope.cos() + slope - at.z;
        }
        let rows = plane(vehicle, &stance);
        let mut wanted = stance.misses_mm;
        let mut unsettled: f64 = 0.0;
        if let Some((springing, twist)) = springing(vehicle, &rows) {
            let reach = springing.reach(stance.twist(&twist));
            let travel = springing.held(reach);
            for i in 0..4 {
                wanted[i] += stance.posture.travel_mm[i] - reach[i];
                unsettled = unsettled.max((travel[i] - stance.posture.travel_mm[i]).abs());
            }
            if unsettled > 0.0 {
                stance.posture = vehicle.posture(travel).ok()?;
            }
            stance.reach_mm = reach;
        }
        let change =
            plane_fit(&rows).map(|row| row.iter().zip(&wanted).map(|(a, b)| a * b).sum::<f64>());
        stance.position.z += change[0];
        stance.pitch += change[1];
        stance.roll += change[2];
        if change[0].abs().max(unsettled) < SETTLED_MM
            && change[1].abs().max(change[2].abs()) * 1.0e3 < SETTLED_MM
        {
            break;
        }
    }
    Some(stance)
}

impl StanceBounds {
    /// Over a stretch of x, each wheel's height no further than `off_mm` from its path's. `None` where the heights are too
    /// steep to be enclosed: halve the stretch.
    pub fn over(
        vehicle: &Vehicle,
        paths: &[TyrePath; 4],
        side_slope: f64,
        [a, b]: [f64; 2],
        from: Option<&Stance>,
        off_mm: &[f64; 4],
    ) -> Option<StanceBounds> {
        let x = 0.5 * (a + b);
        let middle = stand(vehicle, paths, side_slope, x, from)?;
        let half = 0.5 * (b - a) * (1.0 + 1.0e-12);
        let rows = plane(vehicle, &middle);
        let fit = plane_fit(&rows);
        let springing = springing(vehicle, &rows);
        let front = vehicle.front();
        let rotation = middle.rotation();
        let places = middle.posture.wheels.map(|w| middle.point(vehicle, &w));
        // Assumed turn, rise and travel, widened until the wheels' heights give no more than was assumed.
        let (mut turn, mut rise) = (0.0_f64, 0.0_f64);
        let mut travel = [0.0_f64; 4];
        for _ in 0..WIDENINGS {
            let fronts = [0, 1].map(|i| {
                (travel[i] > 0.0).then(|| {
                    let corner = &vehicle.front_corners[i];
                    TravelBound::around(corner, &middle.posture.front[i], travel[i])
                })
            });
            let mut spread = [0.0; 4];
            for i in 0..4 {
                // What travel moves the wheel centre by: forward, across, up.
                let shift = match fronts.get(i) {
                    Some(Some(bound)) => bound.as_ref()?.wheel_centre_mm(),
                    Some(None) => [0.0; 3],
                    None => rear_shift(&travel, i, vehicle.rear_half_track_mm()),
                };
                let along = (0..3)
                    .map(|k| rotation[(0, k)].abs() * shift[k])
                    .sum::<f64>();
                let off: f64 = shift.iter().sum();
                // A turn moves a wheel along the track by its height over the front axle, and a little more
                // as that changes.
                let arm = rotation * (middle.posture.wheels[i] - front);
                let reach = half + turn * (arm.z.abs() + turn * arm.norm() + off) + along;
                let [low, high] = paths[i].range([places[i].x - reach, places[i].x + reach]);
                let here = paths[i].height(places[i].x);
                // Travel goes along the body's own upright: what that misses of the ground's.
                let tilt = (1.0 - rotation[(2, 2)]).abs() * shift[2]
                    + rotation[(2, 0)].abs() * shift[0]
                    + rotation[(2, 1)].abs() * shift[1]
                    + turn * off;
                spread[i] = (high - here).max(here - low) + tilt + off_mm[i];
            }
            if spread.iter().any(|s| !s.is_finite()) {
                return None;
            }
            let mut needed_travel = [0.0; 4];
            let mut slopes = vec![[0.0; 4]];
            if let Some((springing, twist)) = &springing {
                let by: f64 = (0..4).map(|i| twist[i].abs() * spread[i]).sum();
                let by = SECOND_ORDER * by;
                needed_travel = springing.swing(middle.twist(twist), by);
                slopes = springing.slopes(middle.twist(twist), by);
            }
            // What the springs give way by lies along the way there on one of their straight pieces each: the change
            // of height, pitch and roll is a mean over the pieces.
            let twist = springing.as_ref().map_or([0.0; 4], |s| s.1);
            let bound = fit.map(|row| {
                let by_piece = slopes.iter().map(|slope| {
                    let given: f64 = (0..4).map(|i| row[i] * slope[i]).sum();
                    (0..4)
                        .map(|j| (row[j] - given * twist[j]).abs() * spread[j])
                        .sum::<f64>()
                });
                SECOND_ORDER * by_piece.fold(0.0, f64::max)
            });
            let needed_turn = bound[1] + bound[2];
            if needed_turn > MOST_TURN {
                return None;
            }
            let travels_so_far = (0..4).all(|i| needed_travel[i] <= travel[i]);
            if needed_turn <= turn && bound[0] <= rise && travels_so_far {
                return Some(StanceBounds {
                    middle,
                    forward_mm: half,
                    height_mm: rise,
                    turn,
                    travel_mm: travel,
                    fronts: fronts.map(Option::flatten),
                    half_track_mm: vehicle.rear_half_track_mm(),
                });
            }
            turn = WIDER * needed_turn + 1.0e-12;
            rise = WIDER * bound[0] + 1.0e-9;
            travel = needed_travel.map(|t| if t > 0.0 { WIDER * t + 1.0e-9 } else { 0.0 });
        }
        None
    }

    /// How far any point of a carried surface can be from its place in the middle, mm.
    pub fn displacement_mm(&self, vehicle: &Vehicle, carrier: Carrier, surface: &Surface) -> f64 {
        let bounds = surface.bounds();
        let radius = bounds.half.norm() + surface.reach_mm();
        let centre = surface.origin + surface.rotation * bounds.middle;
        let (rotation, offset) = vehicle.place(&self.middle.posture, carrier);
        let arm = (rotation * centre + offset - vehicle.front()).norm() + radius;
        let own = match carrier {
            Carrier::Frame => 0.0,
            Carrier::RearAxle => {
                let [.., left, right] = self.travel_mm;
                let lean = 0.5 * (left + right) / self.half_track_mm;
                // The lean's sine is what travel sets; it is below 45 degrees.
                let turn = std::f64::consts::SQRT_2 * lean;
                let from_middle = (rotation * centre + offset - self.middle.posture.axle_middle())
                    .norm()
                    + radius;
                0.5 * (left + right) + turn * from_middle
            }
            Carrier::Front(i, motion) => match &self.fronts[i] {
                Some(bound) => bound.displacement_mm(motion, &centre, radius),
                None => 0.0,
            },
        };
        self.forward_mm.hypot(self.height_mm) + self.turn * (arm + own) + own
    }
}

/// What travel can move a rear wheel's centre by: forward, across, up, mm.
fn rear_shift(travel: &[f64; 4], i: usize, half_track_mm: f64) -> [f64; 3] {
    // The beam leans by its wheels' difference: across it moves by half a track times the change of the cosine, and
    // the cosine changes no faster than the sine below 45 degrees.
    let lean = 0.5 * (travel[2] + travel[3]) / half_track_mm;
    [0.0, lean * half_track_mm, travel[i]]
}
