//! The same body from every notation, and the words about what is odd.

use std::path::Path;

use beamyard::scenario::meshes::{Split, measure};
use beamyard::scenario::{self, MeshShape, Reading};

use super::made::*;

fn shape(bytes: Vec<u8>) -> MeshShape {
    measure(bytes, 1.0, None).unwrap()
}

fn close(found: f64, wanted: f64) {
    assert!(
        (found - wanted).abs() <= 1e-6 * wanted.abs().max(1.0),
        "{found}, not {wanted}"
    );
}

#[test]
fn binary_and_ascii_stl_hold_the_same_body_whatever_their_headers_say() {
    let all = [
        binary(&angle(), b""),
        binary(&angle(), b"solid of a careless exporter"),
        ascii(&angle(), " angle").into_bytes(),
        ascii(&angle(), "").into_bytes(),
        ascii(&angle(), " angle").to_uppercase().into_bytes(),
        ascii(&angle(), " angle").replace('\n', "\r").into_bytes(),
        [&b"\n  "[..], ascii(&angle(), " Geh\u{e4}use").as_bytes()].concat(),
    ];
    for bytes in all {
        let shape = shape(bytes);
        close(shape.whole.volume, 5000.0);
        close(shape.whole.area, 2200.0);
    }
}

#[test]
fn every_solid_of_an_ascii_file_is_read() {
    let far = block([10.0; 3])
        .into_iter()
        .map(|t| t.map(|[x, y, z]| [x + 50.0, y, z]));
    let far: Vec<Triangle> = far.collect();
    let text = ascii(&angle(), " one") + "\n" + &ascii(&far, " two");
    close(shape(text.into_bytes()).whole.volume, 6000.0);
}

#[test]
fn a_3mf_file_is_read_in_its_unit_and_as_its_build_places_it() {
    // A cube of one inch, once as it is and once moved, from components that scale by two and mirror.
    let cube = object(1, &block([1.0; 3]));
    let pair = r#"<object id="2" type="model"><components><component objectid="1"/><component objectid="1" transform="-2 0 0 0 2 0 0 0 2 -1 0 0"/></components></object>"#;
    let unused = object(3, &block([100.0; 3]));
    let build = r#"<item objectid="2" transform="0 1 0 -1 0 0 0 0 1 5 0 0"/>"#;
    let bytes = three_mf(&model("inch", &format!("{cube}{unused}{pair}"), build));
    let found = shape(bytes);
    // 1 + 2³ cubic inches, none of it inside out; in x from −3 to 1, which the build turns into y.
    close(found.whole.volume, 9.0 * 25.4_f64.powi(3));
    close(found.whole.size()[1], 4.0 * 25.4);
    close(found.whole.low[0], (5.0 - 2.0) * 25.4);
    assert_eq!(found.findings.disagreeing_edges, 0);
    for (unit, mm) in [
        ("micron", 0.001),
        ("millimeter", 1.0),
        ("centimeter", 10.0),
        ("foot", 304.8),
        ("meter", 1000.0),
    ] {
        let bytes = three_mf(&model(
            unit,
            &object(1, &block([1.0; 3])),
            r#"<item objectid="1"/>"#,
        ));
        close(shape(bytes).whole.size()[2], mm);
    }
}

#[test]
fn scale_enlarges_a_mesh_before_it_is_measured() {
    let found = measure(binary(&angle(), b""), 6.0, None).unwrap();
    close(found.whole.volume, 5000.0 * 216.0);
    close(found.whole.area, 2200.0 * 36.0);
}

#[test]
fn a_split_is_cut_where_its_joint_allows() {
    // 30 mm long: in two and three lengths; four would be 7.5 mm each.
    let split = Split {
        into: 2..=6,
        shortest: 8.0,
    };
    let found = measure(binary(&angle(), b""), 1.0, Some(&split)).unwrap();
    assert_eq!(found.lengths.keys().copied().collect::<Vec<_>>(), [2, 3]);
    close(found.body(3, 1).unwrap().volume, 3000.0);
    close(found.body(3, 3).unwrap().volume, 1000.0);
    assert!(found.body(3, 4).is_none() && found.body(4, 1).is_none() && found.body(3, 0).is_none());
}

