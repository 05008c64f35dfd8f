"""Long work: progress, stopping, the limit of time, and what a failure says."""

import time

from api.jobs import JobBoard
from api.problems import Refusal
from valuation.errors import PlanError


def busy(job):
    with job.stoppable():
        while True:
            sum(range(1000))


def test_work_that_is_done_gives_its_result_and_progress():
    board = JobBoard(1, seconds=30)

    def work(job):
        job.report("half way", 0.5)
        return (job.step, job.share)

    job = board.start("something", work)
    assert job.finished.wait(10)
    assert (job.state, job.share, job.result) == ("done", 1.0, ("half way", 0.5))


def test_work_is_stopped_in_the_middle_of_a_loop():
    board = JobBoard(1, seconds=60)
    job = board.start("an endless loop", busy)
    while job.state == "waiting":
        time.sleep(0.01)
    job.stop(Refusal(409, "service.stopped", "stopped on request"))
    assert job.finished.wait(10)
    assert (job.state, job.problem["code"]) == ("stopped", "service.stopped")


def test_work_that_waits_its_turn_can_be_stopped_before_it_begins():
    board = JobBoard(1, seconds=60)
    first, second = board.start("first", busy), board.start("second", busy)
    second.stop(Refusal(409, "service.stopped", "stopped on request"))
    first.stop(Refusal(409, "service.stopped", "stopped on request"))
    assert first.finished.wait(10)
    assert second.finished.wait(10)
    assert second.state == "stopped"


def test_work_past_its_limit_of_time_is_ended():
    job = JobBoard(1, seconds=0.3).start("too long", busy)
    assert job.finished.wait(10)
    assert (job.problem["status"], job.problem["code"]) == (503, "service.timeout")
    assert "longer than 0.3 seconds" in job.problem["detail"]


def test_writing_is_never_broken_off():
    written = []

    def work(job):
        with job.stoppable():
            pass
        time.sleep(0.4)
        written.append("whole")
        return "done"

    job = JobBoard(1, seconds=60).start("writes", work)
    time.sleep(0.1)
    job.stop(Refusal(409, "service.stopped", "stopped on request"))
    assert job.finished.wait(10)
    assert written == ["whole"]
    assert job.state == "done"


def test_a_refusal_of_the_library_keeps_its_code_and_an_unforeseen_error_its_words_to_itself():
    def refused(job):
        raise PlanError("the plan contradicts itself")

    def broken(job):
        raise KeyError("secret")

    board = JobBoard(2, seconds=30)
    first, second = board.start("refused", refused), board.start("broken", broken)
    assert first.finished.wait(10)
    assert second.finished.wait(10)
    assert first.problem["code"] == "plan.invalid"
    assert second.problem["code"] == "service.unexpected"
    assert "secret" not in second.problem["detail"]


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
