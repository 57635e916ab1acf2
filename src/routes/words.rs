//! Lengths and axes in the user's own notation.
//!
//! Knows: how a scenario writes them. Must not know: what they are said about.
//! Promises: an excess above zero never reads as zero.

use crate::scenario::Axis;

/// An axis as `lie` names it.
pub(super) fn axis_name(axis: Axis) -> &'static str {
    match axis {
        Axis::X => "x",
        Axis::Y => "y",
        Axis::Z => "z",
    }
}

/// A length in mm, to a thousandth, without trailing zeros.
pub(super) fn length(mm: f64) -> String {
    trimmed(mm, 3)
}

/// By how many mm something is too long: rounded up, so that whoever takes off that much is there.
pub(super) fn excess(mm: f64) -> String {
    // To a tenth from 1 mm on, to a thousandth below; what floating point adds to a round number is no excess.
    let steps = if mm < 1.0 { 1000.0 } else { 10.0 };
    trimmed((mm * steps - 1e-6).ceil() / steps, 3)
}

/// A number rounded to so many decimals, without trailing zeros.
pub(super) fn trimmed(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    match text.split_once('.') {
        Some(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_have_no_trailing_zeros() {
        assert_eq!(length(1380.0), "1380");
        assert_eq!(length(47.400000000000006), "47.4");
        assert_eq!(length(0.25), "0.25");
        assert_eq!(length(-10.0), "-10");
    }

    #[test]
    fn an_excess_is_rounded_up_and_never_to_nothing() {
        assert_eq!(excess(1017.8781), "1017.9");
        assert_eq!(excess(1090.0), "1090");
        assert_eq!(excess(0.3 - 0.2), "0.1");
        assert_eq!(excess(0.00002), "0.001");
    }
}
