//! The command line: arguments, one thin file per command, and how the program ends.

mod animate;
mod check;
mod clearance;
mod compare;
mod damper;
mod drive;
mod export;
mod ground;
mod interrupt;
mod keepout;
mod length_argument;
mod new;
#[cfg(feature = "viewer")]
mod picture;
mod pose;
mod progress;
mod schema;
mod sweep;
mod terminal;
mod tyre;
#[cfg(feature = "viewer")]
mod view;

use bindpoint::findings::Status;
use bindpoint::output::Units;
use bindpoint::plausibility::Implausible;
use bindpoint::scene::{LengthUnit, SceneError};
use bindpoint::space::PlayPath;
use bindpoint::suspension::Side;
use bindpoint::truck::Truck;
use clap::{Parser, Subcommand, ValueEnum};
use miette::{Report, Result, miette};
use std::io;
use std::path::{Path, PathBuf};
use terminal::print;
pub(crate) use terminal::{parse, show};

/// Kinematic sweep and collision check for independent front suspensions of off-road trucks: what stops
/// the wheel first, second and third, at every steering angle, and where metal touches.
#[derive(Debug, Parser)]
#[command(name = "bindpoint", version, about, max_term_width = 100, after_help = EXIT_STATUS)]
pub(crate) struct Cli {
    #[command(subcommand)]
    command: Command,
}

const EXIT_STATUS: &str = "Exit status: 0 clear; 1 a bind, a contact or a missing gap before the \
                           maker's stops; 2 it could not be checked.";

/// Whatever is asked of a command that this build lacks.
#[cfg(not(feature = "viewer"))]
#[derive(Debug, clap::Args)]
struct NoWindow {
    #[arg(trailing_var_arg = true, allow_hyphen_values = true)]
    _rest: Vec<std::ffi::OsString>,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Sweep the wheel over its whole travel and steering, and say what stops it and where it touches.
    Sweep(sweep::Arguments),
    /// Setups side by side: what a part buys and what it costs.
    Compare(compare::Arguments),
    /// The largest tyre that clears everything over the whole free travel.
    Tyre(tyre::Arguments),
    /// How long a damper may be at every steering angle, and what to change to gain more.
    Damper(damper::Arguments),
    /// What the truck clears on level ground: angles and clearances on the real shapes.
    Ground(ground::Arguments),
    /// Drive the truck over one of the scene's obstacles, and say what hits first.
    Drive(drive::Arguments),
    /// The space that moving parts take over the whole free travel, as a solid for CAD.
    Keepout(keepout::Arguments),
    /// The suspension in motion, as an animated file that any glTF viewer plays.
    Animate(animate::Arguments),
    /// How near everything that moves comes to one part, over the whole free travel, and where to trim it.
    Clearance(clearance::Arguments),
    /// Everything about one position: wheel angles, joints, limits and gaps.
    Pose(pose::Arguments),
    /// Open the window: see it move, see where it binds.
    #[cfg(feature = "viewer")]
    View(view::Arguments),
    /// Draw the truck at one position, or along a play path, into PNG files.
    #[cfg(feature = "viewer")]
    Picture(picture::Arguments),
    /// This build has no window.
    #[cfg(not(feature = "viewer"))]
    #[command(hide = true, aliases = ["picture"], disable_help_flag = true)]
    View(NoWindow),
    /// Write every part as it stands at one position, as STL files for CAD.
    Export(export::Arguments),
    /// Write a scene to fill in: an invented truck whose comments say what to measure.
    New(new::Arguments),
    /// Read a scene, say what it holds and whether it can be swept.
    Check(check::Arguments),
    /// Print every field of a scene file with its meaning.
    Schema,
}

impl Command {
    fn has_window(&self) -> bool {
        match self {
            #[cfg(feature = "viewer")]
            Command::View(_) => true,
            _ => false,
        }
    }
}

