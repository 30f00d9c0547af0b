"""From how many rolls a mix of one's own costs less than a laboratory: kit against laboratory, in one sentence each."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median

from wetside.laws.economy.costs import Kit, Laboratory, laboratory_price
from wetside.stages.planning.problem import takes
from wetside.stages.planning.request import Request, Roll


@dataclass(frozen=True, slots=True)
class Pays:
    """One mix of a kit against one laboratory, for rolls of a middling length; `rolls` None where the mix never pays."""

    kit: str
    laboratory: str
    rolls: int | None
    holds: int
    metres: float

    def said(self) -> str:
        """The sentence."""
        of = f"{self.metres:.1f} m"
        if self.rolls is None:
            return f"mixing {self.kit}: it holds {self.holds} rolls of {of}: all of them cost no more at {self.laboratory}"
        return f"mixing {self.kit} pays from {self.rolls} rolls of {of} against {self.laboratory}"


def pays(request: Request) -> list[Pays]:
    """Every kit to be mixed against every laboratory that takes rolls of its process. Waiting and clips are left out."""
    found = []
    for kit in request.kits:
        for lab in request.labs:
            rolls = [roll for roll in request.rolls if roll.process == kit.process and takes(lab, roll)]
            if rolls and not kit.on_shelf:
                found.append(_against(kit, lab, rolls, request))
    return found


def _against(kit: Kit, lab: Laboratory, rolls: list[Roll], request: Request) -> Pays:
    length, area = median(r.length_mm for r in rolls), median(r.area for r in rolls)
    holds = int(kit.area_m2 / area + 1e-9)
    each = laboratory_price(lab, length)
    first = next(
        (
            n
            for n in range(1, holds + 1)
            if kit.price + request.session_cost * -(-n // request.reels) < lab.per_parcel * -(-n // lab.parcel_rolls) + each * n
        ),
        None,
    )  # fmt: skip
    return Pays(kit.id, lab.id, first, holds, length / 1000)
