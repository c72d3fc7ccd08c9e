//! glTF 2.0: the triangles of its scene's nodes, each placed by the nodes above it.
//!
//! `gltf-json` gives the text's types; the walk and the buffers are here. The crate above it (`gltf` 1.4)
//! indexes with a position's number before it is checked, and subtracts from a stated length that may be
//! too short, so that a damaged file could end the program.

use super::gathered::Gathered;
use super::{
    DEEPEST_NESTING, LONGEST_FILE, MOST_ENTRIES, MOST_INSTANCES, MOST_LISTED, MOST_TRIANGLES,
    MeshError, MeshFormat, read_file,
};
use base64::Engine as _;
use gltf_json::accessor::{ComponentType, Type};
use gltf_json::mesh::{Mode, Primitive, Semantic};
use gltf_json::validation::Checked;
use gltf_json::{Accessor, Buffer, Index, Node, Root};
use nalgebra::{Matrix4, Point3, Quaternion, Vector3};
use std::borrow::Cow;
use std::collections::HashSet;
use std::path::{Component, Path};

/// Millimetres in the standard's metre.
const METRE_MM: f64 = 1000.0;

/// Extensions that a file may say are needed and that leave its triangles alone: looks and lights.
const HARMLESS: [&str; 6] = [
    "KHR_materials_",
    "KHR_texture_",
    "EXT_texture_",
    "MSFT_texture_",
    "KHR_lights_",
    "KHR_mesh_quantization",
];

fn damaged(what: impl Into<String>) -> MeshError {
    MeshError::Damaged {
        format: MeshFormat::Gltf,
        what: what.into(),
    }
}

fn unsupported(what: impl Into<String>) -> MeshError {
    MeshError::Unsupported {
        format: MeshFormat::Gltf,
        what: what.into(),
    }
}

pub(super) fn read(bytes: &[u8], folder: Option<&Path>) -> Result<Gathered, MeshError> {
    let (text, binary) = if bytes.starts_with(b"glTF") {
        chunks(bytes)?
    } else {
        (bytes, None)
    };
    check_entries(text)?;
    let root = Root::from_slice(text).map_err(|e| damaged(format!("its text: {e}")))?;
    if !root.asset.version.starts_with("2.") {
        return Err(unsupported(format!("version {}", root.asset.version)));
    }
    for name in &root.extensions_required {
        if !HARMLESS.iter().any(|known| name.starts_with(known)) {
            return Err(unsupported(format!("the extension {name}")));
        }
    }
    // Needed for all its instances, whether or not the file says that it is.
    const INSTANCING: &str = "EXT_mesh_gpu_instancing";
    if root.extensions_used.iter().any(|name| name == INSTANCING) {
        return Err(unsupported(format!("the extension {INSTANCING}")));
    }
    let mut file = File {
        buffers: vec![None; root.buffers.len()],
        root: &root,
        binary,
        folder,
        loaded: 0,
        not_triangles: 0,
        bent: 0,
    };
    let mut out = Gathered::default();
    out.unit_mm = Some(METRE_MM);
    file.place_all(&mut out)?;
    if file.not_triangles > 0 {
        out.notes.push(format!(
            "{} sets of points or lines were left out",
            file.not_triangles
        ));
    }
    if file.bent > 0 {
        out.notes.push(format!(
            "{} skinned or morphing meshes were taken at rest",
            file.bent
        ));
    }
    Ok(out)
}

