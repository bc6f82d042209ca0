"""A small plot in text: what the tower carries and what the heat drives against tank temperature."""

from __future__ import annotations

import itertools

ROWS = 11
COLUMNS = 60
MARGIN = 8
TOWER, HEAT, HERE, DUTY = "/", "=", "X", "."


def rate_plot(title: str, points: list[tuple[float, float, float]], here: tuple[float, float], duty: float) -> str:
    """Plot (temperature, tower carries, heat drives) in shown units, the operating point and the duty."""
    temperatures = [point[0] for point in points]
    low, high = min(temperatures), max(temperatures)
    most = 1.15 * max(max(point[2] for point in points), here[1], duty)
    grid = [[" "] * COLUMNS for _ in range(ROWS)]

    def put(temperature: float, rate: float, mark: str) -> None:
        column = round((temperature - low) / (high - low) * (COLUMNS - 1))
        row = ROWS - 1 - round(rate / most * (ROWS - 1))
        if 0 <= row < ROWS and 0 <= column < COLUMNS:
            grid[row][column] = mark

    for column in range(COLUMNS):
        temperature = low + (high - low) * column / (COLUMNS - 1)
        put(temperature, duty, DUTY)
        put(temperature, _between(points, temperature, 2), HEAT)
        put(temperature, _between(points, temperature, 1), TOWER)
    put(*here, HERE)
    lines = [title]
    for index, row in enumerate(grid):
        rate = most * (ROWS - 1 - index) / (ROWS - 1)
        label = f"{rate:>{MARGIN - 2}.0f}" if index % 2 == 0 else " " * (MARGIN - 2)
        lines.append(f"{label} |{''.join(row)}".rstrip())
    lines.append(" " * (MARGIN - 1) + "+" + "-" * COLUMNS)
    ends = f"{low:.0f}".ljust(COLUMNS // 2 - 2) + f"{0.5 * (low + high):.0f}".ljust(COLUMNS // 2 - 1) + f"{high:.0f}"
    lines.append(" " * MARGIN + ends)
    lines.append(f"{' ' * MARGIN}{TOWER} tower carries   {HEAT} heat drives   {DUTY} duty   {HERE} settles here")
    return "\n".join(lines)


def _between(points: list[tuple[float, float, float]], temperature: float, index: int) -> float:
    for left, right in itertools.pairwise(points):
        if left[0] <= temperature <= right[0] + 1e-9:
            share = (temperature - left[0]) / (right[0] - left[0])
            return left[index] + share * (right[index] - left[index])
    return points[-1][index]