/// Runs the command that was asked for.
///
/// # Errors
/// What could not be checked, ready to be shown.
pub(crate) fn run(cli: &Cli) -> Result<Status> {
    terminal::follow_width();
    // The window has its own way to end.
    if !cli.command.has_window() {
        interrupt::ends_cleanly();
    }
    match &cli.command {
        Command::Sweep(arguments) => sweep::run(arguments),
        Command::Compare(arguments) => compare::run(arguments),
        Command::Tyre(arguments) => tyre::run(arguments),
        Command::Damper(arguments) => damper::run(arguments),
        Command::Ground(arguments) => ground::run(arguments),
        Command::Drive(arguments) => drive::run(arguments),
        Command::Keepout(arguments) => keepout::run(arguments),
        Command::Animate(arguments) => animate::run(arguments),
        Command::Clearance(arguments) => clearance::run(arguments),
        Command::Pose(arguments) => pose::run(arguments),
        #[cfg(feature = "viewer")]
        Command::View(arguments) => view::run(arguments),
        #[cfg(feature = "viewer")]
        Command::Picture(arguments) => picture::run(arguments),
        #[cfg(not(feature = "viewer"))]
        Command::View(_) => Err(miette::miette!(
            help = "build it with its default features, without `--no-default-features`; every other command is here",
            "this build has no window: `view` and `picture` need one"
        )),
        Command::Export(arguments) => export::run(arguments),
        Command::New(arguments) => new::run(arguments),
        Command::Check(arguments) => check::run(arguments),
        Command::Schema => schema::run(),
    }
}

/// Unit of printed lengths, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum UnitsArgument {
    /// Millimetres.
    Mm,
    /// Inches with two decimals.
    Inch,
    /// Inches and sixteenths, as on a tape.
    Sixteenths,
}

fn units(argument: Option<UnitsArgument>, scene: LengthUnit) -> Units {
    match argument {
        None => Units::of_scene(scene),
        Some(UnitsArgument::Mm) => Units::Mm,
        Some(UnitsArgument::Inch) => Units::Inch,
        Some(UnitsArgument::Sixteenths) => Units::Sixteenths,
    }
}

/// What the suspension does on a drive, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum SuspensionArgument {
    /// Held at ride height.
    Hold,
    /// Each wheel follows the ground.
    Follow,
}

impl SuspensionArgument {
    fn suspension(self) -> bindpoint::ground::Suspension {
        match self {
            SuspensionArgument::Hold => bindpoint::ground::Suspension::Held,
            SuspensionArgument::Follow => bindpoint::ground::Suspension::Follows,
        }
    }
}

/// An obstacle to be shown, by its name in the scene.
#[cfg(feature = "viewer")]
fn over(name: &str, truck: &Truck) -> Result<bindpoint::viewer::drive::Subject> {
    on_ground(truck)?;
    let names: Vec<&str> = truck
        .whole
        .iter()
        .flat_map(|w| &w.obstacles)
        .map(|o| o.entry.name.as_str())
        .collect();
    if names.contains(&name) {
        return Ok(bindpoint::viewer::drive::Subject::Over(name.to_owned()));
    }
    let help = if names.is_empty() {
        "the scene has no `obstacles`".to_owned()
    } else {
        format!("the obstacles are: `{}`", names.join("`, `"))
    };
    Err(miette!(help = help, "no obstacle is named `{name}`"))
}

/// The truck on level ground to be shown: it needs a rear axle to stand on.
#[cfg(feature = "viewer")]
fn on_ground(truck: &Truck) -> Result<bindpoint::viewer::drive::Subject> {
    if truck.whole.is_none() {
        return Err(ground::standing(
            &bindpoint::ground::VehicleError::NoRearAxle,
            Units::of_scene(truck.scene_unit),
        ));
    }
    Ok(bindpoint::viewer::drive::Subject::LevelGround)
}

/// A side, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum SideArgument {
    /// The +y side.
    Left,
    /// The -y side.
    Right,
}

impl SideArgument {
    fn side(self) -> Side {
        match self {
            SideArgument::Left => Side::Left,
            SideArgument::Right => Side::Right,
        }
    }
}

/// A play path, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum PathArgument {
    /// Bump to droop, straight ahead.
    Droop,
    /// Bump to droop, left lock.
    DroopLeft,
    /// Bump to droop, right lock.
    DroopRight,
    /// Lock to lock at full droop.
    Locks,
    /// Round the whole edge of the free travel.
    Limit,
}

impl PathArgument {
    fn path(self) -> PlayPath {
        match self {
            PathArgument::Droop => PlayPath::DroopStraight,
            PathArgument::DroopLeft => PlayPath::DroopLeftLock,
            PathArgument::DroopRight => PlayPath::DroopRightLock,
            PathArgument::Locks => PlayPath::LocksAtFullDroop,
            PathArgument::Limit => PlayPath::AroundTheLimit,
        }
    }
}

