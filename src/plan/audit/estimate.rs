//! Minutes and grams of a run, worked out again from its pieces' boxes and bodies.
//!
//! Knows: boxes, settings, flow, density, measured values. Must not know: dates, plates, money.
//! Promises: a piece's volume never exceeds its body; measured values win over computed ones.

use super::calibration::Factors;
use super::mesh;
use crate::plan::{Piece, Run};
use crate::scenario::{MachineIndex, Part, Scenario, Settings, Shape};
use crate::units::{CubicMillimetres, Density, Grams, Millimetres, Minutes, Seconds};

/// What a run takes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Estimate {
    pub minutes: Minutes,
    pub grams: Grams,
}

/// Minutes and grams of a run: warm-up, what every piece takes by itself, and the layers of the tallest piece, once.
pub(super) fn of_run(scenario: &Scenario, factors: &Factors, run: &Run) -> Estimate {
    let machine = &scenario.machines[run.machine.0];
    let mut time = machine.warm_up;
    let mut grams = Grams::ZERO;
    let mut most_lost = Seconds::ZERO;
    for piece in &run.pieces {
        let part = &scenario.parts[piece.part.0];
        let settings = &scenario.settings[part.settings.0];
        let density = scenario.filaments[part.filament.0].density;
        let program = part.toolpaths.get(run.machine.0).copied().flatten();
        let weighed = part.grams.or(program.map(|program| program.grams));
        let correction = factors.grams(run.machine, part.settings);
        let volume = volume(part, weighed, settings, density, piece, correction);
        grams += volume * density;
        let timed = part.minutes.get(run.machine.0).copied().flatten();
        match timed.or(program.map(|program| program.minutes)) {
            Some(whole_copy) => time += Seconds(whole_copy * 60.0 * share(part, piece)),
            None => {
                let correction = factors.minutes(run.machine, part.settings);
                time += volume.time_at(machine.flow) * correction;
                let lost = machine.layer_time * layers(piece.size[2], settings) * correction;
                if lost > most_lost {
                    most_lost = lost;
                }
            }
        }
    }
    time += most_lost;
    Estimate {
        minutes: time.whole_minutes(),
        grams,
    }
}

/// Grams of one finished copy, without what joins it, as one of its pieces tells by the share of the copy that it is; its
/// support is off.
pub(super) fn of_copy(
    scenario: &Scenario,
    factors: &Factors,
    machine: MachineIndex,
    piece: &Piece,
) -> Grams {
    let part = &scenario.parts[piece.part.0];
    let settings = &scenario.settings[part.settings.0];
    let density = scenario.filaments[part.filament.0].density;
    let program = part.toolpaths.get(machine.0).copied().flatten();
    let weighed = part.grams.or(program.map(|program| program.grams));
    let correction = factors.grams(machine, part.settings);
    let volume = match (weighed, part.mesh()) {
        (None, Some(mesh)) => mesh
            .body(piece.of, piece.length)
            .map_or(CubicMillimetres::ZERO, |body| {
                mesh::itself(body, piece, settings) * correction
            }),
        _ => volume(part, weighed, settings, density, piece, correction),
    };
    volume * density * (1.0 / share(part, piece))
}

/// The share of its copy that a piece is: by volume where a mesh tells how much each length has.
fn share(part: &Part, piece: &Piece) -> f64 {
    let equal = 1.0 / f64::from(piece.of.max(1));
    let Some(mesh) = part.mesh() else {
        return equal;
    };
    let volume = |length| mesh.body(piece.of, length).map(|body| body.volume);
    let all: f64 = (1..=piece.of).filter_map(volume).sum();
    volume(piece.length).map_or(equal, |own| own / all)
}

/// Layers up to the piece's height; a billionth of a layer too many is rounding (10.8 mm in layers of 0.3 mm).
pub(super) fn layers(height: Millimetres, settings: &Settings) -> f64 {
    (height.value() / settings.layer.value() - 1e-9).ceil()
}

