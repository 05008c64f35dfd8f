"""The first click on a fresh ledger, and the slow modules that no two requests may load at once."""

import os
import socket
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

ROOT = Path(__file__).parents[3]
FAMILIES = (
    "pandas", "numpy", "scipy", "sklearn", "statsmodels", "openpyxl", "odf", "pyarrow", "xlsxwriter",
    "typst", "vl_convert",
)  # fmt: skip
LOOK = """
import sys, time
sys.path.insert(0, {folder!r})
from conftest import PLAN, VEHICLE, listening
from api.settings import Settings
import api.warm

def loaded():
    return {{name for name in sys.modules if name.partition(".")[0] in {families!r}}}

def shown(client, path):
    for _ in range(400):
        answer = client.get(path, follow_redirects=True)
        assert answer.status_code == 200, answer.text
        if 'id="progress"' not in answer.text:
            return
        time.sleep(0.1)
    raise AssertionError(path)

if __name__ == "__main__":
    with listening(Settings(ledger={ledger!r})) as client:
        assert client.get("/comparables/1").status_code == 404  # waits for the warm-up
        warm = loaded()
        assert "openpyxl" in warm
        assert client.post("/demo").status_code == 303
        assert client.post("/api/v1/estimates", json={{"vehicle": VEHICLE}}).status_code == 201
        asked = {{"plan": PLAN, "price": 3000, "subject": VEHICLE["name"]}}
        assert client.post("/api/v1/bands", json=asked).status_code == 200
        assert client.post("/api/v1/offers", json={{"estimate": 1, "amount": 30000}}).status_code == 201
        sale = {{"estimate": 1, "price": 30000, "sold_on": "2026-01-05"}}
        assert client.post("/api/v1/sales", json=sale).status_code == 201
        assert client.post("/api/v1/sheets", json={{"kind": "buyer", "estimate": 1}}).status_code == 201
        assert client.get("/api/v1/estimates/1/workbook").status_code == 200
        plans = client.get("/build", params={{"subject": "Barn find: Haywain"}}).headers["location"]
        compared = client.post(plans.replace("plans", "pay"), data={{"price": "3000"}})
        for path in ("/comparables/1", "/vehicles/3/worth", "/vehicles/3/price", plans, "/track-record",
                     compared.headers["location"]):
            shown(client, path)
        print("beside:", sorted(loaded() - warm))
"""
LIGHT_ONES = """
import sys
sys.path.insert(0, {folder!r})
from conftest import listening
from api import warm
warm.WarmUp.begin = lambda self: None
from api.settings import Settings
with listening(Settings(ledger={ledger!r})) as client:
    for path in warm.LIGHT:
        assert client.get(path).status_code in (200, 405), path
print("beside:", sorted(name for name in sys.modules if name.partition(".")[0] in {slow!r}))
"""


def told(code, tmp_path, **more):
    script = tmp_path / "look.py"
    script.write_text(code.format(folder=str(Path(__file__).parent), ledger=str(tmp_path / "l.sqlite"), **more))
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, script], env=environment, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    return done.stdout.rpartition("beside: ")[2].strip()


def test_no_request_loads_a_slow_module_beside_the_warm_up(tmp_path):
    assert told(LOOK, tmp_path, families=FAMILIES) == "[]"


def test_pages_that_do_not_wait_for_the_warm_up_need_none_of_its_modules(tmp_path):
    assert told(LIGHT_ONES, tmp_path, slow=("pandas", "openpyxl", "odf", "pyarrow")) == "[]"


@pytest.mark.parametrize("start", range(3))
def test_the_first_click_after_a_fresh_start(tmp_path, start):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {
        **os.environ, "PYTHONPATH": str(ROOT), "VALUATION_LEDGER": str(tmp_path / "l.sqlite"),
        "VALUATION_PORT": str(port),
    }  # fmt: skip
    with (tmp_path / "log.txt").open("w") as log:
        running = subprocess.Popen([sys.executable, "-m", "api"], env=environment, stdout=log, stderr=log)
    try:
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=120, headers={"accept": "text/html"}) as client:
            until = time.monotonic() + 120
            while True:
                try:
                    client.get("/static/desk.css")
                    break
                except httpx.TransportError:
                    assert time.monotonic() < until, (tmp_path / "log.txt").read_text()
                    time.sleep(0.02)
            page = client.post("/demo", follow_redirects=True)
            assert page.status_code == 200, page.text
            with ThreadPoolExecutor(6) as several:
                paths = [str(page.url), "/vehicles/new", "/build", "/track-record", "/api/v1/comparables", "/"]
                found = list(several.map(lambda path: client.get(path, follow_redirects=True).status_code, paths))
            assert found == [200] * 6, (tmp_path / "log.txt").read_text()
    finally:
        running.terminate()
        running.wait(30)
    assert "Traceback" not in (tmp_path / "log.txt").read_text()
