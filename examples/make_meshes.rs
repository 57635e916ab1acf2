//! Makes the meshes of the crane's parts: `cargo run --example make_meshes` writes `demo-data/meshes/`.
//!
//! All shapes are invented: plates with holes, frames whole and open, half rings, angles, lugs and beams with feet or haunches, at the size of the
//! desk model (the scenario enlarges them six times). Written as binary STL, the portal's corner as 3MF in centimetres.

use std::f64::consts::TAU;
use std::io::Write;
use std::path::Path;

type Point = [f64; 2];
type Triangle = [[f64; 3]; 3];

/// A prism over a polygon that can be seen whole from its first corner, counter-clockwise, from z = 0 up.
fn prism(base: &[Point], height: f64) -> Vec<Triangle> {
    let at = |corner: Point, z: f64| [corner[0], corner[1], z];
    let mut triangles = Vec::new();
    for pair in base.windows(2).skip(1) {
        let [a, b, c] = [base[0], pair[0], pair[1]];
        triangles.push([at(a, height), at(b, height), at(c, height)]);
        triangles.push([at(a, 0.0), at(c, 0.0), at(b, 0.0)]);
    }
    triangles.extend(sides(base, height));
    triangles
}

/// The upright faces around a polygon; a hole's run the other way round.
fn sides(base: &[Point], height: f64) -> Vec<Triangle> {
    let at = |corner: Point, z: f64| [corner[0], corner[1], z];
    let next = base.iter().cycle().skip(1);
    base.iter()
        .zip(next)
        .flat_map(|(&p, &q)| {
            [
                [at(p, 0.0), at(q, 0.0), at(q, height)],
                [at(p, 0.0), at(q, height), at(p, height)],
            ]
        })
        .collect()
}

/// A plate with a hole: both lines counter-clockwise, of equally many corners, each beside the other's of the same place.
fn ring(outer: &[Point], inner: &[Point], height: f64) -> Vec<Triangle> {
    let at = |corner: Point, z: f64| [corner[0], corner[1], z];
    let mut triangles = sides(outer, height);
    let hole: Vec<Point> = inner.iter().rev().copied().collect();
    triangles.extend(sides(&hole, height));
    for one in 0..outer.len() {
        let two = (one + 1) % outer.len();
        let (p, q, r, s) = (outer[one], outer[two], inner[two], inner[one]);
        for (a, b, c) in [(p, q, r), (p, r, s)] {
            triangles.push([at(a, height), at(b, height), at(c, height)]);
            triangles.push([at(a, 0.0), at(c, 0.0), at(b, 0.0)]);
        }
    }
    triangles
}

/// A plate between two lines of equally many points that run side by side, the inner to the left of the outer.
fn band(outer: &[Point], inner: &[Point], height: f64) -> Vec<Triangle> {
    let at = |corner: Point, z: f64| [corner[0], corner[1], z];
    let around: Vec<Point> = outer.iter().chain(inner.iter().rev()).copied().collect();
    let mut triangles = sides(&around, height);
    for (out, within) in outer.windows(2).zip(inner.windows(2)) {
        let (p, q, r, s) = (out[0], out[1], within[1], within[0]);
        for (a, b, c) in [(p, q, r), (p, r, s)] {
            triangles.push([at(a, height), at(b, height), at(c, height)]);
            triangles.push([at(a, 0.0), at(c, 0.0), at(b, 0.0)]);
        }
    }
    triangles
}

/// A frame without its lowest side: two legs and what joins them above.
fn open_frame([width, depth]: Point, leg: f64, head: f64, height: f64) -> Vec<Triangle> {
    let outer = [[width, 0.0], [width, depth], [0.0, depth], [0.0, 0.0]];
    let (right, top) = (width - leg, depth - head);
    let inner = [[right, 0.0], [right, top], [leg, top], [leg, 0.0]];
    band(&outer, &inner, height)
}

/// Half a ring.
fn half_ring(radius: f64, hole: f64, height: f64) -> Vec<Triangle> {
    let arc = |radius: f64| -> Vec<Point> { circle([0.0, 0.0], radius, 48)[..=24].to_vec() };
    band(&arc(radius), &arc(hole), height)
}

fn circle([x, y]: Point, radius: f64, corners: u32) -> Vec<Point> {
    let turn = |at: u32| TAU * f64::from(at) / f64::from(corners);
    (0..corners)
        .map(|at| [x + radius * turn(at).cos(), y + radius * turn(at).sin()])
        .collect()
}

fn rectangle([x, y]: Point, [width, depth]: Point) -> Vec<Point> {
    vec![
        [x, y],
        [x + width, y],
        [x + width, y + depth],
        [x, y + depth],
    ]
}

/// A frame of this width around a rectangle's edge.
fn frame([width, depth]: Point, edge: f64, height: f64) -> Vec<Triangle> {
    let inner = rectangle([edge, edge], [width - 2.0 * edge, depth - 2.0 * edge]);
    ring(&rectangle([0.0, 0.0], [width, depth]), &inner, height)
}

/// An angle of two arms, from its inner corner on.
fn angle([width, depth]: Point, arm: f64, height: f64) -> Vec<Triangle> {
    let corners = [
        [arm, arm],
        [arm, depth],
        [0.0, depth],
        [0.0, 0.0],
        [width, 0.0],
        [width, arm],
    ];
    prism(&corners, height)
}

