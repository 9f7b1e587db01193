"""Evenloop over HTTP: reads requests, calls the engine in `hydraulics`, writes responses."""

from api.app import create_app

__all__ = ["create_app"]
