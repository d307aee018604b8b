// What part of the earth is on the screen: the middle on the map's square, and how many pixels the square is wide.

import { latitudeOf, longitudeOf, mapX, mapY } from "./projection.js";

const LEAST_SCALE = 256;
const MOST_SCALE = 256 * 2 ** 18;

export class View {
  constructor(width, height, x = 0.5, y = 0.5, scale = LEAST_SCALE * 4) {
    Object.assign(this, { width, height, x, y, scale });
  }

  // The same middle and scale on a screen that reaches further on every side.
  wider(factor) {
    return new View(Math.round(this.width * factor), Math.round(this.height * factor), this.x, this.y, this.scale);
  }

  left(x) {
    return (x - this.x) * this.scale + this.width / 2;
  }

  top(y) {
    return (y - this.y) * this.scale + this.height / 2;
  }

  placeAt(left, top) {
    const x = this.x + (left - this.width / 2) / this.scale;
    const y = this.y + (top - this.height / 2) / this.scale;
    return { latitude: latitudeOf(y), longitude: longitudeOf(x) };
  }

  move(leftward, upward) {
    this.x = Math.max(0, Math.min(1, this.x + leftward / this.scale));
    this.y = Math.max(0, Math.min(1, this.y + upward / this.scale));
  }

  // Zoom by a factor so that what is at a point of the screen stays there.
  zoom(factor, left = this.width / 2, top = this.height / 2) {
    const scale = Math.max(LEAST_SCALE, Math.min(MOST_SCALE, this.scale * factor));
    this.x += (left - this.width / 2) * (1 / this.scale - 1 / scale);
    this.y += (top - this.height / 2) * (1 / this.scale - 1 / scale);
    this.scale = scale;
    this.move(0, 0);
  }

  // Show all between west, south, east and north (degrees), with a rim.
  fit([west, south, east, north]) {
    const [x0, x1, y0, y1] = [mapX(west), mapX(east), mapY(north), mapY(south)];
    const room = 0.88;
    const scale = Math.min((this.width * room) / Math.max(x1 - x0, 1e-4), (this.height * room) / Math.max(y1 - y0, 1e-4));
    this.scale = Math.max(LEAST_SCALE, Math.min(MOST_SCALE, scale));
    this.x = (x0 + x1) / 2;
    this.y = (y0 + y1) / 2;
  }

  // West, south, east, north in degrees.
  get area() {
    const [a, b] = [this.placeAt(0, this.height), this.placeAt(this.width, 0)];
    return [Math.max(-180, a.longitude), Math.max(-90, a.latitude), Math.min(180, b.longitude), Math.min(90, b.latitude)];
  }

  get zoomLevel() {
    return Math.log2(this.scale / 256);
  }

  // As it stands in the address: latitude, longitude, zoom.
  get address() {
    return `${latitudeOf(this.y).toFixed(5)},${longitudeOf(this.x).toFixed(5)},${this.zoomLevel.toFixed(2)}`;
  }

  take(address) {
    const [latitude, longitude, zoom] = address.split(",").map(Number);
    if (![latitude, longitude, zoom].every(Number.isFinite)) return false;
    this.x = mapX(Math.max(-180, Math.min(180, longitude)));
    this.y = mapY(latitude);
    this.scale = Math.max(LEAST_SCALE, Math.min(MOST_SCALE, 256 * 2 ** zoom));
    return true;
  }
}
