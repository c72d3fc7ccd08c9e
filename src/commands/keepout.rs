//! `bindpoint keepout`: the space that moving parts take, as a solid for CAD.

use super::length_argument::{LengthArgument, asked};
use super::progress::Progress;
use super::{SideArgument, UnitsArgument};
use bindpoint::findings::Status;
use bindpoint::output::keep_out_text;
use bindpoint::output::solid::{SolidFormat, write_solid};
use bindpoint::space::{KeepOutError, KeepOutOptions, PoseTree, SEEN_FROM, keep_out};
use bindpoint::suspension::{Body, Side};
use bindpoint::sweep::{MappedTravel, mapped};
use bindpoint::truck::{Corner, Truck};
use miette::{Result, miette};
use std::path::PathBuf;
use wildmatch::WildMatch;

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// The parts whose room it is, by name: `*` stands for anything, names apart by commas or given again [default: every
    /// part that isn't on the body that the bracket is bolted to].
    #[arg(long, value_name = "PART", value_delimiter = ',')]
    parts: Vec<String>,
    /// The body that the bracket is bolted to: the solid is seen from there.
    #[arg(long, value_name = "BODY", default_value = "frame", value_parser = body)]
    on: Body,
    /// Room to leave around every position: in the scene's unit, or as typed: `90mm`, `3.5in`, `"3 1/2"`, `3-1/2in` [default: 0].
    #[arg(long, value_name = "MARGIN", allow_hyphen_values = true)]
    margin: Option<LengthArgument>,
    /// The solid contains every position grown by the margin, and exceeds that by no more than four times this: unit as
    /// above [default: 2 mm].
    #[arg(long, value_name = "SIZE", allow_hyphen_values = true)]
    resolution: Option<LengthArgument>,
    /// The file: .stl (binary), .3mf or .glb.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Which corner [default: the one that the scene describes].
    #[arg(long, value_enum)]
    side: Option<SideArgument>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str = "Vehicle coordinates as measured (x forward, y left, z up), mm; seen from an arm or the knuckle, where \
                     that body was measured. Exit status: 0 written; 2 it could not be, or it was written but \
                     some positions couldn't be bounded.";

/// Resolution of the solid in a file for CAD where none is given, mm: a bracket is drawn against it, so it exceeds what it
/// holds by no more than 8 mm. What is only looked at is made coarser, see `viewer/keep_out.rs`.
const FILE_KEEP_OUT_RESOLUTION_MM: f64 = 2.0;

/// A body as typed.
pub(super) fn body(text: &str) -> std::result::Result<Body, String> {
    let names = || SEEN_FROM.map(Body::name).join(", ");
    let wanted = text.trim().replace([' ', '-'], "_");
    SEEN_FROM
        .into_iter()
        .find(|b| b.name() == wanted)
        .ok_or_else(|| format!("no such body; one of: {}", names()))
}

/// What a solid is made of.
pub(super) struct Chosen {
    /// Numbers of the corner's parts whose room it is, in the patterns' order.
    pub(super) parts: Vec<usize>,
    /// Numbers of parts that a pattern names too, but that are on the bracket's own body.
    pub(super) left_out: Vec<usize>,
}

/// The corner's parts that the patterns name; without any pattern all that aren't on the bracket's own body. What turns on
/// the spot beside the bracket (an inner joint housing beside the frame) takes its room too.
pub(super) fn chosen(
    corner: &Corner,
    patterns: &[String],
    on: Body,
    scene: &super::SceneArguments,
) -> Result<Chosen> {
    if corner.may_turn(on) {
        let (what, help) = match on {
            Body::TieRod | Body::DamperUpper | Body::DamperLower => (
                "may roll about the line through its ends",
                "say in the scene what holds it, as in roll: HeldBy(\"bushed eyes at both ends\")",
            ),
            _ => ("turns", "choose the body that it turns in"),
        };
        return Err(miette!(
            help = format!(
                "{help}; or draw the bracket on it and ask `clearance --part`, which takes it all the way round"
            ),
            "the {} {what}, and a bracket on it goes round with it: no solid of one roll holds all that comes near",
            on.name()
        ));
    }
    let is_own = |i: usize| corner.parts[i].body == on;
    let mut out = Chosen {
        parts: Vec::new(),
        left_out: Vec::new(),
    };
    if patterns.is_empty() {
        let all = 0..corner.parts.len();
        out.parts = all.filter(|i| !is_own(*i)).collect();
        return Ok(out);
    }
    for pattern in patterns {
        let matcher = WildMatch::new(pattern.trim());
        let all = 0..corner.parts.len();
        let found: Vec<usize> = all
            .filter(|i| corner.parts[*i].is_named_by(&matcher))
            .collect();
        if found.is_empty() {
            let names: Vec<&str> = corner.parts.iter().map(|p| p.name.as_str()).collect();
            let path = &scene.scene;
            let command = format!(
                "bindpoint keepout {} --parts {}",
                super::quoted(&path.display().to_string()),
                super::quoted(pattern)
            );
            return Err(miette!(
                help = super::missing_part(&command, path, pattern, &names),
                "no part is named `{pattern}`"
            ));
        }
        if found.iter().all(|i| is_own(*i)) {
            let names: Vec<&str> = found.iter().map(|i| &*corner.parts[*i].name).collect();
            return Err(miette!(
                help = "it takes the room that it is drawn in: name parts of other bodies, or another body with --on",
                "`{}` doesn't move as seen from the {}: it is on that body itself",
                names.join("`, `"),
                on.name()
            ));
        }
        for i in found {
            let list = if is_own(i) {
                &mut out.left_out
            } else {
                &mut out.parts
            };
            if !list.contains(&i) {
                list.push(i);
            }
        }
    }
    Ok(out)
}

