//! Pictures without a window: the same truck, colours, joints and labels, drawn into an image.
//!
//! Works with a graphics card or with a software Vulkan driver. Everything that the picture shows is computed
//! before it is drawn, so that a picture is never half ready.

use super::background::{BackgroundPlugin, CURVE_ROWS, Found, GAP_GRID};
use super::clearance_map::{Asked, MadeMap, ShownMap};
use super::clearance_probe;
use super::contacts;
use super::document::Document;
use super::drive::{Drive, Subject, drive_now, suspension_is_shown, truck_is_shown};
use super::drive_panel;
use super::framing::{Framing, View};
use super::ghost::Ghost;
use super::keep_out::{KeepOutChoice, KeepOutSolid, MadeSolid};
use super::keep_out_body;
use super::labels::{LabelFreeArea, OverPicture};
use super::look::{self, Look, Screen};
use super::motion::Motion;
use super::palette::{self, GapState};
use super::part_colours::{self, ColouredParts};
use super::section::Section;
use super::shown::{Page, Shown};
use super::suspension::PartChoice;
use super::window::{self, ViewError};
use crate::ground::Suspension;
use crate::output::{Units, degrees, signed_degrees};
use crate::space::{ClearanceOptions, KnownTravels, PlayPath, play_path};
use crate::sweep::rate_atlas::Atlas;
use crate::sweep::stops::Guard;
use crate::sweep::{
    SweepOptions, along_travel, position_findings, remaining_gap, stops_at, sweep_corner,
};
use bevy::app::{PluginsState, SubApps};
use bevy::asset::RenderAssetUsages;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::pipelined_rendering::PipelinedRenderingPlugin;
use bevy::render::render_resource::{
    Extent3d, PollType, TextureDimension, TextureFormat, TextureUsages,
};
use bevy::render::renderer::{RenderAdapterInfo, RenderDevice};
use bevy::render::settings::WgpuSettings;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::tasks::tick_global_task_pools_on_main_thread;
use bevy::window::ExitCondition;
use bevy::winit::WinitPlugin;
use bevy_egui::egui::{self, Align2, FontId, RichText};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};
use image::RgbaImage;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// What pictures show.
#[derive(Clone, Debug)]
pub struct PictureOptions {
    /// Width and height, pixels.
    pub size: [u32; 2],
    /// From where.
    pub view: View,
    /// The part to look at from near by, if any.
    pub near: Option<String>,
    /// Unit of lengths; the scene's if none.
    pub units: Option<Units>,
    /// Draw these parts alone, if any.
    pub only: Vec<String>,
    /// Whether tyre and rim are seen through.
    pub see_through_wheel: bool,
    /// Where the truck is cut open.
    pub section: Section,
    /// Whether joints are drawn.
    pub joints: bool,
    /// Whether the tightest gap and the first contact are marked.
    pub marks: bool,
    /// Whether labels, caption and legend are drawn.
    pub labels: bool,
    /// Whether the ground is drawn.
    pub ground: bool,
    /// The window's panels round the picture, with this page at the left.
    pub panels: Option<Page>,
    /// What the truck is compared with.
    pub ghost: Ghost,
    /// The keep-out solid to draw, if any.
    pub keep_out: Option<KeepOutChoice>,
    /// The clearance map to draw, if any.
    pub clearance: Option<ClearanceOptions>,
    /// The suspension, or the whole truck on the ground.
    pub subject: Subject,
    /// What the suspension does on a drive; none: what is usual.
    pub suspension: Option<Suspension>,
}

/// A place along a drive, as asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum DrivePlace {
    /// The first contact or, without one, where the clearance is least.
    #[default]
    Telling,
    /// The first contact.
    Contact,
    /// Where the drive begins.
    Start,
    /// The front axle's middle so far from the obstacle's front, mm.
    At(f64),
}

