//! `trimmed_parts.csv`: parts cut along their trim sheets, or a side of them set back by the reported cut, by manifold3d; what
//! is left is clear.
//!
//! Source: `tests/tables/make_trimmed_parts.py`, which cut them. The meshes are asked again here, and the sheets must still be
//! those that were cut by.

mod table;

use bindpoint::space::{
    ClearanceMap, ClearanceOptions, clearance_findings, clearance_map, trim_marks,
};
use bindpoint::truck::load;
use std::collections::BTreeMap;
use std::path::PathBuf;
use table::{Row, Table};
use tempfile::tempdir;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The demo scene with a plate of some shape and other parts planted, mapped as the script asks for it.
fn mapped(row: Row, shape: &str) -> ClearanceMap {
    let text = std::fs::read_to_string(root().join("scenes/tarnwood.ron")).expect("a demo scene");
    let assets = format!("\"{}/assets/", root().display());
    let plate = format!(r#"(name: "plate", on: frame, fitted: left, shape: {shape}),"#);
    let planted = format!("    parts: [\n{}\n{plate}\n", row.text("in_more"));
    let text = text
        .replace("\"../assets/", &assets)
        .replacen("    parts: [\n", &planted, 1);
    let folder = tempdir().expect("a folder");
    let path = folder.path().join("planted.ron");
    std::fs::write(&path, text).expect("written");
    let options = ClearanceOptions {
        required_mm: Some(row.number("in_gap")),
        against: row
            .text("in_against")
            .split(';')
            .map(str::to_owned)
            .collect(),
        ..ClearanceOptions::usual("plate")
    };
    let trucks = [load(&path).expect("a scene")];
    clearance_map(&trucks, &options, &|_, _| true).expect("a map")
}

fn triple(row: Row, column: &str) -> String {
    format!("({})", row.text(column).replace(' ', ", "))
}

#[test]
fn a_part_cut_along_one_sheet_or_set_back_by_the_cut_is_clear() {
    const ROWS: usize = 27;
    let table = Table::read("trimmed_parts.csv", ROWS);
    let mut told: BTreeMap<String, (f64, Vec<f64>)> = BTreeMap::new();
    for row in table.rows() {
        let name = row.text("case").to_owned();
        let (cut, depths) = told.entry(name).or_insert_with(|| {
            let map = mapped(
                row,
                &format!(
                    "Box(centre: {}, size: {}, turned_deg: {})",
                    triple(row, "in_centre"),
                    triple(row, "in_size"),
                    triple(row, "in_turned_deg")
                ),
            );
            assert!(map.patches[0].violated && !map.patches[0].cut_is_at_least);
            let found = clearance_findings("", &map, &trim_marks(&map));
            let depths = found.sheets.iter().map(|s| s.depth_mm).collect();
            (map.patches[0].cut_mm, depths)
        });
        // What was cut by is what is told today.
        let place = row.place();
        assert!(
            (*cut - row.number("out_cut")).abs() < 1.0e-6,
            "{place}: {cut}"
        );
        let depth = row.number("out_depth");
        assert!(
            depths.iter().any(|d| (d - depth).abs() < 1.0e-6),
            "{place}: {depths:?}"
        );
        assert!(row.number("out_volume_after") < row.number("out_volume_before"));
        // What is left keeps every required gap.
        let file = root().join("tests/tables/trimmed").join(row.text("mesh"));
        let mesh = format!("Mesh(file: \"{}\", unit: mm)", file.display());
        let left = mapped(row, &mesh);
        assert!(!left.patches.iter().any(|p| p.violated), "{place}");
        assert_eq!(left.unproved_cells, 0, "{place}");
        let room = left
            .movers
            .iter()
            .zip(&left.nearest)
            .filter_map(|(m, n)| Some(n.as_ref()?.spot.gap_mm - m.required_mm))
            .fold(left.options.cutoff_mm, f64::min);
        assert!(room >= 0.0, "{place}: {room}");
        // Found to the map's tolerance both times.
        let before = row.number("out_room");
        assert!(
            (room - before).abs() <= left.options.tolerance_mm,
            "{place}: {room} {before}"
        );
    }
}
