//! Slips of the pen in a scenario's notation, each told where it is with what was meant.

use std::path::Path;

use beamyard::scenario::{self, Complaint, Complaints};

/// A scenario in which all is right, to be spoilt in one place.
const RIGHT: &str = include_str!("scenarios/all-right.yaml");

fn complaints(text: &str) -> Complaints {
    scenario::read_text("crane.yaml", text, Path::new("tests/scenarios")).expect_err(text)
}

/// The only error of the right scenario with one text put for another.
#[track_caller]
fn error(right: &str, wrong: &str) -> Complaint {
    assert_eq!(RIGHT.matches(right).count(), 1, "{right} stands once");
    let complaints = complaints(&RIGHT.replace(right, wrong));
    assert_eq!(complaints.errors().len(), 1, "{complaints}");
    complaints.errors()[0].clone()
}

/// Checks line and column, field, rule, what was found and the fix.
#[track_caller]
fn says(error: &Complaint, place: (usize, usize), field: &str, rule: &str, found: &str, fix: &str) {
    let at = error.place.as_ref().expect("it has a place");
    assert_eq!((at.line, at.column), place, "{error}");
    assert_eq!(error.field, field, "{error}");
    assert!(error.rule.contains(rule), "{error}");
    assert_eq!(error.found, found, "{error}");
    assert!(error.fix.contains(fix), "{error}");
}

#[test]
fn a_colour_without_quotes_in_braces_is_a_comment_and_is_told_so() {
    let error = error(
        "{id: yellow, material: PLA, colour: \"#e8b10a\"}",
        "{id: yellow, colour: #e8b10a, material: PLA}",
    );
    let rule = "`#` after a blank begins a comment";
    let fix = "in quotes: `colour: \"#e8b10a\"`";
    says(
        &error,
        (7, 26),
        "filaments[yellow].colour",
        rule,
        "#e8b10a",
        fix,
    );
}

#[test]
fn a_value_cut_off_by_a_number_sign_is_told_the_comment() {
    let error = error(
        "joints: {rod: {shortest: 100}}",
        "joints: {rod: {hardware: {item: rod #8, length: 9}}}",
    );
    let rule = "`{` is not closed";
    says(
        &error,
        (10, 37),
        "joints.rod.hardware.item",
        rule,
        "#8, length: 9}}}",
        "in quotes",
    );
}

#[test]
fn a_missing_comma_is_told_where_it_belongs() {
    let fields = error("scale: 2}", "scale: 2 each_day: 3}");
    let rule = "a comma is missing";
    says(
        &fields,
        (1, 66),
        "build.scale",
        rule,
        "",
        "before `each_day`",
    );
    let entries = error("\"07:00-08:30\", ", "\"07:00-08:30\" ");
    says(
        &entries,
        (2, 41),
        "bench.hours.mon-fri",
        rule,
        "",
        "write a comma",
    );
}

#[test]
fn a_list_of_numbers_without_its_commas_is_written_out() {
    let error = error("[500, 40, 40]", "[500 40, 40]");
    says(
        &error,
        (12, 36),
        "parts[chord].size",
        "3 numbers",
        "[500 40, 40]",
        "`[500, 40, 40]`",
    );
}

#[test]
fn a_bracket_that_is_not_closed_is_marked_where_it_was_opened() {
    let rule = "opened and never closed";
    let first = error("shortest: 100}}", "shortest: 100}");
    says(&first, (10, 9), "joints", rule, "{", "write `}`");
    let inner = error("model: [60, 10, 5],", "model: [60, 10, 5,");
    says(
        &inner,
        (13, 36),
        "parts[rung].model",
        rule,
        "[",
        "write `]`",
    );
    let last = error("late: 40}", "late: 40");
    says(&last, (16, 5), "assemblies[jib]", rule, "{", "write `}`");
}

#[test]
fn a_dash_without_a_blank_is_told_the_blank() {
    let rule = "a blank is missing after the dash";
    let one = error("  - {id: black,", "  -{id: black,");
    says(
        &one,
        (8, 3),
        "filaments",
        rule,
        "-{id: black, material: PETG, d",
        "write `- {id: black",
    );
    // Where it is the only entry, the list reads as a map.
    let text = "build: {start: 2027-01-11}\nmachines:\n  -id: tall\nfilaments: [{id: red, material: PLA}]\n\
                parts: [{id: a, size: [9, 9, 9]}]\n";
    let all = complaints(text);
    assert_eq!(all.errors().len(), 1, "{all}");
    says(
        &all.errors()[0],
        (3, 3),
        "machines",
        rule,
        "-id",
        "write `- id: …`",
    );
    // With a second field under it, it does not read at all.
    let all = complaints(&text.replace("  -id: tall\n", "  -id: tall\n   kind: bed\n"));
    assert_eq!(all.errors().len(), 1, "{all}");
    says(
        &all.errors()[0],
        (3, 3),
        "machines",
        rule,
        "-id: tall",
        "write `- id: tall`",
    );
}

