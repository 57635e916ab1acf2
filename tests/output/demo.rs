//! A small quayside crane, planned by hand: three machines, three filaments, five parts, three assemblies.
//!
//! The bench is open Monday to Friday 07:00–08:30 and 17:30–22:30, at weekends 09:00–22:00, in Oslo; the build starts on
//! Monday 11 January 2027 at 07:00 (+01:00).

use std::collections::{BTreeMap, BTreeSet};

use beamyard::calendar::Calendar;
use beamyard::plan::{
    AssemblyDates, Cost, Gluing, Order, Piece, Plan, RouteUse, Run, Sheets, SpoolEnd, SpoolNote,
    Trial, Work,
};
use beamyard::routes::{Form, Kind, PartRoutes, Refusal, RouteKind, Way};
use beamyard::scenario::{
    Assembly, AssemblyIndex, Axis, Bench, Build, DaySpan, Filament, FilamentIndex, Hands, Hardware,
    Joint, JointIndex, Machine, MachineIndex, MachineKind, Part, PartIndex, Scenario, Settings,
    SettingsIndex, Shape, Split, Turns,
};
use beamyard::units::{
    CubicMillimetres, Density, Flow, Grams, Millimetres, Minutes, Money, PricePerKilogram, Seconds,
    Watts,
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, TimeZone, Utc};

pub const TALL: MachineIndex = MachineIndex(0);
pub const WIDE: MachineIndex = MachineIndex(1);
pub const BELT: MachineIndex = MachineIndex(2);

pub const YELLOW: FilamentIndex = FilamentIndex(0);
pub const BLACK: FilamentIndex = FilamentIndex(1);
pub const GREY: FilamentIndex = FilamentIndex(2);

pub const CHORD: PartIndex = PartIndex(0);
pub const LACING: PartIndex = PartIndex(1);
pub const LEG: PartIndex = PartIndex(2);
pub const FOOT: PartIndex = PartIndex(3);
pub const CAP: PartIndex = PartIndex(4);

/// Files as they are written one winter morning, in place of none.
pub fn issue() -> beamyard::report::Issue {
    beamyard::report::Issue::first(
        Utc.with_ymd_and_hms(2027, 1, 9, 8, 30, 0)
            .single()
            .expect("UTC has every time once"),
    )
}

const PIVOT: AssemblyIndex = AssemblyIndex(0);
pub const JIB: AssemblyIndex = AssemblyIndex(1);
pub const TOWER: AssemblyIndex = AssemblyIndex(2);

/// A local moment of the build, `2027-01-11 07:00`.
pub fn at(local: &str) -> DateTime<Utc> {
    let local = NaiveDateTime::parse_from_str(local, "%Y-%m-%d %H:%M")
        .expect("a test writes dates in this form");
    chrono_tz::Europe::Oslo
        .from_local_datetime(&local)
        .single()
        .expect("a test's hours come once")
        .to_utc()
}

fn span(open: u32, close: u32) -> DaySpan {
    DaySpan {
        open: open * 30,
        close: close * 30,
    }
}

fn machine(id: &str, kind: MachineKind, loaded: Option<FilamentIndex>) -> Machine {
    Machine {
        id: id.into(),
        kind,
        margin: Millimetres(5.0),
        spacing: Millimetres(4.0),
        nozzle: Millimetres(0.6),
        flow: Flow(14.0),
        layer_time: Seconds(4.0),
        materials: BTreeSet::from(["PLA".into(), "ASA".into()]),
        loaded,
        warm_up: Seconds(480.0),
        turnaround: Minutes(10),
        swap: Minutes(8),
        purge: Grams(12.0),
        watts: Watts(130.0),
        hourly: Money(0.40),
        scrap: 0.03,
        offline: Vec::new(),
        unattended: true,
    }
}

pub fn bed(id: &str, side: [f64; 2], loaded: Option<FilamentIndex>) -> Machine {
    let kind = MachineKind::Bed {
        bed: side.map(Millimetres),
        height: Millimetres(300.0),
    };
    machine(id, kind, loaded)
}

