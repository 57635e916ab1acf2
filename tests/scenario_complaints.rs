//! What is wrong with a scenario is said where it stands, all at once, with what would be right.

use std::path::Path;

use beamyard::scenario::{self, Complaint, Complaints, Severity};

/// A scenario in which all is right, to be spoilt in one place.
const RIGHT: &str = include_str!("scenarios/all-right.yaml");

fn read(text: &str) -> Result<scenario::Reading, Complaints> {
    scenario::read_text("crane.yaml", text, Path::new(""))
}

/// `RIGHT` with one text put for another; several changes are given as pairs.
fn spoilt(changes: &[(&str, &str)]) -> String {
    let mut text = RIGHT.to_owned();
    for (right, wrong) in changes {
        assert_eq!(text.matches(right).count(), 1, "{right} stands once");
        text = text.replace(right, wrong);
    }
    text
}

/// The only error of a spoilt scenario.
fn error(right: &str, wrong: &str) -> Complaint {
    errors(&[(right, wrong)], 1).remove(0)
}

fn errors(changes: &[(&str, &str)], count: usize) -> Vec<Complaint> {
    let text = spoilt(changes);
    let complaints = read(&text).expect_err(&text);
    assert_eq!(complaints.errors().len(), count, "{complaints}");
    complaints.errors().to_vec()
}

/// The only warning of a scenario that is read all the same.
fn warning(right: &str, odd: &str) -> Complaint {
    let text = spoilt(&[(right, odd)]);
    let mut warnings = read(&text).unwrap_or_else(|all| panic!("{all}")).warnings;
    assert_eq!(warnings.len(), 1, "{warnings:?}");
    assert_eq!(warnings[0].severity, Severity::Warning);
    warnings.remove(0)
}

/// Line and column of a complaint.
fn place(complaint: &Complaint) -> (usize, usize) {
    let place = complaint.place.as_ref().unwrap();
    (place.line, place.column)
}

/// Checks field and rule, and that the mark is under the text that is meant.
#[track_caller]
fn says(complaint: &Complaint, field: &str, rule: &str, marked: &str) {
    assert_eq!(complaint.field, field, "{complaint}");
    assert!(complaint.rule.contains(rule), "{complaint}");
    let place = complaint.place.as_ref().unwrap();
    let text = place.text.as_ref().unwrap();
    assert_eq!(&text[place.mark.clone()], marked, "{complaint}");
    assert!(!complaint.fix.is_empty());
}

#[test]
fn nothing_is_said_of_a_scenario_in_which_all_is_right() {
    let reading = read(RIGHT).unwrap_or_else(|complaints| panic!("{complaints}"));
    assert_eq!(reading.warnings, []);
}

#[test]
fn an_unknown_field_is_refused_with_the_one_that_was_meant() {
    let complaint = error("nozzle: 0.4", "nozle: 0.4");
    says(&complaint, "machines[tall].nozle", "no such field", "nozle");
    assert_eq!(complaint.fix, "did you mean `nozzle`?");
    assert_eq!(place(&complaint).0, 4);
    let complaint = error("joints:", "hobbies: 1\njoints:");
    says(&complaint, "hobbies", "no such field", "hobbies");
    assert!(complaint.fix.contains("build"), "lists what there is");
}

#[test]
fn a_field_written_twice_is_refused() {
    let complaint = error("height: 400", "height: 400, height: 500");
    says(&complaint, "machines[tall].height", "twice", "height");
    let complaint = error("parts: {rung: 2}", "parts: {rung: 2, rung: 2}");
    says(&complaint, "assemblies[pivot].parts.rung", "twice", "rung");
    let complaint = error("light: {", "light: {layer: 0.3, line: 0.5}, light: {");
    says(&complaint, "settings.light", "twice", "light");
    let complaint = error("joints: {", "currency: EUR\ncurrency: NOK\njoints: {");
    says(&complaint, "currency", "first on line 10", "currency");
}

#[test]
fn a_merge_key_is_refused_with_advice() {
    let complaint = error("shortest: 100", "shortest: 100, <<: {cure: 1 h}");
    assert_eq!(complaint.fix, "write the fields out; maps are not merged");
}

#[test]
fn numbers_that_are_not_finite_are_refused() {
    for wrong in [".nan", ".inf", "-.inf", ".NaN", "1e999"] {
        let complaint = error("height: 400", &format!("height: {wrong}"));
        says(&complaint, "machines[tall].height", "must be 10 to", wrong);
    }
}

#[test]
fn a_number_out_of_its_limits_is_told_them() {
    for wrong in ["0", "-1", "5", "0.05"] {
        let complaint = error("nozzle: 0.4", &format!("nozzle: {wrong}"));
        says(
            &complaint,
            "machines[tall].nozzle",
            "must be 0.1 to 2 mm",
            wrong,
        );
        assert_eq!(complaint.found, wrong);
        assert_eq!(complaint.fix, "write for example `nozzle: 0.6`");
    }
}

