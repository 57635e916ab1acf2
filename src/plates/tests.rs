//! Packings worked out by hand, and the check of a packing that shares nothing with the packers.

mod drawn;

use super::*;

fn area(width: f64, depth: f64) -> Area {
    Area { width, depth }
}

fn rectangle(width: f64, depth: f64) -> Rectangle {
    Rectangle {
        width,
        depth,
        straight: true,
        turned: true,
    }
}

fn fixed(width: f64, depth: f64) -> Rectangle {
    Rectangle {
        turned: false,
        ..rectangle(width, depth)
    }
}

/// Left, lower, right and upper edge.
fn edges(rectangle: &Rectangle, place: &Place) -> [f64; 4] {
    let (across, along) = if place.turned {
        (rectangle.depth, rectangle.width)
    } else {
        (rectangle.width, rectangle.depth)
    };
    [place.x, place.y, place.x + across, place.y + along]
}

/// Fails unless every rectangle lies in an allowed way inside the area and at least `spacing` from every other one, to
/// 10⁻⁶ mm, by Euclidean distance.
fn assert_packed(area: Area, spacing: f64, rectangles: &[Rectangle], places: &[Place]) {
    const TOLERANCE: f64 = 1e-6;
    assert_eq!(rectangles.len(), places.len());
    for (i, (one, place)) in rectangles.iter().zip(places).enumerate() {
        assert!(if place.turned {
            one.turned
        } else {
            one.straight
        });
        let [left, low, right, high] = edges(one, place);
        assert!(left >= -TOLERANCE && low >= -TOLERANCE);
        assert!(right <= area.width + TOLERANCE && high <= area.depth + TOLERANCE);
        for (other, other_place) in rectangles.iter().zip(places).take(i) {
            let [other_left, other_low, other_right, other_high] = edges(other, other_place);
            let across = (other_left - right).max(left - other_right);
            let along = (other_low - high).max(low - other_high);
            assert!(across.max(along) >= -TOLERANCE, "overlap");
            let distance = across.max(0.0).hypot(along.max(0.0));
            assert!(distance >= spacing - TOLERANCE, "only {distance} apart");
        }
    }
}

/// A packing that is checked.
fn packed(
    area: Area,
    spacing: f64,
    rectangles: &[Rectangle],
    effort: Effort,
) -> Option<Vec<Place>> {
    let places = pack(area, spacing, rectangles, effort)?;
    assert_packed(area, spacing, rectangles, &places);
    Some(places)
}

const THOROUGH: Effort = Effort::Thorough { tries: 200 };

#[test]
fn nothing_and_one_rectangle_are_packed() {
    let bed = area(290.0, 290.0);
    assert_eq!(pack(bed, 4.0, &[], Effort::Quick), Some(vec![]));
    // Spacing is kept between rectangles only: 290 fits 290.
    let places = packed(bed, 4.0, &[rectangle(290.0, 290.0)], Effort::Quick).unwrap();
    assert_eq!(places, [Place::default()]);
    assert_eq!(
        pack(bed, 4.0, &[rectangle(290.1, 10.0)], Effort::Quick),
        None
    );
}

#[test]
fn a_rectangle_lies_only_as_it_may() {
    let bed = area(300.0, 100.0);
    assert_eq!(pack(bed, 4.0, &[fixed(50.0, 200.0)], Effort::Quick), None);
    let places = packed(bed, 4.0, &[rectangle(50.0, 200.0)], Effort::Quick).unwrap();
    assert!(places[0].turned);
    let neither = Rectangle {
        straight: false,
        ..fixed(10.0, 10.0)
    };
    assert_eq!(pack(bed, 4.0, &[neither], Effort::Quick), None);
}

#[test]
fn spacing_decides_how_many_beams_share_a_plate() {
    // 290 = 12 × 20 + 11 × 4 + 6: twelve beams of 20 fit, a thirteenth would need 24 mm more.
    let bed = area(290.0, 290.0);
    let beam = rectangle(290.0, 20.0);
    assert!(packed(bed, 4.0, &[beam; 12], Effort::Quick).is_some());
    assert_eq!(pack(bed, 4.0, &[beam; 13], Effort::Quick), None);
    assert_eq!(room_for(bed, 4.0, &beam), 12);
}