/// A number further from zero is no scale or duration of anything here.
const MOST_TYPED: f64 = 1.0e6;

/// A plain number, a scale or a duration, no length: `nan`, `inf` and what is out of all reason are refused.
fn finite(text: &str) -> std::result::Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if value.abs() <= MOST_TYPED => Ok(value),
        Ok(value) if value.is_finite() => {
            Err(format!("expected a number of no more than {MOST_TYPED}"))
        }
        Ok(_) => Err("this is not a finite number".to_owned()),
        Err(_) => Err("expected a plain number, such as -80 or 12.5".to_owned()),
    }
}

/// A gap that must remain, as typed: room, so that it has no sign.
fn check_gap(gap: Option<&length_argument::LengthArgument>) -> Result<()> {
    match gap.filter(|gap| gap.is_negative()) {
        None => Ok(()),
        Some(gap) => Err(miette!(
            help = "give the room that must remain, zero or more; parts that are meant to touch or overlap are named in \
                    the scene's `joined`",
            "--gap {}: a gap can't be below zero",
            gap.typed()
        )),
    }
}

/// Which truck: a scene, and one of its setups.
#[derive(Debug, clap::Args)]
struct SceneArguments {
    /// The scene file (.ron).
    scene: PathBuf,
    /// One of the scene's setups, or `as-measured` [default: as-measured]. `bindpoint check` lists them.
    #[arg(long, value_name = "NAME")]
    setup: Option<String>,
}

/// Reads the scene and builds the truck.
fn load(arguments: &SceneArguments) -> Result<Truck> {
    bindpoint::truck::load_setup(&arguments.scene, arguments.setup.as_deref()).map_err(Report::new)
}

/// The truck in every setup of its scene, the file and its meshes read once.
fn load_setups(scene: &Path) -> Result<Vec<(String, Truck)>> {
    let (built, left_out) = setups_that_can_be_built(scene)?;
    match left_out.into_iter().next() {
        Some((_, report)) => Err(report),
        None => Ok(built),
    }
}

/// Trucks with the setups' names.
type Named<T> = Vec<(String, T)>;

/// The truck in every setup that it can be built in, and why it can't be in the others.
fn setups_that_can_be_built(scene: &Path) -> Result<(Named<Truck>, Named<Report>)> {
    let (read, text) = bindpoint::scene::read_scene(scene).map_err(Report::new)?;
    let meshes = bindpoint::truck::MeshStore::new(scene.parent().unwrap_or(Path::new(".")));
    let (mut built, mut left_out) = (Vec::new(), Vec::new());
    for setup in &read.setups {
        match bindpoint::truck::assemble_setup(&read, Some(&setup.name), &meshes) {
            Ok(truck) => built.push((setup.name.clone(), truck.located(&text))),
            Err(problem) => {
                let report = Report::new(SceneError::from_problem(&problem, scene, &text));
                left_out.push((setup.name.clone(), report));
            }
        }
    }
    Ok((built, left_out))
}

/// Setups that a table of all setups leaves out, as warnings; the page of `compare` says more of them.
fn left_out_words(left_out: &Named<Report>) -> Vec<String> {
    let words = left_out
        .iter()
        .map(|(name, why)| format!("{name} is left out, it can't be built: {why}"));
    words.collect()
}

/// The rack position to take: the lock itself for what was typed as the lock and misses it by the last
/// printed digit; beyond that it is refused. Locks are given as (toward -y, toward +y).
fn within_locks(rack_mm: f64, locks_mm: [f64; 2], units: Units) -> Result<f64> {
    // Half of the last digit that is printed.
    let printed_mm = match units {
        Units::Mm => 0.05,
        Units::Inch => 0.005 * 25.4,
        Units::Sixteenths => 25.4 / 32.0,
    } + 1.0e-6;
    let [low, high] = locks_mm;
    if (low - printed_mm..=high + printed_mm).contains(&rack_mm) {
        return Ok(rack_mm.clamp(low, high));
    }
    Err(miette!(
        help = "rack positions count from straight ahead, toward the truck's left positive",
        "rack {} is beyond the locks, which are at {} and {} {}",
        units.signed(rack_mm),
        units.signed(low),
        units.signed(high),
        units.name()
    ))
}