/// A lug: a foot as wide as the plate is long, that narrows to a round head with a hole.
fn lug([width, depth]: Point, head: f64, hole: f64, height: f64) -> Vec<Triangle> {
    let middle = [width / 2.0, depth - head];
    let inner = circle(middle, hole, 32);
    // The outline as seen from the middle of the hole: the head above, the foot's corners below.
    let outer: Vec<Point> = (0..32)
        .map(|at| {
            let turn = TAU * f64::from(at) / 32.0;
            match at {
                0..=16 => [middle[0] + head * turn.cos(), middle[1] + head * turn.sin()],
                17..=20 => [0.0, middle[1] * f64::from(20 - at) / 6.0],
                28..=31 => [width, middle[1] * f64::from(at - 28) / 6.0],
                _ => [width * f64::from(at - 20) / 8.0, 0.0],
            }
        })
        .collect();
    ring(&outer, &inner, height)
}

/// A beam along x with a foot at its low end.
fn footed([length, width, height]: [f64; 3], foot: f64, slender: f64) -> Vec<Triangle> {
    let side = [
        [foot, slender],
        [foot, width],
        [0.0, width],
        [0.0, 0.0],
        [length, 0.0],
        [length, slender],
    ];
    prism(&side, height)
}

/// A beam along x, deeper at both ends.
fn haunched([length, width, height]: [f64; 3], haunch: f64, slender: f64) -> Vec<Triangle> {
    let rise = width - slender;
    let side = [
        [length / 2.0, width],
        [0.0, width],
        [0.0, 0.0],
        [haunch / 2.0, 0.0],
        [haunch, rise],
        [length - haunch, rise],
        [length - haunch / 2.0, 0.0],
        [length, 0.0],
        [length, width],
    ];
    prism(&side, height)
}

fn binary(triangles: &[Triangle]) -> Vec<u8> {
    let mut bytes = vec![0; 80];
    bytes.extend((triangles.len() as u32).to_le_bytes());
    for triangle in triangles {
        bytes.extend([0; 12]); // the normal follows from the corners
        for value in triangle.iter().flatten() {
            bytes.extend((*value as f32).to_le_bytes());
        }
        bytes.extend([0; 2]);
    }
    bytes
}

/// One object as a 3MF package, its corners in centimetres.
fn three_mf(triangles: &[Triangle]) -> zip::result::ZipResult<Vec<u8>> {
    let mut corners: Vec<[f64; 3]> = Vec::new();
    let mut faces = String::new();
    for triangle in triangles {
        let [a, b, c] = triangle.map(|corner| {
            corners
                .iter()
                .position(|known| *known == corner)
                .unwrap_or_else(|| {
                    corners.push(corner);
                    corners.len() - 1
                })
        });
        faces += &format!("<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>");
    }
    let vertex = |[x, y, z]: &[f64; 3]| {
        format!(
            "<vertex x=\"{}\" y=\"{}\" z=\"{}\"/>",
            x / 10.0,
            y / 10.0,
            z / 10.0
        )
    };
    let vertices: String = corners.iter().map(vertex).collect();
    let model = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model unit=\"centimeter\" \
         xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\"><resources><object id=\"1\" \
         type=\"model\"><mesh><vertices>{vertices}</vertices><triangles>{faces}</triangles></mesh></object></resources>\
         <build><item objectid=\"1\"/></build></model>\n"
    );
    let types = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Types \
        xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\"><Default Extension=\"rels\" \
        ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/><Default Extension=\"model\" \
        ContentType=\"application/vnd.ms-package.3dmanufacturing-3dmodel+xml\"/></Types>\n";
    let relationships = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Relationships \
        xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\"><Relationship \
        Target=\"/3D/3dmodel.model\" Id=\"r\" \
        Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>\n";
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, text) in [
        ("[Content_Types].xml", types),
        ("_rels/.rels", relationships),
        ("3D/3dmodel.model", &model),
    ] {
        archive.start_file(name, zip::write::SimpleFileOptions::default())?;
        archive.write_all(text.as_bytes())?;
    }
    Ok(archive.finish()?.into_inner())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/meshes");
    std::fs::create_dir_all(&folder)?;
    let disc = |radius: f64, hole: f64, height| {
        let middle = [radius, radius];
        ring(
            &circle(middle, radius, 72),
            &circle(middle, hole, 72),
            height,
        )
    };
    for (name, body) in [
        ("leg-chord", footed([240.0, 9.0, 9.0], 14.0, 7.5)),
        ("portal-beam", haunched([190.0, 10.0, 8.0], 44.0, 7.5)),
        ("leg-gusset", angle([12.0, 12.0], 4.5, 2.0)),
        ("apex-gusset", angle([14.0, 14.0], 5.0, 2.0)),
        ("reel-bracket", angle([26.0, 18.0], 6.0, 6.0)),
        ("reel-flange", disc(22.5, 14.0, 3.0)),
        ("brake-disc", disc(8.0, 3.0, 2.0)),
        ("boom-frame", open_frame([40.0, 40.0], 4.5, 4.5, 3.0)),
        ("bogie-frame", open_frame([30.0, 10.0], 7.0, 4.0, 8.0)),
        ("wheel-guard", half_ring(7.5, 5.7, 6.0)),
        ("window-frame", frame([14.0, 12.0], 1.6, 1.0)),
        ("hinge-lug", lug([16.0, 14.0], 5.0, 2.5, 8.0)),
    ] {
        std::fs::write(folder.join(name).with_extension("stl"), binary(&body))?;
    }
    let corner = angle([20.0, 20.0], 9.0, 12.0);
    std::fs::write(folder.join("portal-corner.3mf"), three_mf(&corner)?)?;
    Ok(())
}
