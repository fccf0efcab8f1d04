"""Native charts over the figures of a summary sheet, in our own look."""

from dataclasses import dataclass
from typing import Any

from xlsxwriter.chart import Chart
from xlsxwriter.worksheet import Worksheet

from ledger_tools.book.look import FONT, INK, LINE, STEEL, WHITE
from ledger_tools.documents.pack import SHADES, Pack

_SMALL = {"name": FONT, "size": 8, "color": STEEL}
_TITLE = {"name": FONT, "size": 10, "bold": True, "color": INK}

BESIDE = (SHADES[1], SHADES[3])
STACKED = {"type": "column", "subtype": "stacked"}
COLUMNS = {"type": "column"}
BARS = {"type": "bar"}


@dataclass(frozen=True, slots=True)
class Series:
    """One series: cell areas as first row, first column, last row, last column, from 1."""

    name: tuple[int, int] | str
    categories: tuple[int, int, int, int]
    values: tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a chart stands: top left cell, from 1, size and shift to the right in pixels."""

    row: int
    col: int
    width: int
    height: int
    right: int = 0


def draw(  # noqa: PLR0913 - what a chart is: kind, title, series, place, formats
    pack: Pack,
    sheet: Worksheet,
    *,
    kind: dict[str, str],
    title: str,
    series: list[Series],
    frame: Frame,
    number_format: str,
    category_format: str = "",
    source: str = "",
) -> None:
    """Draw a chart on `sheet` over figures there or on `source`; its title is its description."""
    chart = pack.workbook.add_chart(kind)
    for place, one in enumerate(series):
        drawn = _series(source or sheet.get_name(), one, place, stacked=kind is STACKED)
        if len(series) == 1:
            labels = {"value": True, "num_format": number_format, "font": _SMALL}
            drawn["data_labels"] = labels
        chart.add_series(drawn)
    chart.set_title({"name": title, "name_font": _TITLE, "overlay": False})
    _axes(chart, number_format, category_format, bar=kind is BARS, scale=len(series) > 1)
    if len(series) > 1:
        chart.set_legend({"position": "bottom", "font": _SMALL})
    else:
        chart.set_legend({"none": True})
    chart.set_chartarea({"border": {"none": True}, "fill": {"color": WHITE}})
    chart.set_plotarea({"fill": {"color": WHITE}})
    chart.set_size({"width": frame.width, "height": frame.height})
    options = {
        "x_offset": 2 + frame.right,
        "y_offset": 4,
        "object_position": 2,
        "description": title,
    }
    sheet.insert_chart(frame.row - 1, frame.col - 1, chart, options)


def _series(sheet: str, series: Series, place: int, *, stacked: bool) -> dict[str, Any]:
    name = series.name
    at = name if isinstance(name, str) else [sheet, *(n - 1 for n in name)]
    shades = SHADES if stacked else BESIDE
    return {
        "name": at,
        "categories": [sheet, *(n - 1 for n in series.categories)],
        "values": [sheet, *(n - 1 for n in series.values)],
        "fill": {"color": shades[place % len(shades)]},
        "border": {"color": STEEL, "width": 0.5},
        "gap": 60,
    }


def _axes(
    chart: Chart, number_format: str, category_format: str, *, bar: bool, scale: bool
) -> None:
    """Dress the axes; without a `scale` the figures stand at the columns themselves."""
    words: dict[str, Any] = {"num_font": _SMALL, "line": {"color": LINE}, "label_position": "low"}
    figures: dict[str, Any] = {
        "num_font": _SMALL,
        "num_format": number_format,
        "line": {"none": True},
        "visible": scale,
        "major_gridlines": {"visible": scale, "line": {"color": LINE, "width": 0.5}},
    }
    if category_format:
        # A heading that is a date stays one word per column, not a point on a time line.
        words |= {"num_format": category_format, "text_axis": True}
    if bar:
        words |= {"reverse": True, "major_gridlines": {"visible": False}}
    # The library swaps the axes of a bar chart before it writes them.
    chart.set_x_axis(figures if bar else words)
    chart.set_y_axis(words if bar else figures)
