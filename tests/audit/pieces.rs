//! Pieces: where they may be made, how they lie, how far apart; how many there are and what they are for.

use std::collections::BTreeSet;
use std::sync::Arc;

use beamyard::geometry::Outline;
use beamyard::plan::audit::Rule;
use beamyard::routes::RouteKind;
use beamyard::scenario::meshes::measure;
use beamyard::scenario::{Axis, Hands, MachineKind, Shape, Turns};
use beamyard::units::Millimetres;

use crate::prism;
use crate::tide_clock::{
    BELT, BRACKET, CLOCK, DIAL, LIGHT, PILLAR, RAIL, RED, ROD, STAND, STRONG, TALL, WIDE, plan,
    run, shop,
};

planted! {
    a_machine_that_may_not_make_it: OnlyMachines => |shop, _| {
        shop.parts[DIAL.0].only[TALL.0] = false;
    }
    a_material_that_a_machine_cannot_print: Material => |shop, _| {
        shop.machines[TALL.0].materials = BTreeSet::from(["PETG".into()]);
    }
    a_part_that_may_not_be_on_the_belt: BeltAllowed => |shop, _| {
        shop.parts[RAIL.0].belt = false;
    }
    a_red_piece_in_a_blue_run: OneFilament => |shop, _| {
        shop.parts[DIAL.0].filament = RED;
    }
    a_light_piece_in_a_strong_run: OneSetting => |_, plan| {
        assert_ne!(LIGHT, STRONG);
        run(plan, "tall-004").settings = STRONG;
    }
    company_for_a_part_that_is_printed_alone: Alone => |shop, _| {
        shop.parts[BRACKET.0].alone = true;
    }
    a_piece_on_the_wrong_face: Lying => |shop, _| {
        shop.parts[BRACKET.0].lie = vec![Axis::X, Axis::Y];
    }
    a_mesh_whose_faces_have_more_area_than_all_of_it: Measures + Lying + Outline => |shop, _| {
        // The rail is weighed and timed, so nothing of it is estimated; but it lies as a box, not as the mesh is drawn.
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/meshes/brake-disc.stl");
        let bytes = std::fs::read(path).expect("a mesh of the demo");
        let mut disc = measure(bytes, 1.0, None).expect("it is a mesh");
        disc.whole.area *= 0.5;
        shop.parts[RAIL.0].shape = Shape::Mesh(Arc::new(disc));
    }
    a_cut_along_the_beam: Lying + InsideBed => |_, plan| {
        // Two halves of 500×20×40 instead of 250×40×40: as much plastic, as many layers, but 500 mm on a bed of 290.
        for length in &mut run(plan, "tall-002").pieces {
            length.size = [500.0, 20.0, 40.0].map(Millimetres);
        }
    }
    an_outline_that_its_part_does_not_have: Outline => |_, plan| {
        let outline = Outline::new(vec![[0.0, 0.0], [60.0, 0.0], [0.0, 40.0]]).expect("half its box");
        run(plan, "tall-003").pieces[0].outline = Some(Arc::new(outline));
    }
    a_turn_that_a_part_may_not_take: Turn => |shop, _| {
        shop.parts[BRACKET.0].turns = Turns::Never;
    }
    a_piece_in_the_margin: InsideBed => |_, plan| {
        // 60 mm about x = 34.9 begin at 4.9; the margin is 5.
        run(plan, "tall-001").pieces[0].x = Millimetres(34.9);
    }
    a_turned_piece_whose_corner_is_in_the_margin: InsideBed => |_, plan| {
        // At 45° a bracket reaches (60 + 40)/(2√2) = 35.36 mm to all sides: to 295.36 of 295 mm.
        run(plan, "tall-003").pieces[2].y = Millimetres(260.0);
    }
    a_piece_off_the_side_of_the_belt: InsideBed => |_, plan| {
        run(plan, "belt-001").pieces[0].x = Millimetres(29.9);
    }
    a_piece_that_begins_before_the_belt_run: InsideBed => |_, plan| {
        run(plan, "belt-001").pieces[0].y = Millimetres(449.9);
    }
    a_piece_longer_than_the_belt_carries: InsideBed => |shop, _| {
        shop.machines[BELT.0].kind = MachineKind::Belt {
            section: [Millimetres(240.0), Millimetres(200.0)],
            longest: Millimetres(899.0),
            gap: Millimetres(20.0),
        };
    }
    a_piece_taller_than_the_machine: Height => |shop, _| {
        shop.machines[WIDE.0].kind = MachineKind::Bed {
            bed: [Millimetres(400.0), Millimetres(200.0)],
            height: Millimetres(39.9),
        };
    }
    a_piece_taller_than_the_belt_takes: Height => |shop, _| {
        shop.machines[BELT.0].kind = MachineKind::Belt {
            section: [Millimetres(240.0), Millimetres(29.0)],
            longest: Millimetres(2400.0),
            gap: Millimetres(20.0),
        };
    }
    pieces_too_close: Spacing => |_, plan| {
        // The bracket at 50 reaches to 80, the turned one at 103.9 from 83.9.
        run(plan, "tall-003").pieces[1].x = Millimetres(103.9);
    }
    pieces_on_top_of_each_other: Spacing => |_, plan| {
        run(plan, "tall-002").pieces[0].y = Millimetres(94.0);
    }
    more_lengths_than_allowed: SplitInto => |shop, _| {
        shop.parts[PILLAR.0].split.as_mut().expect("it is split").into = 3..=4;
    }
    lengths_of_a_part_that_is_never_split: SplitInto + GluingNamed + RouteJoint => |shop, _| {
        shop.parts[PILLAR.0].split = None;
    }
    a_length_too_short_for_its_joint: SplitShortest => |shop, _| {
        shop.joints[ROD.0].shortest = Millimetres(250.1);
    }
    a_turned_piece_that_is_named_straight: RouteNamed + RoutesSum => |_, plan| {
        run(plan, "tall-003").pieces[1].route = RouteKind::Whole;
    }
    a_slanted_piece_that_is_named_turned: RouteNamed + RoutesSum => |_, plan| {
        run(plan, "tall-003").pieces[2].route = RouteKind::Turned;
    }

    the_wrong_copy: CopiesOnce => |_, plan| {
        run(plan, "tall-004").pieces[0].number = 2;
    }
    a_copy_that_nobody_wants: CopiesOnce => |shop, _| {
        shop.parts[BRACKET.0].spares = 0;
    }
    a_copy_made_twice: CopiesOnce + AssemblyShare + RoutesSum => |_, plan| {
        run(plan, "belt-002").pieces[0].number = 1;
    }
    one_length_twice: CopiesOnce => |_, plan| {
        run(plan, "tall-002").pieces[1].length = 1;
    }
    a_length_beyond_the_last: CopiesOnce => |_, plan| {
        run(plan, "tall-002").pieces[1].length = 3;
    }
    a_length_before_the_first: CopiesOnce => |_, plan| {
        run(plan, "tall-002").pieces[0].length = 0;
    }
    thirds_without_the_middle_one: CopiesOnce + Lying + GluingWork + RoutesSum => |_, plan| {
        for (third, length) in run(plan, "tall-002").pieces.iter_mut().zip([1, 3]) {
            (third.length, third.of) = (length, 3);
        }
    }
    halves_and_thirds_of_one_copy: OneDivision + Lying + GluingWork + RoutesSum => |_, plan| {
        run(plan, "tall-002").pieces[1].of = 3;
    }
    an_assembly_with_a_bracket_too_many: AssemblyShare => |shop, _| {
        shop.assemblies[STAND.0].parts[1].1 = 1;
    }
    lengths_of_one_copy_for_two_assemblies:
        AssemblyShare + AssemblyWork => |shop, plan| {
        shop.bench.hands = Hands::Unlimited;
        run(plan, "tall-002").pieces[1].assembly = Some(CLOCK);
    }
}

