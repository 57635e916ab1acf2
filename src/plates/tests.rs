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
    /// A bed, a spacing, and rectangles of which few to many fit.
    fn task()(
        width in 100.0..400f64,
        depth in 100.0..400f64,
        spacing in prop_oneof![Just(0.0), 0.5..8.0f64],
        sides in prop::collection::vec((5.0..120f64, 5.0..120f64, 0..3u8), 0..25),
    ) -> (Area, f64, Vec<Rectangle>) {
        let rectangles = sides
            .into_iter()
            .map(|(width, depth, ways)| Rectangle { width, depth, straight: ways != 1, turned: ways != 0 })
            .collect();
        (area(width, depth), spacing, rectangles)
    }
}

proptest! {
    #[test]
    fn packings_keep_area_and_spacing((area, spacing, rectangles) in task()) {
        packed(area, spacing, &rectangles, Effort::Quick);
    }

    #[test]
    fn the_order_of_the_list_does_not_matter((area, spacing, rectangles) in task(), shift in 0..25usize) {
        let mut other = rectangles.clone();
        other.rotate_left(shift.min(rectangles.len()));
        other.reverse();
        let one = pack(area, spacing, &rectangles, Effort::Quick);
        let two = pack(area, spacing, &other, Effort::Quick).map(|mut places| {
            places.reverse();
            places.rotate_right(shift.min(rectangles.len()));
            places
        });
        prop_assert_eq!(one, two);
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
        prop_assert!(packed(bed, spacing, &vec![one; room], Effort::Quick).is_some());
        prop_assert!(packed(bed, spacing, &vec![one; room + 1], Effort::Quick).is_none());
    }

    #[test]
    fn more_surface_than_the_plate_has_is_refused((area, spacing, rectangles) in task()) {
        let surface: f64 = rectangles.iter().map(|r| r.width * r.depth).sum();
        prop_assume!(surface > area.width * area.depth);
        prop_assert_eq!(pack(area, spacing, &rectangles, Effort::Quick), None);
    }

    #[test]
    fn a_rectangle_longer_than_the_plate_is_refused((area, spacing, mut rectangles) in task(), at in 0..25usize, over in 0.001..50f64) {
        let long = area.width.max(area.depth) + over;
        rectangles.insert(at.min(rectangles.len()), rectangle(long, 5.0));
        prop_assert_eq!(pack(area, spacing, &rectangles, Effort::Quick), None);
    }
}
