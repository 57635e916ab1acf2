use super::*;
use proptest::prelude::*;

const A: f64 = 1000.0;

fn planner() -> Planner {
    Planner::new(Kinematics::USUAL)
}

/// Time of moves from point to point at these speeds.
fn time(kinematics: Kinematics, path: &[([f64; 3], f64)]) -> f64 {
    let mut planner = Planner::new(kinematics);
    let mut at = [0.0; 3];
    for &(to, speed) in path {
        planner.take(&Move::line(at, to, 0.0, speed));
        at = to;
    }
    planner.finish()
}

fn near(one: f64, other: f64) {
    assert!((one - other).abs() < 1e-9 * (1.0 + other), "{one} {other}");
}

#[test]
fn a_long_move_is_a_trapezoid() {
    // 50 mm/s at 1000 mm/s²: 0.05 s and 1.25 mm at each end, 97.5 mm at speed in 1.95 s: 2.05 s.
    near(time(Kinematics::USUAL, &[([100.0, 0.0, 0.0], 50.0)]), 2.05);
}

#[test]
fn a_short_move_is_a_triangle() {
    // 1 mm: half a mm up to √(2·1000·0.5) = 31.6 mm/s and half down: 2·√(1 / 1000) = 0.0632 s, below 50 mm/s throughout.
    let seconds = 2.0 * (1.0_f64 / A).sqrt();
    near(time(Kinematics::USUAL, &[([1.0, 0.0, 0.0], 50.0)]), seconds);
}

#[test]
fn a_move_in_pieces_straight_on_takes_no_longer_than_in_one() {
    let pieces: Vec<_> = (1..=1000)
        .map(|n| ([f64::from(n) * 0.1, 0.0, 0.0], 50.0))
        .collect();
    near(time(Kinematics::USUAL, &pieces), 2.05);
}

#[test]
fn straight_on_at_another_speed_the_slower_one_rules_the_joint() {
    // 50 mm at 50, then 50 mm at 20 mm/s: up 0.05 s (1.25 mm), down to 20 in 0.03 s (1.05 mm), the rest of the first at speed:
    // 47.7 / 50 = 0.954; the second at 20 for 50 − 0.2 mm = 2.49 s, down in 0.02 s. Together 3.544 s.
    let path = [([50.0, 0.0, 0.0], 50.0), ([100.0, 0.0, 0.0], 20.0)];
    near(
        time(Kinematics::USUAL, &path),
        0.05 + 0.954 + 0.03 + 2.49 + 0.02,
    );
}

#[test]
fn turning_back_is_a_stop() {
    let path = [([100.0, 0.0, 0.0], 50.0), ([0.0, 0.0, 0.0], 50.0)];
    near(time(Kinematics::USUAL, &path), 2.0 * 2.05);
}

#[test]
fn a_right_angle_is_passed_on_the_circle_that_cuts_it_by_the_deviation() {
    // r = 0.02 · 0.70711 / 0.29289 = 0.048284 mm, v = √(1000 · r) = 6.9487 mm/s. Each leg: between 0 and 50 mm/s 0.05 s and
    // 1.25 mm, between 50 and v (50 − v)/1000 s and (2500 − v²)/2000 mm, the rest at 50.
    let v = (A * 0.02 * 0.5_f64.sqrt() / (1.0 - 0.5_f64.sqrt())).sqrt();
    assert!((v - 6.9487).abs() < 1e-3, "{v}");
    let rest = 100.0 - 1.25 - (2500.0 - v * v) / 2000.0;
    let leg = 0.05 + (50.0 - v) / 1000.0 + rest / 50.0;
    let path = [([100.0, 0.0, 0.0], 50.0), ([100.0, 100.0, 0.0], 50.0)];
    near(time(Kinematics::USUAL, &path), 2.0 * leg);
}