#[test]
fn lengths_that_add_up_exactly_fit() {
    // 3 × 94 + 2 × 4 = 290, and 3 × 290/3 = 290 in both directions.
    let bed = area(290.0, 290.0);
    assert!(packed(bed, 4.0, &[rectangle(94.0, 94.0); 9], Effort::Quick).is_some());
    let third = 290.0 / 3.0;
    assert!(packed(bed, 0.0, &[rectangle(third, third); 9], Effort::Quick).is_some());
    // Ten tenths, each of them no binary fraction, in mixed company.
    let mut tenths = vec![rectangle(0.1, 1.0); 10];
    tenths.push(rectangle(1.0, 0.5));
    assert!(packed(area(1.0, 1.5), 0.0, &tenths, Effort::Quick).is_some());
}

#[test]
fn equal_rectangles_turn_against_each_other_where_that_holds_more() {
    // 3 × 2 in 5 × 5: a grid holds two (one column of 3, two rows of 2); four in a pinwheel leave a 1 × 1 hole.
    assert_eq!(room_for(area(5.0, 5.0), 0.0, &rectangle(3.0, 2.0)), 4);
    assert_eq!(room_for(area(5.0, 5.0), 0.0, &fixed(3.0, 2.0)), 2);
    assert!(
        packed(
            area(5.0, 5.0),
            0.0,
            &[rectangle(3.0, 2.0); 4],
            Effort::Quick
        )
        .is_some()
    );
    // 3 × 2 in 5 × 6: grids hold three and four; three straight ones beside two turned ones fill it.
    assert_eq!(room_for(area(5.0, 6.0), 0.0, &rectangle(3.0, 2.0)), 5);
}

#[test]
fn extreme_lengths_are_counted_or_refused_but_never_overflow() {
    // A hundred metres hold 10⁵ / 10⁻³ = 10⁸ micrometres, each way.
    let field = area(1e5, 1e5);
    assert_eq!(
        room_for(field, 0.0, &rectangle(1e-3, 1e-3)),
        10_000_000_000_000_000
    );
    assert_eq!(room_for(field, 0.0, &rectangle(1e-9, 1e-9)), 0);
    assert_eq!(room_for(area(1e6, 1e6), 0.0, &rectangle(10.0, 10.0)), 0);
}

#[test]
fn lengths_that_are_no_lengths_are_refused() {
    let bed = area(290.0, 290.0);
    let good = rectangle(10.0, 10.0);
    for bad in [f64::NAN, f64::INFINITY, -1.0, 0.0, 1e300] {
        assert_eq!(
            pack(bed, 4.0, &[good, rectangle(bad, 10.0)], Effort::Quick),
            None
        );
        assert_eq!(room_for(bed, 4.0, &rectangle(10.0, bad)), 0);
    }
    for spacing in [f64::NAN, f64::INFINITY, -1.0] {
        assert_eq!(pack(bed, spacing, &[good], Effort::Quick), None);
        assert_eq!(room_for(bed, spacing, &good), 0);
    }
    assert_eq!(
        pack(area(f64::NAN, 290.0), 4.0, &[good], Effort::Quick),
        None
    );
}

#[test]
fn a_packing_that_quick_rules_miss_is_found_by_trying_harder() {
    // A pinwheel: 6 × 4 twice and 4 × 6 twice round a 2 × 2 hole in 10 × 10, all as drawn, the hole filled.
    let pinwheel = [
        fixed(6.0, 4.0),
        fixed(6.0, 4.0),
        fixed(4.0, 6.0),
        fixed(4.0, 6.0),
        fixed(2.0, 2.0),
    ];
    let bed = area(10.0, 10.0);
    assert_eq!(pack(bed, 0.0, &pinwheel, Effort::Quick), None);
    assert!(packed(bed, 0.0, &pinwheel, THOROUGH).is_some());
    // One more millimetre anywhere and it does not close.
    let mut wide = pinwheel;
    wide[0].width = 6.1;
    assert_eq!(pack(bed, 0.0, &wide, THOROUGH), None);
}

