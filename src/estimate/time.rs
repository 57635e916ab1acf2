//! How long a piece and a run take.
//!
//! Knows: flow, layers, measured minutes. Must not know: dates, presence, plates.
//! Promises: a run's length is in whole minutes and never shorter than its plastic takes through the hot end.

use crate::scenario::{Machine, MachineIndex, Part};
use crate::units::{CubicMillimetres, Millimetres, Minutes, Seconds};

/// What one piece adds to its run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnTime {
    /// Added up over the pieces of a run.
    pub time: Seconds,
    /// Layers, where they are not in the time.
    pub layers: u32,
    /// Lost at these layers; shared by the pieces of a run: only the most of it counts.
    pub layer_time: Seconds,
}

/// What a piece that is this `share` of a copy adds to a run of `machine`, which stands at `index` in the scenario.
///
/// Measured minutes of the part on that machine win over those of its program there, and these over extruded volume by
/// flow, corrected by `factor`; both hold their layers already. A piece has its share of them.
pub fn own_time(
    part: &Part,
    share: f64,
    index: MachineIndex,
    machine: &Machine,
    volume: CubicMillimetres,
    layers: u32,
    factor: f64,
) -> OwnTime {
    let measured = part.minutes.get(index.0).copied().flatten();
    let program = part.toolpaths.get(index.0).copied().flatten();
    match measured.or(program.map(|program| program.minutes)) {
        Some(minutes) => OwnTime {
            time: Seconds(60.0 * minutes * share),
            layers: 0,
            layer_time: Seconds::ZERO,
        },
        None => OwnTime {
            time: volume.time_at(machine.flow) * factor,
            layers,
            layer_time: machine.layer_time * f64::from(layers) * factor,
        },
    }
}

/// Layers of a given height in a piece so high, the last one begun counting whole.
///
/// A billionth of a layer is forgiven: 48 mm are 160 layers of 0.3 mm, whatever 0.3 is in binary.
pub fn layers(height: Millimetres, layer: Millimetres) -> u32 {
    // The cast holds at both ends of u32 and takes a quotient that is no number for 0.
    (height.value() / layer.value() - 1e-9).ceil() as u32
}

/// How long a run takes: its warm-up, its pieces' own times together, and what is lost at the layers of the piece that loses
/// most; rounded up to the whole minute.
pub fn run_minutes(warm_up: Seconds, own_times: Seconds, layer_time: Seconds) -> Minutes {
    (warm_up + own_times + layer_time).whole_minutes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_height_that_is_whole_layers_needs_no_further_one() {
        // 48 / 0.3 = 160, 2.1 / 0.3 = 7 (in doubles 7.000000000000001), 48.1 / 0.3 = 160.3.
        assert_eq!(layers(Millimetres(48.0), Millimetres(0.3)), 160);
        assert_eq!(layers(Millimetres(2.1), Millimetres(0.3)), 7);
        assert_eq!(layers(Millimetres(48.1), Millimetres(0.3)), 161);
        assert_eq!(layers(Millimetres(0.1), Millimetres(0.3)), 1);
    }

    #[test]
    fn own_times_add_up_and_layers_are_shared() {
        // Two pieces of 600 s and 900 s, 160 layers the higher one: 480 + 1500 + 4 × 160 = 2620 s = 43.67 min.
        let own_times = Seconds(600.0) + Seconds(900.0);
        assert_eq!(
            run_minutes(Seconds(480.0), own_times, Seconds(640.0)),
            Minutes(44)
        );
        // 20 s more is 2640 s, 44 min exactly.
        assert_eq!(
            run_minutes(Seconds(500.0), own_times, Seconds(640.0)),
            Minutes(44)
        );
    }
}
