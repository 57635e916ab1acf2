//! Cross-sections of beams: how much material, how stiff against bending.
//!
//! Knows: circles, squares, boxes; plain numbers in mm. Must not know: materials, loads, spans.
//! Promises: areas and second moments are about the section's own neutral axis, exact but for rounding.
//!
//! Formulas: R. J. Roark, W. C. Young, Formulas for Stress and Strain, table of properties of sections (from memory; the same
//! in any text on mechanics of materials).

use std::f64::consts::PI;

/// A cross-section, bent about its horizontal axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Area, mm².
    pub area: f64,
    /// Second moment of area about the neutral axis, mm⁴.
    pub inertia: f64,
    /// From the neutral axis to the outermost fibre, mm.
    pub edge: f64,
}

/// Walls of a box, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Walls {
    /// Each of the two upright ones.
    pub sides: f64,
    /// The upper one.
    pub top: f64,
    /// The lower one.
    pub bottom: f64,
}

/// A full rectangle, `width` across, `depth` in the direction of bending.
pub fn full_box(width: f64, depth: f64) -> Section {
    Section {
        area: width * depth,
        inertia: width * depth.powi(3) / 12.0,
        edge: depth / 2.0,
    }
}

/// What is left inside a box between its walls: `[width, depth]`, nought where the walls meet.
pub fn inside(width: f64, depth: f64, walls: Walls) -> [f64; 2] {
    [
        (width - 2.0 * walls.sides).max(0.0),
        (depth - walls.top - walls.bottom).max(0.0),
    ]
}

/// A hollow box. With walls alike, (b h³ − (b − 2t)(h − 2t)³) / 12; with an upper wall that differs from the lower one,
/// the neutral axis lies nearer the thicker, and the rest is the parallel-axis theorem.
pub fn hollow_box(width: f64, depth: f64, walls: Walls) -> Section {
    let full = full_box(width, depth);
    let [hole_width, hole_depth] = inside(width, depth, walls);
    if hole_width <= 0.0 || hole_depth <= 0.0 {
        return full;
    }
    let hole = full_box(hole_width, hole_depth);
    // Heights above the lower edge.
    let hole_centre = walls.bottom + hole_depth / 2.0;
    let area = full.area - hole.area;
    let axis = (full.area * depth / 2.0 - hole.area * hole_centre) / area;
    let about = |part: Section, centre: f64| part.inertia + part.area * (centre - axis).powi(2);
    Section {
        area,
        inertia: about(full, depth / 2.0) - about(hole, hole_centre),
        edge: axis.max(depth - axis),
    }
}

/// A round bar.
pub fn rod(diameter: f64) -> Section {
    Section {
        area: PI * diameter.powi(2) / 4.0,
        inertia: PI * diameter.powi(4) / 64.0,
        edge: diameter / 2.0,
    }
}

/// A round tube, `wall` thick.
pub fn tube(outside: f64, wall: f64) -> Section {
    less(rod(outside), rod((outside - 2.0 * wall).max(0.0)))
}

/// A square tube, `wall` thick.
pub fn square_tube(side: f64, wall: f64) -> Section {
    let hole = (side - 2.0 * wall).max(0.0);
    less(full_box(side, side), full_box(hole, hole))
}

/// A threaded rod, by the diameter of its stress area, half-way between flanks and core, d − 0.938194 P: ISO 898-1, as tables have it
/// (usefastener.com/knowledge/404 prints 36.6 mm² for M8).
pub fn threaded_rod(diameter: f64, pitch: f64) -> Section {
    rod(diameter - 0.938_194 * pitch)
}

/// Pitch of the coarse ISO metric thread of a nominal diameter, mm: ISO 261 (from memory); `None` for other diameters.
pub fn coarse_pitch(diameter: u32) -> Option<f64> {
    Some(match diameter {
        3 => 0.5,
        4 => 0.7,
        5 => 0.8,
        6 => 1.0,
        8 => 1.25,
        10 => 1.5,
        12 => 1.75,
        14 | 16 => 2.0,
        18 | 20 | 22 => 2.5,
        24 => 3.0,
        _ => return None,
    })
}

/// A section with a hole of the same centre.
fn less(outer: Section, hole: Section) -> Section {
    Section {
        area: outer.area - hole.area,
        inertia: outer.inertia - hole.inertia,
        edge: outer.edge,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn alike(wall: f64) -> Walls {
        Walls {
            sides: wall,
            top: wall,
            bottom: wall,
        }
    }

    #[test]
    fn a_box_with_a_thicker_floor_bends_about_an_axis_nearer_to_it() {
        // 20 wide, 20 deep, sides 2, top 2, bottom 6: the hole is 16 × 12 with its centre at 12.
        // A = 400 − 192 = 208; axis = (400·10 − 192·12) / 208 = 1696 / 208 = 8.153846.
        // I = 20·20³/12 + 400·1.846154² − 16·12³/12 − 192·3.846154² = 13333.33 + 1363.31 − 2304 − 2840.24 = 9552.41.
        let walls = Walls {
            sides: 2.0,
            top: 2.0,
            bottom: 6.0,
        };
        let section = hollow_box(20.0, 20.0, walls);
        assert_eq!(section.area, 208.0);
        assert!((section.inertia - 9552.41).abs() < 0.01, "{section:?}");
        assert!((section.edge - 11.846_154).abs() < 1e-6);
    }

    #[test]
    fn walls_that_meet_leave_no_hole() {
        assert_eq!(hollow_box(10.0, 4.0, alike(2.0)), full_box(10.0, 4.0));
        assert_eq!(inside(10.0, 4.0, alike(3.0)), [4.0, 0.0]);
    }

    proptest! {
        #[test]
        fn a_hollow_box_is_the_sum_of_its_four_walls(
            b in 10.0..100f64, h in 10.0..100f64, s in 0.1..4f64, t in 0.1..4f64, u in 0.1..4f64
        ) {
            // Two webs of full depth, a lid and a floor between them, each by its own centre.
            let parts = [
                (2.0 * s, h, h / 2.0),
                (b - 2.0 * s, t, h - t / 2.0),
                (b - 2.0 * s, u, u / 2.0),
            ];
            let area: f64 = parts.iter().map(|(w, d, _)| w * d).sum();
            let axis = parts.iter().map(|(w, d, c)| w * d * c).sum::<f64>() / area;
            let inertia: f64 =
                parts.iter().map(|(w, d, c)| w * d.powi(3) / 12.0 + w * d * (c - axis).powi(2)).sum();
            let section = hollow_box(b, h, Walls { sides: s, top: t, bottom: u });
            prop_assert!((section.area - area).abs() < 1e-9 * area);
            prop_assert!((section.inertia - inertia).abs() < 1e-9 * inertia);
        }
    }
}
