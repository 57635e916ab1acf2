//! How a piece can lie on a machine, and what a run takes.

use std::f64::consts::FRAC_PI_2;

use beamyard::scenario::{Machine, MachineKind, Part, Scenario};

/// A piece as it lies: sides in mm, what it takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lying {
    /// Across and along the bed as it is drawn.
    pub sides: [f64; 2],
    /// Fits as drawn, and turned by 90°; neither: only at an angle, with nothing beside it.
    pub square: [bool; 2],
    /// Seconds of its own, and layers.
    pub seconds: f64,
    pub layers: f64,
    /// Money of its plastic.
    pub plastic: f64,
}

/// Room of a bed or a belt, margins off: across, along, above.
pub fn room(machine: &Machine) -> [f64; 3] {
    let margin = 2.0 * machine.margin.0;
    match &machine.kind {
        MachineKind::Bed { bed, height } => [bed[0].0 - margin, bed[1].0 - margin, height.0],
        MachineKind::Belt {
            section, longest, ..
        } => [section[0].0 - margin, longest.0, section[1].0],
    }
}

/// Every way for one of the `lengths` pieces of a part to lie on a machine.
pub fn ways(shop: &Scenario, part: &Part, lengths: u32, at: usize) -> Vec<Lying> {
    let machine = &shop.machines[at];
    let filament = &shop.filaments[part.filament.0];
    let may = part.only[at]
        && machine.materials.contains(&filament.material)
        && (part.belt || !machine.is_belt());
    if !may {
        return Vec::new();
    }
    let piece = divided(part, lengths);
    let room = room(machine);
    let mut ways: Vec<Lying> = Vec::new();
    for &axis in &part.lie {
        let up = axis as usize;
        let [across, along, above] = [piece[(up + 1) % 3], piece[(up + 2) % 3], piece[up]];
        if above > room[2] + 1e-6 {
            continue;
        }
        let fits = |a: f64, b: f64| a <= room[0] + 1e-6 && b <= room[1] + 1e-6;
        let square = [fits(across, along), fits(along, across)];
        let angled = !machine.is_belt()
            && (0..=9000)
                .map(|n| f64::from(n) / 9000.0 * FRAC_PI_2)
                .any(|angle| {
                    let (sin, cos) = angle.sin_cos();
                    fits(across * cos + along * sin, across * sin + along * cos)
                });
        if square == [false, false] && !angled {
            continue;
        }
        let volume = volume(shop, part, lengths, [across, along, above]);
        let (seconds, layers) = match part.minutes[at] {
            Some(minutes) => (minutes * 60.0 / f64::from(lengths), 0.0),
            None => {
                let layer = shop.settings[part.settings.0].layer.0;
                (volume / machine.flow.0, (above / layer - 1e-9).ceil())
            }
        };
        ways.push(Lying {
            sides: [across, along],
            square,
            seconds,
            layers,
            plastic: volume * filament.density.0 / 1000.0 * filament.price_kg.0 / 1000.0,
        });
    }
    ways
}

/// A part's box with its longest side (the first of equal ones) divided.
pub fn divided(part: &Part, lengths: u32) -> [f64; 3] {
    let mut piece = part.size.map(|side| side.0);
    let mut longest = 0;
    for side in 1..3 {
        if piece[side] > piece[longest] {
            longest = side;
        }
    }
    piece[longest] /= f64::from(lengths);
    piece
}

/// What is extruded for a piece, mm³: as weighed, else a shell and the infill of the rest.
fn volume(shop: &Scenario, part: &Part, lengths: u32, [a, b, c]: [f64; 3]) -> f64 {
    if let Some(grams) = part.grams {
        let density = shop.filaments[part.filament.0].density.0;
        return grams.0 / density * 1000.0 / f64::from(lengths);
    }
    let settings = &shop.settings[part.settings.0];
    let walls = 2.0 * f64::from(settings.perimeters) * settings.line.0;
    let skins = f64::from(settings.top + settings.bottom) * settings.layer.0;
    let hollow = f64::max(a - walls, 0.0) * f64::max(b - walls, 0.0) * f64::max(c - skins, 0.0);
    let body = part.solid() * a * b * c;
    let shell = f64::min(a * b * c - hollow, body);
    shell + settings.infill * (body - shell)
}

/// Whole minutes of a run of such pieces, and the money of its machine, its power and its plastic.
pub fn run(shop: &Scenario, at: usize, pieces: &[Lying]) -> (i64, f64) {
    let machine = &shop.machines[at];
    let own: f64 = pieces.iter().map(|piece| piece.seconds).sum();
    let layers = pieces.iter().map(|piece| piece.layers).fold(0.0, f64::max);
    let seconds = machine.warm_up.0 + own + machine.layer_time.0 * layers;
    let minutes = (seconds / 60.0 - 1e-9).ceil();
    let hours = minutes / 60.0;
    let plastic: f64 = pieces.iter().map(|piece| piece.plastic).sum();
    let power = machine.watts.0 / 1000.0 * hours * shop.bench.energy_kwh.0;
    (minutes as i64, hours * machine.hourly.0 + power + plastic)
}
