"""The dig in space: the viewer's data, the raster, the picture and its names."""

import base64
import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from importlib.resources import files
from itertools import pairwise

import numpy as np
import pytest
from rasterio.io import MemoryFile

from terrain.job.scene import scene_of
from terrain.job.volumes import told
from terrain.report.camera import camera_on, house_walls
from terrain.report.palette import DARK, EXTRA, LIGHT, channels, row_colours
from terrain.report.png import png
from terrain.report.raster import raster
from terrain.report.space import as_script_data, space_data
from terrain.report.still import still_svg
from tests.job.made_pit import plane, worked

pytestmark = pytest.mark.filterwarnings("ignore:Dataset has no geotransform")
SVG = "{http://www.w3.org/2000/svg}"
EVIL = "</script><!--<script>&amp;"


@pytest.fixture(scope="module")
def pit(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pit")
    made = worked(folder, ground=plane(fall=(0.02, 0.05)), names=(EVIL, "east", "north", "west"))
    return told(made), scene_of(made)


def unpacked(text, kind, width):
    return np.frombuffer(base64.b64decode(text), dtype=kind).reshape(-1, width)


def test_the_viewers_data_tell_the_scene_to_a_65535th(pit):
    volumes, scene = pit
    data = json.loads(as_script_data(space_data(volumes, scene)))
    places = unpacked(data["places"], "<u2", 3) * data["step"]
    for body, own in zip(scene.bodies, data["bodies"], strict=True):
        for name in ("faces", "lid"):
            told_faces = places[unpacked(own[name], "<u4", 3)]
            real = scene.vertices[getattr(body, name)]
            shift = real.reshape(-1, 3).min(axis=0) - told_faces.reshape(-1, 3).min(axis=0)
            assert shift - (scene.vertices.min(axis=0)) == pytest.approx(0.0, abs=0.01)
            assert len(told_faces) <= len(real)
    ground = places[unpacked(data["ground"]["faces"], "<u4", 3)]
    assert np.ptp(ground.reshape(-1, 3), axis=0) == pytest.approx(
        np.ptp(scene.vertices[scene.ground].reshape(-1, 3), axis=0), abs=0.01
    )


def test_the_viewers_words_are_the_ledgers_figures(pit):
    volumes, scene = pit
    data = space_data(volumes, scene)
    assert [b["bank"] for b in data["bodies"]] == [
        f"{row.quantity.bank:.1f} yd³" for row in volumes.ledger.walls
    ]


def test_no_text_in_the_data_can_close_the_script_or_open_a_comment(pit):
    text = as_script_data(space_data(*pit))
    assert not set("<>&") & set(text)
    assert json.loads(text)["bodies"][0]["name"].startswith("</script>")


def test_the_nearest_triangle_is_in_front_and_pixels_outside_all_are_none():
    far = [(0, 0, 1), (8, 0, 1), (0, 8, 1)]
    near = [(0, 0, 2), (4, 0, 2), (0, 4, 2)]
    heights, face = raster(np.array([far, near], dtype=float), 8, 8)
    assert face[0, 0] == 1
    assert face[0, 6] == 0
    assert face[7, 7] == -1
    assert heights[1, 1] == pytest.approx(2.0)
    again, _ = raster(np.array([near[::-1], far[::-1]], dtype=float), 8, 8)
    assert again == pytest.approx(heights)


def test_depth_between_corners_is_linear():
    corners = np.array([[(0, 0, 0), (10, 0, 10), (0, 10, 20)]], dtype=float)
    heights, face = raster(corners, 10, 10)
    rows, columns = np.nonzero(face == 0)
    assert heights[rows, columns] == pytest.approx(columns + 0.5 + 2 * (rows + 0.5))


def test_a_png_is_read_back_by_another_library():
    pixels = np.random.default_rng(5).integers(0, 256, (7, 11, 3), dtype=np.uint8)
    pixels[3] = pixels[2]
    with MemoryFile(png(pixels)) as file, file.open() as image:
        assert np.array_equal(np.moveaxis(image.read(), 0, 2), pixels)


def test_the_view_keeps_lengths_across_it_and_up_is_up(pit):
    _, scene = pit
    camera = camera_on(scene, 700.0, 20.0)
    here = np.zeros((4, 3))
    turn = np.radians(scene.heading)
    here[1, :2] = 10 * np.array([-np.cos(turn), np.sin(turn)])  # level, across the view
    here[2] = [0.0, 0.0, 10.0]
    here[3, :2] = 10 * np.array([np.sin(turn), np.cos(turn)])  # level, towards the viewer
    seen = camera.pixels(here)
    assert np.hypot(*(seen[1] - seen[0])[:2]) == pytest.approx(10 * camera.scale)
    assert seen[1, 0] > seen[0, 0]
    assert seen[2, 0] == pytest.approx(seen[0, 0])
    assert seen[2, 1] < seen[0, 1]
    assert seen[3, 1] > seen[0, 1]
    assert seen[3, 2] > seen[0, 2]


def test_the_whole_scene_is_in_the_picture(pit):
    _, scene = pit
    camera = camera_on(scene, 700.0, 20.0)
    seen = camera.pixels(scene.vertices)
    assert seen[:, 0].min() >= 19.9
    assert seen[:, 0].max() <= 680.1
    assert seen[:, 1].min() >= 19.9
    assert seen[:, 1].max() <= camera.height - 19.9


@pytest.mark.parametrize("width", [344.0, 720.0])
def test_the_still_names_every_wall_and_shows_its_colour(pit, width):
    volumes, scene = pit
    root = ET.fromstring(still_svg(volumes, scene, width))
    said = ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]
    for row in volumes.ledger.walls[1:]:  # a narrow one has its volumes in the list below it
        figure = f" {row.quantity.bank:.1f} yd³" if width > 500 else ""
        assert row.wall + figure in said
    image = next(root.iter(f"{SVG}image"))
    data = base64.b64decode(image.get("href").removeprefix("data:image/png;base64,"))
    with MemoryFile(data) as file, file.open() as picture:
        pixels = np.moveaxis(picture.read(), 0, 2).reshape(-1, 3) / 255
    assert len(pixels) > 4 * width
    for colour in row_colours([body.kind for body in scene.bodies]):
        hue = np.array(channels(colour))
        shade = pixels @ hue / (hue @ hue)  # each pixel as a shade of the colour
        near = np.abs(pixels - shade[:, None] * hue).max(axis=1) < 0.02
        assert np.sum(near & (shade > 0.5) & (shade <= 1.02)) > 50


