//! Files that mean harm, or were cut short: an error, never a panic, and no memory to speak of.

use beamyard::scenario::meshes::{Cache, measure, read_bytes, read_file};
use proptest::prelude::*;

use super::made::*;

fn rule(bytes: Vec<u8>) -> String {
    measure(bytes, 1.0, None).unwrap_err().rule
}

#[test]
fn a_billion_triangles_that_are_not_there_are_refused_by_the_size() {
    let mut bytes = binary(&angle(), b"");
    bytes[80..84].copy_from_slice(&1_000_000_000_u32.to_le_bytes());
    let rule = rule(bytes);
    assert!(
        rule.contains("1000000000 triangles has 50000000084 bytes"),
        "{rule}"
    );
}

#[test]
fn a_file_cut_short_or_of_something_else_says_so() {
    let mut short = binary(&angle(), b"");
    short.truncate(500);
    assert!(rule(short).contains("this has 500"));
    assert!(rule(Vec::new()).contains("neither an STL nor a 3MF"));
    assert!(rule(b"solid".to_vec()).contains("breaks off after 0 triangles"));
    let text = ascii(&angle(), " angle");
    assert!(rule(text.as_bytes()[..text.len() / 2].to_vec()).contains("breaks off after"));
    assert!(rule((text + "and more").into_bytes()).contains("text after"));
    assert!(rule(binary(&[], b"")).contains("no triangles"));
}

#[test]
fn what_is_no_number_or_beyond_a_kilometre_is_refused() {
    for value in [f64::NAN, f64::INFINITY, 1e9] {
        let mut triangles = angle();
        triangles[3][1][2] = value;
        assert!(
            rule(binary(&triangles, b"")).contains("triangle 4 has a coordinate"),
            "{value}"
        );
    }
    let text = ascii(&angle(), " a").replacen("30", "nan", 1);
    assert!(rule(text.into_bytes()).contains("breaks off"));
}

#[test]
fn more_solids_than_anybody_exports_are_refused() {
    let text = "solid a\nendsolid a\n".repeat(20_000);
    assert!(rule(text.into_bytes()).contains("more than 10000 solids"));
}

#[test]
fn an_archive_that_unpacks_to_too_much_is_refused_before_it_does() {
    // 200 MB of blanks in some 200 kB.
    let bomb = vec![b' '; 200 << 20];
    let bytes = package(&[
        ("_rels/.rels", RELATIONSHIPS.as_bytes()),
        ("3D/3dmodel.model", &bomb),
    ]);
    assert!(bytes.len() < 1 << 20);
    assert!(rule(bytes).contains("larger than 64 MB once unpacked"));
    // And one that lies about its size: both places that state it say 10 bytes.
    let mut lying = package(&[
        ("_rels/.rels", RELATIONSHIPS.as_bytes()),
        ("3D/3dmodel.model", &bomb),
    ]);
    let size = (200_u32 << 20).to_le_bytes();
    let found: Vec<usize> = (0..lying.len() - 4)
        .filter(|&at| lying[at..at + 4] == size)
        .collect();
    assert!(!found.is_empty());
    for at in found {
        lying[at..at + 4].copy_from_slice(&10_u32.to_le_bytes());
    }
    assert!(measure(lying, 1.0, None).is_err());
    let relationships = vec![b' '; 2 << 20];
    let rule = rule(package(&[("_rels/.rels", &relationships)]));
    assert!(rule.contains("larger than 1 MB once unpacked"), "{rule}");
}

#[test]
fn an_archive_of_many_entries_is_refused_before_its_directory_is_read() {
    let names: Vec<String> = (0..2_500).map(|at| format!("{at}")).collect();
    let entries: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b""[..])).collect();
    assert!(rule(package(&entries)).contains("more than 2000 entries"));
}

#[test]
fn a_model_outside_of_its_package_is_not_looked_for() {
    for path in [
        "/../../etc/passwd",
        "3D/../../x",
        r"..\x",
        "file:///etc/passwd",
    ] {
        let relationships = RELATIONSHIPS.replace("/3D/3dmodel.model", path);
        let rule = rule(package(&[("_rels/.rels", relationships.as_bytes())]));
        assert!(rule.contains("leads out of it"), "{path}: {rule}");
    }
}

