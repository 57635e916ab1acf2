//! A scenario file read whole: every field into its value, the defaults of those left out, both kinds of files alike.

use std::path::Path;

use beamyard::scenario::{
    self, Axis, DaySpan, FilamentIndex, Hands, MachineKind, Part, Scenario, SettingsIndex,
};
use beamyard::units::{
    Density, Flow, Grams, Millimetres, Minutes, Money, PricePerKilogram, Seconds, Watts,
};

fn example() -> Scenario {
    let reading = scenario::read(Path::new("tests/scenarios/quayside-crane.yaml"))
        .unwrap_or_else(|complaints| panic!("{}", complaints.render(false)));
    assert_eq!(reading.warnings, []);
    reading.scenario
}

/// Reads a text that has nothing wrong or odd in it.
fn read(text: &str) -> Scenario {
    read_in(text, Path::new(""))
}

fn read_in(text: &str, folder: &Path) -> Scenario {
    let reading = scenario::read_text("scenario.yaml", text, folder)
        .unwrap_or_else(|complaints| panic!("{}", complaints.render(false)));
    assert_eq!(reading.warnings, [], "{text}");
    reading.scenario
}

/// The shortest scenario there is, with further lines.
fn least(further: &str) -> String {
    format!(
        "build: {{start: 2027-01-11}}\n\
         machines: [{{id: tall, kind: bed, bed: [300, 310], height: 400}}]\n\
         filaments: [{{id: yellow, material: PLA}}]\n{further}\n"
    )
}

const ONE_PART: &str = "parts: [{id: rung, size: [60, 10, 5]}]";

fn mm(lengths: [f64; 2]) -> [Millimetres; 2] {
    lengths.map(Millimetres)
}

#[test]
fn the_build_and_the_bench_are_read() {
    let scenario = example();
    assert_eq!(scenario.file, "tests/scenarios/quayside-crane.yaml");
    assert_eq!(scenario.currency, "EUR");
    let build = &scenario.build;
    assert_eq!(build.name, "Quayside crane");
    assert_eq!(build.scale, 6.0);
    assert_eq!(build.zone.name(), "Europe/Oslo");
    // Oslo is one hour ahead of UTC in January.
    assert_eq!(build.start.to_rfc3339(), "2027-01-11T06:00:00+00:00");
    assert_eq!(build.each_day, Money(2.0));

    let bench = &scenario.bench;
    let span = |open: u32, close: u32| DaySpan { open, close };
    // 07:00 is minute 420, 08:30 minute 510, 17:30 minute 1050, 22:30 minute 1350, 09:00 540, 22:00 1320.
    for day in 0..5 {
        assert_eq!(bench.hours[day], [span(420, 510), span(1050, 1350)]);
    }
    for day in 5..7 {
        assert_eq!(bench.hours[day], [span(540, 1320)]);
    }
    let away: Vec<String> = bench.away.iter().map(ToString::to_string).collect();
    assert_eq!(away, ["2027-01-23"]);
    assert_eq!(bench.hands, Hands::Count(1));
    assert!(bench.unattended);
    assert_eq!(bench.bench_hour, Money(15.0));
    assert_eq!(bench.energy_kwh, Money(0.30));
}

