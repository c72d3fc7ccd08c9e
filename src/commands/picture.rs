//! `bindpoint picture`: pictures without a window.

use super::length_argument::{LengthArgument, asked};
use super::{PathArgument, SuspensionArgument, UnitsArgument};
use bindpoint::findings::Status;
use bindpoint::output::Units;
use bindpoint::scene::LengthUnit;
use bindpoint::space::{ClearanceOptions, KeepOutOptions};
use bindpoint::suspension::Body;
use bindpoint::truck::Corner;
use bindpoint::viewer::document::Document;
use bindpoint::viewer::drive::Subject;
use bindpoint::viewer::framing::View;
use bindpoint::viewer::ghost::{Ghost, GhostOf};
use bindpoint::viewer::keep_out::{DRAWN_KEEP_OUT_RESOLUTION_MM, KeepOutChoice};
use bindpoint::viewer::picture::{
    DrivePlace, PictureOptions, Studio, measure_frames, write_drive_frames, write_frames, write_png,
};
use bindpoint::viewer::section::{CutAcross, CutAt, Section};
use bindpoint::viewer::shown::Page;
use clap::ValueEnum;
use indicatif::ProgressBar;
use miette::{Report, Result, miette};
use std::path::{Path, PathBuf};
use std::time::Duration;

#[derive(Debug, clap::Args)]
#[command(after_help = "Exit status: 0 drawn; 2 if nothing could be drawn.")]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Draw the whole truck on its drive over one of the scene's obstacles.
    #[arg(long, value_name = "OBSTACLE", conflicts_with_all = SUSPENSION_ONLY)]
    over: Option<String>,
    /// Draw the whole truck on level ground with its approach, breakover and departure angles.
    #[arg(long, conflicts_with_all = SUSPENSION_ONLY, conflicts_with_all = ["over", "frames"])]
    ground: bool,
    /// Where on the drive: `contact`, the first; `start`; or how far the front axle's middle is from the obstacle's
    /// front, past it positive: in the scene's unit, or as typed: `90mm`, `3.5in`, `"3 1/2"`, `3-1/2in`
    /// [default: the first contact or, without one, the place of the least clearance].
    #[arg(long, value_name = "PLACE", allow_hyphen_values = true, value_parser = place, requires = "over", conflicts_with = "frames")]
    at: Option<AtArgument>,
    /// Hold the suspension at ride height on the drive, or let each wheel follow the ground by its springs [default:
    /// follow where the scene has `wheel_springs`].
    #[arg(long, value_enum, requires = "over")]
    suspension: Option<SuspensionArgument>,
    /// Draw over it what another of the scene's setups has elsewhere or otherwise, see-through; `as-measured`
    /// for the truck without changes.
    #[arg(long, value_name = "NAME")]
    ghost: Option<String>,
    /// Wheel travel from the measured position, bump positive: in the scene's unit, or as typed: `90mm`, `3.5in`, `"3 1/2"`, `3-1/2in`
    /// [default: 0].
    #[arg(long, value_name = "T", allow_hyphen_values = true)]
    travel: Option<LengthArgument>,
    /// Rack from straight ahead, toward the left positive: unit as above [default: 0].
    #[arg(long, value_name = "R", allow_hyphen_values = true)]
    rack: Option<LengthArgument>,
    /// The picture (.png).
    #[arg(long, value_name = "FILE", required_unless_present_any = ["frames", "measure"])]
    out: Option<PathBuf>,
    /// Pictures along a play path or, with --over, along the drive instead of one, written to this folder as 0001.png, 0002.png, ...
    #[arg(long, value_name = "DIR", conflicts_with_all = ["out", "travel", "rack"])]
    frames: Option<PathBuf>,
    /// The play path of --frames.
    #[arg(long, value_enum, default_value_t = PathArgument::Limit)]
    path: PathArgument,
    /// How many pictures --frames writes.
    #[arg(long, value_name = "N", default_value_t = 60, value_parser = clap::value_parser!(u16).range(2..=5000))]
    count: u16,
    /// From where [default: three-quarter; the whole truck from its side].
    #[arg(long, value_enum)]
    view: Option<ViewArgument>,
    /// Size in pixels, each side from 64 to 8192.
    #[arg(long, value_name = "WxH", value_parser = size, default_value = "1280x720")]
    size: [u32; 2],
    /// Unit of lengths in the picture [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
    /// Draw this part alone; may be given several times.
    #[arg(long, value_name = "PART")]
    only: Vec<String>,
    /// Cut the truck open through this joint.
    #[arg(long, value_enum, value_name = "JOINT")]
    cut: Option<CutArgument>,
    /// Which way the cut runs: across the truck, along it, or level.
    #[arg(long, value_enum, default_value_t = AcrossArgument::Across, requires = "cut")]
    cut_way: AcrossArgument,
    /// Draw the keep-out solid of these moving parts: the space that they take over the whole free travel. `*` stands
    /// for anything, names apart by commas or given again.
    #[arg(long, value_name = "PARTS", value_delimiter = ',')]
    keepout: Vec<String>,
    /// Room that the keep-out solid leaves around every position: unit as above [default: 0].
    #[arg(
        long,
        value_name = "MARGIN",
        allow_hyphen_values = true,
        requires = "keepout"
    )]
    margin: Option<LengthArgument>,
    /// How exact the keep-out solid is: it exceeds what it must hold by no more than four times this: unit as above
    /// [default: 6 mm].
    #[arg(
        long,
        value_name = "SIZE",
        allow_hyphen_values = true,
        requires = "keepout"
    )]
    resolution: Option<LengthArgument>,
    /// The body that the keep-out solid is seen from, and drawn with.
    #[arg(long, value_name = "BODY", default_value = "frame", value_parser = super::keepout::body, requires = "keepout")]
    on: Body,
    /// Draw this part in the colours of its clearance map: how near everything comes to it over the whole free travel.
    #[arg(long, value_name = "PART")]
    clearance: Option<String>,
    /// The gap that must remain to the part of --clearance: unit as above [default: what the scene watches each pair
    /// for; nothing but contact where it watches none].
    #[arg(
        long,
        value_name = "GAP",
        allow_hyphen_values = true,
        requires = "clearance"
    )]
    gap: Option<LengthArgument>,
    /// Look at this part from near by, instead of at the whole corner.
    #[arg(long, value_name = "PART")]
    near: Option<String>,
    /// Draw tyre, rim and the truck's body solid: they are seen through otherwise.
    #[arg(long)]
    solid_wheel: bool,
    /// Leave out labels, caption and legend.
    #[arg(long)]
    no_labels: bool,
    /// Leave out joint angles, cones and plunge.
    #[arg(long)]
    no_joints: bool,
    /// Leave out the tightest gap's line and the first contact's marks.
    #[arg(long)]
    no_marks: bool,
    /// Leave out the ground.
    #[arg(long)]
    no_ground: bool,
    /// Draw the window's panels round it too, with this page at the left.
    #[arg(long, value_enum, value_name = "PAGE")]
    panels: Option<PageArgument>,
    /// Play around the limit for so many seconds with a sweep always under way, print how long frames
    /// took, and end.
    #[arg(long, value_name = "SECONDS", value_parser = clap::value_parser!(u64).range(1..=600), conflicts_with = "frames")]
    measure: Option<u64>,
}

