//! Rectangles into the fewest equal bins, sides parallel.
//!
//! Instances: J. E. Beasley's OR-Library, read in github.com/JeroenGar/datasets,
//! `2d_rectangular/{ngcutbin,cgcutbin,gcutbin}`; survey of such libraries: M. Iori et al., "2DPackLib", Optimization
//! Letters 16 (2022) 471–480, doi 10.1007/s11590-021-01808-y.
//! Counts as drawn: S. Martello, D. Vigo, "Exact solution of the two-dimensional finite bin packing problem",
//! Management Science 44 (1998) 388–399 (ngcut1 to 12, from memory); these, the other instances and the counts with
//! turning by 90° were settled for this test: a packing found and checked for overlap, and one bin fewer refuted by a
//! constraint solver or by area.

use beamyard::plates::{Area, Effort, Place, Rectangle, bins_needed, pack};

/// Rectangles of one size: across, along, how many.
type Batch = (u16, u16, usize);

struct Instance {
    name: &'static str,
    bin: (u16, u16),
    batches: &'static [Batch],
    /// Fewest bins with all rectangles as drawn.
    fixed: usize,
    /// Fewest bins if they may be turned by 90°.
    turnable: usize,
}

const INSTANCES: [Instance; 11] = [
    Instance {
        name: "ngcut1",
        bin: (10, 10),
        batches: &[(3, 7, 2), (8, 2, 2), (10, 2, 1), (5, 4, 3), (2, 9, 2)],
        fixed: 3,
        turnable: 3,
    },
    Instance {
        name: "ngcut2",
        bin: (10, 10),
        batches: &[
            (1, 10, 3),
            (5, 3, 2),
            (9, 3, 3),
            (6, 1, 3),
            (3, 8, 3),
            (4, 1, 1),
            (7, 3, 2),
        ],
        fixed: 4,
        turnable: 3,
    },
    Instance {
        name: "ngcut4",
        bin: (15, 10),
        batches: &[(15, 2, 2), (7, 3, 1), (9, 1, 1), (8, 3, 1), (12, 2, 2)],
        fixed: 2,
        turnable: 2,
    },
    Instance {
        name: "ngcut6",
        bin: (15, 10),
        batches: &[
            (2, 9, 1),
            (10, 2, 3),
            (2, 4, 1),
            (2, 8, 2),
            (3, 8, 1),
            (4, 1, 1),
            (6, 4, 3),
            (10, 3, 1),
            (11, 2, 1),
            (4, 5, 1),
        ],
        fixed: 3,
        turnable: 2,
    },
    Instance {
        name: "ngcut7",
        bin: (20, 20),
        batches: &[(1, 9, 3), (16, 3, 1), (18, 3, 1), (20, 2, 1), (3, 1, 2)],
        fixed: 1,
        turnable: 1,
    },
    Instance {
        name: "ngcut8",
        bin: (20, 20),
        batches: &[
            (15, 3, 1),
            (6, 6, 3),
            (13, 1, 2),
            (8, 7, 2),
            (18, 5, 3),
            (12, 4, 1),
            (8, 3, 1),
        ],
        fixed: 2,
        turnable: 2,
    },
    Instance {
        name: "ngcut10",
        bin: (30, 30),
        batches: &[(1, 30, 3), (25, 7, 1), (27, 9, 3), (30, 2, 3), (26, 7, 3)],
        fixed: 3,
        turnable: 3,
    },
    Instance {
        name: "cgcut1",
        bin: (15, 10),
        batches: &[
            (8, 4, 2),
            (3, 7, 1),
            (8, 2, 3),
            (3, 4, 5),
            (3, 3, 2),
            (3, 2, 2),
            (2, 1, 1),
        ],
        fixed: 2,
        turnable: 2,
    },
    Instance {
        name: "gcut1",
        bin: (250, 250),
        batches: &[
            (167, 184, 1),
            (114, 118, 1),
            (167, 152, 1),
            (83, 140, 1),
            (70, 86, 1),
            (143, 166, 1),
            (120, 160, 1),
            (66, 148, 1),
            (87, 141, 1),
            (69, 165, 1),
        ],
        fixed: 5,
        turnable: 4,
    },
    Instance {
        name: "gcut5",
        bin: (500, 500),
        batches: &[
            (198, 205, 1),
            (179, 155, 1),
            (364, 236, 1),
            (272, 147, 1),
            (352, 145, 1),
            (343, 245, 1),
            (132, 174, 1),
            (164, 250, 1),
            (282, 356, 1),
            (342, 151, 1),
        ],
        fixed: 3,
        turnable: 3,
    },
    Instance {
        name: "gcut9",
        bin: (1000, 1000),
        batches: &[
            (310, 426, 1),
            (673, 468, 1),
            (426, 463, 1),
            (325, 498, 1),
            (555, 540, 1),
            (292, 455, 1),
            (343, 341, 1),
            (362, 491, 1),
            (305, 688, 1),
            (459, 607, 1),
        ],
        fixed: 3,
        turnable: 3,
    },
];

