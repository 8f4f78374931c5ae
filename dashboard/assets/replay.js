/* The replay: owns the time, moves the pen, shows what the server said about the moment.
   Every word and every digit comes from the server, in blocks of moments fetched ahead. */
(function () {
  "use strict";
  const COUNT = 100;        // moments in a block
  const BLOCKS_MAX = 40;
  const SHOWN_EACH_MS = 100; // words and figures change at most this often
  const ARROW_S = 5, SHIFT_ARROW_S = 60;
  const CLICK_PX = 4;       // a press that moves less is a click
  const DEBOUNCE_MS = 150;
  const GAP_S = 3;          // the longest that playing stays in a gap
  const FLIP_AT = 0.95;     // the page turns when the pen has come so far

  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const one = (selector, within) => (within || document).querySelector(selector);
  const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
  let replay = null;

  class Replay {
    constructor(root, graph) {
      this.root = root;
      this.graph = graph;
      this.stem = root.dataset.stem;
      this.duration = Number(root.dataset.duration);
      this.step = Number(root.dataset.step);
      this.shortest = Number(root.dataset.shortest);
      this.gaps = JSON.parse(root.dataset.gaps);
      this.time = 0;
      this.speed = 10;
      this.playing = false;
      this.blocks = new Map();
      this.shownAt = 0;
      this.pen = one(".pen", root);
      this.pen.hidden = false;
      this.slider = this.makeSlider();
      this.listen();
      this.show(true);
      root.dataset.ready = "yes";
    }

    makeSlider() {
      const slider = document.createElement("input");
      Object.assign(slider, { type: "range", min: 0, max: this.duration, step: "any", value: 0 });
      slider.setAttribute("aria-label", "Position in the log");
      one("#position", this.root).replaceChildren(slider);
      return slider;
    }

    // --- listening -----------------------------------------------------------------------

    listen() {
      const root = this.root;
      root.addEventListener("click", (event) => this.clicked(event));
      this.slider.addEventListener("input", () => this.seek(Number(this.slider.value)));
      this.slider.addEventListener("keydown", (event) => this.pressed(event));
      const paper = one(".paper-in", root);
      let from = null;
      paper.addEventListener("pointerdown", (event) => { from = event.clientX; }, true);
      window.addEventListener("pointerup", this.lifted = (event) => {
        if (from !== null && Math.abs(event.clientX - from) < CLICK_PX) this.seekTo(event.clientX);
        from = null;
      }, true);
      this.graph.on("plotly_relayout", (change) => this.dragged(change));
      this.graph.on("plotly_afterplot", () => this.placePen());
      document.addEventListener("keydown", this.keyed = (event) => {
        if (!event.target.closest("input, button, a, summary, select")) this.pressed(event);
      });
    }

    forget() {
      this.pause();
      window.removeEventListener("pointerup", this.lifted, true);
      document.removeEventListener("keydown", this.keyed);
    }

    clicked(event) {
      const button = event.target.closest("button");
      if (!button) return;
      if (button.id === "play") this.toggle();
      else if (button.id === "whole") this.look(0, this.duration);
      else if (button.id === "closer") this.zoom(0.5);
      else if (button.id === "further") this.zoom(2);
      else if (button.dataset.speed) this.setSpeed(button);
      else if (button.dataset.seek) this.seek(Number(button.dataset.seek));
    }

    pressed(event) {
      if (event.ctrlKey || event.altKey || event.metaKey) return;
      const far = event.shiftKey ? SHIFT_ARROW_S : ARROW_S;
      const acts = {
        " ": () => this.toggle(),
        ArrowLeft: () => this.seek(this.time - far),
        ArrowRight: () => this.seek(this.time + far),
        Home: () => this.seek(0),
        End: () => this.seek(this.duration),
      };
      if (!acts[event.key]) return;
      event.preventDefault();
      acts[event.key]();
    }

    // --- time ----------------------------------------------------------------------------

    toggle() {
      if (this.playing) this.pause();
      else this.play();
    }

    play() {
      if (this.time >= this.duration) this.time = 0;
      this.playing = true;
      one("#play", this.root).textContent = "Pause";
      let before = performance.now();
      const frame = (now) => {
        if (!this.playing) return;
        if (!this.root.isConnected) return this.forget();
        if (!calm.matches || now - before >= 1000) {
          this.time += ((now - before) / 1000) * this.pace();
          before = now;
          if (this.time >= this.duration) { this.time = this.duration; this.pause(); }
          this.show(false);
        }
        requestAnimationFrame(frame);
      };
      requestAnimationFrame(frame);
    }

    /* A long gap is passed within seconds, whatever the speed: nothing is to be seen in it. */
    pace() {
      const gap = this.gaps.find(([start, end]) => start <= this.time && this.time < end);
      return gap ? Math.max(this.speed, (gap[1] - gap[0]) / GAP_S) : this.speed;
    }

    pause() {
      this.playing = false;
      const button = one("#play", this.root);
      if (button) button.textContent = "Play";
      this.show(true);
    }

    setSpeed(button) {
      this.speed = Number(button.dataset.speed);
      for (const other of this.root.querySelectorAll("[data-speed]")) {
        other.setAttribute("aria-pressed", String(other === button));
      }
    }

    seek(time) {
      this.time = clamp(time, 0, this.duration);
      this.show(true);
    }

    seekTo(clientX) {
      const axis = this.graph._fullLayout.xaxis;
      const x = clientX - this.graph.getBoundingClientRect().left - axis._offset;
      if (x >= 0 && x <= axis._length) this.seek(axis.p2d(x));
    }

    // --- the view ------------------------------------------------------------------------

    get view() { return this.graph._fullLayout.xaxis.range.map(Number); }

    look(start, end) {
      clearTimeout(this.looking);
      window.dash_clientside.set_props("drive-view", { data: [start, end] });
    }

    zoom(factor) {
      const [start, end] = this.view;
      const width = clamp((end - start) * factor, this.shortest, this.duration);
      const first = clamp(this.time - width / 2, 0, Math.max(this.duration - width, 0));
      this.look(first, first + width);
    }

    dragged(change) {
      const start = change["xaxis.range[0]"], end = change["xaxis.range[1]"];
      if (start === undefined || end === undefined) return;
      clearTimeout(this.looking);
      this.looking = setTimeout(() => this.look(start, end), DEBOUNCE_MS);
    }

    turnPage() {
      const [start, end] = this.view;
      const width = end - start;
      if (width >= this.duration * 0.999 || this.turning === start) return;
      const edge = this.playing ? start + width * FLIP_AT : end;
      if (this.time >= start && this.time <= edge) return;
      if (this.time > edge && end >= this.duration && this.time <= end) return;
      this.turning = start;
      const first = clamp(this.time - width * 0.05, 0, this.duration - width);
      this.look(first, first + width);
    }

    // --- showing -------------------------------------------------------------------------

    /* plotly's own figures for the axis: private names, used here and in seekTo only. */
    placePen() {
      const axis = this.graph._fullLayout.xaxis;
      const x = axis._offset + axis.d2p(this.time);
      const inside = x >= axis._offset - 1 && x <= axis._offset + axis._length + 1;
      this.pen.style.visibility = inside ? "visible" : "hidden";
      this.pen.style.transform = "translateX(" + x.toFixed(1) + "px)";
      if (this.turning !== undefined && this.turning !== this.view[0]) this.turning = undefined;
    }

    show(atOnce) {
      this.placePen();
      this.turnPage();
      const now = performance.now();
      if (!atOnce && now - this.shownAt < SHOWN_EACH_MS) return;
      this.shownAt = now;
      this.slider.value = this.time;
      this.tell();
    }

    tell() {
      const step = this.playing ? Math.max(this.step, this.speed * SHOWN_EACH_MS / 1000) : this.step;
      const number = Math.floor(this.time / (step * COUNT) + 1e-9);
      const block = this.block(step, number);
      if (this.playing && this.time / (step * COUNT) - number > 0.4) this.block(step, number + 1);
      this.root.classList.toggle("is-waiting", !block.told);
      if (block.told) this.write(block.told, this.time);
    }

    block(step, number) {
      const key = step + ":" + number;
      if (!this.blocks.has(key)) {
        const block = {};
        this.blocks.set(key, block);
        if (this.blocks.size > BLOCKS_MAX) this.blocks.delete(this.blocks.keys().next().value);
        const asked = new URLSearchParams({ from: number * step * COUNT, step: step, count: COUNT });
        fetch("/moments/" + encodeURIComponent(this.stem) + "?" + asked)
          .then((answer) => (answer.ok ? answer.json() : Promise.reject(answer.status)))
          .then((told) => { block.told = told; this.tell(); })
          .catch(() => this.blocks.delete(key));
      }
      return this.blocks.get(key);
    }

    write(told, time) {
      const k = clamp(Math.floor((time - told.from_s) / told.step_s + 1e-6), 0, COUNT - 1);
      const text = (selector, words) => {
        const node = one(selector, this.root);
        if (node && node.textContent !== words) node.textContent = words;
      };
      text("#moment-sentence", told.sentence[k]);
      text("#clock", told.clock[k]);
      text(".pen-time", told.clock[k]);
      this.slider.setAttribute("aria-valuetext", told.clock[k]);
      for (const lane in told.readings) this.writeReading(lane, told.readings[lane][k]);
      const ruler = one("#ruler", this.root);
      if (ruler && ruler.dataset.cells !== String(told.cells_mv[k])) {
        ruler.dataset.cells = String(told.cells_mv[k]);
        window.drawRuler(ruler, told.cells_mv[k]);
        text("#cell-sentence", told.cell_sentence[k]);
      }
    }

    writeReading(lane, reading) {
      const head = one("#lane-" + lane, this.root);
      const figure = one("[data-reading]", head), note = one("[data-note]", head);
      const missing = one("[data-missing]", head).dataset.missing;
      head.classList.toggle("is-missing", reading === null);
      figure.textContent = reading ? reading[0] : missing;
      note.textContent = reading ? reading[1] : "";
    }
  }

  function attach() {
    const root = document.getElementById("replay");
    if (replay && replay.root === root) return replay.show(true);
    if (replay) replay.forget();
    replay = null;
    const graph = root && one(".js-plotly-plot", root);
    if (!root) return undefined;
    if (!graph || !graph._fullLayout || !graph.on) return requestAnimationFrame(attach);
    window.replay = replay = new Replay(root, graph);
    return undefined;
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    replay: { attach: function () { attach(); return window.dash_clientside.no_update; } },
  });
})();
