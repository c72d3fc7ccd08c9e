//! STL, binary and text. Read here, written through `stl_io`.
//!
//! `stl_io` would read a binary file whose name begins with `solid` as text, refuse `solid` without a name,
//! and stop without a word after the first of several solids; so the two short grammars are read here.

use super::gathered::{Gathered, shown};
use super::{MeshError, MeshFormat};
use nalgebra::Vector3;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

/// A binary file's head: 80 bytes for anything, then the count.
const HEAD: usize = 84;
/// A binary triangle: normal, three corners, two spare bytes.
const TRIANGLE: usize = 50;

pub(super) fn read(bytes: &[u8]) -> Result<Gathered, MeshError> {
    let stated = bytes
        .get(80..HEAD)
        .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]));
    let wanted = stated.map(|count| HEAD as u64 + TRIANGLE as u64 * u64::from(count));
    // The stated count settles it, whatever the head says; some writers add bytes at the end.
    let exact = wanted == Some(bytes.len() as u64);
    if !exact && bytes.trim_ascii_start().starts_with(b"solid") {
        return read_text(bytes);
    }
    match (stated, wanted) {
        (Some(count), Some(wanted)) if wanted > bytes.len() as u64 => Err(damaged(format!(
            "it promises {count} triangles ({wanted} bytes) but the file ends after {} bytes",
            bytes.len()
        ))),
        (Some(count), _) => read_binary(&bytes[HEAD..], count as usize),
        _ => Err(damaged(format!(
            "it ends after {} bytes, and the head alone takes {HEAD}",
            bytes.len()
        ))),
    }
}

fn damaged(what: String) -> MeshError {
    MeshError::Damaged {
        format: MeshFormat::Stl,
        what,
    }
}

fn read_binary(bytes: &[u8], count: usize) -> Result<Gathered, MeshError> {
    let mut out = Gathered::default();
    for triangle in bytes.chunks_exact(TRIANGLE).take(count) {
        let mut corners = [0; 3];
        for (corner, at) in corners.iter_mut().zip(triangle[12..48].chunks_exact(12)) {
            let number =
                |i: usize| f64::from(f32::from_le_bytes([at[i], at[i + 1], at[i + 2], at[i + 3]]));
            *corner = out.corner(Vector3::new(number(0), number(4), number(8)))?;
        }
        out.triangle(corners)?;
    }
    Ok(out)
}

/// Words only: `facet`, `outer loop` and the rest frame the corners and say nothing more. A facet's normal is
/// not used; its corners' order says the same.
fn read_text(bytes: &[u8]) -> Result<Gathered, MeshError> {
    let mut out = Gathered::default();
    let mut facet: Vec<u32> = Vec::new();
    let mut ended = false;
    for (i, line) in bytes.split(|b| *b == b'\n').enumerate() {
        let wrong = |what: &str| damaged(format!("line {}, `{}`: {what}", i + 1, shown(line)));
        let mut words = line
            .split(u8::is_ascii_whitespace)
            .filter(|word| !word.is_empty());
        let Some(first) = words.next() else { continue };
        match first.to_ascii_lowercase().as_slice() {
            b"vertex" => {
                let mut at = Vector3::zeros();
                for c in at.iter_mut() {
                    *c = words
                        .next()
                        .and_then(number)
                        .ok_or_else(|| wrong("a vertex has three numbers"))?;
                }
                if facet.len() == 3 {
                    return Err(wrong("a fourth vertex in one facet"));
                }
                facet.push(out.corner(at)?);
            }
            b"endfacet" => match facet[..] {
                [a, b, c] => {
                    out.triangle([a, b, c])?;
                    facet.clear();
                }
                _ => return Err(wrong("the facet has fewer than three vertices")),
            },
            b"endsolid" => ended = true,
            // A further solid belongs to the part.
            b"solid" | b"facet" | b"outer" | b"endloop" => ended = false,
            _ => return Err(wrong("not a word that STL text has here")),
        }
    }
    if !ended {
        return Err(damaged(format!(
            "it ends after {} triangles, before `endsolid`",
            out.triangles.len()
        )));
    }
    Ok(out)
}

/// A number as text writers print it, in single precision as the binary form has it: both forms of one part
/// are then the same part.
fn number(word: &[u8]) -> Option<f64> {
    let value: f32 = std::str::from_utf8(word).ok()?.parse().ok()?;
    Some(f64::from(value))
}

/// Writes triangles as binary STL, millimetres.
///
/// # Errors
/// Whatever the file system answers.
pub fn write_stl(
    path: &Path,
    triangles: impl ExactSizeIterator<Item = [Vector3<f64>; 3]>,
) -> std::io::Result<()> {
    let list = triangles.map(|t| {
        let normal = (t[1] - t[0]).cross(&(t[2] - t[0]));
        let normal = normal / normal.norm().max(f64::MIN_POSITIVE);
        let plain = |v: &Vector3<f64>| [v.x as f32, v.y as f32, v.z as f32];
        stl_io::Triangle {
            normal: stl_io::Normal::new(plain(&normal)),
            vertices: [0, 1, 2].map(|i| stl_io::Vertex::new(plain(&t[i]))),
        }
    });
    let mut writer = BufWriter::new(File::create(path)?);
    stl_io::write_stl(&mut writer, list)?;
    writer.flush()
}
