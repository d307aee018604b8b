// The canvas that is seen: each frame shows the last finished painting where it now belongs, and what changes quickly.

import { course, degreesAndMinutes, kmPerPixel } from "./projection.js";
import { graticule, labelledStep } from "./ground.js";
import { colors, words } from "./marks.js";
import { painted } from "./painting.js";

const WIDER = 1.6; // a painting reaches beyond the screen, so that a move does not show its edge
const BUDGET_MS = 6; // of a frame, for the next painting
const CALM_MS = 70; // without a move before what is a little out of place is painted anew

export class Screen {
  #canvas;
  #pen;
  #shown = null; // the finished painting: {canvas, view}
  #making = null; // the one under way: {canvas, view, steps}
  #spare = null;
  #stale = true;
  #moved = 0;
  #asked = false;

  constructor(canvas, view, state, finished) {
    this.#canvas = canvas;
    this.#pen = canvas.getContext("2d");
    Object.assign(this, { view, state, finished, color: colors() });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
      this.color = colors();
      this.repaint();
    });
    new ResizeObserver(() => this.#resize()).observe(canvas);
    this.#resize();
  }

  #resize() {
    const { clientWidth, clientHeight } = this.#canvas;
    this.ratio = Math.min(window.devicePixelRatio || 1, 2);
    this.#canvas.width = clientWidth * this.ratio;
    this.#canvas.height = clientHeight * this.ratio;
    Object.assign(this.view, { width: clientWidth, height: clientHeight });
    this.#spare = null;
    this.repaint();
  }

  // What is painted has changed.
  repaint() {
    this.#stale = true;
    this.#making = null;
    this.draw();
  }

  // The view has moved.
  moved() {
    this.#moved = performance.now();
    this.draw();
  }

  draw() {
    if (this.#asked) return;
    this.#asked = true;
    requestAnimationFrame(() => this.#frame());
  }

  #frame() {
    this.#asked = false;
    this.#paintOn();
    const pen = this.#pen;
    pen.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    pen.clearRect(0, 0, this.view.width, this.view.height);
    if (this.#shown) {
      const { canvas, view } = this.#shown;
      const factor = this.view.scale / view.scale;
      const [left, top] = [this.view.left(view.x) - (view.width / 2) * factor, this.view.top(view.y) - (view.height / 2) * factor];
      pen.drawImage(canvas, left, top, view.width * factor, view.height * factor);
    }
    this.#paintQuick(pen);
    if (this.#making || this.#out() !== "in place") this.draw();
  }

  // Where the finished painting stands: "in place", "askew" (still covers the screen) or "away".
  #out() {
    if (!this.#shown) return "away";
    const { view } = this.#shown;
    const factor = this.view.scale / view.scale;
    if (factor === 1 && view.x === this.view.x && view.y === this.view.y) return "in place";
    const reach = (factor * (view.width - this.view.width / factor)) / 2;
    const tall = (factor * (view.height - this.view.height / factor)) / 2;
    const covered = Math.abs(this.view.left(view.x) - this.view.width / 2) <= reach && Math.abs(this.view.top(view.y) - this.view.height / 2) <= tall;
    return covered && factor < 2 ? "askew" : "away";
  }

  // A part of the next painting, within the budget of a frame.
  #paintOn() {
    const out = this.#out();
    const calm = performance.now() - this.#moved > CALM_MS;
    if (!this.#making && (this.#stale || out === "away" || (out === "askew" && calm))) this.#begin();
    if (!this.#making) return;
    const end = performance.now() + (this.#shown ? BUDGET_MS : 50);
    while (performance.now() < end) {
      if (!this.#making.steps.next().done) continue;
      const whole = this.#making.network;
      this.#spare = this.#shown?.canvas ?? null;
      this.#shown = this.#making;
      this.#making = null;
      this.finished(whole);
      return;
    }
  }

  #begin() {
    const view = this.view.wider(WIDER);
    const [width, height] = [view.width * this.ratio, view.height * this.ratio];
    const canvas = this.#spare ?? document.createElement("canvas");
    this.#spare = null;
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    const pen = canvas.getContext("2d");
    pen.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    const { network, tiles, layers } = this.state;
    this.#making = { canvas, view, network, steps: painted(pen, view, { network, tiles, layers, color: this.color }) };
    this.#stale = false;
  }

  // What is chosen, the ruler of a new link, names at the edge: few strokes, anew in every frame.
  #paintQuick(pen) {
    const { view, color, state } = this;
    pen.font = `11px ${color.face}`;
    pen.textBaseline = "middle";
    for (const { at, degrees, meridian } of graticule(view, labelledStep(view))) {
      const text = degreesAndMinutes(degrees, meridian ? "EW" : "NS");
      if (meridian) words(pen, text, at + 4, view.height - 10, color, color.soft);
      else if (at < view.height - 70) words(pen, text, view.width - pen.measureText(text).width - 6, at - 8, color, color.soft);
    }
    this.#paintScale(pen);
    const { chosen, network, ruler, cross, hint } = state;
    if (chosen && network) this.#paintChosen(pen, chosen, network);
    if (ruler) this.#paintRuler(pen, ruler);
    if (cross) this.#paintCross(pen, view.width / 2, view.height / 2);
    if (hint) words(pen, hint.text, hint.left + 12, hint.top - 12, color);
  }

  #paintScale(pen) {
    const { view, color } = this;
    const each = kmPerPixel(view.placeAt(view.width / 2, view.height / 2).latitude, view.scale);
    const longest = 110 * each;
    const size = 10 ** Math.floor(Math.log10(longest));
    const km = size * [5, 2, 1].find((step) => step * size <= longest);
    const [left, top] = [view.width - 16 - km / each, view.height - 30];
    pen.beginPath();
    pen.moveTo(left, top - 4);
    pen.lineTo(left, top);
    pen.lineTo(left + km / each, top);
    pen.lineTo(left + km / each, top - 4);
    pen.strokeStyle = color.ink;
    pen.lineWidth = 1.5;
    pen.stroke();
    words(pen, km >= 1 ? `${km} km` : `${km * 1000} m`, left, top - 12, color);
  }

  #paintChosen(pen, chosen, network) {
    const { view, color } = this;
    pen.strokeStyle = color.ink;
    if (chosen.place) {
      this.#paintCross(pen, view.left(chosen.x), view.top(chosen.y));
    } else if (chosen.kind === "site") {
      const i = network.sites.id?.indexOf(chosen.id) ?? -1;
      if (i < 0) return;
      pen.lineWidth = 2.5;
      pen.beginPath();
      pen.arc(view.left(network.x[i]), view.top(network.y[i]), 11, 0, 2 * Math.PI);
      pen.stroke();
    } else {
      network.lines.link?.forEach((id, i) => {
        if (id !== chosen.id) return;
        const [a, b] = [network.lines.from[i], network.lines.to[i]];
        pen.globalAlpha = 0.35;
        pen.lineWidth = 9;
        pen.lineCap = "round";
        pen.beginPath();
        pen.moveTo(view.left(network.x[a]), view.top(network.y[a]));
        pen.lineTo(view.left(network.x[b]), view.top(network.y[b]));
        pen.stroke();
        pen.globalAlpha = 1;
        pen.lineCap = "butt";
      });
    }
  }

  #paintRuler(pen, { from, left, top }) {
    const { view, color } = this;
    pen.beginPath();
    pen.moveTo(view.left(from.x), view.top(from.y));
    pen.lineTo(left, top);
    pen.setLineDash([6, 4]);
    pen.strokeStyle = color.ink;
    pen.lineWidth = 1.5;
    pen.stroke();
    pen.setLineDash([]);
    const { km, azimuth } = course(from, view.placeAt(left, top));
    words(pen, `${km.toFixed(2)} km, ${azimuth.toFixed(1)}°`, left + 12, top + 14, color);
  }

  #paintCross(pen, left, top) {
    pen.beginPath();
    for (const [x, y] of [[1, 0], [0, 1]]) {
      pen.moveTo(left - 12 * x, top - 12 * y);
      pen.lineTo(left - 4 * x, top - 4 * y);
      pen.moveTo(left + 4 * x, top + 4 * y);
      pen.lineTo(left + 12 * x, top + 12 * y);
    }
    pen.strokeStyle = this.color.ink;
    pen.lineWidth = 2;
    pen.stroke();
  }
}
