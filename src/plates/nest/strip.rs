//! Pieces on a strip of one width, as short as can be found.
//!
//! Knows: figures, a width. Must not know: beds.
//! Promises: what [`Nester::strip`] returns keeps the spacing and the width; more tries are never longer.

use super::super::Area;
use super::lay::{Laying, Rule};
use super::{FigureId, Figures, Nested, Nester, Order, arranged, handed_out};

/// Seed of the changes of order; any number does.
const SEED: u64 = 0x9e37_79b9_7f4a_7c15;

impl Nester {
    /// Lays all pieces on a strip `width` wide: how long a stretch they take (mm, no more than `longest`), and where
    /// each lies on it. After the first orders so many others are `tries`.
    pub fn strip(
        &mut self,
        figures: &Figures,
        width: f64,
        longest: f64,
        spacing: f64,
        pieces: &[FigureId],
        tries: u32,
    ) -> Option<(f64, Vec<Nested>)> {
        let area = Area {
            width,
            depth: longest,
        };
        let kinds = self.kinds(figures, area, pieces)?;
        let mut best: Option<(f64, Vec<usize>, Vec<Nested>)> = None;
        let mut attempt = |order: Vec<usize>, best: &mut Option<(f64, Vec<usize>, Vec<Nested>)>| {
            let mut laying = Laying::new(self, figures, area, spacing, &kinds);
            if laying.lay(&order, Rule::Low).is_err() {
                return;
            }
            let height = laying.height();
            if best.as_ref().is_none_or(|(least, ..)| height < *least) {
                let places = handed_out(&kinds, pieces, laying.places());
                *best = Some((height, order, places));
            }
        };
        for order in [Order::Surface, Order::Length] {
            attempt(arranged(&kinds, order), &mut best);
        }
        let mut state = SEED;
        let mut draw = |below: usize| {
            // Source: G. Marsaglia, "Xorshift RNGs", Journal of Statistical Software 8(14) (2003), from memory.
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state % below.max(1) as u64) as usize
        };
        for _ in 0..tries {
            let Some((_, order, _)) = &best else { break };
            let mut order = order.clone();
            let (from, to) = (draw(order.len()), draw(order.len()));
            if order[from] == order[to] {
                continue;
            }
            order.swap(from, to);
            attempt(order, &mut best);
        }
        best.map(|(length, _, places)| (length, places))
    }
}
