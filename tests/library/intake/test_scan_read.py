"""Tables read off pictures by the package itself, spoilt as scans are; skipped where it is absent.

It is no part of the extra ``test``: 290 MB, and none of it for Python 3.13.
"""

import socket

import pytest

from tests.scanned_tables import HARD, measured

pytest.importorskip("rapidocr_onnxruntime", reason='needs the extra "ocr"')


@pytest.mark.slow
@pytest.mark.parametrize("how", [HARD[0], HARD[4]], ids=["clean", "small, noisy, turned"])
def test_a_printed_table_is_read_without_the_network_and_nothing_of_it_unasked(
    tmp_path, monkeypatch, how
):
    def refused(*_, **__):
        raise OSError("no network here")

    monkeypatch.setattr(socket.socket, "connect", refused)
    rates = measured(1, 5, tmp_path, (how,))
    assert rates.taken_unasked == 0
    assert rates.wrong <= 0.03 * rates.cells, rates.errors
    assert rates.unasked == 0, rates.errors
