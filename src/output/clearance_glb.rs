//! A clearance map and its trim marks as binary glTF (see [`super::glb`] for units and axes).

use super::clearance_colours::{TRIM_LINE, colour};
use super::glb::{Drawn, GlbFile, Look, MaterialId};
use crate::space::{ClearanceMap, Outline, TrimMark};
use nalgebra::Vector3;
use std::io;
use std::path::Path;

/// Writes the map with its trim marks; without a map, the marks alone.
///
/// # Errors
/// Whatever the file system answers; nothing is left half-written.
pub fn write_glb(
    path: &Path,
    name: &str,
    map: Option<&ClearanceMap>,
    marks: &[TrimMark],
) -> io::Result<()> {
    let mut file = GlbFile::new(name, &serde_json::json!({}));
    if let Some(map) = map {
        add_map(&mut file, name, map);
    }
    let line = file.add_material(&Look {
        name: "trim line",
        rgb: TRIM_LINE,
        ..Look::default()
    });
    for (n, mark) in marks.iter().enumerate() {
        let name = format!("trim {}, sheet {}", mark.patch + 1, n + 1);
        add_mark(&mut file, &name, mark, line);
    }
    file.write(path)
}

fn add_map(file: &mut GlbFile, name: &str, map: &ClearanceMap) {
    // The part may be open: its backs are seen too.
    let material = file.add_material(&Look {
        name: "clearance",
        roughness: 0.9,
        double_sided: true,
        ..Look::default()
    });
    let colours: Vec<[u8; 3]> = map.at_point.iter().map(|spot| colour(map, spot)).collect();
    let surface = Drawn::Triangles {
        points: &map.mesh.points,
        triangles: &map.mesh.triangles,
        colours: Some(&colours),
    };
    let mesh = file.add_mesh(name, &[(surface, material)]);
    file.add_node(name, None, mesh, None);
}

fn add_mark(file: &mut GlbFile, name: &str, mark: &TrimMark, line: MaterialId) {
    let segments: Vec<Vec<[u32; 2]>> = mark.outlines.iter().map(segments).collect();
    let ends: Vec<Vector3<f64>> = mark.waste.iter().flatten().copied().collect();
    let strokes: Vec<[u32; 2]> = (0..mark.waste.len() as u32)
        .map(|i| [2 * i, 2 * i + 1])
        .collect();
    let mut lines: Vec<(Drawn, MaterialId)> = mark
        .outlines
        .iter()
        .zip(&segments)
        .map(|(outline, segments)| {
            let lines = Drawn::Lines {
                points: &outline.points,
                segments,
                colours: None,
            };
            (lines, line)
        })
        .collect();
    let strokes = Drawn::Lines {
        points: &ends,
        segments: &strokes,
        colours: None,
    };
    lines.push((strokes, line));
    let mesh = file.add_mesh(name, &lines);
    file.add_node(name, None, mesh, None);
}

fn segments(outline: &Outline) -> Vec<[u32; 2]> {
    let n = outline.points.len() as u32;
    let ends = if outline.closed {
        n
    } else {
        n.saturating_sub(1)
    };
    (0..ends).map(|i| [i, (i + 1) % n]).collect()
}
