//! Why a machine cannot make a part in one piece, in words and millimetres.
//!
//! Knows: fits and the rules that bar. Must not know: lengths, joints, costs.
//! Promises: a reason for every machine without a way, and for no other.

use std::fmt;

use super::Refusal;
use super::fit::{self, Bar, Lying, Room};
use super::words::{axis_name, excess, length};
use crate::geometry::{TOLERANCE, longest_at_width};
use crate::scenario::{Axis, Machine, MachineIndex, Part, PartIndex, Scenario};
use crate::units::Millimetres;

/// The machines that cannot make a part whole, and why.
pub(super) fn refusals(scenario: &Scenario, part: PartIndex) -> Vec<Refusal> {
    let part = &scenario.parts[part.0];
    (0..scenario.machines.len())
        .filter_map(|index| {
            let machine = &scenario.machines[index];
            let rules = fit::bars(scenario, part, index)
                .into_iter()
                .map(|bar| barred(scenario, part, machine, bar));
            let reasons: Vec<String> = rules.chain(too_large(part, machine)).collect();
            (!reasons.is_empty()).then(|| Refusal {
                machine: MachineIndex(index),
                reason: reasons.join("; "),
            })
        })
        .collect()
}

/// A rule that keeps the part off the machine.
fn barred(scenario: &Scenario, part: &Part, machine: &Machine, bar: Bar) -> String {
    match bar {
        Bar::Material => {
            let filament = &scenario.filaments[part.filament.0];
            let prints: Vec<&str> = machine.materials.iter().map(String::as_str).collect();
            format!(
                "prints {}, not the {} of filament {}",
                if prints.is_empty() {
                    "no material".to_owned()
                } else {
                    prints.join(", ")
                },
                filament.material,
                filament.id
            )
        }
        Bar::Only => format!("`only` leaves {} out", machine.id),
        Bar::Belt => "`belt: never`".to_owned(),
    }
}

/// By how much the part is too large for the machine, in the position in which least is missing; `None` if it fits.
fn too_large(part: &Part, machine: &Machine) -> Option<String> {
    let room = Room::of(machine);
    let positions = fit::uprights(part, part.size);
    if positions
        .iter()
        .any(|&upright| fit::fit(room, &Lying::new(part, part.size, upright)).is_some())
    {
        return None;
    }
    positions
        .into_iter()
        .map(|upright| Shortfall::new(room, &Lying::new(part, part.size, upright), upright))
        .min_by(|one, other| one.missing().total_cmp(&other.missing()))
        .map(|least| least.to_string())
}

/// Where a side of a part lies.
#[derive(Clone, Copy, Debug)]
enum Place {
    Bed,
    AcrossBelt,
    AlongBelt,
    Upright,
}

/// A side that is longer than the room it would lie in; mm.
#[derive(Clone, Copy, Debug)]
struct Side {
    axis: Axis,
    place: Place,
    needs: f64,
    has: f64,
}

impl Side {
    fn over(&self) -> f64 {
        self.needs - self.has
    }

    fn is_over(&self) -> bool {
        self.over() > TOLERANCE
    }
}

/// What is missing for a part in one position.
struct Shortfall {
    /// Sides too long for the bed or belt, in the better of both turns.
    plan: Vec<Side>,
    /// What is missing on the diagonal, where that is less; mm.
    diagonal: Option<f64>,
    /// The turn at which that is so, of an outline; a box takes any.
    turn: Option<f64>,
    /// The side that stands too high.
    upright: Option<Side>,
}

impl Shortfall {
    fn new(room: Room, lying: &Lying, upright: Axis) -> Self {
        let [x, y, z] = lying.size.map(Millimetres::value);
        let [along_x, along_y, _] = fit::lying(Axis::ALL, upright);
        let places = if room.any_angle {
            [Place::Bed, Place::Bed]
        } else {
            [Place::AcrossBelt, Place::AlongBelt]
        };
        let turn = |(first, p), (second, q)| -> Vec<Side> {
            let across = (first, p, places[0], room.x);
            let along = (second, q, places[1], room.y);
            [across, along]
                .into_iter()
                .map(|(axis, needs, place, has)| Side {
                    axis,
                    place,
                    needs,
                    has,
                })
                .filter(Side::is_over)
                .collect()
        };
        let straight = turn((along_x, x), (along_y, y));
        let turned = turn((along_y, y), (along_x, x));
        let right = lying.turns.has_right_angle();
        let plan = if right && most(&turned) < most(&straight) {
            turned
        } else {
            straight
        };
        let by_box = || {
            let longest = longest_at_width(x.min(y), room.x, room.y).filter(|_| right)?;
            Some(((x.max(y) - longest).max(0.0), None))
        };
        let slanted = || match lying.outline {
            None => by_box(),
            Some(outline) => lying
                .turns
                .degrees()
                .map(|degrees| {
                    let [x, y] = lying.turned(outline, degrees);
                    ((x - room.x).max(y - room.y).max(0.0), Some(degrees))
                })
                .chain(by_box())
                .min_by(|one, other| one.0.total_cmp(&other.0)),
        };
        let slanted = room.any_angle.then(slanted).flatten();
        let slanted = slanted.filter(|&(over, _)| over < most(&plan) - TOLERANCE);
        let diagonal = slanted.map(|(over, _)| over);
        let upright = Side {
            axis: upright,
            place: Place::Upright,
            needs: z,
            has: room.height,
        };
        Self {
            plan,
            diagonal,
            turn: slanted.and_then(|(_, turn)| turn),
            upright: Some(upright).filter(Side::is_over),
        }
    }

