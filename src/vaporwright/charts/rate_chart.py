"""The rate chart rendered: SVG for page and paper, or PNG. Offline, in the font that ships with the papers."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import as_file, files
from typing import Any, Final

from vaporwright.charts.rate_picture import PLOT_HEIGHT_px, RatePicture, rate_picture
from vaporwright.charts.rate_specification import rate_specification
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.rate_curve import RateCurve

VEGA_LITE_VERSION: Final = "6.4"


def rate_chart_spec(
    answer: UnitAnswer, curves: Sequence[RateCurve], system: str, *, plot_height_px: float = PLOT_HEIGHT_px
) -> dict[str, Any]:
    """The chart as a Vega-Lite specification, units "US" or "SI"."""
    return rate_specification(rate_picture(answer, curves, system, plot_height_px))


def rate_chart_svg(
    answer: UnitAnswer, curves: Sequence[RateCurve], system: str, *, plot_height_px: float = PLOT_HEIGHT_px
) -> str:
    """The chart as SVG; text stays text, in the font that ships with the papers."""
    return rate_picture_svg(rate_picture(answer, curves, system, plot_height_px))


def rate_picture_svg(picture: RatePicture) -> str:
    """A placed picture as SVG."""
    spec = rate_specification(picture)
    svg: str = _converter().vegalite_to_svg(spec, vl_version=VEGA_LITE_VERSION)
    return svg


def rate_chart_png(answer: UnitAnswer, curves: Sequence[RateCurve], system: str, *, scale: float = 2.0) -> bytes:
    """The chart as PNG, `scale` pixels for each pixel of the SVG."""
    spec = rate_chart_spec(answer, curves, system)
    png: bytes = _converter().vegalite_to_png(spec, vl_version=VEGA_LITE_VERSION, scale=scale)
    return png


def _converter() -> Any:
    """vl_convert with the shipped font; imported here because its start costs a second."""
    import vl_convert

    with as_file(files("vaporwright") / "documents" / "fonts") as folder:
        vl_convert.register_font_directory(str(folder))
    return vl_convert
