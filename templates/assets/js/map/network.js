// The sites and lines of one answer of the register, placed on the map's square, and what lies under a point.

import { mapX, mapY } from "./projection.js";

const SITE_REACH = 12; // pixels
const LINE_REACH = 7;

export class Network {
  constructor(answer) {
    const { sites, lines } = answer;
    Object.assign(this, { said: answer.said, kind: answer.kind, complete: answer.complete, bounds: answer.bounds, firstView: answer.first_view, area: answer.area });
    this.sites = sites ?? { latitude: [], longitude: [], worst: [] };
    this.lines = lines ?? { from: [], to: [], look: [], worst: [] };
    this.x = Float64Array.from(this.sites.longitude, mapX);
    this.y = Float64Array.from(this.sites.latitude, mapY);
  }

  static async load(address, signal) {
    const answer = await fetch(address, { signal, headers: { Accept: "application/json" } });
    if (answer.redirected) window.location.reload(); // signed out meanwhile
    const values = await answer.json();
    if (!answer.ok) throw new Error(values.detail);
    return new Network(values);
  }

  place(site) {
    return { latitude: this.sites.latitude[site], longitude: this.sites.longitude[site] };
  }

  // The numbers of the sites that are on a screen.
  sitesIn(view) {
    const found = [];
    for (let i = 0; i < this.x.length; i++) {
      const [left, top] = [view.left(this.x[i]), view.top(this.y[i])];
      if (left > -20 && left < view.width + 20 && top > -20 && top < view.height + 20) found.push(i);
    }
    return found;
  }

  // The numbers of the lines that may be seen on a screen.
  linesIn(view) {
    const found = [];
    const { from, to } = this.lines;
    const [x0, x1] = [view.x - view.width / 2 / view.scale, view.x + view.width / 2 / view.scale];
    const [y0, y1] = [view.y - view.height / 2 / view.scale, view.y + view.height / 2 / view.scale];
    for (let i = 0; i < from.length; i++) {
      const [ax, bx, ay, by] = [this.x[from[i]], this.x[to[i]], this.y[from[i]], this.y[to[i]]];
      if (Math.max(ax, bx) >= x0 && Math.min(ax, bx) <= x1 && Math.max(ay, by) >= y0 && Math.min(ay, by) <= y1) found.push(i);
    }
    return found;
  }

  // What is nearest to a point of the screen and near enough: {site} or {line}; null for an empty place.
  under(view, left, top, reach = 1) {
    const site = this.#nearest(this.x.length, SITE_REACH * reach, (i) => Math.hypot(view.left(this.x[i]) - left, view.top(this.y[i]) - top));
    if (site >= 0) return { site };
    const { from, to } = this.lines;
    const line = this.#nearest(from.length, LINE_REACH * reach, (i) => this.#fromLine(view, from[i], to[i], left, top));
    return line >= 0 ? { line } : null;
  }

  #nearest(count, reach, distance) {
    let [best, least] = [-1, reach];
    for (let i = 0; i < count; i++) {
      const d = distance(i);
      if (d < least) [best, least] = [i, d];
    }
    return best;
  }

  #fromLine(view, a, b, left, top) {
    const [ax, ay, bx, by] = [view.left(this.x[a]), view.top(this.y[a]), view.left(this.x[b]), view.top(this.y[b])];
    const [dx, dy] = [bx - ax, by - ay];
    const long = dx * dx + dy * dy;
    const t = long ? Math.max(0, Math.min(1, ((left - ax) * dx + (top - ay) * dy) / long)) : 0;
    return Math.hypot(ax + t * dx - left, ay + t * dy - top);
  }
}
