"""Where the map looks: centre and scale, from metres to pixels and back."""

from __future__ import annotations

from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QTransform

from canvas.base.grid import Bounds

MM_PER_INCH = 25.4
#: Nearest and furthest the map goes [screen pixels per metre].
NEAREST_PX_M = 2000.0
FURTHEST_PX_M = 2e-4
#: Room left around what is fitted, a share of the view.
FIT_MARGIN = 0.06


@dataclass(frozen=True, slots=True)
class Camera:
    """A view of the map. Pixels are the widget's own, not the device's."""

    x_m: float = 0.0
    y_m: float = 0.0
    px_m: float = 1.0
    width: float = 100.0
    height: float = 100.0
    #: Device pixels per widget pixel.
    ratio: float = 1.0
    #: Widget pixels per inch.
    dpi: float = 96.0

    @property
    def scale(self) -> float:
        """The n of 1:n at which the screen shows the ground."""
        return 1000.0 * self.dpi / (MM_PER_INCH * self.px_m)

    @property
    def pixel_m(self) -> float:
        """Ground length of a widget pixel [m]."""
        return 1.0 / self.px_m

    def screen_of(self, x_m: float, y_m: float) -> QPointF:
        """Return the widget pixel of a place."""
        return QPointF(
            self.width / 2 + (x_m - self.x_m) * self.px_m,
            self.height / 2 - (y_m - self.y_m) * self.px_m,
        )

    def map_of(self, spot: QPointF) -> tuple[float, float]:
        """Return the place under a widget pixel."""
        return (
            self.x_m + (spot.x() - self.width / 2) / self.px_m,
            self.y_m - (spot.y() - self.height / 2) / self.px_m,
        )

    def transform(self) -> QTransform:
        """Return map metres to widget pixels."""
        return QTransform(
            self.px_m,
            0.0,
            0.0,
            -self.px_m,
            self.width / 2 - self.x_m * self.px_m,
            self.height / 2 + self.y_m * self.px_m,
        )

    def bounds(self, margin: float = 0.0) -> Bounds:
        """Return west, south, east, north of the view [m], grown by a share of it on each side."""
        half_x = self.width / self.px_m * (0.5 + margin)
        half_y = self.height / self.px_m * (0.5 + margin)
        return self.x_m - half_x, self.y_m - half_y, self.x_m + half_x, self.y_m + half_y

    def rect_of(self, bounds: Bounds) -> QRectF:
        """Return the widget rectangle that `bounds` [m] take."""
        return QRectF(self.screen_of(bounds[0], bounds[3]), self.screen_of(bounds[2], bounds[1]))

    def panned(self, dx_px: float, dy_px: float) -> Camera:
        """Return the view with the map moved by widget pixels."""
        return replace(self, x_m=self.x_m - dx_px / self.px_m, y_m=self.y_m + dy_px / self.px_m)

    def zoomed(self, factor: float, about: QPointF) -> Camera:
        """Return the view magnified, with the place under `about` staying where it is."""
        px_m = min(max(self.px_m * factor, FURTHEST_PX_M), NEAREST_PX_M)
        x, y = self.map_of(about)
        made = replace(self, px_m=px_m)
        return replace(
            made,
            x_m=x - (about.x() - self.width / 2) / px_m,
            y_m=y + (about.y() - self.height / 2) / px_m,
        )

    def fitted(self, bounds: Bounds, head_px: float = 0.0) -> Camera:
        """Return the view that shows `bounds` whole, with a little room, below `head_px`."""
        west, south, east, north = bounds
        room = 1.0 - 2 * FIT_MARGIN
        # A single point fits as if it were ten metres wide.
        wide, high = max(east - west, 10.0), max(north - south, 10.0)
        free = max(self.height - head_px, self.height / 2)
        px_m = min(self.width * room / wide, free * room / high)
        px_m = min(max(px_m, FURTHEST_PX_M), NEAREST_PX_M)
        lift = (self.height - free) / 2 / px_m
        return replace(self, x_m=(west + east) / 2, y_m=(south + north) / 2 + lift, px_m=px_m)

    def widened(self, margin: float) -> Camera:
        """Return the same place and scale on a larger picture: `margin` of it on each side."""
        grow = 1.0 + 2 * margin
        return replace(self, width=round(self.width * grow), height=round(self.height * grow))


def holds(outer: Bounds, inner: Bounds) -> bool:
    """Return whether `inner` lies within `outer`."""
    return (
        outer[0] <= inner[0]
        and outer[1] <= inner[1]
        and outer[2] >= inner[2]
        and outer[3] >= inner[3]
    )
