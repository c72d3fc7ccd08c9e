//! Binary glTF files (.glb): meshes, lines, materials, named nodes and animations, put together piece by piece.
//!
//! The idea in five lines. A [`GlbFile`] holds the JSON part as the types of the crate `gltf` and the binary part as
//! bytes. Each `add_` call appends to both and hands back a number to refer to later; [`GlbFile::write`] writes all of
//! it. Everything given here is in millimetres and vehicle axes (ISO 8855: x forward, y left, z up), everything in the
//! file in metres and the file's axes (z forward, x left, y up): converted here and nowhere else. Colours are given
//! as sRGB and stored as the linear values that glTF wants. Every accessor states its least and greatest values.
//!
//! ```
//! use bindpoint::output::glb::{Drawn, GlbFile, Look};
//! use nalgebra::Vector3;
//!
//! let mut file = GlbFile::new("a mark", &serde_json::json!({}));
//! let red = file.add_material(&Look { name: "mark", rgb: [213, 94, 0], ..Look::default() });
//! let points = [Vector3::zeros(), Vector3::new(0.0, 0.0, 100.0)];
//! let line = Drawn::Lines { points: &points, segments: &[[0, 1]], colours: None };
//! let mesh = file.add_mesh("trim here", &[(line, red)]);
//! file.add_node("trim here", None, mesh, None);
//! # let folder = tempfile::tempdir()?;
//! file.write(&folder.path().join("mark.glb"))?;
//! # Ok::<(), std::io::Error>(())
//! ```
//!
//! Source: Khronos Group, "glTF 2.0 Specification", 2021, sections 3.4 to 3.11 and 4.

use super::replace_file;
use crate::shapes::shade;
use gltf::json;
use gltf::json::Index;
use gltf::json::validation::{Checked, USize64};
use nalgebra::{Isometry3, UnitQuaternion, Vector3};
use std::borrow::Cow;
use std::collections::{BTreeMap, HashSet};
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::Path;

/// Number of a material.
#[derive(Clone, Copy, Debug)]
pub struct MaterialId(Index<json::Material>);

/// Number of a mesh.
#[derive(Clone, Copy, Debug)]
pub struct MeshId(Index<json::Mesh>);

/// Number of a node.
#[derive(Clone, Copy, Debug)]
pub struct NodeId(Index<json::Node>);

/// What a surface looks like.
#[derive(Clone, Copy, Debug)]
pub struct Look<'a> {
    /// The material's name.
    pub name: &'a str,
    /// Colour, sRGB; multiplied with a mesh's own colours where it has some.
    pub rgb: [u8; 3],
    /// 1 is opaque, 0 not seen at all.
    pub opacity: f32,
    /// 1 for bare metal, 0 for paint and rubber.
    pub metallic: f32,
    /// 1 is dull, 0 a mirror.
    pub roughness: f32,
    /// Whether the backs of triangles are seen: needed where a mesh is open.
    pub double_sided: bool,
}

impl Default for Look<'_> {
    /// Dull white paint, seen from the front.
    fn default() -> Self {
        Look {
            name: "paint",
            rgb: [255; 3],
            opacity: 1.0,
            metallic: 0.0,
            roughness: 0.7,
            double_sided: false,
        }
    }
}

/// What a mesh is made of: points in mm, vehicle axes, with a colour (sRGB) each where colours are given.
#[derive(Clone, Copy, Debug)]
pub enum Drawn<'a> {
    /// Triangles, anticlockwise seen from outside. Normals are made here (see [`shade`]).
    Triangles {
        /// Corners.
        points: &'a [Vector3<f64>],
        /// Corner numbers of each.
        triangles: &'a [[u32; 3]],
        /// Colours of the corners.
        colours: Option<&'a [[u8; 3]]>,
    },
    /// Straight lines, as thin as the viewer draws them.
    Lines {
        /// Ends.
        points: &'a [Vector3<f64>],
        /// Numbers of both ends of each.
        segments: &'a [[u32; 2]],
        /// Colours of the ends.
        colours: Option<&'a [[u8; 3]]>,
    },
}

