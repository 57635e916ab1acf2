//! A machine as a place for pieces: room, footprints, and what a run costs there once.
//!
//! Knows: beds, belts, spacing, prices of machine time. Must not know: parts, dates, the linear program.
//! Promises: the footprints of the pieces of one run never add up to more than the room.

use std::f64::consts::PI;

use crate::routes::Way;
use crate::scenario::{Machine, MachineKind, Scenario};

/// Millimetres that an outline may stand over, by the tolerance of fitting; added to every side of a bed.
const TOLERANCE: f64 = 1e-3;

/// Bed, and what a run costs, of one machine.
#[derive(Clone, Copy, Debug)]
pub(super) struct Site<'a> {
    pub(super) machine: &'a Machine,
    /// Money per minute at work: wear and energy.
    pub(super) minute: f64,
    /// Money per minute of hands.
    pub(super) bench: f64,
}

impl<'a> Site<'a> {
    pub(super) fn new(scenario: &Scenario, machine: &'a Machine) -> Self {
        let kilowatts = machine.watts.value() / 1000.0;
        let hour = machine.hourly.value() + kilowatts * scenario.bench.energy_kwh.value();
        Self {
            machine,
            minute: hour / 60.0,
            bench: scenario.bench.bench_hour.value() / 60.0,
        }
    }

    /// Hands that each run takes: a bed is set up for every run, a belt is not.
    pub(super) fn turnaround(&self) -> f64 {
        if self.machine.is_belt() {
            0.0
        } else {
            self.machine.turnaround.value() as f64
        }
    }

    pub(super) fn warm_up(&self) -> f64 {
        self.machine.warm_up.value() / 60.0
    }

    /// Area of the room for pieces, every side longer by half the spacing, corners rounded.
    pub(super) fn room(&self) -> f64 {
        let margins = 2.0 * self.machine.margin.value();
        let [x, y] = match self.machine.kind {
            MachineKind::Bed { bed: [x, y], .. } => [x.value() - margins, y.value() - margins],
            MachineKind::Belt {
                section: [across, _],
                longest,
                ..
            } => [across.value() - margins, longest.value()],
        };
        self.rounded(x + 2.0 * TOLERANCE, y + 2.0 * TOLERANCE)
    }

    /// Area of what a piece keeps free of others: its outline and half the spacing around it.
    ///
    /// Proof that these areas of the pieces of a run add up to no more than [`Self::room`]: pieces are `spacing` apart, so the
    /// discs of half the spacing around their points do not meet; and all pieces lie in the room, so these discs lie in the room
    /// widened by half the spacing. A convex outline of area F and perimeter U widened by r has the area F + U·r + π·r²;
    /// any other has at least (√F + √π·r)², which `Extent::widened` says.
    /// On a belt a piece lies as its box; that its outline is within it makes the number smaller, and so still valid.
    pub(super) fn footprint(&self, way: &Way) -> f64 {
        if let Some(outline) = &way.outline {
            return outline.extent().widened(self.machine.spacing.value() / 2.0);
        }
        self.rounded(way.size[0].value(), way.size[1].value())
    }

    fn rounded(&self, x: f64, y: f64) -> f64 {
        let radius = self.machine.spacing.value() / 2.0;
        x * y + 2.0 * (x + y) * radius + PI * radius * radius
    }

    /// Layers of a way as minutes.
    pub(super) fn layers(&self, way: &Way) -> f64 {
        way.layer_time.value() / 60.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{Axis, MachineIndex};
    use crate::units::{CubicMillimetres, Grams, Millimetres, Minutes, Seconds, Watts};
    use crate::units::{Flow, Money};

    fn machine() -> Machine {
        Machine {
            id: "bed".into(),
            kind: MachineKind::Bed {
                bed: [Millimetres(110.0), Millimetres(60.0)],
                height: Millimetres(100.0),
            },
            margin: Millimetres(5.0),
            spacing: Millimetres(4.0),
            nozzle: Millimetres(0.4),
            flow: Flow(10.0),
            layer_time: Seconds(6.0),
            materials: Default::default(),
            loaded: None,
            warm_up: Seconds(300.0),
            turnaround: Minutes(10),
            swap: Minutes(8),
            purge: Grams(10.0),
            watts: Watts(100.0),
            hourly: Money(0.6),
            scrap: 0.0,
            offline: Vec::new(),
            unattended: true,
        }
    }

    #[test]
    fn a_footprint_holds_half_the_spacing_around_the_piece() {
        let machine = machine();
        let site = Site {
            machine: &machine,
            minute: 0.0,
            bench: 0.0,
        };
        let way = Way {
            machine: MachineIndex(0),
            kind: 0,
            upright: Axis::Z,
            over: false,
            size: [30.0, 20.0, 10.0].map(Millimetres),
            straight: true,
            turned: true,
            diagonal: None,
            own_time: Seconds(0.0),
            layers: 50,
            layer_time: Seconds(300.0),
            volume: CubicMillimetres(0.0),
            grams: Grams(0.0),
            support: Grams(0.0),
            outline: None,
            alone: Minutes(0),
        };
        // 30 × 20, four strips of 2 mm along 100 mm of edge, four quarters of a disc of 2 mm: 600 + 200 + 4π.
        assert!((site.footprint(&way) - (800.0 + 4.0 * PI)).abs() < 1e-9);
        // 100 × 50 inside the margins, likewise: 5000 + 600 + 4π, and a little for the tolerance.
        let room = 5600.0 + 4.0 * PI;
        assert!(site.room() >= room && site.room() < room + 1.0);
        // 50 layers of 6 s.
        assert_eq!(site.layers(&way), 5.0);
    }
}
