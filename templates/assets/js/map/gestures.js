// How a hand or the keyboard moves the map: drag, pinch, wheel, keys, buttons. A press that stays in place chooses.

const STEP = 90; // pixels that an arrow key or a button moves
const ZOOM = 1.6; // a key, a button
const STILL = 5; // pixels within which a press has not moved

export function watch(canvas, view, { moved, choose, hover, keyboard, leave }) {
  const held = new Map();
  let began = null;
  const at = (event) => {
    const box = canvas.getBoundingClientRect();
    return { left: event.clientX - box.left, top: event.clientY - box.top };
  };
  const middle = () => {
    const points = [...held.values()];
    const left = points.reduce((sum, p) => sum + p.left, 0) / points.length;
    const top = points.reduce((sum, p) => sum + p.top, 0) / points.length;
    const apart = points.length > 1 ? Math.hypot(points[0].left - points[1].left, points[0].top - points[1].top) : 0;
    return { left, top, apart };
  };

  canvas.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    canvas.setPointerCapture(event.pointerId);
    held.set(event.pointerId, at(event));
    began = held.size === 1 ? at(event) : null;
    keyboard(false);
  });
  canvas.addEventListener("pointermove", (event) => {
    const point = at(event);
    if (!held.has(event.pointerId)) {
      hover(point);
      return;
    }
    if (began && Math.hypot(point.left - began.left, point.top - began.top) <= STILL) return;
    began = null;
    const before = middle();
    held.set(event.pointerId, point);
    const after = middle();
    view.move(before.left - after.left, before.top - after.top);
    if (before.apart && after.apart) view.zoom(after.apart / before.apart, after.left, after.top);
    moved();
  });
  const release = (event) => {
    if (!held.delete(event.pointerId)) return;
    if (began && event.type === "pointerup") choose(at(event), event.pointerType === "mouse" ? 1 : 1.8);
    began = null;
  };
  canvas.addEventListener("pointerup", release);
  canvas.addEventListener("pointercancel", release);
  canvas.addEventListener("pointerleave", () => hover(null));
  canvas.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      const { left, top } = at(event);
      view.zoom(2 ** (-event.deltaY * (event.deltaMode ? 0.05 : 0.0025)), left, top);
      moved();
    },
    { passive: false },
  );
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape") leave();
    else if (event.key === "Enter") choose({ left: view.width / 2, top: view.height / 2 }, 2.5);
    else if (!act(event.key)) return;
    event.preventDefault();
    keyboard(true);
  });
  canvas.addEventListener("blur", () => keyboard(false));

  // One step by the name of a key; false for a key that moves nothing.
  function act(key) {
    const steps = { ArrowLeft: [-STEP, 0], ArrowRight: [STEP, 0], ArrowUp: [0, -STEP], ArrowDown: [0, STEP] };
    if (key in steps) view.move(...steps[key]);
    else if (key === "+" || key === "=") view.zoom(ZOOM);
    else if (key === "-") view.zoom(1 / ZOOM);
    else return false;
    moved();
    return true;
  }
  return act;
}
