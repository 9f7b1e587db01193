"""The plot on the bench: drawn to scale, moved by hand, keys and numbers, and set out anew at once.

What is shown is compared with what the service answers to the job as it then stands.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.browser.conftest import ask, barriers, example, open_step, paste, settled

Open = Callable[..., Any]
STEP = "#step-setting_out"
# Words that run over one another by more than 2 px, in pairs.
OVER = """(selector) => {
  const all = [...document.querySelectorAll(selector)];
  const boxes = all.map((each) => each.getBoundingClientRect());
  const run = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2;
  return boxes.flatMap((a, at) => boxes.slice(at + 1).flatMap((b, after) =>
    (run(a, b) ? [[all[at].textContent, all[at + 1 + after].textContent]] : [])));
}"""
KEPT = "() => sessionStorage.getItem('evenloop-bench')"


def _job(page: Any) -> Any:
    return json.loads(page.evaluate(KEPT))


def _set_out(page: Any) -> Any:
    """The job once its plan is shown anew, and the service's answer to it."""
    page.locator(f"{STEP} .laid:not(.stale)").wait_for()
    settled(page)
    job = _job(page)
    answer = page.request.post(page.url.split("#")[0] + "v1/setting-out", data=job).json()
    shown = page.locator(f"{STEP} .planfigures").text_content()
    found = re.search(r"Header trench([\d.]+) m", shown)
    assert found is not None, shown
    # Shown to a tenth of a metre.
    assert abs(float(found[1]) - answer["totals"]["header_dug_m"]) <= 0.051
    assert page.locator(f"{STEP} .trenchline").count() == len(answer["trenches"])
    if planned := answer["decides"].get("array"):
        _tells_flows_of(page, {**job, "array": planned})
    return job, answer


def _tells_flows_of(page: Any, job: Any) -> None:
    """Beside the plan's tails stand the flows of these tails, whatever array the bench has."""
    split = page.request.post(page.url.split("#")[0] + "v1/split", data=job).json()
    rows = page.locator(f"{STEP} [role=region][aria-label=Tails] tbody tr")
    told = {row.locator("th").text_content(): row.locator("td").last.text_content()
            for row in rows.all()}  # fmt: skip
    # The split has the chamber before the loop's name.
    off = {each["loop"].rpartition("/")[2]: each["deviation_percent"] for each in split["loops"]}
    assert told.keys() == off.keys()
    for loop, deviation in off.items():
        shown = float(told[loop].replace("\u2212", "-").rstrip(" %"))
        assert abs(shown - deviation) <= 0.051  # shown to a tenth


def _lengths(trenches: Any) -> list[float]:
    """To a millimetre; places are told to a thousandth of one."""
    ends = [[(each["x_m"], each["y_m"]) for each in trench["points"]] for trench in trenches]
    return [round(math.dist(*pair), 3) for pair in ends]


def _point(page: Any, place: str) -> Any:
    return page.locator(f'{STEP} [data-point="{place}"]')


def _drag(page: Any, point: Any, dx: int, dy: int) -> None:
    point.scroll_into_view_if_needed()
    box = point.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx / 2, y + dy / 2)
    page.mouse.move(x + dx, y + dy)
    page.mouse.up()


