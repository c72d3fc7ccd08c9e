//! `bindpoint ground`: what the truck clears on level ground.

use super::UnitsArgument;
use super::length_argument::{LengthArgument, asked};
use bindpoint::findings::{GroundFindings, Status};
use bindpoint::ground::{VehicleError, ground_findings};
use bindpoint::output::{Units, ground_text};
use bindpoint::scene::NoLength;
use miette::{Result, miette};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Wheel travels from ride height, bump positive: front left, front right, rear left, rear right; each
    /// in the scene's unit, or as typed: `90mm`, `3.5in`, `"3 1/2"`, `3-1/2in`.
    #[arg(long, value_name = "FL,FR,RL,RR", allow_hyphen_values = true, value_parser = four)]
    travel: Option<FourTravels>,
    /// Lay the scene's other setups beside it.
    #[arg(long)]
    all_setups: bool,
    /// Write everything found as JSON, in mm and degrees; `-` prints it instead of the text.
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str = "Exit status: 0 four of the five thresholds are met, with --all-setups in every setup; 1 they aren't, or a wheel is held \
     past a stop; 2 it could not be checked.";

/// Four travels, as typed.
#[derive(Clone, Debug)]
struct FourTravels([LengthArgument; 4]);

/// The wheels in the order in which their travels are typed, as they are told back.
const TRAVELS: [&str; 4] = [
    "travel front left",
    "front right",
    "rear left",
    "rear right",
];

fn four(text: &str) -> std::result::Result<FourTravels, String> {
    let lengths: Vec<LengthArgument> = text
        .split(',')
        .map(|t| t.parse().map_err(|e: NoLength| e.to_string()))
        .collect::<std::result::Result<_, _>>()?;
    lengths
        .try_into()
        .map(FourTravels)
        .map_err(|_| "expected four lengths, such as 0,0,-20,-20".to_owned())
}

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    super::check_targets(&arguments.scene.scene, arguments.json.as_deref())?;
    let truck = super::load(&arguments.scene)?;
    let units = super::units(arguments.units, truck.scene_unit);
    let travel_mm = match &arguments.travel {
        None => [0.0; 4],
        Some(FourTravels(typed)) => typed.each_ref().map(|t| t.in_mm(truck.scene_unit)),
    };
    let found = ground_findings(&truck, travel_mm).map_err(|e| standing(&e, units))?;
    let mut others: Vec<(String, GroundFindings)> = Vec::new();
    let progress = super::progress::Progress::new("setups put on the ground");
    let mut left_out = Vec::new();
    if arguments.all_setups {
        let (built, unbuilt) = super::setups_that_can_be_built(&arguments.scene.scene)?;
        left_out = super::left_out_words(&unbuilt);
        for (name, other) in built {
            let there = ground_findings(&other, travel_mm).map_err(|e| standing(&e, units))?;
            others.push((name, there));
        }
    }
    progress.finish();
    if let Some(target) = &arguments.json {
        super::write_json(target, &found)?;
    }
    if !arguments.json.as_deref().is_some_and(super::is_stdout) {
        let typed = arguments.travel.iter().flat_map(|t| &t.0);
        let asked = asked(truck.scene_unit, TRAVELS.into_iter().zip(typed.map(Some)));
        let of_setups = others.iter().map(|(n, f)| (n.as_str(), &f.warnings[..]));
        let mut warnings = super::warnings_with(&found.warnings, of_setups);
        warnings.extend(left_out.iter().cloned());
        super::print_warned(
            &truck,
            &warnings,
            units,
            &(asked + &ground_text(&found, &others, units)),
        )?;
    }
    let mut all = std::iter::once(&found).chain(others.iter().map(|(_, found)| found));
    let misses = |found: &GroundFindings| !found.four_of_five || !found.past_stops.is_empty();
    Ok(if all.any(misses) || !left_out.is_empty() {
        Status::Found
    } else {
        Status::Clear
    })
}

/// Why the truck can't stand.
pub(super) fn standing(error: &VehicleError, units: Units) -> miette::Report {
    let help = match error {
        VehicleError::NoRearAxle => {
            "`rear: (wheelbase: .., half_track: .., wheel_centre_z: .., loaded_radius: .., tyre_width: ..)` puts the truck \
             on the ground"
        }
        VehicleError::OutOfReach(..) | VehicleError::AxleTooTilted(_) => {
            "travels count from ride height, bump positive"
        }
        VehicleError::NoSprings => {
            "give `wheel_springs: (front: (load: .., rate: ..), rear: (load: .., rate: ..))`, or `--suspension hold`"
        }
        VehicleError::PastAStop(_) => {
            "`sweep` says what stops it; `--suspension hold` drives it at ride height all the same"
        }
    };
    miette!(help = help, "{}", super::told_in(units, error))
}
