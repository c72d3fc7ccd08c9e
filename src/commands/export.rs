//! `bindpoint export`: the parts at one position, as STL files.

use super::SideArgument;
use super::length_argument::{LengthArgument, asked};
use bindpoint::findings::Status;
use bindpoint::output::stl::{PartTriangles, part_files, write_parts};
use bindpoint::truck::{Corner, Truck};
use miette::{Result, miette};
use nalgebra::Vector3;
use std::fmt::Write as _;
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Wheel travel from the measured position, bump positive: in the scene's unit, or as typed: `90mm`, `3.5in`, `"3 1/2"`, `3-1/2in`.
    #[arg(
        long,
        value_name = "T",
        allow_hyphen_values = true,
        default_value = "0"
    )]
    travel: LengthArgument,
    /// Rack from straight ahead, toward the left positive: unit as above.
    #[arg(
        long,
        value_name = "R",
        allow_hyphen_values = true,
        default_value = "0"
    )]
    rack: LengthArgument,
    /// Folder for the files; made if it isn't there.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Which corner [default: both, unless one is the mirror image of the other].
    #[arg(long, value_enum)]
    side: Option<SideArgument>,
}

const AFTER: &str = "Binary STL in vehicle coordinates (x forward, y left, z up), mm, one file a part. \
                     Exit status: 0 written; 2 it could not be.";

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    let truck = super::load(&arguments.scene)?;
    let corners = corners(&truck, arguments.side)?;
    let units = bindpoint::output::Units::of_scene(truck.scene_unit);
    let travel_mm = arguments.travel.in_mm(truck.scene_unit);
    let asked_rack_mm = arguments.rack.in_mm(truck.scene_unit);
    let mut placed = Vec::new();
    for corner in &corners {
        let rack_mm = super::within_locks(asked_rack_mm, corner.rack_mm, units)?;
        let position = corner.position(travel_mm, rack_mm).map_err(|error| {
            miette!(
                help = format!(
                    "travel counts from the measured position, bump positive; {} was asked for",
                    arguments.travel.told(truck.scene_unit)
                ),
                "{} corner: {}",
                corner.side.name(),
                super::told_in(units, &error)
            )
        })?;
        for part in &corner.parts {
            let placement = position.linkage.placement(part.body.motion());
            let triangles: Vec<[Vector3<f64>; 3]> = part
                .surface
                .triangles_in_body()
                .iter()
                .map(|triangle| triangle.each_ref().map(|v| placement.point(v)))
                .collect();
            placed.push((
                corner.side,
                part.revolved,
                PartTriangles {
                    name: part.name.clone(),
                    triangles,
                },
            ));
        }
    }
    let revolved: Vec<String> = placed
        .iter()
        .filter(|(_, revolved, _)| *revolved)
        .map(|(side, _, part)| format!("{} {}", side.name(), part.name))
        .collect();

    // With both sides, a part that stands in both at the same place is written once.
    let mut parts: Vec<PartTriangles> = Vec::new();
    let both = corners.len() > 1;
    for (side, _, part) in &placed {
        let twins: Vec<&PartTriangles> = placed
            .iter()
            .filter(|(other, _, twin)| other != side && twin == part)
            .map(|(_, _, twin)| twin)
            .collect();
        let name = if !both || !twins.is_empty() {
            part.name.clone()
        } else {
            format!("{} {}", side.name(), part.name)
        };
        if !parts
            .iter()
            .any(|done| done.name == name && done.triangles == part.triangles)
        {
            parts.push(PartTriangles {
                name,
                triangles: part.triangles.clone(),
            });
        }
    }
    std::fs::create_dir_all(&arguments.out).map_err(|e| super::unwritten(&arguments.out, &e))?;
    super::check_targets(
        &arguments.scene.scene,
        part_files(&arguments.out, &parts)
            .iter()
            .map(PathBuf::as_path),
    )?;
    let files = write_parts(&arguments.out, &parts)
        .map_err(|(path, error)| super::unwritten(&path, &error))?;

    let lengths = [("travel", &arguments.travel), ("rack", &arguments.rack)];
    let mut text = asked(truck.scene_unit, lengths.map(|(name, l)| (name, Some(l))));
    for (file, part) in files.iter().zip(&parts) {
        let _ = writeln!(
            text,
            "{}: {} triangles",
            file.display(),
            part.triangles.len()
        );
    }
    let _ = writeln!(
        text,
        "{} parts of {} at travel {} from the measured position (bump +), rack {} {} (left +); files in mm, vehicle \
         coordinates.",
        files.len(),
        truck.name,
        units.signed(travel_mm),
        units.signed(asked_rack_mm),
        units.name(),
    );
    if let ([corner], None) = (corners.as_slice(), arguments.side) {
        let _ = writeln!(
            text,
            "Only the {} corner: the other one is its mirror image, with the rack the other way.",
            corner.side.name()
        );
    }
    if !revolved.is_empty() {
        let _ = writeln!(
            text,
            "Not round but turning with shaft or wheel, written as the space they sweep: {}.",
            revolved.join(", ")
        );
    }
    super::print_answer(&truck, bindpoint::output::Units::Mm, &text)?;
    Ok(Status::Clear)
}

fn corners(truck: &Truck, side: Option<SideArgument>) -> Result<Vec<&Corner>> {
    let Some(side) = side.map(SideArgument::side) else {
        return Ok(truck.corners.iter().collect());
    };
    match truck.corner(side) {
        Some(corner) => Ok(vec![corner]),
        None => Err(miette!(
            help = "export the other side with the rack's sign changed, and mirror it in your CAD (y to -y)",
            "the {} corner is the mirror image of the {} one, which is the only one built",
            side.name(),
            side.opposite().name()
        )),
    }
}
