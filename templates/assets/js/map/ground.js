// What lies under the network: tiles (shaded relief, or an outside server's), the administrator's layers, the graticule.

import { graticuleStep, latitudeOf, longitudeOf, mapX, mapY } from "./projection.js";

const TILE = 256;
const KEPT_TILES = 400;
const MERIDIANS_APART = 130; // pixels
export const labelledStep = (view) => graticuleStep(view.scale, MERIDIANS_APART);

// A pyramid of tiles; they are asked for when they are first drawn, and drawn again when they have come.
export class Tiles {
  #images = new Map();

  constructor(address, least, most, came) {
    Object.assign(this, { address, least, most, came });
  }

  paint(pen, view) {
    const zoom = Math.min(this.most, Math.round(view.zoomLevel));
    if (zoom < this.least) return;
    const across = 2 ** zoom;
    const size = view.scale / across;
    const first = (value) => Math.max(0, Math.floor(value * across));
    const last = (value) => Math.min(across - 1, Math.floor(value * across));
    const [half, tall] = [view.width / 2 / view.scale, view.height / 2 / view.scale];
    for (let column = first(view.x - half); column <= last(view.x + half); column++) {
      for (let row = first(view.y - tall); row <= last(view.y + tall); row++) {
        const image = this.#image(zoom, column, row);
        if (image.complete && image.naturalWidth) {
          const [left, top] = [view.left(column / across), view.top(row / across)];
          pen.drawImage(image, 0, 0, TILE, TILE, left, top, size, size);
        }
      }
    }
  }

  #image(zoom, column, row) {
    const address = this.address.replace("{z}", zoom).replace("{x}", column).replace("{y}", row);
    let image = this.#images.get(address);
    if (!image) {
      image = new Image();
      image.addEventListener("load", this.came);
      image.src = address;
      this.#images.set(address, image);
      if (this.#images.size > KEPT_TILES) this.#images.delete(this.#images.keys().next().value);
    }
    return image;
  }
}

// The administrator's layers as paths on the map's square.
export class Layers {
  constructor(layers) {
    this.layers = layers.map((layer) => ({ ...layer, parts: layer.shapes.flatMap(partsOf) }));
  }

  get sources() {
    return this.layers.map((layer) => `${layer.name}: ${layer.source}`);
  }

  paint(pen, view, color) {
    for (const layer of this.layers) {
      for (const part of layer.parts) {
        pen.beginPath();
        for (const line of part.lines) {
          for (let i = 0; i < line.length; i += 2) {
            const [left, top] = [view.left(line[i]), view.top(line[i + 1])];
            if (part.point) pen.arc(left, top, 2.5, 0, 2 * Math.PI);
            else if (i) pen.lineTo(left, top);
            else pen.moveTo(left, top);
          }
        }
        pen.strokeStyle = pen.fillStyle = color.soft;
        pen.lineWidth = 1;
        if (part.area) {
          pen.globalAlpha = 0.08;
          pen.fill("evenodd");
        }
        pen.globalAlpha = 0.7;
        if (part.point) pen.fill();
        else pen.stroke();
        pen.globalAlpha = 1;
      }
    }
  }
}

function partsOf(shape) {
  const flat = (positions) => positions.flatMap(([longitude, latitude]) => [mapX(longitude), mapY(latitude)]);
  const { type, coordinates } = shape;
  const multi = type.startsWith("Multi") ? coordinates : [coordinates];
  if (type.endsWith("Point")) return multi.map((position) => ({ point: true, lines: [flat([position])] }));
  if (type.endsWith("LineString")) return multi.map((line) => ({ lines: [flat(line)] }));
  return multi.map((rings) => ({ area: true, lines: rings.map(flat) }));
}

// Meridians and parallels at round degrees or minutes: [{at, degrees, meridian}] in pixels.
export function graticule(view, step) {
  const lines = [];
  const [half, tall] = [view.width / 2 / view.scale, view.height / 2 / view.scale];
  const [west, east] = [longitudeOf(Math.max(0, view.x - half)), longitudeOf(Math.min(1, view.x + half))];
  const [south, north] = [latitudeOf(Math.min(1, view.y + tall)), latitudeOf(Math.max(0, view.y - tall))];
  for (let n = Math.ceil(west / step); n * step <= east; n++) lines.push({ at: view.left(mapX(n * step)), degrees: n * step, meridian: true });
  for (let n = Math.ceil(south / step); n * step <= north; n++) lines.push({ at: view.top(mapY(n * step)), degrees: n * step, meridian: false });
  return lines;
}

export function paintGraticule(pen, view, color) {
  pen.beginPath();
  for (const { at, meridian } of graticule(view, labelledStep(view))) {
    pen.moveTo(meridian ? at : 0, meridian ? 0 : at);
    pen.lineTo(meridian ? at : view.width, meridian ? view.height : at);
  }
  pen.strokeStyle = color.rule;
  pen.lineWidth = 1;
  pen.stroke();
}
