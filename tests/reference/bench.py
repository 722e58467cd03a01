"""Times manifold3d on one plane cut: `python bench.py FILE.stl NX NY NZ OFFSET`. Median of 5, CPU beside wall.

Construction is timed apart from the cut, because it also checks the mesh and builds its neighbours.
"""

import statistics
import sys
import time

import manifold3d
import numpy as np
import trimesh

mesh = trimesh.load(sys.argv[1], file_type="stl", process=True)
normal, offset = [float(x) for x in sys.argv[2:5]], float(sys.argv[5])
points, faces = np.asarray(mesh.vertices, np.float64), np.asarray(mesh.faces, np.uint64)


def timed(work):
    """Medians in ms: wall, CPU."""
    walls, cpus = [], []
    for _ in range(5):
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        walls.append(1e3 * (time.perf_counter() - wall))
        cpus.append(1e3 * (time.process_time() - cpu))
    return statistics.median(walls), statistics.median(cpus)


def made():
    """A solid ready to cut; asking for its volume makes it compute."""
    solid = manifold3d.Manifold(manifold3d.Mesh64(points, faces))
    solid.volume()
    return solid


def cut(solid):
    """Both sides as meshes."""
    for side in solid.split_by_plane(normal, offset):
        side.to_mesh64()


ready = made()
for name, work in (("manifold3d: construction", made), ("manifold3d: cut, both meshes", lambda: cut(ready))):
    wall, cpu = timed(work)
    print(f"  {name:<32} {wall:10.2f} {cpu:10.2f} {'':>9} {len(faces) / cpu / 1e3:9.1f}")