/// What belongs to a picture of the suspension alone.
const SUSPENSION_ONLY: [&str; 17] = [
    "travel",
    "rack",
    "path",
    "ghost",
    "only",
    "cut",
    "cut_way",
    "keepout",
    "margin",
    "resolution",
    "on",
    "clearance",
    "gap",
    "near",
    "solid_wheel",
    "no_joints",
    "measure",
];

/// A place along the drive, as typed.
#[derive(Clone, Debug)]
enum AtArgument {
    Contact,
    Start,
    Place(LengthArgument),
}

impl AtArgument {
    fn length(&self) -> Option<&LengthArgument> {
        match self {
            AtArgument::Place(length) => Some(length),
            AtArgument::Contact | AtArgument::Start => None,
        }
    }
}

fn place(text: &str) -> std::result::Result<AtArgument, String> {
    match text {
        "contact" => Ok(AtArgument::Contact),
        "start" => Ok(AtArgument::Start),
        length => length.parse().map(AtArgument::Place).map_err(|_| {
            "expected `contact`, `start` or a length: a plain number, such as 312.5, or 12.3in"
                .to_owned()
        }),
    }
}

/// A view, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum ViewArgument {
    /// From ahead.
    Front,
    /// From behind.
    Rear,
    /// From the corner's own side.
    Side,
    /// From above.
    Top,
    /// From below.
    Bottom,
    /// From ahead, outboard and above.
    ThreeQuarter,
}

/// A joint, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
#[expect(clippy::enum_variant_names, reason = "typed as the joints are named")]
enum CutArgument {
    /// Inner halfshaft joint.
    InnerJoint,
    /// Outer halfshaft joint.
    OuterJoint,
    /// Upper ball joint.
    UpperBallJoint,
    /// Lower ball joint.
    LowerBallJoint,
}

