"""Reading a logger's file: what it holds, said in full before anything of it is kept.

``understand`` gives every channel with its unit, span, gaps and what looks wrong with it. Values
that stand for a broken or open sensor become gaps, never numbers. Law: a doubt is a note beside
the channel; nothing is mended silently.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import re
from collections.abc import Generator, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from facility.calc.units import pretty_unit
from facility.loggers.layout import (
    DELIMITERS,
    GAPS,
    Layout,
    NotUnderstood,
    decoded,
    is_number,
    layout_of,
    rows_of,
)
from facility.loggers.meaning import TIME_UNITS, Meaning, meaning_of
from facility.loggers.plain import plain_table
from facility.loggers.times import clock_seconds, looks_like_clock

Floats = npt.NDArray[np.float64]

MOST_BYTES = 200_000_000
MOST_CHANNELS = 1000
# What loggers write for "no reading": common practice, no source.
SENTINELS = (-9999.0, -999.0, -99999.0, 9999.0, 99999.0, 1e30, -1e30, 9.9e37)
SMALLEST_SENTINEL = min(map(abs, SENTINELS))
# Outside this no thermocouple of types K and N reads: common practice, no source.
TEMPERATURE_C = (-200.0, 1372.0)
_TIME = re.compile(r"^\W*(time|elapsed|seconds?|sec|t|timestamp|date|clock|zeit|tid|temps)\b", re.I)


@dataclass(frozen=True, slots=True)
class Channel:
    """One column. ``values`` are in ``meaning.kept_in``, NaN where there is a gap."""

    name: str
    description: str
    column: int  # counted from 1
    meaning: Meaning
    values: Floats
    notes: tuple[str, ...]

    @property
    def gaps(self) -> int:
        return int(np.count_nonzero(~np.isfinite(self.values)))

    @property
    def span(self) -> tuple[float, float] | None:
        """Lowest and highest value; None when nothing was recorded."""
        known = self.values[np.isfinite(self.values)]
        return (float(known.min()), float(known.max())) if known.size else None


@dataclass(frozen=True, slots=True)
class TimeGap:
    """A step in time much longer than the usual one, both in seconds from the first row."""

    since: float
    until: float


@dataclass(frozen=True, slots=True)
class Understood:
    """A file as read. ``seconds`` [s] has one value per row, as the file counts them."""

    name: str
    sha256: str
    layout: Layout
    seconds: Floats
    begun: dt.datetime | None
    time_column: str
    step_s: float
    gaps: tuple[TimeGap, ...]
    channels: tuple[Channel, ...]
    notes: tuple[str, ...] = field(default=())

    @property
    def rows(self) -> int:
        return len(self.seconds)

    @property
    def last_s(self) -> float:
        return float(self.seconds[-1])

    @property
    def span_s(self) -> float:
        return float(self.seconds[-1] - self.seconds[0])


def understand(data: bytes, name: str = "") -> Understood:
    """Read a whole file; see ``reading``."""
    steps = reading(data, name)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            found: Understood = done.value
            return found


def reading(data: bytes, name: str = "") -> Generator[float, None, Understood]:
    """Read a whole file, giving now and then the share of it that is read, and at last what it holds.

    Raises
    ------
    NotUnderstood
        when it is empty, too large, no text, has no numbers, or no column that could be its time.
    """
    if len(data) > MOST_BYTES:
        raise NotUnderstood(f"{len(data)} bytes; at most {MOST_BYTES} are read")
    text, encoding = decoded(data)
    layout = layout_of(text, encoding)
    if len(layout.names) > MOST_CHANNELS:
        raise NotUnderstood(f"{len(layout.names)} columns; at most {MOST_CHANNELS} are read")
    table = yield from _table(text, layout)
    seconds, begun, time_column, notes = _times(table, layout)
    kept = np.isfinite(seconds)
    if not kept.all():
        notes.append(f"{int((~kept).sum())} rows without a time were left out")
    if kept.sum() < 2:
        raise NotUnderstood(f"column {time_column} holds fewer than two times")
    seconds, numbers = seconds[kept], table.numbers[kept]
    order = np.argsort(seconds, kind="stable")
    if (np.diff(seconds) < 0).any():
        notes.append("times go back; the rows were put in order of time")
        seconds, numbers = seconds[order], numbers[order]
    if (np.diff(seconds) == 0).any():
        notes.append(f"{int((np.diff(seconds) == 0).sum())} rows repeat the time before them")
    step, gaps = _steps(seconds, notes)
    channels = [
        _channel(layout, column, numbers[:, column])
        for column in range(numbers.shape[1])
        if column not in table.words and layout.names[column] not in table.time_columns
    ]
    channels = _compared(channels)
    assumed = sum(each.meaning.assumed for each in channels)
    if assumed:
        notes.append(f"the file gives {assumed} channels no unit; theirs is told by the heading")
    if not channels:
        raise NotUnderstood("no column holds numbers beside the time")
    return Understood(
        name, hashlib.sha256(data).hexdigest(), layout, seconds, begun, time_column, step, gaps,
        tuple(channels), (*table.notes, *notes),
    )  # fmt: skip


@dataclass(slots=True)
class _Table:
    """``numbers`` is rows by columns, NaN where a cell is no number; ``words`` the other columns."""

    numbers: Floats
    words: dict[int, list[str]]
    notes: list[str]
    time_columns: set[str] = field(default_factory=set)


def _table(text: str, layout: Layout) -> Generator[float, None, _Table]:
    body, notes = _body(text, layout), []
    last = body.rstrip("\n").rfind("\n") + 1
    first = body[: body.find("\n")] if "\n" in body else body
    if (
        last
        and not body.endswith("\n")
        and _marks_in(body[last:], layout) < _marks_in(first, layout)
    ):
        notes.append("the last line breaks off and was left out")
        body = body[:last]
    if not first.strip():
        raise NotUnderstood("no row of numbers after the headings")
    cells = rows_of(first, layout.delimiter)[0]
    words = [at for at, cell in enumerate(cells) if _is_word(cell, layout)]
    quick = yield from _quickly(body, layout, len(cells), words)
    if quick is not None:
        return _Table(*quick, notes)
    return _row_by_row(body, layout, words, notes)


def _body(text: str, layout: Layout) -> str:
    """The lines of data, without empty ones between them."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    at = 0
    for _row in range(layout.header_rows):
        at = text.find("\n", at) + 1
    body = text[at:].lstrip("\n")
    if "\n\n" in body:
        body = "\n".join(line for line in body.split("\n") if line.strip()) + "\n"
    return body


