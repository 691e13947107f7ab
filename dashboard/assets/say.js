// Says what a person presses, by button or key; what came of it is shown when it is on disk.
(() => {
  "use strict";
  const at = (id) => document.getElementById(id);
  const page = () => at("page").dataset;

  async function post(road, what) {
    const answer = await fetch(road, {
      method: "POST",
      headers: { "content-type": "application/json", "x-tenths-token": page().token },
      body: JSON.stringify(what),
    });
    return answer.json();
  }

  async function say(words, button) {
    const ack = at("ack");
    const tell = (text, state) => { ack.textContent = text; ack.dataset.state = state; };
    if (button.disabled) return;
    button.disabled = true;
    tell(page().sending, "sending");
    try {
      const reply = await post("/say", { words, units: at("units").dataset.units });
      if (reply.ok) tell(page().done.replace("{said}", () => reply.said || words.join(" ")), "done");
      else tell(page().refused.replace("{why}", () => reply.refused), "refused");
      return reply.ok;
    } catch {
      tell(page().refused.replace("{why}", () => page().failed), "refused");
    } finally {
      button.disabled = false;
    }
  }

  const number = (field) => Number((field.value || field.placeholder).replace(",", "."));

  function nudge(by) {
    const field = at("infeed");
    const step = Number(field.dataset.step);
    field.value = String(Number(Math.max(0, number(field) + by * step).toFixed(6)));
  }

  async function written(verb, button, split) {
    const field = at("text");
    if (!field.value.trim()) {
      at("ack").textContent = page().nothing;
      return field.focus();
    }
    const said = field.value.trim();
    if (await say([...verb.split(" "), ...(split ? said.split(/\s+/) : [said])], button)) { field.value = ""; field.blur(); }
  }

  // A verb, and behind it what was typed into the button's field; the field is emptied when it is on disk.
  async function behind(button) {
    const field = at(button.dataset.field), typed = field.value.trim();
    if (!typed) {
      at("ack").textContent = page().nothing;
      return field.focus();
    }
    if (!await say([...JSON.parse(button.dataset.say), ...typed.split(/\s+/)], button)) return;
    const write = Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, "value").set;
    write.call(field, ""); // as if typed: the page's library holds the value too
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  // A picture of a phone is made smaller here; what the server keeps it makes anew itself.
  function choose(button) {
    const chooser = document.createElement("input");
    chooser.type = "file";
    chooser.accept = "image/*";
    chooser.onchange = () => chooser.files[0] && picture(button, chooser.files[0]);
    chooser.click();
  }

  async function picture(button, file) {
    const text = at("picture-text").value.trim(), ack = at("ack");
    button.disabled = true;
    ack.textContent = page().sending;
    try {
      const drawn = await createImageBitmap(file, { imageOrientation: "from-image" });
      const scale = Math.min(1, 1600 / Math.max(drawn.width, drawn.height));
      const sheet = document.createElement("canvas");
      [sheet.width, sheet.height] = [Math.round(drawn.width * scale), Math.round(drawn.height * scale)];
      sheet.getContext("2d").drawImage(drawn, 0, 0, sheet.width, sheet.height);
      const data = sheet.toDataURL("image/jpeg", 0.8).split(",")[1];
      const reply = await post("/picture/keep", { data, text });
      ack.textContent = reply.ok
        ? page().done.replace("{said}", () => reply.said) : page().refused.replace("{why}", () => reply.refused);
      ack.dataset.state = reply.ok ? "done" : "refused";
    } catch (error) {
      ack.textContent = page().refused.replace("{why}", () => String(error));
      ack.dataset.state = "refused";
    } finally {
      button.disabled = false;
    }
  }

  const acts = {
    "picture-keep": (b) => choose(b),
    less: () => nudge(-1),
    "more-infeed": () => nudge(1),
    pass: (b) => say(["pass", (at("infeed").value || at("infeed").placeholder).trim()], b),
    spark: (b) => say(["pass", "0"], b),
    undo: (b) => say(["undo"], b),
    reject: (b) => say(["reject", at("reject").dataset.seq || "", page().why], b),
    "stage-say": (b) => say(["stage", at("stage-choice").value], b),
    "own-say": (b) => written("stage own", b),
    "note-say": (b) => written("note", b),
    "master-say": (b) => written("master", b, true),
    "typed-say": async (b) => { // stays in the field: the next reading is typed there too
      const field = at("typed");
      if (await say(["read", at("typed-gauge").value.trim(), field.value.trim()], b)) field.value = "";
      field.focus();
    },
    "show-newer": () => post("/newer", {}),
    play: () => post("/play", { do: "toggle" }),
    "pass-back": () => post("/play", { do: "pass", to: -1 }),
    "pass-on": () => post("/play", { do: "pass", to: 1 }),
    slower: () => post("/play", { do: "slower" }),
    faster: () => post("/play", { do: "faster" }),
    redecide: () => post("/play", { do: "redecide" }),
    keys: (b) => b.setAttribute("aria-pressed", b.getAttribute("aria-pressed") !== "true"),
  };

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (button?.dataset.field) return void behind(button);
    if (button?.dataset.say) return void say(JSON.parse(button.dataset.say), button);
    if (button && acts[button.id]) acts[button.id](button);
  });

  document.addEventListener("keydown", (event) => {
    const typing = event.target.closest("input:not([type=range]), textarea, select");
    if (typing && event.key === "Escape") typing.blur();
    if (event.target.id === "typed" && event.key === "Enter") return at("typed-say").click();
    if (typing || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (at("keys").getAttribute("aria-pressed") !== "true") return;
    const named = document.querySelectorAll(`[data-key="${CSS.escape(event.key.toLowerCase())}"]`);
    const button = [...named].find((one) => one.checkVisibility()); // another page may have the same key
    if (!button) return;
    event.preventDefault();
    button.click();
  });

  document.addEventListener("input", (event) => {
    if (event.target.id !== "scrub") return;
    event.target.dataset.held = "1";
    post("/play", { do: "seek", to: Number(event.target.value) / 1000 });
  });
  document.addEventListener("change", (event) => {
    if (event.target.id === "scrub") delete event.target.dataset.held;
  });
})();
