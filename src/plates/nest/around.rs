//! A polygon with fewer corners around a given one.
//!
//! Knows: corners in mm. Must not know: spacing, plates.
//! Promises: nothing of the given polygon is outside; the line does not cross itself; little area is added.

/// Fewer corners than this are left as they are.
const FEW: usize = 16;
/// A step that adds more than this share of the area is not taken, however many corners are left.
const SHARE: f64 = 0.004;
/// A step that adds less than this share is taken, however few corners there are.
const SPECK: f64 = 1e-7;

/// One step: corners from `at` on, so many of them, give way to what is left in their place.
struct Step {
    at: usize,
    takes: usize,
    leaves: Option<[f64; 2]>,
    adds: f64,
}

/// The polygon around one that runs counter-clockwise.
pub(super) fn around(corners: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut line = corners.to_vec();
    let area = area(&line);
    while line.len() > 4 {
        let steps = (0..line.len()).flat_map(|at| [fill(&line, at), stretch(&line, at)]);
        let best = steps.flatten().min_by(|a, b| a.adds.total_cmp(&b.adds));
        let limit = if line.len() > FEW { SHARE } else { SPECK } * area;
        match best {
            Some(step) if step.adds <= limit => take(&mut line, &step),
            _ => break,
        }
    }
    line
}

fn take(line: &mut Vec<[f64; 2]>, step: &Step) {
    line.rotate_left(step.at);
    line.splice(0..step.takes, step.leaves);
}

/// Leaves out a corner that points inward, or lies on the line between its neighbours.
fn fill(line: &[[f64; 2]], at: usize) -> Option<Step> {
    let count = line.len();
    let [before, corner, after] = [count - 1, 0, 1].map(|step| line[(at + step) % count]);
    let adds = -turn(before, corner, after) / 2.0;
    if adds < 0.0 || !clear(line, [before, corner, after]) {
        return None;
    }
    Some(Step {
        at,
        takes: 1,
        leaves: None,
        adds,
    })
}

/// Leaves out the side that begins at a corner: its neighbours go on until they meet.
fn stretch(line: &[[f64; 2]], at: usize) -> Option<Step> {
    let count = line.len();
    let [before, from, to, after] = [count - 1, 0, 1, 2].map(|step| line[(at + step) % count]);
    let (u, v) = (minus(from, before), minus(to, after));
    let across = cross(u, v);
    let side = minus(to, from);
    // from + s·u = to + t·v, both onward.
    let (s, t) = (cross(side, v) / across, cross(side, u) / across);
    if !(s > 0.0 && t > 0.0 && s.is_finite() && t.is_finite()) {
        return None;
    }
    let meet = [from[0] + s * u[0], from[1] + s * u[1]];
    let adds = turn(from, meet, to) / 2.0;
    if adds < 0.0 || !clear(line, [from, meet, to]) {
        return None;
    }
    Some(Step {
        at,
        takes: 2,
        leaves: Some(meet),
        adds,
    })
}

/// Whether no corner of the line but the triangle's own is in the triangle, and no side goes through it.
fn clear(line: &[[f64; 2]], triangle: [[f64; 2]; 3]) -> bool {
    let own = |point: &[f64; 2]| triangle.contains(point);
    let within = |point: &[f64; 2]| {
        let turns = [0, 1, 2].map(|at| turn(triangle[at], triangle[(at + 1) % 3], *point));
        turns.iter().all(|&turn| turn >= 0.0) || turns.iter().all(|&turn| turn <= 0.0)
    };
    if line.iter().any(|point| !own(point) && within(point)) {
        return false;
    }
    let next = line.iter().cycle().skip(1);
    line.iter().zip(next).all(|(a, b)| {
        own(a) || own(b) || (0..3).all(|at| !meets(*a, *b, triangle[at], triangle[(at + 1) % 3]))
    })
}

fn meets(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> bool {
    turn(a, b, c) * turn(a, b, d) <= 0.0 && turn(c, d, a) * turn(c, d, b) <= 0.0
}

fn minus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

fn cross(u: [f64; 2], v: [f64; 2]) -> f64 {
    u[0] * v[1] - u[1] * v[0]
}

/// Twice the area of a triangle, above zero if it runs counter-clockwise.
fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    cross(minus(b, a), minus(c, b))
}

fn area(line: &[[f64; 2]]) -> f64 {
    let next = line.iter().cycle().skip(1);
    line.iter()
        .zip(next)
        .map(|(&a, &b)| cross(a, b))
        .sum::<f64>()
        / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_becomes_a_polygon_of_few_corners_around_it() {
        let circle: Vec<[f64; 2]> = (0..90)
            .map(|step| (f64::from(step) * 4.0).to_radians().sin_cos())
            .map(|(sin, cos)| [50.0 * cos, 50.0 * sin])
            .collect();
        let line = around(&circle);
        assert!(line.len() <= FEW, "{}", line.len());
        let (inner, outer) = (area(&circle), area(&line));
        assert!(inner <= outer && outer < 1.03 * inner, "{inner} {outer}");
        // No corner of the circle is outside any side.
        for at in 0..line.len() {
            let (a, b) = (line[at], line[(at + 1) % line.len()]);
            assert!(circle.iter().all(|&point| turn(a, b, point) > -1e-6));
        }
    }

    #[test]
    fn a_bracket_stays_as_it_is_and_a_needless_corner_goes() {
        let bracket = [
            [0, 0],
            [30, 0],
            [30, 10],
            [10, 10],
            [10, 20],
            [10, 30],
            [0, 30],
        ];
        let line = around(&bracket.map(|corner| corner.map(f64::from)));
        assert_eq!(line.len(), 6);
        assert_eq!(area(&line), 500.0);
    }
}
