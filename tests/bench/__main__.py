"""Seed a large brewery, run the real server on it, and time what people wait for.

``python -m tests.bench [--vessels 200] [--results 1000000] [--keep DIR]``. Budgets are
those of DEVELOPERS.md; a figure over its budget is marked, and the exit code says so.
"""

import argparse
import http.client
import http.cookies
import math
import os
import re
import secrets
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.parse
from collections.abc import Callable, Sequence
from pathlib import Path

from tests import clock

ROOT = Path(__file__).resolve().parent.parent.parent
HOST = "127.0.0.1"


class Visitor:
    """A tablet: keeps its cookies, its connection and its way through a form."""

    def __init__(self, port: int) -> None:
        self.connection = http.client.HTTPConnection(HOST, port, timeout=60)
        self.cookies: dict[str, str] = {}

    def send(self, method: str, path: str, fields: dict[str, str] | None = None) -> tuple:
        headers = {"Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items())}
        body = None
        if fields is not None:
            body = urllib.parse.urlencode(fields)
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        self.connection.request(method, path, body, headers)
        answer = self.connection.getresponse()
        text = answer.read()
        for header in answer.headers.get_all("Set-Cookie") or []:
            for name, morsel in http.cookies.SimpleCookie(header).items():
                self.cookies[name] = morsel.value
        return answer.status, answer.headers, text

    def token(self, text: bytes) -> str:
        found = re.search(rb'name="csrfmiddlewaretoken" value="([^"]+)"', text)
        assert found, "no form on the page"
        return found.group(1).decode()

    def sign_in(self, username: str, password: str) -> None:
        _, _, page = self.send("GET", "/sign-in/")
        status, _, _ = self.send(
            "POST",
            "/sign-in/",
            {
                "csrfmiddlewaretoken": self.token(page),
                "username": username,
                "password": password,
            },
        )
        assert status == 302, f"sign-in answered {status}"


# The server, once it is started; and milliseconds of processor that each run last timed took it,
# which says more than the clock on a machine that has other work.
SERVER: list[int] = []
BUSY: list[float] = []


def busy_ms() -> float:
    """Processor time of the server so far, user and system."""
    fields = Path(f"/proc/{SERVER[0]}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) * 1000 / os.sysconf("SC_CLK_TCK")


def timed(call: Callable[[], object], *, runs: int) -> list[float]:
    """Milliseconds of each run, after one that is not counted."""
    call()
    found = []
    before = busy_ms()
    for _ in range(runs):
        began = time.perf_counter()
        call()
        found.append((time.perf_counter() - began) * 1000)
    BUSY[:] = [(busy_ms() - before) / runs]
    return found


def timed_here(calls: Sequence[Callable[[], object]], *, runs: int = 3) -> list[float]:
    """Milliseconds of processor that each call takes here, after one that is not counted."""
    found = []
    for call in calls:
        call()
        for _ in range(runs):
            began = time.process_time()
            call()
            found.append((time.process_time() - began) * 1000)
    return found


def p95(values: list[float]) -> float:
    return statistics.quantiles(values, n=20)[-1] if len(values) > 1 else values[0]


ROWS: list[tuple[str, float, float, str]] = []


def report(name: str, value: float, budget: float, unit: str = "ms") -> None:
    ROWS.append((name, value, budget, unit))
    mark = "" if value <= budget else "  OVER"
    kept = f" budget {budget:g} {unit}" if math.isfinite(budget) else ""
    if BUSY:
        kept += f" ({BUSY.pop():.0f} ms of processor)"
    print(f"{name:<58}{value:>10.1f} {unit:<4}{kept}{mark}", flush=True)


def memory_mib(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1024
    return 0.0


def wait_until_served(port: int, process: subprocess.Popen) -> None:
    for _ in range(600):
        try:
            Visitor(port).send("GET", "/sign-in/")
            return
        except OSError:
            if process.poll() is not None:
                sys.exit("The server did not start.")
            time.sleep(0.05)
    sys.exit("The server did not answer.")


def writing(port: int, password: str, vessels: list[tuple[int, int]], runs: int) -> list[float]:
    """Twenty tablets recording results at once; milliseconds of each."""
    from brewhygiene.atp.models.meters import AtpTestLot, Meter

    meter, lot = Meter.objects.get(), AtpTestLot.objects.get()
    found: list[float] = []
    lock = threading.Lock()
    this_run = secrets.token_hex(4)

    def tablet(number: int) -> None:
        visitor = Visitor(port)
        visitor.sign_in("hand", password)
        turnaround, point = vessels[number % len(vessels)]
        path = f"/turnarounds/{turnaround}/samples/{point}/"
        status, _, page = visitor.send("GET", path)
        assert status == 200, f"{path} answered {status}"
        token = visitor.token(page)
        for run in range(runs):
            fields = {
                "csrfmiddlewaretoken": token,
                # Of this run alone: a key that a kept folder has seen writes nothing.
                "key": f"bench-{this_run}-{number}-{run}",
                "meter": str(meter.pk),
                "test_lot": str(lot.pk),
                "rinse_end": "sanitiser_left",
                "rlu": str(run % 10),
                "taken_at": f"{clock.now():%Y-%m-%dT%H:%M}",
            }
            began = time.perf_counter()
            status, _, text = visitor.send("POST", path, fields)
            took = (time.perf_counter() - began) * 1000
            assert status == 302, f"{status}: {text[:4000].decode()}"
            with lock:
                found.append(took)
            time.sleep(1)  # a hand needs longer than that between two swabs

    threads = [threading.Thread(target=tablet, args=[n]) for n in range(20)]
    for thread in threads:
        thread.start()
        time.sleep(0.05)
    for thread in threads:
        thread.join()
    assert len(found) == 20 * runs, "some tablet failed"
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--vessels", type=int, default=200)
    parser.add_argument("--results", type=int, default=1_000_000)
    parser.add_argument("--port", type=int, default=8765)
    parser.add_argument("--keep", type=Path, help="keep the seeded folder here and use it again")
    options = parser.parse_args()

    # The rows are as old whenever it runs; the server goes by the same clock.
    with (
        clock.standing_at(clock.USUAL, ticking=True),
        tempfile.TemporaryDirectory(prefix="brewhygiene-bench-") as throwaway,
    ):
        folder = options.keep or Path(throwaway)
        folder.mkdir(parents=True, exist_ok=True)
        environment = {
            **os.environ,
            "DATA_DIR": str(folder),
            "DATABASE_URL": "",
            "PORT": str(options.port),
            "NO_DEMO": "1",
            "DJANGO_SETTINGS_MODULE": "brewhygiene.settings",
        }
        os.environ.update(environment)
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        from brewhygiene.brewery.models import Brewery
        from brewhygiene.people.models import User
        from tests.bench.movements import seed_movements
        from tests.bench.seed import seed
        from tests.factories import PASSWORD

        if not Brewery.objects.exists():
            began = time.perf_counter()
            seed(vessels=options.vessels, results=options.results)
            seed_movements(User.objects.get(username="hand"))
            print(f"seeded in {time.perf_counter() - began:.0f} s", flush=True)
        return measure(options.port, environment, PASSWORD)


def measure_trends(get: Callable[[str], None], vessel: int) -> None:
    """The charts' pages: the first look that works everything out, and every later one."""
    from brewhygiene.cellar.models import Vessel
    from brewhygiene.trends.models import PointStanding

    vessels = Vessel.objects.count()
    points = Vessel.objects.get(pk=vessel).points.order_by("pk")
    began = time.perf_counter()
    looks = 0
    while not looks or PointStanding.objects.count() < vessels * points.count():
        get("/trends/signals/")
        looks += 1
        if looks > vessels:
            break
    report(
        f"every point's standing worked out at first, {looks} looks",
        time.perf_counter() - began,
        math.inf,
        "s",
    )
    for name, path, budget in (
        ("trends of a vessel, all its history, p95", f"/trends/vessels/{vessel}/", 120),
        ("trends of a point, all its history, p95", f"/trends/points/{points[0].pk}/", 120),
        ("owner's page, p95", "/trends/", math.inf),
        ("signals, p95", "/trends/signals/", math.inf),
        ("what all points share, p95", "/trends/common/", math.inf),
        ("which one is it, p95", "/trends/compare/", math.inf),
        ("ATP against plates, p95", "/trends/plates/", math.inf),
    ):
        report(name, p95(timed(lambda path=path: get(path), runs=15)), budget)


def measure_traces(get: Callable[[str], None]) -> None:
    """A positive plate of a fermenter whose yeast goes into twelve: walked, ranked, and shown."""
    from brewhygiene.batches.models.lots import Lot
    from brewhygiene.batches.recall.ways import both_ways
    from brewhygiene.batches.trace.ranks import sources_of, trace_of
    from brewhygiene.plates.models import Plate

    grown = [
        plate
        for plate in Plate.objects.filter(state="positive").select_related(
            "vessel", "point__vessel"
        )
        if plate.vessel.order % 12 == 0
    ][:10]
    traces = [trace_of(plate) for plate in grown]
    reached = max(len(one.batches) + len(one.crops) + len(one.equipment) for one in traces)
    took = timed_here([lambda plate=plate: trace_of(plate) for plate in grown])
    report(f"trace of a positive plate to {reached} things at most, p95", p95(took), 120)
    took = timed_here([lambda one=one: sources_of(one) for one in traces])
    report("where a positive plate may come from, p95", p95(took), 120)
    lots = Lot.objects.order_by("pk")
    some = lots[:: max(1, lots.count() // 20)]
    took = timed_here([lambda lot=lot: both_ways(lot) for lot in some])
    report("recall drill, a lot both ways, p95", p95(took), 120)
    pages = [f"/plates/{plate.pk}/trace/" for plate in grown]
    took = [took for path in pages for took in timed(lambda p=path: get(p), runs=3)]
    report("trace page with where it may come from, p95", p95(took), math.inf)


def measure(port: int, environment: dict[str, str], password: str) -> int:
    from brewhygiene.cellar.models import SamplingPoint, Vessel
    from brewhygiene.turnarounds.models import Turnaround

    began = time.perf_counter()
    server = subprocess.Popen(
        [sys.executable, "manage.py", "serve"],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.DEVNULL,
    )
    SERVER[:] = [server.pid]
    try:
        wait_until_served(port, server)
        report("cold start to first page", (time.perf_counter() - began) * 1000, 4000)
        visitor = Visitor(port)
        visitor.sign_in("brewer", password)

        def get(path: str) -> None:
            status, _, _ = visitor.send("GET", path)
            assert status in (200, 204), f"{path} answered {status}"

        waiting = list(
            Turnaround.objects.filter(closed_at__isnull=True)
            .order_by("pk")
            .values_list("pk", "vessel_id", "vessel__points")
        )
        turnaround, vessel, _ = waiting[0]
        closed = Turnaround.objects.filter(closed_at__isnull=False).latest("pk")
        report("cellar board, p95", p95(timed(lambda: get("/"), runs=60)), 50)
        report("vessel page, p95", p95(timed(lambda: get(f"/vessels/{vessel}/"), runs=40)), 120)
        report(
            "turnaround page, p95",
            p95(timed(lambda: get(f"/turnarounds/{turnaround}/"), runs=40)),
            120,
        )
        report("release queue, p95", p95(timed(lambda: get("/release/"), runs=40)), 120)
        report("decide page, p95", p95(timed(lambda: get(f"/release/{turnaround}/"), runs=40)), 120)
        report(
            "release record PDF, slowest of 5",
            max(timed(lambda: get(f"/turnarounds/{closed.pk}/record.pdf"), runs=5)),
            1500,
        )
        labels = SamplingPoint.objects.filter(active=True).count()
        took = max(timed(lambda: get("/labels.pdf"), runs=1))
        report(f"200 labels, as a share of {labels}", took * 200 / labels, 5000)
        vessels = Vessel.objects.count()
        now = clock.today()
        took = max(timed(lambda: get(f"/months/{now:%Y-%m}.pdf"), runs=1))
        report(f"monthly report of 60 vessels, as a share of {vessels}", took * 60 / vessels, 15000)
        measure_traces(get)
        measure_trends(get, vessel)
        found = writing(port, password, [(t, p) for t, _, p in waiting[::5][:20]], runs=15)
        report("record a result, 20 tablets writing, p95", p95(found), 60)
        report("memory of the serving process, at most", memory_mib(server.pid), 300, "MiB")
    finally:
        server.terminate()
        server.wait(timeout=20)
    return 1 if any(value > budget for _, value, budget, _ in ROWS) else 0


if __name__ == "__main__":
    sys.exit(main())
