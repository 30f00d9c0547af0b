"""Why a pixel is left out of a measurement: one table, from which masks, docs and tests come."""

from __future__ import annotations

from enum import IntFlag


class Left(IntFlag):
    """Reasons a pixel is left out; a mask is a uint16 array of these bits, 0 = measured."""

    CLIPPED = 1
    BLACK = 2
    OUTSIDE_FILM = 4
    PERFORATION = 8
    REBATE = 16
    EDGE_PRINT = 32
    DUST = 64
    MARK = 128
    FLARE = 256
    LIGHT_LEAK = 512
    NOT_FINITE = 1024


SAY: dict[Left, str] = {
    Left.CLIPPED: "at or above the scanner's white: no density can be read",
    Left.BLACK: "at or below the scanner's black: the density is a lower bound",
    Left.OUTSIDE_FILM: "beyond the film's edge",
    Left.PERFORATION: "in a perforation",
    Left.REBATE: "unexposed film outside the picture",
    Left.EDGE_PRINT: "edge print or a frame number",
    Left.DUST: "dust or a hair on the film or the glass",
    Left.MARK: "inside a mark",
    Left.FLARE: "lifted by stray light beside a bright area",
    Left.LIGHT_LEAK: "fogged by a light leak",
    Left.NOT_FINITE: "not a number in the file",
}
