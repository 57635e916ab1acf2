//! The rules between fields, one function each.
//!
//! Knows: the scenario as written. Must not know: how it is written.
//! Promises: every rule is checked, whatever the others find; a field that could not be read is nobody's concern here.

mod assemblies;
mod bench;
mod build;
mod farm;
mod names;
mod parts;
mod places;
mod reserves;
mod spans;

use chrono::{DateTime, Duration, Months, NaiveDateTime, Utc};
use chrono_tz::Tz;

use super::collector::{At, Collector};
use super::fields::MOST_YEARS;
use super::moment::moment;
use super::raw::{Got, RawMachine, RawPart, RawScenario, RawShape};
use super::settle::AllNames;

/// What the rules compare.
struct Facts<'r> {
    raw: &'r RawScenario,
    names: &'r AllNames,
    zone: Tz,
    start: Option<DateTime<Utc>>,
}

impl Facts<'_> {
    fn moment(&self, local: NaiveDateTime) -> DateTime<Utc> {
        moment(self.zone, local)
    }

    /// Whether a machine may make a part, its material aside.
    fn may_make(&self, at: usize, machine: &RawMachine, part: &RawPart) -> bool {
        let only = match part.only.as_ref() {
            Some(only) if !only.value.is_empty() => only
                .value
                .iter()
                .any(|name| self.names.machines.find(&name.value) == Some(at)),
            _ => true,
        };
        let belt = matches!(machine.shape, Some(RawShape::Belt { .. }));
        let never = part.belt.as_ref().is_some_and(|allowed| !allowed.value);
        only && !(belt && never)
    }

    /// Complains of a date that no build waits for.
    fn refuse_remote(&self, date: &Got<NaiveDateTime>, field: &str, collector: &mut Collector) {
        let (Some(At { value, spot }), Some(start)) = (date.as_ref(), self.start) else {
            return;
        };
        // A start is before 2101, so ten years later is still a date.
        let last = start
            .checked_add_months(Months::new(12 * MOST_YEARS))
            .unwrap_or(start + Duration::days(365 * i64::from(MOST_YEARS)));
        if self.moment(*value) > last {
            collector.error(
                *spot,
                field,
                format!("is more than {MOST_YEARS} years after the build's start"),
                &value.format("%Y-%m-%d %H:%M").to_string(),
                "see whether the year is right, here and in `build.start`",
            );
        }
    }
}

pub use reserves::reserve;

/// Whether two names of materials differ in hyphens, blanks and case only: `PET-G`, `PETG`.
fn is_alike(one: &str, other: &str) -> bool {
    let letters = |name: &str| -> String {
        let kept = name.chars().filter(|c| c.is_alphanumeric());
        kept.flat_map(char::to_uppercase).collect()
    };
    letters(one) == letters(other)
}

/// Checks every rule.
pub fn check(raw: &RawScenario, collector: &mut Collector) {
    let names = AllNames::new(raw);
    // Without a readable zone the other rules still hold, nearly enough, in UTC.
    let zone = raw.build.zone.as_ref().map_or(Tz::UTC, |zone| zone.value);
    let start = raw.build.start.as_ref().map(|at| moment(zone, at.value));
    let facts = Facts {
        raw,
        names: &names,
        zone,
        start,
    };
    for rule in [
        build::an_earlier_print_is_no_heavier_than_the_solid,
        names::ids_are_unique,
        names::names_are_known,
        names::a_part_says_which_of_several,
        bench::spans_do_not_overlap,
        bench::somebody_is_there_sometimes,
        bench::a_setup_fits_into_the_hours,
        farm::margins_leave_room,
        farm::outages_run_forward_and_apart,
        farm::what_is_loaded_can_be_printed,
        farm::densities_are_known,
        farm::lines_are_wider_than_high,
        farm::lines_suit_the_nozzle,
        parts::scaled_sizes_are_sane,
        parts::trials_are_among_the_copies,
        parts::variants_are_to_choose_from,
        parts::copies_are_countable,
        parts::some_machine_prints_the_material,
        parts::splits_can_leave_lengths,
        parts::measured_machines_are_allowed,
        parts::measured_mass_is_possible,
        parts::measurements_measure_something,
        parts::ready_dates_are_near,
        spans::spans_are_within_their_parts,
        spans::what_spans_has_a_modulus,
        spans::rods_have_section_and_material,
        assemblies::counts_match_quantities,
        places::places_are_of_what_is_in_the_assembly,
        assemblies::nothing_needs_itself,
        assemblies::due_dates_follow_the_start,
        assemblies::parts_are_ready_before_they_are_due,
        assemblies::lateness_has_a_date,
        assemblies::assemblies_do_something,
    ] {
        rule(&facts, collector);
    }
}