/// Text and binary chunk of a `.glb`.
fn chunks(bytes: &[u8]) -> Result<(&[u8], Option<&[u8]>), MeshError> {
    let number = |at: usize| {
        bytes
            .get(at..at + 4)
            .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]))
            .ok_or_else(|| {
                damaged(format!(
                    "it ends after {} bytes, inside its head",
                    bytes.len()
                ))
            })
    };
    if number(4)? != 2 {
        return Err(unsupported(format!("version {}", number(4)?)));
    }
    let stated = number(8)? as usize;
    if stated > bytes.len() {
        return Err(damaged(format!(
            "it promises {stated} bytes but the file ends after {}",
            bytes.len()
        )));
    }
    let chunk = |at: usize, kind: &[u8; 4]| -> Result<&[u8], MeshError> {
        let length = number(at)? as usize;
        if bytes.get(at + 4..at + 8) != Some(kind) {
            return Err(damaged(format!(
                "at byte {at}: not the chunk that belongs here"
            )));
        }
        bytes.get(at + 8..at + 8 + length).ok_or_else(|| {
            damaged(format!(
                "its chunk at byte {at} promises {length} bytes but the file ends after {}",
                bytes.len()
            ))
        })
    };
    let text = chunk(12, b"JSON")?;
    let next = 20 + text.len();
    let binary = if next + 8 <= bytes.len() {
        Some(chunk(next, b"BIN\0")?)
    } else {
        None
    };
    Ok((text, binary))
}

/// Refuses a text of very many entries before they become values.
fn check_entries(text: &[u8]) -> Result<(), MeshError> {
    let mut entries = 0;
    let mut quoted = false;
    let mut bytes = text.iter();
    while let Some(byte) = bytes.next() {
        match byte {
            b'\\' if quoted => _ = bytes.next(),
            b'"' => quoted = !quoted,
            b'{' | b'[' | b',' if !quoted => entries += 1,
            _ => {}
        }
    }
    if entries > MOST_ENTRIES {
        return Err(MeshError::TooMuch {
            what: "entries in its text",
            most: MOST_ENTRIES as u64,
        });
    }
    Ok(())
}

struct File<'a> {
    root: &'a Root,
    binary: Option<&'a [u8]>,
    folder: Option<&'a Path>,
    /// Buffers as far as they were asked for.
    buffers: Vec<Option<Cow<'a, [u8]>>>,
    /// Their bytes together.
    loaded: u64,
    not_triangles: usize,
    bent: usize,
}

