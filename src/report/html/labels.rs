//! Where the numbers of pieces stand in a drawing: in their pieces where there is room, else beside them at the end of a line.
//!
//! Knows: outlines, how small letters may be. Must not know: which pieces they are, how large a drawing is shown.
//! Promises: no number is smaller than it may be; one in a piece lies wholly in it; one beside lies on no piece and on no other number,
//! and its line crosses none, unless it says that it is crowded.

use super::bed::{Bed, Place, Shape};

/// How wide and how high a figure is beside the size of its letters: the bold ones of Verdana and DejaVu Sans.
const FIGURE: (f64, f64) = (0.695, 0.73);

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
    let mut beside = Beside {
        shapes,
        extents: shapes
            .iter()
            .map(|shape| Extent::of(&shape.corners))
            .collect(),
        ground: (ground.width, ground.height),
        size: letters.least,
        boxes: Vec::new(),
        lines: Vec::new(),
    };
    let labels = inside.into_iter().enumerate();
    labels
        .map(|(at, label)| label.unwrap_or_else(|| beside.find(at)))
        .collect()
}

fn digits(number: usize) -> f64 {
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
fn middle(outline: &[Place]) -> (Place, f64) {
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

/// Where a level line runs inside an outline: from and to.
fn stretches(outline: &[Place], y: f64) -> Vec<(f64, f64)> {
    let mut crossings: Vec<f64> = edges(outline)
        // A corner on the line counts for the side above it only.
        .filter(|(a, b)| (a.1 > y) != (b.1 > y))
        .map(|(a, b)| a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0))
        .collect();
    crossings.sort_by(f64::total_cmp);
    let pairs = crossings.chunks_exact(2);
    pairs.map(|pair| (pair[0], pair[1])).collect() // chunks of two
}

fn edges(outline: &[Place]) -> impl Iterator<Item = (Place, Place)> + '_ {
    let ends = outline.iter().cycle().skip(1);
    outline.iter().zip(ends).map(|(&a, &b)| (a, b))
}

/// A level box.
#[derive(Clone, Copy, Debug)]
struct Extent {
    left: f64,
    right: f64,
    low: f64,
    high: f64,
}

impl Extent {
    fn of(places: &[Place]) -> Self {
        let none = Self {
            left: f64::INFINITY,
            right: f64::NEG_INFINITY,
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
        };
        places.iter().fold(none, |all, &(x, y)| Self {
            left: all.left.min(x),
            right: all.right.max(x),
            low: all.low.min(y),
            high: all.high.max(y),
        })
    }

    fn about((x, y): Place, (wide, high): (f64, f64)) -> Self {
        Self {
            left: x - wide,
            right: x + wide,
            low: y - high,
            high: y + high,
        }
    }

    fn middle(&self) -> Place {
        ((self.left + self.right) / 2.0, (self.low + self.high) / 2.0)
    }

    fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.low < other.high
            && other.low < self.high
    }

    fn corners(&self) -> [Place; 4] {
        [
            (self.left, self.low),
            (self.right, self.low),
            (self.right, self.high),
            (self.left, self.high),
        ]
    }

    fn holds(&self, (x, y): Place) -> bool {
        (self.left..=self.right).contains(&x) && (self.low..=self.high).contains(&y)
    }
}

/// Whether two lines cross, and where on the first: 0 at its beginning, 1 at its end.
fn crossing(one: (Place, Place), other: (Place, Place)) -> Option<f64> {
    let ((a, b), (c, d)) = (one, other);
    let (along, across) = ((b.0 - a.0, b.1 - a.1), (d.0 - c.0, d.1 - c.1));
    let turn = along.0 * across.1 - along.1 * across.0;
    if turn.abs() < 1e-12 {
        return None;
    }
    let between = (c.0 - a.0, c.1 - a.1);
    let here = (between.0 * across.1 - between.1 * across.0) / turn;
    let there = (between.0 * along.1 - between.1 * along.0) / turn;
    ((0.0..=1.0).contains(&here) && (0.0..=1.0).contains(&there)).then_some(here)
}