/// Prints an answer about a truck to stdout. What is implausible about its scene comes first: the answer is no better. What
/// else a person should know before trusting it comes last, unless the answer says it itself.
fn print_answer(truck: &Truck, units: Units, text: &str) -> Result<()> {
    print_warned(truck, truck.further_warnings(), units, text)
}

/// The warnings of a truck and of its other setups, what each says beyond the first with its name.
fn warnings_with<'w>(
    first: &[String],
    others: impl Iterator<Item = (&'w str, &'w [String])>,
) -> Vec<String> {
    let mut out = first.to_vec();
    for (name, warnings) in others {
        let new = warnings.iter().filter(|warning| !first.contains(warning));
        out.extend(new.map(|warning| format!("{name}: {warning}")));
    }
    out
}

/// The same with warnings of more than this truck, or of none.
fn print_warned(truck: &Truck, warnings: &[String], units: Units, text: &str) -> Result<()> {
    print(&format!(
        "{}{text}{}",
        implausible(&truck.implausible, units),
        bindpoint::output::warnings_text(&further(warnings, &truck.implausible), units)
    ))
}

/// What is implausible about a scene whose truck isn't at hand, with its lines in the scene's text.
fn implausible_of(scene: &bindpoint::scene::Scene, text: &str) -> Vec<Implausible> {
    let found = bindpoint::plausibility::implausible(scene).into_iter();
    found.map(|i| i.in_text(text)).collect()
}

/// Every answer's JSON has all warnings. In its text what is implausible stands above all else, so not among them again.
fn further(warnings: &[String], told: &[Implausible]) -> Vec<String> {
    let told: Vec<String> = told.iter().map(ToString::to_string).collect();
    let further = warnings.iter().filter(|warning| !told.contains(warning));
    further.cloned().collect()
}

/// Warnings of trucks that were made without the scene's text get the lines of what is implausible.
fn locate(warnings: &mut [String], told: &[Implausible]) {
    for one in told {
        let without = Implausible {
            line: None,
            ..one.clone()
        };
        let without = without.to_string();
        for warning in warnings.iter_mut().filter(|warning| **warning == without) {
            *warning = one.to_string();
        }
    }
}

/// Where a part that isn't there is misspelt, or comes with a setup: what was likely meant, and the command that asks. `known`
/// are the parts that there are.
fn missing_part(command: &str, scene: &Path, pattern: &str, known: &[&str]) -> String {
    let listed = || format!("the parts are: `{}`", known.join("`, `"));
    // One from a pipe can be read only once.
    let read = scene
        .is_file()
        .then(|| bindpoint::scene::read_scene(scene).ok());
    let setups = match read.flatten() {
        Some((read, _)) => {
            let found = bindpoint::setups::setups_with_part(&read, pattern);
            found.iter().map(|&name| name.to_owned()).collect()
        }
        None => Vec::new(),
    };
    match &setups[..] {
        [first, ..] => format!(
            "it comes with the setup `{}`: {command} --setup {}; without it {}",
            setups.join("`, `"),
            quoted(first),
            listed()
        ),
        [] => {
            let question = bindpoint::scene::did_you_mean(pattern, known.iter().copied());
            format!("{question}{}", listed())
        }
    }
}

/// A name as it is typed: in quotation marks where it has to be.
fn quoted(name: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "-_./".contains(c);
    if !name.is_empty() && name.chars().all(is_plain) {
        name.to_owned()
    } else if name.contains(['"', '$', '`', '\\', '!']) {
        format!("'{}'", name.replace('\'', "'\\''"))
    } else {
        format!("\"{name}\"")
    }
}

/// What is implausible about a scene, in words.
fn implausible(found: &[Implausible], units: Units) -> String {
    use bindpoint::output::{text_width, wrap};
    let mut out = String::new();
    for one in found {
        let text = format!("Check the scene: {}.", units.reworded(&one.to_string()));
        out.push_str(&wrap(&text, text_width(), "  "));
        out.push('\n');
    }
    if let [first, ..] = found {
        let text = format!(
            "A value that was measured again and is right is named in the scene, `measured: [\"{}\"]`: it is then neither warned \
             of nor blamed for anything else.",
            first.path
        );
        out.push_str(&wrap(&text, text_width(), "  "));
        out.push_str("\n\n");
    }
    out
}

