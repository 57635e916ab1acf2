use std::f64::consts::PI;

use proptest::prelude::*;

use super::*;

fn measured(program: &str) -> Measured {
    measure_bytes(program.as_bytes(), Kinematics::USUAL).unwrap()
}

fn fault(program: &str) -> Fault {
    measure_bytes(program.as_bytes(), Kinematics::USUAL).unwrap_err()
}

fn near(one: f64, other: f64) {
    assert!(
        (one - other).abs() < 1e-9 * (1.0 + other.abs()),
        "{one} {other}"
    );
}

fn filament(program: &str) -> f64 {
    measured(program).figures.filament.value()
}

fn seconds(program: &str) -> f64 {
    measured(program).time().value()
}

#[test]
fn a_line_takes_the_time_of_its_trapezoid() {
    // 3000 mm/min = 50 mm/s, 1000 mm/s²: 1.95 s at speed and twice 0.05 s.
    near(seconds("G1 X100 F3000"), 2.05);
    // Half the speed by M220; another acceleration by M204: 25 mm/s: 2·0.0125 + (100 − 0.3125)/25 = 4.0125.
    near(seconds("M220 S50\nM204 S2000\nG1 X100 F3000"), 4.0125);
}

#[test]
fn extrusion_is_absolute_until_it_is_said_to_be_relative() {
    near(filament("G1 X10 E1 F600\nG1 X20 E3"), 3.0);
    near(filament("M83\nG1 X10 E1 F600\nG1 X20 E3"), 4.0);
    near(filament("M83\nG1 X10 E1 F600\nM82\nG1 X20 E3"), 3.0);
}

#[test]
fn relative_places_make_extrusion_relative_and_m83_outlasts_them() {
    // G91: E 1 and E 3 are 4; after G90 E counts from where it is, 4, so E5 is one more.
    near(
        filament("G91\nG1 X10 E1 F600\nG1 X10 E3\nG90\nG1 X5 E5"),
        5.0,
    );
    near(filament("M83\nG91\nG1 X1 E1 F600\nG90\nG1 X20 E1"), 2.0);
}

#[test]
fn g92_gives_new_numbers_and_moves_nothing() {
    near(filament("G1 X10 E5 F600\nG92 E0\nG1 X20 E2"), 7.0);
    // From 10 called 0, to 100: 100 mm more, in two moves straight on as one of 110.
    near(
        seconds("G1 X10 F3000\nG92 X0\nG1 X100"),
        0.05 + 0.05 + 107.5 / 50.0,
    );
    let [_, high] = measured("G1 X10 F600\nG92 X0\nG1 X5 E1")
        .figures
        .laid
        .unwrap();
    near(high[0].value(), 15.0);
    // Without a number, everything is zero.
    near(filament("G1 X10 E5 F600\nG92\nG1 X20 E2"), 7.0);
}

#[test]
fn inches_are_25_4_millimetres_also_in_speed_and_filament() {
    // 100 mm at 50 mm/s, in inches, and 1 inch of filament.
    let program = format!("G20\nG1 X{:.9} E1 F{:.9}", 100.0 / 25.4, 3000.0 / 25.4);
    assert!((seconds(&program) - 2.05).abs() < 1e-6);
    near(filament(&program), 25.4);
    near(filament("G20\nG21\nG1 X5 E1 F600"), 1.0);
}

#[test]
fn a_quarter_circle_is_half_pi_radii_long() {
    // Radius 50 at 50 mm/s (√(1000·50) = 224 would be allowed): length 78.54 mm, 2·0.05 s and (L − 2.5) / 50.
    let length = PI * 50.0 / 2.0;
    let expected = 0.1 + (length - 2.5) / 50.0;
    for arc in ["G3 X0 Y50 I-50 J0", "G3 X0 Y50 R50"] {
        // The way to its beginning and a stop there, 1.05 s, is the same as in a program without the arc.
        let begin = "G1 X50 F3000\nG4 P0\n";
        near(seconds(&format!("{begin}{arc}")) - seconds(begin), expected);
    }
    // Clockwise it is three quarters.
    let begin = "G1 X50 F3000\nG4 P0\n";
    let rest = seconds(&format!("{begin}G2 X0 Y50 I-50")) - seconds(begin);
    near(rest, 0.1 + (3.0 * length - 2.5) / 50.0);
}

