// The card's arithmetic: pure functions, tested from Python with the same cases. Lengths in the
// job's unit. Written for old phones.
"use strict";

// The number a thumb typed, with a point or a comma; null for anything else.
function readNumber(text) {
  var typed = String(text).trim().replace(",", ".").replace("\u2212", "-");
  return /^-?(\d+\.?\d*|\.\d+)$/.test(typed) ? parseFloat(typed) : null;
}

// A length as typed: a number, and where the job is in feet also feet and inches as 2' 6", 2 ft 6,
// 2' 6 1/2" or 30 in; null for anything else.
function readLength(text, inFeet) {
  var number = readNumber(text);
  if (number !== null || !inFeet) return number;
  var typed = String(text).toLowerCase().trim()
    .replace(/[\u2032\u2019`]/g, "'").replace(/[\u2033\u201d]|''/g, "\"").replace(/,/g, ".")
    .replace(/\u00bc/g, " 1/4").replace(/\u00bd/g, " 1/2").replace(/\u00be/g, " 3/4")
    .replace(/feet|foot|ft\.?/g, "'").replace(/inches|inch|in\.?/g, "\"");
  var feet = "(?:(\\d+\\.?\\d*)\\s*')?", whole = "(?:(\\d+\\.?\\d*)(?=\\s|\"|$))?", part = "(?:(\\d+)\\s*/\\s*(\\d+))?";
  var read = new RegExp("^" + feet + "\\s*" + whole + "\\s*" + part + "\\s*(\")?$").exec(typed);
  if (!read || (read[1] === undefined && read[5] === undefined)) return null;
  var has = read[2] !== undefined || read[3] !== undefined;
  if (!has && (read[1] === undefined || read[5] !== undefined)) return null;
  if (read[4] !== undefined && Number(read[4]) === 0) return null;
  var inches = Number(read[2] || 0) + (read[3] === undefined ? 0 : Number(read[3]) / Number(read[4]));
  if (read[1] !== undefined && inches >= 12) return null;
  return Number(read[1] || 0) + inches / 12;
}

// The elevation of the line of sight, from the rod on a mark.
function instrumentHeight(mark, reading) {
  return mark + reading;
}

// What the rod must read on the finished floor; null where the instrument is not above it.
function rodTarget(instrument, floor) {
  return instrument > floor ? instrument - floor : null;
}

// The same while no height is typed yet: null as well.
function wantedOn(height, floor) {
  return height === null ? null : rodTarget(height, floor);
}

// A larger reading is a lower foot of the rod. What nobody digs by mistake is asked about: more
// than `far` too deep, or higher than the ground was, which is `deepest` over the floor.
function sayRod(target, reading, within, far, deepest) {
  if (reading < 0) return { word: "upside", by: -reading };
  var over = target - reading;
  if (-over > far) return { word: "check-deep", by: -over };
  if (over > deepest + far) return { word: "check-high", by: over };
  return said(over, within, "high", "low");
}

// The tape runs from the wall line out to the foot of the dug side.
function sayTape(wanted, tape, within, far) {
  if (tape < 0) return { word: "check-inside", by: -tape };
  if (tape - wanted > far) return { word: "check-wide", by: tape - wanted };
  return said(tape - wanted, within, "wide", "narrow");
}

function said(over, within, more, less) {
  var by = Math.abs(over);
  if (by <= within + 1e-9) return { word: "right", by: by };
  return { word: over > 0 ? more : less, by: by };
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

// What is kept on the phone, as a text: the instrument's height as typed, the day, the hour.
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
