//! Plastic of a box and the least time it takes.
//!
//! Shell and infill of a box a × b × c, c upright: t = perimeters · line, V_in = (a − 2t)(b − 2t)(c − top − bottom),
//! V = V_out − V_in + f · V_in (common practice, no source). The numbers were computed apart from this program.

use beamyard::estimate::{extruded_volume, layers};
use beamyard::scenario::Settings;
use beamyard::units::{CubicMillimetres, Density, Flow, Millimetres};
use proptest::prelude::*;

fn settings(layer: f64, line: f64, [perimeters, top, bottom]: [u32; 3], infill: f64) -> Settings {
    Settings {
        id: "test".into(),
        layer: Millimetres(layer),
        line: Millimetres(line),
        perimeters,
        top,
        bottom,
        infill,
        overhang: 45,
        support: 0.15,
    }
}

fn volume(size: [f64; 3], solid: f64, settings: &Settings) -> f64 {
    extruded_volume(size.map(Millimetres), solid, settings).value()
}

/// Walls 1.3 (2 × 0.65), top 0.9 (3 × 0.3), bottom 0.6 (2 × 0.3), 5 % infill.
fn light() -> Settings {
    settings(0.3, 0.65, [2, 3, 2], 0.05)
}

/// Walls 0.9 (2 × 0.45), top and bottom 0.8 (4 × 0.2).
fn fine(infill: f64) -> Settings {
    settings(0.2, 0.45, [2, 4, 4], infill)
}

#[test]
fn a_box_takes_its_shell_and_its_share_of_infill() {
    // Size, settings, then mm³, grams at 1.24 g/cm³, hours at 14 mm³/s.
    let rows = [
        ([230.0, 48.0, 48.0], light(), 73_859.067, 91.5852, 1.465458),
        ([48.0, 48.0, 230.0], light(), 82_493.693, 102.2922, 1.636780),
        ([100.0; 3], fine(0.15), 193_439.406_4, 239.8649, 3.838083),
        ([20.0; 3], fine(0.20), 3124.1472, 3.8739, 0.061987),
        ([2.0, 48.0, 48.0], light(), 4608.0, 5.7139, 0.091429),
    ];
    for (size, settings, expected, grams, hours) in rows {
        let found = volume(size, 1.0, &settings);
        assert!((found - expected).abs() < 1e-3, "{size:?}: {found} mm³");
        let mass = (CubicMillimetres(found) * Density(1.24)).value();
        assert!((mass - grams).abs() < 1e-4, "{size:?}: {mass} g");
        let least = CubicMillimetres(found).time_at(Flow(14.0)).value() / 3600.0;
        assert!((least - hours).abs() < 1e-6, "{size:?}: {least} h");
    }
}

#[test]
fn a_solid_box_six_times_as_large_takes_216_times_the_plastic() {
    // 30 × 20 × 10 is 6000 mm³, at six times the size 1 296 000 mm³: mass goes with the cube of scale when the inside
    // is filled (geometry).
    let filled = fine(1.0);
    assert_eq!(volume([30.0, 20.0, 10.0], 1.0, &filled), 6000.0);
    let scaled = volume([180.0, 120.0, 60.0], 1.0, &filled);
    assert!((scaled - 1_296_000.0).abs() < 1e-6);
}

#[test]
fn an_empty_box_six_times_as_large_takes_little_more_than_36_times_the_plastic() {
    // A shell of one thickness goes with the area, so with the square, but for corners and edges.
    // 6000 − 28.2 × 18.2 × 8.4 = 1688.784; 1 296 000 − 178.2 × 118.2 × 58.4 = 65 906.784: 39.026 times.
    let empty = fine(0.0);
    let small = volume([30.0, 20.0, 10.0], 1.0, &empty);
    let large = volume([180.0, 120.0, 60.0], 1.0, &empty);
    assert!((small - 1688.784).abs() < 1e-6 && (large - 65_906.784).abs() < 1e-6);
}

#[test]
fn a_third_of_the_infill_takes_about_9_percent_off_a_hollow_box_beam() {
    // On a hollow box beam of about 320 × 40 × 40 mm with 2 perimeters, 3 top and 2 bottom layers, going from 15 % to
    // 5 % infill takes about 9 % off its mass (common practice, no source).
    // Taken here: walls of 2.4 mm, so 1 − (35.2/40)² = 0.2256 of the box is in the part; lines 0.65, layers 0.3.
    // By hand: V_out 512 000, V_in 317.4 × 37.4 × 38.5 = 457 024, shell 54 976, body 115 507, within the shell 60 532.
    // 54 976 + 0.15 × 60 532 = 64 055; 54 976 + 0.05 × 60 532 = 58 002: 9.45 % less, half a point from the trade's 9.
    let beam = |infill| {
        volume(
            [320.0, 40.0, 40.0],
            0.2256,
            &settings(0.3, 0.65, [2, 3, 2], infill),
        )
    };
    let saved = 1.0 - beam(0.05) / beam(0.15);
    assert!((saved - 0.0945).abs() < 1e-4, "{saved}");
    assert!((saved - 0.09).abs() < 0.005, "{saved}");
}

#[test]
fn a_part_that_is_thinner_than_its_shell_is_all_plastic() {
    // The shell of a full 100³ at these walls is 1 000 000 − 948 894.816 = 51 105.184. A part that fills a twentieth of
    // the box, 50 000, has less than that: it is all shell.
    assert!((volume([100.0; 3], 0.05, &fine(0.15)) - 50_000.0).abs() < 1e-6);
    // One that fills a tenth, 100 000, has 48 894.816 within its shell, filled to 15 %: 7334.2224.
    assert!((volume([100.0; 3], 0.1, &fine(0.15)) - 58_439.406_4).abs() < 1e-6);
}

#[test]
fn layers_are_the_height_by_the_layer_rounded_up() {
    assert_eq!(layers(Millimetres(230.0), Millimetres(0.3)), 767);
    assert_eq!(layers(Millimetres(100.0), Millimetres(0.2)), 500);
}

proptest! {
    #[test]
    fn more_infill_is_never_less_plastic_and_full_infill_is_the_part_itself(
        size in proptest::array::uniform3(1.0..400f64), solid in 0.01..=1.0f64,
        perimeters in 0u32..6, top in 0u32..8, bottom in 0u32..8,
        infill in 0.0..=1.0f64, more in 0.0..=1.0f64,
    ) {
        let walls = [perimeters, top, bottom];
        let (low, high) = (infill.min(more), infill.max(more));
        let at = |infill| volume(size, solid, &settings(0.3, 0.65, walls, infill));
        let body = solid * size.iter().product::<f64>();
        prop_assert!(at(low) <= at(high) * (1.0 + 1e-12));
        prop_assert!(at(high) <= body * (1.0 + 1e-12));
        prop_assert!((at(1.0) - body).abs() <= 1e-9 * body);
    }
}