#[test]
fn beams_on_a_belt_lie_in_rows_as_the_width_allows() {
    // 240 mm across: 4 × 48 + 3 × 4 = 204 fit side by side, a fifth would need 256. Nine beams: three rows, 3 × 500 +
    // 2 × 4.
    let beam = fixed(48.0, 500.0);
    let (length, places) = pack_belt(240.0, 2400.0, 4.0, &[beam; 9], Effort::Quick).unwrap();
    assert!((length - 1508.0).abs() < 1e-6);
    assert_packed(area(240.0, length), 4.0, &[beam; 9], &places);
    // Two rows are 1004 long, so eight fit 1004 and nine do not.
    assert!(pack_belt(240.0, 1004.0, 4.0, &[beam; 8], Effort::Quick).is_some());
    assert_eq!(pack_belt(240.0, 1507.9, 4.0, &[beam; 9], THOROUGH), None);
    assert_eq!(
        pack_belt(240.0, 2400.0, 4.0, &[], Effort::Quick),
        Some((0.0, vec![]))
    );
}

#[test]
fn a_belt_stretch_is_no_longer_than_it_need_be() {
    // 240 across, no spacing: 100 × 300 and 140 × 200 side by side, 140 × 100 on top of the latter: 300, which the
    // longest needs.
    let pieces = [
        fixed(100.0, 300.0),
        fixed(140.0, 200.0),
        fixed(140.0, 100.0),
    ];
    let (length, _) = pack_belt(240.0, 2400.0, 0.0, &pieces, Effort::Quick).unwrap();
    assert!((length - 300.0).abs() < 1e-6);
    // Equal ones that may turn: 30 × 20 on 70 across. Turned ones alone: 3 to a row of 30, four rows 120 for ten;
    // straight ones alone: 2 to a row of 20, five rows: 100. One column straight beside two turned (30 + 40 = 70): in
    // 90, 4 + 2 × 3 = 10.
    let (length, _) = pack_belt(
        70.0,
        1000.0,
        0.0,
        &[rectangle(30.0, 20.0); 10],
        Effort::Quick,
    )
    .unwrap();
    assert!((length - 90.0).abs() < 1e-6);
}

#[test]
fn a_whole_list_takes_as_many_bins_as_its_surface_says() {
    // Four 5 × 5 fill 10 × 10: sixteen take four bins, one more a fifth.
    let bed = area(10.0, 10.0);
    for (count, bins) in [(0, 0), (1, 1), (4, 1), (16, 4), (17, 5)] {
        let list = vec![rectangle(5.0, 5.0); count];
        assert_eq!(
            bins_needed(bed, 0.0, &list, Effort::Quick).unwrap().len(),
            bins
        );
    }
}

#[test]
fn a_plate_less_is_found_by_exchanging_rectangles() {
    // Strips as deep as the bed, 4 4 3 3 3 3 wide on 10: first fit lays 4 4, 3 3 3, 3; two plates of 4 3 3 hold them
    // too.
    let bed = area(10.0, 10.0);
    let strips = [4.0, 4.0, 3.0, 3.0, 3.0, 3.0].map(|width| fixed(width, 10.0));
    let bins = |effort| bins_needed(bed, 0.0, &strips, effort).unwrap().len();
    assert_eq!(bins(Effort::Quick), 3);
    assert_eq!(bins(THOROUGH), 2);
}

#[test]
fn squares_that_tile_a_rectangle_in_one_way_only_are_put_together() {
    // 33 × 32 from 9 unlike squares (18² + 15² + 14² + 10² + 9² + 8² + 7² + 4² + 1² = 1056) and 65 × 47 from 10
    // (3055): no cut goes from edge to edge, and there is no other way but the mirrored ones.
    // Source: Z. Moroń, "O rozkładach prostokątów na kwadraty", Przegląd matematyczno-fizyczny 3 (1925) 152–153; R.
    // L. Brooks et al., "The dissection of rectangles into squares", Duke Math. J. 7 (1940) 312–340 (both from
    // memory; the surfaces agree).
    let moron = [18, 15, 14, 10, 9, 8, 7, 4, 1];
    let second = [25, 24, 23, 22, 19, 17, 11, 6, 5, 3];
    for (bed, sides) in [
        (area(33.0, 32.0), &moron[..]),
        (area(65.0, 47.0), &second[..]),
    ] {
        let squares: Vec<Rectangle> = sides
            .iter()
            .map(|&s| rectangle(f64::from(s), f64::from(s)))
            .collect();
        assert!(packed(bed, 0.0, &squares, Effort::Thorough { tries: 1000 }).is_some());
    }
}
