"""The marks finder's net: its layers, its kept weights, and the file of 8-bit weights that ships.

`nice -n 19 python -m benchmarks.net POOL` writes that file from the kept weights; it needs onnx and onnxruntime, fitting
(`benchmarks.fit_marks`) tensorflow-cpu, in an environment of their own. POOL is what `benchmarks.photographs` made.
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

#: Layers in order: name, input (None: the layer before), planes out. "/" pools, "^" enlarges and joins what follows it.
LAYERS = (
    ("a0", "planes", 20), ("b0", "/a0", 32), ("b1", "b0", 32), ("c0", "/b1", 48), ("c1", "c0", 48), ("d0", "/c1", 64),
    ("d1", "d0", 64), ("e0", "d1^c1", 48), ("f0", "e0^b1", 32), ("g0", "f0^a0", 20),
)  # fmt: skip
PLANES, ANSWERS = 24, 16


Weights = dict[str, tuple[np.ndarray, np.ndarray]]


def built(tf: Any) -> Any:
    """The net with batch normalisation after each layer, as it is fitted; planes last."""
    layers = tf.keras.layers
    made = {"planes": layers.Input((None, None, PLANES))}

    def taken(name: str) -> Any:
        if name[0] == "/":
            return layers.MaxPool2D()(made[name[1:]])
        if "^" in name:
            low, beside = name.split("^")
            return layers.Concatenate()([layers.UpSampling2D()(made[low]), made[beside]])
        return made[name]

    for name, source, planes in LAYERS:
        plain = layers.Conv2D(planes, 3, padding="same", use_bias=False, name=name)(taken(source))
        made[name] = layers.ReLU()(layers.BatchNormalization(name=f"{name}_bn", momentum=0.98)(plain))
    start = tf.keras.initializers.Constant([-3] * 4 + [0] * 12)
    out = layers.Conv2D(ANSWERS, 1, name="out", bias_initializer=start)(made[LAYERS[-1][0]])
    return tf.keras.Model(made["planes"], out)


def folded(net: Any) -> Weights:
    """Kernel (out, in, h, w) and bias of each layer, its normalisation folded in."""
    weights = {}
    for name, _, _ in LAYERS:
        kernel = net.get_layer(name).get_weights()[0].transpose(3, 2, 0, 1)
        normal = net.get_layer(f"{name}_bn")
        gain, shift, mean, variance = normal.get_weights()
        factor = gain / np.sqrt(variance + normal.epsilon)
        weights[name] = kernel * factor[:, None, None, None], shift - mean * factor
    kernel, bias = net.get_layer("out").get_weights()
    return weights | {"out": (kernel.transpose(3, 2, 0, 1), bias)}


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
