// The card's arithmetic: pure functions, tested from Python with the same cases. Lengths in the
// job's unit, volumes loose in its volume unit. Written for old phones.
"use strict";

// The number a thumb typed, with a point or a comma; null for anything else.
function readNumber(text) {
  var typed = String(text).replace(/\s/g, "").replace(",", ".").replace("\u2212", "-");
  return /^-?(\d+\.?\d*|\.\d+)$/.test(typed) ? parseFloat(typed) : null;
}

// The elevation of the line of sight, from the rod on a mark.
function instrumentHeight(mark, reading) {
  return mark + reading;
}

// What the rod must read on the finished floor; null where the instrument is not above it.
function rodTarget(instrument, floor) {
  return instrument > floor ? instrument - floor : null;
}

// A larger reading is a lower foot of the rod.
function sayRod(target, reading, within) {
  return said(target - reading, within, "high", "low");
}

// The tape runs from the wall line out to the foot of the dug side.
function sayTape(wanted, tape, within) {
  return said(tape - wanted, within, "wide", "narrow");
}

function said(over, within, more, less) {
  var by = Math.abs(over);
  if (by <= within + 1e-9) return { word: "right", by: by };
  return { word: over > 0 ? more : less, by: by };
}

// Whole buckets that a place still takes from the stand numbered `from` in the list on.
// Each cast is [stand's place in the list, place, loose].
function bucketsLeft(casts, place, from, capacity) {
  var loose = 0;
  for (var k = 0; k < casts.length; k++) {
    if (casts[k][0] >= from && casts[k][1] === place) loose += casts[k][2];
  }
  return Math.ceil(loose / capacity - 1e-9);
}

// Feet as feet and inches to the quarter, as a tape has them: 2' 4 3/4".
function feetInches(feet) {
  var quarters = Math.round(feet * 48);
  var whole = Math.floor(quarters / 48);
  var inches = Math.floor((quarters % 48) / 4);
  var part = ["", "\u00bc", "\u00bd", "\u00be"][quarters % 4];
  var told = (inches || !part ? inches : "") + part + "\u2033";
  return whole ? whole + "\u2032 " + told : told;
}

// What is kept of the instrument on the phone, as a text: its height as typed, the day, the hour.
function keptText(height, day, hour) {
  return JSON.stringify({ height: height, day: day, hour: hour });
}

// The same read back; null if it is of another day, or no such text: an instrument is set up anew
// every morning.
function keptOn(text, day) {
  var kept;
  try { kept = JSON.parse(text); } catch (error) { return null; }
  if (!kept || kept.day !== day || readNumber(kept.height) === null) return null;
  return { height: String(kept.height), hour: String(kept.hour) };
}
