// The map's projection: spherical Mercator on a square of side 1 (OGC 17-083r4, annex D), and figures on the sphere.

const EARTH_RADIUS_KM = 6371.0088; // mean radius of WGS 84
const LIMIT_DEG = 85.0511287798066; // where the square ends
const STEPS_DEG = [30, 20, 10, 5, 2, 1, 1 / 2, 1 / 3, 1 / 6, 1 / 12, 1 / 30, 1 / 60, 1 / 120, 1 / 360];
const radians = (degrees) => (degrees * Math.PI) / 180;

export const mapX = (longitude) => (longitude + 180) / 360;
export const mapY = (latitude) => {
  const held = Math.max(-LIMIT_DEG, Math.min(LIMIT_DEG, latitude));
  return 0.5 - Math.asinh(Math.tan(radians(held))) / (2 * Math.PI);
};
export const longitudeOf = (x) => x * 360 - 180;
export const latitudeOf = (y) => (Math.atan(Math.sinh((0.5 - y) * 2 * Math.PI)) * 180) / Math.PI;

// Great-circle distance (km) and initial azimuth (degrees from true north) from a to b, each {latitude, longitude}.
export function course(a, b) {
  const [p, q, d] = [radians(a.latitude), radians(b.latitude), radians(b.longitude - a.longitude)];
  const h = Math.sin((q - p) / 2) ** 2 + Math.cos(p) * Math.cos(q) * Math.sin(d / 2) ** 2;
  const toward = Math.atan2(Math.sin(d) * Math.cos(q), Math.cos(p) * Math.sin(q) - Math.sin(p) * Math.cos(q) * Math.cos(d));
  return { km: 2 * EARTH_RADIUS_KM * Math.asin(Math.sqrt(h)), azimuth: ((toward * 180) / Math.PI + 360) % 360 };
}

// Kilometres that a pixel shows at a latitude.
export const kmPerPixel = (latitude, scale) => (2 * Math.PI * 6378.137 * Math.cos(radians(latitude))) / scale;

// The finest step of the graticule whose meridians stand at least so many pixels apart.
export function graticuleStep(scale, apart) {
  return STEPS_DEG.findLast((step) => (step / 360) * scale >= apart) ?? STEPS_DEG[0];
}

// Degrees and minutes (seconds where the step is finer), with the hemisphere's letter.
export function degreesAndMinutes(value, letters) {
  const seconds = Math.round(Math.abs(value) * 3600);
  const [d, m, s] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
  const minutes = m || s ? ` ${String(m).padStart(2, "0")}′` : "";
  return `${d}°${minutes}${s ? ` ${String(s).padStart(2, "0")}″` : ""} ${value < 0 ? letters[1] : letters[0]}`;
}