fn belt(id: &str) -> Machine {
    let kind = MachineKind::Belt {
        section: [Millimetres(240.0), Millimetres(200.0)],
        longest: Millimetres(2400.0),
        gap: Millimetres(20.0),
    };
    machine(id, kind, None)
}

pub fn filament(id: &str, spools: &[f64]) -> Filament {
    Filament {
        id: id.into(),
        material: "PLA".into(),
        colour: "#e8b10a".into(),
        density: Density(1.24),
        modulus: None,
        price_kg: PricePerKilogram(21.0),
        spools: spools.iter().copied().map(Grams).collect(),
        diameter: Millimetres(1.75),
        spool: Grams(1000.0),
        lead: Minutes(4 * 24 * 60),
    }
}

fn part(id: &str, quantity: u32, size: [f64; 3], filament: FilamentIndex) -> Part {
    Part {
        id: id.into(),
        quantity,
        size: size.map(Millimetres),
        shape: Shape::Box { solid: 0.8 },
        turns: Turns::USUAL,
        filament,
        settings: SettingsIndex(0),
        lie: Axis::ALL.to_vec(),
        split: None,
        belt: true,
        finishing: Seconds(240.0),
        spares: 0,
        reserve: false,
        together: None,
        variants: Vec::new(),
        trial: 0,
        alone: false,
        ready: None,
        minutes: vec![None; 3],
        only: vec![true; 3],
        span: None,
        grams: None,
        toolpaths: Vec::new(),
    }
}

/// The scenario.
pub fn scenario() -> Scenario {
    let weekday = vec![span(14, 17), span(35, 45)];
    let weekend = vec![span(18, 44)];
    let hours = [
        weekday.clone(),
        weekday.clone(),
        weekday.clone(),
        weekday.clone(),
        weekday,
        weekend.clone(),
        weekend,
    ];
    let assembly = |id: &str, parts: &[(PartIndex, u32)], needs: &[AssemblyIndex], due| Assembly {
        id: id.into(),
        parts: parts.to_vec(),
        needs: needs.to_vec(),
        places: Default::default(),
        lift: None,
        bench: Minutes(120),
        cure: Minutes::ZERO,
        due,
        late: Money(40.0),
    };
    Scenario {
        file: "quayside-crane.yaml".into(),
        build: Build {
            name: "Quayside crane".into(),
            scale: 6.0,
            start: at("2027-01-11 07:00"),
            zone: chrono_tz::Europe::Oslo,
            each_day: Money(2.0),
            confidence: 0.95,
            spool_margin: 0.0,
            firm: None,
            churn: Money(1.0),
            original: Default::default(),
            earlier: Vec::new(),
        },
        currency: "EUR".into(),
        measured: Vec::new(),
        bench: Bench {
            hours,
            away: BTreeSet::new(),
            hands: Hands::Count(1),
            unattended: true,
            bench_hour: Money(15.0),
            energy_kwh: Money(0.30),
        },
        machines: vec![
            bed("tall", [300.0, 300.0], Some(YELLOW)),
            bed("wide", [400.0, 300.0], Some(GREY)),
            belt("belt"),
        ],
        filaments: vec![
            filament("yellow", &[1000.0, 430.0]),
            filament("black", &[800.0]),
            filament("grey", &[]),
        ],
        settings: vec![Settings {
            id: "light".into(),
            layer: Millimetres(0.3),
            line: Millimetres(0.65),
            perimeters: 2,
            top: 3,
            bottom: 2,
            infill: 0.05,
            overhang: 45,
            support: 0.15,
        }],
        joints: vec![Joint {
            id: "steel-rod".into(),
            hardware: Some(Hardware {
                item: "M8 rod".into(),
                grams_per_mm: 0.31,
                price_per_mm: Money(0.004),
                length: Millimetres(160.0),
                stiffener: None,
            }),
            shortest: Millimetres(120.0),
            bench: Seconds(360.0),
            cure: Minutes(480),
            grams: Grams(4.0),
        }],
        parts: vec![
            Part {
                split: Some(Split {
                    joint: JointIndex(0),
                    into: 2..=6,
                }),
                ..part("jib-chord", 4, [460.0, 48.0, 48.0], YELLOW)
            },
            part("lacing", 6, [420.0, 30.0, 20.0], BLACK),
            part("tower-leg", 4, [1380.0, 60.0, 60.0], GREY),
            part("foot", 4, [90.0, 90.0, 40.0], BLACK),
            Part {
                spares: 1,
                reserve: false,
                together: None,
                variants: Vec::new(),
                trial: 3,
                ..part("cap", 6, [40.0, 40.0, 12.0], YELLOW)
            },
        ],
        assemblies: vec![
            assembly("pivot", &[(CAP, 6)], &[], None),
            assembly(
                "jib",
                &[(CHORD, 4), (LACING, 6)],
                &[PIVOT],
                Some(at("2027-01-15 18:00")),
            ),
            assembly(
                "tower",
                &[(LEG, 4), (FOOT, 4)],
                &[JIB],
                Some(at("2027-01-22 22:00")),
            ),
        ],
    }
}

