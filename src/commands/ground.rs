//! `bindpoint ground`: what the truck clears on level ground.

use super::UnitsArgument;
use bindpoint::findings::{GroundFindings, Status};
use bindpoint::ground::{VehicleError, ground_findings};
use bindpoint::output::ground_text;
use miette::{Result, miette};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Wheel travels from ride height, bump positive: front left, front right, rear left, rear right; in mm, or in
    /// decimal inches with `--units inch` or `--units sixteenths`.
    #[arg(long, value_name = "FL,FR,RL,RR", allow_hyphen_values = true, value_parser = four)]
    travel: Option<FourTravels>,
    /// Lay the scene's other setups beside it.
    #[arg(long)]
    all_setups: bool,
    /// Write everything found as JSON, in mm and degrees; `-` prints it instead of the text.
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Unit of printed lengths [default: the scene's], and of --travel [default: mm].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str =
    "Exit status: 0 four of the five thresholds are met; 1 they aren't; 2 it could not be checked.";

/// Four travels, as typed.
#[derive(Clone, Copy, Debug)]
struct FourTravels([f64; 4]);

fn four(text: &str) -> std::result::Result<FourTravels, String> {
    let numbers: Vec<f64> = text
        .split(',')
        .map(|t| super::finite(t.trim()))
        .collect::<std::result::Result<_, _>>()?;
    numbers
        .try_into()
        .map(FourTravels)
        .map_err(|_| "expected four numbers, such as 0,0,-20,-20".to_owned())
}

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    super::check_targets(&arguments.scene.scene, arguments.json.as_deref())?;
    let truck = super::load(&arguments.scene)?;
    let units = super::units(arguments.units, truck.scene_unit);
    let travel_mm = arguments.travel.map_or([0.0; 4], |t| {
        t.0.map(|v| super::typed_mm(v, arguments.units))
    });
    let found = ground_findings(&truck, travel_mm).map_err(|e| standing(&e))?;
    let mut others: Vec<(String, GroundFindings)> = Vec::new();
    if arguments.all_setups {
        for (name, other) in super::load_setups(&arguments.scene.scene)? {
            let there = ground_findings(&other, travel_mm).map_err(|e| standing(&e))?;
            others.push((name, there));
        }
    }
    if let Some(target) = &arguments.json {
        super::write_json(target, &found)?;
    }
    if !arguments.json.as_deref().is_some_and(super::is_stdout) {
        super::print_answer(&truck, units, &ground_text(&found, &others, units))?;
    }
    Ok(if found.four_of_five {
        Status::Clear
    } else {
        Status::Found
    })
}

/// Why the truck can't stand.
pub(super) fn standing(error: &VehicleError) -> miette::Report {
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
    miette!(help = help, "{error}")
}