impl Default for PictureOptions {
    fn default() -> Self {
        PictureOptions {
            size: [1280, 720],
            view: View::default(),
            near: None,
            units: None,
            only: Vec::new(),
            see_through_wheel: true,
            section: Section::default(),
            joints: true,
            marks: true,
            labels: true,
            ground: true,
            panels: None,
            ghost: Ghost::default(),
            keep_out: None,
            clearance: None,
            subject: Subject::default(),
            suspension: None,
        }
    }
}

/// Smallest and largest side of a picture, pixels. Vulkan promises half the largest; drivers give it.
pub const SIDES: [u32; 2] = [64, 8192];

/// Makes sure that there is something to draw with, and says through what: Vulkan, Metal or DirectX 12; OpenGL
/// where there is nothing else.
///
/// # Errors
/// [`ViewError::NoAdapter`].
pub fn find_backends() -> Result<wgpu::Backends, ViewError> {
    let tried = match wgpu::Backends::from_env() {
        Some(asked) => vec![asked],
        None => vec![wgpu::Backends::PRIMARY, wgpu::Backends::GL],
    };
    tried
        .into_iter()
        .find(|backends| {
            let mut descriptor = wgpu::InstanceDescriptor::new_without_display_handle();
            descriptor.backends = *backends;
            let instance = wgpu::Instance::new(descriptor);
            let options = wgpu::RequestAdapterOptions::default();
            bevy::tasks::block_on(instance.request_adapter(&options)).is_ok()
        })
        .ok_or(ViewError::NoAdapter)
}

/// The renderer through these backends. Shaders are compiled before the first picture: none is missing a
/// part.
pub(super) fn renderer(backends: wgpu::Backends) -> RenderPlugin {
    RenderPlugin {
        render_creation: WgpuSettings {
            backends: Some(backends),
            ..default()
        }
        .into(),
        synchronous_pipeline_compilation: true,
        ..default()
    }
}

/// An off-screen studio: made once, takes any number of pictures.
pub struct Studio {
    apps: SubApps,
    target: Handle<Image>,
    size: [u32; 2],
}

/// Updates before the first picture: shaders, meshes and fonts have arrived by then.
const WARM_UP: usize = 6;
/// Updates waited for a picture to come back from the card.
const MOST_UPDATES: usize = 60;

impl Studio {
    /// Sets the truck up, sweeps or drives it once, and draws until everything has arrived.
    ///
    /// # Errors
    /// [`ViewError::NoAdapter`], [`ViewError::NoPicture`] for a size out of range, [`ViewError::Drive`],
    /// [`ViewError::KeepOut`], [`ViewError::Clearance`].
    pub fn new(document: Document, options: &PictureOptions) -> Result<Studio, ViewError> {
        let mut studio = Studio::set_up(document, options, false)?;
        if options.subject == Subject::Suspension {
            studio.sweep(options.panels.is_some());
            if let Some(choice) = &options.keep_out {
                studio.keep_out(choice)?;
            }
            if let Some(options) = &options.clearance {
                studio.clearance(options)?;
            }
        } else {
            studio.drive()?;
        }
        for _ in 0..WARM_UP {
            studio.update();
        }
        Ok(studio)
    }

