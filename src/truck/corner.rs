//! One corner of the truck, and the truck.

use super::housing::Housing;
use super::whole::WholeTruck;
use crate::clearance::{ClearQuestion, Gap, Part, ProvedClear, WatchedPair};
use crate::driveline::FrontDriveshaft;
use crate::kinematics::{Position, Positioner, ReachError};
use crate::limits::{Limit, LimitId, Needs};
use crate::numbers::Real;
use crate::plausibility::Implausible;
use crate::scene::Watch;
use crate::shapes::MeshReport;
use crate::suspension::{Body, Linkage, Locks, Motion, Side};
use nalgebra::Vector3;
use std::sync::Arc;

/// A pair of parts that overlaps or touches as drawn, at the measured position.
#[derive(Clone, Debug, PartialEq)]
pub struct Overlap {
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// How deep, where it can be known, mm.
    pub depth_mm: Option<f64>,
    /// The gap that must remain, mm.
    pub required_mm: f64,
}

/// A pair left out because the scene says that it is joined.
#[derive(Clone, Debug, PartialEq)]
pub struct JoinedPair {
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// Why, in the scene's words.
    pub why: String,
}

/// Two parts on different bodies that don't move against each other, checked once. A part that turns counts as the full
/// revolution that it sweeps.
#[derive(Clone, Debug)]
pub struct RestingPair {
    /// Both parts, and the gap that must remain.
    pub pair: WatchedPair,
    /// The gap, facet errors taken off, mm; zero where they touch or overlap. No wider than 50 mm more than is required: it
    /// is not measured further.
    pub gap_mm: f64,
    /// Whether they touch, overlap, or one lies inside the other.
    pub is_overlap: bool,
    /// How deep they overlap, where it can be known, mm.
    pub depth_mm: Option<f64>,
    /// The nearest points of both, vehicle coordinates as measured.
    pub points_mm: [Vector3<f64>; 2],
}

impl RestingPair {
    /// Whether the gap was measured out; a wider one is only known to be no less than what is given.
    pub fn is_measured_out(&self) -> bool {
        self.gap_mm < self.pair.required_mm + RESTING_ROOM_MM
    }

    /// Whether the required gap remains. A gap drawn to be just what is required is kept, up to rounding.
    pub fn keeps_gap(&self) -> bool {
        !self.is_overlap && self.gap_mm >= self.pair.required_mm - GAP_ROUNDING_MM
    }
}

/// Parts at rest to each other are measured out to this far beyond the required gap, mm: what is wider is of no interest.
pub(super) const RESTING_ROOM_MM: f64 = 50.0;

/// What rounding may take off a gap that is drawn to be just the required one, mm.
const GAP_ROUNDING_MM: f64 = 1.0e-9;

/// What became of the pairs of parts that are watched: each is counted in `matched` and in just one of the others.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PairCount {
    /// Named by an entry of `watch`, a wheel's part against the frame's or the body's, or brought together by a setup.
    pub matched: usize,
    /// Swept.
    pub moving: usize,
    /// Overlapping as measured: a contact that needs no sweep.
    pub overlapping: usize,
    /// On bodies that don't move against each other: checked once.
    pub resting: usize,
    /// Left out by an entry of `joined`.
    pub joined: usize,
    /// Both on one body: one rigid assembly, with nothing to check.
    pub one_body: usize,
}

/// What is the same wherever the wheel is, and is limited.
#[derive(Clone, Debug, PartialEq)]
pub struct StandingLimit {
    /// Its limit.
    pub id: LimitId,
    /// How it stands.
    pub reading: Standing,
}

/// A value that stands, and the greatest that it may have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Standing {
    /// A joint's angle.
    Angle {
        /// As fitted, degrees.
        deg: f64,
        /// At most, degrees.
        limit_deg: f64,
    },
    /// How unevenly a shaft turns, (fastest - slowest) / mean.
    Fluctuation {
        /// As fitted.
        share: f64,
        /// At most.
        limit: f64,
    },
}

impl StandingLimit {
    /// Whether it is within its limit.
    pub fn is_kept(&self) -> bool {
        match self.reading {
            Standing::Angle { deg, limit_deg } => deg <= limit_deg,
            Standing::Fluctuation { share, limit } => share <= limit,
        }
    }

