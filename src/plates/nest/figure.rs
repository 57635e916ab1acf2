//! Outlines and the turns that they may take on a bed.
//!
//! Knows: outlines, angles. Must not know: beds, spacing, what lies beside what.
//! Promises: an outline with the same turns has one number; turns that bring it onto itself are left out.

use std::sync::Arc;

use crate::geometry::{Extent, Outline};

use super::around::around;

/// Millimetres by which corners may differ and still be the same.
const ALIKE: f64 = 1e-7;

/// Position of a figure in its [`Figures`].
pub type FigureId = u32;

/// One way to turn a figure.
#[derive(Clone, Debug)]
pub(super) struct Turn {
    /// Counter-clockwise.
    pub degrees: f64,
    /// Its box then, mm.
    pub size: [f64; 2],
}

impl Turn {
    /// Whether it is square to the bed.
    pub fn is_quarter(&self) -> bool {
        self.degrees % 90.0 == 0.0
    }
}

/// An outline with its turns.
#[derive(Clone, Debug)]
pub(super) struct Figure {
    pub outline: Arc<Outline>,
    /// What it is taken for where pieces must keep apart: no less than the outline, with fewer corners.
    pub around: Vec<[f64; 2]>,
    pub turns: Vec<Turn>,
    /// Asked for at every plate.
    pub extent: Extent,
}

/// The figures of a shop.
#[derive(Clone, Debug, Default)]
pub struct Figures {
    all: Vec<Figure>,
    /// The turns as asked, by figure.
    asked: Vec<Vec<f64>>,
}

impl Figures {
    /// The number of an outline that may take these turns (degrees, counter-clockwise, in the order of preference).
    pub fn add(&mut self, outline: &Arc<Outline>, turns: &[f64]) -> FigureId {
        let known = self.all.iter().zip(&self.asked);
        let known = known.into_iter().position(|(figure, asked)| {
            asked == turns && figure.outline.corners() == outline.corners()
        });
        if let Some(at) = known {
            return at as FigureId;
        }
        let mut kept: Vec<(Turn, Outline)> = Vec::new();
        for &degrees in turns {
            let turned = outline.turned(degrees);
            if kept.iter().all(|(_, other)| !alike(&turned, other)) {
                let size = turned.size();
                kept.push((Turn { degrees, size }, turned));
            }
        }
        self.all.push(Figure {
            outline: Arc::clone(outline),
            around: around(outline.corners()),
            turns: kept.into_iter().map(|(turn, _)| turn).collect(),
            extent: outline.extent(),
        });
        self.asked.push(turns.to_vec());
        (self.all.len() - 1) as FigureId
    }

    pub(super) fn get(&self, figure: FigureId) -> &Figure {
        &self.all[figure as usize]
    }
}

/// Whether two outlines have the same corners, wherever their lists begin.
fn alike(one: &Outline, other: &Outline) -> bool {
    let (a, b) = (one.corners(), other.corners());
    let near =
        |p: &[f64; 2], q: &[f64; 2]| (p[0] - q[0]).abs() <= ALIKE && (p[1] - q[1]).abs() <= ALIKE;
    a.len() == b.len()
        && (0..b.len()).any(|shift| {
            let turned = b.iter().cycle().skip(shift);
            a.iter().zip(turned).all(|(p, q)| near(p, q))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_that_change_nothing_are_left_out() {
        let mut figures = Figures::default();
        let beam = Arc::new(Outline::rectangle(30.0, 10.0).unwrap());
        let square = Arc::new(Outline::rectangle(30.0, 30.0).unwrap());
        let quarters = [0.0, 90.0, 180.0, 270.0];
        let (beam, square) = (
            figures.add(&beam, &quarters),
            figures.add(&square, &quarters),
        );
        assert_eq!(figures.get(beam).turns.len(), 2);
        assert_eq!(figures.get(square).turns.len(), 1);
        let again = Arc::new(Outline::rectangle(30.0, 10.0).unwrap());
        assert_eq!(figures.add(&again, &quarters), beam);
        assert_ne!(figures.add(&again, &[0.0]), beam);
    }
}
