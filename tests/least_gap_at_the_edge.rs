//! The least gap of a pair where it is least at the very end of the free travel, between two rack positions that are listed.
//!
//! Found by a reviewer: squares of the map along its edge weren't asked, so that a bound printed as proved was a millimetre
//! too large. What is true is asked of positions one by one: the damper is `extended` there, and the balls' distance is that of
//! their centres less both radii, worked out by the reviewer's own closed-form kinematics too (0.092 mm).

use bindpoint::scene::scene_from_text;
use bindpoint::sweep::{SweepOptions, sweep};
use bindpoint::truck::assemble;
use std::path::Path;

const SCENE: &str = r#"(
    name: "Edge", units: mm, side: left, search: (droop: 300, bump: 250),
    lower_arm: (front_pivot: (180, 335, 345), rear_pivot: (-190, 335, 335), ball_joint: (8, 722, 290)),
    upper_arm: (front_pivot: (95, 440, 655), rear_pivot: (-125, 445, 640), ball_joint: (-22, 668, 682)),
    knuckle: (wheel_centre: (0, 815, 400), spindle: Static(toe_deg: 0, camber_deg: 0), tie_rod_outer: (-140, 685, 372),
        loaded_radius: 387),
    rack: (tie_rod_inner: (-135, 366, 396), travel: (left: 60, right: 60)),
    damper: (upper_mount: (-20, 470, 790), lower_mount: (10, 560, 325), lower_mount_on: lower_arm, extended: 500.25,
        compressed: 440, bump_stop: (contact: 452, crushed: 448)),
    halfshaft: (outer_joint: (0, 700, 400), inner_joint: (0, 235, 420), diameter: 28, inner_limit_deg: 40,
        outer_limit_deg: 60, plunge: (inner: -60, outer: 60)),
    parts: [
        (name: "knuckle ball", on: knuckle, shape: Ball(centre: (-150, 690, 330), radius: 3)),
        (name: "frame ball", on: frame, shape: Ball(centre: (-150.565123, 706.5723, 282.152401), radius: 3)),
    ],
    watch: [(a: "knuckle ball", b: "frame ball", gap: 0)],
)"#;

#[test]
fn no_position_up_to_the_stop_itself_has_less_than_is_proved() {
    let scene = scene_from_text(SCENE, Path::new("a.ron")).expect("it reads");
    let truck = assemble(&scene, Path::new(".")).expect("it stands");
    let found = sweep(&truck, &SweepOptions::default(), &|_, _| {}).worse;
    let [tightest] = &found.tightest_gaps[..] else {
        panic!("one pair is watched: {:?}", found.tightest_gaps);
    };
    let corner = truck
        .corner(found.side)
        .expect("the corner that is told of");
    let toward = if found.side == truck.corners[0].side {
        1.0
    } else {
        -1.0
    };
    let mut least = f64::INFINITY;
    for step in 0..400 {
        // From 47.3 to 47.5 mm of droop, about the rack position at which the balls are nearest.
        let travel_mm = -47.3 - 0.0005 * f64::from(step);
        let position = corner
            .position(travel_mm, 21.0 * toward)
            .expect("it is reached");
        let is_kept = position.linkage.damper_mm < 500.25;
        if is_kept {
            let gap = corner.gap(&corner.pairs[0], &position.linkage, None);
            least = least.min(gap.gap_mm);
        }
    }
    assert!(least < 0.1, "the scene is what it was: {least}");
    assert!(
        tightest.at_least_mm <= least,
        "{tightest:?} against {least}"
    );
    // What is printed as found is near to it too: the bracket of the stop and a square's last halving.
    assert!(
        tightest.gap_mm < least + 0.1,
        "{tightest:?} against {least}"
    );
}