#[test]
fn an_arc_is_no_faster_than_its_radius_allows() {
    // Radius 1 mm: v = √(1000 · 1) = 31.62 mm/s, below the 100 that are asked for. A quarter is 1.5708 mm: from rest to
    // rest it peaks at √(1000 · 1.5708) = 39.6, so the arc's 31.62 rules: 2v/a + (L − v²/a)/v.
    let arc = super::super::Arc::about(
        [0, 1, 2],
        [1.0, 0.0, 0.0],
        [0.0, 1.0, 0.0],
        [-1.0, 0.0],
        false,
    )
    .unwrap();
    let mut planner = planner();
    planner.take(&Move::arc(&arc, 0.0, 100.0));
    let (v, length) = (A.sqrt(), std::f64::consts::FRAC_PI_2);
    near(planner.finish(), 2.0 * v / A + (length - v * v / A) / v);
}

#[test]
fn a_circle_drawn_as_many_lines_takes_as_long_as_the_arc() {
    let radius = 20.0;
    let arc = super::super::Arc::about(
        [0, 1, 2],
        [radius, 0.0, 0.0],
        [radius, 0.0, 0.0],
        [-radius, 0.0],
        false,
    );
    let mut round = planner();
    round.take(&Move::arc(&arc.unwrap(), 0.0, 1000.0));
    let mut lines = planner();
    let point = |n: i32| {
        let angle = f64::from(n) * std::f64::consts::TAU / 720.0;
        [radius * angle.cos(), radius * angle.sin(), 0.0]
    };
    for n in 0..720 {
        lines.take(&Move::line(point(n), point(n + 1), 0.0, 1000.0));
    }
    let (round, lines) = (round.finish(), lines.finish());
    assert!((lines / round - 1.0).abs() < 0.005, "{lines} {round}");
}

#[test]
fn filament_alone_moves_with_the_head_at_rest() {
    // 2 mm of filament at 40 mm/s: 40²/1000 = 1.6 mm to speed up and slow down in 0.08 s, 0.4 mm in 0.01 s.
    let mut planner = planner();
    planner.take(&Move::line([0.0; 3], [100.0, 0.0, 0.0], 0.0, 50.0));
    planner.take(&Move::line(
        [100.0, 0.0, 0.0],
        [100.0, 0.0, 0.0],
        -2.0,
        40.0,
    ));
    planner.take(&Move::line([100.0, 0.0, 0.0], [200.0, 0.0, 0.0], 0.0, 50.0));
    near(planner.finish(), 2.05 + 0.09 + 2.05);
}

#[test]
fn a_wait_stops_the_head_and_counts() {
    let mut planner = planner();
    planner.take(&Move::line([0.0; 3], [100.0, 0.0, 0.0], 0.0, 50.0));
    planner.wait(3.0);
    planner.take(&Move::line([100.0, 0.0, 0.0], [200.0, 0.0, 0.0], 0.0, 50.0));
    near(planner.finish(), 2.05 + 3.0 + 2.05);
}

/// The quickest speeds with the whole path known, by going over all limits until none changes anything.
fn slow_and_sure(kinematics: Kinematics, path: &[([f64; 3], f64)]) -> f64 {
    let a = kinematics.acceleration;
    let mut at = [0.0; 3];
    let mut moves: Vec<Move> = Vec::new();
    for &(to, speed) in path {
        moves.push(Move::line(at, to, 0.0, speed));
        at = to;
    }
    moves.retain(|step| step.length > 0.0);
    let planner = Planner::new(kinematics);
    let mut speeds = vec![0.0; moves.len() + 1];
    for n in 1..moves.len() {
        let (before, after) = (&moves[n - 1], &moves[n]);
        let bend = planner.corner(before.arrival, after.out, before.length.min(after.length));
        speeds[n] = bend.min(before.speed.powi(2)).min(after.speed.powi(2));
    }
    loop {
        let mut changed = false;
        for (n, step) in moves.iter().enumerate() {
            let within = 2.0 * a * step.length;
            for (from, to) in [(n, n + 1), (n + 1, n)] {
                if speeds[to] > speeds[from] + within {
                    speeds[to] = speeds[from] + within;
                    changed = true;
                }
            }
        }
        if !changed {
            break;
        }
    }
    let each = moves.iter().zip(speeds.windows(2));
    each.map(|(step, ends)| {
        let block = Block {
            length: step.length,
            acceleration: a,
            most: step.speed.powi(2),
            corner: 0.0,
            entry: 0.0,
        };
        seconds(&block, ends[0], ends[1])
    })
    .sum()
}

