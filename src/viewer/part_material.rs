//! What parts and ground are drawn with: one plain material in workshop light, which a plane can cut.

use bevy::asset::embedded_asset;
use bevy::mesh::MeshVertexBufferLayoutRef;
use bevy::pbr::{MaterialPipeline, MaterialPipelineKey, MaterialPlugin};
use bevy::prelude::*;
use bevy::render::render_resource::{
    AsBindGroup, Face, RenderPipelineDescriptor, ShaderType, SpecializedMeshPipelineError,
};
use bevy::shader::ShaderRef;

/// The material of a part.
#[derive(Asset, AsBindGroup, TypePath, Clone, Debug, PartialEq)]
#[bind_group_data(MaterialKind)]
#[uniform(0, Colours)]
pub struct PartMaterial {
    /// Colour and opacity.
    pub colour: Color,
    /// Added to it.
    pub glow: LinearRgba,
    /// Strength of the highlight, 0 to 1.
    pub gloss: f32,
    /// The cutting plane, world coordinates: unit normal toward what is left out, and its offset.
    pub plane: Option<Vec4>,
    /// Whether the surface closes off an inside: its inner faces are then never seen uncut.
    pub closed: bool,
    /// Whether it is another setup's part, over the truck: see-through with a plain rim, and no shadow on it.
    pub ghost: bool,
}

impl Default for PartMaterial {
    fn default() -> Self {
        PartMaterial {
            colour: Color::WHITE,
            glow: LinearRgba::BLACK,
            gloss: 0.0,
            plane: None,
            closed: true,
            ghost: false,
        }
    }
}

/// The same as the shader reads it.
#[derive(Clone, Default, ShaderType)]
struct Colours {
    colour: Vec4,
    glow: Vec4,
    plane: Vec4,
    gloss: Vec4,
}

impl From<&PartMaterial> for Colours {
    fn from(material: &PartMaterial) -> Self {
        let vec4 = |c: LinearRgba| Vec4::new(c.red, c.green, c.blue, c.alpha);
        Colours {
            colour: vec4(material.colour.to_linear()),
            glow: vec4(material.glow),
            plane: material.plane.unwrap_or(Vec4::ZERO),
            gloss: Vec4::splat(material.gloss),
        }
    }
}

/// What tells pipelines apart. An uncut one discards nothing, which lets a card skip hidden faces early.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct MaterialKind {
    cut: bool,
    one_sided: bool,
    ghost: bool,
}

/// How far a ghost's faces step back, so that a face which both setups share is the truck's own: several times
/// what rounding of its corners shifts it, and a fraction of a millimetre at any distance that a truck is
/// looked at from.
const GHOST_STEP_BACK: i32 = -400;

impl From<&PartMaterial> for MaterialKind {
    fn from(material: &PartMaterial) -> Self {
        MaterialKind {
            cut: material.plane.is_some(),
            one_sided: material.closed && material.plane.is_none(),
            ghost: material.ghost,
        }
    }
}

impl Material for PartMaterial {
    fn fragment_shader() -> ShaderRef {
        "embedded://bindpoint/viewer/part_material.wgsl".into()
    }

    fn alpha_mode(&self) -> AlphaMode {
        if self.colour.alpha() < 1.0 {
            AlphaMode::Blend
        } else {
            AlphaMode::Opaque
        }
    }

    fn specialize(
        _pipeline: &MaterialPipeline,
        descriptor: &mut RenderPipelineDescriptor,
        _layout: &MeshVertexBufferLayoutRef,
        key: MaterialPipelineKey<Self>,
    ) -> Result<(), SpecializedMeshPipelineError> {
        descriptor.primitive.cull_mode = key.bind_group_data.one_sided.then_some(Face::Back);
        let kind = key.bind_group_data;
        if let Some(fragment) = &mut descriptor.fragment {
            for (is, name) in [(kind.cut, "CUT"), (kind.ghost, "GHOST")] {
                if is {
                    fragment.shader_defs.push(name.into());
                }
            }
        }
        if kind.ghost
            && let Some(depth) = &mut descriptor.depth_stencil
        {
            depth.bias.constant = GHOST_STEP_BACK;
        }
        Ok(())
    }
}

/// The material and its shader.
pub struct PartMaterialPlugin;

impl Plugin for PartMaterialPlugin {
    fn build(&self, app: &mut App) {
        embedded_asset!(app, "part_material.wgsl");
        app.add_plugins(MaterialPlugin::<PartMaterial>::default());
    }
}
