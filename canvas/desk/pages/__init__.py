"""The pages of the drawer."""
