//! What a plan cautions about, by rule.

use beamyard::plan::{Facts, Plan, cautions, copy_grams, failures};
use beamyard::progress::Progress;
use beamyard::routes::RouteKind;
use beamyard::scenario::{Assembly, AssemblyIndex, Scenario};
use beamyard::units::{Grams, Millimetres, Minutes};

use crate::demo::{self, CAP, CHORD, FOOT, LEG};

/// The cautions of the demo's plan after `change`, with copies of no weight unless it says so.
fn shown(change: impl FnOnce(&mut Scenario, &mut Plan, &mut Vec<Grams>)) -> Vec<String> {
    let mut scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let mut copy_grams = vec![Grams::ZERO; scenario.parts.len()];
    change(&mut scenario, &mut plan, &mut copy_grams);
    plan.failures = failures(&scenario, &Progress::none(&scenario));
    let facts = Facts {
        runs: &plan.runs,
        failures: &plan.failures,
        reserves: &plan.reserves,
        gluings: &plan.gluings,
        orders: &plan.orders,
        copy_grams: &copy_grams,
        least_support: &[],
    };
    cautions(&scenario, &facts)
}

fn about(subject: &str, cautions: &[String]) -> Option<String> {
    let mut of_it = cautions
        .iter()
        .filter(|caution| caution.starts_with(subject));
    let first = of_it.next().cloned();
    assert!(of_it.next().is_none(), "{subject} twice");
    first
}

#[test]
fn nothing_printed_and_nothing_joined_needs_no_caution() {
    let cautions = shown(|_, plan, _| {
        plan.runs.clear();
        plan.gluings.clear();
        plan.orders.clear();
    });
    assert_eq!(cautions, Vec::<String>::new());
}

#[test]
fn parts_that_hang_over_however_they_lie_are_named_the_most_support_first() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    let shown = |runs, grams: &[(usize, f64)]| {
        let mut least_support = vec![Grams::ZERO; scenario.parts.len()];
        for &(part, support) in grams {
            least_support[part] = Grams(support);
        }
        let facts = Facts {
            runs,
            failures: &[],
            reserves: &[],
            gluings: &[],
            orders: &[],
            copy_grams: &vec![Grams::ZERO; scenario.parts.len()],
            least_support: &least_support,
        };
        about("Support", &cautions(&scenario, &facts))
    };
    assert_eq!(shown(&plan.runs, &[]), None);
    let support = shown(&plan.runs, &[(CAP.0, 1.5), (FOOT.0, 12.0)]).expect("two hang over");
    assert!(
        support.starts_with("Support: foot (12.0 g a copy), cap (1.5 g a copy) — "),
        "{support}"
    );
    // Who prints none of it needs no word.
    assert_eq!(shown(&[], &[(CAP.0, 1.5)]), None);
}

#[test]
fn runs_outside_bench_hours_are_counted_in_the_word_on_fire() {
    // Only tall-003, Tuesday 18:10 to 19:45, lies inside a window (17:30 to 22:30): 8 of 9 do not.
    let fire = about("Fire", &shown(|_, _, _| {})).expect("runs print at night");
    assert!(fire.contains("8 of 9 runs"), "{fire}");
    for word in [
        "smoke alarm",
        "non-combustible",
        "clear space",
        "maker's instructions",
        "asleep",
        "Local fire rules",
    ] {
        assert!(fire.contains(word), "{word}: {fire}");
    }
    let attended = shown(|_, plan, _| plan.runs.retain(|run| run.id == "tall-003"));
    assert_eq!(about("Fire", &attended), None);
}

#[test]
fn abs_and_asa_are_named_in_the_word_on_air() {
    let pla = about("Air", &shown(|_, _, _| {})).expect("something is printed");
    assert!(!pla.contains("ASA"), "{pla}");
    let asa = shown(|scenario, _, _| scenario.filaments[0].material = "ASA-CF".into());
    let asa = about("Air", &asa).expect("something is printed");
    assert!(asa.contains("ASA-CF gives off more"), "{asa}");
}

#[test]
fn from_15_kg_a_second_person_and_from_25_kg_not_one() {
    // The pivot is six caps and nothing else. The jib and the tower stand on it, so they are as heavy.
    let lifting = |cap: f64| about("Lifting", &shown(|_, _, grams| grams[CAP.0] = Grams(cap)));
    // 6 × 2499.9 g = 14 999.4 g.
    assert_eq!(lifting(2499.9), None);
    let second = lifting(2500.0).expect("15 kg");
    assert!(second.contains("pivot (15.0 kg)") && second.contains("second person or a trolley"));
    assert!(!second.contains("not one person"));
    // 6 × 4166.6 g = 24 999.6 g, 6 × 4166.7 g = 25 000.2 g.
    assert!(
        !lifting(4166.6)
            .expect("25 kg less a little")
            .contains("not one person")
    );
    let heavy = lifting(4166.7).expect("25 kg");
    assert!(heavy.contains("not one person") && !heavy.contains("trolley"));
    assert!(heavy.contains("Local rules for lifting"));
}

