// Says what comes through the stream, with a tone before it. Silent until a person turns it on,
// which browsers demand; what is said stands on the page in any case.
(() => {
  "use strict";
  const all = (part) => document.querySelectorAll(`[data-sound="${part}"]`);
  const TONES = { // of each: pitch in Hz, when it begins and how long it lasts in seconds
    accepted: [[784, 0, 0.12], [1047, 0.13, 0.2]],
    again: [[523, 0, 0.14], [392, 0.16, 0.24]],
    slower: [[440, 0, 0.3], [440, 0.4, 0.3]],
    question: [[659, 0, 0.14], [784, 0.16, 0.24]],
    limits: [[1047, 0, 0.1], [1047, 0.15, 0.1], [1047, 0.3, 0.1], [784, 0.45, 0.35]],
    lost: [[262, 0, 0.5], [208, 0.55, 0.7]],
  };
  let on = false, volume = 7, audio = null, last = null;

  function tone(name) {
    for (const [pitch, begins, lasts] of TONES[name] || []) {
      const note = audio.createOscillator(), loud = audio.createGain(), start = audio.currentTime + begins;
      note.frequency.value = pitch;
      loud.gain.setValueAtTime(0, start);
      loud.gain.linearRampToValueAtTime(volume / 20, start + 0.02); // without a ramp it clicks
      loud.gain.setValueAtTime(volume / 20, start + lasts - 0.03);
      loud.gain.linearRampToValueAtTime(0, start + lasts);
      note.connect(loud).connect(audio.destination);
      note.start(start);
      note.stop(start + lasts);
    }
  }

  function speak(text, urgent) {
    const voice = window.speechSynthesis;
    if (!voice) return;
    if (urgent) voice.cancel();
    else if (voice.speaking) return; // a count is old before a sentence ends
    const words = new SpeechSynthesisUtterance(text);
    words.lang = all("switch")[0].dataset.lang;
    words.volume = volume / 10;
    voice.speak(words);
  }

  function show() {
    for (const button of all("switch")) {
      button.setAttribute("aria-pressed", String(on));
      button.textContent = on ? button.dataset.on : button.dataset.off;
    }
    for (const place of all("volume")) place.textContent = place.dataset.words.replace("{volume}", volume);
    for (const place of all("tones")) place.hidden = !on || Boolean(window.speechSynthesis);
  }

  // The first thing that is heard after the page was opened happened before: only what follows is said.
  document.addEventListener("voice", ({ detail }) => {
    const before = last;
    last = detail ? detail.id : last ?? "";
    if (!on || !detail || before === null || before === last) return;
    tone(detail.tone);
    speak(detail.text, Boolean(detail.tone));
  });

  const acts = {
    switch: () => {
      on = !on;
      if (on) {
        audio ||= new AudioContext();
        audio.resume();
        tone("accepted"); // so that a person hears how loud it is
      } else window.speechSynthesis?.cancel();
    },
    quieter: () => { volume = Math.max(1, volume - 1); },
    louder: () => { volume = Math.min(10, volume + 1); },
  };

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    const act = button?.dataset.sound;
    if (!acts[act]) return;
    acts[act]();
    if (on && act !== "switch") tone("accepted");
    show();
  });

  document.addEventListener("arrived", show);
})();
