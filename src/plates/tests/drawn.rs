//! Rules that every packing keeps, on tasks drawn at random; the small ones answered by trying everything.

use proptest::prelude::*;

use super::*;

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

/// Cuts a bed across from edge to edge, then the parts: each cut names a part, a share of it and a direction, and
/// takes a spacing's width of the bed.
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

/// Whether whole-numbered rectangles fit a whole-numbered plate: each is tried on every whole position. (Pushing a
/// packing left and down makes its positions whole.)
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
