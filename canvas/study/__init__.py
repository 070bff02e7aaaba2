"""A plan and its land in, every figure out: the one source of numbers."""
