"""Requests to stop are held back while something is written, and heeded where that does no harm."""

import os
import signal
import threading

import pytest

from converter_match.library.interrupts import holding_stops

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals are sent otherwise there")


@pytest.fixture(autouse=True)
def ctrl_c():
    """Have ctrl-C handled as usual; where tests run in the background, it is ignored."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def ask(number=signal.SIGTERM):
    os.kill(os.getpid(), number)


def stopped(write):
    """Run what is written, to its KeyboardInterrupt."""
    with pytest.raises(KeyboardInterrupt):
        write()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_request_is_noted_and_heeded_at_the_end(number):
    done, before = [], signal.getsignal(number)

    def write():
        with holding_stops():
            ask(number)
            done.append("written")

    stopped(write)
    assert done == ["written"]
    assert signal.getsignal(number) is before


def test_a_request_interrupts_the_stretch_that_heeds_it():
    done = []

    def write():
        with holding_stops() as stops, stops.heeded():
            ask()
            done.append("never")

    stopped(write)
    assert done == []


def test_a_request_from_before_is_heeded_where_the_stretch_begins():
    done = []

    def write():
        with holding_stops() as stops:
            ask()
            done.append("held")
            with stops.heeded():
                done.append("never")

    stopped(write)
    assert done == ["held"]


def test_what_is_cleared_away_meanwhile_gets_done():
    done = []

    def write():
        with holding_stops() as stops, stops.heeded():
            try:
                ask()
            finally:
                ask()  # a second ctrl-C, out of impatience
                done.append("cleared")

    stopped(write)
    assert done == ["cleared"]


def test_a_request_that_something_swallowed_is_heeded_at_the_end_of_the_stretch():
    done = []

    def write():
        with holding_stops() as stops:
            with stops.heeded():
                try:
                    ask()
                except KeyboardInterrupt:
                    done.append("swallowed")
            done.append("never")

    stopped(write)
    assert done == ["swallowed"]


def test_without_a_request_nothing_happens_and_handlers_are_as_before():
    before = [signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)]
    with holding_stops() as stops:
        assert signal.getsignal(signal.SIGTERM) == stops.note
        assert signal.getsignal(signal.SIGINT) == stops.note
        with stops.heeded():
            pass
    assert [signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)] == before


def test_ctrl_c_that_somebody_else_handles_stays_theirs():
    before = signal.getsignal(signal.SIGINT)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with holding_stops() as stops:
            assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
            assert signal.getsignal(signal.SIGTERM) == stops.note
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


def test_outside_the_main_thread_things_stay_as_they_are():
    seen = []

    def write():
        with holding_stops():
            seen.append(signal.getsignal(signal.SIGTERM))

    before = signal.getsignal(signal.SIGTERM)
    thread = threading.Thread(target=write)
    thread.start()
    thread.join()
    assert seen == [before]
