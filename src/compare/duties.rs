//! Duties at which wear is compared, and the wear index at them.
//!
//! The index is contact load times mean sliding speed, summed over where the wheel is and where the rack is,
//! each for its share of the time. At a road speed v and a pull F at the tyre the shaft turns at v / r and
//! carries F r, r the loaded radius: a bigger tyre turns it slower against more torque, and the two cancel. So
//! does the pitch radius, see [`crate::driveline::Sliding`]. What is left is the pull's share times the mean
//! sliding of the joint's angle: only its ratio to the first column at the same duty means anything.

use crate::driveline::{HalfshaftJointKind, Sliding};
use crate::scene::{Duty, Problem, Scene, TravelAt, TravelShare};
use crate::truck::Corner;

/// Sliding of one joint at one duty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Wear {
    /// Pull's share times mean sliding, without unit.
    pub index: f64,
    /// Pull's share times the greatest sliding, without unit.
    pub peak_index: f64,
    /// Greatest and mean sliding speed, mm/s, where the pitch radius is given.
    pub speed_mm_s: Option<[f64; 2]>,
}

/// The duties that are built in; their numbers are common practice, no source.
pub(super) fn built_in(scale: f64) -> Vec<Duty> {
    let around_ride = |mm: f64| -> Vec<TravelShare> {
        [(-mm, 0.25), (0.0, 0.5), (mm, 0.25)]
            .map(|(at, share)| TravelShare {
                at: TravelAt::FromRide(at / scale),
                share,
            })
            .into()
    };
    vec![
        Duty {
            name: "highway, halfshafts unloaded".to_owned(),
            speed_kmh: 100.0,
            torque_share: 0.0,
            travel: around_ride(20.0),
            steer: Vec::new(),
        },
        Duty {
            name: "highway, full-time drive".to_owned(),
            speed_kmh: 100.0,
            torque_share: 0.1,
            travel: around_ride(20.0),
            steer: Vec::new(),
        },
        Duty {
            name: "low-range climb at droop".to_owned(),
            speed_kmh: 5.0,
            torque_share: 1.0,
            travel: [(0.5, 0.4), (0.9, 0.6)]
                .map(|(share_of_droop, share)| TravelShare {
                    at: TravelAt::OfDroop(share_of_droop),
                    share,
                })
                .into(),
            steer: vec![(-0.7, 0.2), (0.0, 0.6), (0.7, 0.2)],
        },
    ]
}

/// Every duty of a scene, the built-in ones first.
pub(super) fn duties(scene: &Scene) -> Result<Vec<Duty>, Problem> {
    let mut all = built_in(scene.units.in_mm());
    for (i, duty) in scene.duties.iter().enumerate() {
        let at = |field: &str, what: &str, help: &str| {
            Problem::at(format!("duties[{i}].{field}"), what, help)
        };
        if all.iter().any(|d| d.name == duty.name) {
            return Err(at(
                "name",
                "there is a duty of that name already",
                "give each duty a name of its own",
            ));
        }
        let sound = |v: f64| v.is_finite() && v >= 0.0;
        if !sound(duty.speed_kmh) || !sound(duty.torque_share) {
            return Err(at(
                "speed_kmh",
                "speed and torque_share are zero or more",
                "give the road speed in km/h and the share of the full pull",
            ));
        }
        let travel: f64 = duty.travel.iter().map(|t| t.share).sum();
        if duty.travel.iter().any(|t| !sound(t.share)) || travel.is_nan() || travel <= 0.0 {
            return Err(at(
                "travel",
                "the shares of the time don't add up to anything",
                "list places, each with a share above zero: (at: FromRide(0), share: 1)",
            ));
        }
        let steer: f64 = duty.steer.iter().map(|s| s.1).sum();
        let odd = |s: &(f64, f64)| !(-1.0..=1.0).contains(&s.0) || !sound(s.1);
        if duty.steer.iter().any(odd) || (!duty.steer.is_empty() && steer <= 0.0) {
            return Err(at(
                "steer",
                "this is no list of rack positions with their shares",
                "list (rack as a share of the lock from -1 to 1, share of the time)",
            ));
        }
        all.push(duty.clone());
    }
    Ok(all)
}

/// Wear of outer and inner joint at a duty; none where one of its positions can't be reached. `droop_mm` is the
/// free droop straight ahead from ride height.
pub(super) fn wear(corner: &Corner, duty: &Duty, scale: f64, droop_mm: f64) -> Option<[Wear; 2]> {
    let steer: &[(f64, f64)] = if duty.steer.is_empty() {
        &[(0.0, 1.0)]
    } else {
        &duty.steer
    };
    let total: f64 =
        duty.travel.iter().map(|t| t.share).sum::<f64>() * steer.iter().map(|s| s.1).sum::<f64>();
    let mut sums = [Sliding::default(); 2];
    for place in &duty.travel {
        let from_ride = match place.at {
            TravelAt::FromRide(length) => length * scale,
            TravelAt::OfDroop(share) => -share * droop_mm,
        };
        for (share_of_lock, share) in steer {
            let lock = corner.rack_mm[usize::from(*share_of_lock > 0.0)].abs();
            let rack_mm = share_of_lock * lock;
            let position = corner
                .position(corner.ride_height_mm + from_ride, rack_mm)
                .ok()?;
            let linkage = &position.linkage;
            let kinds = [
                (HalfshaftJointKind::FixedBall, linkage.outer_cos),
                (HalfshaftJointKind::Tripod, linkage.inner_cos),
            ];
            for (sum, (kind, cos)) in sums.iter_mut().zip(kinds) {
                let sliding = Sliding::at(kind, cos.clamp(-1.0, 1.0).acos());
                sum.peak = sum.peak.max(sliding.peak);
                sum.mean += sliding.mean * place.share * share / total;
            }
        }
    }
    let shaft_rad_s = duty.speed_kmh / 3.6 * 1000.0 / corner.loaded_radius_mm;
    let radii = [corner.ball_pitch_radius_mm, corner.track_pitch_radius_mm()];
    let mut out = sums.iter().zip(radii).map(|(sliding, radius)| Wear {
        index: duty.torque_share * sliding.mean,
        peak_index: duty.torque_share * sliding.peak,
        speed_mm_s: radius
            .map(|radius| [sliding.peak, sliding.mean].map(|s| s * radius * shaft_rad_s)),
    });
    Some([out.next()?, out.next()?])
}

/// The model and its limits, as printed.
pub(super) fn notes() -> Vec<String> {
    [
        "Wear index: contact load times mean sliding speed, as a ratio to the first column at the same duty. \
         Model: balls in the half-angle plane, tripod rollers stroking with the joint's angle, rigid parts, even \
         load. It knows nothing of grease, heat, hardness, dirt or torn boots, and is no life in miles.",
        "At zero torque the index is zero at any angle: an unloaded joint wears little. What then wears are the \
         boots, which flex and rub with every turn, and the grease that they keep in: look at their gaps and \
         folds.",
    ]
    .map(str::to_owned)
    .into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_duty_is_a_sound_one() {
        for duty in built_in(1.0) {
            let travel: f64 = duty.travel.iter().map(|t| t.share).sum();
            assert!((travel - 1.0).abs() < 1.0e-12, "{}", duty.name);
            let steer: f64 = duty.steer.iter().map(|s| s.1).sum();
            assert!(duty.steer.is_empty() || (steer - 1.0).abs() < 1.0e-12);
        }
    }
}
