//! One drive: the truck, the ground with its obstacle, and how the truck stands anywhere along it.

use super::stance::{Stance, StanceBounds, stand};
use super::terrain::{HALF_WIDTH_MM, Terrain};
use super::tyre_path::TyrePath;
use super::vehicle::{Vehicle, VehicleError, VehiclePart, past_stops};
use crate::clearance::{Gap, PairWalk, Relative};
use crate::findings::WheelPastStop;
use crate::truck::{TOUCH_MM, Truck, TruckObstacle};

/// Why a drive can't be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DriveError {
    /// The truck can't stand on the ground.
    #[error(transparent)]
    Vehicle(#[from] VehicleError),
    /// No obstacle has that name.
    #[error("no obstacle is named `{0}`")]
    Unknown(String),
    /// Its sizes make no solid.
    #[error("the obstacle `{0}` makes no solid: {1}")]
    Shape(String, String),
    /// Where the drive begins the truck can't stand.
    #[error("the truck can't stand where the drive begins")]
    CannotStand,
    /// `ahead` puts the truck over its obstacle before the drive begins: what met it on the way there would be lost.
    #[error(
        "the drive over `{obstacle}` would begin with the truck's front over it already: what comes first would not be \
         asked. `ahead` has to be at least {least_mm:.1} mm"
    )]
    BeginsOver {
        /// The obstacle.
        obstacle: String,
        /// What the truck's front reaches ahead of its axle.
        least_mm: f64,
    },
    /// Something touches before the drive begins.
    #[error("at the start `{part}` already touches {against}")]
    TouchesAtStart {
        /// The part, or the tyre.
        part: String,
        /// What it touches.
        against: String,
    },
}

/// What the suspension does on a drive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Suspension {
    /// Held at ride height.
    Held,
    /// Each wheel goes down to full droop and up to the bump stop, as four springs share the weight.
    Follows,
}

impl Suspension {
    /// What it does where nothing is said: it follows where the scene gives its springs.
    pub fn usual(truck: &Truck) -> Suspension {
        let given = truck.whole.as_ref().is_some_and(|w| w.springs.is_some());
        if given {
            Suspension::Follows
        } else {
            Suspension::Held
        }
    }
}

/// Room at both ends of the drive, mm.
const RUN_UP_MM: f64 = 50.0;
/// Where a wall is met is bracketed to this, mm of the front axle.
const WALL_BRACKET_MM: f64 = 1.0e-6;

/// Which truck is driven, and what it wants said.
#[derive(Clone, Debug)]
pub struct Driven {
    /// Its name.
    pub truck: String,
    /// The setup that it is driven in; none: as measured.
    pub setup: Option<String>,
    /// Wheels that are past a stop where the suspension is held.
    pub past_stops: Vec<WheelPastStop>,
    /// What the truck that was built wants said.
    pub warnings: Vec<String>,
}

/// A truck on its way over one obstacle.
pub struct Course {
    /// Which truck it is.
    pub driven: Driven,
    /// The truck.
    pub vehicle: Vehicle,
    /// What it drives over.
    pub terrain: Terrain,
    /// The obstacle's size against the scene's.
    pub scale: f64,
    pub(super) paths: [TyrePath; 4],
    /// Where each tyre's middle is across the track at ride height, mm: `paths` are those of this place.
    pub(super) across_mm: [f64; 4],
    obstacle: TruckObstacle,
}

impl Course {
    /// Over the obstacle of that name, its size scaled by `scale` (1: as written).
    ///
    /// # Errors
    /// [`DriveError`]; not yet for a start that touches, see [`super::drive`].
    pub fn new(
        truck: &Truck,
        name: &str,
        scale: f64,
        suspension: Suspension,
    ) -> Result<Course, DriveError> {
        let obstacles = truck.whole.iter().flat_map(|w| &w.obstacles);
        let obstacle = obstacles
            .clone()
            .find(|o| o.entry.name == name)
            .ok_or_else(|| DriveError::Unknown(name.to_owned()))?;
        let vehicle = match suspension {
            Suspension::Held => Vehicle::held(truck, [0.0; 4])?,
            Suspension::Follows => Vehicle::following(truck)?,
        };
        let own = Driven {
            truck: truck.name.clone(),
            setup: truck.setup.clone(),
            past_stops: match suspension {
                Suspension::Held => past_stops(truck, [0.0; 4]),
                // That it can go up and down from ride height was asked already.
                Suspension::Follows => Vec::new(),
            },
            warnings: truck.warnings.clone(),
        };
        Course::of(own, vehicle, obstacle, scale)
    }