/// Numbers the copies of a plan as its runs are written down.
#[derive(Default)]
struct Copies {
    pieces: BTreeMap<(PartIndex, u32), u32>,
    runs: BTreeMap<MachineIndex, u32>,
}

impl Copies {
    /// `count` pieces of a part, the `length`-th `of` so many, in a row.
    fn pieces(
        &mut self,
        scenario: &Scenario,
        part: PartIndex,
        count: u32,
        (length, of): (u32, u32),
        route: RouteKind,
    ) -> Vec<Piece> {
        let drawn = &scenario.parts[part.0];
        let assembly = scenario
            .assemblies
            .iter()
            .position(|assembly| assembly.parts.iter().any(|(used, _)| *used == part))
            .map(AssemblyIndex);
        (0..count)
            .map(|place| {
                let number = self.pieces.entry((part, length)).or_default();
                *number += 1;
                let mut size = drawn.size;
                size[0] = size[0] * (1.0 / f64::from(of));
                Piece {
                    part,
                    number: *number,
                    length,
                    of,
                    assembly: assembly.filter(|_| *number <= drawn.quantity),
                    route,
                    x: Millimetres(150.0),
                    y: Millimetres(40.0 + 52.0 * f64::from(place)),
                    turn: if route == RouteKind::Diagonal {
                        35.0
                    } else {
                        0.0
                    },
                    size,
                    upright: Axis::Z,
                    over: false,
                    outline: None,
                }
            })
            .collect()
    }

    fn run(
        &mut self,
        scenario: &Scenario,
        machine: MachineIndex,
        filament: FilamentIndex,
        (setup, start, minutes): (Option<&str>, &str, i64),
        grams: f64,
        pieces: Vec<Piece>,
    ) -> Run {
        let number = self.runs.entry(machine).or_default();
        *number += 1;
        Run {
            id: format!("{}-{number:03}", scenario.machines[machine.0].id),
            machine,
            filament,
            settings: SettingsIndex(0),
            swap_from: None,
            setup: setup.map(at),
            start: at(start),
            end: at(start) + chrono::Duration::minutes(minutes),
            minutes: Minutes(minutes),
            alone: alone(scenario, start, minutes),
            grams: Grams(grams),
            pieces,
            spool: SpoolNote::default(),
            waits: None,
            put_off: false,
        }
    }
}

/// Whether a run so long is anywhere outside bench hours.
fn alone(scenario: &Scenario, start: &str, minutes: i64) -> bool {
    let calendar = Calendar::new(scenario);
    let start = calendar.minute(at(start));
    let end = start + i32::try_from(minutes).expect("a few days");
    !calendar.attended(start, end)
}

/// A spool that goes on at the setup.
pub fn put_on(grams: f64) -> SpoolNote {
    SpoolNote {
        put_on: Some(Grams(grams)),
        ..SpoolNote::default()
    }
}

/// The same of a spool that there is, and so has a name.
pub fn put_on_named(name: &str, grams: f64) -> SpoolNote {
    SpoolNote {
        name: Some(name.into()),
        ..put_on(grams)
    }
}

