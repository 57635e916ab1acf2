//! `beamyard forecast`: the same figures as text, JSON and CSV; what it says to those who ask amiss.

use std::path::Path;
use std::process::Output;

use beamyard::forecast::Forecast;
use beamyard::report::{Look, forecast_table};
use beamyard::scenario::{Cache, Change, read_changed};
use serde_json::Value;

fn forecast(arguments: &[&str]) -> Output {
    let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
    command
        .env_remove("CLICOLOR_FORCE")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("forecast")
        .args(arguments);
    command.output().expect("it ran")
}

fn shown(arguments: &[&str]) -> String {
    let output = forecast(arguments);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(0), "{told}");
    String::from_utf8(output.stdout).expect("UTF-8")
}

const FIRST_WEEK: &str = "scenarios/first-week.yaml";

#[test]
fn scales_stand_beside_each_other_and_what_fits_nowhere_below() {
    // At 5 the foot is 300 mm wide, and no bed has more than 240; the frame is 420 mm long, and the pane 300.
    insta::assert_snapshot!(shown(&[FIRST_WEEK, "--scale", "2,3,5"]));
}

#[test]
fn no_line_is_wider_than_the_paper_however_many_scales() {
    let text = shown(&["scenarios/quayside-crane.yaml", "--scale", "3,4,5,6,7"]);
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for scale in 3..=7 {
        assert!(text.contains(&format!("scale {scale}")), "{scale}");
    }
}

#[test]
fn on_a_wide_terminal_more_scales_stand_beside_each_other() {
    let forecasts: Vec<Forecast> = [2.0, 2.5, 3.0, 3.5, 4.0]
        .into_iter()
        .map(|scale| {
            let change = Change {
                scale: Some(scale),
                settings: None,
            };
            let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(FIRST_WEEK);
            let reading = read_changed(&path, &change, &Cache::none())
                .unwrap_or_else(|wrong| panic!("{wrong}"));
            beamyard::forecast::forecast(&reading, None).unwrap_or_else(|none| panic!("{none:?}"))
        })
        .collect();
    let blocks = |width: u16| {
        let text = forecast_table(&forecasts, &Look::plain(width));
        let widest = text.lines().map(|line| line.chars().count()).max();
        assert!(widest <= Some(usize::from(width)), "{text}");
        text.lines()
            .filter(|line| line.starts_with("Overall size"))
            .count()
    };
    // Beside 20 columns of labels there is room for 3, 3, 5 and 2 of 19 columns.
    assert_eq!((blocks(80), blocks(81), blocks(120)), (2, 2, 1));
    // The narrowest that any report is laid out for.
    assert!(blocks(60) >= 3);
}

#[test]
fn json_and_csv_have_the_figures_of_the_table() {
    let arguments = [
        FIRST_WEEK,
        "--scale",
        "2,5",
        "--settings",
        "plain",
        "--format",
    ];
    let json: Value =
        serde_json::from_str(&shown(&[&arguments[..], &["json"]].concat())).expect("JSON");
    let csv = shown(&[&arguments[..], &["csv"]].concat());
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let heading = reader.headers().expect("a heading").clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    let forecasts = json["forecasts"].as_array().expect("a list");
    assert_eq!((rows.len(), forecasts.len()), (2, 2));
    for (row, forecast) in rows.iter().zip(forecasts) {
        let cell = |name: &str| {
            let at = heading.iter().position(|title| title == name);
            row.get(at.unwrap_or_else(|| panic!("no column {name}")))
                .expect("a cell")
        };
        let number = |name: &str| -> f64 { cell(name).parse().expect("a number") };
        let figures = &forecast["figures"];
        assert_eq!(Some(number("scale")), forecast["scale"].as_f64());
        assert_eq!(cell("settings"), "plain");
        assert_eq!(Some(number("mass_g")), figures["mass_g"].as_f64());
        assert_eq!(Some(number("cost")), figures["cost"]["total"].as_f64());
        assert_eq!(
            Some(number("machine_hours")),
            figures["machine_hours"].as_f64()
        );
        assert_eq!(Some(cell("finish")), figures["finish"].as_str());
        assert_eq!(
            Some(number("grams:red")),
            figures["filaments"][1]["grams"].as_f64()
        );
        assert_eq!(
            Some(number("mass_g:lantern")),
            figures["stages"][0]["mass_g"].as_f64()
        );
        let nowhere = forecast["fit_nowhere"].as_array().expect("a list").len();
        assert_eq!(
            cell("fit_nowhere")
                .split(' ')
                .filter(|id| !id.is_empty())
                .count(),
            nowhere
        );
        assert_eq!(
            cell("of_what_fits_only"),
            if nowhere > 0 { "yes" } else { "no" }
        );
    }
    // At 5 the foot and the frames fit nowhere, at 2 all fits.
    assert_eq!(
        forecasts[0]["fit_nowhere"].as_array().map(Vec::len),
        Some(0)
    );
    assert!(
        forecasts[1]["fit_nowhere"]
            .as_array()
            .expect("a list")
            .len()
            >= 2
    );
}

#[test]
fn a_scale_out_of_limits_is_wrong_usage_and_settings_that_are_not_there_a_wrong_scenario() {
    let scale = forecast(&[FIRST_WEEK, "--scale", "3,0"]);
    assert_eq!(scale.status.code(), Some(2));
    let told = String::from_utf8_lossy(&scale.stderr).into_owned();
    assert!(told.contains("a scale is 0.001 to 1000"), "{told}");
    let settings = forecast(&[FIRST_WEEK, "--settings", "plian"]);
    assert_eq!(settings.status.code(), Some(1));
    let told = String::from_utf8_lossy(&settings.stderr).into_owned();
    assert!(
        told.contains("--settings") && told.contains("did you mean `plain`?"),
        "{told}"
    );
    assert!(settings.stdout.is_empty());
    // A scale that breaks a rule of the scenario is named with it.
    let wrong = forecast(&[FIRST_WEEK, "--scale", "3,1000"]);
    assert_eq!(wrong.status.code(), Some(1));
    let told = String::from_utf8_lossy(&wrong.stderr).into_owned();
    assert!(
        told.starts_with("At scale 1000:") && told.contains("parts[post].model"),
        "{told}"
    );
}