#[test]
fn a_3mf_file_without_what_it_needs_says_what() {
    let item = r#"<item objectid="1"/>"#;
    let cube = object(1, &block([1.0; 3]));
    let read =
        |resources: &str, build: &str| rule(three_mf(&model("millimeter", resources, build)));
    assert!(rule(package(&[("a", b"")])).contains("there is no _rels/.rels in it"));
    let nowhere = package(&[("_rels/.rels", b"<Relationships/>")]);
    assert!(rule(nowhere).contains("no relationship names its model"));
    assert!(
        rule(package(&[("_rels/.rels", RELATIONSHIPS.as_bytes())]))
            .contains("there is no 3D/3dmodel.model")
    );
    assert!(!read("", item).is_empty());
    assert!(read(&cube, "").contains("no triangles") || !read(&cube, "").is_empty());
    assert!(!read(&cube.replace(r#"v3="2""#, r#"v3="2000""#), item).is_empty());
    assert!(!read(&cube.replace(r#"x="1""#, r#"x="nan""#), item).is_empty());
    assert!(!read(&cube.replace(r#"type="model""#, r#"type="support""#), item).is_empty());
    let beams = model("millimeter", &cube, item).replace("<model ", r#"<model requiredextensions="b" xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02" "#);
    assert!(!rule(three_mf(&beams)).is_empty());
}

#[test]
fn components_that_multiply_or_run_in_a_ring_are_refused() {
    // Ten levels of ten each: 10¹⁰ cubes.
    let mut resources = object(1, &block([1.0; 3]));
    for level in 2..12 {
        let ten = format!(r#"<component objectid="{}"/>"#, level - 1).repeat(10);
        resources += &format!(
            r#"<object id="{level}" type="model"><components>{ten}</components></object>"#
        );
    }
    let rule_of = |resources: &str, id: u32| {
        rule(three_mf(&model(
            "millimeter",
            resources,
            &format!(r#"<item objectid="{id}"/>"#),
        )))
    };
    assert!(rule_of(&resources, 11).contains("more than 10000 bodies"));
    let ring = r#"<object id="1" type="model"><components><component objectid="2"/></components></object><object id="2" type="model"><components><component objectid="1"/></components></object>"#;
    assert!(!rule_of(ring, 1).is_empty());
}

#[test]
fn what_is_no_plain_file_is_not_waited_for() {
    let folder = tempfile::tempdir().unwrap();
    let read =
        |path: &std::path::Path| read_file(path, 1.0, None, &Cache::none()).unwrap_err().rule;
    assert_eq!(read(folder.path()), "this is not a file");
    assert_eq!(
        read(&folder.path().join("none.stl")),
        "there is no such file"
    );
    if cfg!(unix) {
        assert_eq!(
            read(std::path::Path::new("/dev/zero")),
            "this is not a file"
        );
    }
    let large = folder.path().join("large.stl");
    std::fs::File::create(&large)
        .unwrap()
        .set_len(200_000_000)
        .unwrap();
    assert_eq!(read(&large), "the file is larger than 100 MB");
}

/// Whatever comes out must be a mesh that can be measured, or an error in words.
fn survives(bytes: Vec<u8>) {
    let read = read_bytes(bytes.clone());
    let measured = measure(bytes, 2.0, None);
    if let Err(wrong) = read {
        assert!(!wrong.rule.is_empty() && !wrong.fix.is_empty());
        assert!(measured.is_err());
    }
    if let Ok(shape) = measured {
        assert!(shape.whole.volume > 0.0 && shape.whole.volume.is_finite());
        assert!(
            shape
                .whole
                .lying
                .iter()
                .all(|lying| lying.outline.area() > 0.0)
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_bytes_end_in_a_mesh_or_in_words(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        survives(bytes);
    }

    #[test]
    fn a_damaged_file_ends_in_a_mesh_or_in_words(
        which in 0..3usize,
        hits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        cut in prop::option::weighted(0.2, any::<prop::sample::Index>()),
    ) {
        let item = r#"<item objectid="1" transform="1 0 0 0 1 0 0 0 1 5 0 0"/>"#;
        let mut bytes = match which {
            0 => binary(&angle(), b""),
            1 => ascii(&angle(), " angle").into_bytes(),
            _ => three_mf(&model("inch", &object(1, &angle()), item)),
        };
        for (at, byte) in hits {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        survives(bytes);
    }

    #[test]
    fn a_damaged_model_in_a_sound_archive_ends_in_a_mesh_or_in_words(
        hits in prop::collection::vec((any::<prop::sample::Index>(), 32..127u8), 1..6),
    ) {
        let item = r#"<item objectid="1"/>"#;
        let mut text = model("millimeter", &object(1, &block([3.0, 2.0, 1.0])), item).into_bytes();
        for (at, byte) in hits {
            let at = at.index(text.len());
            text[at] = byte;
        }
        survives(package(&[("_rels/.rels", RELATIONSHIPS.as_bytes()), ("3D/3dmodel.model", &text)]));
    }
}