#[test]
fn a_bed_machine_is_read() {
    let scenario = example();
    let tall = &scenario.machines[0];
    assert_eq!(tall.id, "tall");
    let MachineKind::Bed { bed, height } = tall.kind else {
        panic!("a bed machine");
    };
    assert_eq!((bed, height), (mm([300.0, 300.0]), Millimetres(400.0)));
    assert_eq!(tall.margin, Millimetres(5.0));
    assert_eq!(tall.spacing, Millimetres(4.0));
    assert_eq!(tall.nozzle, Millimetres(0.6));
    assert_eq!(tall.flow, Flow(14.0));
    assert_eq!(tall.layer_time, Seconds(4.0));
    assert!(tall.materials.iter().eq(["PETG", "PLA"]));
    assert_eq!(tall.loaded, Some(FilamentIndex(0)));
    assert_eq!(tall.warm_up, Seconds(480.0));
    assert_eq!(tall.turnaround, Minutes(10));
    assert_eq!(tall.swap, Minutes(8));
    assert_eq!(tall.purge, Grams(12.0));
    assert_eq!(tall.watts, Watts(130.0));
    assert_eq!(tall.hourly, Money(0.40));
    assert_eq!(tall.scrap, 0.03);
    assert!(tall.unattended);
    let [outage] = &tall.offline[..] else {
        panic!("one span out of use");
    };
    // Midnight in Oslo is 23:00 UTC of the day before.
    assert_eq!(outage.from.to_rfc3339(), "2027-01-19T23:00:00+00:00");
    assert_eq!(outage.to.to_rfc3339(), "2027-01-20T23:00:00+00:00");
    assert_eq!(outage.why, "new bearings");
}

#[test]
fn a_belt_machine_is_read() {
    let scenario = example();
    let belt = &scenario.machines[1];
    assert_eq!(belt.id, "belt");
    let MachineKind::Belt {
        section,
        longest,
        gap,
    } = belt.kind
    else {
        panic!("a belt machine");
    };
    assert_eq!(section, mm([240.0, 200.0]));
    assert_eq!(longest, Millimetres(2400.0));
    assert_eq!(gap, Millimetres(25.0));
    assert_eq!(belt.margin, Millimetres(3.0));
    assert_eq!(belt.spacing, Millimetres(6.0));
    assert_eq!(belt.layer_time, Seconds(2.5));
    assert_eq!(belt.loaded, None);
    assert_eq!(belt.turnaround, Minutes(12));
    assert_eq!(belt.scrap, 0.05);
    assert!(belt.offline.is_empty());
    assert!(!belt.unattended, "the machine's own word beats the bench's");
}

#[test]
fn filaments_settings_and_joints_are_read() {
    let scenario = example();
    let [yellow, black] = &scenario.filaments[..] else {
        panic!("two filaments");
    };
    assert_eq!(yellow.id, "yellow");
    assert_eq!(yellow.material, "PLA");
    assert_eq!(yellow.colour, "#e8b10a");
    assert_eq!(yellow.density, Density(1.24));
    assert_eq!(yellow.price_kg, PricePerKilogram(21.0));
    assert_eq!(yellow.spools, [Grams(1000.0), Grams(430.0)]);
    assert_eq!(yellow.spool, Grams(1000.0));
    assert_eq!(yellow.lead, Minutes(4 * 24 * 60));
    assert_eq!(black.material, "PETG", "materials are in upper case");
    assert_eq!(black.density, Density(1.27), "the usual one of PETG");

    let [light, strong] = &scenario.settings[..] else {
        panic!("two settings");
    };
    assert_eq!((light.id.as_str(), strong.id.as_str()), ("light", "strong"));
    assert_eq!(light.layer, Millimetres(0.3));
    assert_eq!(light.line, Millimetres(0.65));
    assert_eq!((light.perimeters, light.top, light.bottom), (2, 3, 2));
    assert_eq!(light.infill, 0.05);

    let [joint] = &scenario.joints[..] else {
        panic!("one joint");
    };
    assert_eq!(joint.id, "steel-rod");
    assert_eq!(joint.shortest, Millimetres(120.0));
    assert_eq!(joint.bench, Seconds(360.0));
    assert_eq!(joint.cure, Minutes(480));
    assert_eq!(joint.grams, Grams(4.0));
    let hardware = joint.hardware.as_ref().unwrap();
    assert_eq!(hardware.item, "M8 rod");
    assert_eq!(hardware.grams_per_mm, 0.31);
    assert_eq!(hardware.price_per_mm, Money(0.004));
    assert_eq!(hardware.length, Millimetres(160.0));
}