#[test]
fn waits_count_and_heating_does_not() {
    near(seconds("G1 X100 F3000\nG4 S2\nG4 P500"), 4.55);
    let heated = measured("M104 S210\nM140 S60\nM190 S60\nM109 S210 T0\nG28\nG1 X100 F3000");
    near(heated.time().value(), 2.05);
    assert_eq!(heated.heatings, 2);
    assert_eq!(heated.not_counted, []);
}

#[test]
fn tools_and_calls_for_filament_are_changes() {
    let program = "T0\nG1 X10 E1 F600\nT1\nG92 E0\nG1 X0 E1\nM600\nG1 X10 E2\nT1\nG1 X0 E3";
    assert_eq!(measured(program).figures.changes, 2);
    // A tool that is taken before anything is laid is where the print begins.
    assert_eq!(measured("T3\nG1 X10 E1 F600").figures.changes, 0);
}

#[test]
fn comments_are_never_read() {
    let plain = "G1 X10 E1 F600\nG1 X20 E2";
    let full = "; G1 X900 E900\n\
                G1 X10 (X800 E800) E1 F600 ; E700\n\
                (G1 X700)\n\
                ;LAYER:900 TIME:900\n\
                G1 X20 E2;\n";
    assert_eq!(measured(full).figures, measured(plain).figures);
}

#[test]
fn the_many_ways_to_write_a_line_are_one() {
    let plain = measured("G1 X10.5 Y-2 E1 F600\nG1 X20 Y0 E2").figures;
    for program in [
        "g1x10.5y-2e1f600\ng01 x+20. y-.0 e2",
        "N10 G1 X10.5 Y-2 E1 F600*55\r\nN20 G1 X20 Y0 E2*7\r\n",
        "%\nG90 G21 G1 X 10.5 Y -2 E1 F600\rX20 Y0 E2\r%",
        "\u{feff}/G1 X10.5 Y-2 E1 F600\n\n\n\tG1\tX20 Y0 E2",
    ] {
        assert_eq!(measured(program).figures, plain, "{program}");
    }
}

#[test]
fn what_is_not_known_is_told_and_texts_are_not_read() {
    let measured = measured(
        "START_PRINT BED=60\nM117 Layer 3 (of 9 :( \nM73 P10\nG29 X10\nM420 S1\nM420 S1\nG1 X10 E1 F600",
    );
    let told = [("START_PRINT", 1), ("G29", 1), ("M420", 2)];
    assert_eq!(
        measured.not_counted,
        told.map(|(name, count)| (name.to_owned(), count))
    );
    assert_eq!(measured.figures.moves, 1);
    assert_eq!(measured.lines, 7);
}

