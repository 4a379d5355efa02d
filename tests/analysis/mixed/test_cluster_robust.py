"""CR2 against clubSandwich, its defining property, and matrices written out; see tests/reference/cluster_robust."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.mixed.cluster_robust import ClusterRobust, cluster_robust
from analysis.mixed.model import NoFit

CASES = ["sleepstudy_unbalanced", "brews", "brews_each_coffee"]
CLUSTERS = np.repeat(np.arange(5), [7, 3, 5, 4, 2])


def _case(table, case: str):
    rows = table(f"cluster_robust/{case}.csv")
    x = np.column_stack([np.ones(rows.height), rows.drop("y", "cluster").to_numpy()])
    return rows["y"].to_numpy().astype(float), x, rows["cluster"].to_numpy()


def _small():
    rng = np.random.default_rng(6)
    x = np.column_stack([np.ones(CLUSTERS.size), rng.normal(size=CLUSTERS.size), rng.normal(size=5)[CLUSTERS]])
    return x @ [20, 0.4, 0.0] + rng.normal(size=5)[CLUSTERS] + rng.normal(size=CLUSTERS.size), x


@pytest.mark.parametrize("case", CASES)
def test_as_clubsandwich(table, case):
    numbers = table("cluster_robust/expected.csv").filter(case=case)
    found = cluster_robust(*_case(table, case))

    assert isinstance(found, ClusterRobust)
    for quantity, value in (("estimate", found.estimate), ("std_error", found.std_error), ("df", found.df)):
        assert value == pytest.approx(numbers.filter(quantity=quantity)["value"].to_numpy(), rel=1e-6)
    due = numbers.filter(quantity="p_value")["value"].to_numpy()
    for k, p_value in enumerate(due):
        assert found.refused(k) == (found.df[k] < 4)
        assert found.p_value(k) == (None if found.refused(k) else pytest.approx(p_value, rel=1e-6))


def test_matrices_written_out():
    """Pustejovsky and Tipton (2018): V = M sum X_g'A_g e_g e_g'A_g X_g M; df = tr(O)^2 / tr(O^2), O = p_g'p_h."""
    y, x = _small()
    n, p = x.shape
    m = np.linalg.inv(x.T @ x)
    i_h = np.eye(n) - x @ m @ x.T
    e = i_h @ y
    v, vectors = np.zeros((p, p)), []
    for own in np.split(np.arange(n), [7, 10, 15, 19]):
        weights, axes = np.linalg.eigh(i_h[np.ix_(own, own)])
        root = axes @ np.diag(weights**-0.5) @ axes.T
        side = m @ x[own].T @ root
        v += side @ np.outer(e[own], e[own]) @ side.T
        vectors.append(side @ i_h[own])
    found = cluster_robust(y, x, CLUSTERS)

    assert found.covariance == pytest.approx(v, rel=1e-9)
    for k in range(p):
        o = np.array([[a[k] @ b[k] for b in vectors] for a in vectors])
        assert found.df[k] == pytest.approx(np.trace(o) ** 2 / np.sum(o * o), rel=1e-9)


def test_unbiased_where_errors_are_equal_and_independent():
    """The property CR2 is made for (Bell and McCaffrey 2002): its mean over all y is sigma^2 (x'x)^-1."""
    _, x = _small()
    i_h = np.eye(CLUSTERS.size) - x @ np.linalg.solve(x.T @ x, x.T)
    each = [cluster_robust(column, x, CLUSTERS).covariance for column in i_h]

    assert sum(each) == pytest.approx(np.linalg.inv(x.T @ x), rel=1e-8, abs=1e-12)


def test_a_mean_of_equal_clusters_is_the_mean_of_cluster_means():
    """Balanced: variance of the mean = variance of the G means / G, with exactly G - 1 degrees of freedom."""
    rng = np.random.default_rng(3)
    y = rng.normal(size=(6, 4)) + rng.normal(size=(6, 1))
    found = cluster_robust(y.ravel(), np.ones((24, 1)), np.repeat(np.arange(6), 4))

    assert found.std_error[0] == pytest.approx(stats.sem(y.mean(axis=1)))
    assert found.df[0] == pytest.approx(5)
    assert found.p_value(0) == pytest.approx(stats.ttest_1samp(y.mean(axis=1), 0).pvalue)
    assert found.half_width(0) == pytest.approx(stats.t.ppf(0.975, 5) * stats.sem(y.mean(axis=1)))
    assert found.n_clusters == 6


def test_units_order_and_names_do_not_matter():
    y, x = _small()
    rows, names, width = (
        np.random.default_rng(1).permutation(y.size),
        np.array([9, 2, 7, 4, 0]),
        np.array([1, 1e5, 1e-4]),
    )
    plain, moved = (
        cluster_robust(y, x, CLUSTERS),
        cluster_robust(100 * y[rows], (x * width)[rows], names[CLUSTERS][rows]),
    )

    assert moved.estimate * width / 100 == pytest.approx(plain.estimate, rel=1e-9)
    assert moved.std_error * width / 100 == pytest.approx(plain.std_error, rel=1e-9)
    assert moved.df == pytest.approx(plain.df, rel=1e-9)


def test_too_few_degrees_of_freedom_are_refused():
    y, x = _small()
    found = cluster_robust(y, x, CLUSTERS)

    assert found.df[2] < 4
    assert found.refused(2)
    assert found.p_value(2) is None
    assert found.half_width(2) is None


def test_a_column_only_one_cluster_has_is_refused():
    y, x = _small()
    found = cluster_robust(y, np.column_stack([x[:, :2], CLUSTERS == 4]), CLUSTERS)

    assert found.refused(2)


@pytest.mark.parametrize(
    ("x", "clusters", "said"),
    [
        (np.ones((21, 1)), 0 * CLUSTERS, "only one cluster"),
        (np.column_stack([np.ones(21), np.ones(21)]), CLUSTERS, "cannot be told apart"),
        (np.column_stack([np.ones(21), np.zeros(21)]), CLUSTERS, "cannot be told apart"),
        (np.eye(21), CLUSTERS, "21 brews for 21 terms"),
    ],
)
def test_refused_in_words(x, clusters, said):
    found = cluster_robust(_small()[0], x, clusters)

    assert isinstance(found, NoFit)
    assert said in found.reason
