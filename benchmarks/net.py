"""The marks finder's net: its layers, its kept weights, and the file of 8-bit weights that ships.

`nice -n 19 python -m benchmarks.net POOL` writes that file from the kept weights; it needs onnx and onnxruntime, fitting
(`benchmarks.fit_marks`) torch, in an environment of their own. POOL is what `benchmarks.photographs` made.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from benchmarks.crops import crop
from benchmarks.photographs import split
from wetside.stages.causes.signs import net as shipped
from wetside.stages.causes.signs.chance import net_input

#: The weights as they were fitted, normalisations folded in, in 16 bits.
WEIGHTS = Path(__file__).with_name("marks-weights.npz")
#: Pieces of photographs that tell how large each layer's values grow.
SHOWN = 400

#: Layers in order: name, input, planes out. "/" pools, "^" enlarges and joins what follows it.
LAYERS = (
    ("a0", "planes", 20), ("b0", "/a0", 32), ("b1", "b0", 32), ("c0", "/b1", 64), ("c1", "c0", 64), ("d0", "/c1", 96),
    ("d1", "d0", 96), ("e0", "/d1", 128), ("e1", "e0", 128), ("e2", "e1", 128), ("d2", "e2^d1", 96), ("c2", "d2^c1", 64),
    ("b2", "c2^b1", 32), ("a1", "b2^a0", 20),
)  # fmt: skip
PLANES, ANSWERS = 24, 16

Weights = dict[str, tuple[np.ndarray, np.ndarray]]


def built(torch: Any) -> Any:
    """The net with batch normalisation after each layer, as it is fitted: (n, 24, h, w) to (n, 16, h, w)."""
    parts, planes = torch.nn.ModuleDict(), {"planes": PLANES}
    for name, source, out in LAYERS:
        given = sum(planes[one] for one in source.strip("/").split("^"))
        parts[name] = torch.nn.Conv2d(given, out, 3, padding=1, bias=False)
        parts[f"{name}_bn"] = torch.nn.BatchNorm2d(out, momentum=0.02)
        planes[name] = out
    parts["out"] = torch.nn.Conv2d(planes[LAYERS[-1][0]], ANSWERS, 1)
    with torch.no_grad():
        parts["out"].bias.copy_(torch.tensor([-3.0] * 4 + [0.0] * 12))

    class Net(torch.nn.Module):  # type: ignore[misc]
        def __init__(self) -> None:
            super().__init__()
            self.parts = parts

        def forward(self, seen: Any) -> Any:
            made = {"planes": seen}
            for name, source, _ in LAYERS:
                plain = self.parts[name](_taken(torch, made, source))
                made[name] = torch.relu(self.parts[f"{name}_bn"](plain))
            return self.parts["out"](made[LAYERS[-1][0]])

    return Net()


def _taken(torch: Any, made: dict[str, Any], source: str) -> Any:
    if source[0] == "/":
        return torch.nn.functional.max_pool2d(made[source[1:]], 2)
    if "^" in source:
        low, beside = source.split("^")
        large = torch.nn.functional.interpolate(made[low], scale_factor=2, mode="nearest")
        return torch.cat([large, made[beside]], 1)
    return made[source]


def folded(net: Any) -> Weights:
    """Kernel (out, in, h, w) and bias of each layer, its normalisation folded in."""
    weights = {}
    for name, _, _ in LAYERS:
        normal = net.parts[f"{name}_bn"]
        gain, shift, mean, variance = (
            part.detach().numpy()
            for part in (normal.weight, normal.bias, normal.running_mean, normal.running_var)
        )
        factor = gain / np.sqrt(variance + normal.eps)
        kernel = net.parts[name].weight.detach().numpy()
        weights[name] = kernel * factor[:, None, None, None], shift - mean * factor
    last = net.parts["out"]
    return weights | {"out": (last.weight.detach().numpy(), last.bias.detach().numpy())}


def kept(weights: Weights, path: Path) -> None:
    """Writes weights in 16 bits."""
    parts = {
        f"{name}_{what}": part.astype(np.float16)
        for name, own in weights.items()
        for what, part in zip("kb", own)
    }
    np.savez_compressed(path, **parts)


def weights_kept(path: Path = WEIGHTS) -> Weights:
    """Kernel (out, in, h, w) and bias of each layer."""
    with np.load(path) as held:
        return {
            name: (held[f"{name}_k"].astype(np.float32), held[f"{name}_b"].astype(np.float32))
            for name in (*(name for name, _, _ in LAYERS), "out")
        }


def of_whole_numbers(weights: Weights, path: Path, planes: Iterator[np.ndarray]) -> None:
    """Writes the net with weights of 7 bits and values of 8 (7, so that processors that add two products in 16 bits never overflow).

    How large values grow is told by `planes` (24, h, w). The last layer, which says how much density was added, stays in
    floats: in whole numbers it would be wrong by 0.003 D in place of 0.001, and takes as long.
    """
    from onnxruntime.quantization import CalibrationDataReader, QuantFormat, QuantType, quantize_static

    class Planes(CalibrationDataReader):
        def get_next(self) -> dict[str, np.ndarray] | None:
            shown = next(planes, None)
            return None if shown is None else {"planes": shown[None]}

    with tempfile.TemporaryDirectory() as place:
        written(weights, Path(place) / "net.onnx")
        quantize_static(
            Path(place) / "net.onnx", path, Planes(), quant_format=QuantFormat.QDQ, activation_type=QuantType.QUInt8,
            weight_type=QuantType.QInt8, per_channel=True, reduce_range=True, nodes_to_exclude=["out"],
        )  # fmt: skip


def written(weights: Weights, path: Path) -> None:
    """Writes the net as an ONNX file in floats."""
    from onnx import TensorProto, helper, numpy_helper

    nodes: list[Any] = []
    held = [numpy_helper.from_array(np.array([1, 1, 2, 2], np.float32), "twice")]

    def node(kind: str, inputs: list[str], output: str, **how: Any) -> str:
        nodes.append(helper.make_node(kind, inputs, [output], name=output, **how))
        return output

    def taken(name: str) -> str:
        if name[0] == "/":
            return node("MaxPool", [of(name[1:])], f"{name[1:]}_half", kernel_shape=[2, 2], strides=[2, 2])
        if "^" in name:
            low, beside = (of(part) for part in name.split("^"))
            large = node("Resize", [low, "", "twice"], f"{low}_twice", mode="nearest",
                         coordinate_transformation_mode="asymmetric", nearest_mode="floor")  # fmt: skip
            return node("Concat", [large, beside], f"{low}_joined", axis=1)
        return of(name)

    def of(name: str) -> str:
        return name if name == "planes" else f"{name}_r"

    def layer(name: str, source: str) -> str:
        kernel, bias = weights[name]
        held.extend(
            numpy_helper.from_array(part, f"{name}_{what}") for what, part in zip("kb", (kernel, bias))
        )
        side = kernel.shape[2]
        return node(
            "Conv", [source, f"{name}_k", f"{name}_b"], name, kernel_shape=[side, side], pads=[side // 2] * 4
        )

    for name, source, _ in LAYERS:
        node("Relu", [layer(name, taken(source))], of(name))
    layer("out", of(LAYERS[-1][0]))
    given, made = (
        [helper.make_tensor_value_info(name, TensorProto.FLOAT, [1, planes, "height", "width"])]
        for name, planes in (("planes", PLANES), ("out", ANSWERS))
    )
    model = helper.make_model(
        helper.make_graph(nodes, "marks", given, made, held), opset_imports=[helper.make_opsetid("", 13)]
    )
    model.ir_version = 8
    path.write_bytes(model.SerializeToString())


def shown_pieces(pool: Path) -> Iterator[np.ndarray]:
    """What the net is shown (24, h, w) of pieces of the photographs that it was fitted on."""
    photographs = [cv2.imread(str(path), cv2.IMREAD_COLOR)[..., ::-1] for path in split(pool)[0]]
    rng = np.random.default_rng(601)
    return (net_input(crop(photographs, rng)[0]) for _ in range(SHOWN))


if __name__ == "__main__":
    of_whole_numbers(
        weights_kept(), Path(shipped.__file__).with_name("marks.onnx"), shown_pieces(Path(sys.argv[1]))
    )
