"""Places found on the ground for swales, ponds, platforms and tracks: ranked, with reasons."""
