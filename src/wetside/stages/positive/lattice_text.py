"""What is written for the machine: evened codes through a lattice to display codes, in LLVM's own language.

Eight pixels at a time. The place of each layer's code on the cube's edge is looked up; its whole part names the cell, the parts
left over, put in order, are the weights of four of its corners: the near one, the one along the layer with the most left over,
the one across from the layer with the least, and the far one. A corner's three colours are one load.

Sums and products are made one by one and rounded as the standard of floating point has it, so every machine gives the same codes.
"""

from __future__ import annotations

from typing import Any

from llvmlite import ir

from wetside.stages.positive.transform import CODES

NAME = "printed"
HALF, WHOLE, COUNT, SINGLE = ir.IntType(16), ir.IntType(32), ir.IntType(64), ir.FloatType()


def text_of(edge: int, at_once: int) -> str:
    """The module that holds `printed(codes, places, corners, out, turns)`; a turn takes so many pixels at once.

    Values are laid out as in `Lattice`; each pixel is stored as four codes, so one code's room stands behind the last.
    """
    module = ir.Module(NAME)
    takes = [HALF.as_pointer(), SINGLE.as_pointer(), SINGLE.as_pointer(), HALF.as_pointer(), COUNT]
    function = ir.Function(module, ir.FunctionType(ir.VoidType(), takes), NAME)
    for place in function.args[:4]:
        place.add_attribute("noalias")
    start, turn, end = (function.append_basic_block(name) for name in ("start", "turn", "end"))
    first, turns = ir.IRBuilder(start), function.args[4]
    first.cbranch(first.icmp_signed(">", turns, COUNT(0)), turn, end)
    loop = ir.IRBuilder(turn)
    done = loop.phi(COUNT)
    Turn(loop, edge, at_once).write(function.args, loop.mul(done, COUNT(3 * at_once)))
    after = loop.add(done, COUNT(1))
    done.add_incoming(COUNT(0), start)
    done.add_incoming(after, turn)
    loop.cbranch(loop.icmp_signed("<", after, turns), turn, end)
    ir.IRBuilder(end).ret_void()
    return str(module)


def _alike(kind: Any, value: float, length: int) -> Any:
    return ir.Constant(ir.VectorType(kind, length), [value] * length)


class Turn:
    """One turn of the loop: instructions for some pixels, appended in order."""

    def __init__(self, loop: ir.IRBuilder, edge: int, at_once: int) -> None:
        self.loop, self.at_once = loop, at_once
        #: Values between neighbours along red, green and blue.
        self.strides = (4 * edge * edge, 4 * edge, 4)

    def write(self, args: Any, at: Any) -> None:
        """Pixels from value `at` on."""
        codes, places, corners, out, _ = args
        near, parts = self._cell([self._looked_up(codes, places, at, layer) for layer in range(3)])
        ways, weights = self._ways(parts), self._weights(parts)
        for pixel in range(self.at_once):
            colour = self._blended(
                corners, pixel, [near, *(self.loop.add(near, way) for way in ways)], weights
            )
            self._store(out, at, pixel, colour)

    def _looked_up(self, codes: Any, places: Any, at: Any, layer: int) -> Any:
        """Where on the cube's edge one layer of the pixels lies."""
        loop, found = self.loop, ir.Constant(ir.VectorType(SINGLE, self.at_once), ir.Undefined)
        for pixel in range(self.at_once):
            code = loop.zext(loop.load(loop.gep(codes, [loop.add(at, COUNT(3 * pixel + layer))])), COUNT)
            place = loop.load(loop.gep(places, [loop.add(code, COUNT(layer * CODES))]))
            found = loop.insert_element(found, place, WHOLE(pixel))
        return found

    def _cell(self, along: list[Any]) -> tuple[Any, list[Any]]:
        """The cell's near corner, and what is left over along each layer."""
        loop, many = self.loop, self.at_once
        cells = [loop.fptosi(place, ir.VectorType(WHOLE, many)) for place in along]
        parts = [loop.fsub(p, loop.sitofp(c, ir.VectorType(SINGLE, many))) for p, c in zip(along, cells)]
        red, green, blue = (loop.mul(c, _alike(WHOLE, s, many)) for c, s in zip(cells, self.strides))
        return loop.add(loop.add(red, green), blue), parts

    def _more(self, one: Any, other: Any) -> Any:
        return self.loop.select(self.loop.fcmp_ordered(">", one, other), one, other)

    def _less(self, one: Any, other: Any) -> Any:
        return self.loop.select(self.loop.fcmp_ordered("<", one, other), one, other)

    def _weights(self, parts: list[Any]) -> list[Any]:
        """Of the near corner, the next two and the far one."""
        red, green, blue = parts
        low, high = self._less(red, green), self._more(red, green)
        most, least, middle = (
            self._more(high, blue),
            self._less(low, blue),
            self._more(low, self._less(high, blue)),
        )
        steps = ((_alike(SINGLE, 1.0, self.at_once), most), (most, middle), (middle, least))
        return [*(self.loop.fsub(one, other) for one, other in steps), least]

    def _ways(self, parts: list[Any]) -> list[Any]:
        """From the near corner along the layer with the most left over, across from the one with the least, and to the far one.

        Of layers with as much left over any will do: the corner between them weighs nothing.
        """
        red, green, blue = parts
        r, g, b = self.strides
        far = r + g + b
        most = self._more(self._more(red, green), blue)
        least = self._less(self._less(red, green), blue)
        along = self._first_alike(most, (red, green), (r, g, b))
        across = self._first_alike(least, (blue, green), (far - b, far - g, far - r))
        return [along, across, _alike(WHOLE, far, self.at_once)]

    def _first_alike(self, asked: Any, parts: tuple[Any, Any], ways: tuple[int, int, int]) -> Any:
        """The way that belongs to the first part that is the one asked for; the third where neither is."""
        one, other, third = (_alike(WHOLE, way, self.at_once) for way in ways)
        second = self.loop.select(self.loop.fcmp_ordered("==", parts[1], asked), other, third)
        return self.loop.select(self.loop.fcmp_ordered("==", parts[0], asked), one, second)

    def _blended(self, corners: Any, pixel: int, places: list[Any], weights: list[Any]) -> Any:
        """Four corners of one pixel by their weights: r g b and nothing, to the nearest code."""
        loop, four = self.loop, ir.VectorType(SINGLE, 4)
        nothing, found = ir.Constant(four, ir.Undefined), None
        for place, weight in zip(places, weights):
            at = loop.zext(loop.extract_element(place, WHOLE(pixel)), COUNT)
            corner = loop.load(loop.bitcast(loop.gep(corners, [at]), four.as_pointer()), align=16)
            one = loop.insert_element(nothing, loop.extract_element(weight, WHOLE(pixel)), WHOLE(0))
            part = loop.fmul(corner, loop.shuffle_vector(one, nothing, _alike(WHOLE, 0, 4)))
            found = part if found is None else loop.fadd(found, part)
        rounded = loop.fptosi(loop.fadd(found, _alike(SINGLE, 0.5, 4)), ir.VectorType(WHOLE, 4))
        return loop.trunc(rounded, ir.VectorType(HALF, 4))

    def _store(self, out: Any, at: Any, pixel: int, colour: Any) -> None:
        """A pixel's four values where it lies; the fourth is gone with the next pixel."""
        place = self.loop.gep(out, [self.loop.add(at, COUNT(3 * pixel))])
        self.loop.store(colour, self.loop.bitcast(place, colour.type.as_pointer()), align=2)
