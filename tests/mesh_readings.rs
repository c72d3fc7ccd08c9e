//! Mesh files that another program wrote read as that program reads them: triangles, corners, open edges, size, volume.
//!
//! `mesh_readings.csv` has what trimesh made of the files of `tests/tables/meshes`, all of which it wrote itself: five
//! bodies in seven kinds of file, two of the bodies dirty.

mod table;

use bindpoint::shapes::{Mesh, MeshFormat, read_mesh};
use std::collections::BTreeSet;
use std::path::PathBuf;
use table::Table;

/// Corners are below 512 mm, so that single precision rounds a coordinate by 2^-16 mm at most, in metres (GLB) by no more;
/// files with eight decimals or digits round by less. Both programs widen the same numbers: only GLB is multiplied.
const COORDINATE_MM: f64 = 1.0 / 65_536.0;

fn area_mm2(mesh: &Mesh) -> f64 {
    let corner = |i: u32| mesh.vertices[i as usize];
    let each = mesh.triangles.iter().map(|[a, b, c]| {
        let (a, b, c) = (corner(*a), corner(*b), corner(*c));
        0.5 * (b - a).cross(&(c - a)).norm()
    });
    each.sum()
}

#[test]
fn files_read_as_the_program_that_wrote_them_reads_them() {
    let table = Table::read("mesh_readings.csv", 35);
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/tables/meshes");
    let mut formats = BTreeSet::new();
    let (mut open, mut closed) = (0, 0);
    for row in table.rows() {
        let name = row.text("file");
        let place = row.place();
        let path = folder.join(name);
        let format = MeshFormat::of_name(&path).expect("a format that is read");
        let unit = (format != MeshFormat::Gltf).then_some(1.0);
        let mesh = read_mesh(&path, unit).unwrap_or_else(|e| panic!("{place}: {e}"));
        let r = &mesh.report;
        formats.insert(format!("{format:?}"));
        for (what, count) in [
            ("out_read", r.triangles_read),
            ("out_triangles", r.triangles),
            ("out_corners", r.corners),
            ("out_open_edges", r.open_edges),
        ] {
            assert_eq!(count as f64, row.number(what), "{place} {name}: {what}");
        }
        assert_eq!(r.repeated, r.triangles_read - r.triangles, "{place}");
        for (what, own, error) in [
            ("low", r.low_mm, COORDINATE_MM),
            ("size", r.size_mm, 2.0 * COORDINATE_MM),
        ] {
            // A file's axes are taken as they stand: glTF has y up and z forward, so that (x, y, z) was written (y, z, x).
            let own = if format == MeshFormat::Gltf {
                [own[2], own[0], own[1]]
            } else {
                own
            };
            let theirs = row.vector(&format!("out_{what}"));
            for k in 0..3 {
                assert!(
                    (own[k] - theirs[k]).abs() <= error,
                    "{place} {name}: {what} {own:?}, {theirs:?}"
                );
            }
        }
        // Each corner moves by at most the diagonal of its rounding: a volume by no more than that over its area, an
        // area by no more than over its edges, here thinner than 2 mm to a square millimetre.
        let moved = 1.7321 * COORDINATE_MM;
        let area = row.number("out_area");
        assert!(
            (area_mm2(&mesh) - area).abs() <= 2.0 * moved * area,
            "{place} {name}: area {}",
            area_mm2(&mesh)
        );
        if row.text("out_volume").is_empty() {
            open += 1;
            assert!(r.volume_mm3.is_none() && !r.inside_known, "{place} {name}");
        } else {
            closed += 1;
            let own = r.volume_mm3.unwrap_or_else(|| panic!("{place}: closed"));
            let off = own - row.number("out_volume");
            assert!(
                off.abs() <= moved * area && own > 0.0,
                "{place} {name}: volume {own}"
            );
            // What trimesh turned back is turned here.
            let flipped = name.starts_with("flipped");
            assert_eq!(r.turned, if flipped { 3 } else { 0 }, "{place} {name}");
        }
    }
    assert_eq!(formats.len(), 5, "{formats:?}");
    assert_eq!((open, closed), (7, 28));
}
