//! The example scenarios are as large, and as varied, as they are said to be.

use beamyard::routes::routes;
use beamyard::scenario::{MachineKind, Scenario};

use crate::scenario;

/// Pieces that are wanted, spares left out.
fn pieces(shop: &Scenario) -> u32 {
    shop.parts.iter().map(|part| part.quantity).sum()
}

/// On how many levels the assemblies stand: one that needs no other is on the first.
fn levels(shop: &Scenario) -> usize {
    let mut level = vec![1; shop.assemblies.len()];
    // Each pass settles at least one level more.
    for _ in 0..shop.assemblies.len() {
        for (at, assembly) in shop.assemblies.iter().enumerate() {
            let below = assembly.needs.iter().map(|need| level[need.0]);
            level[at] = below.max().map_or(1, |below| below + 1);
        }
    }
    level.into_iter().max().unwrap_or(0)
}

/// Assemblies with a date to keep.
fn stages(shop: &Scenario) -> usize {
    let dated = shop.assemblies.iter();
    dated.filter(|assembly| assembly.due.is_some()).count()
}

/// Machines that differ in what they can hold.
fn sizes(shop: &Scenario) -> usize {
    let mut all: Vec<[f64; 3]> = Vec::new();
    for machine in &shop.machines {
        let size = match &machine.kind {
            MachineKind::Bed { bed, height } => [bed[0].0, bed[1].0, height.0],
            MachineKind::Belt {
                section, longest, ..
            } => [section[0].0, longest.0, section[1].0],
        };
        if !all.contains(&size) {
            all.push(size);
        }
    }
    all.len()
}

fn belts(shop: &Scenario) -> usize {
    let machines = shop.machines.iter();
    machines.filter(|machine| machine.is_belt()).count()
}

/// Copies of parts that no bed takes in one piece, whichever way they lie.
fn long(shop: &Scenario) -> u32 {
    let all = routes(shop);
    let long = shop.parts.iter().zip(&all).filter(|(_, routes)| {
        let whole = routes.forms.iter().filter(|form| form.lengths == 1);
        let mut ways = whole.flat_map(|form| &form.ways);
        ways.all(|way| shop.machines[way.machine.0].is_belt())
    });
    long.map(|(part, _)| part.quantity).sum()
}

#[test]
fn the_crane_is_a_large_build_on_a_mixed_farm() {
    let shop = scenario("quayside-crane");
    assert!(shop.parts.len() >= 60, "{} kinds of part", shop.parts.len());
    assert!(pieces(&shop) >= 450, "{} pieces", pieces(&shop));
    assert_eq!(shop.filaments.len(), 5);
    assert_eq!((shop.assemblies.len(), levels(&shop)), (14, 4));
    assert_eq!(stages(&shop), 5);
    assert_eq!((shop.machines.len(), sizes(&shop), belts(&shop)), (5, 4, 1));
    // Chords, rails and stays.
    assert!(long(&shop) > 0);
}

#[test]
fn the_footbridge_has_24_beams_that_no_bed_takes_and_a_belt() {
    let shop = scenario("footbridge");
    assert_eq!((long(&shop), belts(&shop)), (24, 1));
}

#[test]
fn the_first_week_is_one_machine_and_six_parts_of_which_one_fits_no_bed() {
    let shop = scenario("first-week");
    assert_eq!((shop.machines.len(), shop.parts.len()), (1, 6));
    assert_eq!((long(&shop), stages(&shop)), (1, 1));
}

#[test]
fn the_tide_clocks_are_many_small_pieces_in_two_colours_with_trials() {
    let shop = scenario("tide-clock");
    assert_eq!((shop.filaments.len(), long(&shop)), (2, 0));
    assert!(pieces(&shop) >= 150, "{} pieces", pieces(&shop));
    let tried = shop.parts.iter().filter(|part| part.trial > 0);
    // Eight wheels, the ratchet, two pinions, the pallet.
    assert_eq!(tried.count(), 12);
}
