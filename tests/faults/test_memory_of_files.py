"""Pictures, pages and workbooks that ask for gigabytes, or are damaged at random: 500 MB at most.

Read in a process of its own, whose greatest memory the system tells (VmHWM, else getrusage).
"""

import json
import os
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("resource", reason="the system tells of no greatest memory")
MOST = 500  # MB

READ = """
import json, resource, sys
from converter_match.errors import InputError
from converter_match.library.intake.image_file import read_image
from converter_match.library.intake.reading import intake

told = {}
for path in sys.argv[1:]:
    try:
        if path.endswith(".xlsx"):
            intake(path)
        else:
            told[path] = list(read_image(path).shape)
    except InputError as error:
        told[path] = str(error)
try:  # Linux hands the ru_maxrss of whoever starts a process on to it: that is no memory of ours
    lines = open("/proc/self/status", encoding="ascii").read().splitlines()
    own = next(int(line.split()[1]) for line in lines if line.startswith("VmHWM:"))
except OSError:
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
page = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
scale = 1 if sys.platform == "darwin" else 1024
print(json.dumps([told, own * scale / 1e6, page * scale / 1e6]))
"""


def read(paths):
    """Return what each file comes to, and the greatest memory of the reader and of a page [MB]."""
    root = str(Path(__file__).resolve().parents[2])
    done = subprocess.run(
        [sys.executable, "-c", READ, *map(str, paths)], capture_output=True, timeout=600,
        env=os.environ | {"PYTHONPATH": root, "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()[-2000:]
    told, own, page = json.loads(done.stdout)
    return {Path(path).name: result for path, result in told.items()}, own, page


def png(width, height, rows):
    """Return a PNG of greys (ISO/IEC 15948, 5.3 and 11.2) with rows of nothing."""

    def chunk(kind, data):
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    packer = zlib.compressobj(9)
    data = b"".join(packer.compress(bytes(1 + 4 * width)) for _ in range(rows)) + packer.flush()
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def pdf(width, height, more=b"", media=(300, 200)):
    """Return a PDF with one picture that says it has so many pixels (ISO 32000-1, 8.9.5)."""
    data = zlib.compress(bytes(2_000_000), 9)
    data = zlib.compress(data, 9)
    drawn = b"q %d 0 0 %d 0 0 cm /I Do Q" % media
    stream = b"<< %b /Length %d >>\nstream\n%b\nendstream"
    picture = (
        b"/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceRGB "
        b"/BitsPerComponent 8 /Filter [/FlateDecode /FlateDecode] %b" % (width, height, more)
    )
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 %d %d] /Contents 4 0 R "
        b"/Resources << /XObject << /I 5 0 R >> >> >>" % media,
        stream % (b"", len(drawn), drawn),
        stream % (picture, len(data), data),
    ]
    body = b"%PDF-1.4\n"
    for number, each in enumerate(objects, start=1):
        body += b"%d 0 obj\n%b\nendobj\n" % (number, each)
    return body + b"trailer << /Size 6 /Root 1 0 R >>\n%%EOF"


@pytest.mark.slow
def test_files_that_ask_for_gigabytes_take_less_than_half_of_one(tmp_path):
    pytest.importorskip("pypdfium2")
    files = {
        "ask.png": png(20_000, 20_000, 1),
        "large.png": png(6300, 6300, 6300),  # as large as is taken
        "ask.pdf": pdf(60_000, 30_000),
        "page.pdf": pdf(300, 200, media=(14_000, 14_000)),
        "broad.pdf": pdf(300, 200, media=(2270, 2270)),  # a page as large as is taken
    }
    paths = []
    for name, raw in files.items():
        path = tmp_path / name
        path.write_bytes(raw)
        paths.append(path)
    assert max(len(raw) for raw in files.values()) < 300_000
    told, own, page = read(paths)
    assert own < MOST
    assert page < MOST
    assert "too many pixels" in told["ask.png"]
    assert told["large.png"] == [6300, 6300, 3]
    assert "too many pixels" in told["page.pdf"]
    assert told["broad.pdf"][2] == 3


@pytest.mark.slow
def test_files_damaged_at_random_are_read_or_refused_within_the_same_memory(tmp_path):
    pytest.importorskip("pypdfium2")
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in [("speed ratio", "torque ratio", "K [rpm/sqrt(Nm)]"), (0, 2.2, 62), (0.5, 1.5, 63),
                (0.86, 1, 67), (0.95, 1, 95)]:  # fmt: skip
        book.active.append(row)
    book.save(tmp_path / "whole.xlsx")
    whole = {
        "xlsx": (tmp_path / "whole.xlsx").read_bytes(),
        "png": png(300, 200, 200),
        "pdf": pdf(300, 200),
    }
    rng = np.random.default_rng(3)
    paths = []
    for ending, many in (("xlsx", 24), ("png", 24), ("pdf", 4)):
        for number in range(many):
            raw = bytearray(whole[ending])
            for _ in range(int(rng.integers(1, 6))):
                raw[int(rng.integers(8, len(raw)))] = int(rng.integers(256))
            if number % 4 == 0:
                del raw[int(rng.integers(8, len(raw))) :]
            path = tmp_path / f"{number}.{ending}"
            path.write_bytes(raw)
            paths.append(path)
    _, own, page = read(paths)  # anything but an InputError ends it
    assert own < MOST
    assert page < MOST
