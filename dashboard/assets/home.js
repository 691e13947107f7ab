// The home page: the folder's jobs and recordings; a job begun, its capture started and stopped.
(() => {
  "use strict";
  const at = (id) => document.getElementById(id);
  const root = document.documentElement;
  let words = {}, timer = 0, busy = false, last = "";

  const say = (key, fields = {}) => words[key].replace(/\{(\w+)\}/g, (all, name) => fields[name] ?? all);
  function make(tag, more = {}, ...inside) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(more)) {
      if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
      else if (value !== undefined && value !== false) element.setAttribute(name, value === true ? "" : value);
    }
    element.append(...inside.filter((one) => one !== ""));
    return element;
  }
  const may = () => Boolean(at("page").dataset.token);
  const button = (text, about, act, more = {}) =>
    make("button", { type: "button", "aria-label": about ? `${text}: ${about}` : undefined, onclick: act, disabled: !may(), ...more }, text);

  function tell(text, state) {
    at("home-said").textContent = text || "";
    at("home-said").dataset.state = state;
  }

  async function post(road, wish, waiting) {
    if (busy) return null;
    busy = true;
    if (waiting) tell(waiting, "sending");
    try {
      const answer = await fetch(road, {
        method: "POST",
        headers: { "content-type": "application/json", "x-tenths-token": at("page").dataset.token },
        body: JSON.stringify(wish),
      });
      const reply = await answer.json();
      tell(reply.ok ? reply.said : reply.refused, reply.ok ? "done" : "refused");
      return reply.ok ? reply : null;
    } catch {
      tell(words.failed, "refused");
      return null;
    } finally {
      busy = false;
      look();
    }
  }

  async function start(sheet, recording) {
    const reply = await post("/home/start", { sheet, recording: recording || "" }, words.starting);
    if (reply) location.hash = "#grinding";
  }

  async function showIt(recording) {
    if (await post("/home/show", { recording })) location.hash = "#grinding";
  }

  function edit(sheet) {
    document.dispatchEvent(new CustomEvent("sheet", { detail: sheet }));
    location.hash = "#job";
  }

  async function begin(event) {
    event.preventDefault();
    let name = at("home-name").value.trim();
    if (name && !name.endsWith(".toml")) name += ".toml";
    const example = document.querySelector("[name=home-example]:checked").value;
    const reply = await post("/home/new", { example, name });
    if (reply) { at("home-name").value = ""; edit(reply.sheet); }
  }

  function jobRow(job, live) {
    const keys = [button(words.edit, job.sheet, () => edit(job.sheet), { disabled: false })];
    if (!job.faults) keys.push(button(words.start, job.sheet, () => start(job.sheet), { class: "strong", disabled: !may() || Boolean(live) }));
    if (!job.faults && job.recordings.length && !live) keys.push(button(words["go-on"], job.recordings[0], () => start(job.sheet, job.recordings[0])));
    return make("div", { class: "home-row", "data-state": job.faults ? "bad" : undefined },
      make("div", {}, make("h3", {}, job.name || job.sheet), make("p", {}, `${job.sheet} – ${job.about}`)), make("div", { class: "keys" }, ...keys));
  }

  function recordingRow(one, shown) {
    const size = one.bytes < 1e6 ? `${Math.ceil(one.bytes / 1e3)} kB` : `${(one.bytes / 1e6).toFixed(1)} MB`;
    const about = one.readable ? `${one.job} – ${new Date(one.began).toLocaleString([], { dateStyle: "medium", timeStyle: "short" })} – ${size}` : words.unreadable;
    const state = one.live ? words.live : one.name === shown ? words["shown-now"] : "";
    return make("div", { class: "home-row", "data-state": one.readable ? undefined : "bad" },
      make("div", {}, make("h3", {}, one.name), make("p", {}, about)),
      make("div", { class: "keys" }, state && make("span", { class: "chip" }, state), button(words.show, one.name, () => showIt(one.name), { disabled: !one.readable || !may() })));
  }

  function draw(seen) {
    const text = JSON.stringify(seen);
    if (text === last) return; // what a finger is about to press stays where it is
    last = text;
    at("home-capture").replaceChildren(seen.live ? say("runs", { recording: seen.live }) : words.idle,
      seen.live ? button(words.stop, seen.live, () => post("/home/stop", {}, words.stopping), { class: "strong", id: "home-stop" }) : "");
    at("home-jobs").replaceChildren(...seen.jobs.length ? seen.jobs.map((job) => jobRow(job, seen.live)) : [make("p", { class: "note-line" }, words.empty)]);
    at("home-recordings").replaceChildren(...seen.recordings.length ? seen.recordings.map((one) => recordingRow(one, seen.shown)) : [make("p", { class: "note-line" }, words["no-recordings"])]);
    if (at("home-new").firstChild) return;
    const choices = seen.examples.map(({ name, title }, n) =>
      make("label", { class: "choice" }, make("input", { type: "radio", name: "home-example", value: name, checked: !n }), title));
    at("home-new").replaceChildren(may() ? make("form", { onsubmit: begin, class: "page-body" },
      make("fieldset", {}, make("legend", {}, words.example), ...choices),
      make("div", { class: "fields" },
        make("div", { class: "field" }, make("label", { for: "home-name" }, words.name), make("input", { id: "home-name", type: "text", required: true, placeholder: "sleeve.toml", autocomplete: "off", maxlength: 80 })),
        make("button", { type: "submit", class: "strong", id: "home-make" }, words.make))) : make("p", {}, words.viewer));
  }

  async function look() {
    clearTimeout(timer);
    if (root.dataset.page !== "home") return;
    try { draw(await (await fetch("/home")).json()); } catch { tell(words.failed, "refused"); }
    timer = setTimeout(look, 2000);
  }

  document.addEventListener("arrived", ({ detail }) => {
    if (detail !== "home") return;
    words = JSON.parse(at("home-body").dataset.words);
    new MutationObserver(look).observe(root, { attributes: true, attributeFilter: ["data-page"] });
    look();
  });
})();