fn corner(truck: &Truck, side: Option<SideArgument>) -> Result<&Corner> {
    let Some(side) = side.map(SideArgument::side) else {
        return Ok(&truck.corners[0]);
    };
    truck.corner(side).ok_or_else(|| {
        miette!(
            help = "mirror the other side's solid in your CAD, y to -y",
            "the {} corner is the mirror image of the {} one, which is the only one built",
            side.name(),
            side.opposite().name()
        )
    })
}

/// Of which corner the solid is, where nobody said which: how to get the other's, which may have points and parts of its own.
fn other_corner(truck: &Truck, side: Side, was_chosen: bool) -> String {
    if was_chosen {
        return String::new();
    }
    let (this, other) = (side.name(), side.opposite().name());
    let text = if truck.corners.len() > 1 {
        format!(
            "This is the {this} corner's alone. The {other} one differs: `--side {other}` writes it."
        )
    } else {
        format!("The {other} corner's is its mirror image, y to -y.")
    };
    bindpoint::output::wrap(&text, bindpoint::output::text_width(), "") + "\n"
}

/// Rounded up to two significant digits.
fn rounded_up(value: f64) -> f64 {
    let places = 1.0 - value.log10().floor();
    let scale = 10.0_f64.powf(places);
    (value * scale).ceil() / scale
}

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    let format = SolidFormat::of(&arguments.out).map_err(|error| {
        miette!(
            help = "end the file's name in .stl, .3mf or .glb",
            "{error}"
        )
    })?;
    super::check_targets(&arguments.scene.scene, [arguments.out.as_path()])?;
    let truck = super::load(&arguments.scene)?;
    let units = super::units(arguments.units, truck.scene_unit);
    let corner = corner(&truck, arguments.side)?;
    let Chosen { parts, left_out } =
        chosen(corner, &arguments.parts, arguments.on, &arguments.scene)?;
    let mm = |length: &Option<LengthArgument>| Some(length.as_ref()?.in_mm(truck.scene_unit));
    let options = KeepOutOptions {
        margin_mm: mm(&arguments.margin).unwrap_or(0.0),
        resolution_mm: mm(&arguments.resolution).unwrap_or(FILE_KEEP_OUT_RESOLUTION_MM),
    };
    let progress = Progress::new("free travel");
    let MappedTravel { region, open_ends } = mapped(corner, &[]);
    let named = |numbers: &[usize]| -> Vec<String> {
        let names = numbers.iter().map(|i| corner.parts[*i].name.clone());
        names.collect()
    };
    let (names, left_out) = (named(&parts), named(&left_out));
    let trees = PoseTree::by_motion(corner, &region, arguments.on.motion(), parts);
    let mut solid = keep_out(&trees, options, &|share| {
        progress.show("swept space", share);
        true
    })
    .map_err(|error| match error {
        KeepOutError::NoFreeTravel => miette!(
            help = "`bindpoint pose SCENE --travel 0 --rack 0` says which",
            "{error}"
        ),
        KeepOutError::TooFine { enough_mm, .. } => {
            let enough = enough_mm.map_or(", or a smaller --margin".to_owned(), |enough_mm| {
                let enough = rounded_up(enough_mm / units.in_mm());
                format!(": {enough} {} is likely to do", units.name())
            });
            miette!(
                help = format!("give a larger --resolution{enough}"),
                "{}",
                super::told_in(units, &error)
            )
        }
        _ => miette!("{}", super::told_in(units, &error)),
    })?;
    // Where the body was measured: on drop brackets it hangs lower.
    let lowered = corner.lowered_by(arguments.on);
    for vertex in &mut solid.vertices {
        *vertex -= lowered;
    }
    solid.open_ends = open_ends;
    progress.show("writing", 1.0);
    write_solid(
        &arguments.out,
        format,
        "keep-out",
        &solid.vertices,
        &solid.triangles,
    )
    .map_err(|error| super::unwritten(&arguments.out, &error))?;
    progress.finish();
    let lengths = [
        ("margin", arguments.margin.as_ref()),
        ("resolution", arguments.resolution.as_ref()),
    ];
    let text = keep_out_text(
        &truck.name,
        corner.side,
        [&names, &left_out],
        arguments.on,
        options,
        &solid,
        units,
    );
    let text = text + &other_corner(&truck, corner.side, arguments.side.is_some());
    super::print_answer(&truck, units, &(asked(truck.scene_unit, lengths) + &text))?;
    // What couldn't be bounded may reach out of the solid.
    Ok(if solid.unproved_cells > 0 || !solid.open_ends.is_empty() {
        Status::NotChecked
    } else {
        Status::Clear
    })
}
