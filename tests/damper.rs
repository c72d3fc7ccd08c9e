//! The longest safe damper: what is called safe can't be refuted, and what refutes more is there.
//!
//! Brute force walks every rack position of a fine and of a random grid down (or up) in steps far below the
//! margin and asks every other stop at each: plain positions and distances, none of the guard's bounds.

mod dice;

use bindpoint::findings::{StopId, TravelDirection};
use bindpoint::limits::{LimitId, Span};
use bindpoint::scene::{Foot, Point, Scene, scene_from_text};
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::safe_length::{LengthRates, SafeLength, safe_length};
use bindpoint::sweep::stops::{Guard, StopKind, all_stops, stop_id, stop_name};
use bindpoint::sweep::{damper_findings, damper_status};
use bindpoint::truck::{Corner, assemble, load};
use dice::Dice;
use std::path::Path;

const OFF_DROOP: [LimitId; 2] = [LimitId::DamperExtended, LimitId::LimitStrap];
const OFF_BUMP: [LimitId; 2] = [LimitId::DamperCompressed, LimitId::BumpStopCrushed];
/// Steps of the walk, mm of travel: a fiftieth of the least margin tried.
const STEP_MM: f64 = 0.2;
/// The walk begins this far on the other side of the measured height, mm: more than any margin tried.
const BEFORE_MM: f64 = 20.0;
/// Bisections and brackets are finer than this, mm.
const SLACK_MM: f64 = 0.02;

fn stops_off(of: &[LimitId; 2]) -> Vec<StopId> {
    of.iter()
        .map(|id| StopId::Limit { id: id.clone() })
        .collect()
}

/// The travel at which the damper first has a length on the way out at a rack position.
fn hangs_at(corner: &Corner, length_mm: f64, rack_mm: f64, sign: f64) -> Option<f64> {
    let damper = |travel: f64| Some(corner.position(travel, rack_mm).ok()?.linkage.damper_mm);
    let outward = |mm: f64| -sign * mm;
    // A damper shorter than at the measured height hangs on the other side of it.
    let mut travel = -sign * BEFORE_MM;
    while outward(damper(travel)?) < outward(length_mm) {
        travel += sign * STEP_MM;
    }
    let (mut near, mut far) = (travel - sign * STEP_MM, travel);
    for _ in 0..50 {
        let middle = 0.5 * (near + far);
        if outward(damper(middle)?) < outward(length_mm) {
            near = middle;
        } else {
            far = middle;
        }
    }
    Some(far)
}

/// The first position, on the way to where a damper hangs and `margin` further, that some other stop forbids: all stops
/// of the corner but those taken `off`, those too that the guard has proved clear and asks for no more.
fn refuted(
    guard: &Guard,
    off: &[LimitId; 2],
    racks: &[f64],
    length_mm: f64,
    sign: f64,
    margin_mm: f64,
) -> Option<(f64, f64, String)> {
    let corner = guard.corner;
    let mut stops = all_stops(corner);
    let off = stops_off(off);
    stops.retain(|stop| !off.contains(&stop_id(corner, *stop)));
    for rack in racks {
        let Some(hang) = hangs_at(corner, length_mm, *rack, sign) else {
            continue;
        };
        let end = hang + sign * (margin_mm - SLACK_MM);
        if sign * end <= 0.0 {
            continue;
        }
        let steps = (end.abs() / STEP_MM).floor() as i32;
        let mut travels: Vec<f64> = (1..=steps).map(|i| sign * STEP_MM * f64::from(i)).collect();
        travels.push(end);
        for travel in travels {
            let Ok(position) = corner.position(travel, *rack) else {
                continue;
            };
            for stop in &stops {
                if *stop == StopKind::EndOfReach {
                    continue;
                }
                if guard.violated_at(*stop, position.alpha, *rack, None) {
                    return Some((travel, *rack, stop_name(corner, *stop)));
                }
            }
        }
    }
    None
}

fn racks(corner: &Corner, dice: &mut Dice, even: i32, random: usize) -> Vec<f64> {
    let [low, high] = corner.rack_mm;
    let at = |share: f64| low + (high - low) * share;
    let mut out: Vec<f64> = (0..=even)
        .map(|i| at(f64::from(i) / f64::from(even)))
        .collect();
    out.extend((0..random).map(|_| at(dice.between(0.0, 1.0))));
    out
}

/// Checks one corner both ways; returns how many lengths were limited by something.
fn check(corner: &Corner, dice: &mut Dice, margin_mm: f64, even: i32, random: usize) -> usize {
    let atlas = Atlas::build(corner);
    let rates = LengthRates::enclose(corner, &atlas.domain, &Span::Damper);
    let mut limited = 0;
    for (direction, sign, off) in [
        (TravelDirection::Droop, -1.0, OFF_DROOP),
        (TravelDirection::Bump, 1.0, OFF_BUMP),
    ] {
        let guard = Guard::new(corner, &atlas, 1.0).without(&stops_off(&off));
        let result = safe_length(&guard, &Span::Damper, &rates, direction, margin_mm);
        let racks = racks(corner, dice, even, random);
        if let Some(safe_mm) = result.proved_mm() {
            let found = refuted(&guard, &off, &racks, safe_mm, sign, margin_mm);
            assert_eq!(found, None, "{direction:?}: {safe_mm} is called safe");
        }
        if let SafeLength::Limited { safe_mm, by } = result {
            limited += 1;
            assert!(
                (by.length_mm - safe_mm).abs() <= 0.0101,
                "{by:?} against {safe_mm}"
            );
            // The witness: that stop is violated there, and the longer damper hangs within the margin of it.
            if by.stop != StopKind::EndOfReach {
                assert!(
                    guard.violated_at(by.stop, by.alpha, by.rack_mm, None),
                    "{by:?}"
                );
            }
            let hang = hangs_at(corner, by.length_mm, by.rack_mm, sign);
            if let Some(hang) = hang {
                let room = sign * (by.travel_mm - hang);
                assert!(room <= margin_mm + SLACK_MM, "{by:?} hangs at {hang}");
            }
        }
    }
    limited
}

