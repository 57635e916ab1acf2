//! What pieces can be: an item for each class, form and kind of piece, and how it may lie on each machine.
//!
//! Knows: routes, classes, machines. Must not know: dates, the build graph.
//! Promises: positions of ways stay those of the routes.

use std::sync::Arc;

use crate::calendar::clock_minutes;
use crate::geometry::Outline;
use crate::plates::{FigureId, Figures, Rectangle};
use crate::routes::{PartRoutes, Way};
use crate::scenario::{MachineIndex, Scenario, Turns};

use super::{Item, ItemId, ItemWay, Shop, positions};

impl Shop {
    /// One item for each class, form and kind of piece; one shape for each part, form and kind.
    pub(super) fn take_items(&mut self, scenario: &Scenario, routes: &[PartRoutes]) {
        let mut groups: Vec<(usize, usize)> = Vec::new();
        let mut shape_of: Vec<Vec<u32>> = vec![Vec::new(); scenario.parts.len()];
        let mut shapes = 0;
        let limits = self.run_limits();
        let some_shaped = routes
            .iter()
            .flat_map(|part| &part.forms)
            .flat_map(|form| &form.ways)
            .any(is_shaped);
        for (index, part) in scenario.parts.iter().enumerate() {
            let filament = &scenario.filaments[part.filament.0];
            for form in &routes[index].forms {
                shape_of[index].push(shapes);
                shapes += form.kinds.len() as u32;
                let kinds = 0..form.kinds.len();
                let machines = 0..self.machines.len();
                for (kind, machine) in kinds.flat_map(|k| machines.clone().map(move |m| (k, m))) {
                    let ways = form
                        .ways_of(kind, MachineIndex(machine))
                        .map(|way| ItemWay {
                            rectangle: Rectangle {
                                width: way.size[0].0,
                                depth: way.size[1].0,
                                straight: way.straight,
                                turned: way.turned,
                            },
                            diagonal: !way.straight && !way.turned,
                            shaped: is_shaped(way),
                            any_angle: part.turns.has_right_angle(),
                            figure: (some_shaped && !self.machines[machine].belt)
                                .then(|| figure(&mut self.figures, part.turns, way))
                                .flatten(),
                            area: match &way.outline {
                                Some(outline) => outline.area(),
                                None => way.size[0].0 * way.size[1].0,
                            },
                            seconds: way.own_time.0,
                            layer_seconds: way.layer_time.0,
                            grams: way.grams.0,
                            plastic: (way.grams * filament.price_kg).0,
                        })
                        .collect();
                    // Positions stay those of the form's ways, so all of them stay or none.
                    let possible = form
                        .ways_of(kind, MachineIndex(machine))
                        .any(|way| limits.holds(way));
                    self.ways.push(if possible { ways } else { Vec::new() });
                }
            }
        }
        for class in 0..self.classes.len() {
            let part_index = self.classes[class].part as usize;
            let part = &scenario.parts[part_index];
            let key = (part.filament.0, part.settings.0);
            let group = groups.iter().position(|&g| g == key).unwrap_or_else(|| {
                groups.push(key);
                groups.len() - 1
            });
            let open = self.classes[class].open.clone();
            for (position, form) in routes[part_index].forms.iter().enumerate() {
                // A copy that is begun stays in its form.
                if open.as_ref().is_some_and(|open| open.form != position) {
                    continue;
                }
                let wanted = |kind: &[u32]| positions(&self.classes[class], kind).len() as u32;
                let each: Vec<u32> = form
                    .kinds
                    .iter()
                    .map(|kind| wanted(&kind.positions))
                    .collect();
                let kinds = each.iter().filter(|&&n| n > 0).count() as u32;
                let leader = self.items.len() as ItemId;
                self.classes[class].items.push(leader);
                for (number, &each) in each.iter().enumerate().filter(|(_, n)| **n > 0) {
                    let shape = shape_of[part_index][position] + number as u32;
                    let cheapest = self
                        .machines
                        .iter()
                        .enumerate()
                        .flat_map(|(m, machine)| {
                            self.ways[shape as usize * self.machines.len() + m]
                                .iter()
                                .map(move |way| way.plastic + way.seconds / 60.0 * machine.minute)
                        })
                        .fold(f64::INFINITY, f64::min);
                    self.items.push(Item {
                        class: class as u32,
                        form: position as u32,
                        lengths: form.lengths,
                        kind: number as u32,
                        each,
                        leader,
                        kinds,
                        filament: part.filament.0 as u32,
                        group: group as u32,
                        alone: part.alone,
                        most: part.together.map_or(u32::MAX, |copies| {
                            copies.saturating_mul(form.kinds[number].positions.len() as u32)
                        }),
                        shape,
                        glue: clock_minutes(form.glue),
                        cure: clock_minutes(form.cure),
                        hardware: form.hardware.0,
                        cheapest,
                    });
                }
            }
        }
        self.groups = groups.len() as u32;
    }
}

/// Whether a piece that lies so has an outline that is not its box.
fn is_shaped(way: &Way) -> bool {
    way.outline.as_ref().is_some_and(|o| !o.is_its_box())
}

/// The figure of a way: its outline with every turn that its part may take; of a box those at which it fits.
fn figure(figures: &mut Figures, turns: Turns, way: &Way) -> Option<FigureId> {
    // Rising to the right, and to the left.
    let slanted = way.diagonal.map(|angle| [angle, 180.0 - angle]);
    if let Some(outline) = way.outline.as_ref().filter(|_| is_shaped(way)) {
        let mut turns: Vec<f64> = turns.degrees().collect();
        // Where none of its own turns will do, those of its box.
        if let Some(both) = slanted.filter(|[angle, _]| !turns.contains(angle)) {
            turns.extend(both);
        }
        return Some(figures.add(outline, &turns));
    }
    let outline = Outline::rectangle(way.size[0].0, way.size[1].0)?;
    let square = [(way.straight, 0.0), (way.turned, 90.0)];
    let square = square.into_iter().filter(|&(may, _)| may);
    let turns: Vec<f64> = match slanted {
        Some(both) => both.to_vec(),
        None => square.map(|(_, degrees)| degrees).collect(),
    };
    Some(figures.add(&Arc::new(outline), &turns))
}
