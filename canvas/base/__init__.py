"""Errors, quantities, facts, findings, grids, sources, resources, progress. Knows nobody."""
