//! What is lifted: masses, centres of mass, what one person should lift.
//!
//! Knows: the plan's assemblies as they are lifted. Must not know: how a mass was reckoned.
//! Promises: shown where something is heavy, or its places or its lifting are described; a centre that is not known is said
//! to be, with what it lacks.

use crate::lifting::{Centre, Lift};
use crate::plan::Plan;
use crate::report::Look;
use crate::report::grid::{Fit, Grid, TIE, Text, Tone, heading, paragraph};
use crate::report::words;
use crate::scenario::Scenario;
use crate::units::Grams;

/// From this mass on an assembly is listed whatever else is known of it: as the cautions, which have the sources.
const HEAVY: Grams = Grams(15_000.0);
/// So many of what lacks places are named, and the rest counted.
const MOST_NAMES: usize = 3;

pub(super) fn lifts(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let of_note =
        |lift: &Lift| lift.mass >= HEAVY || lift.is_placed(scenario) || lift.limit.is_some();
    // Where nothing is worth a word, `all` does not make it so.
    let told = |lift: &&Lift| look.all || of_note(lift);
    if !plan.lifts.iter().any(of_note) {
        return String::new();
    }
    let mut grid = Grid::new([Fit::Upto(24), Fit::Number(9), Fit::Number(12)]);
    grid.head(["Assembly", "Mass", "One person", "Centre of mass"]);
    for lift in plan.lifts.iter().filter(told) {
        let id = scenario.assemblies[lift.assembly.0].id.as_str();
        let tone = match lift.limit {
            Some(limit) if lift.mass > limit => Tone::Mark,
            _ => Tone::Plain,
        };
        let limit = lift.limit.map_or_else(String::new, words::mass);
        grid.row([
            id.into(),
            words::mass(lift.mass).into(),
            Text::from(limit).tone(tone),
            centre(lift).into(),
        ]);
    }
    let mut text = heading(look, "Lifting") + &grid.render(look, 0);
    if plan.lifts.iter().any(|lift| lift.limit.is_some()) {
        let note = "One person: what the lifting equation of NIOSH (94-110) recommends at most for the lift that the scenario \
                    describes, done seldom.";
        text.push_str(&paragraph(look, 0, note));
    }
    text
}

fn centre(lift: &Lift) -> String {
    match &lift.centre {
        Centre::At(centre) => {
            // Adding nought turns a negative nought into a plain one.
            let along = centre.map(|axis| format!("{:.0}", axis.0.round() + 0.0));
            format!("{}{TIE}mm", along.join(&format!("{TIE}· ")))
        }
        Centre::NotKnown(lacking) if lacking.is_empty() => {
            "not known: something is needed by two ways".to_owned()
        }
        Centre::NotKnown(lacking) => {
            let (named, more) = lacking.split_at(lacking.len().min(MOST_NAMES));
            let more = match more.len() {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            format!("not known: no places for {}{more}", named.join(", "))
        }
    }
}
