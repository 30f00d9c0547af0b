"""The tank loads of one mix: which rolls go together, on which day, at the least cost."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wetside.stages.planning.problem import Problem

#: Rolls of a mix up to which loads whose days cross are tried; with more, neighbours alone share a load.
CROSSING = 9
Load = tuple[int, tuple[int, ...]]
"""A day and the rolls done on it."""


@dataclass(frozen=True, slots=True)
class Mix:
    """One mix: kit, the day it is made, the rolls it does, its whole cost; `exact` where loads cost just that."""

    kit: int
    day: int
    rolls: tuple[int, ...]
    cost: float
    exact: bool = True


def cost_of(problem: Problem, mix: Mix) -> float:
    """What a mix of these rolls costs, kit, clips, loads and waiting; inf where a roll would be late."""
    loads = loads_of(problem, mix)
    if loads is None:
        return np.inf
    request = problem.request
    waits = sum(day - int(problem.ready[i]) for day, rolls in loads for i in rolls)
    clips = float(problem.extra[list(mix.rolls)].sum())
    return (
        request.kits[mix.kit].price + clips + request.session_cost * len(loads) + request.waiting_cost * waits
    )


def loads_of(problem: Problem, mix: Mix) -> list[Load] | None:
    """The cheapest loads of a mix, None where its life, its sessions or a due day forbid it.

    Rolls that wait at one rate share a load with their neighbours in the order of readiness; only where a due day
    forbids that can crossing loads be cheaper, which are tried for few rolls.
    """
    return _Loads(problem, mix).cheapest()


class _Loads:
    """A search over the rolls of one mix, earliest first."""

    def __init__(self, problem: Problem, mix: Mix) -> None:
        request, kit = problem.request, problem.request.kits[mix.kit]
        self.rolls, self.reels = mix.rolls, request.reels
        self.session, self.wait = request.session_cost, request.waiting_cost
        self.most = len(mix.rolls) if kit.sessions is None else kit.sessions
        self.day = [max(int(problem.ready[i]), mix.day) for i in mix.rolls]
        self.last = [min(int(problem.last[i]), mix.day + int(kit.life_days)) for i in mix.rolls]
        self.best: tuple[float, list[list[int]]] = (np.inf, [])

    def cheapest(self) -> list[Load] | None:
        if any(day > last for day, last in zip(self.day, self.last)):
            return None
        self.best = self._neighbours()
        if len(self.rolls) <= CROSSING:
            self._crossing(0, [], 0.0)
        if not np.isfinite(self.best[0]):
            return None
        return sorted((self.day[load[-1]], tuple(self.rolls[i] for i in load)) for load in self.best[1])

    def _neighbours(self) -> tuple[float, list[list[int]]]:
        """Loads of neighbours, by rolls done and loads used."""
        begun: dict[int, tuple[float, list[list[int]]]] = {0: (0.0, [])}
        tables = [begun]
        for end in range(1, len(self.rolls) + 1):
            here: dict[int, tuple[float, list[list[int]]]] = {}
            for first in range(max(0, end - self.reels), end):
                load = list(range(first, end))
                cost = self._cost(load)
                for used, (before, loads) in tables[first].items():
                    if used < self.most and before + cost < here.get(used + 1, (np.inf,))[0]:
                        here[used + 1] = (before + cost, [*loads, load])
            tables.append(here)
        return min(tables[-1].values(), key=lambda found: found[0], default=(np.inf, []))

    def _cost(self, load: list[int]) -> float:
        """A load's session and waiting, inf where one of its rolls would be late."""
        day = self.day[load[-1]]
        if any(day > self.last[i] for i in load):
            return np.inf
        return self.session + self.wait * sum(day - self.day[i] for i in load)

    def _crossing(self, at: int, loads: list[list[int]], cost: float) -> None:
        """Each roll in turn into a new load or one that has room, while that stays cheaper than the best known."""
        if cost >= self.best[0] - 1e-9 or len(loads) > self.most:
            return
        if at == len(self.rolls):
            self.best = (cost, loads)
            return
        for n, load in enumerate(loads):
            if len(load) < self.reels and np.isfinite(more := self._cost([*load, at]) - self._cost(load)):
                self._crossing(at + 1, [*loads[:n], [*load, at], *loads[n + 1 :]], cost + more)
        self._crossing(at + 1, [*loads, [at]], cost + self.session)