def test_a_plot_is_drawn_by_hand_and_the_array_follows_its_plan(open_bench: Open) -> None:
    page = open_bench(own=True)
    page.locator(f"{STEP} > summary").click()
    page.locator(f'{STEP} [data-key="/plot:way"]').select_option("boundary")
    ask(page, "setting_out")
    before, answer = _set_out(page)
    assert before["array"] != answer["decides"]["array"]  # nothing is taken unasked
    # The document takes the plan's array all the same, and the hand-over says so.
    report = open_step(page, "report")
    told = report.locator(".get").text_content()
    assert "The document is of another array than the steps" in told
    parts = ("antifreeze", "plant", "array", "duty", "limits", "plot", "setting_out")
    body = {part: before[part] for part in parts}
    designs = page.request.post(page.url.split("#")[0] + "v1/designs", data=body).json()
    found = re.search(r"3 loops, spread ([\d.]+) %, with the plan's tails", told)
    assert found is not None, told
    spread = designs["split"]["imbalance"]["spread_percent"]
    assert abs(float(found[1]) / spread - 1) < 0.05  # shown to two digits
    assert "of the plan's array" in report.locator(".stand").text_content()
    report.get_by_role("button", name="Take the plan's tails and runs").click()
    assert page.is_checked("#follow-plan")
    assert "another array" not in report.locator(".get").text_content()
    settled(page)
    followed = _job(page)["array"]
    assert followed == answer["decides"]["array"]
    # An array that comes with its plan's tails goes on taking them: with other valves, or opened
    # again, though not where it was told not to.
    valved = _job(page)
    valved["array"]["branches"][0]["circuit"]["branches"][0]["fittings"] = [
        {"kv_m3_h": 5, "count": 1}
    ]
    tail = valved["array"]["branches"][0]["circuit"]["branches"][0]["loop"]["legs"][0]["straight"]
    tail["length_m"] += 1e-5  # as files have it that were saved with all digits
    paste(page, valved)
    assert _set_out(page)[0]["array"] == valved["array"]
    assert "another array" not in report.locator(".get").text_content()
    assert page.is_checked("#follow-plan")
    page.uncheck("#follow-plan")
    ask(page, "setting_out")
    assert not page.is_checked("#follow-plan")
    page.keyboard.press("Control+z")
    page.reload()
    page.locator("#follow-plan").wait_for()
    assert page.is_checked("#follow-plan")

    _drag(page, _point(page, "/plot/plant_room"), 60, 40)
    page.locator(f"{STEP} .laid.stale").wait_for()
    dragged, answer = _set_out(page)
    plant = dragged["plot"]["plant_room"]
    assert plant["x_m"] > before["plot"]["plant_room"]["x_m"]
    assert plant["y_m"] < before["plot"]["plant_room"]["y_m"]
    # The split is of the tails that the plan has now.
    assert dragged["array"] == answer["decides"]["array"]
    assert dragged["array"] != followed
    boxes = page.locator(f'{STEP} [data-pointer^="/plot/plant_room/"]')
    assert [float(box.input_value()) for box in boxes.all()] == [plant["x_m"], plant["y_m"]]

    # A tail typed by hand stays, and the plan's are no longer taken; its box keeps the focus.
    inner = '[data-branch="/array/branches/0/circuit/branches/0"]'
    for place in ('[data-branch="/array/branches/0"]', inner):
        page.locator(f"{place} > details").evaluate("(each) => { each.open = true; }")
    tail = page.locator(f'{inner} [data-pointer$="/legs/0/straight/length_m"]')
    tail.fill("30")
    (chamber,) = _set_out(page)[0]["array"]["branches"]
    typed_in = chamber["circuit"]["branches"][0]["loop"]["legs"][0]
    assert typed_in == {"straight": {"length_m": 30}}
    assert tail.input_value() == "30"
    assert not page.is_checked("#follow-plan")
    assert tail.evaluate("(box) => box === document.activeElement")
    page.keyboard.press("Control+z")

    # By keys, and by the number itself; each is taken back by itself.
    _point(page, "/plot/plant_room").press("ArrowRight")
    assert _job(page)["plot"]["plant_room"]["x_m"] == plant["x_m"] + 0.5
    page.keyboard.press("Control+z")
    assert _job(page)["plot"] == dragged["plot"]
    page.keyboard.press("Control+z")
    undone = _set_out(page)[0]
    assert (undone["plot"], undone["array"]) == (before["plot"], followed)
    corner = page.locator(f'{STEP} [data-pointer="/plot/boundary/2/x_m"]')
    corner.fill("1 x")
    refused = page.locator(f"{STEP} .planfigures", has_text="Not answered")
    refused.wait_for()
    assert "“x, east” is “1 x”" in page.locator(f"{STEP} .fault:visible").first.text_content()
    # Told again as it was before, a job has its plan again.
    page.keyboard.press("Control+z")
    refused.wait_for(state="detached")
    assert _set_out(page)[0] == undone
    assert page.locator(f"{STEP} .problem").count() == 0
    corner.fill("68,25")
    typed = _set_out(page)[0]
    assert typed["plot"]["boundary"][2]["x_m"] == 68.25

    # A chamber that was placed has a place of its own once it is moved.
    _point(page, "/plot/chambers/0").press("Shift+ArrowUp")
    (placed,) = _set_out(page)[1]["chambers"]
    (told,) = _job(page)["plot"]["chambers"]
    assert (placed["x_m"], placed["y_m"]) == (told["x_m"], told["y_m"])

    page.locator(f"{STEP} .newcorner").first.click()
    assert len(_job(page)["plot"]["boundary"]) == 5
    page.keyboard.press("Delete")
    assert _job(page)["plot"]["boundary"] == typed["plot"]["boundary"]
    page.get_by_text("Corners as text, to paste or copy").click()
    page.get_by_label("x and y in m, a line each").locator("visible=true").fill(
        "0,0\n80.5, 0\n80,5;45\n0\t45"
    )
    pasted = _set_out(page)[0]["plot"]["boundary"]
    assert [tuple(each.values()) for each in pasted] == [(0, 0), (80.5, 0), (80.5, 45), (0, 45)]
    told = ask(page, "sizing").text_content()
    land = page.request.post(page.url.split("#")[0] + "v1/sizing", data=_job(page)).json()["land"]
    assert ("m²: it fits" if land["fits"] else "■ it does not fit") in told  # by its plan
    page.set_viewport_size({"width": 360, "height": 740})
    _set_out(page)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 360
    over = page.evaluate(OVER, f"{STEP} .plotplan text:not(.quiet)")
    assert over == []
    nameless = "[role=button]:not([aria-label]), input:not([aria-label], [id])"
    assert page.locator(STEP).locator(nameless).count() == 0


