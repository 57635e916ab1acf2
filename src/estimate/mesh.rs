//! How much is extruded for a piece whose mesh was measured, and for the support under it.
//!
//! Knows: areas by slope, where faces meet, settings. Must not know: triangles, machines, time.
//! Promises: never more than the body holds, support apart; more infill never means less plastic.

use crate::geometry::mesh::{Body, CLASSES, Lying, Slope, class, slope_class};
use crate::scenario::Settings;
use crate::units::CubicMillimetres;

/// What a piece takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needs {
    /// Extruded for the piece itself.
    pub piece: CubicMillimetres,
    /// Extruded for its support.
    pub support: CubicMillimetres,
}

/// What is extruded for a body that lies so.
///
/// The shell: perimeters reach `perimeters × line` inward from each wall, measured level, top and bottom layers their
/// heights downward or upward, measured upright. Under a face that is inclined by φ to the bed that is a depth of
/// the greater of t·sin φ and s·cos φ, so steep faces count as walls and flat ones as tops and bottoms without a border
/// being drawn. Added up over all faces this counts corners twice: where faces meet, what both claim is taken off
/// (`Corner`), and what three claim is given back by the third term, chosen so that the shell of a body that is
/// all shell is its volume: exact for a long beam and for a cube, near it between the two. The rest of the body is filled
/// by the infill's share, as in the formula for boxes. (Common practice, no source; the geometry is our own, and tests
/// hold it to boxes, tubes and blocks worked out by hand.)
///
/// The support: the space under faces that lean out further than `overhang` from upright, down to the bed, by the share
/// `support`; at most all that is free in the box. An upper estimate where the body itself is in between. (Common
/// practice, no source.)
pub fn mesh_needs(body: &Body, lying: &Lying, settings: &Settings) -> Needs {
    let shell = shell(body, lying, settings);
    let piece = shell + settings.infill * (body.volume - shell);
    let (_, under) = lying.overhang(90.0 - f64::from(settings.overhang));
    let room: f64 = body.size().iter().product();
    let support = settings.support * under.min((room - body.volume).max(0.0));
    Needs {
        piece: CubicMillimetres(piece),
        support: CubicMillimetres(support),
    }
}

/// Volume of walls, tops and bottoms, mm³.
fn shell(body: &Body, lying: &Lying, settings: &Settings) -> f64 {
    let wall = f64::from(settings.perimeters) * settings.line.value();
    let layers = |count: u32| f64::from(count) * settings.layer.value();
    let (top, bottom) = (layers(settings.top), layers(settings.bottom));
    // By class of faces: area, and area × depth.
    let mut classes = [(0.0, 0.0); CLASSES];
    let mut hear = |class: u8, area: f64, claims: f64| {
        let sums = &mut classes[usize::from(class)]; // a class is below CLASSES
        sums.0 += area;
        sums.1 += claims;
    };
    hear(class(), lying.walls, lying.walls * wall);
    let claims = |slope: &Slope, skin: f64| (slope.upright * wall).max(slope.level * skin);
    for slope in &lying.up {
        hear(
            slope_class(true, slope.degrees),
            slope.area,
            claims(slope, top),
        );
    }
    for slope in &lying.down {
        hear(
            slope_class(false, slope.degrees),
            slope.area,
            claims(slope, bottom),
        );
    }
    let once: f64 = classes.iter().map(|(_, claims)| claims).sum();
    let depth = |class: u8| match classes[usize::from(class)] {
        (area, claims) if area > 0.0 => claims / area,
        _ => 0.0,
    };
    let twice: f64 = lying
        .corners
        .iter()
        .map(|corner| corner.length * depth(corner.one) * depth(corner.other))
        .sum();
    joined(once, twice, body.volume).clamp(0.0, body.volume)
}

/// Volume of a shell whose faces claim `once` in all and of which two claim `twice`, in a body of so much volume.
///
/// With y = twice / once, for depths that grow together from nothing, the shell is (once²/twice)·(y − y² + c·y³) until it
/// no longer grows. A long beam has c = 0 and is full at a quarter of once²/twice, a cube c = 1/3 and a third; in between
/// c is taken by how the body's volume lies between the two.
fn joined(once: f64, twice: f64, volume: f64) -> f64 {
    if once <= 0.0 || twice <= 0.0 {
        // Hollow edges outweigh the convex ones: they leave wedges, which are added.
        return once - twice.min(0.0);
    }
    let scale = once * once / twice;
    let third = (4.0 * (volume / scale - 0.25)).clamp(0.0, 1.0 / 3.0);
    let y = (twice / once).min(full_at(third));
    scale * (y - y * y + third * y * y * y)
}

