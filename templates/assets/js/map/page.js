// The map's page: loads the network under the filters in the address, shows it, and tells what was chosen.

import { watch } from "./gestures.js";
import { Layers, Tiles } from "./ground.js";
import { Network } from "./network.js";
import { mapX, mapY } from "./projection.js";
import { Screen } from "./screen.js";
import { View } from "./view.js";

const root = document.getElementById("map");
const canvas = document.getElementById("map-picture");
const sheet = document.getElementById("map-sheet");
const step = document.getElementById("map-step");
const said = document.getElementById("map-said");
const setUp = JSON.parse(document.getElementById("map-set-up").textContent);
const addresses = root.dataset;

// What the map says stands on the page, in the language of whoever reads it; names in braces are filled in here.
function words(name, values = {}) {
  return root.dataset[`say${name}`].replace(/\{(\w+)\}/g, (_, key) => values[key]);
}

const AHEAD = 1.5; // how much further than the screen data are asked for
const CALM_MS = 180;

const view = new View(canvas.clientWidth, canvas.clientHeight);
const state = { network: null, tiles: [], layers: null, chosen: null, ruler: null, cross: false, hint: null };
let placed = view.take(location.hash.slice(1));
let newLink = null; // null, or {first: null | site} while two sites are being chosen
let scaleOfData = 0;
let loading = null;
let timer = 0;
let settled = false;

const screen = new Screen(canvas, view, state, (network) => {
  if (!network || settled) return;
  settled = true;
  performance.mark("map-picture");
  root.dataset.drawn = "yes";
  bringGround();
});

async function load() {
  loading?.abort();
  loading = new AbortController();
  const query = new URLSearchParams(location.search);
  ["page", "sort", "as_of"].forEach((name) => query.delete(name));
  if (addresses.day) query.set("as_of", addresses.day);
  const partly = state.network ? !state.network.complete : placed;
  if (partly) {
    const [west, south, east, north] = view.wider(AHEAD).area;
    for (const [name, value] of Object.entries({ west, south, east, north })) query.set(name, value.toFixed(5));
    query.set("width", Math.round(view.width * AHEAD));
  }
  root.setAttribute("aria-busy", "true");
  try {
    const network = await Network.load(`${addresses.data}?${query}`, loading.signal);
    state.network = network;
    if (network.said !== undefined) said.textContent = network.said;
    if (!placed && network.firstView) {
      view.fit(network.firstView);
      placed = true;
    }
    scaleOfData = view.scale;
    screen.repaint();
  } catch (error) {
    if (error.name !== "AbortError") step.textContent = words("NoData", { problem: error.message });
    if (error.name === "AbortError") return;
  }
  root.removeAttribute("aria-busy");
}

// The network comes first; what it is drawn on follows.
async function bringGround() {
  const came = () => {
    clearTimeout(came.timer);
    came.timer = setTimeout(() => screen.repaint(), 120);
  };
  if (setUp.tiles) state.tiles.push(new Tiles(setUp.tiles.address, 0, 19, came));
  if (setUp.relief) state.tiles.push(new Tiles(addresses.relief, setUp.relief.least, setUp.relief.most, came));
  const answer = await fetch(addresses.layers);
  if (answer.ok) state.layers = new Layers(await answer.json());
  const sources = [...(state.layers?.sources ?? []), ...(setUp.tiles ? [setUp.tiles.credit] : [])];
  document.getElementById("map-sources").textContent = sources.join(" · ");
  screen.repaint();
}

function moved() {
  screen.moved();
  clearTimeout(timer);
  timer = setTimeout(() => {
    history.replaceState(history.state, "", `${location.pathname}${location.search}#${view.address}`);
    if (state.network && !state.network.complete && outgrown()) load();
  }, CALM_MS);
}

// Whether the view has left what the data cover, or shows them much larger or smaller than they were gathered for.
function outgrown() {
  const { area, kind } = state.network;
  const [west, south, east, north] = view.area;
  const outside = !area || west < area[0] || south < area[1] || east > area[2] || north > area[3];
  const grown = view.scale / scaleOfData;
  return outside || (kind === "cells" && (grown >= 2 || grown <= 0.5)) || grown <= 0.25;
}

