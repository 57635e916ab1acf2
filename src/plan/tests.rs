//! Facts that follow from one entry of a plan.

use crate::routes::RouteKind;
use crate::scenario::{MachineIndex, PartIndex, Scenario, read_text};
use crate::units::Millimetres;

use super::RouteUse;

fn rod() -> Scenario {
    let text = "
build: {start: 2027-01-11 07:00}
machines: [{id: bed, kind: bed, bed: [300, 300], height: 100}]
filaments: [{id: grey, material: PLA}]
parts: [{id: rod, size: [20, 1200, 18]}]
";
    match read_text("rod.yaml", text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

fn made(pieces: u32) -> RouteUse {
    RouteUse {
        part: PartIndex(0),
        quantity: 8,
        route: RouteKind::Split,
        pieces,
        machine: MachineIndex(0),
        joint: None,
        long: true,
        dearer: false,
        why: String::new(),
    }
}

#[test]
fn lengths_are_cut_at_equal_steps_of_the_longest_side() {
    // 1200 mm in three lengths of 400; two joints each, 8 copies: 16.
    assert_eq!(
        made(3).cuts(&rod()),
        [Millimetres(400.0), Millimetres(800.0)]
    );
    assert_eq!(made(3).joints(), 16);
}

#[test]
fn a_part_in_one_piece_has_neither_cut_nor_joint() {
    assert_eq!(made(1).cuts(&rod()), []);
    assert_eq!(made(1).joints(), 0);
}
