//! What pieces lie on, and their outlines, as they are drawn: a bed from above, its front at the foot; a belt lying down, its start at
//! the left.
//!
//! Knows: pieces in millimetres from the bed's front left corner. Must not know: colours, numbers, how large a drawing is shown.
//! Promises: a drawing is in the bed's own millimetres.

use std::fmt::Write;

use maud::{Markup, html};

use super::axis::short;
use crate::plan::Piece;
use crate::scenario::{Machine, MachineKind};
use crate::units::Millimetres;

/// A place in a drawing, or on a machine; mm.
pub(super) type Place = (f64, f64);

/// A bed or a stretch of a belt.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bed {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) margins: [f64; 2],
    pub(super) belt: bool,
}

impl Bed {
    pub(super) fn of(machine: &Machine, pieces: &[Piece]) -> Self {
        let margin = machine.margin.0;
        match &machine.kind {
            MachineKind::Bed { bed, .. } => Self::plain(bed, margin),
            MachineKind::Belt { section, .. } => {
                // As far as the run reaches, and no less than the belt is wide.
                let corners = pieces.iter().flat_map(corners);
                let end = corners.map(|(_, along)| along).fold(section[0].0, f64::max);
                Self {
                    width: (end / 10.0).ceil() * 10.0,
                    height: section[0].0,
                    margins: [0.0, margin],
                    belt: true,
                }
            }
        }
    }

    pub(super) fn of_bed(machine: &Machine) -> Option<Self> {
        match &machine.kind {
            MachineKind::Bed { bed, .. } => Some(Self::plain(bed, machine.margin.0)),
            MachineKind::Belt { .. } => None,
        }
    }

    pub(super) fn plain(bed: &[Millimetres; 2], margin: f64) -> Self {
        Self {
            width: bed[0].0,
            height: bed[1].0,
            margins: [margin, margin],
            belt: false,
        }
    }

    pub(super) fn view(&self) -> String {
        format!("0 0 {} {}", short(self.width), short(self.height))
    }

    /// From the machine's millimetres to the drawing's: the front is at the foot; a belt's run goes from left to right.
    fn place(&self, (x, y): Place) -> Place {
        if self.belt {
            (y, x)
        } else {
            (x, self.height - y)
        }
    }

    pub(super) fn frame(&self) -> Markup {
        let [across, along] = self.margins;
        let hundreds = |length: f64| {
            (1..)
                .map(|n| f64::from(n) * 100.0)
                .take_while(move |at| *at < length)
        };
        html! {
            rect.bed width=(short(self.width)) height=(short(self.height)) {}
            rect.margin x=(short(across)) y=(short(along)) width=(short(self.width - 2.0 * across)) height=(short(self.height - 2.0 * along)) {}
            @for at in hundreds(self.width) { path.tick d={ "M" (short(at)) " " (short(self.height)) "v-4" } {} }
            @for at in hundreds(self.height) { path.tick d={ "M0 " (short(self.height - at)) "h4" } {} }
        }
    }

    /// The outline of each piece as it lies in the drawing.
    pub(super) fn outlines(&self, pieces: &[Piece]) -> Vec<Shape> {
        let shapes = pieces.iter().map(|piece| {
            let corners = turned(&outline(piece), piece).into_iter();
            // A belt's drawing is turned over, a bed's is stood on its head: the piece's own direction with it.
            let along = if piece.size[0] >= piece.size[1] {
                piece.turn
            } else {
                piece.turn + 90.0
            };
            Shape {
                corners: corners.map(|corner| self.place(corner)).collect(),
                along: if self.belt { 90.0 - along } else { -along },
            }
        });
        shapes.collect()
    }
}

/// An outline in a drawing.
#[derive(Clone, Debug)]
pub(super) struct Shape {
    pub(super) corners: Vec<Place>,
    /// In which direction it is longest, degrees clockwise from level, as drawn.
    pub(super) along: f64,
}

