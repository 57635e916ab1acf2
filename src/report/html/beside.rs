//! Free places for numbers beside pieces that are too small to hold theirs.
//!
//! Knows: outlines, how small letters may be. Must not know: which pieces they are.
//! Promises: a number lies on no piece and on no other number, and its line crosses none, unless it says that it is crowded.

use super::bed::{Bed, Place, Shape};
use super::labels::{FIGURE, Label, digits, middle};
use super::plane::{Extent, crossing, edges, on, stretches};

/// The search for free places beside pieces.
pub(super) struct Beside<'a> {
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

impl<'a> Beside<'a> {
    /// With nothing beside a piece as yet; letters of this size.
    pub(super) fn new(shapes: &'a [Shape], ground: &Bed, size: f64) -> Self {
        Self {
            shapes,
            extents: shapes
                .iter()
                .map(|shape| Extent::of(&shape.corners))
                .collect(),
            ground: (ground.width, ground.height),
            size,
            boxes: Vec::new(),
            lines: Vec::new(),
        }
    }

    /// The nearest free place for a piece's number; where there is none, one to which the line crosses what lies between; at worst
    /// on the piece, which it then covers.
    pub(super) fn find(&mut self, piece: usize) -> Label {
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
    use super::super::labels::labels;
    use super::super::labels::tests::{LETTERS, boxed, ground};
    use super::*;

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
