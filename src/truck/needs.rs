//! What a setup's parts lack to stand at ride height: lengths and angles, all of them at once.
//!
//! The idea in five lines. Where a setup moves the hub or the differential, rods and shafts that stayed may not meet, so
//! the corner is put together with a tie rod and a halfshaft of whatever length suits, and stands where the spring holds
//! the damper as it did. There the tie rod's length is the one that keeps the toe, the halfshaft's the one nearest to its
//! own that its joint has room for, and every other limit is read. What differs is what is needed. The place where travel
//! begins is asked too, since the truck has to go together there.
//!
//! Reads: the measured and the changed corner. Produces: [`Needs`] and their words. Next: the [`Truck`](super::Truck)'s
//! warnings, or the message of a setup that can't be put together.

use super::assemble::{
    CornerSource, Fitting, front_driveshaft, lengthened, measured_linkage, points,
};
use super::corner::{Standing, StandingLimit};
use super::{limits, parts};
use crate::kinematics::arm_at_damper_length;
use crate::limits::{Lack, Limit, LimitId, Need, Needs, RideHeight, Unit, When};
use crate::numbers::Dual;
use crate::scene::{Problem, Scene};
use crate::suspension::{
    ArmPoints, HardpointError, Hardpoints, Linkage, Mechanism, OwnPoints, ReachLimit, Side,
};
use nalgebra::Vector3;

type Result<T> = std::result::Result<T, Problem>;

/// What turning a tie rod's sleeve takes up either way when toe is set, mm (common practice, no source).
const SLEEVE_MM: f64 = 10.0;
/// Lengths that differ by less are the same as printed, mm.
const SAME_MM: f64 = 0.05;

/// What a changed corner lacks; nothing for one as measured.
///
/// # Errors
/// [`Problem`] where the corner's own numbers make no sense, whatever the lengths.
pub(super) fn needs(scene: &Scene, fitting: &Fitting) -> Result<Needs> {
    let Some((measured, before)) = &fitting.measured else {
        return Ok(Needs::default());
    };
    let side = fitting.source.side;
    // What is lacked wherever the truck stands.
    let anywhere = |all: Vec<Need>| Needs {
        all,
        ride_heights: Vec::new(),
    };
    let mut out = Vec::new();
    if let Some(shaft) = front_driveshaft(scene, fitting.housing)? {
        let past = StandingLimit::of_shaft(&shaft).into_iter();
        let past = past.filter(|limit| !limit.is_kept());
        out.extend(past.filter_map(|limit| match limit.reading {
            Standing::Angle { deg, limit_deg } => Some(Need {
                side: None,
                of: format!("a {}", limit.id.name()),
                lack: Lack::Angle { deg, limit_deg },
            }),
            // No one part lacks it: angles, phase or kind of joint make it even.
            Standing::Fluctuation { .. } => None,
        }));
    }
    let (h, own) = points(fitting)?;
    let suiting = match Mechanism::suiting_rods(&h, &own) {
        Ok(suiting) => suiting,
        Err(HardpointError::Apart(ReachLimit::UpperArm)) => {
            out.extend(h.upper_arm().map(|arm| knuckle(&h, arm, &own, side)));
            return Ok(anywhere(out));
        }
        Err(_) => return Ok(anywhere(out)),
    };
    let Some(stand) = Stand::of(scene, fitting, (*measured, before), &h, &suiting)? else {
        return Ok(anywhere(out));
    };
    let own_rod_mm = length(&own.tie_rod);
    let rod_mm = stand.rod_mm;
    let with_own = with_lengths(&own, own_rod_mm, length(&suiting.halfshaft))
        .and_then(|own| Mechanism::refitted(h.clone(), own).ok());
    let reaches = (with_own.as_ref())
        .is_some_and(|own| own.solve(stand.arms[0], 0.0).out_of_reach().is_none());
    let rod_by_mm = rod_mm - own_rod_mm;
    let is_another_rod = rod_by_mm.abs() > SLEEVE_MM || !reaches;
    if is_another_rod {
        out.push(Need {
            side: Some(side),
            of: "tie rod".to_owned(),
            lack: Lack::Length {
                by_mm: rod_by_mm,
                as_before_mm: None,
                when: When::Always,
            },
        });
    } else if fitting.source.brackets != before.brackets && rod_by_mm.abs() > SAME_MM {
        // The rod goes down at one end alone, or not at all: its sleeve takes that up, but nobody has turned it.
        out.push(Need {
            side: Some(side),
            of: "tie rod".to_owned(),
            lack: Lack::Length {
                by_mm: rod_by_mm,
                as_before_mm: None,
                when: When::ToKeepToe,
            },
        });
    }
    if let Some(by_mm) = stand.damper_by_mm {
        out.push(Need {
            side: Some(side),
            of: "damper with its spring".to_owned(),
            lack: Lack::Length {
                by_mm,
                as_before_mm: None,
                when: When::AtRideHeight,
            },
        });
    }
    // With its own rod where that does: then everything is read where the truck really stands.
    let (rod_mm, arms, travel_mm) = match with_own.filter(|_| !is_another_rod) {
        Some(own) => {
            let arm = stand.spring.arm(&own).unwrap_or(stand.arms[0]);
            (own_rod_mm, [arm, stand.arms[1]], own.travel_mm(arm, 0.0))
        }
        None => (
            rod_mm,
            stand.arms,
            stand.linkage.travel_mm(stand.arms[0], 0.0),
        ),
    };
    let height = RideHeight {
        side,
        travel_mm: stand.damper_by_mm.is_none().then_some(travel_mm),
        is_set_by_setup: stand.spring.is_changed,
    };
    let held = parts::roll_held(scene, &fitting.source)?;
    let corner = Cornered {
        h: &h,
        own: &own,
        rod_mm,
        // Springs and boots are drawn where the truck stands, so only where it does: the corner itself asks after them.
        limits: limits::all(scene, fitting, &stand.linkage, held, &[], &[])?.limits,
        plunge_ends: limits::plunge_ends(&fitting.source.halfshaft)?,
        side,
    };
    for arm in arms {
        for need in corner.needs_at(arm, stand.plunge_before_mm) {
            add(&mut out, need);
        }
    }
    Ok(Needs {
        all: out,
        ride_heights: vec![height],
    })
}

