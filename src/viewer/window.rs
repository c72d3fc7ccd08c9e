//! The window itself: plugins put together, and how often it draws.

use super::background::{BackgroundPlugin, Found, Wake};
use super::clearance_map::{ClearanceMapPlugin, ClearanceWorkerPlugin, ShownMap};
use super::clearance_probe::{ClearanceMarksPlugin, ClearanceProbePlugin};
use super::contacts::{ContactsPlugin, PickingPlugin};
use super::controls::ControlsPlugin;
use super::document::Document;
use super::drive::{Drive, DrivePlugin, Subject};
use super::drive_marks::DriveMarksPlugin;
use super::drive_panel::DrivePanelPlugin;
use super::drive_worker::DriveWorkerPlugin;
use super::ghost::{Ghost, GhostPlugin};
use super::ghost_parts::GhostPartsPlugin;
use super::joints::JointsPlugin;
use super::keep_out::{KeepOutSolid, KeepOutWorkerPlugin};
use super::keep_out_body::KeepOutBodyPlugin;
use super::labels::LabelsPlugin;
use super::left_panel::LeftPanelPlugin;
use super::look::{self, Look, LookPlugin};
use super::motion::{Motion, MotionPlugin, MotionSet};
use super::panels::PanelsPlugin;
use super::part_colours::PartColoursPlugin;
use super::part_handles::PartHandlesPlugin;
use super::part_material::PartMaterialPlugin;
use super::reload::ReloadPlugin;
use super::room_page::RoomPagePlugin;
use super::section::SectionPlugin;
use super::shown::{Page, Shown};
use super::suspension::SuspensionPlugin;
use super::trace::{Trace, TracePlugin};
use super::travel_map::TravelMapPlugin;
use super::whole_truck::WholeTruckPlugin;
use crate::ground::{DriveError, Suspension};
use crate::output::Units;
use crate::space::{ClearanceError, KeepOutError};
use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::renderer::RenderAdapterInfo;
use bevy::window::{PrimaryWindow, RequestRedraw, WindowCloseRequested};
use bevy::winit::{EventLoopProxyWrapper, UpdateMode, WinitSettings, WinitUserEvent};
use bevy_egui::EguiPlugin;
use bevy_panorbit_camera::PanOrbitCamera;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Why nothing can be shown.
#[derive(Debug, thiserror::Error)]
pub enum ViewError {
    /// No graphics driver.
    #[error("no graphics adapter was found")]
    NoAdapter,
    /// No screen to open a window on.
    #[error("there is no screen to open a window on")]
    NoScreen,
    /// An image could not be made.
    #[error("the picture could not be made: {0}")]
    NoPicture(String),
    /// The travel and rack asked for can't be reached.
    #[error("{0}")]
    Unreached(#[from] crate::kinematics::ReachError),
    /// The truck can't be put on the ground, or not on this drive.
    #[error("{0}")]
    Drive(#[from] DriveError),
    /// A place that the drive doesn't come to, or a contact on one without any.
    #[error("{0}")]
    NoSuchPlace(String),
    /// There is no keep-out solid.
    #[error("{0}")]
    KeepOut(#[from] KeepOutError),
    /// There is no clearance map.
    #[error("{0}")]
    Clearance(#[from] ClearanceError),
    /// A file could not be written.
    #[error("cannot write {}: {error}", path.display())]
    Unwritten {
        /// Which.
        path: std::path::PathBuf,
        /// The system's word.
        error: String,
    },
}

impl ViewError {
    /// What to do about it.
    pub fn help(&self) -> &'static str {
        match self {
            ViewError::NoAdapter => {
                "install a Vulkan driver: the graphics card's own, or Mesa's, which also draws without \
                 a card (Debian and Ubuntu: mesa-vulkan-drivers; Fedora: mesa-vulkan-drivers; Arch: \
                 vulkan-swrast)"
            }
            ViewError::NoScreen => {
                "start it from a desktop session (DISPLAY or WAYLAND_DISPLAY is not set); `bindpoint \
                 picture` needs no screen"
            }
            ViewError::NoPicture(_) => {
                "try a smaller --size; a driver limits how large an image may be"
            }
            ViewError::Unreached(_) => {
                "travel counts from the measured position, bump positive; see `bindpoint sweep` for how \
                 far it goes"
            }
            ViewError::Drive(_) => "`bindpoint drive` and `bindpoint ground` say more about it",
            ViewError::NoSuchPlace(_) => {
                "leave out --at for the first contact or, without one, the place of the least clearance"
            }
            ViewError::KeepOut(_) => "`bindpoint keepout` says more about it",
            ViewError::Clearance(_) => "`bindpoint clearance` says more about it",
            ViewError::Unwritten { .. } => "check that the folder exists and may be written to",
        }
    }
}

/// How the window opens.
#[derive(Default)]
pub struct WindowOptions {
    /// Its size in logical pixels; the system's choice if none.
    pub size: Option<[u32; 2]>,
    /// Unit of lengths; the scene's if none.
    pub units: Option<Units>,
    /// What the truck is compared with.
    pub ghost: Ghost,
    /// What it shows first.
    pub subject: Subject,
    /// What the suspension does on a drive; none: what is usual.
    pub suspension: Option<Suspension>,
    /// Where its state is written, for tests.
    pub trace: Option<std::fs::File>,
    /// Play around the limit for this long with sweeps under way, then end and say how long frames took.
    pub measure: Option<Duration>,
}

/// Size of a window that nobody asked otherwise.
const SIZE: [u32; 2] = [1280, 720];

/// Opens the window and returns when it is closed.
///
/// # Errors
/// [`ViewError::NoScreen`] and [`ViewError::NoAdapter`].
pub fn open(document: Document, options: WindowOptions) -> Result<(), ViewError> {
    if cfg!(target_os = "linux")
        && ["DISPLAY", "WAYLAND_DISPLAY", "WAYLAND_SOCKET"]
            .iter()
            .all(|name| std::env::var_os(name).is_none_or(|v| v.is_empty()))
    {
        return Err(ViewError::NoScreen);
    }
    let backends = super::picture::find_backends()?;
    let [width, height] = options.size.unwrap_or(SIZE);
    let title = title(&document);
    let mut app = App::new();
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin {
                close_when_requested: false,
                primary_window: Some(Window {
                    title,
                    name: Some("bindpoint".to_owned()),
                    resolution: (width, height).into(),
                    ..default()
                }),
                ..default()
            })
            .set(super::picture::renderer(backends))
            .set(quiet_log()),
    );
    if let Some(file) = options.trace {
        app.insert_resource(Trace::to(file));
    }
    let drive = Drive::new(options.subject, options.suspension);
    add_picture_plugins(&mut app, document, drive, options.ghost, options.units);
    add_panel_plugins(&mut app);
    app.add_plugins((
        BackgroundPlugin,
        DriveWorkerPlugin,
        KeepOutWorkerPlugin,
        PartHandlesPlugin,
        PickingPlugin,
        ClearanceWorkerPlugin,
        ClearanceProbePlugin,
        ReloadPlugin,
    ))
    .insert_resource(WinitSettings {
        focused_mode: UpdateMode::reactive(IDLE),
        unfocused_mode: UpdateMode::reactive_low_power(IDLE),
    })
    .add_systems(PreStartup, wake_by_event_loop)
    .add_systems(Update, (close, name_window.after(MotionSet)))
    .add_systems(Last, keep_drawing);
    if let Some(length) = options.measure {
        app.insert_resource(Measure::new(length))
            .add_systems(Update, measure);
    }
    app.run();
    Ok(())
}

/// What stands in the window's frame: the truck, whose name tells its setup.
fn title(document: &Document) -> String {
    format!("{} - bindpoint", document.truck().name)
}

fn name_window(
    document: Res<Document>,
    mut windows: Query<&mut Window, With<PrimaryWindow>>,
    mut named: Local<Option<u64>>,
) {
    if named.replace(document.generation()) != Some(document.generation()) {
        let wanted = title(&document);
        for mut window in &mut windows {
            if window.title != wanted {
                window.title.clone_from(&wanted);
            }
        }
    }
}

/// With nothing going on, it still looks at the clock this often.
const IDLE: Duration = Duration::from_secs(60);

/// Warnings only: what a person should know is shown in the window.
pub(super) fn quiet_log() -> LogPlugin {
    LogPlugin {
        filter: "error,wgpu_hal=off,wgpu_core=error".to_owned(),
        level: bevy::log::Level::ERROR,
        ..default()
    }
}

/// What the picture shows, with or without a window.
pub(super) fn add_picture_plugins(
    app: &mut App,
    document: Document,
    drive: Drive,
    ghost: Ghost,
    units: Option<Units>,
) {
    let units = units.unwrap_or(Units::of_scene(document.truck().scene_unit));
    let mut look = Look::default();
    if !drive.shows_suspension() {
        std::mem::swap(&mut look.view, &mut look.other_view);
    }
    app.insert_resource(Motion::new(document.corner()))
        .insert_resource(look)
        .insert_resource(drive)
        .insert_resource(document)
        .insert_resource(ghost)
        .insert_resource(Shown {
            units,
            page: Page::default(),
            note: None,
        })
        .add_plugins(EguiPlugin::default())
        .add_plugins((
            MotionPlugin,
            LookPlugin,
            PartMaterialPlugin,
            SectionPlugin,
            SuspensionPlugin,
            GhostPlugin,
            GhostPartsPlugin,
            JointsPlugin,
            ContactsPlugin,
            LabelsPlugin,
            TracePlugin,
        ))
        .add_plugins((
            DrivePlugin,
            WholeTruckPlugin,
            DriveMarksPlugin,
            KeepOutBodyPlugin,
            PartColoursPlugin,
            ClearanceMapPlugin,
            ClearanceMarksPlugin,
        ));
    look::add_line_groups(app);
}

/// The panels around it.
pub(super) fn add_panel_plugins(app: &mut App) {
    app.add_plugins((
        PanelsPlugin,
        ControlsPlugin,
        LeftPanelPlugin,
        RoomPagePlugin,
        TravelMapPlugin,
        DrivePanelPlugin,
    ));
}

/// Background answers wake the window: it doesn't draw for nothing.
fn wake_by_event_loop(mut commands: Commands, proxy: Res<EventLoopProxyWrapper>) {
    let proxy = (**proxy).clone();
    commands.insert_resource(Wake(Arc::new(move || {
        // A window that has gone needs no waking.
        let _ = proxy.send_event(WinitUserEvent::WakeUp);
    })));
}

/// Closes the window; with changes that no file holds it says so first.
fn close(
    mut requests: MessageReader<WindowCloseRequested>,
    document: Res<Document>,
    mut shown: ResMut<Shown>,
    mut warned_of: Local<Option<u64>>,
    mut exit: MessageWriter<AppExit>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    if requests.read().last().is_none() {
        return;
    }
    if document.is_unsaved() && *warned_of != Some(document.generation()) {
        *warned_of = Some(document.generation());
        shown.page = Page::Edit;
        shown.note = Some(
            "Changes are not saved: save them under Edit, or close again to drop them.".to_owned(),
        );
        redraw.write(RequestRedraw);
        return;
    }
    exit.write(AppExit::Success);
}

/// Asks for another frame while something moves.
fn keep_drawing(
    motion: Res<Motion>,
    document: Res<Document>,
    cameras: Query<&PanOrbitCamera>,
    measuring: Option<Res<Measure>>,
    found: Res<Found>,
    ghost: Res<Ghost>,
    drive: Res<Drive>,
    keep_out: Res<KeepOutSolid>,
    map: Res<ShownMap>,
    mut answers: Local<[u64; 5]>,
    mut after: Local<u8>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let turning = cameras.iter().any(|c| {
        let off =
            |now: Option<f32>, target: f32| now.is_some_and(|now| (now - target).abs() > 1.0e-4);
        off(c.yaw, c.target_yaw)
            || off(c.pitch, c.target_pitch)
            || off(c.radius, c.target_radius)
            || c.focus.distance(c.target_focus) > 1.0e-4
    });
    // What came from the background is laid out in this frame and drawn in the next two.
    let now = [
        found.answers,
        ghost.answers(),
        drive.answers(),
        keep_out.answers(),
        map.answers(),
    ];
    if *answers != now {
        *answers = now;
        *after = 2;
    }
    // A changed text or another setup is handed to its worker in the next frame.
    let wanted = document.is_waiting() || ghost.is_waiting(&document);
    if motion.play.is_some()
        || drive.playing
        || turning
        || wanted
        || measuring.is_some()
        || *after > 0
    {
        *after = after.saturating_sub(1);
        redraw.write(RequestRedraw);
    }
}

/// Frame times while it plays and sweeps.
#[derive(Resource)]
struct Measure {
    length: Duration,
    started: Option<Instant>,
    last: Option<Instant>,
    frames: Vec<Duration>,
    sweeps: u64,
}

impl Measure {
    fn new(length: Duration) -> Measure {
        Measure {
            length,
            started: None,
            last: None,
            frames: Vec::new(),
            sweeps: 0,
        }
    }
}

fn measure(
    mut measure: ResMut<Measure>,
    mut motion: ResMut<Motion>,
    mut document: ResMut<Document>,
    mut found: ResMut<Found>,
    adapter: Res<RenderAdapterInfo>,
    mut exit: MessageWriter<AppExit>,
) {
    let now = Instant::now();
    let Some(map) = found.map.clone() else {
        return;
    };
    if motion.play.is_none() {
        let path = motion.chosen;
        let corners = path.corners(document.corner(), &map);
        motion.start(path, corners);
    }
    // A sweep is always under way: when one ends, the next begins.
    if found.sweep.take().is_some() {
        measure.sweeps += 1;
        document.begin_again();
    }
    let started = *measure.started.get_or_insert(now);
    if let Some(last) = measure.last.replace(now) {
        measure.frames.push(now - last);
    }
    if now - started >= measure.length {
        let report = super::picture::frame_report(&measure.frames, &adapter.name, measure.sweeps);
        println!("{}", crate::output::visible(&report));
        exit.write(AppExit::Success);
    }
}
