"""What ground is there, and what stands on it that nothing may be dug near?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import shapely

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault
from hydraulics.plot.plot import BORDER

Point = tuple[float, float]
"""East and north [m]."""
Line = tuple[Point, ...]
Level = tuple[float, float, float]
"""East, north and level of the ground [m]."""
Blocks = Literal["array", "header"]
BOTH: Final[frozenset[Blocks]] = frozenset({"array", "header"})

MOST_CORNERS: Final = 500  # of boundary, water and keep-outs together: a bound on the search
LARGEST_COORDINATE: Final = 2.0e7  # m; national grids stay below it
LARGEST_EXTENT: Final = 2000.0  # m, either way: a bound on the search
LEAST_AREA: Final = 1.0  # m²
PLANT_OUTSIDE: Final = 1.0  # m that the plant room may lie outside the boundary
TOUCHING: Final = 1e-3  # m, within which two things touch
AT_WALL: Final = 0.3  # m, a wall's thickness: so near to a house the plant room is in its wall


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A house, tree, drain, septic tank or cable that nothing is dug near.

    Attributes
    ----------
    name
        What people call it.
    clearance
        From its edge to the edge of anything dug [m]; has no default, since it depends on what it
        is and where (house 2 m, small tree 3 to 4 m, large tree 6 m: common practice, no source).
    outline
        Corners of an area; or
    line
        points of a drain or cable; or
    centre, radius
        of something round [m], a trunk.
    blocks
        What may not come near: the array, the header trenches, or both. A drain may be crossed by
        a header trench, and not built over.
    """

    name: str
    clearance: float
    outline: tuple[Point, ...] = ()
    line: tuple[Point, ...] = ()
    centre: Point | None = None
    radius: float = 0.0
    blocks: frozenset[Blocks] = BOTH

    def __post_init__(self) -> None:
        shapes = sum((bool(self.outline), bool(self.line), self.centre is not None))
        refuse(
            Fault("outline", "give one of outline, line or centre", None, "one of them")
            if shapes != 1
            else None,
            number_fault("clearance", self.clearance, "m", at_least=0.0),
            number_fault("radius", self.radius, "m", at_least=0.0),
            Fault("blocks", "names nothing that it blocks", None, "array, header or both")
            if not self.blocks
            else None,
            Fault("line", "a line needs two points", len(self.line), "2 or more points")
            if len(self.line) == 1
            else None,
        )
        if self.outline:
            object.__setattr__(self, "outline", opened(self.outline))
            refuse(*ring_faults("outline", self.outline, "keep-out"))
        points = self.line or ((self.centre,) if self.centre else ())
        refuse(*coordinate_faults("line" if self.line else "centre", points))

    @property
    def shape(self) -> shapely.Geometry:
        """The thing itself, without its clearance; a round one as its centre (see `reach`)."""
        if self.outline:
            return shapely.Polygon(self.outline)
        return shapely.LineString(self.line) if self.line else shapely.Point(self.centre)

    @property
    def body(self) -> shapely.Geometry:
        """The thing itself as wide as it is, without its clearance."""
        return self.shape.buffer(self.radius) if self.radius else self.shape

    @property
    def reach(self) -> float:
        """From the shape to the edge of what is dug [m]: clearance and radius."""
        return self.clearance + self.radius

    @property
    def at_wall(self) -> float:
        """How near a plant room is in its wall [m]; a tree close by is no house."""
        return AT_WALL if self.outline else TOUCHING

    @property
    def corners(self) -> int:
        """Points that describe it."""
        return len(self.outline) + len(self.line) + (self.centre is not None)


