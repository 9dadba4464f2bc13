"""The network's restricted likelihood as a function of the between-study variance alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from stats.inference.arms import BadArms, Floats, Ints
from stats.inference.study_rows import Rows


@dataclass(frozen=True, eq=False)
class Solution:
    """The network solved at one between-study variance.

    Parameters
    ----------
    tau2 : float
        Between-study variance of a log ratio [-].
    beta : ndarray, shape (joints + columns,)
        Joint effects against their part's anchor, then moderator slopes.
    covariance : ndarray, shape (joints + columns, joints + columns)
        Zero in the anchors' rows.
    residual : ndarray, shape (rows,)
    q : float
        Weighted residual sum of squares [-].
    criterion, slope : float
        Minus twice the restricted log likelihood without its constants, and its derivative in tau2 over the
        sum of squared weights, which makes it nearly straight.
    """

    tau2: float
    beta: Floats
    covariance: Floats
    residual: Floats
    q: float
    criterion: float
    slope: float


@dataclass(frozen=True, eq=False)
class _Estimates:
    g: Floats
    root: Floats
    inverse: Floats
    beta: Floats
    residual: Floats
    q: float


class Profile:
    """Solve the network at any between-study variance, at a cost linear in the rows.

    Parameters
    ----------
    rows : Rows
    anchors : ndarray of int, shape (parts,)
        The joint of each connected part that the part's effects are measured against.
    columns : sequence of str
        Names of the moderator columns of `rows`.

    Notes
    -----
    Rows are independent, so everything is a sum over rows of weights g = 1 / (lambda + tau2) times products
    of their designs; only matrices of joints by joints are ever formed.
    """

    def __init__(self, rows: Rows, anchors: Ints, columns: tuple[str, ...] = ()) -> None:
        self.rows = rows
        self.columns = columns
        self.size = rows.n_joints + len(columns)
        self.free = np.setdiff1d(np.arange(self.size), anchors)
        self.df = len(rows.lam) + int(rows.within.df.sum()) * bool(columns) - len(self.free)
        self.scale = float(np.median(rows.lam))
        if columns:
            self._refuse_confounded()

    @cached_property
    def _within(self) -> tuple[Floats, Floats, float]:
        w = self.rows.within
        return w.xx.sum(axis=0), w.xy.sum(axis=0), float(w.yy.sum())

    def _products(self, g: Floats) -> Floats:
        """Sum g times the products of every row's design, joints and moderators together."""
        joints = self.rows.joint_products(g)
        if not self.columns:
            return joints
        x = self.rows.x
        cross = np.column_stack([self.rows.joint_sums(g * c) for c in x.T])
        return np.block([[joints, cross], [cross.T, (x * g[:, None]).T @ x]])

    def _information(self, g: Floats) -> Floats:
        information = self._products(g)
        if self.columns:
            information[self.rows.n_joints :, self.rows.n_joints :] += self._within[0]
        return information

    def _estimate(self, tau2: float) -> _Estimates:
        rows, free, joints = self.rows, self.free, self.rows.n_joints
        g = 1.0 / (rows.lam + tau2)
        try:
            root = np.linalg.cholesky(self._information(g)[np.ix_(free, free)]).astype(np.float64, copy=False)
        except np.linalg.LinAlgError as error:
            raise BadArms(
                "The variances span too many orders of magnitude to solve the network; look for a v that is "
                "far smaller or larger than the others."
            ) from error
        # numpy's inverse of a matrix of joints by joints: scipy's triangular solvers wake BLAS threads,
        # which on a busy machine costs a hundred times the work
        root_inverse = np.linalg.inv(root)
        inverse: Floats = root_inverse.T @ root_inverse
        right = rows.joint_sums(g * rows.z)
        if self.columns:
            right = np.r_[right, rows.x.T @ (g * rows.z) + self._within[1]]
        beta = np.zeros(self.size)
        beta[free] = inverse @ right[free]
        residual = rows.z - rows.along(beta[:joints])
        q = 0.0
        if self.columns:
            residual -= rows.x @ beta[joints:]
            q = self.within_q(beta)
        q += float(np.sum(g * residual**2))
        return _Estimates(g, root, inverse, beta, residual, q)

    def within_q(self, beta: Floats) -> float:
        """Give the weighted sum of squares of series about their joint's mean in the study.

        Parameters
        ----------
        beta : ndarray, shape (joints + columns,)
            As in `Solution`.

        Returns
        -------
        float
            Free of the between-study variance [-].
        """
        slopes, (xx, xy, yy) = beta[self.rows.n_joints :], self._within
        return yy - 2.0 * float(slopes @ xy) + float(slopes @ xx @ slopes)

    def q(self, tau2: float) -> float:
        """Give the weighted residual sum of squares at one between-study variance.

        Parameters
        ----------
        tau2 : float
            Between-study variance of a log ratio [-], 0 or above.

        Returns
        -------
        float
        """
        return self._estimate(tau2).q

    def solve(self, tau2: float) -> Solution:
        """Solve at one between-study variance.

        Parameters
        ----------
        tau2 : float
            Between-study variance of a log ratio [-], 0 or above.

        Returns
        -------
        Solution
        """
        e = self._estimate(tau2)
        at = np.ix_(self.free, self.free)
        covariance = np.zeros((self.size, self.size))
        covariance[at] = e.inverse
        squares = e.g**2
        if self.columns:
            along = float(np.sum(e.inverse * self._products(squares)[at]))
        else:
            along = self.rows.against_products(squares, covariance)
        log_det = 2.0 * float(np.sum(np.log(np.diag(e.root)))) - float(np.sum(np.log(e.g)))
        trace = float(np.sum(e.g)) - along
        return Solution(
            tau2=tau2,
            beta=e.beta,
            covariance=covariance,
            residual=e.residual,
            q=e.q,
            criterion=log_det + e.q,
            slope=(trace - float(np.sum((e.g * e.residual) ** 2))) / float(np.sum(squares)),
        )

    def scan(self, tau2: Floats) -> list[tuple[float, float]]:
        """Give criterion and slope, as `solve` does, at many between-study variances at once.

        Parameters
        ----------
        tau2 : ndarray, shape (m,)
            Between-study variances of a log ratio [-], 0 or above.

        Returns
        -------
        list of (float, float)
            One pair a variance.
        """
        if self.columns:
            return [((found := self.solve(t)).criterion, found.slope) for t in tau2.tolist()]
        rows, free = self.rows, self.free
        g = 1.0 / (rows.lam[:, None] + tau2)
        information = rows.joint_products_each(g)[:, free][:, :, free]
        try:
            root = np.linalg.cholesky(information)
        except np.linalg.LinAlgError:
            return [((found := self.solve(t)).criterion, found.slope) for t in tau2.tolist()]
        root_inverse = np.linalg.inv(root)
        inverse = root_inverse.transpose(0, 2, 1) @ root_inverse
        right = rows.joint_sums(g * rows.z[:, None])[free]
        beta = np.zeros((rows.n_joints, len(tau2)))
        beta[free] = (inverse @ right.T[:, :, None])[:, :, 0].T
        weighted = g * (rows.z[:, None] - rows.along(beta))
        q = np.sum(weighted**2 / g, axis=0)
        log_det = 2.0 * np.sum(np.log(np.diagonal(root, axis1=1, axis2=2)), axis=1) - np.sum(np.log(g), axis=0)
        covariance = np.zeros((len(tau2), rows.n_joints, rows.n_joints))
        covariance[np.ix_(np.arange(len(tau2)), free, free)] = inverse
        squares = g**2
        trace = np.sum(g, axis=0) - rows.against_products_each(squares, covariance)
        slope = (trace - np.sum(weighted**2, axis=0)) / np.sum(squares, axis=0)
        return list(zip((log_det + q).tolist(), slope.tolist(), strict=True))

    def _refuse_confounded(self) -> None:
        """Refuse a moderator that study levels, joints and earlier moderators already account for."""
        whole = self._information(1.0 / (self.rows.lam + self.scale))
        kept = list(self.free[self.free < self.rows.n_joints])
        for i, name in enumerate(self.columns):
            at = self.rows.n_joints + i
            known = whole[kept, at]
            rest = whole[at, at] - float(known @ np.linalg.solve(whole[np.ix_(kept, kept)], known))
            if rest <= 1e-9 * whole[at, at]:
                raise BadArms(
                    f"The moderator {name} can't be told apart from studies, joints and the other "
                    "moderators; it must vary within studies in a way these do not."
                )
            kept.append(at)
