//! Networks of activities with published times.

use beamyard::graph::{Network, Timing};

/// A network of activities with one-letter names: the name, its duration, the names of all that come before.
fn network(activities: &[(char, i64, &str)]) -> (Network, Vec<i64>) {
    let number = |name: char| {
        let found = activities.iter().position(|&(other, ..)| other == name);
        found.expect("a name of the table")
    };
    let before: Vec<(usize, usize)> = activities
        .iter()
        .flat_map(|&(name, _, before)| before.chars().map(move |b| (b, name)))
        .map(|(before, name)| (number(before), number(name)))
        .collect();
    let durations = activities
        .iter()
        .map(|&(_, duration, _)| duration)
        .collect();
    let network = Network::new(activities.len(), &before).expect("no ring");
    (network, durations)
}

fn names(path: &[usize], activities: &[(char, i64, &str)]) -> String {
    path.iter().map(|&node| activities[node].0).collect()
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
    let (network, durations) = network(&activities);
    let timings = network.forward_backward(&durations, &[]);
    let column = |of: fn(&Timing) -> i64| timings.iter().map(of).collect::<Vec<_>>();
    assert_eq!(
        column(|t| t.earliest_start),
        [0, 2, 6, 16, 16, 20, 22, 29, 16, 25, 33, 33, 38, 38]
    );
    assert_eq!(
        column(|t| t.latest_start),
        [0, 2, 6, 20, 16, 20, 26, 33, 18, 25, 34, 33, 42, 38]
    );
    assert_eq!(
        column(|t| t.float()),
        [0, 0, 0, 4, 0, 0, 4, 4, 2, 0, 1, 0, 4, 0]
    );
    assert_eq!(column(|t| t.earliest_finish).into_iter().max(), Some(44));
    assert_eq!(
        names(&network.critical_path(&timings), &activities),
        "ABCEFJLN"
    );
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
    let (network, durations) = network(&activities);
    let timings = network.forward_backward(&durations, &[]);
    assert_eq!(timings[6].earliest_finish, 16);
    assert_eq!(
        names(&network.critical_path(&timings), &activities),
        "ABDEG"
    );
    let floats: Vec<i64> = timings.iter().map(|timing| timing.float()).collect();
    assert_eq!(floats, [0, 0, 1, 0, 1, 0, 0]);
    // C at the latest from 7 to 9, F from 9 to 11.
    let latest = |node: usize| (timings[node].latest_start, timings[node].latest_finish);
    assert_eq!((latest(2), latest(4)), ((7, 9), (9, 11)));
}
