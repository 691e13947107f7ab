// Asks for the pages that are worked out on request anew when what is shown, the units or the theme has changed.
(() => {
  "use strict";
  const at = (id) => document.getElementById(id);
  const root = document.documentElement;
  const GAP = 1000; // ms between two askings
  let asked = "", when = 0, waiting = 0;

  function ask() {
    const page = root.dataset.page, key = at(page + "-key");
    if (!key?.dataset.key) return; // the stream has not said what there is to ask of
    const data = { page, key: key.dataset.key, units: at("units").dataset.units, theme: root.dataset.theme };
    const now = JSON.stringify(data);
    if (now === asked || waiting) return;
    waiting = setTimeout(() => {
      [waiting, when] = [0, Date.now()];
      asked = now;
      dash_clientside.set_props(page + "-ask", { data });
      ask();
    }, Math.max(0, when + GAP - Date.now()));
  }

  // What is pressed on the page Record; the preview runs nothing, so it is printed from here.
  document.addEventListener("click", (event) => {
    if (event.target.id === "record-print") at("record-preview").contentWindow.print();
  });

  function start() {
    if (!at("page") || !root.dataset.page || !window.dash_clientside?.set_props) return void requestAnimationFrame(start);
    const watch = new MutationObserver(ask);
    watch.observe(root, { attributes: true, attributeFilter: ["data-page", "data-theme"] });
    watch.observe(at("units"), { attributes: true, attributeFilter: ["data-units"] });
    watch.observe(document.querySelector("main"), { subtree: true, attributes: true, attributeFilter: ["data-key"] });
    ask();
  }
  start();
})();
