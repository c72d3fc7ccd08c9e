//! `bindpoint clearance`: how near everything comes to one part, and where to trim it.

use super::length_argument::{LengthArgument, asked};
use super::progress::Progress;
use super::{SideArgument, UnitsArgument};
use bindpoint::findings::Status;
use bindpoint::output::clearance_glb::write_glb;
use bindpoint::output::dxf::write_dxf;
use bindpoint::output::ply::write_ply;
use bindpoint::output::trim_sheets::{Layout, write_svg};
use bindpoint::output::{Units, clearance_text, is_wrong};
use bindpoint::space::{
    ClearanceError, ClearanceMap, ClearanceOptions, TrimMark, clearance_findings, clearance_map,
    trim_marks,
};
use bindpoint::truck::Truck;
use miette::{Report, Result, miette};
use std::io;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    /// The scene file (.ron).
    scene: PathBuf,
    /// The part to map, by name.
    #[arg(long, value_name = "NAME")]
    part: String,
    /// A setup, or `as-measured` [default: as-measured]; given again, the map holds over all of them.
    #[arg(long, value_name = "NAME", conflicts_with = "all_setups")]
    setup: Vec<String>,
    /// The truck as measured and every setup of the scene: the map holds over all of them.
    #[arg(long)]
    all_setups: bool,
    /// The gap that must remain to everything: in the scene's unit, or as typed: `90mm`, `3.5in`, `"3 1/2"`, `3-1/2in`
    /// [default: what the scene watches each pair for; nothing but contact where it watches none].
    #[arg(long, value_name = "GAP", allow_hyphen_values = true)]
    gap: Option<LengthArgument>,
    /// Gaps beyond this aren't told apart, which saves time: unit as above [default: 50 mm].
    #[arg(long, value_name = "GAP", allow_hyphen_values = true)]
    cutoff: Option<LengthArgument>,
    /// How much lower than reported a true least gap may be: unit as above [default: 0.1 mm].
    #[arg(long, value_name = "GAP", allow_hyphen_values = true)]
    tolerance: Option<LengthArgument>,
    /// Faces with longer edges than this are split where something comes near: unit as above [default: 5 mm].
    #[arg(long, value_name = "SIZE", allow_hyphen_values = true)]
    resolution: Option<LengthArgument>,
    /// Only these other parts, by name: `*` stands for anything, names apart by commas or given again.
    #[arg(long, value_name = "PART", value_delimiter = ',')]
    against: Vec<String>,
    /// Look at parts too that overlap the mapped one as drawn.
    #[arg(long)]
    with_overlaps: bool,
    /// Which corner's copy of the part [default: the described one's].
    #[arg(long, value_enum)]
    side: Option<SideArgument>,
    /// Write the map, coloured, to this file: .ply (with every number) or .glb.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write the outlines where the required gap is missing: .dxf or .svg (flat, full size) or .glb (in space). May be
    /// given several times.
    #[arg(long, value_name = "FILE")]
    trim: Vec<PathBuf>,
    /// Write everything found as JSON, in mm and degrees, travel from the measured position; `-` prints it instead of the
    /// text.
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str =
    "Exit status: 0 every required gap is kept; 1 some gap is missing; 2 it could not be checked.";

#[derive(Clone, Copy, PartialEq)]
enum Format {
    Ply,
    Glb,
    Dxf,
    Svg,
}

fn format(path: &Path, known: &[(&str, Format)]) -> Result<Format> {
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    let found = known
        .iter()
        .find(|(e, _)| ending.eq_ignore_ascii_case(e))
        .map(|(_, f)| *f);
    found.ok_or_else(|| {
        let endings: Vec<String> = known.iter().map(|(e, _)| format!(".{e}")).collect();
        miette!(
            help = format!("end the file's name in {}", endings.join(" or ")),
            "{} can't be written: its ending says no kind that is known here",
            path.display()
        )
    })
}

fn trucks(arguments: &Arguments) -> Result<Vec<Truck>> {
    let load = |setup: Option<&str>| {
        bindpoint::truck::load_setup(&arguments.scene, setup).map_err(Report::new)
    };
    if arguments.all_setups {
        let mut out = vec![load(None)?];
        let setups = super::load_setups(&arguments.scene)?;
        out.extend(setups.into_iter().map(|(_, truck)| truck));
        return Ok(out);
    }
    if arguments.setup.is_empty() {
        return Ok(vec![load(None)?]);
    }
    arguments.setup.iter().map(|s| load(Some(s))).collect()
}

