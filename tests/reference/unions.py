"""Our unions beside manifold3d's: `python unions.py DIR` with DIR/unions.json from `cargo xtask test`.

Each case is a mesh of several closed bodies and the same united by us. Both unions must have the same
volume and fall apart into the same number of parts. Bodies that touch were let grow by us by at most
0.0025 mm (nine grid steps), which is a volume of that times the area.
"""

import json
import pathlib
import sys

import manifold3d
import numpy as np
import trimesh

from report import Report

GROWN_MM = 0.0025

report = Report()


def manifold(mesh):
    """A mesh as the other kernel takes it."""
    return manifold3d.Manifold(
        manifold3d.Mesh(np.asarray(mesh.vertices, np.float32), np.asarray(mesh.faces, np.uint32))
    )


def judge(folder, case):
    """One mesh of bodies."""
    name = f"union {case['name']}"
    load = lambda which: trimesh.load(folder / f"{case['name']}-{which}.stl", file_type="stl", process=True)
    bodies, ours = load("bodies"), load("united")
    report.check(f"{name} is closed", ours.is_watertight and ours.is_winding_consistent)
    theirs = manifold3d.Manifold.batch_boolean(
        [manifold(body) for body in bodies.split(only_watertight=False)], manifold3d.OpType.Add
    )
    off_mm3 = abs(ours.volume - theirs.volume())
    within_mm3 = GROWN_MM * case["area_mm2"] + 1e-6 * theirs.volume()
    print(f"   {name}: {ours.volume:.2f} mm3, {theirs.volume():.2f} by manifold3d")
    report.check(f"{name} volume as manifold3d", off_mm3 < within_mm3, f"{off_mm3} mm3 off")
    n_ours, n_theirs = len(ours.split(only_watertight=False)), len(theirs.decompose())
    report.check(f"{name} parts as manifold3d", n_ours == n_theirs, f"{n_ours}, not {n_theirs}")


folder = pathlib.Path(sys.argv[1])
for case in json.loads((folder / "unions.json").read_text()):
    report.attempt(f"union {case['name']}", lambda _: judge(folder, case))
report.close()
