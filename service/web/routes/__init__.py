"""One file for each family of routes."""