#[test]
fn an_assembly_weighs_what_it_needs_each_once() {
    // The tower needs the jib, the jib needs the pivot; a crown needs the tower and the pivot. Caps 6 × 1 kg, feet 4 × 2 kg:
    // the crown weighs 6 + 8 = 14 kg, and 20 kg if the pivot counted twice.
    let weigh = |foot: f64| {
        about(
            "Lifting",
            &shown(|scenario, _, grams| {
                grams[CAP.0] = Grams(1000.0);
                grams[FOOT.0] = Grams(foot);
                scenario.assemblies.push(Assembly {
                    id: "crown".into(),
                    parts: Vec::new(),
                    needs: vec![AssemblyIndex(2), AssemblyIndex(0)],
                    places: Default::default(),
                    lift: None,
                    bench: Minutes::ZERO,
                    cure: Minutes::ZERO,
                    due: None,
                    late: beamyard::units::Money::ZERO,
                });
            }),
        )
    };
    assert_eq!(weigh(2000.0), None);
    // Feet 4 × 2.25 kg: 6 + 9 = 15 kg.
    let lifting = weigh(2250.0).expect("15 kg");
    assert!(
        lifting.contains("crown (15.0 kg)") && !lifting.contains("jib"),
        "{lifting}"
    );
}

#[test]
fn of_many_heavy_assemblies_the_heaviest_are_named_and_the_rest_counted() {
    // Ten further assemblies on the pivot's 15 kg, the n-th with n caps of 2.5 kg of its own: 17.5 to 40 kg. From 25 kg (4 caps)
    // on there are seven, of which six are named: 27.5 to 40 kg.
    let lifting = about(
        "Lifting",
        &shown(|scenario, _, grams| {
            grams[CAP.0] = Grams(2500.0);
            let pivot = scenario.assemblies[0].clone();
            scenario.assemblies.truncate(1);
            scenario.assemblies.extend((1..=10).map(|caps| Assembly {
                id: format!("frame-{caps}"),
                parts: vec![(CAP, caps)],
                needs: vec![AssemblyIndex(0)],
                ..pivot.clone()
            }));
        }),
    )
    .expect("40 kg");
    assert!(
        lifting.starts_with("Lifting: frame-10 (40.0 kg), frame-9 (37.5 kg)"),
        "{lifting}"
    );
    assert!(
        lifting.contains("frame-5 (27.5 kg) and 1 more — not one person"),
        "{lifting}"
    );
    assert!(!lifting.contains("frame-4"), "{lifting}");
}

#[test]
fn parts_longer_than_two_metres_get_a_word_on_length() {
    let length = |mm: f64| {
        about(
            "Length",
            &shown(|scenario, _, _| scenario.parts[LEG.0].size[0] = Millimetres(mm)),
        )
    };
    assert_eq!(length(2000.0), None);
    let word = length(2001.0).expect("longer than 2 m");
    assert!(word.contains("tower-leg (2001 mm)") && word.contains("local rules"));
}

#[test]
fn long_split_and_belt_parts_are_spans_and_parts_in_one_piece_on_a_bed_are_not() {
    let spans = |route: RouteKind, mm: f64| {
        about(
            "Spans",
            &shown(|scenario, plan, _| {
                scenario.parts[LEG.0].size[0] = Millimetres(500.0);
                scenario.parts[CHORD.0].size[0] = Millimetres(mm);
                for piece in plan.runs.iter_mut().flat_map(|run| &mut run.pieces) {
                    if piece.part == CHORD {
                        piece.route = route;
                    }
                }
            }),
        )
    };
    for route in [RouteKind::Split, RouteKind::Belt] {
        assert_eq!(spans(route, 999.0), None);
        let word = spans(route, 1000.0).expect("a metre");
        assert!(word.contains("jib-chord (1000 mm)") && word.contains("qualified person"));
        assert!(word.contains("not the full section"));
    }
    assert_eq!(spans(RouteKind::Diagonal, 1000.0), None);
}

#[test]
fn glue_needs_air_and_its_whole_cure() {
    assert!(about("Glue", &shown(|_, _, _| {})).is_some());
    let without = |scenario: &mut Scenario| {
        scenario.joints[0].grams = Grams::ZERO;
        scenario.joints[0].cure = Minutes::ZERO;
    };
    // A joint of rod alone, with nothing that cures.
    assert_eq!(
        about("Glue", &shown(|scenario, _, _| without(scenario))),
        None
    );
    let cured = shown(|scenario, plan, _| {
        plan.gluings.clear();
        scenario.assemblies[0].cure = Minutes(60);
    });
    assert!(about("Glue", &cured).is_some());
}

