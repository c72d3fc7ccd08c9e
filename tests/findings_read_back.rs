//! Findings are values: what was written as JSON is read again as the same findings, to the last bit.

use bindpoint::compare::compare;
use bindpoint::findings::{
    Comparison, DamperFindings, GroundFindings, PositionFindings, SweepFindings,
};
use bindpoint::ground::ground_findings;
use bindpoint::scene::read_scene;
use bindpoint::sweep::{SweepOptions, damper_findings, position_findings, sweep};
use bindpoint::truck::{MeshStore, assemble_setup};
use serde::{Serialize, de::DeserializeOwned};
use std::fmt::Debug;
use std::path::Path;

fn assert_read_back<T: Serialize + DeserializeOwned + PartialEq + Debug>(findings: &T) {
    let text = serde_json::to_string(findings).expect("text");
    let again: T = serde_json::from_str(&text).unwrap_or_else(|e| panic!("{e}"));
    assert!(*findings == again, "{}", &text[..200]);
}

#[test]
fn findings_are_read_back_from_their_json() {
    for name in ["crake", "tarnwood", "whinchat"] {
        let (scene, _) = read_scene(Path::new(&format!("scenes/{name}.ron"))).expect("a demo");
        let store = MeshStore::new(Path::new("scenes"));
        let truck = assemble_setup(&scene, None, &store).expect("a truck");
        let options = SweepOptions {
            rack_positions: 3,
            with_map_cells: true,
            ..SweepOptions::default()
        };
        assert_read_back::<SweepFindings>(&sweep(&truck, &options, &|_, _| {}));
        assert_read_back::<DamperFindings>(&damper_findings(&truck, 5.0));
        let corner = &truck.corners[0];
        let position = corner.position(-20.0, 3.0).expect("it is reached");
        assert_read_back::<PositionFindings>(&position_findings(&truck, corner, &position));
        if truck.whole.is_some() {
            assert_read_back::<GroundFindings>(
                &ground_findings(&truck, [0.0; 4]).expect("it stands"),
            );
        }
    }
    let (scene, _) = read_scene(Path::new("scenes/whinchat.ron")).expect("a demo");
    let store = MeshStore::new(Path::new("scenes"));
    let found = compare(&scene, &[], &store, false, &|_| {}).expect("it compares");
    assert_read_back::<Comparison>(&found.comparison);
}