/// How a node moves: one value a key frame, mm and vehicle axes as seen from its parent. What is left out stays.
#[derive(Clone, Copy, Debug)]
pub struct Track<'a> {
    /// Which node.
    pub node: NodeId,
    /// Where its origin is.
    pub translations: Option<&'a [Vector3<f64>]>,
    /// How it is turned. Neighbours should lie on one side of the four-dimensional sphere, so that viewers which don't
    /// look for the shorter way go it too.
    pub rotations: Option<&'a [UnitQuaternion<f64>]>,
}

/// A .glb file being put together. See the module's page for units and axes.
#[derive(Clone, Debug)]
pub struct GlbFile {
    root: json::Root,
    bytes: Vec<u8>,
    node_names: HashSet<String>,
}

/// A point in the file's metres and axes.
pub fn file_point(point_mm: &Vector3<f64>) -> [f32; 3] {
    file_direction(&(point_mm * 1.0e-3))
}

/// A direction, or what it is that has x, y and z, in the file's axes.
fn file_direction(v: &Vector3<f64>) -> [f32; 3] {
    [v.y as f32, v.z as f32, v.x as f32]
}

/// A rotation in the file's axes: x, y, z, w.
pub fn file_rotation(rotation: &UnitQuaternion<f64>) -> [f32; 4] {
    let [x, y, z] = file_direction(&rotation.imag());
    [x, y, z, rotation.w as f32]
}

/// The linear value of an sRGB channel, from 0 to 1. Source: IEC 61966-2-1:1999.
pub(super) fn linear(channel: u8) -> f32 {
    let c = f32::from(channel) / 255.0;
    if c <= 0.040_45 {
        c / 12.92
    } else {
        ((c + 0.055) / 1.055).powf(2.4)
    }
}

/// A number as it stands in the binary part.
trait Component: Copy + PartialOrd {
    const TYPE: json::accessor::ComponentType;
    fn bytes(self, into: &mut Vec<u8>);
    fn value(self) -> json::Value;
}

impl Component for f32 {
    const TYPE: json::accessor::ComponentType = json::accessor::ComponentType::F32;
    fn bytes(self, into: &mut Vec<u8>) {
        into.extend_from_slice(&self.to_le_bytes());
    }
    fn value(self) -> json::Value {
        // Widened without rounding: least and greatest must be the stored numbers themselves.
        f64::from(self).into()
    }
}

impl Component for u16 {
    const TYPE: json::accessor::ComponentType = json::accessor::ComponentType::U16;
    fn bytes(self, into: &mut Vec<u8>) {
        into.extend_from_slice(&self.to_le_bytes());
    }
    fn value(self) -> json::Value {
        self.into()
    }
}

impl Component for u32 {
    const TYPE: json::accessor::ComponentType = json::accessor::ComponentType::U32;
    fn bytes(self, into: &mut Vec<u8>) {
        into.extend_from_slice(&self.to_le_bytes());
    }
    fn value(self) -> json::Value {
        self.into()
    }
}

/// Indices up to this many corners take two bytes; the greatest value itself is reserved.
const SHORT_INDICES: usize = 65_535;

impl GlbFile {
    /// An empty file with one scene; `extras` (an object) is what the asset says about itself, beside units and axes.
    pub fn new(scene: &str, extras: &json::Value) -> GlbFile {
        let mut said = json::Value::Object(serde_json::Map::new());
        said["axes"] =
            "vehicle axes, ISO 8855 (x forward, y left, z up), are z, x, y of this file".into();
        said["units"] = "drawn in mm, stored in m".into();
        if let Some(more) = extras.as_object() {
            for (key, value) in more {
                said[key] = value.clone();
            }
        }
        let mut root = json::Root {
            asset: json::Asset {
                generator: Some(format!(
                    "{} {}",
                    env!("CARGO_PKG_NAME"),
                    env!("CARGO_PKG_VERSION")
                )),
                extras: extras_of(&said),
                ..json::Asset::default()
            },
            ..json::Root::default()
        };
        root.scene = Some(root.push(json::Scene {
            name: Some(scene.to_owned()),
            nodes: Vec::new(),
            extensions: None,
            extras: None,
        }));
        GlbFile {
            root,
            bytes: Vec::new(),
            node_names: HashSet::new(),
        }
    }

