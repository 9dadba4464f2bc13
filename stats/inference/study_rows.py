"""Each study as independent rows, free of its own level, on which the network is a plain regression.

A study with k joints says k - 1 things that do not depend on its rig. They can be chosen so that they are
independent of each other whatever the between-study variance: row m is z_m = q_m' y with variance
lambda_m + tau2, where q_m sums to zero over the study's joints. Only lambda, z and q are kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import linalg, sparse

from stats.inference.arms import Cells, Floats, Ints, Within


def summed(index: Ints, values: Floats, size: int) -> Floats:
    """Sum values by index."""
    return np.bincount(index, values, size).astype(np.float64, copy=False)


@dataclass(frozen=True, eq=False)
class Block:
    """All studies that hold k joints.

    Parameters
    ----------
    study : ndarray of int, shape (S,)
    joints : ndarray of int, shape (S, k)
        Rising within a study.
    q : ndarray, shape (S, k - 1, k)
        Rows over joints; each sums to zero.
    lam : ndarray, shape (S, k - 1)
        Within-study variance of each row.
    z : ndarray, shape (S, k - 1)
    x : ndarray, shape (S, k - 1, moderators)
    """

    study: Ints
    joints: Ints
    q: Floats
    lam: Floats
    z: Floats
    x: Floats


class Rows:
    """The rows of all studies, in blocks and flat.

    Parameters
    ----------
    blocks : tuple of Block
    n_joints : int
    within : Within
        What series of one joint in one study say beside the rows.
    log_det_constant : float
        What the log determinant of contrasts to a base has over the sum of the rows' logs.
    """

    def __init__(self, blocks: tuple[Block, ...], n_joints: int, within: Within, log_det_constant: float) -> None:
        self.blocks = blocks
        self.n_joints = n_joints
        self.within = within
        self.log_det_constant = log_det_constant
        self.lam: Floats = np.concatenate([b.lam.ravel() for b in blocks])
        self.z: Floats = np.concatenate([b.z.ravel() for b in blocks])
        self.x: Floats = np.concatenate([b.x.reshape(b.z.size, b.x.shape[2]) for b in blocks])
        self._flatten()

    def _flatten(self) -> None:
        """List every entry of q, and every pair of joints of a row, with the row it belongs to."""
        joint, joints_of, pair_key, pair_weight, pairs_of = [], [], [], [], []
        for b in self.blocks:
            s, m, k = b.q.shape
            joint.append(np.broadcast_to(b.joints[:, None, :], b.q.shape).ravel())
            joints_of.append(np.full(s * m, k))
            i, j = np.triu_indices(k, 1)
            key = b.joints[:, i] * self.n_joints + b.joints[:, j]
            pair_key.append(np.broadcast_to(key[:, None, :], (s, m, len(i))).ravel())
            pair_weight.append(-(b.q[:, :, i] * b.q[:, :, j]).ravel())
            pairs_of.append(np.full(s * m, len(i)))
        self._joint = np.concatenate(joint)
        self._q = np.concatenate([b.q.ravel() for b in self.blocks])
        self._end = _ends(joints_of)
        keys = np.concatenate(pair_key)
        there = np.bincount(keys, minlength=self.n_joints**2) > 0
        # Of each pair of joints that some row holds: first joint times n_joints, plus second.
        self.pair_key: Ints = np.flatnonzero(there)
        # A column a row, whose entries stand together.
        entries = (np.concatenate(pair_weight), (np.cumsum(there) - 1)[keys], _ends(pairs_of))
        self._pairs = sparse.csc_matrix(entries, shape=(len(self.pair_key), len(self.lam)))
        self._pair = np.divmod(self.pair_key, self.n_joints)

    @cached_property
    def design(self) -> sparse.csr_matrix:
        """All q, shape (rows, joints)."""
        return sparse.csr_matrix((self._q, self._joint, self._end), shape=(len(self.lam), self.n_joints))

    @cached_property
    def _turned(self) -> sparse.csc_matrix:
        return self.design.T

    @cached_property
    def study(self) -> Ints:
        """Study of each row, shape (rows,)."""
        return np.concatenate([np.repeat(block.study, block.lam.shape[1]) for block in self.blocks])

    def without(self, study: int) -> Rows:
        """Give the rows of all studies but one.

        Parameters
        ----------
        study : int
            Number of that study.

        Returns
        -------
        Rows
        """
        blocks = []
        for b in self.blocks:
            keep = b.study != study
            if keep.any():
                blocks.append(Block(b.study[keep], b.joints[keep], b.q[keep], b.lam[keep], b.z[keep], b.x[keep]))
        keep = np.arange(len(self.within.df)) != study
        w = self.within
        left = Within(w.xx * keep[:, None, None], w.xy * keep[:, None], w.yy * keep, w.df * keep)
        return Rows(tuple(blocks), self.n_joints, left, self.log_det_constant)

    def joint_products(self, g: Floats) -> Floats:
        """Sum g q q' over rows: a Laplacian, since every q sums to zero.

        Parameters
        ----------
        g : ndarray, shape (rows,)
            Weight of each row.

        Returns
        -------
        ndarray, shape (joints, joints)
        """
        joints = np.zeros((self.n_joints, self.n_joints))
        joints[self._pair] = self.pair_sums(g)
        both = joints + joints.T
        laplacian: Floats = np.diag(both.sum(axis=1)) - both
        return laplacian

    def joint_products_each(self, g: Floats) -> Floats:
        """`joint_products` of each column of g.

        Parameters
        ----------
        g : ndarray, shape (rows, columns)
            Weights of the rows.

        Returns
        -------
        ndarray, shape (columns, joints, joints)
        """
        i, j = self._pair
        joints = np.zeros((g.shape[1], self.n_joints, self.n_joints))
        joints[:, i, j] = self.pair_sums(g).T
        both = joints + joints.transpose(0, 2, 1)
        at = np.arange(self.n_joints)
        joints = -both
        joints[:, at, at] = both.sum(axis=2)
        return joints

    def against_products_each(self, g: Floats, matrices: Floats) -> Floats:
        """`against_products` of each column of g and each matrix.

        Parameters
        ----------
        g : ndarray, shape (rows, columns)
            Weights of the rows.
        matrices : ndarray, shape (columns, joints, joints)
            Symmetric.

        Returns
        -------
        ndarray, shape (columns,)
        """
        i, j = self._pair
        own = np.diagonal(matrices, axis1=1, axis2=2)
        spread = own[:, i] + own[:, j] - matrices[:, i, j] - matrices[:, j, i]
        sums: Floats = np.einsum("ut,tu->t", self.pair_sums(g), spread)
        return sums

    def pair_sums(self, g: Floats) -> Floats:
        """Sum g times minus the product of q's two entries over rows, for each pair of joints."""
        sums: Floats = self._pairs @ g
        return sums

    def against_products(self, g: Floats, matrix: Floats) -> float:
        """Sum of the entries of a matrix times those of `joint_products`, without forming these.

        Parameters
        ----------
        g : ndarray, shape (rows,)
            Weight of each row.
        matrix : ndarray, shape (joints, joints)
            Symmetric.

        Returns
        -------
        float
        """
        i, j = self._pair
        own = np.diag(matrix)
        return float(self.pair_sums(g) @ (own[i] + own[j] - matrix[i, j] - matrix[j, i]))

    def joint_sums(self, values: Floats) -> Floats:
        """Sum q times a value a row (or a row of values), for each joint.

        Parameters
        ----------
        values : ndarray, shape (rows,) or (rows, columns)
            One value a row, or a row of them.

        Returns
        -------
        ndarray, shape (joints,) or (joints, columns)
        """
        sums: Floats = self._turned @ values
        return sums

    def along(self, effects: Floats) -> Floats:
        """Give q' d of every row.

        Parameters
        ----------
        effects : ndarray, shape (joints,) or (joints, columns)
            Effect d of each joint.

        Returns
        -------
        ndarray, shape (rows,) or (rows, columns)
        """
        values: Floats = self.design @ effects
        return values