/// Keeps the greater of two needs of the same part.
fn add(all: &mut Vec<Need>, need: Need) {
    let size = |lack: &Lack| match lack {
        Lack::Length { by_mm, .. } => by_mm.abs(),
        Lack::Angle { deg, .. } => *deg,
    };
    let is_same = |known: &&mut Need| {
        let kinds = match (&known.lack, &need.lack) {
            (Lack::Length { when: a, .. }, Lack::Length { when: b, .. }) => a == b,
            (Lack::Angle { .. }, Lack::Angle { .. }) => true,
            _ => false,
        };
        kinds && known.of == need.of && known.side == need.side
    };
    match all.iter_mut().find(is_same) {
        Some(known) if size(&known.lack) < size(&need.lack) => *known = need,
        Some(_) => {}
        None => all.push(need),
    }
}

fn length([a, b]: &[Vector3<f64>; 2]) -> f64 {
    (b - a).norm()
}

/// The same parts with a tie rod and a halfshaft of other lengths.
fn with_lengths(own: &OwnPoints, rod_mm: f64, shaft_mm: f64) -> Option<OwnPoints> {
    Some(OwnPoints {
        tie_rod: lengthened(own.tie_rod, rod_mm - length(&own.tie_rod))?,
        halfshaft: lengthened(own.halfshaft, shaft_mm - length(&own.halfshaft))?,
        ..own.clone()
    })
}

/// A knuckle that is too long or too short between its ball joints for both arms.
fn knuckle(h: &Hardpoints, arm: &ArmPoints, own: &OwnPoints, side: Side) -> Need {
    let axis = (arm.rear - arm.front).normalize();
    let spoke = arm.ball - arm.front;
    let spoke = spoke - axis * axis.dot(&spoke);
    let from = arm.ball - spoke - h.lower_ball;
    let along = from.dot(&axis);
    let across = (from - axis * along).norm();
    // The nearest and the furthest place of the upper arm's circle from the lower ball joint.
    let [near, far] = [across - spoke.norm(), across + spoke.norm()].map(|d| d.hypot(along));
    let now = length(&own.knuckle);
    Need {
        side: Some(side),
        of: "knuckle".to_owned(),
        lack: Lack::Length {
            by_mm: if now > far { far - now } else { near - now },
            as_before_mm: None,
            when: When::BetweenBallJoints,
        },
    }
}

