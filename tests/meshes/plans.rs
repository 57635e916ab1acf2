//! Whole plans of parts with meshes: audited, each length with its own figures, faults found.

use beamyard::plan::Plan;
use beamyard::plan::audit::{Rule, audit, recount_cost};
use beamyard::planning::{Options, Planned, plan};
use beamyard::routes::{RouteKind, routes};
use beamyard::scenario::{self, Axis, Scenario};
use beamyard::search::portfolio::Limit;

use super::made::*;

/// A chord with a foot at its low end: 400 long, 20 × 20, the first 50 mm 40 wide.
fn chord() -> Vec<Triangle> {
    let corners = [
        [50.0, 20.0],
        [50.0, 40.0],
        [0.0, 40.0],
        [0.0, 0.0],
        [400.0, 0.0],
        [400.0, 20.0],
    ];
    prism(&corners, 20.0)
}

/// A gallows: an arm of 30 × 10 × 10 on a post, so that something hangs over unless it lies or stands on its head.
fn gallows() -> Vec<Triangle> {
    let corners = [
        [10.0, 20.0],
        [30.0, 20.0],
        [30.0, 30.0],
        [0.0, 30.0],
        [0.0, 0.0],
        [10.0, 0.0],
    ];
    prism(&corners, 10.0)
}

