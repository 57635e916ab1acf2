//! Nests of every kind, examined by a computation of their own.

use std::sync::Arc;

use proptest::prelude::*;

use super::*;
use crate::geometry::Outline;
use crate::plates::{Packer, Rectangle};

const BED: Area = Area {
    width: 290.0,
    depth: 290.0,
};
const QUARTERS: [f64; 4] = [0.0, 90.0, 180.0, 270.0];

fn outline(corners: &[[f64; 2]]) -> Arc<Outline> {
    Arc::new(Outline::new(corners.to_vec()).unwrap())
}

/// An L with two arms of so many mm, each so wide.
fn bracket(x: f64, y: f64, wide: f64) -> Arc<Outline> {
    outline(&[
        [0.0, 0.0],
        [x, 0.0],
        [x, wide],
        [wide, wide],
        [wide, y],
        [0.0, y],
    ])
}

fn corners_of(figures: &Figures, piece: FigureId, place: &Nested) -> Vec<[f64; 2]> {
    let (sin, cos) = place.turn.to_radians().sin_cos();
    let corners = figures.get(piece).outline.corners().iter();
    corners
        .map(|[u, v]| [u * cos - v * sin + place.x, u * sin + v * cos + place.y])
        .collect()
}

/// Whether a point is inside a polygon, by the angle that the polygon turns about it, and not just on its line.
fn covers(corners: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
    let on_line = (0..corners.len()).any(|at| {
        let [a, b] = [0, 1].map(|step| corners[(at + step) % corners.len()]);
        let (u, v) = (b[0] - a[0], b[1] - a[1]);
        let long = u.hypot(v);
        let along = ((x - a[0]) * u + (y - a[1]) * v) / long;
        let beyond = (-along).max(along - long).max(0.0);
        (((x - a[0]) * v - (y - a[1]) * u) / long).hypot(beyond) < 3e-6
    });
    if on_line {
        return false;
    }
    let turned: f64 = (0..corners.len())
        .map(|at| {
            let [a, b] = [0, 1].map(|step| corners[(at + step) % corners.len()]);
            let (a, b) = ([a[0] - x, a[1] - y], [b[0] - x, b[1] - y]);
            (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1])
        })
        .sum();
    turned.abs() > std::f64::consts::PI
}

/// Points along the outline, no further apart than `step`.
fn walked(corners: &[[f64; 2]], step: f64) -> Vec<[f64; 2]> {
    let mut points = Vec::new();
    for at in 0..corners.len() {
        let [a, b] = [0, 1].map(|next| corners[(at + next) % corners.len()]);
        let steps = ((b[0] - a[0]).hypot(b[1] - a[1]) / step).ceil();
        for part in 0..steps as usize {
            let share = part as f64 / steps;
            points.push([a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]);
        }
    }
    points
}

/// Examines a nest the slow way: points along every outline are inside the bed, in no other outline, and no nearer to
/// any point of another than the spacing, but for the step between points.
fn examine(figures: &Figures, area: Area, spacing: f64, pieces: &[FigureId], nest: &[Nested]) {
    assert_eq!(nest.len(), pieces.len());
    const STEP: f64 = 2.0;
    let laid: Vec<Vec<[f64; 2]>> = pieces
        .iter()
        .zip(nest)
        .map(|(&piece, place)| corners_of(figures, piece, place))
        .collect();
    for corners in &laid {
        for [x, y] in corners {
            assert!(*x > -2e-6 && *x < area.width + 2e-6, "{x}");
            assert!(*y > -2e-6 && *y < area.depth + 2e-6, "{y}");
        }
    }
    let points: Vec<Vec<[f64; 2]>> = laid.iter().map(|corners| walked(corners, STEP)).collect();
    for one in 0..laid.len() {
        for other in 0..one {
            for a in &points[one] {
                assert!(!covers(&laid[other], *a), "{nest:?}");
                for b in &points[other] {
                    let off = (a[0] - b[0]).hypot(a[1] - b[1]);
                    assert!(
                        off >= spacing - 2e-6,
                        "{off} between {one} and {other}: {nest:?}"
                    );
                }
            }
            assert!(points[other].iter().all(|b| !covers(&laid[one], *b)));
        }
    }
}

#[test]
fn two_brackets_lie_in_each_others_notch_where_their_boxes_do_not_fit() {
    // Two L of 100 × 100 with arms of 30, 4 apart: turned by half a turn, one lies with its corner in the notch of the
    // other, 34 further both ways: 134 × 134. Their boxes take 204 one way.
    let mut figures = Figures::default();
    let piece = figures.add(&bracket(100.0, 100.0, 30.0), &QUARTERS);
    let area = Area {
        width: 136.0,
        depth: 136.0,
    };
    let pieces = [piece; 2];
    let nest = Nester::default().nest(&figures, area, 4.0, &pieces, Effort::Quick);
    examine(&figures, area, 4.0, &pieces, &nest.expect("they interlock"));
    // 130 is less than an arm, the gap and the box of the other.
    let area = Area {
        width: 130.0,
        depth: 130.0,
    };
    assert_eq!(
        Nester::default().nest(&figures, area, 4.0, &pieces, Effort::Quick),
        None
    );
}