def _marks_in(line: str, layout: Layout) -> int:
    return line.count(layout.delimiter)


def _is_word(cell: str, layout: Layout) -> bool:
    cell = cell.strip()
    return bool(cell) and cell.lower() not in GAPS and not is_number(cell, layout.decimal)


def _quickly(
    body: str, layout: Layout, width: int, words: list[int]
) -> Generator[float, None, tuple[Floats, dict[int, list[str]]] | None]:
    """The table by way of numpy; None where a cell or a row is not as the first one is."""
    mark = layout.delimiter
    rows = body.count("\n") + (not body.endswith("\n"))
    if width != len(layout.names) or body.count(mark) != rows * (width - 1) or '"' in body:
        return None
    texts: dict[int, list[str]] = {at: [] for at in words}
    for line in body.split("\n", rows - 1) if words else ():
        cells = line.split(mark, words[-1] + 1)
        for at in words:
            texts[at].append(cells[at])
    columns = [at for at in range(width) if at not in words]
    parts = []
    try:
        for part, share in _stretches(body):
            if layout.decimal == ",":
                part = part.replace(",", ".")
            quick = None if words else plain_table(part, mark, width)
            parts.append(_by_numpy(part, mark, columns) if quick is None else quick)
            yield share
        numbers = np.concatenate(parts)
    except ValueError:
        return None
    if not words:
        return numbers, texts
    whole = np.full((rows, width), np.nan)
    whole[:, columns] = numbers
    return whole, texts


STRETCH = 400_000  # characters read between two tellings of how far it is


def _stretches(body: str) -> Generator[tuple[str, float]]:
    """Whole lines, so many at a time, with the share of the text that lies behind them."""
    start = 0
    while start < len(body):
        end = body.find("\n", start + STRETCH) + 1 or len(body)
        yield body[start:end], end / len(body)
        start = end


def _by_numpy(part: str, mark: str, columns: list[int]) -> Floats:
    return np.loadtxt(
        io.StringIO(_filled(part, mark)), delimiter=mark, comments=None, ndmin=2, usecols=columns
    )


def _filled(body: str, mark: str) -> str:
    """The lines with nan in their empty cells."""
    while mark + mark in body:
        body = body.replace(mark + mark, f"{mark}nan{mark}")
    if mark + "\n" in body or body.endswith(mark):
        body = (body + "\n").replace(mark + "\n", f"{mark}nan\n")
    if "\n" + mark in body or body.startswith(mark):
        body = ("\n" + body).replace("\n" + mark, f"\nnan{mark}")[1:]
    return body