fn shop() -> Scenario {
    let folder = tempfile::tempdir().unwrap();
    for (name, body) in [("chord.stl", chord()), ("gallows.stl", gallows())] {
        std::fs::write(folder.path().join(name), binary(&body, b"")).unwrap();
    }
    let text = "\
build: {start: 2027-01-11 07:00}
bench: {hours: {mon-sun: [\"08:00-20:00\"]}}
machines:
  - {id: tall, kind: bed, bed: [260, 260], height: 300}
  - {id: small, kind: bed, bed: [180, 180], height: 200, hourly: 0.1}
filaments: [{id: yellow, material: PLA}]
settings: {light: {layer: 0.2, line: 0.45, infill: 10%}}
joints: {glue: {shortest: 100, bench: 5 min, cure: 1 h}}
parts:
  - {id: chord, quantity: 3, mesh: chord.stl, lie: [z], split: {joint: glue, into: 2..4}}
  - {id: gallows, quantity: 4, mesh: gallows.stl, lie: [y]}
  - {id: block, quantity: 2, size: [40, 30, 20]}
assemblies:
  - {id: frame, parts: {chord: 3, gallows: 4, block: 2}, bench: 1 h, due: 2027-01-14 12:00, late: 20}
";
    scenario::read_text("shop.yaml", text, folder.path())
        .unwrap_or_else(|complaints| panic!("{complaints}"))
        .scenario
}

fn planned(shop: &Scenario) -> Plan {
    let options = Options {
        limit: Some(Limit::Moves(4_000)),
        ..Options::default()
    };
    let Planned { plan, .. } = plan(shop, &options).unwrap_or_else(|no| panic!("{no:?}"));
    let (said, recounted) = (plan.cost.total().0, recount_cost(shop, &plan).total().0);
    assert!(
        (said - recounted).abs() < 1e-6,
        "{said} is said, {recounted} adds up"
    );
    plan
}

#[test]
fn a_split_mesh_has_lengths_of_their_own_and_every_copy_has_each_once() {
    let shop = shop();
    let plan = planned(&shop); // which has passed its audit
    let chords = || {
        plan.runs
            .iter()
            .flat_map(|run| &run.pieces)
            .filter(|p| p.part.0 == 0)
    };
    assert!(chords().all(|piece| piece.route == RouteKind::Split));
    for number in 1..=3 {
        let mut lengths: Vec<u32> = chords()
            .filter(|p| p.number == number)
            .map(|p| p.length)
            .collect();
        lengths.sort_unstable();
        let of = chords().find(|p| p.number == number).unwrap().of;
        assert_eq!(lengths, (1..=of).collect::<Vec<_>>());
    }
    // The first length has the foot, and so the wider box.
    for piece in chords() {
        let wide = if piece.length == 1 { 40.0 } else { 20.0 };
        assert!((piece.size[1].value() - wide).abs() < 1e-9, "{piece:?}");
    }
    // Its grams are its own: 1.2 times a plain length, as the volumes are (in two lengths 100 000 and 80 000 mm³), or so.
    let form = &routes(&shop)[0].forms[0];
    assert_eq!((form.lengths, form.kinds.len()), (2, 2));
    let grams = |kind| {
        form.ways
            .iter()
            .find(|way| way.kind == kind)
            .unwrap()
            .grams
            .value()
    };
    assert!(grams(0) > 1.05 * grams(1) && grams(0) < 1.4 * grams(1));
    assert!((form.kinds[0].share - 100.0 / 180.0).abs() < 1e-9);
}

#[test]
fn alike_lengths_are_one_kind() {
    // In four: the foot's own, then three plain ones alike, whose ends are cut or the body's own.
    let routes = routes(&shop());
    let form = routes[0]
        .forms
        .iter()
        .find(|form| form.lengths == 4)
        .unwrap();
    let positions: Vec<_> = form
        .kinds
        .iter()
        .map(|kind| kind.positions.clone())
        .collect();
    assert_eq!(positions, [vec![1], vec![2, 3, 4]]);
}

#[test]
fn a_part_stands_on_its_head_where_that_needs_no_support() {
    let shop = shop();
    for way in &routes(&shop)[1].forms[0].ways {
        assert_eq!((way.upright, way.over), (Axis::Y, true));
        assert_eq!(way.support.value(), 0.0);
        let outline = way.outline.as_ref().expect("a mesh has an outline");
        assert!((outline.area() - 300.0).abs() < 1e-3);
    }
    let plan = planned(&shop);
    let pieces = plan.runs.iter().flat_map(|run| &run.pieces);
    assert!(
        pieces
            .filter(|p| p.part.0 == 1)
            .all(|p| p.over && p.upright == Axis::Y)
    );
}

#[test]
fn the_audit_finds_a_piece_that_lies_otherwise_than_it_says() {
    let shop = shop();
    let good = planned(&shop);
    let broken = |change: &dyn Fn(&mut Plan)| {
        let mut plan = good.clone();
        change(&mut plan);
        let rules: Vec<Rule> = audit(&shop, &plan)
            .into_iter()
            .map(|fault| fault.rule)
            .collect();
        rules
    };
    fn piece(plan: &mut Plan, part: usize) -> &mut beamyard::plan::Piece {
        let pieces = plan.runs.iter_mut().flat_map(|run| &mut run.pieces);
        pieces
            .into_iter()
            .find(|piece| piece.part.0 == part)
            .expect("it is made")
    }
    assert!(broken(&|_| {}).is_empty());
    // On its feet the gallows would take support: other grams.
    assert!(broken(&|plan| piece(plan, 1).over = false).contains(&Rule::RunGrams));
    // On an axis that `lie` does not allow.
    assert!(broken(&|plan| piece(plan, 1).upright = Axis::Z).contains(&Rule::Lying));
    // A plain length in the place of the one with the foot.
    assert!(
        broken(&|plan| piece(plan, 0).size[1] = beamyard::units::Millimetres(30.0))
            .contains(&Rule::Lying)
    );
}

#[test]
fn the_audit_finds_measures_that_disagree() {
    let shop = shop();
    let plan = planned(&shop);
    let with = |change: &dyn Fn(&mut scenario::MeshShape)| {
        let mut other = shop.clone();
        let mut mesh = other.parts[0].mesh().unwrap().clone();
        change(&mut mesh);
        other.parts[0].shape = scenario::Shape::Mesh(std::sync::Arc::new(mesh));
        audit(&other, &plan)
            .into_iter()
            .any(|fault| fault.rule == Rule::Measures)
    };
    assert!(!with(&|_| {}));
    assert!(with(&|mesh| mesh.whole.volume *= 1.01));
    assert!(with(&|mesh| mesh.whole.lying[2].up[0].level *= 1.01));
    assert!(with(&|mesh| mesh.whole.lying[2].walls *= 1.01));
    assert!(with(
        &|mesh| mesh.whole.lying[1].outline = mesh.whole.lying[2].outline.clone()
    ));
    assert!(with(
        &|mesh| mesh.lengths.get_mut(&2).unwrap()[0].volume *= 1.01
    ));
}
