//! How much of each filament is needed and on hand, week by week.
//!
//! Knows: the levels of a plan. Must not know: runs, spools.
//! Promises: weeks begin on Mondays, the first with the build and the last ends with it; what is used in all of them is what
//! the plan takes.

use chrono::{DateTime, Datelike, Days, Utc};

use crate::plan::{Level, Plan};
use crate::report::Look;
use crate::report::grid::{Fit, Grid, TIE, Text, Tone, heading, paragraph};
use crate::report::local::Local;
use crate::scenario::Scenario;
use crate::units::Grams;

/// Columns beside the names; where there are more weeks, a column holds several.
const NARROW_COLUMNS: usize = 7;
/// On a wide terminal.
const WIDE_COLUMNS: usize = 11;
/// From so many columns of text on it is wide.
const WIDE: u16 = 110;

pub(super) fn levels(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let used: Vec<&Level> = plan
        .sheets
        .levels
        .iter()
        .filter(|level| {
            level
                .used(DateTime::<Utc>::MIN_UTC, DateTime::<Utc>::MAX_UTC)
                .0
                > 0.0
        })
        .collect();
    let Some(end) = used
        .iter()
        .filter_map(|level| level.points.last())
        .map(|point| point.0)
        .max()
    else {
        return String::new();
    };
    let columns = if look.columns() >= WIDE {
        WIDE_COLUMNS
    } else {
        NARROW_COLUMNS
    };
    let starts = starts(scenario, plan.begins(scenario), end, columns);

    let mut grid = Grid::new(
        [Fit::Upto(16), Fit::Upto(8)]
            .into_iter()
            .chain(starts.iter().map(|_| Fit::Number(8))),
    );
    let local = Local(scenario.build.zone);
    let named: Vec<String> = starts
        .iter()
        .map(|&start| local.date(start).format("%-d %b").to_string())
        .map(|name| name.replace(' ', TIE.encode_utf8(&mut [0; 4])))
        .collect();
    grid.head(
        ["Filament", "g"]
            .into_iter()
            .chain(named.iter().map(String::as_str)),
    );
    for level in used {
        let id = scenario.filaments[level.filament.0].id.as_str();
        let on_hand = starts.iter().map(|&start| grams(level.from(start)).into());
        let on_hand: Vec<Text> = on_hand.collect();
        let ends = starts[1..]
            .iter()
            .copied()
            .chain([DateTime::<Utc>::MAX_UTC]);
        let needed = starts.iter().zip(ends);
        let needed = needed.map(|(&start, end)| grams(level.used(start, end)).into());
        let needed: Vec<Text> = needed.collect();
        grid.row(
            [Text::from(id).tone(Tone::Strong), "on hand".into()]
                .into_iter()
                .chain(on_hand),
        );
        grid.row([Text::default(), "needed".into()].into_iter().chain(needed));
    }
    let note = "On hand when the day named begins, what comes at that hour included, needed from then to the next. Orders come in as if sent on their \
                last day.";
    heading(look, "Filament by the week")
        + &grid.render(look, 0)
        + &paragraph(look, 0, Text::from(note).tone(Tone::Quiet))
}

fn grams(grams: Grams) -> String {
    format!("{:.0}", grams.0)
}

/// When each column begins: the plan's beginning, then Mondays, every so many that there are no more columns than asked for.
fn starts(
    scenario: &Scenario,
    begin: DateTime<Utc>,
    end: DateTime<Utc>,
    columns: usize,
) -> Vec<DateTime<Utc>> {
    let local = Local(scenario.build.zone);
    let first = local.date(begin);
    let monday = first - Days::new(u64::from(first.weekday().num_days_from_monday()));
    let weeks = (local.date(end) - monday).num_weeks() as usize + 1; // the end is not before the start
    let step = weeks.div_ceil(columns).max(1);
    let mut starts = vec![begin];
    let mondays = (step..weeks).step_by(step);
    starts.extend(mondays.map(|week| local.midnight(monday + Days::new(7 * week as u64))));
    starts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::FilamentIndex;

    fn at(day: &str, hour: u32) -> DateTime<Utc> {
        format!("2027-01-{day}T{hour:02}:00:00Z")
            .parse()
            .expect("a moment")
    }

    #[test]
    fn what_is_needed_leaves_out_what_comes_in() {
        // 100 g; 60 used over ten hours; 500 come; 40 lost at once; 30 used over ten hours.
        let points = [
            ("11", 0, 100.0),
            ("11", 10, 40.0),
            ("12", 0, 40.0),
            ("12", 0, 540.0),
            ("12", 0, 500.0),
            ("12", 10, 470.0),
        ];
        let level = Level {
            filament: FilamentIndex(0),
            points: points
                .map(|(day, hour, grams)| (at(day, hour), Grams(grams)))
                .to_vec(),
            arrives: None,
        };
        assert_eq!(level.at(at("11", 5)), Grams(70.0));
        assert_eq!(level.at(at("12", 0)), Grams(40.0));
        assert_eq!(level.at(at("13", 0)), Grams(470.0));
        assert_eq!(level.used(at("11", 5), at("12", 0)), Grams(30.0));
        assert_eq!(level.used(at("12", 0), at("12", 5)), Grams(55.0));
        let all = level.used(DateTime::<Utc>::MIN_UTC, DateTime::<Utc>::MAX_UTC);
        assert_eq!(all, Grams(130.0));
    }
}