/// Where a changed corner stands, put together with rods that suit.
struct Stand {
    /// The linkage with them.
    linkage: Mechanism,
    /// The lower arm's turn at ride height, where that can be, and where travel begins, radians.
    arms: [f64; 2],
    /// The tie rod's length that keeps the toe at ride height, mm.
    rod_mm: f64,
    /// Where the measured shaft stood in its joint at ride height, mm.
    plunge_before_mm: f64,
    /// What holds it there.
    spring: Spring,
    /// How much longer damper and spring would have to be for the arm to stand at ride height.
    damper_by_mm: Option<f64>,
}

/// Toe is kept to this, radians: a thousandth of what the finest gauge shows.
const SAME_TOE: f64 = 1.0e-8;
/// A step of the rod's length for the toe's rate, mm.
const RATE_STEP_MM: f64 = 1.0e-3;

/// What holds a corner at ride height.
struct Spring {
    /// The damper's length at which the spring holds as much as it did, mm.
    held_mm: f64,
    /// What a change raises the wheel by from there, bump positive, mm.
    raised_mm: f64,
    /// Whether a change says something of either.
    is_changed: bool,
}

impl Spring {
    /// The lower arm's turn at ride height.
    fn arm(&self, linkage: &Mechanism) -> Option<f64> {
        let arm = arm_at_damper_length(linkage, self.held_mm, 0.0)?;
        arm_at_travel(linkage, arm, linkage.travel_mm(arm, 0.0) + self.raised_mm)
    }
}

impl Stand {
    fn of(
        scene: &Scene,
        fitting: &Fitting,
        (measured, before): (&Scene, &CornerSource),
        h: &Hardpoints,
        suiting: &OwnPoints,
    ) -> Result<Option<Stand>> {
        let as_measured = measured_linkage(measured, before)?;
        let r = fitting.source.reader;
        let before_mm = r.length(measured.ride_height, "ride_height")?;
        let raised_mm = r.length(scene.ride_height, "ride_height")? - before_mm;
        let Some(arm_before) = arm_at_travel(&as_measured, 0.0, before_mm) else {
            return Ok(None);
        };
        let stood = as_measured.solve(arm_before, 0.0);
        let all = |source: &CornerSource| source.spacers_mm(|_| true);
        let spring = Spring {
            held_mm: stood.damper_mm + all(&fitting.source) - all(before),
            raised_mm,
            is_changed: raised_mm != 0.0 || all(&fitting.source) != all(before),
        };
        let outboard = fitting.source.side.outboard();
        let toe = |linkage: &Linkage<f64>, spindle: &Vector3<f64>| {
            let s = linkage.knuckle.direction(spindle);
            (s.x * outboard).atan2(s.y * outboard)
        };
        let wanted = toe(&stood, &as_measured.hardpoints.spindle_axis);
        let shaft_mm = length(&suiting.halfshaft);
        // Where it stands with a rod of some length, and by how much its toe is off.
        let stands = |rod_mm: f64| {
            let own = with_lengths(suiting, rod_mm, shaft_mm)?;
            let linkage = Mechanism::refitted(h.clone(), own).ok()?;
            let arm = spring.arm(&linkage);
            let stands = linkage.solve(arm.unwrap_or(0.0), 0.0);
            let off = toe(&stands, &h.spindle_axis) - wanted;
            Some((linkage, arm, off))
        };
        let mut rod_mm = length(&suiting.tie_rod);
        let Some(mut found) = stands(rod_mm) else {
            return Ok(None);
        };
        for _ in 0..30 {
            let off = found.2;
            if off.abs() < SAME_TOE {
                break;
            }
            let Some(beside) = stands(rod_mm + RATE_STEP_MM) else {
                break;
            };
            let step_mm = -off * RATE_STEP_MM / (beside.2 - off);
            let Some(next) = stands(rod_mm + step_mm).filter(|next| next.2.abs() < off.abs())
            else {
                break;
            };
            rod_mm += step_mm;
            found = next;
        }
        let (linkage, arm, _) = found;
        let damper_by_mm = match arm {
            Some(_) => None,
            None => Some(damper_by_mm(&linkage, spring.held_mm)),
        };
        Ok(Some(Stand {
            arms: [arm.unwrap_or(0.0), 0.0],
            rod_mm,
            plunge_before_mm: stood.plunge_mm,
            damper_by_mm,
            spring,
            linkage,
        }))
    }
}

/// A travel is met to this, mm, as by [`crate::kinematics`].
const SAME_TRAVEL_MM: f64 = 1.0e-9;

