//! `bindpoint clearance`: how near everything comes to one part, and where to trim it.

use super::progress::Progress;
use super::{SideArgument, UnitsArgument};
use bindpoint::findings::Status;
use bindpoint::output::clearance_glb::write_glb;
use bindpoint::output::dxf::write_dxf;
use bindpoint::output::ply::write_ply;
use bindpoint::output::trim_sheets::{Layout, write_svg};
use bindpoint::output::{clearance_text, is_wrong};
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
    /// The gap that must remain to everything: in mm, or in decimal inches with `--units inch` [default: what the scene
    /// watches each pair for; nothing but contact where it watches none].
    #[arg(long, value_name = "GAP", allow_hyphen_values = true, value_parser = super::finite)]
    gap: Option<f64>,
    /// Gaps beyond this aren't told apart, which saves time: unit as above [default: 50 mm].
    #[arg(long, value_name = "GAP", value_parser = super::finite)]
    cutoff: Option<f64>,
    /// How much lower than reported a true least gap may be: unit as above [default: 0.1 mm].
    #[arg(long, value_name = "GAP", value_parser = super::finite)]
    tolerance: Option<f64>,
    /// Faces with longer edges than this are split where something comes near: unit as above [default: 5 mm].
    #[arg(long, value_name = "SIZE", value_parser = super::finite)]
    resolution: Option<f64>,
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
    /// Unit of printed lengths [default: the scene's], and of lengths typed above [default: mm].
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

fn told(error: &ClearanceError) -> Report {
    let listed = |names: &[String]| format!("`{}`", names.join("`, `"));
    match error {
        ClearanceError::NoPart(_, names) => {
            miette!(
                help = format!("the parts are: {}", listed(names)),
                "{error}"
            )
        }
        ClearanceError::NoMover(_, names) => miette!(
            help = format!("on other bodies there are: {}", listed(names)),
            "{error}"
        ),
        ClearanceError::NotBuilt(..) => miette!(
            help = "leave --side out: both sides are alike, and a part on the frame is mapped against both",
            "{error}"
        ),
        ClearanceError::OtherShape(_) => miette!(
            help = "give --setup once for each shape of the part",
            "{error}"
        ),
        ClearanceError::NothingMoves(_) => miette!(
            help = "what overlaps as drawn is looked at with --with-overlaps",
            "{error}"
        ),
        ClearanceError::TooFine(..) => miette!(help = "give a larger --resolution", "{error}"),
        ClearanceError::BadOption(..) | ClearanceError::Cancelled => miette!("{error}"),
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    super::check_gap(arguments.gap)?;
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
    let mm = |value: f64| super::typed_mm(value, arguments.units);
    let usual = ClearanceOptions::usual(&arguments.part);
    let options = ClearanceOptions {
        side: arguments.side.map(SideArgument::side),
        required_mm: arguments.gap.map(mm),
        against: arguments.against.clone(),
        with_overlaps: arguments.with_overlaps,
        cutoff_mm: arguments.cutoff.map_or(usual.cutoff_mm, mm),
        tolerance_mm: arguments.tolerance.map_or(usual.tolerance_mm, mm),
        resolution_mm: arguments.resolution.map_or(usual.resolution_mm, mm),
        ..usual
    };
    let progress = Progress::new();
    let map = clearance_map(&trucks, &options, &|step, share| {
        progress.show(step, share);
        true
    })
    .map_err(|error| told(&error))?;
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
        let units = super::units(arguments.units, trucks[0].scene_unit);
        super::print(&clearance_text(&findings, units))?;
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
