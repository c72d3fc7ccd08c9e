//! `bindpoint view`: the window.

use super::{SuspensionArgument, UnitsArgument};
use bindpoint::findings::Status;
use bindpoint::viewer::document::Document;
use bindpoint::viewer::drive::Subject;
use bindpoint::viewer::ghost::{Ghost, GhostOf};
use bindpoint::viewer::{WindowOptions, open};
use miette::{Report, Result};
use std::path::PathBuf;
use std::time::Duration;

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Keys are listed in the window under Keys. Exit status: 0; 2 if nothing could be \
                        shown."
)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Begin with the whole truck on its drive over one of the scene's obstacles.
    #[arg(long, value_name = "OBSTACLE", conflicts_with_all = ["ghost", "measure"])]
    over: Option<String>,
    /// Begin with the whole truck on level ground.
    #[arg(long, conflicts_with_all = ["over", "ghost", "measure"])]
    ground: bool,
    /// Hold the suspension at ride height on the drive, or let each wheel follow the ground by its springs [default:
    /// follow where the scene has `wheel_springs`].
    #[arg(long, value_enum, requires = "over")]
    suspension: Option<SuspensionArgument>,
    /// Draw over it what another of the scene's setups has elsewhere or otherwise, see-through; `as-measured`
    /// for the truck without changes.
    #[arg(long, value_name = "NAME")]
    ghost: Option<String>,
    /// Unit of lengths to begin with [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
    /// Size of the window to begin with, such as 1600x900 [default: 1280x720].
    #[arg(long, value_name = "WxH", value_parser = super::picture::size)]
    size: Option<[u32; 2]>,
    /// Play around the limit for so many seconds with a sweep always under way, print how long frames
    /// took, and end.
    #[arg(long, value_name = "SECONDS", value_parser = clap::value_parser!(u64).range(1..=600))]
    measure: Option<u64>,
    /// Write what the window shows to this file as JSON lines, with the places of its widgets: for tests
    /// that drive it.
    #[arg(long, value_name = "FILE", hide = true)]
    trace: Option<PathBuf>,
}

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    let (scene, setup) = (&arguments.scene.scene, arguments.scene.setup.as_deref());
    let document = Document::open_setup(scene, setup).map_err(Report::new)?;
    let ghost = Ghost::open(&document, arguments.ghost.as_deref().map(GhostOf::typed))
        .map_err(Report::new)?;
    let trace = match &arguments.trace {
        Some(path) => {
            Some(std::fs::File::create(path).map_err(|error| super::unwritten(path, &error))?)
        }
        None => None,
    };
    let subject = match (&arguments.over, arguments.ground) {
        (Some(over), _) => super::over(over, document.truck())?,
        (None, true) => super::on_ground(document.truck())?,
        (None, false) => Subject::Suspension,
    };
    let units = super::units(arguments.units, document.truck().scene_unit);
    let options = WindowOptions {
        size: arguments.size,
        units: arguments.units.map(|_| units),
        ghost,
        subject,
        suspension: arguments.suspension.map(SuspensionArgument::suspension),
        trace,
        measure: arguments.measure.map(Duration::from_secs),
    };
    open(document, options).map_err(|error| super::unseen(&error, units))?;
    Ok(Status::Clear)
}
