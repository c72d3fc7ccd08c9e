//! Names of the slices that a spring or a boot is made of: each is a part of its own, the first called as the drawn part is.

const SLICE: &str = ", slice ";

/// The name of a slice, counted from zero.
pub fn slice_name(drawn: &str, number: usize) -> String {
    match number {
        0 => drawn.to_owned(),
        i => format!("{drawn}{SLICE}{}", i + 1),
    }
}

/// The drawn part that a part is a slice of; its own name where it is none.
pub fn drawn_part(name: &str) -> &str {
    match name.rsplit_once(SLICE) {
        Some((drawn, number)) if number.parse::<usize>().is_ok() => drawn,
        _ => name,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slice_is_of_the_part_that_was_drawn() {
        for number in [0, 1, 11] {
            assert_eq!(drawn_part(&slice_name("coil", number)), "coil");
        }
        for other in ["coil, left", "a, slice of b", "skid plate"] {
            assert_eq!(drawn_part(other), other);
        }
    }
}