#[test]
fn scrap_is_the_sum_of_the_machines_shares_over_their_runs() {
    // 9 runs at 3 %: 0.27.
    let scrap = about("Scrap", &shown(|_, _, _| {})).expect("machines fail");
    assert!(scrap.contains("about 0.3 of 9 runs"), "{scrap}");
    let never = shown(|scenario, _, _| {
        for machine in &mut scenario.machines {
            machine.scrap = 0.0;
        }
    });
    assert_eq!(about("Scrap", &never), None);
}

#[test]
fn what_stands_by_for_failures_is_told_with_its_certainty() {
    let told = |spares: &[(usize, u32, bool)]| {
        let told = shown(|scenario, _, _| {
            for part in &mut scenario.parts {
                (part.spares, part.reserve) = (0, false);
            }
            scenario.build.confidence = 0.9;
            for &(part, number, auto) in spares {
                scenario.parts[part].spares = number;
                scenario.parts[part].reserve = auto;
            }
        });
        about("Scrap", &told).expect("machines fail").to_owned()
    };
    let none = told(&[(LEG.0, 0, true)]);
    assert!(
        none.contains("Neither time nor filament is reserved"),
        "{none}"
    );
    let both = told(&[(LEG.0, 2, true), (CAP.0, 1, false)]);
    assert!(!both.contains("Neither"), "{both}");
    assert!(
        both.contains("2 tower-leg, so that enough of each succeed with a certainty of 90 %"),
        "{both}"
    );
    assert!(both.contains("1 cap, as many as you asked for"), "{both}");
}

#[test]
fn an_order_that_was_due_before_the_start_is_named() {
    // Black by 8 January, grey by the 11th, the day of the start.
    let orders = about("Orders", &shown(|_, _, _| {})).expect("black is late");
    assert!(
        orders.contains("black by 2027-01-08") && !orders.contains("grey"),
        "{orders}"
    );
    let in_time = shown(|_, plan, _| plan.orders.retain(|order| order.filament != demo::BLACK));
    assert_eq!(about("Orders", &in_time), None);
}

#[test]
fn every_word_on_danger_leaves_the_last_word_to_rules_and_none_promises_anything() {
    let all = shown(|scenario, _, grams| {
        grams[CAP.0] = Grams(5000.0);
        scenario.parts[LEG.0].size[0] = Millimetres(2400.0);
        scenario.filaments[1].material = "ABS".into();
    });
    for subject in ["Fire", "Air", "Lifting", "Length", "Spans", "Glue"] {
        let word = about(subject, &all).expect("the plan gives cause");
        assert!(word.to_lowercase().contains("rules"), "{word}");
    }
    for word in &all {
        assert!(!word.to_lowercase().contains("safe"), "{word}");
    }
}

#[test]
fn a_copy_weighs_its_pieces_and_its_joints() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    let routes = demo::routes(&scenario);
    let grams = copy_grams(&scenario, &routes, &plan.runs);
    // Two lengths of 92 g and 54 g of joint are 238 g; a leg from the belt is 640 g.
    assert_eq!(grams[CHORD.0], Grams(238.0));
    assert_eq!(grams[LEG.0], Grams(640.0));
    // No run makes anything: nothing weighs anything.
    assert_eq!(copy_grams(&scenario, &routes, &[])[CHORD.0], Grams::ZERO);
}

#[test]
fn the_heaviest_that_another_takes_is_named_and_a_lift_that_asks_too_much() {
    // The pivot, six caps of 2.6 kg, is taken by the jib; the tower takes both.
    let heavy = |change: &dyn Fn(&mut Scenario)| {
        about(
            "Lifting",
            &shown(|scenario, _, grams| {
                grams[CAP.0] = Grams(2600.0);
                change(scenario);
            }),
        )
        .expect("more than 15 kg")
    };
    let text = heavy(&|_| {});
    assert!(
        text.contains("Heaviest to be lifted into another:"),
        "{text}"
    );
    assert!(!text.contains("recommended"), "{text}");
    // With the hands 50 cm out half of 23 kg is recommended at best: 11.5 kg against 15.6.
    let text = heavy(&|scenario| {
        scenario.assemblies[0].lift = Some(beamyard::scenario::Handling {
            reach: 50.0,
            from: 75.0,
            to: 75.0,
            turn: 0.0,
            grip: beamyard::scenario::Grip::Good,
        });
    });
    assert!(
        text.contains("as described: pivot (15.6 kg), recommended 11.5 kg"),
        "{text}"
    );
}

#[test]
fn an_assembly_longer_than_two_metres_by_its_places_gets_a_word_on_length() {
    let length = |apart: f64| {
        about(
            "Length",
            &shown(|scenario, _, _| {
                scenario.parts[LEG.0].size[0] = Millimetres(500.0);
                let points = [0.0, apart].map(|x| [x, 0.0, 0.0].map(Millimetres));
                scenario.assemblies[0].places.parts = vec![(CAP, points.to_vec())];
            }),
        )
    };
    assert_eq!(length(2000.0), None);
    let word = length(2001.0).expect("longer than 2 m");
    assert!(word.contains("pivot (at least 2001 mm)"), "{word}");
}