/// The first complaint of a table.
fn of_table(table: &str) -> Complaints {
    let folder = tempfile::tempdir().expect("a folder can be made");
    std::fs::write(folder.path().join("parts.csv"), table).expect("it can be written");
    let text = "build: {start: 2027-01-11}\n\
        machines: [{id: tall, kind: bed, bed: [300, 300], height: 400}]\n\
        filaments: [{id: yellow, material: PLA}]\n\
        parts_from: parts.csv\n";
    scenario::read_text("crane.yaml", text, folder.path()).expect_err(table)
}

#[test]
fn a_table_without_field_names_is_told_to_have_them() {
    let all = of_table("foot,4,\"[60, 60, 8]\"\nrail,2,\"[90, 9, 8]\"\n");
    assert_eq!(all.errors().len(), 1, "{all}");
    let error = &all.errors()[0];
    let rule = "the first row must name the columns";
    says(
        error,
        (1, 1),
        "parts_from",
        rule,
        "foot,4,[60, 60, 8]",
        "`id,quantity,size`",
    );
    // Names that are nearly right are names.
    let all = of_table("Id,Qty,Size\nfoot,4,\"[60, 60, 8]\"\n");
    let fixes: Vec<&str> = all
        .errors()
        .iter()
        .map(|error| error.fix.as_str())
        .collect();
    assert_eq!(
        fixes,
        [
            "did you mean `id`?",
            "did you mean `quantity`?",
            "did you mean `size`?"
        ],
        "{all}"
    );
}

#[test]
fn a_missing_table_is_called_a_table() {
    let text = "build: {start: 2027-01-11}\n\
        machines: [{id: tall, kind: bed, bed: [300, 300], height: 400}]\n\
        filaments: [{id: yellow, material: PLA}]\n\
        parts_from: none.csv\n";
    let all = complaints(text);
    let fix = "give the path of a table of parts (a CSV file";
    says(
        &all.errors()[0],
        (4, 13),
        "parts_from",
        "there is no such file",
        "none.csv",
        fix,
    );
}

#[test]
fn other_names_of_fields_are_known() {
    for (right, wrong, meant) in [
        ("quantity: 4", "qty: 4", "quantity"),
        ("quantity: 4", "Quantity: 4", "quantity"),
        ("quantity: 4", "quantitty: 4", "quantity"),
        ("quantity: 4", "count: 4", "quantity"),
        ("filaments:", "filaments[:", "filaments"),
        ("height: 400", "height.: 400", "height"),
        ("size: [500", "dimensions: [500", "size"),
        ("height: 400", "height_mm: 400", "height"),
        ("{tall: 30}", "{tall: 30}, weight: 9", "grams"),
        ("{tall: 30}", "{tall: 30}, span: {load: 9}", "load_g"),
        ("timezone: ", "tz: ", "timezone"),
        ("joints: ", "joint: ", "joints"),
        ("filaments:", "filament:", "filaments"),
        ("id: yellow,", "name: yellow,", "id"),
    ] {
        // Nothing else is said: all that follows comes from the absence of what was meant.
        let error = error(right, wrong);
        assert_eq!(error.rule, "there is no such field", "{error}");
        assert_eq!(error.fix, format!("did you mean `{meant}`?"), "{error}");
    }
}

#[test]
fn what_is_wrong_besides_a_misspelt_name_is_still_told() {
    // Without its size the part cannot be made either way; the colour of the other is no colour.
    let text = RIGHT
        .replace("size: [500", "sizze: [500")
        .replace("#e8b10a", "#e8b1");
    let all = complaints(&text);
    let fields: Vec<&str> = all
        .errors()
        .iter()
        .map(|error| error.field.as_str())
        .collect();
    assert_eq!(
        fields,
        ["filaments[yellow].colour", "parts[chord].sizze"],
        "{all}"
    );
}

