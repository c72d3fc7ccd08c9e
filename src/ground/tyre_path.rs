//! How high a tyre's centre stands as it rolls: a rigid circle of the static loaded radius with the tyre's width.
//!
//! The idea in five lines. The centre stands as low as the circle touches nothing inside: over a corner of the
//! profile at distance d its height is z + sqrt(r^2 - d^2), so over a step edge its path is an arc of the
//! tyre's radius about the edge; over a straight piece it is the piece lifted by r along its normal. The greatest of
//! all counts. Over a stretch of x every term has its own greatest and least value, so the height is enclosed
//! exactly. Across its width the tyre takes the highest it meets: its edges are square, which lifts it a little
//! sooner than a real one.

use super::terrain::Terrain;

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

#[derive(Clone, Copy, Debug)]
struct Piece {
    from: f64,
    to: f64,
    height_at_zero: f64,
    slope: f64,
}

/// Bins of a boulder's cloud, mm.
const BIN_MM: f64 = 3.0;

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
        if meets && terrain.profile.len() > 2 {
            if terrain.across.is_none() {
                // The profile is all the ground there is: it may go below zero.
                pieces.clear();
            }
            for ends in terrain.profile.windows(2) {
                let ([x0, z0], [x1, z1]) = (ends[0], ends[1]);
                if x1 <= x0 {
                    continue;
                }
                let slope = (z1 - z0) / (x1 - x0);
                let long = (1.0 + slope * slope).sqrt();
                // The centre lies off the touching point along the normal (-slope, 1) / long.
                let shift = -radius * slope / long;
                pieces.push(Piece {
                    from: x0 + shift,
                    to: x1 + shift,
                    height_at_zero: z0 - slope * x0 + radius * long,
                    slope,
                });
            }
            let inner = &terrain.profile[1..terrain.profile.len() - 1];
            corners.extend_from_slice(inner);
        }
        let mut bins: std::collections::BTreeMap<i64, [f64; 2]> = std::collections::BTreeMap::new();
        for p in terrain.cloud.iter().filter(|p| (low..=high).contains(&p.y)) {
            let bin = bins
                .entry((p.x / BIN_MM).floor() as i64)
                .or_insert([p.x, p.z]);
            if p.z > bin[1] {
                *bin = [p.x, p.z];
            }
        }
        corners.extend(bins.into_values());
        TyrePath {
            radius,
            level: corners.is_empty() && pieces.len() == 1,
            corners,
            pieces,
        }
    }

    /// The centre's height at x.
    pub fn height(&self, x: f64) -> f64 {
        self.range([x, x])[1]
    }

    /// Whether the wheel rides on anything but level ground at x.
    pub fn climbs(&self, x: f64) -> bool {
        self.height(x) > self.radius + CLIMB_MM
    }

    /// Least and greatest height of the centre over a stretch of x. The least is a lower bound that is met where
    /// the stretch shrinks to a point.
    pub fn range(&self, [a, b]: [f64; 2]) -> [f64; 2] {
        if self.level {
            return [self.radius; 2];
        }
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        let r2 = self.radius * self.radius;
        for [x, z] in &self.corners {
            let near = (a - x).max(x - b).max(0.0);
            if near >= self.radius {
                continue;
            }
            high = high.max(z + (r2 - near * near).sqrt());
            let far = (b - x).abs().max((a - x).abs());
            if far < self.radius {
                low = low.max(z + (r2 - far * far).sqrt());
            }
        }
        for piece in &self.pieces {
            let (from, to) = (a.max(piece.from), b.min(piece.to));
            if from > to {
                continue;
            }
            let ends = [from, to].map(|x| {
                // A piece without end has no slope.
                piece.height_at_zero
                    + if piece.slope == 0.0 {
                        0.0
                    } else {
                        piece.slope * x
                    }
            });
            high = high.max(ends[0].max(ends[1]));
            if piece.from <= a && b <= piece.to {
                low = low.max(ends[0].min(ends[1]));
            }
        }
        [low.min(high), high]
    }
}

/// A tyre has begun to climb when its centre has risen by more than this, mm.
const CLIMB_MM: f64 = 0.1;

#[cfg(test)]
mod tests {
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
