"""What a roll's frames have in common once their pictures cancel: stains, the light, a scanner's dirt."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

#: Standard error [D] of the median at which half of a difference is still shown.
FADES = 0.04
#: Under this standard error [D] no picture lies there: rebate and gaps.
FILM = 0.01


def shared(densities: Sequence[np.ndarray]) -> np.ndarray:
    """Signed differences (h, w) [D] that the frames agree on, each part of the film against its own middle.

    densities: mean layer of each frame (h, w) [D], one shape; frames of another shape are left out. The median over
    frames keeps what is fixed to the frame. It is divided by 1 + (error / FADES)², so that where frames disagree, and
    their pictures have not cancelled, little is shown. The median's error is 1.25 σ / √n for a normal sample (√(π/2) = 1.2533).
    """
    alike = np.array([one - np.percentile(one, 8) for one in densities if one.shape == densities[0].shape])
    middle = np.median(alike, axis=0)
    error = 1.25 * alike.std(axis=0) / np.sqrt(len(alike))
    film = error < FILM
    for part in (film, ~film):
        middle[part] -= np.median(middle[part]) if part.any() else 0.0
    return cv2.GaussianBlur((middle / (1 + (error / FADES) ** 2)).astype(np.float32), (0, 0), 1.2)
