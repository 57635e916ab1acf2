//! Networks of activities with published times.

use beamyard::graph::{Activity, Hands, Handwork, floats};

/// A network of activities with one-letter names: the name, its duration, the names of all that come before, which are listed before
/// it. Each begins as early as it can, with hands enough, and may be done as late as the whole is.
fn network(table: &[(char, i64, &str)]) -> Vec<Activity> {
    let number = |name: char| {
        let found = table.iter().position(|&(other, ..)| other == name);
        found.expect("a name of the table")
    };
    let mut plan: Vec<Activity> = Vec::new();
    for &(_, duration, before) in table {
        let needs: Vec<usize> = before.chars().map(number).collect();
        let there = needs.iter().map(|&need| plan[need].complete);
        let start = there.max().unwrap_or(0);
        plan.push(Activity {
            work: Handwork {
                release: start,
                stretches: vec![(start, start + duration)],
                fixed: false,
            },
            complete: start + duration,
            needs,
            limit: 0,
        });
    }
    let whole = plan.iter().map(|one| one.complete).max().unwrap_or(0);
    for one in &mut plan {
        one.limit = whole;
    }
    plan
}

fn enough() -> Hands<'static> {
    Hands {
        count: None,
        open: &[(0, 1000)],
        taken: &[],
    }
}

fn starts(plan: &[Activity]) -> Vec<i64> {
    plan.iter().map(|one| one.work.release).collect()
}

/// Those without float.
fn critical(table: &[(char, i64, &str)], floats: &[i64]) -> String {
    let pairs = table.iter().zip(floats);
    pairs
        .filter(|(_, float)| **float == 0)
        .map(|(one, _)| one.0)
        .collect()
}

#[test]
fn the_reliable_construction_company_needs_44_weeks() {
    // F. S. Hillier, M. S. Lieberman, Introduction to Operations Research, project-management chapter, Table 10.1 in
    // the 7th and 8th editions; weeks. Durations and predecessors of A to I read in stored copies of the exercise,
    // predecessors of J to N and the 44 weeks from memory.
    let activities = [
        ('A', 2, ""),
        ('B', 4, "A"),
        ('C', 10, "B"),
        ('D', 6, "C"),
        ('E', 4, "C"),
        ('F', 5, "E"),
        ('G', 7, "D"),
        ('H', 9, "EG"),
        ('I', 7, "C"),
        ('J', 8, "FI"),
        ('K', 4, "J"),
        ('L', 5, "J"),
        ('M', 2, "H"),
        ('N', 6, "KL"),
    ];
    let plan = network(&activities);
    assert_eq!(
        starts(&plan),
        [0, 2, 6, 16, 16, 20, 22, 29, 16, 25, 33, 33, 38, 38]
    );
    assert!(plan.iter().all(|one| one.limit == 44));
    let floats = floats(&plan, &enough());
    assert_eq!(floats, [0, 0, 0, 4, 0, 0, 4, 4, 2, 0, 1, 0, 4, 0]);
    let latest: Vec<i64> = starts(&plan)
        .iter()
        .zip(&floats)
        .map(|(a, b)| a + b)
        .collect();
    assert_eq!(
        latest,
        [0, 2, 6, 20, 16, 20, 26, 33, 18, 25, 34, 33, 42, 38]
    );
    assert_eq!(critical(&activities, &floats), "ABCEFJLN");
}

#[test]
fn the_seven_step_assembly_needs_16_hours() {
    // studylib.net/doc/8378728, Example 1; hours.
    let activities = [
        ('A', 6, ""),
        ('B', 2, "A"),
        ('C', 2, "A"),
        ('D', 3, "B"),
        ('F', 2, "C"),
        ('E', 4, "DF"),
        ('G', 1, "E"),
    ];
    let plan = network(&activities);
    assert_eq!(plan[6].complete, 16);
    let floats = floats(&plan, &enough());
    assert_eq!(floats, [0, 0, 1, 0, 1, 0, 0]);
    assert_eq!(critical(&activities, &floats), "ABDEG");
    // C at the latest from 7 to 9, F from 9 to 11.
    let latest = |node: usize| {
        (
            starts(&plan)[node] + floats[node],
            plan[node].complete + floats[node],
        )
    };
    assert_eq!((latest(2), latest(4)), ((7, 9), (9, 11)));
}
