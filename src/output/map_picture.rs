//! Free-travel maps side by side in one picture, each over the first one's: SVG or PNG by the file's name.

use super::lengths::Units;
use super::replace_file;
use crate::compare::{Compared, SweptSetup};
use crate::findings::{CornerFindings, MapState, OutlinePoint};
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::FontStyle;
use std::error::Error;
use std::io;
use std::path::Path;
use std::sync::OnceLock;

/// A map's outline, ready to be drawn: (rack, travel from ride height) in the printed unit.
#[derive(Clone, Debug, PartialEq)]
struct Outline {
    /// Corners, each with what lies across the edge to the next: a maker's stop or a lock (`true`), or a bind
    /// or contact.
    corners: Vec<((f64, f64), bool)>,
}

/// One panel.
#[derive(Clone, Debug, PartialEq)]
struct Panel {
    title: String,
    below: String,
    outline: Outline,
    /// Free cells in which some required gap isn't proved kept: opposite corners.
    short: Vec<[(f64, f64); 2]>,
}

/// The picture's content.
#[derive(Clone, Debug, PartialEq)]
pub struct MapPicture {
    title: String,
    unit: &'static str,
    first: Outline,
    panels: Vec<Panel>,
}

/// Size of one panel, pixels.
const PANEL: (u32, u32) = (430, 360);
/// Height of the title over all, pixels.
const HEAD: u32 = 74;
const FONT: &str = "bindpoint";

const PAPER: RGBColor = RGBColor(252, 251, 247);
const INK: RGBColor = RGBColor(45, 48, 52);
const FIRST_FILL: RGBColor = RGBColor(226, 221, 205);
const FIRST_LINE: RGBColor = RGBColor(150, 140, 112);
const SHORT_FILL: RGBColor = RGBColor(240, 176, 92);
const FREE_LINE: RGBColor = RGBColor(0, 92, 112);
const BIND_LINE: RGBColor = RGBColor(196, 58, 30);

impl MapPicture {
    /// The leading side's maps of a comparison that kept them.
    pub fn of(compared: &Compared, units: Units) -> MapPicture {
        let comparison = &compared.comparison;
        let side = comparison.leading_side;
        let corner = |setup: &SweptSetup| -> CornerFindings {
            let f = &setup.findings;
            let other = f.other.as_ref().filter(|c| c.side == side);
            other.unwrap_or(&f.worse).clone()
        };
        let mut panels = Vec::new();
        for (column, setup) in comparison.columns.iter().zip(&compared.swept) {
            let Some(setup) = setup else {
                continue;
            };
            let corner = corner(setup);
            let straight = corner
                .free_travel
                .iter()
                .min_by(|a, b| a.rack_mm.abs().total_cmp(&b.rack_mm.abs()));
            let ride = corner.ride_height_mm;
            let below = straight.map_or(String::new(), |s| {
                format!(
                    "straight ahead: droop {}, bump {} {}",
                    units.at_most(s.droop_mm + ride),
                    units.at_most(s.bump_mm - ride),
                    units.name()
                )
            });
            panels.push(Panel {
                title: column.name.clone(),
                below,
                outline: Outline::of(&corner, units),
                short: short_cells(&corner, units),
            });
        }
        MapPicture {
            title: format!(
                "{}, {} corner: free travel against rack",
                comparison.truck,
                side.name()
            ),
            unit: units.name(),
            first: panels.first().map_or(
                Outline {
                    corners: Vec::new(),
                },
                |p| p.outline.clone(),
            ),
            panels,
        }
    }

    /// Width and height, pixels.
    fn size(&self) -> (u32, u32) {
        let (columns, rows) = self.grid();
        (PANEL.0 * columns, HEAD + PANEL.1 * rows)
    }

    fn grid(&self) -> (u32, u32) {
        let n = self.panels.len().max(1) as u32;
        let columns = match n {
            1..=3 => n,
            4 => 2,
            5..=9 => 3,
            _ => 4,
        };
        (columns, n.div_ceil(columns))
    }

