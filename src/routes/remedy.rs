//! What would make a part possible that no machine can make.
//!
//! Knows: fits, the rules that bar, the words of a scenario. Must not know: costs, dates.
//! Promises: whoever does what a remedy says has a way to make the part.

use super::fit::{self, Bar, Lying, Room};
use super::forms::{self, divided};
use super::words::{axis_name, length, trimmed};
use crate::scenario::{Axis, JointIndex, Part, PartIndex, Scenario};
use crate::units::Millimetres;

/// More lengths than this are no help to anybody.
const MOST_LENGTHS: u32 = 100;

/// A machine that might make the part, once what keeps the part off it is lifted.
struct Target<'a> {
    id: &'a str,
    room: Room,
    /// What lifts each rule that bars the part, in words.
    permissions: Vec<String>,
}

impl Target<'_> {
    /// Whether it takes a piece of the part with this box.
    fn takes(&self, part: &Part, size: [Millimetres; 3], positions: &[Axis]) -> bool {
        positions
            .iter()
            .any(|&upright| fit::fit(self.room, &Lying::new(part, size, upright)).is_some())
    }

    /// What else must be done before the machine may make the part.
    fn also(&self) -> String {
        if self.permissions.is_empty() {
            String::new()
        } else {
            format!(", and {}", self.permissions.join(" and "))
        }
    }
}

/// All remedies for a part without a form.
pub(super) fn remedies(scenario: &Scenario, part: PartIndex) -> Vec<String> {
    let part = &scenario.parts[part.0];
    let targets: Vec<Target> = (0..scenario.machines.len())
        .map(|index| Target {
            id: &scenario.machines[index].id,
            room: Room::of(&scenario.machines[index]),
            permissions: fit::bars(scenario, part, index)
                .into_iter()
                .map(|bar| permission(scenario, part, index, bar))
                .collect(),
        })
        .collect();
    let mut remedies = permitted(scenario, part, &targets);
    let (open, barred): (Vec<Target>, Vec<Target>) = targets
        .into_iter()
        .partition(|target| target.permissions.is_empty());
    // Where a permission is needed in any case, one that suffices is all there is to say.
    if open.is_empty() && !remedies.is_empty() {
        return remedies;
    }
    let targets = if open.is_empty() { barred } else { open };
    remedies.extend(another_side(part, &targets));
    remedies.extend(more_lengths(scenario, part, &targets));
    remedies.extend(smaller(scenario, part, &targets));
    remedies
}

/// What lifts a rule, in words.
fn permission(scenario: &Scenario, part: &Part, machine: usize, bar: Bar) -> String {
    let id = &scenario.machines[machine].id;
    match bar {
        Bar::Material => {
            let material = &scenario.filaments[part.filament.0].material;
            format!("add {material} to the `materials` of {id}")
        }
        Bar::Only => format!("add {id} to `only`"),
        Bar::Belt => "write `belt: allowed`".to_owned(),
    }
}

/// Machines on which the part fits as it is, or in lengths that it allows, and that only a rule keeps from it.
fn permitted(scenario: &Scenario, part: &Part, targets: &[Target]) -> Vec<String> {
    targets
        .iter()
        .filter(|target| !target.permissions.is_empty())
        .filter_map(|target| {
            let lengths = forms::allowed(scenario, part).find_map(|form| {
                let fits = form.kinds.iter().all(|kind| {
                    let positions = fit::uprights(part, kind.piece);
                    target.takes(part, kind.piece, &positions)
                });
                fits.then_some(form.lengths)
            })?;
            let how = if lengths == 1 {
                "whole".to_owned()
            } else {
                format!("in {lengths} lengths")
            };
            let permissions = target.permissions.join(" and ");
            Some(format!("{permissions}: it fits {} {how}", target.id))
        })
        .collect()
}

/// Another side down, where the part does not allow every position.
fn another_side(part: &Part, targets: &[Target]) -> Option<String> {
    let (axis, target) = Axis::ALL
        .into_iter()
        .filter(|axis| !part.lie.contains(axis))
        .find_map(|axis| {
            let target = targets.iter().find(|t| t.takes(part, part.size, &[axis]))?;
            Some((axis, target))
        })?;
    let axes: Vec<&str> = part
        .lie
        .iter()
        .chain([&axis])
        .map(|&a| axis_name(a))
        .collect();
    Some(format!(
        "write `lie: [{}]`{}: with {} upright it fits {}",
        axes.join(", "),
        target.also(),
        axis_name(axis),
        target.id
    ))
}

