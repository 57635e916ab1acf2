//! Triangles from STL files, binary and ASCII.
//!
//! Knows: how the two are told apart; `stl_io` does the rest. Must not know: what is done with triangles.
//! Promises: a binary file is what has its size, whatever its header says; every solid of an ASCII file is read.

use std::io::Cursor;

use super::Unusable;
use super::limits::{self, MOST_BODIES, MOST_TRIANGLES};
use crate::geometry::mesh::{Builder, Mesh};

/// Header and count of a binary file, bytes.
const HEADER: usize = 84;
/// Bytes of one triangle.
const EACH: u64 = 50;

/// The mesh in an STL file, in mm (which STL does not say, and everybody takes it to mean).
pub(super) fn read(mut bytes: Vec<u8>) -> Result<Mesh, Unusable> {
    let count = bytes
        .get(HEADER - 4..HEADER)
        .and_then(|count| count.try_into().ok())
        .map(u32::from_le_bytes);
    let binary_size = count.map(|count| HEADER as u64 + EACH * u64::from(count));
    if binary_size == Some(bytes.len() as u64) {
        // The library goes by the word: a header that begins with `solid` must not mislead it.
        bytes[0] = 0;
        let mut triangles = Triangles::new(count.unwrap_or(0) as usize);
        triangles.read(&mut Cursor::new(bytes))?;
        return triangles.finish();
    }
    if bytes.trim_ascii_start().len() >= 5
        && bytes.trim_ascii_start()[..5].eq_ignore_ascii_case(b"solid")
    {
        return ascii(bytes);
    }
    Err(match binary_size {
        Some(size) => Unusable::new(
            format!(
                "a binary STL file of {} triangles has {size} bytes, this has {}",
                count.unwrap_or(0),
                bytes.len()
            ),
            "it is cut short, or no mesh: export it again as STL or 3MF",
        ),
        None => Unusable::new(
            "this is neither an STL nor a 3MF file",
            "export the mesh as STL or 3MF",
        ),
    })
}

fn ascii(mut bytes: Vec<u8>) -> Result<Mesh, Unusable> {
    // Names may be in any encoding, words in capitals, lines in any notation: nothing of it matters.
    for byte in &mut bytes {
        *byte = match *byte {
            b'\r' => b'\n',
            0..=127 => byte.to_ascii_lowercase(),
            _ => b'?',
        };
    }
    let mut triangles = Triangles::new(0);
    let mut solids = 0;
    let mut rest = bytes.trim_ascii_start();
    while !rest.is_empty() {
        solids += 1;
        if solids > MOST_BODIES {
            let rule = format!("the file has more than {MOST_BODIES} solids");
            return Err(Unusable::new(rule, "export the mesh as one solid"));
        }
        let line_end = |text: &[u8]| text.iter().position(|&byte| byte == b'\n');
        let Some(body) = rest
            .starts_with(b"solid")
            .then(|| line_end(rest).map_or(&[][..], |end| &rest[end + 1..]))
        else {
            return Err(Unusable::new(
                format!("there is text after `endsolid` that is no solid ({solids} so far)"),
                "export the mesh again as STL or 3MF",
            ));
        };
        let end = end_of_solid(body).unwrap_or(body.len());
        let mut text = b"solid mesh\n".to_vec(); // the library wants a name
        text.extend_from_slice(&body[..end]);
        triangles.read(&mut Cursor::new(text))?;
        let after = &body[end..];
        rest = line_end(after).map_or(&[][..], |end| after[end..].trim_ascii_start());
    }
    triangles.finish()
}

/// Where the line after `endsolid` begins to be read over: the end of that word.
fn end_of_solid(text: &[u8]) -> Option<usize> {
    let word = b"endsolid";
    let mut at = 0;
    for line in text.split_inclusive(|&byte| byte == b'\n') {
        let trimmed = line.trim_ascii_start();
        if trimmed.starts_with(word) {
            return Some(at + (line.len() - trimmed.len()) + word.len());
        }
        at += line.len();
    }
    None
}

/// Gathers triangles, held to the limits.
struct Triangles {
    builder: Builder,
    count: usize,
}

impl Triangles {
    /// With room for as many as are promised: the file is as large as that, so the promise is kept.
    fn new(promised: usize) -> Self {
        Self {
            builder: Builder::with_capacity(promised.min(MOST_TRIANGLES)),
            count: 0,
        }
    }

    fn read(&mut self, source: &mut Cursor<Vec<u8>>) -> Result<(), Unusable> {
        let malformed = |count: usize, error: std::io::Error| {
            Unusable::new(
                format!("the STL file breaks off after {count} triangles: {error}"),
                "export the mesh again as STL or 3MF",
            )
        };
        let reader = stl_io::create_stl_reader(source).map_err(|error| malformed(0, error))?;
        for triangle in reader {
            let triangle = triangle.map_err(|error| malformed(self.count, error))?;
            self.count += 1;
            if self.count > MOST_TRIANGLES {
                return Err(limits::too_many());
            }
            let corners = triangle.vertices.map(|corner| corner.0.map(f64::from));
            if !limits::is_near(&corners) {
                return Err(limits::too_far(self.count));
            }
            self.builder.push(corners);
        }
        Ok(())
    }

    fn finish(self) -> Result<Mesh, Unusable> {
        Ok(self.builder.finish())
    }
}