    /// The ranges that every map fits in.
    fn ranges(&self) -> [(f64, f64); 2] {
        let points = self
            .panels
            .iter()
            .flat_map(|p| p.outline.corners.iter().map(|c| c.0));
        let ends = |pick: fn(&(f64, f64)) -> f64| {
            let (low, high) = points
                .clone()
                .map(|p| pick(&p))
                .fold((0.0_f64, 0.0_f64), |(a, b), v| (a.min(v), b.max(v)));
            let margin = 0.08 * (high - low).max(1.0e-3);
            (low - margin, high + margin)
        };
        [ends(|p| p.0), ends(|p| p.1)]
    }

    fn draw<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>) -> Result<(), Box<dyn Error>>
    where
        B::ErrorType: 'static,
    {
        area.fill(&PAPER)?;
        let (head, body) = area.split_vertically(HEAD);
        let text = |size: i32, colour: RGBColor| (FONT, size).into_font().color(&colour);
        head.draw(&Text::new(self.title.as_str(), (18, 12), text(22, INK)))?;
        let first = self.panels.first().map_or("", |p| p.title.as_str());
        let key = [
            (format!("filled: {first}"), FIRST_LINE),
            ("line: maker's stop or lock".to_owned(), FREE_LINE),
            ("line: bind or contact".to_owned(), BIND_LINE),
            ("shaded: a required gap is missing".to_owned(), SHORT_FILL),
        ];
        let mut x = 18;
        for (words, colour) in key {
            let swatch = Rectangle::new([(x, 47), (x + 16, 57)], colour.filled());
            head.draw(&swatch)?;
            head.draw(&Text::new(words.as_str(), (x + 22, 44), text(15, INK)))?;
            x += 52 + 7 * words.chars().count() as i32;
        }
        let (columns, rows) = self.grid();
        let panels = body.split_evenly((rows as usize, columns as usize));
        for (panel, area) in self.panels.iter().zip(&panels) {
            self.draw_panel(panel, area)?;
        }
        Ok(())
    }

    fn draw_panel<B: DrawingBackend>(
        &self,
        panel: &Panel,
        area: &DrawingArea<B, Shift>,
    ) -> Result<(), Box<dyn Error>>
    where
        B::ErrorType: 'static,
    {
        let text = |size: i32| (FONT, size).into_font().color(&INK);
        area.draw(&Text::new(panel.title.as_str(), (66, 4), text(18)))?;
        area.draw(&Text::new(panel.below.as_str(), (66, 26), text(14)))?;
        let [racks, travels] = self.ranges();
        let mut chart = ChartBuilder::on(area)
            .margin_top(50)
            .margin_right(16)
            .margin_left(6)
            .margin_bottom(6)
            .x_label_area_size(40)
            .y_label_area_size(64)
            .build_cartesian_2d(racks.0..racks.1, travels.0..travels.1)?;
        chart
            .configure_mesh()
            .light_line_style(PAPER)
            .bold_line_style(RGBColor(232, 229, 220))
            .axis_style(INK)
            .x_labels(7)
            .y_labels(9)
            .x_desc(format!("rack, {}, left +", self.unit))
            .y_desc(format!("travel from ride height, {}, bump +", self.unit))
            .label_style(text(14))
            .axis_desc_style(text(14))
            .draw()?;
        let closed = |outline: &Outline| -> Vec<(f64, f64)> {
            let points = outline.corners.iter().map(|c| c.0);
            points.clone().chain(points.take(1)).collect()
        };
        let first = closed(&self.first);
        if first.len() > 3 {
            chart.draw_series([Polygon::new(first.clone(), FIRST_FILL.filled())])?;
            chart.draw_series([PathElement::new(first, FIRST_LINE.stroke_width(1))])?;
        }
        let short = panel.short.iter();
        chart.draw_series(short.map(|ends| Rectangle::new(*ends, SHORT_FILL.filled())))?;
        for (points, makers) in panel.outline.runs() {
            let colour = if makers { FREE_LINE } else { BIND_LINE };
            let width = if makers { 2 } else { 4 };
            chart.draw_series([PathElement::new(points, colour.stroke_width(width))])?;
        }
        let ride = [(racks.0, 0.0), (racks.1, 0.0)];
        chart.draw_series([PathElement::new(ride, INK.mix(0.5).stroke_width(1))])?;
        Ok(())
    }
}