#[test]
fn a_colour_without_quotes_is_a_comment_and_is_told_so() {
    let complaint = error("colour: \"#e8b10a\"}", "colour: #e8b10a\n    }");
    assert_eq!(complaint.field, "filaments[yellow].colour");
    assert!(complaint.fix.contains("colour: \"#e8b10a\""));
    assert!(complaint.fix.contains("begins a comment"));
}

#[test]
fn a_decimal_comma_is_told_the_point() {
    let complaint = error("nozzle: 0.4", "nozzle: \"0,4\"");
    assert_eq!(complaint.fix, "write 0.4");
}

#[test]
fn what_no_build_does_without_is_missed() {
    let complaint = error("start: 2027-01-11 07:00, ", "");
    says(
        &complaint,
        "build.start",
        "is missing",
        "{timezone: Europe/Oslo, scale: 2}",
    );
    let complaint = error(", height: 400", "");
    assert_eq!(complaint.field, "machines[tall].height");
    let all = read("currency: EUR").unwrap_err();
    let fields: Vec<&str> = all.errors().iter().map(|c| c.field.as_str()).collect();
    assert_eq!(fields, ["build.start", "machines", "filaments", "parts"]);
}

#[test]
fn a_field_of_the_other_kind_of_machine_is_refused() {
    let complaint = error("longest: 2400", "longest: 2400, height: 300");
    says(
        &complaint,
        "machines[long].height",
        "this is a belt machine",
        "height",
    );
    let complaint = error("height: 400", "height: 400, gap: 10");
    says(
        &complaint,
        "machines[tall].gap",
        "this is a bed machine",
        "gap",
    );
}

#[test]
fn a_part_has_either_a_size_or_a_model_or_a_mesh() {
    let complaint = error(
        "model: [60, 10, 5]",
        "model: [60, 10, 5], size: [60, 10, 5]",
    );
    assert_eq!(complaint.rule, "has both `model` and `size`");
    let complaint = error("model: [60, 10, 5], ", "");
    assert_eq!(complaint.rule, "has no size");
    let complaint = error("model: [60, 10, 5]", "mesh: rung.stl");
    says(
        &complaint,
        "parts[rung].mesh",
        "there is no such file",
        "rung.stl",
    );
    for box_field in ["model: [60, 10, 5]", "size: [60, 10, 5]", "solid: 0.8"] {
        let both = format!("mesh: rung.stl, {box_field}");
        let complaint = error("model: [60, 10, 5]", &both);
        let name = &box_field[..box_field.find(':').unwrap()];
        assert_eq!(complaint.rule, format!("has both `mesh` and `{name}`"));
    }
}

#[test]
fn two_things_of_one_kind_have_two_names() {
    let complaint = error("{id: long,", "{id: tall,");
    says(&complaint, "machines[tall].id", "on line 4", "tall");
    assert_eq!(place(&complaint).0, 5);
    let text = spoilt(&[("{id: pivot,", "{id: jib,"), (", needs: [pivot]", "")]);
    let complaints = read(&text).unwrap_err();
    assert_eq!(complaints.errors()[0].field, "assemblies[jib].id");
}

#[test]
fn a_name_that_nothing_bears_is_refused_wherever_it_stands() {
    for (right, wrong, field, marked) in [
        (
            "loaded: yellow",
            "loaded: yelow",
            "machines[tall].loaded",
            "yelow",
        ),
        (
            "40], filament: yellow",
            "40], filament: yelow",
            "parts[chord].filament",
            "yelow",
        ),
        (
            "joint: rod",
            "joint: road",
            "parts[chord].split.joint",
            "road",
        ),
        (
            "only: [tall]",
            "only: [tall, tal]",
            "parts[rung].only",
            "tal",
        ),
        (
            "minutes: {tall:",
            "minutes: {tal:",
            "parts[rung].minutes",
            "tal",
        ),
        (
            "needs: [pivot]",
            "needs: [pivto]",
            "assemblies[jib].needs",
            "pivto",
        ),
        (
            "scale: 2}",
            "scale: 2, timezne: 2}",
            "build.timezne",
            "timezne",
        ),
    ] {
        let complaint = error(right, wrong);
        says(&complaint, field, "there is no", marked);
        assert!(complaint.fix.starts_with("did you mean"), "{complaint}");
    }
    let complaint = error("late: 40}", "late: 40}\n  - {id: mast, parts: {rug: 1}}");
    says(
        &complaint,
        "assemblies[mast].parts",
        "no part of this name",
        "rug",
    );
    let complaint = error("40], filament: yellow", "40], filament: mauve");
    assert_eq!(complaint.fix, "take one of yellow, black");
}

#[test]
fn a_part_says_which_of_several_filaments() {
    let complaint = error("40], filament: yellow", "40]");
    assert_eq!(complaint.field, "parts[chord].filament");
    assert_eq!(complaint.fix, "write `filament:` and one of yellow, black");
}

