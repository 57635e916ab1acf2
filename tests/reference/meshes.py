"""Holds Beamyard's measures of meshes against other programs' libraries.

    python tests/reference/meshes.py MEASURE_MESH

MEASURE_MESH is the built example `measure_mesh`. Needs numpy, numpy-stl, trimesh, shapely, lib3mf and networkx from
PyPI (`requirements.txt` beside this file). Makes files of its own in a temporary folder (STL by numpy-stl, 3MF by lib3mf),
takes the repository's demo meshes too, and compares volume, area, box, centre of mass (trimesh, numpy-stl), and the
shadows (the union of all projected triangles by shapely): never smaller, and at most the simplification larger.
"""

import json
import pathlib
import subprocess
import sys
import tempfile

import lib3mf
import numpy
import shapely
import stl
import trimesh

SIMPLIFICATION = 0.05  # mm, as the guide says
ROOT = pathlib.Path(__file__).resolve().parents[2]


def bodies():
    """Name and triangles (n × 3 × 3, mm) of bodies that are awkward in one way each."""
    made = {
        "sphere": trimesh.creation.icosphere(subdivisions=4, radius=37.3),
        "torus": trimesh.creation.torus(40, 9.7),
        "tube": trimesh.creation.annulus(r_min=11, r_max=17.3, height=61),
        "capsule": trimesh.creation.capsule(height=33, radius=7.1),
        "cone": trimesh.creation.cone(radius=21, height=44),
    }
    tilted = made["torus"].copy()
    tilted.apply_transform(trimesh.transformations.euler_matrix(0.3, -0.7, 1.1))
    made["tilted torus"] = tilted
    far = made["tube"].copy()
    far.apply_translation([1000, -2000, 500])
    made["far tube"] = far
    hollow = trimesh.util.concatenate(
        [trimesh.creation.box([40, 40, 40]), trimesh.creation.box([30, 30, 30])]
    )
    triangles = hollow.triangles.copy()
    triangles[12:] = triangles[12:, ::-1]  # the inner box faces inward
    for name, mesh in made.items():
        yield name, mesh.triangles
    yield "hollow", triangles


def write_stl(path, triangles, mode):
    data = numpy.zeros(len(triangles), dtype=stl.mesh.Mesh.dtype)
    data["vectors"] = triangles
    stl.mesh.Mesh(data).save(str(path), mode=mode)


def write_3mf(path, triangles):
    """By lib3mf, in inches, with a transform that moves and mirrors."""
    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    model.SetUnit(lib3mf.ModelUnit.Inch)
    mesh = model.AddMeshObject()
    corners, index = numpy.unique((triangles / 25.4).reshape(-1, 3), axis=0, return_inverse=True)
    for corner in corners:
        position = lib3mf.Position()
        position.Coordinates[:] = corner
        mesh.AddVertex(position)
    for a, b, c in index.reshape(-1, 3):
        triangle = lib3mf.Triangle()
        triangle.Indices[:] = (int(a), int(b), int(c))
        mesh.AddTriangle(triangle)
    transform = wrapper.GetIdentityTransform()
    transform.Fields[0][0] = -1.0
    transform.Fields[3][1] = 2.0
    model.AddBuildItem(mesh, transform)
    model.QueryWriter("3mf").WriteToFile(str(path))
    # lib3mf keeps corners in single precision, in inches: 0.0001 mm at two metres.
    kept = corners.astype(numpy.float32).astype(float)[index].reshape(-1, 3, 3) * 25.4
    mirrored = kept * [-1, 1, 1] + [0, 2 * 25.4, 0]
    return mirrored[:, ::-1]