    fn set_up(
        document: Document,
        options: &PictureOptions,
        background: bool,
    ) -> Result<Studio, ViewError> {
        let [least, most] = SIDES;
        if options
            .size
            .iter()
            .any(|side| !(least..=most).contains(side))
        {
            return Err(ViewError::NoPicture(format!(
                "{} x {} pixels; each side must be from {least} to {most}",
                options.size[0], options.size[1]
            )));
        }
        let backends = find_backends()?;
        let mut app = App::new();
        let mut plugins = DefaultPlugins
            .build()
            .set(WindowPlugin {
                primary_window: None,
                exit_condition: ExitCondition::DontExit,
                ..default()
            })
            .set(renderer(backends))
            .set(window::quiet_log())
            .disable::<WinitPlugin>();
        // A picture is drawn in the update that asks for it; playing, one frame is drawn while the next is
        // made ready, as in the window.
        if !background {
            plugins = plugins.disable::<PipelinedRenderingPlugin>();
        }
        app.add_plugins(plugins);
        let [width, height] = options.size;
        let mut image = Image::new_uninit(
            Extent3d {
                width,
                height,
                depth_or_array_layers: 1,
            },
            TextureDimension::D2,
            TextureFormat::Rgba8UnormSrgb,
            RenderAssetUsages::default(),
        );
        image.texture_descriptor.usage |= TextureUsages::RENDER_ATTACHMENT
            | TextureUsages::COPY_SRC
            | TextureUsages::TEXTURE_BINDING;
        image.resize(Extent3d {
            width,
            height,
            depth_or_array_layers: 1,
        });
        let target = app.world_mut().resource_mut::<Assets<Image>>().add(image);
        app.insert_resource(Screen::Image(target.clone()));
        let drive = Drive::new(options.subject.clone(), options.suspension);
        window::add_picture_plugins(
            &mut app,
            document,
            drive,
            options.ghost.clone(),
            options.units,
        );
        app.insert_resource(Look {
            view: options.view,
            near: options.near.clone(),
            grid: options.ground,
            joints: options.joints,
            marks: options.marks,
            labels: options.labels,
            ..default()
        })
        .insert_resource(options.section)
        .insert_resource(PartChoice {
            isolated: options.only.iter().cloned().collect(),
            see_through_wheel: options.see_through_wheel,
            ..default()
        });
        if background {
            app.add_plugins(BackgroundPlugin);
        } else {
            app.init_resource::<Found>();
        }
        match options.panels {
            Some(page) => {
                app.init_resource::<super::background::SwitchedOff>();
                app.world_mut().resource_mut::<Shown>().page = page;
                window::add_panel_plugins(&mut app);
            }
            None => {
                app.add_systems(
                    EguiPrimaryContextPass,
                    (
                        caption.run_if(suspension_is_shown),
                        drive_caption.run_if(truck_is_shown),
                    )
                        .before(OverPicture),
                );
            }
        }
        while app.plugins_state() == PluginsState::Adding {
            tick_global_task_pools_on_main_thread();
        }
        app.finish();
        app.cleanup();
        Ok(Studio {
            apps: std::mem::take(app.sub_apps_mut()),
            target,
            size: options.size,
        })
    }

    fn world(&mut self) -> &mut World {
        self.apps.main.world_mut()
    }

    fn update(&mut self) {
        self.apps.update();
        if let Some(device) = self.world().get_resource::<RenderDevice>() {
            // A lost device shows as a picture that never comes.
            let _ = device.wgpu_device().poll(PollType::wait_indefinitely());
        }
    }

    /// The sweep that markers, map and curves come from.
    fn sweep(&mut self, with_panels: bool) {
        let world = self.world();
        let document = world.resource::<Document>();
        let corner = document.corner();
        let options = SweepOptions {
            with_map_cells: true,
            ..SweepOptions::default()
        };
        let sweep = sweep_corner(corner, &options, &|_, _| ());
        let map = sweep.map.clone();
        let remaining = with_panels.then(|| remaining_gap(corner, &map, GAP_GRID));
        let side = corner.side;
        let mut found = world.resource_mut::<Found>();
        found.sweep = Some(Arc::new(sweep));
        found.map = Some(Arc::new(map));
        found.remaining = remaining.map(Arc::new);
        if with_panels {
            world.resource_mut::<Ghost>().find_map(side);
        }
    }

    /// The keep-out solid that is asked for.
    fn keep_out(&mut self, choice: &KeepOutChoice) -> Result<(), ViewError> {
        let world = self.world();
        let document = world.resource::<Document>();
        let made = MadeSolid::make(document.corner(), document.generation(), choice, &|_| true)?;
        world.insert_resource(KeepOutSolid::with(made));
        Ok(())
    }

    /// The clearance map that is asked for, of the corner that is drawn.
    fn clearance(&mut self, options: &ClearanceOptions) -> Result<(), ViewError> {
        let world = self.world();
        let document = world.resource::<Document>();
        let side = document.corner().side;
        let asked = Asked {
            generation: document.generation(),
            options: ClearanceOptions {
                side: Some(side),
                ..options.clone()
            },
        };
        let known = KnownTravels::default();
        let made = MadeMap::make(document.truck(), side, &asked, &known, &|_| (), &|_| true)?;
        world.insert_resource(ShownMap::with(made));
        Ok(())
    }

