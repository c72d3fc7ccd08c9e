//! How high a tyre's centre stands as it rolls: a rigid circle of the static loaded radius with the tyre's width.
//!
//! The idea in five lines. The centre stands as low as the circle touches nothing inside: over a corner of the
//! profile at distance d its height is z + sqrt(r^2 - d^2), so over a step edge its path is an arc of the
//! tyre's radius about the edge; over a straight piece it is the piece lifted by r along its normal. The greatest of
//! all counts; a mesh's edges are such pieces too. Over a stretch of x every term has its own greatest and least value, so the height is enclosed
//! exactly. Across its width the tyre takes the highest it meets: its edges are square, which lifts it a little
//! sooner than a real one.

use super::mesh_outline::topmost_edges;
use super::terrain::{Terrain, boulder_outline};

/// One wheel's path over a terrain.
#[derive(Clone, Debug)]
pub struct TyrePath {
    radius: f64,
    /// Corners (x, z) that the circle may ride on.
    corners: Vec<[f64; 2]>,
    /// Straight pieces: x where the touching point is on them from the circle's centre, from, to; height and slope
    /// of the centre there.
    pieces: Vec<Piece>,
    /// Whether only level ground lies under this wheel.
    level: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Piece {
    from: f64,
    to: f64,
    height_at_zero: f64,
    slope: f64,
}

impl Piece {
    /// Over a straight stretch of ground, x rising.
    fn over([x0, z0]: [f64; 2], [x1, z1]: [f64; 2], radius: f64) -> Piece {
        let slope = (z1 - z0) / (x1 - x0);
        let long = (1.0 + slope * slope).sqrt();
        // The centre lies off the touching point along the normal (-slope, 1) / long.
        let shift = -radius * slope / long;
        Piece {
            from: x0 + shift,
            to: x1 + shift,
            height_at_zero: z0 - slope * x0 + radius * long,
            slope,
        }
    }

    /// Least and greatest height of the centre on it over a stretch of x; below everything where it isn't met. The
    /// least is met where it is met all through the stretch.
    fn range(&self, [a, b]: [f64; 2]) -> [f64; 2] {
        let (from, to) = (a.max(self.from), b.min(self.to));
        if from > to {
            return [f64::NEG_INFINITY; 2];
        }
        let ends = [from, to].map(|x| {
            // A piece without end has no slope.
            self.height_at_zero
                + if self.slope == 0.0 {
                    0.0
                } else {
                    self.slope * x
                }
        });
        let all_through = self.from <= a && b <= self.to;
        let least = if all_through {
            ends[0].min(ends[1])
        } else {
            f64::NEG_INFINITY
        };
        [least, ends[0].max(ends[1])]
    }
}

/// Most strips of a mesh, and strips a tyre's radius at most, in which what is met is told from what isn't.
const MOST_STRIPS: f64 = 4_096.0;
/// An edge of a mesh that is steeper than this is taken as upright: its ends are what a circle rolls over. A wall of a
/// metre moves along the track by a micron at most, a ten-thousandth of the drive's tolerance; heights on steeper
/// edges would round by as much.
const STEEPEST: f64 = 1.0e6;
/// See [`MOST_STRIPS`].
const STRIPS_A_RADIUS: f64 = 64.0;

impl TyrePath {
    /// For a tyre of radius and width whose middle is at `y`.
    pub fn new(terrain: &Terrain, radius: f64, width: f64, y: f64) -> TyrePath {
        let [low, high] = [y - 0.5 * width, y + 0.5 * width];
        let meets = terrain.across.is_none_or(|[a, b]| a < high && low < b);
        let mut corners: Vec<[f64; 2]> = Vec::new();
        let mut pieces = vec![Piece {
            from: f64::NEG_INFINITY,
            to: f64::INFINITY,
            height_at_zero: radius,
            slope: 0.0,
        }];
        if meets && terrain.rolled.len() > 2 {
            let is_all_on_it = terrain.across.is_none_or(|[a, b]| a <= low && high <= b);
            if is_all_on_it {
                // The profile is all the ground there is: it may go below zero.
                pieces.clear();
            }
            for ends in terrain.rolled.windows(2) {
                let ([x0, z0], [x1, z1]) = (ends[0], ends[1]);
                if x1 <= x0 {
                    continue;
                }
                pieces.push(Piece::over([x0, z0], [x1, z1], radius));
            }
            let inner = &terrain.rolled[1..terrain.rolled.len() - 1];
            corners.extend_from_slice(inner);
        }
        let mut edges = topmost_edges(&terrain.facets, [low, high]);
        if let Some(boulder) = &terrain.boulder {
            let outline = boulder_outline(boulder, [low, high]);
            edges.extend(outline.windows(2).map(|ends| [ends[0], ends[1]]));
        }
        // Two triangles meet at most edges, and many at a corner.
        let mut ends: Vec<[f64; 2]> = edges.iter().flatten().copied().collect();
        ends.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
        ends.dedup();
        corners.extend(ends);
        for [a, b] in &edges {
            if (b[0] - a[0]) * STEEPEST > (b[1] - a[1]).abs() {
                pieces.push(Piece::over(*a, *b, radius));
            }
        }
        let path = TyrePath {
            radius,
            level: corners.is_empty() && pieces.len() == 1,
            corners,
            pieces,
        };
        if edges.is_empty() {
            path
        } else {
            path.without_what_is_never_met(edges.iter())
        }
    }

