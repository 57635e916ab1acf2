//! A body as it lies with one of its axes upright: outline, walls, slopes, and the corners between them.
//!
//! Knows: faces, edges, angles. Must not know: layers, line widths, printable angles: those come with the settings.
//! Promises: faces that lie on the bed are told from those that hang over it; lying turned over is the same measured
//! the other way up.

use serde::{Deserialize, Serialize};

use super::shadow;
use super::surface::{NONE, Surface};
use super::{cross, dot, length, minus};
use crate::geometry::Outline;

/// Faces of one slope, by whole degrees from level: 0 is flat, 89 nearly upright.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Slope {
    /// Whole degrees between the face and the bed, rounded down.
    pub degrees: u8,
    /// Area, mm².
    pub area: f64,
    /// Area as seen from the side: what perimeters have to cover, mm².
    pub upright: f64,
    /// Area as seen from above or below: what top or bottom layers have to cover, mm².
    pub level: f64,
    /// Level area × distance to the bed that it faces, mm³: the space under it.
    pub under: f64,
}

/// Edges between two classes of faces.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Corner {
    /// Class of the faces on one side.
    pub one: u8,
    /// Class of those on the other, not below `one`.
    pub other: u8,
    /// Σ length × tan(θ/2) of convex edges that turn by θ, less Σ length × θ/2 of hollow ones, mm.
    pub length: f64,
}

/// Classes of faces in [`Corner`]s: upright, then facing up by steps of slope, then facing down.
pub const CLASSES: usize = 1 + 2 * STEPS;
/// Degrees of slope in one class.
const STEP: u8 = 5;
const STEPS: usize = 90 / STEP as usize;
/// Convex edges are not taken as sharper than this: the corner of a knife holds less than its two faces promise.
const SHARPEST: f64 = 150.0 * std::f64::consts::PI / 180.0;
/// Degrees that rounding may lose, so that a face drawn at 45° counts as 45°.
const ROUNDING: f64 = 1e-4;
/// A level face this near the bed lies on it, mm.
const ON_BED: f64 = 0.01;

/// The class of a slope that faces up or down.
pub fn slope_class(up: bool, degrees: u8) -> u8 {
    let step = degrees.min(89) / STEP;
    1 + step + if up { 0 } else { STEPS as u8 }
}

/// The class of upright faces.
pub const fn class() -> u8 {
    0
}

/// How a body lies. `up` and `down` are those as drawn; [`Lying::turned_over`] is the same the other way up.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lying {
    /// Outer line of the shadow, seen from above; holds all of the body, and at most 0.05 mm more.
    pub outline: Outline,
    /// Area of upright faces, mm².
    pub walls: f64,
    /// Faces that look up, flattest first.
    pub up: Vec<Slope>,
    /// Faces that look down, those on the bed among them.
    pub down: Vec<Slope>,
    /// Level area on the bed, mm².
    pub resting: f64,
    /// Level area that lies on the bed when it is turned over, mm².
    pub resting_turned_over: f64,
    /// Where faces meet.
    pub corners: Vec<Corner>,
}

impl Lying {
    /// The same, upside down: turned by 180° about the bed's x.
    pub fn turned_over(&self) -> Self {
        let swapped = |class: u8| match class {
            0 => 0,
            up if usize::from(up) <= STEPS => up + STEPS as u8,
            down => down - STEPS as u8,
        };
        Self {
            outline: self.outline.mirrored(),
            walls: self.walls,
            up: self.down.clone(),
            down: self.up.clone(),
            resting: self.resting_turned_over,
            resting_turned_over: self.resting,
            corners: self
                .corners
                .iter()
                .map(|corner| {
                    let (one, other) = (swapped(corner.one), swapped(corner.other));
                    Corner {
                        one: one.min(other),
                        other: one.max(other),
                        length: corner.length,
                    }
                })
                .collect(),
        }
    }

    /// Level area that looks down and is flatter than so many degrees, without what lies on the bed, mm²; and the space
    /// under it down to the bed, mm³ (an upper estimate: where the body is in between, less is free).
    pub fn overhang(&self, flatter_than: f64) -> (f64, f64) {
        let hanging = self
            .down
            .iter()
            .filter(|slope| f64::from(slope.degrees) < flatter_than);
        let (area, under) = hanging.fold((0.0, 0.0), |(area, under), slope| {
            (area + slope.level, under + slope.under)
        });
        let area = (area - self.resting).max(0.0);
        // What is left over by rounding when all lies on the bed is no overhang.
        if area <= 1e-9 * self.resting {
            (0.0, 0.0)
        } else {
            (area, under)
        }
    }

    /// Level area that looks up or down altogether, mm².
    pub fn level(&self, up: bool) -> f64 {
        let slopes = if up { &self.up } else { &self.down };
        slopes.iter().map(|slope| slope.level).sum()
    }