fn scene(name: &str) -> Scene {
    let path = Path::new("scenes").join(format!("{name}.ron"));
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    scene_from_text(&text, &path).expect("it reads")
}

#[test]
fn a_finer_scan_cannot_refute_the_demo_trucks_longest_damper() {
    let mut dice = Dice::new(41);
    // Crake's outer joint is past its limit at one lock as measured: no length is safe there.
    for (name, limited) in [("tarnwood", 2), ("crake", 0)] {
        let truck = load(&Path::new("scenes").join(format!("{name}.ron"))).expect("it loads");
        let corner = &truck.corners[0];
        assert_eq!(check(corner, &mut dice, 10.0, 14, 5), limited, "{name}");
    }
    let truck = load(Path::new("scenes/crake.ron")).expect("it loads");
    let found = damper_findings(&truck, 10.0);
    assert_eq!(found.worse.damper.safe_mm, None);
    assert_eq!(
        found
            .worse
            .damper
            .stop
            .as_ref()
            .map(StopId::name)
            .as_deref(),
        Some("outer joint angle")
    );
    assert_eq!(damper_status(&found), bindpoint::findings::Status::Found);
}

/// Random trucks without meshes; the damper's foot on each of the bodies that can carry it, so that its length
/// depends on the rack too.
#[test]
fn a_finer_scan_cannot_refute_random_trucks_longest_dampers() {
    let mut dice = Dice::new(20_261_125);
    let (mut tried, mut limited) = (0, 0);
    while tried < 36 {
        let mut scene = scene("crake");
        let jitter = |p: &mut Point, dice: &mut Dice| {
            for c in [&mut p.0, &mut p.1, &mut p.2] {
                *c += dice.between(-0.6, 0.6);
            }
        };
        let Some(upper) = &mut scene.upper_arm else {
            panic!("the demo has an upper arm");
        };
        for p in [
            &mut scene.lower_arm.front_pivot,
            &mut scene.lower_arm.rear_pivot,
            &mut scene.lower_arm.ball_joint,
            &mut upper.front_pivot,
            &mut upper.rear_pivot,
            &mut upper.ball_joint,
            &mut scene.knuckle.tie_rod_outer,
            &mut scene.rack.tie_rod_inner,
            &mut scene.damper.upper_mount,
        ] {
            jitter(p, &mut dice);
        }
        scene.damper.lower_mount_on = [Foot::LowerArm, Foot::UpperArm, Foot::Knuckle][tried % 3];
        if tried % 3 == 2 {
            scene.damper.lower_mount = Point(0.3, -21.5, 12.0);
        }
        // The stops of interest are the others; the joint that binds at the lock is let go.
        scene.damper.extended = 40.0;
        scene.damper.spacers.clear();
        scene.damper.compressed = 5.0;
        scene.damper.bump_stop = None;
        scene.halfshaft.outer_limit_deg = 44.0;
        scene.parts.retain(|p| p.name != "tyre");
        scene.watch.retain(|w| w.a != "tyre");
        let Ok(truck) = assemble(&scene, Path::new("scenes")) else {
            continue;
        };
        let margin_mm = dice.between(0.0, 15.0);
        tried += 1;
        limited += check(&truck.corners[0], &mut dice, margin_mm, 16, 8);
    }
    // A check that never found a limit would prove nothing.
    assert!(limited > 36, "only {limited} of 72 lengths were limited");
}

#[test]
fn more_margin_never_allows_a_longer_damper_and_zero_margin_meets_the_sweep() {
    let truck = load(Path::new("scenes/tarnwood.ron")).expect("it loads");
    let mut before = f64::INFINITY;
    for margin_mm in [0.0, 2.0, 10.0, 30.0] {
        let found = damper_findings(&truck, margin_mm);
        let safe = found.worse.damper.safe_mm.expect("decided");
        assert!(safe < before, "{margin_mm}: {safe}");
        before = safe;
    }
}

#[test]
fn what_is_gained_by_the_next_part_is_told_in_order() {
    let truck = load(Path::new("scenes/tarnwood.ron")).expect("it loads");
    let found = damper_findings(&truck, 10.0);
    let corner = &found.worse;
    assert_eq!(damper_status(&found), bindpoint::findings::Status::Clear);
    assert!(!corner.gains.is_empty());
    let mut safe = corner.damper.safe_mm.expect("decided");
    let mut stop = corner.damper.stop.clone();
    for (i, gain) in corner.gains.iter().enumerate() {
        assert_eq!(gain.without.len(), i + 1);
        assert_eq!(gain.without.last(), stop.as_ref());
        let (longer, travel) = (
            gain.longer_mm.expect("safe before"),
            gain.travel_mm.expect("hangs"),
        );
        let then = gain.safe_mm.expect("safe after");
        assert!(longer >= 0.0 && travel >= 0.0);
        assert!((then - safe - longer).abs() < 1.0e-9);
        (safe, stop) = (then, gain.next_stop.clone());
    }
    // The body closes before the bump stop is crushed, with the difference to spare.
    let crush = &corner.crush;
    assert_eq!(crush.bump_stop_crushed_mm, Some(428.0));
    assert_eq!(crush.closed_mm, 415.0);
    assert_eq!(crush.spare_mm, Some(13.0));
}
