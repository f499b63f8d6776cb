"""Band curves beside SciPy's PchipInterpolator, on random rising data sets.

The data sets are made anew in every run, from a fixed seed, and evaluated by the example `evaluate_curves`, whose path is in
RUNGWISE_CURVES (`tests/all` sets it). A curve must give SciPy's force and its integral to 1e-9 relative, and the elongation
that it finds for a force must have that force on SciPy's curve.
"""

import json
import os
import random
import subprocess

import numpy
import pytest
from scipy.interpolate import CubicSpline, PchipInterpolator

SEED = 20260105
SETS = 400
VALUES_PER_SET = 60
RELATIVE_MAX = 1e-9


def log_uniform(rng, low, high):
    return max(low, min(high, round(low * (high / low) ** rng.random())))


def readings(rng):
    """Rising readings in any order: (thousandths of a percent, thousandths of a newton), some elongations read again."""
    manner = rng.choice(["even", "wild", "kneed", "affine"])
    count = rng.randint(2, 40)
    elongation = force = 0
    knots = []
    for index in range(count):
        if manner == "even":
            width, rise = rng.randint(15_000, 25_000), rng.randint(1_000, 5_000)
        elif manner == "wild":
            width, rise = log_uniform(rng, 1, 25_000), log_uniform(rng, 1, 50_000)
        elif manner == "kneed":
            width, rise = 20_000, 40 if index % 7 < 4 else 30_000
        else:
            width, rise = 10_000, 2_500
        elongation += width
        force += rise
        knots.append((elongation, force))
    taken = [(0, 0)] if rng.random() < 0.5 else []
    for elongation, force in knots:
        spread = rng.choice([0, 0, 0, 1]) * rng.randint(0, min(force, 900))
        taken += [(elongation, force)] if spread == 0 else [(elongation, force - spread), (elongation, force + spread)]
    rng.shuffle(taken)
    return knots, taken


@pytest.fixture(scope="module")
def sets():
    """Each data set with SciPy's two coordinates of its knots and what our curve gives."""
    rng = random.Random(SEED)
    made, asked = [], []
    for _ in range(SETS):
        knots, taken = readings(rng)
        last, most = knots[-1]
        at = [rng.randint(0, last) for _ in range(VALUES_PER_SET)] + [0] + [knot[0] for knot in knots]
        forces = [rng.randint(0, most) / 1000 for _ in range(VALUES_PER_SET)] + [knot[1] / 1000 for knot in knots]
        asked.append({"readings": taken, "at_mpct": at, "for_n": forces})
        x = numpy.array([0] + [knot[0] for knot in knots]) / 100_000
        y = numpy.array([0] + [knot[1] for knot in knots]) / 1000
        made.append((x, y, numpy.array(at) / 100_000, numpy.array(forces)))
    path = os.environ.get("RUNGWISE_CURVES")
    assert path, "RUNGWISE_CURVES is not set; run `tests/all build python`"
    said = subprocess.run([path], input=json.dumps(asked), capture_output=True, text=True, timeout=60)
    assert said.returncode == 0, said.stderr
    found = json.loads(said.stdout)
    assert len(found) == SETS
    return [(*one, {key: numpy.array(values, dtype=float) for key, values in given.items()}) for one, given in zip(made, found)]


def worst(pairs):
    """The greatest relative difference; not a number (a `null` of ours) counts as infinite."""
    greatest = 0.0
    for ours, theirs in pairs:
        assert ours.shape == theirs.shape and ours.size > 0
        size = numpy.abs(theirs)
        off = numpy.abs(ours - theirs) / numpy.where(size == 0, 1e-300, size)
        greatest = max(greatest, float(numpy.nan_to_num(off, nan=numpy.inf).max()))
    return greatest


def test_sets_are_many_and_differ(sets):
    assert len(sets) >= 200
    assert len({tuple(x) + tuple(y) for x, y, *_ in sets}) >= 200
    assert {len(x) for x, *_ in sets} >= set(range(3, 42, 4)), "from three knots to many"


def test_forces_are_those_of_scipy(sets, capsys):
    found = worst((ours["force_n"], PchipInterpolator(x, y)(at)) for x, y, at, _, ours in sets)
    with capsys.disabled():
        values = sum(len(at) for _, _, at, _, _ in sets)
        print(f"\ncurves: {len(sets)} sets, {values} forces, at worst {found:.2g} relative from SciPy")
    assert found <= RELATIVE_MAX


def test_integrals_are_those_of_scipy(sets):
    pairs = ((ours["energy_j_per_m"], PchipInterpolator(x, y).antiderivative()(at)) for x, y, at, _, ours in sets)
    assert worst(pairs) <= RELATIVE_MAX


def test_elongation_found_has_the_force_on_scipys_curve(sets):
    pairs = ((PchipInterpolator(x, y)(ours["elongation"]), forces) for x, y, _, forces, ours in sets)
    assert worst(pairs) <= RELATIVE_MAX


def test_canary_another_spline_is_told_apart(sets):
    """Where this passes with a wrong curve, the comparison above sees nothing."""
    other = [worst([(ours["force_n"], CubicSpline(x, y)(at))]) for x, y, at, _, ours in sets]
    assert sum(one > RELATIVE_MAX for one in other) >= SETS // 2
