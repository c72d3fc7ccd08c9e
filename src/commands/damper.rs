//! `bindpoint damper`: how long a damper may be.

use super::UnitsArgument;
use super::length_argument::{LengthArgument, asked};
use bindpoint::findings::Status;
use bindpoint::output::damper_text;
use bindpoint::sweep::{damper_findings, damper_status};
use miette::{Result, miette};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Wheel travel to keep before anything else stops the wheel, for what the tape got wrong: in the scene's unit, or as typed: `90mm`, `3.5in`, `"3 1/2"`, `3-1/2in`
    /// [default: 0].
    #[arg(long, value_name = "M", allow_hyphen_values = true)]
    margin: Option<LengthArgument>,
    /// Write everything found as JSON, in mm and degrees; `-` prints it instead of the text.
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str = "Exit status: 0 what is fitted keeps the margin; 1 it doesn't, or the damper bottoms before its \
                     bump stop is crushed; 2 it could not be checked.";

/// A greater margin than this leaves no travel, mm.
const MOST_MARGIN_MM: f64 = 200.0;

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    super::check_targets(&arguments.scene.scene, arguments.json.as_deref())?;
    let truck = super::load(&arguments.scene)?;
    let units = super::units(arguments.units, truck.scene_unit);
    let margin_mm = match &arguments.margin {
        None => 0.0,
        Some(margin) => {
            let mm = margin.in_mm(truck.scene_unit);
            if !(0.0..=MOST_MARGIN_MM).contains(&mm) {
                return Err(miette!(
                    help = units.reworded(
                        "the margin is wheel travel, zero or more; 10 mm covers a careful tape measure"
                    ),
                    "{} is not a margin",
                    margin.told(truck.scene_unit)
                ));
            }
            mm
        }
    };
    let progress = super::progress::Progress::new("damper lengths tried");
    let mut findings = damper_findings(&truck, margin_mm);
    progress.finish();
    let status = damper_status(&findings);
    if let Some(target) = &arguments.json {
        super::write_json(target, &findings)?;
    }
    if !arguments.json.as_deref().is_some_and(super::is_stdout) {
        let asked = asked(truck.scene_unit, [("margin", arguments.margin.as_ref())]);
        findings.warnings = super::further(&findings.warnings, &truck.implausible);
        super::print_warned(
            &truck,
            &[],
            units,
            &(asked + &damper_text(&findings, units, status)),
        )?;
    }
    Ok(status)
}