    /// All that is missing, in mm: what decides which position is named.
    fn missing(&self) -> f64 {
        let plan = self.diagonal.unwrap_or_else(|| most(&self.plan));
        plan + self.upright.map_or(0.0, |side| side.over())
    }
}

/// The most by which any side is over.
fn most(sides: &[Side]) -> f64 {
    sides.iter().map(Side::over).fold(0.0, f64::max)
}

impl fmt::Display for Shortfall {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Where it lies on the diagonal, its sides are no reason, only its height is.
        let plan = match self.diagonal {
            Some(over) if over <= TOLERANCE => &[],
            _ => &self.plan[..],
        };
        for (count, side) in plan.iter().chain(&self.upright).enumerate() {
            let and = if count > 0 { ", and " } else { "" };
            let name = axis_name(side.axis);
            let needs = length(side.needs);
            let has = length(side.has);
            let over = excess(side.over());
            write!(out, "{and}{name} needs {needs} mm")?;
            match side.place {
                Place::Bed => write!(out, ", the bed has {has} ({over} mm too long")?,
                Place::AcrossBelt => {
                    write!(out, " across, the belt has {has} ({over} mm too wide")?
                }
                Place::AlongBelt => write!(out, ", the belt takes {has} ({over} mm too long")?,
                Place::Upright => {
                    write!(out, " upright, the machine has {has} ({over} mm too high")?
                }
            }
            match (side.place, self.diagonal) {
                (Place::Bed, Some(over)) => match self.turn {
                    None => write!(out, "; {} too long on the diagonal)", excess(over))?,
                    Some(turn) => write!(out, "; {} too long turned by {turn}°)", excess(over))?,
                },
                _ => write!(out, ")")?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Turns;

    fn on_a_bed(x: f64, y: f64, height: f64) -> Room {
        Room {
            x,
            y,
            height,
            any_angle: true,
        }
    }

    fn words(room: Room, size: [f64; 3], upright: Axis) -> String {
        let lying = Lying {
            size: fit::lying(size.map(Millimetres), upright),
            outline: None,
            scale: 1.0,
            turns: Turns::USUAL,
        };
        Shortfall::new(room, &lying, upright).to_string()
    }

    #[test]
    fn a_beam_too_long_for_a_bed_says_by_how_much_straight_and_on_the_diagonal() {
        // 1380 − 290 = 1090. On the diagonal a beam 48 wide may be 290·√2 − 48 = 362.12 long: 1017.88, shown rounded up.
        assert_eq!(
            words(on_a_bed(290.0, 290.0, 400.0), [1380.0, 48.0, 48.0], Axis::Z),
            "x needs 1380 mm, the bed has 290 (1090 mm too long; 1017.9 too long on the diagonal)"
        );
    }

    #[test]
    fn a_beam_that_only_stands_too_high_says_so_in_its_own_axes() {
        assert_eq!(
            words(on_a_bed(290.0, 290.0, 400.0), [1380.0, 48.0, 48.0], Axis::X),
            "x needs 1380 mm upright, the machine has 400 (980 mm too high)"
        );
        // 380 × 20 lies on the diagonal of 290 × 290 (up to 390.12), so only its height is a reason.
        assert_eq!(
            words(on_a_bed(290.0, 290.0, 100.0), [380.0, 20.0, 130.0], Axis::Z),
            "z needs 130 mm upright, the machine has 100 (30 mm too high)"
        );
    }

    #[test]
    fn a_plate_too_large_both_ways_names_both_sides_and_no_diagonal() {
        // 300 × 260 on 250 × 210: straight 50 and 50 over; turned 260 − 250 = 10 and 300 − 210 = 90.
        assert_eq!(
            words(on_a_bed(250.0, 210.0, 200.0), [300.0, 260.0, 5.0], Axis::Z),
            "x needs 300 mm, the bed has 250 (50 mm too long), and y needs 260 mm, the bed has 210 (50 mm too long)"
        );
    }

    #[test]
    fn the_better_of_both_turns_is_named() {
        // 205 × 245 on 250 × 200: straight, y is 45 over; turned, 245 lies in 250 and x is 205 − 200 = 5 over.
        assert_eq!(
            words(on_a_bed(250.0, 200.0, 200.0), [205.0, 245.0, 5.0], Axis::Z),
            "x needs 205 mm, the bed has 200 (5 mm too long)"
        );
    }

    #[test]
    fn a_belt_says_across_along_and_above() {
        let belt = Room {
            x: 230.0,
            y: 2400.0,
            height: 200.0,
            any_angle: false,
        };
        assert_eq!(
            words(belt, [2600.0, 48.0, 210.0], Axis::Z),
            "x needs 2600 mm, the belt takes 2400 (200 mm too long), \
             and z needs 210 mm upright, the machine has 200 (10 mm too high)"
        );
        assert_eq!(
            words(belt, [2000.0, 250.0, 50.0], Axis::Z),
            "y needs 250 mm across, the belt has 230 (20 mm too wide)"
        );
    }
}
