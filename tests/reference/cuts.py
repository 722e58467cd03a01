"""Our cut beside trimesh and manifold3d: `python cuts.py DIR` with DIR/cuts.json from `cargo xtask test`.

Each case names the whole, both sides as we cut them, and the plane `normal . p = offset_mm`; above is where
the dot product is larger. Volumes must agree to 1e-6 of the whole. trimesh is asked on planes in general position only:
it leaves edges open where a plane runs through vertices (seen in a study of degenerate planes).
"""

import json
import pathlib
import sys

import manifold3d
import numpy as np
import trimesh
from trimesh.intersections import slice_mesh_plane

from report import Report

TOLERANCE = 1e-6

report = Report()


def load(path):
    """An STL with equal points joined."""
    return trimesh.load(path, file_type="stl", process=True)


def compare(name, ours, theirs, whole):
    """Two volumes beside each other."""
    report.check(name, abs(ours - theirs) <= TOLERANCE * whole, f"ours {ours!r}, theirs {theirs!r} mm3")


def judge(folder, case):
    """One cut."""
    whole, above, below = (load(folder / case[side]) for side in ("whole", "above", "below"))
    normal, offset = np.array(case["normal"], float), case["offset_mm"]
    label = case["name"]
    both = above.is_watertight and below.is_watertight
    report.check(f"cut {label}: both sides closed for trimesh", both, f"{above.is_watertight}, {below.is_watertight}")
    compare(f"cut {label}: sides add up", above.volume + below.volume, whole.volume, whole.volume)
    mesh = manifold3d.Mesh64(np.asarray(whole.vertices, np.float64), np.asarray(whole.faces, np.uint64))
    theirs = manifold3d.Manifold(mesh).split_by_plane(normal, offset)
    compare(f"cut {label}: above as manifold3d", above.volume, theirs[0].volume(), whole.volume)
    compare(f"cut {label}: below as manifold3d", below.volume, theirs[1].volume(), whole.volume)
    if case["general_position"]:
        sliced = slice_mesh_plane(whole, normal, normal * offset, cap=True, engine="earcut")
        compare(f"cut {label}: above as trimesh", above.volume, sliced.volume, whole.volume)


folder = pathlib.Path(sys.argv[1])
for case in json.loads((folder / "cuts.json").read_text()):
    report.attempt(f"cut {case['name']}", lambda _: judge(folder, case))
report.close()
