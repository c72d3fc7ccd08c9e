// The standard material, cut open by a plane: what lies before it is left out, and insides that come to
// light are drawn flat, as a saw cut shows them.

#import bevy_pbr::{
    pbr_fragment::pbr_input_from_standard_material,
    pbr_functions::{alpha_discard, apply_pbr_lighting, main_pass_post_lighting_processing},
    forward_io::{VertexOutput, FragmentOutput},
}

struct SectionPlane {
    // Unit normal toward what is left out, and its offset; all zero for no cut.
    plane: vec4<f32>,
}

@group(#{MATERIAL_BIND_GROUP}) @binding(100)
var<uniform> section: SectionPlane;

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> FragmentOutput {
    let cut = dot(section.plane.xyz, section.plane.xyz) > 0.0;
    if cut && dot(section.plane.xyz, in.world_position.xyz) > section.plane.w {
        discard;
    }
    var pbr_input = pbr_input_from_standard_material(in, is_front);
    pbr_input.material.base_color = alpha_discard(pbr_input.material, pbr_input.material.base_color);
    var out: FragmentOutput;
    if cut && !is_front {
        out.color = vec4<f32>(pbr_input.material.base_color.rgb * 0.55, pbr_input.material.base_color.a);
    } else {
        out.color = apply_pbr_lighting(pbr_input);
        out.color = main_pass_post_lighting_processing(pbr_input, out.color);
    }
    return out;
}