fn on((a, b): (Place, Place), share: f64) -> Place {
    (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share)
}

/// The search for free places beside pieces.
struct Beside<'a> {
    shapes: &'a [Shape],
    extents: Vec<Extent>,
    ground: (f64, f64),
    size: f64,
    /// Numbers that stand beside their pieces, and their lines.
    boxes: Vec<Extent>,
    lines: Vec<(Place, Place)>,
}

/// How many directions are tried, and at which distances, in sizes of a letter.
const DIRECTIONS: u32 = 32;
const DISTANCES: [f64; 9] = [0.3, 0.6, 1.0, 1.5, 2.2, 3.0, 4.5, 6.5, 9.0];

impl Beside<'_> {
    /// The nearest free place for a piece's number; where there is none, one to which the line crosses what lies between; at worst
    /// on the piece, which it then covers.
    fn find(&mut self, piece: usize) -> Label {
        let half = (
            digits(piece + 1) * FIGURE.0 * self.size * 0.53,
            FIGURE.1 * self.size * 0.6,
        );
        let found = [false, true].into_iter().find_map(|crowded| {
            let (at, line) = self.place(piece, half, crowded)?;
            Some((at, Some(line), crowded))
        });
        let (at, leader, crowded) =
            found.unwrap_or_else(|| (middle(&self.shapes[piece].corners).0, None, true));
        self.boxes.push(Extent::about(at, half));
        self.lines.extend(leader);
        Label {
            at,
            size: self.size,
            turn: 0.0,
            leader,
            crowded,
        }
    }

    fn place(
        &self,
        piece: usize,
        half: (f64, f64),
        crowded: bool,
    ) -> Option<(Place, (Place, Place))> {
        let own = &self.shapes[piece].corners;
        let around = self.extents[piece];
        let from = middle(own).0;
        DISTANCES.iter().find_map(|distance| {
            let away = distance * self.size;
            let reach = (
                (around.right - around.left) / 2.0 + half.0 + away,
                (around.high - around.low) / 2.0 + half.1 + away,
            );
            // Above and below first, then to the sides.
            (0..DIRECTIONS).find_map(|step| {
                let turn = f64::from(step / 2) / f64::from(DIRECTIONS) * std::f64::consts::TAU;
                let turn = std::f64::consts::FRAC_PI_2
                    + if step % 2 == 0 {
                        -turn
                    } else {
                        turn + std::f64::consts::PI
                    };
                let (up, right) = turn.sin_cos();
                let far = (reach.0 / right.abs().max(1e-9)).min(reach.1 / up.abs().max(1e-9));
                let (x, y) = around.middle();
                let at = (x + right * far, y - up * far);
                let label = Extent::about(at, half);
                let line = drawn(own, from, at, &label)?;
                (self.free(&label) && (crowded || self.passes(piece, line))).then_some((at, line))
            })
        })
    }

    /// Whether a number keeps off the edge, the pieces and the numbers and lines beside others.
    fn free(&self, label: &Extent) -> bool {
        let on_ground = label.left >= 0.0
            && label.low >= 0.0
            && label.right <= self.ground.0
            && label.high <= self.ground.1;
        let sides = label.corners();
        on_ground
            && !self.boxes.iter().any(|other| other.meets(label))
            && !self.lines.iter().any(|&line| {
                label.holds(line.1) || edges(&sides).any(|side| crossing(side, line).is_some())
            })
            && !self
                .shapes
                .iter()
                .zip(&self.extents)
                .any(|(shape, extent)| {
                    extent.meets(label) && {
                        let (x, y) = label.middle();
                        let covers = stretches(&shape.corners, y)
                            .iter()
                            .any(|&(from, to)| from <= x && x <= to);
                        covers
                            || shape.corners.iter().any(|&corner| label.holds(corner))
                            || edges(&shape.corners).any(|edge| {
                                edges(&sides).any(|side| crossing(side, edge).is_some())
                            })
                    }
                })
    }

    /// Whether a line crosses no other piece, number or line.
    fn passes(&self, piece: usize, line: (Place, Place)) -> bool {
        let extent = Extent::of(&[line.0, line.1]);
        let others = self.shapes.iter().zip(&self.extents).enumerate();
        !self
            .lines
            .iter()
            .any(|&other| crossing(line, other).is_some())
            && !self
                .boxes
                .iter()
                .any(|label| edges(&label.corners()).any(|side| crossing(line, side).is_some()))
            && !others
                .filter(|(at, (_, other))| *at != piece && other.meets(&extent))
                .any(|(_, (shape, _))| {
                    edges(&shape.corners).any(|edge| crossing(line, edge).is_some())
                })
    }
}

