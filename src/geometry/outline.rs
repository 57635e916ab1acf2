//! The outline of a piece on the bed: a closed line that does not cross itself.
//!
//! Knows: lengths and angles. Must not know: meshes, machines, plates, files.
//! Promises: corners run counter-clockwise, about the centre of their own box, and enclose some area.

use std::f64::consts::PI;

/// A simple polygon in mm, counter-clockwise, about the centre of its own box.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Outline {
    corners: Vec<[f64; 2]>,
}

impl Outline {
    /// The outline through these corners, in mm and in either sense; `None` where they enclose no area or a number is
    /// not finite. That the line does not cross itself is the caller's promise.
    pub fn new(mut corners: Vec<[f64; 2]>) -> Option<Self> {
        if corners.len() < 3 || corners.iter().flatten().any(|value| !value.is_finite()) {
            return None;
        }
        let area = twice_area(&corners);
        if area == 0.0 {
            return None;
        }
        if area < 0.0 {
            corners.reverse();
        }
        let [low, high] = bounds(&corners);
        let centre = [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0];
        for corner in &mut corners {
            *corner = [corner[0] - centre[0], corner[1] - centre[1]];
        }
        Some(Self { corners })
    }

    /// The rectangle of this width (x) and depth (y), both above 0 mm; `None` otherwise.
    pub fn rectangle(width: f64, depth: f64) -> Option<Self> {
        let (x, y) = (width / 2.0, depth / 2.0);
        (width > 0.0 && depth > 0.0)
            .then(|| Self::new(vec![[-x, -y], [x, -y], [x, y], [-x, y]]))
            .flatten()
    }

    /// The corners in mm, counter-clockwise, about the centre of the box.
    pub fn corners(&self) -> &[[f64; 2]] {
        &self.corners
    }

    /// Width and depth of its box, in mm.
    pub fn size(&self) -> [f64; 2] {
        let [low, high] = bounds(&self.corners);
        [high[0] - low[0], high[1] - low[1]]
    }

    /// The area it encloses, in mm².
    ///
    /// Source: the surveyor's formula, half the sum of the cross products of neighbouring corners (common knowledge).
    pub fn area(&self) -> f64 {
        twice_area(&self.corners) / 2.0
    }

    /// What the area around it is worked out from.
    pub fn extent(&self) -> Extent {
        Extent {
            area: self.area(),
            perimeter: self.is_convex().then(|| self.perimeter()),
        }
    }

    /// Whether it is its own box, to within rounding.
    pub fn is_its_box(&self) -> bool {
        let [x, y] = self.size();
        self.area() >= x * y * (1.0 - 1e-9)
    }

    /// The length of the line, in mm.
    pub fn perimeter(&self) -> f64 {
        let next = self.corners.iter().cycle().skip(1);
        let sides = self.corners.iter().zip(next);
        sides.map(|(a, b)| (b[0] - a[0]).hypot(b[1] - a[1])).sum()
    }

    /// Whether no corner points inward.
    pub fn is_convex(&self) -> bool {
        let count = self.corners.len();
        (0..count).all(|at| {
            let [a, b, c] = [0, 1, 2].map(|step| self.corners[(at + step) % count]);
            (b[0] - a[0]) * (c[1] - b[1]) >= (b[1] - a[1]) * (c[0] - b[0])
        })
    }

    /// Its corners after a turn counter-clockwise by so many degrees about the centre of its box as it is, which need
    /// not be the centre of the box then.
    pub fn swung(&self, degrees: f64) -> Vec<[f64; 2]> {
        let (sin, cos) = sin_cos(degrees);
        let corners = self.corners.iter();
        corners
            .map(|[x, y]| [x * cos - y * sin, x * sin + y * cos])
            .collect()
    }

    /// Whether the corners of another outline lie on those of this one, each within so many mm, wherever its list begins.
    pub fn is_like(&self, other: &Self, within: f64) -> bool {
        let count = self.corners.len();
        count == other.corners.len()
            && (0..count).any(|shift| {
                self.corners.iter().enumerate().all(|(at, [x, y])| {
                    let [u, v] = other.corners[(at + shift) % count];
                    (x - u).abs() <= within && (y - v).abs() <= within
                })
            })
    }

    /// The outline of the same piece so many times as large, for a factor above 0.
    pub fn scaled(&self, by: f64) -> Self {
        let corners = self.corners.iter().map(|corner| corner.map(|v| v * by));
        Self {
            corners: corners.collect(),
        }
    }

    /// The outline of the piece turned over, about the x axis: y counts the other way.
    pub fn mirrored(&self) -> Self {
        let corners = self.corners.iter().rev().map(|&[x, y]| [x, -y]);
        Self {
            corners: corners.collect(),
        }
    }

