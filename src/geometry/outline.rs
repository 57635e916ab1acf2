//! The outline of a piece on the bed: a closed line that does not cross itself.
//!
//! Knows: lengths and angles. Must not know: meshes, machines, plates, files.
//! Promises: corners run counter-clockwise, about the centre of their own box, and enclose some area.

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
        let (sin, cos) = quarter_exact(degrees);
        let corners = self.corners.iter();
        let turned = corners.map(|[x, y]| [x * cos - y * sin, x * sin + y * cos]);
        // A turn keeps the area, so there is an outline; were it lost to rounding, the unturned one is the nearest.
        Self::new(turned.collect()).unwrap_or_else(|| self.clone())
    }
}

/// Sine and cosine, without rounding at quarter turns.
fn quarter_exact(degrees: f64) -> (f64, f64) {
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
