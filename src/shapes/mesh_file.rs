//! Triangle meshes from and to STL files, through `stl_io`.

use super::Bounds;
use nalgebra::Vector3;
use std::collections::HashMap;
use std::fs::File;
use std::io::{BufReader, BufWriter, Write};
use std::path::Path;

/// Corners, and corner numbers of each triangle.
pub type TriangleList = (Vec<Vector3<f64>>, Vec<[u32; 3]>);

/// A mesh that can't be used.
#[derive(Debug, thiserror::Error)]
pub enum MeshError {
    /// The file isn't there or can't be read.
    #[error("cannot open the mesh file: {0}")]
    Open(std::io::Error),
    /// Not an STL file, or a damaged one.
    #[error("this is not a readable STL file: {0}")]
    Format(std::io::Error),
    /// No triangles.
    #[error("the mesh has no triangles")]
    Empty,
    /// Triangles, but each without area.
    #[error("every triangle of the mesh has zero area")]
    NoArea,
    /// NaN or infinite coordinates.
    #[error("triangle {triangle} has a coordinate that is not a number")]
    NotFinite {
        /// Its number in the file, from 1.
        triangle: usize,
    },
}

/// Reads a binary or text STL file; lengths are multiplied by `scale` to get millimetres. Equal
/// corners are merged, triangles without area dropped, nothing else is changed.
///
/// # Errors
/// [`MeshError`] when the file can't be read or holds no usable triangle.
pub fn read_stl(path: &Path, scale: f64) -> Result<TriangleList, MeshError> {
    let file = File::open(path).map_err(MeshError::Open)?;
    let length = file.metadata().map_err(MeshError::Open)?.len();
    check_count(path, length)?;
    let mut reader = BufReader::new(file);
    let stl = stl_io::create_stl_reader(&mut reader).map_err(MeshError::Format)?;
    let mut numbers: HashMap<[u32; 3], u32> = HashMap::new();
    let mut vertices = Vec::new();
    let mut triangles = Vec::new();
    let mut read = 0;
    for (i, triangle) in stl.enumerate() {
        let triangle = triangle.map_err(MeshError::Format)?;
        read += 1;
        let mut corners = [0_u32; 3];
        for (corner, vertex) in corners.iter_mut().zip(triangle.vertices.iter()) {
            let point: [f32; 3] = [vertex.0[0], vertex.0[1], vertex.0[2]];
            if !point.iter().all(|c| c.is_finite()) {
                return Err(MeshError::NotFinite { triangle: i + 1 });
            }
            // Minus zero and zero are one corner.
            let key = point.map(|c| (c + 0.0).to_bits());
            *corner = *numbers.entry(key).or_insert_with(|| {
                vertices.push(Vector3::from(point.map(f64::from)) * scale);
                vertices.len() as u32 - 1
            });
        }
        let [a, b, c] = corners.map(|i| vertices[i as usize]);
        if (b - a).cross(&(c - a)).norm() > 0.0 {
            triangles.push(corners);
        }
    }
    match (read, triangles.is_empty()) {
        (0, _) => Err(MeshError::Empty),
        (_, true) => Err(MeshError::NoArea),
        _ => Ok((vertices, triangles)),
    }
}

/// A binary STL states its triangle count; a file too short for it is refused before anything is
/// allocated.
fn check_count(path: &Path, length: u64) -> Result<(), MeshError> {
    use std::io::Read;
    let mut head = [0_u8; 84];
    let mut file = File::open(path).map_err(MeshError::Open)?;
    if file.read_exact(&mut head).is_err() || head.starts_with(b"solid") {
        return Ok(());
    }
    let count = u32::from_le_bytes([head[80], head[81], head[82], head[83]]);
    let wanted = 84 + 50 * u64::from(count);
    if wanted > length {
        let text = format!(
            "it promises {count} triangles ({wanted} bytes) but the file ends after {length} bytes"
        );
        return Err(MeshError::Format(std::io::Error::new(
            std::io::ErrorKind::UnexpectedEof,
            text,
        )));
    }
    Ok(())
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

/// Greatest distance of a corner from the box's middle: tells a mesh in the wrong unit.
pub fn extent_mm(vertices: &[Vector3<f64>]) -> f64 {
    2.0 * Bounds::of(vertices.iter().copied()).half.max()
}