    fn of(
        driven: Driven,
        vehicle: Vehicle,
        obstacle: &TruckObstacle,
        scale: f64,
    ) -> Result<Course, DriveError> {
        let name = &obstacle.entry.name;
        let terrain = Terrain::of(obstacle, scale)
            .map_err(|e| DriveError::Shape(name.clone(), e.to_string()))?;
        let at_ride = vehicle.posture([0.0; 4])?.wheels;
        let across_mm = at_ride.map(|wheel| wheel.y);
        let paths = [0, 1, 2, 3]
            .map(|i| TyrePath::new(&terrain, vehicle.radii[i], vehicle.widths[i], across_mm[i]));
        Ok(Course {
            driven,
            vehicle,
            terrain,
            scale,
            paths,
            across_mm,
            obstacle: obstacle.clone(),
        })
    }

    /// The same truck over the same obstacle in another size: `scale` times the scene's.
    ///
    /// # Errors
    /// [`DriveError::Shape`].
    pub fn scaled(&self, scale: f64) -> Result<Course, DriveError> {
        Course::of(
            self.driven.clone(),
            self.vehicle.clone(),
            &self.obstacle,
            scale,
        )
    }

    /// How far the stance can be from its middle over a stretch of the front axle's way, each wheel's height no further than
    /// `off_mm` from that of its place across the track.
    pub(super) fn bounds(
        &self,
        stretch: [f64; 2],
        from: Option<&Stance>,
        off_mm: &[f64; 4],
    ) -> Option<StanceBounds> {
        let slope = self.terrain.side_slope;
        StanceBounds::over(&self.vehicle, &self.paths, slope, stretch, from, off_mm)
    }

    /// The obstacle's name.
    pub fn obstacle(&self) -> &str {
        &self.obstacle.entry.name
    }

    /// Whether the suspension follows the ground; else it is held.
    pub fn suspension_follows(&self) -> bool {
        self.vehicle.suspension.is_some()
    }

    /// How far the truck and its tyres reach ahead of the front axle and behind it, mm.
    fn overhangs(&self) -> [f64; 2] {
        let front = self.vehicle.front();
        let radius = self.vehicle.radii.iter().copied().fold(0.0, f64::max);
        let (mut ahead, mut behind) = (radius, radius + self.vehicle.wheelbase_mm());
        for part in &self.vehicle.parts {
            for i in 0..part.surface.vertices.len() {
                let x = part.surface.vertex_in_body(i).x - front.x;
                ahead = ahead.max(x + part.surface.reach_mm());
                behind = behind.max(-x + part.surface.reach_mm());
            }
        }
        [ahead, behind]
    }

    /// Start and end of the drive: nothing of the truck is over the obstacle.
    pub fn ends(&self) -> [f64; 2] {
        let [ahead, behind] = self.overhangs();
        let start = self.obstacle.entry.ahead.map_or(-ahead - RUN_UP_MM, |a| -a);
        [start, self.terrain.length_mm + behind + RUN_UP_MM]
    }

    /// Refuses a start with some of the truck over the obstacle.
    pub(super) fn check_begins_before(&self) -> Result<(), DriveError> {
        let [least_mm, _] = self.overhangs();
        match self.obstacle.entry.ahead {
            Some(ahead_mm) if ahead_mm < least_mm => Err(DriveError::BeginsOver {
                obstacle: self.obstacle().to_owned(),
                least_mm,
            }),
            _ => Ok(()),
        }
    }

    /// Solids whose surface is open: a part may be inside one with no gap to tell of it.
    fn open_solids(&self) -> impl Iterator<Item = &str> {
        let open = self.terrain.solids.iter().filter(|(_, s)| !s.closed);
        open.map(|(name, _)| name.as_str())
    }

