//! How the truck stands on its four wheels, and how far that can change over a stretch of the drive.
//!
//! The idea in five lines. The suspension is held: the truck is one rigid body. Three numbers, its height, pitch and
//! roll, have to meet four wheel heights; the plane that fits them best by least squares is taken, as four
//! equal springs would. Each wheel's height depends on where it is along the track, which depends a little on the
//! pitch: a few rounds settle it. Over a stretch the wheel heights are enclosed exactly; what they can do to height,
//! pitch and roll is the plane fit applied to their spread; and that is checked to hold the wheels where they were
//! assumed to be. What the fit's second order adds is covered by an allowance of 5 percent.

use super::tyre_path::TyrePath;
use super::vehicle::Vehicle;
use nalgebra::{Matrix3, Rotation3, Vector3};

/// The truck's attitude: ground coordinates = rotation * (vehicle - front) + position, `front` the middle of the
/// front wheel centres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stance {
    /// Where `front` is, ground coordinates.
    pub position: Vector3<f64>,
    /// Pitch, radians, nose up positive.
    pub pitch: f64,
    /// Roll, radians, left side up positive.
    pub roll: f64,
    /// What each wheel's centre misses its height on the ground by, mm: below zero it hangs over it.
    pub misses_mm: [f64; 4],
}

/// How far a stance can be from its middle over a stretch of the drive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StanceBounds {
    /// The stance in the middle.
    pub middle: Stance,
    /// Forward, mm.
    pub forward_mm: f64,
    /// Up or down at `front`, mm.
    pub height_mm: f64,
    /// Sum of pitch and roll, radians.
    pub turn: f64,
}

impl Stance {
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
}

/// Rounds of settling pitch against where the wheels are.
const ROUNDS: usize = 40;
/// A stance is settled when height changes by less, mm, and angles by less than this over a metre.
const SETTLED_MM: f64 = 1.0e-11;
/// Allowance for the second order of the plane fit.
const SECOND_ORDER: f64 = 1.05;

/// Least squares over the four wheels: rows give height, pitch, roll from four changes of height.
fn plane_fit(vehicle: &Vehicle, stance: &Stance) -> [[f64; 4]; 3] {
    let rotation = stance.rotation();
    let front = vehicle.front();
    // Change of a wheel centre's height by height, pitch and roll.
    let rows: Vec<Vector3<f64>> = vehicle
        .wheels
        .iter()
        .map(|w| {
            let arm = rotation * (w - front);
            let own = Rotation3::from_axis_angle(&Vector3::x_axis(), stance.roll) * (w - front);
            // Pitch turns about -y at the outside, roll about x at the inside.
            let by_roll = Rotation3::from_axis_angle(&Vector3::y_axis(), -stance.pitch)
                * Vector3::new(0.0, -own.z, own.y);
            Vector3::new(1.0, arm.x, by_roll.z)
        })
        .collect();
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

/// Stands the truck with its front axle's middle at `x`.
pub fn stand(
    vehicle: &Vehicle,
    paths: &[TyrePath; 4],
    side_slope: f64,
    x: f64,
    from: Option<&Stance>,
) -> Stance {
    let mut stance = from.copied().unwrap_or(Stance {
        position: Vector3::new(x, 0.0, vehicle.radii[0]),
        pitch: 0.0,
        roll: side_slope,
        misses_mm: [0.0; 4],
    });
    stance.position.x = x;
    for _ in 0..ROUNDS {
        let mut misses = [0.0; 4];
        for (i, miss) in misses.iter_mut().enumerate() {
            let at = stance.point(vehicle, &vehicle.wheels[i]);
            // On a side slope the centre lies a radius off the slope, square to it.
            let slope = side_slope.tan() * at.y;
            *miss = paths[i].height(at.x) / side_slope.cos() + slope - at.z;
        }
        let fit = plane_fit(vehicle, &stance);
        let change = fit.map(|row| row.iter().zip(&misses).map(|(a, b)| a * b).sum::<f64>());
        stance.position.z += change[0];
        stance.pitch += change[1];
        stance.roll += change[2];
        stance.misses_mm = misses;
        if change[0].abs() < SETTLED_MM && change[1].abs().max(change[2].abs()) * 1.0e3 < SETTLED_MM
        {
            break;
        }
    }
    stance
}

impl StanceBounds {
    /// Over a stretch of x. `None` where the heights are too steep to be enclosed: halve the stretch.
    pub fn over(
        vehicle: &Vehicle,
        paths: &[TyrePath; 4],
        side_slope: f64,
        [a, b]: [f64; 2],
        from: Option<&Stance>,
    ) -> Option<StanceBounds> {
        let x = 0.5 * (a + b);
        let middle = stand(vehicle, paths, side_slope, x, from);
        let half = 0.5 * (b - a) * (1.0 + 1.0e-12);
        let fit = plane_fit(vehicle, &middle);
        let front = vehicle.front();
        let rotation = middle.rotation();
        let places = vehicle.wheels.map(|w| middle.point(vehicle, &w));
        // Assumed turn and rise, widened until the wheels' heights give no more than was assumed.
        let (mut turn, mut rise) = (0.0_f64, 0.0_f64);
        for _ in 0..12 {
            let mut spread = [0.0; 4];
            for (i, spread) in spread.iter_mut().enumerate() {
                // A turn moves a wheel along the track by its height over the front axle, and a little more
                // as that changes.
                let arm = rotation * (vehicle.wheels[i] - front);
                let reach = half + turn * (arm.z.abs() + turn * arm.norm());
                let [low, high] = paths[i].range([places[i].x - reach, places[i].x + reach]);
                let here = paths[i].height(places[i].x);
                *spread = (high - here).max(here - low);
            }
            if spread.iter().any(|s| !s.is_finite()) {
                return None;
            }
            let bound = fit.map(|row| {
                SECOND_ORDER
                    * row
                        .iter()
                        .zip(&spread)
                        .map(|(a, b)| a.abs() * b)
                        .sum::<f64>()
            });
            let needed_turn = bound[1] + bound[2];
            if needed_turn <= turn && bound[0] <= rise {
                return Some(StanceBounds {
                    middle,
                    forward_mm: half,
                    height_mm: rise,
                    turn,
                });
            }
            turn = 1.25 * needed_turn + 1.0e-12;
            rise = 1.05 * bound[0] + 1.0e-9;
        }
        None
    }

    /// How far a point `arm_mm` from the middle of the front wheel centres can be from its place in the middle.
    pub fn displacement_mm(&self, arm_mm: f64) -> f64 {
        self.forward_mm.hypot(self.height_mm) + self.turn * arm_mm
    }
}