SITE = [[0, 0], [70, 0], [70, 45], [0, 45], [0, 0]]
DRAWN = {
    "type": "FeatureCollection",
    "coordinates_are": "local_metres",
    "features": [
        {"type": "Feature", "properties": {"kind": kind, **told},
         "geometry": {"type": form, "coordinates": held}}
        for kind, form, held, told in (
            ("boundary", "Polygon", [SITE], {}),
            ("plant_room", "Point", [0, 20], {}),
            ("keep_out", "Point", [60, 40], {"name": "oak", "radius_m": 0.5}),
            ("fence", "LineString", SITE[:2], {}),
        )
    ],
}  # fmt: skip


def _taken(page: Any, name: str) -> Any:
    """What is told of the file once it was read."""
    told = page.locator(f"{STEP} .plotfiletold")
    told.locator("p", has_text=name).filter(has_not_text="Reading").wait_for()
    settled(page)
    return told


def test_a_plot_is_opened_from_a_file_or_dropped_with_what_was_not_used(
    open_bench: Open, tmp_path: Path
) -> None:
    page = open_bench()
    paste(page, example("fern-paddock-around-the-house"))
    open_step(page, "setting_out")
    text = json.dumps(DRAWN)
    (tmp_path / "site.geojson").write_text(text, "utf-8")
    page.set_input_files("#open-plot", tmp_path / "site.geojson")
    told = _taken(page, "site.geojson")
    url = page.url.split("#")[0] + "v1/plot-file"
    kind = {"Content-Type": "application/geo+json"}
    answer = page.request.post(url, data=text, headers=kind).json()
    before = example("fern-paddock-around-the-house")["plot"]
    assert _job(page)["plot"] == answer["plot"] | {
        name: before[name] for name in ("spacing_m", "border_m")
    }
    words = told.inner_text()  # all of it is in sight
    for left in answer["not_used"]:
        assert left["detail"] in words
    # What stood there before is told by its name, with how to have it back.
    names = ", ".join(each["name"] for each in before["keep_outs"])
    assert f"was there before: 5 corners, 4 keep-outs ({names}), the plant room. Undo" in words
    # What the service notes of fields is told of their boxes.
    assert "spacing_m" in " ".join(answer["notes"])
    assert "Files hold no “Centre to centre”, “Border”" in words
    noted = told.locator("> ul").first.text_content()
    assert not re.search(r"[a-z]_[a-z]", noted), noted
    assert words.startswith("Taken from site.geojson: 4 corners, 1 keep-out, the plant room.")
    # A clearance that the file does not tell is an empty box, and setting out asks for it.
    clearance = page.locator(f'{STEP} [data-pointer="/plot/keep_outs/0/clearance_m"]')
    assert clearance.input_value() == ""
    ask(page, "setting_out")
    page.locator(f"{STEP} .problem", has_text="“Kept clear” is empty").wait_for()
    clearance.fill("3")
    _set_out(page)
    assert not barriers(page)

    # What is no plot leaves all as it is.
    held = _job(page)["plot"]
    (tmp_path / "bow.csv").write_text(
        "kind,x_m,y_m\nboundary,0,0\nboundary,9,9\nboundary,9,0\nboundary,0,9\n", "utf-8"
    )
    page.set_input_files("#open-plot", tmp_path / "bow.csv")
    assert "meets the side" in _taken(page, "bow.csv").text_content()
    (tmp_path / "plot.pdf").write_text("no plot", "utf-8")
    page.set_input_files("#open-plot", tmp_path / "plot.pdf")
    assert "end in .geojson" in _taken(page, "plot.pdf").text_content()
    assert _job(page)["plot"] == held

    # Dropped, it is read as well; by keys, the box to choose a file is reached.
    page.evaluate(
        """(text) => {
          const data = new DataTransfer();
          data.items.add(new File([text], "dropped.geojson"));
          const box = document.querySelector(".plotfile");
          box.dispatchEvent(new DragEvent("drop",
            { dataTransfer: data, bubbles: true, cancelable: true }));
        }""",
        text,
    )
    _taken(page, "dropped.geojson")
    assert "clearance_m" not in _job(page)["plot"]["keep_outs"][0]
    page.keyboard.press("Control+z")
    settled(page)
    assert _job(page)["plot"] == held
    page.focus("#open-plot")
    assert page.evaluate("() => document.activeElement.id") == "open-plot"
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 360
    page.set_viewport_size({"width": 1280, "height": 860})