#[test]
fn parts_are_read_and_a_model_is_scaled() {
    let scenario = example();
    let [chord, lacing, bearing] = &scenario.parts[..] else {
        panic!("three parts");
    };
    assert_eq!(chord.id, "jib-chord");
    assert_eq!(chord.quantity, 8);
    // 230 × 6 = 1380, 8 × 6 = 48.
    assert_eq!(chord.size, [1380.0, 48.0, 48.0].map(Millimetres));
    assert_eq!(chord.solid(), 0.8);
    assert_eq!(chord.filament, FilamentIndex(0));
    assert_eq!(chord.settings, SettingsIndex(0));
    assert_eq!(chord.lie, Axis::ALL);
    let split = chord.split.as_ref().unwrap();
    assert_eq!((split.joint.0, split.into.clone()), (0, 2..=6));
    assert!(chord.belt);
    assert_eq!(chord.finishing, Seconds(240.0));
    assert_eq!((chord.spares, chord.trial), (0, 0));
    assert!(!chord.alone);
    let ready = chord.ready.unwrap();
    assert_eq!(ready.to_rfc3339(), "2027-01-13T17:00:00+00:00");
    assert_eq!(chord.minutes, [Some(340.0), None]);
    assert_eq!(chord.only, [true, true], "an empty `only` means all");
    assert_eq!(chord.grams, Some(Grams(195.0)));

    assert_eq!(lacing.size, [180.0, 12.0, 6.5].map(Millimetres));
    assert_eq!(lacing.lie, [Axis::X, Axis::Z]);
    assert!(lacing.split.is_none());
    assert!(!lacing.belt);
    assert_eq!((lacing.copies(), lacing.trial), (38, 1));
    assert_eq!(lacing.only, [true, false]);
    assert_eq!(lacing.minutes, [None, None]);

    assert_eq!(bearing.filament, FilamentIndex(1));
    assert_eq!(bearing.settings, SettingsIndex(1));
    assert!(bearing.alone);
}

#[test]
fn assemblies_are_read() {
    let scenario = example();
    let [pivot, jib] = &scenario.assemblies[..] else {
        panic!("two assemblies");
    };
    assert_eq!(pivot.bench, Minutes(90));
    assert_eq!(pivot.cure, Minutes::ZERO);
    // A date alone is its first minute.
    assert_eq!(pivot.due.unwrap().to_rfc3339(), "2027-01-29T23:00:00+00:00");
    assert_eq!(pivot.late, Money(10.0), "the default, since it has a date");

    assert_eq!(jib.id, "jib");
    let parts: Vec<(usize, u32)> = jib.parts.iter().map(|(part, n)| (part.0, *n)).collect();
    assert_eq!(parts, [(0, 8), (1, 36)]);
    assert_eq!(jib.needs.iter().map(|a| a.0).collect::<Vec<_>>(), [0]);
    assert_eq!(jib.bench, Minutes(360));
    assert_eq!(jib.cure, Minutes(720));
    assert_eq!(jib.due.unwrap().to_rfc3339(), "2027-02-06T17:00:00+00:00");
    assert_eq!(jib.late, Money(40.0));
}

