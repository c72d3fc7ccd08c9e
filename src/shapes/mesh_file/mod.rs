//! Part meshes from STL, OBJ, PLY, 3MF and glTF files, mended and reported on.
//!
//! A file's bytes become triangles in the file's unit, instances placed ([`gathered`], one file per
//! format); these become millimetres; then [`mend`](super::mend) makes the surface that distances are
//! measured on and the [`MeshReport`] of what it is. A file is not trusted: what it may ask for is bounded by
//! the constants below, nothing is allocated for a count that the file merely states, and every refusal says
//! what is wrong, where, and what to do.
//!
//! **Unit.** A unit given by the caller counts. Without one, a 3MF file's own unit is taken (millimetres
//! where it names none, as its standard has it) and glTF is in metres; STL, OBJ and PLY state none, so that
//! they can't be read without. Where a given unit differs from the file's own, the report notes it.
//! **Axes** are the file's: x, y and z are taken as they stand. glTF calls y up; whoever places the part turns
//! it.

mod gathered;
mod gltf;
mod obj;
mod ply;
mod stl;
mod threemf;

pub use stl::write_stl;

use super::mend::mend;
use super::mesh_report::MeshReport;
use gathered::Gathered;
use nalgebra::Vector3;
use serde::Serialize;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Longest mesh file that is read: a binary STL of [`MOST_TRIANGLES`] takes 400 MB, as text about five
/// times that.
pub const LONGEST_FILE: u64 = 1024 * 1024 * 1024;
/// Most triangles, instances counted each time. A scan of a whole truck's front is about a tenth.
pub const MOST_TRIANGLES: usize = 8_000_000;
/// Most corners in different places: a closed surface has half as many as triangles.
pub const MOST_CORNERS: usize = MOST_TRIANGLES;
/// Most corners that may be listed, instances and repeated places counted each time.
pub const MOST_LISTED: usize = 6 * MOST_TRIANGLES;
/// Most bytes that an archive's parts may expand to, together. 3MF text of a million triangles is about
/// 80 MB.
pub const LARGEST_EXPANDED: u64 = 1024 * 1024 * 1024;
/// Most bytes that an archive may expand to for each byte of the file: text of meshes, indented and with round numbers,
/// packs to 1/8 to 1/18 (deflate, grids and loose triangles of 20 MB), a file made to fill memory to 1/400 and less.
pub const MOST_EXPANDED_RATIO: u64 = 60;
/// Bytes that any archive may expand to, however tightly it is packed: that takes a fraction of a second.
pub const FREELY_EXPANDED: u64 = 32 * 1024 * 1024;
/// Deepest nesting of nodes, components or XML elements. Real files stay below ten.
pub const DEEPEST_NESTING: usize = 64;
/// Most entries of a glTF's text: each may take a hundred times its length in memory.
pub const MOST_ENTRIES: usize = 2_000_000;
/// Most objects, nodes or components, whether or not they hold triangles.
pub const MOST_INSTANCES: usize = 100_000;
/// A part's mesh is between a washer and a truck, mm across: another size is the wrong unit.
pub const MESH_EXTENT_MM: [f64; 2] = [5.0, 6000.0];

/// A mesh format that is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum MeshFormat {
    /// Stereolithography, binary or text.
    Stl,
    /// Wavefront object, text.
    Obj,
    /// Polygon file, text or binary of either byte order.
    Ply,
    /// 3D Manufacturing Format: an archive.
    #[serde(rename = "3mf")]
    ThreeMf,
    /// glTF 2.0, as `.gltf` with buffers or as `.glb`.
    Gltf,
}

impl MeshFormat {
    /// The format that a file's name says, by its ending.
    pub fn of_name(path: &Path) -> Option<MeshFormat> {
        let ending = path.extension()?.to_str()?.to_ascii_lowercase();
        Some(match ending.as_str() {
            "stl" => MeshFormat::Stl,
            "obj" => MeshFormat::Obj,
            "ply" => MeshFormat::Ply,
            "3mf" => MeshFormat::ThreeMf,
            "gltf" | "glb" => MeshFormat::Gltf,
            _ => return None,
        })
    }