    /// Adds a material.
    pub fn add_material(&mut self, look: &Look) -> MaterialId {
        let [r, g, b] = look.rgb.map(linear);
        let alpha_mode = if look.opacity < 1.0 {
            json::material::AlphaMode::Blend
        } else {
            json::material::AlphaMode::Opaque
        };
        MaterialId(self.root.push(json::Material {
            name: Some(look.name.to_owned()),
            alpha_mode: Checked::Valid(alpha_mode),
            double_sided: look.double_sided,
            pbr_metallic_roughness: json::material::PbrMetallicRoughness {
                base_color_factor: json::material::PbrBaseColorFactor([r, g, b, look.opacity]),
                metallic_factor: json::material::StrengthFactor(look.metallic),
                roughness_factor: json::material::StrengthFactor(look.roughness),
                ..Default::default()
            },
            ..Default::default()
        }))
    }

    /// Adds a mesh of several pieces, each with its material. None where all of them are empty: glTF has no empty mesh.
    ///
    /// # Panics
    /// Where a corner's number is beyond the points, or colours aren't as many as points.
    pub fn add_mesh(&mut self, name: &str, pieces: &[(Drawn, MaterialId)]) -> Option<MeshId> {
        let mut primitives = Vec::new();
        for (drawn, material) in pieces {
            let (attributes, indices, mode) = match *drawn {
                Drawn::Triangles {
                    points,
                    triangles,
                    colours,
                } if !triangles.is_empty() => {
                    let shaded = shade(points, triangles);
                    let corners = shaded.vertex_of.iter().map(|v| *v as usize);
                    let normals = shaded
                        .normals
                        .iter()
                        .map(|n| file_direction(&Vector3::from(n.map(f64::from))));
                    let normals = self.add_accessor(normals, Use::Vertices, false);
                    let mut attributes = self.points_and_colours(points, colours, corners);
                    attributes.insert(Checked::Valid(json::mesh::Semantic::Normals), normals);
                    let count = shaded.normals.len();
                    let indices = self.add_indices(shaded.triangles.as_flattened(), count);
                    (attributes, indices, json::mesh::Mode::Triangles)
                }
                Drawn::Lines {
                    points,
                    segments,
                    colours,
                } if !segments.is_empty() => (
                    self.points_and_colours(points, colours, 0..points.len()),
                    self.add_indices(segments.as_flattened(), points.len()),
                    json::mesh::Mode::Lines,
                ),
                Drawn::Triangles { .. } | Drawn::Lines { .. } => continue,
            };
            primitives.push(json::mesh::Primitive {
                attributes,
                indices: Some(indices),
                material: Some(material.0),
                mode: Checked::Valid(mode),
                targets: None,
                extensions: None,
                extras: None,
            });
        }
        if primitives.is_empty() {
            return None;
        }
        Some(MeshId(self.root.push(json::Mesh {
            name: Some(name.to_owned()),
            primitives,
            weights: None,
            extensions: None,
            extras: None,
        })))
    }

    /// Adds a node below another one, or at the top; `at` is where it stands as seen from there. A name that is taken
    /// gets a number, since viewers address nodes by name.
    pub fn add_node(
        &mut self,
        name: &str,
        parent: Option<NodeId>,
        mesh: Option<MeshId>,
        at: Option<&Isometry3<f64>>,
    ) -> NodeId {
        let mut own_name = name.to_owned();
        let mut number = 2;
        while !self.node_names.insert(own_name.clone()) {
            own_name = format!("{name} {number}");
            number += 1;
        }
        let node = self.root.push(json::Node {
            name: Some(own_name),
            mesh: mesh.map(|m| m.0),
            translation: at.map(|at| file_point(&at.translation.vector)),
            rotation: at.map(|at| json::scene::UnitQuaternion(file_rotation(&at.rotation))),
            ..Default::default()
        });
        match parent {
            Some(NodeId(parent)) => self.root.nodes[parent.value()]
                .children
                .get_or_insert_default()
                .push(node),
            None => self.root.scenes[0].nodes.push(node),
        }
        NodeId(node)
    }

