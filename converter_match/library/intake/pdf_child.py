"""Draws one page of a PDF in a process of its own, whose memory is bounded: run as a file.

A page of a kilobyte can ask for gigabytes, and nothing in it tells beforehand. Standard input: the
PDF; arguments: page from 1, scale, most pixels, most bytes, most seconds. Standard output: one
line of JSON with ``width``, ``height`` and ``stride``, then rows of red, green, blue; or with
``refused`` and what it is about. It imports nothing of the package, so that it starts at once.
"""

from __future__ import annotations

import json
import sys
from typing import Any


def main() -> int:
    """Draw the page, or say why not."""
    page, scale = int(sys.argv[1]), float(sys.argv[2])
    pixels, memory, seconds = (int(each) for each in sys.argv[3:6])
    try:
        import resource
    except ImportError:  # a system without such bounds
        pass
    else:
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    raw = sys.stdin.buffer.read()
    try:
        import pypdfium2

        document = pypdfium2.PdfDocument(raw)
    except Exception as damage:
        return _say({"refused": "damaged", "what": str(damage)[:120]})
    count = len(document)
    if not 1 <= page <= count:
        return _say({"refused": "page", "count": count})
    sheet = document[page - 1]
    width, height = sheet.get_size()
    if width * scale * height * scale > pixels:
        return _say({"refused": "size", "width": width * scale, "height": height * scale})
    try:
        bitmap: Any = sheet.render(
            scale=scale, fill_color=(255, 255, 255, 255), rev_byteorder=True,
            force_bitmap_format=pypdfium2.raw.FPDFBitmap_BGR,
        )  # fmt: skip
    except Exception:  # memory that is refused comes out as any of several kinds
        return _say({"refused": "memory"})
    _say({"width": bitmap.width, "height": bitmap.height, "stride": bitmap.stride})
    sys.stdout.buffer.write(memoryview(bitmap.buffer))
    return 0


def _say(what: dict[str, Any]) -> int:
    sys.stdout.buffer.write(json.dumps(what).encode("utf-8") + b"\n")
    sys.stdout.buffer.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
