// The network painted on a canvas that nobody sees yet, a few thousand strokes at a time, so that moving stays fluid.

import { paintGraticule } from "./ground.js";
import { DECIDE, finding, MUST_FIX, NONE, site, STROKES, words } from "./marks.js";

const AT_ONCE = 400; // strokes between two looks at the clock
const MARKS_APART = 15; // pixels; of several marks nearer than this the worst is drawn
const NOTES_UP_TO = 300; // lines on the screen with which notes are marked as well
const TRIANGLES_UP_TO = 2500; // sites on the screen that are drawn as masts and not as points
const NAMES_UP_TO = 350;
const LINE_NAMES_UP_TO = 60;

// Paints everything; gives way after each portion. The pen's picture is that of the view.
export function* painted(pen, view, { network, tiles, layers, color }) {
  pen.clearRect(0, 0, view.width, view.height);
  for (const pyramid of tiles) pyramid.paint(pen, view);
  layers?.paint(pen, view, color);
  paintGraticule(pen, view, color);
  yield;
  if (!network) return;
  const lines = network.linesIn(view);
  yield* paintLines(pen, view, network, lines, color);
  const sites = network.sitesIn(view);
  const taken = new Boxes();
  yield* paintSites(pen, view, network, sites, color);
  yield* paintMarks(pen, view, network, lines, sites, color, taken);
  if (network.kind === "each") paintNames(pen, view, network, lines, sites, color, taken);
}

function* paintLines(pen, view, network, lines, color) {
  const { from, to, look, count } = network.lines;
  const groups = new Map();
  for (const line of lines) {
    const weight = count ? Math.min(2, Math.floor(Math.log10(count[line]) + 0.3)) : 0;
    const key = look[line] * 3 + weight;
    if (!groups.has(key)) groups.set(key, []);
    groups.get(key).push(line);
  }
  for (const key of [...groups.keys()].sort((a, b) => b - a)) {
    const stroke = STROKES[Math.floor(key / 3)];
    const members = groups.get(key);
    for (let start = 0; start < members.length; start += AT_ONCE) {
      pen.beginPath();
      for (const line of members.slice(start, start + AT_ONCE)) {
        const [a, b] = [from[line], to[line]];
        pen.moveTo(view.left(network.x[a]), view.top(network.y[a]));
        pen.lineTo(view.left(network.x[b]), view.top(network.y[b]));
      }
      pen.strokeStyle = color[stroke.color];
      pen.lineWidth = stroke.width + (key % 3) * 1.25;
      pen.setLineDash(stroke.dash);
      pen.stroke();
      yield;
    }
  }
  pen.setLineDash([]);
}

function* paintSites(pen, view, network, sites, color) {
  const many = sites.length > TRIANGLES_UP_TO;
  const { own, count } = network.sites;
  let drawn = 0;
  for (const i of sites) {
    const [left, top] = [view.left(network.x[i]), view.top(network.y[i])];
    if (count) {
      const size = 2 + 1.5 * Math.log10(count[i]);
      pen.fillStyle = color.ink;
      pen.beginPath();
      pen.arc(left, top, size, 0, 2 * Math.PI);
      pen.fill();
    } else if (many) {
      pen.fillStyle = own[i] ? color.ink : color.soft;
      pen.fillRect(left - 1.5, top - 1.5, 3, 3);
    } else site(pen, left, top, own[i], color);
    if (++drawn % AT_ONCE === 0) yield;
  }
}

function* paintMarks(pen, view, network, lines, sites, color, taken) {
  const { from, to, worst } = network.lines;
  const least = lines.length > NOTES_UP_TO ? DECIDE : NONE - 1;
  const marks = [];
  for (const i of lines) {
    if (worst[i] > least) continue;
    const [a, b] = [from[i], to[i]];
    const beside = a === b ? 9 : 0; // of a link whose other end is not in the register
    marks.push([worst[i], view.left((network.x[a] + network.x[b]) / 2) - beside, view.top((network.y[a] + network.y[b]) / 2) - beside]);
  }
  for (const i of sites) {
    if (network.sites.worst[i] <= least) marks.push([network.sites.worst[i], view.left(network.x[i]) + 9, view.top(network.y[i]) - 9]);
  }
  yield;
  const cells = new Map();
  for (const mark of marks) {
    const key = `${Math.floor(mark[1] / MARKS_APART)},${Math.floor(mark[2] / MARKS_APART)}`;
    if (!cells.has(key) || cells.get(key)[0] > mark[0]) cells.set(key, mark);
  }
  const kept = [...cells.values()].sort((a, b) => b[0] - a[0]);
  for (const [number, [rank, left, top]] of kept.entries()) {
    finding(pen, left, top, rank, color, rank === MUST_FIX ? 6 : 6.5);
    taken.take(left - 8, top - 8, 16, 16);
    if (number % 400 === 399) yield;
  }
}

function paintNames(pen, view, network, lines, sites, color, taken) {
  pen.textBaseline = "middle";
  pen.font = `11px ${color.code}`;
  if (sites.length <= NAMES_UP_TO) {
    for (const i of sites) {
      const [left, top] = [view.left(network.x[i]), view.top(network.y[i])];
      const code = network.sites.code[i];
      const width = pen.measureText(code).width;
      if (taken.free(left + 7, top - 7, width, 14)) words(pen, code, left + 8, top, color);
    }
  }
  if (lines.length <= LINE_NAMES_UP_TO) {
    for (const i of lines) {
      const [a, b] = [network.lines.from[i], network.lines.to[i]];
      const [left, top] = [view.left((network.x[a] + network.x[b]) / 2), view.top((network.y[a] + network.y[b]) / 2)];
      const code = network.lines.code[i];
      const width = pen.measureText(code).width;
      const below = network.lines.worst[i] < NONE ? 13 : 0;
      if (taken.free(left - width / 2, top + below - 7, width, 14)) words(pen, code, left - width / 2, top + below, color, color.accent);
    }
  }
}

// What is already written or marked, so that nothing is written over it.
class Boxes {
  #rows = new Map();

  take(left, top, width, height) {
    for (let row = Math.floor(top / 16); row <= Math.floor((top + height) / 16); row++) {
      if (!this.#rows.has(row)) this.#rows.set(row, []);
      this.#rows.get(row).push([left, top, left + width, top + height]);
    }
  }

  // Whether a box is free; if so it is taken.
  free(left, top, width, height) {
    for (let row = Math.floor(top / 16); row <= Math.floor((top + height) / 16); row++) {
      for (const [x0, y0, x1, y1] of this.#rows.get(row) ?? []) {
        if (left < x1 && left + width > x0 && top < y1 && top + height > y0) return false;
      }
    }
    this.take(left, top, width, height);
    return true;
  }
}