/// The line from a piece to its number: from where it leaves the outline for good to where it meets the number's box.
fn drawn(outline: &[Place], from: Place, to: Place, label: &Extent) -> Option<(Place, Place)> {
    let whole = (from, to);
    let leaves = edges(outline)
        .filter_map(|edge| crossing(whole, edge))
        .fold(0.0, f64::max);
    let meets = edges(&label.corners())
        .filter_map(|side| crossing(whole, side))
        .fold(1.0, f64::min);
    (leaves < meets).then(|| (on(whole, leaves), on(whole, meets)))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LETTERS: Letters = Letters {
        least: 7.0,
        most: 18.0,
    };

    fn ground(width: f64, height: f64) -> Bed {
        let bed = [width, height].map(crate::units::Millimetres);
        Bed::plain(&bed, 0.0)
    }

    fn boxed(left: f64, top: f64, width: f64, height: f64) -> Shape {
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

    #[test]
    fn a_piece_without_room_has_its_number_beside_it() {
        // Three pins of 5, in a row 8 apart, and a plate to their right; letters of 7.
        let shapes = [
            boxed(50.0, 50.0, 5.0, 5.0),
            boxed(58.0, 50.0, 5.0, 5.0),
            boxed(66.0, 50.0, 5.0, 5.0),
            boxed(74.0, 30.0, 50.0, 50.0),
        ];
        let found = labels(&shapes, &ground(200.0, 100.0), LETTERS);
        assert!(
            found
                .iter()
                .all(|label| label.size >= 7.0 && !label.crowded)
        );
        assert_eq!(found[3].leader, None);
        let extents: Vec<Extent> = found
            .iter()
            .map(|label| Extent::about(label.at, (label.size * 0.35, label.size * 0.365)))
            .collect();
        for (at, label) in found.iter().enumerate().take(3) {
            let (from, to) = label.leader.expect("a line");
            let own = Extent::of(&shapes[at].corners);
            // The line begins at its piece and ends at its number.
            assert!(own.holds(from) && !own.holds(to));
            let gap = (to.0 - label.at.0).hypot(to.1 - label.at.1);
            assert!(gap < 7.0, "{gap}");
            for (other, shape) in shapes.iter().enumerate() {
                let shape_extent = Extent::of(&shape.corners);
                assert!(!shape_extent.meets(&extents[at]), "{at} {other}");
                assert!(other == at || !shape_extent.meets(&Extent::of(&[from, to])));
                assert!(other == at || !extents[other].meets(&extents[at]));
            }
        }
    }

    #[test]
    fn a_number_for_which_there_is_no_place_says_so() {
        // The ground is no larger than the pin.
        let found = labels(&[boxed(0.0, 0.0, 5.0, 5.0)], &ground(5.0, 5.0), LETTERS);
        assert!(found[0].crowded && found[0].leader.is_none());
        assert_eq!((found[0].at, found[0].size), ((2.5, 2.5), 7.0));
    }
}