#[test]
fn what_is_left_out_has_its_default() {
    let scenario = read(&least(ONE_PART));
    assert_eq!(scenario.build.name, "scenario", "the file's name");
    assert_eq!(scenario.build.scale, 1.0);
    assert_eq!(scenario.build.zone, chrono_tz::UTC);
    assert_eq!(scenario.build.each_day, Money(1.0));
    assert_eq!(scenario.currency, "EUR");
    assert_eq!(scenario.bench.hands, Hands::Count(1));
    assert!(scenario.bench.unattended);
    assert!(scenario.bench.away.is_empty());
    assert_eq!(scenario.bench.bench_hour, Money(15.0));
    assert_eq!(scenario.bench.energy_kwh, Money(0.30));
    let day = DaySpan {
        open: 480,
        close: 1200,
    };
    assert!(scenario.bench.hours.iter().all(|spans| spans[..] == [day]));

    let machine = &scenario.machines[0];
    assert_eq!(machine.margin, Millimetres(5.0));
    assert_eq!(machine.spacing, Millimetres(4.0));
    assert_eq!(machine.nozzle, Millimetres(0.4));
    assert_eq!(machine.flow, Flow(12.0));
    assert_eq!(machine.layer_time, Seconds(3.0));
    assert!(machine.materials.iter().eq(["PLA"]));
    assert_eq!(machine.loaded, None);
    assert_eq!(machine.warm_up, Seconds(360.0));
    assert_eq!(machine.turnaround, Minutes(10));
    assert_eq!(machine.swap, Minutes(8));
    assert_eq!(machine.purge, Grams(12.0));
    assert_eq!(machine.watts, Watts(120.0));
    assert_eq!(machine.hourly, Money(0.40));
    assert_eq!(machine.scrap, 0.03);

    let filament = &scenario.filaments[0];
    assert_eq!(filament.density, Density(1.24));
    assert_eq!(filament.price_kg, PricePerKilogram(20.0));
    assert!(filament.spools.is_empty());
    assert_eq!(filament.spool, Grams(1000.0));
    assert_eq!(filament.lead, Minutes(3 * 24 * 60));

    assert_eq!(scenario.settings.len(), 1, "one is built in");
    assert_eq!(scenario.settings[0].id, "standard");

    let part = &scenario.parts[0];
    assert_eq!((part.quantity, part.spares, part.trial), (1, 0, 0));
    assert_eq!(part.solid(), 1.0);
    assert_eq!(part.lie, Axis::ALL);
    assert!(part.split.is_none() && part.belt && !part.alone);
    assert_eq!(part.finishing, Seconds(0.0));
    assert_eq!((part.filament.0, part.settings.0), (0, 0));
    assert_eq!((part.ready, part.grams), (None, None));
    assert_eq!(part.only, [true]);

    let [all] = &scenario.assemblies[..] else {
        panic!("one assembly that takes everything");
    };
    assert_eq!(all.id, "scenario");
    assert_eq!(all.parts.len(), 1);
    assert_eq!((all.due, all.late), (None, Money::ZERO));
}

#[test]
fn a_belt_and_a_joint_have_their_own_defaults() {
    let scenario = read(
        "build: {start: 2027-01-11}\n\
         machines: [{id: long, kind: belt, section: [240, 200], longest: 2400}]\n\
         filaments: [{id: yellow, material: PLA}]\n\
         joints: {glue: {}}\n\
         parts: [{id: beam, size: [600, 20, 20], split: {joint: glue, into: 3}}]\n",
    );
    let belt = &scenario.machines[0];
    assert_eq!(
        (belt.margin, belt.spacing),
        (Millimetres(2.0), Millimetres(4.0))
    );
    let MachineKind::Belt { gap, .. } = belt.kind else {
        panic!("a belt machine");
    };
    assert_eq!(gap, Millimetres(20.0));
    let joint = &scenario.joints[0];
    assert_eq!(joint.shortest, Millimetres(100.0));
    assert_eq!((joint.bench, joint.cure), (Seconds(300.0), Minutes::ZERO));
    assert!(joint.hardware.is_none());
    let split = scenario.parts[0].split.as_ref().unwrap();
    assert_eq!(split.into, 3..=3, "one number is just that");
}

