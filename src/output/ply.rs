//! A clearance map as a binary PLY file: colours, gaps, to what and when, of every corner and face.

use super::clearance_colours::colour;
use super::replace_file;
use crate::space::{ClearanceMap, Spot};
use std::io::{self, BufWriter, Write};
use std::path::Path;

/// Writes the map; the head's comments say what the numbers mean and name the parts.
///
/// # Errors
/// Whatever the file system answers; nothing is left half-written.
pub fn write_ply(path: &Path, truck: &str, map: &ClearanceMap) -> io::Result<()> {
    replace_file(path, |unfinished| {
        let mut out = BufWriter::new(std::fs::File::create(unfinished)?);
        out.write_all(head(truck, map).as_bytes())?;
        for (p, spot) in map.mesh.points.iter().zip(&map.at_point) {
            for c in [p.x, p.y, p.z] {
                out.write_all(&(c as f32).to_le_bytes())?;
            }
            write_spot(&mut out, map, spot)?;
        }
        for (triangle, spot) in map.mesh.triangles.iter().zip(&map.at_face) {
            out.write_all(&[3])?;
            for corner in triangle {
                out.write_all(&(*corner as i32).to_le_bytes())?;
            }
            write_spot(&mut out, map, spot)?;
        }
        out.flush()
    })
}

fn write_spot(out: &mut impl Write, map: &ClearanceMap, spot: &Spot) -> io::Result<()> {
    out.write_all(&colour(map, spot))?;
    let room = if spot.to.is_some() {
        spot.room_mm
    } else {
        map.options.cutoff_mm
    };
    for value in [spot.gap_mm, room, spot.travel_mm, spot.rack_mm] {
        out.write_all(&(value as f32).to_le_bytes())?;
    }
    let part = spot.to.map_or(-1, |to| to as i32);
    out.write_all(&part.to_le_bytes())
}

fn head(truck: &str, map: &ClearanceMap) -> String {
    // A comment is one line.
    let line = |text: &str| text.replace(['\n', '\r'], " ");
    let mut head = String::from("ply\nformat binary_little_endian 1.0\n");
    let mut comment = |text: String| head.push_str(&format!("comment {}\n", line(&text)));
    comment(format!(
        "clearance of {} on {truck}, mm, vehicle coordinates as measured: x forward, y left, z up",
        map.part
    ));
    comment(format!(
        "gap: least over the whole free travel; the true one is no lower by more than {} mm",
        map.options.tolerance_mm
    ));
    comment(format!(
        "gap {} and part -1: nothing comes nearer",
        map.options.cutoff_mm
    ));
    comment("room: gap less what must remain; travel and rack: when, mm; part: to what".to_owned());
    for (i, mover) in map.movers.iter().enumerate() {
        let setup = mover.setup.as_ref();
        let setup = setup.map_or(String::new(), |s| format!(", setup {s}"));
        comment(format!(
            "part {i}: {}, {} side{setup}",
            mover.part,
            mover.side.name()
        ));
    }
    let properties = "property uchar red\nproperty uchar green\nproperty uchar blue\n\
                      property float gap\nproperty float room\nproperty float travel\nproperty float rack\n\
                      property int part\n";
    head.push_str(&format!(
        "element vertex {}\nproperty float x\nproperty float y\nproperty float z\n{properties}\
         element face {}\nproperty list uchar int vertex_indices\n{properties}end_header\n",
        map.mesh.points.len(),
        map.mesh.triangles.len()
    ));
    head
}
