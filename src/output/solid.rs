//! A solid as a file for CAD: binary STL, 3MF or binary glTF, by the file's ending.
//!
//! STL holds loose triangles and no unit; 3MF joins them and says millimetres; glTF is for looking at and stores metres
//! with y up, as it must (see [`super::glb`]).

use super::glb::{Drawn, GlbFile, Look};
use super::{replace_file, threemf};
use crate::shapes::write_stl;
use nalgebra::Vector3;
use std::io;
use std::path::Path;

/// Kinds of file that a solid is written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SolidFormat {
    /// Binary STL.
    Stl,
    /// 3MF.
    ThreeMf,
    /// Binary glTF.
    Glb,
}

/// A file's ending that no solid can be written as.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SolidFormatError {
    /// There is none.
    #[error("the file's name has no ending, so its kind isn't known")]
    NoEnding,
    /// Another kind.
    #[error("a solid can't be written as .{0}")]
    Unknown(String),
}

impl SolidFormat {
    /// By a file's ending.
    ///
    /// # Errors
    /// [`SolidFormatError`].
    pub fn of(path: &Path) -> Result<SolidFormat, SolidFormatError> {
        let ending = path.extension().unwrap_or_default().to_string_lossy();
        match ending.to_lowercase().as_str() {
            "stl" => Ok(SolidFormat::Stl),
            "3mf" => Ok(SolidFormat::ThreeMf),
            "glb" => Ok(SolidFormat::Glb),
            "" => Err(SolidFormatError::NoEnding),
            other => Err(SolidFormatError::Unknown(other.to_owned())),
        }
    }
}

/// Colour of a solid where a file has one: keep out.
const SOLID_RGB: [u8; 3] = [213, 94, 0];

/// Writes a closed surface, mm; `name` is the solid's name inside the file where it can have one.
///
/// # Errors
/// Whatever the file system answers; nothing is left half-written.
pub fn write_solid(
    path: &Path,
    format: SolidFormat,
    name: &str,
    vertices: &[Vector3<f64>],
    triangles: &[[u32; 3]],
) -> io::Result<()> {
    match format {
        SolidFormat::Stl => {
            let corners = triangles.iter().map(|t| t.map(|i| vertices[i as usize]));
            replace_file(path, |unfinished| write_stl(unfinished, corners))
        }
        SolidFormat::ThreeMf => threemf::write(path, name, vertices, triangles),
        SolidFormat::Glb => {
            let mut file = GlbFile::new(name, &serde_json::json!({}));
            let material = file.add_material(&Look {
                name,
                rgb: SOLID_RGB,
                ..Look::default()
            });
            let solid = Drawn::Triangles {
                points: vertices,
                triangles,
                colours: None,
            };
            let mesh = file.add_mesh(name, &[(solid, material)]);
            file.add_node(name, None, mesh, None);
            file.write(path)
        }
    }
}