    /// Those of the front driveshaft: both joints' angles, and how evenly its pinion turns.
    pub(super) fn of_shaft(shaft: &FrontDriveshaft) -> Vec<StandingLimit> {
        let ids = [
            LimitId::FrontDriveshaftCaseJoint,
            LimitId::FrontDriveshaftPinionJoint,
        ];
        let angles = ids.into_iter().zip(shaft.joint_angles());
        let angles = angles.map(|(id, angle)| StandingLimit {
            id,
            reading: Standing::Angle {
                deg: angle.to_degrees(),
                limit_deg: shaft.joint_limit.to_degrees(),
            },
        });
        let evenness = StandingLimit {
            id: LimitId::FrontDriveshaftFluctuation,
            reading: Standing::Fluctuation {
                share: shaft.fluctuation(),
                limit: shaft.fluctuation_limit,
            },
        };
        angles.chain([evenness]).collect()
    }
}

/// A rod that the scene says can't roll about the line through its ends.
#[derive(Clone, Debug, PartialEq)]
pub struct RollHeld {
    /// What is held, as printed: `tie rod` or `damper`.
    pub name: &'static str,
    /// Its bodies, whose parts are checked as they are drawn.
    pub bodies: &'static [Body],
    /// What holds it, in the scene's words.
    pub why: String,
}

/// One motion seen from another, about a reference point: watched pairs that share it share its rates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldKey {
    /// The motion it is seen from.
    pub fixed: Motion,
    /// The motion that is seen.
    pub moving: Motion,
    /// Amid the moving part, body coordinates.
    pub reference: Vector3<f64>,
}

/// One corner, ready to be asked. Never changes while it is.
#[derive(Clone, Debug)]
pub struct Corner {
    /// Which side.
    pub side: Side,
    /// The linkage, asked by travel.
    pub positioner: Positioner,
    /// How far pairs are proved clear under this linkage, as far as they were asked.
    pub proved_clear: Arc<ProvedClear>,
    /// Every limit.
    pub limits: Vec<Limit>,
    /// Joints that stand at one angle, whatever the wheel does.
    pub standing_limits: Vec<StandingLimit>,
    /// Bodies whose parts hang lower, on drop brackets, than they were drawn, and by how much, vehicle coordinates.
    pub lowered: Vec<(Body, Vector3<f64>)>,
    /// Every part of this corner.
    pub parts: Vec<Part>,
    /// The watched pairs.
    pub pairs: Vec<WatchedPair>,
    /// The relative motions that the pairs need, each once.
    pub fields: Vec<FieldKey>,
    /// Watched pairs that overlap as drawn and are therefore not swept.
    pub overlaps: Vec<Overlap>,
    /// Parts at rest that a setup moves against each other and that no entry names: they overlap as they did when measured,
    /// and how deep they do now isn't known.
    pub overlapped_before: Vec<[String; 2]>,
    /// Watched pairs on bodies that don't move against each other.
    pub resting: Vec<RestingPair>,
    /// Pairs left out by name.
    pub joined: Vec<JoinedPair>,
    /// The sum of the above.
    pub pair_count: PairCount,
    /// The scene's entries of `watch`, gaps in mm.
    pub watch: Vec<Watch>,
    /// Rods whose parts aren't checked at other roll angles, by what the scene says.
    pub roll_held: Vec<RollHeld>,
    /// Rack at the two locks, mm: toward -y (below zero), toward +y (above).
    pub rack_mm: [f64; 2],
    /// Travel at ride height, mm from the measured position.
    pub ride_height_mm: f64,
    /// The tyre's static loaded radius, mm.
    pub loaded_radius_mm: f64,
    /// Half the track pitch radius of a tripod inner joint, mm; zero for another joint.
    pub orbit_factor_mm: f64,
    /// Pitch radius of the outer joint's balls, mm, where the scene gives it.
    pub ball_pitch_radius_mm: Option<f64>,
    /// How far to look down and up, mm, both above zero.
    pub search_mm: [f64; 2],
    /// Kept while the bump stop isn't touched; none where there is no bump stop.
    pub bump_contact: Option<Limit>,
    /// Whether the bump stop sits on the damper's rod: another damper takes it along by what its body closes longer.
    pub bump_stop_on_rod: bool,
    /// What spacers add to the damper's length, mm.
    pub damper_spacers_mm: f64,
    /// The inner joint's centre with the differential where it was measured.
    pub inner_joint_as_drawn: Vector3<f64>,
}

