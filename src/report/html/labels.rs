//! Where the numbers of pieces stand in a drawing: in their pieces where there is room, else beside them at the end of a line.
//!
//! Knows: outlines, how small letters may be. Must not know: which pieces they are, how large a drawing is shown.
//! Promises: no number is smaller than it may be; one in a piece lies wholly in it.

use super::bed::{Bed, Place, Shape};
use super::beside::Beside;
use super::plane::{Extent, stretches};

/// How wide and how high a figure is beside the size of its letters: the bold ones of Verdana and DejaVu Sans.
pub(super) const FIGURE: (f64, f64) = (0.695, 0.73);

/// Letters no smaller than this can be read where the drawing is looked at, larger ones help nobody; mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Letters {
    pub(super) least: f64,
    pub(super) most: f64,
}

/// A number in a drawing.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Label {
    /// Its middle.
    pub(super) at: Place,
    /// The size of its letters, mm.
    pub(super) size: f64,
    /// By how many degrees it is turned, clockwise.
    pub(super) turn: f64,
    /// Of one beside its piece: the line, from the piece to the number.
    pub(super) leader: Option<(Place, Place)>,
    /// Whether something else had to be covered or crossed.
    pub(super) crowded: bool,
}

/// The numbers of pieces, from 1, on this ground.
pub(super) fn labels(shapes: &[Shape], ground: &Bed, letters: Letters) -> Vec<Label> {
    let inside: Vec<Option<Label>> = shapes
        .iter()
        .zip(1..)
        .map(|(shape, number)| {
            let label = inside(shape, digits(number), letters)?;
            // A belt may be longer than is in sight: then its numbers stand where it begins.
            Some(if ground.belt {
                at_start(shape, digits(number), label)
            } else {
                label
            })
        })
        .collect();
    // Those in their pieces need not be heeded: who keeps off the pieces keeps off them.
    let mut beside = Beside::new(shapes, ground, letters.least);
    let labels = inside.into_iter().enumerate();
    labels
        .map(|(at, label)| label.unwrap_or_else(|| beside.find(at)))
        .collect()
}

pub(super) fn digits(number: usize) -> f64 {
    (number.checked_ilog10().unwrap_or(0) + 1) as f64
}

/// A number in its piece, level or along it, as large as there is room; `None` if there is not enough.
fn inside(shape: &Shape, digits: f64, letters: Letters) -> Option<Label> {
    // From the foot upward or downward, never on its head.
    let along = (shape.along + 90.0).rem_euclid(180.0) - 90.0;
    let level = fitted(&shape.corners, 0.0, digits, letters);
    // Level ones are read more easily, so that others have to be much larger.
    match (level, fitted(&shape.corners, along, digits, letters)) {
        (Some(level), Some(along)) if along.size > 1.4 * level.size => Some(along),
        (level, along) => level.or(along),
    }
}

fn fitted(corners: &[Place], turn: f64, digits: f64, letters: Letters) -> Option<Label> {
    let (sin, cos) = turn.to_radians().sin_cos();
    // As it is seen by whoever turns the head by as much.
    let seen: Vec<Place> = corners
        .iter()
        .map(|&(x, y)| (x * cos + y * sin, y * cos - x * sin))
        .collect();
    let ((x, y), width) = middle(&seen);
    let swapped: Vec<Place> = seen.iter().map(|&(x, y)| (y, x)).collect();
    let (low, high) = stretches(&swapped, x)
        .into_iter()
        .find(|(low, high)| *low <= y && y <= *high)?;
    let y = (low + high) / 2.0;
    let room = (0.6 * (high - low)).min(0.8 * width / (digits * FIGURE.0));
    let mut size = room.clamp(letters.least, letters.most);
    let half = |size: f64| (digits * FIGURE.0 * size * 0.5, FIGURE.1 * size * 0.54);
    while !holds(&seen, (x, y), half(size)) {
        if size <= letters.least {
            return None;
        }
        size = (size * 0.9).max(letters.least);
    }
    Some(Label {
        at: (x * cos - y * sin, x * sin + y * cos),
        size,
        turn,
        leader: None,
        crowded: false,
    })
}

/// A level number of a long piece near its left end instead of in its middle, where there is room for it there.
fn at_start(shape: &Shape, digits: f64, label: Label) -> Label {
    let half = (
        digits * FIGURE.0 * label.size * 0.5,
        FIGURE.1 * label.size * 0.54,
    );
    let (x, y) = label.at;
    let start = stretches(&shape.corners, y)
        .into_iter()
        .find(|&(from, to)| from <= x && x <= to)
        .map(|(from, _)| (from + half.0 + label.size, y));
    match start {
        Some(at) if label.turn == 0.0 && at.0 < x && holds(&shape.corners, at, half) => {
            Label { at, ..label }
        }
        _ => label,
    }
}

/// Whether a level box about a place, half as wide and as high as said, lies in an outline.
fn holds(outline: &[Place], (x, y): Place, (wide, high): (f64, f64)) -> bool {
    const LITTLE: f64 = 1e-6;
    let across = |y: f64| {
        let holds = |&(from, to): &(f64, f64)| from <= x - wide + LITTLE && x + wide - LITTLE <= to;
        stretches(outline, y).iter().any(holds)
    };
    let within = |&(a, b): &Place| (a - x).abs() < wide - LITTLE && (b - y).abs() < high - LITTLE;
    [-1.0, 0.0, 1.0]
        .iter()
        .all(|side| across(y + side * (high - LITTLE)))
        && !outline.iter().any(within)
}

