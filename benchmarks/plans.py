"""Plans of 40 rolls over 26 weeks with three kits and three laboratories: `python -m benchmarks.plans [HOW MANY] [SECONDS]`.

Every roll differs in gauge, length and day; a third of them have a due day. Counted: how many are proved, in how many
seconds of processor time, and how far cost and bound lie apart where not.
"""

from __future__ import annotations

import random
import sys
import time
from datetime import date, timedelta
from typing import Any

from wetside.stages.planning.model import solved
from wetside.stages.planning.request import request_from

TODAY = date(2026, 3, 2)


def request(seed: int, rolls: int = 40, days: int = 182) -> dict[str, Any]:
    """An invented half-year of a filmmaker."""
    chance = random.Random(seed)

    def day(n: int) -> str:
        return (TODAY + timedelta(days=n)).isoformat()

    film = []
    for n in range(rolls):
        ready = chance.randrange(days - 40)
        gauge = chance.choice(("135", "135", "110", "16still", "16cine"))
        length = {"135": (900, 1700), "110": (500, 800), "16still": (600, 1200), "16cine": (7000, 31000)}[
            gauge
        ]
        film.append(
            {
                "id": f"S{n:02d}", "gauge": gauge, "length_mm": chance.randrange(*length), "process": "ecn-2", "backing": "rem-jet",
                "exposed_on": day(ready), "worth": chance.choice((0, 20, 100)),
                **({"due_on": day(ready + chance.randrange(30, 90))} if n % 3 == 0 else {}),
            }
        )  # fmt: skip
    kits = [
        {"id": "half litre", "process": "ecn-2", "price": 28, "litres": 0.5, "area_m2": 0.25, "life_days": 18, "post": 8},
        {"id": "one litre", "process": "ecn-2", "price": 42, "litres": 1, "area_m2": 0.5, "life_days": 21, "post": 10},
        {"id": "from powders", "process": "ecn-2", "price": 16, "litres": 1, "area_m2": 0.4, "life_days": 14, "sessions": 4},
    ]  # fmt: skip
    labs = [
        {"id": "Harbour Lab", "gauges": ["135"], "processes": ["ecn-2"], "takes_backing": True, "price_per_roll": 14, "per_parcel": 16, "parcel_rolls": 10, "days": 14},
        {"id": "Hill Lab", "gauges": ["135", "110", "16still"], "processes": ["ecn-2"], "takes_backing": True, "price_per_roll": 19, "per_parcel": 12, "parcel_rolls": 6, "days": 10},
        {"id": "Reel House", "gauges": ["16cine", "135"], "processes": ["ecn-2"], "takes_backing": True, "price_per_m": 0.9, "minimum_m": 15, "per_parcel": 20, "parcel_rolls": 20, "days": 21, "tax": 0.2},
    ]  # fmt: skip
    return {
        "today": TODAY.isoformat(), "horizon_days": days, "rolls": film, "kits": kits, "labs": labs, "clip_cost": 4,
        "tanks": [{"id": "two-reel tank", "volume_ml": 600, "reels": 2}], "session_cost": 4, "waiting_cost_per_roll_day": 0.1,
    }  # fmt: skip


def main(many: int = 5, seconds: float = 9.0) -> None:
    """One line a plan."""
    for seed in range(many):
        began, wall = time.process_time(), time.perf_counter()
        best = solved(request_from(request(seed)), seconds)
        cpu, took = time.process_time() - began, time.perf_counter() - wall
        print(
            f"{seed}: cost {best.cost:.2f}, bound {best.bound:.2f}, {'proved' if best.bound == best.cost else 'not proved'}, "
            f"{cpu:.1f} s of processor, {took:.1f} s; left out {len(best.left_out)}",
            flush=True,
        )


if __name__ == "__main__":
    main(
        *(int(sys.argv[1:][0]), float(sys.argv[2]) if len(sys.argv) > 2 else 9.0) if len(sys.argv) > 1 else ()
    )
