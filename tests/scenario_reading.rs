//! A scenario file read whole: every field into its value, and the defaults of those left out.

use std::path::Path;

use beamyard::scenario::{self, Reading};

#[test]
fn smoke() {
    let reading = scenario::read(Path::new("tests/scenarios/quayside-crane.yaml"));
    match reading {
        Ok(Reading { scenario, warnings }) => println!("{scenario:#?} {warnings:#?}"),
        Err(complaints) => panic!("{}", complaints.render(false)),
    }
}
