"""Work off the interface thread: progress, cancel, latest asking wins."""

from __future__ import annotations

import threading

import pytest

from canvas.base.errors import BadData
from canvas.desk.jobs import Jobs


@pytest.fixture
def jobs(qapp):
    made = Jobs()
    yield made
    made.close()


def test_a_result_comes_back_on_the_interface_thread(jobs, qtbot):
    threads = []
    jobs.run("Count", lambda _p: threading.get_ident(), lambda got: threads.append(
        (got, threading.get_ident())
    ))  # fmt: skip
    qtbot.waitUntil(lambda: bool(threads), timeout=3000)
    assert threads[0][0] != threads[0][1] == threading.get_ident()


def test_progress_is_told_and_the_job_is_listed_while_it_runs(jobs, qtbot):
    go, done = threading.Event(), []

    def work(progress):
        progress(0.5, "half way")
        assert go.wait(3)
        return "ready"

    job = jobs.run("Long", work, done.append)
    qtbot.waitUntil(lambda: job.fraction == 0.5, timeout=3000)
    assert [j.note for j in jobs.active()] == ["half way"]
    go.set()
    qtbot.waitUntil(lambda: done == ["ready"], timeout=3000)
    assert jobs.active() == []
    assert not jobs.busy


def test_a_cancelled_job_stops_at_its_next_report_and_brings_nothing(jobs, qtbot):
    begun, got = threading.Event(), []
    stopped = threading.Event()

    def work(progress):
        begun.set()
        try:
            while True:
                progress(0.1)
        finally:
            stopped.set()

    job = jobs.run("Endless", work, got.append, got.append)
    assert begun.wait(3)
    job.cancel()
    assert stopped.wait(3)
    qtbot.waitUntil(lambda: not jobs.busy, timeout=3000)
    assert got == []


def test_trouble_goes_to_whoever_asked_or_to_everybody(jobs, qtbot):
    own, common = [], []
    jobs.failed.connect(common.append)

    def wrong(_progress):
        raise BadData("no good")

    jobs.run("Own", wrong, own.append, lambda err: own.append(err.what))
    jobs.run("Nobody's", wrong, own.append)
    qtbot.waitUntil(lambda: len(own) == 1 and len(common) == 1, timeout=3000)
    assert own == ["no good"]
    assert isinstance(common[0], BadData)


def test_the_latest_question_of_a_lane_wins(jobs, qtbot):
    lane, got, begun = jobs.lane("Questions"), [], threading.Event()

    def slow(progress):
        begun.set()
        while True:
            progress(0.0)

    lane.ask(slow, got.append)
    assert begun.wait(3)
    for number in range(5):
        lane.ask(lambda _p, n=number: n, got.append)
    qtbot.waitUntil(lambda: bool(got) and not jobs.busy, timeout=3000)
    assert got == [4]


def test_a_patient_lane_lets_the_answer_under_way_arrive(jobs, qtbot):
    lane, got = jobs.lane("Questions", patient=True), []
    go, begun = threading.Event(), threading.Event()

    def first(_progress):
        begun.set()
        assert go.wait(3)
        return 0

    lane.ask(first, got.append)
    assert begun.wait(3)
    for number in range(1, 5):
        lane.ask(lambda _p, n=number: n, got.append)
    go.set()
    qtbot.waitUntil(lambda: got[-1:] == [4], timeout=3000)
    assert got == [0, 4]


def test_nothing_runs_after_closing(qapp):
    jobs = Jobs()
    jobs.close()
    got = []
    job = jobs.run("Late", lambda _p: 1, got.append)
    assert job.cancelled
    assert not jobs.busy
    assert got == []
