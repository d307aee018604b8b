// The legend, drawn with the same strokes and shapes as the map.

import { colors, finding, site, STROKES } from "./marks.js";

function draw() {
  const color = colors();
  for (const canvas of document.querySelectorAll("canvas[data-shows]")) {
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    Object.assign(canvas, { width: 44 * ratio, height: 18 * ratio });
    const pen = canvas.getContext("2d");
    pen.scale(ratio, ratio);
    const [what, number] = canvas.dataset.shows.split("-");
    if (what === "site") site(pen, 22, 9, number === "1", color);
    else if (what === "finding") finding(pen, 22, 9, Number(number), color);
    else {
      const stroke = STROKES[Number(number)];
      pen.beginPath();
      pen.moveTo(0, 9);
      pen.lineTo(44, 9);
      pen.strokeStyle = color[stroke.color];
      pen.lineWidth = stroke.width;
      pen.setLineDash(stroke.dash);
      pen.stroke();
    }
  }
}

matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
draw();
