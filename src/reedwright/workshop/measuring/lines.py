"""Two steady lines so near to each other that only their beating parts them.

Partials cut out of the sound (`partials.Strand`) are fitted with lines whose rates are multiples
of one another, as partials are; amplitudes drop out of the fit (Golub and Pereyra 1973, The
differentiation of pseudo-inverses and nonlinear least squares problems whose variables separate).

Public: `Group`, `Line`, `TwoLines`, `beside`, `both`, `without_swelling`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reedwright.workshop.measuring.partials import Array64, Complex

_FINE = 6  # places looked at for each turn that a line can be told by
_MOST_PLACES = 900  # of the second line, in a search for two
_SHORT_OF = 1e-9


class Group(NamedTuple):
    """Partials 1, 2, 3 … of something, moved to 0 Hz: `values` of shape (partials, times).

    A line of rate r (Hz) stands at r times the number (`numbers`) in each.
    """

    times: Array64
    numbers: Array64
    values: Complex

    @property
    def seconds(self) -> float:
        return float(self.times[-1] - self.times[0])


class Line(NamedTuple):
    """A line beside a steady one: its rate and standard error (Hz), the power that it explains in
    each partial, and the power that was to explain there."""

    rate: float
    error: float
    gains: Array64
    left: Array64


class TwoLines(NamedTuple):
    """Rates of both lines, the standard error of each and of their difference (all Hz), how fast
    both move (Hz a second), the share of power that they leave over, and how strong the weaker
    is (its power against the stronger)."""

    rates: tuple[float, float]
    errors: tuple[float, float]
    apart_error: float
    drift: float
    left: float
    weaker: float


def without_swelling(values: Complex, times: Array64) -> Complex:
    """Each row without what is constant in it, or grows evenly."""
    basis = _even(times)
    left: Complex = values - (values @ basis) @ basis.T
    return left


def _even(times: Array64) -> Array64:
    basis, _ = np.linalg.qr(np.stack([np.ones(len(times)), times - times.mean()], axis=1))
    return np.asarray(basis)


def beside(group: Group, slowest: float, fastest: float) -> Line | None:
    """The line that explains most of what goes on beside a steady line at 0 Hz.

    It is sought from `slowest` to `fastest` (Hz, either side of 0).
    """
    left = without_swelling(group.values, group.times)
    step = 1 / (_FINE * group.seconds * group.numbers.max())
    rates = np.arange(slowest, fastest, step)
    if not len(rates):
        return None
    rates = np.concatenate([-rates[::-1], rates])
    gains = _gains(group, left, rates).sum(axis=0)
    rate = _highest(group, left, float(rates[int(np.argmax(gains))]), step)
    power = np.sum(np.abs(left) ** 2, axis=1)
    gains = _gains(group, left, np.array([rate]))[:, 0]
    model = np.stack(
        [_fit(row, group.times, k * rate) for row, k in zip(left, group.numbers, strict=True)]
    )
    turning = 2j * np.pi * group.numbers[:, None] * (group.times - group.times.mean()) * model
    error = float(_error([turning], left - model)[0, 0] ** 0.5)
    return Line(float(rate), error, gains, power)


def _gains(group: Group, left: Complex, rates: Array64) -> Array64:
    """Power of each row that a line of each rate explains, of shape (rows, rates)."""
    basis = _even(group.times)
    found = np.empty((len(left), len(rates)))
    for row, number, gains in zip(left, group.numbers, found, strict=True):
        line = np.exp(-2j * np.pi * (number * rates)[:, None] * group.times)
        own = len(group.times) - np.sum(np.abs(line @ basis) ** 2, axis=1)
        gains[:] = np.abs(line @ row) ** 2 / np.maximum(own, _SHORT_OF)
    return found


def _highest(group: Group, left: Complex, rate: float, step: float) -> float:
    """The best rate near one, by halving steps of a parabola's."""
    for _ in range(4):
        near = rate + step * np.array([-1.0, 0.0, 1.0])
        low, mid, high = _gains(group, left, near).sum(axis=0)
        bow = low - 2 * mid + high
        if bow < 0:
            rate += step * float(np.clip(0.5 * (low - high) / bow, -1, 1))
        step /= 3
    return rate


def _fit(row: Complex, times: Array64, rate: float) -> Complex:
    """What a line of this rate explains of a row."""
    line = without_swelling(np.exp(2j * np.pi * rate * times)[None, :], times)[0]
    fitted: Complex = line * (np.vdot(line, row) / (np.vdot(line, line).real + _SHORT_OF))
    return fitted