fn paths(most: usize) -> impl Strategy<Value = Vec<([f64; 3], f64)>> {
    let point = (
        -30.0..30.0f64,
        -30.0..30.0f64,
        prop_oneof![4 => Just(0.2), 1 => 0.0..2.0f64],
    );
    let step = (point, 1.0..300.0f64);
    prop::collection::vec(step, 1..most).prop_map(|steps| {
        steps
            .into_iter()
            .map(|((x, y, z), v)| ([x, y, z], v))
            .collect()
    })
}

/// Short steps, nearly straight on.
fn curves() -> impl Strategy<Value = Vec<([f64; 3], f64)>> {
    (
        prop::collection::vec((-0.3..0.3f64, 0.02..1.0f64), 300..900),
        20.0..400.0f64,
    )
        .prop_map(|(steps, speed)| {
            let (mut angle, mut at) = (0.0_f64, [0.0; 3]);
            steps
                .into_iter()
                .map(|(turn, length)| {
                    angle += turn;
                    at = [
                        at[0] + length * angle.cos(),
                        at[1] + length * angle.sin(),
                        0.0,
                    ];
                    (at, speed)
                })
                .collect()
        })
}

proptest! {
    #[test]
    fn few_moves_take_what_the_slow_way_finds(path in paths(120)) {
        let (fast, slow) = (time(Kinematics::USUAL, &path), slow_and_sure(Kinematics::USUAL, &path));
        prop_assert!((fast - slow).abs() <= 1e-9 * slow, "{fast} {slow}");
    }

    #[test]
    fn with_the_path_known_only_so_far_ahead_it_takes_hardly_longer(path in curves()) {
        let (fast, slow) = (time(Kinematics::USUAL, &path), slow_and_sure(Kinematics::USUAL, &path));
        prop_assert!(fast >= slow * (1.0 - 1e-9) && fast <= slow * 1.02, "{fast} {slow}");
    }

    #[test]
    fn never_less_than_length_at_speed_and_never_more_than_a_stop_at_every_corner(path in paths(60)) {
        let (mut at, mut least, mut most) = ([0.0; 3], 0.0, 0.0);
        for &(to, speed) in &path {
            let step = Move::line(at, to, 0.0, speed);
            least += step.length / speed;
            most += time(Kinematics::USUAL, &[([step.length, 0.0, 0.0], speed)]);
            at = to;
        }
        let found = time(Kinematics::USUAL, &path);
        prop_assert!(found >= least * (1.0 - 1e-9) && found <= most * (1.0 + 1e-9), "{least} {found} {most}");
    }

    #[test]
    fn all_lengths_four_times_and_speeds_twice_take_twice_as_long(path in paths(60)) {
        // v² = 2·a·s: with the same acceleration speeds go with the root of lengths, and times with them.
        let larger: Vec<_> = path.iter().map(|&(to, v)| (to.map(|side| 4.0 * side), 2.0 * v)).collect();
        let wider = Kinematics { deviation: 4.0 * Kinematics::USUAL.deviation, ..Kinematics::USUAL };
        let (one, two) = (time(Kinematics::USUAL, &path), time(wider, &larger));
        prop_assert!((two - 2.0 * one).abs() <= 1e-9 * two, "{one} {two}");
    }

    #[test]
    fn more_acceleration_never_takes_longer(path in paths(60), factor in 1.0..10.0f64) {
        let quicker = Kinematics { acceleration: factor * A, ..Kinematics::USUAL };
        prop_assert!(time(quicker, &path) <= time(Kinematics::USUAL, &path) * (1.0 + 1e-9));
    }
}