#[test]
fn assemblies_take_no_more_of_a_part_than_there_is() {
    // 2 in the pivot and 4 in the jib are 6, and one is missing.
    let complaint = error("quantity: 6", "quantity: 5");
    let rule = "less than the assemblies take: 6 (2 in assemblies[pivot], 4 in assemblies[jib])";
    says(&complaint, "parts[rung].quantity", rule, "5");
    assert!(complaint.fix.starts_with("write `quantity: 6`"));
}

#[test]
fn parts_that_assemblies_leave_over_are_told() {
    let complaint = warning("quantity: 6", "quantity: 9");
    says(
        &complaint,
        "parts[rung].quantity",
        "the other 3 are extra",
        "9",
    );
    let complaint = warning("{chord: 4, rung: 4}", "{rung: 4}");
    says(
        &complaint,
        "parts[chord]",
        "no assembly takes this part",
        "{id: chord, quantity: 4, size: [500, 40, 40], filament: yellow, split: {joint: rod, into: 2..4}}",
    );
}

#[test]
fn a_ring_of_needs_is_named_in_full() {
    let complaint = error(
        "{rung: 2}}",
        "{rung: 2}, needs: [boom]}\n  - {id: boom, needs: [mast]}\n  - {id: mast, needs: [jib, boom]}",
    );
    // The shortest ring from the first that is written: pivot, boom, mast, jib, pivot.
    let ring = "pivot needs boom needs mast needs jib needs pivot";
    says(&complaint, "assemblies[pivot].needs", ring, "[boom]");
}

#[test]
fn an_assembly_cannot_need_itself() {
    let complaint = error("needs: [pivot]", "needs: [pivot, jib]");
    says(
        &complaint,
        "assemblies[jib].needs",
        "cannot need itself",
        "jib",
    );
}

#[test]
fn two_ways_to_one_assembly_are_no_ring() {
    let text = spoilt(&[(
        "{rung: 2}}",
        "{rung: 2}, needs: [boom, mast]}\n  - {id: boom, needs: [mast]}\n  - {id: mast, bench: 1 h, needs: [foot]}\n  - {id: foot, needs: [sill]}\n  - {id: sill, parts: {}}",
    )]);
    let reading = read(&text).unwrap_or_else(|complaints| panic!("{complaints}"));
    let [odd] = &reading.warnings[..] else {
        panic!("one warning");
    };
    assert_eq!(odd.field, "assemblies[sill]");
    assert!(odd.rule.contains("takes no parts"));
}

#[test]
fn a_stage_is_due_after_the_start_and_in_this_life() {
    for wrong in ["2027-01-11 07:00", "2026-02-06"] {
        let complaint = error("due: 2027-02-06 18:00", &format!("due: {wrong}"));
        says(
            &complaint,
            "assemblies[jib].due",
            "after the build's start, 2027-01-11 07:00",
            wrong,
        );
    }
    let complaint = error("due: 2027-02-06 18:00", "due: 2072-02-06");
    says(
        &complaint,
        "assemblies[jib].due",
        "more than 10 years",
        "2072-02-06",
    );
}

#[test]
fn a_part_is_ready_in_this_life_and_better_before_its_stage_is_due() {
    let complaint = error("quantity: 4", "quantity: 4, ready: 2037-01-12");
    says(
        &complaint,
        "parts[chord].ready",
        "more than 10 years",
        "2037-01-12",
    );
    let complaint = warning("quantity: 4", "quantity: 4, ready: 2027-02-06 18:00");
    let rule = "not before assemblies[jib] is due, 2027-02-06 18:00";
    says(&complaint, "parts[chord].ready", rule, "2027-02-06 18:00");
}

#[test]
fn a_price_of_lateness_without_a_date_is_odd() {
    let complaint = warning("due: 2027-02-06 18:00, ", "");
    says(&complaint, "assemblies[jib].late", "no effect", "40");
}

#[test]
fn some_machine_that_may_make_a_part_prints_its_material() {
    let complaint = error("5], filament: yellow", "5], filament: black");
    says(&complaint, "parts[rung].filament", "prints PETG", "black");
    assert!(
        complaint.fix.contains("`materials` of machines[tall]"),
        "the only one allowed"
    );
    // Where the belt alone prints it, a part that must not lie on the belt cannot be made.
    let belt_only = ("materials: [PLA]", "materials: [PLA, PETG]");
    let black = ("40], filament: yellow", "40], filament: black");
    assert!(read(&spoilt(&[belt_only, black])).is_ok());
    let never = ("quantity: 4", "quantity: 4, belt: never");
    let complaint = errors(&[belt_only, black, never], 1).remove(0);
    assert_eq!(complaint.field, "parts[chord].filament");
}

