//! The front differential lowered: by spacers at its front mounts it turns about its rear ones, by a drop it
//! goes down as it stands. Its output flanges, joint housings, pinion and what is bolted under it follow.

use super::assemble::{MOST_LOWERED_MM, Reader};
use crate::scene::{Differential, Fitted, HangsFrom, PartEntry, Point, Problem, Scene};
use crate::suspension::{Body, MountFit};
use nalgebra::{Isometry3, Translation3, Vector3};

type Result<T> = std::result::Result<T, Problem>;

/// How the housing stands, seen from how it stood when it was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Housing {
    /// Vehicle coordinates now, from the same as measured, mm.
    pub motion: Isometry3<f64>,
    /// What each front mount misses its bolt hole by, mm: slots and bushings have to take it up.
    pub misses_mm: Vec<f64>,
    /// Where the front mounts' bolt centres are wanted, and where they were, mm.
    mounts: Option<Mounts>,
}

#[derive(Clone, Debug, PartialEq)]
struct Mounts {
    measured: Vec<Vector3<f64>>,
    wanted: Vec<Vector3<f64>>,
}

/// Ears that miss their holes by more than this can't be bolted up, mm: a slotted hole's play (common
/// practice, no source).
const MOST_MISS_MM: f64 = 3.0;

impl Housing {
    /// As measured.
    pub fn as_measured() -> Housing {
        Housing {
            motion: Isometry3::identity(),
            misses_mm: Vec::new(),
            mounts: None,
        }
    }

    /// From a scene.
    pub(super) fn of(scene: &Scene) -> Result<Housing> {
        let Some(entry) = &scene.differential else {
            return Ok(Housing::as_measured());
        };
        let reader = Reader {
            scale: scene.units.in_mm(),
            mirrored: false,
        };
        let lowered = |value: f64, field: &str| -> Result<f64> {
            let path = format!("differential.{field}");
            let mm = reader.length(value, &path)?;
            if mm.abs() > MOST_LOWERED_MM {
                return Err(Problem::at(
                    path,
                    format!("{value} is further than a differential is ever moved"),
                    "give a thickness; below zero raises it",
                ));
            }
            Ok(mm)
        };
        let spacer_mm = lowered(entry.front_spacer, "front_spacer")?;
        let drop_mm = lowered(entry.drop, "drop")?;
        let [front, rear] = mounts(entry, reader)?;
        let down = |mm: f64| Vector3::new(0.0, 0.0, -mm);
        let wanted: Vec<_> = front.iter().map(|p| p + down(spacer_mm)).collect();
        let fit = MountFit::about(&rear, &front, &wanted).ok_or_else(|| {
            Problem::at(
                "differential.front_mounts",
                "the front mounts lie on the line that the housing turns about",
                "measure the bolt centres of the front ears and of the rear mounts again",
            )
        })?;
        if let Some(miss) = fit.misses_mm.iter().copied().find(|m| *m > MOST_MISS_MM) {
            return Err(Problem::at(
                "differential.front_mounts",
                format!("turned about its rear mount, an ear misses its hole by {miss:.1} mm"),
                "the mounts can't all be met: slot them, use a thinner spacer, or lower the rear mount too",
            ));
        }
        let drop = Translation3::from(down(drop_mm));
        let same = spacer_mm == 0.0;
        let turn = if same {
            Isometry3::identity()
        } else {
            fit.motion
        };
        Ok(Housing {
            motion: drop * turn,
            misses_mm: if same {
                vec![0.0; front.len()]
            } else {
                fit.misses_mm
            },
            mounts: Some(Mounts {
                wanted: wanted.iter().map(|p| p + down(drop_mm)).collect(),
                measured: front,
            }),
        })
    }

    /// Whether it stands as measured.
    pub fn is_as_measured(&self) -> bool {
        self.motion == Isometry3::identity()
    }

    /// A point of the housing.
    pub fn point(&self, p: &Vector3<f64>) -> Vector3<f64> {
        self.motion.rotation * p + self.motion.translation.vector
    }

    /// A direction of the housing.
    pub fn direction(&self, d: &Vector3<f64>) -> Vector3<f64> {
        self.motion.rotation * d
    }