@dataclass(frozen=True, slots=True)
class SitePlot:
    """The ground as it is: boundary, keep-outs, water, plant room and levels; x east, y north [m].

    Attributes
    ----------
    boundary
        Corners in order, either way round, closed or not.
    plant
        Where pipes leave the building; may lie on a wall, on the boundary or up to 1 m outside.
    keep_outs
        What nothing is dug near.
    water
        Corners of a pond; empty where there is none.
    border
        From the boundary to the centre line of a trench, or to the axis of a bore [m].
    levels
        Ground levels that were surveyed; may be empty.
    """

    boundary: tuple[Point, ...]
    plant: Point
    keep_outs: tuple[KeepOut, ...] = ()
    water: tuple[Point, ...] = ()
    border: float = BORDER
    levels: tuple[Level, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "boundary", opened(self.boundary))
        object.__setattr__(self, "water", opened(self.water))
        corners = len(self.boundary) + len(self.water) + sum(k.corners for k in self.keep_outs)
        refuse(
            Fault(
                "boundary",
                f"plot and keep-outs have {corners} corners; leave out those that change little",
                corners,
                f"{MOST_CORNERS} corners in all",
            )
            if corners > MOST_CORNERS
            else None,
            number_fault("border", self.border, "m", at_least=0.0),
        )
        refuse(
            *ring_faults("boundary", self.boundary, "boundary"),
            *(ring_faults("water", self.water, "water") if self.water else ()),
            *coordinate_faults("plant", (self.plant,)),
            *coordinate_faults("levels", self.levels),
        )
        refuse(*self._outside(), *self._two_levels())

    def _outside(self) -> Iterator[Fault]:
        ground = self.ground
        away = ground.distance(shapely.Point(self.plant))
        if away > PLANT_OUTSIDE:
            yield Fault(
                "plant",
                f"the plant room, at {spot(self.plant)}, is {away:.1f} m outside the boundary; put "
                "it on the plot, or draw the boundary around it",
                self.plant,
                f"inside the boundary, or at most {PLANT_OUTSIDE:g} m outside",
            )
        for number, each in enumerate(self.keep_outs):
            if each.shape.distance(ground) > each.reach:
                yield Fault(
                    f"keep_outs.{number}",
                    f"{each.name} lies wholly outside the boundary, clearance counted; leave it "
                    "out, or put its coordinates right",
                    each.name,
                    "a place on the plot or beside it",
                )
        if self.water and not shapely.Polygon(self.water).intersects(ground):
            yield Fault("water", "lies wholly outside the boundary", None, "a place on the plot")

    def _two_levels(self) -> Iterator[Fault]:
        """Levels that contradict one told at the same place."""
        first: dict[Point, Level] = {}
        for number, level in enumerate(self.levels):
            x, y, height = level
            other = first.setdefault((round(x, 3), round(y, 3)), level)[2]
            if abs(other - height) > TOUCHING:
                yield Fault(
                    f"levels.{number}",
                    f"at {spot((x, y))} the ground is told at {other:g} and at {height:g} m; leave "
                    "one out, or tell the top and the foot of a wall apart",
                    height,
                    f"{other:g} m, or a place of its own",
                )

    @property
    def ground(self) -> shapely.Polygon:
        """All that is inside the boundary."""
        return shapely.Polygon(self.boundary)

    @property
    def stands_at(self) -> tuple[KeepOut, ...]:
        """The building that the plant room is in or at the wall of; two where it is of both.

        Pipes may leave through the clearance of this one, and of nothing else.
        """
        plant = shapely.Point(self.plant)
        near = [
            (max(0.0, each.shape.distance(plant) - each.radius), each)
            for each in self.keep_outs
            if "header" in each.blocks and not each.line
        ]
        least = min((away for away, each in near if away <= each.at_wall), default=None)
        if least is None:
            return ()
        return tuple(each for away, each in near if away <= least + TOUCHING)

    @property
    def pond(self) -> shapely.Geometry:
        """The water inside the boundary; empty where there is none."""
        if not self.water:
            return shapely.Polygon()
        return shapely.Polygon(self.water).intersection(self.ground)


def rectangle(length: float, width: float, border: float = BORDER) -> SitePlot:
    """A plot with its length along x from (0, 0), the plant at the middle of the short side.

    Parameters
    ----------
    length, width
        Sides [m].
    border
        From the boundary to trenches, mats and bores [m].
    """
    corners = ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
    return SitePlot(corners, (0.0, width / 2.0), border=border)


