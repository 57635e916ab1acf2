//! What a piece of a measured mesh takes, and whether its measures agree with each other; worked out again.
//!
//! Knows: a body's areas by slope, where faces meet, settings. Must not know: triangles, how the measures came about.
//! Promises: never more for the piece itself than the body holds.

use super::Faults;
use super::evidence::Evidence;
use super::rule::Rule;
use crate::plan::Piece;
use crate::scenario::{Axis, Body, Lying, MeshShape, Settings, Slope};
use crate::units::CubicMillimetres;

/// Share of a measure that rounding may lose.
const ROUNDING: f64 = 1e-6;
/// Share of the faces that a cut may lose to slivers too thin for a normal: twice what generated cuts were seen to lose.
const SLIVERS: f64 = 1e-5;

/// Extruded volume of a piece with its support.
pub(super) fn printed(body: &Body, piece: &Piece, settings: &Settings) -> CubicMillimetres {
    let [itself, support] = takes(body, piece.upright, piece.over, settings);
    CubicMillimetres(itself + support)
}

/// Extruded volume of a piece without its support.
pub(super) fn itself(body: &Body, piece: &Piece, settings: &Settings) -> CubicMillimetres {
    CubicMillimetres(takes(body, piece.upright, piece.over, settings)[0])
}

/// Mean extruded volume of the lengths of a copy, each on its feet or on its head, whichever takes less support.
pub(super) fn mean(
    mesh: &MeshShape,
    lengths: u32,
    upright: Axis,
    settings: &Settings,
) -> CubicMillimetres {
    let mut sum = 0.0;
    for body in (1..=lengths).filter_map(|length| mesh.body(lengths, length)) {
        let drawn = takes(body, upright, false, settings);
        let over = takes(body, upright, true, settings);
        let [itself, support] = if over[1] < drawn[1] * (1.0 - 1e-9) {
            over
        } else {
            drawn
        };
        sum += itself + support;
    }
    CubicMillimetres(sum / f64::from(lengths))
}

/// Extruded volume of the piece itself, and of its support, mm³.
fn takes(body: &Body, upright: Axis, over: bool, settings: &Settings) -> [f64; 2] {
    let lying = &body.lying[upright as usize];
    let (above, below) = if over {
        (&lying.down, &lying.up)
    } else {
        (&lying.up, &lying.down)
    };
    let shell = shell(body, lying, [above, below], over, settings);
    let full = shell.min(body.volume);
    let support = settings.support * under(body, lying, below, over, settings);
    [full + settings.infill * (body.volume - full), support]
}

/// Free space under faces that lean out further than they may: those whose slope is less than what is left to 90°.
fn under(body: &Body, lying: &Lying, below: &[Slope], over: bool, settings: &Settings) -> f64 {
    let on_bed = if over {
        lying.resting_turned_over
    } else {
        lying.resting
    };
    let (mut level, mut space) = (0.0, 0.0);
    for slope in below {
        if u32::from(slope.degrees) + settings.overhang < 90 {
            level += slope.level;
            space += slope.under;
        }
    }
    if level - on_bed <= 1e-9 * on_bed {
        return 0.0;
    }
    let sides = body
        .high
        .iter()
        .zip(&body.low)
        .map(|(high, low)| high - low);
    let free = sides.product::<f64>() - body.volume;
    space.min(free.max(0.0))
}

/// Walls, tops and bottoms: what all faces claim, less what two of them claim both, with the third-order term that makes a
/// body full of shell come out at its own volume. See the guide's section on the estimate.
fn shell(
    body: &Body,
    lying: &Lying,
    [above, below]: [&[Slope]; 2],
    over: bool,
    settings: &Settings,
) -> f64 {
    let side = settings.line.value() * f64::from(settings.perimeters);
    let lid = settings.layer.value() * f64::from(settings.top);
    let floor = settings.layer.value() * f64::from(settings.bottom);
    // Classes as the measures number them, as drawn: 0 upright, 1 to 18 up, 19 to 36 down, each 5° wide.
    let depth_of = |class: u8| -> f64 {
        let Some(step) = class.checked_sub(1) else {
            return side;
        };
        let drawn_up = step < 18;
        let (slopes, skin) = if drawn_up != over {
            (above, lid)
        } else {
            (below, floor)
        };
        let (mut area, mut claimed) = (0.0, 0.0);
        for slope in slopes.iter().filter(|slope| slope.degrees / 5 == step % 18) {
            area += slope.area;
            claimed += claim(slope, side, skin);
        }
        if area > 0.0 { claimed / area } else { 0.0 }
    };
    let sum = |slopes: &[Slope], skin| -> f64 {
        slopes.iter().map(|slope| claim(slope, side, skin)).sum()
    };
    let once = lying.walls * side + sum(above, lid) + sum(below, floor);
    let mut twice = 0.0;
    for corner in &lying.corners {
        twice += corner.length * depth_of(corner.one) * depth_of(corner.other);
    }
    if twice <= 0.0 || once <= 0.0 {
        return once - twice.min(0.0);
    }
    // (once²/twice)·(y − y² + c·y³), from nothing up to where it stops growing.
    let third = (4.0 * body.volume * twice / (once * once) - 1.0).clamp(0.0, 1.0 / 3.0);
    let most = 1.0 / (1.0 + (1.0 - 3.0 * third).max(0.0).sqrt());
    let y = most.min(twice / once);
    once * once / twice * y * (1.0 - y * (1.0 - third * y))
}

