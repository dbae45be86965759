"""Which nodes each branch of a network joins, as a dense table for small boards and a sparse one for large scans."""

from collections.abc import Sequence
from typing import Protocol

import numpy as np
import numpy.typing as npt
import scipy

FloatArray = npt.NDArray[np.float64]

GROUND_NODE = -1
# Below this many nodes a dense solve takes less time than building sparse matrices does; measured, one core of 2026
DENSE_NODES_MOST = 150


class Incidence(Protocol):
    """Branches over nodes: +1 where a branch leaves a node, -1 where it enters; ground has no column."""

    @property
    def nodes(self) -> int:
        """Number of nodes without ground."""

    def branch_v(self, node_v: FloatArray) -> FloatArray:
        """Voltage across every branch [V], shape (branch,)."""

    def node_ma(self, branch_ma: FloatArray) -> FloatArray:
        """Current out of every node [mA], shape (node,)."""

    def balancing_v(self, force_ma: FloatArray, *, conductance_ms: FloatArray) -> FloatArray:
        """Change of the node voltages that would cancel `force_ma` were all branches straight [V], shape (node,)."""


class DenseIncidence:
    """Incidence of a small network."""

    def __init__(self, ends: Sequence[tuple[int, int]], *, nodes: int) -> None:
        signs, rows, columns = _entries(ends)
        self._table = np.zeros((len(ends), nodes))
        # Both ends of a branch on one node cancel
        np.add.at(self._table, (rows, columns), signs)
        self._transposed = np.ascontiguousarray(self._table.T)

    @property
    def nodes(self) -> int:
        """Number of nodes without ground."""
        return self._table.shape[1]

    def branch_v(self, node_v: FloatArray) -> FloatArray:
        """Voltage across every branch [V], shape (branch,)."""
        return self._table @ node_v

    def node_ma(self, branch_ma: FloatArray) -> FloatArray:
        """Current out of every node [mA], shape (node,)."""
        return self._transposed @ branch_ma

    def balancing_v(self, force_ma: FloatArray, *, conductance_ms: FloatArray) -> FloatArray:
        """See `Incidence`."""
        jacobian = (self._transposed * conductance_ms) @ self._table
        return np.asarray(np.linalg.solve(jacobian, -force_ma), dtype=np.float64)


class SparseIncidence:
    """Incidence of a large network."""

    def __init__(self, ends: Sequence[tuple[int, int]], *, nodes: int) -> None:
        signs, rows, columns = _entries(ends)
        self._table = scipy.sparse.csr_array((signs, (rows, columns)), shape=(len(ends), nodes))
        self._transposed = self._table.T.tocsr()

    @property
    def nodes(self) -> int:
        """Number of nodes without ground."""
        return int(self._table.shape[1])

    def branch_v(self, node_v: FloatArray) -> FloatArray:
        """Voltage across every branch [V], shape (branch,)."""
        return np.asarray(self._table @ node_v)

    def node_ma(self, branch_ma: FloatArray) -> FloatArray:
        """Current out of every node [mA], shape (node,)."""
        return np.asarray(self._transposed @ branch_ma)

    def balancing_v(self, force_ma: FloatArray, *, conductance_ms: FloatArray) -> FloatArray:
        """See `Incidence`."""
        jacobian = (self._transposed @ scipy.sparse.diags_array(conductance_ms) @ self._table).tocsc()
        return np.asarray(-scipy.sparse.linalg.splu(jacobian).solve(force_ma))


def build_incidence(ends: Sequence[tuple[int, int]], *, nodes: int) -> Incidence:
    """Incidence of branches, each from one node to another; `GROUND_NODE` stands for ground."""
    kind = DenseIncidence if nodes <= DENSE_NODES_MOST else SparseIncidence
    return kind(ends, nodes=nodes)


def _entries(
    ends: Sequence[tuple[int, int]],
) -> tuple[FloatArray, npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Signs, branches and nodes of all entries of the table."""
    nodes = np.array(ends, dtype=np.int64).reshape(-1, 2)
    signs = np.broadcast_to([1.0, -1.0], nodes.shape)
    branches = np.broadcast_to(np.arange(len(nodes))[:, np.newaxis], nodes.shape)
    real = nodes != GROUND_NODE
    return signs[real], branches[real], nodes[real]
