// Workshop light: a sun with soft shadows, a weak light from the other side, a bright sky above. Colours keep
// their hue in light and shade, so that a gap's state is read the same everywhere. Where a plane cuts the
// part, what lies before it is left out and insides that come to light are drawn flat, as a saw cut shows
// them. A ghost is seen through but for its rim, and no shadow falls on it. Corners that have colours of their own show
// those: light shapes them only faintly, and neither highlight nor glow changes them, since lightness is read there.

#import bevy_pbr::{
    forward_io::{VertexOutput, FragmentOutput},
    mesh_view_bindings::{view, lights},
    mesh_view_types::DIRECTIONAL_LIGHT_FLAGS_SHADOWS_ENABLED_BIT,
    shadows::fetch_directional_shadow,
}

struct PartMaterial {
    // Linear colour and opacity.
    colour: vec4<f32>,
    // Added to it: a picked part stands out.
    glow: vec4<f32>,
    // Unit normal toward what is left out, and its offset, world coordinates.
    plane: vec4<f32>,
    // Strength of the highlight, from 0 to 1.
    gloss: vec4<f32>,
}

@group(#{MATERIAL_BIND_GROUP}) @binding(0)
var<uniform> material: PartMaterial;

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> FragmentOutput {
    var out: FragmentOutput;
    var base = material.colour.rgb;
#ifdef VERTEX_COLORS
    base = in.color.rgb;
#endif
#ifdef CUT
    if dot(material.plane.xyz, in.world_position.xyz) > material.plane.w {
        discard;
    }
    if !is_front {
        // What is seen through anyway keeps its hue: there is little of it to know it by.
        let dark = select(0.5, 0.8, material.colour.a < 1.0);
        out.color = vec4<f32>(base * dark, material.colour.a);
        return out;
    }
#endif
    let facing = select(-1.0, 1.0, is_front);
    let n = normalize(in.world_normal) * facing;
    let parallel = view.clip_from_view[3].w == 1.0;
    let away = normalize(view.world_position - in.world_position.xyz);
    let eye = select(away, normalize(view.world_from_view[2].xyz), parallel);

    let sun = lights.directional_lights[0].direction_to_light;
    let fill = normalize(vec3<f32>(-sun.x, 0.25, -sun.z));
    var lit = 1.0;
#ifndef GHOST
    if (lights.directional_lights[0].flags & DIRECTIONAL_LIGHT_FLAGS_SHADOWS_ENABLED_BIT) != 0u {
        let depth = dot(vec4<f32>(
            view.view_from_world[0].z,
            view.view_from_world[1].z,
            view.view_from_world[2].z,
            view.view_from_world[3].z
        ), in.world_position);
        lit = fetch_directional_shadow(0u, in.world_position, n, depth, in.position.xy);
    }
#endif
    let sunny = max(dot(n, sun), 0.0) * lit;
    let filled = max(dot(n, fill), 0.0);
    let sky = 0.5 + 0.5 * n.y;
    let light = 0.40 + 0.24 * sky + 0.44 * sunny + 0.14 * filled;
    let half_way = normalize(sun + eye);
    let shine = material.gloss.x * pow(max(dot(n, half_way), 0.0), 48.0) * lit;
    var opacity = material.colour.a;
#ifdef GHOST
    // Where it turns away from the eye: an outline, however faint its faces are.
    let rim = pow(1.0 - abs(dot(n, eye)), 3.0);
    opacity = mix(opacity, min(2.4 * opacity, 1.0), rim);
#endif
#ifdef VERTEX_COLORS
    let faint = mix(1.0, min(light, 1.0), 0.45);
    out.color = vec4<f32>(base * faint, opacity);
#else
    out.color = vec4<f32>(base * light + material.glow.rgb + vec3<f32>(shine), opacity);
#endif
    return out;
}