#[test]
fn a_machine_that_cannot_print_what_is_loaded_is_worth_a_word() {
    // It is not wrong: the filament comes off at the first setup.
    let complaint = warning("loaded: yellow", "loaded: black");
    says(
        &complaint,
        "machines[tall].loaded",
        "is PETG, and the machine prints only PLA",
        "black",
    );
}

#[test]
fn a_density_is_needed_only_for_unusual_materials() {
    let complaint = error("material: PETG, density: 1.27", "material: WOOD");
    assert_eq!(complaint.field, "filaments[black].density");
    assert!(read(&spoilt(&[("material: PETG", "material: WOOD")])).is_ok());
    assert!(read(&spoilt(&[(", density: 1.27", "")])).is_ok());
}

#[test]
fn margins_leave_some_of_the_bed() {
    // Twice 150 mm is all of 300 mm.
    let complaint = error("margin: 5", "margin: 150");
    says(
        &complaint,
        "machines[tall].margin",
        "no room on a bed of 300 mm",
        "150",
    );
    assert!(read(&spoilt(&[("margin: 5", "margin: 149")])).is_ok());
}

#[test]
fn a_line_is_as_wide_as_it_is_high_and_suits_the_nozzle() {
    let complaint = error("line: 0.5", "line: 0.29");
    says(
        &complaint,
        "settings.light.line",
        "at least the layer height",
        "0.29",
    );
    // Both nozzles are 0.4 mm: from 0.3 to 0.8 mm wide, at most 0.32 mm high.
    let reading = read(&spoilt(&[("line: 0.5", "line: 0.81")])).unwrap();
    let fields: Vec<&str> = reading.warnings.iter().map(|c| c.field.as_str()).collect();
    assert_eq!(fields, ["settings.light.line"; 2]);
    let reading = read(&spoilt(&[("layer: 0.3,", "layer: 0.33,")])).unwrap();
    assert!(reading.warnings[0].rule.contains("machines[tall], 0.4 mm"));
    assert!(
        read(&spoilt(&[("line: 0.5", "line: 0.3")]))
            .unwrap()
            .warnings
            .is_empty()
    );
}

#[test]
fn hours_run_forward_apart_and_are_not_empty() {
    let complaint = error("\"07:00-08:30\"", "\"22:00-06:00\"");
    says(&complaint, "bench.hours", "run backward", "\"22:00-06:00\"");
    assert!(
        complaint
            .fix
            .contains("\"22:00-24:00\" on that day and \"00:00-06:00\" on the next")
    );
    let complaint = error("\"07:00-08:30\"", "\"07:00-07:00\"");
    says(
        &complaint,
        "bench.hours",
        "must not be empty",
        "\"07:00-07:00\"",
    );
    let complaint = error("\"07:00-08:30\"", "\"07:00-17:31\"");
    says(
        &complaint,
        "bench.hours",
        "overlaps \"07:00-17:31\"",
        "\"17:30-22:30\"",
    );
    let complaint = error("22:30\"]", "22:30\"], fri: \"22:29-23:00\"");
    says(
        &complaint,
        "bench.hours",
        "overlaps \"17:30-22:30\"",
        "\"22:29-23:00\"",
    );
    let complaint = error("mon-fri:", "mon-fry:");
    says(&complaint, "bench.hours", "days must be among", "mon-fry");
}

#[test]
fn somebody_is_there_sometimes() {
    let hours = "{mon-fri: [\"07:00-08:30\", \"17:30-22:30\"]}";
    let complaint = error(hours, "{}");
    says(&complaint, "bench.hours", "nobody is ever there", "{}");
    let complaint = error(hours, "{mon-sun: []}");
    assert!(complaint.rule.contains("nobody is ever there"));
    let complaint = error("[2027-01-23]", "2027-01-01..2028-02-01");
    says(
        &complaint,
        "bench.away",
        "no bench hours in the year",
        "2027-01-01..2028-02-01",
    );
    assert!(read(&spoilt(&[("[2027-01-23]", "2027-01-01..2027-12-24")])).is_ok());
}

#[test]
fn a_setup_fits_into_the_hours() {
    // The longest stretch is 17:30 to 22:30: 300 min.
    let complaint = error("nozzle: 0.4", "turnaround: 301 min");
    says(
        &complaint,
        "machines[tall].turnaround",
        "longer than every stretch",
        "301 min",
    );
    let complaint = warning("nozzle: 0.4", "turnaround: 290 min, swap: 11 min");
    says(&complaint, "machines[tall].swap", "never changed", "11 min");
    assert!(
        read(&spoilt(&[(
            "nozzle: 0.4",
            "turnaround: 290 min, swap: 10 min"
        )]))
        .unwrap()
        .warnings
        .is_empty()
    );
}