#[test]
fn pieces_may_be_exactly_as_close_as_the_spacing() {
    // The bracket at 50 reaches to 80, the turned one at 104 from 84: 4 mm.
    let (shop, mut plan) = (shop(), plan());
    run(&mut plan, "tall-003").pieces[1].x = Millimetres(104.0);
    assert_eq!(crate::broken(&shop, &plan), [].into());
}

#[test]
fn turned_pieces_may_stand_closer_than_their_boxes() {
    // The turned bracket has a corner at (140, 180). The slanted one, 60 mm long towards it, has its centre 24.05 mm
    // further both ways: 24.05·√2 − 30 = 4.01 mm away, although it reaches 35.36 mm to each side.
    let (shop, mut plan) = (shop(), plan());
    let slanted = &mut run(&mut plan, "tall-003").pieces[2];
    (slanted.x, slanted.y) = (Millimetres(164.05), Millimetres(204.05));
    assert_eq!(crate::broken(&shop, &plan), [].into());

    // At 24 mm it is 3.94 mm away.
    let slanted = &mut run(&mut plan, "tall-003").pieces[2];
    (slanted.x, slanted.y) = (Millimetres(164.0), Millimetres(204.0));
    assert_eq!(crate::broken(&shop, &plan), [Rule::Spacing].into());
}