const EFFORT: Effort = Effort::Thorough { tries: 200 };

/// Fails unless all rectangles lie inside the area, and no two overlap.
fn assert_apart(area: Area, rectangles: &[Rectangle], places: &[Place]) {
    const TOLERANCE: f64 = 1e-6;
    let box_of = |(rectangle, place): (&Rectangle, &Place)| {
        let (across, along) = if place.turned {
            (rectangle.depth, rectangle.width)
        } else {
            (rectangle.width, rectangle.depth)
        };
        [place.x, place.y, place.x + across, place.y + along]
    };
    let boxes: Vec<[f64; 4]> = rectangles.iter().zip(places).map(box_of).collect();
    for (i, [left, low, right, high]) in boxes.iter().enumerate() {
        assert!(*left >= -TOLERANCE && *right <= area.width + TOLERANCE);
        assert!(*low >= -TOLERANCE && *high <= area.depth + TOLERANCE);
        for [l, b, r, t] in &boxes[..i] {
            let across = (l - right).max(left - r);
            let along = (b - high).max(low - t);
            assert!(across.max(along) >= -TOLERANCE);
        }
    }
}

/// Bins found, after a check that they hold every rectangle once and can be packed.
fn bins(instance: &Instance, turned: bool) -> usize {
    let area = Area {
        width: f64::from(instance.bin.0),
        depth: f64::from(instance.bin.1),
    };
    let rectangles: Vec<Rectangle> = instance
        .batches
        .iter()
        .flat_map(|&(across, along, count)| {
            let one = Rectangle {
                width: f64::from(across),
                depth: f64::from(along),
                straight: true,
                turned,
            };
            std::iter::repeat_n(one, count)
        })
        .collect();
    let bins = bins_needed(area, 0.0, &rectangles, EFFORT).expect("each rectangle fits alone");
    let mut once: Vec<usize> = bins.concat();
    once.sort_unstable();
    assert!(
        once.into_iter().eq(0..rectangles.len()),
        "{}",
        instance.name
    );
    for bin in &bins {
        let together: Vec<Rectangle> = bin.iter().map(|&i| rectangles[i]).collect();
        let places = pack(area, 0.0, &together, EFFORT).expect("a bin can be packed");
        assert_apart(area, &together, &places);
    }
    bins.len()
}

#[test]
fn rectangles_as_drawn_take_the_fewest_bins() {
    for instance in &INSTANCES {
        assert_eq!(bins(instance, false), instance.fixed, "{}", instance.name);
    }
}

#[test]
fn rectangles_that_may_be_turned_take_the_fewest_bins() {
    for instance in &INSTANCES {
        assert_eq!(bins(instance, true), instance.turnable, "{}", instance.name);
    }
}