#[test]
fn hours_may_touch_wrap_around_the_week_and_end_at_24_00() {
    let hours = r#"bench: {hours: {sat-mon: "20:00-24:00", "sun, wed": ["00:00-06:00", "06:00-8:00"]}, hands: unlimited, away: [2027-01-23, 2027-02-01..2027-02-03]}"#;
    let scenario = read(&least(&format!("{hours}\n{ONE_PART}")));
    let bench = &scenario.bench;
    let span = |open: u32, close: u32| DaySpan { open, close };
    let late = span(1200, 1440);
    let early = [span(0, 360), span(360, 480)];
    assert_eq!(bench.hours[0], [late]);
    assert_eq!(bench.hours[1], []);
    assert_eq!(bench.hours[2], early);
    assert_eq!(bench.hours[5], [late]);
    assert_eq!(
        bench.hours[6],
        [early[0], early[1], late],
        "sorted, not merged"
    );
    assert_eq!(bench.hands, Hands::Unlimited);
    // The 23rd, and three days from the 1st to the 3rd.
    assert_eq!(bench.away.len(), 4);
}

#[test]
fn a_start_in_the_hour_that_spring_leaves_out_is_the_first_minute_after() {
    let text = least(ONE_PART).replace(
        "start: 2027-01-11",
        "start: 2027-03-28 02:30, timezone: Europe/Oslo",
    );
    // The clocks go from 02:00 to 03:00 (UTC+2), which is 01:00 UTC.
    let start = read(&text).build.start;
    assert_eq!(start.to_rfc3339(), "2027-03-28T01:00:00+00:00");
}

#[test]
fn a_byte_order_mark_and_windows_line_ends_change_nothing() {
    let text = std::fs::read_to_string("tests/scenarios/quayside-crane.yaml").unwrap();
    let plain = format!("{:?}", read(&text));
    let windows = format!("\u{feff}{}", text.replace('\n', "\r\n"));
    assert_eq!(format!("{:?}", read(&windows)), plain);
}

#[test]
fn an_anchor_is_read_as_what_it_stands_for() {
    let scenario = read(&least(
        "parts: [{id: left, size: &plate [60, 40, 5]}, {id: right, size: *plate}]",
    ));
    assert_eq!(scenario.parts[1].size, scenario.parts[0].size);
}

/// Everything about a part, to compare two.
fn told(part: &Part) -> String {
    format!("{part:?}")
}

#[test]
fn a_part_means_the_same_in_a_table_as_in_yaml() {
    let folder = tempfile::tempdir().unwrap();
    let table = "\u{feff}id,quantity,size,model,solid,filament,settings,lie,split,belt,finishing,spares,trial,alone,ready,minutes,only,grams,turn\r\n\
        chord,8,,\"[230, 8, 8]\",80%,yellow,light,\"[x, y]\",\"{joint: rod, into: 2..6}\",never,4 min,1,2,true,2027-01-13 18:00,{tall: 340},[tall],15,\r\n\
        \r\n\
        rung, 3 ,\"[60, 10, 5]\",,,,,any,never,,,,,FALSE,,,,,45\r\n";
    std::fs::write(folder.path().join("parts.csv"), table).unwrap();
    let farm = "settings: {light: {}}\njoints: {rod: {}}\n";
    let from_table = read_in(
        &least(&format!("{farm}parts_from: parts.csv")),
        folder.path(),
    );
    let from_yaml = read(&least(&format!(
        "{farm}parts:\n\
         - {{id: chord, quantity: 8, model: [230, 8, 8], solid: 80%, filament: yellow, settings: light, \
              lie: [x, y], split: {{joint: rod, into: 2..6}}, belt: never, finishing: 4 min, spares: 1, trial: 2, \
              alone: true, ready: 2027-01-13 18:00, minutes: {{tall: 340}}, only: [tall], grams: 15}}\n\
         - {{id: rung, quantity: 3, size: [60, 10, 5], turn: 45}}\n"
    )));
    assert_eq!(from_table.parts.len(), 2);
    for (one, other) in from_table.parts.iter().zip(&from_yaml.parts) {
        assert_eq!(told(one), told(other));
    }
}