/// A cut's way, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum AcrossArgument {
    /// Across the truck: what is ahead is left out.
    Across,
    /// Along the truck: what is outboard is left out.
    Along,
    /// Level: what is above is left out.
    Level,
}

/// A page, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum PageArgument {
    /// What stops the wheel.
    Stops,
    /// Parts and gaps.
    Parts,
    /// The scene's numbers.
    Edit,
    /// Room for a bracket.
    Room,
}

/// `1280x720`.
pub(super) fn size(text: &str) -> std::result::Result<[u32; 2], String> {
    let side = |s: &str| s.parse::<u32>().ok().filter(|v| (64..=8192).contains(v));
    text.split_once(['x', 'X'])
        .and_then(|(w, h)| Some([side(w)?, side(h)?]))
        .ok_or_else(|| "expected width x height in pixels, each 64 to 8192: 1280x720".to_owned())
}

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    super::check_gap(arguments.gap.as_ref())?;
    let (scene, setup) = (&arguments.scene.scene, arguments.scene.setup.as_deref());
    let document = Document::open_setup(scene, setup).map_err(Report::new)?;
    let ghost = Ghost::open(&document, arguments.ghost.as_deref().map(GhostOf::typed))
        .map_err(Report::new)?;
    let corner = document.corner();
    let units = super::units(arguments.units, document.truck().scene_unit);
    let scene_unit = document.truck().scene_unit;
    let mm = |length: Option<&LengthArgument>| length.map_or(0.0, |l| l.in_mm(scene_unit));
    let travel_mm = mm(arguments.travel.as_ref());
    let rack_mm = mm(arguments.rack.as_ref());
    let rack_mm = super::within_locks(rack_mm, corner.rack_mm, units)?;
    check_parts(
        arguments
            .only
            .iter()
            .chain(&arguments.clearance)
            .chain(&arguments.near),
        &document,
    )?;
    let subject = match (&arguments.over, arguments.ground) {
        (Some(over), _) => super::over(over, document.truck())?,
        (None, true) => super::on_ground(document.truck())?,
        (None, false) => Subject::Suspension,
    };
    let on_ground = subject != Subject::Suspension;
    if on_ground
        && matches!(
            arguments.panels,
            Some(PageArgument::Parts | PageArgument::Room)
        )
    {
        return Err(miette!(
            help = "with --over and --ground there are `--panels stops` and `--panels edit`",
            "parts, gaps and room are those of the suspension"
        ));
    }
    if let Some(out) = arguments.out.as_deref().filter(|out| !is_png(out)) {
        return Err(miette!(
            help = "pictures are written as PNG: give a name that ends in .png",
            "{} is not a .png",
            out.display()
        ));
    }
    let options = PictureOptions {
        keep_out: keep_out(arguments, corner, scene_unit)?,
        clearance: arguments.clearance.as_ref().map(|part| ClearanceOptions {
            required_mm: arguments.gap.as_ref().map(|gap| gap.in_mm(scene_unit)),
            ..ClearanceOptions::usual(part)
        }),
        ..options(arguments, units, ghost, subject)
    };
    if let Some(seconds) = arguments.measure {
        let report = measure_frames(document, &options, Duration::from_secs(seconds))
            .map_err(|error| super::unseen(&error, units))?;
        super::print(&format!("{report}\n"))?;
        return Ok(Status::Clear);
    }
    // A sequence has a bar of its own, by frames.
    let progress = match arguments.frames {
        None => Some(super::progress::Progress::new("drawing")),
        Some(_) => None,
    };
    let drawn = (|| {
        let mut studio = Studio::new(document, &options)?;
        if let Some(folder) = &arguments.frames {
            let bar = if super::terminal::shows_progress() {
                ProgressBar::new(arguments.count.into())
            } else {
                ProgressBar::hidden()
            };
            let (count, tell) = (arguments.count.into(), |done| bar.set_position(done as u64));
            if on_ground {
                write_drive_frames(&mut studio, count, folder, &tell)?;
            } else {
                write_frames(&mut studio, arguments.path.path(), count, folder, &tell)?;
            }
            bar.finish_and_clear();
        } else if let Some(out) = arguments.out.as_ref().filter(|_| on_ground) {
            let place = match &arguments.at {
                None => DrivePlace::Telling,
                Some(AtArgument::Contact) => DrivePlace::Contact,
                Some(AtArgument::Start) => DrivePlace::Start,
                Some(AtArgument::Place(x)) => DrivePlace::At(x.in_mm(scene_unit)),
            };
            write_png(&studio.take_drive(place)?, out)?;
        } else if let Some(out) = &arguments.out {
            write_png(&studio.take(travel_mm, rack_mm)?, out)?;
            return Ok(studio.ghost_words());
        }
        Ok(None)
    })();
    drop(progress);
    let words = drawn.map_err(|error| super::unseen(&error, units))?;
    let asked = asked(
        scene_unit,
        [
            ("travel", arguments.travel.as_ref()),
            ("rack", arguments.rack.as_ref()),
            ("at", arguments.at.as_ref().and_then(AtArgument::length)),
            ("margin", arguments.margin.as_ref()),
            ("resolution", arguments.resolution.as_ref()),
            ("gap", arguments.gap.as_ref()),
        ],
    );
    super::print(&asked)?;
    // A picture can't show what isn't drawn: that nothing differs, or that the other one can't go there.
    if let Some(words) = words {
        super::print(&format!("{words}\n"))?;
    }
    Ok(Status::Clear)
}

