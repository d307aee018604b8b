// The shapes of the map: sites, the weights of findings, the strokes of lines. The legend draws the same.

export const MUST_FIX = 0;
export const DECIDE = 1;
export const NONE = 3;

// By look: ours on the air, not yet, ended; then others'. Ours are unbroken or dotted, others' dashed.
export const STROKES = [
  { color: "accent", width: 2, dash: [] },
  { color: "accent", width: 2, dash: [2, 4] },
  { color: "accent", width: 1, dash: [1, 7] },
  { color: "soft", width: 1.25, dash: [9, 5] },
  { color: "soft", width: 1.25, dash: [9, 4, 2, 4] },
  { color: "soft", width: 1, dash: [1, 9] },
];

export function colors() {
  const style = getComputedStyle(document.documentElement);
  const names = ["ink", "soft", "rule", "sheet", "tint", "accent", "must", "decide", "note"];
  const found = Object.fromEntries(names.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
  return { ...found, face: style.getPropertyValue("--face"), code: style.getPropertyValue("--code") };
}

// A site: a mast's triangle, filled for ours, open for others'.
export function site(pen, left, top, own, color, size = 5) {
  pen.beginPath();
  pen.moveTo(left, top - size);
  pen.lineTo(left + size, top + size * 0.8);
  pen.lineTo(left - size, top + size * 0.8);
  pen.closePath();
  pen.fillStyle = own ? color.ink : color.sheet;
  pen.strokeStyle = own ? color.sheet : color.ink;
  pen.lineWidth = own ? 1 : 1.25;
  pen.fill();
  pen.stroke();
}

// Must fix: a filled square. Decide: a half-filled diamond. Note: an open circle.
export function finding(pen, left, top, rank, color, size = 6) {
  const shade = [color.must, color.decide, color.note][rank];
  pen.lineWidth = 1.5;
  pen.strokeStyle = shade;
  pen.fillStyle = color.sheet;
  pen.beginPath();
  if (rank === MUST_FIX) pen.rect(left - size + 1, top - size + 1, 2 * size - 2, 2 * size - 2);
  else if (rank === DECIDE) diamond(pen, left, top, size, true);
  else pen.arc(left, top, size - 1, 0, 2 * Math.PI);
  halo(pen, color.sheet);
  if (rank === MUST_FIX) pen.fillStyle = shade;
  pen.fill();
  pen.stroke();
  if (rank === DECIDE) {
    pen.beginPath();
    diamond(pen, left, top, size, false);
    pen.fillStyle = shade;
    pen.fill();
  }
}

function diamond(pen, left, top, size, whole) {
  pen.moveTo(left, top - size);
  if (whole) pen.lineTo(left + size, top);
  pen.lineTo(left, top + size);
  pen.lineTo(left - size, top);
  pen.closePath();
}

function halo(pen, color) {
  pen.save();
  pen.lineWidth = 4;
  pen.strokeStyle = color;
  pen.stroke();
  pen.restore();
}

// Words with a rim, so that they can be read on anything.
export function words(pen, text, left, top, color, shade = color.ink) {
  pen.lineWidth = 3;
  pen.lineJoin = "round";
  pen.strokeStyle = color.sheet;
  pen.strokeText(text, left, top);
  pen.fillStyle = shade;
  pen.fillText(text, left, top);
}