/// A place for a number inside an outline: the middle of the widest stretch across it, of some heights the one nearest to its own
/// middle that has it; and how wide that is. The middle of its box may lie outside of it.
pub(super) fn middle(outline: &[Place]) -> (Place, f64) {
    let all = Extent::of(outline);
    let mut best = all.middle();
    let mut widest = 0.0;
    for share in [0.5, 0.3, 0.7, 0.15, 0.85] {
        let y = all.low + share * (all.high - all.low);
        for (from, to) in stretches(outline, y) {
            // A place further out has to be worth it.
            if to - from > widest * 1.2 {
                widest = to - from;
                best = ((from + to) / 2.0, y);
            }
        }
    }
    (best, widest)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::report::html) const LETTERS: Letters = Letters {
        least: 7.0,
        most: 18.0,
    };

    pub(in crate::report::html) fn ground(width: f64, height: f64) -> Bed {
        let bed = [width, height].map(crate::units::Millimetres);
        Bed::plain(&bed, 0.0)
    }

    pub(in crate::report::html) fn boxed(left: f64, top: f64, width: f64, height: f64) -> Shape {
        let (right, foot) = (left + width, top + height);
        Shape {
            corners: vec![(left, top), (right, top), (right, foot), (left, foot)],
            along: if width >= height { 0.0 } else { -90.0 },
        }
    }

    #[test]
    fn a_number_stands_inside_an_outline_whose_middle_is_not() {
        // A frame open at its right: 40 × 20 outside, its legs 6 wide. The middle (0, 0) is in the opening; the widest stretch
        // inside is along the lower or the upper leg, 40 long.
        let corners = vec![
            (-20.0, -10.0),
            (20.0, -10.0),
            (20.0, -4.0),
            (-14.0, -4.0),
            (-14.0, 4.0),
            (20.0, 4.0),
            (20.0, 10.0),
            (-20.0, 10.0),
        ];
        let ((x, y), width) = middle(&corners);
        assert_eq!((x, width), (0.0, 40.0));
        assert!(
            (-10.0..-4.0).contains(&y) || (4.0..10.0).contains(&y),
            "{y}"
        );
        // The leg is 6 wide and a figure 0.73 of its letters' size high: 7 mm letters have room, in the leg's middle.
        let frame = Shape {
            corners,
            along: 0.0,
        };
        let label = inside(&frame, 1.0, LETTERS).expect("there is room");
        assert_eq!((label.at.0, label.at.1.abs(), label.size), (0.0, 7.0, 7.0));
        // Letters of 8 would be 5.84 high, with a little room about them 6.3.
        let larger = Letters {
            least: 8.0,
            ..LETTERS
        };
        assert_eq!(inside(&frame, 1.0, larger), None);
    }

    #[test]
    fn a_number_is_as_large_as_there_is_room() {
        // Of a square of 20 it is the middle; three figures, each 0.695 of their size wide, take 0.8 of it: 16 / 2.085.
        let label = inside(&boxed(-10.0, -10.0, 20.0, 20.0), 3.0, LETTERS).expect("room");
        assert_eq!(label.at, (0.0, 0.0));
        assert!((label.size - 16.0 / 2.085).abs() < 1e-9);
        // And never more than helps.
        let label = inside(&boxed(0.0, 0.0, 100.0, 100.0), 1.0, LETTERS).expect("room");
        assert_eq!(label.size, LETTERS.most);
    }

    #[test]
    fn on_a_belt_a_number_stands_near_the_start_of_its_piece() {
        // A beam of 1000 by 50: letters of 18, a figure is 12.51 wide; half of that and a letter's size from the end.
        let belt = Bed {
            belt: true,
            ..ground(1200.0, 240.0)
        };
        let found = labels(&[boxed(100.0, 20.0, 1000.0, 50.0)], &belt, LETTERS);
        assert!(
            (found[0].at.0 - (100.0 + 6.255 + 18.0)).abs() < 1e-9,
            "{:?}",
            found[0]
        );
        // A short one has it in the middle.
        let found = labels(&[boxed(100.0, 20.0, 20.0, 20.0)], &belt, LETTERS);
        assert_eq!(found[0].at, (110.0, 30.0));
    }

    #[test]
    fn a_number_stands_along_a_slender_piece_and_is_read_from_the_right() {
        // 10 wide, 90 long and upright: two figures of 7 are 9.7 wide and fit level, of 8 (11.1) they do not, but along it.
        let piece = boxed(0.0, 0.0, 10.0, 90.0);
        let label = inside(&piece, 2.0, LETTERS).expect("room");
        assert_eq!((label.turn, label.size), (0.0, 7.0));
        let letters = Letters {
            least: 8.0,
            ..LETTERS
        };
        let label = inside(&piece, 2.0, letters).expect("room");
        assert_eq!((label.turn, label.size), (-90.0, 8.0));
        assert!((label.at.0 - 5.0).abs() < 1e-9 && (label.at.1 - 45.0).abs() < 1e-9);
        // On the diagonal, 10 wide: level, 9.7 by 5.1 need 10.5 of the strip across; so along it.
        let half = 50.0_f64.sqrt();
        let strip = Shape {
            corners: vec![
                (0.0, half),
                (half, 0.0),
                (100.0 + half, 100.0),
                (100.0, 100.0 + half),
            ],
            along: 45.0,
        };
        let label = inside(&strip, 2.0, LETTERS).expect("room");
        assert_eq!(label.turn, 45.0);
    }
}
