//! What is wrong with a mesh is counted, and weighed by what it does to the volume.

use super::super::Findings;
use super::{block, inward, mesh, moved, tube};

fn findings(triangles: &[[[f64; 3]; 3]]) -> Findings {
    mesh(triangles).findings()
}

#[test]
fn a_sound_box_has_no_findings() {
    let found = findings(&block([0.0; 3], [30.0, 20.0, 10.0]));
    let sound = Findings {
        triangles: 12,
        volume: found.volume,
        filled: found.filled,
        ..Findings::default()
    };
    assert_eq!(found, sound);
    assert!((found.volume - 6000.0).abs() < 1e-9 && (found.filled - 1.0).abs() < 1e-12);
}

#[test]
fn two_boxes_that_touch_along_an_edge_are_sound() {
    // Four faces meet at the common edge, two each way round.
    let mut both = block([0.0; 3], [10.0; 3]);
    both.extend(block([10.0, 10.0, 0.0], [20.0, 20.0, 10.0]));
    let found = findings(&both);
    assert_eq!((found.open_edges, found.disagreeing_edges), (0, 0));
    assert_eq!((found.duplicate_faces, found.doubt), (0, 0.0));
}

#[test]
fn a_missing_triangle_leaves_three_open_edges_and_a_doubt_of_its_cone() {
    // One of twelve triangles of a cube has a cone of 1/12 of its volume.
    let mut cube = block([0.0; 3], [10.0; 3]);
    cube.pop();
    let found = findings(&cube);
    assert_eq!((found.open_edges, found.disagreeing_edges), (3, 0));
    assert!(
        (found.doubt - (1.0 / 12.0) / (11.0 / 12.0)).abs() < 1e-9,
        "{}",
        found.doubt
    );
}

#[test]
fn a_tube_without_its_ends_is_doubtful_although_their_gaps_cancel_out() {
    let mut tube = tube(20.0, 15.0, 24, 100.0);
    // Every fourth pair of triangles is the lower end, the pair before it the upper.
    let mut at = 0;
    tube.retain(|_| {
        at += 1;
        (at - 1) % 8 < 4
    });
    let found = findings(&tube);
    assert_eq!(found.open_edges, 4 * 24);
    assert!(found.doubt > 0.1, "{}", found.doubt);
}

#[test]
fn a_hairline_gap_is_counted_and_puts_nothing_in_doubt() {
    // The corner (0, 0, 10) of the lid is off by a ten-thousandth of a millimetre.
    let mut cube = block([0.0; 3], [10.0; 3]);
    for triangle in &mut cube {
        let lid = triangle.iter().all(|corner| corner[2] == 10.0);
        for corner in triangle.iter_mut().filter(|_| lid) {
            if corner[0] == 0.0 && corner[1] == 0.0 {
                corner[0] = 1e-4;
            }
        }
    }
    let found = findings(&cube);
    assert!(found.open_edges > 0 && found.doubt < 1e-4, "{found:?}");
}

#[test]
fn a_turned_triangle_disagrees_with_its_three_neighbours() {
    let mut cube = block([0.0; 3], [10.0; 3]);
    let last = cube.pop().unwrap();
    cube.extend(inward(vec![last]));
    let found = findings(&cube);
    assert_eq!((found.open_edges, found.disagreeing_edges), (0, 3));
    // Its cone counts against the volume instead of for it: (2/12) / (10/12).
    assert!((found.doubt - 0.2).abs() < 1e-9, "{}", found.doubt);
}

#[test]
fn a_shell_written_twice_is_all_duplicates() {
    // Every edge has two faces each way, so nothing but the faces themselves tells that the volume counts double.
    let mut twice = block([0.0; 3], [10.0; 3]);
    twice.extend(block([0.0; 3], [10.0; 3]));
    let found = findings(&twice);
    assert_eq!((found.open_edges, found.disagreeing_edges), (0, 0));
    assert_eq!(found.duplicate_faces, 12);
    assert!((found.doubt - 0.5).abs() < 1e-9 && found.filled > 1.9);
}

#[test]
fn a_fin_without_thickness_is_two_faces_of_which_one_is_a_duplicate() {
    let mut with_fin = block([0.0; 3], [10.0; 3]);
    let fin = [[20.0, 0.0, 0.0], [30.0, 0.0, 0.0], [30.0, 0.0, 10.0]];
    with_fin.push(fin);
    with_fin.extend(inward(vec![fin]));
    let found = findings(&with_fin);
    assert_eq!((found.duplicate_faces, found.open_edges), (1, 0));
    assert_eq!(found.doubt, 0.0);
}

#[test]
fn a_mesh_inside_out_has_its_volume_below_zero_and_no_body() {
    let mut mesh = mesh(&inward(block([0.0; 3], [10.0; 3])));
    assert!((mesh.findings().volume + 1000.0).abs() < 1e-9);
    assert!(mesh.body().is_none());
    mesh.turn_inside_out();
    assert!((mesh.body().unwrap().volume - 1000.0).abs() < 1e-9);
}

#[test]
fn triangles_of_two_corners_are_only_counted() {
    let mut cube = block([0.0; 3], [10.0; 3]);
    cube.push([[1.0; 3], [1.0; 3], [2.0; 3]]);
    let found = findings(&cube);
    assert_eq!(
        (found.triangles, found.degenerate, found.open_edges),
        (12, 1, 0)
    );
}

#[test]
fn nothing_at_all_is_found_in_an_empty_mesh() {
    assert_eq!(findings(&[]), Findings::default());
    assert!(mesh(&[]).body().is_none());
    let flat = [[[0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]];
    assert!(mesh(&flat).body().is_none());
    assert_eq!(findings(&moved(flat.to_vec(), [5.0; 3])).open_edges, 3);
}