/// Extruded volume of a piece: its share of the weighed copy, or walls and infill of its box.
fn volume(
    part: &Part,
    weighed: Option<Grams>,
    settings: &Settings,
    density: Density,
    piece: &Piece,
    correction: f64,
) -> CubicMillimetres {
    match weighed {
        Some(weighed) => (weighed * share(part, piece)).volume(density),
        None => match &part.shape {
            Shape::Box { solid } => {
                shell_and_infill(piece.size.map(|side| side.value()), *solid, settings) * correction
            }
            // A length that the mesh does not have is another rule's fault, and takes nothing.
            Shape::Mesh(mesh) => mesh
                .body(piece.of, piece.length)
                .map_or(CubicMillimetres::ZERO, |body| {
                    mesh::printed(body, piece, settings) * correction
                }),
        },
    }
}

/// Walls, top and bottom full, the rest of the body filled by the infill's share; box in mm, its third side upright.
///
/// V_in = max(0, a − 2t)·max(0, b − 2t)·max(0, c − (top + bottom)·layer) with t = perimeters · line; the body is
/// `solid` of the box; the shell takes what it needs of the body, at most all of it. Common practice, no source.
pub(super) fn shell_and_infill(
    size: [f64; 3],
    solid: f64,
    settings: &Settings,
) -> CubicMillimetres {
    let [a, b, c] = size;
    let wall = f64::from(settings.perimeters) * settings.line.value();
    let caps = (f64::from(settings.top) + f64::from(settings.bottom)) * settings.layer.value();
    let outer = a * b * c;
    let inner = (a - 2.0 * wall).max(0.0) * (b - 2.0 * wall).max(0.0) * (c - caps).max(0.0);
    let body = solid * outer;
    let shell = (outer - inner).min(body);
    CubicMillimetres(shell + settings.infill * (body - shell))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(layer: f64, line: f64, top: u32, bottom: u32, infill: f64) -> Settings {
        Settings {
            id: String::from("test"),
            layer: Millimetres(layer),
            line: Millimetres(line),
            perimeters: 2,
            top,
            bottom,
            infill,
            overhang: 45,
            support: 0.15,
        }
    }

    #[test]
    fn shell_and_infill_of_boxes_that_were_worked_out_apart() {
        // Common practice, no source; numbers worked out apart from this program. Walls: 2 × 0.65 = 1.3 mm with
        // 3 × 0.3 = 0.9 above and 2 × 0.3 = 0.6 below; 2 × 0.45 = 0.9 mm with 4 × 0.2 = 0.8 above and below.
        let light = settings(0.3, 0.65, 3, 2, 0.05);
        for (size, settings, volume) in [
            ([230.0, 48.0, 48.0], &light, 73_859.067),
            ([48.0, 48.0, 230.0], &light, 82_493.693),
            ([2.0, 48.0, 48.0], &light, 4_608.0),
            (
                [100.0, 100.0, 100.0],
                &settings(0.2, 0.45, 4, 4, 0.15),
                193_439.406_4,
            ),
            (
                [20.0, 20.0, 20.0],
                &settings(0.2, 0.45, 4, 4, 0.20),
                3_124.147_2,
            ),
        ] {
            let found = shell_and_infill(size, 1.0, settings).value();
            assert!((found - volume).abs() < 1e-3, "{size:?}: {found}");
        }
    }

    #[test]
    fn a_height_of_whole_layers_has_no_layer_more() {
        // 10.8 / 0.3 is 36.00000000000001 in doubles; 10.81 mm do need a thirty-seventh layer.
        let light = settings(0.3, 0.65, 3, 2, 0.05);
        assert_eq!(layers(Millimetres(10.8), &light), 36.0);
        assert_eq!(layers(Millimetres(10.81), &light), 37.0);
    }

    #[test]
    fn a_body_thinner_than_its_shell_is_all_shell() {
        // 230×48×48 has a shell of 529 920 − 480 064.14 = 49 855.86; a body of 5 % is 26 496 and is all printed full.
        let found = shell_and_infill([230.0, 48.0, 48.0], 0.05, &settings(0.3, 0.65, 3, 2, 0.05));
        assert!((found.value() - 26_496.0).abs() < 1e-6);
    }
}
