//! Where a contact is, in distances that a tape can take: the same on a truck whose suspension hangs lower as a whole.
//!
//! Source: a rigid suspension on brackets that lower every pivot by the same keeps every distance within it. Found by a
//! stranger: parts on the tie rod and the wheel were told in the drawing as measured, their marks in the lowered place.

use bindpoint::compare::compare;
use bindpoint::findings::FirstContact;
use bindpoint::scene::Scene;
use bindpoint::suspension::Body;
use bindpoint::sweep::{SweepOptions, sweep};
use bindpoint::truck::{MeshStore, Truck, assemble_setup};
use nalgebra::Vector3;
use small_scene::{Draft, ball};
use std::path::Path;

mod dice;
mod small_scene;

fn truck(scene: &Scene, setup: Option<&str>) -> Truck {
    let meshes = MeshStore::new(Path::new("."));
    assemble_setup(scene, setup, &meshes).unwrap_or_else(|e| panic!("{e:?}"))
}

/// Lumps on two bodies that come together somewhere.
fn with_lumps(on: [Body; 2], at: Vector3<f64>, apart_mm: f64) -> Scene {
    let mut draft = Draft::new();
    for (name, body, z) in [
        ("upper lump", on[0], 0.0),
        ("lower lump", on[1], -20.0 - apart_mm),
    ] {
        let at = at + Vector3::new(0.0, 0.0, z);
        draft.part(name, body.name(), "left", &ball(&at, 10.0));
    }
    draft.watch("upper lump", "lower lump", 0.0);
    draft.more += "differential: (front_mounts: [(100, 100, 500), (100, -100, 500)], rear_mounts: [(-100, 0, 500)]),\n";
    draft.more += "setups: [(name: \"lowered\", changes: [DropBrackets(by: 100)])],\n";
    draft.scene("lumps")
}

fn contacts(scene: &Scene, setup: Option<&str>) -> Vec<FirstContact> {
    let found = sweep(&truck(scene, setup), &SweepOptions::default(), &|_, _| {});
    let left = [found.worse].into_iter().chain(found.other);
    left.flat_map(|corner| corner.first_contacts).collect()
}

#[test]
fn a_suspension_lowered_as_a_whole_keeps_every_tape_distance() {
    let middle = |a: Vector3<f64>, b: Vector3<f64>| (a + b) * 0.5;
    let draft = Draft::new();
    let rod = middle(draft.rod[0], draft.rod[1]);
    let mut told = 0;
    for (on, at) in [
        ([Body::TieRod, Body::LowerArm], rod),
        ([Body::Wheel, Body::LowerArm], draft.lower[2]),
        ([Body::Knuckle, Body::TieRod], draft.rod[1]),
        (
            [Body::DamperLower, Body::UpperArm],
            middle(draft.damper[0], draft.damper[1]),
        ),
    ] {
        let scene = with_lumps(on, at, 0.5);
        let [measured, lowered] = [None, Some("lowered")].map(|setup| contacts(&scene, setup));
        assert_eq!(measured.len(), lowered.len(), "{on:?}");
        for (a, b) in measured.iter().zip(&lowered) {
            assert!(
                (a.travel_mm - b.travel_mm).abs() < 0.05,
                "{a:?} against {b:?}"
            );
            assert_eq!((&a.tape_a, &a.tape_b), (&b.tape_a, &b.tape_b), "{on:?}");
            told += 1;
        }
    }
    assert!(told >= 3, "the lumps meet: {told}");
}

#[test]
fn a_tie_rods_mark_lies_between_its_ends() {
    let draft = Draft::new();
    let rod = (draft.rod[0] + draft.rod[1]) * 0.5;
    let length = (draft.rod[1] - draft.rod[0]).norm();
    let scene = with_lumps([Body::TieRod, Body::LowerArm], rod, 0.5);
    for setup in [None, Some("lowered")] {
        for contact in contacts(&scene, setup) {
            let numbers: Vec<f64> = contact
                .tape_a
                .split_whitespace()
                .filter_map(|word| word.parse().ok())
                .collect();
            let sum: f64 = numbers.iter().sum();
            // On a lump of 10 mm about the rod's axis: no less than the rod, and no more than by both ways about the lump.
            assert!(
                sum > length - 1.0 && sum < length + 10.0,
                "{} of {length}",
                contact.tape_a
            );
        }
    }
}

/// The right side of a truck whose sides mirror each other steers to the left as far as the left one to the right.
#[test]
fn a_side_that_mirrors_the_other_is_compared_with_itself_the_right_way_round() {
    let mut draft = Draft::new();
    let far = |z: f64| ball(&Vector3::new(0.0, 300.0, z), 1.0);
    draft.part("far", "frame", "each_side", &far(3000.0));
    draft.watch("halfshaft", "far", 0.0);
    // One side only, so that both corners are built there; nothing that steering depends on changes.
    draft.more += &format!(
        "setups: [(name: \"left only\", changes: [AddPart(part: (name: \"near\", on: frame, fitted: left, shape: {}))])],\n",
        far(2900.0)
    );
    let scene = draft.scene("mirrored");
    let meshes = MeshStore::new(Path::new("."));
    let columns = [None, Some("left only".to_owned())];
    let compared = compare(&scene, &columns, &meshes, false, &|_| {}).expect("both stand");
    let rows = &compared.comparison.measures;
    let steer = rows.iter().filter(|m| m.key.starts_with("free_steer_"));
    let mut count = 0;
    for row in steer {
        let values: Vec<f64> = row.values.iter().flatten().map(|m| m.value).collect();
        assert_eq!(values.len(), 2);
        assert!((values[0] - values[1]).abs() < 0.01, "{row:?}");
        count += 1;
    }
    assert!(count >= 2, "{count}");
}