/// Where y − y² + c·y³ stops growing: the lesser root of 1 − 2y + 3c·y².
fn full_at(third: f64) -> f64 {
    // Written so that c = 0 is no exception: 1 / (1 + √(1 − 3c)) is ½ there, and 1 at c = 1/3.
    1.0 / (1.0 + (1.0 - 3.0 * third).max(0.0).sqrt())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::estimate::extruded_volume;
    use crate::geometry::mesh::tests::{block, inward, mesh, prism, tube};
    use crate::units::Millimetres;

    fn settings(
        line: f64,
        layer: f64,
        [perimeters, top, bottom]: [u32; 3],
        infill: f64,
    ) -> Settings {
        Settings {
            id: String::new(),
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

    /// Two perimeters of 0.65 mm: 1.3 mm; 3 layers of 0.3 mm above, 2 below; 5 % within.
    fn light() -> Settings {
        settings(0.65, 0.3, [2, 3, 2], 0.05)
    }

    fn piece(triangles: &[[[f64; 3]; 3]], axis: usize, settings: &Settings) -> f64 {
        let body = mesh(triangles).body().unwrap();
        mesh_needs(&body, &body.lying[axis], settings).piece.value()
    }

    fn near(found: f64, exact: f64, share: f64) {
        assert!(
            (found / exact - 1.0).abs() <= share,
            "{found}, exactly {exact}: off by {:.2} %",
            100.0 * (found / exact - 1.0)
        );
    }

    /// Area of a regular polygon of so many corners, by its circumscribed radius.
    fn polygon(radius: f64, corners: u32) -> f64 {
        let n = f64::from(corners);
        n / 2.0 * radius * radius * (std::f64::consts::TAU / n).sin()
    }

    #[test]
    fn a_solid_block_takes_what_its_shell_and_infill_hold() {
        // 100 × 80 × 60: inside 97.4 × 77.4 × 58.5.
        let inside = 97.4 * 77.4 * 58.5;
        let exact = 480_000.0 - inside + 0.05 * inside;
        near(
            piece(&block([0.0; 3], [100.0, 80.0, 60.0]), 2, &light()),
            exact,
            0.001,
        );
    }

    #[test]
    fn an_open_box_with_thin_walls_is_all_plastic() {
        // Walls of 2 mm, thinner than twice 1.3; the floor of 1.5 is 5 layers: nothing is left for infill.
        let mut open = block([0.0; 3], [80.0, 60.0, 40.0]);
        open.extend(inward(block([2.0, 2.0, 1.5], [78.0, 58.0, 40.0])));
        let exact = 80.0 * 60.0 * 40.0 - 76.0 * 56.0 * 38.5;
        near(piece(&open, 2, &light()), exact, 0.03);
    }

    #[test]
    fn a_hollow_box_with_walls_of_three_lines_has_infill_between_its_perimeters_only() {
        // A frame (no floor) of 80 × 60 × 40 with walls of 6 mm: 3.4 mm between the perimeters, 38.5 high.
        let mut frame = Vec::new();
        for (low, high) in [
            ([0.0, 0.0, 0.0], [80.0, 60.0, 40.0]),
            ([6.0, 6.0, 0.0], [74.0, 54.0, 40.0]),
        ] {
            let shell = block(low, high);
            let sides = shell
                .into_iter()
                .filter(|t| t.iter().any(|c| c[2] != t[0][2]));
            let sides: Vec<_> = sides.collect();
            frame.extend(if low[0] > 0.0 { inward(sides) } else { sides });
        }
        let ring = |z: f64, up: bool| {
            let outer = [[0.0, 0.0], [80.0, 0.0], [80.0, 60.0], [0.0, 60.0]];
            let inner = [[6.0, 6.0], [74.0, 6.0], [74.0, 54.0], [6.0, 54.0]];
            let mut faces = Vec::new();
            for one in 0..4 {
                let two = (one + 1) % 4;
                let at = |c: [f64; 2]| [c[0], c[1], z];
                faces.push([at(outer[one]), at(outer[two]), at(inner[two])]);
                faces.push([at(outer[one]), at(inner[two]), at(inner[one])]);
            }
            if up { faces } else { inward(faces) }
        };
        frame.extend(ring(40.0, true));
        frame.extend(ring(0.0, false));
        let volume = (4800.0 - 68.0 * 48.0) * 40.0;
        let inside = (77.4 * 57.4 - 70.6 * 50.6) * 38.5;
        near(piece(&frame, 2, &light()), volume - 0.95 * inside, 0.01);
    }

    #[test]
    fn a_thick_tube_and_a_thin_one_take_what_rings_hold() {
        for (outer, inner) in [(30.0, 20.0), (30.0, 26.0), (30.0, 28.0)] {
            let corners = 96;
            let cross = polygon(outer, corners) - polygon(inner, corners);
            // Perimeters lie 1.3 mm inside the flats, which are radius × cos(π / n) from the middle.
            let flat = (std::f64::consts::PI / f64::from(corners)).cos();
            let between =
                polygon(outer - 1.3 / flat, corners) - polygon(inner + 1.3 / flat, corners);
            let inside = between.max(0.0) * (100.0 - 1.5);
            let exact = cross * 100.0 - 0.95 * inside;
            near(
                piece(&tube(outer, inner, corners, 100.0), 2, &light()),
                exact,
                0.01,
            );
        }
    }

    #[test]
    fn a_rod_thinner_than_its_perimeters_is_all_plastic() {
        // The third term is for boxes: a round rod comes out 1.01 % short.
        let base = crate::geometry::mesh::tests::circle(1.0, 24);
        near(
            piece(&prism(&base, 50.0), 2, &light()),
            polygon(1.0, 24) * 50.0,
            0.011,
        );
    }

    #[test]
    fn a_roof_of_45_degrees_has_its_walls_for_tops() {
        // A prism over a right triangle, 40 wide and 20 high, lying on its long side, 200 long: on the slopes perimeters
        // (1.3·sin 45° = 0.919) reach deeper than tops (0.9·cos 45° = 0.636). Its ends are walls.
        let base = [[0.0, 0.0], [40.0, 0.0], [20.0, 20.0]];
        // Inside: similar triangles; the floor moves up by 0.6, both slopes in by 0.919.
        let slope = 1.3 * 45_f64.to_radians().sin();
        let height = 20.0 - 0.6 - slope * 2_f64.sqrt();
        let inside = height * height * (200.0 - 2.6);
        let exact = 400.0 * 200.0 - 0.95 * inside;
        near(piece(&prism(&base, 200.0), 1, &light()), exact, 0.02);
    }

    #[test]
    fn support_fills_its_share_of_the_space_under_what_hangs() {
        // An arm of 20 × 10 × 10 that stands out from the head of a post 30 high: 20 × 10 × 20 mm³ under it, 15 % of it.
        let base = [
            [10.0, 20.0],
            [30.0, 20.0],
            [30.0, 30.0],
            [0.0, 30.0],
            [0.0, 0.0],
            [10.0, 0.0],
        ];
        let body = mesh(&prism(&base, 10.0)).body().unwrap();
        let needs = mesh_needs(&body, &body.lying[1], &light());
        assert!(
            (needs.support.value() - 0.15 * 4000.0).abs() < 1e-6,
            "{needs:?}"
        );
        let over = body.lying[1].turned_over();
        assert_eq!(mesh_needs(&body, &over, &light()).support.value(), 0.0);
    }

    proptest! {
        #[test]
        fn a_box_drawn_as_a_mesh_takes_what_the_formula_for_boxes_says(
            size in prop::array::uniform3(4.0..300f64), axis in 0..3usize, perimeters in 1..5u32, infill in 0.0..1f64,
        ) {
            let settings = settings(0.5, 0.2, [perimeters, 4, 3], infill);
            let lying = [[size[1], size[2], size[0]], [size[0], size[2], size[1]], size][axis];
            let boxed = extruded_volume(lying.map(Millimetres), 1.0, &settings).value();
            let meshed = piece(&block([0.0; 3], size), axis, &settings);
            prop_assert!((meshed / boxed - 1.0).abs() < 0.03, "{meshed}, box {boxed}");
        }

        #[test]
        fn more_infill_is_never_less_plastic_and_never_more_than_the_body(
            radius in 2.0..60f64, wall in 0.05..1f64, height in 1.0..200f64, axis in 0..3usize, perimeters in 1..9u32,
        ) {
            let body = mesh(&tube(radius, radius * (1.0 - wall).max(0.01), 24, height)).body().unwrap();
            let at = |infill| {
                let settings = settings(0.65, 0.3, [perimeters, 4, 3], infill);
                mesh_needs(&body, &body.lying[axis], &settings).piece.value()
            };
            let (none, half, full) = (at(0.0), at(0.5), at(1.0));
            prop_assert!(0.0 < none && none <= half && half <= full * (1.0 + 1e-12));
            prop_assert!((full - body.volume).abs() <= 1e-9 * body.volume);
        }
    }
}