    /// Its name as printed.
    pub fn name(self) -> &'static str {
        match self {
            MeshFormat::Stl => "STL",
            MeshFormat::Obj => "OBJ",
            MeshFormat::Ply => "PLY",
            MeshFormat::ThreeMf => "3MF",
            MeshFormat::Gltf => "glTF",
        }
    }

    /// What a file that doesn't read as its name says looks like by its first bytes.
    fn by_content(bytes: &[u8]) -> Option<MeshFormat> {
        let text = bytes.trim_ascii_start();
        match () {
            () if bytes.starts_with(b"PK\x03\x04") => Some(MeshFormat::ThreeMf),
            () if bytes.starts_with(b"glTF") || text.starts_with(b"{") => Some(MeshFormat::Gltf),
            () if bytes.starts_with(b"ply") => Some(MeshFormat::Ply),
            () if text.starts_with(b"solid") => Some(MeshFormat::Stl),
            () if text.starts_with(b"v ") => Some(MeshFormat::Obj),
            () => None,
        }
    }
}

impl std::fmt::Display for MeshFormat {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

/// A mesh that can't be used. [`help`](MeshError::help) says what to do.
#[derive(Debug, thiserror::Error)]
pub enum MeshError {
    /// The file isn't there or can't be read.
    #[error("cannot open the mesh file: {0}")]
    Open(std::io::Error),
    /// A folder, a device, a pipe.
    #[error("cannot open the mesh file: it is not a plain file")]
    NotAFile,
    /// The name's ending is no mesh format that is read.
    #[error("this is not an STL, OBJ, PLY, 3MF or glTF file by its name")]
    UnknownFormat,
    /// Not a file of its format, or a damaged one.
    #[error("this is not a readable {format} file: {what}")]
    Damaged {
        /// The format that its name says.
        format: MeshFormat,
        /// What is wrong, and where.
        what: String,
    },
    /// The content is another format's.
    #[error("this is not a readable {format} file: its content looks like {looks}")]
    OtherContent {
        /// The format that its name says.
        format: MeshFormat,
        /// The format that its first bytes say.
        looks: MeshFormat,
    },
    /// Something that the format allows and that isn't read, so that the part would be incomplete.
    #[error("this {format} file has {what}, which is not read")]
    Unsupported {
        /// The format.
        format: MeshFormat,
        /// What it has.
        what: String,
    },
    /// More than a mesh file may ask for.
    #[error("it holds more than {most} {what}, the most that is read")]
    TooMuch {
        /// Of what.
        what: &'static str,
        /// The limit.
        most: u64,
    },
    /// An archive that expands to far more than a mesh does.
    #[error("its archive of {packed} bytes unpacks to more than {most}, as no mesh does")]
    Unpacks {
        /// The file's length.
        packed: u64,
        /// Bytes that it may expand to.
        most: u64,
    },
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
    /// A triangle names a corner that isn't there.
    #[error("triangle {triangle} names corner {corner}, but there are {corners}, counted from 0")]
    NoSuchCorner {
        /// Its number in the file, from 1.
        triangle: usize,
        /// The corner, from 0.
        corner: u64,
        /// How many there are.
        corners: usize,
    },
    /// No unit is given, and the format states none.
    #[error("no unit is given, and {format} files state none")]
    NoUnit {
        /// The format.
        format: MeshFormat,
    },
    /// No part of a truck is that small or large.
    #[error("the mesh is {extent_mm:.2} mm across")]
    Size {
        /// Its longest side, mm.
        extent_mm: f64,
    },
}

impl MeshError {
    /// What to do about it.
    pub fn help(&self) -> String {
        match self {
            MeshError::Open(_) | MeshError::NotAFile => {
                "mesh files (STL, OBJ, PLY, 3MF, glTF) are looked for from the scene file's folder"
                    .to_owned()
            }
            MeshError::UnknownFormat => {
                "export the part as STL, OBJ, PLY, 3MF or glTF and name that file; CAD solids such as STEP \
                 are not read"
                    .to_owned()
            }
            MeshError::Damaged { .. }
            | MeshError::Empty
            | MeshError::NoArea
            | MeshError::NotFinite { .. }
            | MeshError::NoSuchCorner { .. } => {
                "export the part again, as STL if in doubt".to_owned()
            }
            MeshError::OtherContent { looks, .. } => format!("name the file as a {looks} file is named"),
            MeshError::Unsupported { .. } => {
                "export the part with plain triangles, as STL if in doubt".to_owned()
            }
            MeshError::TooMuch { .. } => {
                "thin the mesh out or cut it to the parts near the suspension, and export it again"
                    .to_owned()
            }
            MeshError::Unpacks { .. } => {
                "it was left unread: get the file from someone you trust, or export the part again, as STL if in doubt"
                    .to_owned()
            }
            MeshError::NoUnit { .. } => {
                "say the file's `unit`: mm, cm, m, inch or foot".to_owned()
            }
            MeshError::Size { .. } => format!(
                "expected {} to {} mm: is the mesh's `unit` right?",
                MESH_EXTENT_MM[0], MESH_EXTENT_MM[1]
            ),
        }
    }
}

/// A part's mesh, mended, with what is known about it.
#[derive(Clone, Debug)]
pub struct Mesh {
    /// Corners, mm, in the file's axes. Each is used.
    pub vertices: Vec<Vector3<f64>>,
    /// Corner numbers of each triangle, counter-clockwise seen from outside where an outside is known.
    pub triangles: Vec<[u32; 3]>,
    /// What it is and what was mended.
    pub report: MeshReport,
}

/// Reads a mesh file, in the format that its name's ending says. `unit_mm` is what one of its units is in
/// millimetres; see the page's head for files that say it themselves.
///
/// # Errors
/// [`MeshError`] when the file can't be read, asks for too much or holds no usable triangle.
pub fn read_mesh(path: &Path, unit_mm: Option<f64>) -> Result<Mesh, MeshError> {
    let format = MeshFormat::of_name(path).ok_or(MeshError::UnknownFormat)?;
    let bytes = read_file(path)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    made(&bytes, format, unit_mm, Some(folder))
}

/// Reads a mesh from a file's bytes. A glTF's buffers must be inside it.
///
/// # Errors
/// As [`read_mesh`].
pub fn read_mesh_bytes(
    bytes: &[u8],
    format: MeshFormat,
    unit_mm: Option<f64>,
) -> Result<Mesh, MeshError> {
    if bytes.len() as u64 > LONGEST_FILE {
        return Err(too_long());
    }
    made(bytes, format, unit_mm, None)
}

/// A plain file's bytes, if it isn't too long.
fn read_file(path: &Path) -> Result<Vec<u8>, MeshError> {
    // Asked before it is opened: opening a pipe would wait for its other end.
    let known = std::fs::metadata(path).map_err(MeshError::Open)?;
    if !known.is_file() {
        return Err(MeshError::NotAFile);
    }
    if known.len() > LONGEST_FILE {
        return Err(too_long());
    }
    let file = File::open(path).map_err(MeshError::Open)?;
    let mut bytes = Vec::with_capacity(known.len() as usize);
    // It may have grown since.
    file.take(LONGEST_FILE + 1)
        .read_to_end(&mut bytes)
        .map_err(MeshError::Open)?;
    if bytes.len() as u64 > LONGEST_FILE {
        return Err(too_long());
    }
    Ok(bytes)
}

fn too_long() -> MeshError {
    MeshError::TooMuch {
        what: "bytes",
        most: LONGEST_FILE,
    }
}

fn made(
    bytes: &[u8],
    format: MeshFormat,
    unit_mm: Option<f64>,
    folder: Option<&Path>,
) -> Result<Mesh, MeshError> {
    let read = match format {
        MeshFormat::Stl => stl::read(bytes),
        MeshFormat::Obj => obj::read(bytes),
        MeshFormat::Ply => ply::read(bytes),
        MeshFormat::ThreeMf => threemf::read(bytes),
        MeshFormat::Gltf => gltf::read(bytes, folder),
    };
    let read = read.map_err(|error| match (error, MeshFormat::by_content(bytes)) {
        (MeshError::Damaged { .. }, Some(looks)) if looks != format => {
            MeshError::OtherContent { format, looks }
        }
        (error, _) => error,
    })?;
    if read.triangles.is_empty() {
        return Err(MeshError::Empty);
    }
    let in_mm = unit_mm
        .or(read.unit_mm)
        .ok_or(MeshError::NoUnit { format })?;
    finish(read, format, in_mm)
}

/// Millimetres, mending, and the checks that need them.
fn finish(mut read: Gathered, format: MeshFormat, unit_mm: f64) -> Result<Mesh, MeshError> {
    for v in &mut read.vertices {
        *v *= unit_mm;
    }
    let mut notes = std::mem::take(&mut read.notes);
    if let Some(own_mm) = read.unit_mm.filter(|own| *own != unit_mm) {
        notes.push(format!(
            "the file says that its unit is {own_mm} mm; {unit_mm} mm is taken, as asked for"
        ));
    }
    let mended = mend(read.vertices, read.triangles, read.merged);
    if mended.triangles.is_empty() {
        return Err(MeshError::NoArea);
    }
    let report = MeshReport::new(format, unit_mm, &mended, notes);
    let extent_mm = report.size_mm.into_iter().fold(0.0, f64::max);
    if !(MESH_EXTENT_MM[0]..=MESH_EXTENT_MM[1]).contains(&extent_mm) {
        return Err(MeshError::Size { extent_mm });
    }
    Ok(Mesh {
        vertices: mended.vertices,
        triangles: mended.triangles,
        report,
    })
}