#[test]
fn a_setup_that_fits_one_stretch_of_the_week_only_is_worth_a_word() {
    // 60 and 31 min do not fit the 90 of each morning, only the four hours of Saturday; 60 and 30 do.
    let hours = |setup: &str| {
        spoilt(&[
            (
                "\"07:00-08:30\", \"17:30-22:30\"]",
                "\"07:00-08:30\"], sat: \"10:00-14:00\"",
            ),
            ("nozzle: 0.4", setup),
        ])
    };
    let reading = read(&hours("turnaround: 60 min, swap: 31 min")).unwrap();
    let [odd] = &reading.warnings[..] else {
        panic!("{:?}", reading.warnings);
    };
    says(odd, "machines[tall].swap", "only one stretch", "31 min");
    assert!(odd.fix.starts_with("the one is sat 10:00-14:00"), "{odd}");
    let reading = read(&hours("turnaround: 60 min, swap: 30 min")).unwrap();
    assert_eq!(reading.warnings, []);
    // Whoever comes once a week knows it.
    let reading = read(&spoilt(&[
        (
            "mon-fri: [\"07:00-08:30\", \"17:30-22:30\"]",
            "sat: \"10:00-14:00\"",
        ),
        ("nozzle: 0.4", "turnaround: 60 min, swap: 31 min"),
    ]));
    assert_eq!(reading.unwrap().warnings, []);
}

#[test]
fn spans_out_of_use_run_forward_and_apart() {
    let span = |from: &str, to: &str| format!("{{from: {from}, to: {to}}}");
    let complaint = error(
        "offline: []",
        &format!("offline: [{}]", span("2027-01-21", "2027-01-21")),
    );
    says(
        &complaint,
        "machines[tall].offline[#1].to",
        "after `from`",
        "2027-01-21",
    );
    let two = |first: &str| {
        let second = span("2027-01-20 12:00", "2027-01-22");
        format!("offline: [{second}, {}]", span("2027-01-20", first))
    };
    let complaint = error("offline: []", &two("2027-01-20 12:01"));
    says(
        &complaint,
        "machines[tall].offline[#1].from",
        "overlaps another",
        "2027-01-20 12:00",
    );
    let touching = two("2027-01-20 12:00");
    let reading = read(&spoilt(&[("offline: []", touching.as_str())])).unwrap();
    let spans = &reading.scenario.machines[0].offline;
    assert!(spans[0].to == spans[1].from, "sorted");
}

#[test]
fn trials_copies_and_splits_stay_within_reason() {
    let complaint = error("quantity: 4", "quantity: 4, trial: 5");
    says(
        &complaint,
        "parts[chord].trial",
        "at most the quantity, 4",
        "5",
    );
    let complaint = error("quantity: 4", "quantity: 4, spares: 99996");
    // 4 + 99,996 and 6 rungs are 100,006.
    says(&complaint, "parts[chord].quantity", "100006 copies", "4");
    let complaint = error("into: 2..4", "into: 4..2");
    says(
        &complaint,
        "parts[chord].split.into",
        "run backward",
        "4..2",
    );
    // Another dash, or no number at all: a range is what is right.
    for dash in ["2-4", "2–4", "2 - 4"] {
        let complaint = error("into: 2..4", &format!("into: {dash}"));
        says(
            &complaint,
            "parts[chord].split.into",
            "a range such as",
            dash,
        );
        assert_eq!(complaint.fix, "write `2..4`");
    }
    let complaint = error("into: 2..4", "into: some");
    says(
        &complaint,
        "parts[chord].split.into",
        "a range such as",
        "some",
    );
    let complaint = error("into: 2..4", "into: 1..4");
    says(&complaint, "parts[chord].split.into", "2 to 100", "1..4");
    let complaint = error("quantity: 4", "quantity: 0");
    says(&complaint, "parts[chord].quantity", "1 to 100000", "0");
}

#[test]
fn a_scaled_model_stays_within_reason() {
    // 60,000 × 2 is more than the 100,000 mm that a part may have.
    let complaint = error("model: [60, 10, 5]", "model: [60000, 10, 5]");
    let rule = "times the scale of 2 must be 0.1 to 100000 mm";
    says(&complaint, "parts[rung].model", rule, "[60000, 10, 5]");
}

#[test]
fn what_is_measured_is_possible() {
    // 120 × 20 × 10 mm of 1.24 g/cm³ are 29.76 g, and a tenth more is let pass.
    let complaint = warning("minutes: {tall: 30}", "grams: 33");
    says(&complaint, "parts[rung].grams", "29.8 g", "33");
    let reading = read(&spoilt(&[("minutes: {tall: 30}", "grams: 32")])).unwrap();
    assert!(reading.warnings.is_empty());
    let complaint = warning("{tall: 30}", "{tall: 30, long: 20}");
    says(
        &complaint,
        "parts[rung].minutes.long",
        "may not make",
        "long",
    );
}

#[test]
fn a_duration_needs_a_unit_and_a_share_a_measure() {
    let complaint = error("nozzle: 0.4", "warm_up: 8");
    assert_eq!(complaint.fix, "write for example `8 min`");
    let complaint = error("nozzle: 0.4", "scrap: 3");
    assert_eq!(complaint.fix, "write `3%` or `0.03`");
}

