// The job sheet as a form: built from what the server describes, checked as it is typed, saved when it is right.
(() => {
  "use strict";
  const at = (id) => document.getElementById(id);
  const root = document.documentElement;
  let words = {}, sheet = null, gauges = [], timer = 0, fresh = 0;

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

  function field({ kind, among, label, hint, value }, key) {
    const id = "job-" + key, more = { id, name: key, "aria-describedby": `${id}-fault ${id}-hint` };
    let entry;
    if (kind === "choice") {
      const choices = among.includes(value) ? ["", ...among] : ["", value, ...among].filter((one, n, all) => all.indexOf(one) === n);
      entry = make("select", more, ...choices.map((one) => make("option", { value: one, selected: one === value }, one || words.choose)));
    } else entry = make("input", { ...more, type: "text", value, autocomplete: "off", inputmode: kind === "number" ? "decimal" : undefined });
    if (!at("page").dataset.token) entry.disabled = true;
    return make("div", { class: "field" }, make("label", { for: id }, label), entry,
      make("span", { id: `${id}-hint`, class: "hint" }, hint), make("span", { id: `${id}-fault`, class: "fault" }));
  }

  function group(title, fields, key, more = []) {
    return make("fieldset", { "data-gauge": key }, make("legend", {}, title),
      make("div", { class: "fields" }, ...fields.map((one) => field(one, key === undefined ? one.key : `gauge.${key}.${one.key}`)), ...more));
  }

  function gaugeGroup(fields, place) {
    const key = place ?? `new${fresh++}`, box = { key, place };
    gauges.push(box);
    const gone = button(words.remove, () => {
      gauges = gauges.filter((one) => one !== box);
      box.element.remove();
      soon();
    });
    return (box.element = group(sheet.gauge_title, fields, key, at("page").dataset.token ? [gone] : []));
  }

  function typed() {
    const values = {}, form = at("job-fields");
    for (const entry of form.querySelectorAll("[name]")) {
      if (!entry.name.startsWith("gauge.")) values[entry.name] = entry.value;
    }
    gauges.forEach(({ key }, n) => {
      for (const entry of form.querySelectorAll(`[name^="gauge.${key}."]`)) values[`gauge.${n}.${entry.name.split(".").pop()}`] = entry.value;
    });
    return { name: at("job-name").value.trim(), values, gauges: gauges.map(({ place }) => place ?? null), digest: sheet.digest };
  }

  function tell(reply) {
    const fault = (entry, why) => {
      at(entry.id + "-fault").textContent = why || "";
      if (why) entry.setAttribute("aria-invalid", "true"); else entry.removeAttribute("aria-invalid");
    };
    for (const entry of at("job-form").querySelectorAll("input, select[name]")) {
      const [head, key, ...rest] = entry.name.split(".");
      const n = gauges.findIndex((one) => String(one.key) === key);
      fault(entry, (reply.fields || {})[head === "gauge" ? `gauge.${n}.${rest.join(".")}` : entry.name]);
    }
    at("job-rest").replaceChildren(...(reply.rest || []).map((why) => make("li", {}, why)));
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
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(() => post("/sheet/check").catch(() => {}), 500);
  };

  async function save() {
    clearTimeout(timer);
    try {
      const reply = await post("/sheet/save");
      if (reply.digest) { await open(typed().name); tell(reply); }
      else at("job-form").querySelector("[aria-invalid]")?.focus();
    } catch { tell({ said: words.failed }); }
  }

  async function open(name) {
    const [list, reply] = await Promise.all(["/sheets", "/sheet?name=" + encodeURIComponent(name)].map(async (road) => (await fetch(road)).json()));
    if (!reply.ok) return tell({ said: reply.refused });
    [sheet, gauges, fresh] = [reply, [], 0];
    const may = Boolean(at("page").dataset.token);
    const pick = make("select", { id: "job-open", onchange: (event) => open(event.target.value) },
      make("option", { value: "" }, words.new), ...list.names.map((one) => make("option", { value: one, selected: one === name }, one)));
    const own = make("input", { id: "job-name", name: "name", type: "text", value: name, autocomplete: "off", placeholder: "sleeve.toml", "aria-describedby": "job-name-fault", readonly: Boolean(name) });
    own.disabled = !may;
    const head = make("div", { class: "fields" },
      make("div", { class: "field" }, make("label", { for: "job-open" }, words.open), pick),
      make("div", { class: "field" }, make("label", { for: "job-name" }, words.name), own, make("span", { id: "job-name-fault", class: "fault" })));
    const added = make("div", { id: "job-gauges" }, ...sheet.gauges.map((fields, place) => gaugeGroup(fields, place)));
    const form = make("form", { id: "job-fields", oninput: soon, onsubmit: (event) => { event.preventDefault(); save(); } },
      ...sheet.groups.map(({ title, fields }) => group(title, fields)), added);
    const add = button(words.add, () => { added.append(gaugeGroup(sheet.fresh, null)); soon(); }, { id: "job-add" });
    const keep = make("button", { type: "submit", form: "job-fields", class: "strong", id: "job-save" }, words.save);
    at("job-form").replaceChildren(head, form, make("div", { class: "fields" }, ...(may ? [add, keep] : [words.viewer])),
      make("p", { id: "job-said", role: "status" }), make("ul", { id: "job-rest" }));
    at("job-name").addEventListener("input", soon);
  }

  function start() {
    if (!at("job-form")) return void requestAnimationFrame(start);
    words = JSON.parse(at("job-form").dataset.words);
    const begin = async () => {
      if (root.dataset.page !== "job" || sheet) return;
      const { names } = await (await fetch("/sheets")).json();
      if (!sheet) await open(names[0] || "");
    };
    new MutationObserver(begin).observe(root, { attributes: true, attributeFilter: ["data-page"] });
    begin();
  }
  start();
})();
