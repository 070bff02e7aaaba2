"""Water: runoff, storms, swales, ponds, the overflow cascade, rain on the land."""