def _error(turnings: list[Complex], rest: Complex) -> Array64:
    """Covariance of rates from how the model turns with each of them, and what it leaves over.

    What is left over hangs together in time: it counts for as much as it repeats itself.
    """
    stacked = np.stack([each.ravel() for each in turnings], axis=1)
    information = np.real(np.conj(stacked).T @ stacked)
    count = rest.shape[1]
    variance = float(np.sum(np.abs(rest) ** 2)) / (rest.size - len(turnings) * len(rest))
    lags = min(count // 4, 2 * int(np.ceil(count**0.5)))
    power = float(np.sum(np.abs(rest) ** 2)) + 1e-30
    together = 1.0
    for lag in range(1, lags + 1):
        alike = float(np.real(np.sum(rest[:, lag:] * np.conj(rest[:, :-lag])))) / power
        together += 2 * (1 - lag / (lags + 1)) * max(0.0, alike)
    found: Array64 = np.linalg.inv(information) * variance / 2 * together
    return found


def both(group: Group, reach: float) -> TwoLines | None:
    """Two lines within `reach` (Hz) of 0, and a drift that they share."""
    from scipy.optimize import least_squares

    seconds, numbers = group.seconds, group.numbers
    start = _two_places(group, reach)
    if start is None:
        return None
    times = group.times - group.times.mean()
    total = float(np.sum(np.abs(group.values) ** 2))
    scale = 1 / seconds

    def model(place: Array64) -> tuple[Complex, Complex]:
        """What both lines explain, and the amplitudes of both in each row."""
        low, high, drift = place * np.array([scale, scale, scale / seconds])
        fitted = np.empty_like(group.values)
        sizes = np.empty((len(numbers), 2), dtype=np.complex128)
        for k, (number, row) in enumerate(zip(numbers, group.values, strict=True)):
            bend = 0.5 * drift * times**2
            lines = np.exp(2j * np.pi * number * (np.outer(times, (low, high)) + bend[:, None]))
            sizes[k], *_ = np.linalg.lstsq(lines, row, rcond=1e-6)
            fitted[k] = lines @ sizes[k]
        return fitted, sizes

    def off(place: Array64) -> Array64:
        rest = (group.values - model(place)[0]).ravel()
        return np.concatenate([rest.real, rest.imag])

    begin = np.array([start[0] / scale, start[1] / scale, 0.0])
    found = least_squares(off, begin, method="lm", xtol=1e-10, ftol=1e-12, max_nfev=200)
    fitted, sizes = model(found.x)
    rest = group.values - fitted
    count = rest.size
    turning = found.jac[:count] + 1j * found.jac[count:]
    covariance = _error([turning[:, k].reshape(rest.shape) for k in range(3)], rest) * np.outer(
        [scale, scale, scale / seconds], [scale, scale, scale / seconds]
    )
    low, high = float(found.x[0]) * scale, float(found.x[1]) * scale
    difference = covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1]
    strengths = np.sum(np.abs(sizes) ** 2, axis=0)
    return TwoLines(
        (low, high),
        (float(covariance[0, 0] ** 0.5), float(covariance[1, 1] ** 0.5)),
        float(max(0.0, difference) ** 0.5),
        float(found.x[2]) * scale / seconds,
        float(np.sum(np.abs(rest) ** 2)) / total,
        float(strengths.min() / strengths.max()),
    )


def _two_places(group: Group, reach: float) -> tuple[float, float] | None:
    """Where two lines explain most, on a grid: one near the strongest place, one anywhere."""
    few = group.numbers <= 3
    values, numbers = group.values[few], group.numbers[few]
    times = group.times - group.times.mean()
    seconds = group.seconds
    step = max(1 / (4 * seconds * numbers.max()), 2 * reach / _MOST_PLACES)
    rates = np.arange(-reach, reach + step / 2, step)
    if len(rates) < 3:
        return None
    lines = np.stack([np.exp(-2j * np.pi * k * np.outer(rates, times)) for k in numbers])
    inner = np.einsum("krt,kt->kr", lines, values)
    best = rates[int(np.argmax(np.sum(np.abs(inner) ** 2, axis=0)))]
    near = np.flatnonzero(np.abs(rates - best) <= 1.5 / seconds)
    explained = np.zeros((len(near), len(rates)))
    for k, number in enumerate(numbers):
        apart = rates[None, :] - rates[near][:, None]
        alike = np.sinc(number * apart * seconds)
        one, other = inner[k, near][:, None], inner[k][None, :]
        cross = np.real(one * np.conj(other)) * alike
        explained += (np.abs(one) ** 2 + np.abs(other) ** 2 - 2 * cross) / np.maximum(
            1 - alike**2, 0.05
        )
    explained[np.abs(rates[None, :] - rates[near][:, None]) < 0.4 / (seconds * numbers.max())] = 0
    row, column = np.unravel_index(int(np.argmax(explained)), explained.shape)
    return float(rates[near[row]]), float(rates[column])