def test_a_plot_by_its_sides_is_set_out_when_asked(open_bench: Open) -> None:
    page = open_bench()
    get = ask(page, "setting_out")
    assert "hurt" in get.locator("> *:not([hidden])").first.get_attribute("class")
    job, answer = _set_out(page)
    assert "boundary" not in job["plot"]
    for each in answer["tails"]:
        assert each["loop"] in get.text_content()
    # Where nothing but the sides is told, pipes leave in the middle of the side at x = 0.
    assert _point(page, "/plot/plant_room").get_attribute("aria-label") == "Plant room: x 0, y 20 m"

    # Every form of the plan is what the service answers to the job.
    url = page.url.split("#")[0] + "v1/setting-out"
    for name, ending in (
        ("PDF", "pdf"), ("SVG", "svg"), ("PNG", "png"), ("DXF", "dxf"), ("Points, CSV", "csv"),
        ("GeoJSON", "geojson"),
    ):  # fmt: skip
        with page.expect_download() as told:
            get.get_by_role("button", name=f"Save: {name}", exact=True).click()
        answer = page.request.post(f"{url}.{ending}", data=job)
        assert told.value.path().read_bytes() == answer.body(), name

    # Too narrow for them: said instead of figures, in the service's words.
    page.locator(f"{STEP} [data-pointer='/plot/width_m']").fill("4")
    words = page.locator(f"{STEP} .planfigures .bad")
    words.wait_for()
    told = page.request.post(url, data=_job(page)).json()["findings"]
    assert words.text_content() == f"■ {told[0]['message']}"
    assert told[0]["severity"] == "error"
    assert "it does not fit" in page.locator(f"{STEP} .stand").text_content()

    # What is refused leaves no part in the job, which would have all else refused too.
    bare = {part: job[part] for part in job.keys() - {"plot", "setting_out"}}
    paste(page, bare)
    ask(page, "setting_out").locator(".problem").wait_for()
    assert _job(page) == bare
    # What was set out is taken out of the job where the document's chapters are chosen.
    paste(page, job)
    _set_out(page)

    # Unequal trenches take places by hand: a line for each, as long as its loop; ends turn it.
    for branch, coils in zip(job["array"]["branches"], (20, 25, 30), strict=True):
        branch["loop"]["legs"][1]["slinky"]["coils"] = coils
    paste(page, job)
    told = page.locator(f"{STEP} .problem", has_text="Give the place of each")
    told.wait_for()
    assert "The array has trenches of 20 to 30 m" in told.inner_text()
    page.get_by_role("button", name="Leave places to the plan").click()
    page.get_by_role("button", name="Place every trench").click()
    assert _lengths(_job(page)["plot"]["trenches"]) == [20, 25, 30]
    page.locator(f"{STEP} .problem").wait_for(state="detached")
    before = _set_out(page)[0]["plot"]["trenches"]
    # The outermost, away from the others: nearer than 5 m centre to centre is refused.
    _point(page, "/plot/trenches/2/points/1").press("ArrowUp")
    turned = _set_out(page)[0]["plot"]["trenches"]
    assert turned[2]["points"][1] != before[2]["points"][1]
    assert turned[2]["points"][0] == before[2]["points"][0]
    assert _lengths(turned) == [20, 25, 30]
    page.keyboard.press("Control+z")
    _set_out(page)
    open_step(page, "report").get_by_label("Places on the plot").uncheck()
    assert "setting_out" not in _job(page)
    assert "asks anew" in page.locator(f"{STEP} .planfigures").text_content()


