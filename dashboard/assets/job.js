// The job sheet as a form: built from what the server describes, checked as it is typed, saved when it is right.
(() => {
  "use strict";
  const at = (id) => document.getElementById(id);
  const root = document.documentElement;
  let words = {}, sheet = null, listed = {}, timer = 0, fresh = 0, asked = {}, undo = [], wanted = null;

  function make(tag, more = {}, ...inside) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(more)) {
      if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
      else if (value !== undefined && value !== false) element.setAttribute(name, value === true ? "" : value);
    }
    element.append(...inside);
    return element;
  }
  const button = (text, act, more = {}) => make("button", { type: "button", onclick: act, ...more }, text);

  function field({ kind, among, label, hint, value, must, offers = [], ways = [], default: holds }, key) {
    const id = "job-" + key, more = { id, name: key, "aria-describedby": `${id}-fault ${id}-question ${id}-hint` };
    let entry;
    if (among.length) {
      const choices = among.includes(value) ? ["", ...among] : ["", value, ...among].filter((one, n, all) => all.indexOf(one) === n);
      entry = make("select", more, ...choices.map((one) => make("option", { value: one, selected: one === value }, one || holds || words.choose)));
    } else entry = make("input", { ...more, type: "text", value, placeholder: holds, list: offers.length ? id + "-offers" : undefined, autocomplete: "off", inputmode: ["number", "whole"].includes(kind) ? "decimal" : undefined });
    if (!at("page").dataset.token) entry.disabled = true;
    return make("div", { class: "field", "data-ways": ways.length ? ways.join(" ") : undefined }, make("label", { for: id }, must ? make("span", { title: words.must }, label + " *") : label), entry,
      ...(offers.length ? [make("datalist", { id: id + "-offers" }, ...offers.map((one) => make("option", { value: one })))] : []),
      make("span", { id: `${id}-hint`, class: "hint" }, hint), make("span", { id: `${id}-fault`, class: "fault" }), make("span", { id: `${id}-question`, class: "question" }));
  }

  const boxes = (fields, key) => make("div", { class: "fields" }, ...fields.map((one) => field(one, key === undefined ? one.key : `${key}.${one.key}`)));

  function group(title, fields, key, more = []) {
    const rare = fields.filter((one) => one.more);
    const folded = rare.length ? [make("details", {}, make("summary", {}, words.more), boxes(rare, key))] : [];
    return make("fieldset", {}, make("legend", {}, title), boxes(fields.filter((one) => !one.more), key), ...folded, ...more);
  }

  // What is of another way to the gauge is neither seen nor sent.
  function fitting(box) {
    const way = box.querySelector("select[name$='.link']")?.value;
    for (const one of box.querySelectorAll("[data-ways]")) one.hidden = !one.dataset.ways.split(" ").includes(way);
  }

  function oneOf({ kind, title, remove }, fields, place) {
    const key = `${kind}.${place ?? `new${fresh++}`}`, box = { key, place };
    listed[kind].push(box);
    const gone = button(remove, () => {
      const all = listed[kind], after = box.element.nextSibling, parent = box.element.parentNode;
      listed[kind] = all.filter((one) => one !== box);
      box.element.remove();
      back(remove, () => { listed[kind] = all; parent.insertBefore(box.element, after); });
      soon();
    });
    const own = kind === "gauge" ? [sight(box)] : [];
    box.element = group(title, fields, key, at("page").dataset.token ? [...own, gone] : []);
    box.element.addEventListener("change", () => fitting(box.element));
    fitting(box.element);
    return box.element;
  }

  // What a change was before, so that it can be taken back.
  function back(label, act) {
    undo.push({ label, act });
    at("job-undo").disabled = false;
  }
  function takeBack() {
    const last = undo.pop();
    if (!last) return;
    last.act();
    at("job-undo").disabled = !undo.length;
    document.querySelectorAll("#job-gauges > fieldset").forEach(fitting);
    soon(words.undone.replace("{label}", last.label));
  }
  const labelOf = (entry) => entry.closest(".field").querySelector("label").textContent.replace(/ \*$/, "");
  function put(entry, value) {
    const before = entry.value;
    if (entry.tagName === "SELECT" && ![...entry.options].some((one) => one.value === value)) entry.append(make("option", { value }, value));
    entry.value = entry.dataset.before = value;
    back(labelOf(entry), () => { entry.value = entry.dataset.before = before; });
  }

  // The gauges in sight: one that is picked fills in how it is reached.
  function sight(box) {
    const list = make("div", { class: "fields" });
    const look = async () => {
      list.replaceChildren(make("p", { role: "status" }, words.looking));
      const answer = await fetch("/gauges/look", { method: "POST", headers: { "content-type": "application/json", "x-tenths-token": at("page").dataset.token }, body: "{}" });
      const reply = await answer.json();
      const ways = reply.ways || [];
      const pick = ({ link, address }) => {
        const of = (name) => box.element.querySelector(`[name$=".${name}"]`);
        put(of("link"), link);
        put(of("address"), address);
        fitting(box.element);
        list.replaceChildren();
        soon();
      };
      list.replaceChildren(...ways.map((way) => button([way.title, way.about, way.state].filter(Boolean).join(", "), () => pick(way))),
        ...(ways.length ? [] : [make("p", { role: "status" }, reply.refused || words["sight-none"])]));
    };
    return make("div", { class: "fields" }, button(words.sight, () => look().catch(() => list.replaceChildren(words.failed))), list);
  }

  // Limits of a standard fit at the nominal size that is typed.
  function fits() {
    const select = make("select", { id: "job-fit-list", onfocus: fill, onpointerdown: fill, onchange: take }, make("option", { value: "" }, words.choose));
    let rows = [], of = "";
    async function fill() {
      const nominal = at("job-fit.nominal").value, units = at("job-job.units").value;
      if (of === nominal + units) return;
      of = nominal + units;
      rows = (await (await fetch(`/sheet/fits?nominal=${encodeURIComponent(nominal)}&units=${units}`)).json()).fits;
      select.replaceChildren(make("option", { value: "" }, rows.length ? words.choose : words["fit-none"]),
        ...rows.map(({ name, least, most }, n) => make("option", { value: n }, `${name}: ${least} … ${most}`)));
    }
    function take() {
      const row = rows[select.value];
      if (!row) return;
      for (const key of ["least", "aim", "most"]) put(at("job-fit.clearance." + key), row[key]);
      soon();
    }
    return make("div", { class: "fields" }, make("div", { class: "field wide" }, make("label", { for: "job-fit-list" }, words["fit-list"]), select));
  }

  function typed() {
    const values = {}, places = {};
    for (const entry of at("job-fields").querySelectorAll("[name]")) {
      if (!(entry.name.split(".")[0] in listed)) values[entry.name] = entry.value;
    }
    for (const [kind, all] of Object.entries(listed)) {
      all.forEach(({ key, element }, n) => {
        for (const entry of element.querySelectorAll("[name]")) {
          if (!entry.closest("[hidden]")) values[`${kind}.${n}${entry.name.slice(key.length)}`] = entry.value;
        }
      });
      places[kind + "s"] = all.map(({ place }) => place ?? null);
    }
    return { name: at("job-name").value.trim(), values, ...places, digest: sheet.digest, meant: asked };
  }

  function tell(reply) {
    const fault = (entry, why) => {
      at(entry.id + "-fault").textContent = why || "";
      if (why) entry.setAttribute("aria-invalid", "true"); else entry.removeAttribute("aria-invalid");
    };
    for (const entry of at("job-form").querySelectorAll("input, select[name]")) {
      const kind = entry.name.split(".")[0], all = listed[kind] || [];
      const n = all.findIndex((one) => entry.name.startsWith(one.key + "."));
      const why = (reply.fields || {})[n < 0 ? entry.name : `${kind}.${n}${entry.name.slice(all[n].key.length)}`];
      const question = (reply.questions || {})[n < 0 ? entry.name : `${kind}.${n}${entry.name.slice(all[n].key.length)}`];
      if (at(entry.id + "-question")) at(entry.id + "-question").textContent = question || "";
      fault(entry, why);
      if ((why || question) && entry.closest("details")) entry.closest("details").open = true;
    }
    at("job-rest").replaceChildren(...(reply.rest || []).map((why) => make("li", {}, why)));
    asked = reply.questions || {};
    at("job-said").textContent = reply.said || reply.refused || "";
    at("job-said").dataset.state = reply.ok ? "done" : "refused";
  }

  async function post(road) {
    const answer = await fetch(road, {
      method: "POST",
      headers: { "content-type": "application/json", "x-tenths-token": at("page").dataset.token },
      body: JSON.stringify(typed()),
    });
    const reply = await answer.json();
    tell(reply);
    return reply;
  }
  const soon = (said) => {
    clearTimeout(timer);
    timer = setTimeout(() => post("/sheet/check").then(() => { if (typeof said === "string") at("job-said").textContent = said; }).catch(() => {}), 500);
  };

  async function save() {
    clearTimeout(timer);
    try {
      const reply = await post("/sheet/save");
      if (reply.digest) { await open(typed().name); tell(reply); }
      else (at("job-form").querySelector("[aria-invalid]") || [...at("job-form").querySelectorAll(".question")].find((one) => one.textContent)?.closest(".field").querySelector("input, select"))?.focus();
    } catch { tell({ said: words.failed }); }
  }

  async function open(name) {
    const [list, reply] = await Promise.all(["/sheets", "/sheet?name=" + encodeURIComponent(name)].map(async (road) => (await fetch(road)).json()));
    if (!reply.ok) return tell({ said: reply.refused });
    [sheet, listed, fresh, asked, undo] = [reply, {}, 0, {}, []];
    const may = Boolean(at("page").dataset.token);
    const pick = make("select", { id: "job-open", onchange: (event) => open(event.target.value) },
      make("option", { value: "" }, words.new), ...list.names.map((one) => make("option", { value: one, selected: one === name }, one)));
    const own = make("input", { id: "job-name", name: "name", type: "text", value: name, autocomplete: "off", placeholder: "sleeve.toml", "aria-describedby": "job-name-fault", readonly: Boolean(name) });
    own.disabled = !may;
    const head = make("div", { class: "fields" },
      make("div", { class: "field" }, make("label", { for: "job-open" }, words.open), pick),
      make("div", { class: "field" }, make("label", { for: "job-name" }, words.name), own, make("span", { id: "job-name-fault", class: "fault" })));
    const sections = sheet.listed.map((one) => {
      listed[one.kind] = [];
      const all = make("div", { id: `job-${one.kind}s` }, ...one.all.map((fields, place) => oneOf(one, fields, place)));
      const add = button(one.add, () => {
        const made = oneOf(one, one.fresh, null), box = listed[one.kind].at(-1);
        all.append(made);
        back(one.add, () => { listed[one.kind] = listed[one.kind].filter((each) => each !== box); made.remove(); });
        soon();
      }, { id: `job-add-${one.kind}` });
      return make("div", {}, all, ...(may ? [add] : []));
    });
    const limits = make("details", { id: "job-settings" }, make("summary", {}, words.settings), make("p", { class: "note-line" }, words["settings-note"]),
      ...sheet.settings.map(({ title, fields }) => group(title, fields)));
    const form = make("form", { id: "job-fields", oninput: soon, onsubmit: (event) => { event.preventDefault(); save(); } },
      ...sheet.groups.map(({ title, fields }) => group(title, fields, undefined, may && fields.some((one) => one.key === "fit.nominal") ? [fits()] : [])), ...sections, limits);
    form.addEventListener("focusin", ({ target }) => { if (target.name) target.dataset.before = target.value; });
    form.addEventListener("change", ({ target }) => {
      const before = target.dataset.before;
      if (!target.name || before === undefined || before === target.value) return;
      target.dataset.before = target.value;
      back(labelOf(target), () => { target.value = target.dataset.before = before; });
    });
    const again = button(words.undo, takeBack, { id: "job-undo", disabled: true });
    const home = make("a", { href: "#home", class: "button", id: "job-start" }, words.start);
    const keep = make("button", { type: "submit", form: "job-fields", class: "strong", id: "job-save" }, words.save);
    at("job-form").replaceChildren(head, form, make("p", { class: "note-line" }, words["must-note"]), make("div", { class: "fields" }, ...(may ? [keep, again, home] : [words.viewer])),
      make("p", { id: "job-said", role: "status" }), make("ul", { id: "job-rest" }));
    at("job-name").addEventListener("input", soon);
  }

  document.addEventListener("sheet", ({ detail }) => { wanted = detail; if (sheet) open(detail); });

  function start() {
    words = JSON.parse(at("job-form").dataset.words);
    const begin = async () => {
      if (root.dataset.page !== "job" || sheet) return;
      const { names } = await (await fetch("/sheets")).json();
      if (!sheet) await open(wanted || names[0] || "");
    };
    new MutationObserver(begin).observe(root, { attributes: true, attributeFilter: ["data-page"] });
    begin();
  }
  document.addEventListener("arrived", ({ detail }) => { if (detail === "job") start(); });
})();