    /// The drive that marks and curve come from.
    fn drive(&mut self) -> Result<(), ViewError> {
        self.world()
            .resource_scope(|world, mut drive: Mut<Drive>| {
                drive_now(&mut drive, world.resource::<Document>())
            })?;
        Ok(())
    }

    /// Goes to a place along the drive and draws it.
    ///
    /// # Errors
    /// [`ViewError::NoSuchPlace`], [`ViewError::NoPicture`] when the driver gives nothing back.
    pub fn take_drive(&mut self, place: DrivePlace) -> Result<RgbaImage, ViewError> {
        let world = self.world();
        let units = world.resource::<Shown>().units;
        let mut drive = world.resource_mut::<Drive>();
        let [start, end] = drive.ends();
        let x = match place {
            DrivePlace::Telling => drive.telling_place_mm(),
            DrivePlace::Start => start,
            DrivePlace::Contact => drive
                .found()
                .and_then(|f| f.contacts.first())
                .map(|c| c.front_axle_mm[1])
                .ok_or_else(|| {
                    ViewError::NoSuchPlace("nothing touches on this drive".to_owned())
                })?,
            DrivePlace::At(x) if (start..=end).contains(&x) => x,
            DrivePlace::At(x) => {
                let [x, start, end] = [x, start, end].map(|v| units.signed(v));
                return Err(ViewError::NoSuchPlace(format!(
                    "the front axle doesn't come to {x}: the drive goes from {start} to {end} {}",
                    units.name()
                )));
            }
        };
        drive.go_to(x);
        self.shoot()
    }

    /// Corners of a play path, from the map.
    pub fn path(&mut self, path: PlayPath) -> Vec<[f64; 2]> {
        let world = self.world();
        match &world.resource::<Found>().map {
            Some(map) => path.corners(world.resource::<Document>().corner(), map),
            None => Vec::new(),
        }
    }

    /// How the truck is framed where no panels are shown; none before it stands on its ground.
    pub fn framing(&mut self) -> Option<Framing> {
        let aspect = f64::from(self.size[0]) / f64::from(self.size[1]);
        let world = self.world();
        let (document, drive) = (world.resource::<Document>(), world.resource::<Drive>());
        look::framing(document, drive, world.resource::<Look>(), aspect)
    }

    /// In a line, how the truck compares with its ghost in the last picture; nothing without one.
    pub fn ghost_words(&mut self) -> Option<String> {
        let world = self.world();
        let units = world.resource::<Shown>().units;
        world.resource::<Ghost>().words(units)
    }

    /// Goes to a travel and rack position and draws it.
    ///
    /// # Errors
    /// [`ViewError::Unreached`], [`ViewError::NoPicture`] when the driver gives nothing back.
    pub fn take(&mut self, travel_mm: f64, rack_mm: f64) -> Result<RgbaImage, ViewError> {
        self.go_to(travel_mm, rack_mm)?;
        self.shoot()
    }

    fn shoot(&mut self) -> Result<RgbaImage, ViewError> {
        // Colours change with the gaps, which reach the card an update later.
        self.update();
        self.update();
        let taken: Arc<Mutex<Option<Image>>> = Arc::default();
        let keep = Arc::clone(&taken);
        let target = self.target.clone();
        self.world().spawn(Screenshot::image(target)).observe(
            move |captured: On<ScreenshotCaptured>| {
                *keep.lock().unwrap_or_else(PoisonError::into_inner) = Some(captured.image.clone());
            },
        );
        for _ in 0..MOST_UPDATES {
            self.update();
            let taken = taken.lock().unwrap_or_else(PoisonError::into_inner).take();
            if let Some(image) = taken {
                return image
                    .try_into_dynamic()
                    .map(|image| image.to_rgba8())
                    .map_err(|error| ViewError::NoPicture(error.to_string()));
            }
        }
        Err(ViewError::NoPicture(
            "the graphics driver gave no picture back".to_owned(),
        ))
    }

