// A calibration certificate: read by the server, shown, and written onto the sheet that is chosen.
(() => {
  "use strict";
  const at = (id) => document.getElementById(id);
  let words = {};

  function make(tag, more = {}, ...inside) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(more)) {
      if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
      else element.setAttribute(name, value);
    }
    element.append(...inside);
    return element;
  }

  function tell(text, state = "") {
    at("certificates-said").textContent = text;
    at("certificates-said").dataset.state = state;
  }

  async function post(road, what) {
    const answer = await fetch(road, {
      method: "POST",
      headers: { "content-type": "application/json", "x-tenths-token": at("page").dataset.token },
      body: JSON.stringify({ units: at("units").dataset.units || "mm", ...what }),
    });
    return answer.json();
  }

  const base64 = (file) => new Promise((done, failed) => {
    const reader = new FileReader();
    reader.onload = () => done(reader.result.split(",")[1] || "");
    reader.onerror = () => failed(reader.error);
    reader.readAsDataURL(file);
  });

  function choose() {
    const chooser = make("input", { type: "file", accept: ".xml,application/xml,text/xml" });
    chooser.onchange = () => chooser.files[0] && read(chooser.files[0]).catch(() => tell(words.failed, "refused"));
    chooser.click();
  }

  const field = (label, entry) => make("div", { class: "field" }, make("label", { for: entry.id }, label), entry);
  const select = (id, texts) => make("select", { id }, ...texts.map((text, n) => make("option", { value: n }, text)));

  async function read(file) {
    const data = await base64(file), place = at("certificates-read");
    const reply = await post("/certificate/read", { data });
    place.replaceChildren();
    if (!reply.ok) return tell(reply.refused, "refused");
    tell("");
    const due = make("input", { id: "certificates-due", type: "text", placeholder: "2027-05-04", autocomplete: "off" });
    const of = select("certificates-place", reply.places.map((one) => one.text));
    const which = select("certificates-length", reply.lengths);
    const keep = async () => {
      const { sheet, gauge, of: kind } = reply.places[of.value];
      const done = await post("/certificate/keep", { data, sheet, gauge, of: kind, due: due.value, length: Number(which.value || 0) });
      tell(done.ok ? done.said : done.refused, done.ok ? "done" : "refused");
      if (done.ok) again();
    };
    const asked = [field(words.place, of), ...(reply.lengths.length ? [field(words.which, which)] : []), field(words.due, due),
      make("button", { type: "button", id: "certificates-keep", onclick: () => keep().catch(() => tell(words.failed, "refused")) }, words.keep)];
    place.append(make("ul", {}, ...reply.said.map((line) => make("li", {}, line))),
      ...(reply.places.length ? [make("div", { class: "fields" }, ...asked)] : [make("p", {}, words["no-place"])]));
  }

  // What was written is worked out anew.
  function again() {
    const data = { page: "certificates", units: at("units").dataset.units, theme: document.documentElement.dataset.theme, now: Date.now() };
    window.dash_clientside.set_props("certificates-ask", { data });
  }

  document.addEventListener("click", (event) => {
    if (event.target.id !== "certificates-choose") return;
    words = JSON.parse(at("certificates-read").dataset.words);
    choose();
  });
})();
