"""Our bend of surfaces beside libigl's: `python bends.py DIR` with DIR/bends.json from `cargo xtask test`.

Each case names a mesh and some of our samples: place, outward normal, and at two scales the principal
curvatures (1/mm, positive where convex) and the direction of the first. libigl fits a quadric to the
vertices within a radius of each vertex; we fit the change of the normal over the surface, weighted so that
the mean distance is half the radius asked of libigl. So both see about the same surface, and must agree
where it is smooth at that radius; on items with edges and relief they can only be alike.
"""

import json
import pathlib
import sys

import igl
import numpy as np
import trimesh

from report import Report

report = Report()


def theirs(mesh, radius_mm):
    """Tensor of the surface at each vertex, positive where convex."""
    vertices, faces = np.asarray(mesh.vertices, np.float64), np.asarray(mesh.faces, np.int64)
    edges = mesh.vertices[mesh.edges_unique]
    edge_mm = np.linalg.norm(edges[:, 0] - edges[:, 1], axis=1).mean()
    rings = max(2, round(radius_mm / edge_mm))
    first, second, high, low, _ = igl.principal_curvature(vertices, faces, rings, False)
    return tensors(first, high) + tensors(second, low)


def tensors(direction, value):
    """value * direction direction^T."""
    return value[:, None, None] * direction[:, :, None] * direction[:, None, :]


def judge(folder, case):
    """One mesh at each scale."""
    mesh = trimesh.load(folder / case["mesh"], file_type="stl", process=True)
    place = np.array(case["places_mm"])
    nearest, away_mm, face = trimesh.proximity.closest_point(mesh, place)
    shares = trimesh.triangles.points_to_barycentric(mesh.triangles[face], nearest)
    for scale in case["scales"]:
        name = f"bend {case['name']} at {scale['radius_mm']} mm as libigl"
        normal, along, per_mm = (np.array(scale[key]) for key in ("normals", "along", "per_mm"))
        # Beside a sharp edge the nearest face may be another.
        same = (np.sum(mesh.face_normals[face] * normal, axis=1) > 0.9) & (away_mm < case["near_mm"])
        ours = tensors(along, per_mm[:, 0]) + tensors(np.cross(normal, along), per_mm[:, 1])
        libs = np.einsum("pk,pkij->pij", shares, theirs(mesh, scale["radius_mm"])[mesh.faces[face]])
        a, b = ours[same].reshape(-1, 9), libs[same].reshape(-1, 9)
        apart = np.linalg.norm(a - b, axis=1)
        share = np.median(apart) / np.median(np.linalg.norm(b, axis=1))
        alike = np.sum(a * b) / np.sqrt(np.sum(a * a) * np.sum(b * b))
        print(f"   {name}: {same.sum()} of {len(place)} places, median {share:.4f} apart, alike {alike:.4f}")
        report.check(name, share < case["apart"] and alike > case["alike"], f"{share} apart, alike {alike}")


folder = pathlib.Path(sys.argv[1])
for case in json.loads((folder / "bends.json").read_text()):
    report.attempt(f"bend {case['name']}", lambda _: judge(folder, case))
report.close()