function choose({ left, top }, reach) {
  const { network } = state;
  const found = network?.under(view, left, top, reach);
  if (network?.kind === "cells" && found?.site !== undefined) {
    view.zoom(4, left, top);
    moved();
  } else if (newLink) {
    if (found?.site !== undefined) takeEnd(found.site);
    else step.textContent = words("NoSite");
  } else if (found?.site !== undefined) {
    show("site", network.sites.id[found.site], addresses.site);
  } else if (found?.line !== undefined && network.kind === "each") {
    show("link", network.lines.link[found.line], addresses.link);
  } else {
    const place = view.placeAt(left, top);
    state.chosen = { place, x: mapX(place.longitude), y: mapY(place.latitude) };
    bring(addresses.place, { latitude: place.latitude.toFixed(5), longitude: place.longitude.toFixed(5) });
  }
  screen.draw();
}

function show(kind, id, address) {
  state.chosen = { kind, id };
  bring(address.replace("/0/", `/${id}/`));
}

// What is said of a thing is of the day that the map shows.
function bring(address, values = {}) {
  const query = new URLSearchParams(addresses.day ? { ...values, as_of: addresses.day } : values);
  window.htmx.ajax("GET", query.size ? `${address}?${query}` : address, { target: sheet, swap: "innerHTML" });
}

function beginLink(code) {
  newLink = { first: null };
  document.getElementById("map-new-link")?.setAttribute("aria-pressed", "true");
  step.textContent = words("FirstEnd");
  const known = code === undefined ? -1 : (state.network?.sites.code?.indexOf(code) ?? -1);
  if (known >= 0) takeEnd(known);
  canvas.focus();
}

function endLink() {
  newLink = state.ruler = null;
  document.getElementById("map-new-link")?.setAttribute("aria-pressed", "false");
  step.textContent = "";
  screen.draw();
}

function takeEnd(number) {
  const code = state.network.sites.code[number];
  if (!newLink.first) {
    newLink.first = { code, ...state.network.place(number), x: state.network.x[number], y: state.network.y[number] };
    step.textContent = words("OtherEnd", { code });
  } else if (newLink.first.code === code) {
    step.textContent = words("SameEnd", { code });
  } else {
    const query = new URLSearchParams([["site", newLink.first.code], ["site", code]]);
    location.assign(`${addresses.newLink}?${query}`);
  }
}

function hover(point) {
  const { network } = state;
  state.hint = state.ruler = null;
  if (point && network) {
    if (newLink?.first) state.ruler = { from: newLink.first, ...point };
    const found = network.under(view, point.left, point.top);
    const text = found && nameOf(found, network);
    if (text) state.hint = { text, ...point };
    canvas.style.cursor = found ? "pointer" : "";
  }
  screen.draw();
}

function nameOf({ site, line }, network) {
  if (network.kind === "each") return site !== undefined ? network.sites.code[site] : network.lines.code[line];
  if (site === undefined) return words("Links", { count: network.lines.count[line] });
  return words("Sites", { count: network.sites.count[site], within: network.sites.within[site] });
}

const act = watch(canvas, view, {
  moved,
  choose,
  hover,
  keyboard: (used) => {
    if (state.cross !== used) {
      state.cross = used;
      screen.draw();
    }
    if (used && newLink?.first) state.ruler = { from: newLink.first, left: view.width / 2, top: view.height / 2 };
  },
  leave: endLink,
});

root.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.key) act(button.dataset.key);
  else if (button.id === "map-all" && state.network?.bounds) {
    view.fit(state.network.bounds);
    moved();
  } else if (button.id === "map-new-link") newLink ? endLink() : beginLink();
  else if (button.dataset.from !== undefined) beginLink(button.dataset.from);
});

// The filters above change the address; the picture follows it.
document.body.addEventListener("htmx:pushedIntoHistory", () => {
  history.replaceState(history.state, "", `${location.pathname}${location.search}#${view.address}`);
  load();
});
document.body.addEventListener("htmx:historyCacheMiss", (event) => {
  event.preventDefault();
  location.reload();
});

load();
