//! Prints what is measured of mesh files, one JSON object a line: `cargo run --example measure_mesh -- FILE…`.
//!
//! For checks against other programs (`tests/reference/meshes.py`), and for whoever wonders what a file holds.

use std::path::Path;

use beamyard::scenario::meshes::{Cache, read_file};

fn main() -> std::process::ExitCode {
    let mut failed = false;
    for name in std::env::args().skip(1) {
        let line = match read_file(Path::new(&name), 1.0, None, &Cache::none()) {
            Ok((shape, warnings)) => serde_json::json!({
                "file": name,
                "findings": shape.findings,
                "size": shape.whole.size(),
                "low": shape.whole.low,
                "volume": shape.whole.volume,
                "area": shape.whole.area,
                "centre": shape.whole.centre,
                "outlines": shape.whole.lying.each_ref().map(|lying| lying.outline.corners()),
                "walls": shape.whole.lying.each_ref().map(|lying| lying.walls),
                "up": shape.whole.lying.each_ref().map(|lying| lying.level(true)),
                "down": shape.whole.lying.each_ref().map(|lying| lying.level(false)),
                "warnings": warnings.iter().map(|warning| &warning.rule).collect::<Vec<_>>(),
            }),
            Err(wrong) => {
                failed = true;
                serde_json::json!({"file": name, "error": wrong.rule, "fix": wrong.fix})
            }
        };
        println!("{line}");
    }
    if failed {
        std::process::ExitCode::FAILURE
    } else {
        std::process::ExitCode::SUCCESS
    }
}