def _ends(counts: list[Ints]) -> Ints:
    """Where each row's entries end, after a first zero."""
    return np.concatenate([[0], np.cumsum(np.concatenate(counts))])


def _by_size(study: Ints) -> list[tuple[int, Ints, Ints]]:
    """Group cells, sorted by study, into (k, study (S,), cell (S, k))."""
    first = np.flatnonzero(np.r_[True, study[1:] != study[:-1]])
    size = np.diff(np.r_[first, len(study)])
    return [(int(k), study[first[size == k]], first[size == k][:, None] + np.arange(k)) for k in np.unique(size)]


def rows_from_cells(cells: Cells) -> Rows:
    """Turn arms into rows.

    Parameters
    ----------
    cells : Cells
        Ordered by study.

    Returns
    -------
    Rows

    Notes
    -----
    With H the k x (k - 1) Helmert basis of what sums to zero, H' (D + tau2 I / 2) H = U (L + tau2 / 2) U', so
    q' = sqrt(2) U' H' gives rows of variance 2 L + tau2. A study's level, and so any factor of its rig, drops
    out.
    """
    blocks, constant = [], 0.0
    for k, study, at in _by_size(cells.study):
        y = cells.y[at] - cells.y[at].mean(axis=1, keepdims=True)
        x = cells.x[at] - cells.x[at].mean(axis=1, keepdims=True)
        basis = linalg.helmert(k)
        if k == 2:
            q = np.broadcast_to(np.sqrt(2.0) * basis, (len(study), 1, 2))
            lam = cells.v[at].sum(axis=1, keepdims=True)
        else:
            inner = (basis * cells.v[at][:, None, :]) @ basis.T
            value, vector = np.linalg.eigh(inner)
            q = np.sqrt(2.0) * (vector.transpose(0, 2, 1) @ basis)
            lam = 2.0 * value
        z = (q @ y[:, :, None])[:, :, 0]
        blocks.append(Block(study, cells.joint[at], q, lam, z, q @ x))
        # what det(V) of contrasts to a base adds to the product of the rows' variances: det((I + J) / 2)
        constant += len(study) * (np.log(k) - (k - 1) * np.log(2.0))
    return Rows(tuple(blocks), len(cells.joints), cells.within, constant)


