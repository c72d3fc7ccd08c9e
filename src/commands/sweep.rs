//! `bindpoint sweep`: the main job.

use super::UnitsArgument;
use super::progress::Progress;
use bindpoint::findings::{Status, StopId, SweepFindings};
use bindpoint::output::{self, Datum, SweepText, sweep_text};
use bindpoint::scene::did_you_mean;
use bindpoint::sweep::{SweepOptions, removable_stops, status, sweep};
use bindpoint::truck::Truck;
use clap::ValueEnum;
use miette::{Result, miette};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(after_help = super::EXIT_STATUS)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Write everything found as JSON, in mm and degrees, travel from the measured position. `-` prints
    /// it instead of the text. The map's cells are left out: they are in --csv's map.csv.
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Write tables to this folder, in mm and degrees, travel from the measured position:
    /// stop_order.csv, free_travel.csv, tightest_gaps.csv, first_contact.csv, limits.csv, map.csv.
    #[arg(long, value_name = "DIR")]
    csv: Option<PathBuf>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
    /// From where printed droop and bump are counted; `pose` and `export` always count from the
    /// measured position.
    #[arg(long, value_enum, default_value_t = DatumArgument::Measured)]
    datum: DatumArgument,
    /// Rack positions listed, lock to lock: an odd number, 3 or more.
    #[arg(long, value_name = "N", default_value_t = 9, value_parser = odd)]
    racks: usize,
    /// The corner whose tables are printed where the sides differ [default: the weaker one's].
    #[arg(long, value_enum)]
    side: Option<super::SideArgument>,
    /// Take a stop off, by its printed name, as if it were unbolted, and see the next; may be given several
    /// times.
    #[arg(long, value_name = "STOP")]
    without: Vec<String>,
    /// Threads to use [default: one per core]. The result is the same with any number.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum DatumArgument {
    /// The measured position.
    Measured,
    /// Ride height.
    Ride,
}

/// More rack positions than this say nothing new: the map covers all between.
const MOST_RACKS: usize = 999;

fn odd(text: &str) -> std::result::Result<usize, String> {
    match text.parse::<usize>() {
        Ok(n) if (3..=MOST_RACKS).contains(&n) && n % 2 == 1 => Ok(n),
        _ => Err(format!(
            "expected an odd number from 3 to {MOST_RACKS}, such as 9"
        )),
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    if let Some(threads) = arguments.threads {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads.into())
            .build_global()
            .map_err(|error| miette!("cannot start {threads} threads: {error}"))?;
    }
    let truck = super::load(&arguments.scene)?;
    check_targets(arguments)?;
    let without = stops_named(&arguments.without, &truck)?;
    let options = SweepOptions {
        rack_positions: arguments.racks,
        with_map_cells: arguments.csv.is_some(),
        without,
        ..SweepOptions::default()
    };
    let progress = Progress::new("free travel");
    let mut findings = sweep(&truck, &options, &|step, share| progress.show(step, share));
    progress.finish();
    let status = status(&findings);

    if let Some(folder) = &arguments.csv {
        output::csv::write_sweep(folder, &findings)
            .map_err(|(path, error)| super::unwritten(&path, &error))?;
        drop_cells(&mut findings);
    }
    if let Some(target) = &arguments.json {
        super::write_json(target, &findings)?;
    }
    if !arguments.json.as_deref().is_some_and(super::is_stdout) {
        let style = SweepText {
            units: super::units(arguments.units, truck.scene_unit),
            datum: match arguments.datum {
                DatumArgument::Measured => Datum::Measured,
                DatumArgument::Ride => Datum::RideHeight,
            },
            status,
            tables_of: arguments.side.map(super::SideArgument::side),
            wrap_leading_lines: super::terminal::is_screen(),
        };
        findings.warnings = super::further(&findings.warnings, &truck.implausible);
        super::print_warned(&truck, &[], style.units, &sweep_text(&findings, &style))?;
    }
    Ok(status)
}

/// The stops that are meant. A name that no corner has would leave everything on.
fn stops_named(without: &[String], truck: &Truck) -> Result<Vec<StopId>> {
    let known: Vec<StopId> = truck.corners.iter().flat_map(removable_stops).collect();
    let mut out = Vec::new();
    for name in without {
        match known.iter().find(|stop| stop.name() == *name) {
            Some(stop) => out.push(stop.clone()),
            None => {
                let names: Vec<String> = known.iter().map(StopId::name).collect();
                let meant = did_you_mean(name, names.iter().map(String::as_str));
                return Err(miette!(
                    help = format!("{meant}`bindpoint sweep` prints the names of the stops"),
                    "no stop is named `{name}`"
                ));
            }
        }
    }
    Ok(out)
}

/// Says before the long sweep, not after it, that a target can't be written.
fn check_targets(arguments: &Arguments) -> Result<()> {
    let mut targets: Vec<PathBuf> = arguments.json.iter().cloned().collect();
    if let Some(folder) = &arguments.csv {
        std::fs::create_dir_all(folder).map_err(|e| super::unwritten(folder, &e))?;
        targets.extend(output::csv::FILES.map(|name| folder.join(name)));
    }
    super::check_targets(&arguments.scene.scene, targets.iter().map(PathBuf::as_path))
}

/// The JSON is the same with and without `--csv`.
fn drop_cells(findings: &mut SweepFindings) {
    findings.worse.map.cells.clear();
    if let Some(other) = &mut findings.other {
        other.map.cells.clear();
    }
}