/// What the shell under faces of one slope takes: the deeper of both ways to measure it.
fn claim(slope: &Slope, side: f64, skin: f64) -> f64 {
    f64::max(slope.upright * side, slope.level * skin)
}

/// [`Rule::Measures`]: what is measured of a mesh agrees with itself, however it was measured.
pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    for part in &evidence.scenario.parts {
        if let Some(mesh) = part.mesh() {
            for what in disagreements(mesh) {
                faults.report(Rule::Measures, format!("the mesh of {}: {what}", part.id));
            }
        }
    }
}

fn disagreements(mesh: &MeshShape) -> Vec<String> {
    let mut found = of_body(&mesh.whole, mesh.findings.doubt, "the whole");
    for (number, lengths) in &mesh.lengths {
        let all: f64 = lengths.iter().map(|body| body.volume).sum();
        let slack = mesh.whole.volume * (ROUNDING + mesh.findings.doubt);
        if lengths.len() != *number as usize || (all - mesh.whole.volume).abs() > slack {
            found.push(format!(
                "{} lengths of {number} hold {all} of {} mm³",
                lengths.len(),
                mesh.whole.volume
            ));
        }
        for (at, body) in lengths.iter().enumerate() {
            let name = format!("length {} of {number}", at + 1);
            found.extend(of_body(body, mesh.findings.doubt, &name));
        }
    }
    found
}

/// A body fits its box, its shadows fit the box and cover what looks up, and a closed surface looks up as much as down.
fn of_body(body: &Body, doubt: f64, name: &str) -> Vec<String> {
    let side = |axis: usize| body.high[axis] - body.low[axis];
    let mut found = Vec::new();
    let room = side(0) * side(1) * side(2);
    if !(body.volume > 0.0 && body.volume <= room * (1.0 + ROUNDING)) {
        found.push(format!("{name} holds {} mm³ of {room}", body.volume));
    }
    for (axis, lying) in body.lying.iter().enumerate() {
        let (up, down) = (level(&lying.up), level(&lying.down));
        let slack = up.max(down) * (SLIVERS + 10.0 * doubt) + 1e-3;
        if (up - down).abs() > slack {
            found.push(format!("{name} looks up by {up} and down by {down} mm²"));
        }
        let [across, along] = match axis {
            0 => [side(1), side(2)],
            1 => [side(0), side(2)],
            _ => [side(0), side(1)],
        };
        let [width, depth] = lying.outline.size();
        if (width - across).abs() > 1e-3 || (depth - along).abs() > 1e-3 {
            found.push(format!(
                "{name} has a shadow of {width} × {depth} mm in a box of {across} × {along}"
            ));
        }
        let (shadow, tall) = (lying.outline.area(), side(axis));
        // No body is larger than its shadow is high, nor its shadow than its box.
        if shadow > across * along * (1.0 + ROUNDING) + 1e-3
            || body.volume > shadow * tall * (1.0 + ROUNDING + doubt) + 1e-3
        {
            found.push(format!("{name} has a shadow of {shadow} mm²"));
        }
        let faces = lying.walls + area(&lying.up) + area(&lying.down);
        if (faces - body.area).abs() > body.area * ROUNDING {
            found.push(format!("{name} has {faces} of {} mm² by slope", body.area));
        }
    }
    found
}

fn level(slopes: &[Slope]) -> f64 {
    slopes.iter().map(|slope| slope.level).sum()
}

fn area(slopes: &[Slope]) -> f64 {
    slopes.iter().map(|slope| slope.area).sum()
}