    /// Leaves out corners and pieces below what the circle rides on, wherever it is: of a mesh's thousands few are met.
    fn without_what_is_never_met<'e>(
        mut self,
        edges: impl Iterator<Item = &'e [[f64; 2]; 2]>,
    ) -> TyrePath {
        let ends = edges.fold([f64::INFINITY, f64::NEG_INFINITY], |e, edge| {
            [e[0].min(edge[0][0]), e[1].max(edge[1][0])]
        });
        let ends = [ends[0] - self.radius, ends[1] + self.radius];
        let width = ((ends[1] - ends[0]) / MOST_STRIPS).max(self.radius / STRIPS_A_RADIUS);
        let strips = ((ends[1] - ends[0]) / width).floor() as usize + 1;
        let strip = |i: usize| {
            let a = ends[0] + i as f64 * width;
            [a, a + width]
        };
        let strips_of = |[a, b]: [f64; 2]| {
            let at = |x: f64| (((x - ends[0]) / width).max(0.0) as usize).min(strips - 1);
            at(a)..=at(b)
        };
        let radius = self.radius;
        let of_corner = |c: &[f64; 2]| strips_of([c[0] - radius, c[0] + radius]);
        let of_piece = |p: &Piece| strips_of([p.from, p.to]);
        let mut floor = vec![f64::NEG_INFINITY; strips];
        for corner in &self.corners {
            for i in of_corner(corner) {
                floor[i] = floor[i].max(over_corner(corner, radius, strip(i))[0]);
            }
        }
        for piece in &self.pieces {
            for i in of_piece(piece) {
                floor[i] = floor[i].max(piece.range(strip(i))[0]);
            }
        }
        self.corners
            .retain(|c| of_corner(c).any(|i| over_corner(c, radius, strip(i))[1] >= floor[i]));
        self.pieces
            .retain(|p| of_piece(p).any(|i| p.range(strip(i))[1] >= floor[i]));
        self
    }

    /// Whether both ride on the same.
    pub fn is_same(&self, other: &TyrePath) -> bool {
        self.corners == other.corners && self.pieces == other.pieces
    }

    /// The centre's height at x.
    pub fn height(&self, x: f64) -> f64 {
        self.range([x, x])[1]
    }

    /// Whether the wheel rides on anything but level ground at x.
    pub fn climbs(&self, x: f64) -> bool {
        self.height(x) > self.radius + CLIMB_MM
    }

    /// Whether it does anywhere on a stretch.
    pub fn climbs_over(&self, stretch: [f64; 2]) -> bool {
        self.range(stretch)[1] > self.radius + CLIMB_MM
    }

