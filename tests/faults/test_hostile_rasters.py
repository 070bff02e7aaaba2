"""Rasters made to harm, or broken: each ends in words, under 1 GiB and 20 s."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
import rasterio
from faults.guarded import attempt, refused

from canvas.base.errors import BadData
from canvas.exchange.rasters import inspect_raster

PLACE = rasterio.Affine(1, 0, 632000, 0, -1, 5849000)


def sparse(path: Path, side: int, **more: object) -> Path:
    """Make a GeoTIFF that claims side × side cells and holds none of them."""
    made = {
        "driver": "GTiff", "width": side, "height": side, "count": 1, "dtype": "float32",
        "crs": "EPSG:7854", "transform": PLACE, "tiled": True, "SPARSE_OK": True,
        "blockxsize": 1024, "blockysize": 1024, "bigtiff": "yes",
    }  # fmt: skip
    with rasterio.open(path, "w", **made | more):
        pass
    return path


def png(width: int, height: int, rows: int) -> bytes:
    """Return a grey PNG whose header claims more rows than it holds."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    packer = zlib.compressobj(9)
    body = b"".join(packer.compress(bytes(width + 1)) for _ in range(rows)) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize("kind", ["ground", "picture", "glimpse", "relief"])
def test_a_header_of_ten_thousand_million_cells_is_refused(tmp_path: Path, kind: str) -> None:
    path = sparse(tmp_path / "claims.tif", 100_000)
    assert path.stat().st_size < 1 << 20
    assert "100000 × 100000" in refused(kind, path)


def test_an_ascii_header_of_ten_thousand_million_cells_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "claims.asc"
    path.write_text(
        "ncols 100000\nnrows 100000\nxllcorner 632000\nyllcorner 5849000\ncellsize 1\n1 2 3\n"
    )
    assert "100000 × 100000" in refused("ground", path, file_crs="EPSG:7854")


def test_a_png_header_of_ten_thousand_million_pixels_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "claims.png"
    path.write_bytes(png(100_000, 100_000, 10))
    path.with_suffix(".pgw").write_text("1\n0\n0\n-1\n632000\n5849000\n")
    assert refused("picture", path, file_crs="EPSG:7854")


def test_compression_of_ten_thousand_to_one_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "packed.tif"
    side = 14_000
    with rasterio.open(
        path, "w", driver="GTiff", width=side, height=side, count=1, dtype="uint8", tiled=True,
        blockxsize=2048, blockysize=2048, crs="EPSG:7854", transform=PLACE, compress="zstd",
        zstd_level=19,
    ) as made:  # fmt: skip
        for _, window in made.block_windows(1):
            made.write(np.zeros((window.height, window.width), np.uint8), 1, window=window)
    assert side * side / path.stat().st_size > 5_000
    assert refused("picture", path)
    assert refused("ground", path)
    assert refused("glimpse", path)


def test_an_xyz_table_that_spans_a_continent_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "wide.xyz"
    path.write_text("0 0 1\n1 0 1\n0 1 1\n900000 900000 1\n5 5 5\n")
    assert refused("ground", path, file_crs="EPSG:7854")


@pytest.mark.parametrize(
    "body",
    [
        "632000 5849000\n632001 5849000\n",
        "632000 5849000 abc\n632001 5849000 1\n632000 5849001 1\n",
        "632000 5849000 nan\n632001 nan 1\n632000 5849001 1\n1 2 3\n",
        "x y z\n",
        "632000 5849000 1 1\n632001 5849000 1\n632000 5849001 1\n632001 5849001 1\n",
        "632000.3 5849000 1\n632001.9 5849000 1\n632000 5849001.7 1\n632001 5849003.1 1\n6 5 4\n",
    ],
)
def test_tables_of_points_that_make_no_grid_are_refused(tmp_path: Path, body: str) -> None:
    path = tmp_path / "points.xyz"
    path.write_text(body)
    assert refused("ground", path, file_crs="EPSG:7854")


def sound(path: Path) -> Path:
    rng = np.random.default_rng(1)
    driver = {".tif": "GTiff", ".png": "PNG", ".jpg": "JPEG"}[path.suffix]
    place = {"crs": "EPSG:7854", "transform": PLACE} if driver == "GTiff" else {}
    values = rng.integers(0, 255, (3, 200, 300), dtype=np.uint8)
    with rasterio.open(
        path, "w", driver=driver, width=300, height=200, count=3, dtype="uint8", **place
    ) as made:
        made.write(values)
    world = {".png": ".pgw", ".jpg": ".jgw"}.get(path.suffix)
    if world:
        path.with_suffix(world).write_text("1\n0\n0\n-1\n632000.5\n5848999.5\n")
    return path


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
@pytest.mark.parametrize("suffix", [".tif", ".png", ".jpg"])
def test_a_picture_cut_short_ends_in_words(tmp_path: Path, suffix: str) -> None:
    path = sound(tmp_path / f"cut{suffix}")
    crs = {} if suffix == ".tif" else {"file_crs": "EPSG:7854"}
    assert attempt("picture", path, **crs)["ok"] == 60_000
    path.write_bytes(path.read_bytes()[:20_000])
    assert refused("picture", path, **crs)


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
@pytest.mark.parametrize("kind", ["ground", "picture", "relief"])
@pytest.mark.parametrize("name", ["a.tif", "a.png", "a.jpg", "a.asc", "a.xyz", "a.doc"])
def test_empty_files_and_noise_end_in_words(tmp_path: Path, kind: str, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(b"")
    with pytest.raises(BadData, match="empty"):
        inspect_raster(path)
    path.write_bytes(b"\x07\x03\x00" + bytes(range(256)) * 20)
    assert refused(kind, path, file_crs="EPSG:7854")


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
@pytest.mark.parametrize("world", ["nan\n0\n0\nnan\n0\n0\n", "0\n0\n0\n0\n1\n1\n"])
def test_a_world_file_without_size_ends_in_words(tmp_path: Path, world: str) -> None:
    path = sound(tmp_path / "flat.png")
    path.with_suffix(".pgw").write_text(world)
    assert refused("picture", path, file_crs="EPSG:7854")


def test_a_picture_taken_for_heights_is_refused(tmp_path: Path) -> None:
    assert "picture" in refused("ground", sound(tmp_path / "aerial.tif"))


def test_a_dataset_that_points_at_other_files_is_not_opened(tmp_path: Path) -> None:
    path = tmp_path / "points_elsewhere.tif"
    path.write_text(
        '<VRTDataset rasterXSize="10" rasterYSize="10"><VRTRasterBand dataType="Byte" band="1">'
        "<SimpleSource><SourceFilename>/etc/passwd</SourceFilename></SimpleSource>"
        "</VRTRasterBand></VRTDataset>"
    )
    assert refused("picture", path)
