//! One way to put pieces down, one after the other.
//!
//! Knows: shapes, the regions where each may still be. Must not know: which order is tried next, what a bed is.
//! Promises: each piece lies where the rule says is best of all corners of its region, and is far enough from all
//! that lie already, measured between the outlines themselves.

use super::grid::{self, Lines, Point};
use super::{Area, Drawn, Figures, Kind, Nested, Nester, REMEMBERED, TOLERANCE, apart};

/// Places that are measured before a piece counts as without room: the best is nearly always right.
const MEASURED: usize = 8;

/// What makes one place better than another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rule {
    /// Its upper edge low, then its right edge left.
    Low,
    /// Its right edge left, then its upper edge low.
    Left,
    /// The box around all pieces small, then low.
    Compact,
}

/// A piece that lies.
struct Placed {
    kind: usize,
    shape: u32,
    at: Point,
    corners: Vec<[f64; 2]>,
    low: [f64; 2],
    high: [f64; 2],
    place: Nested,
}

/// Where a shape may still be.
struct Region {
    lines: Lines,
    /// Pieces put down that are taken into account.
    seen: usize,
}

/// A place for a piece: how good it is (less is better), its turn among those of its kind, where.
type Candidate = ([i64; 3], usize, [f64; 2]);

/// Pieces put down so far.
pub(super) struct Laying<'a> {
    nester: &'a mut Nester,
    figures: &'a Figures,
    area: Area,
    spacing: f64,
    kinds: &'a [Kind],
    /// Whether the first piece lies turned by half a turn from how it would.
    pub first_over: bool,
    placed: Vec<Placed>,
    /// By kind, then by its shapes.
    regions: Vec<Vec<Region>>,
}

impl<'a> Laying<'a> {
    pub fn new(
        nester: &'a mut Nester,
        figures: &'a Figures,
        area: Area,
        spacing: f64,
        kinds: &'a [Kind],
    ) -> Self {
        if nester.forbidden.len() > REMEMBERED {
            nester.forbidden.clear();
            nester.ready.clear();
        }
        let regions = kinds
            .iter()
            .map(|kind| {
                let shapes = kind.shapes.iter();
                shapes
                    .map(|&shape| Region {
                        lines: vec![middles(area, nester.shapes[shape as usize].size)],
                        seen: 0,
                    })
                    .collect()
            })
            .collect();
        Self {
            nester,
            figures,
            area,
            spacing,
            kinds,
            first_over: false,
            placed: Vec::new(),
            regions,
        }
    }

    /// Puts all pieces down, given as positions of their kinds; else the position in `order` of the first without room.
    pub fn lay(&mut self, order: &[usize], rule: Rule) -> Result<(), usize> {
        for (at, &kind) in order.iter().enumerate() {
            let placed = self.best(kind, rule).ok_or(at)?;
            self.placed.push(placed);
        }
        Ok(())
    }

    /// Where the pieces lie, by kind.
    pub fn places(&self) -> Vec<Vec<Nested>> {
        let mut places = vec![Vec::new(); self.kinds.len()];
        for piece in &self.placed {
            places[piece.kind].push(piece.place);
        }
        places
    }

    /// How far up the highest piece reaches.
    pub fn height(&self) -> f64 {
        self.placed.iter().map(|p| p.high[1]).fold(0.0, f64::max)
    }

    fn best(&mut self, kind: usize, rule: Rule) -> Option<Placed> {
        let shapes = &self.kinds[kind].shapes;
        let over = self.first_over && self.placed.is_empty();
        let only = over.then(|| self.nester.over(shapes)).flatten();
        let mut candidates: Vec<Candidate> = Vec::new();
        for (turn, &shape) in shapes.iter().enumerate() {
            if only.is_some_and(|only| only != turn) {
                continue;
            }
            self.update(kind, turn, shape);
            let size = self.nester.shapes[shape as usize].size;
            for &corner in self.regions[kind][turn].lines.iter().flatten() {
                let at = self.clamped(grid::mm(corner), size);
                candidates.push((self.merit(rule, at, size), turn, at));
            }
        }
        for _ in 0..MEASURED {
            let best = candidates
                .iter()
                .enumerate()
                .min_by_key(|(_, c)| (c.0, c.1));
            let (position, &(_, turn, at)) = best?;
            let piece = self.piece(kind, shapes[turn], at);
            if self.is_apart(&piece) {
                return Some(piece);
            }
            candidates.swap_remove(position);
        }
        None
    }

