/* Alarms to be heard. A browser lets a page make sound only after its person has pressed something
   on it; pressing gives one beep as the trial. */
(function () {
  "use strict";
  const EACH_MS = 2000, BEEP_S = 0.18, PITCHES_HZ = [880, 1175];
  let sound = null;

  function beep() {
    PITCHES_HZ.forEach((pitch, place) => {
      const tone = sound.createOscillator(), loudness = sound.createGain();
      const from = sound.currentTime + place * BEEP_S;
      tone.type = "square";
      tone.frequency.value = pitch;
      loudness.gain.setValueAtTime(0.25, from);
      loudness.gain.exponentialRampToValueAtTime(0.001, from + BEEP_S);
      tone.connect(loudness).connect(sound.destination);
      tone.start(from);
      tone.stop(from + BEEP_S);
    });
    document.documentElement.dataset.beeps = Number(document.documentElement.dataset.beeps || 0) + 1;
  }

  function press(button) {
    const isOn = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(isOn));
    if (!isOn) return;
    sound = sound || new AudioContext();
    sound.resume();
    beep();
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("#sound");
    if (button) press(button);
  });

  setInterval(() => {
    const button = document.getElementById("sound");
    const alarms = document.querySelector("[data-alarms]");
    if (!button || !alarms || alarms.dataset.alarms === "0") return;
    if (button.getAttribute("aria-pressed") === "true") beep();
  }, EACH_MS);
})();
