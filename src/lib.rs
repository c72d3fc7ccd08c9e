//! `bindpoint`: how far can a driven, independently sprung front wheel droop, bump and steer, what stops
//! it first, second and third, and where does metal touch first?
//!
//! # The road
//!
//! ```text
//! scene file -> mechanism -> stops and gaps -> sweep -> findings -> command line, files
//! scene         suspension   limits            sweep    findings    output
//!               kinematics   shapes, clearance
//!                      \_______ truck ______/
//! ```
//!
//! * [`scene`]: what a person writes, in RON, with messages that know line and column.
//! * [`setups`]: named lists of changes made on a scene.
//! * [`suspension`]: hardpoints, bodies, the double wishbone in closed form, over any [`numbers`].
//! * [`kinematics`]: pose by wheel travel and rack, wheel angles, proved motion bounds.
//! * [`limits`]: lengths, joint angles, plunge, ball-joint cones, arm and steering stops.
//! * [`shapes`] and [`clearance`]: part surfaces, exact gaps, proofs that a gap stays above a level.
//! * [`driveline`]: the front driveshaft's angles, and how fast joints slide.
//! * [`plausibility`]: slips in a scene, by what follows from its points.
//! * [`truck`]: a scene made into corners.
//! * [`sweep`]: first contact, stop order, free region, tightest gaps, all guarded.
//! * [`ground`]: what the truck clears, and what hits first when it is driven at something.
//! * [`space`]: the space that moving parts take, for brackets; the motion itself, in key frames.
//! * [`compare`]: setups side by side.
//! * [`findings`] and [`output`]: what was found, as values and as text, JSON, CSV, STL, 3MF, glTF.
//!
//! # Axes, signs, units
//!
//! ISO 8855: x forward, y left, z up. Millimetres and radians inside; names say where a value is in
//! degrees. Travel: wheel centre's height from the measured position, bump positive. Rack: toward +y
//! positive. Steer: left positive; toe-in positive; camber positive with the top outward; caster positive
//! with the kingpin's top rearward; plunge positive outboard.
//!
//! # Example
//!
//! ```
//! use bindpoint::{sweep, truck};
//! use std::path::Path;
//!
//! let truck = truck::load(Path::new("scenes/crake.ron"))?;
//! let corner = &truck.corners[0];
//! let position = corner.position(-20.0, 0.0)?;
//! let found = sweep::position_findings(&truck, corner, &position);
//! assert!(found.inner_joint_deg > 0.0);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # What is proved
//!
//! Everything called free is proved for rigid parts as drawn, between samples too, within the stated
//! tolerances (the room of a boot is sized from samples): see [`sweep`] and [`kinematics`]'s motion bound. Bushing give, frame flex and wear are not
//! covered.

pub mod clearance;
pub mod compare;
pub mod driveline;
pub mod findings;
pub mod ground;
pub mod kinematics;
pub mod limits;
pub mod numbers;
pub mod output;
pub mod plausibility;
pub mod scene;
pub mod setups;
pub mod shapes;
pub mod space;
pub mod suspension;
pub mod sweep;
pub mod truck;
#[cfg(feature = "viewer")]
pub mod viewer;
