//! What a part's mesh is, what was mended, and what can't be known about it.

use super::Bounds;
use super::mend::Mended;
use super::mesh_file::MeshFormat;
use serde::Serialize;

/// What a part's mesh is, as mended. Lengths in mm, volumes in mm^3.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeshReport {
    /// The file's format.
    pub format: MeshFormat,
    /// Millimetres in the file's unit, as taken.
    pub unit_mm: f64,
    /// Triangles in the file, instances counted each time.
    pub triangles_read: usize,
    /// Triangles as mended.
    pub triangles: usize,
    /// Corners as mended.
    pub corners: usize,
    /// Least x, y and z, mm.
    pub low_mm: [f64; 3],
    /// Extent along x, y and z, mm.
    pub size_mm: [f64; 3],
    /// Pieces that hang together by their corners.
    pub pieces: usize,
    /// Corners that were listed again in the same place and merged: what formats without shared corners
    /// need, no fault.
    pub corners_merged: usize,
    /// Corners on open edges that were welded to one within a micron.
    pub corners_welded: usize,
    /// Triangles taken out since their corners lie on a line or in a point; a neighbour took in the corner
    /// on its side where there was one.
    pub without_area: usize,
    /// Triangles dropped since they were there already.
    pub repeated: usize,
    /// Triangles turned over, so that closed pieces face outward throughout.
    pub turned: usize,
    /// Edges left with one triangle.
    pub open_edges: usize,
    /// Edges left with more than two triangles.
    pub crowded_edges: usize,
    /// Edges left whose two triangles run the same way, so that one of them faces the wrong side.
    pub clashing_edges: usize,
    /// Enclosed volume, mm^3, where inside and outside are known; what lies in two pieces at once counts
    /// twice.
    pub volume_mm3: Option<f64>,
    /// Whether it can be known if something lies inside. Gaps to the surface are right either way.
    pub inside_known: bool,
    /// Why not.
    pub inside_unknown_since: Option<String>,
    /// What else a person should know about how the file was read.
    pub notes: Vec<String>,
}

impl MeshReport {
    pub(super) fn new(
        format: MeshFormat,
        unit_mm: f64,
        mended: &Mended,
        notes: Vec<String>,
    ) -> MeshReport {
        let bounds = Bounds::of(mended.vertices.iter().copied());
        let inside_unknown_since = (!mended.closed).then(|| {
            let counts = [
                (mended.open_edges, "open"),
                (mended.crowded_edges, "shared by more than two triangles"),
                (
                    mended.clashing_edges,
                    "between triangles turned against each other",
                ),
            ];
            let said: Vec<String> = counts
                .iter()
                .filter(|(n, _)| *n > 0)
                .map(|(n, what)| {
                    let edges = if *n == 1 { "edge" } else { "edges" };
                    format!("{n} {edges} {what}")
                })
                .collect();
            said.join(", ")
        });
        MeshReport {
            format,
            unit_mm,
            triangles_read: mended.read,
            triangles: mended.triangles.len(),
            corners: mended.vertices.len(),
            low_mm: (bounds.middle - bounds.half).into(),
            size_mm: (2.0 * bounds.half).into(),
            pieces: mended.pieces,
            corners_merged: mended.merged,
            corners_welded: mended.welded,
            without_area: mended.without_area,
            repeated: mended.repeated,
            turned: mended.turned,
            open_edges: mended.open_edges,
            crowded_edges: mended.crowded_edges,
            clashing_edges: mended.clashing_edges,
            volume_mm3: mended.volume_mm3,
            inside_known: mended.closed,
            inside_unknown_since,
            notes,
        }
    }

    /// What was mended and what can't be known, a phrase each; empty for a clean mesh.
    pub fn remarks(&self) -> Vec<String> {
        let mut out = Vec::new();
        let mut note = |count: usize, one: &str, many: &str| {
            if count > 0 {
                let what = if count == 1 { one } else { many };
                out.push(format!("{count} {what}"));
            }
        };
        note(
            self.corners_welded,
            "corner welded to one within a micron",
            "corners welded to others within a micron",
        );
        note(
            self.without_area,
            "triangle without area taken out",
            "triangles without area taken out",
        );
        note(
            self.repeated,
            "repeated triangle dropped",
            "repeated triangles dropped",
        );
        note(
            self.turned,
            "triangle turned to face outward",
            "triangles turned to face outward",
        );
        if let Some(why) = &self.inside_unknown_since {
            out.push(format!(
                "gaps to it are right, but whether something lies inside it can't be known: {why}"
            ));
        }
        out.extend(self.notes.iter().cloned());
        out
    }
}