impl Corner {
    /// Whether an entry of `watch` names some pair that isn't left out. Where none does, nobody asked after metal.
    pub fn watches_something(&self) -> bool {
        let resting = self.resting.iter().map(|r| &r.pair);
        let mut pairs = self.pairs.iter().chain(resting);
        !self.overlaps.is_empty() || pairs.any(|pair| pair.is_named)
    }

    /// The greatest gap that the scene asks of any two parts, of either side, mm; at least that at which parts touch.
    pub fn greatest_gap_mm(&self) -> f64 {
        super::watch::greatest_gap_mm(&self.watch)
    }

    /// The gap that `watch` asks of two parts, mm; none where no entry names them.
    pub fn watched_gap_mm(&self, a: &Part, b: &Part) -> Option<f64> {
        super::watch::watched_gap(&self.watch, a, b)
    }

    /// Whether a body turns, or may roll, about its own axis in a way that the suspension doesn't see: what is bolted to it
    /// goes round with it.
    pub fn may_turn(&self, body: Body) -> bool {
        let is_held = self
            .roll_held
            .iter()
            .any(|held| held.bodies.contains(&body));
        let is_tube = self.positioner.linkage.hardpoints.is_tube(body);
        let is_link = matches!(body, Body::Link(_));
        body.spins() || (body.rolls() && !is_held && !is_tube && !is_link)
    }

    /// Whether a steering stop of its own ends the steering, and not the rack's travel alone.
    pub fn has_steering_stop(&self) -> bool {
        self.limits.iter().any(|limit| {
            matches!(
                limit.id,
                LimitId::SteeringStopLeft | LimitId::SteeringStopRight
            )
        })
    }

    /// How much the tripod's orbit widens the halfshaft, mm: e = (R/2)(1/cos a - 1), R the track
    /// pitch radius, a the inner joint's angle. Source: E. Akbil, T. W. Lee, "On the motion
    /// characteristics of tripod joints", J. Mech. Trans. Autom. Des. 106, 1984, 228-241. Applied
    /// along the whole shaft, which is a little more than true away from the spider.
    #[inline]
    pub fn orbit_mm<S: Real>(&self, linkage: &Linkage<S>) -> S {
        (S::one() / linkage.inner_cos - S::one()).scale(self.orbit_factor_mm)
    }

    /// The most that the tripod's orbit widens the halfshaft within the inner joint's limit, mm.
    pub fn greatest_orbit_mm(&self) -> f64 {
        let measured = self.positioner.place(0.0, 0.0).linkage;
        let of_joint = |limit: &&Limit| limit.id == LimitId::InnerJointAngle;
        let angle_deg = self
            .limits
            .iter()
            .find(of_joint)
            .map_or(0.0, |limit| limit.reading(&measured).limit);
        (1.0 / angle_deg.to_radians().cos() - 1.0) * self.orbit_factor_mm
    }

    /// Track pitch radius of a tripod inner joint, mm, where the scene gives it.
    pub fn track_pitch_radius_mm(&self) -> Option<f64> {
        (self.orbit_factor_mm > 0.0).then_some(2.0 * self.orbit_factor_mm)
    }

    /// How far the inner joint has been lowered since it was measured, mm.
    pub fn inner_joint_drop_mm(&self) -> f64 {
        self.inner_joint_as_drawn.z - self.positioner.linkage.hardpoints.inner_joint.z
    }

    /// The widening that applies to a pair.
    pub fn swell_mm(&self, pair: &WatchedPair, linkage: &Linkage<f64>) -> f64 {
        if pair.orbits {
            self.orbit_mm(linkage)
        } else {
            0.0
        }
    }

    /// The pose at a travel and rack position.
    ///
    /// # Errors
    /// [`ReachError`] where the linkage can't go.
    pub fn position(&self, travel_mm: f64, rack_mm: f64) -> Result<Position, ReachError> {
        self.positioner.position(travel_mm, rack_mm)
    }

    /// The rack's positions at full left and full right, by the way the wheel steers there.
    pub fn locks(&self) -> Locks {
        Locks::of(&self.positioner.linkage, self.side, self.rack_mm)
    }

    /// The exact gap of a pair, in the fixed shape's frame.
    pub fn gap(&self, pair: &WatchedPair, linkage: &Linkage<f64>, warm: Option<(u32, u32)>) -> Gap {
        self.gap_within(0.0, pair, linkage, f64::INFINITY, warm)
    }