#[test]
fn parts_of_both_files_are_joined_in_one_assembly() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("lists")).unwrap();
    let scenario = folder.path().join("bridge.yaml");
    std::fs::write(
        folder.path().join("lists/parts.csv"),
        "id,size\nplank,\"[90, 20, 4]\"\n",
    )
    .unwrap();
    let further = format!("{ONE_PART}\nparts_from: lists/parts.csv");
    std::fs::write(&scenario, least(&further)).unwrap();
    let reading = scenario::read(&scenario).unwrap();
    let parts = reading.scenario.parts.iter();
    assert!(parts.map(|part| part.id.as_str()).eq(["rung", "plank"]));
    assert_eq!(reading.scenario.assemblies[0].parts.len(), 2);
    assert_eq!(reading.scenario.build.name, "bridge");
}

#[test]
fn every_way_to_write_a_number_means_the_same() {
    for (written, grams) in [
        ("195", 195.0),
        ("195.0", 195.0),
        ("1.95e2", 195.0),
        (".5", 0.5),
    ] {
        let part = format!("parts: [{{id: rung, size: [600, 100, 50], grams: {written}}}]");
        assert_eq!(read(&least(&part)).parts[0].grams, Some(Grams(grams)));
    }
}

#[test]
fn a_span_and_a_rod_are_read() {
    let scenario = read(&least(
        "joints: {rod: {hardware: {item: M8, length: 100, section: M8, material: steel}}, tube: {hardware: {item: tube, length: \
         100, section: tube 12 x 1, material: carbon, modulus: 90000, g_per_mm: 0.06}}}\n\
         parts: [{id: rung, size: [60, 10, 5], span: {mm: 50, load_g: 7, ends: clamped, sag_limit: 0.5, down: y}}]",
    ));
    let span = scenario.parts[0].span.expect("it spans");
    assert_eq!(span.length, Some(Millimetres(50.0)));
    assert_eq!(
        (span.load, span.limit),
        (Grams(7.0), Some(Millimetres(0.5)))
    );
    assert_eq!(
        (span.ends, span.down),
        (scenario::Ends::Clamped, Some(Axis::Y))
    );
    let hardware = |joint: usize| scenario.joints[joint].hardware.clone().expect("hardware");
    // By its stress area: 36.6085 mm² × 7.85 / 1000.
    assert!((hardware(0).grams_per_mm - 0.287_377).abs() < 1e-6);
    assert_eq!(hardware(0).stiffener.expect("steel").modulus.0, 210_000.0);
    assert_eq!(hardware(1).grams_per_mm, 0.06);
    assert_eq!(hardware(1).stiffener.expect("carbon").modulus.0, 90_000.0);
    // PLA's usual modulus.
    assert_eq!(
        scenario.filaments[0].modulus.map(|modulus| modulus.0),
        Some(2500.0)
    );
    let bare = read(&least(ONE_PART));
    assert_eq!(bare.parts[0].span, None);
}

#[test]
fn places_are_scaled_and_a_lift_is_read() {
    let scenario = read(
        "build: {start: 2027-01-11, scale: 3}\n\
         machines: [{id: tall, kind: bed, bed: [300, 310], height: 400}]\n\
         filaments: [{id: yellow, material: PLA}]\n\
         parts: [{id: rung, size: [60, 10, 5], quantity: 2}, {id: top, size: [60, 10, 5]}]\n\
         assemblies:\n\
         - {id: frame, parts: {rung: 2}, places: {rung: [[0, 0, 10], [0, 0, -10]]}}\n\
         - {id: ladder, parts: {top: 1}, needs: [frame], places: {top: [1, 2, 3], frame: [4, 0, 0]}, lift: {reach_cm: 40, \
         from_cm: 20, to_cm: 90}}\n",
    );
    let mm = |point: [f64; 3]| point.map(Millimetres);
    // `size` is as it is, and places count in the model's mm all the same: times 3.
    let [frame, ladder] = &scenario.assemblies[..] else {
        panic!("two assemblies");
    };
    let rungs = vec![mm([0.0, 0.0, 30.0]), mm([0.0, 0.0, -30.0])];
    assert_eq!(frame.places.parts, [(scenario::PartIndex(0), rungs)]);
    assert_eq!(ladder.places.parts[0].1, [mm([3.0, 6.0, 9.0])]);
    let origin = (scenario::AssemblyIndex(0), mm([12.0, 0.0, 0.0]));
    assert_eq!(ladder.places.needs, [origin]);
    let lift = ladder.lift.expect("it is described");
    assert_eq!(
        (lift.reach, lift.from, lift.to, lift.turn),
        (40.0, 20.0, 90.0, 0.0)
    );
    assert_eq!((lift.grip, frame.lift), (scenario::Grip::Fair, None));
}

