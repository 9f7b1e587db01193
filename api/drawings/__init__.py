"""Draws results: a module for each picture, from the engine's results to SVG or PNG."""
