"""Printed sheets as drawing lists in millimetres. No Qt."""
