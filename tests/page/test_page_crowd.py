"""Impatient users: many changes, drops and reloads at once, and no wrong answer."""

from __future__ import annotations

import asyncio
import os
import random
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

STRESS = os.environ.get("FEJOINT_STRESS") == "1"
USERS, SECONDS = (20, 60.0) if STRESS else (4, 3.0)
MOST_MEMORY = 4 * 1024**3


def variants(starting):
    """A few joints that all users choose from, so that answers can be held to each other."""
    # a pull that ends early, so that a short run sees many answers
    pull = {} if STRESS else {"stop_displacement": "0.4 mm"}
    return [
        (f"{k}, hole {hole}", case | {"ear": case["ear"] | {"hole": hole}, "pull": pull})
        for k, case in enumerate(starting)
        for hole in ("4.1 mm", "4.2 mm", "3.9 mm")
    ]


async def user(client, number, cases, seen, until):
    rng = random.Random(number)
    loop = asyncio.get_running_loop()
    while loop.time() < until:
        name, case = rng.choice(cases)
        body = {"case": case, "tab": f"user{number}", "place": "a"}
        body["detail"] = rng.choice(["coarse", "coarse", "fine" if STRESS else "coarse"])
        asked = asyncio.ensure_future(client.post("/api/pulls", json=body))
        done, _ = await asyncio.wait({asked}, timeout=rng.choice([0.05, 0.4, 3.0, 20.0]))
        if not done and rng.random() < 0.5:
            asked.cancel()  # the user leaves
            continue
        if not done:  # the user changes something else meanwhile
            seen.setdefault("hasty", []).append(asked)
            continue
        answer = asked.result()
        seen.setdefault("status", []).append((name, answer.status_code))
        if answer.status_code == 200:
            seen.setdefault(name, []).append(answer.json()["answer"])
            if rng.random() < 0.3:
                scene = await client.get(f"/api/pulls/{answer.json()['id']}/scene")
                assert scene.status_code in {200, 409, 410}
        elif answer.status_code == 503:
            await asyncio.sleep(0.5)


async def crowd(address, cases, seen):
    limits = httpx.Limits(max_connections=200)
    async with httpx.AsyncClient(base_url=address, timeout=120.0, limits=limits) as client:
        until = asyncio.get_running_loop().time() + SECONDS
        await asyncio.gather(*(user(client, n, cases, seen, until) for n in range(USERS)))
        late = await asyncio.gather(*seen.get("hasty", []))
        seen["status"] += [("hasty", answer.status_code) for answer in late]
        assert (await client.get("/api/start")).status_code == 200


def memory(pid: int) -> int:
    """Resident bytes of a process and of all it has started."""
    own = Path(f"/proc/{pid}")
    pages = int((own / "statm").read_text().split()[1])
    children = [c for t in own.glob("task/*/children") for c in t.read_text().split()]
    return pages * os.sysconf("SC_PAGE_SIZE") + sum(memory(int(c)) for c in children)


@pytest.mark.sampled
def test_impatient_users_get_right_answers_or_none(server, address, starting, tally):
    cases, seen = variants(starting), {}
    with ThreadPoolExecutor(1) as apart:  # the browser tests leave a loop running in this thread
        apart.submit(asyncio.run, crowd(address, cases, seen)).result()
    statuses = [status for _, status in seen["status"]]
    assert set(statuses) <= {200, 409, 422, 503}
    assert {s for n, s in seen["status"] if n.endswith("3.9 mm")} <= {422}
    answered = 0
    for name, case in cases:
        loads = []
        for answer in seen.get(name, []):
            assert answer["case"]["title"] == case["title"]
            assert answer["case"]["ear"][0]["hole"] == float(case["ear"]["hole"].split()[0])
            loads.append(answer["verdict"]["load_N"])
        answered += len(loads)
        if loads:
            assert max(loads) <= 1.03 * min(loads)
    assert answered > 0
    used = memory(server.pid) if Path("/proc/self/statm").exists() else 0
    assert used < MOST_MEMORY
    tally(
        f"{USERS} users for {SECONDS:g} s: {answered} answers, {statuses.count(409)} dropped, "
        f"{statuses.count(422)} refused, {statuses.count(503)} put off, {used / 1e6:.0f} MB"
    )
