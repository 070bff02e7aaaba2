"""Heights and pictures: our own GeoTIFFs in process, foreign rasters through a child process."""

from __future__ import annotations

from canvas.exchange.geotiff import crs_of, open_grid, picture_window, write_grid

__all__ = ["crs_of", "open_grid", "picture_window", "write_grid"]
