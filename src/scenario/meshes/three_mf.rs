//! Triangles from 3MF files: what their build lists, placed as it says, in mm.
//!
//! Knows: the archive, its start part, units, components and transforms (3MF core specification 1.4.0,
//! github.com/3MFConsortium/spec_core); `zip` and `lib3mf` do the rest. Must not know: what is done with triangles.
//! Promises: nothing is unpacked beyond the limits, nothing is followed out of the archive, no extension is ignored that
//! the file calls required.

use std::collections::HashMap;
use std::io::{Cursor, Read};

use lib3mf::model::{Model, Object, ObjectType, ParserConfig};
use quick_xml::events::Event;

use super::Unusable;
use super::limits::{
    self, DEEPEST, LARGEST_MODEL, LARGEST_RELATIONSHIPS, MOST_BODIES, MOST_ENTRIES, MOST_TRIANGLES,
};
use crate::geometry::mesh::{Builder, Mesh};

/// Whether a file is a ZIP archive, as every 3MF file is.
pub(super) fn is_archive(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04")
}

/// Where the relationships of the package stand.
const RELATIONSHIPS: &str = "_rels/.rels";
/// The type of the relationship to the start part.
const START_PART: &str = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel";

type Archive<'b> = zip::ZipArchive<Cursor<&'b [u8]>>;

fn broken(what: impl std::fmt::Display) -> Unusable {
    Unusable::new(
        format!("the 3MF file cannot be read: {what}"),
        "export the mesh again as 3MF or STL",
    )
}

/// The mesh in a 3MF file, in mm.
pub(super) fn read(bytes: &[u8]) -> Result<Mesh, Unusable> {
    // Counted before the directory is read, since each entry takes memory.
    let entries = bytes.windows(4).filter(|four| four == b"PK\x01\x02");
    if entries.count() > MOST_ENTRIES {
        return Err(broken(format!(
            "its archive has more than {MOST_ENTRIES} entries"
        )));
    }
    let mut archive = Archive::new(Cursor::new(bytes)).map_err(broken)?;
    let mut relationships = String::new();
    unpack(&mut archive, RELATIONSHIPS, LARGEST_RELATIONSHIPS, |text| {
        text.read_to_string(&mut relationships).map_err(broken)
    })?;
    let start = start_part(&relationships)?;
    let model = unpack(&mut archive, &start, LARGEST_MODEL, |text| {
        // Core only: any extension that the file requires is refused.
        lib3mf::parser::parse_model_from_reader(text, ParserConfig::new()).map_err(broken)
    })?;
    Assembly::new(&model)?.build()
}

/// Reads an entry of the archive, of which at most so many bytes are unpacked, whatever it says of itself.
fn unpack<T>(
    archive: &mut Archive<'_>,
    name: &str,
    most: u64,
    read: impl FnOnce(&mut dyn Read) -> Result<T, Unusable>,
) -> Result<T, Unusable> {
    let too_large = || {
        broken(format!(
            "{name} is larger than {} MB once unpacked",
            most / (1024 * 1024)
        ))
    };
    // Names in a package differ by more than their capitals (Open Packaging Conventions).
    let found = archive
        .file_names()
        .position(|entry| entry.is_ok_and(|entry| entry.eq_ignore_ascii_case(name)))
        .ok_or_else(|| broken(format!("there is no {name} in it")))?;
    let entry = archive.by_index(found).map_err(broken)?;
    if entry.size() > most {
        return Err(too_large());
    }
    let mut limited = entry.take(most + 1);
    let result = read(&mut limited);
    if limited.limit() == 0 {
        return Err(too_large());
    }
    result
}

/// The path of the start part, from the package's relationships.
fn start_part(relationships: &str) -> Result<String, Unusable> {
    let mut reader = quick_xml::Reader::from_str(relationships);
    loop {
        let element = match reader.read_event().map_err(broken)? {
            Event::Eof => return Err(broken("no relationship names its model")),
            Event::Start(element) | Event::Empty(element) => element,
            _ => continue,
        };
        let (mut kind, mut target) = (None, None);
        for attribute in element.attributes() {
            let attribute = attribute.map_err(broken)?;
            let value = Some(attribute.value.to_string());
            match AsRef::<str>::as_ref(attribute.key.as_ref()) {
                "Type" => kind = value,
                "Target" => target = value,
                _ => {}
            }
        }
        if kind.as_deref() == Some(START_PART) {
            let target = target.ok_or_else(|| broken("its model has no path"))?;
            let path = target.trim_start_matches('/');
            if path.split(['/', '\\']).any(|step| step == "..") || path.contains(':') {
                return Err(broken(format!("its model's path leads out of it ({path})")));
            }
            return Ok(path.to_owned());
        }
    }
}

/// A row vector times the matrix, then moved: m00 m01 m02, m10 …, m30 m31 m32.
type Transform = [f64; 12];