fn is_png(path: &Path) -> bool {
    path.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("png"))
}

fn check_parts<'a>(names: impl Iterator<Item = &'a String>, document: &Document) -> Result<()> {
    let parts = &document.corner().parts;
    for name in names {
        if !parts.iter().any(|p| p.name == *name) {
            let names: Vec<&str> = parts.iter().map(|p| p.name.as_str()).collect();
            let question = bindpoint::scene::did_you_mean(name, names.iter().copied());
            let help = format!("{question}its parts are: {}", names.join(", "));
            return Err(miette!(
                help = help,
                "this corner has no part named `{name}`"
            ));
        }
    }
    Ok(())
}

/// The keep-out solid that is asked for.
fn keep_out(
    arguments: &Arguments,
    corner: &Corner,
    scene_unit: LengthUnit,
) -> Result<Option<KeepOutChoice>> {
    if arguments.keepout.is_empty() {
        return Ok(None);
    }
    let mm = |length: &Option<LengthArgument>| Some(length.as_ref()?.in_mm(scene_unit));
    let parts =
        super::keepout::chosen(corner, &arguments.keepout, arguments.on, &arguments.scene)?.parts;
    Ok(Some(KeepOutChoice {
        parts: parts
            .into_iter()
            .map(|i| corner.parts[i].name.clone())
            .collect(),
        on: arguments.on,
        options: KeepOutOptions {
            margin_mm: mm(&arguments.margin).unwrap_or(0.0),
            resolution_mm: mm(&arguments.resolution).unwrap_or(DRAWN_KEEP_OUT_RESOLUTION_MM),
        },
    }))
}

fn options(arguments: &Arguments, units: Units, ghost: Ghost, subject: Subject) -> PictureOptions {
    let usual = match subject {
        Subject::Suspension => View::ThreeQuarter,
        Subject::LevelGround | Subject::Over(_) => View::Side,
    };
    PictureOptions {
        size: arguments.size,
        view: arguments.view.map_or(usual, ViewArgument::view),
        near: arguments.near.clone(),
        units: Some(units),
        only: arguments.only.clone(),
        see_through_wheel: !arguments.solid_wheel,
        section: Section {
            on: arguments.cut.is_some(),
            at: arguments.cut.map_or(CutAt::InnerJoint, CutArgument::at),
            across: match arguments.cut_way {
                AcrossArgument::Across => CutAcross::Truck,
                AcrossArgument::Along => CutAcross::Side,
                AcrossArgument::Level => CutAcross::Level,
            },
            offset_mm: 0.0,
        },
        joints: !arguments.no_joints,
        marks: !arguments.no_marks,
        labels: !arguments.no_labels,
        ground: !arguments.no_ground,
        panels: arguments.panels.map(|page| match page {
            PageArgument::Stops => Page::Stops,
            PageArgument::Parts => Page::Parts,
            PageArgument::Edit => Page::Edit,
            PageArgument::Room => Page::Room,
        }),
        ghost,
        keep_out: None,
        clearance: None,
        subject,
        suspension: arguments.suspension.map(SuspensionArgument::suspension),
    }
}

impl ViewArgument {
    fn view(self) -> View {
        match self {
            ViewArgument::Front => View::Front,
            ViewArgument::Rear => View::Rear,
            ViewArgument::Side => View::Side,
            ViewArgument::Top => View::Top,
            ViewArgument::Bottom => View::Bottom,
            ViewArgument::ThreeQuarter => View::ThreeQuarter,
        }
    }
}

impl CutArgument {
    fn at(self) -> CutAt {
        match self {
            CutArgument::InnerJoint => CutAt::InnerJoint,
            CutArgument::OuterJoint => CutAt::OuterJoint,
            CutArgument::UpperBallJoint => CutAt::UpperBallJoint,
            CutArgument::LowerBallJoint => CutAt::LowerBallJoint,
        }
    }
}