def rows_from_contrasts(studies: Sequence[tuple[Ints, Floats, Floats, Floats]], n_joints: int) -> Rows:
    """Turn contrasts with a covariance into rows.

    Parameters
    ----------
    studies : sequence of (joints, contrast matrix C, y, V)
        One for each study of k joints, of shape (k,), (k - 1, k), (k - 1,) and (k - 1, k - 1).
    n_joints : int
        Joints in all.

    Returns
    -------
    Rows

    Notes
    -----
    The between-study part of C u is tau2 R with R = C C' / 2. With R = T T' and T^-1 V T^-T = U L U', the
    rows are U' T^-1 y, of variance L + tau2.
    """
    by_size: dict[int, list[int]] = {}
    for s, (joints, *_) in enumerate(studies):
        by_size.setdefault(len(joints), []).append(s)
    blocks, constant = [], 0.0
    for k in sorted(by_size):
        where = by_size[k]
        joints = np.stack([studies[s][0] for s in where])
        c, y, v = (np.stack([studies[s][i] for s in where]) for i in (1, 2, 3))
        root = np.linalg.cholesky(c @ c.transpose(0, 2, 1) / 2.0)
        constant += 2.0 * float(np.sum(np.log(np.diagonal(root, axis1=1, axis2=2))))
        half = np.linalg.solve(root, v)
        inner = np.linalg.solve(root, half.transpose(0, 2, 1))
        lam, vector = np.linalg.eigh((inner + inner.transpose(0, 2, 1)) / 2.0)
        q = vector.transpose(0, 2, 1) @ np.linalg.solve(root, c)
        z = (vector.transpose(0, 2, 1) @ np.linalg.solve(root, y[:, :, None]))[:, :, 0]
        order = np.argsort(joints, axis=1)
        blocks.append(
            Block(
                np.asarray(where, dtype=np.intp),
                np.take_along_axis(joints, order, axis=1),
                np.take_along_axis(q, order[:, None, :], axis=2),
                lam,
                z,
                np.empty((len(where), k - 1, 0)),
            )
        )
    n = len(studies)
    none = Within(np.empty((n, 0, 0)), np.empty((n, 0)), np.zeros(n), np.zeros(n, dtype=np.intp))
    return Rows(tuple(blocks), n_joints, none, constant)
