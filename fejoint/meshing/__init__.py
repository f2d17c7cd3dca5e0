"""Triangles with named parts, made by gmsh."""