#[test]
fn what_fits_exactly_fits() {
    // Three bars of 90 with 10 between fill 290; and one of 290 the bed's width.
    let mut figures = Figures::default();
    let bar = figures.add(&Arc::new(Outline::rectangle(90.0, 290.0).unwrap()), &[0.0]);
    let pieces = [bar; 3];
    let mut nester = Nester::default();
    let nest = nester.nest(&figures, BED, 10.0, &pieces, Effort::Quick);
    examine(
        &figures,
        BED,
        10.0,
        &pieces,
        &nest.expect("3 × 90 + 2 × 10 = 290"),
    );
    let nest = nester.nest(&figures, BED, 10.001, &pieces, Effort::Quick);
    assert_eq!(nest, None);
}

#[test]
fn an_outline_lies_at_a_turn_where_its_box_does_not() {
    // A bar of 380 × 20 on 290 × 290: at 45° its box is 400 · √½ = 282.8.
    let mut figures = Figures::default();
    let bar = Arc::new(Outline::rectangle(380.0, 20.0).unwrap());
    let square = figures.add(&bar, &[0.0, 90.0]);
    let slanted = figures.add(&bar, &[0.0, 45.0, 90.0, 135.0]);
    let mut nester = Nester::default();
    assert_eq!(
        nester.nest(&figures, BED, 4.0, &[square], Effort::Quick),
        None
    );
    let nest = nester.nest(&figures, BED, 4.0, &[slanted, slanted], Effort::Quick);
    // Two of them, 4 apart, are 44 wide: (380 + 44) · √½ = 299.8.
    assert_eq!(nest, None);
    let nest = nester
        .nest(&figures, BED, 4.0, &[slanted], Effort::Quick)
        .unwrap();
    examine(&figures, BED, 4.0, &[slanted], &nest);
}

fn any_outline() -> impl Strategy<Value = Arc<Outline>> {
    let side = 20.0..90.0;
    prop_oneof![
        (side.clone(), side.clone()).prop_map(|(x, y)| Arc::new(Outline::rectangle(x, y).unwrap())),
        (side.clone(), side.clone(), 0.15..0.6)
            .prop_map(|(x, y, share): (f64, f64, f64)| { bracket(x, y, share * x.min(y)) }),
        (side.clone(), side.clone()).prop_map(|(x, y)| outline(&[[0.0, 0.0], [x, 0.0], [0.0, y]])),
        // A star about its middle: any spokes.
        prop::collection::vec(10.0..45.0f64, 5..14).prop_map(|spokes| {
            let step = std::f64::consts::TAU / spokes.len() as f64;
            let corners: Vec<[f64; 2]> = spokes
                .iter()
                .enumerate()
                .map(|(at, spoke)| {
                    [
                        spoke * (at as f64 * step).cos(),
                        spoke * (at as f64 * step).sin(),
                    ]
                })
                .collect();
            outline(&corners)
        }),
    ]
}

fn sorted(nest: &Option<Vec<Nested>>) -> Option<Vec<String>> {
    let places = nest.as_ref()?.iter();
    let mut places: Vec<String> = places.map(|place| format!("{place:?}")).collect();
    places.sort();
    Some(places)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_nest_has_every_piece_once_far_enough_from_all_others(
        outlines in prop::collection::vec((any_outline(), 1usize..4), 1..6),
        spacing in prop_oneof![Just(0.0), Just(4.0), 0.5..12.0],
        step in prop_oneof![Just(90.0), Just(45.0), Just(30.0)],
        side in 120.0..300.0,
    ) {
        let mut figures = Figures::default();
        let turns: Vec<f64> = (0..(360.0 / step) as u32).map(|at| f64::from(at) * step).collect();
        let pieces: Vec<FigureId> = outlines
            .iter()
            .flat_map(|(outline, count)| vec![figures.add(outline, &turns); *count])
            .collect();
        let area = Area { width: side, depth: 220.0 };
        let mut nester = Nester::default();
        let nest = nester.nest(&figures, area, spacing, &pieces, Effort::Quick);
        if let Some(nest) = &nest {
            examine(&figures, area, spacing, &pieces, nest);
        }
        // The same to the last digit, in whichever order they come, whatever this nester or another has met before: here each
        // figure by itself, the last first.
        let mut back = pieces.clone();
        back.reverse();
        let mut other = Nester::default();
        for &piece in &back {
            other.nest(&figures, area, spacing, &[piece], Effort::Quick);
        }
        for again in [&mut nester, &mut other] {
            let again = again.nest(&figures, area, spacing, &back, Effort::Quick);
            prop_assert_eq!(sorted(&nest), sorted(&again));
        }
    }

    #[test]
    fn rectangles_that_the_packer_lays_in_rows_nest_too(
        x in 45.0..90.0f64, y in 45.0..90.0f64, spacing in 0.5..8.0f64,
    ) {
        // As many equal rectangles as a plain grid has.
        let count = |side: f64, along: f64| ((side + spacing) / (along + spacing)).floor() as usize;
        let most = count(BED.width, x) * count(BED.depth, y);
        let mut figures = Figures::default();
        let piece = figures.add(&Arc::new(Outline::rectangle(x, y).unwrap()), &[0.0]);
        let pieces = vec![piece; most];
        let nest = Nester::default().nest(&figures, BED, spacing, &pieces, Effort::Quick);
        prop_assert!(nest.is_some(), "{most}");
        examine(&figures, BED, spacing, &pieces, &nest.unwrap());
        let rectangle = Rectangle { width: x, depth: y, straight: true, turned: false };
        prop_assert!(Packer::default().pack(BED, spacing, &vec![rectangle; most], Effort::Quick).is_some());
    }
}
