// Shows the card a stand at a time and answers rod and tape. No network; all that is kept, on the
// phone alone and for the day, is the instrument's height, that the cautions were read and the page
// shown, and where a phone refuses that the card does without.
"use strict";
(function () {
  var facts = JSON.parse(document.getElementById("facts").textContent);
  var walls = document.querySelectorAll(".wall");
  var stands = document.querySelectorAll(".wall .stand");
  var map = document.getElementById("map");
  var turns = document.querySelectorAll("#map .turn");
  var before = document.querySelectorAll("#map .before");
  var safety = document.getElementById("safety");
  var read = document.getElementById("read");
  var instrument = document.getElementById("instrument");
  var mark = document.getElementById("mark");
  var backsight = document.getElementById("backsight");
  var again = document.getElementById("again");
  var chosen = document.getElementById("choose");
  var back = document.getElementById("back");
  var next = document.getElementById("next");
  var pages = facts.pages;
  var now = 0;
  var setAt = "";

  function two(number) {
    return (number < 10 ? "0" : "") + number;
  }

  function today() {
    var date = new Date();
    return date.getFullYear() + "-" + two(date.getMonth() + 1) + "-" + two(date.getDate());
  }

  function hour() {
    var date = new Date();
    return two(date.getHours()) + ":" + two(date.getMinutes());
  }

  // Kept under the job's own name: another lot has another instrument.
  function keep() {
    setAt = readNumber(instrument.value) === null ? "" : hour();
    try {
      if (setAt) window.localStorage.setItem(facts.key, keptText(instrument.value, today(), setAt));
      else window.localStorage.removeItem(facts.key);
    } catch (error) { return; }
  }

  function takeUp() {
    var hint = document.getElementById("kept");
    try {
      var kept = keptOn(window.localStorage.getItem(facts.key), today());
      window.localStorage.setItem(facts.key + " test", "1");
      window.localStorage.removeItem(facts.key + " test");
      hint.textContent = "kept on this phone until midnight";
      if (!kept) return;
      instrument.value = kept.height;
      setAt = kept.hour;
    } catch (error) { return; }
  }

  function length(value) {
    return value.toFixed(facts.decimals);
  }

  function withUnit(value) {
    return length(value) + " " + facts.unit + (facts.feet ? " (" + feetInches(value) + ")" : "");
  }

  function targetOf(wall) {
    var floor = facts.walls[wall].floor;
    var height = readNumber(instrument.value);
    return floor === undefined ? null : wantedOn(height, floor);
  }

  function put(box, word, rest) {
    box.textContent = "";
    box.classList.toggle("told", word !== "");
    var strong = document.createElement("b");
    strong.textContent = word;
    box.appendChild(strong);
    box.appendChild(document.createTextNode(rest));
  }

  var SIGNS = {
    high: "\u25b2 HIGH", low: "\u25bc LOW", right: "\u2713 RIGHT", wide: "\u2194 WIDE", narrow: "\u2192\u2190 NARROW",
    upside: "? CHECK", "check-deep": "? CHECK", "check-high": "? CHECK", "check-inside": "? CHECK", "check-wide": "? CHECK"
  };
  var HINTS = {
    high: "dig deeper", low: "too deep: tell the foreman, put no loose earth back",
    wide: "stop, tell the foreman, do not fill back", narrow: "cut further out", right: "leave it"
  };
  var ASKED = {
    "check-deep": ["that would be ", " too deep. Read the rod again, then the instrument."],
    "check-high": ["that would be ", " above the floor, higher than the ground was. Read the rod again, then the instrument."],
    "check-inside": ["that would be ", " inside the wall line. A tape here runs outwards, so without a minus."],
    "check-wide": ["that would be ", " too wide. Tape again, square to the wall."]
  };

  function verdict(box, answer) {
    if (answer.word === "upside") return put(box, SIGNS.upside, " a rod reads above nought. Was it held upside down, or was a minus typed by mistake?");
    var asked = ASKED[answer.word];
    if (asked) return put(box, SIGNS[answer.word], " " + asked[0] + withUnit(answer.by) + asked[1]);
    var off = answer.word === "right" ? " off: " : ": ";
    var by = answer.by < 0.5 * Math.pow(10, -facts.decimals) ? "" : withUnit(answer.by) + off;
    put(box, SIGNS[answer.word], " " + by + HINTS[answer.word]);
  }

  function checkRod(wall, section) {
    var box = section.querySelector(".rod-said");
    if (!box) return;
    var typed = section.querySelector(".rod").value;
    var reading = readLength(typed, facts.feet);
    var target = targetOf(wall);
    if (!typed.trim()) put(box, "", "");
    else if (reading === null) put(box, "", typeLike("9.8", "9\u2032 9\u2033"));
    else if (target === null) put(box, "", "First set the instrument, at the top");
    else verdict(box, sayRod(target, reading, facts.floorWithin, facts.far, facts.deepest));
  }

  function checkTape(wall, section) {
    var box = section.querySelector(".tape-said");
    if (!box) return;
    var typed = section.querySelector(".tape").value;
    var tape = readLength(typed, facts.feet);
    if (!typed.trim()) put(box, "", "");
    else if (tape === null) put(box, "", typeLike("2.5", "2\u2032 6\u2033"));
    else verdict(box, sayTape(facts.walls[wall].overdig, tape, facts.lineWithin, facts.far));
  }

  function typeLike(number, inches) {
    return "Type a number such as " + number + (facts.feet ? ", or " + inches : "");
  }

  // The reading that is wanted, beside what is dug from each stand.
  function showWanted(wall, target) {
    var lines = walls[wall].querySelectorAll(".rod-line");
    for (var k = 0; k < lines.length; k++) putWanted(lines[k], target);
  }

  function putWanted(line, target) {
    line.hidden = target === null;
    line.querySelector(".wanted").textContent = target === null ? "" : withUnit(target);
  }

  // The same for the floors of ramps, pits and trenches, told before the first stand.
  function showFloors(height) {
    var lines = document.querySelectorAll(".rod-at");
    for (var k = 0; k < lines.length; k++) putWanted(lines[k], wantedOn(height, Number(lines[k].dataset.floor)));
  }

  function showTargets() {
    var height = readNumber(instrument.value);
    showFloors(height);
    var wrong = document.getElementById("instrument-said");
    var below = false;
    for (var w = 0; w < walls.length; w++) {
      var big = walls[w].querySelector(".target");
      if (!big) continue;
      var target = targetOf(w);
      below = below || (height !== null && target === null);
      big.textContent = target === null ? "\u2013" : length(target) + " " + facts.unit;
      walls[w].classList.toggle("unset", target === null);
      showWanted(w, target);
      checkRod(w, walls[w]);
    }
    if (instrument.value.trim() && height === null) wrong.textContent = "Type a number such as 106.3";
    else if (below) wrong.textContent = "That is not above the floor. Type the elevation of the line of sight, not a rod reading.";
    else wrong.textContent = "";
  }

  // The rod on a mark sets the instrument's height; typing the height itself empties that box.
  function setUp() {
    var reading = readLength(backsight.value, facts.feet);
    if (reading === null) return;
    instrument.value = length(instrumentHeight(facts.marks[Number(mark.value)], reading));
    keep();
    showTargets();
  }

  function show(page) {
    now = Math.max(0, Math.min(pages.length - 1, page));
    var wall = pages[now][0], stand = pages[now][1];
    for (var w = 0; w < walls.length; w++) {
      if (w !== wall && !walls[w].hidden) clear(walls[w]);
      walls[w].hidden = w !== wall;
    }
    for (var s = 0; s < stands.length; s++) stands[s].hidden = s !== stand;
    for (var t = 0; t < turns.length; t++) {
      turns[t].style.display = Number(turns[t].getAttribute("data-turn")) === stand ? "inline" : "none";
      before[t].style.display = Number(before[t].getAttribute("data-before")) < stand ? "inline" : "none";
    }
    var here = walls[wall].querySelector(".map-here");
    map.hidden = !here;
    if (here) here.appendChild(map);
    chosen.value = String(wall);
    back.disabled = now === 0;
    next.disabled = now === pages.length - 1;
    back.textContent = now === 0 ? "\u25c0" : "\u25c0 " + nameOf(now - 1);
    next.textContent = next.disabled ? "The end" : nameOf(now + 1) + " \u25b6";
    document.documentElement.classList.toggle("starting", wall < facts.starts);
    safety.hidden = now === 0;
    keepPage();
    gate();
    fold(true);
    window.scrollTo(0, 0);
  }

  // The cautions are read once a day before the first page is left.
  function gate() {
    if (now !== 0) return;
    next.disabled = !read.checked;
    if (next.disabled) next.textContent = "Tick: read";
    else next.textContent = nameOf(1) + " \u25b6";
  }

  function keepRead() {
    try {
      window.localStorage.setItem(facts.key + " read", read.checked ? today() : "");
    } catch (error) { return; }
  }

  // The page shown is taken up again when the phone loads the card anew that day.
  function keepPage() {
    try {
      window.localStorage.setItem(facts.key + " page", today() + " " + now);
    } catch (error) { return; }
  }

  function pageKept() {
    try {
      var kept = (window.localStorage.getItem(facts.key + " page") || "").split(" ");
      return kept[0] === today() ? Number(kept[1]) || 0 : 0;
    } catch (error) { return 0; }
  }

  function takeUpRead() {
    try {
      read.checked = window.localStorage.getItem(facts.key + " read") === today();
    } catch (error) { return; }
  }

  // The instrument's box gives way to one line as soon as the height is known, and while a stand is
  // shown also before.
  function fold(wanted) {
    var height = readNumber(instrument.value);
    var good = height !== null && document.getElementById("instrument-said").textContent === "";
    document.getElementById("set").hidden = wanted;
    again.hidden = !wanted;
    if (good) again.textContent = "Instrument " + length(height) + " " + facts.unit + ", set " + setAt + " \u00b7 change";
    else again.textContent = "Set the instrument \u25be";
  }

  function done() {
    if (readNumber(instrument.value) !== null && document.getElementById("instrument-said").textContent === "") fold(true);
  }

  function nameOf(page) {
    return pages[page][2];
  }

  function clear(section) {
    var typed = section.querySelectorAll("input");
    for (var k = 0; k < typed.length; k++) typed[k].value = "";
    var told = section.querySelectorAll(".said");
    for (k = 0; k < told.length; k++) put(told[k], "", "");
  }

  function watch(w) {
    var rod = walls[w].querySelector(".rod"), tape = walls[w].querySelector(".tape");
    if (rod) rod.addEventListener("input", function () { checkRod(w, walls[w]); });
    if (tape) tape.addEventListener("input", function () { checkTape(w, walls[w]); });
  }

  for (var w = 0; w < walls.length; w++) watch(w);
  instrument.addEventListener("input", function () {
    if (backsight) backsight.value = "";
    keep();
    showTargets();
  });
  if (backsight) {
    backsight.addEventListener("input", setUp);
    backsight.addEventListener("change", done);
    mark.addEventListener("change", setUp);
  }
  instrument.addEventListener("change", done);
  read.addEventListener("change", function () { keepRead(); gate(); });
  safety.addEventListener("click", function () { show(0); });
  again.addEventListener("click", function () { fold(false); });
  back.addEventListener("click", function () { show(now - 1); });
  next.addEventListener("click", function () { show(now + 1); });
  chosen.addEventListener("change", function () {
    for (var k = 0; k < pages.length; k++) if (pages[k][0] === Number(chosen.value)) return show(k);
  });
  document.documentElement.className = "live";
  takeUp();
  takeUpRead();
  showTargets();
  show(read.checked ? Math.max(pageKept(), 1) : 0);
})();
