//! Whatever bytes come as a machine program, they are measured to finite figures or refused with a line.
#![no_main]

use beamyard::scenario::gcode::measure_bytes;
use beamyard::toolpath::Kinematics;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    match measure_bytes(bytes, Kinematics::USUAL) {
        Ok(measured) => {
            let figures = measured.figures;
            assert!(figures.time.value().is_finite() && figures.time.value() >= 0.0);
            assert!(figures.filament.value().is_finite() && figures.filament.value() >= 0.0);
            for end in figures.laid.into_iter().flatten().flatten() {
                assert!(end.value().is_finite());
            }
        }
        Err(fault) => {
            assert!(fault.line >= 1 && !fault.fix.is_empty());
            assert!(fault.text.chars().count() <= 101);
        }
    }
});
