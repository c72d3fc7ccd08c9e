//! Mesh files, read once each, placed once and made into a surface once, however many corners and setups use
//! them: a scan of a million triangles takes a second at each step.

use crate::clearance::ProvedClear;
use crate::kinematics::Positioner;
use crate::scene::{MeshUnit, Problem};
use crate::shapes::{MeshError, MeshReport, Shape, ShapeError, Surface, read_mesh};
use crate::suspension::Mechanism;
use nalgebra::{Rotation3, Vector3};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

type Result<T> = std::result::Result<T, Problem>;
type Triangles = (Arc<Vec<Vector3<f64>>>, Arc<Vec<[u32; 3]>>);

/// Mesh files below a scene's folder.
pub struct MeshStore {
    folder: PathBuf,
    files: Mutex<BTreeMap<File, (Triangles, Arc<MeshReport>)>>,
    placed: Mutex<BTreeMap<(File, [u64; 7]), Placed>>,
    misses: Mutex<BTreeMap<String, Vec<f64>>>,
    /// The last few mechanisms, the latest last.
    mechanisms: Mutex<Vec<Moving>>,
}

/// Mechanisms that are remembered: both sides of a few setups.
const MECHANISMS_KEPT: usize = 8;

/// A mechanism with what was worked out about it so far.
#[derive(Clone)]
pub(super) struct Moving {
    /// Its positions.
    pub positioner: Positioner,
    /// How far pairs are proved clear under it.
    pub proved_clear: Arc<ProvedClear>,
}

/// A file's name as the scene has it, and the bits of the unit asked for, mm.
type File = (String, Option<u64>);

/// Point and direction of the axis that a part turns about with its body, if it does.
type Spin = Option<(Vector3<f64>, Vector3<f64>)>;

/// A file's mesh in one place.
struct Placed {
    shape: Shape,
    /// Once they were asked for: as it stands, and turned about an axis.
    surfaces: Vec<(Spin, Arc<Surface>)>,
}

/// Where a mesh goes.
pub(super) struct MeshPlace {
    /// Where the file's origin goes, mm.
    pub at_mm: Vector3<f64>,
    /// Turned about x, then y, then z before it is placed, radians.
    pub turned: Vector3<f64>,
    /// Mirrored to the truck's other side after that.
    pub mirrored: bool,
}

impl MeshPlace {
    fn bits(&self) -> [u64; 7] {
        let [x, y, z]: [f64; 3] = self.at_mm.into();
        let [a, b, c]: [f64; 3] = self.turned.into();
        let mirrored = if self.mirrored { 1.0 } else { 0.0 };
        [x, y, z, a, b, c, mirrored].map(f64::to_bits)
    }

    fn is_as_drawn(&self) -> bool {
        !self.mirrored && self.at_mm == Vector3::zeros() && self.turned == Vector3::zeros()
    }
}

impl MeshStore {
    /// `folder` is where mesh files are looked for.
    pub fn new(folder: &Path) -> Self {
        MeshStore {
            folder: folder.to_owned(),
            files: Mutex::default(),
            placed: Mutex::default(),
            misses: Mutex::default(),
            mechanisms: Mutex::default(),
        }
    }

    /// A mechanism ready to be asked. Setups of one truck often move alike: those share what is worked out about it.
    pub(super) fn moving(&self, linkage: Mechanism) -> Moving {
        let known = |all: &[Moving]| {
            all.iter()
                .find(|m| m.positioner.linkage == linkage)
                .cloned()
        };
        if let Some(known) = known(&held(&self.mechanisms)) {
            return known;
        }
        let new = Moving {
            positioner: Positioner::new(linkage.clone()),
            proved_clear: Arc::default(),
        };
        let mut all = held(&self.mechanisms);
        // Another thread may have been first.
        if let Some(known) = known(&all) {
            return known;
        }
        if all.len() == MECHANISMS_KEPT {
            all.remove(0);
        }
        all.push(new.clone());
        new
    }

    /// What each mesh file read so far is, by the name that the scene has for it.
    pub fn reports(&self) -> Vec<(String, Arc<MeshReport>)> {
        held(&self.files)
            .iter()
            .map(|((file, _), (_, report))| (file.clone(), report.clone()))
            .collect()
    }

    /// What the holes of each placed file miss their places by, mm, by the name that the scene has for it.
    pub fn misses(&self) -> Vec<(String, Vec<f64>)> {
        let misses = held(&self.misses);
        misses.iter().map(|(f, m)| (f.clone(), m.clone())).collect()
    }