impl<'a> File<'a> {
    fn node(&self, index: Index<Node>) -> Result<&'a Node, MeshError> {
        self.root.nodes.get(index.value()).ok_or_else(|| {
            damaged(format!(
                "it names node {}, which isn't there",
                index.value()
            ))
        })
    }

    /// Nodes that nothing holds: the scene's, or where there is no scene, those that are no one's child.
    fn top_nodes(&self) -> Result<Vec<usize>, MeshError> {
        let scene = self.root.scene.map_or(0, |s| s.value());
        if let Some(scene) = self.root.scenes.get(scene) {
            return Ok(scene.nodes.iter().map(|n| n.value()).collect());
        }
        if let Some(scene) = self.root.scene {
            return Err(damaged(format!(
                "it names scene {}, which isn't there",
                scene.value()
            )));
        }
        let children: HashSet<usize> = self
            .root
            .nodes
            .iter()
            .flat_map(|n| n.children.iter().flatten())
            .map(|n| n.value())
            .collect();
        Ok((0..self.root.nodes.len())
            .filter(|n| !children.contains(n))
            .collect())
    }

    fn place_all(&mut self, out: &mut Gathered) -> Result<(), MeshError> {
        let mut waiting: Vec<(usize, Matrix4<f64>, usize)> = self
            .top_nodes()?
            .into_iter()
            .rev()
            .map(|n| (n, Matrix4::identity(), 1))
            .collect();
        let mut seen = HashSet::new();
        while let Some((number, outer, depth)) = waiting.pop() {
            // By the standard nodes are trees, so that each has one place.
            if !seen.insert(number) {
                return Err(damaged(format!(
                    "node {number} hangs below two nodes, or below itself"
                )));
            }
            if depth > DEEPEST_NESTING {
                return Err(MeshError::TooMuch {
                    what: "nodes inside each other",
                    most: DEEPEST_NESTING as u64,
                });
            }
            if seen.len() > MOST_INSTANCES {
                return Err(MeshError::TooMuch {
                    what: "nodes",
                    most: MOST_INSTANCES as u64,
                });
            }
            let node = self.node(Index::new(number as u32))?;
            let at = outer * own_transform(node);
            if let Some(mesh) = node.mesh {
                let mesh = self.root.meshes.get(mesh.value()).ok_or_else(|| {
                    damaged(format!("node {number} names a mesh that isn't there"))
                })?;
                let morphs = mesh.primitives.iter().any(|p| p.targets.is_some());
                self.bent += usize::from(node.skin.is_some() || morphs);
                for primitive in &mesh.primitives {
                    self.place(primitive, &at, out)?;
                }
            }
            for child in node.children.iter().flatten().rev() {
                waiting.push((child.value(), at, depth + 1));
            }
        }
        Ok(())
    }

    fn place(
        &mut self,
        primitive: &Primitive,
        at: &Matrix4<f64>,
        out: &mut Gathered,
    ) -> Result<(), MeshError> {
        let Checked::Valid(mode) = primitive.mode else {
            return Err(damaged("a mesh's mode is none of the standard's"));
        };
        if !matches!(
            mode,
            Mode::Triangles | Mode::TriangleStrip | Mode::TriangleFan
        ) {
            self.not_triangles += 1;
            return Ok(());
        }
        let positions = primitive
            .attributes
            .get(&Checked::Valid(Semantic::Positions))
            .ok_or_else(|| damaged("a mesh has no positions"))?;
        let positions = self.positions(*positions)?;
        let corners = match primitive.indices {
            Some(index) => self.indices(index)?,
            None => (0..positions.len() as u32).collect(),
        };
        let mut listed = Vec::with_capacity(positions.len());
        for p in positions {
            listed.push(out.corner(at.transform_point(&Point3::from(p)).coords)?);
        }
        let mirrored = at.fixed_view::<3, 3>(0, 0).determinant() < 0.0;
        let mut triangle = |[a, b, c]: [u32; 3]| {
            // A mirrored triangle runs the other way.
            let corners = if mirrored { [a, c, b] } else { [a, b, c] };
            out.polygon(&corners, &listed)
        };
        match mode {
            Mode::Triangles => {
                if !corners.len().is_multiple_of(3) {
                    return Err(damaged(format!(
                        "a mesh lists {} corners, which make no whole triangles",
                        corners.len()
                    )));
                }
                for t in corners.chunks_exact(3) {
                    triangle([t[0], t[1], t[2]])?;
                }
            }
            Mode::TriangleStrip => {
                for (i, t) in corners.windows(3).enumerate() {
                    // Every other triangle of a strip runs the other way.
                    let turn = i % 2;
                    triangle([t[0], t[1 + turn], t[2 - turn]])?;
                }
            }
            _ => {
                for t in corners.windows(2).skip(1) {
                    triangle([corners[0], t[0], t[1]])?;
                }
            }
        }
        Ok(())
    }

    fn positions(&mut self, index: Index<Accessor>) -> Result<Vec<Vector3<f64>>, MeshError> {
        let list = self.list(index, Type::Vec3, MOST_LISTED)?;
        let each = list.component.size();
        Ok((0..list.count)
            .map(|i| {
                let at = &list.bytes[i * list.stride..];
                let c = |k: usize| number(&at[k * each..], list.component, list.normalized);
                Vector3::new(c(0), c(1), c(2))
            })
            .collect())
    }

    fn indices(&mut self, index: Index<Accessor>) -> Result<Vec<u32>, MeshError> {
        let list = self.list(index, Type::Scalar, 3 * MOST_TRIANGLES)?;
        let read: fn(&[u8]) -> u32 = match list.component {
            ComponentType::U8 => |b| u32::from(b[0]),
            ComponentType::U16 => |b| u32::from(u16::from_le_bytes([b[0], b[1]])),
            ComponentType::U32 => |b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]),
            _ => return Err(damaged("corner numbers that are not whole numbers")),
        };
        Ok((0..list.count)
            .map(|i| read(&list.bytes[i * list.stride..]))
            .collect())
    }

    /// A list of values, its extent checked against its buffer.
    fn list(
        &mut self,
        index: Index<Accessor>,
        kind: Type,
        most: usize,
    ) -> Result<List<'_>, MeshError> {
        let number = index.value();
        let wrong = |what: &str| damaged(format!("accessor {number} {what}"));
        let root = self.root;
        let accessor = root
            .accessors
            .get(number)
            .ok_or_else(|| wrong("isn't there"))?;
        if accessor.sparse.is_some() {
            return Err(unsupported("sparse accessors"));
        }
        let Checked::Valid(component) = accessor.component_type else {
            return Err(wrong("has a component type that is none of the standard's"));
        };
        let component = component.0;
        if accessor.type_ != Checked::Valid(kind) {
            return Err(wrong("is of another type than its use needs"));
        }
        let view = accessor
            .buffer_view
            .ok_or_else(|| wrong("has no buffer view"))?;
        let view = root
            .buffer_views
            .get(view.value())
            .ok_or_else(|| wrong("names a buffer view that isn't there"))?;
        let size = component.size() * kind.multiplicity();
        let stride = view.byte_stride.map_or(size, |s| s.0);
        if stride < size {
            return Err(wrong("has values that overlap"));
        }
        let count = accessor.count.0;
        if count > most as u64 {
            return Err(MeshError::TooMuch {
                what: "values in one list",
                most: most as u64,
            });
        }
        let buffer = self.buffer(view.buffer)?;
        let bytes = part(
            buffer,
            view.byte_offset.map_or(0, |o| o.0),
            view.byte_length.0,
        )
        .ok_or_else(|| wrong("has a buffer view that reaches beyond its buffer"))?;
        let wanted = match count {
            0 => 0,
            _ => (count - 1)
                .checked_mul(stride as u64)
                .and_then(|n| n.checked_add(size as u64))
                .ok_or_else(|| wrong("reaches beyond its buffer view"))?,
        };
        let offset = accessor.byte_offset.map_or(0, |o| o.0);
        let bytes =
            part(bytes, offset, wanted).ok_or_else(|| wrong("reaches beyond its buffer view"))?;
        Ok(List {
            bytes,
            stride,
            count: count as usize,
            component,
            normalized: accessor.normalized,
        })
    }

    fn buffer(&mut self, index: Index<Buffer>) -> Result<&[u8], MeshError> {
        let number = index.value();
        let buffer = self
            .root
            .buffers
            .get(number)
            .ok_or_else(|| damaged(format!("it names buffer {number}, which isn't there")))?;
        if self.buffers[number].is_none() {
            let bytes = match &buffer.uri {
                None => Cow::Borrowed(
                    self.binary
                        .filter(|_| number == 0)
                        .ok_or_else(|| damaged(format!("buffer {number} has no data")))?,
                ),
                Some(uri) => Cow::Owned(self.outside(number, uri)?),
            };
            self.loaded += bytes.len() as u64;
            if self.loaded > LONGEST_FILE {
                return Err(MeshError::TooMuch {
                    what: "bytes in its buffers",
                    most: LONGEST_FILE,
                });
            }
            self.buffers[number] = Some(bytes);
        }
        let bytes = self.buffers[number].as_deref().unwrap_or(&[]);
        part(bytes, 0, buffer.byte_length.0).ok_or_else(|| {
            damaged(format!(
                "buffer {number} promises {} bytes but ends after {}",
                buffer.byte_length.0,
                bytes.len()
            ))
        })
    }

    /// A buffer's bytes from its address: data in the text, or a file beside the glTF.
    fn outside(&self, number: usize, uri: &str) -> Result<Vec<u8>, MeshError> {
        if let Some(data) = uri.strip_prefix("data:") {
            let (_, coded) = data
                .split_once(";base64,")
                .ok_or_else(|| damaged(format!("buffer {number}'s data is not in base64")))?;
            return base64::engine::general_purpose::STANDARD
                .decode(coded)
                .map_err(|e| damaged(format!("buffer {number}'s data: {e}")));
        }
        let name = unescaped(uri);
        let path = Path::new(&name);
        // A mesh file is not trusted to name any file of the computer.
        let beside = path.components().all(|c| matches!(c, Component::Normal(_)))
            && !name.is_empty()
            && !name.contains(':')
            && !name.contains('\0');
        let folder = self.folder.filter(|_| beside).ok_or_else(|| {
            damaged(format!(
                "buffer {number} is `{name}`, which is no file beside it"
            ))
        })?;
        read_file(&folder.join(path)).map_err(|e| match e {
            MeshError::Open(e) => damaged(format!("its buffer `{name}` can't be opened: {e}")),
            MeshError::NotAFile => damaged(format!("its buffer `{name}` is not a plain file")),
            other => other,
        })
    }
}

