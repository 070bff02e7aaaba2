"""Hillwright: one staged, checked plan for a few hectares of raw land."""

__version__ = "0.1.0"