fn short_cells(corner: &CornerFindings, units: Units) -> Vec<[(f64, f64); 2]> {
    let unit = units.in_mm();
    let at =
        |rack_mm: f64, travel_mm: f64| (rack_mm / unit, (travel_mm - corner.ride_height_mm) / unit);
    let cells = corner.map.cells.iter();
    cells
        .filter(|c| c.state == MapState::Free && !c.gaps_kept)
        .map(|c| {
            [
                at(c.rack_mm[0], c.travel_mm[0]),
                at(c.rack_mm[1], c.travel_mm[1]),
            ]
        })
        .collect()
}

impl Outline {
    fn of(corner: &CornerFindings, units: Units) -> Outline {
        let unit = units.in_mm();
        let makers = |point: &OutlinePoint| match point.stop {
            None => true,
            Some(i) => {
                let stop = corner.map.stops.get(i);
                let edges = corner.map.edge.iter();
                let mut same = edges.filter(|e| Some(&e.stop) == stop);
                same.any(|e| e.intended)
            }
        };
        Outline {
            corners: corner
                .map
                .outline
                .iter()
                .map(|p| {
                    let travel = p.travel_mm - corner.ride_height_mm;
                    ((p.rack_mm / unit, travel / unit), makers(p))
                })
                .collect(),
        }
    }

    /// Stretches of the outline with one kind of stop each, closed at the end.
    fn runs(&self) -> Vec<(Vec<(f64, f64)>, bool)> {
        let mut out: Vec<(Vec<(f64, f64)>, bool)> = Vec::new();
        let n = self.corners.len();
        for i in 0..n {
            let (from, makers) = self.corners[i];
            let to = self.corners[(i + 1) % n].0;
            match out.last_mut() {
                Some((points, same)) if *same == makers => points.push(to),
                _ => out.push((vec![from, to], makers)),
            }
        }
        out
    }
}

/// Charts need a font of their own: none is looked for on the machine.
fn font_is_there() -> bool {
    static REGISTERED: OnceLock<bool> = OnceLock::new();
    *REGISTERED.get_or_init(|| {
        plotters::style::register_font(FONT, FontStyle::Normal, epaint_default_fonts::UBUNTU_LIGHT)
            .is_ok()
    })
}

/// Whether a file's name ends as a picture's must, so that a long comparison isn't made for nothing.
pub fn is_picture_name(path: &Path) -> bool {
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or("");
    ["svg", "png"]
        .iter()
        .any(|e| ending.eq_ignore_ascii_case(e))
}

/// Draws the picture into an SVG or PNG file.
///
/// # Errors
/// For another ending of the file's name, and what the file system answers; nothing half-written is left.
pub fn write(path: &Path, picture: &MapPicture) -> io::Result<()> {
    if !font_is_there() {
        return Err(io::Error::other("the chart's font can't be read"));
    }
    let size = picture.size();
    let drawn = |e: Box<dyn Error>| io::Error::other(e.to_string());
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or("");
    if ending.eq_ignore_ascii_case("svg") {
        let mut text = String::new();
        {
            let area = SVGBackend::with_string(&mut text, size).into_drawing_area();
            picture.draw(&area).map_err(drawn)?;
            area.present()
                .map_err(|e| io::Error::other(e.to_string()))?;
        }
        // The reader's machine has no font of our name: let it take a plain one.
        let text = text.replace(
            &format!("font-family=\"{FONT}\""),
            "font-family=\"sans-serif\"",
        );
        replace_file(path, |unfinished| std::fs::write(unfinished, text))
    } else if ending.eq_ignore_ascii_case("png") {
        let mut pixels = vec![0; 3 * size.0 as usize * size.1 as usize];
        {
            let area = BitMapBackend::with_buffer(&mut pixels, size).into_drawing_area();
            picture.draw(&area).map_err(drawn)?;
            area.present()
                .map_err(|e| io::Error::other(e.to_string()))?;
        }
        // In memory first: a file written by the encoder would be closed without a look at what its last
        // bytes met.
        let file = png_bytes(size, &pixels).map_err(io::Error::other)?;
        replace_file(path, |unfinished| std::fs::write(unfinished, file))
    } else {
        Err(io::Error::new(
            io::ErrorKind::InvalidInput,
            "name a picture that ends in .svg or .png",
        ))
    }
}

/// A PNG of three bytes a pixel, row by row from the top.
fn png_bytes(size: (u32, u32), pixels: &[u8]) -> Result<Vec<u8>, png::EncodingError> {
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, size.0, size.1);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    Ok(file)
}
