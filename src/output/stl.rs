//! Parts as binary STL files, one file a part: vehicle coordinates, millimetres.

use super::replace_file;
use crate::shapes::write_stl;
use nalgebra::Vector3;
use std::collections::HashSet;
use std::io;
use std::path::{Path, PathBuf};

/// One part to write.
#[derive(Clone, Debug, PartialEq)]
pub struct PartTriangles {
    /// Its name; the file's name is made from it.
    pub name: String,
    /// Triangles in vehicle coordinates, mm.
    pub triangles: Vec<[Vector3<f64>; 3]>,
}

/// A file name from a part's name: lower case, everything but letters, digits and `-` becomes `_`. What names a device in
/// Windows, whatever ending follows it, gets `_part`: `con.stl` can't be opened there, nor copied to such a disk.
pub fn file_stem(name: &str) -> String {
    let stem: String = name
        .trim()
        .chars()
        .flat_map(char::to_lowercase)
        .map(|c| {
            if c.is_alphanumeric() || c == '-' {
                c
            } else {
                '_'
            }
        })
        .collect();
    if stem.is_empty() {
        "part".to_owned()
    } else if is_device(&stem) {
        format!("{stem}_part")
    } else {
        stem
    }
}

/// Whether Windows keeps a name for a device. Source: Microsoft, "Naming Files, Paths, and Namespaces". `stem` is in lower
/// case.
fn is_device(stem: &str) -> bool {
    const NUMBERED: [&str; 2] = ["com", "lpt"];
    let numbered = NUMBERED.iter().filter_map(|name| stem.strip_prefix(name));
    let mut numbers = numbered.map(|number| number.chars().collect::<Vec<_>>());
    // Superscript digits count there too.
    matches!(stem, "con" | "prn" | "aux" | "nul")
        || numbers.any(|n| matches!(n.as_slice(), ['0'..='9' | '¹' | '²' | '³']))
}

/// The file of each part in `folder`, in their order. Two names that make the same file name get a number.
pub fn part_files(folder: &Path, parts: &[PartTriangles]) -> Vec<PathBuf> {
    let mut taken = HashSet::new();
    let mut files = Vec::with_capacity(parts.len());
    for part in parts {
        let stem = file_stem(&part.name);
        let mut chosen = stem.clone();
        let mut number = 2;
        while !taken.insert(chosen.clone()) {
            chosen = format!("{stem}_{number}");
            number += 1;
        }
        files.push(folder.join(format!("{chosen}.stl")));
    }
    files
}

/// Writes each part to its file of [`part_files`]; `folder` is made if it isn't there. Returns the files.
///
/// # Errors
/// The file that could not be written, with what the file system answered; that file is not left
/// half-written, and earlier ones stay.
pub fn write_parts(
    folder: &Path,
    parts: &[PartTriangles],
) -> Result<Vec<PathBuf>, (PathBuf, io::Error)> {
    std::fs::create_dir_all(folder).map_err(|e| (folder.to_owned(), e))?;
    let files = part_files(folder, parts);
    for (path, part) in files.iter().zip(parts) {
        replace_file(path, |unfinished| {
            write_stl(unfinished, part.triangles.iter().copied())
        })
        .map_err(|e| (path.clone(), e))?;
    }
    Ok(files)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn part_names_make_plain_file_names() {
        assert_eq!(
            file_stem("Upper ball joint housing"),
            "upper_ball_joint_housing"
        );
        assert_eq!(file_stem("../etc/x"), "___etc_x");
        assert_eq!(file_stem(" "), "part");
    }

    #[test]
    fn no_file_is_named_as_a_device_of_windows() {
        for (name, stem) in [
            ("con", "con_part"),
            ("CON", "con_part"),
            ("prn", "prn_part"),
            ("Aux", "aux_part"),
            ("nul", "nul_part"),
            ("COM1", "com1_part"),
            ("lpt9", "lpt9_part"),
            ("com²", "com²_part"),
            ("control arm", "control_arm"),
            ("com10", "com10"),
            ("auxiliary", "auxiliary"),
            ("nul.x", "nul_x"),
        ] {
            assert_eq!(file_stem(name), stem);
        }
    }

    #[test]
    fn equal_file_names_get_a_number() {
        let folder = tempfile::tempdir().unwrap();
        let triangle = [Vector3::zeros(), Vector3::x(), Vector3::y()];
        let part = |name: &str| PartTriangles {
            name: name.to_owned(),
            triangles: vec![triangle],
        };
        let files = write_parts(
            &folder.path().join("a/b"),
            &[part("Tie rod"), part("tie_rod")],
        );
        let files = files.unwrap();
        assert!(files[0].ends_with("tie_rod.stl") && files[1].ends_with("tie_rod_2.stl"));
        assert!(files.iter().all(|f| f.is_file()));
    }
}
