//! Equal rectangles on one plate: blocks of rows and columns.
//!
//! Knows: one kind of rectangle. Must not know: mixtures.
//! Promises: a layout of blocks never holds fewer than the better of the two plain grids.
//!
//! Source of the block layouts: A. Smith, P. De Cani, "An algorithm to optimize the layout of boxes in pallets",
//! J. Operational Research Society 31 (1980) 573–578, with a fifth block in the hole after E. E. Bischoff,
//! W. B. Dowsland, "An application of the micro to product design and distribution", same journal 33 (1982) 271–280
//! (both from memory).

use super::grains::{Bin, Item, Spot};

/// With more of the long side than this across the plate, the four-block search is not worth its time: a plain grid
/// wastes less than one row and one column.
const MANY: i64 = 10;

/// Columns × rows of equal rectangles from a lower left corner.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Block {
    x: i64,
    y: i64,
    columns: i64,
    rows: i64,
    turned: bool,
}

impl Block {
    fn count(&self) -> i64 {
        self.columns * self.rows
    }
}

/// Blocks that do not overlap.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Layout([Block; 5]);

impl Layout {
    /// How many rectangles it holds.
    pub fn count(&self) -> i64 {
        self.0.iter().map(Block::count).sum()
    }

    /// Corners, block by block, row by row.
    pub fn spots(&self, item: Item) -> impl Iterator<Item = Spot> + use<> {
        self.0.into_iter().flat_map(move |block| {
            let (across, along) = item.sides(block.turned);
            (0..block.rows).flat_map(move |row| {
                (0..block.columns).map(move |column| Spot {
                    x: block.x + column * across,
                    y: block.y + row * along,
                    turned: block.turned,
                })
            })
        })
    }
}

/// A layout with room for `wanted` of them if one is found, else the fullest found.
pub(super) fn layout(bin: Bin, item: &Item, wanted: i64) -> Layout {
    let mut best = Layout::default();
    best.0[0] = fullest_grid(item, 0, 0, bin.width, bin.depth);
    let wanted = wanted.min(ceiling(bin, item));
    if best.count() < wanted && item.straight && item.turned {
        four_blocks(bin, item, wanted, &mut best);
    }
    best
}

/// No layout holds more: the surface divided.
fn ceiling(bin: Bin, item: &Item) -> i64 {
    (bin.surface() / item.surface() + 1e-9) as i64
}

/// The better of the two plain grids in a part of the plate.
fn fullest_grid(item: &Item, x: i64, y: i64, width: i64, depth: i64) -> Block {
    let mut best = Block::default();
    if width <= 0 || depth <= 0 {
        return best;
    }
    for (across, along, turned) in item.ways() {
        let grid = Block {
            x,
            y,
            columns: width / across,
            rows: depth / along,
            turned,
        };
        if grid.count() > best.count() {
            best = grid;
        }
    }
    best
}

/// One block in each corner, neighbours turned against each other, and a fifth in the hole between them.
///
/// Each edge of the plate is shared by two blocks; for each number of long sides along an edge the other block takes
/// as many short sides as are left room for, since fewer never help.
fn four_blocks(bin: Bin, item: &Item, wanted: i64, best: &mut Layout) {
    let (width, depth) = (bin.width, bin.depth);
    let long = item.width.max(item.depth);
    let short = item.width.min(item.depth);
    // Lying along the x axis.
    let flat = item.depth > item.width;
    if width / long > MANY || depth / long > MANY {
        return;
    }
    for lower_left in 0..=width / long {
        let lower_right = (width - lower_left * long) / short;
        for upper_right in 0..=width / long {
            let upper_left = (width - upper_right * long) / short;
            for left_upper in 0..=depth / long {
                let left_lower = (depth - left_upper * long) / short;
                for right_lower in 0..=depth / long {
                    let right_upper = (depth - right_lower * long) / short;
                    let corner = |columns, rows, right: bool, upper: bool, turned: bool| {
                        let (across, along) = item.sides(turned);
                        let x = if right { width - columns * across } else { 0 };
                        let y = if upper { depth - rows * along } else { 0 };
                        Block {
                            x,
                            y,
                            columns,
                            rows,
                            turned,
                        }
                    };
                    let blocks = [
                        corner(lower_left, left_lower, false, false, flat),
                        corner(lower_right, right_lower, true, false, !flat),
                        corner(upper_right, right_upper, true, true, flat),
                        corner(upper_left, left_upper, false, true, !flat),
                    ];
                    let far = |block: &Block| {
                        let (across, along) = item.sides(block.turned);
                        (
                            block.x + block.columns * across,
                            block.y + block.rows * along,
                        )
                    };
                    // Neighbours share an edge without overlap by construction; opposite corners may meet.
                    let apart = |a: &Block, b: &Block| {
                        let ((a_right, a_high), (b_right, b_high)) = (far(a), far(b));
                        a_right <= b.x || b_right <= a.x || a_high <= b.y || b_high <= a.y
                    };
                    if !apart(&blocks[0], &blocks[2]) || !apart(&blocks[1], &blocks[3]) {
                        continue;
                    }
                    let four: i64 = blocks.iter().map(Block::count).sum();
                    let (first_right, first_high) = far(&blocks[0]);
                    let (fourth_right, _) = far(&blocks[3]);
                    let (_, second_high) = far(&blocks[1]);
                    // Each of these two parts of the plate overlaps none of the four blocks: it ends where they begin.
                    let holes = [
                        fullest_grid(
                            item,
                            fourth_right,
                            first_high,
                            blocks[1].x - fourth_right,
                            blocks[2].y - first_high,
                        ),
                        fullest_grid(
                            item,
                            first_right,
                            second_high,
                            blocks[2].x - first_right,
                            blocks[3].y - second_high,
                        ),
                    ];
                    for fifth in holes {
                        if four + fifth.count() > best.count() {
                            *best = Layout([blocks[0], blocks[1], blocks[2], blocks[3], fifth]);
                            if best.count() >= wanted {
                                return;
                            }
                        }
                    }
                }
            }
        }
    }
}