#[test]
fn what_is_wrong_is_told_with_its_line_and_what_would_be_right() {
    for (program, line, rule, found) in [
        ("G1 X10\nG1 Xabc", 2, "is no number", "Xa"),
        ("G1 X1.2.3", 1, "is no number", "X1.2."),
        ("G1 X1e5 Y1", 1, "E is written", ""),
        ("G1 XNAN", 1, "is no number", "XN"),
        ("G1 X-", 1, "is no number", "X-"),
        ("G1 X", 1, "`X` has no number", "X"),
        ("G1 X1 X2", 1, "`X` is written twice", "G1 X1 X2"),
        ("G1 X{size}", 1, "a word is a letter and a number", "{size}"),
        (
            "G1 X99999999",
            1,
            "X is at most 100000 mm from zero",
            "99999999 mm",
        ),
        (
            "G1 X99999999999999999999999999999",
            1,
            "X is at most 100000 mm from zero",
            "100000000000000000000000000000 mm",
        ),
        ("\n\nG1 X5 F0", 3, "a speed is above 0", "F0"),
        ("G1 X5 F-5", 1, "a speed is above 0", "F-5"),
        (
            "X5 Y5",
            1,
            "a place is given and no move asked for",
            "X5 Y5",
        ),
        ("G1 X5\nG2 X10 Y0", 2, "an arc has no centre", ""),
        (
            "G1 X5\nG2 X10 Y0 R1",
            2,
            "the ends of an arc are 5.000 mm apart",
            "",
        ),
        (
            "G2 X10 Y0 I4",
            1,
            "the centre of an arc is 4.000 mm from its beginning and 6.000 mm",
            "",
        ),
        (
            "G5 X1 Y1",
            1,
            "G5 is a kind of move that is not measured",
            "G5",
        ),
        ("G1 X5 A3", 1, "only X, Y, Z and E are measured", "A"),
        ("G1 X5 (never closed", 1, "a comment is opened", ""),
        ("M200 D1.75", 1, "E counts cubic millimetres", "M200"),
        ("M204 S0", 1, "an acceleration is", "0"),
        ("T70000", 1, "a tool is a whole number", "T70000"),
        ("G4 S-1", 1, "a wait is", "-1 s"),
        ("G1 X5\n\u{1}", 2, "this is no text", "a byte of value 1"),
        ("G1 X5 ?", 1, "a word is a letter and a number", "?"),
        ("M104 S200\n", 1, "no line of it has moved anything", ""),
        ("", 1, "no line of it has moved anything", ""),
    ] {
        if program == "G1 X1e5 Y1" {
            // E is a word of its own, so this is X1 and E5, as ISO 6983 has it.
            near(filament(program), 5.0);
            continue;
        }
        let fault = fault(program);
        assert_eq!(fault.line, line, "{program}: {fault}");
        assert!(fault.rule.contains(rule), "{program}: {fault}");
        assert!(fault.found.contains(found), "{program}: {fault}");
        assert!(!fault.fix.is_empty(), "{program}");
    }
}

#[test]
fn a_line_without_end_is_an_error_and_a_comment_without_end_is_skipped() {
    let endless = std::io::Read::take(std::io::repeat(b'X'), 50_000_000);
    let fault = measure_bytes(endless, Kinematics::USUAL).unwrap_err();
    assert!(fault.rule.contains("at most 1000 characters"), "{fault}");
    let comment = std::io::Read::take(std::io::repeat(b';'), 5_000_000);
    let program = std::io::Read::chain(&b"G1 X10 E1 F600\n"[..], comment);
    let measured = measure_bytes(program, Kinematics::USUAL).unwrap();
    assert_eq!(measured.lines, 2);
}

#[test]
fn one_gram_of_each_material_is_as_long_as_tables_say() {
    // Metres per kilogram = 1000 / (ρ·πd²/4). Densities: PLA a resin maker's data sheet (4043D, ASTM D792,
    // scribd.com/document/464152061); PETG, ABS Processes 13(9) 2733 (2025); ASA, PA6, PA12 within the ranges of
    // 24kjx.com.cn/news/915; TPU from memory, typical. Lengths computed from them apart from this program.
    for (density, thin, thick) in [
        (1.24, 335.28, 126.42),
        (1.27, 327.36, 123.43),
        (1.04, 399.76, 150.73),
        (1.07, 388.55, 146.50),
        (1.21, 343.60, 129.55),
        (1.14, 364.69, 137.50),
        (1.01, 411.64, 155.20),
    ] {
        for (diameter, metres) in [(1.75, thin), (2.85, thick)] {
            let figures = measured(&format!("M83\nG1 X10 E{metres} F600")).figures;
            let volume = figures.volume(crate::units::Millimetres(diameter));
            let grams = (volume * crate::units::Density(density)).value();
            assert!((grams - 1.0).abs() < 5e-5, "{density} {diameter}: {grams}");
        }
    }
    // ±0.05 mm on 1.75 mm are +5.80 % and −5.63 % of plastic.
    let figures = measured("G1 X10 E1000 F600").figures;
    let volume = |diameter| figures.volume(crate::units::Millimetres(diameter)).value();
    assert!((volume(1.80) / volume(1.75) - 1.0580).abs() < 5e-5);
    assert!((volume(1.70) / volume(1.75) - 0.9437).abs() < 5e-5);
}

