"""Hillwright: one staged, checked plan for a few hectares of raw land."""

from pathlib import Path

from canvas.base.compiling import keep_kernels

__version__ = "0.1.0"

keep_kernels(Path(__file__).resolve().parent)
