"""Reads what a text-recognition network reports, against lists of spellings.

The network gives, step by step from left to right, the probability of each sign and of the
blank that keeps equal neighbours apart (connectionist temporal classification). How well
a spelling fits is the sum over all ways to lay it out along the steps; all spellings of a
list are summed at once along a tree of their common beginnings.

Source: Graves et al., 'Connectionist temporal classification', ICML 2006.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SIGNS = "".join(chr(c) for c in range(33, 127)) + "♯♭°øØΔ"
"""Class 0 is the blank, class k the sign k - 1."""
LOOK_ALIKES = {
    **{"5": "Ss", "7": "'1?T", "9": "gq", "4": "H", "6": "b", "8": "B&", "1": "lI|", "2": "Zz", "0": "Oo"},
    **{"#": "*tH=f", "°": "oO0'", "ø": "%&", "Δ": "A^", "+": "t", "-": "_~", "(": "[{", ")": "]}", "m": "n"},
    **{"C": "c(", "F": "f", "G": "g6", "B": "8", "A": "a", "E": "&", "r": "v", "h": "n", "d": "a"},
}
"""Signs that one is easily taken for, in a hurried hand or a small print."""
FRAME = ("([{|Il1", ")]}|Il1")
"""What the left and the right side of a frame around some lettering read as."""
NUMBERED = re.compile(r"\(?\d{1,2}[).:](?=[A-Ha-h])")
"""The number of an exercise before the name of a note (common practice, no source)."""
ALIKE = 0.3
"""What a look-alike counts against the sign itself."""
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Spelling:
    """One way to write something.

    Parameters
    ----------
    shapes : for each place the signs that stand for it, all written the same way
    text : what it means
    weight : how common it is, relative to others
    """

    shapes: tuple[str, ...]
    text: str
    weight: float


@dataclass(frozen=True, slots=True)
class Tree:
    """Spellings by their common beginnings; node 0 is the start.

    Parameters
    ----------
    members : (shapes, classes) 1 where a sign stands for a shape, less where it only looks like one
    shape, parent : (nodes,)
    repeats : (nodes,) whether a node's shape is its parent's
    ends : node of each spelling
    texts, weights : of each spelling
    """

    members: Floats
    shape: Ints
    parent: Ints
    repeats: NDArray[np.bool_]
    ends: Ints
    texts: tuple[str, ...]
    weights: Floats


def grow_tree(spellings: Iterable[Spelling]) -> Tree:
    """The tree of a list of spellings."""
    shapes: dict[str, int] = {}
    nodes: dict[tuple[int, int], int] = {}
    shape, parent = [0], [0]
    ends, texts, weights = [], [], []
    for s in spellings:
        at = 0
        for signs in s.shapes:
            k = shapes.setdefault(signs, len(shapes))
            if (at, k) not in nodes:
                nodes[at, k] = len(shape)
                shape.append(k)
                parent.append(at)
            at = nodes[at, k]
        ends.append(at)
        texts.append(s.text)
        weights.append(s.weight)
    members = np.zeros((len(shapes), len(SIGNS) + 1))
    for signs, k in shapes.items():
        alike = "".join(LOOK_ALIKES.get(c, "") for c in signs)
        members[k, [SIGNS.index(c) + 1 for c in alike]] = ALIKE
        members[k, [SIGNS.index(c) + 1 for c in signs]] = 1
    shape_, parent_ = np.array(shape), np.array(parent)
    repeats = shape_ == shape_[parent_]
    repeats[parent_ == 0] = False
    return Tree(members, shape_, parent_, repeats, np.array(ends), tuple(texts), np.array(weights))


def fit(tree: Tree, signs: Floats) -> Floats:
    """How well each spelling fits, against the best path through all signs.

    Parameters
    ----------
    signs : (steps, classes) probabilities

    Returns
    -------
    (spellings,) 1 for the best path of all; a little more where several layouts agree
    """
    signs = signs / signs.max(1, keepdims=True)
    by_shape = signs @ tree.members.T
    n = len(tree.shape)
    blank, solid = np.zeros(n), np.zeros(n)
    blank[0] = 1.0
    for step, values in zip(signs, by_shape, strict=True):
        both = blank + solid
        before = both[tree.parent]
        np.copyto(before, blank[tree.parent], where=tree.repeats)
        solid = (solid + before) * values[tree.shape]
        solid[0] = 0.0
        blank = both * step[0]
    return np.asarray((blank + solid)[tree.ends])


def best_path(signs: Floats) -> tuple[str, float]:
    """The likeliest sign at every step, read off, and the mean probability of the signs in it."""
    top, new = _read_off(signs)
    if not len(new):
        return "", 0.0
    return "".join(SIGNS[int(top[i]) - 1] for i in new), float(signs[new, top[new]].mean())


def _read_off(signs: Floats) -> tuple[Ints, Ints]:
    """The likeliest class at every step, and the steps at which a new sign begins."""
    top = signs.argmax(1)
    return top, np.flatnonzero((top != 0) & (top != np.concatenate([[0], top[:-1]])))


def unframed(signs: Floats) -> Floats | None:
    """The same without a first and a last sign that may be the sides of a frame; None where they are others.

    Parameters
    ----------
    signs : (steps, classes) probabilities
    """
    top, new = _read_off(signs)
    if len(new) < 3 or any(SIGNS[int(top[k]) - 1] not in side for k, side in zip(new[[0, -1]], FRAME, strict=True)):
        return None
    return _blanked(signs, slice(None, new[1]), slice(new[-1], None))


def unnumbered(signs: Floats) -> Floats | None:
    """The same without the number of an exercise before a name, as in ``3)Am``; None where there is none.

    Parameters
    ----------
    signs : (steps, classes) probabilities
    """
    top, new = _read_off(signs)
    before = NUMBERED.match("".join(SIGNS[int(top[i]) - 1] for i in new))
    return None if before is None else _blanked(signs, slice(None, new[before.end()]))


def _blanked(signs: Floats, *stretches: slice) -> Floats:
    """The same without any sign in some stretches of steps."""
    out = signs.copy()
    for stretch in stretches:
        out[stretch] = 0.0
        out[stretch, 0] = 1.0
    return out