/// The fewest equal lengths that would fit.
fn more_lengths(scenario: &Scenario, part: &Part, targets: &[Target]) -> Option<String> {
    let (lengths, target) = (2..=MOST_LENGTHS).find_map(|lengths| {
        let piece = divided(part.size, lengths);
        let positions = fit::positions(piece, &part.lie);
        let target = targets.iter().find(|t| t.takes(part, piece, &positions))?;
        Some((lengths, target))
    })?;
    let each = forms::longest(part.size).1 / f64::from(lengths);
    let write = match &part.split {
        None => new_split(scenario, part, lengths, each),
        Some(split) => {
            let joint = &scenario.joints[split.joint.0];
            let (first, last) = (*split.into.start(), *split.into.end());
            let mut changes = Vec::new();
            if !split.into.contains(&lengths) {
                let (first, last) = (first.min(lengths), last.max(lengths));
                changes.push(format!("write `into: {}`", range(first, last)));
            }
            if each < forms::shortest_length(scenario, part, split.joint) {
                changes.push(format!(
                    "take a joint for lengths of {} mm ({} asks for {})",
                    length(each),
                    joint.id,
                    length(joint.shortest.value())
                ));
            }
            changes.join(" and ")
        }
    };
    Some(format!(
        "{write}{}: {lengths} lengths of {} mm fit {}",
        target.also(),
        length(each),
        target.id
    ))
}

/// A split to be written where there is none, with a joint that there is, or what joint it wants.
fn new_split(scenario: &Scenario, part: &Part, lengths: u32, each: f64) -> String {
    let write = |joint: &str| {
        format!(
            "write `split: {{joint: {joint}, into: {}}}`",
            range(2, lengths)
        )
    };
    let suits = |&joint: &usize| each >= forms::shortest_length(scenario, part, JointIndex(joint));
    if let Some(joint) = (0..scenario.joints.len()).find(suits) {
        return write(&scenario.joints[joint].id);
    }
    // None is there, or none for lengths so short.
    let free = |name: &&str| scenario.joints.iter().all(|joint| joint.id != *name);
    let name = ["glue", "short-glue"]
        .into_iter()
        .find(free)
        .unwrap_or("glue-2");
    let shortest = each.floor().clamp(1.0, 100.0);
    format!(
        "{}, and under `joints` the joint `{name}: {{shortest: {shortest}}}`",
        write(name)
    )
}

/// A range as scenarios write it; one number for just that.
fn range(first: u32, last: u32) -> String {
    if first == last {
        first.to_string()
    } else {
        format!("{first}..{last}")
    }
}

/// The largest scale at which the part would fit whole.
fn smaller(scenario: &Scenario, part: &Part, targets: &[Target]) -> Option<String> {
    let scale = scenario.build.scale;
    let positions = fit::uprights(part, part.size);
    let fits = |target: &Target, share: f64| {
        positions
            .iter()
            .any(|&upright| fit::fit(target.room, &Lying::scaled(part, share, upright)).is_some())
    };
    let largest = |target: &Target| {
        // What fits at one share fits at every smaller one.
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..48 {
            let middle = 0.5 * (low + high);
            if fits(target, middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    };
    let (share, target) = targets
        .iter()
        .map(|target| (largest(target), target))
        .max_by(|one, other| one.0.total_cmp(&other.0))?;
    // Rounded down, so that the scale as printed does fit.
    let written = (share * scale * 1000.0).floor() / 1000.0;
    (written > 0.0).then(|| {
        let share = written / scale;
        let sides = part
            .size
            .map(|side| trimmed(((side.0 * share * 10.0).floor() / 10.0).max(0.1), 1));
        format!(
            "write `scale: {}` if the part is given by `model`, `size: [{}]` if by `size`{}: at {} of its size it fits {} \
             whole",
            trimmed(written, 3),
            sides.join(", "),
            target.also(),
            trimmed(share, 3),
            target.id
        )
    })
}