    /// How far it has turned, degrees.
    pub fn turned_deg(&self) -> f64 {
        self.motion.rotation.angle().to_degrees()
    }

    /// How far what was level in it (its oil) is tilted, degrees.
    pub fn tilt_deg(&self) -> f64 {
        let up = self.direction(&Vector3::z());
        up.z.clamp(-1.0, 1.0).acos().to_degrees()
    }

    /// The motion of a part of the scene, seen from how it was drawn, by the body that carries it or by what it
    /// hangs from.
    pub(super) fn motion_of(
        &self,
        part: &PartEntry,
        reader: Reader,
        path: &str,
    ) -> Result<Isometry3<f64>> {
        let rear = match &part.hangs_from {
            HangsFrom::Body => {
                return Ok(if part.on.is_on_differential() {
                    self.motion
                } else {
                    Isometry3::identity()
                });
            }
            HangsFrom::DifferentialMounts { rear_bolts } => rear_bolts,
        };
        let path = format!("{path}.hangs_from");
        if part.on != Body::Frame {
            return Err(Problem::at(
                path,
                format!("this part is on the {}", part.on.name()),
                "only parts on the frame can hang from the differential's mounts",
            ));
        }
        let Some(mounts) = &self.mounts else {
            return Err(Problem::at(
                path,
                "the scene doesn't say where the differential's mounts are",
                "add `differential: (front_mounts: [..], rear_mounts: [..])` to the scene",
            ));
        };
        if mounts.measured == mounts.wanted {
            return Ok(Isometry3::identity());
        }
        let both = part.fitted != Fitted::Once;
        let rear = points(rear, reader, &format!("{path}.rear_bolts"))?;
        // A part on each side hangs from the ears of its own side.
        let own: Vec<usize> = (0..mounts.measured.len())
            .filter(|i| {
                let near = |p: &Vector3<f64>| rear.iter().map(|r| r.y * p.y).sum::<f64>() >= 0.0;
                !both || near(&mounts.measured[*i])
            })
            .collect();
        // The plate's own front bolts sit below the ears, level with its rear ones: there they go down with the
        // ears, by as much.
        let level = match rear.len() {
            0 => None,
            n => Some(rear.iter().map(|r| r.z).sum::<f64>() / n as f64),
        };
        let (mut measured, mut wanted) = (Vec::new(), Vec::new());
        for i in own {
            let (from, to) = (mounts.measured[i], mounts.wanted[i]);
            let lift = level.map_or(0.0, |level| level - from.z) * Vector3::z();
            measured.push(from + lift);
            wanted.push(to + lift);
        }
        MountFit::about(&rear, &measured, &wanted)
            .map(|fit| fit.motion)
            .ok_or_else(|| {
                Problem::at(
                    path,
                    "its rear bolts lie where the differential's front mounts are",
                    "give the bolts that stay when the front goes down, or leave them out",
                )
            })
    }

    /// A warning where the ears miss their holes.
    pub(super) fn warning(&self) -> Option<String> {
        let worst = self.misses_mm.iter().copied().fold(0.0, f64::max);
        // A tenth of a millimetre is less than a bolt's play in its hole.
        (worst > 0.1).then(|| {
            format!(
                "lowered on spacers, the differential's front ears miss their holes by {worst:.1} mm: slots \
                 or bushings have to take that up"
            )
        })
    }
}

fn points(entries: &[Point], reader: Reader, path: &str) -> Result<Vec<Vector3<f64>>> {
    entries
        .iter()
        .enumerate()
        .map(|(i, p)| reader.point(p, &format!("{path}[{i}]")))
        .collect()
}

/// Bolt centres of the front and of the rear mounts.
fn mounts(entry: &Differential, reader: Reader) -> Result<[Vec<Vector3<f64>>; 2]> {
    for (list, name) in [
        (&entry.front_mounts, "front_mounts"),
        (&entry.rear_mounts, "rear_mounts"),
    ] {
        if list.is_empty() || list.len() > 2 {
            return Err(Problem::at(
                format!("differential.{name}"),
                format!("{} mounts", list.len()),
                "give the bolt centres of one or two",
            ));
        }
    }
    Ok([
        points(&entry.front_mounts, reader, "differential.front_mounts")?,
        points(&entry.rear_mounts, reader, "differential.rear_mounts")?,
    ])
}
