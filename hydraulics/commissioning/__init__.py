"""How is the array filled, purged, pressure-tested and proved?"""