    /// Adds an animation that goes straight from key frame to key frame. `seconds` must rise from zero. Nothing is added
    /// where no track moves anything: glTF has no empty animation.
    ///
    /// # Panics
    /// Where a track has not one value a key frame.
    pub fn add_animation(
        &mut self,
        name: &str,
        extras: &json::Value,
        seconds: &[f64],
        tracks: &[Track],
    ) {
        let mut animation = json::Animation {
            name: Some(name.to_owned()),
            channels: Vec::new(),
            samplers: Vec::new(),
            extensions: None,
            extras: extras_of(extras),
        };
        let moves = |t: &Track| t.translations.is_some() || t.rotations.is_some();
        if !tracks.iter().any(moves) {
            return;
        }
        let times = seconds.iter().map(|s| [*s as f32]);
        let times = self.add_accessor(times, Use::Keys, false);
        let mut add = |node: NodeId, property, output| {
            let sampler = Index::push(
                &mut animation.samplers,
                json::animation::Sampler {
                    input: times,
                    interpolation: Checked::Valid(json::animation::Interpolation::Linear),
                    output,
                    extensions: None,
                    extras: None,
                },
            );
            animation.channels.push(json::animation::Channel {
                sampler,
                target: json::animation::Target {
                    node: node.0,
                    path: Checked::Valid(property),
                    extensions: None,
                    extras: None,
                },
                extensions: None,
                extras: None,
            });
        };
        for track in tracks {
            if let Some(values) = track.translations {
                assert_eq!(values.len(), seconds.len(), "a place for each key frame");
                let output = self.add_accessor(values.iter().map(file_point), Use::Keys, false);
                add(track.node, json::animation::Property::Translation, output);
            }
            if let Some(values) = track.rotations {
                assert_eq!(values.len(), seconds.len(), "a turn for each key frame");
                let output = self.add_accessor(values.iter().map(file_rotation), Use::Keys, false);
                add(track.node, json::animation::Property::Rotation, output);
            }
        }
        self.root.push(animation);
    }

    /// Writes the file.
    ///
    /// # Errors
    /// Whatever the file system answers, or that it would be larger than the 4 GiB that the format can count; nothing is
    /// left half-written.
    pub fn write(mut self, path: &Path) -> io::Result<()> {
        let too_large = || io::Error::other("a .glb file can't be larger than 4 GiB");
        if !self.bytes.is_empty() {
            // Added last: only now is its size known.
            self.root.push(json::Buffer {
                byte_length: USize64::from(self.bytes.len()),
                name: None,
                uri: None,
                extensions: None,
                extras: None,
            });
        }
        let text = json::serialize::to_vec(&self.root).map_err(io::Error::other)?;
        const HEADERS: usize = 12 + 2 * 8 + 2 * 3;
        let length = u32::try_from(text.len() + self.bytes.len() + HEADERS);
        let glb = gltf::binary::Glb {
            header: gltf::binary::Header {
                magic: *b"glTF",
                version: 2,
                length: length.map_err(|_| too_large())?,
            },
            json: Cow::Owned(text),
            bin: (!self.bytes.is_empty()).then_some(Cow::Owned(self.bytes)),
        };
        replace_file(path, |unfinished| {
            let mut file = BufWriter::new(File::create(unfinished)?);
            glb.to_writer(&mut file).map_err(|error| match error {
                gltf::Error::Io(error) => error,
                other => io::Error::other(other),
            })?;
            file.flush()
        })
    }

