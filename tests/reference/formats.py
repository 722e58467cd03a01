"""Our files read by trimesh and lib3mf, and theirs read by us: `python formats.py DIR PROGRAM`.

DIR/formats.json and the files beside it come from `cargo xtask test`; PROGRAM is ours. Every way an item takes from
one program to the other keeps its volume and its area within 1e-6.
"""

import json
import pathlib
import subprocess
import sys

import lib3mf
import numpy as np
import trimesh

from report import Report

TOLERANCE = 1e-6

# Endings and what trimesh's writers are asked for.
THEIRS = [
    ("stl", "stl", {}),
    ("ascii.stl", "stl_ascii", {}),
    ("obj", "obj", {}),
    ("ply", "ply", {"encoding": "binary"}),
    ("ascii.ply", "ply", {"encoding": "ascii"}),
    ("off", "off", {}),
]

report = Report()
folder, program = pathlib.Path(sys.argv[1]), sys.argv[2]


def near(name, found, case):
    """Volume and area of one file."""
    due = case["volume_mm3"], case["area_mm2"]
    off = max(abs(a / b - 1) for a, b in zip(found, due))
    report.check(name, off <= TOLERANCE, f"{found}, not {due}: {off} off")


def by_lib3mf(path):
    """The one object of a package, read in strict mode."""
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    objects = model.GetMeshObjects()
    objects.MoveNext()
    mesh = objects.GetCurrentMeshObject()
    points = np.array([list(v.Coordinates) for v in mesh.GetVertices()], float)
    faces = np.array([list(t.Indices) for t in mesh.GetTriangleIndices()], int)
    return model, trimesh.Trimesh(points, faces, process=False)


def written_by_lib3mf(model, path):
    """The same package as that library writes it."""
    model.QueryWriter("3mf").WriteToFile(str(path))


def inspected(path):
    """What our program says of a file."""
    ended = subprocess.run([program, "inspect", str(path), "--json"], capture_output=True, text=True, check=True)
    found = json.loads(ended.stdout)
    if found["units_guess"]["unit"] != "mm" or not found["closed"]:
        raise ValueError(f"taken as {found['units_guess']['unit']}, closed: {found['closed']}")
    return found["volume_mm3"], found["area_mm2"]


def judge(case):
    """One item, out and back."""
    name = case["name"]
    ours = trimesh.load(folder / f"{name}.stl", file_type="stl", process=True)
    report.check(f"{name}.stl is closed for trimesh", ours.is_watertight)
    near(f"{name}.stl by trimesh", (ours.volume, ours.area), case)
    ply = trimesh.load(folder / f"{name}.ply", file_type="ply", process=False)
    near(f"{name}.ply by trimesh", (ply.volume, ply.area), case)
    model, package = by_lib3mf(folder / f"{name}.3mf")
    near(f"{name}.3mf by lib3mf, strict", (package.volume, package.area), case)

    theirs = folder / "theirs"
    theirs.mkdir(exist_ok=True)
    written_by_lib3mf(model, theirs / f"{name}.3mf")
    near(f"{name}.3mf written by lib3mf", inspected(theirs / f"{name}.3mf"), case)
    for ending, file_type, how in THEIRS:
        path = theirs / f"{name}.{ending}"
        ply.export(path, file_type=file_type, **how)
        near(f"{name}.{ending} written by trimesh", inspected(path), case)


for record in json.loads((folder / "formats.json").read_text()):
    report.attempt(f"formats of {record['name']}", lambda _: judge(record))
report.close()
