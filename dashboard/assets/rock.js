// Draws the live curve of a rock itself: a figure of the library would cost more than all the rest of the page.
(() => {
  "use strict";
  const at = (id) => document.getElementById(id);
  const LEFT = 62, RIGHT = 14, TOP = 10, BOTTOM = 46, LETTERS = 16; // px
  let newest = null, asked = 0;

  function steps(low, high) { // round numbers from low to high, about four of them
    const raw = (high - low) / 4, ten = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map((one) => one * ten).find((one) => one >= raw);
    const found = [];
    for (let n = Math.ceil(low / step); n * step <= high; n += 1) found.push(n * step);
    return found;
  }

  function draw() {
    asked = 0;
    const canvas = at("bore-rock"), box = at("bore-rock-box");
    if (!box) return; // the page was not opened yet
    box.hidden = !newest;
    if (!newest || !canvas.clientWidth) return;
    const { clientWidth: wide, clientHeight: high } = canvas, scale = devicePixelRatio || 1;
    if (canvas.width !== Math.round(wide * scale)) canvas.width = Math.round(wide * scale);
    if (canvas.height !== Math.round(high * scale)) canvas.height = Math.round(high * scale);
    const style = getComputedStyle(document.documentElement), colour = (name) => style.getPropertyValue("--" + name);
    const [first, last] = newest.x, [low, most] = newest.y;
    const x = (t) => LEFT + (t - first) / (last - first) * (wide - LEFT - RIGHT);
    const y = (v) => high - BOTTOM - (v - low) / (most - low) * (high - TOP - BOTTOM);
    const pen = canvas.getContext("2d");
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    pen.clearRect(0, 0, wide, high);
    const line = (points, name, width, dash = []) => {
      pen.beginPath();
      points.forEach(([t, v], n) => (n ? pen.lineTo(x(t), y(v)) : pen.moveTo(x(t), y(v))));
      [pen.strokeStyle, pen.lineWidth] = [colour(name), width];
      pen.setLineDash(dash);
      pen.stroke();
      pen.setLineDash([]);
    };
    pen.font = `${LETTERS}px tenths, system-ui, sans-serif`;
    pen.globalAlpha = 0.3;
    for (const v of steps(low, most)) line([[first, v], [last, v]], "rule", 1);
    for (let t = Math.ceil(first); t <= 0; t += 1) line([[t, low], [t, most]], "rule", 1);
    pen.globalAlpha = 1;
    pen.fillStyle = colour("ink");
    pen.textBaseline = "middle";
    pen.textAlign = "right";
    for (const v of steps(low, most)) pen.fillText(String(Number(v.toFixed(6))).replace("-", "−"), LEFT - 8, y(v));
    pen.textAlign = "center";
    for (let t = Math.ceil(first); t <= 0; t += 1) pen.fillText(String(t).replace("-", "−"), x(t), high - BOTTOM + 14);
    pen.fillText(canvas.dataset.time, (LEFT + wide - RIGHT) / 2, high - 12);
    pen.save();
    pen.beginPath();
    pen.rect(LEFT, TOP - 8, wide - LEFT - RIGHT, high - TOP - BOTTOM + 16);
    pen.clip();
    if (newest.says !== null) line([[first, newest.says], [last, newest.says]], "band", 3, [10, 7]);
    line(newest.curve, "size", 2);
    for (const [t, v] of newest.kept) {
      pen.beginPath();
      pen.arc(x(t), y(v), 7, 0, 2 * Math.PI);
      pen.fillStyle = colour("band");
      pen.fill();
    }
    for (const [t, v] of newest.aside) {
      pen.beginPath();
      for (const way of [1, -1]) {
        pen.moveTo(x(t) - 6, y(v) - 6 * way);
        pen.lineTo(x(t) + 6, y(v) + 6 * way);
      }
      [pen.strokeStyle, pen.lineWidth] = [colour("predicted"), 3];
      pen.stroke();
    }
    pen.restore();
    document.dispatchEvent(new CustomEvent("rock-drawn", { detail: newest.curve.at(-1) }));
  }

  const soon = () => { asked ||= requestAnimationFrame(draw); };
  document.addEventListener("rock", ({ detail }) => { newest = detail; soon(); });
  addEventListener("resize", soon);
  addEventListener("hashchange", soon);
  new MutationObserver(soon).observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme", "data-page"] });
})();
