//! Plans of pieces that are not boxes.

use beamyard::planning::Planned;
use beamyard::scenario::{self, Scenario};

use crate::shops::prism::stl;
use crate::support::planned;

/// A shop of one bed with so many mm inside its margins, 4 mm between pieces, and one kind of part.
fn shop(side: u32, part: &str, mesh: Option<Vec<u8>>) -> Scenario {
    let folder = tempfile::tempdir().expect("a folder");
    if let Some(bytes) = mesh {
        std::fs::write(folder.path().join("part.stl"), bytes).expect("a file");
    }
    let text = format!(
        "build: {{start: 2027-01-11, each_day: 0}}\n\
         bench: {{hours: {{mon-sun: [\"08:00-20:00\"]}}}}\n\
         machines: [{{id: printer, kind: bed, bed: [{0}, {0}], height: 200, margin: 5, spacing: 4}}]\n\
         filaments: [{{id: grey, material: PLA}}]\n\
         parts: [{{id: bracket, lie: [z], {part}}}]\n",
        side + 10
    );
    scenario::read_text("brackets.yaml", &text, folder.path())
        .unwrap_or_else(|complaints| panic!("{complaints}"))
        .scenario
}

/// The same of a prism, 10 mm high.
fn prisms(side: u32, corners: &[[f64; 2]], part: &str) -> Scenario {
    let mesh = stl(corners, 10.0);
    shop(side, &format!("mesh: part.stl, {part}"), Some(mesh))
}

/// An L of 100 × 100 with arms of 30.
const L: [[f64; 2]; 6] = [
    [0.0, 0.0],
    [100.0, 0.0],
    [100.0, 30.0],
    [30.0, 30.0],
    [30.0, 100.0],
    [0.0, 100.0],
];

fn plan_of(shop: &Scenario) -> Planned {
    planned(shop, 1, 3_000).unwrap_or_else(|fault| panic!("{fault:?}"))
}

#[test]
fn two_brackets_share_a_plate_on_which_their_boxes_do_not_fit() {
    // Turned by half a turn, one lies in the notch of the other: 134 × 134. Boxes take 204 one way.
    let boxes = plan_of(&shop(
        140,
        "quantity: 2, size: [100, 100, 10], solid: 51%",
        None,
    ))
    .plan;
    assert_eq!(boxes.runs.len(), 2);
    let shaped = plan_of(&prisms(140, &L, "quantity: 2")).plan;
    assert_eq!(shaped.runs.len(), 1);
    let turns: Vec<f64> = shaped.runs[0].pieces.iter().map(|p| p.turn).collect();
    assert_eq!((turns[0] - turns[1]).abs(), 180.0, "{turns:?}");
    assert!(shaped.runs[0].pieces.iter().all(|p| p.outline.is_some()));
    // The bound stays below although the plate is fuller than any of boxes.
    assert!(shaped.bound.0 <= shaped.decided.0);
    assert!(shaped.cost.total().0 < boxes.cost.total().0);
}

#[test]
fn pieces_that_may_not_be_turned_stay_as_drawn() {
    // Triangles that are half of 100 × 100. One turned by half a turn lies along the other's long side, 4 mm off, within
    // 110 × 110. As drawn, one is shifted by 100 + 4·√2 in all, so at least by 52.8 one way.
    let wedge = [[0.0, 0.0], [100.0, 0.0], [0.0, 100.0]];
    let turned = plan_of(&prisms(110, &wedge, "quantity: 2")).plan;
    assert_eq!(turned.runs.len(), 1);
    let drawn = plan_of(&prisms(110, &wedge, "quantity: 2, turn: none")).plan;
    assert_eq!(drawn.runs.len(), 2);
    let pieces = drawn.runs.iter().flat_map(|run| &run.pieces);
    assert!(pieces.into_iter().all(|piece| piece.turn == 0.0));
}

#[test]
fn a_part_lies_at_a_turn_of_its_outline_where_no_box_of_it_would() {
    // A triangle that is half of 380 × 40 lies on 290 × 290 at 49°; its box at no angle, nor the triangle at 45°.
    let wedge = [[0.0, 0.0], [380.0, 0.0], [0.0, 40.0]];
    let shop = |turn: &str| prisms(290, &wedge, &format!("quantity: 3, turn: {turn}"));
    let made = plan_of(&shop("any")).plan;
    let pieces: Vec<_> = made.runs.iter().flat_map(|run| &run.pieces).collect();
    assert_eq!(pieces.len(), 3);
    assert!(pieces.iter().all(|piece| piece.turn % 90.0 != 0.0));
    assert!(planned(&shop("45"), 1, 500).is_err());
}
