"""The raster: the only part of the product that draws.

Ask for scene images, camera pictures, canvases and sightlines with the requests of
``preview.raster.request``; everything OpenGL is behind ``preview.raster.raster.Raster``.
"""
