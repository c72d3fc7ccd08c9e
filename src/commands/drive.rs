//! `bindpoint drive`: the truck over an obstacle.

use super::{SuspensionArgument, UnitsArgument};
use bindpoint::findings::{DriveFindings, Status};
use bindpoint::ground::{Course, DriveError, Suspension, drive, sizes_driven};
use bindpoint::output::verdict_words::open_end;
use bindpoint::output::{Units, drive_text};
use bindpoint::scene::did_you_mean;
use bindpoint::sweep::free_travel::Region;
use bindpoint::sweep::search_ends;
use bindpoint::truck::{Corner, Truck};
use miette::{Report, Result, miette};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// The obstacle, by its name in the scene.
    #[arg(long, value_name = "NAME")]
    over: String,
    /// Scale the obstacle's height, diameter or whole boulder by this.
    #[arg(long, value_name = "F", value_parser = super::finite, default_value_t = 1.0)]
    scale: f64,
    /// Drive over the obstacle in sizes from small to large until one doesn't clear.
    #[arg(long)]
    largest: bool,
    /// Hold the suspension at ride height, or let each wheel follow the ground by its springs [default: follow where
    /// the scene has `wheel_springs`].
    #[arg(long, value_enum)]
    suspension: Option<SuspensionArgument>,
    /// Drive every setup of the scene over it too.
    #[arg(long)]
    all_setups: bool,
    /// Write everything found as JSON, in mm and degrees; `-` prints it instead of the text.
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str = "Exit status: 0 nothing but the treads touches; 1 something does, or the tyres can't climb it; 2 it \
                     could not be checked.";

/// Scales that make an obstacle of some size.
const SCALES: std::ops::RangeInclusive<f64> = 0.01..=20.0;

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    if !SCALES.contains(&arguments.scale) {
        return Err(miette!(
            help = "1 is the size that the scene gives",
            "a scale of {} makes no obstacle",
            arguments.scale
        ));
    }
    super::check_targets(&arguments.scene.scene, arguments.json.as_deref())?;
    let truck = super::load(&arguments.scene)?;
    let units = super::units(arguments.units, truck.scene_unit);
    let names: Vec<String> = truck
        .whole
        .iter()
        .flat_map(|w| &w.obstacles)
        .map(|o| o.entry.name.clone())
        .collect();
    let failed = |error: DriveError| -> Report {
        match &error {
            DriveError::Vehicle(e) => super::ground::standing(e, units),
            DriveError::Unknown(name) => miette!(
                help = format!(
                    "{}the obstacles are: `{}`",
                    did_you_mean(name, names.iter().map(String::as_str)),
                    names.join("`, `")
                ),
                "{error}"
            ),
            DriveError::TouchesAtStart { .. } => miette!(
                help = "start further away: leave out the obstacle's `ahead`, or make it larger",
                "{}",
                super::told_in(units, &error)
            ),
            DriveError::CannotStand => {
                miette!(help = "check `wheel_springs` and `rear.travel`", "{error}")
            }
            DriveError::BeginsOver { .. } => miette!(
                help = "leave `ahead` out: the drive begins where nothing touches yet",
                "{}",
                super::told_in(units, &error)
            ),
            DriveError::Shape(..) => miette!(help = "check the obstacle's sizes", "{error}"),
        }
    };
    let suspension = |truck: &Truck| match arguments.suspension {
        Some(typed) => typed.suspension(),
        None => Suspension::usual(truck),
    };
    let over = &arguments.over;
    let course_of = |truck: &Truck| {
        Course::new(truck, over, arguments.scale, suspension(truck)).map_err(failed)
    };
    let progress = super::progress::Progress::new("driven over");
    let course = course_of(&truck)?;
    let mut found = driven(&truck, &course, units).map_err(failed)?;
    if arguments.largest {
        progress.step("sizes driven over");
        found.sizes = Some(sizes_driven(&course).map_err(failed)?);
    }
    let mut others = Vec::new();
    let mut left_out = Vec::new();
    if arguments.all_setups {
        let (built, unbuilt) = super::setups_that_can_be_built(&arguments.scene.scene)?;
        left_out = super::left_out_words(&unbuilt);
        for (name, other) in built {
            progress.step(&format!("driven over, {name}"));
            let course = course_of(&other)?;
            others.push((name, driven(&other, &course, units).map_err(failed)?));
        }
    }
    progress.finish();
    if let Some(target) = &arguments.json {
        super::write_json(target, &found)?;
    }
    if !arguments.json.as_deref().is_some_and(super::is_stdout) {
        let of_setups = others.iter().map(|(n, f)| (n.as_str(), &f.warnings[..]));
        let mut warnings = super::warnings_with(&found.warnings, of_setups);
        warnings.extend(left_out.iter().cloned());
        super::print_warned(
            &truck,
            &warnings,
            units,
            &drive_text(&found, &others, units),
        )?;
    }
    let all = std::iter::once(&found).chain(others.iter().map(|(_, found)| found));
    let rest = match left_out.is_empty() {
        true => Status::Clear,
        false => Status::Found,
    };
    Ok(all.map(status).fold(rest, Status::max))
}

/// Drives over an obstacle, and tells where the wheels would go further than the search did.
fn driven(truck: &Truck, course: &Course, units: Units) -> Result<DriveFindings, DriveError> {
    let mut found = drive(course)?;
    if found.suspension_follows {
        let ends = |corner: &Corner| search_ends(corner, &Region::of(corner, &[]));
        let ends = truck.corners.iter().flat_map(ends);
        found
            .undecided
            .extend(ends.map(|end| open_end(&end, units, 0.0)));
    }
    Ok(found)
}

fn status(found: &DriveFindings) -> Status {
    // A contact that was found is found, whatever lies beyond what could be decided.
    if !found.contacts.is_empty() {
        Status::Found
    } else if !found.undecided.is_empty() {
        Status::NotChecked
    } else if found.tyres_stop_at_mm.is_none() {
        Status::Clear
    } else {
        Status::Found
    }
}