    fn go_to(&mut self, travel_mm: f64, rack_mm: f64) -> Result<(), ViewError> {
        let world = self.world();
        let document = world.resource::<Document>();
        let corner = document.corner();
        let position = corner.position(travel_mm, rack_mm)?;
        let found = position_findings(document.truck(), corner, &position);
        let with_panels = world.resource::<Found>().remaining.is_some();
        let beside = with_panels.then(|| {
            let atlas = Atlas::build(corner);
            let guard = Guard::new(corner, &atlas, 1.0);
            let stops = stops_at(&guard, rack_mm);
            let range = [-corner.search_mm[0], corner.search_mm[1]];
            (stops, along_travel(corner, rack_mm, range, CURVE_ROWS))
        });
        world.resource_scope(|world, mut motion: Mut<Motion>| {
            let document = world.resource::<Document>();
            motion.go_to(document.corner(), travel_mm, rack_mm);
        });
        let mut all = world.resource_mut::<Found>();
        all.position = Some(found);
        if let Some((stops, curves)) = beside {
            all.stops = Some(stops);
            all.curves = Some((rack_mm, curves));
        }
        Ok(())
    }
}

/// Title and legend of a picture without panels.
fn caption(
    mut contexts: EguiContexts,
    document: Res<Document>,
    motion: Res<Motion>,
    look: Res<Look>,
    shown: Res<Shown>,
    found: Res<Found>,
    ghost: Res<Ghost>,
    keep_out: Res<KeepOutSolid>,
    coloured: Res<ColouredParts>,
    map: Res<ShownMap>,
    mut zoomed: Local<bool>,
) -> Result {
    let context = contexts.ctx_mut()?;
    if !*zoomed {
        *zoomed = true;
        zoom_letters(context, 720.0);
    }
    if !look.labels {
        return Ok(());
    }
    let units = shown.units;
    let frame = egui::Frame::new()
        .fill(egui::Color32::from_rgba_unmultiplied(255, 255, 255, 215))
        .inner_margin(6.0);
    egui::Area::new(egui::Id::new("caption"))
        .anchor(Align2::LEFT_TOP, [8.0, 8.0])
        .show(context, |ui| {
            frame.show(ui, |ui| {
                ui.label(
                    RichText::new(format!(
                        "{}, {} corner, {} view",
                        document.truck().name,
                        document.corner().side.name(),
                        look.view.name()
                    ))
                    .strong(),
                );
                let steer = found
                    .position
                    .as_ref()
                    .map(|p| {
                        format!(
                            ", steer {}\u{b0}, joints {}\u{b0} / {}\u{b0}",
                            signed_degrees(p.steer_deg),
                            degrees(p.inner_joint_deg),
                            degrees(p.outer_joint_deg)
                        )
                    })
                    .unwrap_or_default();
                ui.label(format!(
                    "travel {}, rack {} {}{steer}",
                    units.signed(motion.travel_mm()),
                    units.signed(motion.rack_mm()),
                    units.name()
                ));
                for line in touching_words(&document, &motion, &found, units) {
                    ui.label(RichText::new(line).font(FontId::proportional(12.0)));
                }
            });
        });
    egui::Area::new(egui::Id::new("legend"))
        .anchor(Align2::LEFT_BOTTOM, [8.0, -8.0])
        .show(context, |ui| {
            frame.show(ui, |ui| {
                ui.horizontal(|ui| {
                    for state in GapState::ALL {
                        super::controls::swatch(ui, state.rgb());
                        ui.label(RichText::new(state.name()).font(FontId::proportional(12.0)));
                    }
                });
                let font = FontId::proportional(12.0);
                super::setup_choice::picture_legend(ui, &ghost, units, &font);
                keep_out_body::legend(ui, &keep_out, units, &font);
                part_colours::legend(ui, &coloured, &font);
                clearance_probe::picture_legend(ui, &map, units, &font);
                ui.label(
                    RichText::new("Rigid parts as drawn; bushings, flex and wear are not in it.")
                        .font(FontId::proportional(11.0))
                        .color(palette::color32(palette::INK)),
                );
            });
        });
    Ok(())
}

