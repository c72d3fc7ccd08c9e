//! 3MF: objects of an archive's models, placed as its build list says, components with them.
//!
//! `zip` opens the archive and `quick-xml` reads its models as they expand, so that a part's text is never
//! held whole: the crates for 3MF as such build all of an archive first and set no bounds. What may expand depends on the
//! file's length ([`MOST_EXPANDED_RATIO`]): a part that says it is larger is refused unread, and what expands is metered, as
//! an archive may say anything. So are elements, nesting and instances.

use super::gathered::{Gathered, too_many_triangles};
use super::{
    DEEPEST_NESTING, FREELY_EXPANDED, LARGEST_EXPANDED, MOST_EXPANDED_RATIO, MOST_INSTANCES,
    MOST_LISTED, MOST_TRIANGLES, MeshError, MeshFormat,
};
use nalgebra::{Matrix3, Vector3};
use quick_xml::events::{BytesStart, Event};
use std::cell::Cell;
use std::collections::HashMap;
use std::io::{BufReader, Cursor, Read};
use zip::ZipArchive;

/// Most parts of an archive: models, pictures, settings.
const MOST_PARTS: usize = 100_000;
/// Longest single element or text between two, bytes; the reader holds one at a time.
const LONGEST_ELEMENT: u64 = 16 * 1024 * 1024;
/// Where the relations of the archive are, which name the first model.
const RELATIONS: &str = "_rels/.rels";
/// Where the first model is by custom.
const FIRST_MODEL: &str = "3D/3dmodel.model";

/// An object placed by the build list or in another object.
struct Placed {
    object: u32,
    /// The model that holds it, where it isn't this one.
    model: Option<String>,
    at: Transform,
}

/// `place * point + shift`.
#[derive(Clone, Copy)]
struct Transform {
    turn: Matrix3<f64>,
    shift: Vector3<f64>,
}

impl Transform {
    const NONE: Transform = Transform {
        turn: Matrix3::new(1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0),
        shift: Vector3::new(0.0, 0.0, 0.0),
    };

    fn after(&self, inner: &Transform) -> Transform {
        Transform {
            turn: self.turn * inner.turn,
            shift: self.turn * inner.shift + self.shift,
        }
    }
}

#[derive(Default)]
struct Object {
    vertices: Vec<Vector3<f64>>,
    triangles: Vec<[u32; 3]>,
    components: Vec<Placed>,
}

struct Model {
    unit_mm: f64,
    objects: HashMap<u32, Object>,
    items: Vec<Placed>,
}

fn damaged(what: impl Into<String>) -> MeshError {
    MeshError::Damaged {
        format: MeshFormat::ThreeMf,
        what: what.into(),
    }
}

pub(super) fn read(bytes: &[u8]) -> Result<Gathered, MeshError> {
    let mut archive = Archive::open(bytes)?;
    let first = archive.first_model()?;
    let mut models: HashMap<String, Model> = HashMap::new();
    let mut wanted = vec![first.clone()];
    while let Some(path) = wanted.pop() {
        if models.contains_key(&path) {
            continue;
        }
        let model = archive.model(&path)?;
        let placed = model.items.iter();
        let inner = model.objects.values().flat_map(|o| &o.components);
        wanted.extend(placed.chain(inner).filter_map(|p| p.model.clone()));
        models.insert(path, model);
    }
    let unit_mm = models[&first].unit_mm;
    if models.values().any(|m| m.unit_mm != unit_mm) {
        return Err(MeshError::Unsupported {
            format: MeshFormat::ThreeMf,
            what: "models in different units".to_owned(),
        });
    }
    let mut out = Gathered::default();
    out.unit_mm = Some(unit_mm);
    if models[&first].items.is_empty() && models.values().any(|m| !m.objects.is_empty()) {
        return Err(damaged(
            "its build list is empty, so that none of its objects is placed",
        ));
    }
    place_all(&models, &first, &mut out)?;
    Ok(out)
}

