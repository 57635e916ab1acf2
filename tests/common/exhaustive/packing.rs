//! Whether rectangles fit on a bed, by trying every corner.
//!
//! Rectangles in a packing can all be pushed left and down until each touches the edge or another one; then its left edge
//! is a sum of widths of others, and its lower edge a sum of depths. So it is enough to try such places.

use super::making::Lying;

/// Whether all lie in a room of so much across and along, `spacing` apart. Spacing counts along the sides.
pub fn packs(room: [f64; 2], spacing: f64, pieces: &[Lying]) -> bool {
    if let [one] = pieces {
        // Each fits its machine alone, if only at an angle.
        return one.sides[0] > 0.0;
    }
    if pieces.iter().any(|piece| piece.square == [false, false]) {
        return false;
    }
    // Each is wider by the spacing, and so is the room.
    let room = room.map(|side| side + spacing + 1e-6);
    let surface = |piece: &Lying| (piece.sides[0] + spacing) * (piece.sides[1] + spacing);
    if pieces.iter().map(surface).sum::<f64>() > room[0] * room[1] {
        return false;
    }
    place(room, spacing, pieces, &mut Vec::new())
}

/// A rectangle put down: left, lower, right, upper edge.
type Put = [f64; 4];

fn place(room: [f64; 2], spacing: f64, left: &[Lying], put: &mut Vec<Put>) -> bool {
    let Some((next, rest)) = left.split_first() else {
        return true;
    };
    for (turned, _) in next
        .square
        .iter()
        .enumerate()
        .filter(|(_, allowed)| **allowed)
    {
        let [mut wide, mut deep] = next.sides.map(|side| side + spacing);
        if turned == 1 {
            (wide, deep) = (deep, wide);
        }
        for x in sums(left, put, 0, spacing, room[0] - wide) {
            for y in sums(left, put, 1, spacing, room[1] - deep) {
                let spot = [x, y, x + wide, y + deep];
                if put.iter().all(|other| apart(&spot, other)) {
                    put.push(spot);
                    if place(room, spacing, rest, put) {
                        return true;
                    }
                    put.pop();
                }
            }
        }
    }
    false
}

fn apart(a: &Put, b: &Put) -> bool {
    const TOUCH: f64 = 1e-9;
    a[0] >= b[2] - TOUCH || b[0] >= a[2] - TOUCH || a[1] >= b[3] - TOUCH || b[1] >= a[3] - TOUCH
}

/// Sums of extents, along one axis, of any of the pieces put down and to come, up to a limit; each once.
fn sums(left: &[Lying], put: &[Put], axis: usize, spacing: f64, limit: f64) -> Vec<f64> {
    let mut sums = vec![0.0];
    let mut add = |extents: &[f64]| {
        let with: Vec<f64> = sums
            .iter()
            .flat_map(|sum| extents.iter().map(move |extent| sum + extent))
            .filter(|&sum| sum <= limit)
            .collect();
        sums.extend(with);
        sums.sort_by(f64::total_cmp);
        sums.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    };
    for spot in put {
        add(&[spot[axis + 2] - spot[axis]]);
    }
    // Those to come may lie either way.
    for piece in left.iter().skip(1) {
        add(&piece.sides.map(|side| side + spacing));
    }
    if limit < 0.0 {
        sums.clear();
    }
    sums
}