/// Gives the bracket, 60 × 40 on the bed, this outline, in the shop and wherever it lies.
fn with_outline(corners: &[[f64; 2]]) -> (beamyard::scenario::Scenario, beamyard::plan::Plan) {
    let (mut shop, mut plan) = (shop(), plan());
    let mesh = prism::measured(corners, shop.parts[BRACKET.0].size[2].0);
    let outline = Arc::new(mesh.whole.lying[2].outline.clone());
    let part = &mut shop.parts[BRACKET.0];
    // As much plastic as before, so that nothing else changes.
    part.grams = Some(part.grams.unwrap_or(beamyard::units::Grams(30.0)));
    part.turns = Turns::Every(45);
    part.shape = Shape::Mesh(mesh);
    for piece in plan.runs.iter_mut().flat_map(|run| &mut run.pieces) {
        if piece.part == BRACKET {
            piece.outline = Some(Arc::clone(&outline));
        }
    }
    (shop, plan)
}

/// What the audit finds about outlines.
fn about_outlines(
    shop: &beamyard::scenario::Scenario,
    plan: &beamyard::plan::Plan,
) -> BTreeSet<Rule> {
    let all = crate::broken(shop, plan);
    let about = [Rule::Outline, Rule::Turn, Rule::InsideBed, Rule::Spacing];
    about
        .into_iter()
        .filter(|rule| all.contains(rule))
        .collect()
}

#[test]
fn outlines_may_lie_in_each_others_notch_and_no_closer_than_the_spacing() {
    // An L of 60 × 40, 12 wide, about (100, 100): its long arm is x 70 to 130, y 80 to 92; its short one x 70 to 82,
    // y 80 to 120.
    let l = [
        [0.0, 0.0],
        [60.0, 0.0],
        [60.0, 12.0],
        [12.0, 12.0],
        [12.0, 40.0],
        [0.0, 40.0],
    ];
    let (shop, mut plan) = with_outline(&l);
    // A second one about (116, 112), turned by half a turn: its long arm is x 86 to 146, y 120 to 132; its short one
    // x 134 to 146, y 92 to 132. So it is 86 − 82 = 4 and 134 − 130 = 4 mm off, though their boxes overlap.
    let pieces = &mut run(&mut plan, "tall-003").pieces;
    let put = |piece: &mut beamyard::plan::Piece, x: f64, y: f64, turn: f64| {
        (piece.x, piece.y, piece.turn) = (Millimetres(x), Millimetres(y), turn);
    };
    put(&mut pieces[0], 100.0, 100.0, 0.0);
    put(&mut pieces[1], 116.0, 112.0, 180.0);
    put(&mut pieces[2], 200.0, 200.0, 45.0);
    assert_eq!(about_outlines(&shop, &plan), [].into());
    put(
        &mut run(&mut plan, "tall-003").pieces[1],
        115.9,
        112.0,
        180.0,
    );
    assert_eq!(about_outlines(&shop, &plan), [Rule::Spacing].into());
    // Nor in the same place.
    put(&mut run(&mut plan, "tall-003").pieces[1], 100.0, 100.0, 0.0);
    assert_eq!(about_outlines(&shop, &plan), [Rule::Spacing].into());
}

#[test]
fn an_outline_may_lie_where_its_box_would_be_in_the_margin() {
    // A triangle that is half of 60 × 40, without the corner (-30, -20). Turned by 45°, it reaches (30 − 20)·√½ = 7.07 mm
    // below its centre; its box would reach (30 + 20)·√½ = 35.36.
    let half = [[60.0, 0.0], [60.0, 40.0], [0.0, 40.0]];
    let (shop, mut plan) = with_outline(&half);
    let piece = &mut run(&mut plan, "tall-003").pieces[2];
    (piece.x, piece.y, piece.turn) = (Millimetres(200.0), Millimetres(12.1), 45.0);
    assert_eq!(about_outlines(&shop, &plan), [].into());
    run(&mut plan, "tall-003").pieces[2].y = Millimetres(12.0);
    assert_eq!(about_outlines(&shop, &plan), [Rule::InsideBed].into());
}
