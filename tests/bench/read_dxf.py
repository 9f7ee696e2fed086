"""Reading a DXF of a hundred thousand entities, in lines and in blocks.

``python -m tests.bench.read_dxf [ENTITIES]``. Prints figures, asserts nothing; the floors are
invented and made here. Each reading is a process of its own, so that the memory is its own too.
"""

from __future__ import annotations

import io
import multiprocessing
import resource
import sys
import time
from collections import Counter
from collections.abc import Callable
from typing import Any

ROOM = 4.0


def plain(entities: int) -> bytes:
    """Draw rooms side by side: of ten entities six lines, two polylines, an arc and a name."""
    document, space = new_document()
    for number in range(entities // 10):
        x, y = ROOM * (number % 200), ROOM * (number // 200)
        on = {"layer": "A-WALL"}
        for start, end in (((0, 0), (4, 0)), ((0, 0), (0, 1)), ((0, 1.9), (0, 4))):
            for off in (0.0, 0.1):
                space.add_line((x + start[0], y + start[1] + off),
                               (x + end[0], y + end[1] + off), dxfattribs=on)  # fmt: skip
        for off in (0.0, 0.15):
            space.add_lwpolyline(
                [(x + off, y + off), (x + 1, y + off), (x + 1, y + 0.2)], dxfattribs=on
            )
        space.add_arc((x, y + 1), 0.9, 0, 90, dxfattribs={"layer": "A-DOOR"})
        place = {"layer": "A-AREA-IDEN", "insert": (x + 2, y + 2)}
        space.add_text(f"Room {number}", dxfattribs=place)
    return as_bytes(document)


def blocks(entities: int) -> bytes:
    """Insert one block of ten entities, a room with its door, turned and mirrored by turns."""
    document, space = new_document()
    block = document.blocks.new("ROOM")
    for off in (0.0, 0.1, 0.2, 0.3):
        block.add_line((0, off), (4, off), dxfattribs={"layer": "A-WALL"})
        block.add_line((off / 3, 0), (off / 3, 1), dxfattribs={"layer": "A-WALL"})
    block.add_arc((0, 1), 0.9, 0, 90, dxfattribs={"layer": "A-DOOR"})
    block.add_line((0, 1), (0.9, 1), dxfattribs={"layer": "A-DOOR"})
    for number in range(entities // 10):
        x, y = ROOM * (number % 200), ROOM * (number // 200)
        turned = {"rotation": 90 * (number % 4), "xscale": -1 if number % 3 else 1}
        space.add_blockref("ROOM", (x, y), dxfattribs=turned)
    return as_bytes(document)


def new_document() -> tuple[Any, Any]:
    """Return an empty drawing in metres and its model space."""
    import ezdxf

    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 6
    return document, document.modelspace()


def as_bytes(document: Any) -> bytes:
    """Return a drawing as a text DXF."""
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def read(data: bytes, answer: Any) -> None:
    """Read once; send the time (s), processor time (s), largest memory (MiB) and the parts."""
    from hgmap.site.importers.dxf import draw_dxf

    start, work = time.perf_counter(), time.process_time()
    (drawing,) = draw_dxf(data, file="bench.dxf")
    took, worked = time.perf_counter() - start, time.process_time() - work
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    answer.put((took, worked, memory, dict(Counter(part.role for part in drawing.parts))))


def main() -> None:
    """Print a line for each kind of drawing."""
    entities = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    context = multiprocessing.get_context("spawn")
    kinds: tuple[Callable[[int], bytes], ...] = (plain, blocks)
    for make in kinds:
        data = make(entities)
        answer: Any = context.Queue()
        process = context.Process(target=read, args=(data, answer))
        process.start()
        took, worked, memory, parts = answer.get()
        process.join()
        print(
            f"{make.__name__}: {entities} entities, {len(data) / 2**20:.1f} MiB: {took:.1f} s "
            f"({worked:.1f} s of a processor), {memory:.0f} MiB, {parts}"
        )


if __name__ == "__main__":
    main()