/// Pairs that touch where the truck stands, named at once.
const MOST_TOUCHING: usize = 2;

/// What touches where the truck stands, and where to put a tape for it: the contact that is looked at.
fn touching_words(
    document: &Document,
    motion: &Motion,
    found: &Found,
    units: Units,
) -> Vec<String> {
    let gaps = found.position.iter().flat_map(|p| contacts::by_room(p));
    gaps.filter(|gap| GapState::of(gap) == GapState::Touching)
        .take(MOST_TOUCHING)
        .filter_map(|gap| {
            let tapes = contacts::tape_words(document.corner(), motion.position(), gap)?;
            let [a, b] = tapes.map(|tape| units.reworded(&tape));
            Some(format!("{} {a}; touches {} {b}", gap.a, gap.b))
        })
        .collect()
}

/// Letters in proportion to the picture: of normal size where it is so high, in pixels.
fn zoom_letters(context: &egui::Context, normal_height: f32) {
    let natural = context.viewport_rect().height() * context.zoom_factor();
    context.set_visuals(egui::Visuals::light());
    context.set_zoom_factor((natural / normal_height).clamp(0.6, 4.0));
}

/// Headline and legend of a picture of the whole truck without panels.
fn drive_caption(
    mut contexts: EguiContexts,
    mut kept_free: ResMut<LabelFreeArea>,
    document: Res<Document>,
    drive: Res<Drive>,
    look: Res<Look>,
    shown: Res<Shown>,
    mut zoomed: Local<bool>,
) -> Result {
    let context = contexts.ctx_mut()?;
    if !*zoomed {
        *zoomed = true;
        // Larger letters than beside a suspension: less has to be said.
        zoom_letters(context, 540.0);
        context.global_style_mut(|style| {
            style.visuals.override_text_color = Some(palette::color32(palette::INK));
        });
    }
    if !look.labels {
        return Ok(());
    }
    let width = context.viewport_rect().width();
    let frame = egui::Frame::new()
        .fill(drive_panel::HEADLINE_FILL)
        .inner_margin(6.0);
    let head = egui::Area::new(egui::Id::new("headline"))
        .anchor(Align2::LEFT_TOP, [8.0, 8.0])
        .show(context, |ui| {
            ui.set_max_width(width - 28.0);
            frame.show(ui, |ui| {
                drive_panel::headline(ui, &drive, &document, shown.units);
            });
        });
    let foot = egui::Area::new(egui::Id::new("legend"))
        .anchor(Align2::LEFT_BOTTOM, [8.0, -8.0])
        .show(context, |ui| {
            frame.show(ui, |ui| {
                ui.label(RichText::new(drive_panel::CAUTION).font(FontId::proportional(12.0)));
            });
        });
    kept_free.0.extend([head.response.rect, foot.response.rect]);
    Ok(())
}

/// Writes a picture as PNG: beside its name first, then renamed.
///
/// # Errors
/// [`ViewError::Unwritten`].
pub fn write_png(image: &RgbaImage, path: &Path) -> Result<(), ViewError> {
    crate::output::replace_file(path, |new| {
        // In memory first: a file that the crate writes itself is closed without a look at the last write.
        let mut bytes = std::io::Cursor::new(Vec::new());
        let made = image.write_to(&mut bytes, image::ImageFormat::Png);
        made.map_err(std::io::Error::other)?;
        std::fs::write(new, bytes.into_inner())
    })
    .map_err(|error| ViewError::Unwritten {
        path: path.to_owned(),
        error: error.to_string(),
    })
}

