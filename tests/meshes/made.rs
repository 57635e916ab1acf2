//! Bodies and files made for the tests.

use std::io::Write;

pub type Triangle = [[f64; 3]; 3];

/// A prism over a polygon that is star-shaped from its first corner, counter-clockwise, from z = 0 up.
pub fn prism(base: &[[f64; 2]], height: f64) -> Vec<Triangle> {
    let at = |corner: [f64; 2], z: f64| [corner[0], corner[1], z];
    let mut triangles = Vec::new();
    for pair in base.windows(2).skip(1) {
        let [a, b, c] = [base[0], pair[0], pair[1]];
        triangles.push([at(a, height), at(b, height), at(c, height)]);
        triangles.push([at(a, 0.0), at(c, 0.0), at(b, 0.0)]);
    }
    for (&p, &q) in base.iter().zip(base.iter().cycle().skip(1)) {
        triangles.push([at(p, 0.0), at(q, 0.0), at(q, height)]);
        triangles.push([at(p, 0.0), at(q, height), at(p, height)]);
    }
    triangles
}

pub fn block([x, y, z]: [f64; 3]) -> Vec<Triangle> {
    prism(&[[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]], z)
}

/// The L of 30 × 30 × 10 with arms of 10.
pub fn angle() -> Vec<Triangle> {
    let corners = [
        [10.0, 10.0],
        [10.0, 30.0],
        [0.0, 30.0],
        [0.0, 0.0],
        [30.0, 0.0],
        [30.0, 10.0],
    ];
    prism(&corners, 10.0)
}

pub fn binary(triangles: &[Triangle], header: &[u8]) -> Vec<u8> {
    let mut bytes = header.to_vec();
    bytes.resize(80, 0);
    bytes.extend((triangles.len() as u32).to_le_bytes());
    for triangle in triangles {
        bytes.extend([0; 12]); // no normal
        for value in triangle.iter().flatten() {
            bytes.extend((*value as f32).to_le_bytes());
        }
        bytes.extend([0; 2]);
    }
    bytes
}

pub fn ascii(triangles: &[Triangle], name: &str) -> String {
    let mut text = format!("solid{name}\n");
    for triangle in triangles {
        text += "  facet normal 0 0 0\n    outer loop\n";
        for [x, y, z] in triangle {
            text += &format!("      vertex {x} {y} {z}\n");
        }
        text += "    endloop\n  endfacet\n";
    }
    text + "endsolid" + name + "\n"
}

pub const RELATIONSHIPS: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>"#;

/// A 3MF package of these entries.
pub fn package(entries: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, bytes) in entries {
        archive
            .start_file(*name, zip::write::SimpleFileOptions::default())
            .unwrap();
        archive.write_all(bytes).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

/// One object with an id.
pub fn object(id: u32, triangles: &[Triangle]) -> String {
    let vertices: String = triangles
        .iter()
        .flatten()
        .map(|[x, y, z]| format!(r#"<vertex x="{x}" y="{y}" z="{z}"/>"#))
        .collect();
    let faces: String = (0..triangles.len())
        .map(|at| {
            let [a, b, c] = [0, 1, 2].map(|step| 3 * at + step);
            format!(r#"<triangle v1="{a}" v2="{b}" v3="{c}"/>"#)
        })
        .collect();
    format!(
        r#"<object id="{id}" type="model"><mesh><vertices>{vertices}</vertices><triangles>{faces}</triangles></mesh></object>"#
    )
}

/// A model in a unit, of these resources and this build.
pub fn model(unit: &str, resources: &str, build: &str) -> String {
    format!(
        r#"<?xml version="1.0" encoding="UTF-8"?>
<model unit="{unit}" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>{resources}</resources><build>{build}</build></model>"#
    )
}

pub fn three_mf(model: &str) -> Vec<u8> {
    package(&[
        ("_rels/.rels", RELATIONSHIPS.as_bytes()),
        ("3D/3dmodel.model", model.as_bytes()),
    ])
}