/// The lower arm's turn near another at which the wheel stands at a travel, straight ahead.
fn arm_at_travel(linkage: &Mechanism, near: f64, travel_mm: f64) -> Option<f64> {
    let mut arm = near;
    for _ in 0..50 {
        let at: Dual = linkage.travel_mm(Dual::variable(arm, 0), Dual::variable(0.0, 1));
        let miss = at.value - travel_mm;
        // Also refuses NaN.
        if !(at.rate[0] > 0.0 && miss.is_finite()) {
            return None;
        }
        if miss.abs() < SAME_TRAVEL_MM {
            return Some(arm);
        }
        arm -= miss / at.rate[0];
    }
    None
}

/// A step of the arm, radians (half a degree), and where it ends, as far as an arm is any use.
const ARM_STEP: f64 = 0.5 * std::f64::consts::PI / 180.0;
const ARM_STEPS: i32 = 170;

/// How much longer damper and spring would have to be to be met by the arm: the nearest length that it comes to.
fn damper_by_mm(linkage: &Mechanism, held_mm: f64) -> f64 {
    let reached = [1, -1].into_iter().flat_map(|way| {
        (0..ARM_STEPS)
            .map(move |i| linkage.solve(f64::from(way * i) * ARM_STEP, 0.0))
            .take_while(|at| at.out_of_reach().is_none())
            .map(|at| at.damper_mm - held_mm)
    });
    reached.fold(
        f64::INFINITY,
        |best, by| {
            if by.abs() < best.abs() { by } else { best }
        },
    )
}

/// A corner to be asked at some turn of its lower arm, straight ahead.
struct Cornered<'a> {
    h: &'a Hardpoints,
    own: &'a OwnPoints,
    rod_mm: f64,
    limits: Vec<Limit>,
    plunge_ends: [f64; 2],
    side: Side,
}

/// Places along the plunge that are tried, and halvings between two of them.
const PLUNGE_STEPS: usize = 200;
const PLUNGE_HALVINGS: usize = 50;