    /// Where the wheel meets walls that it can't roll up, in order: its centre would rise by a jump. That is where the circle
    /// first meets a corner at or above its centre's height; on an arc about a corner it rises steeply, but by no jump.
    pub fn walls(&self) -> Vec<f64> {
        let met = self.corners.iter().map(|[x, _]| x - self.radius);
        let rises = |at: &f64| {
            let jump = self.height(at + NEXT_MM) - self.height(at - NEXT_MM);
            // What an arc of the tyre's radius rises by over so little.
            jump > WALL_MM + 2.0 * (self.radius * NEXT_MM).sqrt()
        };
        let mut out: Vec<f64> = met.filter(rises).collect();
        out.sort_by(f64::total_cmp);
        out
    }

    /// Least and greatest height of the centre over a stretch of x. The least is a lower bound that is met where
    /// the stretch shrinks to a point.
    pub fn range(&self, [a, b]: [f64; 2]) -> [f64; 2] {
        if self.level {
            return [self.radius; 2];
        }
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        let corners = self.corners.iter();
        let over = corners.map(|corner| over_corner(corner, self.radius, [a, b]));
        for [least, most] in over.chain(self.pieces.iter().map(|piece| piece.range([a, b]))) {
            low = low.max(least);
            high = high.max(most);
        }
        [low.min(high), high]
    }
}

/// Least and greatest height of the centre on a corner over a stretch of x; below everything where it isn't met. The
/// least is met where it is met all through the stretch.
fn over_corner([x, z]: &[f64; 2], radius: f64, [a, b]: [f64; 2]) -> [f64; 2] {
    let at = |off: f64| {
        if off < radius {
            z + (radius * radius - off * off).sqrt()
        } else {
            f64::NEG_INFINITY
        }
    };
    let near = (a - x).max(x - b).max(0.0);
    let far = (b - x).abs().max((a - x).abs());
    [at(far), at(near)]
}

/// A wheel that rises by a jump of more than this meets a wall, mm.
const WALL_MM: f64 = 1.0;
/// Heights this far before and behind a place are told apart, mm.
const NEXT_MM: f64 = 1.0e-6;

/// A tyre has begun to climb when its centre has risen by more than this, mm.
const CLIMB_MM: f64 = 0.1;

#[cfg(test)]
mod tests {
    use super::super::terrain::ROLLED_FACET_MM;
    use super::*;
    use crate::scene::ObstacleShape;

    fn path(shape: ObstacleShape, across: Option<(f64, f64)>) -> TyrePath {
        let terrain = Terrain::tried(shape, across);
        TyrePath::new(&terrain, 387.0, 265.0, 815.0)
    }

    /// Derived: the centre runs on an arc of the tyre's radius about the edge.
    #[test]
    fn over_a_step_edge_the_centre_runs_on_an_arc_of_the_tyres_radius() {
        let ledge = path(
            ObstacleShape::Ledge {
                height: 200.0,
                edge_radius: 0.0,
            },
            None,
        );
        // It touches the edge first where the arc begins at the height of level ground.
        let first = -(387.0_f64.powi(2) - (387.0_f64 - 200.0).powi(2)).sqrt();
        assert_eq!(ledge.height(first - 1.0), 387.0);
        for x in [first + 0.01, -250.0, -100.0, -1.0] {
            let off = ((ledge.height(x) - 200.0).powi(2) + x * x).sqrt();
            assert!((off - 387.0).abs() < 1.0e-9, "{x}: {off}");
        }
        assert_eq!(ledge.height(50.0), 587.0);
        assert!(!ledge.climbs(first - 0.5) && ledge.climbs(first + 0.5));
    }

    #[test]
    fn on_a_ramp_the_centre_runs_a_radius_off_its_surface() {
        let ramp = path(
            ObstacleShape::Ramp {
                height: 300.0,
                length: 900.0,
            },
            None,
        );
        let slope = 300.0_f64 / 900.0;
        let long = (1.0 + slope * slope).sqrt();
        let x = 400.0;
        let off = (ramp.height(x) - slope * x) / long;
        assert!((off - 387.0).abs() < 1.0e-9, "{off}");
        // Before and after it is level.
        assert_eq!(ramp.height(-500.0), 387.0);
        assert_eq!(ramp.height(2_000.0), 687.0);
    }