const UNMOVED: Transform = [1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0];

fn moved(by: &Transform, [x, y, z]: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|to| x * by[to] + y * by[3 + to] + z * by[6 + to] + by[9 + to])
}

/// First one, then the other.
fn both(first: &Transform, then: &Transform) -> Transform {
    let mut all = [0.0; 12];
    for row in 0..4 {
        let from = [first[3 * row], first[3 * row + 1], first[3 * row + 2]];
        let to = moved(then, from);
        for column in 0..3 {
            // A direction is turned and not moved; only the last row is a place.
            let shift = if row < 3 { then[9 + column] } else { 0.0 };
            all[3 * row + column] = to[column] - shift;
        }
    }
    all
}

/// Whether a transform makes a mirror image, which turns every triangle round.
fn mirrors(by: &Transform) -> bool {
    let [a, b, c, d, e, f, g, h, i, ..] = *by;
    a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g) < 0.0
}

/// The objects of a model, and those that its build lists, with theirs.
struct Assembly<'m> {
    model: &'m Model,
    objects: HashMap<usize, &'m Object>,
    unit: f64,
    builder: Builder,
    bodies: usize,
    triangles: usize,
}

impl<'m> Assembly<'m> {
    fn new(model: &'m Model) -> Result<Self, Unusable> {
        let mut objects = HashMap::new();
        for object in &model.resources.objects {
            if objects.insert(object.id, object).is_some() {
                return Err(broken(format!("object {} is there twice", object.id)));
            }
        }
        let unit = match model.unit.as_str() {
            "micron" => 0.001,
            "centimeter" => 10.0,
            "inch" => 25.4,
            "foot" => 304.8,
            "meter" => 1000.0,
            // The default; the parser lets no other word through.
            _ => 1.0,
        };
        Ok(Self {
            model,
            objects,
            unit,
            builder: Builder::default(),
            bodies: 0,
            triangles: 0,
        })
    }

    fn build(mut self) -> Result<Mesh, Unusable> {
        for item in &self.model.build.items {
            if item.production_path.is_some() {
                return Err(broken("its build refers to another model"));
            }
            let transform = item.transform.unwrap_or(UNMOVED);
            self.place(item.objectid, &transform, 0)?;
        }
        Ok(self.builder.finish())
    }

    fn place(&mut self, id: usize, by: &Transform, depth: usize) -> Result<(), Unusable> {
        let object = self.objects.get(&id).copied();
        let object = object.ok_or_else(|| broken(format!("there is no object {id} in it")))?;
        self.bodies += 1;
        if depth > DEEPEST || self.bodies > MOST_BODIES {
            return Err(broken(format!(
                "its components make more than {MOST_BODIES} bodies, or lie more than {DEEPEST} deep"
            )));
        }
        if object.object_type != ObjectType::Model {
            let fix = "leave only models in it, no supports and no surfaces";
            let rule = format!("the 3MF file builds object {id}, which is no model");
            return Err(Unusable::new(rule, fix));
        }
        let beyond_core = object.displacement_mesh.is_some() || object.boolean_shape.is_some();
        if beyond_core
            || object
                .mesh
                .as_ref()
                .is_some_and(|mesh| mesh.beamset.is_some())
        {
            return Err(broken(format!("object {id} is more than a mesh")));
        }
        if let Some(mesh) = &object.mesh {
            self.take(mesh, by)?;
        }
        for component in &object.components {
            if component.path.is_some() {
                return Err(broken(format!("object {id} refers to another model")));
            }
            let by = match &component.transform {
                Some(own) => both(own, by),
                None => *by,
            };
            self.place(component.objectid, &by, depth + 1)?;
        }
        Ok(())
    }

    fn take(&mut self, mesh: &lib3mf::model::Mesh, by: &Transform) -> Result<(), Unusable> {
        let mirrored = mirrors(by);
        for triangle in &mesh.triangles {
            self.triangles += 1;
            if self.triangles > MOST_TRIANGLES {
                return Err(limits::too_many());
            }
            let mut corners = [[0.0; 3]; 3];
            for (corner, at) in corners
                .iter_mut()
                .zip([triangle.v1, triangle.v2, triangle.v3])
            {
                let vertex = mesh.vertices.get(at);
                let vertex = vertex.ok_or_else(|| {
                    broken(format!(
                        "triangle {} names corner {at}, and there are {}",
                        self.triangles,
                        mesh.vertices.len()
                    ))
                })?;
                let place = moved(by, [vertex.x, vertex.y, vertex.z]);
                *corner = place.map(|value| value * self.unit);
            }
            if !limits::is_near(&corners) {
                return Err(limits::too_far(self.triangles));
            }
            if mirrored {
                corners.swap(1, 2);
            }
            self.builder.push(corners);
        }
        Ok(())
    }
}