/// A small program with most words in it.
const SOUND: &str = "; a bracket\nM140 S60\nM109 S210\nG28\nG90\nM82\nG92 E0\nT0\n\
                     G1 X10.000 Y10.000 Z0.200 F7200\nG1 X50.000 E2.15 F1800\nG3 X60 Y20 I0 J10 E2.9\n\
                     G2 X50 Y30 R10 E3.6\nG1 E2.8 F2400\nG0 X12 Y12 Z0.4\nG1 E3.6\nM204 S800\nM220 S90\n\
                     G91\nG1 X5 Y-3 E0.2\nG90\nG4 P200\nM600\nT1\nG92 E0\nG1 X20 E0.5 (wipe)\nG20\nG1 X1\nG21\nM84\n";

/// What replaces a byte: what words are made of, and now and then anything.
fn byte() -> impl Strategy<Value = u8> {
    prop_oneof![
        4 => prop::sample::select(b"GMTXYZEFIJRS0123456789.-+;() \n%*/N".to_vec()),
        1 => any::<u8>(),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

    #[test]
    fn a_damaged_program_is_refused_or_measured_to_finite_figures(
        changes in prop::collection::vec((0..SOUND.len(), 0..3u8, byte()), 1..12),
    ) {
        let mut bytes = SOUND.as_bytes().to_vec();
        for (at, how, byte) in changes {
            let at = at.min(bytes.len() - 1);
            match how {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ if bytes.len() > 1 => drop(bytes.remove(at)),
                _ => {}
            }
        }
        match measure_bytes(bytes.as_slice(), Kinematics::USUAL) {
            Ok(measured) => {
                let figures = measured.figures;
                prop_assert!(figures.time.value().is_finite() && figures.time.value() >= 0.0);
                prop_assert!(figures.filament.value().is_finite() && figures.filament.value() >= 0.0);
            }
            Err(fault) => prop_assert!(fault.line >= 1 && !fault.fix.is_empty() && fault.text.len() < 500),
        }
    }

    #[test]
    fn any_bytes_are_refused_or_measured(bytes in prop::collection::vec(byte(), 0..300)) {
        let _ = measure_bytes(bytes.as_slice(), Kinematics::USUAL);
    }
}

proptest! {
    #[test]
    fn a_number_is_what_the_standard_library_reads(
        whole in 0..99_999u64, decimals in "[0-9]{0,14}", negative in any::<bool>(),
    ) {
        let written = format!("{}{whole}.{decimals}", if negative { "-" } else { "" });
        let text = format!("X{written}").into_bytes();
        let line = lines::Line { number: 1, text: &text, open: false };
        let word = words::Words::new(&line).next().unwrap().unwrap();
        prop_assert_eq!(word.number, written.parse::<f64>().ok());
    }

    #[test]
    fn time_is_never_less_than_length_at_speed(
        steps in prop::collection::vec((-90..90i32, -90..90i32, 1..200i32), 1..60),
    ) {
        let (mut program, mut least, mut at) = (String::new(), 0.0, (0.0, 0.0));
        for (x, y, speed) in steps {
            let (x, y, speed) = (f64::from(x), f64::from(y), f64::from(speed));
            program.push_str(&format!("G1 X{x} Y{y} F{}\n", speed * 60.0));
            least += (x - at.0).hypot(y - at.1) / speed;
            at = (x, y);
        }
        prop_assert!(seconds(&program) >= least * (1.0 - 1e-9));
    }

    #[test]
    fn the_same_program_in_relative_words_comes_to_the_same(
        steps in prop::collection::vec((-90..90i32, -90..90i32, 0..50i32), 1..60),
    ) {
        let (mut absolute, mut relative) = ("G1 F3000\n".to_owned(), "G1 F3000\nG91\n".to_owned());
        let (mut at, mut pressed) = ((0, 0), 0);
        for (x, y, e) in steps {
            pressed += e;
            absolute.push_str(&format!("G1 X{x} Y{y} E{pressed}\n"));
            relative.push_str(&format!("G1 X{} Y{} E{e}\n", x - at.0, y - at.1));
            at = (x, y);
        }
        prop_assert_eq!(measured(&absolute).figures, measured(&relative).figures);
    }
}