/// Places the build list's objects and their components.
fn place_all(
    models: &HashMap<String, Model>,
    first: &str,
    out: &mut Gathered,
) -> Result<(), MeshError> {
    let mut waiting: Vec<(&str, &Placed, Transform, usize)> = models[first]
        .items
        .iter()
        .rev()
        .map(|item| (first, item, Transform::NONE, 1))
        .collect();
    let mut instances = 0;
    while let Some((here, placed, outer, depth)) = waiting.pop() {
        instances += 1;
        if instances > MOST_INSTANCES {
            return Err(too_many_instances());
        }
        if depth > DEEPEST_NESTING {
            return Err(damaged(format!(
                "its components lie more than {DEEPEST_NESTING} deep in each other, or in a circle"
            )));
        }
        let path = placed.model.as_deref().unwrap_or(here);
        let object = models
            .get(path)
            .and_then(|m| m.objects.get(&placed.object))
            .ok_or_else(|| {
                damaged(format!(
                    "object {} is placed, but {path} has none of that number",
                    placed.object
                ))
            })?;
        let at = outer.after(&placed.at);
        place(object, &at, out)?;
        for component in object.components.iter().rev() {
            waiting.push((path, component, at, depth + 1));
        }
    }
    Ok(())
}

fn place(object: &Object, at: &Transform, out: &mut Gathered) -> Result<(), MeshError> {
    let mut listed = Vec::with_capacity(object.vertices.len());
    for v in &object.vertices {
        listed.push(out.corner(at.turn * v + at.shift)?);
    }
    // A mirrored triangle runs the other way.
    let mirrored = at.turn.determinant() < 0.0;
    for [a, b, c] in &object.triangles {
        let corners = if mirrored { [*a, *c, *b] } else { [*a, *b, *c] };
        out.polygon(&corners, &listed)?;
    }
    Ok(())
}

fn too_many_instances() -> MeshError {
    MeshError::TooMuch {
        what: "objects and components",
        most: MOST_INSTANCES as u64,
    }
}

/// How many bytes an archive of some length may expand to.
fn most_expanded(packed: u64) -> u64 {
    packed
        .saturating_mul(MOST_EXPANDED_RATIO)
        .clamp(FREELY_EXPANDED, LARGEST_EXPANDED)
}

fn expands(packed: u64) -> MeshError {
    match most_expanded(packed) {
        LARGEST_EXPANDED => MeshError::TooMuch {
            what: "bytes once its archive is expanded",
            most: LARGEST_EXPANDED,
        },
        most => MeshError::Unpacks { packed, most },
    }
}

/// A reader that gives no more than what is left for the archive and for one element.
struct Metered<'a, R> {
    inner: R,
    left: &'a Cell<u64>,
    element_left: &'a Cell<u64>,
}

impl<R: Read> Read for Metered<'_, R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let allowed = self.left.get().min(self.element_left.get());
        if allowed == 0 && !buffer.is_empty() {
            return Err(std::io::Error::other("it expands to too much"));
        }
        let most = buffer
            .len()
            .min(usize::try_from(allowed).unwrap_or(usize::MAX));
        let read = self.inner.read(&mut buffer[..most])?;
        self.left.set(self.left.get() - read as u64);
        self.element_left.set(self.element_left.get() - read as u64);
        Ok(read)
    }
}

struct Archive<'a> {
    zip: ZipArchive<Cursor<&'a [u8]>>,
    packed: u64,
    left: Cell<u64>,
    element_left: Cell<u64>,
    objects: usize,
    vertices: usize,
    triangles: usize,
}

