"""What does a GeoJSON file (RFC 7946) draw of a plot?"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from api.refusals import BROKEN, Json, Place, refusals_of
from api.requests.plot_file import KINDS, Drawn, Form, Reading, told_of
from api.schemas.objects import schema_of
from api.schemas.plot import OriginSchema
from hydraulics.errors import HydraulicsError
from hydraulics.plot.site import Point
from hydraulics.plot.tangent_plane import Origin, from_degrees

_BOUNDARY: Final = 'a Polygon whose properties have "kind": "boundary", or the only Polygon in it'
_FORMS: Final[dict[str, Form]] = {"Polygon": "area", "LineString": "line", "Point": "point"}
_SILENT: Final = ("type", "bbox", "id")
"""Members that say nothing of the plot."""
_READ: Final = ("features", "name", "coordinates_are", "plot_origin", "crs")
_WGS84: Final = ("urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84")
METRES: Final = "local_metres"


def read_geojson(document: Json) -> Reading:
    """Read a FeatureCollection, a Feature or a bare geometry.

    Parameters
    ----------
    document
        The file's JSON.

    Returns
    -------
    Reading
        What it draws, in metres: as they are where `coordinates_are` says so, else from WGS84 by
        the plane that touches it at `plot_origin`, or at the boundary's south-west corner.
    """
    reading = Reading(_BOUNDARY)
    features = _features(document, reading)
    if reading.refusals:
        return reading
    kinds = [_kind(each) for _, each in features]
    sole = _sole_area(features, kinds)
    if sole is not None:
        kinds[sole] = "boundary"
        reading.notes.append("The only Polygon without a kind was taken as the boundary.")
    for number, ((at, feature), kind) in enumerate(zip(features, kinds, strict=True)):
        _read_feature(feature, kind, at, f"Feature {number + 1}", reading)
    if not reading.refusals and document.get("coordinates_are") != METRES:
        _to_metres(document, reading)
    return reading


def _features(document: Json, reading: Reading) -> list[tuple[Place, Json]]:
    """Every feature and where it stands."""
    if type(document) is not dict:
        reading.refuse((), "The file", "it is no JSON object.", "a FeatureCollection")
        return []
    for name in document:
        if name not in (*_SILENT, *_READ, "geometry", "properties", "coordinates", "geometries"):
            reading.leave(f"the member {name[:60]!r}", (name,))
    if type(document.get("name")) is str and "\n" not in document["name"]:
        reading.name = document["name"][:200]
    metres = document.get("coordinates_are")
    if metres not in (None, METRES):
        detail = f"coordinates_are is {metres!r:.60}; leave it out for longitude and latitude."
        reading.refuse(("coordinates_are",), "The file", detail, METRES, metres)
    _refuse_grid(document.get("crs"), reading)
    kind = document.get("type")
    if kind == "Feature":
        return [((), document)]
    if kind in _FORMS or kind == "MultiPolygon":
        return [((), {"type": "Feature", "properties": None, "geometry": document})]
    found = document.get("features")
    if kind != "FeatureCollection" or type(found) is not list:
        detail = "it is no FeatureCollection with a list of features, and neither one Feature."
        reading.refuse((), "The file", detail, "GeoJSON of RFC 7946", kind)
        return []
    return [(("features", number), each) for number, each in enumerate(found)]


def _refuse_grid(crs: Json, reading: Reading) -> None:
    """Refuse another grid than WGS84, which RFC 7946 no longer knows."""
    if crs is None:
        return
    try:
        named = crs["properties"]["name"]
    except (KeyError, TypeError):
        named = None
    if named not in _WGS84:
        detail = (
            "it has a crs, which RFC 7946 has done away with. Convert it to longitude and latitude "
            f'on WGS84, or to metres and say "coordinates_are": "{METRES}".'
        )
        reading.refuse(("crs",), "The file", detail, "no crs", named)


def _kind(feature: Json) -> str:
    """What a feature says that it is; empty where it says nothing."""
    told = feature.get("properties") if type(feature) is dict else None
    kind = told.get("kind") if type(told) is dict else None
    return kind if type(kind) is str else ""


def _sole_area(features: list[tuple[Place, Json]], kinds: list[str]) -> int | None:
    """Number of the one area without a kind, where no other may be meant for the boundary."""
    areas = [
        number
        for number, ((_, feature), kind) in enumerate(zip(features, kinds, strict=True))
        if kind not in KINDS
        and type(feature) is dict
        and type(feature.get("geometry")) is dict
        and feature["geometry"].get("type") in ("Polygon", "MultiPolygon")
    ]
    sole = len(areas) == 1 and not kinds[areas[0]] and "boundary" not in kinds
    return areas[0] if sole else None


def _read_feature(feature: Json, kind: str, at: Place, words: str, reading: Reading) -> None:
    if type(feature) is not dict or feature.get("type") != "Feature":
        reading.refuse(at, words, "it is no object of the type Feature.", "a Feature", feature)
        return
    if kind not in KINDS:
        # In which form it is drawn does not matter: it is told why it is left.
        form: Form = "area"
        reading.drawn.append(Drawn(kind, form, (), at, words))
        return
    for name in feature:
        if name not in (*_SILENT, *_READ, "geometry", "properties"):
            reading.leave(f"the member {name[:60]!r} of a feature", (*at, name))
    words = f"{words} ({kind})"
    shape = _shape(feature.get("geometry"), (*at, "geometry"), words, reading)
    if shape is None:
        return
    told = feature.get("properties") or {}
    given = ((n, v, (*at, "properties", n)) for n, v in told.items() if n != "kind")
    form, points, places = shape
    found = told_of(kind, given, reading.leave)
    reading.drawn.append(Drawn(kind, form, points, at, words, places, found))


def _shape(
    geometry: Json, at: Place, words: str, reading: Reading
) -> tuple[Form, tuple[Point, ...], tuple[Place, ...]] | None:
    """Form, positions as they stand, and the place of each; None after it was refused."""
    kind = geometry.get("type") if type(geometry) is dict else None
    held = geometry.get("coordinates") if type(geometry) is dict else None
    at = (*at, "coordinates")
    if type(kind) is str and kind.startswith("Multi") and type(held) is list and len(held) == 1:
        kind, held, at = kind.removeprefix("Multi"), held[0], (*at, 0)
    if kind not in _FORMS or type(held) is not list:
        parts = f" of {len(held)} parts" if type(held) is list and kind not in _FORMS else ""
        detail = f"its geometry is {kind!r:.40}{parts}; draw each part as a feature of its own."
        reading.refuse(at[:-1], words, detail, ", ".join(_FORMS), kind)
        return None
    form = _FORMS[kind]
    if form == "area":
        if len(held) != 1:
            detail = (
                f"it has {len(held)} rings; an area has one. Draw what lies within it and is not "
                "of it as a keep_out."
            )
            reading.refuse(at, words, detail, "one ring without holes", held)
            return None
        held, at = held[0], (*at, 0)
    if form == "point":
        point = _position(held, at, words, reading)
        return None if point is None else (form, (point,), (at,))
    if type(held) is not list:
        reading.refuse(at, words, "its coordinates are no list.", "a list of positions", held)
        return None
    points: list[Point] = []
    for number, each in enumerate(held):
        point = _position(each, (*at, number), f"{words}, position {number + 1}", reading)
        if point is None:
            return None  # one fault of a line is enough
        points.append(point)
    if form == "area" and len(points) > 1 and points[0] == points[-1]:
        points.pop()
    return form, tuple(points), tuple((*at, number) for number in range(len(points)))


def _position(held: Json, at: Place, words: str, reading: Reading) -> Point | None:
    if type(held) is not list or len(held) not in (2, 3):
        reading.refuse(at, words, "it is no list of two numbers.", "two coordinates", held)
        return None
    reading.count(1)
    x = reading.number(held[0], at, words, "the first of its numbers")
    y = reading.number(held[1], at, words, "the second of its numbers")
    if len(held) == 3:
        reading.leave("heights of positions: levels are points of the kind level", at)
    return None if x is None or y is None else (x, y)


def _to_metres(document: Json, reading: Reading) -> None:
    """Turn longitudes and latitudes into metres of the plot."""
    outer = next((each.points for each in reading.drawn if each.kind == "boundary"), ())
    given = document.get("plot_origin")
    if given is not None:
        read = schema_of(OriginSchema).check(given, ("plot_origin",), reading.refusals)
        if read is BROKEN or reading.refusals:
            return
        reading.origin = read
    elif outer:
        x, y = (min(point[axis] for point in outer) for axis in (0, 1))
        reading.origin = {"longitude_deg": x, "latitude_deg": y}
    else:
        return
    made: list[Drawn] = []
    for each in reading.drawn:
        if each.kind in KINDS:
            points = _on_plane(reading.origin, each, reading)
            made.append(replace(each, points=points))
        else:
            made.append(each)
    reading.drawn = made
    x, y = reading.origin["longitude_deg"], reading.origin["latitude_deg"]
    reading.notes.append(
        f"Coordinates were read as longitude and latitude on WGS84: (0, 0) of the plot lies at "
        f"{abs(y):.6f}° {'N' if y >= 0.0 else 'S'}, {abs(x):.6f}° {'E' if x >= 0.0 else 'W'}. If "
        "that is not where the plot is, the file has latitude first."
    )


def _on_plane(told: Json, each: Drawn, reading: Reading) -> tuple[Point, ...]:
    points = []
    for number, (longitude, latitude) in enumerate(each.points):
        try:
            origin = Origin(
                told["longitude_deg"], told["latitude_deg"], told.get("turned_deg", 0.0)
            )
            points.append(from_degrees(origin, longitude, latitude))
        except HydraulicsError as error:
            fault = refusals_of(error)[0]
            hint = f' Metres need "coordinates_are": "{METRES}".' if abs(longitude) > 180 else ""
            at = each.corners[number]
            reading.refuse(
                at, each.words, fault.detail + hint, fault.allowed, [longitude, latitude]
            )
            break
    return tuple(points)