#[test]
fn a_zone_that_is_misspelt_is_told_the_right_one() {
    let complaint = error("Europe/Oslo", "Europe/Olso");
    assert_eq!(complaint.fix, "did you mean `Europe/Oslo`?");
}

#[test]
fn a_name_is_a_word_and_another_is_proposed() {
    let complaint = error("light: {", "very light!: {");
    assert_eq!(complaint.field, "settings.very light!");
    assert_eq!(complaint.fix, "write for example `very-light`");
}

#[test]
fn one_line_says_place_field_rule_value_and_fix() {
    let complaint = error("section: [240, 200]", "section: 240");
    assert_eq!(
        complaint.to_string(),
        "crane.yaml:5:37: machines[long].section: must be 2 numbers: across the belt, above the belt; \
         each 20 to 10000 mm (found 240); write for example `section: [240, 200]`"
    );
}

#[test]
fn ten_mistakes_give_ten_complaints() {
    let complaints = errors(
        &[
            ("Europe/Oslo", "Europe/Olso"),
            ("scale: 2", "scale: -2"),
            ("08:30", "06:30"),
            ("height: 400", "height: tall"),
            ("loaded: yellow", "loaded: yelow"),
            ("longest: 2400", "lengths: 2400"),
            ("layer: 0.3", "layer: .nan"),
            ("quantity: 4", "quantity: four"),
            ("needs: [pivot]", "needs: [pivto]"),
        ],
        // The field that is unknown leaves the one that was meant missing.
        10,
    );
    let places: Vec<_> = complaints.iter().map(place).collect();
    assert!(places.is_sorted(), "in the order of the file");
}

#[test]
fn many_mistakes_look_like_this() {
    let text = include_str!("scenarios/many-mistakes.yaml");
    let complaints = scenario::read_text("many-mistakes.yaml", text, Path::new("")).unwrap_err();
    insta::assert_snapshot!(complaints.render(false));
}

#[test]
fn many_mistakes_in_a_table_look_like_this() {
    let text = "build: {start: 2027-01-11}\n\
        machines: [{id: tall, kind: bed, bed: [300, 300], height: 400}]\n\
        filaments: [{id: yellow, material: PLA}]\n\
        parts: [{id: jib-chord, size: [10, 10, 10]}]\n\
        parts_from: many-mistakes.csv\n";
    let folder = Path::new("tests/scenarios");
    let complaints = scenario::read_text("crane.yaml", text, folder).unwrap_err();
    insta::assert_snapshot!(complaints.render(false));
}

#[test]
fn many_mistakes_on_one_line_each_look_like_this() {
    let text = include_str!("scenarios/many-mistakes.yaml");
    let complaints = scenario::read_text("many-mistakes.yaml", text, Path::new("")).unwrap_err();
    insta::assert_snapshot!(complaints.to_string());
}

#[test]
fn colour_comes_only_when_asked_for() {
    let complaint = error("nozzle: 0.4", "nozzle: 9");
    assert!(!complaint.render(false).contains('\u{1b}'));
    assert!(complaint.render(true).contains('\u{1b}'));
}

#[test]
fn control_characters_of_a_file_do_not_reach_the_terminal() {
    let complaint = error("nozzle: 0.4", "\"noz\u{1b}[31mzle\": \"\u{7}\u{9b}\"");
    let shown = format!("{complaint}{}", complaint.render(false));
    let rude = |c: char| c.is_control() && c != '\n';
    assert!(!shown.contains(rude), "{shown:?}");
}

#[test]
fn an_earlier_print_heavier_than_its_original_enlarged_solid_is_odd() {
    // 1200 g × 5³ = 150 000 g.
    let earlier = |printed: u32| {
        format!(
            "build: {{start: 2027-01-11, earlier: [{{name: Bridge, scale: 5, original_g: 1200, printed_g: {printed}}}]}}\n\
             machines: [{{id: tall, kind: bed, bed: [300, 300], height: 400}}]\n\
             filaments: [{{id: yellow, material: PLA}}]\n\
             parts: [{{id: rung, size: [60, 10, 5]}}]\n"
        )
    };
    let warnings = |printed| {
        read(&earlier(printed))
            .unwrap_or_else(|all| panic!("{all}"))
            .warnings
    };
    assert_eq!(warnings(150_000), []);
    let odd = &warnings(150_001)[0];
    says(odd, "build.earlier[#1].printed_g", "150000 g", "150001");
}

/// A beam that spans, of a filament whose modulus is not known unless it is written.
fn spanning(material: &str, span: &str, hardware: &str) -> Result<scenario::Reading, Complaints> {
    read(&format!(
        "build: {{start: 2027-01-11, scale: 6}}\n\
         machines: [{{id: belt, kind: belt, section: [100, 100], longest: 2000, materials: [PLA, ASA]}}]\n\
         filaments: [{{id: yellow, material: {material}}}]\n\
         joints: {{rod: {{hardware: {{item: rod, length: 100{hardware}}}}}}}\n\
         parts: [{{id: chord, model: [230, 8, 8], span: {span}}}]\n"
    ))
}

