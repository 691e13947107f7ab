// Draws what the dashboard says. Text goes in as text, never as markup.
(() => {
  "use strict";
  const at = (id) => document.getElementById(id);
  const root = document.documentElement;
  const REDRAW = 100; // ms between two drawings of the trend
  const SILENCE = 4000; // ms without a word of the dashboard, which beats once a second
  const NARROW = 480, SMALL = 15; // px: a figure with less room writes smaller, and two words a row over it
  const SHORT = 210; // px: a lower figure has no room beside its axes, which are named over it
  const LOW = { "bore-section": 300 }; // px: of the two walls, which need more
  const LEGEND = { font: { size: 12 }, itemwidth: 30, entrywidthmode: "fraction", entrywidth: 0.5 };
  const numbers = {}; // of each figure, by its id
  let said = {}; // what the stream has said of the page, for elements that come later
  const stale = new Set();
  let drawn = 0, waiting = 0, heard = Date.now(), source = null;

  const kept = (name, value) => {
    try {
      if (value !== undefined) localStorage.setItem(name, value);
      return localStorage.getItem(name);
    } catch { return null; } // a browser that keeps nothing still shows everything
  };

  function fill(cell, [text, state, share]) {
    if (cell.textContent !== text) cell.textContent = text;
    if (state) cell.dataset.state = state; else delete cell.dataset.state;
    if (share) cell.style.setProperty("--share", share); else cell.style.removeProperty("--share");
  }

  function rows(parent, lines) {
    const [line, cell] = { TBODY: ["tr", "td"], THEAD: ["tr", "th"] }[parent.tagName] || ["li", "span"];
    while (parent.children.length > lines.length) parent.lastChild.remove();
    lines.forEach((cells, index) => {
      const row = parent.children[index] || parent.appendChild(document.createElement(line));
      while (row.children.length > cells.length) row.lastChild.remove();
      cells.forEach((content, n) => fill(row.children[n] || row.appendChild(document.createElement(cell)), content));
    });
  }

  // What a person has chosen and not yet said stays chosen.
  function choices(select, lines) {
    const names = lines.map(([[name]]) => name), here = lines.find(([[, state]]) => state)?.[0][0] ?? "";
    const before = [...select.options].map((one) => one.value);
    if (before.join("\n") === names.join("\n") && select.dataset.here === here) return;
    const chosen = select.dataset.here === here && names.includes(select.value) ? select.value : here;
    select.replaceChildren(...names.map((name) => new Option(name)));
    if (names.includes(chosen)) select.value = chosen;
    select.dataset.here = here;
  }

  function put(key, value) {
    if (key === "voice" || key === "rock") return void document.dispatchEvent(new CustomEvent(key, { detail: value }));
    if (key.endsWith("#figure")) return redraw(key.slice(0, -7), value);
    const [id, name] = key.split("@");
    const element = at(id.replace("[]", ""));
    if (!element) return;
    if (id.endsWith("[]")) (element.tagName === "SELECT" ? choices : rows)(element, value);
    else if (name === undefined) element.textContent = value;
    else if (name.startsWith("--")) element.style.setProperty(name, value);
    else if (name === "value") { if (!element.dataset.held) element.value = value; }
    else if (value === null) element.removeAttribute(name);
    else element.setAttribute(name, value);
  }

  function redraw(id, value) {
    numbers[id] = value;
    stale.add(id);
    drawSoon();
  }

  function drawSoon() {
    waiting ||= setTimeout(() => {
      [waiting, drawn] = [0, Date.now()];
      for (const one of stale) {
        const shown = at(one); // the library that draws may be on its way
        if (!shown) { drawSoon(); continue; }
        if (shown.closest(".page").hidden) continue; // a figure that nobody sees waits
        stale.delete(one);
        dash_clientside.set_props(one, { figure: figure(one) });
      }
    }, Math.max(0, drawn + REDRAW - Date.now()));
  }

  function figure(id) {
    const empty = window.tenthsFigures[root.dataset.theme][id], given = numbers[id];
    at(id).toggleAttribute("data-empty", !given);
    if (!given) return { ...empty, layout: { ...empty.layout, xaxis: { visible: false }, yaxis: { visible: false } } };
    const left = [...document.querySelectorAll(`[data-figure="${id}"][aria-pressed="false"]`)].map((one) => Number(one.dataset.trace));
    const { xaxis, yaxis } = empty.layout, narrow = at(id).clientWidth < NARROW;
    const short = at(id).clientHeight > 0 && at(id).clientHeight < (LOW[id] || SHORT);
    const over = { text: given.title, xref: "paper", yref: "paper", x: 0, y: 1, xanchor: "left", yanchor: "bottom", showarrow: false, font: { size: 12 } };
    return {
      data: empty.data.map((trace, n) => {
        const { error, ...points } = given.traces[n];
        const textfont = narrow && trace.textfont && { ...trace.textfont, size: SMALL };
        if (short && points.text) points.text = points.text.map(() => ""); // the figures above say the same
        return { ...trace, ...points, ...(left.includes(n) && { visible: false }), ...(error && { error_y: { ...trace.error_y, array: error } }), ...(textfont && { textfont }) };
      }),
      layout: {
        ...empty.layout,
        ...(narrow && { margin: { ...empty.layout.margin, l: 54 }, legend: { ...empty.layout.legend, ...LEGEND } }),
        ...(short && { showlegend: false, margin: { l: 40, r: 8, t: 20, b: 24 }, annotations: [over] }),
        xaxis: { ...xaxis, range: given.x, ...(given.over && { title: { ...xaxis.title, text: given.over } }), ...(short && { title: { text: "" } }) },
        yaxis: { ...yaxis, range: given.y, title: { ...yaxis.title, text: short ? "" : given.title },
          ...(given.ticks && { tickvals: given.ticks[0], ticktext: given.ticks[1] }) },
      },
    };
  }

  // Shows the page that the address names; the first where it names none.
  function turn() {
    const links = [...document.querySelectorAll("#links a")];
    const here = links.find((link) => link.hash === location.hash) || links[0];
    const name = here.dataset.page;
    for (const link of links) {
      if (link === here) link.setAttribute("aria-current", "page"); else link.removeAttribute("aria-current");
      at("page-" + link.dataset.page).hidden = link !== here;
      const words = document.querySelector(`[data-of="${link.dataset.page}"]`);
      if (words) words.hidden = link !== here;
    }
    here.scrollIntoView({ block: "nearest", inline: "nearest" }); // on a phone the row of links is longer than the screen
    document.title = here.textContent;
    root.dataset.page = name;
    scrollTo(0, 0);
    if (!at("page-" + name).firstChild) dash_clientside.set_props("page-" + name, { "data-open": "" });
    drawSoon();
    listen();
  }

  // A page's elements have come: they say what was said before, and other scripts are told.
  function arrived(name) {
    if (root.dataset.page === name) Object.entries(said).forEach(([key, value]) => put(key, value));
    document.dispatchEvent(new CustomEvent("arrived", { detail: name }));
  }

  function expect(page) {
    if (page.firstChild) return void document.dispatchEvent(new CustomEvent("arrived", { detail: page.id.slice(5) }));
    const watch = new MutationObserver(() => {
      if (!page.firstChild) return;
      watch.disconnect();
      arrived(page.id.slice(5));
    });
    watch.observe(page, { childList: true });
  }

  function listen() {
    if (source) source.close();
    said = {};
    source = new EventSource(`/live?page=${root.dataset.page}&units=${kept("units") || ""}`);
    const word = (act) => (event) => { heard = Date.now(); at("lost").hidden = true; act(event.data); };
    source.addEventListener("hello", ({ data }) => { // a greeting alone is no sign of life
      if (JSON.parse(data) !== at("page").dataset.run) location.reload(); // the dashboard was started anew
    });
    source.addEventListener("beat", word(() => {}));
    source.onmessage = word((data) => {
      const news = JSON.parse(data);
      Object.assign(said, news);
      for (const [key, value] of Object.entries(news)) put(key, value);
      document.dispatchEvent(new Event("shown"));
    });
  }

  function watch() {
    const lost = Date.now() - heard > SILENCE;
    at("lost").hidden = !lost;
    if (lost && (source.readyState === EventSource.CLOSED || Date.now() - heard > 3 * SILENCE)) {
      heard = Date.now() - SILENCE;
      listen();
    }
  }

  function show(theme) {
    root.dataset.theme = theme;
    kept("theme", theme);
    for (const id of Object.keys(numbers)) redraw(id, numbers[id]);
  }

  function start() {
    if (!at("page") || !window.dash_clientside?.set_props) return void requestAnimationFrame(start);
    window.tenthsFigures = JSON.parse(at("page").dataset.figures);
    const dark = matchMedia("(prefers-color-scheme: dark)").matches;
    show(kept("theme") || (dark ? "dark" : "light"));
    at("theme").addEventListener("click", () => show(root.dataset.theme === "dark" ? "light" : "dark"));
    at("units").addEventListener("click", () => {
      kept("units", at("units").dataset.units === "in" ? "mm" : "in");
      listen();
    });
    document.querySelectorAll(".page").forEach(expect);
    document.addEventListener("click", ({ target }) => { // leaves a line out of a figure, or takes it in again
      const { figure: id } = target.dataset;
      if (!id) return;
      target.setAttribute("aria-pressed", String(target.getAttribute("aria-pressed") === "false"));
      redraw(id, numbers[id]);
    });
    addEventListener("hashchange", turn);
    addEventListener("resize", () => Object.entries(numbers).forEach(([id, value]) => redraw(id, value)));
    turn();
    setInterval(watch, 1000);
  }
  start();
})();
