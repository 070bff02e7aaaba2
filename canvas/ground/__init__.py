"""Slope, aspect, contours, sections: what the surface is."""
