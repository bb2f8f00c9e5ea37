"""Side by side: in order, several at once, errors handed on, nothing goes on after the end."""

from __future__ import annotations

import threading

import pytest

from rounds.records.carrying import side_by_side


@pytest.mark.parametrize("at_once", [1, 2, 16])
def test_results_come_in_the_order_given_and_errors_among_them(at_once):
    def do(n: int) -> int:
        if n == 3:
            raise OSError("three")
        return n * n

    found = list(side_by_side(at_once, range(50), do))
    assert [item for item, _ in found] == list(range(50))
    assert [result for item, result in found if item != 3] == [n * n for n in range(50) if n != 3]
    assert isinstance(found[3][1], OSError)


def test_several_are_under_way_at_once():
    meet = threading.Barrier(4, timeout=10)
    found = [place for _, place in side_by_side(4, range(4), lambda n: meet.wait())]
    assert sorted(found) == [0, 1, 2, 3]


def test_left_early_nothing_begins_any_more_and_nothing_goes_on():
    begun = []
    lock = threading.Lock()

    def do(n: int) -> None:
        with lock:
            begun.append(n)

    some = side_by_side(2, range(1000), do)
    next(some)
    some.close()
    assert len(begun) <= 4
    assert not [one for one in threading.enumerate() if one.name == "carrier"]


def test_no_thread_is_one_the_end_of_the_program_waits_for():
    kinds = list(side_by_side(3, range(3), lambda n: threading.current_thread().daemon))
    assert [kind for _, kind in kinds] == [True] * 3