    /// Why some of what may be met can't be looked at: surfaces that are open, and parts that reach out further than the ground
    /// is drawn.
    pub(super) fn not_looked_at(&self) -> Vec<String> {
        let open = self.open_solids().map(|name| {
            format!(
                "the surface of {name} is open, so a part may pass through it where nothing is drawn"
            )
        });
        // Travel, roll and what the tyres move sideways are small beside the room of a metre.
        let reaches_out = |part: &&VehiclePart| {
            let surface = &part.surface;
            let most = (0..surface.vertices.len())
                .map(|i| surface.vertex_in_body(i).y.abs())
                .fold(0.0, f64::max);
            most + surface.reach_mm() > HALF_WIDTH_MM - 1000.0
        };
        let far = self.vehicle.parts.iter().filter(reaches_out).map(|part| {
            format!(
                "{} reaches further from the truck's middle than the ground is drawn, and isn't looked at there",
                part.name
            )
        });
        open.chain(far).collect()
    }

    /// How the truck stands with its front axle's middle at `x`, the settling begun at a stance near it. None where a
    /// wheel can't have the travel that the ground asks for.
    pub fn stand(&self, x: f64, from: Option<&Stance>) -> Option<Stance> {
        stand(&self.vehicle, &self.paths, self.terrain.side_slope, x, from)
    }

    /// Gap of a part to one solid, mm, and how it lies; no further than `cutoff_mm`.
    pub fn gap(
        &self,
        stance: &Stance,
        part: usize,
        solid: usize,
        cutoff_mm: f64,
        warm: Option<(u32, u32)>,
    ) -> Gap {
        let (walk, relative) = self.walk(stance, part, solid);
        walk.gap(&relative, 0.0, cutoff_mm, warm)
    }

    fn walk(&self, stance: &Stance, part: usize, solid: usize) -> (PairWalk<'_>, Relative) {
        let (moving, fixed) = (
            &self.vehicle.parts[part].surface,
            &self.terrain.solids[solid].1,
        );
        let (rotation, offset) = stance.place(&self.vehicle, self.vehicle.parts[part].carrier);
        let origin = rotation * moving.origin + offset;
        let relative = Relative {
            rotation: fixed.rotation.tr_mul(&(rotation * moving.rotation)),
            offset: fixed.rotation.tr_mul(&(origin - fixed.origin)),
        };
        (PairWalk { fixed, moving }, relative)
    }

    /// The solid that a part touches at a stance.
    pub(super) fn touched(&self, stance: &Stance, part: usize) -> Option<usize> {
        (0..self.terrain.solids.len())
            .find(|s| self.gap(stance, part, *s, TOUCH_MM, None).gap_mm <= TOUCH_MM)
    }

    /// The solid that a part touches or lies in. Asked where a drive begins; from there a part gets into a solid through its
    /// surface only.
    pub(super) fn entered(&self, stance: &Stance, part: usize) -> Option<usize> {
        self.touched(stance, part).or_else(|| {
            (0..self.terrain.solids.len()).find(|solid| {
                let (walk, relative) = self.walk(stance, part, *solid);
                walk.contains(&relative)
            })
        })
    }

    /// Where a tyre first meets a wall that it can't climb, if one does: the front axle's middle. Each wheel moves forward
    /// with it, so where a wheel's own wall is met is bracketed by halving.
    pub(super) fn wall(&self, [from, to]: [f64; 2]) -> Option<f64> {
        let wheel_x = |i: usize, x: f64| {
            let stance = self.stand(x, None)?;
            Some(stance.point(&self.vehicle, &stance.posture.wheels[i]).x)
        };
        let met = |i: usize, wall: f64| {
            let (mut low, mut high) = (from, to);
            if wheel_x(i, low)? >= wall || wheel_x(i, high)? < wall {
                return None;
            }
            while high - low > WALL_BRACKET_MM {
                let middle = 0.5 * (low + high);
                if wheel_x(i, middle)? < wall {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            Some(low)
        };
        let first_of = |i: usize| {
            let walls = self.paths[i].walls();
            walls.into_iter().find_map(|wall| met(i, wall))
        };
        (0..4).filter_map(first_of).min_by(f64::total_cmp)
    }
}
