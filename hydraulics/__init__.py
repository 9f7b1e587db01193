"""Hydraulics of ground arrays: fluid, pipe, friction, network and result, free of HTTP."""
