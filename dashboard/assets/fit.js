// Makes text smaller until it fits the area that it has: an area never grows, so that nothing under it jumps.
(() => {
  "use strict";
  const AREAS = ".banner, #coach, #page-bore > .sound-box, .figures > div";
  const STEP = 0.05; // of the size that the stylesheet gives
  const least = (box) => (box.id === "coach" ? 0.75 : box.matches(".banner") ? 0.5 : 0.7); // the coach's lesser lines can be scrolled
  let waiting = 0;

  const over = (box) => box.scrollHeight > box.clientHeight + 1 || box.scrollWidth > box.clientWidth + 1;

  function fit(box) {
    if (!box.clientHeight) return;
    let scale = 1;
    box.style.setProperty("--fit", scale);
    while (scale > least(box) && over(box)) box.style.setProperty("--fit", (scale -= STEP).toFixed(2));
  }

  function fitSoon() {
    waiting ||= requestAnimationFrame(() => {
      waiting = 0;
      if (getComputedStyle(document.documentElement).getPropertyValue("--fixed").trim() !== "1") return;
      document.querySelectorAll(AREAS).forEach(fit);
    });
  }

  const words = new MutationObserver(fitSoon);
  document.addEventListener("arrived", ({ detail }) => {
    if (!["grinding", "bore"].includes(detail)) return;
    for (const box of document.querySelectorAll(AREAS)) words.observe(box, { childList: true, characterData: true, subtree: true });
    fitSoon();
  });
  addEventListener("resize", fitSoon);
  addEventListener("hashchange", fitSoon);
})();