#[test]
fn a_span_is_within_its_part_and_sags_across_it() {
    let one = |span: &str| {
        let complaints = spanning("PLA", span, "").expect_err(span);
        assert_eq!(complaints.errors().len(), 1, "{complaints}");
        complaints.errors()[0].clone()
    };
    // 230 × 6 = 1380 mm.
    says(
        &one("{mm: 1381}"),
        "parts[chord].span.mm",
        "longest side, 1380 mm",
        "1381",
    );
    says(
        &one("{down: x}"),
        "parts[chord].span.down",
        "along the span",
        "x",
    );
    for right in [
        "{}",
        "{mm: 1380}",
        "{down: z}",
        "{mm: 300, load_g: 40, ends: cantilever, sag_limit: 2}",
    ] {
        let reading = spanning("PLA", right, "").unwrap_or_else(|all| panic!("{all}"));
        assert_eq!(reading.warnings, [], "{right}");
    }
}

#[test]
fn what_spans_needs_a_modulus_and_a_rod_a_section_with_a_material() {
    let complaints = spanning("ASA", "{}", "").expect_err("no modulus is known for ASA");
    assert_eq!(complaints.errors().len(), 1, "{complaints}");
    assert_eq!(complaints.errors()[0].field, "filaments[yellow].modulus");
    assert!(spanning("ASA, modulus: 1500", "{}", "").is_ok());
    let complaints = spanning("PLA", "{}", ", section: M8").expect_err("of what?");
    says(
        &complaints.errors()[0],
        "joints.rod.hardware.section",
        "without a material",
        "M8",
    );
    for right in [
        ", section: M8, material: steel",
        ", section: rod 8, modulus: 9000",
    ] {
        let reading = spanning("PLA", "{}", right).unwrap_or_else(|all| panic!("{all}"));
        assert_eq!(reading.warnings, [], "{right}");
    }
    let odd = spanning("PLA", "{}", ", material: steel").unwrap_or_else(|all| panic!("{all}"));
    assert_eq!(odd.warnings.len(), 1);
    assert!(
        odd.warnings[0].rule.contains("no section"),
        "{:?}",
        odd.warnings
    );
}

#[test]
fn places_are_of_what_is_in_the_assembly_one_for_each() {
    let placed = |places: &str| {
        read(&format!(
            "build: {{start: 2027-01-11}}\n\
             machines: [{{id: tall, kind: bed, bed: [300, 300], height: 400}}]\n\
             filaments: [{{id: yellow, material: PLA}}]\n\
             parts: [{{id: rung, size: [60, 10, 5], quantity: 2}}, {{id: top, size: [60, 10, 5]}}]\n\
             assemblies:\n\
             - {{id: frame, parts: {{rung: 2}}}}\n\
             - {{id: ladder, parts: {{top: 1}}, needs: [frame], places: {{{places}}}}}\n"
        ))
    };
    let one = |places: &str| {
        let complaints = placed(places).expect_err(places);
        assert_eq!(complaints.errors().len(), 1, "{complaints}");
        complaints.errors()[0].clone()
    };
    let path = "assemblies[ladder].places";
    says(
        &one("tops: [0, 0, 1]"),
        &format!("{path}.tops"),
        "neither takes nor needs",
        "tops",
    );
    assert_eq!(one("tops: [0, 0, 1]").fix, "did you mean `top`?");
    // The rungs are in the frame, whose places are its own.
    assert!(
        one("rung: [0, 0, 1]")
            .rule
            .contains("neither takes nor needs")
    );
    assert!(
        one("top: [[0, 0, 1], [0, 0, 2]]")
            .rule
            .contains("has 2 places, and the assembly has 1 copies")
    );
    assert!(
        one("frame: [[0, 0, 1], [0, 0, 2]]")
            .rule
            .contains("has 2 places")
    );
    assert!(one("top: [0, 1]").rule.contains("a point of 3 numbers"));
    let right = placed("top: [0, 0, 1], frame: [[0, 0, 2]]").unwrap_or_else(|all| panic!("{all}"));
    assert_eq!(right.warnings, []);
}

#[test]
fn a_step_of_turns_goes_into_a_full_turn() {
    let rung = RIGHT
        .lines()
        .find(|line| line.contains("id: rung"))
        .expect("there is one");
    let with = |turn: &str| {
        let written = rung.replacen("id: rung", &format!("id: rung, turn: {turn}"), 1);
        spoilt(&[(rung, &written)])
    };
    for (turn, fix) in [
        ("50", "write for example `turn: 45`"),
        ("7", "write for example `turn: 6`"),
    ] {
        let complaints = read(&with(turn)).expect_err(turn);
        assert_eq!(complaints.errors().len(), 1, "{complaints}");
        let odd = &complaints.errors()[0];
        assert_eq!(
            (odd.field.as_str(), odd.fix.as_str()),
            ("parts[rung].turn", fix)
        );
    }
    for step in ["any", "none", "5", "120", "360"] {
        let text = with(step);
        assert!(read(&text).is_ok(), "{text}");
    }
}