fn told(error: &ClearanceError, arguments: &Arguments, units: Units) -> Report {
    let said = super::told_in(units, error);
    let listed = |names: &[String]| format!("`{}`", names.join("`, `"));
    match error {
        ClearanceError::NoPart(part, names) => {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let command = format!(
                "bindpoint clearance {} --part {}",
                super::quoted(&arguments.scene.display().to_string()),
                super::quoted(part)
            );
            let help = super::missing_part(&command, &arguments.scene, part, &names);
            miette!(help = help, "{said}")
        }
        ClearanceError::InPieces(_, pieces) => miette!(
            help = format!(
                "its pieces are `{}`: ask the other way round, `--part` what may come near it and `--against` this",
                pieces.join("`, `")
            ),
            "{error}"
        ),
        ClearanceError::NoMover(_, names) => miette!(
            help = format!("on other bodies there are: {}", listed(names)),
            "{said}"
        ),
        ClearanceError::NotBuilt(..) => miette!(
            help = "leave --side out: both sides are alike, and a part on the frame is mapped against both",
            "{said}"
        ),
        ClearanceError::OtherShape(_) => miette!(
            help = "give --setup once for each shape of the part",
            "{said}"
        ),
        ClearanceError::NothingMoves(_) => miette!(
            help = "what overlaps as drawn is looked at with --with-overlaps",
            "{said}"
        ),
        ClearanceError::NoFreeTravel { .. } => miette!(
            help = "`bindpoint pose SCENE --travel 0 --rack 0` says which stops",
            "{said}"
        ),
        ClearanceError::TooFine(..) => miette!(help = "give a larger --resolution", "{said}"),
        ClearanceError::BadOption(..) | ClearanceError::Cancelled => miette!("{said}"),
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    super::check_gap(arguments.gap.as_ref())?;
    let map_format = arguments
        .out
        .as_deref()
        .map(|path| format(path, &[("ply", Format::Ply), ("glb", Format::Glb)]))
        .transpose()?;
    let trim_kinds = [
        ("dxf", Format::Dxf),
        ("svg", Format::Svg),
        ("glb", Format::Glb),
    ];
    let trim_formats: Vec<Format> = arguments
        .trim
        .iter()
        .map(|path| format(path, &trim_kinds))
        .collect::<Result<_>>()?;
    let targets = arguments.out.iter().chain(&arguments.trim);
    super::check_targets(
        &arguments.scene,
        targets.chain(&arguments.json).map(PathBuf::as_path),
    )?;
    let trucks = trucks(arguments)?;
    let scene_unit = trucks[0].scene_unit;
    let units = super::units(arguments.units, scene_unit);
    let mm = |length: &Option<LengthArgument>| Some(length.as_ref()?.in_mm(scene_unit));
    let usual = ClearanceOptions::usual(&arguments.part);
    let options = ClearanceOptions {
        side: arguments.side.map(SideArgument::side),
        required_mm: mm(&arguments.gap),
        against: arguments.against.clone(),
        with_overlaps: arguments.with_overlaps,
        cutoff_mm: mm(&arguments.cutoff).unwrap_or(usual.cutoff_mm),
        tolerance_mm: mm(&arguments.tolerance).unwrap_or(usual.tolerance_mm),
        resolution_mm: mm(&arguments.resolution).unwrap_or(usual.resolution_mm),
        ..usual
    };
    let progress = Progress::new("free travel");
    let map = clearance_map(&trucks, &options, &|step, share| {
        progress.show(step, share);
        true
    })
    .map_err(|error| told(&error, arguments, units))?;
    let marks = trim_marks(&map);
    progress.show("writing", 1.0);
    let truck = &trucks[0].name;
    if let (Some(path), Some(format)) = (&arguments.out, map_format) {
        let written = match format {
            Format::Ply => write_ply(path, truck, &map),
            _ => write_glb(path, &map.part, Some(&map), &marks),
        };
        written.map_err(|error| super::unwritten(path, &error))?;
    }
    for (path, format) in arguments.trim.iter().zip(&trim_formats) {
        write_marks(path, *format, truck, &map, &marks)
            .map_err(|error| super::unwritten(path, &error))?;
    }
    progress.finish();
    let findings = clearance_findings(truck, &map, &marks);
    if let Some(target) = &arguments.json {
        super::write_json(target, &findings)?;
    }
    if !arguments.json.as_deref().is_some_and(super::is_stdout) {
        let lengths = [
            ("gap", arguments.gap.as_ref()),
            ("cutoff", arguments.cutoff.as_ref()),
            ("tolerance", arguments.tolerance.as_ref()),
            ("resolution", arguments.resolution.as_ref()),
        ];
        super::print_warned(
            &trucks[0],
            &findings.warnings,
            units,
            &(asked(scene_unit, lengths) + &clearance_text(&findings, units)),
        )?;
    }
    Ok(if findings.patches.iter().any(is_wrong) {
        Status::Found
    } else if findings.is_undecided() {
        Status::NotChecked
    } else {
        Status::Clear
    })
}

fn write_marks(
    path: &Path,
    format: Format,
    truck: &str,
    map: &ClearanceMap,
    marks: &[TrimMark],
) -> io::Result<()> {
    match format {
        Format::Dxf => write_dxf(path, &Layout::new(truck, map, marks)),
        Format::Svg => write_svg(path, &Layout::new(truck, map, marks)),
        Format::Glb | Format::Ply => write_glb(path, &map.part, None, marks),
    }
}
