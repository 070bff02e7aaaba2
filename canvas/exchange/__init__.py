"""Reading and writing the world's formats; georeferencing."""