impl Cornered<'_> {
    /// The corner with a halfshaft of some length.
    fn with_shaft(&self, shaft_mm: f64, arm: f64) -> Option<Linkage<f64>> {
        let own = with_lengths(self.own, self.rod_mm, shaft_mm)?;
        let linkage = Mechanism::refitted(self.h.clone(), own)
            .ok()?
            .solve(arm, 0.0);
        linkage.out_of_reach().is_none().then_some(linkage)
    }

    fn is_in_room(&self, linkage: &Linkage<f64>) -> bool {
        let mut own = self.limits.iter().filter(|limit| is_plunge(&limit.id));
        own.all(|limit| limit.reading(linkage).margin >= 0.0)
    }

    fn needs_at(&self, arm: f64, plunge_before_mm: f64) -> Vec<Need> {
        let mut out = Vec::new();
        let own_mm = length(&self.own.halfshaft);
        let suiting = Mechanism::suiting_rods(self.h, self.own).ok();
        let Some(any) = self.with_shaft(own_mm, arm).or_else(|| {
            suiting.and_then(|suiting| self.with_shaft(length(&suiting.halfshaft), arm))
        }) else {
            return out;
        };
        // The shaft reaches from the outer joint to the flange's axis, by where it stands along that.
        let from = any.outer_joint - self.h.inner_joint;
        let along = from.dot(&self.h.flange_axis);
        let off = (from - self.h.flange_axis * along).norm();
        let shaft_mm = |plunge_mm: f64| (along - plunge_mm).hypot(off);
        let own_now = self.with_shaft(own_mm, arm);
        let stands = match &own_now {
            Some(own) if self.is_in_room(own) => any.clone(),
            _ => {
                let own_plunge_mm = own_now.as_ref().map_or(f64::INFINITY, |own| own.plunge_mm);
                let fits = |plunge_mm: f64| {
                    self.with_shaft(shaft_mm(plunge_mm), arm)
                        .is_some_and(|linkage| self.is_in_room(&linkage))
                };
                match self.nearest_room(own_plunge_mm, fits) {
                    Some(plunge_mm) => {
                        out.push(Need {
                            side: Some(self.side),
                            of: "halfshaft".to_owned(),
                            lack: Lack::Length {
                                by_mm: shaft_mm(plunge_mm) - own_mm,
                                as_before_mm: Some(shaft_mm(plunge_before_mm) - own_mm),
                                when: When::Always,
                            },
                        });
                        self.with_shaft(shaft_mm(plunge_mm), arm).unwrap_or(any)
                    }
                    None => {
                        out.push(self.inner_joint(&any));
                        any
                    }
                }
            }
        };
        for limit in self.limits.iter().filter(|limit| !is_plunge(&limit.id)) {
            let reading = limit.reading(&stands);
            if reading.margin < 0.0 {
                out.push(self.of_limit(&limit.id, reading.value, reading.limit, reading.unit));
            }
        }
        out
    }

    /// The place in the joint nearest to the shaft's own where it has room for it.
    fn nearest_room(&self, own_mm: f64, fits: impl Fn(f64) -> bool) -> Option<f64> {
        let [inner, outer] = self.plunge_ends;
        let step = (outer - inner) / PLUNGE_STEPS as f64;
        let mut places: Vec<f64> = (0..=PLUNGE_STEPS)
            .map(|i| inner + step * i as f64)
            .collect();
        let from = own_mm.clamp(inner, outer);
        places.sort_by(|a, b| (a - from).abs().total_cmp(&(b - from).abs()));
        let mut found = places.into_iter().find(|place| fits(*place))?;
        // Back toward its own place as far as there is room.
        let mut outside = if fits(from) { return Some(from) } else { from };
        for _ in 0..PLUNGE_HALVINGS {
            let middle = 0.5 * (found + outside);
            if fits(middle) {
                found = middle;
            } else {
                outside = middle;
            }
        }
        Some(found)
    }

    /// An inner joint that has room nowhere: it stands at too great an angle.
    fn inner_joint(&self, stands: &Linkage<f64>) -> Need {
        let own = self
            .limits
            .iter()
            .find(|limit| limit.id == LimitId::InnerJointAngle);
        let limit_deg = own.map_or(0.0, |limit| limit.reading(stands).limit);
        Need {
            side: Some(self.side),
            of: "inner joint".to_owned(),
            lack: Lack::Angle {
                deg: stands.inner_cos.clamp(-1.0, 1.0).acos().to_degrees(),
                limit_deg,
            },
        }
    }

    fn of_limit(&self, id: &LimitId, value: f64, limit: f64, unit: Unit) -> Need {
        let (of, when) = match id {
            LimitId::DamperExtended => ("damper".to_owned(), When::PulledOut),
            LimitId::DamperCompressed => ("damper".to_owned(), When::Closed),
            LimitId::BumpStopTouched | LimitId::BumpStopCrushed => {
                ("bump stop".to_owned(), When::Crushed)
            }
            LimitId::InnerJointAngle => ("inner joint".to_owned(), When::Always),
            LimitId::OuterJointAngle => ("outer joint".to_owned(), When::Always),
            LimitId::Hose(name) => (name.clone(), When::Always),
            LimitId::CoilBind(name) => (name.clone(), When::Bound),
            LimitId::BootStretched(name) => (name.clone(), When::Stretched),
            LimitId::BootFolded(name) => (name.clone(), When::Folded),
            LimitId::LimitStrap
            | LimitId::LowerArmDroopStop
            | LimitId::UpperArmDroopStop
            | LimitId::PlungeIn
            | LimitId::PlungeOut
            | LimitId::PlungeField
            | LimitId::UpperBallJoint
            | LimitId::TopMount
            | LimitId::LowerBallJoint
            | LimitId::TieRodOuterEnd
            | LimitId::TieRodInnerEnd
            | LimitId::DamperUpperEye
            | LimitId::DamperLowerEye
            | LimitId::SteeringStopLeft
            | LimitId::SteeringStopRight
            | LimitId::FrontDriveshaftCaseJoint
            | LimitId::FrontDriveshaftPinionJoint
            | LimitId::FrontDriveshaftFluctuation => (id.name(), When::Always),
        };
        Need {
            side: Some(self.side),
            of,
            lack: match unit {
                // What ends a length is moved to where it is: longer for what pulls, shorter for what pushes.
                Unit::Millimetre => Lack::Length {
                    by_mm: value - limit,
                    as_before_mm: None,
                    when,
                },
                Unit::Degree => Lack::Angle {
                    deg: value,
                    limit_deg: limit,
                },
            },
        }
    }
}

/// Limits that end where the halfshaft stands in its inner joint, the angle there among them.
fn is_plunge(id: &LimitId) -> bool {
    matches!(
        id,
        LimitId::PlungeIn | LimitId::PlungeOut | LimitId::PlungeField | LimitId::InnerJointAngle
    )
}