/// A message of the library in the unit that the answer would have been in: inside everything is in millimetres.
fn told_in(units: Units, error: &impl std::fmt::Display) -> String {
    units.reworded(&error.to_string())
}

/// Says before the work, not after it, that a file can't be written: its folder isn't there, it would replace
/// what is read, or two outputs have one name. `-` and what isn't there yet are fine.
fn check_targets<'a>(scene: &Path, targets: impl IntoIterator<Item = &'a Path>) -> Result<()> {
    let mut inputs: Option<Vec<PathBuf>> = None;
    let mut places: Vec<PathBuf> = Vec::new();
    for target in targets {
        if is_stdout(target) {
            continue;
        }
        let folder = match target.parent() {
            Some(parent) if parent != Path::new("") => parent,
            _ => Path::new("."),
        };
        let known = std::fs::metadata(folder).map_err(|e| unwritten(target, &e))?;
        if !known.is_dir() {
            let error = io::Error::from(io::ErrorKind::NotADirectory);
            return Err(unwritten(target, &error));
        }
        let place = match (target.canonicalize(), folder.canonicalize()) {
            (Ok(there), _) => {
                let inputs = inputs.get_or_insert_with(|| inputs_of(scene));
                if inputs.contains(&there) {
                    return Err(miette!(
                        help =
                            "give another name: the scene and its meshes are read, never written",
                        "{} belongs to the scene",
                        target.display()
                    ));
                }
                there
            }
            (Err(_), Ok(folder)) => folder.join(target.file_name().unwrap_or_default()),
            (Err(_), Err(_)) => target.to_owned(),
        };
        // A device takes more than one.
        if places.contains(&place) && (place.is_file() || !place.exists()) {
            return Err(miette!(
                help = "give each output a name of its own",
                "two outputs are to be written to {}",
                target.display()
            ));
        }
        places.push(place);
    }
    Ok(())
}

/// The scene file and every mesh file that it names, where they are. What is wrong with the scene is said when
/// it is loaded; one from a pipe can be read only once, and lies in no folder.
fn inputs_of(scene: &Path) -> Vec<PathBuf> {
    if !scene.is_file() {
        return Vec::new();
    }
    let mut out = vec![scene.to_owned()];
    if let Ok((read, _)) = bindpoint::scene::read_scene(scene) {
        let folder = scene.parent().unwrap_or(Path::new("."));
        let files = bindpoint::scene::mesh_files(&read);
        out.extend(files.into_iter().map(|file| folder.join(file)));
    }
    out.iter().filter_map(|p| p.canonicalize().ok()).collect()
}

/// A file that could not be written.
fn unwritten(path: &Path, error: &io::Error) -> Report {
    use io::ErrorKind as Kind;
    let help = match error.kind() {
        Kind::StorageFull | Kind::QuotaExceeded | Kind::FileTooLarge => {
            "make room on that disk, or name a file on another; what was there before is unchanged"
        }
        Kind::PermissionDenied | Kind::ReadOnlyFilesystem => {
            "it may not be written to: name a file in a folder of your own"
        }
        Kind::AlreadyExists => "a file has that name: name a folder",
        Kind::IsADirectory => "name a file in it",
        _ => "check that the folder exists and may be written to",
    };
    miette!(help = help, "cannot write {}: {error}", path.display())
}

/// Why nothing could be shown or drawn.
#[cfg(feature = "viewer")]
fn unseen(error: &bindpoint::viewer::ViewError, units: Units) -> Report {
    miette!(help = error.help(), "{}", told_in(units, error))
}

/// Prints JSON to stdout for `-`, else writes the file.
fn write_json<T: serde::Serialize>(target: &Path, findings: &T) -> Result<()> {
    if is_stdout(target) {
        let text = bindpoint::output::json::to_text(findings)
            .map_err(|error| miette!("cannot write the JSON: {error}"))?;
        terminal::print_as_it_is(&text)
    } else {
        bindpoint::output::json::write(target, findings).map_err(|e| unwritten(target, &e))
    }
}

fn is_stdout(target: &Path) -> bool {
    target == Path::new("-")
}