    /// Positions and colours of corners, each at a point.
    fn points_and_colours(
        &mut self,
        points: &[Vector3<f64>],
        colours: Option<&[[u8; 3]]>,
        corners: impl Iterator<Item = usize> + Clone,
    ) -> BTreeMap<Checked<json::mesh::Semantic>, Index<json::Accessor>> {
        let positions = corners.clone().map(|i| file_point(&points[i]));
        let positions = self.add_accessor(positions, Use::Vertices, false);
        let mut out = BTreeMap::new();
        out.insert(Checked::Valid(json::mesh::Semantic::Positions), positions);
        if let Some(colours) = colours {
            assert_eq!(colours.len(), points.len(), "a colour for each point");
            // Two bytes a channel: in one, dark linear values would fall together.
            let whole = |share: f32| (share * f32::from(u16::MAX)).round() as u16;
            let values = corners.map(|i| {
                let [r, g, b] = colours[i].map(|c| whole(linear(c)));
                [r, g, b, u16::MAX]
            });
            let colours = self.add_accessor(values, Use::Vertices, true);
            out.insert(Checked::Valid(json::mesh::Semantic::Colors(0)), colours);
        }
        out
    }

    fn add_indices(&mut self, indices: &[u32], corners: usize) -> Index<json::Accessor> {
        if corners <= SHORT_INDICES {
            self.add_accessor(indices.iter().map(|i| [*i as u16]), Use::Indices, false)
        } else {
            self.add_accessor(indices.iter().map(|i| [*i]), Use::Indices, false)
        }
    }

    /// Appends values with a view of their own, aligned as any component wants it.
    fn add_accessor<C: Component, const N: usize>(
        &mut self,
        values: impl Iterator<Item = [C; N]>,
        used_as: Use,
        normalized: bool,
    ) -> Index<json::Accessor> {
        use json::accessor::Type;
        self.bytes.resize(self.bytes.len().next_multiple_of(4), 0);
        let start = self.bytes.len();
        let mut count = 0_usize;
        let mut ends: Option<[[C; N]; 2]> = None;
        for value in values {
            count += 1;
            let [least, greatest] = ends.get_or_insert([value; 2]);
            for (k, component) in value.into_iter().enumerate() {
                component.bytes(&mut self.bytes);
                if component < least[k] {
                    least[k] = component;
                }
                if component > greatest[k] {
                    greatest[k] = component;
                }
            }
        }
        let view = self.root.push(json::buffer::View {
            // The only buffer there will be.
            buffer: Index::new(0),
            byte_length: USize64::from(self.bytes.len() - start),
            byte_offset: Some(USize64::from(start)),
            byte_stride: None,
            name: None,
            target: match used_as {
                Use::Vertices => Some(Checked::Valid(json::buffer::Target::ArrayBuffer)),
                Use::Indices => Some(Checked::Valid(json::buffer::Target::ElementArrayBuffer)),
                Use::Keys => None,
            },
            extensions: None,
            extras: None,
        });
        let listed = |v: [C; N]| json::Value::Array(v.into_iter().map(C::value).collect());
        self.root.push(json::Accessor {
            buffer_view: Some(view),
            byte_offset: None,
            count: USize64::from(count),
            component_type: Checked::Valid(json::accessor::GenericComponentType(C::TYPE)),
            type_: Checked::Valid(match N {
                1 => Type::Scalar,
                3 => Type::Vec3,
                _ => Type::Vec4,
            }),
            min: ends.map(|[least, _]| listed(least)),
            max: ends.map(|[_, greatest]| listed(greatest)),
            name: None,
            normalized,
            sparse: None,
            extensions: None,
            extras: None,
        })
    }
}

/// What a view's values are used as.
#[derive(Clone, Copy, Debug)]
enum Use {
    Vertices,
    Indices,
    Keys,
}

fn extras_of(value: &json::Value) -> json::Extras {
    // Text made from a value is read again without fail.
    json::deserialize::from_str(&value.to_string()).ok()
}