/// Values of an accessor.
struct List<'b> {
    bytes: &'b [u8],
    stride: usize,
    count: usize,
    component: ComponentType,
    normalized: bool,
}

/// `length` bytes from `offset`, if they are there.
fn part(bytes: &[u8], offset: u64, length: u64) -> Option<&[u8]> {
    let from = usize::try_from(offset).ok()?;
    let end = usize::try_from(offset.checked_add(length)?).ok()?;
    bytes.get(from..end)
}

/// One component as the standard reads it; whole numbers may stand for a fraction of their range.
fn number(b: &[u8], component: ComponentType, normalized: bool) -> f64 {
    let (value, range) = match component {
        ComponentType::I8 => (f64::from(b[0] as i8), 127.0),
        ComponentType::U8 => (f64::from(b[0]), 255.0),
        ComponentType::I16 => (f64::from(i16::from_le_bytes([b[0], b[1]])), 32767.0),
        ComponentType::U16 => (f64::from(u16::from_le_bytes([b[0], b[1]])), 65535.0),
        ComponentType::U32 => (
            f64::from(u32::from_le_bytes([b[0], b[1], b[2], b[3]])),
            f64::from(u32::MAX),
        ),
        ComponentType::F32 => {
            return f64::from(f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
        }
    };
    if normalized {
        (value / range).max(-1.0)
    } else {
        value
    }
}

fn own_transform(node: &Node) -> Matrix4<f64> {
    if let Some(m) = node.matrix {
        return Matrix4::from_column_slice(&m.map(f64::from));
    }
    let [x, y, z] = node.translation.unwrap_or([0.0; 3]).map(f64::from);
    let [i, j, k, w] = node.rotation.unwrap_or_default().0.map(f64::from);
    let [sx, sy, sz] = node.scale.unwrap_or([1.0; 3]).map(f64::from);
    let turn = nalgebra::UnitQuaternion::from_quaternion(Quaternion::new(w, i, j, k));
    Matrix4::new_translation(&Vector3::new(x, y, z))
        * turn.to_homogeneous()
        * Matrix4::new_nonuniform_scaling(&Vector3::new(sx, sy, sz))
}

/// An address with its `%20` and the like replaced.
fn unescaped(uri: &str) -> String {
    let bytes = uri.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut i = 0;
    while i < bytes.len() {
        let hex = bytes
            .get(i + 1..i + 3)
            .filter(|h| bytes[i] == b'%' && h.iter().all(u8::is_ascii_hexdigit))
            .and_then(|h| u8::from_str_radix(std::str::from_utf8(h).ok()?, 16).ok());
        out.push(hex.unwrap_or(bytes[i]));
        i += if hex.is_some() { 3 } else { 1 };
    }
    String::from_utf8_lossy(&out).into_owned()
}