    /// Takes what was put down since the last time out of a shape's region.
    fn update(&mut self, kind: usize, turn: usize, shape: u32) {
        let region = &mut self.regions[kind][turn];
        if region.seen == self.placed.len() || region.lines.is_empty() {
            return;
        }
        let fresh = &self.placed[region.seen..];
        let other = Drawn {
            shape,
            figure: self.kinds[kind].figure,
        };
        let mut taken = Vec::with_capacity(fresh.len());
        for piece in fresh {
            let one = Drawn {
                shape: piece.shape,
                figure: self.kinds[piece.kind].figure,
            };
            self.nester
                .compare(self.figures, &one, &other, self.spacing);
            let (pair, quarters) = self.nester.pair(piece.shape, shape, self.spacing);
            taken.push((pair, quarters, piece.at));
        }
        let forbidden = &self.nester.forbidden;
        // Compared above.
        let taken = taken
            .iter()
            .filter_map(|(pair, quarters, at)| Some((forbidden.get(pair)?, *quarters, *at)));
        region.lines = self.nester.cut.without(&region.lines, taken);
        region.seen = self.placed.len();
    }

    /// A middle brought back into the area, from which the slack may have let it out.
    fn clamped(&self, at: [f64; 2], size: [f64; 2]) -> [f64; 2] {
        let sides = [self.area.width, self.area.depth];
        [0, 1].map(|axis| {
            let (low, high) = (size[axis] / 2.0, sides[axis] - size[axis] / 2.0);
            if low < high {
                at[axis].clamp(low, high)
            } else {
                sides[axis] / 2.0
            }
        })
    }

    /// Less is better. To a thousandth of a millimetre, so that rounding does not order what is alike.
    fn merit(&self, rule: Rule, at: [f64; 2], size: [f64; 2]) -> [i64; 3] {
        let high = [0, 1].map(|axis| at[axis] + size[axis] / 2.0);
        let [right, top] = high.map(|end| (end * 1000.0).round() as i64);
        match rule {
            Rule::Low => [top, right, 0],
            Rule::Left => [right, top, 0],
            Rule::Compact => {
                let ends = |axis: usize| {
                    let others = self.placed.iter().map(|piece| piece.high[axis]);
                    others.fold(high[axis], f64::max)
                };
                [(ends(0) * ends(1)).round() as i64, top, right]
            }
        }
    }

    fn piece(&self, kind: usize, shape: u32, at: [f64; 2]) -> Placed {
        let found = &self.nester.shapes[shape as usize];
        let corners = found.corners.iter();
        let [x, y] = [0, 1].map(|axis| at[axis] - found.middle[axis]);
        Placed {
            kind,
            shape,
            at: grid::point(at),
            corners: corners.map(|c| [c[0] + x, c[1] + y]).collect(),
            low: [0, 1].map(|axis| at[axis] - found.size[axis] / 2.0),
            high: [0, 1].map(|axis| at[axis] + found.size[axis] / 2.0),
            place: Nested {
                x,
                y,
                turn: found.turn,
            },
        }
    }

    /// Whether a piece is inside the area and far enough from all that lie already: measured between the outlines, for
    /// what the grid and its regions say is rounded.
    fn is_apart(&self, piece: &Placed) -> bool {
        let sides = [self.area.width, self.area.depth];
        let inside = (0..2).all(|axis| {
            piece.low[axis] >= -TOLERANCE && piece.high[axis] <= sides[axis] + TOLERANCE
        });
        let off = |other: &Placed| {
            (0..2).any(|axis| {
                other.low[axis] - piece.high[axis] >= self.spacing
                    || piece.low[axis] - other.high[axis] >= self.spacing
            })
        };
        inside
            && self.placed.iter().all(|other| {
                off(other) || apart(&piece.corners, &other.corners) >= self.spacing - TOLERANCE
            })
    }
}

/// Where the middle of a box may be in an area, with some slack, so that a box that fits exactly has a region too.
fn middles(area: Area, size: [f64; 2]) -> Vec<Point> {
    let [x, y] =
        [area.width - size[0], area.depth - size[1]].map(|free| free.max(0.0) / 2.0 + grid::SLACK);
    let (middle_x, middle_y) = (area.width / 2.0, area.depth / 2.0);
    [[-x, -y], [x, -y], [x, y], [-x, y]]
        .map(|[dx, dy]| grid::point([middle_x + dx, middle_y + dy]))
        .to_vec()
}
