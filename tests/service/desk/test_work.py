"""Long work: progress, stopping, limits of time and number, what a failure says, and that others go on meanwhile."""

import asyncio
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from api.jobs import JobBoard
from api.problems import Refusal
from api.settings import Settings

ON_REQUEST = Refusal(409, "service.stopped", "stopped on request")


@pytest.fixture
def tasks(monkeypatch):
    """The tasks of ``long_tasks.py``, which worker processes find too."""
    monkeypatch.syspath_prepend(Path(__file__).parent)
    import long_tasks

    return long_tasks


@pytest.fixture
def boards():
    """Makes boards, and lets go of their processes afterwards."""
    made = []

    def board(*arguments, **named):
        made.append(JobBoard(*arguments, **named))
        return made[-1]

    yield board
    for one in made:
        one.close()


def computing(task, *arguments):
    return lambda job: job.compute(task, *arguments)


def until(condition):
    end = time.monotonic() + 60
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.01)


def test_work_gives_its_result_and_reports_progress_from_another_process(boards, tasks):
    seen = []

    def work(job):
        result = job.compute(tasks.double, 21)
        seen.append((job.step, job.share))
        return result

    job = boards(1, seconds=60).start("something", work)
    assert job.finished.wait(60)
    assert (job.state, job.share, job.result) == ("done", 1.0, 42)
    assert seen == [("half way", 0.5)]


def test_work_is_stopped_in_the_middle_of_a_call_that_never_returns_and_the_next_begins(boards, tasks):
    board = boards(1, seconds=60)
    job, following = board.start("endless", computing(tasks.endless)), board.start("next", computing(tasks.double, 1))
    until(lambda: job.state == "running")
    job.stop(ON_REQUEST)
    assert job.finished.wait(30)
    assert (job.state, job.problem["code"]) == ("stopped", "service.stopped")
    assert following.finished.wait(60)
    assert following.result == 2


def test_a_process_is_kept_for_the_next_piece_of_work(boards, tasks):
    board = boards(2, seconds=60)
    found = []
    for _ in range(3):
        job = board.start("who", computing(tasks.process))
        assert job.finished.wait(60)
        found.append(job.result)
    assert len(set(found)) == 1


def test_work_that_waits_its_turn_ends_at_once_when_it_is_stopped(boards, tasks):
    board = boards(1, seconds=60)
    first, second = board.start("first", computing(tasks.endless)), board.start("second", computing(tasks.endless))
    until(lambda: first.state == "running")
    second.stop(ON_REQUEST)
    assert (second.finished.is_set(), second.state) == (True, "stopped")
    assert first.state == "running"


def test_work_past_its_limit_of_time_is_ended(boards, tasks):
    job = boards(1, seconds=0.3).start("too long", computing(tasks.endless))
    assert job.finished.wait(60)
    assert (job.problem["status"], job.problem["code"]) == (503, "service.timeout")
    assert "longer than 0.3 seconds" in job.problem["detail"]


def test_writing_is_never_broken_off(boards):
    written = []

    def work(job):
        time.sleep(0.4)
        written.append("whole")
        return "done"

    job = boards(1, seconds=60).start("writes", work)
    until(lambda: job.state == "running")
    job.stop(ON_REQUEST)
    assert job.finished.wait(10)
    assert written == ["whole"]
    assert job.state == "done"


def test_a_refusal_of_the_library_keeps_its_code_and_an_unforeseen_error_its_words_to_itself(boards, tasks):
    board = boards(2, seconds=60)
    first, second = board.start("refused", computing(tasks.refused)), board.start("broken", computing(tasks.broken))
    assert first.finished.wait(60)
    assert second.finished.wait(60)
    assert first.problem["code"] == "plan.invalid"
    assert second.problem["code"] == "service.unexpected"
    assert "secret" not in second.problem["detail"]