#[test]
fn spares_that_are_counted_grow_with_failures_and_shrink_with_what_is_made() {
    use beamyard::scenario::Experience;

    let text = "parts: [{id: rung, size: [60, 10, 5], quantity: 8, spares: auto, alone: true}]";
    let mut scenario = read(&least(text));
    // 3 % of 20 runs: Beta(0.6, 19.4). One of nine may fail with 95.05 % (scipy: betabinom.cdf(1, 9, 0.6, 19.4)).
    assert!(scenario.parts[0].reserve);
    assert_eq!(scenario.parts[0].spares, 1);
    // Three of ten failed: Beta(3.6, 26.4). The least k with betabinom.cdf(k, 8 + k, 3.6, 26.4) >= 0.95 is 4.
    let failed = [Experience {
        runs: 10,
        failed: 3.0,
    }];
    assert_eq!(scenario.reserve(&failed, &[]), Ok(()));
    assert_eq!(scenario.parts[0].spares, 4);
    // With ten made there are two more than are wanted, and none is to come.
    assert_eq!(scenario.reserve(&failed, &[10]), Ok(()));
    assert_eq!(scenario.parts[0].spares, 2);
    assert_eq!(read(&least(ONE_PART)).build.confidence, 0.95);
}

#[test]
fn spares_that_are_counted_go_by_the_machine_that_fails_most() {
    let machines = "machines: [{id: tall, kind: bed, bed: [300, 310], height: 400, scrap: 1%}, \
                    {id: worn, kind: bed, bed: [300, 300], height: 400, scrap: SCRAP}, \
                    {id: tiny, kind: bed, bed: [50, 50], height: 50, scrap: 80%}]";
    let spares = |scrap: &str| {
        let text =
            least("parts: [{id: rung, size: [60, 10, 5], quantity: 8, spares: auto, alone: true}]");
        let one = "machines: [{id: tall, kind: bed, bed: [300, 310], height: 400}]";
        assert!(text.contains(one));
        read(&text.replace(one, &machines.replace("SCRAP", scrap))).parts[0].spares
    };
    // The tiny one cannot hold it. Beta(0.2, 19.8) with eight runs: 0 of 8 fail with 93.3 %; so 1 either way, and more at 20 %.
    assert_eq!(spares("1%"), 1);
    assert_eq!(spares("20%"), 6);
}

#[test]
fn variants_are_the_trial_and_the_box_has_room_for_the_widest() {
    let text = "parts: [{id: rung, size: [60, 10, 5], quantity: 4, \
                variants: [{name: tight, offset: -0.2}, {name: loose, offset: 0.1}]}]";
    let scenario = read(&least(text));
    let part = &scenario.parts[0];
    assert_eq!(part.trial, 2);
    // 0.1 mm on either side, in x and y.
    assert_eq!(
        part.size.map(|side| (side.0 * 1e6).round() / 1e6),
        [60.2, 10.2, 5.0]
    );
    let name = |number| part.variant(number).map(|variant| variant.name.as_str());
    let names = [0, 1, 2, 3].map(name);
    assert_eq!(names, [None, Some("tight"), Some("loose"), None]);
}