    /// Whether both are alike to within what `near` forgives.
    pub(super) fn is_like(&self, other: &Self, near: impl Fn(f64, f64) -> bool) -> bool {
        let slopes = |one: &[Slope], other: &[Slope]| {
            let numbers = |s: &Slope| [s.area, s.upright, s.level, s.under];
            one.len() == other.len()
                && one.iter().zip(other).all(|(one, other)| {
                    let mut pairs = numbers(one).into_iter().zip(numbers(other));
                    one.degrees == other.degrees && pairs.all(|(one, other)| near(one, other))
                })
        };
        near(self.walls, other.walls)
            && near(self.resting, other.resting)
            && near(self.resting_turned_over, other.resting_turned_over)
            && slopes(&self.up, &other.up)
            && slopes(&self.down, &other.down)
            && self.corners.len() == other.corners.len()
            && self.corners.iter().zip(&other.corners).all(|(one, other)| {
                (one.one, one.other) == (other.one, other.other) && near(one.length, other.length)
            })
            && self.outline.is_like(&other.outline, 1e-4)
    }

    pub(super) fn scaled(&self, by: f64) -> Self {
        let (area, volume) = (by * by, by * by * by);
        let slopes = |slopes: &[Slope]| {
            let scaled = slopes.iter().map(|slope| Slope {
                degrees: slope.degrees,
                area: slope.area * area,
                upright: slope.upright * area,
                level: slope.level * area,
                under: slope.under * volume,
            });
            scaled.collect()
        };
        Self {
            outline: self.outline.scaled(by),
            walls: self.walls * area,
            up: slopes(&self.up),
            down: slopes(&self.down),
            resting: self.resting * area,
            resting_turned_over: self.resting_turned_over * area,
            corners: self
                .corners
                .iter()
                .map(|corner| Corner {
                    length: corner.length * by,
                    ..*corner
                })
                .collect(),
        }
    }

    /// Measures a surface that lies with `axis` upright.
    pub(super) fn of(
        surface: &Surface<'_>,
        axis: usize,
        [low, high]: [[f64; 3]; 2],
    ) -> Option<Self> {
        let mut walls = 0.0;
        let mut slopes = [[Slope::default(); 90]; 2];
        let mut resting = [0.0; 2];
        let mut classes = Vec::with_capacity(surface.faces.len());
        for face in &surface.faces {
            let rise = face.normal[axis];
            let across = face.normal[(axis + 1) % 3].hypot(face.normal[(axis + 2) % 3]);
            let degrees = across.atan2(rise.abs()).to_degrees() + ROUNDING;
            if degrees >= 90.0 || rise == 0.0 {
                walls += face.area;
                classes.push(class());
                continue;
            }
            let up = rise > 0.0;
            let bed = if up { high[axis] } else { low[axis] };
            let gap = (face.centre[axis] - bed).abs();
            let step = degrees as u8; // below 90
            classes.push(slope_class(up, step));
            let slope = &mut slopes[usize::from(up)][usize::from(step)];
            slope.area += face.area;
            slope.upright += face.area * across;
            slope.level += face.area * rise.abs();
            slope.under += face.area * rise.abs() * gap;
            if step == 0 && gap <= ON_BED {
                resting[usize::from(up)] += face.area * rise.abs();
            }
        }
        let [down, up] = slopes.map(|slopes| {
            let numbered = (0_u8..).zip(slopes);
            numbered
                .filter(|(_, slope)| slope.area > 0.0)
                .map(|(degrees, slope)| Slope { degrees, ..slope })
                .collect()
        });
        Some(Self {
            outline: shadow::outline(surface, axis, [low, high])?,
            walls,
            up,
            down,
            resting: resting[0],
            resting_turned_over: resting[1],
            corners: corners(surface, &classes),
        })
    }
}

/// Adds up the edges by the classes of their two faces.
///
/// Where two strips of the widths d and e along an edge of length l meet at a convex angle θ, they have d·e·tan(θ/2)·l
/// in common: exact for d = e, and at right angles for any d and e. At a hollow edge they leave a wedge of half the
/// angle between them (a round one, as an offset line takes it).
fn corners(surface: &Surface<'_>, classes: &[u8]) -> Vec<Corner> {
    let mut sums = vec![0.0; CLASSES * CLASSES];
    for edge in surface.edges.iter().filter(|edge| edge.right != NONE) {
        let (left, right) = (edge.left as usize, edge.right as usize);
        let (one, other) = (surface.faces[left].normal, surface.faces[right].normal);
        if one == other {
            continue;
        }
        let span = minus(surface.corner(edge.to), surface.corner(edge.from));
        let turn = cross(one, other);
        let angle = length(turn).atan2(dot(one, other));
        let weight = if dot(turn, span) > 0.0 {
            length(span) * (angle.min(SHARPEST) / 2.0).tan()
        } else {
            -length(span) * angle / 2.0
        };
        let (one, other) = (classes[left] as usize, classes[right] as usize);
        sums[one.min(other) * CLASSES + one.max(other)] += weight;
    }
    let numbered = (0..).zip(sums).filter(|(_, length)| *length != 0.0);
    numbered
        .map(|(at, length): (usize, f64)| Corner {
            one: (at / CLASSES) as u8,
            other: (at % CLASSES) as u8,
            length,
        })
        .collect()
}