def _row_by_row(body: str, layout: Layout, words: list[int], notes: list[str]) -> _Table:
    """The table cell by cell: ragged rows, words among the numbers, quotes."""
    rows = rows_of(body, layout.delimiter)
    width = max(max(len(row) for row in rows), len(layout.names))
    changed = next((at for at, row in enumerate(rows) if len(row) != len(rows[0])), None)
    if changed is not None:
        notes.append(
            f"line {layout.header_rows + changed + 1} has {len(rows[changed])} columns instead of "
            f"{len(rows[0])}; missing ones are gaps"
        )
    if width > MOST_CHANNELS:
        raise NotUnderstood(f"{width} columns; at most {MOST_CHANNELS} are read")
    numbers = np.full((len(rows), width), np.nan)
    unread: dict[int, int] = {}
    for at, row in enumerate(rows):
        for column, cell in enumerate(row):
            cell = cell.strip()
            if layout.decimal == ",":
                cell = cell.replace(",", ".")
            try:
                numbers[at, column] = float(cell)
            except ValueError:
                if cell and cell.lower() not in GAPS and column not in words:
                    unread[column] = unread.get(column, 0) + 1
    texts = {at: [row[at] if at < len(row) else "" for row in rows] for at in words}
    for column, count in list(unread.items())[:5]:
        heading = layout.names[column] if column < len(layout.names) else f"column {column + 1}"
        notes.append(f"{heading}: {count} cells are neither numbers nor empty; they are gaps")
    return _Table(numbers, texts, notes)


def _times(table: _Table, layout: Layout) -> tuple[Floats, dt.datetime | None, str, list[str]]:
    """Seconds of each row, when the first one was, the column they come from, and notes."""
    notes: list[str] = []
    clocks = {
        at: clock_seconds(cells)
        for at, cells in table.words.items()
        if looks_like_clock(next((cell for cell in cells if cell.strip()), ""))
    }
    table.time_columns = {layout.names[at] for at in clocks if at < len(layout.names)}
    begun = next((moment for _seconds, moment in clocks.values() if moment is not None), None)
    counted = _counted_time(table.numbers, layout)
    if counted is not None:
        unit = layout.units[counted]
        factor = TIME_UNITS.get(unit or "s", 1.0)
        if unit not in TIME_UNITS:
            notes.append(f"{layout.names[counted]} has no unit; seconds were assumed")
        table.time_columns.add(layout.names[counted])
        return table.numbers[:, counted] * factor, begun, layout.names[counted], notes
    if not clocks:
        raise NotUnderstood("no column could be the time: none is named so or counts up")
    at = max(clocks, key=lambda each: int(np.isfinite(clocks[each][0]).sum()))
    if begun is None:
        notes.append(f"{layout.names[at]} tells no date, or one that could be read two ways")
    return clocks[at][0], begun, layout.names[at], notes


def _counted_time(numbers: Floats, layout: Layout) -> int | None:
    """The column of counted time: named so, or the first one that only ever goes up."""
    named = [
        at for at, name in enumerate(layout.names[: numbers.shape[1]])
        if (_TIME.match(name) or layout.units[at] in TIME_UNITS) and _rises(numbers[:, at])
    ]  # fmt: skip
    if named:
        return named[0]
    return 0 if _rises(numbers[:, 0], strictly=True) else None


def _rises(values: Floats, *, strictly: bool = False) -> bool:
    known = values[np.isfinite(values)]
    if known.size < 2 or 2 * known.size < values.size:
        return False
    steps = np.diff(known)
    return bool((steps > 0).all() if strictly else (steps >= 0).mean() > 0.9 and steps.any())


def _steps(seconds: Floats, notes: list[str]) -> tuple[float, tuple[TimeGap, ...]]:
    """The usual step between rows [s], and where rows are missing."""
    steps = np.diff(seconds)
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    if not step:
        raise NotUnderstood("the time never moves on")
    far = np.flatnonzero(steps > 2.5 * step)
    gaps = tuple(TimeGap(float(seconds[at]), float(seconds[at + 1])) for at in far)
    halves = [np.median(part[part > 0]) for part in np.array_split(steps, 2) if (part > 0).any()]
    if len(halves) == 2 and not 0.8 < halves[1] / halves[0] < 1.25:
        notes.append(f"the step changes from {halves[0]:g} s to {halves[1]:g} s")
    return step, gaps