def test_loops_of_several_chambers_are_told_their_flows_on_the_plan(open_bench: Open) -> None:
    page = open_bench()
    job = example("quince-barn-equal-slinkies")
    job["setting_out"] = {"run_pipe": "PE100 SDR11 50", "max_chamber_loops": 2}
    job["limits"]["max_deviation_percent"] = 0.5
    paste(page, job)
    ask(page, "setting_out")
    job, answer = _set_out(page)
    assert len(answer["chambers"]) == 2
    planned = {**job, "array": answer["decides"]["array"]}
    split = page.request.post(page.url.split("#")[0] + "v1/split", data=planned).json()
    off = {each["loop"]: each["deviation_percent"] for each in split["loops"]}
    # Out to both sides of the tolerance: each trench in the colour of its own loop.
    assert min(off.values()) < -0.5
    assert max(off.values()) > 0.5
    for loop, deviation in off.items():
        name = loop.rpartition("/")[2]
        trench = page.locator(f"{STEP} .trenchline", has_text=re.compile(rf"^{name} [+−]"))
        colour = "starved" if deviation < -0.5 else "greedy" if deviation > 0.5 else ""
        assert trench.get_attribute("class") == f"trenchline {colour}"
    flows = {chamber["name"]: sum(each["flow_l_s"] for each in split["loops"]
                                  if each["loop"].startswith(f"{chamber['name']}/"))
             for chamber in answer["chambers"]}  # fmt: skip
    for row in page.locator(f"{STEP} [role=region][aria-label=Chambers] tbody tr").all():
        share = 100 * flows[row.locator("th").text_content()] / sum(flows.values())
        shown = row.locator("td").nth(2).text_content()
        assert abs(float(shown.rstrip(" %")) - share) <= 0.51  # shown to two digits
    # Loops of chambers are placed by hand by the names that the plan has for them.
    paste(page, planned)
    _set_out(page)
    page.get_by_role("button", name="Place every trench").click()
    _set_out(page)
    assert page.locator(f"{STEP} .problem").count() == 0
    assert {each["loop"] for each in _job(page)["plot"]["trenches"]} == {
        each["loop"] for each in answer["trenches"]
    }


def test_findings_of_a_plan_speak_of_the_screen(open_bench: Open) -> None:
    page = open_bench()
    job = example("quince-barn-equal-slinkies")
    job["setting_out"] = {"run_pipe": "PE100 SDR11 50"}
    paste(page, job)
    told = ask(page, "groundworks").locator(".findings").text_content()
    assert "Take the array that the setting out decides" in told
    assert not re.search(r"/v1/|POST|[a-z]_[a-z]", told), told
    # A name that is no field's stays as it was given.
    words = page.evaluate(
        """async () => (await import('/assets/bench/faults.js'))
            .onScreen('lorry_m3 of 6 is small for loop south_1.', '/groundworks')"""
    )
    assert words == "“A lorry holds” of 6 is small for loop south_1."


