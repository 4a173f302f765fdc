"""The same job gives the same bytes in every file, and text no format can hold is made plain."""

import hashlib
import time

import pytest

from terrain.export.layers_gpkg import write_layers_gpkg
from terrain.export.plan_dxf import plan_dxf
from terrain.export.plan_geojson import no_geojson_because, plan_geojson
from terrain.export.solid_glb import solid_glb
from terrain.export.solid_ply import solid_ply
from terrain.export.surfaces_xml import write_surfaces_xml
from terrain.export.text import plain
from tests.export.drawn import drawn, write_job


def checksums(layers, folder) -> dict[str, str]:
    folder.mkdir()
    write_layers_gpkg(layers, folder / "layers.gpkg")
    write_surfaces_xml(layers, folder / "surfaces.xml")
    (folder / "dig.glb").write_bytes(solid_glb(layers))
    (folder / "dig.ply").write_bytes(solid_ply(layers))
    (folder / "plan.dxf").write_bytes(plan_dxf(layers))
    if no_geojson_because(layers) is None:
        (folder / "plan.geojson").write_text(plan_geojson(layers), encoding="utf-8")
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.iterdir()}


@pytest.mark.parametrize("site", ["m", "local"])
def test_a_job_worked_out_twice_gives_the_same_bytes(site, tmp_path):
    job = write_job(tmp_path / "job", site)
    first = checksums(drawn(job)[1], tmp_path / "first")
    time.sleep(1.1)  # a clock in a file would show
    assert checksums(drawn(job)[1], tmp_path / "second") == first
    assert len(first) == (5 if site == "local" else 6)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("front & <b>", "front & <b>"),
        ("", ""),
        ("a\0b\tc\nd", "a b c d"),
        ("half \ud800 of a letter", "half   of a letter"),
        ("no sign \ufffe\uffff", "no sign   "),
        ("right to left \u202e", "right to left  "),
    ],
)
def test_what_cannot_be_printed_becomes_a_blank(text, wanted):
    assert plain(text) == wanted
    assert plain(plain(text)) == wanted