#[test]
fn yes_and_no_are_told_the_word_of_the_field() {
    for (right, wrong, fix) in [
        (
            "quantity: 4",
            "quantity: 4, alone: yes",
            "write `alone: true`",
        ),
        (
            "quantity: 4",
            "quantity: 4, alone: no",
            "write `alone: false`",
        ),
        (
            "quantity: 4",
            "quantity: 4, belt: no",
            "write `belt: never`",
        ),
        (
            "quantity: 4",
            "quantity: 4, belt: yes",
            "write `belt: allowed`",
        ),
        (
            "nozzle: 0.4",
            "unattended: no",
            "write `unattended: forbidden`",
        ),
        (
            "nozzle: 0.4",
            "unattended: never",
            "write `unattended: forbidden`",
        ),
        ("kind: belt", "kind: bellt", "write `kind: belt`"),
        (
            "split: {joint: rod, into: 2..4}",
            "split: no",
            "write `split: never`",
        ),
    ] {
        assert_eq!(error(right, wrong).fix, fix);
    }
}

#[test]
fn an_hour_that_no_day_has_is_told_the_days_end() {
    let rule = "there is no time 25:00: a day ends at 24:00";
    let late = error("\"17:30-22:30\"", "\"17:30-25:00\"");
    let fix = "\"17:30-24:00\" on that day and \"00:00-01:00\" on the next";
    says(&late, (2, 42), "bench.hours", rule, "17:30-25:00", fix);
    let early = error("\"17:30-22:30\"", "\"25:00-26:00\"");
    assert!(early.rule.contains(rule), "{early}");
    let minute = error("\"17:30-22:30\"", "\"17:30-22:75\"");
    assert!(minute.rule.contains("an hour has 60 minutes"), "{minute}");
}

#[test]
fn a_decimal_comma_in_a_list_is_told_the_point() {
    let one = error("[60, 10, 5]", "[56, 12, 1,2]");
    let fix = "these are 4 numbers; a decimal point is a point: `[56, 12, 1.2]`";
    says(
        &one,
        (13, 36),
        "parts[rung].model",
        "3 numbers",
        "[56, 12, 1, 2]",
        fix,
    );
    let several = error("[60, 10, 5]", "[56,5, 12, 1,2]");
    assert!(several.fix.contains("`[56.5, 12, 1.2]`"), "{several}");
    // Without any blank it cannot be told which comma is meant.
    let unclear = error("[60, 10, 5]", "[56,12,1,2]");
    assert!(unclear.fix.contains("write 3, with a point"), "{unclear}");
}

#[test]
fn a_town_is_told_its_zone() {
    for (town, zone) in [
        ("Berlin", "Europe/Berlin"),
        ("oslo", "Europe/Oslo"),
        ("New York", "America/New_York"),
        ("Belin", "Europe/Berlin"),
    ] {
        let error = error("Europe/Oslo", town);
        assert_eq!(error.fix, format!("did you mean `{zone}`?"));
    }
}

/// A bench written field below field, in a scenario in which all else is right; the bench's first field is on line 3.
fn with_bench(fields: &str) -> String {
    format!(
        "build: {{start: 2027-01-11}}\n\
         bench:\n\
         {fields}\
         machines: [{{id: tall, kind: bed, bed: [300, 300], height: 400}}]\n\
         filaments: [{{id: yellow, material: PLA}}]\n\
         parts: [{{id: foot, size: [60, 60, 8]}}]\n"
    )
}

/// The only error of a scenario.
#[track_caller]
fn only(text: &str) -> Complaint {
    let all = complaints(text);
    assert_eq!(all.errors().len(), 1, "{all}");
    all.errors()[0].clone()
}

#[test]
fn a_forgotten_colon_is_told_on_its_own_line() {
    let rule = "a colon is missing between a field and its value";
    let fix = "write `hands: 2`";
    // First, in the middle and last of several fields.
    for (fields, line) in [
        ("  hands 2\n  unattended: allowed\n", 3),
        ("  bench_hour: 12\n  hands 2\n  unattended: allowed\n", 4),
        (
            "  hours: {mon-sun: [\"07:00-22:00\"]}\n  hands 2 # one and a half\n",
            4,
        ),
        ("  unattended: allowed\n  hands 2\n", 4),
    ] {
        let error = only(&with_bench(fields));
        says(&error, (line, 3), "bench.hands", rule, "hands 2", fix);
    }
    // Alone it is text where fields should be; in braces it is a field without a value.
    let rule = "must be fields with values";
    says(
        &only(&with_bench("  hands 2\n")),
        (3, 3),
        "bench",
        rule,
        "hands 2",
        fix,
    );
    let braces =
        only(&with_bench("").replace("bench:\n", "bench: {hands 2, unattended: allowed}\n"));
    says(
        &braces,
        (2, 9),
        "bench.hands 2",
        "no such field",
        "hands 2",
        fix,
    );
}