    pub(super) fn keep_misses(&self, file: &str, misses_mm: &[f64]) {
        held(&self.misses).insert(file.to_owned(), misses_mm.to_vec());
    }

    /// The unit that a file was read in, mm.
    pub(super) fn unit_mm(&self, file: &str, unit: Option<MeshUnit>, path: &str) -> Result<f64> {
        self.load(file, unit, path)?;
        let files = held(&self.files);
        Ok(files.get(&key(file, unit)).map_or(1.0, |f| f.1.unit_mm))
    }

    /// A file's mesh as it is drawn; `path` is the scene's field that names it.
    pub(super) fn load(&self, file: &str, unit: Option<MeshUnit>, path: &str) -> Result<Triangles> {
        let key = key(file, unit);
        if let Some((found, _)) = held(&self.files).get(&key) {
            return Ok(found.clone());
        }
        let mesh = read_mesh(&self.folder.join(file), unit.map(MeshUnit::in_mm))
            .map_err(|e| Problem::at(path, self.unread(file, &e), e.help()))?;
        let made = (Arc::new(mesh.vertices), Arc::new(mesh.triangles));
        held(&self.files).insert(key, (made.clone(), Arc::new(mesh.report)));
        Ok(made)
    }

    /// Why a file couldn't be read; where it isn't there, with the folder that it was looked for in.
    fn unread(&self, file: &str, error: &MeshError) -> String {
        match error {
            MeshError::Open(_) => {
                let folder = std::path::absolute(self.folder.join("."));
                let folder = folder.as_deref().unwrap_or(&self.folder);
                format!(
                    "{file}: {error}; looked for in the folder {}",
                    folder.display()
                )
            }
            _ => format!("{file}: {error}"),
        }
    }

    /// A file's mesh in its place.
    pub(super) fn placed(
        &self,
        file: &str,
        unit: Option<MeshUnit>,
        place: &MeshPlace,
        path: &str,
    ) -> Result<Shape> {
        let key = (key(file, unit), place.bits());
        if let Some(found) = held(&self.placed).get(&key) {
            return Ok(found.shape.clone());
        }
        let (vertices, triangles) = self.load(file, unit, path)?;
        let shape = if place.is_as_drawn() {
            Shape::Mesh {
                vertices,
                triangles,
            }
        } else {
            let turn = Rotation3::from_euler_angles(place.turned.x, place.turned.y, place.turned.z);
            let side = if place.mirrored { -1.0 } else { 1.0 };
            // Placed as drawn first, mirrored after; a mirrored triangle runs the other way.
            let moved = vertices.iter().map(|v| {
                let p = turn * v + place.at_mm;
                Vector3::new(p.x, side * p.y, p.z)
            });
            Shape::Mesh {
                vertices: Arc::new(moved.collect()),
                triangles: if place.mirrored {
                    Arc::new(triangles.iter().map(|t| [t[0], t[2], t[1]]).collect())
                } else {
                    triangles
                },
            }
        };
        let kept = Placed {
            shape: shape.clone(),
            surfaces: Vec::new(),
        };
        held(&self.placed).insert(key, kept);
        Ok(shape)
    }

    /// A shape's surface, or what it sweeps about an axis; a mesh that was [`placed`](Self::placed) here gets each once.
    pub(super) fn surface(
        &self,
        shape: &Shape,
        spin: Spin,
    ) -> std::result::Result<Arc<Surface>, ShapeError> {
        let known = held(&self.placed)
            .values()
            .find(|p| is_same(&p.shape, shape))
            .and_then(|p| p.surfaces.iter().find(|(about, _)| *about == spin).cloned());
        if let Some((_, surface)) = known {
            return Ok(surface);
        }
        let made = Arc::new(shape.surface(spin)?);
        let mut placed = held(&self.placed);
        if let Some(place) = placed.values_mut().find(|p| is_same(&p.shape, shape)) {
            place.surfaces.push((spin, made.clone()));
        }
        Ok(made)
    }
}

fn key(file: &str, unit: Option<MeshUnit>) -> File {
    (file.to_owned(), unit.map(|unit| unit.in_mm().to_bits()))
}

/// Whether two shapes are one mesh in memory.
fn is_same(a: &Shape, b: &Shape) -> bool {
    match (a, b) {
        (
            Shape::Mesh {
                vertices: x,
                triangles: s,
            },
            Shape::Mesh {
                vertices: y,
                triangles: t,
            },
        ) => Arc::ptr_eq(x, y) && Arc::ptr_eq(s, t),
        _ => false,
    }
}

/// What a lock holds. Another thread's panic leaves whole entries: they can be used.
fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