/// A scenario of one part beside its mesh file.
fn read(bytes: &[u8], part: &str) -> Result<Reading, scenario::Complaints> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("part.stl"), bytes).unwrap();
    let text = format!(
        "build: {{start: 2027-01-11 07:00, scale: 2}}\n\
         machines: [{{id: tall, kind: bed, bed: [300, 300], height: 400}}]\n\
         filaments: [{{id: yellow, material: PLA}}]\n\
         parts:\n  - {{id: bracket, mesh: part.stl{part}}}\n"
    );
    scenario::read_text("small.yaml", &text, folder.path())
}

#[test]
fn a_part_has_the_box_and_the_share_of_its_mesh_at_scale() {
    let reading = read(&binary(&angle(), b""), "").unwrap();
    assert!(reading.warnings.is_empty());
    let part = &reading.scenario.parts[0];
    assert_eq!(part.size.map(|side| side.value()), [60.0, 60.0, 20.0]);
    close(part.solid(), 5.0 / 9.0);
    close(part.mesh().unwrap().whole.volume, 40_000.0);
}

#[test]
fn a_mesh_is_found_from_the_folder_of_the_file_that_names_it() {
    let folder = tempfile::tempdir().unwrap();
    let tables = folder.path().join("tables");
    std::fs::create_dir(&tables).unwrap();
    std::fs::write(tables.join("beside.stl"), binary(&angle(), b"")).unwrap();
    std::fs::write(tables.join("parts.csv"), "id,mesh\none,beside.stl\n").unwrap();
    let text = "build: {start: 2027-01-11 07:00}\n\
                machines: [{id: tall, kind: bed, bed: [300, 300], height: 400}]\n\
                filaments: [{id: yellow, material: PLA}]\n\
                parts_from: tables/parts.csv\n\
                parts: [{id: two, mesh: tables/beside.stl}]\n";
    let reading = scenario::read_text("small.yaml", text, folder.path()).unwrap();
    for part in &reading.scenario.parts {
        close(part.mesh().unwrap().whole.volume, 5000.0);
    }
}

#[test]
fn what_is_odd_about_a_mesh_is_a_warning_and_what_cannot_be_trusted_an_error() {
    let inside_out: Vec<Triangle> = angle().into_iter().map(|[a, b, c]| [a, c, b]).collect();
    let reading = read(&binary(&inside_out, b""), "").unwrap();
    assert_eq!(reading.warnings.len(), 1);
    let warning = &reading.warnings[0];
    assert_eq!(warning.field, "parts[bracket].mesh");
    assert_eq!(warning.found, "part.stl");
    assert!(warning.rule.contains("inside out"), "{warning}");
    close(
        reading.scenario.parts[0].mesh().unwrap().whole.volume,
        40_000.0,
    );

    let mut open = angle();
    open.pop();
    let complaints = read(&binary(&open, b""), "").unwrap_err();
    let complaint = &complaints.errors()[0];
    assert!(
        complaint
            .rule
            .starts_with("the mesh has 3 open edges, which put "),
        "{complaint}"
    );
    assert_eq!(complaint.place.as_ref().unwrap().line, 5);

    // A spike of a thousandth of a millimetre without its last face: nothing to speak of.
    let mut nearly = angle();
    nearly.push([[0.0, 0.0, 5.0], [0.001, 0.0, 5.0], [0.0, 0.001, 5.0]]);
    let reading = read(&binary(&nearly, b""), "").unwrap();
    assert!(
        reading.warnings[0].rule.contains("3 open edges"),
        "{}",
        reading.warnings[0]
    );

    let twice = [angle(), angle()].concat();
    let complaint = read(&binary(&twice, b""), "").unwrap_err();
    assert!(
        complaint.errors()[0]
            .rule
            .contains("faces that are there twice"),
        "{complaint}"
    );

    let flat = [[[0.0; 3], [10.0, 0.0, 0.0], [0.0, 10.0, 0.0]]];
    let complaint = read(&binary(&flat, b""), "").unwrap_err();
    assert!(
        complaint.errors()[0].rule.contains("encloses no volume"),
        "{complaint}"
    );
}

#[test]
fn scenarios_in_the_repository_find_their_meshes() {
    let reading = scenario::read(Path::new("scenarios/quayside-crane.yaml")).unwrap();
    assert!(reading.warnings.is_empty());
}
