"""The card's own script on a stand-in page: rods on ramps, pits and trenches, whatever is typed."""

import json
from importlib.resources import files

import pytest
from py_mini_racer import MiniRacer

PAGE = """
function box(more) {
  var one = {value: "", textContent: "", hidden: false, checked: false, dataset: {}, style: {},
    children: {}, classList: {toggle: function () {}}, addEventListener: function () {},
    appendChild: function () {}, getAttribute: function () { return "0"; },
    querySelector: function (name) {
      if (name !== ".wanted") return null;
      return this.children[name] = this.children[name] || box({});
    },
    querySelectorAll: function () { return []; }};
  for (var key in more) one[key] = more[key];
  return one;
}
var byId = {}, kept = {};
var rods = FLOORS.map(function (floor) { return box({dataset: {floor: floor}}); });
var sections = [box({}), box({})];
var document = {
  documentElement: box({}),
  getElementById: function (id) {
    return byId[id] = byId[id] || box(id === "facts" ? {textContent: FACTS} : {});
  },
  querySelectorAll: function (name) {
    return name === ".rod-at" ? rods : name === ".wall" ? sections : [];
  },
  createElement: box, createTextNode: box
};
var window = {scrollTo: function () {}, localStorage: {
  getItem: function (key) { return key in kept ? kept[key] : null; },
  setItem: function (key, value) { kept[key] = value; }, removeItem: function () {}
}};
"""

FACTS = {
    "key": "instrument", "unit": "ft", "feet": True, "decimals": 2, "marks": [], "starts": 1,
    "pages": [[0, -1, "Before you dig"], [1, -1, "Stand 1"]], "walls": [{}, {}],
}  # fmt: skip


def card_with(height, *floors):
    """What rods read, None where hidden, and which sections show, of a card that kept a height."""
    engine = MiniRacer()
    folder = files("terrain.report").joinpath("templates")
    engine.eval(f"var FLOORS = {json.dumps(floors)}, FACTS = {json.dumps(json.dumps(FACTS))};")
    engine.eval(PAGE + folder.joinpath("card_sums.js").read_text("utf-8"))
    engine.eval(
        "var now = new Date(), two = function (n) { return (n < 10 ? '0' : '') + n; };"
        "kept.instrument = keptText('" + height + "', now.getFullYear() + '-' + "
        "two(now.getMonth() + 1) + '-' + two(now.getDate()), '07:00');"
    )
    engine.eval(folder.joinpath("card.js").read_text("utf-8"))
    told = json.loads(
        engine.eval(
            "JSON.stringify([rods.map(function (r) { return r.hidden ? null : "
            "r.querySelector('.wanted').textContent; }), "
            "sections.map(function (s) { return s.hidden; })])"
        )
    )
    engine.close()
    return told


def test_each_floor_has_the_instrument_less_the_floor():
    rods, _ = card_with("105.5", "96.5", "99.54")
    assert rods == ["9.00 ft (9\u2032 0\u2033)", "5.96 ft (5\u2032 11\u00bd\u2033)"]


@pytest.mark.parametrize(
    ("height", "rods"), [("97.0", ["0.50 ft (6\u2033)", None]), ("9.7", [None, None])]
)
def test_a_floor_above_the_instrument_has_no_reading_and_the_card_still_turns_pages(height, rods):
    told, hidden = card_with(height, "96.5", "99.54")
    assert told == rods
    assert hidden == [False, True]