    #[test]
    fn beside_an_obstacle_the_ground_is_level() {
        let other_side = path(
            ObstacleShape::Ledge {
                height: 200.0,
                edge_radius: 0.0,
            },
            Some((-900.0, -300.0)),
        );
        assert_eq!(other_side.height(100.0), 387.0);
    }

    /// A roof of two long triangles a side, its ridge along the track.
    fn roof(length: f64, height: f64, ridge_y: f64) -> Terrain {
        let p = |x: f64, y: f64, z: f64| nalgebra::Vector3::new(x, ridge_y + y, z);
        let (a, b) = (p(0.0, 0.0, height), p(length, 0.0, height));
        let corners = vec![
            a,
            b,
            p(0.0, -300.0, -50.0),
            p(length, -300.0, -50.0),
            p(0.0, 300.0, -50.0),
            p(length, 300.0, -50.0),
        ];
        let triangles = vec![
            [0, 1, 2],
            [1, 3, 2],
            [0, 4, 1],
            [1, 4, 5],
            [0, 2, 4],
            [1, 5, 3],
            [2, 3, 4],
            [3, 5, 4],
        ];
        Terrain::of_mesh(corners, triangles, ridge_y, 50.0)
    }

    /// Sampled at 200 points, an edge of 15 m has one every 75 mm: a tyre of this radius sank in by 1.8 mm between
    /// them (h^2 / 8 r).
    #[test]
    fn a_tyre_does_not_sink_into_a_long_sharp_edge() {
        let terrain = roof(15_000.0, 120.0, 815.0);
        let path = TyrePath::new(&terrain, 387.0, 265.0, 815.0);
        for i in 0..=3_000 {
            let x = 5.0 * f64::from(i);
            let sunk = 120.0 + 387.0 - path.height(x);
            assert!(sunk.abs() < 1.0e-9, "{x}: {sunk}");
        }
        // Up to its near end on the arc about it, as over a step.
        let x = -200.0;
        let off = (path.height(x) - 120.0).hypot(x);
        assert!((off - 387.0).abs() < 1.0e-9, "{off}");
        // A tyre whose inner side is 100 mm off the ridge meets the roof's flank there: 170 mm down over 300 mm.
        let beside = TyrePath::new(&terrain, 387.0, 265.0, 815.0 + 100.0 + 132.5);
        let flank = 120.0 - 170.0 * 100.0 / 300.0;
        let sunk = flank + 387.0 - beside.height(7_500.0);
        assert!(sunk.abs() < 1.0e-9, "{sunk}");
        // Of all its edges few are left.
        assert!(path.corners.len() + path.pieces.len() < 12, "{path:?}");
    }

