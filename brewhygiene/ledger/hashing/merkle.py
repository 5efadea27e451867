"""The Merkle tree of RFC 6962: one hash over many, with short proofs.

A leaf is ``SHA-256(00 || data)`` and a node ``SHA-256(01 || left || right)``; a tree of ``n`` is
split at the largest power of two below ``n``. The two prefixes keep a node from passing as a leaf.
"""

import hashlib
from collections.abc import Iterable, Sequence

EMPTY = hashlib.sha256(b"").digest()


def leaf_hash(data: bytes) -> bytes:
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


class Tree:
    """A tree that grows leaf by leaf and keeps only what its root needs."""

    def __init__(self, size: int = 0, peaks: Sequence[bytes] = ()) -> None:
        self.size = size
        self._peaks = list(peaks)  # of perfect trees, the largest first
        if len(self._peaks) != size.bit_count():
            raise ValueError(f"A tree of {size} has {size.bit_count()} peaks.")

    @property
    def peaks(self) -> tuple[bytes, ...]:
        return tuple(self._peaks)

    def add(self, data: bytes) -> None:
        """Append one leaf's data."""
        node, size = leaf_hash(data), self.size
        while size & 1:
            node = node_hash(self._peaks.pop(), node)
            size >>= 1
        self._peaks.append(node)
        self.size += 1

    def root(self) -> bytes:
        """The tree's hash (RFC 6962, 2.1)."""
        if not self._peaks:
            return EMPTY
        *others, root = self._peaks
        for peak in reversed(others):
            root = node_hash(peak, root)
        return root


def root_of(leaves: Iterable[bytes]) -> bytes:
    """The root of a tree with these leaves' data."""
    tree = Tree()
    for data in leaves:
        tree.add(data)
    return tree.root()


class Levels:
    """Every node of a tree, level by level from the leaves, to find many paths in."""

    def __init__(self, leaves: Iterable[bytes]) -> None:
        level = [leaf_hash(data) for data in leaves]
        self._levels = [level]
        while len(level) > 1:
            paired = [node_hash(*level[i : i + 2]) for i in range(0, len(level) - 1, 2)]
            # An odd one at the end goes up as it is: the split at the largest power of two.
            level = paired + level[len(level) & ~1 :]
            self._levels.append(level)

    def path_of(self, index: int) -> list[bytes]:
        """The audit path of the leaf at ``index``, from the leaf upwards (RFC 6962, 2.1.1)."""
        path = []
        for level in self._levels[:-1]:
            if index ^ 1 < len(level):
                path.append(level[index ^ 1])
            index >>= 1
        return path


def root_from(data: bytes, index: int, size: int, path: Iterable[bytes]) -> bytes:
    """The root that a leaf's data and its audit path lead to; ``ValueError`` where they do not fit.

    Of a tree of ``size`` leaves, for the leaf at ``index``, counted from 0.
    """
    if not 0 <= index < size:
        raise ValueError(f"There is no leaf {index} in a tree of {size}.")
    node, last, steps = leaf_hash(data), size - 1, iter(path)
    while last:
        if index & 1 or index < last:
            try:
                beside = next(steps)
            except StopIteration:
                raise ValueError("The path is too short.") from None
            node = node_hash(beside, node) if index & 1 else node_hash(node, beside)
        index, last = index >> 1, last >> 1
    if next(steps, None) is not None:
        raise ValueError("The path is too long.")
    return node