    /// The outline turned counter-clockwise by so many degrees, about the centre of its new box.
    pub fn turned(&self, degrees: f64) -> Self {
        // A turn keeps the area, so there is an outline; were it lost to rounding, the unturned one is the nearest.
        Self::new(self.swung(degrees)).unwrap_or_else(|| self.clone())
    }
}

/// Sine and cosine of an angle in degrees, without rounding at quarter turns.
pub fn sin_cos(degrees: f64) -> (f64, f64) {
    match degrees.rem_euclid(360.0) {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        other => other.to_radians().sin_cos(),
    }
}

fn twice_area(corners: &[[f64; 2]]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    corners
        .iter()
        .zip(next)
        .map(|(a, b)| a[0] * b[1] - a[1] * b[0])
        .sum()
}

fn bounds(corners: &[[f64; 2]]) -> [[f64; 2]; 2] {
    let start = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
    corners.iter().fold(start, |[low, high], corner| {
        [
            [low[0].min(corner[0]), low[1].min(corner[1])],
            [high[0].max(corner[0]), high[1].max(corner[1])],
        ]
    })
}

/// How much room an outline takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Inside it, mm².
    pub area: f64,
    /// The length of its line in mm, where no corner points inward.
    perimeter: Option<f64>,
}

impl Extent {
    /// The area within so many mm of the outline, in mm², or less: never more.
    ///
    /// Sources: of a convex outline, Steiner's formula: area F, perimeter U, radius r give F + U·r + π·r². Of any other,
    /// the Brunn-Minkowski inequality: the root of the area of a sum of two sets is no less than the sum of the roots of
    /// theirs, so (√F + √π·r)². (Both from memory.)
    pub fn widened(&self, radius: f64) -> f64 {
        match self.perimeter {
            Some(perimeter) => self.area + perimeter * radius + PI * radius * radius,
            None => (self.area.sqrt() + PI.sqrt() * radius).powi(2),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outline_lies_about_the_centre_of_its_box() {
        // An L of 30 × 30 with arms of 10: area 500; its box runs from -15 to 15.
        let corners = [[0, 0], [30, 0], [30, 10], [10, 10], [10, 30], [0, 30]];
        let clockwise = corners.iter().rev().map(|c| c.map(f64::from)).collect();
        let outline = Outline::new(clockwise).unwrap();
        assert_eq!(outline.size(), [30.0, 30.0]);
        assert_eq!(outline.area(), 500.0);
        assert!(outline.corners().contains(&[-5.0, -5.0]));
    }

    #[test]
    fn a_quarter_turn_swaps_width_and_depth_exactly() {
        let beam = Outline::rectangle(300.0, 20.0).unwrap();
        assert_eq!(beam.turned(90.0).size(), [20.0, 300.0]);
        // Turned by 45° its box is (300 + 20)·√½ = 226.274 a side.
        let [width, depth] = beam.turned(45.0).size();
        assert!((width - 226.274_17).abs() < 1e-4 && (depth - width).abs() < 1e-9);
    }

    #[test]
    fn an_outline_widened_has_no_less_area_than_is_said() {
        // 30 × 20 widened by 2: 600 + 100 · 2 + 4π.
        let box_ = Outline::rectangle(30.0, 20.0).unwrap();
        assert!((box_.extent().widened(2.0) - (800.0 + 4.0 * PI)).abs() < 1e-9);
        // An L of 30 × 30 with arms of 10 widened by 2: 500 + 2 · 120 + five quarters of a disc, less the square of
        // 2 × 2 counted twice at its inner corner: 500 + 240 + 5π − 4 = 751.7. Said is (√500 + 2√π)² = 671.1.
        let corners = [[0, 0], [30, 0], [30, 10], [10, 10], [10, 30], [0, 30]];
        let bracket = Outline::new(corners.map(|c| c.map(f64::from)).to_vec()).unwrap();
        assert!(!bracket.is_convex() && box_.is_convex());
        assert_eq!(bracket.perimeter(), 120.0);
        let said = bracket.extent().widened(2.0);
        assert!(said > 671.0 && said < 672.0, "{said}");
    }

    #[test]
    fn what_encloses_no_area_is_no_outline() {
        assert_eq!(Outline::new(vec![[0.0, 0.0], [1.0, 1.0]]), None);
        assert_eq!(Outline::new(vec![[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]), None);
        assert_eq!(
            Outline::new(vec![[0.0, 0.0], [f64::NAN, 1.0], [2.0, 0.0]]),
            None
        );
        assert_eq!(Outline::rectangle(0.0, 5.0), None);
    }
}
