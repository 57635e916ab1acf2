//! The good plan.

use beamyard::plan::{
    AssemblyDates, Cost, Gluing, Order, Piece, Plan, RouteUse, Run, Sheets, SpareWork, SpoolEnd,
    SpoolNote, Trial, Work,
};
use beamyard::routes::RouteKind;
use beamyard::scenario::{AssemblyIndex, Axis, MachineIndex, PartIndex};
use beamyard::units::{Grams, Millimetres, Minutes, Money};
use chrono::NaiveDate;

use super::shop::parts;
use super::{
    BELT, BLUE, BRACKET, CLOCK, DIAL, PILLAR, RAIL, RED, ROD, STAND, TALL, WIDE, at, mm, work,
};

fn piece(part: PartIndex, number: u32, assembly: Option<AssemblyIndex>) -> Piece {
    Piece {
        part,
        number,
        length: 1,
        of: 1,
        assembly,
        route: RouteKind::Whole,
        x: Millimetres(150.0),
        y: Millimetres(150.0),
        turn: 0.0,
        size: parts()[part.0].size,
        upright: Axis::Z,
        over: false,
        outline: None,
    }
}

/// Both lengths of a pillar, 250×40×40 each, side by side with 4 mm between them.
fn pillar(number: u32) -> Vec<Piece> {
    [(1, 50.0, 0.0), (2, 94.0, 180.0)]
        .map(|(length, y, turn)| Piece {
            length,
            of: 2,
            route: RouteKind::Split,
            y: Millimetres(y),
            turn,
            size: mm([250.0, 40.0, 40.0]),
            outline: None,
            ..piece(PILLAR, number, Some(STAND))
        })
        .to_vec()
}

/// A rail along the belt from the run's start: 900 mm by turning it a quarter.
fn rail(number: u32) -> Piece {
    Piece {
        route: RouteKind::Belt,
        x: Millimetres(120.0),
        y: Millimetres(450.0),
        turn: 90.0,
        ..piece(RAIL, number, Some(CLOCK))
    }
}

/// Brackets straight, turned, and at 45° (there 100/√2 = 70.7 mm wide), all on y = 150.
fn brackets() -> Vec<Piece> {
    let bracket = |number, assembly, x, turn, route| Piece {
        x: Millimetres(x),
        turn,
        route,
        ..piece(BRACKET, number, assembly)
    };
    vec![
        bracket(2, Some(STAND), 50.0, 0.0, RouteKind::Whole),
        bracket(3, Some(CLOCK), 120.0, 90.0, RouteKind::Turned),
        bracket(4, None, 200.0, 45.0, RouteKind::Diagonal),
    ]
}

/// A run of one day of January 2027: name, machine, setup, start and end by the clock, grams, pieces.
fn dated(
    id: &str,
    machine: MachineIndex,
    (setup, start, end): (&str, &str, &str),
    grams: f64,
    pieces: Vec<Piece>,
) -> Run {
    let look = &parts()[pieces[0].part.0];
    let (start, end) = (at(&format!("11 {start}")), at(&format!("11 {end}")));
    Run {
        id: id.into(),
        machine,
        filament: look.filament,
        settings: look.settings,
        swap_from: None,
        setup: (!setup.is_empty()).then(|| at(&format!("11 {setup}"))),
        start,
        end,
        minutes: Minutes((end - start).num_minutes()),
        alone: false,
        grams: Grams(grams),
        pieces,
        spool: SpoolNote::default(),
        waits: None,
        put_off: false,
    }
}

/// The end of a spool during a run.
pub fn ends(moment: &str, attended: bool) -> SpoolNote {
    SpoolNote {
        put_on: None,
        name: None,
        from: None,
        ends: vec![SpoolEnd {
            at: at(moment),
            attended,
            left: Grams::ZERO,
            next: Grams(500.0),
            next_name: None,
            next_from: None,
        }],
    }
}

fn runs() -> Vec<Run> {
    let bracket = vec![piece(BRACKET, 1, Some(STAND))];
    let dial = vec![piece(DIAL, 1, Some(CLOCK))];
    vec![
        // Warm-up 5 min. A bracket is half of 48 000 mm³: 2400 s at 10 mm³/s; 100 layers of 3 s. 5 + 40 + 5 = 50 min.
        // 24 000 mm³ at 1.25 g/cm³ are 30 g.
        dated("tall-001", TALL, ("08:00", "08:10", "09:00"), 30.0, bracket),
        // A length is 0.3 of 400 000 mm³: 200 min, 150 g; 200 layers of 3 s. 5 + 2 × 200 + 10 = 415 min.
        Run {
            spool: ends("11 12:00", true),
            ..dated(
                "tall-002",
                TALL,
                ("09:00", "09:10", "16:05"),
                300.0,
                pillar(1),
            )
        },
        // 5 + 3 × 40 + 5 = 130 min.
        dated(
            "tall-003",
            TALL,
            ("16:05", "16:15", "18:25"),
            90.0,
            brackets(),
        ),
        // Walls 1 mm, caps 1 mm: of 100 000 mm³ the inside is 98 × 98 × 8 = 76 832, the shell 23 168, a quarter of the
        // inside 19 208: 42 376 mm³, 52.97 g. 300 s + 4237.6 s + 50 layers × 3 s = 4687.6 s, 79 min. Red to blue.
        Run {
            swap_from: Some(Some(RED)),
            ..dated("tall-004", TALL, ("18:25", "18:40", "19:59"), 52.97, dial)
        },
        dated(
            "wide-001",
            WIDE,
            ("08:10", "08:20", "15:15"),
            300.0,
            pillar(2),
        ),
        // Measured: 300 min and 200 g, with 5 min of warm-up. The belt is empty at first.
        Run {
            swap_from: Some(None),
            ..dated(
                "belt-001",
                BELT,
                ("08:20", "08:35", "13:40"),
                200.0,
                vec![rail(1)],
            )
        },
        dated(
            "belt-002",
            BELT,
            ("", "13:40", "18:45"),
            200.0,
            vec![rail(2)],
        ),
    ]
}

