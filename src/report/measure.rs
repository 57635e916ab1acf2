//! What a machine program comes to, as text and as JSON.
//!
//! Knows: the figures of a program, its filament. Must not know: how they were found.
//! Promises: what was not counted is said.

use serde::Serialize;

use crate::scenario::gcode::Measured;
use crate::units::{Density, Millimetres, Minutes};

use super::Look;
use super::grid::{Fit, Grid, Text, Tone, paragraph};
use super::words;

/// What a program is measured with.
#[derive(Clone, Copy, Debug)]
pub struct Material {
    /// Diameter of the filament.
    pub diameter: Millimetres,
    /// Its density.
    pub density: Density,
}

/// The figures of a program, one a line.
pub fn measure_table(file: &str, measured: &Measured, material: Material, look: &Look) -> String {
    let figures = measured.figures;
    let volume = figures.volume(material.diameter);
    let mut grid = Grid::new([Fit::Upto(18), Fit::Upto(60)]);
    let mut row = |name: &str, value: String| grid.row([Text::from(name), Text::from(value)]);
    row(
        "filament",
        format!(
            "{:.2} m of {} mm",
            figures.filament.value() / 1000.0,
            material.diameter.value()
        ),
    );
    row("volume", format!("{:.2} cm³", volume.value() / 1000.0));
    row(
        "mass",
        format!(
            "{:.1} g at {} g/cm³",
            (volume * material.density).value(),
            material.density.value()
        ),
    );
    row("printing time", clock(figures.time.whole_minutes()));
    row(
        "laid within",
        match figures.laid {
            Some([low, high]) => format!(
                "x {:.1} to {:.1}, y {:.1} to {:.1} mm (centre of the line)",
                low[0].value(),
                high[0].value(),
                low[1].value(),
                high[1].value()
            ),
            None => "nothing is laid".to_owned(),
        },
    );
    if let Some([_, high]) = figures.laid {
        row("height", format!("{:.2} mm", high[2].value()));
    }
    row("layers", figures.layers.to_string());
    row("filament changes", figures.changes.to_string());
    row(
        "read",
        format!("{} lines, {} moves", measured.lines, figures.moves),
    );
    let mut text = paragraph(look, 0, Text::from(file).tone(Tone::Strong));
    text.push_str(&grid.render(look, 2));
    if measured.heatings > 0 {
        let times = words::count(measured.heatings as usize, "time", "times");
        let note =
            format!("Not in the time: it waits for heat {times}, for as long as that takes.");
        text.push_str(&paragraph(look, 0, note));
    }
    if !measured.not_counted.is_empty() {
        let told: Vec<String> = measured
            .not_counted
            .iter()
            .map(|(name, count)| format!("{name} ({count}×)"))
            .collect();
        let note = format!(
            "Not counted, since only the machine knows what it does: {}.",
            told.join(", ")
        );
        text.push_str(&paragraph(look, 0, note));
    }
    text
}

/// `5 h 07 min`.
fn clock(minutes: Minutes) -> String {
    let all = minutes.value();
    match all / 60 {
        0 => format!("{all} min"),
        hours => format!("{hours} h {:02} min", all % 60),
    }
}

#[derive(Serialize)]
struct Json<'a> {
    version: u32,
    filament_mm: f64,
    volume_mm3: f64,
    grams: f64,
    diameter: f64,
    density: f64,
    seconds: f64,
    low: Option<[f64; 3]>,
    high: Option<[f64; 3]>,
    height: Option<f64>,
    layers: u32,
    changes: u32,
    moves: u64,
    lines: u64,
    heatings: u64,
    not_counted: Vec<Left<'a>>,
}

#[derive(Serialize)]
struct Left<'a> {
    command: &'a str,
    times: u64,
}

/// The same for other programs: mm, mm³, g, s.
pub fn measure_json(measured: &Measured, material: Material) -> String {
    let figures = measured.figures;
    let volume = figures.volume(material.diameter);
    let thousandths = |number: f64| (number * 1000.0).round() / 1000.0;
    let place = |end: [Millimetres; 3]| end.map(|side| thousandths(side.value()));
    let json = Json {
        version: 1,
        filament_mm: thousandths(figures.filament.value()),
        volume_mm3: thousandths(volume.value()),
        grams: thousandths((volume * material.density).value()),
        diameter: material.diameter.value(),
        density: material.density.value(),
        seconds: thousandths(figures.time.value()),
        low: figures.laid.map(|[low, _]| place(low)),
        high: figures.laid.map(|[_, high]| place(high)),
        height: figures.laid.map(|[_, high]| thousandths(high[2].value())),
        layers: figures.layers,
        changes: figures.changes,
        moves: figures.moves,
        lines: measured.lines,
        heatings: measured.heatings,
        not_counted: measured
            .not_counted
            .iter()
            .map(|(command, times)| Left {
                command,
                times: *times,
            })
            .collect(),
    };
    let mut text = serde_json::to_string_pretty(&json)
        .expect("text, numbers and lists with text for keys: none of them fails to be written");
    text.push('\n');
    text
}