#[test]
fn a_forgotten_blank_after_a_colon_is_told_on_its_own_line() {
    let error = only(&with_bench("  hands:2\n  unattended: allowed\n"));
    let rule = "a blank is missing after the colon";
    says(
        &error,
        (3, 3),
        "bench.hands",
        rule,
        "hands:2",
        "write `hands: 2`",
    );
}

#[test]
fn a_name_without_colon_and_value_is_told() {
    let text = with_bench("  hands: 2\n").replace("bench:\n", "bench\n");
    let rule = "a colon is missing after the name of a field";
    says(
        &only(&text),
        (2, 1),
        "bench",
        rule,
        "bench",
        "write `bench:`",
    );
}

#[test]
fn a_colon_forgotten_in_an_entry_of_a_list_is_told() {
    let list = "machines:\n  - id tall\n    kind: bed\n    bed: [300, 300]\n    height: 400\n";
    let text = with_bench("  hands: 2\n");
    let text = text.replace(
        "machines: [{id: tall, kind: bed, bed: [300, 300], height: 400}]\n",
        list,
    );
    let rule = "a colon is missing";
    says(
        &only(&text),
        (5, 5),
        "machines.id",
        rule,
        "id tall",
        "write `id: tall`",
    );
}

#[test]
fn a_field_set_in_too_far_is_told_on_its_own_line() {
    let rule = "set in further than `unattended`, which has its value already";
    let fix = "below `unattended`: with 2 blanks before it";
    for value in ["allowed", "\"allowed\"", "allowed # at night too"] {
        let error = only(&with_bench(&format!(
            "  unattended: {value}\n    hands: 2\n  bench_hour: 9\n"
        )));
        says(&error, (4, 5), "bench.hands", rule, "hands", fix);
    }
    // And after brackets.
    let error = only(&with_bench(
        "  hours: {mon-sun: [\"07:00-22:00\"]}\n   hands: 2\n",
    ));
    says(
        &error,
        (4, 4),
        "bench.hands",
        "further than `hours`",
        "hands",
        "with 2 blanks",
    );
}

#[test]
fn a_field_set_in_less_far_than_its_neighbours_is_told_on_its_own_line() {
    let error = only(&with_bench("    unattended: allowed\n  hands: 2\n"));
    let rule = "set in less far than `unattended`";
    says(
        &error,
        (4, 3),
        "bench.hands",
        rule,
        "hands",
        "with 4 blanks before it",
    );
}

#[test]
fn text_over_several_lines_and_comments_are_no_forgotten_colons() {
    // The slip is a bracket further down; all before it is right.
    let text = with_bench("  # hands 2\n  hands: 2\n").replace(
        "build: {start: 2027-01-11}\n",
        "build:\n  name:\n    A crane that stands\n    beside the quay\n  currency_of: &it\n    a: |\n      hands 2\n      it: is text\n  start: 2027-01-11\n",
    );
    let error = only(&text.replace("[60, 60, 8]}", "[60, 60, 8}"));
    assert!(error.rule.contains("opened and never closed"), "{error}");
}

#[test]
fn a_spool_in_kilograms_is_told_in_grams() {
    let list = only(&RIGHT.replace("{id: yellow,", "{id: yellow, spools: [1.000, 750],"));
    assert_eq!(list.field, "filaments[yellow].spools");
    assert_eq!(
        (list.found.as_str(), list.fix.as_str()),
        ("1.000", "write 1000 for 1 kg")
    );
    assert!(list.rule.contains("20 to"), "{list}");
    let usual = only(&RIGHT.replace("{id: yellow,", "{id: yellow, spool: 0.75,"));
    assert_eq!(
        (usual.field.as_str(), usual.fix.as_str()),
        ("filaments[yellow].spool", "write 750 for 0.75 kg")
    );
    // What is left on a spool is no kilogram; what is too light to be told of is left out.
    let rest = only(&RIGHT.replace("{id: yellow,", "{id: yellow, spools: [1000, 12.5],"));
    assert!(rest.fix.starts_with("write for example"), "{rest}");
    assert_eq!(RIGHT.matches("{id: yellow,").count(), 1);
}
