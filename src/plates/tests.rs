//! Rules that every packing keeps, checked by code that shares nothing with the packers.

use proptest::prelude::*;

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
pub(super) fn assert_packed(area: Area, spacing: f64, rectangles: &[Rectangle], places: &[Place]) {
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

prop_compose! {
    /// A bed, a spacing, and rectangles of which few to many fit, some of them alike.
    fn task()(
        width in 100.0..400f64,
        depth in 100.0..400f64,
        spacing in prop_oneof![Just(0.0), 0.5..8.0f64],
        sides in prop::collection::vec((5.0..120f64, 5.0..120f64, 0..3u8, 1..4usize), 0..10),
    ) -> (Area, f64, Vec<Rectangle>) {
        let rectangles = sides
            .into_iter()
            .flat_map(|(width, depth, ways, count)| {
                let one = Rectangle { width, depth, straight: ways != 1, turned: ways != 0 };
                std::iter::repeat_n(one, count)
            })
            .collect();
        (area(width, depth), spacing, rectangles)
    }
}

prop_compose! {
    /// A plate of whole numbers, and rectangles that may or may not fit it.
    fn small_task()(
        width in 3..8u8,
        depth in 3..8u8,
        sides in prop::collection::vec((1..6u8, 1..6u8, 0..3u8), 1..6),
    ) -> (Area, Vec<Rectangle>) {
        let rectangles = sides
            .into_iter()
            .map(|(width, depth, ways)| Rectangle {
                width: f64::from(width),
                depth: f64::from(depth),
                straight: ways != 1,
                turned: ways != 0,
            })
            .collect();
        (area(f64::from(width), f64::from(depth)), rectangles)
    }
}

/// Cuts a bed across from edge to edge, then the parts: each cut names a part, a share of it and a direction, and takes a
/// spacing's width of the bed.
fn cut(bed: Area, spacing: f64, cuts: &[(usize, f64, bool)]) -> Vec<Rectangle> {
    let mut parts = vec![(bed.width, bed.depth)];
    for &(which, share, across) in cuts {
        let which = which % parts.len();
        let (width, depth) = parts[which];
        let (one, other) = if across {
            let first = (width - spacing) * share;
            ((first, depth), (width - spacing - first, depth))
        } else {
            let first = (depth - spacing) * share;
            ((width, first), (width, depth - spacing - first))
        };
        parts[which] = one;
        parts.push(other);
    }
    parts
        .into_iter()
        .enumerate()
        // Every other one is handed over lying the other way.
        .map(|(i, (width, depth))| {
            if i % 2 == 0 {
                rectangle(width, depth)
            } else {
                rectangle(depth, width)
            }
        })
        .collect()
}

/// Whether whole-numbered rectangles fit a whole-numbered plate: each is tried on every whole position. (Pushing a packing left and
/// down makes its positions whole.)
fn fits_by_trying_all(area: Area, rectangles: &[Rectangle], taken: &mut Vec<[f64; 4]>) -> bool {
    let Some(one) = rectangles.get(taken.len()) else {
        return true;
    };
    for turned in [false, true] {
        if !(if turned { one.turned } else { one.straight }) {
            continue;
        }
        for x in 0..area.width as u32 {
            for y in 0..area.depth as u32 {
                let place = Place {
                    x: f64::from(x),
                    y: f64::from(y),
                    turned,
                };
                let [left, low, right, high] = edges(one, &place);
                let free = taken
                    .iter()
                    .all(|[l, b, r, t]| right <= *l || *r <= left || high <= *b || *t <= low);
                if right <= area.width && high <= area.depth && free {
                    taken.push([left, low, right, high]);
                    if fits_by_trying_all(area, rectangles, taken) {
                        return true;
                    }
                    taken.pop();
                }
            }
        }
    }
    false
}

proptest! {
    #[test]
    fn packings_keep_area_and_spacing((area, spacing, rectangles) in task()) {
        let quick = packed(area, spacing, &rectangles, Effort::Quick).is_some();
        let thorough = packed(area, spacing, &rectangles, Effort::Thorough { tries: 20 }).is_some();
        prop_assert!(thorough || !quick);
    }

    #[test]
    fn the_order_of_the_list_does_not_matter((area, spacing, rectangles) in task(), shift in 0..30usize) {
        let mut other = rectangles.clone();
        other.rotate_left(shift.min(rectangles.len()));
        other.reverse();
        // Equal rectangles may change places among each other.
        let laid = |rectangles: &[Rectangle], effort| {
            let places = pack(area, spacing, rectangles, effort)?;
            let mut laid: Vec<[f64; 4]> = rectangles.iter().zip(&places).map(|(r, p)| edges(r, p)).collect();
            laid.sort_by(|a, b| a.partial_cmp(b).unwrap());
            Some(laid)
        };
        for effort in [Effort::Quick, Effort::Thorough { tries: 20 }] {
            prop_assert_eq!(laid(&rectangles, effort), laid(&other, effort));
        }
    }

    #[test]
    fn a_packer_used_before_packs_like_a_new_one((area, spacing, rectangles) in task(), (other_area, other_spacing, others) in task()) {
        for effort in [Effort::Quick, Effort::Thorough { tries: 20 }] {
            let mut packer = Packer::default();
            packer.pack(other_area, other_spacing, &others, effort);
            packer.pack_belt(area.width, area.depth, spacing, &others, effort);
            let again = packer.pack(area, spacing, &rectangles, effort).map(<[Place]>::to_vec);
            prop_assert_eq!(again, pack(area, spacing, &rectangles, effort));
        }
    }

    #[test]
    fn as_many_equal_rectangles_are_packed_as_there_is_room_for(
        width in 50.0..300f64, depth in 50.0..300f64, spacing in 0.0..6.0f64, long in 10.0..120f64, short in 10.0..120f64,
    ) {
        let bed = area(width, depth);
        let one = rectangle(long, short);
        let room = room_for(bed, spacing, &one);
        let grid = |a: f64, b: f64| ((width + spacing) / (a + spacing)) as usize * ((depth + spacing) / (b + spacing)) as usize;
        prop_assert!(room >= grid(long, short).max(grid(short, long)));
        for effort in [Effort::Quick, THOROUGH] {
            prop_assert!(packed(bed, spacing, &vec![one; room], effort).is_some());
        }
        prop_assert!(packed(bed, spacing, &vec![one; room + 1], Effort::Quick).is_none());
    }

    #[test]
    fn what_a_bed_was_cut_into_is_packed_again(
        width in 150.0..400f64, depth in 150.0..400f64, spacing in 0.0..6.0f64,
        cuts in prop::collection::vec((0..6usize, 0.2..0.8f64, any::<bool>()), 0..6),
    ) {
        let bed = area(width, depth);
        let parts = cut(bed, spacing, &cuts);
        // Cut and cut again, a part may be thinner than the saw.
        prop_assume!(parts.iter().all(|part| part.width > 1.0 && part.depth > 1.0));
        let found = packed(bed, spacing, &parts, Effort::Thorough { tries: 20_000 });
        prop_assert!(found.is_some());
        let bin = Bin::new(bed, spacing).unwrap();
        let mut packer = Packer::default();
        packer.take(bin, spacing, &parts).unwrap();
        prop_assert_eq!(packer.prove(bin, &mut Budget::new(20_000)), Verdict::Packed);
    }

    #[test]
    fn few_rectangles_fit_exactly_when_trying_all_positions_says_so((area, rectangles) in small_task()) {
        let fits = fits_by_trying_all(area, &rectangles, &mut vec![]);
        prop_assert_eq!(packed(area, 0.0, &rectangles, Effort::Thorough { tries: 20_000 }).is_some(), fits);
        prop_assert!(fits || pack(area, 0.0, &rectangles, Effort::Quick).is_none());
        // The exact search on its own, since the quick rules answer most questions before it is asked.
        let bin = Bin::new(area, 0.0).unwrap();
        let mut packer = Packer::default();
        let verdict = packer
            .take(bin, 0.0, &rectangles)
            .map_or(Verdict::Impossible, |()| packer.prove(bin, &mut Budget::new(20_000)));
        prop_assert_eq!(verdict, if fits { Verdict::Packed } else { Verdict::Impossible });
        if fits {
            assert_packed(area, 0.0, &rectangles, packer.places());
        }
    }

    #[test]
    fn what_a_stretch_of_belt_was_cut_into_takes_no_more_of_it(
        width in 150.0..400f64, depth in 150.0..400f64, spacing in 0.0..6.0f64,
        cuts in prop::collection::vec((0..6usize, 0.2..0.8f64, any::<bool>()), 0..5),
    ) {
        let parts = cut(area(width, depth), spacing, &cuts);
        prop_assume!(parts.iter().all(|part| part.width > 1.0 && part.depth > 1.0));
        let (length, _) = pack_belt(width, 2.0 * depth, spacing, &parts, Effort::Thorough { tries: 5_000 }).unwrap();
        // A tenth of a millimetre is not looked for.
        prop_assert!(length < depth + 0.1 + 1e-6);
    }

    #[test]
    fn more_surface_than_the_plate_has_is_refused((area, spacing, mut rectangles) in task()) {
        let surface = |rectangles: &[Rectangle]| rectangles.iter().map(|r| r.width * r.depth).sum::<f64>();
        while surface(&rectangles) <= area.width * area.depth {
            rectangles.push(rectangle(70.0, 60.0));
        }
        prop_assert_eq!(pack(area, spacing, &rectangles, THOROUGH), None);
        prop_assert_eq!(pack_belt(area.width, area.depth, spacing, &rectangles, THOROUGH), None);
    }

    #[test]
    fn a_rectangle_longer_than_the_plate_is_refused((area, spacing, mut rectangles) in task(), at in 0..30usize, over in 0.001..50f64) {
        let long = area.width.max(area.depth) + over;
        rectangles.insert(at.min(rectangles.len()), rectangle(long, 5.0));
        prop_assert_eq!(pack(area, spacing, &rectangles, THOROUGH), None);
        prop_assert_eq!(bins_needed(area, spacing, &rectangles, THOROUGH), None);
    }

    #[test]
    fn a_stretch_of_belt_keeps_width_and_spacing_and_tells_its_length((area, spacing, rectangles) in task()) {
        for effort in [Effort::Quick, Effort::Thorough { tries: 20 }] {
            if let Some((length, places)) = pack_belt(area.width, area.depth, spacing, &rectangles, effort) {
                prop_assert!(length <= area.depth);
                let reach = rectangles.iter().zip(&places).map(|(r, p)| edges(r, p)[3]).fold(0.0, f64::max);
                prop_assert!((reach - length).abs() < 1e-6);
                let used = Area { depth: length, ..area };
                assert_packed(used, spacing, &rectangles, &places);
            }
        }
    }

    #[test]
    fn bins_hold_each_rectangle_once_and_are_packed((area, spacing, rectangles) in task()) {
        for effort in [Effort::Quick, Effort::Thorough { tries: 20 }] {
            let Some(bins) = bins_needed(area, spacing, &rectangles, effort) else {
                continue;
            };
            let mut once = bins.concat();
            once.sort_unstable();
            prop_assert!(once.into_iter().eq(0..rectangles.len()));
            for bin in bins {
                let together: Vec<Rectangle> = bin.iter().map(|&i| rectangles[i]).collect();
                prop_assert!(!together.is_empty());
                prop_assert!(packed(area, spacing, &together, effort).is_some());
            }
        }
    }
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
    // 240 mm across: 4 × 48 + 3 × 4 = 204 fit side by side, a fifth would need 256. Nine beams: three rows, 3 × 500 + 2 × 4.
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
    // 240 across, no spacing: 100 × 300 and 140 × 200 side by side, 140 × 100 on top of the latter: 300, which the longest needs.
    let pieces = [
        fixed(100.0, 300.0),
        fixed(140.0, 200.0),
        fixed(140.0, 100.0),
    ];
    let (length, _) = pack_belt(240.0, 2400.0, 0.0, &pieces, Effort::Quick).unwrap();
    assert!((length - 300.0).abs() < 1e-6);
    // Equal ones that may turn: 30 × 20 on 70 across. Turned ones alone: 3 to a row of 30, four rows 120 for ten; straight ones alone: 2 to a row of 20, five rows: 100.
    // One column straight beside two turned (30 + 40 = 70): in 90, 4 + 2 × 3 = 10.
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
    // Strips as deep as the bed, 4 4 3 3 3 3 wide on 10: first fit lays 4 4, 3 3 3, 3; two plates of 4 3 3 hold them too.
    let bed = area(10.0, 10.0);
    let strips = [4.0, 4.0, 3.0, 3.0, 3.0, 3.0].map(|width| fixed(width, 10.0));
    let bins = |effort| bins_needed(bed, 0.0, &strips, effort).unwrap().len();
    assert_eq!(bins(Effort::Quick), 3);
    assert_eq!(bins(THOROUGH), 2);
}

#[test]
fn squares_that_tile_a_rectangle_in_one_way_only_are_put_together() {
    // 33 × 32 from 9 unlike squares (18² + 15² + 14² + 10² + 9² + 8² + 7² + 4² + 1² = 1056) and 65 × 47 from 10 (3055): no cut
    // goes from edge to edge, and there is no other way but the mirrored ones.
    // Source: Z. Moroń, "O rozkładach prostokątów na kwadraty", Przegląd matematyczno-fizyczny 3 (1925) 152–153; R. L. Brooks et al.,
    // "The dissection of rectangles into squares", Duke Math. J. 7 (1940) 312–340 (both from memory; the surfaces agree).
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