def shadow(triangles, axis):
    """The union of all triangles seen along an axis, in the bed's axes, about the middle of the box."""
    middle = (triangles.reshape(-1, 3).min(axis=0) + triangles.reshape(-1, 3).max(axis=0)) / 2
    points = triangles - middle
    flat = {
        0: points[..., [1, 2]],
        1: points[..., [0, 2]] * [1, -1],
        2: points[..., [0, 1]],
    }[axis]
    polygons = [shapely.Polygon(triangle) for triangle in flat]
    # On a grid: without one, slivers keep shapely from finding its own crossings.
    region = shapely.union_all([p for p in polygons if p.area > 1e-9], grid_size=1e-6)
    if region.geom_type != "Polygon":
        parts = [part for part in region.geoms if part.area > 1e-3]
        region = parts[0] if len(parts) == 1 else region.convex_hull
    return shapely.Polygon(region.exterior)


def near(what, found, wanted, relative):
    found, wanted = numpy.asarray(found, float), numpy.asarray(wanted, float)
    allowed = relative * numpy.maximum(1.0, numpy.abs(wanted))
    assert (numpy.abs(found - wanted) <= allowed).all(), f"{what}: {found}, elsewhere {wanted}"


def compare(name, found, triangles, relative):
    assert "error" not in found, f"{name}: {found}"
    mesh = trimesh.Trimesh(**trimesh.triangles.to_kwargs(triangles), process=True)
    near(f"{name}: volume", found["volume"], mesh.volume, relative)
    near(f"{name}: area", found["area"], mesh.area, relative)
    near(f"{name}: box", found["size"], mesh.extents, relative)
    near(f"{name}: centre", found["centre"], mesh.center_mass, 10 * relative)
    data = numpy.zeros(len(triangles), dtype=stl.mesh.Mesh.dtype)
    data["vectors"] = triangles
    volume, centre, _ = stl.mesh.Mesh(data).get_mass_properties()
    # numpy-stl counts in single precision, from the origin.
    far = numpy.abs(triangles).max() / max(mesh.extents)
    near(f"{name}: volume by numpy-stl", found["volume"], volume, 1e-4 * far**3)
    for axis in range(3):
        mine = shapely.Polygon(found["outlines"][axis])
        assert mine.is_valid, f"{name}, axis {axis}: the outline crosses itself"
        theirs = shadow(triangles, axis)
        missing = theirs.difference(mine.buffer(1e-4)).area
        assert missing < 1e-3, f"{name}, axis {axis}: {missing} mm² of the shadow are missing"
        beyond = mine.difference(theirs.buffer(SIMPLIFICATION + 1e-4)).area
        assert beyond < 1e-3, f"{name}, axis {axis}: {beyond} mm² too much"


def main():
    program = sys.argv[1]
    compared = 0

    def measured(path):
        result = subprocess.run([program, str(path)], capture_output=True, text=True, timeout=60)
        return json.loads(result.stdout)

    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        for name, triangles in bodies():
            path = folder / "body.stl"
            for mode in (stl.Mode.BINARY, stl.Mode.ASCII):
                write_stl(path, triangles, mode)
                single = triangles.astype(numpy.float32).astype(float)
                compare(f"{name}, {mode.name} STL", measured(path), single, 2e-4)
                compared += 1
            path = folder / "body.3mf"
            moved = write_3mf(path, triangles)
            compare(f"{name}, 3MF", measured(path), moved, 2e-4)
            compared += 1
    for path in sorted((ROOT / "demo-data" / "meshes").iterdir()):
        if path.suffix == ".stl":
            triangles = stl.mesh.Mesh.from_file(str(path)).vectors.astype(float)
        else:
            wrapper = lib3mf.get_wrapper()
            model = wrapper.CreateModel()
            model.QueryReader("3mf").ReadFromFile(str(path))
            model.GetUnit()
            items = model.GetMeshObjects()
            assert items.MoveNext()
            mesh = items.GetCurrentMeshObject()
            corners = numpy.array([p.Coordinates[:] for p in mesh.GetVertices()]) * 10  # centimetres
            index = numpy.array([t.Indices[:] for t in mesh.GetTriangleIndices()])
            triangles = corners[index]
        compare(path.name, measured(path), triangles, 1e-5)
        compared += 1
    print(f"{compared} meshes measure the same elsewhere")


main()
