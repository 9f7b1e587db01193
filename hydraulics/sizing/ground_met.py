"""Which ground do the loops of a sized array meet, for what an uneven split costs in heat?"""

from __future__ import annotations

from dataclasses import dataclass

from hydraulics.findings import figures
from hydraulics.ground.pipe_heat import PE_CONDUCTIVITY
from hydraulics.sizing.choice import ArrayChoice, BoreholeArray, GroundConditions, PondArray
from hydraulics.sizing.result import ArraySizing


@dataclass(frozen=True, slots=True)
class GroundAtLoops:
    """The ground as the loops meet it, for what an uneven split costs in heat.

    Attributes
    ----------
    temperature
        Far from the pipe [°C].
    resistance
        From the outside of the pipe to there, per metre of pipe [m K/W].
    pipe_conductivity
        Of the pipes' walls [W/(m K)].
    """

    temperature: float
    resistance: float
    pipe_conductivity: float = PE_CONDUCTIVITY


def ground_met(
    sized: ArraySizing, choice: ArrayChoice, ground: GroundConditions
) -> tuple[GroundAtLoops | None, str]:
    """What a sizing has at its coldest peak.

    Returns
    -------
    tuple of GroundAtLoops or None, str
        None where the sizing has no peak of cold; and in words which ground it is, or why none.
    """
    per_metre, resistance = sized.peak_per_metre_of_pipe, sized.resistance
    if isinstance(choice, PondArray):
        return GroundAtLoops(choice.coldest_water, resistance.water_film or 0.0), (
            "the sizing's film of water outside the pipe, at its coldest"
        )
    far = ground.surface.mean if ground.undisturbed is None else ground.undisturbed
    if sized.history is not None:  # over a borehole's depth; at a trench's, in that month
        far = sized.history.coldest.undisturbed
    beyond = (far - sized.coldest_ground) / per_metre if per_metre > 0.0 else 0.0
    if isinstance(choice, BoreholeArray):
        # Each of n pipes of a bore carries an nth of its heat through film, wall and grout.
        bore = resistance.borehole_local or resistance.borehole_effective or 0.0
        pipes = 2 * choice.u_tubes
        beyond += max(pipes * bore - resistance.film - resistance.wall, 0.0)
    if beyond <= 0.0:
        return None, "not told: the sizing has no peak of cold to reckon the ground by"
    return GroundAtLoops(far, beyond), (
        f"the sizing's coldest peak: {figures(beyond)} m K/W from the pipe's outside to the "
        f"ground at {far:.1f} °C"
    )