/// All outlines as one path; along the axes in its shorter steps.
pub(super) fn path(shapes: &[Shape]) -> String {
    let mut path = String::new();
    for shape in shapes {
        let mut last: Option<(String, String)> = None;
        for &(x, y) in &shape.corners {
            let (x, y) = (hundredths(x), hundredths(y));
            // Writing to a String does not fail.
            let _ = match &last {
                None => write!(path, "M{x} {y}"),
                Some(before) if before.1 == y => write!(path, "H{x}"),
                Some(before) if before.0 == x => write!(path, "V{y}"),
                Some(_) => write!(path, "L{x} {y}"),
            };
            last = Some((x, y));
        }
        path.push('Z');
    }
    path
}

/// Hundredths of a millimetre are finer than any printed line.
pub(super) fn hundredths(value: f64) -> String {
    short((value * 100.0).round() / 100.0)
}

/// The corners of a piece as it lies on its machine, in mm from the front left corner.
fn corners(piece: &Piece) -> Vec<Place> {
    turned(&rectangle(piece), piece)
}

/// The box of a piece as it lies before turning, about its centre.
fn rectangle(piece: &Piece) -> Vec<Place> {
    let [half, deep] = [piece.size[0].0 / 2.0, piece.size[1].0 / 2.0];
    vec![(-half, -deep), (half, -deep), (half, deep), (-half, deep)]
}

/// The outline of a piece as it lies before turning, about its centre: that of its mesh, or its box.
fn outline(piece: &Piece) -> Vec<Place> {
    if let Some(outline) = &piece.outline {
        return outline.corners().iter().map(|&[x, y]| (x, y)).collect();
    }
    rectangle(piece)
}

/// Points about a piece's centre, turned counter-clockwise and moved to where it lies.
fn turned(outline: &[Place], piece: &Piece) -> Vec<Place> {
    let (sin, cos) = piece.turn.to_radians().sin_cos();
    let points = outline.iter();
    points
        .map(|(x, y)| (piece.x.0 + x * cos - y * sin, piece.y.0 + x * sin + y * cos))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::html::plates::tests::piece;

    #[test]
    fn a_piece_turns_counter_clockwise_about_its_centre() {
        // 40 × 20 turned by 90° at (100, 50): its first corner (−20, −10) goes to (10, −20): (110, 30).
        let found = corners(&piece(100.0, 50.0, 90.0));
        let expected = [(110.0, 30.0), (110.0, 70.0), (90.0, 70.0), (90.0, 30.0)];
        for (found, expected) in found.iter().zip(expected) {
            assert!((found.0 - expected.0).abs() < 1e-9 && (found.1 - expected.1).abs() < 1e-9);
        }
    }

    #[test]
    fn the_front_of_a_bed_is_at_the_foot_and_a_belt_runs_to_the_right() {
        let bed = Bed {
            width: 300.0,
            height: 200.0,
            margins: [5.0, 5.0],
            belt: false,
        };
        assert_eq!(bed.place((30.0, 20.0)), (30.0, 180.0));
        let belt = Bed { belt: true, ..bed };
        assert_eq!(belt.place((30.0, 20.0)), (20.0, 30.0));
    }

    #[test]
    fn a_shape_knows_in_which_direction_it_is_longest() {
        // 40 × 20, so along its first side: turned by 30° counter-clockwise it rises to the right on a bed, by −30° clockwise; on a
        // belt, drawn with across and along exchanged, the right angle less that.
        let bed = Bed {
            width: 300.0,
            height: 200.0,
            margins: [5.0, 5.0],
            belt: false,
        };
        for (belt, along) in [(false, -30.0), (true, 60.0)] {
            let bed = Bed { belt, ..bed };
            let shape = &bed.outlines(&[piece(100.0, 50.0, 30.0)])[0];
            assert_eq!(shape.along, along);
            // The first two corners are the ends of a long side.
            let ((x, y), (to, down)) = (shape.corners[0], shape.corners[1]);
            let drawn = (down - y).atan2(to - x).to_degrees();
            assert!((drawn - along).abs() < 1e-9, "{drawn}");
        }
    }
}