#[test]
fn spares_are_a_number_or_counted() {
    let complaint = error("quantity: 4", "quantity: 4, spares: some");
    says(
        &complaint,
        "parts[chord].spares",
        "a whole number, 0 to 100000",
        "some",
    );
    assert!(complaint.fix.contains("spares: auto"));
    let complaint = error("scale: 2}", "scale: 2, confidence: 100%}");
    says(&complaint, "build.confidence", "50% to 99.99%", "100%");
}

#[test]
fn variants_are_several_and_each_has_its_name() {
    let with = |variants: &str| format!("quantity: 4, variants: [{variants}]");
    let tight = "{name: tight, offset: -0.1}";
    let complaint = error("quantity: 4", &with(tight));
    says(&complaint, "parts[chord].variants", "only one", tight);
    let complaint = error("quantity: 4", &with(&format!("{tight}, {tight}")));
    says(
        &complaint,
        "parts[chord].variants[#2].name",
        "another variant",
        "tight",
    );
    let complaint = error(
        "quantity: 4",
        &with("{name: tight, offset: -0.1 mm}, {name: loose, offset: 0.1}"),
    );
    says(
        &complaint,
        "parts[chord].variants[#1].offset",
        "without the unit",
        "-0.1 mm",
    );
    let two = with("{name: tight, offset: -0.1}, {name: loose, offset: 0.1}");
    let complaint = error("quantity: 4", &format!("{two}, trial: 1"));
    says(&complaint, "parts[chord].trial", "beside `variants`", "1");
    let five: Vec<String> = (1..6)
        .map(|at| format!("{{name: v{at}, offset: 0}}"))
        .collect();
    let complaint = error("quantity: 4", &with(&five.join(", ")));
    says(
        &complaint,
        "parts[chord].variants",
        "the quantity is 4",
        "4",
    );
}

#[test]
fn the_height_of_a_bed_machine_is_no_third_side_of_its_bed() {
    let complaint = error(
        "bed: [300, 300], height: 400",
        "bed: [300, 300, 400], height: 400",
    );
    says(
        &complaint,
        "machines[tall].bed",
        "must be 2 numbers",
        "[300, 300, 400]",
    );
    assert_eq!(
        complaint.fix,
        "write `bed: [300, 300]`, and beside it `height: 400`"
    );
}

#[test]
fn a_part_that_only_belts_may_make_and_no_belt_is_a_contradiction() {
    let complaint = error(
        "only: [tall], minutes: {tall: 30}",
        "only: [long], belt: never",
    );
    says(
        &complaint,
        "parts[rung].belt",
        "is never, and `only` names no machine but belts",
        "never",
    );
}

#[test]
fn a_split_that_its_joint_allows_in_no_number_is_worth_a_word() {
    // 500 mm in two are 250 each.
    let complaint = warning("shortest: 100", "shortest: 251");
    says(
        &complaint,
        "parts[chord].split",
        "in 2 each is 250 mm, and `shortest` is 251 mm",
        "rod",
    );
    assert_eq!(
        complaint.fix,
        "give the joint `shortest: 250` or less, or write `split: never`"
    );
    let right = spoilt(&[("shortest: 100", "shortest: 250")]);
    assert_eq!(read(&right).unwrap().warnings, []);
}

#[test]
fn a_material_that_is_known_by_another_spelling_is_proposed() {
    let complaint = error("material: PETG, density: 1.27", "material: pet-g");
    assert_eq!(complaint.fix, "did you mean `material: PETG`?");
    let mut all = errors(
        &[
            ("material: PETG", "material: PET-G"),
            (
                "loaded: yellow, offline",
                "materials: [PETG, PLA], loaded: yellow, offline",
            ),
            (
                "[60, 10, 5], filament: yellow",
                "[60, 10, 5], filament: black",
            ),
        ],
        1,
    );
    assert_eq!(
        all.remove(0).fix,
        "write `PETG` for the filament's `material`, as for the machines"
    );
}

#[test]
fn a_time_that_no_day_has_and_a_year_alone_are_told_from_other_slips() {
    let complaint = error("2027-01-11 07:00", "2027-01-11 25:00");
    says(
        &complaint,
        "build.start",
        "there is no such time of day: hours go to 23:59",
        "2027-01-11 25:00",
    );
    let complaint = error("2027-01-11 07:00", "2027");
    says(&complaint, "build.start", "is only a year", "2027");
    assert_eq!(complaint.fix, "write for example `start: 2027-01-11 07:00`");
}
