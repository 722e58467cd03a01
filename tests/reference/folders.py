"""Plan folders judged by trimesh, lib3mf and manifold3d: `python folders.py DIR...`.

Of each folder: every STL closed for trimesh with the volume plan.json states; the volumes of an item's
pieces adding up to the item's; for small items also the union of the pieces (manifold3d), which is smaller than the
sum where two overlap; every 3MF read by lib3mf in strict mode without a warning, its names being piece ids,
its transforms without mirror, and mesh x transform equal to STL x pose within 0.001 mm (contract.md). A copy that
is a mirrored side must be the mirrored mesh. Lengths mm. Nothing is taken from the planning run but plan.json.
"""

import json
import pathlib
import sys

import lib3mf
import manifold3d
import numpy as np
import trimesh
from scipy.spatial import cKDTree

from report import Report

VOLUME_TOLERANCE = 1e-6  # contract.md: pieces sum to the item within 1e-6 of its volume
POSE_TOLERANCE_MM = 1e-3  # contract.md, audit
UNION_TRIANGLES = 60_000  # beyond this a union takes longer than a sample may
UNION_TOLERANCE = 1e-5  # the union rounds to its own precision on top of ours

report = Report()


def load(path):
    """An STL with equal points joined; corners stay exact."""
    return trimesh.load(path, file_type="stl", process=True)


def judge(folder):
    """All checks of one folder."""
    plan = json.loads((folder / "plan.json").read_text())
    meshes = {}
    for entry in plan["items"] + plan["pieces"] + plan.get("extras", []):
        report.attempt(f"{folder.name} {entry['file']} closed", lambda name: closed(name, folder, entry, meshes))
    for item in plan["items"]:
        report.attempt(f"{folder.name} {item['id']} whole", lambda name: whole(name, plan, item, meshes))
        if item.get("mirror_of"):
            report.attempt(f"{folder.name} {item['id']} mirrored", lambda name: mirrored(name, item, meshes))
    for load_ in plan["loads"]:
        report.attempt(f"{folder.name} {load_['id']} 3MF", lambda name: print_job(name, folder, plan, load_, meshes))


def closed(name, folder, entry, meshes):
    """Closed, consistently turned, of the volume stated."""
    mesh = load(folder / entry["file"])
    meshes[entry["id"]] = mesh
    stated = entry["volume_mm3"]
    problems = []
    if not mesh.is_watertight:
        problems.append("not watertight")
    if not mesh.is_winding_consistent:
        problems.append("winding not consistent")
    if "triangles" in entry and len(mesh.faces) != entry["triangles"]:
        problems.append(f"{len(mesh.faces)} triangles, plan.json says {entry['triangles']}")
    if not abs(mesh.volume - stated) <= VOLUME_TOLERANCE * abs(stated):
        problems.append(f"volume {mesh.volume!r}, plan.json says {stated!r}")
    report.check(name, not problems, "; ".join(problems))


def whole(name, plan, item, meshes):
    """The pieces make the item: sum of volumes, and their union where that is quick."""
    pieces = [piece for piece in plan["pieces"] if piece["item"] == item["id"]]
    volume = meshes[item["id"]].volume
    kept = sum(meshes[p["id"]].volume + p.get("removed_mm3", 0) - p.get("added_mm3", 0) for p in pieces)
    report.check(name, abs(kept - volume) <= VOLUME_TOLERANCE * volume, f"pieces {kept!r}, item {volume!r}")
    if sum(len(meshes[p["id"]].faces) for p in pieces) > UNION_TRIANGLES:
        return
    solids = [solid(meshes[p["id"]]) for p in pieces]
    bad = [str(s.status()) for s in solids if s.status() != manifold3d.Error.NoError]
    union = manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add).volume()
    total = sum(s.volume() for s in solids)
    # Bodies of one item may overlap each other in the model itself; then the union is smaller by right.
    alone = item.get("bodies", 1) == 1
    fits = abs(union - total) <= UNION_TOLERANCE * total if alone else union <= total * (1 + UNION_TOLERANCE)
    report.check(f"{name}, union of pieces", not bad and fits, f"{bad or ''} union {union!r}, sum {total!r}")


def solid(mesh):
    """A manifold3d solid of the same points."""
    return manifold3d.Manifold(
        manifold3d.Mesh64(np.asarray(mesh.vertices, np.float64), np.asarray(mesh.faces, np.uint64))
    )