/// Takes `count` pictures evenly along the drive into `folder`, named by number; tells `progress` each.
///
/// # Errors
/// As [`Studio::take_drive`] and [`write_png`].
pub fn write_drive_frames(
    studio: &mut Studio,
    count: usize,
    folder: &Path,
    progress: &dyn Fn(usize),
) -> Result<(), ViewError> {
    std::fs::create_dir_all(folder).map_err(|error| ViewError::Unwritten {
        path: folder.to_owned(),
        error: error.to_string(),
    })?;
    let [start, end] = studio.world().resource::<Drive>().ends();
    for i in 0..count {
        let share = i as f64 / count.saturating_sub(1).max(1) as f64;
        let image = studio.take_drive(DrivePlace::At(start + (end - start) * share))?;
        write_png(&image, &folder.join(format!("{:04}.png", i + 1)))?;
        progress(i + 1);
    }
    Ok(())
}

/// Takes `count` pictures evenly along a path into `folder`, named by number; tells `progress` each.
///
/// # Errors
/// As [`Studio::take`] and [`write_png`].
pub fn write_frames(
    studio: &mut Studio,
    path: PlayPath,
    count: usize,
    folder: &Path,
    progress: &dyn Fn(usize),
) -> Result<Vec<PathBuf>, ViewError> {
    std::fs::create_dir_all(folder).map_err(|error| ViewError::Unwritten {
        path: folder.to_owned(),
        error: error.to_string(),
    })?;
    let corners = studio.path(path);
    let whole = play_path::length_mm(&corners);
    let mut out = Vec::with_capacity(count);
    for i in 0..count {
        let share = i as f64 / count.saturating_sub(1).max(1) as f64;
        let [rack_mm, travel_mm] = play_path::along(&corners, whole * share).ok_or_else(|| {
            ViewError::NoPicture("there is no free travel to play along".to_owned())
        })?;
        let image = studio.take(travel_mm, rack_mm)?;
        let file = folder.join(format!("{:04}.png", i + 1));
        write_png(&image, &file)?;
        out.push(file);
        progress(i + 1);
    }
    Ok(out)
}

/// Plays around the limit off screen for `length`, with sweeps under way in the background, and says how
/// long frames took.
///
/// # Errors
/// As [`Studio::new`].
pub fn measure_frames(
    document: Document,
    options: &PictureOptions,
    length: Duration,
) -> Result<String, ViewError> {
    let mut studio = Studio::set_up(document, options, true)?;
    for _ in 0..WARM_UP {
        studio.update();
    }
    let wait_until = Instant::now() + Duration::from_secs(120);
    while studio.world().resource::<Found>().map.is_none() && Instant::now() < wait_until {
        studio.update();
    }
    let corners = studio.path(PlayPath::AroundTheLimit);
    studio
        .world()
        .resource_mut::<Motion>()
        .start(PlayPath::AroundTheLimit, corners);
    let mut frames = Vec::new();
    let mut sweeps = 0;
    let started = Instant::now();
    let mut last = started;
    while last - started < length {
        studio.update();
        let swept = studio
            .world()
            .resource_mut::<Found>()
            .sweep
            .take()
            .is_some();
        if swept {
            sweeps += 1;
            studio.world().resource_mut::<Document>().begin_again();
        }
        let now = Instant::now();
        frames.push(now - last);
        last = now;
    }
    let adapter = studio.world().resource::<RenderAdapterInfo>().name.clone();
    Ok(frame_report(&frames, &adapter, sweeps))
}

/// One line about frame times.
pub fn frame_report(frames: &[Duration], adapter: &str, sweeps: u64) -> String {
    let mut sorted = frames.to_vec();
    sorted.sort_unstable();
    let at = |share: f64| {
        let i = (share * sorted.len().saturating_sub(1) as f64) as usize;
        sorted.get(i).map_or(0.0, |d| d.as_secs_f64() * 1.0e3)
    };
    let total: f64 = frames.iter().map(Duration::as_secs_f64).sum();
    format!(
        "{} frames in {:.1} s on {adapter}: {:.0} a second; median {:.1} ms, 99 of 100 within {:.1} ms, \
         longest {:.1} ms; {sweeps} whole sweeps went on beside it",
        frames.len(),
        total,
        frames.len() as f64 / total.max(1.0e-9),
        at(0.5),
        at(0.99),
        at(1.0)
    )
}