/// The end of a spool during the run, and what is on the next.
pub fn ending(moment: &str, attended: bool, next: f64) -> SpoolNote {
    SpoolNote {
        ends: vec![SpoolEnd {
            at: at(moment),
            attended,
            left: Grams(0.0),
            next: Grams(next),
            next_name: None,
            next_from: None,
        }],
        ..SpoolNote::default()
    }
}

fn runs(scenario: &Scenario) -> Vec<Run> {
    let mut copies = Copies::default();
    let whole = (1, 1);
    let mut runs = Vec::new();

    let first = copies.pieces(scenario, CHORD, 2, (1, 2), RouteKind::Split);
    let caps = copies.pieces(scenario, CAP, 3, whole, RouteKind::Whole);
    let time = (Some("2027-01-11 07:00"), "2027-01-11 07:10", 562);
    let pieces = [first, caps].concat();
    runs.push(Run {
        spool: put_on_named("yellow-2", 430.0),
        ..copies.run(scenario, TALL, YELLOW, time, 260.0, pieces)
    });

    let second = copies.pieces(scenario, CHORD, 4, (2, 2), RouteKind::Split);
    let first = copies.pieces(scenario, CHORD, 2, (1, 2), RouteKind::Split);
    let time = (Some("2027-01-11 17:30"), "2027-01-11 17:40", 980);
    let pieces = [first, second].concat();
    let mut spool = ending("2027-01-12 04:15", false, 1000.0);
    spool.ends[0].next_name = Some("yellow-1".into());
    runs.push(Run {
        spool,
        ..copies.run(scenario, TALL, YELLOW, time, 610.0, pieces)
    });

    let caps = copies.pieces(scenario, CAP, 4, whole, RouteKind::Whole);
    let time = (Some("2027-01-19 18:00"), "2027-01-19 18:10", 95);
    runs.push(copies.run(scenario, TALL, YELLOW, time, 48.0, caps));

    let lacing = copies.pieces(scenario, LACING, 3, whole, RouteKind::Diagonal);
    let feet = copies.pieces(scenario, FOOT, 1, whole, RouteKind::Whole);
    let time = (Some("2027-01-11 07:10"), "2027-01-11 07:28", 540);
    let pieces = [lacing, feet].concat();
    runs.push(Run {
        swap_from: Some(Some(GREY)),
        ..copies.run(scenario, WIDE, BLACK, time, 390.0, pieces)
    });

    let lacing = copies.pieces(scenario, LACING, 3, whole, RouteKind::Diagonal);
    let feet = copies.pieces(scenario, FOOT, 3, whole, RouteKind::Turned);
    let time = (Some("2027-01-12 17:30"), "2027-01-12 17:40", 700);
    let pieces = [lacing, feet].concat();
    runs.push(Run {
        spool: ending("2027-01-12 22:05", true, 1000.0),
        ..copies.run(scenario, WIDE, BLACK, time, 510.0, pieces)
    });

    let leg = copies.pieces(scenario, LEG, 1, whole, RouteKind::Belt);
    let time = (Some("2027-01-15 17:30"), "2027-01-15 17:48", 1500);
    runs.push(Run {
        swap_from: Some(None),
        spool: put_on(1000.0),
        ..copies.run(scenario, BELT, GREY, time, 640.0, leg)
    });
    for start in ["2027-01-16 18:48", "2027-01-17 19:48", "2027-01-18 20:48"] {
        let leg = copies.pieces(scenario, LEG, 1, whole, RouteKind::Belt);
        runs.push(copies.run(scenario, BELT, GREY, (None, start, 1500), 640.0, leg));
    }
    runs
}

fn dates(
    assembly: AssemblyIndex,
    printed: &str,
    start: &str,
    complete: &str,
    late_days: f64,
    float: i64,
) -> AssemblyDates {
    AssemblyDates {
        assembly,
        printed: at(printed),
        start: at(start),
        work: vec![Work {
            from: at(start),
            to: at(complete),
        }],
        complete: at(complete),
        late_days,
        float: Minutes(float),
    }
}

