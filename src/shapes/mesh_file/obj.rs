//! OBJ: the corners (`v`) and faces (`f`) of a Wavefront text, all groups together.
//!
//! Read here, since of the format only two words matter. The crate for it (`tobj` 4.0) refuses names that
//! aren't UTF-8, does not say which line is wrong, sets no bounds, and overflows on a texture number near the
//! largest integer.

use super::gathered::{Gathered, shown, too_many_triangles};
use super::{MOST_TRIANGLES, MeshError, MeshFormat};
use nalgebra::Vector3;

pub(super) fn read(bytes: &[u8]) -> Result<Gathered, MeshError> {
    let mut out = Gathered::default();
    // Numbers of the corners in the file's order.
    let mut listed: Vec<u32> = Vec::new();
    let mut face: Vec<u32> = Vec::new();
    let mut fans = 0;
    let mut surfaces = 0;
    let mut lines = bytes.split(|b| *b == b'\n').enumerate();
    let mut joined = Vec::new();
    while let Some((i, first)) = lines.next() {
        // A backslash at the end continues the line.
        let mut line = first.trim_ascii_end();
        if line.ends_with(b"\\") {
            joined.clear();
            while let Some(part) = line.strip_suffix(b"\\") {
                joined.extend_from_slice(part);
                joined.push(b' ');
                line = lines.next().map_or(&[], |(_, next)| next.trim_ascii_end());
            }
            joined.extend_from_slice(line);
            line = &joined;
        }
        let wrong = |what: String| MeshError::Damaged {
            format: MeshFormat::Obj,
            what: format!("line {}, `{}`: {what}", i + 1, shown(line)),
        };
        let mut words = line
            .split(u8::is_ascii_whitespace)
            .filter(|word| !word.is_empty());
        match words.next() {
            Some(b"v") => {
                let mut at = Vector3::zeros();
                for c in at.iter_mut() {
                    *c = words
                        .next()
                        .and_then(|w| std::str::from_utf8(w).ok()?.parse().ok())
                        .ok_or_else(|| wrong("a corner has three numbers".to_owned()))?;
                }
                // A weight or a colour may follow: neither moves the corner of a face.
                listed.push(out.corner(at)?);
            }
            Some(b"f") => {
                face.clear();
                for word in words {
                    let corner = corner_number(word, listed.len()).ok_or_else(|| {
                        wrong(format!(
                            "`{}` names none of the {} corners above it",
                            shown(word),
                            listed.len()
                        ))
                    })?;
                    face.push(corner);
                    if face.len() > MOST_TRIANGLES {
                        return Err(too_many_triangles());
                    }
                }
                if face.len() < 3 {
                    return Err(wrong("a face has at least three corners".to_owned()));
                }
                fans += usize::from(face.len() > 3);
                out.polygon(&face, &listed)?;
            }
            // Free-form curves and surfaces.
            Some(b"surf" | b"curv" | b"curv2") => surfaces += 1,
            _ => {}
        }
    }
    if surfaces > 0 {
        return Err(MeshError::Unsupported {
            format: MeshFormat::Obj,
            what: format!("{surfaces} free-form curves or surfaces"),
        });
    }
    if listed.is_empty() && !bytes.is_empty() && out.triangles.is_empty() {
        return Err(MeshError::Damaged {
            format: MeshFormat::Obj,
            what: "no line of it is a corner (`v x y z`)".to_owned(),
        });
    }
    out.note_fans(fans);
    Ok(out)
}

/// `7`, `7/1`, `7//3` or `-1` as a number from 0 below `corners`.
fn corner_number(word: &[u8], corners: usize) -> Option<u32> {
    let text = std::str::from_utf8(word).ok()?;
    let number: i64 = text.split('/').next()?.parse().ok()?;
    let from_zero = match number {
        1.. => number - 1,
        // Counted back from the last corner listed so far.
        ..0 => (corners as i64).checked_add(number)?,
        0 => return None,
    };
    let inside = usize::try_from(from_zero).ok().filter(|n| *n < corners)?;
    Some(inside as u32)
}
