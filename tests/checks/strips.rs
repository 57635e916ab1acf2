//! Outlines on a strip of one width, as short as can be, against the best that is known.
//!
//! Instances: SHAPES0 and SHAPES1, artificial, read in github.com/JeroenGar/jagua-rs, `assets/shapes0.json` and
//! `shapes1.json`; J. F. Oliveira, A. M. Gomes, J. S. Ferreira, "TOPOS: a new constructive algorithm for nesting problems",
//! OR Spektrum 22 (2000) 263–284 (from memory). Best of SHAPES0: 56.996 of 40, that is 69.998 %, read in
//! github.com/JeroenGar/sparrow, `data/records/final_best_shapes0.svg`; it takes that program hours.

use std::sync::Arc;

use beamyard::geometry::{Outline, apart};
use beamyard::plates::{FigureId, Figures, Nested, Nester};

/// The four shapes, each with how often it is there.
fn shapes() -> [(Vec<[f64; 2]>, usize); 4] {
    let corners = |list: &[[i32; 2]]| list.iter().map(|c| c.map(f64::from)).collect();
    [
        (
            corners(&[
                [0, 0],
                [2, 0],
                [2, 3],
                [12, 3],
                [12, 0],
                [14, 0],
                [14, 5],
                [0, 5],
            ]),
            15,
        ),
        (corners(&[[0, 0], [6, -6], [12, 0], [6, 6]]), 7),
        (
            corners(&[
                [0, 0],
                [6, 0],
                [6, -2],
                [7, -2],
                [11, 2],
                [11, 4],
                [8, 4],
                [8, 1],
                [2, 1],
                [2, 4],
                [0, 4],
            ]),
            9,
        ),
        (
            corners(&[
                [0, 0],
                [2, 0],
                [2, -2],
                [4, -2],
                [4, 0],
                [6, 0],
                [6, 2],
                [4, 2],
                [4, 4],
                [2, 4],
                [2, 2],
                [0, 2],
            ]),
            12,
        ),
    ]
}

/// What a nest of the shapes reaches: the share of the strip that is covered, after so many tries.
fn density(turns: &[f64], tries: u32) -> f64 {
    const WIDTH: f64 = 40.0;
    let mut figures = Figures::default();
    let mut outlines = Vec::new();
    let mut pieces: Vec<FigureId> = Vec::new();
    for (corners, count) in shapes() {
        let outline = Arc::new(Outline::new(corners).expect("it has an area"));
        let figure = figures.add(&outline, turns);
        pieces.extend(std::iter::repeat_n(figure, count));
        outlines.extend(std::iter::repeat_n(outline, count));
    }
    let (length, nest) = Nester::default()
        .strip(&figures, WIDTH, 200.0, 0.0, &pieces, tries)
        .expect("all fit the width");
    let laid: Vec<Vec<[f64; 2]>> = outlines.iter().zip(&nest).map(lie).collect();
    for (at, corners) in laid.iter().enumerate() {
        let within = |[x, y]: &[f64; 2]| {
            (-1e-5..=WIDTH + 1e-5).contains(x) && (-1e-5..=length + 1e-5).contains(y)
        };
        assert!(corners.iter().all(within));
        for other in &laid[..at] {
            assert!(apart(corners, other) > -1e-5, "two overlap");
        }
    }
    outlines.iter().map(|outline| outline.area()).sum::<f64>() / length / WIDTH
}

fn lie((outline, place): (&Arc<Outline>, &Nested)) -> Vec<[f64; 2]> {
    let corners = outline.swung(place.turn).into_iter();
    corners.map(|[x, y]| [x + place.x, y + place.y]).collect()
}

#[test]
fn shapes0_is_covered_as_densely_as_a_few_tries_can() {
    let found = density(&[0.0], 6);
    println!("shapes0: {found:.4}, best known 0.69998");
    assert!(found > FLOOR0, "{found}");
    assert!(found < 0.700, "denser than the best that is known: {found}");
}

#[test]
fn shapes1_may_be_turned_by_half_a_turn_and_is_denser_for_it() {
    let found = density(&[0.0, 180.0], 6);
    println!("shapes1: {found:.4}");
    assert!(found > FLOOR1, "{found}");
}

/// What a broken nester would miss: a little below what was reached when this was written.
const FLOOR0: f64 = 0.55;
const FLOOR1: f64 = 0.58;
