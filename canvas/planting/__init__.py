"""Layouts and growth of plants."""