fn gluing(number: u32, printed: &str, work: Work, ready: &str) -> Gluing {
    Gluing {
        part: PILLAR,
        number,
        assembly: Some(STAND),
        joint: ROD,
        printed: at(printed),
        work: vec![work],
        ready: at(ready),
    }
}

fn dates() -> Vec<AssemblyDates> {
    // The stand's last bracket is printed at 18:25, its last pillar has cured at 00:25. 60 min of its own, four lengths
    // at 2 min and two brackets at 1.5 min: 71 min. It cures for 2 h.
    let stand = AssemblyDates {
        assembly: STAND,
        printed: at("11 18:25"),
        start: at("12 08:00"),
        work: vec![work("12 08:00", "09:00"), work("12 09:10", "09:21")],
        complete: at("12 11:21"),
        late_days: 0.0,
        float: Minutes::ZERO,
    };
    // 30 min of its own, one bracket at 1.5 min, two rails at 3 min: 37.5, so 38 min. Late since midnight: 719 min.
    let clock = AssemblyDates {
        assembly: CLOCK,
        printed: at("11 19:59"),
        start: at("12 11:21"),
        work: vec![work("12 11:21", "11:59")],
        complete: at("12 11:59"),
        late_days: 719.0 / 1440.0,
        float: Minutes::ZERO,
    };
    vec![stand, clock]
}

fn routes() -> Vec<RouteUse> {
    let made = |part, quantity, route, machine| RouteUse {
        part,
        quantity,
        route,
        pieces: 1,
        machine,
        joint: None,
        long: false,
        dearer: false,
        why: "the quickest".into(),
    };
    vec![
        RouteUse {
            pieces: 2,
            joint: Some(ROD),
            ..made(PILLAR, 2, RouteKind::Split, TALL)
        },
        made(BRACKET, 2, RouteKind::Whole, TALL),
        made(BRACKET, 1, RouteKind::Turned, TALL),
        made(BRACKET, 1, RouteKind::Diagonal, TALL),
        made(DIAL, 1, RouteKind::Whole, TALL),
        made(RAIL, 2, RouteKind::Belt, BELT),
    ]
}

/// What the plan costs, worked out on paper.
pub fn cost() -> Cost {
    Cost {
        // 719 of 1440 minutes at 10 a day.
        late: Money(4.993_056),
        // From Monday 08:00 to Tuesday 11:59 are 1679 of 1440 minutes at 2 a day.
        standing: Money(2.331_944),
        // Beds 50 + 415 + 130 + 79 + 415 = 1089 min at 0.40, belt 610 min at 0.60 an hour.
        machine: Money(7.26 + 6.1),
        // 1699 min at 100 W are 2.831667 kWh at 0.30.
        energy: Money(0.849_5),
        // Setups 10 + 10 + 10 + 15 + 10 + 15, gluing 20, stand 71, clock 38, the spare 2: 201 min at 12 an hour.
        bench: Money(40.2),
        // Two changes to blue, 12 g each at 25 a kilogram.
        purge: Money(0.6),
        // Red 4 × 30 + 4 × 150 = 720 g at 20; blue 2 × 200 + 52.97 g at 25.
        plastic: Money(14.4 + 11.324_25),
        // Two rods of 160 mm at 0.004.
        hardware: Money(1.28),
        calm: Money(0.0),
    }
}

/// The good plan.
pub fn plan() -> Plan {
    let blue = 400.0 + 52.97 + 24.0;
    let order = |filament, grams, on_hand, spools| Order {
        filament,
        grams: Grams(grams),
        range: None,
        on_hand: Grams(on_hand),
        spools,
        order_by: None,
    };
    let mut plan = Plan {
        seed: 1,
        cost: cost(),
        bound: Money(20.0),
        decided: Money(60.0),
        finish: at("12 11:59"),
        runs: runs(),
        routes: routes(),
        // The first bracket, printed while somebody is there.
        trials: vec![Trial {
            part: BRACKET,
            printed: at("11 09:00"),
            approved: at("11 09:00"),
        }],
        gluings: vec![
            gluing(1, "11 16:05", work("11 16:15", "16:25"), "12 00:25"),
            gluing(2, "11 15:15", work("11 15:15", "15:25"), "11 23:25"),
        ],
        assemblies: dates(),
        // One bracket at 1.5 min.
        spare_work: vec![SpareWork {
            part: BRACKET,
            work: vec![work("12 09:00", "09:02")],
        }],
        orders: vec![
            // 220 g are missing when the first pillar is printed on the 11th: four days before is the 7th.
            Order {
                order_by: NaiveDate::from_ymd_opt(2027, 1, 7),
                ..order(RED, 720.0, 500.0, 1)
            },
            order(BLUE, blue, 1000.0, 0),
        ],
        failures: beamyard::plan::failures(
            &super::shop(),
            &beamyard::progress::Progress::none(&super::shop()),
        ),
        reserves: Vec::new(),
        chosen: Vec::new(),
        critical: None,
        idle: Vec::new(),
        lifts: Vec::new(),
        spans: Vec::new(),
        cautions: Vec::new(),
        stopped: false,
        sheets: Sheets::default(),
        since: None,
    };
    let shop = super::shop();
    plan.critical = beamyard::plan::critical_path(&shop, &plan.ledger());
    plan.sheets = beamyard::planning::sheets(&shop, &beamyard::routes::routes(&shop), &plan);
    plan
}
