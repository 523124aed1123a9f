"""Whisper's decoder for training, on the arrays of a model file: the same as ctranslate2's, but for rounding.

Layers as in Radford et al. 2022 (arXiv:2212.04356): attention to what was said, attention to the sound, and
two dense layers with the exact GELU, each behind a layer norm. A tuning adds B·A to some of the matrices.
"""

from __future__ import annotations

from collections.abc import Mapping

import jax
import jax.numpy as jnp
import numpy as np

from jobnotes.hearing.model_file import ModelFile

Array = jax.Array
Weights = dict[str, Array]
Additions = dict[str, dict[str, Array]]  # "layer_0/ffn/linear_0": {"a": (r, m), "b": (n, r)}

#: all but those that make keys and values of the sound, and the embeddings
TUNED = (
    "self_attention/linear_0", "self_attention/linear_1", "attention/linear_0", "attention/linear_2",
    "ffn/linear_0", "ffn/linear_1",
)  # fmt: skip
_STRENGTH = 2.0  # what B·A is multiplied with in training; a tuning holds the product
_LAYER = "decoder/layer_{}/self_attention/linear_0/weight"


class Decoder:
    """`logits` of the model whose file is `file`."""

    def __init__(self, file: ModelFile) -> None:
        self.weights: Weights = {
            name.removeprefix("decoder/"): jnp.asarray(array.astype(np.float32))
            for name, array in file.arrays.items()
            if name.startswith("decoder/") and array.dtype == np.float16
        }
        self.heads = int(file.arrays["decoder/num_heads"])
        self.layers = sum(_LAYER.format(k) in file.arrays for k in range(len(file.arrays)))
        self.tokens = len(self.weights["embeddings/weight"])

    def additions(self, rank: int, seed: int = 0) -> Additions:
        """To begin with: they add nothing."""
        key = jax.random.PRNGKey(seed)
        out: Additions = {}
        for layer in range(self.layers):
            for linear in TUNED:
                name = f"layer_{layer}/{linear}"
                n, m = self.weights[f"{name}/weight"].shape
                key, chance = jax.random.split(key)
                a = jax.random.normal(chance, (rank, m)) / np.sqrt(m)
                out[name] = {"a": a, "b": jnp.zeros((n, rank))}
        return out

    def logits(
        self, weights: Weights, additions: Additions, sound: Array, tokens: Array, among: Array
    ) -> Array:
        """For each place in `tokens` (w, t) the logits of the token after it, of those in `among`: (w, t, k).

        `sound` is what the encoder made of the windows: (w, 1500, d).
        """

        def linear(x: Array, name: str) -> Array:
            y = x @ weights[f"{name}/weight"].T + weights[f"{name}/bias"]
            if name in additions:
                y = y + _STRENGTH * ((x @ additions[name]["a"].T) @ additions[name]["b"].T)
            return y

        def norm(x: Array, name: str) -> Array:
            centred = x - x.mean(-1, keepdims=True)
            scaled = centred * jax.lax.rsqrt((centred**2).mean(-1, keepdims=True) + 1e-5)
            return scaled * weights[f"{name}/gamma"] + weights[f"{name}/beta"]

        def attended(q: Array, k: Array, v: Array, hidden: Array | float) -> Array:
            q, k, v = (z.reshape(*z.shape[:2], self.heads, -1) for z in (q, k, v))
            weight = jax.nn.softmax(jnp.einsum("bthd,bshd->bhts", q * q.shape[-1] ** -0.5, k) + hidden, -1)
            mixed = jnp.einsum("bhts,bshd->bthd", weight, v)
            return mixed.reshape(*mixed.shape[:2], -1)

        length = tokens.shape[1]
        later = jnp.where(jnp.tril(jnp.ones((length, length), bool)), 0.0, -1e9)
        x = weights["embeddings/weight"][tokens] + weights["position_encodings/encodings"][:length]
        for layer in range(self.layers):
            own, cross, dense = (f"layer_{layer}/{part}" for part in ("self_attention", "attention", "ffn"))
            q, k, v = jnp.split(linear(norm(x, f"{own}/layer_norm"), f"{own}/linear_0"), 3, -1)
            x = x + linear(attended(q, k, v, later), f"{own}/linear_1")
            q = linear(norm(x, f"{cross}/layer_norm"), f"{cross}/linear_0")
            k, v = jnp.split(linear(sound, f"{cross}/linear_1"), 2, -1)
            x = x + linear(attended(q, k, v, 0.0), f"{cross}/linear_2")
            y = jax.nn.gelu(linear(norm(x, f"{dense}/layer_norm"), f"{dense}/linear_0"), approximate=False)
            x = x + linear(y, f"{dense}/linear_1")
        return norm(x, "layer_norm") @ weights["embeddings/weight"][among].T


def as_added(additions: Mapping[str, Mapping[str, Array]]) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """By the names of the model file's arrays: A and B whose product is added."""
    return {
        f"decoder/{name}/weight": (np.asarray(one["a"]), _STRENGTH * np.asarray(one["b"]))
        for name, one in additions.items()
    }
