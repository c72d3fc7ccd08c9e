//! Where a point of the truck appears in a picture drawn by parallel projection.

use bindpoint::viewer::framing::Framing;
use nalgebra::Vector3;

/// A vehicle point in a parallel view of `size` pixels: across from the left, down from the top.
pub fn pixel_of(framing: &Framing, point_mm: &Vector3<f64>, size: [u32; 2]) -> [f64; 2] {
    let (right, up) = framing.screen_axes();
    let from_middle = point_mm - framing.middle_mm;
    let scale = f64::from(size[1]) / (2.0 * framing.half_height_mm);
    [
        0.5 * f64::from(size[0]) + from_middle.dot(&right) * scale,
        0.5 * f64::from(size[1]) - from_middle.dot(&up) * scale,
    ]
}