/// A plan for the scenario, made by hand.
pub fn plan(scenario: &Scenario) -> Plan {
    let used = |part, quantity, route, pieces, machine, joint: Option<usize>, why: &str| RouteUse {
        part,
        quantity,
        route,
        pieces,
        machine,
        joint: joint.map(JointIndex),
        long: joint.is_some() || matches!(route, RouteKind::Diagonal | RouteKind::Belt),
        dearer: false,
        why: why.into(),
    };
    let order = |filament, grams, on_hand, spools, order_by: Option<(i32, u32, u32)>| Order {
        filament,
        grams: Grams(grams),
        range: None,
        on_hand: Grams(on_hand),
        spools,
        order_by: order_by.and_then(|(year, month, day)| NaiveDate::from_ymd_opt(year, month, day)),
    };
    let mut plan = Plan {
        sheets: Sheets::default(),
        since: None,
        failures: beamyard::plan::failures(scenario, &beamyard::progress::Progress::none(scenario)),
        reserves: Vec::new(),
        chosen: Vec::new(),
        critical: None,
        idle: Vec::new(),
        seed: 1,
        cost: Cost {
            late: Money(12.343),
            standing: Money(19.2),
            machine: Money(57.444),
            energy: Money(5.6),
            bench: Money(162.25),
            purge: Money(0.252),
            plastic: Money(92.211),
            hardware: Money(2.56),
            calm: Money(0.0),
        },
        bound: Money(248.137),
        decided: Money(259.649),
        finish: at("2027-01-20 21:50"),
        runs: runs(scenario),
        routes: vec![
            used(
                CHORD,
                4,
                RouteKind::Split,
                2,
                TALL,
                Some(0),
                "460 mm is longer than both beds; the belt is taken by tower-leg until Tue 19 Jan, and gluing costs less than \
                 the delay",
            ),
            used(
                LACING,
                6,
                RouteKind::Diagonal,
                1,
                WIDE,
                None,
                "fits only at an angle: 420 mm against 390 mm of bed",
            ),
            used(
                LEG,
                4,
                RouteKind::Belt,
                1,
                BELT,
                None,
                "one piece; split it would need 16 joints",
            ),
            used(FOOT, 1, RouteKind::Whole, 1, WIDE, None, "fits as drawn"),
            used(FOOT, 3, RouteKind::Turned, 1, WIDE, None, "fits turned"),
            used(CAP, 7, RouteKind::Whole, 1, TALL, None, "fits as drawn"),
        ],
        // The bench opens again at 17:30.
        trials: vec![Trial {
            part: CAP,
            printed: at("2027-01-11 16:32"),
            approved: at("2027-01-11 17:30"),
        }],
        gluings: vec![Gluing {
            part: CHORD,
            number: 1,
            assembly: Some(JIB),
            joint: JointIndex(0),
            printed: at("2027-01-12 10:00"),
            work: vec![Work {
                from: at("2027-01-12 18:00"),
                to: at("2027-01-12 18:06"),
            }],
            ready: at("2027-01-13 02:06"),
        }],
        assemblies: vec![
            dates(PIVOT, "2027-01-11 16:32", "2027-01-11 18:00", "2027-01-11 20:00", 0.0, 2400),
            dates(JIB, "2027-01-13 05:20", "2027-01-15 19:24", "2027-01-16 01:24", 0.308_333, 0),
            dates(TOWER, "2027-01-19 21:48", "2027-01-20 18:00", "2027-01-20 21:50", 0.0, 2890),
        ],
        spare_work: Vec::new(),
        orders: vec![
            order(YELLOW, 918.0, 1430.0, 0, None),
            order(BLACK, 900.0, 800.0, 1, Some((2027, 1, 8))),
            order(GREY, 2572.0, 0.0, 3, Some((2027, 1, 11))),
        ],
        lifts: beamyard::lifting::lifts(scenario, &[Grams(140.0); 5]),
        spans: Vec::new(),
        stopped: false,
        cautions: vec![
            "Fire: 7 of 9 runs print while nobody is at the bench. They need a working smoke alarm and clear space round the \
             machine. Local fire rules come first."
                .into(),
            "Air: air the room.".into(),
        ],
    };
    plan.sheets = beamyard::planning::sheets(scenario, &routes(scenario), &plan);
    plan
}

