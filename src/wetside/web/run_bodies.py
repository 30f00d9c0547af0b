"""What the door of runs takes, as its schema says: a run's start and its events, each kind with its own fields.

What no schema can say is left to the check behind it (a process that is not known, a push without a source, a roll
that stands twice); it answers 422 in one line as well.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from wetside.stages.bench.event import PLACES
from wetside.stages.bench.rescue import TROUBLES
from wetside.stages.bench.run import KINDS


def whole(value: Any) -> Any:
    """3.0 is an integer to JSON Schema, so it is one here."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


Id = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[A-Za-z0-9._-]+$")]
Celsius = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Seconds = Annotated[float, Field(ge=0, le=86_400, allow_inf_nan=False)]
#: Text with something to be seen in it, no NUL.
SEEN = r"^[^\x00]*[^\s\x00-\x20\x7f-\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000][^\x00]*$"
Name = Annotated[str, Field(min_length=1, max_length=60, pattern=SEEN)]
Words = Annotated[str, Field(max_length=500, pattern=r"^[^\x00]*$")]
SomeWords = Annotated[str, Field(min_length=1, max_length=500, pattern=SEEN)]
Short = Annotated[str, Field(max_length=200, pattern=r"^[^\x00]*$")]
MORE = ("temperature", "deviation", "preflight", "strike", "note", "fill")


class Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class Agitation(Strict):
    """How a bath is turned: for `first_s`, then `for_s` every `every_s`."""

    first_s: Seconds | None = None
    every_s: Seconds | None = None
    for_s: Seconds | None = None


class Rival(Strict):
    """What another source says of a step."""

    say: str
    source: str


class StepBody(Strict):
    """A step of a process of one's own."""

    name: Name
    seconds: Annotated[float, Field(ge=1, le=86_400, allow_inf_nan=False)]
    role: str | None = None
    kind: Literal["aim", "minimum"] | None = None
    aim_c: Celsius | None = None
    low_c: Celsius | None = None
    high_c: Celsius | None = None
    agitation: Agitation | None = None
    safe_hold_s: Seconds | None = None
    source: str | None = None
    rivals: list[Rival] | None = None
    cautions: list[str] | None = None


class RollOnReel(Strict):
    """A roll in the tank: its reel, the end at the core, the edge that lies lower."""

    roll: Annotated[str, Field(min_length=1, max_length=200)]
    reel: Short | None = None
    core: Literal["", "head", "tail"] | None = None
    edge: Literal["", "perforated", "opposite"] | None = None


class RunBody(Strict):
    """What starts a run; `steps` bring a process of one's own."""

    id: Id | None = None
    process: Annotated[Name, Field(examples=["ecn-2"])]
    steps: Annotated[list[StepBody], Field(min_length=1, max_length=60)] | None = None
    tank: Short | None = None
    thermometer: Short | None = None
    rolls: Annotated[list[RollOnReel], Field(max_length=40)] | None = None
    baths: dict[str, Short] | None = None
    room_c: Annotated[float, Field(ge=-20, le=60, allow_inf_nan=False)] | None = None
    push_stops: Annotated[int, Field(ge=-3, le=4), BeforeValidator(whole)] | None = None
    developer_s: Annotated[float, Field(ge=10, le=7200, allow_inf_nan=False)] | None = None
    like: Short | None = None
    note: Words | None = None


class Event(BaseModel):
    """An event of a run: the writer's own id, and seconds since 1970 UTC. Unknown fields are passed over."""

    model_config = ConfigDict(extra="ignore", strict=True)
    id: Id
    happened_at: Annotated[float, Field(ge=0, le=32_503_680_000, allow_inf_nan=False)]


class Temperature(Event):
    """A reading, where it was read: in the tank unless said."""

    kind: Literal["temperature"]
    celsius: Annotated[Celsius, Field(examples=[41.0])]
    of: Literal[PLACES] | None = None  # type: ignore[valid-type]


class Deviation(Event):
    """Trouble, by its name."""

    kind: Literal["deviation"]
    what: Literal[tuple(TROUBLES)]  # type: ignore[valid-type]
    say: Words | None = None


class Preflight(Event):
    """A thing looked at before the first pour, or passed over."""

    kind: Literal["preflight"]
    item: SomeWords
    done: bool | None = None


class Strike(Event):
    """A mis-tap taken back: the id of the tap."""

    kind: Literal["strike"]
    strikes: Id


class Note(Event):
    """Words."""

    kind: Literal["note"]
    say: SomeWords


class Fill(Event):
    """A pour begins; `step` makes sure which."""

    kind: Literal["fill"]
    step: Annotated[int, Field(ge=0, lt=60), BeforeValidator(whole)] | None = None


class Bare(Event):
    """Everything that carries nothing but its time."""

    kind: Literal[tuple(kind for kind in KINDS if kind not in MORE)]  # type: ignore[valid-type]


EventBody = Annotated[
    Temperature | Deviation | Preflight | Strike | Note | Fill | Bare, Field(discriminator="kind")
]


def plain(body: BaseModel) -> dict[str, Any]:
    """The body as it was sent, what was left out left out."""
    return body.model_dump(exclude_none=True)