def test_a_process_that_dies_is_said_and_replaced(boards, tasks):
    board = boards(1, seconds=60)
    job = board.start("dies", computing(tasks.killed))
    assert job.finished.wait(60)
    assert (job.state, job.problem["status"], job.problem["code"]) == ("failed", 503, "service.worker_lost")
    assert "ended without an answer" in job.problem["detail"]
    following = board.start("next", computing(tasks.double, 4))
    assert following.finished.wait(60)
    assert following.result == 8


def test_more_work_than_may_wait_is_refused_and_there_is_room_again_later(boards, tasks):
    board = boards(1, seconds=60, queue_length=2)
    jobs = [board.start("endless", computing(tasks.endless)) for _ in range(3)]
    with pytest.raises(Refusal, match="3 pieces of work are under way or waiting") as refusal:
        board.start("one too many", computing(tasks.double, 1))
    assert (refusal.value.status, refusal.value.code) == (503, "service.busy")
    assert int(refusal.value.headers["Retry-After"]) > 0
    jobs[-1].stop(ON_REQUEST)
    assert board.start("room again", computing(tasks.double, 1)).state == "waiting"


def test_closing_ends_what_runs_and_what_waits(tasks):
    board = JobBoard(1, seconds=60)
    jobs = [board.start("endless", computing(tasks.endless)) for _ in range(3)]
    until(lambda: jobs[0].state == "running")
    board.close()
    assert [job.finished.wait(10) for job in jobs] == [True] * 3
    assert {job.problem["code"] for job in jobs} == {"service.closing"}


def test_waiting_for_work_keeps_no_thread(boards, tasks):
    job = boards(1, seconds=60).start("endless", computing(tasks.endless))

    async def wait():
        begun = time.monotonic()
        ended = await asyncio.gather(*(job.ended(0.3) for _ in range(500)))
        return ended, time.monotonic() - begun

    ended, seconds = asyncio.run(wait())
    assert not any(ended)
    assert seconds < 3  # at forty threads for five hundred who wait it would be four


@contextmanager
def asking(client, count, path):
    """So many clients that wait for long work; it is stopped in the end."""
    with ThreadPoolExecutor(count) as pool:
        asked = [pool.submit(httpx.post, f"{client.base_url}{path}", timeout=120) for _ in range(count)]
        try:
            yield asked
        finally:
            for job in client.get("/api/v1/jobs").json():
                client.delete(f"/api/v1/jobs/{job['id']}")


def test_the_service_answers_while_sixty_wait_for_long_work_and_says_no_to_more(tmp_path, serve):
    settings = Settings(ledger=str(tmp_path / "l.sqlite"), workers=1, queue_length=59, work_seconds=300)
    with serve(settings) as client:
        assert client.post("/demo").status_code == 303
        with asking(client, 75, "/api/v1/comparables/1/back-test?wait=600") as asked:
            until(lambda: sum(one.done() for one in asked) >= 15)  # those for whom there is no room
            refused = [one.result() for one in asked if one.done()]
            begun = time.monotonic()
            assert client.get("/healthz").status_code == 200
            assert client.get("/api/v1/comparables").status_code == 200
            assert client.get("/comparables/1").status_code == 200
            assert time.monotonic() - begun < 20
            assert not all(one.done() for one in asked)
        busy = [one for one in refused if one.status_code == 503 and one.json()["code"] == "service.busy"]
        assert len(busy) >= 15
        assert all(int(one.headers["retry-after"]) > 0 for one in busy)
        ended = {one.result().status_code for one in asked}
        assert ended <= {200, 409, 503}


def test_the_service_answers_202_and_the_job_leads_to_its_end(fresh):
    fresh.post("/demo")
    asked = {
        "vehicle": {"name": "x", "attributes": {"family": "Tarrowby Linnet", "model_year": 1963, "condition": "show"}}
    }
    answer = fresh.post("/api/v1/estimates", json=asked, params={"wait": 0})
    assert answer.status_code == 202
    address = answer.headers["location"]
    assert fresh.get(address).json()["state"] in ("waiting", "running", "done")
    stopped = fresh.delete(address).json()
    assert stopped["state"] in ("stopped", "done", "running", "waiting")
    assert fresh.get("/api/v1/jobs/none").status_code == 404
