"""Geometry: outlines, offsets, drawings read, named shapes."""