fn form(lengths: u32, drawn: &Part, joint: Option<JointIndex>, ways: Vec<Way>) -> Form {
    let mut piece = drawn.size;
    piece[0] = piece[0] * (1.0 / f64::from(lengths));
    Form {
        lengths,
        kinds: vec![Kind {
            positions: (1..=lengths).collect(),
            piece,
            share: 1.0 / f64::from(lengths),
        }],
        joint,
        glue: Minutes(6),
        cure: Minutes(480),
        hardware: Money(0.64),
        joint_grams: if joint.is_some() {
            Grams(54.0)
        } else {
            Grams::ZERO
        },
        ways,
    }
}

/// Whether a way lies straight, turned, or at which angle.
type Lie = (bool, bool, Option<f64>);

const STRAIGHT: Lie = (true, true, None);
const TURNED: Lie = (false, true, None);
const ANGLED: Lie = (false, false, Some(35.0));

fn way(
    machine: MachineIndex,
    size: [f64; 3],
    (straight, turned, diagonal): Lie,
    grams: f64,
) -> Way {
    Way {
        machine,
        kind: 0,
        upright: Axis::Z,
        over: false,
        size: size.map(Millimetres),
        straight,
        turned,
        diagonal,
        own_time: Seconds(3600.0),
        layers: 100,
        layer_time: Seconds(400.0),
        volume: CubicMillimetres(grams * 1000.0 / 1.24),
        grams: Grams(grams),
        support: Grams::ZERO,
        outline: None,
        alone: Minutes(75),
    }
}

/// The routes of the scenario's parts, made by hand.
pub fn routes(scenario: &Scenario) -> Vec<PartRoutes> {
    let refused = |machine, reason: &str| Refusal {
        machine,
        reason: reason.into(),
    };
    let routes = |part: PartIndex, forms, refusals, remedies: &[&str]| PartRoutes {
        part,
        forms,
        refusals,
        remedies: remedies.iter().map(|&remedy| remedy.into()).collect(),
    };
    let drawn = |part: PartIndex| &scenario.parts[part.0];
    let half = [230.0, 48.0, 48.0];
    let lacing = [420.0, 30.0, 20.0];
    let leg = [1380.0, 60.0, 60.0];
    let foot = [90.0, 90.0, 40.0];
    let too_long = "460.0 mm long, 170.0 mm more than the bed takes, 98.0 mm more on its diagonal";
    vec![
        routes(
            CHORD,
            vec![form(
                2,
                drawn(CHORD),
                Some(JointIndex(0)),
                vec![
                    way(TALL, half, STRAIGHT, 92.0),
                    way(WIDE, half, TURNED, 92.0),
                ],
            )],
            vec![
                refused(TALL, too_long),
                refused(WIDE, "460.0 mm long, 70.0 mm more than the bed takes"),
                refused(BELT, "its `belt` is never"),
            ],
            &[],
        ),
        routes(
            LACING,
            vec![form(
                1,
                drawn(LACING),
                None,
                vec![
                    way(WIDE, lacing, ANGLED, 90.0),
                    way(BELT, lacing, STRAIGHT, 90.0),
                ],
            )],
            vec![refused(
                TALL,
                "420.0 mm long, 23.9 mm more than the diagonal takes",
            )],
            &[],
        ),
        routes(
            LEG,
            vec![form(
                1,
                drawn(LEG),
                None,
                vec![way(BELT, leg, STRAIGHT, 640.0)],
            )],
            vec![refused(TALL, "too long"), refused(WIDE, "too long")],
            &[],
        ),
        routes(
            FOOT,
            vec![form(
                1,
                drawn(FOOT),
                None,
                vec![
                    way(TALL, foot, TURNED, 120.0),
                    way(WIDE, foot, STRAIGHT, 120.0),
                ],
            )],
            vec![refused(BELT, "cannot print PLA")],
            &[],
        ),
        routes(
            CAP,
            Vec::new(),
            vec![
                refused(TALL, "its `only` leaves this machine out"),
                refused(WIDE, "height 12.0 mm, 2.0 mm too high"),
            ],
            &[
                "allow `tall` in `only`",
                "split it: `split: {joint: steel-rod, into: 2..6}`",
            ],
        ),
    ]
}