    /// The same to within a share of the gap, and no closer than to see that it is above `cutoff_mm`.
    pub fn gap_within(
        &self,
        share: f64,
        pair: &WatchedPair,
        linkage: &Linkage<f64>,
        cutoff_mm: f64,
        warm: Option<(u32, u32)>,
    ) -> Gap {
        let swell_mm = self.swell_mm(pair, linkage);
        let relative = pair.relative(&self.parts, linkage);
        let walk = pair.walk(&self.parts);
        walk.gap_within(share, &relative, swell_mm, cutoff_mm, warm)
    }

    /// How far a pair is clear of a level over a rectangle of arm angle (radians) and rack (mm), as a question.
    pub fn clear_question(
        &self,
        pair: &WatchedPair,
        level_mm: f64,
        rectangle: [[f64; 2]; 2],
        bound_factor: f64,
    ) -> ClearQuestion<'_> {
        let roles: [usize; 2] = pair.roles().into();
        ClearQuestion {
            surfaces: roles.map(|i| &self.parts[i].surface),
            motions: roles.map(|i| self.parts[i].body.motion()),
            level_mm,
            orbit_factor_mm: pair.orbits.then_some(self.orbit_factor_mm),
            rectangle,
            bound_factor,
        }
    }

    /// From where a body's parts were drawn to where they are with the wheel as measured.
    pub fn lowered_by(&self, body: Body) -> Vector3<f64> {
        let own = self.lowered.iter().find(|lowered| lowered.0 == body);
        own.map_or_else(Vector3::zeros, |lowered| lowered.1)
    }

    /// The key of a pair's relative motion.
    pub fn field_key(&self, pair: &WatchedPair) -> FieldKey {
        let (fixed, moving) = pair.roles();
        let surface = &self.parts[moving].surface;
        FieldKey {
            fixed: self.parts[fixed].body.motion(),
            moving: self.parts[moving].body.motion(),
            reference: surface.origin + surface.rotation * surface.bounds().middle,
        }
    }

    /// `a - b` with both part names.
    pub fn pair_name(&self, pair: &WatchedPair) -> String {
        format!("{} - {}", self.parts[pair.a].name, self.parts[pair.b].name)
    }
}

/// The truck: one corner where both sides are mirror images, else both.
#[derive(Clone, Debug)]
pub struct Truck {
    /// Its name.
    pub name: String,
    /// The setup that it stands in; none: as measured.
    pub setup: Option<String>,
    /// The names of the scene's setups.
    pub setups: Vec<String>,
    /// How the front differential stands.
    pub housing: Housing,
    /// The front driveshaft.
    pub front_driveshaft: Option<FrontDriveshaft>,
    /// Rear axle, underbody and obstacles, where the scene has them.
    pub whole: Option<WholeTruck>,
    /// The unit the scene was written in, for printing.
    pub scene_unit: crate::scene::LengthUnit,
    /// The described corner first.
    pub corners: Vec<Corner>,
    /// The mesh files read for it: the name that the scene has, and what the mesh is.
    pub meshes: Vec<(String, Arc<MeshReport>)>,
    /// What the holes of meshes placed by them miss their places by, mm, by file.
    pub hole_misses_mm: Vec<(String, Vec<f64>)>,
    /// Points and numbers of the scene that are likely wrong.
    pub implausible: Vec<Implausible>,
    /// What a setup's parts lack to stand at ride height; nothing for the truck as measured.
    pub needs: Needs,
    /// What a person should know before trusting the result; what is implausible first.
    pub warnings: Vec<String>,
}

impl Truck {
    /// The same with the lines of what is implausible, by the scene's text.
    #[must_use]
    pub fn located(mut self, text: &str) -> Truck {
        let found = std::mem::take(&mut self.implausible);
        self.implausible = found.into_iter().map(|i| i.in_text(text)).collect();
        for (warning, found) in self.warnings.iter_mut().zip(&self.implausible) {
            *warning = found.to_string();
        }
        self
    }

    /// What a person should know before trusting the result, but for what is implausible.
    pub fn further_warnings(&self) -> &[String] {
        &self.warnings[self.implausible.len().min(self.warnings.len())..]
    }

    /// The corner of a side. Where both sides mirror each other and only one was built, `None` for
    /// the other.
    pub fn corner(&self, side: Side) -> Option<&Corner> {
        self.corners.iter().find(|c| c.side == side)
    }
}