def test_corners_as_text_are_two_numbers_a_line_or_the_line_is_named(open_bench: Open) -> None:
    page = open_bench()
    paste(page, example("fern-paddock-around-the-house"))
    ask(page, "setting_out")
    before = _set_out(page)[0]
    page.get_by_text("Corners as text, to paste or copy").click()
    text = page.get_by_label("x and y in m, a line each").locator("visible=true")
    fault = text.locator("xpath=..").locator(".fault")
    for typed, words in (
        ("0 0\n60 0\n60 40 51.2", "Line 3, “60 40 51.2”: it has 3 numbers"),
        ("11 100 12.0\n12 30 12.2", "Line 1, “11 100 12.0”: it has 3 numbers"),
        ("0 0\n\nP2 30 0", "Line 3, “P2 30 0”: “P2” cannot be read as one number"),
        ("0,0; 60,-4; 68,38", "“60,-4” cannot be read as one number"),
        ("abc", "Line 1, “abc”"),
        ("0 0\n60", "Line 2, “60”: it has 1 number."),
        ("1,200 4\n0 0\n9 9", "“1,200” cannot be read as one number"),
    ):
        text.fill(typed)
        text.blur()
        assert words in fault.inner_text(), typed
        assert text.get_attribute("aria-invalid") == "true"
        assert text.input_value() == typed  # to be mended where it stands
        settled(page)
        assert _job(page) == before
    # A change of the corners on the drawing takes the place of what could not be read.
    _point(page, "/plot/boundary/0").press("ArrowUp")
    assert not fault.is_visible()
    corners = _job(page)["plot"]["boundary"]
    assert text.input_value().splitlines()[0] == f"{corners[0]['x_m']} {corners[0]['y_m']}"
    text.fill("0 0\n60;0\n60\t40\n0, 40")
    corners = _job(page)["plot"]["boundary"]
    assert [tuple(each.values()) for each in corners] == [(0, 0), (60, 0), (60, 40), (0, 40)]
    assert not fault.is_visible()
    settled(page)


def test_a_chamber_added_stands_free_beside_those_of_the_plan(
    open_bench: Open, address: str
) -> None:
    page = open_bench()
    for name in ("fern-paddock-around-the-house", "elder-yard-two-boreholes"):
        paste(page, example(name))
        ask(page, "setting_out")
        answer = _set_out(page)[1]
        for added in (1, 2):
            page.locator(STEP).get_by_role("button", name="Add chamber", exact=True).click()
            page.locator(f"{STEP} .laid.stale").wait_for()
            page.locator(f"{STEP} .laid:not(.stale)").wait_for()
            settled(page)
            job = _job(page)
            found = page.request.post(f"{address}v1/setting-out", data=job).json()
            chambers = job["plot"]["chambers"]
            assert len(chambers) == len(answer["chambers"]) + added
            assert found["decides"]["array"]
            assert "chamber_crowded" not in {each["code"] for each in found["findings"]}
        plant, first = job["plot"]["plant_room"], chambers[len(answer["chambers"])]
        away = math.dist((plant["x_m"], plant["y_m"]), (first["x_m"], first["y_m"]))
        assert away < 10  # next to the plant room; the plots are 30 m and more
        named = _point(page, "/plot/chambers/0").get_attribute("aria-label")
        assert re.fullmatch(r"Chamber C1: x \d+(\.\d{1,2})?, y \d+(\.\d{1,2})? m", named), named


def test_a_plant_room_off_the_plot_is_told_as_such(open_bench: Open) -> None:
    page = open_bench()
    job = example("fern-paddock-around-the-house")
    job["plot"]["plant_room"] = {"x_m": 34, "y_m": -50}
    paste(page, job)
    told = ask(page, "setting_out").locator(".problem").inner_text()
    assert "The plant room, at (34, −50), is 47.6 m outside the boundary" in told


POND = [{"x_m": x, "y_m": y} for x, y in ((20, 14), (44, 12), (46, 34), (22, 34))]
MAT = {"inner_diameter_m": 0.8, "outer_diameter_m": 3, "spacing_m": 0.15, "count": 1}


