//! Pieces: where they may be made, how they lie, how far apart; how many there are and what they are for.

use std::collections::BTreeSet;
use std::sync::Arc;

use beamyard::plan::audit::Rule;
use beamyard::routes::RouteKind;
use beamyard::scenario::meshes::measure;
use beamyard::scenario::{Axis, Hands, MachineKind, Shape};
use beamyard::units::Millimetres;

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
    a_mesh_whose_faces_have_more_area_than_all_of_it: Measures + Lying => |shop, _| {
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
