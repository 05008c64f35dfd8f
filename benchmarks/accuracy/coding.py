"""From mixed columns to the numeric arrays that the peers need, learned from training rows only."""

from __future__ import annotations

import numpy as np
import pandas as pd

# A column counts as skewed from here, if its log is less skewed: a common rule of thumb, no source.
SKEWED = 0.75


class Coding:
    """Numbers as they are, dates in years, flags 0 and 1, ordinals as whole steps, nominals one column per level.

    Missing cells become the training median (of an ordinal's steps likewise), an unseen nominal level a row of zeros,
    and every column is brought to training mean 0 and standard deviation 1. Columns constant in training are dropped.

    Parameters
    ----------
    roles : dict of str to str
        Role of each column.
    logs : bool
        Take the log of inputs with role number, smooth or count whose training values are skewed by more than 0.75
        and whose log is less skewed; ``log(1 + x)`` where zeros occur.
    """

    def __init__(self, roles: dict[str, str], *, logs: bool = False) -> None:
        self.roles = roles
        self.logs = logs

    def fit(self, frame: pd.DataFrame) -> Coding:
        """Learn levels, medians, logs, means and deviations from the training rows."""
        self._levels = {
            name: sorted(frame[name].dropna().unique()) for name, role in self.roles.items() if role == "nominal"
        }
        self._log = {
            name: kind
            for name, role in self.roles.items()
            if self.logs and role in {"number", "smooth", "count"} and (kind := _log_kind(frame[name]))
        }
        self._floor = {name: frame[name][frame[name] > 0].min() / 2 for name in self._log}
        raw = self._raw(frame)
        with np.errstate(all="ignore"):
            medians = np.array([np.median(c[~np.isnan(c)]) if (~np.isnan(c)).any() else 0.0 for c in raw.T])
        filled = np.where(np.isnan(raw), medians, raw)
        self._medians, self._mean, self._deviation = medians, filled.mean(axis=0), filled.std(axis=0)
        self._kept = self._deviation > 1e-12
        return self

    def transform(self, frame: pd.DataFrame) -> np.ndarray:
        """Code rows in the learned way; shape (rows, columns)."""
        raw = self._raw(frame)
        filled = np.where(np.isnan(raw), self._medians, raw)
        return ((filled - self._mean)[:, self._kept]) / self._deviation[self._kept]

    def _raw(self, frame: pd.DataFrame) -> np.ndarray:
        parts = []
        for name, role in self.roles.items():
            column = frame[name]
            if role == "nominal":
                parts += [(column == level).to_numpy(float) for level in self._levels[name]]
            elif role == "ordinal":
                steps = column.cat.codes.to_numpy(float)
                parts.append(np.where(steps < 0, np.nan, steps))
            elif role == "date":
                parts.append((column - pd.Timestamp("2000-01-01")).dt.days.to_numpy(float) / 365.25)
            else:
                parts.append(self._logged(name, column.to_numpy(float)))
        return np.column_stack(parts)

    def _logged(self, name: str, values: np.ndarray) -> np.ndarray:
        kind = self._log.get(name)
        if kind == "log":
            # A test row may hold a zero where no training row did; half the smallest value stands for it.
            return np.log(np.maximum(values, self._floor[name]))
        if kind == "log1p":
            return np.log1p(np.maximum(values, 0))
        return values


def _log_kind(column: pd.Series) -> str:
    """'log', 'log1p' or '' for one training column."""
    values = column.dropna().to_numpy(float)
    if len(values) < 3 or values.min() < 0 or values.max() <= 0 or values.std() == 0:
        return ""
    kind = "log" if values.min() > 0 else "log1p"
    logged = np.log(values) if kind == "log" else np.log1p(values)
    return kind if _skewness(values) > SKEWED and abs(_skewness(logged)) < abs(_skewness(values)) else ""


def _skewness(values: np.ndarray) -> float:
    centred = values - values.mean()
    return float(np.mean(centred**3) / np.mean(centred**2) ** 1.5)
