//! A hall of many like machines: how large a report grows, and how long it takes.

use std::fmt::Write;
use std::path::Path;

use beamyard::scenario::{Scenario, read_text};

/// A hall of so many machines and kinds of part, 36 copies of each, four on a plate.
pub fn hall(machines: usize, parts: usize) -> Scenario {
    const COLOURS: [(&str, &str); 6] = [
        ("chalk", "#f4f2ea"),
        ("coal", "#17181a"),
        ("brick", "#a5402d"),
        ("moss", "#5d7a3a"),
        ("sky", "#8fb7d6"),
        ("straw", "#e3c565"),
    ];
    let mut text = String::from(
        "build: {name: Hall, start: 2027-01-11 07:00, timezone: Europe/Oslo}\nbench: {hands: unlimited, hours: {mon-sun: [\"07:00-22:00\"]}}\nmachines:\n",
    );
    // Writing to a String does not fail.
    for m in 0..machines {
        let loaded = COLOURS[m % COLOURS.len()].0;
        let _ = writeln!(
            text,
            "  - {{id: m{:02}, kind: bed, bed: [220, 220], height: 200, loaded: {loaded}}}",
            m + 1
        );
    }
    text.push_str("filaments:\n");
    for (name, colour) in COLOURS {
        let _ = writeln!(
            text,
            "  - {{id: {name}, material: PLA, colour: \"{colour}\", spools: [1000, 1000], spool: 2000}}"
        );
    }
    text.push_str("parts:\n");
    for p in 0..parts {
        let colour = COLOURS[p % COLOURS.len()].0;
        let height = 40 + p % 7 * 10;
        let _ = writeln!(
            text,
            "  - {{id: panel-{p:03}, quantity: 36, size: [101, 101, {height}], solid: 0.3, filament: {colour}, lie: [z], finishing: 1 min}}"
        );
    }
    text.push_str("assemblies:\n");
    for (a, parts) in (0..parts).collect::<Vec<_>>().chunks(12).enumerate() {
        let list: Vec<String> = parts.iter().map(|p| format!("panel-{p:03}: 36")).collect();
        let needs = if a % 5 == 0 {
            String::new()
        } else {
            format!("needs: [bay-{:02}], ", a - 1)
        };
        let due = if a % 4 == 3 {
            format!("due: 2027-{:02}-{:02} 18:00, ", 2 + a / 12, 1 + a % 12 * 2)
        } else {
            String::new()
        };
        let _ = writeln!(
            text,
            "  - {{id: bay-{a:02}, {needs}{due}bench: 2 h, parts: {{{}}}}}",
            list.join(", ")
        );
    }
    match read_text("hall.yaml", &text, Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}