    /// Heights on a rough mesh against every point of a fine grid on its triangles: none stands above.
    #[test]
    fn no_point_of_a_mesh_stands_inside_the_tyre() {
        let mut seed: u64 = 0x9e37_79b9_7f4a_7c15;
        let mut unit = || {
            seed ^= seed << 13;
            seed ^= seed >> 7;
            seed ^= seed << 17;
            (seed >> 11) as f64 / (1_u64 << 53) as f64
        };
        let (nx, ny) = (12_usize, 5_usize);
        let mut corners = Vec::new();
        for i in 0..=nx {
            for j in 0..=ny {
                let z = if i == 0 || i == nx {
                    -20.0
                } else {
                    150.0 * unit()
                };
                corners.push(nalgebra::Vector3::new(
                    90.0 * i as f64 + 30.0 * unit(),
                    90.0 * j as f64 - 225.0,
                    z,
                ));
            }
        }
        let at = |i: usize, j: usize| (i * (ny + 1) + j) as u32;
        let mut triangles = Vec::new();
        for i in 0..nx {
            for j in 0..ny {
                triangles.push([at(i, j), at(i + 1, j), at(i + 1, j + 1)]);
                triangles.push([at(i, j), at(i + 1, j + 1), at(i, j + 1)]);
            }
        }
        let terrain = Terrain::of_open_mesh(corners, &triangles);
        let (low, high) = (-100.0, 60.0);
        let radius = 300.0;
        let path = TyrePath::new(&terrain, radius, high - low, 0.5 * (low + high));
        const FINE: usize = 60;
        let mut points = Vec::new();
        for [a, b, c] in &terrain.facets {
            for i in 0..=FINE {
                for j in 0..=FINE - i {
                    let (u, v) = (i as f64 / FINE as f64, j as f64 / FINE as f64);
                    points.push(a + (b - a) * u + (c - a) * v);
                }
            }
        }
        points.retain(|p| (low..=high).contains(&p.y));
        for k in 0..400 {
            let x = -350.0 + 4.5 * f64::from(k);
            let sampled = points
                .iter()
                .filter(|p| (p.x - x).abs() < radius)
                .map(|p| p.z + (radius * radius - (p.x - x).powi(2)).sqrt())
                .fold(radius, f64::max);
            let height = path.height(x);
            assert!(height >= sampled - 1.0e-9, "{x}: {height} {sampled}");
            // Grid lines lie 1.5 mm apart along every edge, and stop that short of the cut at the tyre's side: what a
            // slope of 150 over 60 mm rises by there.
            assert!(height - sampled < 5.0, "{x}: {height} {sampled}");
            let [least, most] = path.range([x, x + 7.0]);
            let there = path.height(x + 3.1);
            assert!(least - 1.0e-9 <= there && there <= most + 1.0e-9, "{x}");
        }
    }

    /// A tyre whose outer 11 mm ride on a boulder's flank: the circle against the cut of the ellipsoid at that side, point by
    /// point. Found by a reviewer: over a cloud of points the tyre sank in by 4.4 mm.
    #[test]
    fn a_tyre_does_not_sink_into_a_boulders_flank() {
        let size = crate::scene::Point(300.0, 1500.0, 400.0);
        let middle_y = 1686.5;
        let boulder = path(ObstacleShape::Boulder { size, middle_y }, None);
        let off: f64 = (815.0 + 132.5 - middle_y) / (0.5 * size.1);
        let share = (1.0 - off * off).sqrt();
        let (long, high) = (0.5 * size.0 * share, size.2 * share);
        for k in 0..200 {
            let x = f64::from(k) * 1.5;
            let points = (0..=20_000).map(|i| {
                let a = std::f64::consts::PI * f64::from(i) / 20_000.0;
                [0.5 * size.0 - long * a.cos(), high * a.sin()]
            });
            let over = points.filter(|p| (p[0] - x).abs() < 387.0);
            let exact = over
                .map(|p| p[1] + (387.0_f64.powi(2) - (p[0] - x).powi(2)).sqrt())
                .fold(387.0, f64::max);
            let height = boulder.height(x);
            assert!(
                (height - exact).abs() < 2.0 * ROLLED_FACET_MM,
                "{x}: {height} {exact}"
            );
        }
    }

    #[test]
    fn every_height_in_a_stretch_lies_in_its_range() {
        for shape in [
            ObstacleShape::Ledge {
                height: 180.0,
                edge_radius: 25.0,
            },
            ObstacleShape::Log { diameter: 260.0 },
            ObstacleShape::Hump {
                height: 150.0,
                length: 1_200.0,
            },
            ObstacleShape::Ditch {
                depth: 150.0,
                width: 600.0,
            },
        ] {
            let path = path(shape.clone(), None);
            for i in -60..120 {
                let (a, b) = (f64::from(i) * 17.3, f64::from(i) * 17.3 + 29.0);
                let [low, high] = path.range([a, b]);
                for j in 0..=20 {
                    let h = path.height(a + (b - a) * f64::from(j) / 20.0);
                    assert!(
                        low - 1.0e-9 <= h && h <= high + 1.0e-9,
                        "{shape:?} {a}: {h}"
                    );
                }
            }
        }
    }
}