def opened(ring: tuple[Point, ...]) -> tuple[Point, ...]:
    """The ring without its first corner repeated at the end."""
    return ring[:-1] if len(ring) > 1 and ring[0] == ring[-1] else ring


def spot(point: Point) -> str:
    """A place in words, to a millimetre on national grids too."""
    x, y = point
    return f"({x:.11g}, {y:.11g})"


def coordinate_faults(field: str, points: tuple[tuple[float, ...], ...]) -> Iterator[Fault]:
    """Yield a fault for every point that is not finite or beyond any grid."""
    for number, point in enumerate(points):
        worst = next((c for c in point if not abs(c) <= LARGEST_COORDINATE), None)
        if worst is not None:
            yield Fault(
                field if len(points) == 1 else f"{field}.{number}",
                f"has the coordinate {worst:g} m; give metres east and north",
                worst,
                f"a number between -{LARGEST_COORDINATE:g} and {LARGEST_COORDINATE:g} m",
            )


def ring_faults(  # noqa: PLR0911 (one fault makes the next ones meaningless)
    field: str, ring: tuple[Point, ...], what: str
) -> tuple[Fault, ...]:
    """All that keeps corners from being an area: each with the corner that it is at.

    Parameters
    ----------
    field
        Name of the ring; a corner is `field`.N, counted from 0.
    ring
        Corners, the first not repeated.
    what
        The ring in words.
    """
    if len(ring) < 3:
        few = f"the {what} has {len(ring)} corners; an area has 3 or more"
        return (Fault(field, few, len(ring), "3 or more corners"),)
    if len(ring) > MOST_CORNERS:
        many = f"the {what} has {len(ring)} corners; leave out those that change little"
        return (Fault(field, many, len(ring), f"{MOST_CORNERS} corners in all"),)
    if faults := tuple(coordinate_faults(field, ring)):
        return faults
    corners = np.array(ring)
    extent = float(np.ptp(corners, axis=0).max())
    if extent > LARGEST_EXTENT:
        wide = f"the {what} is {extent:.0f} m across; divide it into plots, or check the unit"
        return (Fault(field, wide, extent, f"{LARGEST_EXTENT:g} m across"),)
    twice = [
        Fault(
            f"{field}.{number}",
            f"the corner at {spot(ring[number])} is given twice running; leave it out once",
            ring[number],
            "a corner apart from the one before",
        )
        for number in range(len(ring))
        if ring[number] == ring[number - 1]
    ]
    if twice:
        return tuple(twice)
    if not shapely.is_valid(shapely.Polygon(ring)) and (crossing := _crossing(corners)):
        first, second, (x, y) = crossing
        return (
            Fault(
                f"{field}.{first}",
                f"the side {_side(ring, first)} meets the side {_side(ring, second)} at "
                f"({x:.3f}, {y:.3f}); give the corners of the {what} in their order around it",
                ring[first],
                "sides that meet only at their corners",
            ),
        )
    area = abs(shapely.Polygon(ring).area)
    if area < LEAST_AREA:
        small = f"the {what} has {area:.3g} m²; check the unit of its corners"
        return (Fault(field, small, area, f"{LEAST_AREA:g} m² or more"),)
    return ()


def _side(ring: tuple[Point, ...], number: int) -> str:
    """The side after a corner, by its ends."""
    ends = ring[number], ring[(number + 1) % len(ring)]
    return "from {} to {}".format(*map(spot, ends))


def _crossing(ring: np.ndarray) -> tuple[int, int, Point] | None:
    """The first two sides that meet other than at a corner of both, and where."""
    sides = shapely.linestrings(np.stack([ring, np.roll(ring, -1, axis=0)], axis=1))
    count = len(ring)
    first, second = np.triu_indices(count, 1)
    meet = shapely.intersection(sides[first], sides[second])
    for i, j, common in zip(first, second, meet, strict=True):
        if common.is_empty:
            continue
        shared = {(j - i) % count == 1: (i + 1) % count, (i - j) % count == 1: i}.get(True)
        if shared is not None and common.geom_type == "Point":
            continue
        at = shapely.get_coordinates(common)[-1]
        return int(i), int(j), (float(at[0]), float(at[1]))
    return None
