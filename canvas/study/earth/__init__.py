"""Earthworks: each kind shaped on the ground as it is when its turn comes."""