impl<'a> Archive<'a> {
    fn open(bytes: &'a [u8]) -> Result<Archive<'a>, MeshError> {
        let zip = ZipArchive::new(Cursor::new(bytes))
            .map_err(|e| damaged(format!("its archive can't be opened: {e}")))?;
        if zip.len() > MOST_PARTS {
            return Err(MeshError::TooMuch {
                what: "parts in its archive",
                most: MOST_PARTS as u64,
            });
        }
        Ok(Archive {
            zip,
            packed: bytes.len() as u64,
            left: Cell::new(most_expanded(bytes.len() as u64)),
            element_left: Cell::new(LONGEST_ELEMENT),
            objects: 0,
            vertices: 0,
            triangles: 0,
        })
    }

    /// Calls `each` for every element of a part, with its nesting.
    fn elements(
        &mut self,
        path: &str,
        mut each: impl FnMut(&str, &BytesStart) -> Result<(), MeshError>,
    ) -> Result<(), MeshError> {
        let part = self
            .zip
            .by_name(path)
            .map_err(|e| damaged(format!("its archive's part {path}: {e}")))?;
        if part.size() > self.left.get() {
            return Err(expands(self.packed));
        }
        let metered = Metered {
            inner: part,
            left: &self.left,
            element_left: &self.element_left,
        };
        let mut xml = quick_xml::Reader::from_reader(BufReader::new(metered));
        let mut buffer = Vec::new();
        let mut depth = 0;
        loop {
            buffer.clear();
            self.element_left.set(LONGEST_ELEMENT);
            let at = xml.buffer_position();
            let event = xml.read_event_into(&mut buffer).map_err(|e| {
                if self.left.get() == 0 {
                    expands(self.packed)
                } else if self.element_left.get() == 0 {
                    MeshError::TooMuch {
                        what: "bytes in one XML element",
                        most: LONGEST_ELEMENT,
                    }
                } else {
                    damaged(format!("{path}, byte {at}: {e}"))
                }
            })?;
            let (element, opens) = match event {
                Event::Start(element) => (element, true),
                Event::Empty(element) => (element, false),
                Event::End(_) => {
                    depth -= 1;
                    continue;
                }
                Event::Eof if depth > 0 => {
                    return Err(damaged(format!(
                        "{path} ends in the middle, after {at} bytes"
                    )));
                }
                Event::Eof => return Ok(()),
                _ => continue,
            };
            let name = element.local_name();
            let name = std::str::from_utf8(name.as_ref()).unwrap_or("");
            each(name, &element).map_err(|error| match error {
                MeshError::Damaged { what, .. } => damaged(format!("{path}, byte {at}: {what}")),
                other => other,
            })?;
            depth += usize::from(opens);
            if depth > DEEPEST_NESTING {
                return Err(MeshError::TooMuch {
                    what: "XML elements inside each other",
                    most: DEEPEST_NESTING as u64,
                });
            }
        }
    }

    /// The path of the first model.
    fn first_model(&mut self) -> Result<String, MeshError> {
        if self.zip.index_for_name(RELATIONS).is_none() {
            return Ok(FIRST_MODEL.to_owned());
        }
        let mut found = None;
        self.elements(RELATIONS, |name, element| {
            if name == "Relationship"
                && text(element, b"Type").is_some_and(|t| t.ends_with("/3dmodel"))
            {
                found = found.take().or(text(element, b"Target"));
            }
            Ok(())
        })?;
        Ok(found.map_or(FIRST_MODEL.to_owned(), |target| part_path(&target)))
    }

    fn model(&mut self, path: &str) -> Result<Model, MeshError> {
        let mut model = Model {
            unit_mm: 1.0,
            objects: HashMap::new(),
            items: Vec::new(),
        };
        let mut current: Option<u32> = None;
        let (mut objects, mut vertices, mut triangles) =
            (self.objects, self.vertices, self.triangles);
        self.elements(path, |name, element| {
            match name {
                "model" => {
                    check_extensions(element)?;
                    if let Some(unit) = text(element, b"unit") {
                        model.unit_mm = unit_mm(&unit)?;
                    }
                }
                "object" => {
                    let id: u32 = whole(element, b"id")?;
                    objects += 1;
                    if model.objects.insert(id, Object::default()).is_some() {
                        return Err(damaged(format!("a second object of number {id}")));
                    }
                    current = Some(id);
                }
                "item" => {
                    objects += 1;
                    model.items.push(placed(element)?);
                }
                "vertex" | "triangle" | "component" => {
                    let object = current
                        .and_then(|id| model.objects.get_mut(&id))
                        .ok_or_else(|| damaged(format!("a {name} outside of any object")))?;
                    match name {
                        "vertex" => {
                            vertices += 1;
                            let c = |key| number(element, key);
                            object
                                .vertices
                                .push(Vector3::new(c(b"x")?, c(b"y")?, c(b"z")?));
                        }
                        "triangle" => {
                            triangles += 1;
                            let i = |key| whole(element, key);
                            object.triangles.push([i(b"v1")?, i(b"v2")?, i(b"v3")?]);
                        }
                        _ => {
                            objects += 1;
                            object.components.push(placed(element)?);
                        }
                    }
                }
                _ => {}
            }
            if objects > MOST_INSTANCES {
                return Err(too_many_instances());
            }
            if triangles > MOST_TRIANGLES {
                return Err(too_many_triangles());
            }
            if vertices > MOST_LISTED {
                return Err(MeshError::TooMuch {
                    what: "listed corners",
                    most: MOST_LISTED as u64,
                });
            }
            Ok(())
        })?;
        (self.objects, self.vertices, self.triangles) = (objects, vertices, triangles);
        Ok(model)
    }
}

/// A part's path in the archive: no slash in front.
fn part_path(target: &str) -> String {
    target.trim_start_matches('/').to_owned()
}

/// Millimetres in one of the standard's units.
fn unit_mm(name: &str) -> Result<f64, MeshError> {
    Ok(match name {
        "micron" => 0.001,
        "millimeter" => 1.0,
        "centimeter" => 10.0,
        "inch" => 25.4,
        "foot" => 304.8,
        "meter" => 1000.0,
        _ => {
            return Err(damaged(format!(
                "its unit `{name}` is none of the standard's"
            )));
        }
    })
}

/// Refuses extensions that a model says are needed to read it, unless they leave its triangles alone.
fn check_extensions(element: &BytesStart) -> Result<(), MeshError> {
    /// Looks, slices for printers, and models in several files.
    const HARMLESS: [&str; 3] = ["/material/", "/slice/", "/production/"];
    let Some(required) = text(element, b"requiredextensions") else {
        return Ok(());
    };
    for prefix in required.split_ascii_whitespace() {
        let space = text(element, prefix.as_bytes()).unwrap_or_default();
        if !HARMLESS.iter().any(|known| space.contains(known)) {
            return Err(MeshError::Unsupported {
                format: MeshFormat::ThreeMf,
                what: format!("the extension `{prefix}` ({space})"),
            });
        }
    }
    Ok(())
}

fn placed(element: &BytesStart) -> Result<Placed, MeshError> {
    let at = match text(element, b"transform") {
        None => Transform::NONE,
        Some(words) => {
            let m: Vec<f64> = words
                .split_ascii_whitespace()
                .map_while(|w| w.parse().ok())
                .collect();
            let &[a, b, c, d, e, f, g, h, i, x, y, z] = m.as_slice() else {
                return Err(damaged("a transform has twelve numbers"));
            };
            // Written for a row vector on the left.
            Transform {
                turn: Matrix3::new(a, d, g, b, e, h, c, f, i),
                shift: Vector3::new(x, y, z),
            }
        }
    };
    Ok(Placed {
        object: whole(element, b"objectid")?,
        model: text(element, b"path").map(|p| part_path(&p)),
        at,
    })
}

/// An attribute by its name without prefix. Attributes aren't checked for repetition, which would take
/// quadratic time.
fn text(element: &BytesStart, key: &[u8]) -> Option<String> {
    let found = element
        .attributes()
        .with_checks(false)
        .filter_map(|a| a.ok())
        .find(|a| a.key.local_name().as_ref() == key)?;
    Some(std::str::from_utf8(&found.value).ok()?.trim().to_owned())
}

fn parsed<T: std::str::FromStr>(element: &BytesStart, key: &[u8]) -> Option<T> {
    let found = element
        .attributes()
        .with_checks(false)
        .filter_map(|a| a.ok())
        .find(|a| a.key.local_name().as_ref() == key)?;
    std::str::from_utf8(&found.value).ok()?.trim().parse().ok()
}

fn number(element: &BytesStart, key: &[u8]) -> Result<f64, MeshError> {
    parsed(element, key).ok_or_else(|| missing(element, key, "number"))
}

fn whole(element: &BytesStart, key: &[u8]) -> Result<u32, MeshError> {
    parsed(element, key).ok_or_else(|| missing(element, key, "whole number"))
}

fn missing(element: &BytesStart, key: &[u8], what: &str) -> MeshError {
    damaged(format!(
        "`{}` has no {what} in `{}`",
        String::from_utf8_lossy(element.local_name().as_ref()),
        String::from_utf8_lossy(key)
    ))
}
