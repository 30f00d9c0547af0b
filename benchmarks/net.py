"""The marks finder's net, and the files it is kept in: needs tensorflow-cpu and onnx, in an environment of their own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

#: Layers in order: name, input (None: the layer before), planes out. "/" pools, "^" enlarges and joins what follows it.
LAYERS = (
    ("a0", "planes", 20), ("b0", "/a0", 32), ("b1", "b0", 32), ("c0", "/b1", 48), ("c1", "c0", 48), ("d0", "/c1", 64),
    ("d1", "d0", 64), ("e0", "d1^c1", 48), ("f0", "e0^b1", 32), ("g0", "f0^a0", 20),
)  # fmt: skip
PLANES, ANSWERS = 24, 16
#: The net's parts: first letters of their layers, what they are given and answer, with the planes of each.
PARTS = {
    "first": ("a", {"planes": PLANES}, ("fine", 20)),
    "middle": ("bcdef", {"fine": 20}, ("coarse", 32)),
    "last": ("g", {"coarse": 32, "fine": 20}, ("out", ANSWERS)),
}


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


def folded(net: Any) -> dict[str, tuple[np.ndarray, np.ndarray]]:
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


def written(weights: dict[str, tuple[np.ndarray, np.ndarray]], folder: Path) -> None:
    """The net's parts (`wetside.stages.causes.signs.net`) as ONNX files with weights of 16 bits."""
    for part, (layers, given, made) in PARTS.items():
        _written_part(weights, folder / f"marks-{part}.onnx", layers, given, made)


def _written_part(
    weights: dict[str, tuple[np.ndarray, np.ndarray]],
    path: Path,
    layers: str,
    given: dict[str, int],
    made: tuple[str, int],
) -> None:
    """One part: its layers by their first letters, names and planes of what it is given, name and planes of what it answers."""
    from onnx import TensorProto, helper, numpy_helper

    known = {"a0": "fine", "f0": "coarse", "planes": "planes"}
    nodes: list[Any] = []
    kept = [numpy_helper.from_array(np.array([1, 1, 2, 2], np.float32), "twice")]

    def node(kind: str, inputs: list[str], output: str, **how: Any) -> str:
        nodes.append(helper.make_node(kind, inputs, [output], **how))
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
        named = known.get(name)
        return named if named and (named in given or named == made[0]) else f"{name}_r"

    def layer(name: str, source: str) -> str:
        kernel, bias = weights[name]
        kept.append(numpy_helper.from_array(kernel.astype(np.float16), f"{name}_k"))
        kept.append(numpy_helper.from_array(bias.astype(np.float16), f"{name}_b"))
        side = kernel.shape[2]
        return node(
            "Conv", [source, f"{name}_k", f"{name}_b"], name, kernel_shape=[side, side], pads=[side // 2] * 4
        )

    for name, source, _ in LAYERS:
        if name[0] in layers:
            node("Relu", [layer(name, taken(source))], of(name))
    if made[0] == "out":
        layer("out", of(LAYERS[-1][0]))
    shapes = [
        helper.make_tensor_value_info(name, TensorProto.FLOAT, [1, planes, f"{name}_h", f"{name}_w"])
        for name, planes in (*given.items(), made)
    ]
    model = helper.make_model(
        helper.make_graph(nodes, "marks", shapes[:-1], shapes[-1:], kept),
        opset_imports=[helper.make_opsetid("", 13)],
    )
    model.ir_version = 8
    path.write_bytes(model.SerializeToString())
