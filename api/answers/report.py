"""From a flow split and its chapters to the design report as data; words, no new numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

from api.answers.decides import decided
from api.answers.designs import chapters_of
from api.answers.numbers import known, round_one, short
from api.answers.parts import ARRAY, Object, as_it_runs, branch_pointer, gravity_of
from api.version import VERSION, digest_of
from hydraulics.job import Chapters
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.contents import array_contents
from hydraulics.layout.walk import flowing
from hydraulics.pipework.fittings import DARBY_SOURCE
from hydraulics.split.hand_check import HandCheck, PipeCheck
from hydraulics.split.result import FlowSplit
from hydraulics.split.target import share_in_words

FORMULAS: Final[tuple[Object, ...]] = (
    {
        "subject": "Velocity and Reynolds number",
        "formula": "v = m / (n ρ π d²/4);  Re = ρ v d / μ",
        "words": "Mass flow over density and bore area of the n parallel pipes; velocity times "
        "bore over kinematic viscosity.",
        "source": "definition",
    },
    {
        "subject": "Drop of a length of pipe",
        "formula": "Δp = f (L/d) ρ v²/2",
        "words": "Darcy's friction factor times length over bore times dynamic pressure.",
        "source": "Darcy-Weisbach",
    },
    {
        "subject": "Friction factor, straight pipe, laminar (to Re 2000)",
        "formula": "f = 64 / Re",
        "words": "Sixty-four over the Reynolds number.",
        "source": "Hagen 1839, Poiseuille 1840",
    },
    {
        "subject": "Friction factor, straight pipe, turbulent (from Re 3000)",
        "formula": "1/√f = −2 log₁₀( ε/(3.7 d) + 2.51/(Re √f) )",
        "words": "Implicit in f; a few rounds of substitution give it. Between Re 2000 and 3000 a "
        "smooth blend joins both laws; measured points scatter about it by 12 %.",
        "source": "C. F. Colebrook, J. Inst. Civil Engineers 11 (1939) 133-156",
    },
    {
        "subject": "Friction factor, coil, laminar",
        "formula": "f = (64/Re) / ( 1 − (1 − (11.6/De)^0.45)^(1/0.45) ),  De = Re √(d/D)",
        "words": "Straight pipe's laminar factor, raised by the Dean number where that exceeds "
        "11.6; d is the bore, D the diameter of the coil.",
        "source": "C. M. White, Proc. R. Soc. London A 123 (1929) 645-663",
    },
    {
        "subject": "Friction factor, coil, turbulent",
        "formula": "f = f_straight + 0.03 √(d/D)",
        "words": "Straight pipe's factor and a part for the bend. The law takes the greater of the "
        "laminar and the turbulent factor, rounded where they cross.",
        "source": "P. Mishra, S. N. Gupta, Ind. Eng. Chem. Process Des. Dev. 18 (1979) 130-137 "
        "(formula from memory)",
    },
    {
        "subject": "Drop of fittings",
        "formula": "Δp = (K1/Re + K) ρ v²/2;  from a Kv:  K = 200 (3600 A / Kv)²",
        "words": "Loss coefficients of all fittings in series on one bore, of area A [m²]; Kv is "
        "the flow of water in m³/h at 1 bar (EN 60534-1).",
        "source": DARBY_SOURCE,
    },
    {
        "subject": "Head and power",
        "formula": "H = Δp / (ρ g);  P = Q Δp",
        "words": "Head as a column of the mixture, g = 9.80665 m/s²; hydraulic power, of which the "
        "motor takes more.",
        "source": "definition",
    },
    {
        "subject": "Heat of a flow",
        "formula": "Φ = m c ΔT",
        "words": "Mass flow times specific heat times the change of temperature.",
        "source": "definition",
    },
)
"""Relations that the numbers can be checked by."""


def _errors_of(made: Mapping[str, Any]) -> list[str]:
    """What the errors of all chapters say, the gravest first."""
    parts = [made["split"], made, *(each for each in made.values() if isinstance(each, dict))]
    told = sorted((each for part in parts for each in part.get("findings", ())), key=gravity_of)
    return list(dict.fromkeys(each["message"] for each in told if each["severity"] == "error"))


def _summary_of(split: Object, result: FlowSplit, pump: str, errors: list[str]) -> Object:
    verdict, headline = _verdict(split, share_in_words(result.target))
    duty, at = split["pump"], as_it_runs(split)
    temperature = (
        "with the mixture at its mean temperature of "
        f"{short(split['fluid']['in_loops']['temperature_c'])} °C"
    )
    wanted = f"{short(duty['flow_l_s'])} L/s at {short(duty['head_m'])} m"
    sentences = [
        f"The circulating pump must give {wanted} ({short(duty['head_kpa'])} kPa) {temperature}."
        if at is None
        else f"{pump} gives {short(at['flow_l_s'])} L/s at {short(at['head_m'])} m, {temperature}; "
        f"the duty asks for {wanted} ({short(duty['head_kpa'])} kPa)."
    ]
    judged = split.get("imbalance")
    if judged is not None and len(split["loops"]) > 1:
        each, taken = _taken(split if at is None else at)
        taken = f"{'Every loop takes' if each else 'Loops take'} {taken}"
        if at is not None:
            taken += f" with this pump (at the duty {_taken(split)[1]})"
        spread = short(round((at or judged)["spread_percent"], 2))
        sentences.append(
            f"{taken}; the spread is {spread} %. The loop that would need the most head is "
            f"{judged['index_loop']}."
        )
        sentences += [_sentence(cause) for cause in judged["causes"][:3]]
    parts = duty["drops"]
    if duty["head_kpa"] > 0.0:
        exchanger = parts["heat_exchanger_drop_kpa"]
        sentences.append(
            f"Of the head of the duty, {short(parts['array_drop_kpa'])} kPa go into the array, "
            f"{short(parts['runs_drop_kpa'])} kPa into the routes between plant and array and "
            + (
                f"{short(exchanger)} kPa into the heat exchanger."
                if exchanger
                else "nothing into the heat exchanger, whose drop is not told: the pump must give "
                "that besides."
            )
        )
    if errors and judged is not None:
        if not any(each["severity"] == "error" for each in split["findings"]):
            sentences.insert(0, headline)  # of an impossible split nothing is judged
        more = len(errors) - 1
        verdict = "error"
        headline = errors[0] + (f" {more} more error{'s' * (more > 1)} below." * (more > 0))
    return {"verdict": verdict, "headline": headline, "sentences": sentences}


def _verdict(split: Object, share: str) -> tuple[str, str]:
    judged = split.get("imbalance")
    runs = as_it_runs(split)
    at = runs or {**split, **(judged or {})}
    divided = "With the pump that runs the split" if runs else "The split"
    loops = at["loops"]
    if judged is None:
        return "no_flow", "Nothing flows, so that there is nothing to judge."
    if len(loops) == 1:
        return "single_loop", "One loop takes the whole flow; there is nothing to balance."
    tolerance = judged["max_deviation_percent"]
    even = judged["target"] == "even"
    if at["within_tolerance"]:
        worst = max(loops, key=lambda loop: abs(loop["deviation_percent"]))
        off = abs(worst["deviation_percent"])
        told = (
            f"; the farthest, {worst['loop']}, is {short(off, 2)} % off"
            if round(off, 1) > 0
            else ""
        )
        return ("even" if even else "as_asked"), (
            f"{divided} is {'even' if even else 'as asked'}: each of the {len(loops):,} loops is "
            f"within ±{short(tolerance)} % of {share}{told}."
        )
    edge = tolerance * (1.0 + 1e-9)
    low = [loop for loop in loops if loop["deviation_percent"] < -edge]
    high = [loop for loop in loops if loop["deviation_percent"] > edge]
    parts = []
    if low:
        worst = min(low, key=lambda loop: loop["deviation_percent"])
        parts.append(
            f"{len(low):,} of {len(loops):,} loops get{_s(low)} too little (worst {worst['loop']}, "
            f"{short(-worst['deviation_percent'], 3)} % below {share})"
        )
    if high:
        best = max(high, key=lambda loop: loop["deviation_percent"])
        parts.append(
            f"{len(high):,} of {len(loops):,} loops get{_s(high)} too much (most {best['loop']}, "
            f"{short(best['deviation_percent'], 3)} % above)"
        )
    name = "uneven" if even else "not as asked"
    return "uneven", f"{divided} is {name}: {'; '.join(parts)}; tolerance ±{short(tolerance)} %."


def _taken(split: Object) -> tuple[bool, str]:
    """Whether all loops take the same, and how much they take."""
    flows = [loop["flow_l_s"] for loop in split["loops"]]
    least, most = short(min(flows)), short(max(flows))
    return least == most, f"{least} L/s" if least == most else f"{least} to {most} L/s"


def _s(loops: list[Object]) -> str:
    """Ending of the verb: one gets, several get."""
    return "s" if len(loops) == 1 else ""


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def _pipes_of(circuit: Circuit, plant: Plant) -> list[Object]:
    return [
        {
            "part": each.part,
            "pipe": each.pipe.name,
            "outside_diameter_mm": round_one(each.pipe.outside_diameter * 1e3),
            "bore_mm": round_one(each.pipe.bore * 1e3),
            "roughness_mm": round_one(each.pipe.roughness * 1e3),
            "length_m": round_one(each.length),
            "contents_l": round_one(each.volume * 1e3),
        }
        for each in array_contents(circuit, plant).pipes
    ]


def _pipe_check_of(pipe: PipeCheck) -> Object:
    coil = pipe.coil_diameter
    return {
        "length_m": round_one(pipe.length),
        "bore_mm": round_one(pipe.bore * 1e3),
        **({"coil_diameter_m": round_one(coil)} if math.isfinite(coil) else {}),
        "parallel": pipe.parallel,
        "roughness_mm": round_one(pipe.relative_roughness * pipe.bore * 1e3),
        "density_kg_m3": round_one(pipe.density),
        "viscosity_mpa_s": round_one(pipe.viscosity * 1e3),
        "mass_flow_kg_s": round_one(pipe.mass_flow),
        "velocity_m_s": round_one(pipe.velocity),
        "reynolds": round_one(pipe.reynolds),
        "friction_factor": round_one(pipe.friction_factor),
        "drop_kpa": round_one(pipe.drop / 1e3),
    }


def _hand_check_of(made: HandCheck, result: FlowSplit) -> Object:
    fittings = made.fittings
    return {
        "loop": result.loops.names[made.loop],
        "where": branch_pointer(result.loops.places[made.loop]),
        "pipes": [_pipe_check_of(pipe) for pipe in made.pipes],
        "fittings": {
            "bore_mm": round_one(fittings.bore * 1e3),
            "parallel": fittings.parallel,
            "loss_coefficient": round_one(fittings.coefficient),
            "low_reynolds_coefficient": round_one(fittings.low_reynolds),
            "velocity_m_s": round_one(fittings.velocity),
            "reynolds": round_one(fittings.reynolds),
            "density_kg_m3": round_one(fittings.density),
            "drop_kpa": round_one(fittings.drop / 1e3),
        },
        "loop_drop_kpa": round_one(made.loop_drop / 1e3),
        "headers_drop_kpa": round_one(made.header_drop / 1e3),
        "runs": [_pipe_check_of(pipe) for pipe in made.runs],
        "fittings_drop_kpa": round_one(made.run_fittings / 1e3),
        "heat_exchanger_drop_kpa": round_one(made.exchanger_drop / 1e3),
        "head_kpa": round_one(made.head / 1e3),
    }


def _valves_of(circuit: Circuit) -> list[Object]:
    """Regulating valves of an array, as they are to be set."""
    return [
        {
            "loop": each.name,
            **known({"kv_m3_h": fitting.kv, "position": fitting.position}),
            **({"valve": fitting.valve} if fitting.valve else {}),
        }
        for each in flowing(circuit)
        for fitting in each.branch.fittings.fittings
        if each.loop is not None and (fitting.valve or fitting.position is not None)
    ]


def report_of(chapters: Chapters, document: Object, pictures: list[Object] | None) -> Object:
    """ReportAnswerSchema's object.

    Parameters
    ----------
    chapters
        The job's chapters.
    document
        The job as it was posted.
    pictures
        Pictures in words; None where the array is too large to be drawn.
    """
    made = chapters_of(chapters, document, decided=ARRAY)  # the report's own job holds it
    split, header = made["split"], document.get("report")
    cautions = [
        caution
        for chapter in made.values()
        if isinstance(chapter, dict)
        for caution in chapter.get("cautions", ())
    ]
    valves, running = _valves_of(chapters.circuit), chapters.pump
    return {
        "title": (header or {}).get("title") or document.get("name") or "Ground array",
        **({"reference": document["reference"]} if "reference" in document else {}),
        **({"report": header} if header else {}),
        "summary": _summary_of(
            split,
            chapters.split,
            running.pump.name if running is not None else "",
            _errors_of(made),
        ),
        "job": {**document, **decided(chapters, document)},
        "pipes": _pipes_of(chapters.circuit, chapters.job.plant),
        **({"valves": valves} if valves else {}),
        "split": split,
        "hand_check": _hand_check_of(chapters.hand_check, chapters.split),
        **({"pictures": pictures} if pictures is not None else {}),
        **{name: made[name] for name in made if name != "split"},
        "formulas": [dict(each) for each in FORMULAS],
        "cautions": list(dict.fromkeys(cautions)),
        "version": VERSION,
        "body_sha256": digest_of(document),
    }