def mirrored(name, item, meshes):
    """A mirrored side has the same volume and is the other one seen in a mirror across some axis plane."""
    one, other = meshes[item["mirror_of"]], meshes[item["id"]]
    equal = abs(one.volume - other.volume) <= VOLUME_TOLERANCE * one.volume
    best = np.inf
    for axis in range(3):
        flipped = one.vertices.copy()
        flipped[:, axis] *= -1
        flipped += other.bounds[0] - flipped.min(axis=0)
        best = min(best, farthest(flipped, other.vertices))
    report.check(name, equal and best <= POSE_TOLERANCE_MM, f"volumes equal: {equal}; farthest point {best} mm")


def farthest(a, b):
    """Largest distance from a point of one set to the other set, both ways."""
    return max(cKDTree(a).query(b)[0].max(), cKDTree(b).query(a)[0].max())


def faces_with_normals(points, faces, reach):
    """Triangles as rows: middle, and unit normal stretched to `reach`, so that a turned face is far away."""
    corners = points[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    real = length[:, 0] > 1e-4  # mm2; a sliver's normal means nothing
    return np.hstack([corners.mean(axis=1), reach * normal / np.maximum(length, 1e-300)])[real]


def print_job(name, folder, plan, load_, meshes):
    """One 3MF: strict, named by ids, and where plan.json says."""
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(folder / load_["file"]))
    warnings = [reader.GetWarning(i) for i in range(reader.GetWarningCount())]
    report.check(f"{name} strict", not warnings, f"{len(warnings)} warnings, first {warnings[:1]}")
    placed = {}
    items = model.GetBuildItems()
    while items.MoveNext():
        build = items.GetCurrent()
        thing = build.GetObjectResource()
        mesh = model.GetMeshObjectByID(thing.GetResourceID())
        fields = np.array([list(row) for row in build.GetObjectTransform().Fields])  # 4 rows of 3: p R + t
        points = np.array([list(v.Coordinates) for v in mesh.GetVertices()], float)
        faces = np.array([list(t.Indices) for t in mesh.GetTriangleIndices()], int)
        placed.setdefault(thing.GetName(), []).append((build.GetPartNumber(), fields, points, faces))
    wanted = {p["id"]: p["pose"] for p in plan["pieces"] if p["load"] == load_["id"]}
    wanted |= {e["id"]: e["pose"] for e in plan.get("extras", []) if e["load"] == load_["id"]}
    report.check(f"{name} ids", sorted(placed) == sorted(wanted), f"{sorted(placed)} in the file, {sorted(wanted)} in the plan")
    problems = []
    for id_, copies in placed.items():
        number, fields, points, faces = copies[0]
        pose = np.array(wanted[id_]).reshape(3, 4)
        problems += [f"{id_}: {p}" for p in misplaced(number, id_, len(copies), fields, points, faces, pose, meshes[id_])]
    report.check(f"{name} mesh x transform = STL x pose", not problems, "; ".join(problems[:3]))


def misplaced(number, id_, n_copies, fields, points, faces, pose, mesh):
    """What is wrong with one object of a print job."""
    if n_copies != 1:
        yield f"built {n_copies} times"
    if number != id_:
        yield f"part number {number!r}"
    for what, turn in (("transform", fields[:3]), ("pose", pose[:, :3])):
        if abs(np.linalg.det(turn) - 1) > 1e-5:
            yield f"{what} has determinant {np.linalg.det(turn)}"
    in_file = points @ fields[:3] + fields[3]
    in_plan = mesh.vertices @ pose[:, :3].T + pose[:, 3]
    if len(faces) != len(mesh.faces):
        yield f"{len(faces)} triangles, the STL has {len(mesh.faces)}"
    gap = farthest(in_file, in_plan)
    if gap > POSE_TOLERANCE_MM:
        yield f"a point is {gap} mm off"
    # Faces too: points alone would not notice a mesh turned inside out.
    turned = farthest(faces_with_normals(in_file, faces, 10.0), faces_with_normals(in_plan, mesh.faces, 10.0))
    if turned > 0.5:  # a turned face is 20 away; 0.5 leaves room for normals of thin triangles
        yield "a triangle faces another way"


for argument in sys.argv[1:]:
    report.attempt(pathlib.Path(argument).name, lambda _: judge(pathlib.Path(argument)))
if len(sys.argv) < 2:
    report.check("folders", False, "no folder given")
report.close()
