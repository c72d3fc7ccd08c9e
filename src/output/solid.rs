//! A solid as a file for CAD: binary STL, by the file's ending.

use super::replace_file;
use crate::shapes::write_stl;
use nalgebra::Vector3;
use std::io;
use std::path::Path;

/// Kinds of file that a solid is written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SolidFormat {
    /// Binary STL.
    Stl,
}

impl SolidFormat {
    /// By a file's ending.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn of(path: &Path) -> Result<SolidFormat, String> {
        let ending = path.extension().unwrap_or_default().to_string_lossy();
        match ending.to_lowercase().as_str() {
            "stl" => Ok(SolidFormat::Stl),
            "" => Err("the file's name has no ending, so its kind isn't known".to_owned()),
            other => Err(format!("a solid can't be written as .{other}")),
        }
    }
}

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
    let _ = name;
    let corners = triangles.iter().map(|t| t.map(|i| vertices[i as usize]));
    replace_file(path, |unfinished| match format {
        SolidFormat::Stl => write_stl(unfinished, corners),
    })
}