def _channel(layout: Layout, column: int, values: Floats) -> Channel:
    """A channel in the unit it is kept in."""
    known = column < len(layout.names)
    name = layout.names[column] if known else f"column {column + 1}"
    description = layout.descriptions[column] if known else ""
    meaning = meaning_of(name, description, layout.units[column] if known else None)
    notes = []
    broken = _stands_for_none(values)
    if broken.any():
        notes.append(
            f"{int(broken.sum())} values such as {values[broken][0]:g} stand for no reading"
        )
        values = np.where(broken, np.nan, values)
    if meaning.unit and meaning.unit != meaning.kept_in:
        slope = meaning.kept(1.0) - meaning.kept(0.0)
        values = values * slope + meaning.kept(0.0)
    if meaning.quantity == "temperature":
        low, high = TEMPERATURE_C
        outside = (values < low) | (values > high)
        if outside.any():
            notes.append(
                f"{int(outside.sum())} values beyond {low:g} to {high:g} \N{DEGREE SIGN}C are gaps: sensor open?"
            )
            values = np.where(outside, np.nan, values)
    finite = values[np.isfinite(values)]
    if not finite.size:
        notes.append("nothing recorded")
    elif len(finite) > 10 and np.ptp(finite) == 0:
        notes.append(f"stands at {finite[0]:g} throughout: not connected?")
    return Channel(name, description, column + 1, meaning, values, tuple(notes))


def _stands_for_none(values: Floats) -> npt.NDArray[np.bool_]:
    far = np.abs(values) >= SMALLEST_SENTINEL  # most channels hold nothing near one
    return np.isin(values, SENTINELS) if far.any() else far


KELVIN_APART, APART_BY = 273.15, 60.0


def _compared(channels: Sequence[Channel]) -> list[Channel]:
    """Channels with a note where a temperature starts a whole 273 away from the others."""
    starts = {
        at: float(known[0])
        for at, each in enumerate(channels)
        if each.meaning.quantity == "temperature"
        and (known := each.values[np.isfinite(each.values)]).size
    }
    if len(starts) < 3:
        return list(channels)
    usual = float(np.median(list(starts.values())))
    told = list(channels)
    for at, start in starts.items():
        if abs(abs(start - usual) - KELVIN_APART) < APART_BY:
            each = channels[at]
            note = f"starts {start - usual:+.0f} \N{DEGREE SIGN}C from the others: kelvin and Celsius mixed up?"
            told[at] = Channel(each.name, each.description, each.column, each.meaning, each.values,
                               (*each.notes, note))  # fmt: skip
    return told


def said(found: Understood) -> list[str]:
    """What was understood, in lines of plain text."""
    layout = found.layout
    lines = [
        f"{found.name}: {found.rows} rows, {found.step_s:g} s apart, "
        f"{found.seconds[0]:g} to {found.seconds[-1]:g} s ({_span(found.span_s)})",
        f"layout: {DELIMITERS[layout.delimiter]}-separated, decimal "
        f"{'comma' if layout.decimal == ',' else 'point'}, {layout.header_rows} header rows, "
        f"{'units in row ' + str(layout.unit_row) if layout.unit_row else 'no row of units'}, "
        f"{layout.encoding}",
        f"time: {found.time_column}"
        + (f", begun {found.begun:%Y-%m-%d %H:%M:%S} by the logger's clock" if found.begun else ""),
        f"sha256: {found.sha256}",
    ]
    lines += [f"no rows from {gap.since:g} to {gap.until:g} s" for gap in found.gaps[:20]]
    lines += [f"note: {note}" for note in found.notes]
    lines.append(f"{len(found.channels)} channels:")
    wide = max(len(each.name) for each in found.channels)
    for each in found.channels:
        span = each.span
        low_high = f"{span[0]:.6g} to {span[1]:.6g}" if span else "nothing"
        what = each.meaning.quantity or "not known"
        unit = pretty_unit(each.meaning.kept_in) or "no unit"
        told = " (told by the heading)" if each.meaning.assumed else ""
        gaps = f", {each.gaps} gaps" if each.gaps else ""
        notes = f"  [{'; '.join(each.notes)}]" if each.notes else ""
        lines.append(f"  {each.name:<{wide}}  {what}, {unit}{told}: {low_high}{gaps}{notes}")
    return lines


def _span(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min {rest} s" if hours else f"{minutes} min {rest} s"
