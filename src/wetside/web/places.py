"""The front door: the way of a roll leads to the shelf first."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import RedirectResponse

router = APIRouter(include_in_schema=False)


@router.get("/")
async def front() -> RedirectResponse:
    return RedirectResponse("/shelf", status_code=303)