def test_neighbouring_walls_differ_in_lightness():
    """On a grey printer (luma of ITU-R BT.601) no dark is as light as any light."""
    grey = [np.dot(channels(c), (0.299, 0.587, 0.114)) for c in (*DARK, *LIGHT)]
    assert max(grey[: len(DARK)]) + 0.2 < min(grey[len(DARK) :])
    colours = row_colours(["wall"] * 8 + ["pit"])
    assert all((a in DARK) != (b in DARK) for a, b in pairwise(colours[:8]))
    assert colours[-1] in EXTRA


def test_the_still_is_a_small_file(pit):
    assert len(still_svg(*pit, 720.0)) < 250_000
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", still_svg(*pit, 720.0))


def test_the_viewer_uses_only_what_the_bundled_library_has():
    package = files("terrain.report")
    used = set(re.findall(r"three\.(\w+)", package.joinpath("templates/viewer.js").read_text()))
    entry = package.joinpath("vendor/three-entry.js").read_text()
    assert used - {"js"} <= set(re.findall(r"\w+", entry.partition("{")[2].partition("}")[0]))
    assert len(used) > 10


def test_the_foundations_walls_stand_on_its_lines_and_are_faint_in_the_picture(pit):
    volumes, scene = pit
    feet = scene.house
    tops = feet + np.array([0.0, 0.0, 8.0])
    scene = replace(
        scene, house=np.concatenate([feet, tops, np.stack([feet[:, 0], tops[:, 0]], 1)])
    )
    walls = house_walls(scene)
    assert len(walls) * 3 == len(scene.house)
    lines = {tuple(sorted(map(tuple, line.round(6).tolist()))) for line in scene.house}
    for wall in walls:
        for one, two in zip(wall, np.roll(wall, -1, axis=0), strict=True):
            assert tuple(sorted(map(tuple, np.array([one, two]).round(6).tolist()))) in lines
    data = space_data(volumes, scene)
    assert len(unpacked(data["walls"], "<u2", 3)) == 6 * len(walls)
    drawn = ET.fromstring(still_svg(volumes, scene, 720.0)).iter(f"{SVG}path")
    faint = [p for p in drawn if p.get("fill-opacity")]
    assert len(faint) == len(walls)
    assert all(float(p.get("fill-opacity")) < 0.5 for p in faint)


def test_a_foundation_without_a_known_top_has_lines_and_no_walls(pit):
    _, scene = pit
    assert house_walls(scene).shape == (0, 4, 3)
    assert house_walls(replace(scene, house=scene.house[:3])).shape == (0, 4, 3)