def _mats() -> Any:
    """Six mats of three metres; invented."""
    job = example("fern-paddock-around-the-house")
    loops = [{"loop": {"name": f"M{n}", "pipe": "PE100 SDR11 32", "legs": [{"pond_mat": MAT}]}}
             for n in range(1, 7)]  # fmt: skip
    plot = {"boundary": [{"x_m": x, "y_m": y} for x, y in ((0, 0), (60, 0), (60, 45), (0, 45))],
            "plant_room": {"x_m": 5, "y_m": 5}}  # fmt: skip
    return {"name": "Coot Mere (invented)", "antifreeze": job["antifreeze"], "plot": plot,
            "array": {"arrangement": "manifold", "branches": loops},
            "duty": {"heat_kw": 5, "to_ground_c": 0, "from_ground_c": 3},
            "setting_out": {"run_pipe": "PE100 SDR11 63"}}  # fmt: skip


def test_water_is_drawn_by_its_corners_and_mats_in_it_are_moved_by_hand(open_bench: Open) -> None:
    page = open_bench()
    paste(page, _mats())
    told = ask(page, "setting_out").locator(".problem").inner_text()
    assert "Mats lie in water" in told
    step = page.locator(STEP)
    step.get_by_role("button", name="Add water, by its corners").click()
    settled(page)
    assert len(_job(page)["plot"]["water"]) == 4
    for index, corner in enumerate(POND):
        for name, value in corner.items():
            page.fill(f'{STEP} [data-pointer="/plot/water/{index}/{name}"]', str(value))
    job, answer = _set_out(page)
    assert job["plot"]["water"] == POND
    assert "mats" not in job["plot"]
    assert len(answer["mats"]) == page.locator(f"{STEP} circle.boreplace.mat[cx]").count() - 1 == 6
    names = page.locator(f"{STEP} .loopname").all_text_contents()
    assert {name.split()[0] for name in names} == {each["loop"] for each in answer["mats"]}
    assert "mat in the water" in page.locator(f"{STEP} .planlegend").text_content()

    # Moved by keys or dragged, it has a place of its own, and all others that of the plan.
    before = {each["loop"]: each for each in answer["mats"]}
    moved = answer["mats"][0]["loop"]
    _point(page, "/plot/mats/0").press("ArrowRight")
    job, answer = _set_out(page)
    after = {each["loop"]: each for each in job["plot"]["mats"]}
    assert after[moved]["x_m"] == round(before[moved]["x_m"] + 0.5, 3)
    for loop in before.keys() - {moved}:
        assert (after[loop]["x_m"], after[loop]["y_m"]) == (
            before[loop]["x_m"], before[loop]["y_m"])  # fmt: skip
    assert [{n: each[n] for n in ("loop", "x_m", "y_m")} for each in answer["mats"]] == (
        job["plot"]["mats"]
    )
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 360
    assert not barriers(page)
    page.set_viewport_size({"width": 1280, "height": 860})

    # Ashore it is refused in words; left to the plan, all is as it was.
    _point(page, "/plot/mats/0").press("ArrowLeft")
    for _ in range(8):
        _point(page, "/plot/mats/0").press("Shift+ArrowLeft")
    page.locator(f"{STEP} .planfigures", has_text="Not answered").wait_for()
    step.get_by_text("Mats placed by hand").click()
    step.get_by_role("button", name="Leave mats to the plan").click()
    assert _set_out(page)[0]["plot"] == _mats()["plot"] | {"water": POND}
    step.get_by_role("button", name="Take the water away").click()
    assert "water" not in _job(page)["plot"]


def test_pits_of_spare_pipe_are_drawn_and_named(open_bench: Open) -> None:
    page = open_bench()
    paste(page, example("fern-paddock-around-the-house"))
    ask(page, "setting_out")
    job, answer = _set_out(page)
    assert page.locator(f"{STEP} .pit").count() == len(answer["spare_pits"]) == 0
    array = answer["decides"]["array"]
    branch = array["branches"][0]
    held = branch["circuit"]["branches"][0] if "circuit" in branch else branch
    held["loop"]["legs"].append({"coiled": {"length_m": 25, "coil_diameter_m": 1}})
    paste(page, {**job, "array": array})
    answer = _set_out(page)[1]
    assert len(answer["spare_pits"]) == 1
    pits = page.locator(f"{STEP} polygon.pit")
    assert pits.count() == 1
    assert answer["spare_pits"][0]["loop"] in pits.locator("title").text_content()
    assert "spare pipe" in page.locator(f"{STEP} .planlegend").text_content()
    assert not barriers(page)
